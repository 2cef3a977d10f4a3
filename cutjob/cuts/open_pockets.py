"""Makes pockets that run out over their part's edge larger there, so that the cutter can run out too. mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from cutjob.geometry.contour import Contour, Region, closed
from cutjob.geometry.polygons import from_polygon, polygons_of, to_polygon
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.parts.edge_pockets import ALONG, FINE, ON_EDGE, Piece, stretches
from cutjob.parts.part import Pocket

# A corner between two stretches or beside a wall is cut off where it would reach more than this many times the push.
_FURTHEST = 6.0
_SAMPLES = 12  # places in each radius at which a cutter along a wall is checked
_REACH = 3.0  # radii along the edge from a wall's end that a cutter there may be near
_GENTLE = 0.98  # cosine of the greatest turn that isn't a corner, about 11 degrees
_GRID = 1e-5  # mm
_SPECK = 1e-3  # mm2: anything smaller is rounding


def opened(pocket: Pocket, part: Region, *, by: float) -> Region:
    """Return the pocket's region, pushed outward by `by` mm wherever its outline lies on the part's own.

    If `by` is the cutter's radius and a hair, its centre comes just past the edge, and all corners it leaves lie beyond
    the edge. Neighbouring open stretches are mitred. Beside a wall that meets the edge squarely, or leans over the
    cleared area, the end is square. A wall that leans the other way, at an angle a to the edge, is drawn on in its own
    direction, and the stretch beside it is pushed by (1 + cos a) times as much (round a convex arc a little more): the
    corner there takes r cot(a/2) of the wall, which then lies beyond the edge. So the cutter sweeps no further than
    about twice `by` from the edge.

    Lines and arcs are pushed exactly. Where that would run into the part itself (a bay narrower than the push) or into
    another stretch, polygons within 0.0005 mm are used, and the part stays whole. Stretches that already lie beyond
    the edge, and edges of the part's openings, stay as they are.
    """
    pieces = [piece for segment in pocket.region.outline.segments for piece in stretches(segment, part.outline)]
    if not any(piece.open for piece in pieces):
        return pocket.region
    outline = _pushed(pieces, by)
    if outline is not None and _sound(outline, pocket.region, part):
        return Region(outline, pocket.region.holes)
    return _pushed_roughly(pieces, pocket.region, part, by)


def _pushed(pieces: Sequence[Piece], by: float) -> Contour | None:
    """The outline with its open pieces pushed outward; None where arcs leave no room for it."""
    pushes = _pushes(pieces, by)
    segments: list[Segment] = []
    for piece, push in zip(pieces, pushes, strict=True):
        moved = _aside(piece.segment, push)
        if moved is None:
            return None
        segments.append(moved)
    corners: list[list[Point]] = []
    for i, piece in enumerate(pieces):
        after = (i + 1) % len(pieces)
        between: list[Point] | None = []
        if piece.open and pieces[after].open:
            # Where one is pushed farther and the edge goes on gently, a step joins them: a mitre would be a spike.
            step = pushes[i] != pushes[after] and _is_gentle(piece, pieces[after])
            between = [] if step else _mitre(segments[i], segments[after], max(pushes[i], pushes[after]))
        elif piece.open or pieces[after].open:
            between = _wall_end(piece, pieces[after], max(pushes[i], pushes[after]))
        if between is None:
            return None
        corners.append(between)
    return _chained(pieces, segments, corners)


def _chained(pieces: Sequence[Piece], segments: Sequence[Segment], corners: Sequence[list[Point]]) -> Contour:
    """Segments joined through the corners after each; open lines reach to these or stop there."""
    chain: list[Segment] = []
    for i, segment in enumerate(segments):
        before, after = corners[i - 1], corners[i]
        start, end = segment.start, segment.end
        if pieces[i].open and isinstance(segment, Line):
            start = before[-1] if before else start
            end = after[0] if after else end
            chain.append(Line(start, end))
        else:
            chain.append(segment)
        following = segments[(i + 1) % len(segments)]
        next_open = pieces[(i + 1) % len(pieces)].open and isinstance(following, Line)
        goal = after[-1] if after and next_open else following.start
        steps = [end, *after, goal]
        chain.extend(Line(a, b) for a, b in pairwise(steps) if distance(a, b) > FINE)
    return closed(chain)


def _pushes(pieces: Sequence[Piece], by: float) -> list[float]:
    """How far each piece is pushed: a wall not at all, an open piece `by` mm, and farther near a place where a cutter
    of radius `by` that touches a wall has its middle beyond the piece.
    """
    beyond = _beyond(pieces, by)
    pushes = [by + most if piece.open else 0.0 for piece, most in zip(pieces, beyond, strict=True)]
    for n, most in enumerate(beyond):
        for step in (1, -1) if most > 0 else ():
            for m in _going_on(pieces, n, step, by):
                pushes[m] = max(pushes[m], by + most)
    return pushes


def _beyond(pieces: Sequence[Piece], by: float) -> list[float]:
    """How far beyond each open piece, to its right, a cutter's middle may be while the cutter touches a wall, where
    that piece, pushed by `by`, would be in its way.
    """
    found = [0.0] * len(pieces)
    ways = [_aside(one.segment, -by) for one in pieces if _is_wall(one)]
    middles = [
        shapely.get_coordinates(shapely.segmentize(_line_along(way), by / _SAMPLES)) for way in ways if way is not None
    ]
    floor = Polygon(np.concatenate([shapely.get_coordinates(_line_along(one.segment))[:-1] for one in pieces]))
    if not middles or not floor.is_valid:
        return found
    places = np.concatenate(middles)
    places = places[~shapely.covers(floor, shapely.points(places))]
    points = np.asarray(shapely.points(places))
    for n, piece in enumerate(pieces):
        pushed = _aside(piece.segment, by) if piece.open else None
        if pushed is not None:
            in_way = shapely.distance(points, _line_along(pushed)) < by - FINE
            found[n] = float(_heights(piece.segment, places[in_way]).max(initial=0.0))
    return found


def _line_along(segment: Segment) -> shapely.LineString:
    return shapely.LineString([segment.start, *segment.chords(FINE)])


def _heights(stretch: Segment, places: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far places lie to the right of a stretch that is drawn on."""
    if isinstance(stretch, Arc):
        off: NDArray[np.float64] = np.hypot(*(places - stretch.centre).T) - stretch.radius
        return -off if stretch.clockwise else off
    (ux, uy), (x, y) = stretch.direction_at(0.0), (places - stretch.start).T
    right: NDArray[np.float64] = x * uy - y * ux
    return right


