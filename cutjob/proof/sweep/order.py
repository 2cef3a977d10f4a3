"""The order of cuts: a part is not cut once its outline is through, and a part in a hole is cut before the hole is. mm.

A rough pass that goes through frees its part too: only the last pass of the same outline may follow it. On a board cut
in windows a part of a later window is still held, so cuts of earlier windows along its edge free nothing.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from cutjob.proof import limits
from cutjob.proof.board.board_case import MOST_FINDINGS, BoardCase
from cutjob.proof.board.curves import Bools, Ints
from cutjob.proof.board.cut_through import cut_through
from cutjob.proof.board.distances import point_geometries
from cutjob.proof.board.required_edges import RequiredEdges, polygons
from cutjob.proof.board.track_edge_pairs import cutting_reach, pairs_within
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES

_NEVER = np.iinfo(np.int64).max


def judge_order(case: BoardCase) -> list[Finding]:
    """Return findings about the order over all programs of a board.

    Time is the index of a track. A contour is through when the last of its segments is first cut through.
    """
    tracks, edges, inside = case.tracks, case.edges, case.in_features
    done = _done(case)
    last = np.full(len(edges.every), -1, dtype=np.int64)
    for pairs in (case.touching, case.on_marks):
        # A track that passes a wall of a pocket or blind hole, deeper than that, belongs to another contour.
        deepest = tracks.curves.lowest[pairs.track]
        own = (edges.floor[pairs.row] == np.inf) | (deepest >= -edges.floor[pairs.row] - TOLERANCES.acceptance)
        own &= edges.is_wall[pairs.row] | (edges.floor[pairs.row] == np.inf)
        np.maximum.at(last, edges.edge[pairs.row[own]], pairs.track[own])
    first = np.array([feature.edges[0] for feature in edges.features], dtype=np.int64)
    np.maximum.at(last, first[inside.feature[inside.within]], inside.track[inside.within])
    outline = {edge.placement: number for number, edge in enumerate(edges.every) if edge.kind == "outline"}
    found = []
    for number, edge in enumerate(edges.every):
        free = done[outline[edge.placement]]
        if edge.kind != "outline" and free != _NEVER and last[number] > free:
            message = f"the {edges.name(number)} is cut when the part's outline is through and the part is loose"
            found.append(case.error("order", message, int(last[number])))
    for hole, inner in _nested(edges):
        own = done[outline[inner]]
        if own != _NEVER and done[hole] != _NEVER and own > done[hole]:
            message = f"{edges.part_name(inner)} is cut after the {edges.name(hole)} that it is in has been cut through"
            found.append(case.error("order", message, int(own)))
    return found[:MOST_FINDINGS]


def _done(case: BoardCase) -> Ints:
    """By edge, the track that cut it through; _NEVER where none did."""
    edges, through, finish = case.edges, cut_through(case), case.machine.cutting.finish
    row, track = through.pairs.row, through.index[through.pairs.track]
    if finish > 0:
        deep = case.tracks.take(through.index)
        within = cutting_reach(deep) + finish
        rough = pairs_within(replace(deep, curves=through.curves), edges, "outline", "hole", within=within)
        row, track = np.concatenate([row, rough.row]), np.concatenate([track, through.index[rough.track]])
    held = _held(case, row, track)
    row, track = row[~held], track[~held]
    first = np.full(len(edges.curves), _NEVER, dtype=np.int64)
    np.minimum.at(first, row, track)
    done = np.full(len(edges.every), -1, dtype=np.int64)
    touched = np.flatnonzero(first != _NEVER)
    np.maximum.at(done, edges.edge[touched], first[touched])
    done[done < 0] = _NEVER
    return done


def _held(case: BoardCase, row: Ints, track: Ints) -> Bools:
    """Which cuts along outlines belong to windows before the part's own."""
    edges = case.edges
    own = np.full(len(edges.layout.placements), -1, dtype=np.int64)
    for number, window in enumerate(edges.layout.windows):
        own[list(window.placements)] = number
    of = np.array([np.inf if program.window is None else program.window for program in case.programs], dtype=float)
    outline = np.array([edge.kind == "outline" for edge in edges.every], dtype=bool)[edges.edge[row]]
    return np.asarray(outline & (of[case.tracks.program[track]] < own[edges.placement[row]]))


def _nested(edges: RequiredEdges) -> list[tuple[int, int]]:
    """Return (edge of a hole, placement lying in it)."""
    holes = [number for number, edge in enumerate(edges.every) if edge.kind in ("hole", "through")]
    if not holes:
        return []
    outlines = [edge for edge in edges.every if edge.kind == "outline"]
    begins = np.array([edge.first for edge in outlines], dtype=np.int64)
    points = point_geometries(edges.curves.x0[begins], edges.curves.y0[begins])
    areas = polygons(edges.curves, [[edges.every[number]] for number in holes], limits.PART_CHORD)
    hole, inner = shapely.STRtree(points).query(areas, predicate="contains")
    return [
        (holes[one], outlines[two].placement)
        for one, two in zip(hole.tolist(), inner.tolist(), strict=True)
        if edges.every[holes[one]].placement != outlines[two].placement
    ]
