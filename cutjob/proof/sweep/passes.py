"""The depth of each pass of a router, and the number of rounds of a laser. Both are checked on every segment of every
contour, and right beside bridges that the cutter passes in the air or the beam passes switched off: a pass may end too
early there.

Rough passes may keep a little off a wall and leave that to one last pass at full depth. The motions show how much
earlier passes cut: a pass is as deep as it goes below all passes before it that were no farther off the wall than the
profile lets rough passes keep. In inside corners that a cutter that keeps off the walls doesn't get into, four times as
much may be left, as between walls at an angle of 29 degrees: 1 / sin(a / 2).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

import numpy as np

from cutjob.geometry.segment import Point
from cutjob.proof import limits
from cutjob.proof.board.board_case import MOST_FINDINGS, BoardCase, worst_of_each
from cutjob.proof.board.coverage import deepest_within
from cutjob.proof.board.curves import Bools, Floats, Ints
from cutjob.proof.board.cut_through import cut_through
from cutjob.proof.board.distances import Finder, point_distance
from cutjob.proof.board.required_edges import MATERIAL, RequiredEdges
from cutjob.proof.board.stretches import Stretch, rows_at
from cutjob.proof.board.track_edge_pairs import TrackEdgePairs, cutting_reach
from cutjob.proof.board.tracks import Tracks, feed_rows
from cutjob.proof.finding import Finding
from cutjob.proof.sweep.descents import depths_per_pass, low_tabs
from cutjob.tolerances import TOLERANCES

_PLACE = 0.381966  # of a segment's length: neither an end nor the middle, where motions often meet
_OTHER_PLACE = 0.763932


def judge_passes(case: BoardCase) -> list[Finding]:
    """Return findings for passes deeper than the feed table allows, or for a laser's contours cut too few times.

    A hole of the cutter's own size, drilled straight down, is not judged: a peck is not a pass.
    """
    bridges = _passed_bridges(case)
    visits = _visits(case, _places(case.edges, bridges))
    if case.laser:
        # Where a lead meets a contour it passes one of the places, but not two.
        others = _visits(case, _places(case.edges, (), at=_OTHER_PLACE))
        return [*_too_few(case, visits), *_too_many(case, visits, others)]
    return _too_deep(case, visits, bridges)


def _passed_bridges(case: BoardCase) -> list[Stretch]:
    """The stretches not cut through that are planned tabs and wholly uncut: as high as the stack, or left by a beam."""
    edges, left = case.edges, cut_through(case).stretches
    if not left:
        return []
    edge = np.array([one.edge for one in left], dtype=np.int64)
    row, share = rows_at(edges, edge, np.array([(one.first + one.last) / 2 for one in left]))
    x, y = edges.curves.take(row).at(share)
    passed = np.zeros(len(left), dtype=bool)
    for program in case.programs:
        for tab in program.tabs:
            if case.laser or tab.is_whole(edges.layout.height):
                near = np.hypot(x - tab.at[0], y - tab.at[1]) <= tab.width / 2
                passed |= near & (edges.placement[row] == tab.placement)
    return [left[index] for index in np.flatnonzero(passed)]


@dataclass(frozen=True, slots=True)
class _Places:
    """The places where contours are checked: their rows, and shares of these rows' lengths."""

    row: Ints
    share: Floats


def _places(edges: RequiredEdges, bridges: Sequence[Stretch], *, at: float = _PLACE) -> _Places:
    """One place on every row, by row, and then one beyond each end of the bridges."""
    row, share = np.arange(len(edges.curves), dtype=np.int64), np.full(len(edges.curves), at)
    if bridges:
        edge = np.array([one.edge for one in bridges for _ in range(2)], dtype=np.int64)
        ends = [
            along
            for one in bridges
            for along in (one.first - limits.BEYOND_ROUND_END, one.last + limits.BEYOND_ROUND_END)
        ]
        more, shares = rows_at(edges, edge, np.array(ends))
        row, share = np.concatenate([row, more]), np.concatenate([share, shares])
    return _Places(row, share)


