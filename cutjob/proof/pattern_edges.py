"""The edges of a sheet's parts, as points to be looked for and as lines that are meant. mm, in the sheet's frame."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import reduce

import numpy as np
import shapely

from cutjob.geometry.contour import circle
from cutjob.geometry.segment import Segment
from cutjob.geometry.transform import Transform
from cutjob.parts.part import ShapedPart
from cutjob.proof.expect_patterns import ExpectedPattern, ExpectedSheet, LineKind
from cutjob.proof.pdf_reader import Floats
from cutjob.tolerances import TOLERANCES

_ON_FOLD = 0.001  # mm: what lies on the fold itself is drawn, and clipping leaves out what lies on the clip's edge


@dataclass(frozen=True, slots=True)
class Edges:
    """Edges of one kind: points on them, whose each is (an index of `names`), and their straight pieces."""

    points: Floats
    owners: Floats
    names: tuple[str, ...]
    lines: Floats

    @staticmethod
    def none() -> Edges:
        """No edges at all."""
        return Edges(np.zeros((0, 2)), np.zeros(0, int), (), np.zeros((0, 2, 2)))


def edges_of(sheet: ExpectedSheet, *, step: float) -> dict[LineKind, Edges]:
    """Return the edges that the sheet is to show, by kind, their points no farther apart than `step` mm."""
    runs: dict[LineKind, list[tuple[int, Floats]]] = {}
    names: list[str] = []
    for name, part, moves, fold in _parts(sheet):
        for kind, run in _runs(part):
            for side in _near_side(run, fold):
                runs.setdefault(kind, []).append((len(names), reduce(_moved, moves, side)))
        names.append(name)
    return {kind: _edges(own, tuple(names), step) for kind, own in runs.items()}


def _edges(runs: list[tuple[int, Floats]], names: tuple[str, ...], step: float) -> Edges:
    fine = [shapely.get_coordinates(shapely.segmentize(shapely.LineString(run), step)) for _, run in runs]
    return Edges(
        points=np.vstack(fine),
        owners=np.repeat([owner for owner, _ in runs], [len(points) for points in fine]),
        names=names,
        lines=np.concatenate([np.stack([run[:-1], run[1:]], axis=1) for _, run in runs]),
    )


def _parts(
    sheet: ExpectedSheet,
) -> Iterator[tuple[str, ShapedPart, tuple[Transform, ...], ExpectedPattern | None]]:
    """Each part with how it comes onto the sheet, and its pattern where it is folded."""
    for pattern in sheet.patterns:
        folded = pattern if pattern.fold is not None else None
        yield f'part "{pattern.part.name}" of item "{pattern.item}"', pattern.part, (pattern.move,), folded
    if sheet.board is not None and sheet.move is not None:
        for number, placement in enumerate(sheet.board.placements, start=1):
            name = f'{sheet.board.id} part {number}, "{placement.part.name}"'
            yield name, placement.part, (placement.transform, sheet.move), None


def _runs(part: ShapedPart) -> Iterator[tuple[LineKind, Floats]]:
    """A part's own edges as runs of points, within `TOLERANCES.chord`."""
    yield "outline", _points(part.region.outline.segments)
    for hole in part.region.holes:
        yield "opening", _points(hole.segments)
    for drilled in part.round_holes:
        yield "hole", _points(circle(drilled.at, drilled.diameter / 2).segments)
    for pocket in part.pockets:
        for contour in pocket.region.contours:
            yield "pocket", _points(contour.segments)
    for mark in part.marks:
        yield "mark", _points(mark.path)


def _points(segments: tuple[Segment, ...]) -> Floats:
    points = [segments[0].start, *(point for one in segments for point in one.chords(TOLERANCES.chord))]
    return np.array(points, float)


def _near_side(run: Floats, pattern: ExpectedPattern | None) -> Iterator[Floats]:
    """What of a run lies on the side of the fold that is drawn."""
    if pattern is None or pattern.fold is None:
        yield run
        return
    way, at = pattern.fold
    low, high = run.min(axis=0) - 1.0, run.max(axis=0) + 1.0
    high[0 if way == "upright" else 1] = at + _ON_FOLD
    if (high <= low).any():
        return  # all of it lies beyond
    near = shapely.clip_by_rect(shapely.LineString(run), *low, *high)
    for piece in shapely.get_parts(near):
        points = shapely.get_coordinates(piece)
        if len(points) > 1:
            yield points


def _moved(points: Floats, move: Transform) -> Floats:
    origin = np.array(move.point((0.0, 0.0)))
    turn = np.array([move.point((1.0, 0.0)), move.point((0.0, 1.0))]) - origin
    moved: Floats = points @ turn + origin
    return moved
