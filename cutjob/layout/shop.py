"""What stays the same while a job is laid out: its boards, parts and lots as the search sees them, and the rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.batches import Lot
from cutjob.layout.board_space import board_space, half_turned
from cutjob.layout.bodies import Box, Pose, Problem, Space, make_problem
from cutjob.layout.bounds import padded_area, room_area
from cutjob.layout.convex_pieces import Corners
from cutjob.layout.demand import Demand
from cutjob.layout.part_poses import poses_of
from cutjob.layout.rules import Clearance
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES

_MOST_POSES = 1400  # of all parts together
_LEAST_POSES, _GREATEST_POSES = 4, 16  # of one part
_MANY_KINDS = 60
_NOWHERE = Space(box=(0.0, 0.0, 1e-3, 1e-3))  # stands for a board of which the margin leaves nothing

Fits = Mapping[tuple[int, int], Transform]
"""Where a demand may lie alone on a kind of board, for each pair that fits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """`whole` has an item for each demand and two spaces for each kind of board: 2 k as it is, 2 k + 1 half turned.

    `holds` says which demand each space takes, `room` the area of each space and `whole.areas` that of each demand,
    both with half the gap round parts. `rough` is the same with hulls for parts, where parts are of many kinds: what
    is laid so is laid well, and far sooner. `price` is what one more board of a kind costs: nothing for those sawn from
    already, and where no board has a price, its area.
    """

    boards: tuple[Board, ...]
    wanted: tuple[Demand, ...]
    lots: tuple[Lot, ...]
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
        """How much work a position is beside one of rectangles, about: parts of many pieces have many no-fit pairs."""
        pieces = [len(self.whole.poses[poses[0]].pieces) for poses in self.whole.item_poses]
        return 1.0 + sum(count * count for count in pieces) / (20 * len(pieces))

    def room_of(self, spaces: Iterable[int]) -> float:
        """The area of some spaces together."""
        return sum(self.room[space] for space in spaces)


def open_shop(
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
) -> Shop:
    """Return the shop of a job of which every demand fits some kind of board.

    A part with grain that fits boards with and without grain lies along the grain on all of them; with `across` it
    takes boards without grain only, at any angle.
    """
    # Distances of next to nothing, which floats hardly hold, are none.
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
    price = _prices(boards)
    many = len({id(own) for own in poses}) > _MANY_KINDS
    return Shop(
        boards=tuple(boards),
        wanted=tuple(wanted),
        lots=tuple(lots),
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
    """Say whether some part with grain fits boards with grain and boards without."""
    for i, entry in enumerate(wanted):
        grains = {board.grain for kind, board in enumerate(boards) if (i, kind) in fits}
        if entry.part.grain == "length" and len(grains) > 1:
            return True
    return False


def _hulls(poses: Sequence[tuple[Pose, ...]]) -> list[tuple[Pose, ...]]:
    """The poses with their convex hulls for shapes, each made once."""
    made: dict[int, Pose] = {}
    for pose in (pose for own in poses for pose in own):
        if id(pose) not in made:
            hull = shapely.convex_hull(shapely.MultiPoint(np.concatenate(pose.pieces)))
            corners = shapely.get_coordinates(shapely.normalize(hull))[-1:0:-1].copy()
            made[id(pose)] = replace(pose, pieces=(corners,))
    return [tuple(made[id(pose)] for pose in own) for own in poses]


def _prices(boards: Sequence[Board]) -> tuple[float, ...]:
    if any(board.price > 0 for board in boards):
        return tuple(0.0 if board.sawn_off else board.price for board in boards)
    return tuple(0.0 if board.sawn_off else to_polygon(board.outline).area for board in boards)


def _ranked(price: Sequence[float], room: Sequence[float]) -> tuple[int, ...]:
    """Kinds of board: what costs nothing first, the small ones before the large, then the cheapest for its area."""

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

    A part along the grain lies so on every board, unless only boards without grain take it: any angle is right there.
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
            made[entry.part] = poses_of(entry.part, free=free, most=most, least_hole=least_hole, also=also[:8])
            # Any that is left: the turn it was found to fit in is one of them.
            made[entry.part] = tuple(
                _railed(pose, [spaces[2 * kind].box for kind in own], clearance)
                for pose in made[entry.part]
                if pose.box[2] - pose.box[0] <= clearance.longest + TOLERANCES.chord
            )
        result.append(made[entry.part])
    return result, holds


def _railed(pose: Pose, boxes: Sequence[Box], clearance: Clearance) -> Pose:
    """The pose with extents that keep it a rail's width off the ends and edges of the boxes it is laid in, of either
    pair those for which it is not too large in any; one too wide for that is made longer instead, so that what lies
    beside it keeps farther off.
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
    """A convex piece swept along x by so much to both sides."""
    aside = np.array([by, 0.0])
    moved = np.concatenate([piece - aside, piece + aside])
    hull = shapely.convex_hull(shapely.MultiPoint(moved))
    return shapely.get_coordinates(shapely.normalize(hull))[-1:0:-1].copy()


def _least_hole(boards: Sequence[Board], parts: Sequence[ShapedPart], clearance: Clearance) -> float:
    """How wide a hole must be at least to take a part or a keep-out, with the gap on both sides."""
    outlines = [part.region.outline for part in parts] + [knot for board in boards for knot in board.keep_outs]
    sizes = []
    for outline in outlines:
        x0, y0, x1, y1 = outline.bounds
        # The least width at any angle is no less than this share of the box's lesser side, even for a slanted bar.
        sizes.append(outline.signed_area and abs(outline.signed_area) / max(x1 - x0, y1 - y0, 1e-9) * 0.7)
    return min(sizes, default=0.0) + 2 * clearance.gap
