"""Any text to comment lines that a controller can't misread: plain ASCII, nothing it could act on, short enough."""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Iterable

from cutjob.errors import InputError, Problem
from cutjob.job.machine import Controller

# NISTIR 6556, 3.3: a line has at most 256 characters.
LONGEST_LINE = 256
# Brackets would end or nest a comment, a percent sign ends a file, and a semicolon starts a comment (a comma takes its
# place). Some controllers act on other characters at once, wherever they are in the stream.
_LETTERS = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789 .,:/+-='\"")
_SPELLED = {
    "″": '"',
    "”": '"',
    "“": '"',
    "′": "'",
    "’": "'",
    "‘": "'",
    "×": "x",
    "–": "-",
    "—": "-",
    "°": " deg",
    ";": ",",
    "&": " and ",
    "%": " percent",
}
_CONTINUED = ".. "
# A length with its fraction and its unit is not broken over two lines: `7 7/8 in`, `16 mm = 5/8 in`.
_LENGTH = r"\d[\d.]*(?: \d+/\d+|/\d+)? (?:mm|in)\b"
_FIGURE = re.compile(rf"{_LENGTH}(?: = {_LENGTH})?")
_JOINED = "\x01"


def plain_ascii(text: str, *, also: str = "") -> str:
    """Return `text` without accents, and with a blank for every character that a comment may not hold, except those in
    `also`.
    """
    spelled = "".join(letter if letter in also else _SPELLED.get(letter, letter) for letter in text)
    without_marks = (letter for letter in unicodedata.normalize("NFKD", spelled) if not unicodedata.combining(letter))
    return " ".join(
        "".join(letter if letter in _LETTERS or letter in also else " " for letter in without_marks).split()
    )


def comment_lines(texts: Iterable[str], *, controller: Controller) -> list[str]:
    """Return the comment lines for `texts`: each text begins on a new line and is wrapped to the longest line."""
    if controller.comments == "none":
        return []
    opening, closing = ("(", ")") if controller.comments == "brackets" else ("; ", "")
    room = min(controller.longest_line, LONGEST_LINE) - len(opening) - len(closing)
    lines: list[str] = []
    for text in texts:
        plain = plain_ascii(text)
        whole = _FIGURE.sub(lambda found: found[0].replace(" ", _JOINED), plain)
        wrapped = textwrap.wrap(whole, room, subsequent_indent=_CONTINUED, break_on_hyphens=False) if whole else []
        lines.extend(f"{opening}{line.replace(_JOINED, ' ')}{closing}" for line in wrapped)
    return lines


def profile_lines(lines: Iterable[str], *, key: str, controller: Controller) -> list[str]:
    """Return a profile's own start or end lines. Raises InputError when one is not plain text or is too long."""
    longest = min(controller.longest_line, LONGEST_LINE)
    checked = list(lines)
    problems = []
    for line in checked:
        if not (line.isascii() and line.isprintable()):
            problems.append(_bad(key, line, "holds more than plain characters on one line", "write one line per entry"))
        elif len(line) > longest:
            problems.append(_bad(key, line, f"is longer than the {longest} characters of longest_line", "shorten it"))
    if problems:
        raise InputError(problems)
    return checked


def _bad(key: str, line: str, what: str, advice: str) -> Problem:
    return Problem(place=f"machine profile: controller.{key}", message=f"{line!r} {what}", advice=advice)
