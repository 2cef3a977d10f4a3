"""A beam that pierces on a finished edge because it has no lead-in: the cut is good, but a burn shows. mm.

Behind a planned tab the beam has to pierce on the edge, on every round.
"""

from __future__ import annotations

import numpy as np

from cutjob.proof.board.board_case import BoardCase, worst_of_each
from cutjob.proof.board.curves import Bools, Ints
from cutjob.proof.board.distances import Finder, point_distance
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES


def judge_piercing(case: BoardCase) -> list[Finding]:
    """Return one warning for each laser program that starts cuts on the edges they leave."""
    if not case.laser:
        return []
    tracks, edges = case.tracks, case.edges
    curves = tracks.curves
    through = curves.z0 <= -edges.layout.height + TOLERANCES.output
    fresh = np.ones(len(tracks), dtype=bool)
    moved = np.hypot(curves.x0[1:] - curves.x1[:-1], curves.y0[1:] - curves.y1[:-1]) > TOLERANCES.same_point
    fresh[1:] = moved | (tracks.program[1:] != tracks.program[:-1]) | ~through[:-1]
    starts = np.flatnonzero(fresh & through)
    rows = edges.rows("outline", "hole", "through")
    if not len(starts) or not len(rows):
        return []
    x, y = curves.x0[starts], curves.y0[starts]
    reach = tracks.radius[starts] + TOLERANCES.lead_clearance
    place, row = Finder(edges.curves.take(rows)).around(x, y, reach)
    on_edge = point_distance(x[place], y[place], edges.curves.take(rows[row]))[0] <= reach[place]
    place, row = place[on_edge], rows[row[on_edge]]
    apart_from_tabs = ~_behind_tabs(case, starts[place], row)
    place, row = place[apart_from_tabs], row[apart_from_tabs]
    found = []
    program = tracks.program[starts[place]]
    for first in worst_of_each(program, -place).tolist():
        more = len(np.unique(place[program == program[first]])) - 1
        also = f", and {more} more cuts start like this" if more else ""
        message = f"the beam pierces on the edge of the {edges.name(int(edges.edge[row[first]]))} and leaves a "
        message += f"small burn there{also}; a lead-in needs more room"
        found.append(case.error("pierce", message, int(starts[place[first]]), severity="warning"))
    return found


def _behind_tabs(case: BoardCase, start: Ints, row: Ints) -> Bools:
    """Which cuts, each on the edge `row` of a part, start at the end of a planned tab of that part."""
    tracks, edges = case.tracks, case.edges
    x, y, radius = tracks.curves.x0[start], tracks.curves.y0[start], tracks.radius[start]
    behind = np.zeros(len(start), dtype=bool)
    for number, program in enumerate(case.programs):
        for tab in program.tabs:
            own = (tracks.program[start] == number) & (edges.placement[row] == tab.placement)
            # The tab's middle is on the edge, and the beam its own radius beside that.
            end = np.hypot(tab.width / 2 + radius, radius)
            apart = np.hypot(x - tab.at[0], y - tab.at[1])
            behind |= own & (np.abs(apart - end) <= TOLERANCES.tab_place / 2)
    return behind
