"""Finds out whether a file belongs to another job than the plan: do its cuts run along any of the plan's contours?"""

from __future__ import annotations

import numpy as np

from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.proof import limits
from cutjob.proof.board.curves import Curves, circles, from_segments, join
from cutjob.proof.board.cut_through import beyond_at
from cutjob.proof.board.distances import Finder, point_distance
from cutjob.proof.board.edges_of_layout import edges_of_layout
from cutjob.proof.board.required_edges import MATERIAL, WALLED, RequiredEdges
from cutjob.proof.board.stretches import Stretch, edge_length
from cutjob.proof.board.tracks import Tracks, all_tracks, cutting
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.gcode.reading import Reading
from cutjob.tolerances import TOLERANCES

_MOST_CUTS = 10_000  # files with more are not tested: their other faults show sooner
_BLOCK = 5_000  # cuts looked at together


def nothing_in_place(program: ExpectedProgram, reading: Reading, machine: Machine) -> bool:
    """Return True where the file cuts, the plan has contours to cut, and the two have nothing in common.

    This means: no contour is followed for half its length, and less than half of the cuts run along a contour, a mark
    or letters, or make holes for screws and pins. A file that ends too early, or is shifted a little, still has
    something in common; a file with very many cuts is not tested.
    """
    edges = edges_of_layout(program.board)
    tracks = cutting(all_tracks([program], [reading], machine))
    contours = [number for number, edge in enumerate(edges.every) if edge.kind in (*MATERIAL, *WALLED)]
    if not contours or not 0 < len(tracks) <= _MOST_CUTS:
        return False
    if _share_beside(tracks, _wanted(edges, program.board)) >= limits.BY_CHANCE:
        return False
    whole = [Stretch(number, 0.0, edge_length(edges, number)) for number in contours]
    beyond, _, _ = beyond_at(edges, whole, tracks.curves, tracks.radius)
    followed = np.count_nonzero(np.abs(beyond) < limits.CUT_FOLLOWS, axis=1) * 2 >= beyond.shape[1]
    return not bool(followed.any())


def _wanted(edges: RequiredEdges, board: BoardLayout) -> Curves:
    """Everything on a board that a cut should run along: contours and marks, letters, holes for screws and pins."""
    strokes = [segment for lettering in board.lettering for path in lettering.paths for segment in path]
    holes = [(down.at, radius) for down in board.hold_downs for radius in (down.diameter / 2, 0.0)]
    holes += [(at, 0.0) for window in board.windows for at in window.holes]
    columns = np.array([(*at, radius) for at, radius in holes], dtype=float).reshape(-1, 3)
    return join([edges.curves, from_segments(strokes), circles(*columns.T)])


def _share_beside(tracks: Tracks, wanted: Curves) -> float:
    """The share of all cuts, by length, whose middle is the cutter's radius beside a curve, or on one."""
    curves = tracks.curves
    # Drilling goes straight down: along the board it has no length.
    length = np.hypot(curves.length, curves.z1 - curves.z0)
    x, y = tracks.curves.at(np.full(len(tracks), 0.5))
    beside = np.zeros(len(tracks), dtype=bool)
    finder = Finder(wanted)
    for first in range(0, len(tracks), _BLOCK):
        own = slice(first, first + _BLOCK)
        place, row = finder.around(x[own], y[own], tracks.radius[own] + limits.CUT_ALONG)
        place += first
        apart = point_distance(x[place], y[place], wanted.take(row))[0]
        good = (np.abs(apart - tracks.radius[place]) < limits.CUT_ALONG) | (apart < limits.CUT_ALONG)
        beside[place[good]] = True
    return float(length[beside].sum() / max(float(length.sum()), TOLERANCES.same_point))
