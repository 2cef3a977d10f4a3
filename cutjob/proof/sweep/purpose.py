"""Cuts that make nothing: each motion in the stock keeps near a contour, or in what it has to clear, drill or mark. mm.

Whatever cuts out in the waste goes through wood nobody reckoned with: it may be deep in one go, cut loose what holds
parts, or burn where it shows. Only leads run there, no longer than the profile's greatest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.job.machine import Machine
from cutjob.proof.board.curves import Bools, Curves, Floats, Ints
from cutjob.proof.board.distances import Finder, point_distance, point_geometries
from cutjob.proof.board.ends import Inside
from cutjob.proof.board.lettering import Letters, along_letters
from cutjob.proof.board.near import Near
from cutjob.proof.board.required_edges import MATERIAL, WALLED, Goals
from cutjob.proof.board.round_holes import within
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding

_LEADS = 1.5  # times the greatest radius of a lead: a quarter of a turn ends 1.41 of it away
_SPARE = 1.0  # mm
_SHARES = (0.5, 1.0)  # of a motion, where it is looked at: each begins where another ends
_AT_ONCE = 10_000  # spots looked at together, which bounds the memory
_MOST_SEARCHED = 3_000  # spots astray of which the farthest is reported
_SEARCH = 100.0  # mm; how far the nearest contour is looked for, for the message only


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


def judge_purpose(
    tracks: Tracks,
    goals: Goals,
    near: Near,
    marks: Near,
    inside: Inside,
    programs: tuple[ExpectedProgram, ...],
    machine: Machine,
) -> list[Finding]:
    """Return a finding for each program that cuts where nothing is to be made, or letters in the waste too deep.

    `near` pairs tracks with contours they touch, `marks` with the marks they run on, `inside` with what they clear.
    """
    cutting = machine.cutting
    left = max(cutting.finish, cutting.pocket_finish)
    reach, longest = _LEADS * cutting.lead + left + _SPARE, np.pi / 2 * cutting.lead + _SPARE
    known = np.zeros(len(tracks), dtype=bool)
    # What touches a contour and is no longer than a lead can't get away from it.
    known[near.track] = True
    known &= tracks.curves.length <= longest
    known[marks.track] = True
    known[inside.track] = True
    spots = _spots(tracks, np.flatnonzero(~known))
    contours = goals.curves.take(goals.rows(*MATERIAL, *WALLED))
    finder = Finder(contours)
    # Most run right beside a contour.
    spots = spots.take(np.isinf(_away(spots, finder, contours, left + _SPARE)))
    long_way = (tracks.curves.length[spots.track] > longest) & spots.middle
    spots = spots.take(long_way | np.isinf(_away(spots, finder, contours, reach)))
    spots = spots.take(~_over_holes(spots, goals))
    index = np.unique(spots.track)
    if len(index):
        index = index[~_in_fixings(tracks.take(index), goals, machine)]
    if not len(index):
        return []
    letters = along_letters(tracks.take(index), goals.layout, machine)
    spots = spots.take(np.isin(spots.track, index[letters == Letters.NONE]))
    if len(spots.track) > _MOST_SEARCHED:
        spots = spots.take(np.linspace(0, len(spots.track) - 1, _MOST_SEARCHED).astype(np.int64))
    away = _away(spots, finder, contours, _SEARCH)
    return [
        *_astray(spots, away, tracks, programs, reach),
        *_too_deep(index[letters == Letters.TOO_DEEP], tracks, programs),
    ]


def _spots(tracks: Tracks, index: Ints) -> _Spots:
    track = np.repeat(index, len(_SHARES))
    share = np.tile(np.array(_SHARES), len(index))
    x, y = tracks.curves.take(track).at(share)
    return _Spots(track, x, y, tracks.radius[track], share == _SHARES[0])


def _away(spots: _Spots, finder: Finder, contours: Curves, most: float) -> Floats:
    """Return how far the edge of the cutter lies from the nearest contour at each spot; infinite beyond `most`."""
    away = np.full(len(spots.track), np.inf)
    for first in range(0, len(away), _AT_ONCE):
        some = spots.take(np.arange(first, min(first + _AT_ONCE, len(away))))
        place, row = finder.around(some.x, some.y, some.radius + most)
        apart = point_distance(some.x[place], some.y[place], contours.take(row))[0] - some.radius[place]
        np.minimum.at(away, first + place, apart)
    away[away > most] = np.inf
    return away


def _over_holes(spots: _Spots, goals: Goals) -> Bools:
    """Which spots lie over a round hole of a part."""
    rows = np.array([goal.first for goal in goals.goals if goal.kind == "through"], dtype=np.int64)
    over = np.zeros(len(spots.track), dtype=bool)
    if len(rows) and len(over):
        holes = goals.curves.take(rows)
        tree = shapely.STRtree(point_geometries(holes.cx, holes.cy))
        points = point_geometries(spots.x, spots.y)
        spot, hole = tree.query(points, predicate="dwithin", distance=float(holes.r.max()))
        own = np.hypot(spots.x[spot] - holes.cx[hole], spots.y[spot] - holes.cy[hole]) <= holes.r[hole]
        over[spot[own]] = True
    return over


def _in_fixings(tracks: Tracks, goals: Goals, machine: Machine) -> Bools:
    """Which motions stay within a hole for a screw or a pin."""
    layout = goals.layout
    pin = machine.travel.pin if machine.travel is not None else 0.0
    own = np.zeros(len(tracks), dtype=bool)
    for down in layout.hold_downs:
        own |= within(tracks, down.at, down.diameter)
    for at in dict.fromkeys(at for window in layout.windows for at in window.holes):
        own |= within(tracks, at, pin)
    return own


def _astray(
    spots: _Spots, away: Floats, tracks: Tracks, programs: tuple[ExpectedProgram, ...], reach: float
) -> list[Finding]:
    worst: dict[int, int] = {}
    for spot in np.argsort(-np.where(np.isfinite(away), away, _SEARCH), kind="stable").tolist():
        worst.setdefault(int(tracks.program[spots.track[spot]]), spot)
    found = []
    for _, spot in sorted(worst.items()):
        far = f"{away[spot]:.2f}" if np.isfinite(away[spot]) else f"more than {_SEARCH:.0f}"
        message = f"cuts where nothing is to be made, {far} mm from the next contour; leads keep within {reach:.2f} mm"
        if away[spot] <= reach:
            length = float(tracks.curves.length[spots.track[spot]])
            message = f"runs {length:.2f} mm through the waste, {far} mm from the next contour; leads are shorter"
        measured = float(away[spot]) if np.isfinite(away[spot]) else None
        found.append(_finding(message, int(spots.track[spot]), tracks, programs, measured=measured, limit=reach))
    return found


def _too_deep(index: Ints, tracks: Tracks, programs: tuple[ExpectedProgram, ...]) -> list[Finding]:
    first: dict[int, int] = {}
    for track in index.tolist():
        first.setdefault(int(tracks.program[track]), track)
    message = "cuts lettering in the waste deeper than planned"
    return [_finding(message, track, tracks, programs) for _, track in sorted(first.items())]


def _finding(
    message: str, track: int, tracks: Tracks, programs: tuple[ExpectedProgram, ...], *,
    measured: float | None = None, limit: float | None = None,
) -> Finding:  # fmt: skip
    x, y = tracks.curves.x0[track], tracks.curves.y0[track]
    return Finding(
        check="waste",
        severity="error",
        message=message,
        file=programs[int(tracks.program[track])].file,
        line=int(tracks.line[track]),
        at=(float(x), float(y)),
        measured=measured,
        limit=limit,
    )
