"""Lettering of a board: strokes cut into it beside the marks of its parts, on them or in the waste. mm."""

from __future__ import annotations

from enum import IntEnum

import numpy as np

from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.proof.board.coverage import uncovered
from cutjob.proof.board.curves import Bools, Curves, Floats, Ints, from_segments, join
from cutjob.proof.board.near import Near, deep_pairs, near_curves
from cutjob.proof.board.required_edges import Goals
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.board.uncut import MOST_TOLD, Through
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES


class _Strokes:
    """The strokes of a board's lettering as columns: by row the entry it belongs to, its depth and its placement."""

    def __init__(self, layout: BoardLayout, machine: Machine) -> None:
        pieces = [join([from_segments(path) for path in entry.paths]) for entry in layout.lettering]
        self.curves: Curves = join(pieces)
        self.entry: Ints = np.repeat(np.arange(len(pieces), dtype=np.int64), [len(piece) for piece in pieces])
        laser = machine.kind == "laser"  # its depth is a matter of power, judged there
        depths = [machine.cutting.mark_depth if laser else entry.depth for entry in layout.lettering]
        self.depth: Floats = np.array(depths, dtype=float)[self.entry]
        placements = np.array([entry.placement for entry in layout.lettering], dtype=np.int64)
        self.placement: Ints = placements[self.entry]


def on_lettering(tracks: Tracks, layout: BoardLayout, machine: Machine, track: Ints, placement: Ints) -> Bools:
    """Return which of the chosen motions run along the lettering of the placement beside each, no deeper than it."""
    if not layout.lettering or not len(track):
        return np.zeros(len(track), dtype=bool)
    limit = TOLERANCES.acceptance
    strokes = _Strokes(layout, machine)
    curves = tracks.curves.take(track)
    one, row, _ = near_curves(curves, strokes.curves, np.full(len(curves), limit))
    fits = strokes.placement[row] == placement[one]
    fits &= np.minimum(curves.z0, curves.z1)[one] >= -strokes.depth[row] - limit
    gaps = uncovered(curves, strokes.curves, np.full(len(strokes.curves), limit), target=one[fits], cut=row[fits])
    allowed = np.ones(len(curves), dtype=bool)
    allowed[gaps.target] = False
    return allowed


class Letters(IntEnum):
    """What a motion is to a board's lettering."""

    NONE = 0
    WELL = 1
    TOO_DEEP = 2


def along_letters(tracks: Tracks, layout: BoardLayout, machine: Machine) -> Ints:
    """Return for each motion whether it runs along lettering, and no deeper than that (`Letters`)."""
    found = np.full(len(tracks), Letters.NONE, dtype=np.int64)
    if not layout.lettering or not len(tracks):
        return found
    limit = TOLERANCES.acceptance
    strokes = _Strokes(layout, machine)
    track, row, _ = near_curves(tracks.curves, strokes.curves, np.full(len(tracks), limit))
    gaps = uncovered(tracks.curves, strokes.curves, np.full(len(strokes.curves), limit), target=track, cut=row)
    along = np.ones(len(tracks), dtype=bool)
    along[gaps.target] = False
    # Letters may cross: as deep as the deepest that a motion runs along counts.
    depth = np.zeros(len(tracks))
    np.maximum.at(depth, track, strokes.depth[row])
    deepest = np.minimum(tracks.curves.z0, tracks.curves.z1)
    found[along] = np.where(deepest >= -depth - limit, Letters.WELL, Letters.TOO_DEEP)[along]
    return found


def judge_lettering(
    tracks: Tracks, goals: Goals, through: Through, programs: tuple[ExpectedProgram, ...], machine: Machine
) -> list[Finding]:
    """Return findings for lettering not cut all along at its depth, or cut on a part that is loose by then."""
    layout = goals.layout
    if not layout.lettering:
        return []
    strokes = _Strokes(layout, machine)
    limit = TOLERANCES.acceptance
    track, row, apart = near_curves(tracks.curves, strokes.curves, np.full(len(tracks), limit))
    pairs = Near(track, row, apart)
    kept, curves = deep_pairs(tracks, pairs, -strokes.depth[row] + limit)
    gaps = uncovered(
        strokes.curves,
        curves,
        np.full(len(curves), limit),
        target=row[kept],
        cut=np.arange(len(kept), dtype=np.int64),
    )
    files = ", ".join(dict.fromkeys(program.file for program in programs))
    found = []
    for entry in np.unique(strokes.entry[gaps.target]).tolist():
        gap = int(np.flatnonzero(strokes.entry[gaps.target] == entry)[0])
        x, y = strokes.curves.take(gaps.target[gap : gap + 1]).at((gaps.first + gaps.last)[gap : gap + 1] / 2)
        message = f"the lettering of {_name(goals, entry)} is not cut all along at its depth"
        found.append(_finding("missing", message, files, at=(float(x[0]), float(y[0]))))
    # A cut deeper than the lettering that crosses it belongs to a contour.
    own = np.minimum(tracks.curves.z0, tracks.curves.z1)[track] >= -strokes.depth[row] - limit
    last = np.full(len(layout.lettering), -1, dtype=np.int64)
    np.maximum.at(last, strokes.entry[row[own]], track[own])
    free = _free(goals, through, len(tracks))
    for entry, index in enumerate(last.tolist()):
        if index > free.get(layout.lettering[entry].placement, len(tracks)):
            message = f"the lettering of {_name(goals, entry)} is cut after the part's outline is through"
            file, line = programs[int(tracks.program[index])].file, int(tracks.line[index])
            at = (float(tracks.curves.x0[index]), float(tracks.curves.y0[index]))
            found.append(_finding("order", message, file, line, at))
    return found[:MOST_TOLD]


def _free(goals: Goals, through: Through, never: int) -> dict[int, int]:
    """Return by placement the track after which its outline is cut through all round."""
    first = np.full(len(goals.curves), never, dtype=np.int64)
    np.minimum.at(first, through.pairs.row, through.index[through.pairs.track])
    return {goal.placement: int(first[goal.first : goal.last].max()) for goal in goals.goals if goal.kind == "outline"}


def _name(goals: Goals, entry: int) -> str:
    return goals.part_name(goals.layout.lettering[entry].placement)


def _finding(
    check: str, message: str, file: str, line: int | None = None, at: tuple[float, float] | None = None
) -> Finding:
    return Finding(check=check, severity="error", message=message, file=file, line=line, at=at)
