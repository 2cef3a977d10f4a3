"""Bridges: every stretch of a contour not cut through must be a planned tab, as wide and as high as planned. mm.

A tab's width is the wood between the two cuts that end at it: along the centre path, less the cutter's diameter. The
centre path between two places is the outline's length between them plus the radius times the angle turned. Where the
cutter rises along ramps, the tab is wider at the underside than at its top, whose width is the planned one.

Each stretch left of a contour is matched with its planned tab; planned tabs without a stretch are findings.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutjob.proof import limits
from cutjob.proof.board.board_case import MOST_FINDINGS, BoardCase, once_a_board
from cutjob.proof.board.coverage import deepest_within, uncovered
from cutjob.proof.board.curves import Curves, Floats, Ints, portion_below
from cutjob.proof.board.cut_through import cut_through
from cutjob.proof.board.distances import Finder, point_distance
from cutjob.proof.board.required_edges import MATERIAL, RequiredEdges
from cutjob.proof.board.stretches import Stretch, edge_length, rows_at
from cutjob.proof.board.track_edge_pairs import curves_within
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.expect import ExpectedTab
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class TabMatch:
    """A planned tab, the stretch left for it, and the place of its middle along the contour."""

    tab: ExpectedTab
    file: str
    stretch: Stretch
    middle: float


@once_a_board
def matched_tabs(case: BoardCase) -> tuple[list[TabMatch], list[Finding]]:
    """Return each planned tab with the stretch left for it, and findings for those that have none."""
    edges, through = case.edges, cut_through(case)
    # A bridge between pieces of waste touches no part: `held` judges it with the whole board.
    planned = [(tab, program.file) for program in case.programs for tab in program.tabs if tab.placement is not None]
    by_edge: dict[int, list[Stretch]] = {}
    for stretch in through.stretches:
        by_edge.setdefault(stretch.edge, []).append(stretch)
    on, middles, off = _along_contour(edges, planned)
    matches: list[TabMatch] = []
    found: list[Finding] = []
    used: set[Stretch] = set()
    for (tab, file), edge, middle, apart in zip(planned, on.tolist(), middles, off, strict=True):
        if edge < 0 or apart > TOLERANCES.tab_place:
            message = f"the planned tab is {apart:.3f} mm off any outline of its part"
            found.append(case.error("tab", message, file=file, at=tab.at))
            continue
        if through.missing[edge]:
            continue  # a contour that isn't cut has no tabs, and is reported already
        total = edge_length(edges, edge)
        here = [one for one in by_edge.get(edge, []) if _within(one, middle, total)]
        if not here:
            message = f"the planned tab of {edges.part_of(edge)} is cut away"
            found.append(case.error("tab", message, file=file, at=tab.at))
        elif here[0] in used:
            message = f"two tabs of {edges.part_of(edge)} run into one"
            found.append(case.error("tab", message, file=file, at=tab.at))
        else:
            used.add(here[0])
            matches.append(TabMatch(tab, file, here[0], middle))
    return matches, found


def _within(stretch: Stretch, middle: float, total: float) -> bool:
    return stretch.first <= middle <= stretch.last or stretch.first <= middle + total <= stretch.last


def _along_contour(edges: RequiredEdges, planned: Sequence[tuple[ExpectedTab, str]]) -> tuple[Ints, Floats, Floats]:
    """Return for each planned tab the contour of its part that it is on (-1: none), how far along it the tab's middle
    is, and how far off it. Waste in an opening hangs on tabs on the opening's edge.
    """
    on = np.full(len(planned), -1, dtype=np.int64)
    along, off = np.zeros(len(planned)), np.full(len(planned), np.inf)
    if not planned:
        return on, along, off
    px, py = (np.array([tab.at[axis] for tab, _ in planned], dtype=float) for axis in (0, 1))
    rows = edges.rows(*MATERIAL)
    place, found = Finder(edges.curves.take(rows)).around(px, py, np.full(len(planned), TOLERANCES.tab_place))
    owner = np.array([tab.placement for tab, _ in planned], dtype=np.int64)
    own = edges.placement[rows[found]] == owner[place]
    place, row = place[own], rows[found[own]]
    curves = edges.curves.take(row)
    apart, share = point_distance(px[place], py[place], curves)
    for index in np.argsort(-apart):  # the nearest is written last
        on[place[index]] = edges.edge[row[index]]
        off[place[index]] = apart[index]
        along[place[index]] = edges.along[row[index]] + share[index] * curves.length[index]
    return on, along, off


_BESIDE = 1.0  # mm beyond a tab's end within which the cut beside it is searched for
_JOIN = 1e-5  # mm along a contour
_ACROSS = (-0.4, 0.0, 0.4)  # where a tab's height is measured, in widths from its middle


def judge_tabs(case: BoardCase) -> list[Finding]:
    """Return findings about planned tabs."""
    matches, missed = matched_tabs(case)
    found = [*missed, *_widths(case, matches)]
    if not case.laser:
        found += _heights(case, matches)
    return found[:MOST_FINDINGS]


@dataclass(frozen=True, slots=True)
class _Cuts:
    """Pieces of tracks below some level, with the index of each one's track; and for each tab the places along its
    outline where they end and begin again.
    """

    index: Ints
    curves: Curves
    ends: Sequence[tuple[float, float]]


def _widths(case: BoardCase, matches: Sequence[TabMatch]) -> list[Finding]:
    if not matches:
        return []
    edges, through = case.edges, cut_through(case)
    slope = None if case.laser or case.ramp_degrees is None else math.tan(math.radians(case.ramp_degrees))
    stretches = [(match.stretch.first, match.stretch.last) for match in matches]
    measured = _measured(case, matches, _Cuts(through.index, through.curves, stretches))
    found = []

    def report(match: TabMatch, message: str, measured: float | None = None, limit: float | None = None) -> None:
        found.append(case.error("tab", message, file=match.file, at=match.tab.at, measured=measured, limit=limit))

    for match, (width, middle) in zip(matches, measured, strict=True):
        top, spread = width, 0.0
        ramped = slope is not None and not match.tab.is_whole(edges.layout.height)
        if ramped and width > match.tab.width + TOLERANCES.tab_width:
            top, spread = _at_the_top(case, match, width)
        total = edge_length(edges, match.stretch.edge)
        off = abs((middle - match.middle + total / 2) % total - total / 2)
        name = edges.part_of(match.stretch.edge)
        if abs(top - match.tab.width) > TOLERANCES.tab_width:
            message = f"a tab of {name} is {top:.2f} mm wide; the plan has {match.tab.width:.2f} mm"
            report(match, message, top, match.tab.width)
        most = 0.0 if slope is None else 2 * match.tab.height / slope + TOLERANCES.tab_width
        if spread > most:
            message = f"the ramps of a tab of {name} are {spread / 2:.2f} mm long; the profile allows {most / 2:.2f} mm"
            report(match, message, spread / 2, most / 2)
        if off > TOLERANCES.tab_place:
            report(match, f"a tab of {name} is {off:.2f} mm from its planned place")
    return found


def _measured(case: BoardCase, matches: Sequence[TabMatch], cuts: _Cuts) -> list[tuple[float, float]]:
    """Return the width of each tab's wood between the cuts, and its middle along the outline."""
    first = _cut_end(case, matches, cuts, last=False)
    last = _cut_end(case, matches, cuts, last=True)
    result = []
    for match, one, two in zip(matches, first, last, strict=True):
        radius = float(cut_through(case).radius[match.stretch.edge])
        turn = float(np.arctan2(one[1] * two[2] - one[2] * two[1], one[1] * two[1] + one[2] * two[2]))
        length = (two[0] - one[0]) % edge_length(case.edges, match.stretch.edge)
        result.append((length + radius * turn - 2 * radius, one[0] + length / 2))
    return result


