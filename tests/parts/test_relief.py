from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.reach import uncut_corners
from cutjob.geometry.contour import Contour, Region, circle, polyline, rectangle
from cutjob.geometry.offset import offset
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Arc, Line, Point
from cutjob.geometry.transform import Transform
from cutjob.parts.part import Hole, Pocket, ShapedPart
from cutjob.parts.relief import LEAST_WALL, SPARE, Relieved, relieved
from cutjob.tolerances import TOLERANCES
from tests.assertions import FINE, fine_polygon

WAYS = ("diagonal", "side")
CUTTER = 6.35
R = CUTTER / 2 + SPARE
# Overlaps of polygons whose chords lie FINE off their arcs, along some 40 mm of arcs.
OVERLAP = 40 * FINE


def taken(way: str, degrees: float) -> float:
    """What the brief geometry of discs and half planes gives: segments of circles, and a strip where a is acute."""
    a = math.radians(degrees)
    if degrees >= 90:
        return R * R * (math.pi - a - math.sin(a) if way == "diagonal" else math.pi - a + math.sin(a) * math.cos(a))
    return R * R * (math.pi / 2 - 2 + 1 / math.tan(a / 2) if way == "diagonal" else math.pi / 2 + 2 / math.tan(a))


def slanted(degrees: float) -> Contour:
    """A parallelogram of 40 and 30 mm with this angle at its lower left corner, about in the middle of a board."""
    a = math.radians(degrees)
    x, y = 30 * math.cos(a), 30 * math.sin(a)
    return polyline([(60, 60), (100, 60), (100 + x, 60 + y), (60 + x, 60 + y)])


def board(*openings: Contour, **rest) -> ShapedPart:
    return ShapedPart(name="shelf", region=Region(rectangle(200, 150), openings), **rest)


def ask(part: ShapedPart, way: str) -> Relieved:
    return relieved(part, way=way, cutter_diameter=CUTTER)  # type: ignore[arg-type]


def covers_by_discs(area: shapely.Polygon, corner: Point) -> bool:
    """Whether a disc of the cutter's size, wholly within an area, reaches a point: looked for place by place."""
    radius = CUTTER / 2
    turns = [math.radians(step) for step in range(0, 360, 1)]
    # A hair nearer than the radius, for the chords of the area and the whole degrees.
    reach = radius - 1e-3
    centres = [(corner[0] + reach * math.cos(t), corner[1] + reach * math.sin(t)) for t in turns]
    return any(area.buffer(1e-2).contains(shapely.Point(at).buffer(radius, quad_segs=64)) for at in centres)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("degrees", [60, 72.5, 89, 90, 91, 104, 120])
def test_a_tenon_goes_in_and_a_cutter_reaches_its_corners(way, degrees):
    tenon = slanted(degrees)
    part = board(tenon)
    result = ask(part, way)
    assert result.skipped == ()
    (mortise,) = result.part.region.holes
    room = fine_polygon(mortise)
    assert fine_polygon(tenon).difference(room).area <= OVERLAP
    for corner in (segment.start for segment in tenon.segments):
        # The wood a cutter would leave there without: r (1/sin(a/2) - 1), 0.5 mm and more.
        assert not covers_by_discs(fine_polygon(tenon), corner)
        assert covers_by_discs(room, corner)
    lost = part.region.area - result.part.region.area
    # Exact but for the shares of lengths, of about 1e-12 each.
    assert lost == pytest.approx(2 * taken(way, degrees) + 2 * taken(way, 180 - degrees), abs=1e-8)
    # The independent search for what a cutter leaves finds nothing any more.
    assert uncut_corners(part.region, radius=CUTTER / 2)
    assert uncut_corners(result.part.region, radius=CUTTER / 2) == ()


