"""Lettering of a board: strokes cut on its parts or in the waste, in addition to the parts' marks. mm."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from cutjob.proof.board.board_case import MOST_FINDINGS, BoardCase, once_a_board
from cutjob.proof.board.coverage import uncovered
from cutjob.proof.board.curves import Bools, Curves, Floats, Ints, from_segments, join
from cutjob.proof.board.cut_through import cut_through
from cutjob.proof.board.track_edge_pairs import TrackEdgePairs, curves_within, deep_pairs
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class _Strokes:
    """The strokes of a board's lettering as columns: by row, its entry, its depth and its placement."""

    curves: Curves
    entry: Ints
    depth: Floats
    placement: Ints


@once_a_board
def _strokes(case: BoardCase) -> _Strokes:
    entries = case.layout.lettering
    pieces = [join([from_segments(path) for path in entry.paths]) for entry in entries]
    entry: Ints = np.repeat(np.arange(len(pieces), dtype=np.int64), [len(piece) for piece in pieces])
    depths = [case.machine.cutting.mark_depth if case.laser else one.depth for one in entries]
    placements = np.array([one.placement for one in entries], dtype=np.int64)
    return _Strokes(join(pieces), entry, np.array(depths, dtype=float)[entry], placements[entry])


def on_lettering(case: BoardCase, track: Ints, placement: Ints) -> Bools:
    """Return which of the chosen tracks run along the lettering of their placement, no deeper than it."""
    if not case.layout.lettering or not len(track):
        return np.zeros(len(track), dtype=bool)
    limit = TOLERANCES.acceptance
    strokes = _strokes(case)
    curves = case.tracks.curves.take(track)
    one, row, _ = curves_within(curves, strokes.curves, np.full(len(curves), limit))
    fits = strokes.placement[row] == placement[one]
    fits &= curves.lowest[one] >= -strokes.depth[row] - limit
    gaps = uncovered(curves, strokes.curves, np.full(len(strokes.curves), limit), target=one[fits], cut=row[fits])
    allowed = np.ones(len(curves), dtype=bool)
    allowed[gaps.target] = False
    return allowed


class Letters(IntEnum):
    """The relation of a motion to a board's lettering."""

    NONE = 0
    WELL = 1
    TOO_DEEP = 2


def along_letters(case: BoardCase, track: Ints) -> Ints:
    """Return for each of the chosen tracks whether it runs along lettering, and no deeper than that, as `Letters`."""
    found = np.full(len(track), Letters.NONE, dtype=np.int64)
    if not case.layout.lettering or not len(track):
        return found
    limit = TOLERANCES.acceptance
    strokes, curves = _strokes(case), case.tracks.curves.take(track)
    one, row, _ = curves_within(curves, strokes.curves, np.full(len(curves), limit))
    gaps = uncovered(curves, strokes.curves, np.full(len(strokes.curves), limit), target=one, cut=row)
    along = np.ones(len(curves), dtype=bool)
    along[gaps.target] = False
    # Letters may cross: the deepest that a motion runs along counts.
    depth = np.zeros(len(curves))
    np.maximum.at(depth, one, strokes.depth[row])
    found[along] = np.where(curves.lowest >= -depth - limit, Letters.WELL, Letters.TOO_DEEP)[along]
    return found


def judge_lettering(case: BoardCase) -> list[Finding]:
    """Return findings for lettering not cut all along at its depth, or cut on a part that is already loose."""
    tracks, layout = case.tracks, case.layout
    if not layout.lettering:
        return []
    strokes = _strokes(case)
    limit = TOLERANCES.acceptance
    track, row, apart = curves_within(tracks.curves, strokes.curves, np.full(len(tracks), limit))
    pairs = TrackEdgePairs(track, row, apart)
    kept, curves = deep_pairs(tracks, pairs, -strokes.depth[row] + limit)
    gaps = uncovered(
        strokes.curves,
        curves,
        np.full(len(curves), limit),
        target=row[kept],
        cut=np.arange(len(kept), dtype=np.int64),
    )
    found = []
    for entry in np.unique(strokes.entry[gaps.target]).tolist():
        gap = int(np.flatnonzero(strokes.entry[gaps.target] == entry)[0])
        x, y = strokes.curves.take(gaps.target[gap : gap + 1]).at((gaps.first + gaps.last)[gap : gap + 1] / 2)
        message = f"the lettering of {_name(case, entry)} is not cut all along at its depth"
        found.append(case.error("missing", message, at=(float(x[0]), float(y[0]))))
    # A deeper cut that crosses the lettering belongs to a contour.
    own = tracks.curves.lowest[track] >= -strokes.depth[row] - limit
    last = np.full(len(layout.lettering), -1, dtype=np.int64)
    np.maximum.at(last, strokes.entry[row[own]], track[own])
    free = _free(case)
    for entry, index in enumerate(last.tolist()):
        if index > free.get(layout.lettering[entry].placement, len(tracks)):
            message = f"the lettering of {_name(case, entry)} is cut after the part's outline is through"
            found.append(case.error("order", message, index))
    return found[:MOST_FINDINGS]


def _free(case: BoardCase) -> dict[int, int]:
    """Return, by placement, the track after which its outline is cut through all round."""
    edges, through = case.edges, cut_through(case)
    first = np.full(len(edges.curves), len(case.tracks), dtype=np.int64)
    np.minimum.at(first, through.pairs.row, through.index[through.pairs.track])
    return {edge.placement: int(first[edge.first : edge.last].max()) for edge in edges.every if edge.kind == "outline"}


def _name(case: BoardCase, entry: int) -> str:
    return case.edges.part_name(case.layout.lettering[entry].placement)
