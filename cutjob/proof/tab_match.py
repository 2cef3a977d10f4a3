"""Which stretch left of a contour is which planned tab, and those planned that nothing is left for. mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutjob.proof.curves import Floats, Ints
from cutjob.proof.expect import ExpectedTab
from cutjob.proof.finding import Finding
from cutjob.proof.goals import MATERIAL, Goals
from cutjob.proof.left import Through
from cutjob.proof.nearness import Finder, point_distance
from cutjob.proof.stretches import Stretch, goal_length
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class TabMatch:
    """A planned tab, the stretch left for it, and where its middle lies along the contour."""

    tab: ExpectedTab
    file: str
    stretch: Stretch
    middle: float


def matched_tabs(
    goals: Goals, through: Through, planned: Sequence[tuple[ExpectedTab, str]], found: list[Finding]
) -> tuple[list[TabMatch], set[Stretch]]:
    """Return each planned tab (with its file) and the stretch left for it, and all those stretches; adds to `found`
    what is said of the others.
    """
    by_goal: dict[int, list[Stretch]] = {}
    for stretch in through.stretches:
        by_goal.setdefault(stretch.goal, []).append(stretch)
    on, middles, off = _along_contour(goals, planned)
    matches: list[TabMatch] = []
    used: set[Stretch] = set()
    for (tab, file), goal, middle, apart in zip(planned, on.tolist(), middles, off, strict=True):
        if goal < 0 or apart > TOLERANCES.tab_place:
            found.append(tab_finding(f"the planned tab lies {apart:.3f} mm off any outline of its part", file, tab.at))
            continue
        if through.missing[goal]:
            continue  # a contour that isn't cut has no tabs, and is reported already
        total = goal_length(goals, goal)
        here = [one for one in by_goal.get(goal, []) if _within(one, middle, total)]
        if not here:
            found.append(tab_finding(f"the planned tab of {goals.part_of(goal)} is cut away", file, tab.at))
        elif here[0] in used:
            found.append(tab_finding(f"two tabs of {goals.part_of(goal)} have become one", file, tab.at))
        else:
            used.add(here[0])
            matches.append(TabMatch(tab, file, here[0], middle))
    return matches, used


def _within(stretch: Stretch, middle: float, total: float) -> bool:
    return stretch.first <= middle <= stretch.last or stretch.first <= middle + total <= stretch.last


def _along_contour(goals: Goals, planned: Sequence[tuple[ExpectedTab, str]]) -> tuple[Ints, Floats, Floats]:
    """Return the contour of its part each planned tab lies on (-1: none), how far along it its middle lies, and how far
    off it. Waste in an opening hangs on tabs on the opening's edge.
    """
    on = np.full(len(planned), -1, dtype=np.int64)
    along, off = np.zeros(len(planned)), np.full(len(planned), np.inf)
    if not planned:
        return on, along, off
    px, py = (np.array([tab.at[axis] for tab, _ in planned], dtype=float) for axis in (0, 1))
    rows = goals.rows(*MATERIAL)
    place, found = Finder(goals.curves.take(rows)).around(px, py, np.full(len(planned), TOLERANCES.tab_place))
    owner = np.array([tab.placement for tab, _ in planned], dtype=np.int64)
    own = goals.placement[rows[found]] == owner[place]
    place, row = place[own], rows[found[own]]
    curves = goals.curves.take(row)
    apart, share = point_distance(px[place], py[place], curves)
    for index in np.argsort(-apart):  # the nearest is written last
        on[place[index]] = goals.goal[row[index]]
        off[place[index]] = apart[index]
        along[place[index]] = goals.along[row[index]] + share[index] * curves.length[index]
    return on, along, off


def tab_finding(
    message: str, file: str, at: tuple[float, float], *, measured: float | None = None, limit: float | None = None
) -> Finding:
    """Return what is wrong with a tab."""
    return Finding(check="tab", severity="error", message=message, file=file, at=at, measured=measured, limit=limit)