def _going_on(pieces: Sequence[Piece], first: int, step: int, by: float) -> list[int]:
    """Open pieces that follow one of them without a corner, as far as a cutter there reaches."""
    found: list[int] = []
    length, last, n = 0.0, first, (first + step) % len(pieces)
    while pieces[n].open and n != first and length <= _REACH * by:
        before, after = (last, n) if step > 0 else (n, last)
        if not _is_gentle(pieces[before], pieces[after]):
            break
        found.append(n)
        length += pieces[n].segment.length
        last, n = n, (n + step) % len(pieces)
    return found


def _is_gentle(before: Piece, after: Piece) -> bool:
    (ax, ay), (bx, by) = before.segment.direction_at(1.0), after.segment.direction_at(0.0)
    return ax * bx + ay * by > _GENTLE


def _is_wall(piece: Piece) -> bool:
    """Whether a piece is more than the step between two lines that both lie on the edge."""
    return not piece.open and piece.segment.length > 2 * ON_EDGE


def _lean(wall: Segment, stretch: Segment) -> float:
    """Cosine of the angle at which a wall, drawn on past the stretch's start, leans away from it; 0 when it doesn't."""
    (cx, cy), (ux, uy) = wall.direction_at(1.0), stretch.direction_at(0.0)
    lean = -(cx * ux + cy * uy)
    return lean if lean > ALONG else 0.0


def _wall_end(before: Piece, after: Piece, push: float) -> list[Point]:
    """Corners between two pieces, one of them a wall."""
    if after.open:
        return _end(before.segment, after.segment, push, outward="right")
    return _end(after.segment.reversed(), before.segment.reversed(), push, outward="left")[::-1]


def _end(wall: Segment, stretch: Segment, push: float, *, outward: Literal["right", "left"]) -> list[Point]:
    """Corners between a wall's end and the start of the pushed stretch after it, the last one level with that.

    Where the wall comes after the stretch, both are given reversed, and outward is to the left.
    """
    (x, y), (cx, cy), (ux, uy) = wall.end, wall.direction_at(1.0), stretch.direction_at(0.0)
    nx, ny = (uy, -ux) if outward == "right" else (-uy, ux)
    steep = cx * nx + cy * ny
    if _lean(wall, stretch) == 0 or steep <= 0:
        return [(x + push * nx, y + push * ny)]
    length = min(push / steep, _FURTHEST * push)
    tip = (x + length * cx, y + length * cy)
    beyond = push - length * steep
    return [tip] if beyond < FINE else [tip, (tip[0] + beyond * nx, tip[1] + beyond * ny)]


