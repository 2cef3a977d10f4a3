"""Wood left standing: every contour must be cut right through within reach of the cutter, but for the tabs; marks all
along at their depth. mm.

With a skin, right through means down to it. Pockets and blind holes are looked at in `floors`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutjob.counting import counted
from cutjob.geometry.segment import Point
from cutjob.proof.board.board_case import MOST_TOLD, BoardCase, once_a_board
from cutjob.proof.board.coverage import uncovered
from cutjob.proof.board.curves import Floats
from cutjob.proof.board.cut_through import beyond, cut_through
from cutjob.proof.board.stretches import Stretch, edge_length
from cutjob.proof.board.track_edge_pairs import deep_pairs
from cutjob.proof.finding import Finding
from cutjob.proof.sweep.tabs import matched_tabs
from cutjob.tolerances import TOLERANCES

_BESIDE = 1.0  # mm beyond the cutter's edge; farther off, a cut was not meant for a contour


def judge_uncut(case: BoardCase) -> list[Finding]:
    """Return findings for contours not cut, and for the stretches left that no tab explains."""
    edges, found = case.edges, []
    uncut = _uncut(case)
    not_cut, left, apart = uncut.whole, uncut.stretches, uncut.apart
    for edge in not_cut[:MOST_TOLD]:
        message = f"the {edges.name(edge)} is not cut through anywhere"
        found.append(case.error("missing", message, at=edges.begin(edge)))
    if len(not_cut) > MOST_TOLD:
        found.append(case.error("missing", f"not cut through: {counted(len(not_cut) - MOST_TOLD, 'more contour')}"))
    for one in np.argsort(-apart)[:MOST_TOLD].tolist():
        stretch, most = left[one], float(apart[one])
        message = f"{stretch.last - stretch.first:.2f} mm of the {edges.name(stretch.edge)} is not cut through; "
        message += f"wood stands up to {most:.3f} mm beyond the cutter's edge"
        found.append(case.error("wood left", message, at=uncut.places[one], measured=most, limit=TOLERANCES.acceptance))
    if len(left) > MOST_TOLD:
        found.append(
            case.error(
                "wood left", f"not cut through: {counted(len(left) - MOST_TOLD, 'more stretch', 'more stretches')}"
            )
        )
    return found


def worst_uncut(case: BoardCase) -> float:
    """Return how far wood stands beyond the cutter's edge at most on contours that were cut through at all."""
    return max(cut_through(case).worst, float(_uncut(case).apart.max(initial=0.0)))


@dataclass(frozen=True, slots=True)
class _Uncut:
    """Edges not cut anywhere; stretches left of the others that no tab explains, and how far wood stands beyond the
    cutter's edge on each at most, and where.
    """

    whole: list[int]
    stretches: list[Stretch]
    apart: Floats
    places: list[Point]


@once_a_board
def _uncut(case: BoardCase) -> _Uncut:
    through, edges = cut_through(case), case.edges
    radius = case.tracks.radius[through.index]
    tabs = {match.stretch for match in matched_tabs(case)[0]}
    left = [stretch for stretch in through.stretches if stretch not in tabs]
    not_cut = []
    whole = [Stretch(int(edge), 0.0, edge_length(edges, int(edge))) for edge in np.flatnonzero(through.missing)]
    for stretch, most in zip(whole, beyond(edges, whole, through.curves, radius)[0], strict=True):
        # A cut all along a contour, but too far off, is told as wood left.
        if most < _BESIDE:
            left.append(stretch)
        else:
            not_cut.append(stretch.edge)
    return _Uncut(not_cut, left, *beyond(edges, left, through.curves, radius))


def judge_unmarked(case: BoardCase) -> list[Finding]:
    """Return findings for marks not cut."""
    edges, marks, limit = case.edges, case.touching_marks, TOLERANCES.acceptance
    rows = edges.rows("mark")
    if not len(rows):
        return []
    kept, curves = deep_pairs(case.tracks, marks, -case.mark_depths[edges.edge[marks.row]] + limit)
    gaps = uncovered(
        edges.curves.take(rows),
        curves,
        np.full(len(kept), limit),
        target=np.searchsorted(rows, marks.row[kept]),
        cut=np.arange(len(kept), dtype=np.int64),
    )
    middle = (gaps.first + gaps.last) / 2
    x, y = edges.curves.take(rows[gaps.target]).at(middle)
    places: dict[int, tuple[float, float]] = {}
    for edge, px, py in zip(edges.edge[rows[gaps.target]].tolist(), x.tolist(), y.tolist(), strict=True):
        places.setdefault(edge, (px, py))
    return [
        case.error("missing", f"the {edges.name(edge)} is not cut all along at its depth", at=place)
        for edge, place in sorted(places.items())
    ][:MOST_TOLD]