@dataclass(frozen=True, slots=True)
class _Visits:
    """Visits to the places, by place and time: the place, its row and share of that, the track, its height beside the
    place, and whether it is a pass along that contour. A track that touches the place is; so is one that runs by beside
    it, but not over a floor.
    """

    place: Ints
    row: Ints
    share: Floats
    track: Ints
    height: Floats
    along: Bools

    def take(self, index: Ints | Bools) -> _Visits:
        return _Visits(*(getattr(self, column.name)[index] for column in fields(self)))

    def points(self, edges: RequiredEdges) -> tuple[Floats, Floats]:
        """The points of the places."""
        return edges.curves.take(self.row).at(self.share)


def _visits(case: BoardCase, places: _Places) -> _Visits:
    """Return every visit to the places on rows that are a wall, no farther off than the wood that may be left for a
    last pass.
    """
    tracks, edges = case.tracks, case.edges
    near = case.passing.take(edges.is_wall[case.passing.row])
    near_track, place = _at_places(near, places, len(edges.curves))
    row, share = places.row[place], places.share[place]
    x, y = edges.curves.take(row).at(share)
    curves = tracks.curves.take(near_track)
    apart, on_track = point_distance(x, y, curves)
    # A motion counts at its start and not at its end, so that a place between two counts once.
    reach = cutting_reach(tracks)[near_track] + case.last_pass[row]
    hit = np.flatnonzero((apart <= reach) & ((on_track < 1) | (curves.length == 0)))
    height = curves.take(hit).height(on_track[hit])
    height = np.where(curves.length[hit] == 0, np.minimum(curves.z0[hit], curves.z1[hit]), height)
    over_floor = np.zeros(len(tracks), dtype=bool)
    over_floor[case.in_features.track] = True
    along = ~over_floor[near_track] & (on_track > 0) & (on_track < 1) & (curves.length > 0)
    along |= apart <= cutting_reach(tracks)[near_track]
    order = np.lexsort((near_track[hit], place[hit]))
    hit = hit[order]
    return _Visits(place[hit], row[hit], share[hit], near_track[hit], height[order], along[hit])


def _at_places(near: TrackEdgePairs, places: _Places, rows: int) -> tuple[Ints, Ints]:
    """The pairs of a track and a row as pairs of a track and a place: the row's own, and those beyond bridges on it."""
    more = places.row[rows:]
    if not len(more):
        return near.track, near.row
    order = np.argsort(near.row, kind="stable")
    first, last = (np.searchsorted(near.row[order], more, side=side) for side in ("left", "right"))
    pairs = np.concatenate([order[a:b] for a, b in zip(first.tolist(), last.tolist(), strict=True)])
    own = np.repeat(rows + np.arange(len(more)), last - first)
    return np.concatenate([near.track, near.track[pairs]]), np.concatenate([near.row, own])


def _needed(case: BoardCase) -> int:
    """How many rounds a beam must make."""
    return max((feed.passes for feed in feed_rows(case.programs).values() if feed is not None), default=1)


def _times(case: BoardCase, chosen: Ints, what: str, times: Ints) -> Iterator[Finding]:
    """Findings for edges that a beam went round more or less often than needed; `times` is by edge."""
    needed = _needed(case)
    for edge in chosen[:MOST_FINDINGS].tolist():
        message = f"the {case.edges.name(edge)} is {what} {times[edge]} times; the profile asks for {needed}"
        at = _spot(case.edges, case.edges.every[edge].first, _PLACE)
        yield case.error("passes", message, at=at, measured=float(times[edge]), limit=float(needed))


