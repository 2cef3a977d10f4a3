"""How long moves take, from feeds, acceleration and the corners between them. Seconds, mm, mm/min.

From standstill to standstill a move takes d/v + v/a when d >= v^2/a, else 2 sqrt(d/a). At a corner the machine slows to
the speed at which it strays from the path by no more than s: v = sqrt(a s h / (1 - h)), h = sin(t/2) for legs at an
angle t (180 degrees is straight on). Round an arc the speed is bounded by v^2 <= a r.

Also the box round everything a program's cutter touches, with leads and overcuts at corners.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from cutjob.geometry.segment import Arc, Bounds, around
from cutjob.job.machine import Motion
from cutjob.program.moves import Move, Program, Section


def swept_box(program: Program) -> Bounds | None:
    """Return the smallest upright box, in the board's frame, round the wood the cutter takes; None without a cut."""
    boxes = [
        (x0 - section.cutter.radius, y0 - section.cutter.radius, x1 + section.cutter.radius, y1 + section.cutter.radius)
        for section in program.sections
        for x0, y0, x1, y1 in _boxes(section)
    ]
    return around(boxes) if boxes else None


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


Vector = tuple[float, float, float]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
_NOTHING = 1e-9  # mm: anything shorter is not a move


@dataclass(frozen=True, slots=True)
class _Shapes:
    """Lengths, first and last directions and radii (infinite when straight) of moves."""

    lengths: Floats
    firsts: Floats
    lasts: Floats
    radii: Floats


def corner_speed(before: ArrayLike, after: ArrayLike, *, acceleration: float, deviation: float) -> Floats:
    """Return the greatest speeds (mm/s) from directions (unit vectors, one or rows of them) into the next ones."""
    dot = (np.asarray(before, dtype=float) * np.asarray(after, dtype=float)).sum(axis=-1)
    # The angle between the legs is 180 degrees less the turn, so sin of its half is cos of half the turn.
    half = np.sqrt(np.clip((1 + dot) / 2, 0.0, 1.0))
    straight = 1 - 1e-12
    bent = np.minimum(half, straight)
    return np.where(half > straight, math.inf, np.sqrt(acceleration * deviation * bent / (1 - bent)))


def measure(moves: Sequence[Move], start: Vector, motion: Motion) -> tuple[float, float, float]:
    """Return (seconds, mm cut, mm of air moves) for moves that begin at `start`, from standstill to standstill."""
    if not moves:
        return 0.0, 0.0, 0.0
    shapes, rapid, moving, times = _timed(moves, start, motion)
    lengths = shapes.lengths[moving]
    seconds = float(times.sum()) if len(lengths) else 0.0
    return seconds, float(lengths[~rapid[moving]].sum()), float(lengths[rapid[moving]].sum())


def move_seconds(moves: Sequence[Move], start: Vector, motion: Motion) -> list[float]:
    """Return the seconds of each move, begun at `start`, from standstill to standstill; `measure` adds these up."""
    if not moves:
        return []
    _, _, moving, times = _timed(moves, start, motion)
    found = np.zeros(len(moves))
    found[moving] = times
    return [float(each) for each in found]


def _timed(moves: Sequence[Move], start: Vector, motion: Motion) -> tuple[_Shapes, Flags, Flags, Floats]:
    """The moves' shapes, which are rapid, which have a length, and the seconds of those that have."""
    shapes = _shapes(moves, start)
    rapid = np.array([move.kind == "rapid" for move in moves])
    speeds = np.where(rapid, _rapid_speeds(shapes.firsts, motion), [move.feed for move in moves]) / 60
    speeds = np.minimum(speeds, np.sqrt(motion.acceleration * shapes.radii))
    moving = shapes.lengths >= _NOTHING
    lengths, speeds = shapes.lengths[moving], speeds[moving]
    corners = corner_speed(
        shapes.lasts[moving][:-1],
        shapes.firsts[moving][1:],
        acceleration=motion.acceleration,
        deviation=motion.corner_deviation,
    )
    times = _seconds(lengths, speeds, corners, motion.acceleration) if len(lengths) else lengths
    return shapes, rapid, moving, times


def _shapes(moves: Sequence[Move], start: Vector) -> _Shapes:
    ends = np.array([(move.x, move.y, move.z) for move in moves])
    starts = np.vstack([start, ends[:-1]])
    steps = ends - starts
    lengths = np.sqrt((steps * steps).sum(axis=1))
    firsts = steps / np.maximum(lengths, _NOTHING)[:, None]
    lasts, radii = firsts.copy(), np.full(len(moves), math.inf)
    arcs = np.array([number for number, move in enumerate(moves) if move.centre is not None], dtype=np.int64)
    if len(arcs):
        centres = np.array([move.centre for move in moves if move.centre is not None])
        turning = np.array([-1.0 if moves[number].clockwise else 1.0 for number in arcs])
        (ux, uy), (vx, vy) = (starts[arcs, :2] - centres).T, (ends[arcs, :2] - centres).T
        swept = np.arctan2(ux * vy - uy * vx, ux * vx + uy * vy) * turning % (2 * math.pi)
        swept[swept == 0] = 2 * math.pi
        radius, far, rise = np.hypot(ux, uy), np.hypot(vx, vy), steps[arcs, 2]
        flat = radius * swept
        lengths[arcs], radii[arcs] = np.hypot(flat, rise), radius
        share, steep = turning * flat / lengths[arcs], rise / lengths[arcs]
        firsts[arcs] = np.column_stack([-uy / radius * share, ux / radius * share, steep])
        lasts[arcs] = np.column_stack([-vy / far * share, vx / far * share, steep])
    return _Shapes(lengths, firsts, lasts, radii)


def _rapid_speeds(ways: Floats, motion: Motion) -> Floats:
    """The greatest speeds (mm/min) of rapids in given directions, with no axis faster than it can go."""
    across, down = np.hypot(ways[:, 0], ways[:, 1]), np.abs(ways[:, 2])
    return np.minimum(motion.rapid / np.maximum(across, _NOTHING), motion.rapid_z / np.maximum(down, _NOTHING))


def _seconds(lengths: Floats, speeds: Floats, corners: Floats, acceleration: float) -> Floats:
    """Seconds of the moves: speeds at the joints come from the corners, are made reachable backward and forward, and
    each move then has a trapezoid of speed.
    """
    slowest = np.minimum(corners, np.minimum(speeds[:-1], speeds[1:]))
    squares = [0.0, *(slowest * slowest).tolist(), 0.0]
    gains = (2 * acceleration * lengths).tolist()
    for i in range(len(gains) - 1, 0, -1):
        squares[i] = min(squares[i], squares[i + 1] + gains[i])
    for i in range(len(gains) - 1):
        squares[i + 1] = min(squares[i + 1], squares[i] + gains[i])
    joints = np.sqrt(squares)
    enter, leave = joints[:-1], joints[1:]
    peak = np.minimum(speeds, np.sqrt(acceleration * lengths + (enter * enter + leave * leave) / 2))
    ramps = (2 * peak * peak - enter * enter - leave * leave) / (2 * acceleration)
    times: Floats = (2 * peak - enter - leave) / acceleration + np.maximum(0.0, lengths - ramps) / peak
    return times
