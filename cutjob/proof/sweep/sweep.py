"""One board: the cutter swept along the programs that were read, and what it leaves compared with the parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.proof.board.ends import Ends, ends_in_parts, over_features
from cutjob.proof.board.keep_out import judge_keep_outs
from cutjob.proof.board.lettering import judge_lettering
from cutjob.proof.board.near import near_rows, touching
from cutjob.proof.board.nose import judge_nose
from cutjob.proof.board.required_edges import MATERIAL, WALLED, Goals, goals_of
from cutjob.proof.board.rooms import Rooms
from cutjob.proof.board.skin import judge_skin, skin_of
from cutjob.proof.board.tracks import Tracks, all_tracks, cutting
from cutjob.proof.board.uncut import cut_through, find_left, find_unmarked
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.gcode.reading import Reading
from cutjob.proof.sweep.direction import judge_direction, judge_ways_in
from cutjob.proof.sweep.floors import judge_floors, judge_walls, makers_of
from cutjob.proof.sweep.gouge import count_gouges, find_gouges, judge_overcut
from cutjob.proof.sweep.held import judge_held
from cutjob.proof.sweep.hold_downs import judge_hold_downs
from cutjob.proof.sweep.order import judge_order
from cutjob.proof.sweep.passes import judge_passes, last_pass
from cutjob.proof.sweep.piercing import judge_piercing
from cutjob.proof.sweep.purpose import judge_purpose
from cutjob.proof.sweep.tabs import judge_tabs
from cutjob.proof.sweep.windows import judge_strays, judge_windows

_MANY = 5_000  # motions that run into parts: no slip, but another job's file, or none
_SAMPLE, _WILD = 1_000, 0.2  # motions looked at first, and the share of them that must run into parts


@dataclass(frozen=True, slots=True)
class Swept:
    """What was found on one board, with the worst gouge and the most wood left, mm."""

    findings: tuple[Finding, ...]
    worst_gouge: float
    worst_left: float


def sweep_board(
    layout: BoardLayout,
    programs: Sequence[ExpectedProgram],
    readings: Sequence[Reading],
    machine: Machine,
    *,
    one_of_several: bool = False,
    holding_required: bool = False,
) -> Swept:
    """Return the judgement over all programs of a board layout, in the order they are run.

    Gouges are judged with each program's own cutter, completeness and order over all of them together. With
    `one_of_several` the board has other files too: how it is held is judged as far as these alone say. Where
    `holding_required`, a router's board must say how it is held.
    """
    programs = tuple(programs)
    laser = machine.kind == "laser"
    goals = goals_of(layout)
    everything = all_tracks(programs, readings, machine)
    tracks = cutting(everything)
    ends = ends_in_parts(tracks, goals)
    wild = _run_wild(tracks, goals, ends, programs, machine)
    if wild is not None:
        return wild
    aside = float(last_pass(goals, machine).max(initial=0.0))
    beside = near_rows(tracks, goals, *MATERIAL, *WALLED, within=touching(tracks) + aside)
    near = beside.take(beside.distance <= touching(tracks)[beside.track])
    inside = over_features(tracks, goals)

    findings, worst_gouge = find_gouges(tracks, goals, near, ends, programs, machine)
    through = cut_through(tracks, goals, near.of(goals, *MATERIAL), skin_of(programs))
    ramp = machine.tabs.ramp_degrees if machine.tabs is not None else None
    tab_findings, left = judge_tabs(tracks, goals, through, programs, laser=laser, ramp_degrees=ramp)
    left_findings, worst_left = find_left(tracks, goals, through, left, programs)
    makers, rooms = makers_of(tracks, goals, inside), Rooms(goals)
    wall_findings, worst_wall = judge_walls(tracks, goals, near.of(goals, *WALLED), inside, makers, rooms, programs)
    unmarked, marks = find_unmarked(tracks, goals, programs, machine.cutting.mark_depth, laser=laser)
    findings += tab_findings + left_findings + wall_findings + unmarked
    findings += judge_floors(tracks, goals, inside, makers, rooms, programs)
    findings += judge_skin(tracks, goals, programs, machine)
    findings += judge_order(tracks, goals, through, (near, marks), inside, programs, finish=machine.cutting.finish)
    findings += judge_passes(tracks, goals, beside, inside, through.stretches, programs, machine)
    if laser:
        findings += judge_piercing(tracks, goals, programs)
    else:
        findings += judge_overcut(tracks, goals, through, programs, ramp_degrees=ramp)
        findings += judge_direction(tracks, goals, beside, marks, inside, programs, machine)
        findings += judge_ways_in(tracks, goals, near, marks, inside, programs, machine)
    findings += judge_purpose(tracks, goals, near, marks, inside, programs, machine)
    findings += judge_strays(tracks, layout, programs, machine)
    findings += judge_keep_outs(everything, layout, programs, machine)
    findings += judge_nose(everything, programs, machine)
    findings += judge_lettering(tracks, goals, through, programs, machine)
    findings += judge_hold_downs(everything, goals, programs, readings, machine)
    findings += judge_windows(everything, tracks, goals, programs, machine)
    findings += judge_held(
        everything,
        tracks,
        goals,
        through,
        programs,
        machine,
        one_of_several=one_of_several,
        required=holding_required,
    )
    return Swept(tuple(findings), worst_gouge, max(worst_left, worst_wall))


def _run_wild(
    tracks: Tracks, goals: Goals, ends: Ends, programs: tuple[ExpectedProgram, ...], machine: Machine
) -> Swept | None:
    """What is found of a board thousands of whose motions run through parts; None where that is not so.

    Each of them would be paired with every contour that it crosses. So a sample is judged, and nothing else: the board
    is refused for it.
    """
    wrong = np.unique(ends.track[~ends.allowed])
    if len(wrong) <= _MANY:
        # Moves may run right through parts and end beside them.
        wrong = np.arange(len(tracks), dtype=np.int64)
    if len(wrong) <= _MANY:
        return None
    sample = tracks.take(wrong[np.linspace(0, len(wrong) - 1, _SAMPLE).astype(np.int64)])
    near = near_rows(sample, goals, *MATERIAL, *WALLED, within=touching(sample))
    own = ends_in_parts(sample, goals)
    share = count_gouges(sample, goals, near, own, machine) / _SAMPLE
    if share < _WILD or share * len(wrong) < _MANY:
        return None
    found, worst = find_gouges(sample, goals, near, own, programs, machine)
    files = ", ".join(programs[index].file for index in np.unique(tracks.program[wrong]).tolist())
    message = f"some {share * len(wrong):.0f} motions run into parts; nothing else of the board was judged"
    return Swept((*found, Finding(check="gouge", severity="error", message=message, file=files)), worst, 0.0)
