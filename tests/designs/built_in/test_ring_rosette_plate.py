import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, unary_union

from cutjob.designs.built_in.plate import rounded_rectangle
from cutjob.designs.built_in.ring import ring_region
from cutjob.designs.built_in.rosette import Lobes, rosette_region
from cutjob.geometry.contour import Region
from cutjob.geometry.polygons import to_polygon

from ..order import EXACT, INCH, assert_sound, item, only_problem

# Sums of a few dozen terms of up to 1e7 mm2, each exact to 16 digits.
AREA = 1e-9


def test_a_ring_has_the_area_between_two_circles():
    part = item("ring", outer=4, inner="2 1/2", holes=6, hole="1/4").build.shaped[0]
    assert part.region.area == pytest.approx(math.pi * INCH**2 * (4 - 1.25**2), rel=AREA)
    assert ring_region(outer=100, inner=60).area == pytest.approx(math.pi * (50**2 - 30**2), rel=AREA)
    assert [math.hypot(*hole.at) for hole in part.holes] == pytest.approx([1.625 * INCH] * 6, abs=EXACT)
    assert_sound(part)


def rosette_area(lobes: Lobes) -> float:
    """Closed form: per lobe two triangles middle, centre, notch, and the sector of the lobe beyond them."""
    half = math.pi / lobes.count
    c, q, r = lobes.centre, lobes.notch, lobes.radius
    triangle = c * q * math.sin(half) / 2
    at_centre = math.acos((c * c + r * r - q * q) / (2 * c * r))
    return lobes.count * (2 * triangle + (math.pi - at_centre) * r * r)


@settings(max_examples=60, deadline=None)
@given(st.integers(3, 30), st.floats(10, 500), st.floats(0.02, 0.95))
def test_a_rosette_is_the_union_of_its_lobes_and_middle(count, outer, share):
    half = math.pi / count
    least = 1 / (math.cos(half) + math.sin(half))
    lobes = Lobes(
        count=count, outer=outer, notch=outer * (least + (0.99 - least) * share) if least < 0.98 else 0.99 * outer
    )
    region = rosette_region(lobes)
    for arc in region.outline.segments:
        assert math.dist(arc.start, arc.centre) == pytest.approx(lobes.radius, rel=1e-9)
        assert math.hypot(*arc.start) == pytest.approx(lobes.notch, rel=1e-9)
    assert region.area == pytest.approx(rosette_area(lobes), rel=1e-7)
    # Discs by Shapely, a general-purpose reference, of 4 x 256 chords: their area is short by 7e-6 at most.
    discs = [
        Point(lobes.centre * math.cos(2 * half * n), lobes.centre * math.sin(2 * half * n)).buffer(lobes.radius, 256)
        for n in range(count)
    ]
    middle = to_polygon(region).convex_hull.intersection(Point(0, 0).buffer(lobes.notch * math.cos(half), 256))
    assert unary_union([*discs, middle]).area <= region.area * (1 + 1e-6)
    assert to_polygon(region).is_valid


def test_a_rosette_with_holes():
    part = item("rosette", hole="1/2", lobe_hole="1/4").build.shaped[0]
    assert len(part.holes) == 7
    assert_sound(part)


@pytest.mark.parametrize("radius", [0.0, 10.0, 25.0])
def test_a_rounded_rectangle_has_its_area(radius):
    contour = rounded_rectangle(120.0, 50.0, radius=radius)
    assert Region(contour).area == pytest.approx(120 * 50 - (4 - math.pi) * radius**2, rel=AREA)
    assert contour.bounds == pytest.approx((0, 0, 120, 50))


def test_a_plate_has_corner_holes_and_a_row():
    part = item("plate", length=8, width=4, row_holes=3, corner_hole="1/4", corner_inset="1/2").build.shaped[0]
    assert [hole.at for hole in part.holes[4:]] == [pytest.approx((2 * n * INCH, 2 * INCH)) for n in (1, 2, 3)]
    assert part.holes[2].at == pytest.approx((7.5 * INCH, 3.5 * INCH))
    assert_sound(part)


@pytest.mark.parametrize(
    ("design", "changes", "key", "told"),
    [
        ("ring", {"inner": "4 11/16"}, "inner", "at most 4 5/8 in"),
        ("ring", {"rim": "2 3/8"}, "rim", "no opening"),
        ("ring", {"holes": 4, "hole": "11/16"}, "hole", "a hole of at most 5/8 in"),
        ("ring", {"holes": 50, "hole": "1/4"}, "holes", "run together"),
        ("rosette", {"ratio": 0.5}, "ratio", "a ratio of 0.733 to 0.98"),
        ("rosette", {"notch": "4 7/16", "lobes": 6}, "notch", "too flat to see"),
        ("rosette", {"hole": "3 1/2"}, "hole", "notches"),
        ("rosette", {"lobe_hole": "2"}, "lobe_hole", "at most"),
        ("plate", {"corner_radius": "2"}, "corner_radius", "at most 1 3/4 in"),
        ("plate", {"corner_inset": "1/8", "corner_hole": "1/4"}, "corner_inset", "too near the edge"),
        ("plate", {"corner_inset": "1 11/16", "corner_hole": "1/4"}, "corner_inset", "run together"),
        ("plate", {"row_hole": "3 1/2", "row_holes": 3}, "row_hole", "at most 3 3/8 in"),
        ("plate", {"row_holes": 40}, "row_holes", "at most"),
        ("plate", {"row_holes": 15, "corner_hole": "1/4", "width": "1 1/2"}, "row_holes", "corner holes"),
    ],
)
def test_what_cannot_be_made_is_refused_with_what_would_work(design, changes, key, told):
    problem = only_problem(design, **changes)
    assert problem.place.endswith(f": {key}")
    assert told in str(problem)
