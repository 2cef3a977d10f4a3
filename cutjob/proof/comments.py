"""The comments of a G-code file: bytes in, texts with their lines out, and what no comment may hold.

A text broken over lines goes on after two points and a blank. Small and large letters are alike.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

# Some controllers act on other characters at once, wherever they stand.
_ALLOWED = re.compile(r"""[A-Za-z0-9 .,:'"/=+\-]*""")
_COMMENT = re.compile(r"\(([^()]*)\)?|;(.*)")
_GOES_ON = ".. "
_ONLY_COMMENT = re.compile(r"\s*(?:\([^()]*\)\s*)*(?:;.*)?%?\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Comment:
    """A text, in small letters and with single blanks, the line it begins on, and whether it stands in the opening,
    before anything else.
    """

    text: str
    line: int
    opening: bool


def comments_of(data: bytes) -> tuple[Comment, ...]:
    """Return the texts of a file's comments in order, those broken over lines as one."""
    found: list[Comment] = []
    opening, last = True, 0
    for number, line in enumerate(_lines(data), start=1):
        opening = opening and _ONLY_COMMENT.fullmatch(line) is not None
        if "(" not in line and ";" not in line:
            last += not line.strip() and last == number - 1  # a blank line doesn't break a text off
            continue
        for match in _COMMENT.finditer(line):
            text = match.group(1) if match.group(1) is not None else match.group(2)
            text = text.strip()
            if text.startswith(_GOES_ON) and found and last == number - 1:
                before = found.pop()
                found.append(
                    Comment(text=before.text + " " + _plain(text[3:]), line=before.line, opening=before.opening)
                )
            else:
                found.append(Comment(text=_plain(text), line=number, opening=opening))
        last = number
    return tuple(found)


def odd_characters(data: bytes) -> Iterator[tuple[int, str]]:
    """Yield the line of each comment that holds a character none may hold, and that character."""
    for number, line in enumerate(_lines(data), start=1):
        if "(" not in line and ";" not in line:
            continue
        for match in _COMMENT.finditer(line):
            text = (match.group(1) if match.group(1) is not None else match.group(2)).rstrip("\r")
            good = _ALLOWED.match(text)
            if good is not None and good.end() < len(text):
                yield number, text[good.end()]
                break


def _lines(data: bytes) -> list[str]:
    return data.decode("latin-1").split("\n")


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())
