"""Air moves over clamps and screws: a section's moves go in, moves that clear these where they are come out. mm.

Moves start at the profile's ordinary safe height. Where the straight way from one place to the next brings the cutter,
or the spindle's nose if its size is known, over something with a height, that one move goes higher, and no other.

The spindle's nose is kept from the stock and from anything on it, before any file is written.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from cutjob.cuts.nose_margin import needed_stickout, stickout_advice
from cutjob.errors import InputError, Problem
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Arc, Point, distance
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout
from cutjob.program.moves import Move, Section, Step
from cutjob.program.setting import OVER, clear_height
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class _Obstacle:
    """Something on a board: its name, its place, its height, and whether it is a screw, which is driven only later."""

    name: str
    area: shapely.Geometry
    height: float
    screw: bool


def check_nose(sections: Sequence[Section], layout: BoardLayout, window: int | None, machine: Machine) -> None:
    """Raise InputError where the nut or the nose above it would meet the stock, a clamp or the head of a screw.

    A cutter whose stickout the profile doesn't give is not checked.
    """
    if not machine.has_spindle:
        return
    standing = list(_obstacles(layout, window))
    problems: dict[tuple[int, str], Problem] = {}
    for section in sections:
        cutter, out = section.cutter, section.cutter.stickout
        if out is None:
            continue
        depth = -min((move.z for step in section.steps for move in step.moves), default=0.0)
        if depth > out + TOLERANCES.same_point:
            problems[cutter.number, ""] = _too_deep(layout, cutter, depth, out)
            continue
        radius = (machine.spindle.nose_diameter or 0.0) / 2
        if not standing or not radius:
            continue
        boxes = shapely.STRtree([_box(step) for step in section.steps])
        for one in standing:
            near = [section.steps[index] for index in sorted(boxes.query(shapely.buffer(one.area, radius)).tolist())]
            if one.screw:  # screw holes are drilled before the screws are in; holes for pins come later
                near = [step for step in near if step.feature.kind != "screw hole"]
            lacking, low = _lacking(near, one, out, radius)
            if lacking > 0:
                needed = needed_stickout(low, one.height)
                problems.setdefault((cutter.number, one.name), _meets(layout, cutter, one, needed, lacking))
    if problems:
        raise InputError(problems.values())


def _obstacles(layout: BoardLayout, window: int | None) -> Iterator[_Obstacle]:
    for number, one in enumerate(layout.board.keep_outs):
        if one.height > 0:
            yield _Obstacle(f"keep-out {number + 1}", to_polygon(one.area), one.height, screw=False)
    for number, down in enumerate(layout.hold_downs):
        if window is None or down.window in (None, window):
            yield _Obstacle(f"screw {number + 1}", shapely.Point(down.at).buffer(down.head), down.height, screw=True)


def _lacking(steps: Sequence[Step], one: _Obstacle, out: float, radius: float) -> tuple[float, float]:
    """How much too near the nose comes to something while it is lower than that thing and a little air (0 when it
    doesn't); and how deep the cutter is at most in those steps.
    """
    most = deepest = 0.0
    for step in steps:
        ways = list(_ways(step, one.height + TOLERANCES.standing_air - out - TOLERANCES.same_point))
        lacking = radius - shapely.distance(shapely.MultiLineString(ways), one.area) if ways else 0.0
        if lacking > TOLERANCES.same_point:
            most, deepest = max(most, lacking), max(deepest, -min(move.z for move in step.moves))
    return most, deepest


def _box(step: Step) -> shapely.Geometry:
    """A box round the moves of a step, in plan; for arcs, round their whole circles."""
    xs, ys = [move.x for move in step.moves], [move.y for move in step.moves]
    for move in step.moves:
        if move.centre is not None:
            (x, y), reach = move.centre, distance(move.centre, (move.x, move.y))
            xs += (x - reach, x + reach)
            ys += (y - reach, y + reach)
    return shapely.box(min(xs), min(ys), max(xs), max(ys))


def _ways(step: Step, level: float) -> Iterator[list[Point]]:
    """The moves of a step with an end lower than `level`, in plan."""
    here: tuple[Point, float] | None = None
    for move in step.moves:
        end = (move.x, move.y)
        start, z = here if here is not None else (end, move.z)
        if min(z, move.z) < level:
            arc = None if move.centre is None else Arc(start, end, move.centre, move.clockwise)
            yield [start, *(arc.chords(TOLERANCES.chord) if arc is not None else ()), end]
        here = end, move.z


def _too_deep(layout: BoardLayout, cutter: Cutter, depth: float, out: float) -> Problem:
    return Problem(
        location=layout.board.location,
        place=f'board "{layout.board.name}"',
        message=f"cutter {cutter.number} sticks out {out:.1f} mm and would go {depth:.1f} mm deep: the nut would meet "
        "the board",
        advice=f"{stickout_advice({cutter.number: depth})}, or cut fewer boards at once",
    )


def _meets(layout: BoardLayout, cutter: Cutter, one: _Obstacle, needed: float, lacking: float) -> Problem:
    away = f"move it {lacking:.1f} mm further from the parts"
    if one.screw:
        away = f"give [screws] in the profile a margin {lacking:.1f} mm greater"
    return Problem(
        location=layout.board.location,
        place=f'board "{layout.board.name}"',
        message=f"with cutter {cutter.number} down in the board the spindle's nose would meet {one.name}, "
        f"{one.height:.1f} mm high",
        advice=f"{stickout_advice({cutter.number: needed})}, use a lower "
        f"{'screw' if one.screw else 'clamp'}, or {away}",
    )


# The clear room that a low move needs beside a thing on the board, mm.
_BESIDE = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Obstacles:
    """The things on a board while a program runs: areas and heights; and a height that clears them all, mm."""

    areas: tuple[shapely.Geometry, ...]
    heights: tuple[float, ...]
    clear_z: float
    tree: shapely.STRtree

    def needed(self, begin: Point, end: Point, *, cutter: Cutter, nose: float) -> float:
        """Return the least height of the tip for a straight move between two places; `nose` is the nose's radius, 0
        where that or the cutter's stickout is not known.
        """
        if not self.areas:
            return 0.0
        way = shapely.LineString([begin, end]) if begin != end else shapely.Point(begin)
        reach = max(cutter.radius, nose) + _BESIDE
        height = 0.0
        for index in self.tree.query(way, predicate="dwithin", distance=reach).tolist():
            apart = float(shapely.distance(way, self.areas[index]))
            if apart < cutter.radius + _BESIDE:
                height = max(height, self.heights[index] + OVER)
            elif cutter.stickout is not None:
                height = max(height, self.heights[index] + OVER - cutter.stickout)
        return height


def obstacles_of(layout: BoardLayout, window: int | None, machine: Machine) -> Obstacles:
    """Return the things on a board, or on one of its windows. Raises InputError where the machine can't lift
    high enough.
    """
    stands: list[tuple[shapely.Geometry, float]] = [
        (to_polygon(one.area), one.height) for one in layout.board.keep_outs if one.height > 0
    ]
    stands += [
        (shapely.Point(down.at).buffer(down.head), down.height)
        for down in layout.hold_downs
        if down.height > 0 and (window is None or down.window in (None, window))
    ]
    areas, heights = tuple(area for area, _ in stands), tuple(height for _, height in stands)
    clear_z = 0.0 if machine.has_beam else clear_height(layout, machine)
    return Obstacles(areas, heights, clear_z, shapely.STRtree(np.array(areas, dtype=object)))


def cleared(steps: Sequence[Step], cutter: Cutter, standing: Obstacles, machine: Machine) -> list[Step]:
    """Return the steps of a section with their air moves as high as the things below each require.

    The place of the cutter before the first step is not known, so the first move clears everything.
    """
    if not standing.areas or machine.has_beam:
        return list(steps)
    nose = (machine.spindle.nose_diameter or 0.0) / 2 if cutter.stickout is not None else 0.0
    here: Point | None = None
    z = standing.clear_z
    found: list[Step] = []
    for step in steps:
        moves: list[Move] = []
        for move in step.moves:
            there = (move.x, move.y)
            if move.kind == "rapid" and here is not None and there != here:
                height = max(move.z, standing.needed(here, there, cutter=cutter, nose=nose))
                if height > z + TOLERANCES.same_point:
                    moves = _raised(moves, found, here, height)
                    z = height
                moves.append(replace(move, z=max(z, height)))
            elif move.kind == "rapid" and here is None:
                moves.append(replace(move, z=max(move.z, standing.clear_z)))
            else:
                moves.append(move)
            here, z = there, moves[-1].z
        found.append(replace(step, moves=tuple(moves)))
    return found


def _raised(moves: list[Move], before: list[Step], here: Point, height: float) -> list[Move]:
    """The moves so far with the cutter lifted to `height` in its place: at the end of the step before, if need be."""
    if moves or not before:
        return [*_lifted(moves, here, height)]
    last = before[-1]
    before[-1] = replace(last, moves=tuple(_lifted(list(last.moves), here, height)))
    return moves


def _lifted(moves: list[Move], here: Point, height: float) -> list[Move]:
    """The moves with their last lift made higher, or with one more where they don't end with a lift."""
    if len(moves) > 1 and moves[-1].kind == "rapid" and all((move.x, move.y) == here for move in moves[-2:]):
        return [*moves[:-1], replace(moves[-1], z=height)]
    return [*moves, Move("rapid", *here, height)]
