"""The constant data of a job's search: its boards, parts and lots in the search's form, and the rules.

Parts are polygons that cover them, in each turn that is allowed. Boards are boxes with obstacles where no part may lie.
Lengths mm, angles degrees. All is on the safe side: curves are a little within the usable wood; straight edges are
exact.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, affinity

from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.clear_space import clear_area, padded_area, room_area
from cutjob.layout.rules import Clearance
from cutjob.layout.search.batches import Demand, Lot
from cutjob.layout.search.bodies import Box, Corners, Pose, Problem, Space, convex_pieces, make_problem
from cutjob.layout.search.outline import ROUGHNESS, Extent, ring_points, simplified
from cutjob.parts.part import ShapedPart
from cutjob.remembered import remembered
from cutjob.tolerances import TOLERANCES

_DEVIATION = 0.1  # mm, of the tangents and chords that replace arcs, or else this share of a part's smaller extent
_SHARE = 0.002
_STEP = 15.0  # degrees between the turns tried where there is no grain
_LONGEST_EDGES = 3
_MOST_HOLES = 6
_ORDERS = (12, 10, 9, 8, 7, 6, 5, 4, 3, 2)  # turns in a full circle after which a part may look the same
_ALIKE = 0.1  # mm: greatest average difference along the border of two turns that look the same
_SAME_ANGLE = 1e-6


def covering_polygon(part: ShapedPart, *, least_hole: float) -> Polygon:
    """Return a polygon that covers the part's wood. Holes narrower than `least_hole`, in which nothing fits, are
    filled, and so are all but the widest few, as every hole makes many more pieces.

    Straight edges are exact; elsewhere it is outside by at most 0.2 mm or a few thousandths of its size.
    """
    deviation = max(_DEVIATION, _SHARE * _width(part.region.outline))
    outline = simplified(ring_points(part.region.outline, deviation, grow=True), ROUGHNESS)
    wide = sorted((hole for hole in part.region.holes if _width(hole) >= least_hole), key=_width, reverse=True)
    holes = [ring_points(hole, deviation, grow=False) for hole in wide[:_MOST_HOLES]]
    polygon = Polygon(outline, holes)
    # Tangents of an outline near a hole may cross it; then the hole is filled.
    return polygon if polygon.is_valid else Polygon(outline)


def _width(contour: Contour) -> float:
    x0, y0, x1, y1 = contour.bounds
    return min(x1 - x0, y1 - y0)


@remembered(most=256)
def poses_of(
    part: ShapedPart, *, free: bool, most: int, least_hole: float, also: tuple[tuple[float, bool], ...] = ()
) -> tuple[Pose, ...]:
    """Return up to about `most` poses of a part, the likely ones first: quarter turns, turns with a long edge of its
    hull or its least width along the board, and steps of 15 degrees; only 0 and 180 if it is not `free`.

    Poses that look the same are returned once. `also` are further turns (degrees, mirrored first), which are always
    kept.
    """
    polygon = covering_polygon(part, least_hole=least_hole)
    pieces, extent = convex_pieces(polygon), Extent(part.region.outline)
    order = _symmetry(polygon, part)
    period = 360.0 / order if order else 0.0
    mirrors = (False, True) if part.may_mirror and not _is_mirrored_alike(polygon, free=free) else (False,)
    turns: list[tuple[float, bool]] = []
    wished = _distinct(_angles(polygon) if free else (0.0, 180.0), period)
    per_side = max(1, most // len(mirrors))
    for degrees in wished[:per_side]:
        turns += [(degrees, mirrored) for mirrored in mirrors]
    turns += [turn for turn in also if turn not in turns]
    return tuple(_pose(pieces, extent, degrees, mirrored) for degrees, mirrored in turns)


def _angles(polygon: Polygon) -> list[float]:
    hull = shapely.get_coordinates(shapely.convex_hull(polygon))
    along = np.diff(hull, axis=0)
    sizes = np.hypot(along[:, 0], along[:, 1])
    longest = along[np.argsort(-sizes, kind="stable")[:_LONGEST_EDGES]]
    lying = [-math.degrees(math.atan2(y, x)) for x, y in longest] + [_least_width(hull, along)]
    angles = [0.0, 90.0, 180.0, 270.0]
    for turn in lying:
        angles += [turn, turn + 180.0, turn + 90.0, turn + 270.0]
    # First the steps halfway between quarter turns, then finer and finer ones.
    steps = sorted(range(int(360 / _STEP)), key=lambda k: (k % 3 != 0, k % 2 != 0, k))
    return angles + [k * _STEP for k in steps]


def _least_width(hull: Corners, along: Corners) -> float:
    """The turn at which the hull is least wide across the board."""
    angles = np.arctan2(along[:, 1], along[:, 0])
    across = hull[:, 1:] * np.cos(angles) - hull[:, :1] * np.sin(angles)
    return -math.degrees(float(angles[int(np.argmin(across.max(axis=0) - across.min(axis=0)))]))


def _distinct(angles: Sequence[float], period: float) -> list[float]:
    """The angles that look different, given the period after which a part looks the same; one where that is 0."""
    kept: list[float] = []
    for angle in angles:
        turn = angle % 360.0
        rest = [abs(turn - other) % (period or 1.0) for other in kept]
        alike = bool(kept) if not period else any(min(r, period - r) < _SAME_ANGLE for r in rest)
        if not alike:
            kept.append(0.0 if 360.0 - turn < _SAME_ANGLE else turn)
    return kept


def _symmetry(polygon: Polygon, part: ShapedPart) -> int:
    """The number of turns in a full circle that look the same; 0: all of them."""
    if part.region.outline.circle() is not None and not polygon.interiors:
        return 0
    middle = polygon.centroid
    for order in _ORDERS:
        if _is_alike(polygon, affinity.rotate(polygon, 360.0 / order, origin=middle)):
            return order
    return 1


def _is_mirrored_alike(polygon: Polygon, *, free: bool) -> bool:
    middle = polygon.centroid
    mirrored = affinity.scale(polygon, -1.0, 1.0, origin=middle)
    turns = np.arange(0.0, 360.0, _STEP) if free else (0.0, 180.0)
    return any(_is_alike(polygon, affinity.rotate(mirrored, float(turn), origin=middle)) for turn in turns)


def _is_alike(one: Polygon, other: Polygon) -> bool:
    return bool(shapely.area(shapely.symmetric_difference(one, other)) <= _ALIKE * one.length)


def _pose(pieces: Sequence[Corners], extent: Extent, degrees: float, mirrored: bool) -> Pose:
    turn = Transform(degrees=degrees, mirrored=mirrored)
    (a, c), (b, d) = turn.point((1.0, 0.0)), turn.point((0.0, 1.0))
    matrix = np.array([[a, c], [b, d]])
    moved = tuple((piece @ matrix)[:: -1 if mirrored else 1].copy() for piece in pieces)
    return Pose(pieces=moved, box=_box(extent, (a, b), (c, d)), degrees=degrees, mirrored=mirrored)


def _box(extent: Extent, x: tuple[float, float], y: tuple[float, float]) -> Box:
    """The exact extents along the board's axes, which are given in the part's frame."""
    return (
        extent.least(x),
        extent.least(y),
        -extent.least((-x[0], -x[1])),
        -extent.least((-y[0], -y[1])),
    )


_KNOT_DEVIATION = 0.02  # of the tangents that replace curves of keep-outs
_SLIVER = TOLERANCES.same_point  # thinner areas come from rounding


def board_space(board: Board, *, clearance: Clearance) -> Space | None:
    """Return the box within the board's edge margin, with its areas outside the outline and the keep-outs as obstacles.

    None where the margin leaves nothing.
    """
    margin = clearance.edge_margin if clearance.edge_margin > _SLIVER else 0.0
    x0, y0, x1, y1 = board.outline.bounds
    box = (x0 + margin, y0 + margin, x1 - margin, y1 - margin)
    if box[2] - box[0] <= _SLIVER or box[3] - box[1] <= _SLIVER:
        return None
    clear = clear_area(replace(board, keep_outs=()), gap=clearance.gap, edge_margin=margin)
    if shapely.area(clear) <= 0:
        return None
    lacking = polygons_of(shapely.difference(shapely.box(*box), clear))
    obstacles = [(piece, 0.0) for piece in lacking if not piece.buffer(-_SLIVER).is_empty]
    obstacles += [(_covering(one.area), clearance.gap) for one in board.keep_outs]
    return Space(box=box, obstacles=tuple(obstacles))


def _covering(knot: Contour) -> Polygon:
    return Polygon(simplified(ring_points(knot, _KNOT_DEVIATION, grow=True), ROUGHNESS / 2))


def half_turned(board: Board) -> Board:
    """Return the board turned by 180 degrees in its frame, so that parts packed to the left are at its right end."""
    turn = _half_turn(board)
    return replace(
        board, outline=turn.contour(board.outline), keep_outs=tuple(one.moved(turn) for one in board.keep_outs)
    )


def turned_back(transform: Transform, board: Board) -> Transform:
    """Return the place on the board itself of a part placed on the half-turned board."""
    x, y = _half_turn(board).point((transform.x, transform.y))
    return Transform(x=x, y=y, degrees=(transform.degrees + 180.0) % 360.0, mirrored=transform.mirrored)


def _half_turn(board: Board) -> Transform:
    x0, y0, x1, y1 = board.outline.bounds
    return Transform(x=x0 + x1, y=y0 + y1, degrees=180.0)


_MOST_POSES = 1400  # of all parts together
_LEAST_POSES, _GREATEST_POSES = 4, 16  # of one part
_MANY_KINDS = 60
_NOWHERE = Space(box=(0.0, 0.0, 1e-3, 1e-3))  # for a board of which the margin leaves nothing

Fits = Mapping[tuple[int, int], Transform]
"""A place for a demand alone on a kind of board, for each pair that fits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PackingProblem:
    """`whole` has an item for each demand and two spaces for each kind of board: 2 k as it is, 2 k + 1 half turned.

    `holds` says which demands fit each space; `room` is the area of each space and `whole.areas` that of each demand,
    both with half the gap round parts. Where parts are of many kinds, `rough` is the same with hulls for parts: layouts
    with it are good, and much faster. `price` is the cost of one more board of a kind: 0 for boards already sawn, and
    where no board has a price, its area. `shapes` has a number for each demand, the same for parts that differ in
    nothing but their names. `prefer` are words for what counts, the most important first (see `board_groups.score`).
    """

    boards: tuple[Board, ...]
    wanted: tuple[Demand, ...]
    lots: tuple[Lot, ...]
    shapes: tuple[int, ...]
    clearance: Clearance
    stack: int
    whole: Problem
    rough: Problem | None
    holds: NDArray[np.bool_]
    room: tuple[float, ...]
    price: tuple[float, ...]
    rank: tuple[int, ...]
    fits: Fits
    saw_kerf: float
    least_leftover: tuple[float, float]
    prefer: tuple[str, ...]

    @property
    def heaviness(self) -> float:
        """About the work of a position, as a multiple of that for rectangles: parts of many pieces have many no-fit
        pairs.
        """
        pieces = [len(self.whole.poses[poses[0]].pieces) for poses in self.whole.item_poses]
        return 1.0 + sum(count * count for count in pieces) / (20 * len(pieces))

    def room_of(self, spaces: Iterable[int]) -> float:
        """The area of some spaces together."""
        return sum(self.room[space] for space in spaces)