@pytest.mark.parametrize("way", WAYS)
def test_reliefs_run_along_the_longer_side_or_to_all_sides_alike(way):
    (mortise,) = ask(board(polyline([(60, 60), (100, 60), (100, 90), (60, 90)])), way).part.region.holes
    x0, y0, x1, y1 = mortise.bounds
    if way == "side":
        # The shorter sides give way by the radius, the longer ones not at all.
        assert (x0, y0, x1, y1) == pytest.approx((60 - R, 60, 100 + R, 90), abs=1e-9)
    else:
        # A circle through the corner, its centre on the bisector: beyond each side by r (1 - sin 45).
        beyond = R * (1 - math.sin(math.pi / 4))
        assert (x0, y0, x1, y1) == pytest.approx((60 - beyond, 60 - beyond, 100 + beyond, 90 + beyond), abs=1e-9)
    arcs = [segment for segment in mortise.segments if isinstance(segment, Arc)]
    assert [arc.radius for arc in arcs] == pytest.approx([R] * 4, abs=1e-9)
    assert all(arc.clockwise for arc in arcs)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("degrees", [60, 90, 110])
def test_the_path_of_the_cutter_goes_into_every_relief(way, degrees):
    """The way of its centre is one loop, and comes to a cutter's radius, and no nearer, of each corner."""
    tenon = slanted(degrees)
    (mortise,) = ask(board(tenon), way).part.region.holes
    (path,) = offset(mortise, -CUTTER / 2)
    line = fine_polygon(path).exterior
    for segment in tenon.segments:
        assert line.distance(shapely.Point(segment.start)) == pytest.approx(CUTTER / 2, abs=TOLERANCES.path)


@pytest.mark.parametrize("way", WAYS)
def test_only_inside_corners_of_an_outline_are_relieved(way):
    """A plate with a notch of 40 x 30 for a rail: two inside corners, six outside ones."""
    outline = polyline([(0, 0), (200, 0), (200, 100), (120, 100), (120, 70), (80, 70), (80, 100), (0, 100)])
    part = ShapedPart(name="plate", region=Region(outline))
    result = ask(part, way)
    assert part.region.area - result.part.region.area == pytest.approx(2 * taken(way, 90), abs=1e-8)
    rail = shapely.box(80, 70, 120, 100)
    assert rail.intersection(fine_polygon(result.part.region.outline)).area <= OVERLAP
    assert uncut_corners(result.part.region, radius=CUTTER / 2) == ()


@pytest.mark.parametrize("way", WAYS)
def test_pockets_and_their_islands(way):
    """A recess with a square island: its four corners are inside corners, those of the island are not."""
    recess = Region(
        polyline([(50, 50), (120, 50), (120, 110), (50, 110)]), (polyline([(80, 70), (95, 70), (95, 85), (80, 85)]),)
    )
    result = ask(board(pockets=(Pocket(region=recess, depth=5.0),)), way)
    assert result.skipped == ()
    (pocket,) = result.part.pockets
    assert pocket.depth == 5.0
    assert pocket.region.area - recess.area == pytest.approx(4 * taken(way, 90), abs=1e-8)
    assert pocket.region.holes == recess.holes
    assert result.part.region == board().region


def test_corners_of_a_dado_lie_beyond_the_edge_but_its_stopped_end_does_not():
    across = Pocket(region=Region(polyline([(50, 0), (70, 0), (70, 150), (50, 150)])), depth=5.0)
    beyond = Pocket(region=Region(polyline([(90, -5), (110, -5), (110, 155), (90, 155)])), depth=5.0)
    stopped = Pocket(region=Region(polyline([(130, 0), (150, 0), (150, 80), (130, 80)])), depth=5.0)
    result = ask(board(pockets=(across, beyond, stopped)), "side")
    assert result.skipped == ()
    assert result.part.pockets[:2] == (across, beyond)
    gained = result.part.pockets[2].region.area - stopped.region.area
    assert gained == pytest.approx(2 * taken("side", 90), abs=1e-8)