def _mitre(first: Segment, second: Segment, push: float) -> list[Point] | None:
    """Corners between two pushed stretches: none where one goes on smoothly from the other, None where they would
    overlap.
    """
    (ax, ay), (bx, by) = first.direction_at(1.0), second.direction_at(0.0)
    cross = ax * by - ay * bx
    if abs(cross) <= ALONG and ax * bx + ay * by > 0:
        return []
    straight = isinstance(first, Line) and isinstance(second, Line)
    if cross < 0 and not straight:
        return None
    (x, y), (u, v) = first.end, second.start
    along = ((u - x) * by - (v - y) * bx) / cross if abs(cross) > ALONG else math.inf
    back = ((v - y) * ax - (u - x) * ay) / cross if abs(cross) > ALONG else math.inf
    if min(along, back) < -FINE and not straight:
        return None
    if abs(along) <= _FURTHEST * push:
        return [(x + along * ax, y + along * ay)]
    return [(x + push * ax, y + push * ay), (u - push * bx, v - push * by)]


def _aside(piece: Segment, push: float) -> Segment | None:
    """A piece moved to its right; None for an arc that would shrink to nothing."""
    if push == 0:
        return piece
    if isinstance(piece, Line):
        dx, dy = piece.direction_at(0.0)
        x, y = dy * push, -dx * push
        return Line((piece.start[0] + x, piece.start[1] + y), (piece.end[0] + x, piece.end[1] + y))
    scale = 1 + (-push if piece.clockwise else push) / piece.radius
    if scale * piece.radius < ON_EDGE:
        return None
    cx, cy = piece.centre
    start, end = (
        (cx + (px - cx) * scale, cy + (py - cy) * scale) for px, py in (piece.start, piece.end)
    )  # fmt: skip
    return Arc(start, end, piece.centre, piece.clockwise)


def _sound(outline: Contour, pocket: Region, part: Region) -> bool:
    """Whether a pushed outline does not cross itself, holds the whole pocket and takes nothing more of the part."""
    shape, before = to_polygon(outline, deviation=FINE), to_polygon(pocket.outline, deviation=FINE)
    if not shape.is_valid or before.difference(shape.buffer(ON_EDGE)).area > _SPECK:
        return False
    wood = shapely.buffer(to_polygon(part.outline, deviation=FINE), -1.5 * ON_EDGE)
    return bool(shapely.intersection(shape.difference(before), wood).area < _SPECK)


def _pushed_roughly(pieces: Sequence[Piece], pocket: Region, part: Region, by: float) -> Region:
    """The same by polygons: all within `by` of the open pieces, less the part, joined to the pocket."""
    added: list[shapely.Geometry] = []
    wood = to_polygon(part.outline, deviation=FINE)
    pushes = _pushes(pieces, by)
    for run in _runs(pieces):
        push = max(pushes[n] for n in run)
        line = np.array(
            [pieces[run[0]].segment.start, *(point for n in run for point in pieces[n].segment.chords(FINE))]
        )
        wide = shapely.buffer(
            shapely.LineString(line), push, cap_style="flat", join_style="mitre", mitre_limit=_FURTHEST
        )
        added.append(wide.difference(wood))
        # The open pieces may lie a hair inside the edge: the gap is filled, overlapping the pocket by less.
        along = np.diff(line, axis=0)
        aside = along[:, ::-1] * [1, -1] * (2 * ON_EDGE / np.hypot(*along.T))[:, None]
        inside = aside * FINE / (2 * ON_EDGE)
        strips = np.stack([line[:-1] - inside, line[:-1] + aside, line[1:] + aside, line[1:] - inside], axis=1)
        added.extend(np.asarray(shapely.polygons(strips)).ravel().tolist())
        for end, before, after in ((0, run[0] - 1, run[0]), (-1, run[-1], (run[-1] + 1) % len(pieces))):
            if pieces[before].open != pieces[after].open:
                # A little into the pushed area, so that the two overlap.
                level = line[end] + aside[end] * push / (2 * ON_EDGE)
                into = along[end] / np.hypot(*along[end]) * (ON_EDGE if end == 0 else -ON_EDGE)
                corners = [line[end], line[end] + into, level, level + into]
                corners += _wall_end(pieces[before], pieces[after], push)
                added.append(shapely.MultiPoint(np.array(corners)).convex_hull.difference(wood))
    # On a grid, so that edges that differ only by rounding leave no slits between them.
    shape = shapely.union_all([to_polygon(pocket, deviation=FINE), *added], grid_size=_GRID)
    middle = to_polygon(pocket, deviation=FINE).representative_point()
    (whole,) = [polygon for polygon in polygons_of(shape) if polygon.contains(middle)]
    return Region(from_polygon(Polygon(whole.exterior)).outline, pocket.holes)


def _runs(pieces: Sequence[Piece]) -> list[list[int]]:
    """Numbers of open pieces that follow each other, run by run; a closed round when all are open."""
    count = len(pieces)
    runs: list[list[int]] = []
    walls = [n for n, piece in enumerate(pieces) if not piece.open]
    for n in range(walls[0] if walls else 0, count + (walls[0] if walls else 0)):
        if not pieces[n % count].open:
            continue
        if runs and runs[-1][-1] == (n - 1) % count:
            runs[-1].append(n % count)
        else:
            runs.append([n % count])
    return runs