def packing_problem(
    boards: Sequence[Board],
    wanted: Sequence[Demand],
    lots: Sequence[Lot],
    fits: Fits,
    *,
    clearance: Clearance,
    stack: int,
    saw_kerf: float,
    least_leftover: tuple[float, float],
    prefer: tuple[str, ...],
    across: bool = False,
) -> PackingProblem:
    """Return the packing of a job in which every demand fits some kind of board.

    A part with grain that fits boards with and without grain is laid along the grain on all of them; with `across` it
    is only laid on boards without grain, at any angle.
    """
    # Distances near 0, which floats can hardly hold, are set to 0.
    least = TOLERANCES.same_point
    clearance = Clearance(
        gap=clearance.gap if clearance.gap > least else 0.0,
        edge_margin=clearance.edge_margin if clearance.edge_margin > least else 0.0,
        longest=clearance.longest,
        rail=clearance.rail,
        beside=clearance.beside,
    )
    spaces: list[Space] = []
    for board in boards:
        for turned in (board, half_turned(board)):
            spaces.append(board_space(turned, clearance=clearance) or _NOWHERE)
    holds = np.zeros((len(wanted), 2 * len(boards)), np.bool_)
    for demand, kind in fits:
        holds[demand, 2 * kind : 2 * kind + 2] = True
    poses, holds = _poses(boards, wanted, fits, holds, clearance, spaces, across=across)
    areas = [padded_area(entry.part, gap=clearance.gap) for entry in wanted]
    room = [room_area(board, clearance=clearance) for board in boards for _ in range(2)]
    price = prices_of(boards)
    many = len({id(own) for own in poses}) > _MANY_KINDS
    return PackingProblem(
        boards=tuple(boards),
        wanted=tuple(wanted),
        lots=tuple(lots),
        shapes=_shapes(wanted),
        clearance=clearance,
        stack=stack,
        whole=make_problem(poses, areas, spaces, gap=clearance.gap),
        rough=make_problem(_hulls(poses), areas, spaces, gap=clearance.gap) if many else None,
        holds=holds,
        room=tuple(room),
        price=price,
        rank=_ranked(price, room),
        fits=fits,
        saw_kerf=saw_kerf,
        least_leftover=least_leftover,
        prefer=prefer,
    )


