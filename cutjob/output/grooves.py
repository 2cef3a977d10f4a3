"""How wide a board's programs cut its marks and letters: paths in, the diameters of their cutters out. mm."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from cutjob.geometry.segment import Point, Segment
from cutjob.program.moves import Program
from cutjob.tolerances import TOLERANCES


class Grooves:
    """The places where programs begin marks and letters, by placement, each with its cutter's diameter."""

    def __init__(self, programs: Sequence[Program]) -> None:
        """Take all programs of one board."""
        self._begun: dict[int, list[tuple[Point, float]]] = {}
        for program in programs:
            for section in program.sections:
                for step in section.steps:
                    if step.op == "mark" and step.placement is not None and step.moves:
                        start = (step.moves[0].x, step.moves[0].y)
                        self._begun.setdefault(step.placement, []).append((start, section.cutter.diameter))

    def width(self, path: Sequence[Segment], placement: int) -> float:
        """Return how wide a path of the placement with that index is cut; 0.0 where no program does."""
        begun = self._begun.get(placement, ())
        if not begun or not path:
            return 0.0
        points = [path[0].start, *(point for segment in path for point in segment.chords(TOLERANCES.chord))]
        line = shapely.linestrings(np.array(points))
        away = shapely.distance(line, shapely.points([start for start, _ in begun]))
        reach = TOLERANCES.acceptance + TOLERANCES.chord
        return max((diameter for (_, diameter), d in zip(begun, away, strict=True) if d <= reach), default=0.0)
