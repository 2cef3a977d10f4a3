from __future__ import annotations

import math

import pytest
import shapely

from cutjob.geometry.contour import Contour, Region, circle, polyline, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Arc
from cutjob.parts.edge_pockets import with_trimmed_pockets
from cutjob.parts.part import Pocket, ShapedPart
from tests.assertions import FINE

# Areas by lines and arcs are exact but for rounding, mm2; those by polygons lie within their chords.
EXACT = 1e-4


def box(x0: float, y0: float, x1: float, y1: float) -> Contour:
    return polyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def trimmed(outline: Contour, *contours: Contour) -> tuple[Pocket, ...]:
    pocket = Pocket(region=Region(contours[0], contours[1:]), depth=4.0)
    part = ShapedPart(name="shelf", region=Region(outline), pockets=(pocket,))
    return with_trimmed_pockets(part).pockets


def test_a_dado_drawn_past_both_edges_ends_at_them() -> None:
    (pocket,) = trimmed(rectangle(100, 60), box(-50, 20, 300, 30))
    assert pocket.depth == 4.0
    assert pocket.region.bounds == pytest.approx((0, 20, 100, 30))
    assert pocket.region.area == pytest.approx(1000, abs=EXACT)
    assert len(pocket.region.outline.segments) == 4


def test_round_edges_stay_arcs() -> None:
    """Of a disc a strip about its middle: by the formula for the area of a circle's segments."""
    (pocket,) = trimmed(circle((0, 0), 30), box(-80, -5, 80, 5))
    area = 2 * (5 * math.sqrt(30**2 - 5**2) + 30**2 * math.asin(5 / 30))
    assert pocket.region.area == pytest.approx(area, abs=EXACT)
    assert sum(isinstance(segment, Arc) for segment in pocket.region.outline.segments) in (2, 3, 4)
    assert len(pocket.region.outline.segments) <= 6


def test_a_pocket_round_a_corner_of_the_part() -> None:
    (pocket,) = trimmed(rectangle(100, 60), box(80, 40, 500, 500))
    assert pocket.region.area == pytest.approx(400, abs=EXACT)


def test_what_the_part_divides_becomes_several() -> None:
    fork = polyline([(0, 0), (100, 0), (100, 60), (70, 60), (70, 20), (30, 20), (30, 60), (0, 60)])
    pockets = trimmed(fork, box(-10, 40, 110, 50))
    assert sorted(pocket.region.bounds[0] for pocket in pockets) == pytest.approx([0, 70])
    assert [pocket.region.area for pocket in pockets] == pytest.approx([300, 300], abs=EXACT)


def test_islands_inside_stay_and_those_over_the_edge_end_there() -> None:
    (pocket,) = trimmed(rectangle(100, 60), box(-50, 10, 300, 50), circle((50, 30), 5))
    assert pocket.region.area == pytest.approx(4000 - math.pi * 25, abs=EXACT)
    assert pocket.region.holes[0].circle() is not None
    (pocket,) = trimmed(rectangle(100, 60), box(-50, 10, 300, 50), box(80, 20, 200, 40))
    assert pocket.region.area == pytest.approx(4000 - 400, abs=EXACT)


@pytest.mark.parametrize(
    "contours",
    [
        (box(20, 20, 60, 30),),  # wholly on the part
        (box(0, 20, 100, 30),),  # along its edges
        (box(-0.005, 20, 100.005, 30),),  # so little past them that it is rounding
        (box(200, 20, 300, 30),),  # off the part: the cuts tell of it
        (polyline([(-20, 20), (60, 40), (60, 20), (-20, 40)]),),  # crossing itself: as well
    ],
)
def test_other_pockets_stay_as_they_are(contours: tuple[Contour, ...]) -> None:
    (pocket,) = trimmed(rectangle(100, 60), *contours)
    assert pocket.region == Region(contours[0], contours[1:])


@pytest.mark.parametrize("turn", range(0, 180, 15))
def test_turned_any_way_it_is_what_lies_on_the_part(turn: int) -> None:
    outline = polyline([(-60, -20), (60, -20), (50, 30), (10, 12), (-55, 25)])
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    strip = polyline([(c * x - s * y, s * x + c * y) for x, y in [(-200, -3), (200, -3), (200, 6), (-200, 6)]])
    meant = to_polygon(outline).intersection(to_polygon(strip))
    found = shapely.union_all([to_polygon(pocket.region) for pocket in trimmed(outline, strip)])
    assert found.symmetric_difference(meant).area < FINE * meant.length
