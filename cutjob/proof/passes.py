"""Depth of each pass of a router, and how often a laser went round: looked at on every segment of every contour.

Rough passes may keep a little off a wall and leave that to one last pass at full depth. What earlier passes cut is
taken from the motions: a pass is as deep as it goes below all that ran by before it, no farther off the wall than the
profile lets rough passes keep. In inside corners which a cutter that keeps off the walls doesn't get into, four times
as much may be left, as it is between walls at an angle of 29 degrees: 1 / sin(a / 2).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutjob.geometry.segment import Point
from cutjob.job.machine import Machine
from cutjob.proof.coverage import deepest_within
from cutjob.proof.curves import Bools, Floats, Ints
from cutjob.proof.descents import SPARE, UP_EARLIER, judge_descents
from cutjob.proof.ends import Inside
from cutjob.proof.expect import ExpectedProgram, over_whole_height
from cutjob.proof.finding import Finding
from cutjob.proof.goals import MATERIAL, Goals
from cutjob.proof.left import MOST_TOLD
from cutjob.proof.near import Near, touching
from cutjob.proof.nearness import Finder, point_distance
from cutjob.proof.tracks import Tracks, feed_rows
from cutjob.tolerances import TOLERANCES

_PLACE = 0.381966  # of a segment's length: no end and no middle, where motions are wont to meet
_CORNER = 4.0  # times what is left on walls, that may be left in an inside corner


def judge_passes(
    tracks: Tracks, goals: Goals, near: Near, inside: Inside, programs: tuple[ExpectedProgram, ...], machine: Machine
) -> list[Finding]:
    """Return findings for passes deeper than the feed table allows, or for a laser's contours cut too few times.

    `near` pairs tracks with all contours no farther from their edge than the wood left for a last pass (`last_pass`).
    A hole of the cutter's own size, drilled straight down, is not judged: its depth a time is no pass.
    """
    visits = _visits(tracks, goals, near, last_pass(goals, machine), inside)
    if machine.kind == "laser":
        material = np.isin(visits.row, goals.rows(*MATERIAL))
        return _too_few(goals, tracks, visits.take(material), programs)
    limits = depths_per_pass(tracks, programs)
    found = _too_deep(goals, tracks, visits, limits, programs, machine)
    return found + judge_descents(tracks, goals, inside, limits, programs, machine)


def last_pass(goals: Goals, machine: Machine) -> Floats:
    """Return by row how much wood rough passes may leave on a contour for one last pass at full depth, mm."""
    allowed = np.zeros(len(goals.curves))
    if machine.kind == "router":
        allowed[goals.rows("outline", "hole")] = machine.cutting.finish
        allowed[goals.rows("pocket")] = machine.cutting.pocket_finish
        # What meets a pocket is passed by with that pocket's last pass.
        part = np.unique(goals.placement[goals.rows("pocket")])
        inner = goals.rows("through", "blind")
        passed = np.concatenate([np.flatnonzero(goals.gone > 0), inner[np.isin(goals.placement[inner], part)]])
        allowed[passed] = np.maximum(allowed[passed], machine.cutting.pocket_finish)
    return allowed


def depths_per_pass(tracks: Tracks, programs: tuple[ExpectedProgram, ...]) -> Floats:
    """Return by track the greatest depth of a pass with its cutter in its board's material, infinite where none is."""
    limits = np.full(len(tracks), np.inf)
    for (program, cutter), row in feed_rows(programs).items():
        if row is not None and row.depth_per_pass:
            limits[(tracks.program == program) & (tracks.cutter == cutter)] = row.depth_per_pass
    return limits


@dataclass(frozen=True, slots=True)
class _Visits:
    """Passes by the place looked at on each row, by row and time: the track, its height beside the place, and whether
    it is a pass along that contour: what touches the place is, and beside that what runs by, but not over a floor.
    """

    row: Ints
    track: Ints
    height: Floats
    along: Bools

    def take(self, index: Ints | Bools) -> _Visits:
        return _Visits(self.row[index], self.track[index], self.height[index], self.along[index])


