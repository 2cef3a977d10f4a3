"""Wood left standing: every contour must be cut right through within reach of the cutter, except at tabs; marks must be
cut all along at their depth. mm.

With a skin, right through means down to it. `floors` judges pockets and blind holes. An inside corner, however sharp,
may keep the wood that a cutter touching both its walls can't reach. A slot, notch or passage that the cutter can't
enter may not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutjob.counting import counted
from cutjob.geometry.segment import Point
from cutjob.proof import limits
from cutjob.proof.board.board_case import MOST_FINDINGS, BoardCase, once_a_board
from cutjob.proof.board.coverage import uncovered
from cutjob.proof.board.curves import Floats
from cutjob.proof.board.cut_through import beyond, cut_through
from cutjob.proof.board.required_edges import RequiredEdges
from cutjob.proof.board.stretches import Stretch, edge_length, rows_at
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
    for edge in not_cut[:MOST_FINDINGS]:
        message = f"the {edges.name(edge)} is not cut through anywhere"
        found.append(case.error("missing", message, at=edges.begin(edge)))
    if len(not_cut) > MOST_FINDINGS:
        found.append(case.error("missing", f"not cut through: {counted(len(not_cut) - MOST_FINDINGS, 'more contour')}"))
    for one in np.argsort(-apart)[:MOST_FINDINGS].tolist():
        stretch, most = left[one], float(apart[one])
        message = f"{stretch.last - stretch.first:.2f} mm of the {edges.name(stretch.edge)} are not cut through; "
        message += f"wood stands up to {most:.3f} mm beyond the cutter's edge"
        found.append(case.error("wood left", message, at=uncut.places[one], measured=most, limit=TOLERANCES.acceptance))
    if len(left) > MOST_FINDINGS:
        found.append(
            case.error(
                "wood left", f"not cut through: {counted(len(left) - MOST_FINDINGS, 'more stretch', 'more stretches')}"
            )
        )
    return found


def worst_uncut(case: BoardCase) -> float:
    """Return how far wood stands beyond the cutter's edge at most, on contours that were cut through anywhere."""
    return max(cut_through(case).worst, float(_uncut(case).apart.max(initial=0.0)))


def judge_entered(case: BoardCase) -> list[Finding]:
    """Return findings for stretches out of the cutter's reach, deeper than it is wide, that aren't corners left round.

    Where a round cutter touches both walls of a corner, these are 2 r cos h apart, with 2 h the angle between them. A
    slot with parallel walls would have to be as wide as the cutter, and the walls of a passage never come together.
    """
    through, edges = cut_through(case), case.edges
    left = [stretch for stretch in through.unreached if not through.missing[stretch.edge]]
    depths, places = beyond(edges, left, through.curves, case.tracks.radius[through.index])
    found = []
    for stretch, depth, place in zip(left, depths.tolist(), places, strict=True):
        radius = float(through.radius[stretch.edge])
        if depth > limits.CORNER_DEEP * radius and not _is_corner(edges, stretch, radius):
            message = f"the cutter never gets into a slot or notch of the {edges.name(stretch.edge)}; "
            message += f"wood stands up to {depth:.3f} mm beyond the cutter's edge"
            limit = limits.CORNER_DEEP * radius
            found.append(case.error("missing", message, at=place, measured=depth, limit=limit))
    return found[:MOST_FINDINGS]


def _is_corner(edges: RequiredEdges, stretch: Stretch, radius: float) -> bool:
    """Whether a cutter touches the contour both where a stretch begins and where it ends."""
    row, share = rows_at(edges, np.array([stretch.edge] * 2), np.array([stretch.first, stretch.last]))
    curves = edges.curves.take(row)
    (x0, x1), (y0, y1) = curves.at(share)
    (nx0, nx1), (ny0, ny1) = curves.right(share)
    # The angle between one wall's normal and the other's, turned round, is twice the angle at the corner's tip.
    half = 0.5 * float(np.arccos(np.clip(-(nx0 * nx1 + ny0 * ny1), -1.0, 1.0)))
    if half > limits.CORNER_WIDEST:
        return False
    # Cuts also count for wood within the acceptance of their edge: the stretch begins that much further in.
    further = float(np.sqrt(2 * radius * TOLERANCES.acceptance))
    least = 2 * radius * (np.cos(half) - limits.CORNER_ENTRY) - 2 * further * np.sin(half)
    return bool(np.hypot(x1 - x0, y1 - y0) >= least)


@dataclass(frozen=True, slots=True)
class _Uncut:
    """Edges not cut anywhere; stretches left of the others that no tab explains; and how far wood stands beyond the
    cutter's edge at most on each of these, and where.
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
        # A cut all along a contour, but too far off, is reported as wood left.
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
    ][:MOST_FINDINGS]
