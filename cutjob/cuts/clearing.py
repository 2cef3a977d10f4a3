"""How a cutter clears a pocket: over its floor level by level, then round its walls; and what it can't reach. mm.

A floor is cleared by rings from the middle outward, in as few connected ways as its shape allows.

The rings are the edges of the floor, shrunk step by step. Each ring hangs from the ring inside it that it is linked
with. A ring with none inside it is a middle: the cutter comes down there. All rings that hang from a middle make one
way: a whole ring is run, then the rings that hang from it, one branch after another. Between branches the cutter goes
back over floor it has cleared.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely import Polygon

from cutjob.cuts.cut import Clearing
from cutjob.cuts.grain_lines import along_grain
from cutjob.cuts.insets import FINE, inset
from cutjob.cuts.loops import Loop, Room, quad_segments
from cutjob.cuts.reach import is_corner
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Point, Segment
from cutjob.tolerances import TOLERANCES

# A middle ring shorter than a circle of this share of the cutter's radius is moved outward, to give the cutter room to
# come down in.
_ROOMY = 0.25
# Rings whose distances differ by less than this share of a step count as equally near.
_TIE = 0.05
_SURE = 0.01  # mm: how exactly a largest inscribed circle is found


class _Ring(Loop):
    """A loop and the rings that hang from it; `way_length` grows with all that hangs from its middle."""

    def __init__(self, contour: Contour) -> None:
        super().__init__(contour)
        self.outer: list[_Ring] = []
        self.middle: _Ring = self
        self.way_length = self.length

    def hang(self, other: _Ring) -> None:
        """Have `other` run after this ring."""
        self.outer.append(other)
        other.middle = self.middle
        self.middle.way_length += other.length


class _Floor:
    """A connected area at one step from the wall, and the areas inside it at the next.

    `rings` are its edges, `middles` the rings its ways begin with; the one its outline hangs from is last.
    """

    def __init__(self, region: Region) -> None:
        self.region = region
        self.inner: list[_Floor] = []
        self.rings: list[_Ring] = []
        self.middles: list[_Ring] = []


def outward(rooms: Sequence[Region], *, radius: float, stepover: float, counter_clockwise: bool) -> list[Clearing]:
    """Return ways over the floor under `rooms`, where the centre may be; islands run the other way round than outlines.

    The outermost rings run along the rooms' edges. `clear` proves that nothing is left between rings.
    """
    room = Room(rooms)
    ways: list[Clearing] = []
    for region in rooms:
        floors = _floors(region, stepover)
        for floor in reversed(floors):
            _settle(floor, radius=radius, stepover=stepover)
        for floor in reversed(_kept(floors[0])):
            _hang(floor, stepover=stepover, counter_clockwise=counter_clockwise)
        ways.extend(_ways(floors[0].middles, room, stepover))
    return ways


def _floors(region: Region, stepover: float) -> list[_Floor]:
    """All floors, each after the one it lies in."""
    floors = [_Floor(region)]
    for floor in floors:
        floor.inner = [_Floor(inner) for inner in inset(floor.region, stepover)]
        floors.extend(floor.inner)
    return floors


def _kept(outermost: _Floor) -> list[_Floor]:
    """A floor and the floors still inside it, each after the one it lies in."""
    floors = [outermost]
    for floor in floors:
        floors.extend(floor.inner)
    return floors


def _settle(floor: _Floor, *, radius: float, stepover: float) -> None:
    """Drop the inmost floors that the ring round them clears already; give other tiny floors more room."""
    for inner in [one for one in floor.inner if not one.inner]:
        shape = to_polygon(inner.region, deviation=TOLERANCES.chord)
        inscribed = float(shapely.maximum_inscribed_circle(shape, tolerance=_SURE).length)
        if inscribed + _SURE < radius - stepover:
            floor.inner.remove(inner)
        elif inner.region.outline.length < 2 * math.pi * _ROOMY * radius:
            roomier = _roomier(floor, inner, by=_ROOMY * radius - inscribed, stepover=stepover)
            if roomier is not None:
                inner.region = roomier


def _roomier(floor: _Floor, inner: _Floor, *, by: float, stepover: float) -> Region | None:
    """The region of an inmost floor at a step shorter by `by`, unless others grow together with it."""
    if not 0 < by < stepover:
        return None
    for region in inset(floor.region, stepover - by):
        shape = to_polygon(region)
        points = [shapely.Point(one.region.outline.segments[0].start) for one in floor.inner]
        inside = [one for one, point in zip(floor.inner, points, strict=True) if shape.contains(point)]
        if inside == [inner]:
            return region
    return None


def _hang(floor: _Floor, *, stepover: float, counter_clockwise: bool) -> None:
    """Make a floor's rings. Each hangs from the nearest ring inside it, or from the nearest that already hangs there.

    A straight link to the nearest ring stays on the floor: before it left the floor it would meet a nearer ring. Among
    equally near rings the one on the longest way is taken, so that short ways end early.
    """
    contours = floor.region.contours
    floor.rings = [_Ring(contour if counter_clockwise else contour.reversed()) for contour in contours]
    waiting = list(floor.rings)
    hung = [ring for inner in floor.inner for ring in inner.rings]
    if not hung:
        middle = max(waiting, key=lambda ring: ring.length)
        waiting.remove(middle)
        hung.append(middle)
        floor.middles = [middle]
    away = shapely.distance([[ring.line] for ring in waiting], [[ring.line for ring in hung]]) if waiting else None
    while waiting and away is not None:
        row = int(away.min(axis=1).argmin())
        least = float(away[row].min()) + _TIE * stepover
        near = [ring for ring, far in zip(hung, away[row], strict=True) if far <= least]
        ring = waiting.pop(row)
        max(near, key=lambda one: one.middle.way_length).hang(ring)
        hung.append(ring)
        column = shapely.distance([[one.line] for one in waiting], [[ring.line]]) if waiting else np.empty((0, 1))
        away = np.hstack([np.delete(away, row, axis=0), column])
    if floor.inner:
        last = floor.rings[0].middle
        inner = sorted(floor.inner, key=lambda one: last in one.middles)
        floor.middles = [middle for one in inner for middle in one.middles]


def _ways(middles: Sequence[_Ring], room: Room, stepover: float) -> list[Clearing]:
    """The way from each middle; a ring that turns out to have no link then gets a way of its own."""
    ways = []
    for middle in middles:
        waiting = [middle]
        for ring in waiting:
            path, _, unlinked = _walk(ring, 0.0, room, stepover)
            ways.append(Clearing(entry=ring.contour, path=tuple(path)))
            waiting.extend(unlinked)
    return ways


def _walk(ring: _Ring, at: float, room: Room, stepover: float) -> tuple[list[Segment], list[Segment], list[_Ring]]:
    """The way round a ring, from `at` mm along it, and round all rings that hang from it; the way back to its start
    over cleared floor; and the rings that no link leads to.
    """
    path: list[Segment] = []
    out: list[Segment] = []  # from the start to the present place, without the rings between
    unlinked: list[_Ring] = []
    while True:
        path.extend(ring.round_from(at))
        branches = sorted(ring.outer, key=_hanging)
        if not branches:
            break
        for branch in branches[:-1]:
            link = room.link(ring, at, branch, stepover=stepover)
            if link is None:
                unlinked.append(branch)
                continue
            aside = ring.along(at, link.leave)
            further, back, more = _walk(branch, link.arrive, room, stepover)
            path.extend([*aside, *link.out, *further, *back, *link.back])
            out.extend(aside)
            unlinked.extend(more)
            at = link.leave
        link = room.link(ring, at, branches[-1], stepover=stepover)
        if link is None:
            unlinked.append(branches[-1])
            break
        there = [*ring.along(at, link.leave), *link.out]
        path.extend(there)
        out.extend(there)
        ring, at = branches[-1], link.arrive
    return path, [segment.reversed() for segment in reversed(out)], unlinked


def _hanging(ring: _Ring) -> int:
    """How many rings hang from one, directly or not."""
    found = [ring]
    for one in found:
        found.extend(one.outer)
    return len(found)


# How much nearer to a wall the centre may come, mm; the least that helps. In a groove exactly as wide as the cutter the
# way would have no width at all. With this it is a thin loop, and both walls are cut this much too far out, well
# within the tolerance.
_NEARER = (0.0, 0.001, 0.002, 0.004)
# Shares of the allowance that are tried where the whole would keep the rough cut out of a narrow place.
_LESS = (1.0, 0.5, 0.25, 0.125, 0.0)
# The two sides of a comparison, both made of chords, differ by less than this.
_CHORDS = 0.005
_STEP = 0.5  # mm between the places of an edge that are looked at
# Uncut and cut areas meet within this, mm.
_TOUCH = 0.02
_THICK = 0.1  # mm: a disc of this radius fits into anything more than a sliver


@dataclass(frozen=True, slots=True, kw_only=True)
class Unreached:
    """Floor the cutter doesn't clear: the middle of its widest place, its width there, its depth from the edge of the
    cleared floor, and its area in mm2. It is `lost` when it is more than an inside corner: a neck, a narrow branch, or
    the whole pocket.
    """

    at: Point
    width: float
    depth: float
    area: float
    lost: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Cleared:
    """Ways over the floor, to be run one after another at each level; the last ways, round outline and islands at full
    depth; the floor not reached, the deepest place first; and the wood that the ways over the floor leave on the walls.
    """

    clearings: tuple[Clearing, ...]
    walls: tuple[Contour, ...]
    unreached: tuple[Unreached, ...]
    allowance: float


def clear(
    area: Region,
    *,
    radius: float,
    stepover: float,
    allowance: float,
    deviation: float = 0.0,
    counter_clockwise_walls: bool,
    along: Literal["outward", "along grain"],
    wood: shapely.Geometry | None = None,
) -> Cleared:
    """Return the ways of a cutter's centre that clear all of `area` that a cutter of `radius` can reach.

    The rough ways keep `allowance` mm (at most the radius) off the walls, less where the pocket is too narrow for it.
    The walls are run at `radius + deviation`, islands the other way round than the outline. Rings run in the same
    direction as their walls. A way's path runs over all of its entry again, because a ramp leaves the floor there
    sloping. The entry of lines is a stretch there and back, which encloses nothing. In a pocket exactly as wide as the
    cutter, its centre comes up to 0.004 mm nearer to the walls. In an area made larger with `opened` only floor in the
    part's `wood` counts as unreached.

    `stepover` is at most the radius: then nothing stays between ways. Say the centre may be where the wall is at least
    d away. Take a place at t >= d from the wall, and its nearest point of the wall: on the straight way there the
    distance from the wall falls by exactly what is gone, so after less than a step one is on a ring, d + k step from
    the wall. An inmost ring is left out only if all within it is no more than a radius from the next. Places nearer to
    the wall than d that are within a radius of where the centre may be are within a radius of its edge, which is the
    last way round the walls; and where wood is left for that, it is at most `allowance` further in. For lines along
    the grain see `along_grain`.

    Raises ValueError for a stepover that is not above 0 and at most the radius, or an allowance outside 0 to radius.
    """
    if not 0 < stepover <= radius * (1 + 1e-9):
        raise ValueError(f"a stepover of {stepover} is not between 0 and the radius {radius}")
    if not 0 <= allowance <= radius:
        raise ValueError(f"an allowance of {allowance} is not between 0 and the radius {radius}")
    rooms, unreached = _rooms(area, radius + deviation, wood)
    left, rough = _rough(rooms, allowance=allowance, radius=radius)
    clearings = (outward if along == "outward" else along_grain)(
        rough, radius=radius, stepover=stepover, counter_clockwise=counter_clockwise_walls
    )
    contours = [contour for room in rooms for contour in room.contours]
    return Cleared(
        clearings=tuple(clearings),
        walls=tuple(contour if counter_clockwise_walls else contour.reversed() for contour in contours),
        unreached=unreached,
        allowance=left,
    )


def widest_reaching(area: Region, *, diameters: Sequence[float], wood: shapely.Geometry | None = None) -> float | None:
    """Return the largest of `diameters` whose cutter reaches all of `area` in `wood`, inside corners aside; None if
    none does.
    """
    for diameter in sorted(diameters, reverse=True):
        _, unreached = _rooms(area, diameter / 2, wood)
        if not any(one.lost for one in unreached):
            return diameter
    return None


def _rooms(
    area: Region, away: float, wood: shapely.Geometry | None
) -> tuple[tuple[Region, ...], tuple[Unreached, ...]]:
    """Where the centre may be: `away` from every wall, or a hair nearer where that reaches more or joins two rooms."""
    floor = to_polygon(area, deviation=FINE)
    best: tuple[tuple[Region, ...], tuple[Unreached, ...]] | None = None
    least = 0.0
    for nearer in _NEARER:
        rooms = inset(area, away - nearer)
        unreached = _unreached(floor, rooms, away, wood)
        lost = sum(one.area for one in unreached if one.lost)
        # Only for a real gain: the area lost at the ends changes a little with the distance in any case.
        if best is None or lost < least - (away / 2) ** 2 or (len(rooms) < len(best[0]) and lost <= least):
            best, least = (rooms, unreached), lost
        if lost == 0 and len(rooms) == 1:
            break
    assert best is not None
    return best


def _rough(rooms: Sequence[Region], *, allowance: float, radius: float) -> tuple[float, tuple[Region, ...]]:
    """How far the centre keeps off the walls in the rough cut, and where it may be then.

    The allowance fits when growing the shrunk area by it gives the first area back: then no branch or neck is gone,
    whose wood the last way round the walls would meet at its full depth.
    """
    floor = _covered(rooms)
    for share in _LESS:
        by = allowance * share
        if by <= FINE:
            break
        rough = tuple(one for room in rooms for one in inset(room, by))
        pieces = _pieces(floor, _grown(rough, by))
        if rough and all(one.depth <= radius / 2 and one.mouths == 1 for one in pieces):
            return by, rough
    return 0.0, tuple(rooms)


def _unreached(
    floor: Polygon, rooms: Sequence[Region], away: float, wood: shapely.Geometry | None
) -> tuple[Unreached, ...]:
    found = []
    for piece in _pieces(floor, _grown(rooms, away)):
        shape, out = piece.shape, False
        if wood is not None:
            # Only pieces in the wood are reported. Where a piece goes on beyond the edge, the cutter can't run out
            # there.
            parts = polygons_of(shapely.intersection(shape, wood))
            out = _is_thick(shapely.difference(shape, wood))
            if not parts or (out and not any(_is_thick(part) for part in parts)):
                continue
            shape = max(parts, key=lambda part: part.area)
        if piece.depth <= TOLERANCES.worth_telling and piece.mouths == 1:
            continue
        widest = shapely.maximum_inscribed_circle(shape, tolerance=_TOUCH)
        (x, y), width = widest.coords[0], 2 * float(widest.length)
        # A neck is reported however short it is, except for specks where two walls nearly touch the cut area.
        if width > 2 * _TOUCH:
            deep = piece.depth > 2 * away
            lost = piece.mouths != 1 or out or (deep and not _is_corner(piece, floor, away))
            at = (float(x), float(y))
            found.append(Unreached(at=at, width=width, depth=piece.depth, area=shape.area, lost=lost))
    return tuple(sorted(found, key=lambda one: -one.depth))


def _is_corner(piece: _Piece, floor: Polygon, away: float) -> bool:
    return is_corner(piece.shape, piece.mouth, shapely.boundary(floor), radius=away)


def _is_thick(shape: shapely.Geometry) -> bool:
    return not shapely.is_empty(shapely.buffer(shape, -_THICK))


def _grown(regions: Sequence[Region], by: float) -> shapely.Geometry:
    """The regions grown by `by`, and by a hair more for what chords cut off."""
    return shapely.buffer(_covered(regions), by + _CHORDS, quad_segs=quad_segments(by))


def _covered(regions: Sequence[Region]) -> shapely.Geometry:
    """The area the regions cover together, by chords."""
    # The chords of a room that touches itself may cross by a hair; a union does not accept that.
    return shapely.union_all([shapely.make_valid(to_polygon(region, deviation=FINE)) for region in regions])


@dataclass(frozen=True, slots=True)
class _Piece:
    """A piece of an area that is not covered: its depth from where it meets the covered area, and how many places
    of meeting there are.
    """

    shape: Polygon
    depth: float
    mouths: int
    mouth: shapely.Geometry


def _pieces(floor: shapely.Geometry, covered: shapely.Geometry) -> list[_Piece]:
    found = []
    edge = shapely.boundary(covered)
    for shape in polygons_of(shapely.difference(floor, covered)):
        mouth = shapely.intersection(edge, shapely.buffer(shape, _TOUCH))
        if mouth.is_empty:
            x0, y0, x1, y1 = shape.bounds
            found.append(_Piece(shape, max(x1 - x0, y1 - y0), 0, mouth))
            continue
        mouth = shapely.line_merge(mouth)
        mouths = int(shapely.get_num_geometries(mouth))
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(shape.exterior, _STEP)))
        found.append(_Piece(shape, float(shapely.distance(points, mouth).max()), mouths, mouth))
    return found
