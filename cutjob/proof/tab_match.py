"""Which stretch left of an outline is which planned tab, and those planned that nothing is left for. mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutjob.proof.curves import Floats
from cutjob.proof.expect import ExpectedTab
from cutjob.proof.finding import Finding
from cutjob.proof.goals import Goals
from cutjob.proof.left import Through
from cutjob.proof.nearness import Finder, point_distance
from cutjob.proof.stretches import Stretch, goal_length
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class TabMatch:
    """A planned tab, the stretch left for it, and where its middle lies along the outline."""

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
    outline = {goal.placement: number for number, goal in enumerate(goals.goals) if goal.kind == "outline"}
    by_goal: dict[int, list[Stretch]] = {}
    for stretch in through.stretches:
        by_goal.setdefault(stretch.goal, []).append(stretch)
    middles, off = _along_outline(goals, planned)
    matches: list[TabMatch] = []
    used: set[Stretch] = set()
    for (tab, file), middle, apart in zip(planned, middles, off, strict=True):
        if tab.placement not in outline or apart > TOLERANCES.tab_place:
            found.append(tab_finding(f"the planned tab lies {apart:.3f} mm off any outline of its part", file, tab.at))
            continue
        goal = outline[tab.placement]
        if through.missing[goal]:
            continue  # an outline that isn't cut has no tabs, and is told already
        total = goal_length(goals, goal)
        here = [one for one in by_goal.get(goal, []) if _within(one, middle, total)]
        if not here:
            found.append(tab_finding(f"the planned tab of {goals.part_name(tab.placement)} is cut away", file, tab.at))
        elif here[0] in used:
            found.append(tab_finding(f"two tabs of {goals.part_name(tab.placement)} have become one", file, tab.at))
        else:
            used.add(here[0])
            matches.append(TabMatch(tab, file, here[0], middle))
    return matches, used


def _within(stretch: Stretch, middle: float, total: float) -> bool:
    return stretch.first <= middle <= stretch.last or stretch.first <= middle + total <= stretch.last


def _along_outline(goals: Goals, planned: Sequence[tuple[ExpectedTab, str]]) -> tuple[Floats, Floats]:
    """Return how far along its part's outline each planned tab's middle lies, and how far off it."""
    along, off = np.zeros(len(planned)), np.full(len(planned), np.inf)
    if not planned:
        return along, off
    px, py = (np.array([tab.at[axis] for tab, _ in planned], dtype=float) for axis in (0, 1))
    rows = goals.rows("outline")
    place, found = Finder(goals.curves.take(rows)).around(px, py, np.full(len(planned), TOLERANCES.tab_place))
    owner = np.array([tab.placement for tab, _ in planned], dtype=np.int64)
    own = goals.placement[rows[found]] == owner[place]
    place, row = place[own], rows[found[own]]
    curves = goals.curves.take(row)
    apart, share = point_distance(px[place], py[place], curves)
    for index in np.argsort(-apart):  # the nearest is written last
        off[place[index]] = apart[index]
        along[place[index]] = goals.along[row[index]] + share[index] * curves.length[index]
    return along, off


def tab_finding(
    message: str, file: str, at: tuple[float, float], *, measured: float | None = None, limit: float | None = None
) -> Finding:
    """Return what is wrong with a tab."""
    return Finding(check="tab", severity="error", message=message, file=file, at=at, measured=measured, limit=limit)