def test_round_enough_corners_and_circles_stay():
    def rounded(radius: float) -> Contour:
        x0, y0, x1, y1 = 50.0, 50.0, 90.0, 80.0
        r = radius
        return Contour(
            (
                Line((x0 + r, y0), (x1 - r, y0)),
                Arc((x1 - r, y0), (x1, y0 + r), (x1 - r, y0 + r), False),
                Line((x1, y0 + r), (x1, y1 - r)),
                Arc((x1, y1 - r), (x1 - r, y1), (x1 - r, y1 - r), False),
                Line((x1 - r, y1), (x0 + r, y1)),
                Arc((x0 + r, y1), (x0, y1 - r), (x0 + r, y1 - r), False),
                Line((x0, y1 - r), (x0, y0 + r)),
                Arc((x0, y0 + r), (x0 + r, y0), (x0 + r, y0 + r), False),
            )
        )

    part = board(rounded(CUTTER / 2), circle((150, 75), 20.0))
    assert ask(part, "side") == Relieved(part=part, skipped=())
    # Rounded, but less than the cutter: no square corner to relieve, and not to be cut: it is named.
    tighter = board(rounded(1.0))
    result = ask(tighter, "side")
    assert result.part == tighter
    assert len(result.skipped) == 4
    assert all(min(math.hypot(x - a, y - b) for a in (50, 90) for b in (50, 80)) < 1.0 for x, y in result.skipped)


@pytest.mark.parametrize("way", WAYS)
def test_blunt_corners_stay(way):
    """A curve drawn as a polygon of 18: the cutter leaves r (1/sin 80 - 1), 0.05 mm, in each of its corners."""
    steps = [math.radians(20 * step) for step in range(18)]
    part = board(polyline([(100 + 30 * math.cos(t), 75 + 30 * math.sin(t)) for t in steps]))
    assert ask(part, way) == Relieved(part=part, skipped=())


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("degrees", [45, 60, 75, 90, 105, 120])
def test_the_cutter_gets_into_a_relief_without_leaving_the_waste(way, degrees):
    """What its centre may reach is one piece: in a sharp corner the neck of a bare circle would be too narrow."""
    (mortise,) = ask(board(slanted(degrees)), way).part.region.holes
    centres = fine_polygon(mortise).buffer(-CUTTER / 2, quad_segs=64)
    assert centres.geom_type == "Polygon"


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("bulge", [8.0, -8.0])
def test_a_corner_between_a_line_and_an_arc(way, bulge):
    """A half round niche, and one with an arc that bends into it: the mate still fits and the cutter still gets in."""
    y = 75 + bulge
    # Arc from (100, 60) to (60, 60) through (80, y): radius by the chord of 40 and the height.
    high = y - 60
    radius = (400 + high * high) / (2 * high)
    niche = Contour(
        (
            Line((60, 30), (100, 30)),
            Line((100, 30), (100, 60)),
            Arc((100, 60), (60, 60), (80, y - radius), False),
            Line((60, 60), (60, 30)),
        )
    )
    result = ask(board(niche), way)
    (mortise,) = result.part.region.holes
    mate, room = fine_polygon(niche), fine_polygon(mortise)
    assert mate.difference(room).area <= OVERLAP
    for corner in ((60.0, 30.0), (100.0, 30.0), (100.0, 60.0), (60.0, 60.0)):
        if corner in result.skipped:
            assert not covers_by_discs(room, corner)
        else:
            assert covers_by_discs(room, corner)
    # The square ones always have room.
    assert all(y == 60 for _, y in result.skipped)


@pytest.mark.parametrize(("way", "width"), [("side", 9.0), ("diagonal", 8.0)])
def test_reliefs_in_a_short_side_run_into_each_other(way, width):
    """A mortise less than two reliefs wide: both circles are there, and what stands between them is on their wall."""
    tenon = polyline([(50, 50), (100, 50), (100, 50 + width), (50, 50 + width)])
    part = board(tenon)
    result = ask(part, way)
    assert result.skipped == ()
    (mortise,) = result.part.region.holes
    room = fine_polygon(mortise)
    assert room.is_valid
    assert fine_polygon(tenon).difference(room).area <= OVERLAP
    for segment in tenon.segments:
        assert covers_by_discs(room, segment.start)
    # Two circles overlap in a lens: its half beyond the side is counted once. Lens of circles at distance d:
    # 2 r^2 acos(d / 2 r) - d sqrt(4 r^2 - d^2) / 2 [textbook formula].
    if way == "side":
        d = width - 2 * R
        lens = 2 * R * R * math.acos(d / (2 * R)) - d * math.sqrt(4 * R * R - d * d) / 2
        assert part.region.area - result.part.region.area == pytest.approx(4 * taken(way, 90) - lens, abs=1e-8)