def _too_few(case: BoardCase, visits: _Visits) -> Iterator[Finding]:
    edges = case.edges
    visits = visits.take(np.isin(visits.row, edges.rows(*MATERIAL)))
    deep = case.tracks.curves.z0[visits.track] <= -edges.layout.height + TOLERANCES.output
    _, first, count = np.unique(visits.place[deep], return_index=True, return_counts=True)
    least = np.full(len(edges.every), np.iinfo(np.int64).max)
    np.minimum.at(least, edges.edge[visits.row[deep][first]], count)
    return _times(case, np.flatnonzero(least < _needed(case)), "cut", least)


def _rounds(tracks: Tracks, visits: _Visits, count: int) -> Ints:
    """How often each of `count` places is visited: chords that meet there are one visit."""
    order = np.lexsort((visits.track, visits.row))
    row, track = visits.row[order], visits.track[order]
    again = np.zeros(len(row), dtype=bool)
    short = tracks.curves.length[track] < limits.SHORT_CHORD
    again[1:] = (row[1:] == row[:-1]) & (track[1:] - track[:-1] == 1) & short[1:] & short[:-1]
    return np.bincount(row[~again], minlength=count).astype(np.int64)


def _too_many(case: BoardCase, one: _Visits, other: _Visits) -> Iterator[Finding]:
    """Contours that a beam burns more often than the profile asks for, at both of two places on a row."""
    edges, tracks, count = case.edges, case.tracks, len(case.edges.curves)
    deep = -edges.layout.height + TOLERANCES.output
    times = np.minimum(
        *(
            _rounds(tracks, some.take((tracks.curves.z0[some.track] <= deep) & (some.place < count)), count)
            for some in (one, other)
        )
    )
    over = np.flatnonzero((times > _needed(case)) & np.isin(np.arange(count), edges.rows(*MATERIAL)))
    length = np.bincount(edges.edge[over], weights=edges.curves.length[over], minlength=len(edges.every))
    most = np.zeros(len(edges.every), dtype=np.int64)
    np.maximum.at(most, edges.edge[over], times[over])
    return _times(case, np.flatnonzero(length > np.minimum(limits.BURNED_AGAIN, edges.lengths / 2)), "burned", most)


def _too_deep(case: BoardCase, visits: _Visits, bridges: Sequence[Stretch]) -> list[Finding]:
    tracks, edges = case.tracks, case.edges
    if not len(visits.row):
        return []
    row, track = visits.row, visits.track
    step = _steps(visits.place, visits.height)
    drilled = np.array([edge.radius for edge in edges.every])[edges.edge[row]] <= cutting_reach(tracks)[track]
    drilled &= np.array([edge.kind in ("through", "blind") for edge in edges.every])[edges.edge[row]]
    limit = depths_per_pass(case)[track]
    wrong = np.flatnonzero((step > limit * limits.PASS_DEEPER + TOLERANCES.acceptance) & visits.along & ~drilled)
    if len(wrong):
        some = visits.take(wrong)
        excused = _beside_tabs(case, some, step[wrong])
        excused |= _in_round_ends(edges, bridges, some)
        excused |= _in_corners(case, some, step[wrong], limit[wrong])
        wrong = wrong[~excused]
    found = []
    for index in wrong[worst_of_each(tracks.program[track[wrong]], step[wrong])].tolist():
        deep, most = float(step[index]), float(limit[index])
        message = f"cuts {deep:.2f} mm deep in one pass on the {edges.name(int(edges.edge[row[index]]))}; "
        message += f"the feed table allows {most:.2f} mm"
        at = _spot(edges, int(row[index]), float(visits.share[index]))
        found.append(case.error("depth per pass", message, int(track[index]), at=at, measured=deep, limit=most))
    return found


def _spot(edges: RequiredEdges, row: int, share: float) -> Point:
    x, y = edges.curves.take(np.array([row])).at(np.array([share]))
    return float(x[0]), float(y[0])


