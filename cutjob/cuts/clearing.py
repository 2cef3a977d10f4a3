"""How a cutter takes over a pocket's floor, level by level, and then round its walls; and what it can't reach. mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import shapely
from shapely import Polygon

from cutjob.cuts.cut import Clearing
from cutjob.cuts.grain_lines import along_grain
from cutjob.cuts.insets import FINE, inset
from cutjob.cuts.loops import quad_segments
from cutjob.cuts.rings import outward
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Point
from cutjob.tolerances import TOLERANCES

# What the centre may come nearer to a wall, mm, the least that helps: in a groove exactly as wide as the cutter its way
# would have no width at all. With this it is a thin loop, and both walls are cut this much too far out, well within
# the tolerance.
_NEARER = (0.0, 0.001, 0.002, 0.004)
# Shares of the wood to be left on walls that are tried where the whole would leave the rough cut no way into a narrow
# place.
_LESS = (1.0, 0.5, 0.25, 0.125, 0.0)
# Chords on both sides of a comparison differ by less than this.
_CHORDS = 0.005
_STEP = 0.5  # mm between places of an edge that are looked at
# Where what is left meets what is cut, mm.
_TOUCH = 0.02
_THICK = 0.1  # mm: a disc of this radius fits into what is more than a sliver


@dataclass(frozen=True, slots=True, kw_only=True)
class Unreached:
    """Floor the cutter doesn't clear: the middle of its widest place, how wide it is there, how far it goes in from
    the floor that is cleared, and its area in mm2. `lost` when that is more than an inside corner: a neck, a narrow
    branch, or the whole pocket.
    """

    at: Point
    width: float
    depth: float
    area: float
    lost: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Cleared:
    """Ways over the floor, to be run one after another at each level; the last ways, round outline and islands at full
    depth; what is not reached, the deepest first; and the wood that the ways over the floor leave on the walls.
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
    """Return the ways of a cutter's centre that clear `area` of all that a cutter of `radius` can reach.

    The rough ways keep `allowance` mm (at most the radius) off the walls, less where the pocket is too narrow for it;
    the walls are run at `radius + deviation`, the outline counter-clockwise or not as told, islands the other way
    round. Rings run the way of their walls. A way's path runs over all of its entry again, whose floor a ramp leaves
    sloping; the entry of lines is a stretch there and back, which encloses nothing. In a pocket exactly as wide as
    the cutter, its centre comes up to 0.004 mm nearer to the walls. Of an area made larger with `opened` only what
    lies in the part's `wood` counts as unreached.

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
    """Return the largest of `diameters` whose cutter loses nothing of `area`, as far as it lies in `wood`, but inside
    corners; None if none does.
    """
    for diameter in sorted(diameters, reverse=True):
        _, unreached = _rooms(area, diameter / 2, wood)
        if not any(one.lost for one in unreached):
            return diameter
    return None


def _rooms(
    area: Region, away: float, wood: shapely.Geometry | None
) -> tuple[tuple[Region, ...], tuple[Unreached, ...]]:
    """Where the centre may be, `away` from every wall, or a hair nearer where that reaches more or joins rooms."""
    floor = to_polygon(area, deviation=FINE)
    best: tuple[tuple[Region, ...], tuple[Unreached, ...]] | None = None
    least = 0.0
    for nearer in _NEARER:
        rooms = inset(area, away - nearer)
        unreached = _unreached(floor, rooms, away, wood)
        lost = sum(one.area for one in unreached if one.lost)
        # Only for a gain: the last mm2 at the ends of what is lost come and go with the distance.
        if best is None or lost < least - (away / 2) ** 2 or (len(rooms) < len(best[0]) and lost <= least):
            best, least = (rooms, unreached), lost
        if lost == 0 and len(rooms) == 1:
            break
    assert best is not None
    return best


def _rough(rooms: Sequence[Region], *, allowance: float, radius: float) -> tuple[float, tuple[Region, ...]]:
    """Where the centre may be while it keeps off the walls, and by how much it does.

    The allowance fits when what it takes away can be had back by as much: no branch or neck is gone, whose wood the
    last way round the walls would meet at its full depth.
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
            # What is told of is in the wood. Where it goes on beyond the edge, the cutter can't run out there.
            parts = polygons_of(shapely.intersection(shape, wood))
            out = _is_thick(shapely.difference(shape, wood))
            if not parts or (out and not any(_is_thick(part) for part in parts)):
                continue
            shape = max(parts, key=lambda part: part.area)
        if piece.depth <= TOLERANCES.worth_telling and piece.mouths == 1:
            continue
        widest = shapely.maximum_inscribed_circle(shape, tolerance=_TOUCH)
        (x, y), width = widest.coords[0], 2 * float(widest.length)
        # A neck is told of however short it is, save specks where two walls nearly touch what is cut.
        if width > 2 * _TOUCH:
            lost = piece.mouths != 1 or piece.depth > 2 * away or out
            at = (float(x), float(y))
            found.append(Unreached(at=at, width=width, depth=piece.depth, area=shape.area, lost=lost))
    return tuple(sorted(found, key=lambda one: -one.depth))


def _is_thick(shape: shapely.Geometry) -> bool:
    return not shapely.is_empty(shapely.buffer(shape, -_THICK))


def _grown(regions: Sequence[Region], by: float) -> shapely.Geometry:
    """What lies within `by` of regions, and a hair more for what chords cut off."""
    return shapely.buffer(_covered(regions), by + _CHORDS, quad_segs=quad_segments(by))


def _covered(regions: Sequence[Region]) -> shapely.Geometry:
    """What regions cover together, by chords."""
    # Those of a room that touches itself may cross by a hair, which a union does not take.
    return shapely.union_all([shapely.make_valid(to_polygon(region, deviation=FINE)) for region in regions])


@dataclass(frozen=True, slots=True)
class _Piece:
    """A piece of an area that is not covered: how far it goes in from where it meets what is, in how many places."""

    shape: Polygon
    depth: float
    mouths: int


def _pieces(floor: shapely.Geometry, covered: shapely.Geometry) -> list[_Piece]:
    found = []
    edge = shapely.boundary(covered)
    for shape in polygons_of(shapely.difference(floor, covered)):
        mouth = shapely.intersection(edge, shapely.buffer(shape, _TOUCH))
        if mouth.is_empty:
            x0, y0, x1, y1 = shape.bounds
            found.append(_Piece(shape, max(x1 - x0, y1 - y0), 0))
            continue
        mouths = int(shapely.get_num_geometries(shapely.line_merge(mouth)))
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(shape.exterior, _STEP)))
        found.append(_Piece(shape, float(shapely.distance(points, mouth).max()), mouths))
    return found