def _visits(tracks: Tracks, goals: Goals, near: Near, aside: Floats, inside: Inside) -> _Visits:
    """Return every pass by the place looked at on each row that is a wall, no farther off than `aside` of the row."""
    near = near.take(goals.is_wall[near.row])
    rows = goals.curves.take(near.row)
    x, y = rows.at(np.full(len(rows), _PLACE))
    curves = tracks.curves.take(near.track)
    apart, share = point_distance(x, y, curves)
    # A motion counts at its start and not at its end, so that a place between two counts once.
    reach = touching(tracks)[near.track] + aside[near.row]
    hit = np.flatnonzero((apart <= reach) & ((share < 1) | (curves.length == 0)))
    height = curves.take(hit).height(share[hit])
    height = np.where(curves.length[hit] == 0, np.minimum(curves.z0[hit], curves.z1[hit]), height)
    over_floor = np.zeros(len(tracks), dtype=bool)
    over_floor[inside.track] = True
    along = ~over_floor[near.track] & (share > 0) & (share < 1) & (curves.length > 0)
    along |= apart <= touching(tracks)[near.track]
    order = np.lexsort((near.track[hit], near.row[hit]))
    return _Visits(near.row[hit][order], near.track[hit][order], height[order], along[hit][order])


def _too_few(goals: Goals, tracks: Tracks, visits: _Visits, programs: tuple[ExpectedProgram, ...]) -> list[Finding]:
    deep = tracks.curves.z0[visits.track] <= -goals.layout.height + TOLERANCES.output
    row, count = np.unique(visits.row[deep], return_counts=True)
    least = np.full(len(goals.goals), np.iinfo(np.int64).max)
    np.minimum.at(least, goals.goal[row], count)
    needed = max((feed.passes for feed in feed_rows(programs).values() if feed is not None), default=1)
    short = np.flatnonzero(least < needed)
    files = ", ".join(dict.fromkeys(program.file for program in programs))
    return [
        Finding(
            check="passes",
            severity="error",
            message=f"the {goals.name(int(goal))} is cut {least[goal]} times; the profile asks for {needed}",
            file=files,
            at=_place_of(goals, goals.goals[goal].first),
            measured=float(least[goal]),
            limit=float(needed),
        )
        for goal in short[:MOST_TOLD]
    ]


def _too_deep(
    goals: Goals, tracks: Tracks, visits: _Visits, limits: Floats, programs: tuple[ExpectedProgram, ...],
    machine: Machine,
) -> list[Finding]:  # fmt: skip
    if not len(visits.row):
        return []
    row, track = visits.row, visits.track
    step = _steps(row, visits.height)
    drilled = np.array([goal.radius for goal in goals.goals])[goals.goal[row]] <= touching(tracks)[track]
    drilled &= np.array([goal.kind in ("through", "blind") for goal in goals.goals])[goals.goal[row]]
    limit = limits[track]
    wrong = np.flatnonzero((step > limit * SPARE + TOLERANCES.acceptance) & visits.along & ~drilled)
    if len(wrong):
        excused = _beside_tabs(goals, programs, machine, row[wrong], step[wrong])
        excused |= _in_corners(tracks, goals, visits.take(wrong), step[wrong], limit[wrong], machine)
        wrong = wrong[~excused]
    worst: dict[int, int] = {}
    for index in wrong:
        program = int(tracks.program[track[index]])
        if program not in worst or step[index] > step[worst[program]]:
            worst[program] = int(index)
    return [
        Finding(
            check="depth per pass",
            severity="error",
            message=f"cuts {step[index]:.2f} mm deep in one pass on the {goals.name(int(goals.goal[row[index]]))}; "
            f"the feed table allows {limit[index]:.2f} mm",
            file=programs[program].file,
            line=int(tracks.line[track[index]]),
            at=_place_of(goals, int(row[index])),
            measured=float(step[index]),
            limit=float(limit[index]),
        )
        for program, index in sorted(worst.items())
    ]


