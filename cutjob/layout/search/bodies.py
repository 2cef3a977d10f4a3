"""The shapes of the layout search: convex pieces of every pose, as arrays, and the boxes for them.

Polygons with holes are divided into a few convex pieces that together cover them exactly.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.polygon import orient

from cutjob.geometry.polygons import polygons_of
from cutjob.geometry.segment import Point
from cutjob.layout.search.kernel import Bodies
from cutjob.remembered import remembered
from cutjob.workers import SentOnce

Corners: TypeAlias = NDArray[np.float64]
_STRAIGHT = 1e-9  # sine of the bend below which a corner is straight
_GRID = 1e-9  # corners are rounded to about this share of the extent, so that no two nearly coincide


def convex_pieces(polygon: Polygon) -> tuple[Corners, ...]:
    """Return convex polygons (corners (n, 2), counter-clockwise) whose union is the polygon.

    Triangles of a constrained Delaunay triangulation, merged across shared edges while the union stays convex
    (Hertel and Mehlhorn 1983), the longest shared edge first.
    """
    x0, y0, x1, y1 = polygon.bounds
    grid = 10.0 ** math.floor(math.log10(max(x1 - x0, y1 - y0) * _GRID))
    wholes = polygons_of(shapely.set_precision(polygon, grid))
    return tuple(piece for whole in wholes for piece in _pieces(whole))


def _pieces(polygon: Polygon) -> tuple[Corners, ...]:
    ring = _corners(polygon)
    if not polygon.interiors and _is_convex(ring):
        return (_without_straight(ring),)
    triangles = polygons_of(shapely.constrained_delaunay_triangles(polygon))
    pieces = {i: [(float(x), float(y)) for x, y in _corners(t)] for i, t in enumerate(triangles)}
    sides: dict[tuple[Point, Point], list[int]] = {}
    for i, corners in pieces.items():
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            sides.setdefault((min(a, b), max(a, b)), []).append(i)
    shared = [(side, pair) for side, pair in sides.items() if len(pair) == 2]
    shared.sort(key=lambda entry: (-_squared(*entry[0]), entry[0]))
    merged_into = {i: i for i in pieces}
    for side, pair in shared:
        i, j = (_root(merged_into, k) for k in pair)
        merged = _merged(pieces[i], pieces[j], side) if i != j else None
        if merged is not None:
            pieces[i] = merged
            del pieces[j]
            merged_into[j] = i
    return tuple(_without_straight(np.array(corners)) for corners in pieces.values())


def _corners(polygon: Polygon) -> Corners:
    return np.asarray(orient(polygon).exterior.coords, np.float64)[:-1, :2]


def _squared(a: Point, b: Point) -> float:
    return (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2


def _root(merged_into: dict[int, int], i: int) -> int:
    while merged_into[i] != i:
        i = merged_into[i]
    return i


def _merged(one: list[Point], other: list[Point], side: tuple[Point, Point]) -> list[Point] | None:
    """The two pieces joined across their shared side; None if the result is not convex or they don't share a whole
    side.
    """
    a, b = side
    n, m = len(one), len(other)
    if one[(one.index(a) + 1) % n] != b:
        a, b = b, a
    i, j = one.index(a), other.index(b)
    if one[(i + 1) % n] != b or other[(j + 1) % m] != a:
        return None
    ring = [one[(i + 1 + k) % n] for k in range(n)] + [other[(j + 2 + k) % m] for k in range(m - 2)]
    return ring if _is_convex(np.array(ring)) else None


def _bends(ring: Corners) -> tuple[Corners, Corners]:
    """The sine and cosine of the bend at each corner, to the left."""
    after = np.roll(ring, -1, axis=0) - ring
    after /= np.hypot(after[:, 0], after[:, 1])[:, None]
    before = np.roll(after, 1, axis=0)
    sine = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return sine, (before * after).sum(axis=1)


def _is_convex(ring: Corners) -> bool:
    sine, cosine = _bends(ring)
    return bool(((sine > _STRAIGHT) | ((sine >= -_STRAIGHT) & (cosine > 0.0))).all())


def _without_straight(ring: Corners) -> Corners:
    return ring[_bends(ring)[0] > _STRAIGHT]


_ROUND_SIDES = 24  # of the polygon round a gap's circle: at most 0.9 % of the gap is lost at corners
_DIGITS = 8  # after the point, so that the last digits of another machine's sines make no difference

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """A body in one of its turns: convex pieces that cover it, and its exact extents x0, y0, x1, y1."""

    pieces: tuple[Corners, ...]
    box: Box
    degrees: float = 0.0
    mirrored: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Space:
    """A box for bodies: no body leaves it, and none comes nearer to an obstacle than the obstacle's distance."""

    box: Box
    obstacles: tuple[tuple[Polygon, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Shapes(SentOnce):
    """Every pose of a search, as it is and as arrays: most of its data, and the same in all its tasks.

    `key` is made from the arrays: a worker of a cluster, which knows no-fit polygons by it, works for many jobs. `each`
    has a key for every pose, made from its pieces.
    """

    key: bytes
    each: tuple[bytes, ...]
    poses: tuple[Pose, ...]
    bodies: Bodies


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """The constant data of a search: the items to lay, their poses, and the spaces.

    `item_poses` are the poses of each movable item; obstacles follow as further items, one to each space's obstacle,
    in `fixed_pose` and `fixed_space`.
    """

    shapes: Shapes
    item_poses: tuple[tuple[int, ...], ...]
    areas: tuple[float, ...]
    fixed_pose: NDArray[np.int64]
    fixed_space: NDArray[np.int64]
    spaces: NDArray[np.float64]
    allowed: NDArray[np.bool_]
    eps: float

    @property
    def poses(self) -> tuple[Pose, ...]:
        """Every pose."""
        return self.shapes.poses

    @property
    def bodies(self) -> Bodies:
        """Every pose as arrays."""
        return self.shapes.bodies

    @property
    def movable(self) -> int:
        """The number of items to lay."""
        return len(self.item_poses)


def pose_of(polygon: Polygon, *, degrees: float = 0.0, mirrored: bool = False, box: Box | None = None) -> Pose:
    """Return the pose of an already turned polygon; `box` gives its exact extents where the polygon
    is rounded outward.
    """
    x0, y0, x1, y1 = box if box is not None else polygon.bounds
    return Pose(pieces=convex_pieces(polygon), box=(x0, y0, x1, y1), degrees=degrees, mirrored=mirrored)


def make_problem(
    items: Sequence[Sequence[Pose]],
    areas: Sequence[float],
    spaces: Sequence[Space],
    *,
    gap: float,
    allowed: NDArray[np.bool_] | None = None,
) -> Problem:
    """Return the problem of laying the items (equal items share the same pose objects) in the spaces, `gap` apart."""
    known: dict[int, int] = {}
    poses: list[Pose] = []
    growth: list[float] = []
    item_poses = []
    for choices in items:
        numbers = []
        for pose in choices:
            if id(pose) not in known:
                known[id(pose)] = len(poses)
                poses.append(pose)
                growth.append(gap)
            numbers.append(known[id(pose)])
        item_poses.append(tuple(numbers))
    fixed_pose, fixed_space = [], []
    for number, space in enumerate(spaces):
        for polygon, distance in space.obstacles:
            fixed_pose.append(len(poses))
            fixed_space.append(number)
            poses.append(pose_of(polygon))
            growth.append(distance)
    width = max((space.box[3] - space.box[1] for space in spaces), default=1.0)
    everywhere = np.ones((len(items), len(spaces)), np.bool_)
    return Problem(
        shapes=_shapes(poses, growth),
        item_poses=tuple(item_poses),
        areas=tuple(areas),
        fixed_pose=np.array(fixed_pose, np.int64),
        fixed_space=np.array(fixed_space, np.int64),
        spaces=np.array([space.box for space in spaces], np.float64).reshape(-1, 4),
        allowed=everywhere if allowed is None else allowed,
        eps=1e-9 * width,
    )


def _shapes(poses: Sequence[Pose], growth: Sequence[float]) -> Shapes:
    bodies = _arrays(poses, growth)
    digest = hashlib.blake2b(digest_size=16)
    for array in bodies:
        digest.update(array.tobytes())
    each = tuple(_key(bodies, number) for number in range(len(poses)))
    return Shapes(key=digest.digest(), each=each, poses=tuple(poses), bodies=bodies)


def _key(bodies: Bodies, pose: int) -> bytes:
    """The same for poses of the very same pieces, raw and grown."""
    first, last = bodies.piece[pose], bodies.piece[pose + 1]
    digest = hashlib.blake2b(digest_size=16)
    for at, corners in ((bodies.raw_at, bodies.raw), (bodies.grown_at, bodies.grown)):
        digest.update(np.diff(at[first : last + 1]).tobytes())
        digest.update(corners[at[first] : at[last]].tobytes())
    return digest.digest()


def _arrays(poses: Sequence[Pose], growth: Sequence[float]) -> Bodies:
    piece, raw_at, grown_at = [0], [0], [0]
    raw: list[Corners] = []
    grown: list[Corners] = []
    boxes, grown_boxes = [], []
    for pose, distance in zip(poses, growth, strict=True):
        pieces, around = _with_gap(pose, distance)
        raw += pieces
        raw_at += (raw_at[-1] + np.cumsum([len(corners) for corners in pieces])).tolist()
        grown += around
        grown_at += (grown_at[-1] + np.cumsum([len(corners) for corners in around])).tolist()
        piece.append(len(raw))
        every = np.concatenate(around)
        boxes.append(tuple(np.round(pose.box, _DIGITS)))
        grown_boxes.append((*every.min(axis=0), *every.max(axis=0)))
    return Bodies(
        piece=np.array(piece, np.int64),
        raw_at=np.array(raw_at, np.int64),
        raw=np.concatenate(raw),
        grown_at=np.array(grown_at, np.int64),
        grown=np.concatenate(grown),
        box=np.array(boxes, np.float64),
        grown_box=np.array(grown_boxes, np.float64),
        twin=_twins(poses),
    )


@remembered(most=2048)
def _with_gap(pose: Pose, distance: float) -> tuple[list[Corners], list[Corners]]:
    """A pose's pieces as they are and grown by a distance, both rounded."""
    pieces = [np.round(exact, _DIGITS) for exact in pose.pieces]
    return pieces, [np.round(_grown(corners, distance), _DIGITS) for corners in pieces]


def _twins(poses: Sequence[Pose]) -> NDArray[np.int64]:
    """For each pose the pose that equals it turned by 180 degrees, piece by piece; -1 where there is none."""
    twins = np.full(len(poses), -1, np.int64)
    looks: dict[tuple[object, ...], int] = {}
    for i, pose in enumerate(poses):
        flat = np.round(np.concatenate(pose.pieces), _DIGITS - 2) + 0.0  # no negative zeros
        sizes = tuple(len(piece) for piece in pose.pieces)
        other = looks.get((sizes, (0.0 - flat).tobytes()))
        if other is not None and twins[other] < 0:
            twins[i], twins[other] = other, i
        looks.setdefault((sizes, flat.tobytes()), i)
    return twins


def _grown(corners: Corners, distance: float) -> Corners:
    """A convex piece grown by `distance`, its round corners replaced by tangents."""
    if distance <= 0:
        return corners
    angles = (np.arange(_ROUND_SIDES) + 0.5) * (2 * math.pi / _ROUND_SIDES)
    circle = np.stack([np.cos(angles), np.sin(angles)], axis=1) * (distance / math.cos(math.pi / _ROUND_SIDES))
    hull = shapely.MultiPoint((corners[:, None, :] + circle[None]).reshape(-1, 2)).convex_hull
    assert isinstance(hull, Polygon)
    return np.asarray(orient(hull).exterior.coords)[:-1]
