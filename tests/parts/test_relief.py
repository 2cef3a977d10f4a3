"""Corner relief: the mating square piece fits, a round cutter reaches the corner, and only so much wood is taken."""

from __future__ import annotations

import math

import pytest
import shapely

from cutjob.geometry.contour import Contour, Region, circle, polyline, rectangle
from cutjob.geometry.transform import Transform
from cutjob.parts.part import Pocket, ShapedPart
from cutjob.parts.relief import Way, relieved
from tests.assertions import fine_polygon

DIAMETER = 6.0
RADIUS = DIAMETER / 2 + 0.05
WAYS: tuple[Way, ...] = ("side", "diagonal")


def part(outline: Contour, *holes: Contour, **more: object) -> ShapedPart:
    return ShapedPart(name="shelf", region=Region(outline, holes), **more)  # type: ignore[arg-type]


def mortised(length: float = 40.0, width: float = 20.0) -> ShapedPart:
    return part(rectangle(120, 80), Transform(x=30, y=30).contour(rectangle(length, width)).reversed())


def lens(radius: float, angle: float, way: Way) -> float:
    """Area a relief takes of the wood round a corner whose sides stand at `angle`: segments of the circle.

    A chord of length c cuts r^2 asin(c / 2r) - (c / 2) sqrt(r^2 - c^2 / 4) off a circle, less than half of it.
    """

    def segment(chord: float) -> float:
        half = min(chord / 2, radius)
        return radius**2 * math.asin(half / radius) - half * math.sqrt(radius**2 - half**2)

    if way == "diagonal":
        return 2 * segment(2 * radius * math.cos(angle / 2))
    whole = segment(2 * radius * math.sin(angle))
    # Beyond a right angle the smaller piece of the circle lies on the side of the wood, below one the larger.
    return whole if angle >= math.pi / 2 else math.pi * radius**2 - whole


@pytest.mark.parametrize("way", WAYS)
def test_the_mating_piece_fits_and_the_cutter_reaches_every_corner(way: Way) -> None:
    done = relieved(mortised(), way=way, cutter_diameter=DIAMETER)
    assert done.skipped == ()
    (opening,) = done.part.region.holes
    space = fine_polygon(opening)
    mate = shapely.box(30, 30, 70, 50)
    assert mate.difference(space).area < 1e-6
    # What a cutter can clear of the opening holds the whole square piece.
    cleared = space.buffer(-DIAMETER / 2, quad_segs=64).buffer(DIAMETER / 2, quad_segs=64)
    assert mate.difference(cleared).area < 4 * 2e-3
    assert space.area - mate.area == pytest.approx(4 * lens(RADIUS, math.pi / 2, way), rel=1e-4)


def test_the_longer_side_stays_whole() -> None:
    done = relieved(mortised(), way="side", cutter_diameter=DIAMETER)
    x0, y0, x1, y1 = done.part.region.holes[0].bounds
    assert (y0, y1) == pytest.approx((30, 50))
    assert (x0, x1) == pytest.approx((30 - RADIUS, 70 + RADIUS))


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("degrees", [60, 75, 90, 105, 120])
def test_corners_of_any_angle(way: Way, degrees: float) -> None:
    """A notch between two sides from one point: only that corner is an inside one."""
    a = math.radians(degrees)
    tip, far = (50.0, 20.0), 45.0
    one = (tip[0] + far, tip[1])
    two = (tip[0] + 30 * math.cos(a), tip[1] + 30 * math.sin(a))
    outline = polyline([(0, 0), (110, 0), (110, 20), one, tip, two, (two[0], 70), (0, 70)])
    before = fine_polygon(outline)
    done = relieved(part(outline), way=way, cutter_diameter=DIAMETER)
    after = fine_polygon(done.part.region.outline)
    assert after.difference(before).area < 1e-6
    assert before.area - after.area == pytest.approx(lens(RADIUS, a, way), rel=1e-4)
    # A cutter laid into the waste touches the point.
    waste = shapely.box(-20, -20, 130, 90).difference(after)
    assert waste.buffer(-DIAMETER / 2).buffer(DIAMETER / 2).distance(shapely.Point(tip)) < 0.06


def test_outside_corners_rounded_ones_and_blunt_ones_stay() -> None:
    for shape in (rectangle(50, 30), circle((0, 0), 20)):
        assert relieved(part(shape), way="diagonal", cutter_diameter=DIAMETER).part == part(shape)
    blunt = part(rectangle(90, 90), polyline([(45 + 30 * math.cos(t), 45 + 30 * math.sin(t)) for t in
                                              (math.radians(k * 20) for k in range(18))]).reversed())  # fmt: skip
    assert relieved(blunt, way="side", cutter_diameter=DIAMETER).part == blunt


def test_corners_without_room_are_told() -> None:
    narrow = relieved(mortised(40, 5.0), way="side", cutter_diameter=DIAMETER)
    assert narrow.part.region == mortised(40, 5.0).region
    assert len(narrow.skipped) == 4
    # Another opening 2 mm beside the corner would be broken into.
    near = Transform(x=71.5, y=30).contour(rectangle(10, 20)).reversed()
    beside = part(rectangle(120, 80), Transform(x=30, y=30).contour(rectangle(40, 20)).reversed(), near)
    done = relieved(beside, way="side", cutter_diameter=DIAMETER)
    assert len(done.skipped) >= 2
    assert {round(x) for x, _ in done.skipped} >= {70}


def test_pockets_but_not_at_their_open_ends() -> None:
    closed = Pocket(region=Region(Transform(x=20, y=20).contour(rectangle(40, 30))), depth=5.0)
    dado = Pocket(region=Region(Transform(x=80, y=0).contour(rectangle(12, 80))), depth=5.0)
    stopped = Pocket(region=Region(Transform(x=100, y=0).contour(rectangle(12, 50))), depth=5.0)
    whole = part(rectangle(140, 80), pockets=(closed, dado, stopped))
    done = relieved(whole, way="diagonal", cutter_diameter=DIAMETER)
    areas = [fine_polygon(pocket.region).area for pocket in done.part.pockets]
    one = lens(RADIUS, math.pi / 2, "diagonal")
    assert areas == pytest.approx([1200 + 4 * one, 960.0, 600 + 2 * one], rel=1e-4)
    assert done.skipped == ()
    assert done.part.region == whole.region