def _place_of(goals: Goals, row: int) -> Point:
    x, y = goals.curves.take(np.array([row])).at(np.array([_PLACE]))
    return float(x[0]), float(y[0])


def _steps(row: Ints, height: Floats) -> Floats:
    """How much deeper each pass goes than all before it at the same row; `row` in groups, each in time."""
    # A running minimum that starts anew at each row: rows are set apart by more than any height.
    rank = np.concatenate([[0], np.cumsum(row[1:] != row[:-1])]).astype(float)
    span = 1.0 + float(-height.min(initial=0.0))
    lowest = np.minimum.accumulate(height - rank * span) + rank * span
    before = np.concatenate([[0.0], lowest[:-1]])
    before = np.where(np.concatenate([[True], row[1:] != row[:-1]]), 0.0, before)
    return np.asarray(before - height)


def _beside_tabs(
    goals: Goals, programs: tuple[ExpectedProgram, ...], machine: Machine, row: Ints, step: Floats
) -> Bools:
    """Which places lie at the end of a tab, where rough passes go up a little before the last one does, and that takes
    no more than the tab's height at a time there.
    """
    excused = np.zeros(len(row), dtype=bool)
    if machine.cutting.finish <= 0:
        return excused
    x, y = goals.curves.take(row).at(np.full(len(row), _PLACE))
    for program in programs:
        widest = max(cutter.diameter for cutter in program.cutters)
        for tab in program.tabs:
            if over_whole_height(tab, program):
                continue  # the cutter passes over it, and comes down as far as the pass before did
            near = np.hypot(x - tab.at[0], y - tab.at[1]) <= tab.width / 2 + widest + UP_EARLIER
            excused |= near & (step <= tab.height + program.overcut + TOLERANCES.acceptance)
    return excused


def _in_corners(tracks: Tracks, goals: Goals, visits: _Visits, step: Floats, limit: Floats, machine: Machine) -> Bools:
    """Which places lie in an inside corner that a cutter keeping off the walls doesn't get into, and were passed by
    before at the distance it keeps there.
    """
    aside = last_pass(goals, machine)
    excused = np.zeros(len(step), dtype=bool)
    corner = np.flatnonzero(aside[visits.row] > 0)
    if not len(corner):
        return excused
    some = visits.take(corner)
    x, y = goals.curves.take(some.row).at(np.full(len(corner), _PLACE))
    nx, ny = goals.curves.take(some.row).right(np.full(len(corner), _PLACE))
    by = tracks.radius[some.track] + aside[some.row]
    walls = np.flatnonzero(goals.is_wall)
    px, py = x + nx * by, y + ny * by
    place, found = Finder(goals.curves.take(walls)).around(px, py, by)
    found = walls[found]
    own = goals.placement[found] == goals.placement[some.row[place]]
    place, found = place[own], found[own]
    apart = point_distance(px[place], py[place], goals.curves.take(found))[0]
    blocked = np.zeros(len(corner), dtype=bool)
    blocked[place[apart < by[place] - TOLERANCES.acceptance]] = True
    corner, some, x, y = corner[blocked], some.take(blocked), x[blocked], y[blocked]
    reach = tracks.radius.max(initial=0.0) + _CORNER * aside[some.row]
    place, track = Finder(tracks.curves).around(x, y, reach)
    earlier = track < some.track[place]
    place, track = place[earlier], track[earlier]
    floor = np.zeros(len(corner))
    within = tracks.radius[track] + _CORNER * aside[some.row[place]]
    np.minimum.at(floor, place, deepest_within(x[place], y[place], tracks.curves.take(track), within))
    excused[corner] = floor - some.height <= limit[corner] * SPARE + TOLERANCES.acceptance
    return excused