def test_corners_without_room_are_named():
    def skipped(part: ShapedPart, way: str = "side") -> tuple[Point, ...]:
        result = ask(part, way)
        if len(result.skipped) == 4 and not part.pockets:
            assert result.part == part
        return result.skipped

    def mortise(x: float, y: float, length: float, width: float) -> Contour:
        return polyline([(x, y), (x + length, y), (x + length, y + width), (x, y + width)])

    # A slot the cutter doesn't enter; one it just enters, but a relief would reach past the other side.
    assert len(skipped(board(mortise(50, 50, 40, 5)))) == 4
    assert len(skipped(board(mortise(50, 50, 40, 6.4)))) == 4
    # Its ends 4 mm from the board's ends: 4 - 3.225 is less than a sixteenth of an inch.
    assert sorted(skipped(board(mortise(4, 50, 40, 20)))) == [(4, 50), (4, 70)]
    assert skipped(board(mortise(R + LEAST_WALL + 0.01, 50, 40, 20))) == ()
    # Through to the edge altogether.
    assert sorted(skipped(board(mortise(2, 50, 40, 20)))) == [(2, 50), (2, 70)]
    # A screw hole, or another pocket, where the relief would be.
    assert skipped(board(mortise(50, 50, 40, 20), holes=(Hole(at=(47, 53), diameter=3),))) == ((50, 50),)
    beside = Pocket(region=Region(mortise(30, 60, 17, 20)), depth=3)
    assert (50, 70) in skipped(board(mortise(50, 50, 40, 20), pockets=(beside,)))
    # Two mortises end to end, 7 mm apart: either relief has a wall, both together have none.
    pair = board(mortise(50, 50, 40, 20), mortise(97, 50, 40, 20))
    assert len(ask(pair, "side").skipped) == 2


def test_a_diameter_must_be_one():
    with pytest.raises(ValueError, match="wide"):
        relieved(board(), way="side", cutter_diameter=0.0)


def test_lines_drawn_in_pieces_are_one_side():
    whole = board(polyline([(60, 60), (100, 60), (100, 90), (60, 90)]))
    pieces = board(polyline([(61, 60), (62, 60), (100, 60), (100, 61), (100, 90), (60, 90), (60, 60)]))
    for way in WAYS:
        one, two = (to_polygon(ask(part, way).part.region, deviation=FINE) for part in (whole, pieces))
        assert one.symmetric_difference(two).area <= OVERLAP


@settings(max_examples=25, deadline=None)
@given(
    st.floats(60, 120),
    st.floats(0, 360),
    st.booleans(),
    st.sampled_from(WAYS),
    st.floats(2.0, 8.0),
)
def test_turned_and_mirrored_parts_lose_the_same(degrees, turn, mirrored, way, diameter):
    part = ShapedPart(name="shelf", region=Region(rectangle(200, 150), (slanted(degrees),)))
    move = Transform(x=3.0, y=-40.0, degrees=turn, mirrored=mirrored)
    moved = ShapedPart(name="shelf", region=move.region(part.region))
    one, two = (relieved(each, way=way, cutter_diameter=diameter) for each in (part, moved))
    assert one.skipped == two.skipped == ()
    assert to_polygon(two.part.region, deviation=FINE).is_valid
    assert one.part.region.area == pytest.approx(two.part.region.area, abs=1e-6)
    assert uncut_corners(two.part.region, radius=diameter / 2) == ()