def _steps(place: Ints, height: Floats) -> Floats:
    """How much deeper each pass goes than all passes before it at the same place; `place` is in groups, each in
    order of time.
    """
    # A running minimum that starts anew at each place: places are set apart by more than any height.
    rank = np.concatenate([[0], np.cumsum(place[1:] != place[:-1])]).astype(float)
    span = 1.0 + float(-height.min(initial=0.0))
    lowest = np.minimum.accumulate(height - rank * span) + rank * span
    before = np.concatenate([[0.0], lowest[:-1]])
    before = np.where(np.concatenate([[True], place[1:] != place[:-1]]), 0.0, before)
    return np.asarray(before - height)


def _beside_tabs(case: BoardCase, visits: _Visits, step: Floats) -> Bools:
    """Which visits are at the end of a tab, where rough passes rise a little before the last one does, and take no more
    than the tab's height at a time. A tab as high as the stack has none: the wood beside it is cut pass by pass.
    """
    excused = np.zeros(len(step), dtype=bool)
    if case.machine.cutting.finish <= 0:
        return excused
    x, y = visits.points(case.edges)
    for program in case.programs:
        widest = max(cutter.diameter for cutter in program.cutters)
        for tab in low_tabs(program):
            near = np.hypot(x - tab.at[0], y - tab.at[1]) <= tab.width / 2 + widest + limits.UP_BEFORE_TAB
            excused |= near & (step <= tab.height + program.overcut + TOLERANCES.acceptance)
    return excused


def _in_round_ends(edges: RequiredEdges, bridges: Sequence[Stretch], visits: _Visits) -> Bools:
    """Which visits are so near to a bridge's wood that only the round ends of cuts touch the place. Right beyond, where
    every pass cuts, there is a place of its own.
    """
    excused = np.zeros(len(visits.row), dtype=bool)
    edge, along = edges.edge[visits.row], edges.along[visits.row] + visits.share * edges.curves.length[visits.row]
    for one in bridges:
        on = (along - one.first + limits.ROUND_END) % edges.lengths[one.edge]
        excused |= (edge == one.edge) & (on <= one.last - one.first + 2 * limits.ROUND_END)
    return excused


def _in_corners(case: BoardCase, visits: _Visits, step: Floats, limit: Floats) -> Bools:
    """Which visits are in an inside corner that a cutter keeping off the walls doesn't get into, and that was passed
    before at the distance such a cutter keeps.
    """
    tracks, edges, aside = case.tracks, case.edges, case.last_pass
    excused = np.zeros(len(step), dtype=bool)
    corner = np.flatnonzero(aside[visits.row] > 0)
    if not len(corner):
        return excused
    some = visits.take(corner)
    x, y = some.points(edges)
    nx, ny = edges.curves.take(some.row).right(some.share)
    by = tracks.radius[some.track] + aside[some.row]
    walls = np.flatnonzero(edges.is_wall)
    px, py = x + nx * by, y + ny * by
    place, found = Finder(edges.curves.take(walls)).around(px, py, by)
    found = walls[found]
    own = edges.placement[found] == edges.placement[some.row[place]]
    place, found = place[own], found[own]
    apart = point_distance(px[place], py[place], edges.curves.take(found))[0]
    blocked = np.zeros(len(corner), dtype=bool)
    blocked[place[apart < by[place] - TOLERANCES.acceptance]] = True
    corner, some, x, y = corner[blocked], some.take(blocked), x[blocked], y[blocked]
    reach = tracks.radius.max(initial=0.0) + limits.CORNER_LEFT * aside[some.row]
    place, track = Finder(tracks.curves).around(x, y, reach)
    earlier = track < some.track[place]
    place, track = place[earlier], track[earlier]
    floor = np.zeros(len(corner))
    within = tracks.radius[track] + limits.CORNER_LEFT * aside[some.row[place]]
    np.minimum.at(floor, place, deepest_within(x[place], y[place], tracks.curves.take(track), within))
    excused[corner] = floor - some.height <= limit[corner] * limits.PASS_DEEPER + TOLERANCES.acceptance
    return excused