def _at_the_top(case: BoardCase, match: TabMatch, foot: float) -> tuple[float, float]:
    """Return the width of a tab at its planned top, and how much wider it is at the underside (`foot`).

    It is measured just below the top, within the tolerance of a tab's height, and the ramps are extended from there.
    """
    below = min(TOLERANCES.tab_height, match.tab.height / 2)
    level = match.tab.height - below
    cuts = _below(case, match, level - case.layout.height)
    if cuts is None:
        return 0.0, foot
    width = _measured(case, [match], cuts)[0][0]
    fall = max(0.0, foot - width) / level
    return width - fall * below, fall * match.tab.height


def _below(case: BoardCase, match: TabMatch, z: float) -> _Cuts | None:
    """The cuts beside a tab that reach down to `z`, and the stretch that they leave about its middle; None if
    there is none.
    """
    edges, tracks, edge = case.edges, case.tracks, match.stretch.edge
    radius = float(cut_through(case).radius[edge])
    rows = np.arange(edges.every[edge].first, edges.every[edge].last)
    row, share = rows_at(edges, np.array([edge]), np.array([match.middle]))
    x, y = edges.curves.take(row).at(share)
    near = match.tab.width / 2 + 3 * radius + _BESIDE
    box = tracks.curves.boxes()
    beside = (box[0] <= x + near) & (box[2] >= x - near) & (box[1] <= y + near) & (box[3] >= y - near)
    index = np.flatnonzero(beside)
    kept, curves = portion_below(tracks.curves.take(index), z)
    index = index[kept]
    outline = edges.curves.take(rows)
    reach = tracks.radius[index] + TOLERANCES.acceptance
    cut, target, _ = curves_within(curves, outline, reach)
    gaps = uncovered(outline, curves, reach, target=target, cut=cut)
    start, length = edges.along[rows][gaps.target], outline.length[gaps.target]
    ends = _about(match.middle, edge_length(edges, edge), start + gaps.first * length, start + gaps.last * length)
    return None if ends is None else _Cuts(index, curves, [ends])


