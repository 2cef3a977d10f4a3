"""What the proof found, on a board's picture: a ring round each place, with its number, and the list below. mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutjob.geometry.segment import Point
from cutjob.layout.layout import BoardLayout
from cutjob.output.operations import VERMILLION
from cutjob.output.svg_shapes import Sheet

_RING = 1.1  # its radius in heights of the text
_TOGETHER = 1.2  # rings nearer to each other than this share of a radius are drawn as one


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """A place to be ringed, in the board's frame, and its number in the list of what was found."""

    at: Point
    number: int


def draw_rings(sheet: Sheet, layout: BoardLayout, rings: Sequence[Ring]) -> set[str]:
    """Add the rings, those beyond the board at its edge; return the classes used."""
    if not rings:
        return set()
    radius = _RING * sheet.text
    drawn: list[tuple[Point, list[str]]] = []
    for ring in rings:
        at, beyond = _on_paper(ring.at, layout, reach=0.3 * radius)
        words = f"{ring.number} (beyond)" if beyond else f"{ring.number}"
        near = next((one for one in drawn if _apart(one[0], at) < _TOGETHER * radius), None)
        if near is None:
            drawn.append((at, [words]))
        else:
            near[1].append(words)
    light, group = sheet.group("found-rim"), sheet.group("found")
    for at, _ in drawn:
        sheet.circle(light, at, radius)
        sheet.circle(group, at, radius)
    for (x, y), numbers in drawn:
        # The number stands to the right of its ring, or to the left at the board's right end.
        right = x < layout.board.length - 3 * radius
        place = (x + 1.35 * radius, y - 0.36 * sheet.text) if right else (x - 1.35 * radius, y - 0.36 * sheet.text)
        anchor = "start" if right else "end"
        sheet.words(_shortly(numbers), place, size=1.1 * sheet.text, anchor=anchor, bold=True, colour=VERMILLION)
    return {"found"}


def _shortly(numbers: Sequence[str]) -> str:
    return ", ".join(numbers) if len(numbers) <= 4 else f"{', '.join(numbers[:3])} ... {numbers[-1]}"


def _apart(one: Point, other: Point) -> float:
    return max(abs(one[0] - other[0]), abs(one[1] - other[1]))


def _on_paper(at: Point, layout: BoardLayout, *, reach: float) -> tuple[Point, bool]:
    """The place, moved to within `reach` of the board's box where it lies farther out, and whether it does."""
    x = min(max(at[0], -reach), layout.board.length + reach)
    y = min(max(at[1], -reach), layout.board.width + reach)
    return (x, y), (x, y) != at
