"""Unexplained cuts: each motion in the stock must be near a contour, or in an area to clear, drill or mark. mm.

A cut out in the waste goes through wood that no plan accounts for: it may be deep in one pass, cut loose the wood that
holds parts, or burn where it shows. Only leads run there, no longer than the profile's greatest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.proof import limits
from cutjob.proof.board.board_case import BoardCase, worst_of_each
from cutjob.proof.board.curves import Bools, Curves, Floats, Ints
from cutjob.proof.board.distances import Finder, point_distance, point_geometries
from cutjob.proof.board.required_edges import MATERIAL, WALLED, RequiredEdges
from cutjob.proof.board.round_holes import within
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.finding import Finding
from cutjob.proof.sweep.lettering import Letters, along_letters

_SHARES = (0.5, 1.0)  # of a motion, where it is checked: each motion begins where another ends
_AT_ONCE = 10_000  # spots checked together, to bound the memory
_MOST_SEARCHED = 3_000  # stray spots; the farthest of them is reported
_SEARCH = 100.0  # mm; how far the nearest contour is searched for, only for the message


@dataclass(frozen=True, slots=True)
class _Spots:
    """Places on motions: the track, the point, the radius of its cutter, and whether it is the motion's middle."""

    track: Ints
    x: Floats
    y: Floats
    radius: Floats
    middle: Bools

    def take(self, index: Ints | Bools) -> _Spots:
        return _Spots(self.track[index], self.x[index], self.y[index], self.radius[index], self.middle[index])


def judge_purpose(case: BoardCase) -> list[Finding]:
    """Return a finding for each program with an unexplained cut, or with letters in the waste that are too deep."""
    tracks, edges, lead, left = case.tracks, case.edges, case.machine.cutting.lead, case.wall_left
    reach, longest = limits.lead_reach(lead, left), limits.longest_lead(lead)
    known = np.zeros(len(tracks), dtype=bool)
    # A motion that touches a contour and is no longer than a lead can't get away from it.
    known[case.touching.track] = True
    known &= tracks.curves.length <= longest
    known[case.on_marks.track] = True
    known[case.in_features.track] = True
    spots = _spots(tracks, np.flatnonzero(~known))
    contours = edges.curves.take(edges.rows(*MATERIAL, *WALLED))
    finder = Finder(contours)
    # Most motions run right beside a contour.
    spots = spots.take(np.isinf(_away(spots, finder, contours, left + limits.BESIDE_CONTOUR)))
    long_way = (tracks.curves.length[spots.track] > longest) & spots.middle
    spots = spots.take(long_way | np.isinf(_away(spots, finder, contours, reach)))
    spots = spots.take(~_over_holes(spots, edges))
    index = np.unique(spots.track)
    if len(index):
        index = index[~_in_fixings(case, tracks.take(index))]
    if not len(index):
        return []
    letters = along_letters(case, index)
    spots = spots.take(np.isin(spots.track, index[letters == Letters.NONE]))
    if len(spots.track) > _MOST_SEARCHED:
        spots = spots.take(np.linspace(0, len(spots.track) - 1, _MOST_SEARCHED).astype(np.int64))
    away = _away(spots, finder, contours, _SEARCH)
    return [*_astray(case, spots, away, reach), *_too_deep(case, index[letters == Letters.TOO_DEEP])]


def _spots(tracks: Tracks, index: Ints) -> _Spots:
    track = np.repeat(index, len(_SHARES))
    share = np.tile(np.array(_SHARES), len(index))
    x, y = tracks.curves.take(track).at(share)
    return _Spots(track, x, y, tracks.radius[track], share == _SHARES[0])


def _away(spots: _Spots, finder: Finder, contours: Curves, most: float) -> Floats:
    """Return the distance of the cutter's edge from the nearest contour at each spot; infinite beyond `most`."""
    away = np.full(len(spots.track), np.inf)
    for first in range(0, len(away), _AT_ONCE):
        some = spots.take(np.arange(first, min(first + _AT_ONCE, len(away))))
        place, row = finder.around(some.x, some.y, some.radius + most)
        apart = point_distance(some.x[place], some.y[place], contours.take(row))[0] - some.radius[place]
        np.minimum.at(away, first + place, apart)
    away[away > most] = np.inf
    return away


def _over_holes(spots: _Spots, edges: RequiredEdges) -> Bools:
    """Which spots are over a round hole of a part."""
    rows = np.array([edge.first for edge in edges.every if edge.kind == "through"], dtype=np.int64)
    over = np.zeros(len(spots.track), dtype=bool)
    if len(rows) and len(over):
        holes = edges.curves.take(rows)
        tree = shapely.STRtree(point_geometries(holes.cx, holes.cy))
        points = point_geometries(spots.x, spots.y)
        spot, hole = tree.query(points, predicate="dwithin", distance=float(holes.r.max()))
        own = np.hypot(spots.x[spot] - holes.cx[hole], spots.y[spot] - holes.cy[hole]) <= holes.r[hole]
        over[spot[own]] = True
    return over


def _in_fixings(case: BoardCase, tracks: Tracks) -> Bools:
    """Which motions stay within a hole for a screw or a pin."""
    own = np.zeros(len(tracks), dtype=bool)
    for down in case.layout.hold_downs:
        own |= within(tracks, down.at, down.diameter)
    for at in dict.fromkeys(at for window in case.layout.windows for at in window.holes):
        own |= within(tracks, at, case.pin)
    return own


def _astray(case: BoardCase, spots: _Spots, away: Floats, reach: float) -> Iterator[Finding]:
    tracks = case.tracks
    worst = worst_of_each(tracks.program[spots.track], np.where(np.isfinite(away), away, _SEARCH))
    for spot in worst.tolist():
        far = f"{away[spot]:.2f}" if np.isfinite(away[spot]) else f"more than {_SEARCH:.0f}"
        message = f"unexplained cut, {far} mm from the nearest contour; leads keep within {reach:.2f} mm"
        if away[spot] <= reach:
            length = float(tracks.curves.length[spots.track[spot]])
            message = f"runs {length:.2f} mm through the waste, {far} mm from the nearest contour; leads are shorter"
        measured = float(away[spot]) if np.isfinite(away[spot]) else None
        yield case.error("waste", message, int(spots.track[spot]), measured=measured, limit=reach)


def _too_deep(case: BoardCase, index: Ints) -> list[Finding]:
    first = index[np.unique(case.tracks.program[index], return_index=True)[1]]
    return [case.error("waste", "cuts lettering in the waste deeper than planned", track) for track in first.tolist()]