def _about(middle: float, total: float, first: Floats, last: Floats) -> tuple[float, float] | None:
    """Return the stretch about `middle` that intervals of a closed contour make together; None where none
    contains it.
    """
    turns = [(a + turn, b + turn) for turn in (-total, 0.0, total) for a, b in zip(first, last, strict=True)]
    begin = end = None
    for a, b in sorted(turns):
        if begin is None or end is None or a > end + _JOIN:
            if end is not None and begin is not None and begin <= middle <= end:
                break
            begin, end = a, b
        else:
            end = max(end, b)
    return None if begin is None or end is None or not begin <= middle <= end else (begin, end)


def _cut_end(
    case: BoardCase, matches: Sequence[TabMatch], cuts: _Cuts, *, last: bool
) -> list[tuple[float, float, float]]:
    """Return the end of the cut beside each tab, seen from the outline: mm along it, and the normal there."""
    edges = case.edges
    edge = np.array([match.stretch.edge for match in matches], dtype=np.int64)
    end = np.array([ends[last] for ends in cuts.ends])
    row, share = rows_at(edges, edge, end)
    x, y = edges.curves.take(row).at(share)
    reach = cut_through(case).radius[edge] + 10 * TOLERANCES.acceptance
    place, cut = Finder(cuts.curves).around(x, y, reach)
    apart, at = point_distance(x[place], y[place], cuts.curves.take(cut))
    nearest = _least(len(matches), place, apart - case.tracks.radius[cuts.index[cut]])
    ex, ey = x.copy(), y.copy()
    found_some = np.flatnonzero(nearest >= 0)
    if len(found_some):
        best = nearest[found_some]
        ex[found_some], ey[found_some] = cuts.curves.take(cut[best]).at(at[best])
    # The point nearest to that end on the outline, or on an opening's.
    rows = edges.rows(*MATERIAL)
    place, found = Finder(edges.curves.take(rows)).around(ex, ey, reach)
    own = edges.edge[rows[found]] == edge[place]
    place, foot = place[own], rows[found[own]]
    apart, at = point_distance(ex[place], ey[place], edges.curves.take(foot))
    nearest = _least(len(matches), place, apart)
    result = []
    for index in range(len(matches)):
        near = nearest[index]
        on_row, on_share = (row[index], share[index]) if near < 0 else (foot[near], at[near])
        curve = edges.curves.take(slice(int(on_row), int(on_row) + 1))
        nx, ny = curve.right(np.array([on_share]))
        along = float(edges.along[on_row] + on_share * curve.length[0])
        result.append((along, float(nx[0]), float(ny[0])))
    return result


def _least(count: int, place: Ints, value: Floats) -> Ints:
    """Return for each of `count` places the index of its least value, -1 for none."""
    best = np.full(count, -1, dtype=np.int64)
    order = np.argsort(-value, kind="stable")
    best[place[order]] = order
    return best


def _heights(case: BoardCase, matches: Sequence[TabMatch]) -> list[Finding]:
    """Findings for tabs lower or higher than planned, in the middle of the slot and close to the part."""
    if not matches:
        return []
    edges, tracks, count = case.edges, case.tracks, len(_ACROSS)
    edge = np.repeat(np.array([match.stretch.edge for match in matches], dtype=np.int64), count)
    along = np.repeat(np.array([match.middle for match in matches]), count)
    aside = np.array([match.tab.width * part for match in matches for part in _ACROSS])
    row, share = rows_at(edges, edge, along)
    curves = edges.curves.take(row)
    x, y = curves.at(share)
    nx, ny = curves.right(share)
    radius = cut_through(case).radius[edge]
    # Measured in the middle of the slot, not along the outline: round a tight curve the slot is longer.
    finder = Finder(tracks.curves)
    mx, my = x + nx * radius - ny * aside, y + ny * radius + nx * aside
    middle = _depths(tracks, finder, mx, my, radius - TOLERANCES.acceptance)
    # A cutter that keeps off the part over a tab leaves a fin beside the part.
    row, share = rows_at(edges, edge, along + aside)
    curves = edges.curves.take(row)
    x, y = curves.at(share)
    nx, ny = curves.right(share)
    beside = _depths(tracks, finder, x + nx * limits.BESIDE_TAB, y + ny * limits.BESIDE_TAB, radius)
    heights = np.concatenate([one.reshape(len(matches), count) for one in (middle, beside)], axis=1)
    heights += edges.layout.height
    found = []
    for match, row_of in zip(matches, heights, strict=True):
        low, high = float(row_of.min()), float(row_of.max())
        if max(abs(low - match.tab.height), abs(high - match.tab.height)) > TOLERANCES.tab_height:
            name = edges.part_of(match.stretch.edge)
            message = f"a tab of {name} is {low:.2f} to {high:.2f} mm high; the plan has {match.tab.height:.2f} mm"
            found.append(
                case.error("tab", message, file=match.file, at=match.tab.at, measured=low, limit=match.tab.height)
            )
    return found


def _depths(tracks: Tracks, finder: Finder, x: Floats, y: Floats, reach: Floats) -> Floats:
    """Return how low the cutter came within `reach` of each point."""
    place, track = finder.around(x, y, reach)
    deepest = deepest_within(x[place], y[place], tracks.curves.take(track), reach[place])
    depth = np.zeros(len(x))
    np.minimum.at(depth, place, deepest)
    return depth
