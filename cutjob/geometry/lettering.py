"""Letters as single strokes, from the Hershey fonts (A. V. Hershey, NWL report 1810, 1967) in a library. mm."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from cutjob.geometry.segment import Line, Point, Segment

if TYPE_CHECKING:
    from HersheyFonts import HersheyFonts
import itertools

_FACE = "futural"  # plain letters with as few strokes as possible
# The library's lettering of height 10 goes from 2.5 to 10.
_BASE, _CAPITAL = 2.5, 7.5
_KNOWN = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz .,-+/=()")


def strokes(text: str, *, height: float) -> tuple[tuple[Segment, ...], ...]:
    """Return the strokes of a line of text whose capitals are `height` mm high, its lower left corner at the origin.

    Raises ValueError for characters other than plain letters, digits and simple signs, and for a height that is not
    positive.
    """
    if not height > 0:
        raise ValueError(f"letters must have a height, got {height}")
    unknown = sorted(set(text) - _KNOWN)
    if unknown:
        raise ValueError(f"there are no strokes for {''.join(unknown)!r}")
    scale = height / _CAPITAL
    runs = [[(x * scale, (y - _BASE) * scale) for x, y in run] for run in _raw(text) if len(run) > 1]
    if not runs:
        return ()
    left = min(x for run in runs for x, _ in run)
    moved = [[(x - left, y) for x, y in run] for run in runs]
    return tuple(tuple(Line(a, b) for a, b in itertools.pairwise(run) if a != b) for run in moved)


@cache
def _raw(text: str) -> tuple[tuple[Point, ...], ...]:
    return tuple(tuple((float(x), float(y)) for x, y in run) for run in _font().strokes_for_text(text))


@cache
def _font() -> HersheyFonts:
    """The face, unpacked once, as that takes longer than all the letters of a job."""
    from HersheyFonts import HersheyFonts

    font = HersheyFonts()
    font.load_default_font(_FACE)
    font.normalize_rendering(10)
    return font
