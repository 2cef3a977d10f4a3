"""The box round all that a program's cutter touches, leads and overcuts at corners with it. Lengths mm."""

from __future__ import annotations

from collections.abc import Iterator

from cutjob.geometry.segment import Arc, Bounds
from cutjob.program.moves import Program, Section


def swept_box(program: Program) -> Bounds | None:
    """Return the smallest upright box, in the board's frame, round the wood the cutter takes; None without a cut."""
    boxes = [
        (x0 - section.cutter.radius, y0 - section.cutter.radius, x1 + section.cutter.radius, y1 + section.cutter.radius)
        for section in program.sections
        for x0, y0, x1, y1 in _boxes(section)
    ]
    if not boxes:
        return None
    return (
        min(box[0] for box in boxes),
        min(box[1] for box in boxes),
        max(box[2] for box in boxes),
        max(box[3] for box in boxes),
    )


def _boxes(section: Section) -> Iterator[Bounds]:
    for step in section.steps:
        last = None
        for move in step.moves:
            end = (move.x, move.y)
            if move.kind != "rapid":
                if move.centre is not None and last is not None:
                    yield Arc(last, end, move.centre, move.clockwise).bounds
                elif last is not None:
                    yield (*last, *last)
                yield (*end, *end)
            last = end
