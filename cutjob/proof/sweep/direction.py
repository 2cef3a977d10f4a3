"""Judges which way round cuts run, and how they come down beside parts: from tracks and contours to findings. mm.

With a spindle that turns clockwise a climb cut has the part on its right: round an outline clockwise, round an opening
counter-clockwise. A conventional cut, or a spindle turning the other way, reverses this. A cut between two parts may
belong to either. Leads and ramps are free, since they may go to and fro; so are cuts over a pocket or on a mark.

A cutter that comes straight down into new wood beside a finished edge, or down a steeper ramp than the feed table's,
leaves a mark there, and cuts badly with its end. It may do so behind a bridge that it passed in the air, in holes of
its own size, and in its own slot: there it meets no new wood, or has no other way.
"""

from __future__ import annotations

import math

import numpy as np

from cutjob.proof import limits
from cutjob.proof.board.board_case import BoardCase, once_a_board
from cutjob.proof.board.curves import Bools, Floats, Ints
from cutjob.proof.board.distances import point_distance
from cutjob.proof.board.required_edges import MATERIAL
from cutjob.proof.board.track_edge_pairs import cutting_reach
from cutjob.proof.board.tracks import feed_rows
from cutjob.proof.finding import Finding
from cutjob.proof.sweep.descents import new_wood_at_ends
from cutjob.tolerances import TOLERANCES

_NO_RAMP = 1e9  # a slope that is never reached, for a cutter without a ramp in the feed table


def judge_direction(case: BoardCase) -> list[Finding]:
    """Return a finding for each program and contour that is run against the profile's direction for longer than a lead.

    A beam has no direction.
    """
    if case.laser:
        return []
    tracks, edges, machine = case.tracks, case.edges, case.machine
    along = case.passing.of(edges, *MATERIAL)
    free = np.zeros(len(tracks), dtype=bool)
    free[case.on_marks.track] = True
    free[case.in_features.track] = True
    curves = tracks.curves
    free |= curves.length <= TOLERANCES.acceptance
    free |= np.abs(curves.z1 - curves.z0) > limits.NO_RAMP * _slopes(case) * curves.length + TOLERANCES.output
    along = along.take(~free[along.track])
    if not len(along.track):
        return []
    x, y = curves.take(along.track).at(np.full(len(along.track), 0.5))
    rows = edges.curves.take(along.row)
    apart, share = point_distance(x, y, rows)
    reach = cutting_reach(tracks)[along.track] + case.last_pass[along.row]
    # Where a pocket is open to the part's edge, the edge begins below the pocket.
    low = curves.lowest[along.track]
    begun = low < -edges.gone[along.row] - TOLERANCES.acceptance
    hit = np.flatnonzero((apart <= reach) & (share > 0) & (share < 1) & begun)
    track, row = along.track[hit], along.row[hit]
    tx, ty = curves.take(track).right(np.full(len(track), 0.5))
    nx, ny = edges.curves.take(row).right(share[hit])
    same = tx * nx + ty * ny
    # Contours run with the material on the left.
    climb = (machine.cutting.direction == "climb") == (machine.spindle.turns == "clockwise")
    right_way = same < 0 if climb else same > 0
    parallel = np.abs(same) >= limits.ALONG_CONTOUR
    right = np.zeros(len(tracks), dtype=bool)
    right[track[parallel & right_way]] = True
    wrong = np.flatnonzero(parallel & ~right_way & ~right[track])
    found: list[Finding] = []
    longest = limits.longest_lead(machine.cutting.lead)
    said: set[int] = set()
    for edge in np.unique(edges.edge[row[wrong]]).tolist():
        own = np.unique(track[wrong[edges.edge[row[wrong]] == edge]])
        length = float(curves.length[own].sum())
        program = int(tracks.program[own[0]])
        if length <= longest or program in said:
            continue
        said.add(program)
        message = f"runs {length:.2f} mm along the {edges.name(int(edge))} against the profile's "
        message += f"{machine.cutting.direction} cut"
        found.append(case.error("direction", message, int(own[0]), measured=length, limit=longest))
    return found


def judge_ways_in(case: BoardCase) -> list[Finding]:
    """Return a finding for each program that comes into new wood beside an edge, straight down or down a steep ramp.

    Marks may begin at an edge, and are judged by their depth. A beam doesn't come down.
    """
    if case.laser:
        return []
    tracks, edges, marks = case.tracks, case.edges, case.on_marks
    curves = tracks.curves
    fall = curves.z0 - curves.z1
    steep = fall > np.maximum(
        _slopes(case) * curves.length * limits.STEEPER_RAMP + 2 * TOLERANCES.output, limits.NEW_WOOD_AT_EDGE
    )
    touched = np.zeros(len(tracks), dtype=bool)
    # Bores have a pitch of their own; where a pocket is open to the part's edge, the edge begins below the pocket.
    pairs = case.touching.of(edges, "outline", "hole")
    touched[pairs.track[curves.z1[pairs.track] < -edges.gone[pairs.row] - TOLERANCES.acceptance]] = True
    touched[case.in_features.track] = False
    touched[marks.track] = False
    suspects = np.flatnonzero(steep & touched)
    suspects = suspects[~_behind_bridges(case, suspects)]
    if not len(suspects):
        return []
    new = new_wood_at_ends(case, suspects)
    worst: dict[int, int] = {}
    for index in np.argsort(-new).tolist():
        if new[index] > limits.NEW_WOOD_AT_EDGE:
            worst.setdefault(int(tracks.program[suspects[index]]), index)
    found = []
    for _, index in sorted(worst.items()):
        track, deep = int(suspects[index]), float(new[index])
        straight = curves.length[track] <= TOLERANCES.acceptance
        what = "straight down" if straight else "down steeper than the feed table's ramp"
        message = f"comes {what} into {deep:.2f} mm of new wood on the edge of a part"
        at = (float(curves.x1[track]), float(curves.y1[track]))
        found.append(case.error("way in", message, track, at=at, measured=deep, limit=limits.NEW_WOOD_AT_EDGE))
    return found


@once_a_board
def _slopes(case: BoardCase) -> Floats:
    """The fall per mm of the ramp of each track's cutter."""
    tracks = case.tracks
    slopes = np.full(len(tracks), _NO_RAMP)
    for (program, cutter), row in feed_rows(case.programs).items():
        if row is not None:
            own = (tracks.program == program) & (tracks.cutter == cutter)
            slopes[own] = np.tan(np.radians(row.ramp_degrees))
    return slopes


def _behind_bridges(case: BoardCase, index: Ints) -> Bools:
    """Which of the tracks end right beside a planned tab or its ramp, where the cutter comes down behind the tab."""
    curves, degrees = case.tracks.curves, case.ramp_degrees
    x, y, begin = curves.x1[index], curves.y1[index], curves.z0[index]
    behind = np.zeros(len(index), dtype=bool)
    for program in case.programs:
        widest = max(cutter.radius for cutter in program.cutters)
        for tab in program.tabs:
            rise = tab.height + program.overcut
            run = 0.0 if degrees is None else rise / math.tan(math.radians(degrees))
            # Measured along the path: it is a radius off the tab's middle, and round a curve longer than the outline.
            reach = tab.width / 2 + 2 * widest + run + limits.UP_BEFORE_TAB + limits.TAB_SPARE
            own = np.hypot(x - tab.at[0], y - tab.at[1]) <= reach
            if not tab.is_whole(program.board.height):
                # From the top of a low tab, and no higher.
                own &= begin <= tab.height - program.board.height + limits.TAB_SPARE
            behind |= own
    return behind
