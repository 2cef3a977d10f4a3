"""Letters for PDF pages: one free face, embedded with the glyphs that are used; other letters are written as numbers.
mm.

The face is DejaVu Sans (fonts/LICENSE.txt): Latin, Greek, Cyrillic, Armenian, Georgian, Hebrew and many signs. A letter
it does not have is written as its Unicode number in square brackets, never left out.
"""

from __future__ import annotations

import importlib.resources
import unicodedata
from collections.abc import Iterable, Iterator
from functools import cache

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

FACE = "DejaVuSans"
# Shares of the face's size: the height of its capitals, and its depth below the line.
CAPITAL = 0.73
BELOW = 0.24
_POINTS_PER_MM = 72 / 25.4


@cache
def _font() -> TTFont:
    path = importlib.resources.files("cutjob.output.paper").joinpath("fonts").joinpath(f"{FACE}.ttf")
    with path.open("rb") as file:
        font = TTFont(FACE, file)
    pdfmetrics.registerFont(font)
    return font


@cache
def _glyphs() -> frozenset[int]:
    return frozenset(_font().face.charToGlyph)


def ready_face() -> str:
    """Return the name of the face, loaded."""
    _font()
    return FACE


def missing(texts: Iterable[str]) -> tuple[str, ...]:
    """Return the letters of `texts` that the face does not have, in their order, each once."""
    letters = (letter for text in texts for letter in unicodedata.normalize("NFC", text))
    return tuple(dict.fromkeys(letter for letter in letters if not _drawn(letter)))


def turned_round(texts: Iterable[str]) -> tuple[str, ...]:
    """Return those of `texts` that are read from right to left: their letters are drawn in the wrong order."""
    return tuple(text for text in texts if any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in text))


def written(text: str) -> str:
    """Return `text` as it is drawn: letters put together with their accents, missing ones as `[U+6F22]`."""
    return "".join(_pieces(text))


def _pieces(text: str) -> Iterator[str]:
    for letter in unicodedata.normalize("NFC", text):
        if _drawn(letter):
            yield letter
        elif letter.isspace():
            yield " "
        else:
            yield f"[U+{ord(letter):04X}]"


def _drawn(letter: str) -> bool:
    return letter.isprintable() and ord(letter) in _glyphs()


def width_of(text: str, *, size: float) -> float:
    """Return how wide `text` is when written `size` mm high (the size of the face), mm."""
    return float(pdfmetrics.stringWidth(written(text), ready_face(), size * _POINTS_PER_MM)) / _POINTS_PER_MM


def fitted(text: str, *, size: float, width: float) -> str:
    """Return `text`, cut short with an ellipsis where it is wider than `width` mm."""
    if width_of(text, size=size) <= width:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width_of(f"{text[:middle]}…", size=size) <= width:
            low = middle
        else:
            high = middle - 1
    return f"{text[:low].rstrip()}…"


def wrapped(text: str, *, size: float, width: float) -> list[str]:
    """Return the lines that `text` fills where none may be wider than `width` mm; longer words are broken."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if width_of(longer, size=size) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        while width_of(word, size=size) > width and len(word) > 1:
            cut = max(1, next(n for n in range(len(word), -1, -1) if width_of(word[:n], size=size) <= width))
            lines.append(word[:cut])
            word = word[cut:]
        line = word
    return [*lines, line] if line else lines