def is_mixed(boards: Sequence[Board], wanted: Sequence[Demand], fits: Fits) -> bool:
    """Whether some part with grain fits boards with grain and boards without."""
    for i, entry in enumerate(wanted):
        grains = {board.grain for kind, board in enumerate(boards) if (i, kind) in fits}
        if entry.part.grain == "length" and len(grains) > 1:
            return True
    return False


def _shapes(wanted: Sequence[Demand]) -> tuple[int, ...]:
    known: dict[ShapedPart, int] = {}
    return tuple(known.setdefault(replace(entry.part, name=""), len(known)) for entry in wanted)


def _hulls(poses: Sequence[tuple[Pose, ...]]) -> list[tuple[Pose, ...]]:
    """The poses with their convex hulls for shapes, each made once."""
    made: dict[int, Pose] = {}
    for pose in (pose for own in poses for pose in own):
        if id(pose) not in made:
            hull = shapely.convex_hull(shapely.MultiPoint(np.concatenate(pose.pieces)))
            corners = shapely.get_coordinates(shapely.normalize(hull))[-1:0:-1].copy()
            made[id(pose)] = replace(pose, pieces=(corners,))
    return [tuple(made[id(pose)] for pose in own) for own in poses]


def prices_of(boards: Sequence[Board]) -> tuple[float, ...]:
    """Return what each kind of board costs, or its area where none has a price; no price for one sawn."""
    if any(board.price > 0 for board in boards):
        return tuple(0.0 if board.sawn_off else board.price for board in boards)
    return tuple(0.0 if board.sawn_off else to_polygon(board.outline).area for board in boards)


