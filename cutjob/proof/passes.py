"""Depth of each pass of a router, and how often a laser went round: looked at on every segment of every contour."""

from __future__ import annotations

import numpy as np

from cutjob.job.machine import Machine
from cutjob.proof.curves import Floats, Ints
from cutjob.proof.descents import SPARE, judge_descents
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.goals import Goals
from cutjob.proof.left import MOST_TOLD
from cutjob.proof.near import Near, touching
from cutjob.proof.nearness import point_distance
from cutjob.proof.tracks import Tracks
from cutjob.tolerances import TOLERANCES

_PLACE = 0.381966  # of a segment's length: no end and no middle, where motions are wont to meet


def judge_passes(
    tracks: Tracks, goals: Goals, near: Near, programs: tuple[ExpectedProgram, ...], machine: Machine
) -> list[Finding]:
    """Return findings for passes deeper than the feed table allows, or for a laser's contours cut too few times.

    A hole of the cutter's own size, drilled straight down, is not judged: its depth a time is no pass.
    """
    place, track, height = _visits(tracks, goals, near)
    feed = [program.cutter.feed_for(program.board.board.material) for program in programs]
    if machine.kind == "laser":
        wanted = np.array([row.passes if row is not None else 1 for row in feed])
        return _too_few(goals, tracks, place, track, wanted, programs) if len(place) else []
    limits = np.array([row.depth_per_pass if row is not None and row.depth_per_pass else np.inf for row in feed])
    found = _too_deep(goals, tracks, place, track, height, limits, programs) if len(place) else []
    return found + judge_descents(tracks, goals, programs)


def _visits(tracks: Tracks, goals: Goals, near: Near) -> tuple[Ints, Ints, Floats]:
    """Return (row, track, height of the track beside it) for every pass by the place looked at, by row and time."""
    rows = goals.curves.take(near.row)
    x, y = rows.at(np.full(len(rows), _PLACE))
    curves = tracks.curves.take(near.track)
    apart, share = point_distance(x, y, curves)
    # A motion counts at its start and not at its end, so that a place between two counts once.
    hit = np.flatnonzero((apart <= touching(tracks)[near.track]) & ((share < 1) | (curves.length == 0)))
    height = curves.take(hit).height(share[hit])
    height = np.where(curves.length[hit] == 0, np.minimum(curves.z0[hit], curves.z1[hit]), height)
    order = np.lexsort((near.track[hit], near.row[hit]))
    return near.row[hit][order], near.track[hit][order], height[order]


def _too_few(
    goals: Goals, tracks: Tracks, place: Ints, track: Ints, wanted: Ints, programs: tuple[ExpectedProgram, ...]
) -> list[Finding]:
    deep = tracks.curves.z0[track] <= -goals.layout.height + TOLERANCES.output
    row, count = np.unique(place[deep], return_counts=True)
    least = np.full(len(goals.goals), np.iinfo(np.int64).max)
    np.minimum.at(least, goals.goal[row], count)
    needed = int(wanted.max())
    short = np.flatnonzero(least < needed)
    files = ", ".join(dict.fromkeys(program.file for program in programs))
    return [
        Finding(
            check="passes",
            severity="error",
            message=f"the {goals.name(int(goal))} is cut {least[goal]} times; the profile asks for {needed}",
            file=files,
            measured=float(least[goal]),
            limit=float(needed),
        )
        for goal in short[:MOST_TOLD]
    ]


def _too_deep(
    goals: Goals, tracks: Tracks, place: Ints, track: Ints, height: Floats, limits: Floats,
    programs: tuple[ExpectedProgram, ...],
) -> list[Finding]:  # fmt: skip
    # The floor left by earlier passes at the same place: a running minimum that starts anew at each row.
    rank = np.concatenate([[0], np.cumsum(place[1:] != place[:-1])]).astype(float)
    span = 1.0 + float(-height.min(initial=0.0))
    lowest = np.minimum.accumulate(height - rank * span) + rank * span
    before = np.concatenate([[0.0], lowest[:-1]])
    before = np.where(np.concatenate([[True], place[1:] != place[:-1]]), 0.0, before)
    step = before - height
    drilled = np.array([goal.radius for goal in goals.goals])[goals.goal[place]] <= touching(tracks)[track]
    drilled &= np.array([goal.kind in ("through", "blind") for goal in goals.goals])[goals.goal[place]]
    limit = limits[tracks.program[track]]
    wrong = np.flatnonzero((step > limit * SPARE + TOLERANCES.acceptance) & ~drilled)
    worst: dict[int, int] = {}
    for index in wrong:
        program = int(tracks.program[track[index]])
        if program not in worst or step[index] > step[worst[program]]:
            worst[program] = int(index)
    return [
        Finding(
            check="depth per pass",
            severity="error",
            message=f"cuts {step[index]:.2f} mm deep in one pass on the {goals.name(int(goals.goal[place[index]]))}; "
            f"the feed table allows {limit[index]:.2f} mm",
            file=programs[program].file,
            line=int(tracks.line[track[index]]),
            measured=float(step[index]),
            limit=float(limit[index]),
        )
        for program, index in sorted(worst.items())
    ]
