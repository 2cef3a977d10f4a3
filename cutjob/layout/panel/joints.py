"""Corners and straight joints while pieces are laid one by one.

Every edge inside the field becomes a joint once its other side is filled, so edges that touch end to end on one line
are one straight joint already. Where three corners meet, a fourth must follow: so a third is never allowed.
"""

from __future__ import annotations

from cutjob.layout.panel.field import Field

Spans = list[tuple[int, int]]


class Joints:
    """The corners and edges laid so far, in cells: pieces with the gap beyond their upper and right edges."""

    def __init__(self, field: Field) -> None:
        """Start with an empty field."""
        self.width, self.height = field.width + field.gap, field.height + field.gap
        self.longest, self.gap = field.longest_joint, field.gap
        self._corners: dict[tuple[int, int], int] = {}
        self._upright: dict[int, Spans] = {}
        self._level: dict[int, Spans] = {}

    def longest_with(self, x: int, y: int, width: int, height: int) -> int | None:
        """Return the longest straight joint a cell there is part of; None: it runs too far, or four corners meet."""
        if any(self._corners.get(corner, 0) > 1 for corner in self._inner_corners(x, y, width, height)):
            return None
        edges = self._edges(x, y, width, height)
        run = max((_run(lines.get(at, ()), span) for lines, at, span in edges), default=0) - self.gap
        return run if run <= self.longest else None

    def lay(self, x: int, y: int, width: int, height: int) -> None:
        """Take note of a cell."""
        for corner in self._inner_corners(x, y, width, height):
            self._corners[corner] = self._corners.get(corner, 0) + 1
        for lines, at, span in self._edges(x, y, width, height):
            spans = lines.setdefault(at, [])
            touching = [one for one in spans if one[0] <= span[1] and one[1] >= span[0]]
            lines[at] = [one for one in spans if one not in touching]
            lines[at].append((min(a for a, _ in [*touching, span]), max(b for _, b in [*touching, span])))

    def _inner_corners(self, x: int, y: int, width: int, height: int) -> list[tuple[int, int]]:
        across = [at for at in (x, x + width) if 0 < at < self.width]
        up = [at for at in (y, y + height) if 0 < at < self.height]
        return [(one, other) for one in across for other in up]

    def _edges(self, x: int, y: int, width: int, height: int) -> list[tuple[dict[int, Spans], int, tuple[int, int]]]:
        sides = [(self._upright, at, (y, y + height)) for at in (x, x + width) if 0 < at < self.width]
        return sides + [(self._level, at, (x, x + width)) for at in (y, y + height) if 0 < at < self.height]


def _run(spans: Spans | tuple[()], span: tuple[int, int]) -> int:
    """Length of the straight joint that a new edge becomes a part of."""
    first, last = span
    for a, b in spans:
        if a <= span[1] and b >= span[0]:
            first, last = min(first, a), max(last, b)
    return last - first