def _ranked(price: Sequence[float], room: Sequence[float]) -> tuple[int, ...]:
    """The order of kinds of board: first those that cost nothing, small ones first, then the
    cheapest for their area.
    """

    def key(kind: int) -> tuple[bool, float, int]:
        area = max(room[2 * kind], 1e-9)
        return price[kind] > 0, price[kind] / area if price[kind] > 0 else area, kind

    return tuple(sorted(range(len(price)), key=key))


def _poses(
    boards: Sequence[Board],
    wanted: Sequence[Demand],
    fits: Fits,
    holds: NDArray[np.bool_],
    clearance: Clearance,
    spaces: Sequence[Space],
    *,
    across: bool,
) -> tuple[list[tuple[Pose, ...]], NDArray[np.bool_]]:
    """The poses of each demand; equal parts share them.

    A part with grain is laid along it on every board, unless it only fits boards without grain, where any angle is
    right.
    """
    kinds = dict.fromkeys(entry.part for entry in wanted)
    most = max(_LEAST_POSES, min(_GREATEST_POSES, _MOST_POSES // max(1, len(kinds))))
    least_hole = _least_hole(boards, list(kinds), clearance)
    grainless = np.array([board.grain != "length" for board in boards for _ in range(2)])
    made: dict[ShapedPart, tuple[Pose, ...]] = {}
    result = []
    for i, entry in enumerate(wanted):
        own = {kind: fits[i, kind] for kind in range(len(boards)) if (i, kind) in fits}
        free = entry.part.grain != "length"
        if not free:
            along = [k for k, t in own.items() if t.degrees % 180 == 0 or boards[k].grain == "length"]
            grainless_kinds = [kind for kind in own if boards[kind].grain != "length"]
            free = not along or len(grainless_kinds) == len(own) or (across and bool(grainless_kinds))
            if not free:
                holds[i] &= np.array([kind in along for kind in range(len(boards)) for _ in range(2)])
            else:
                holds[i] &= grainless
        if entry.part not in made:
            also = list(dict.fromkeys((t.degrees, t.mirrored) for t in own.values() if free or t.degrees % 180 == 0))
            made[entry.part] = poses_of(entry.part, free=free, most=most, least_hole=least_hole, also=tuple(also[:8]))
            # Any pose is right; the turn in which the part was found to fit is one of them.
            made[entry.part] = tuple(
                _railed(pose, tuple(spaces[2 * kind].box for kind in own), clearance)
                for pose in made[entry.part]
                if pose.box[2] - pose.box[0] <= clearance.longest + TOLERANCES.chord
            )
        result.append(made[entry.part])
    return result, holds


@remembered(most=2048, by_value=(Clearance,))
def _railed(pose: Pose, boxes: tuple[Box, ...], clearance: Clearance) -> Pose:
    """The pose with larger extents, which keep it a rail's width from the ends and the edges of its boxes, where it is
    not too large for that in any. One that is too wide is made longer instead, so that its neighbours keep farther off.
    """
    x0, y0, x1, y1 = pose.box
    rail = clearance.rail
    long = all(x1 - x0 + 2 * rail <= right - left for left, _, right, _ in boxes)
    wide = all(y1 - y0 + 2 * rail <= top - bottom for _, bottom, _, top in boxes)
    if rail <= 0:
        return pose
    if not wide and clearance.beside > 0:
        pose = replace(pose, pieces=tuple(_lengthened(piece, clearance.beside) for piece in pose.pieces))
    along, across = rail if long else 0.0, rail if wide else 0.0
    return replace(pose, box=(x0 - along, y0 - across, x1 + along, y1 + across))


def _lengthened(piece: Corners, by: float) -> Corners:
    """A convex piece swept along x by a distance to both sides."""
    aside = np.array([by, 0.0])
    moved = np.concatenate([piece - aside, piece + aside])
    hull = shapely.convex_hull(shapely.MultiPoint(moved))
    return shapely.get_coordinates(shapely.normalize(hull))[-1:0:-1].copy()


def _least_hole(boards: Sequence[Board], parts: Sequence[ShapedPart], clearance: Clearance) -> float:
    """The least width of a hole for a part or a keep-out, with the gap on both sides."""
    outlines = [part.region.outline for part in parts] + [one.area for board in boards for one in board.keep_outs]
    sizes = []
    for outline in outlines:
        x0, y0, x1, y1 = outline.bounds
        # The least width at any angle is at least this share of the box's smaller side, even for a slanted bar.
        sizes.append(outline.signed_area and abs(outline.signed_area) / max(x1 - x0, y1 - y0, 1e-9) * 0.7)
    return min(sizes, default=0.0) + 2 * clearance.gap
