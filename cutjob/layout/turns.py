"""The turns in which a single part is worth trying on a board: quarter turns first, then those of its own shape."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.feasible import is_plain
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES

_CHORD = TOLERANCES.gap / 4
_LONGEST_EDGES = 6
_STEP = 5.0  # degrees
_APART = 1.0  # degrees
_SAME_TURN = 1e-7  # degrees: over 10 m less than a ten thousandth of a mm

Floats: TypeAlias = NDArray[np.float64]


def turns_to_try(part: ShapedPart, board: Board, *, edge_margin: float = 0.0) -> Iterator[tuple[float, bool]]:
    """Yield turns (degrees counter-clockwise, mirrored first) for `fits_alone`, the likely ones first.

    Along the grain, where both have one: 0 and 180. Else quarter turns, and after them every turn at which the part's
    box is just as long as the board's or just as wide, less `edge_margin` (mm) at both ends; those that lay one of its
    longest hull edges or its least width along the board or its diagonals; and steps of 5 degrees; all of them only
    if the box fits. On a rectangular board without keep-outs a part that fits in any turn does in one of these; on
    others, where each turn costs more, they are a degree or more apart.
    """
    mirrors = (False, True) if part.may_mirror else (False,)
    with_grain = part.grain == "length" and board.grain == "length"
    for mirrored in mirrors:
        for degrees in (0.0, 180.0) if with_grain else (0.0, 90.0, 180.0, 270.0):
            yield degrees, mirrored
    if with_grain:
        return
    space = (board.length - 2 * edge_margin, board.width - 2 * edge_margin)
    for mirrored in mirrors:
        turns = _odd_turns(_hull(part, mirrored), space)
        for degrees in turns if is_plain(board) else _apart(turns):
            yield float(degrees), mirrored


def _hull(part: ShapedPart, mirrored: bool) -> Floats:
    contour = Transform(mirrored=mirrored).contour(part.region.outline)
    hull = shapely.convex_hull(to_polygon(contour, deviation=_CHORD))
    return shapely.get_coordinates(hull)[:-1]


def _odd_turns(hull: Floats, space: tuple[float, float]) -> Floats:
    """Turns other than quarters in which the hull's box fits the space, in the order they are worth trying."""
    length, width = space
    along = np.roll(hull, -1, axis=0) - hull
    breaks = np.unique((90.0 - np.degrees(np.arctan2(along[:, 1], along[:, 0]))) % 180.0)
    just = _just_as_long(hull, breaks, length)
    just = np.concatenate([just, _just_as_long(hull, breaks, width) + 90.0])
    sizes = np.hypot(along[:, 0], along[:, 1])
    longest = along[np.argsort(-sizes, kind="stable")[:_LONGEST_EDGES]]
    least = breaks[np.argmin(_extents(hull, breaks))]
    lying = np.concatenate([-np.degrees(np.arctan2(longest[:, 1], longest[:, 0])), [least, least + 90.0]])
    diagonal = math.degrees(math.atan2(width, length))
    towards = (lying[:, None] + np.array([diagonal, -diagonal, 0.0, 90.0])).ravel()
    turns = np.concatenate([just, towards, np.arange(_STEP, 180.0, _STEP)]) % 180.0
    fitting = (_extents(hull, turns) <= length + TOLERANCES.gap) & (
        _extents(hull, turns - 90.0) <= width + TOLERANCES.gap
    )
    odd = np.abs(turns - 90.0 * np.rint(turns / 90.0)) > _SAME_TURN
    kept = turns[fitting & odd]
    _, first = np.unique(np.rint(kept / _SAME_TURN), return_index=True)
    ordered = kept[np.sort(first)]
    return np.concatenate([ordered, ordered + 180.0])


def _apart(turns: Floats) -> list[float]:
    """The turns without those less than a degree from an earlier one."""
    kept: list[float] = []
    for turn in turns:
        if all(abs((turn - other + 180.0) % 360.0 - 180.0) >= _APART for other in kept):
            kept.append(float(turn))
    return kept


def _extents(hull: Floats, turns: Floats) -> Floats:
    """The hull's extent along the board's x when turned by so many degrees."""
    angles = np.radians(turns)
    reach = hull[:, :1] * np.cos(angles) - hull[:, 1:] * np.sin(angles)
    extents: Floats = reach.max(axis=0) - reach.min(axis=0)
    return extents


def _just_as_long(hull: Floats, breaks: Floats, target: float) -> Floats:
    """Turns at which the extent along x is the target: between two breaks the same two corners are outermost, v apart,
    and the extent is |v| cos(turn + angle of v).
    """
    ends = np.append(breaks[1:], breaks[0] + 180.0)
    middles = np.radians((breaks + ends) / 2)
    reach = hull[:, :1] * np.cos(middles) - hull[:, 1:] * np.sin(middles)
    apart = hull[reach.argmax(axis=0)] - hull[reach.argmin(axis=0)]
    size, angle = np.hypot(apart[:, 0], apart[:, 1]), np.degrees(np.arctan2(apart[:, 1], apart[:, 0]))
    open_ = np.degrees(np.arccos(np.clip(target / size, -1.0, 1.0)))
    found = []
    for turns in (open_ - angle, -open_ - angle):
        from_break = (turns - breaks) % 360.0
        inside = (size >= target) & ((from_break <= ends - breaks + _SAME_TURN) | (from_break >= 360.0 - _SAME_TURN))
        found.append(turns[inside])
    return np.concatenate(found)
