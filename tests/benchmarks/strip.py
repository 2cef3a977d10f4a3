"""Parts on a strip of given width and open length: the plain case, by which engines are compared."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon, affinity
from shapely.geometry.polygon import orient

from cutjob.layout.search.arrangement import Arrangement, Limit
from cutjob.layout.search.bodies import Corners, Pose, Problem, Space, convex_pieces, make_problem
from cutjob.layout.search.outline import simplified
from cutjob.layout.search.separation import SearchState, shortened

_ROUNDS = (0.3, 0.6, 0.85, 1.0)  # shares of the work after which the tasks are joined and go on from the best
_MANY_CORNERS, _MOST_GROWN = 12, 1.01
_FINE, _COARSE = 0.0005, 0.004  # how far outlines of more corners are rounded outward, as a share of the width
_PULLS, _FIRST_PULL, _LAST_PULL = 30, 0.005, 0.00001  # patience, and the first and last step, of pulling tight
_TASKS = 2  # searches side by side, whatever the number of cores


@dataclass(frozen=True, slots=True, kw_only=True)
class StripPart:
    """`count` equal parts, each turned by one of the `rotations` (degrees)."""

    polygon: Polygon
    count: int = 1
    rotations: tuple[float, ...] = (0.0,)


@dataclass(frozen=True, slots=True, kw_only=True)
class StripLayout:
    """`length`: from 0 to the right-most point of any part. A placement: part, degrees about its origin, x, y."""

    length: float
    placements: tuple[tuple[int, float, float, float], ...]


def lay_strip(
    parts: Sequence[StripPart],
    width: float,
    *,
    gap: float = 0.0,
    seed: int = 0,
    moves: int | None = None,
    seconds: float | None = None,
    executor: Executor | None = None,
    workers: int = 2,
) -> StripLayout:
    """Lay all parts on a strip in as short a length as the work allows.

    `moves` counts positions tried, in all; with `seconds` the clock decides and the result may differ from run to run.
    Raises ValueError for a part that fits the strip in none of its rotations.
    """
    began = time.monotonic()
    items, which = _items(parts, width, _COARSE)
    areas = [parts[k].polygon.area for k in which]
    longest = 2 * sum(max(pose.box[2] - pose.box[0] for pose in poses) + gap for poses in items)
    spaces = [Space(box=(0.0, 0.0, longest, width))]
    problem = make_problem(items, areas, spaces, gap=gap)
    fine = make_problem(_items(parts, width, _FINE)[0], areas, spaces, gap=gap)
    order = sorted(range(len(items)), key=lambda i: (-_extent(items[i][0]), i))
    best, used = first_arrangement(problem, order, seed=seed, samples=12)
    best = _all_laid(problem, best, gap)
    budget = (moves if moves is not None else 5_000_000 if seconds is None else 10**15) - used
    own = ThreadPoolExecutor(workers) if executor is None else None
    pool = own or executor
    assert pool is not None
    try:
        done = 0.0
        for number, share in enumerate(_ROUNDS):
            deadline = None if seconds is None else began + seconds * share
            limit = Limit(positions=max(1, int(budget * (share - done) / _TASKS)), deadline=deadline)
            done = share
            seeds = [seed * 1_000_003 + number * 101 + task for task in range(_TASKS)]
            if number < len(_ROUNDS) - 1:
                step = 0.01 if number == 0 else 0.002
                futures = [
                    pool.submit(shortened, problem, best, space=0, seed=each, limit=limit, step=step) for each in seeds
                ]
            else:
                futures = [pool.submit(tightened, fine, best, space=0, seed=each, limit=limit) for each in seeds]
            best = min((future.result()[0] for future in futures), key=lambda found: _reach(fine, found))
    finally:
        if own is not None:
            own.shutdown()
    placements = tuple(
        (which[i], problem.poses[best.pose[i]].degrees, float(best.x[i]), float(best.y[i])) for i in range(len(which))
    )
    return StripLayout(length=_reach(fine, best), placements=placements)


def _all_laid(problem: Problem, start: Arrangement, gap: float) -> Arrangement:
    """Return the arrangement with what found no place in a row behind the rest."""
    box = problem.bodies.box
    x, y = start.x.copy(), start.y.copy()
    laid = start.space >= 0
    reach = float(np.max(x[laid] + box[start.pose[laid], 2], initial=-gap))
    for i in np.nonzero(~laid)[0]:
        low_x, low_y, high_x, _ = box[start.pose[i]]
        x[i], y[i] = reach + gap - low_x, -low_y
        reach = float(x[i] + high_x)
    return Arrangement(pose=start.pose, space=np.zeros(len(x), np.int32), x=x, y=y)


def _items(parts: Sequence[StripPart], width: float, roughness: float) -> tuple[list[list[Pose]], list[int]]:
    items, which = [], []
    for number, part in enumerate(parts):
        polygon = _fewer_corners(part.polygon, roughness * width)
        pieces = convex_pieces(polygon)
        poses = []
        seen: list[Polygon] = []
        for degrees in part.rotations:
            turned = affinity.rotate(polygon, degrees, origin=(0, 0))
            x0, y0, _, y1 = turned.bounds
            look = shapely.normalize(affinity.translate(turned, -x0, -y0))
            if y1 - y0 > width * (1 + 1e-12) or any(look.equals_exact(other, 1e-9 * width) for other in seen):
                continue
            seen.append(look)
            poses.append(turned_pose(pieces, degrees))
        if not poses:
            raise ValueError(f"part {number} is wider than the strip in all its rotations")
        items += [poses] * part.count
        which += [number] * part.count
    return items, which


def _fewer_corners(polygon: Polygon, roughness: float) -> Polygon:
    """A polygon that covers one of many corners, within about `roughness`."""
    outline = orient(polygon)
    if len(outline.exterior.coords) <= _MANY_CORNERS:
        return polygon
    corners = [(x, y) for x, y, *_ in outline.exterior.coords[:-1]]
    while True:
        rough = Polygon(simplified(corners, roughness), [list(hole.coords) for hole in outline.interiors])
        if rough.area <= polygon.area * _MOST_GROWN:
            return rough
        roughness /= 2


def _extent(pose: Pose) -> float:
    return (pose.box[2] - pose.box[0]) * (pose.box[3] - pose.box[1])


def _reach(problem: Problem, found: Arrangement) -> float:
    return float(np.max(found.x + problem.bodies.box[found.pose, 2]))


def first_arrangement(problem: Problem, order: Sequence[int], *, seed: int, samples: int) -> tuple[Arrangement, int]:
    """Lay items one by one in the order given, each in the first space with room for it; some may lie nowhere.

    Returns the arrangement and the positions tried.
    """
    top = SearchState(problem, None, seed)
    for item in order:
        top.insert(item, samples=samples)
    return top.arrangement(), top.tried


def tightened(problem: Problem, start: Arrangement, *, space: int, seed: int, limit: Limit) -> tuple[Arrangement, int]:
    """Return an arrangement that reaches less far along a space by ever smaller steps, the first of half a percent."""
    top = SearchState(problem, start, seed)
    best, began = start, time.monotonic()
    left, reach = problem.spaces[space, 0], top.reach(space)
    while reach > left and not limit.over(top.tried):
        top.tried += 1
        step = _FIRST_PULL * (1.0 - limit.share(top.tried, began)) ** 2 + _LAST_PULL
        top.lay(best)
        if not top.close_at(space, left + (reach - left) * (1.0 - step)):
            break
        if top.separate(limit, patience=_PULLS, strikes=1) == 0.0:
            best, reach = top.arrangement(), top.reach(space)
    return best, top.tried


def turned_pose(pieces: Sequence[Corners], degrees: float) -> Pose:
    """Return the pose of a body of these pieces turned about its origin, its extents those of the pieces."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    if degrees % 90.0 == 0.0:
        cos, sin = round(cos), round(sin)
    turn = np.array([[cos, sin], [-sin, cos]])
    turned = tuple(piece @ turn for piece in pieces)
    every = np.concatenate(turned)
    (x0, y0), (x1, y1) = every.min(axis=0), every.max(axis=0)
    return Pose(pieces=turned, box=(float(x0), float(y0), float(x1), float(y1)), degrees=degrees)
