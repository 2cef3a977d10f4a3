import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.designs.built_in.graded_base import wood_around
from cutjob.designs.built_in.star import star_region, tip_degrees
from cutjob.errors import InputError
from cutjob.geometry.contour import Region, rectangle
from cutjob.parts.part import Hole
from cutjob.tolerances import TOLERANCES

from ..order import INCH, assert_sound, item, only_problem

# A sum of some dozens of triangles of up to 1e7 mm2, each exact to 16 digits.
AREA = 1e-9
LEAST_WALL = INCH / 16


def hole_area(holes: tuple[Hole, ...]) -> float:
    return sum(math.pi * hole.diameter**2 / 4 for hole in holes)


def test_a_round_has_the_area_of_a_circle():
    part = item("round", diameter=4, hole=1, ring_holes=6, ring_diameter="2 1/2", ring_hole="1/2").build.shaped[0]
    assert part.region.area == pytest.approx(math.pi * (2 * INCH) ** 2, rel=AREA)
    assert part.region.outline.circle() is not None
    assert len(part.holes) == 7
    assert hole_area(part.holes) == pytest.approx(math.pi * INCH**2 * (0.5**2 + 6 * 0.25**2), rel=AREA)
    for hole in part.holes[1:]:
        assert math.hypot(*hole.at) == pytest.approx(1.25 * INCH, rel=AREA)
    # Neighbours on a ring of six stand a radius apart.
    assert math.dist(part.holes[1].at, part.holes[2].at) == pytest.approx(1.25 * INCH, rel=AREA)
    assert_sound(part)


@pytest.mark.parametrize(
    ("changes", "key", "told"),
    [
        ({"hole": "4 11/16"}, "hole", "a hole of at most 4 5/8 in"),
        ({"ring_holes": 3, "ring_diameter": "4 1/2", "ring_hole": "1/4"}, "ring_diameter", "at least 4 7/8 in"),
        ({"ring_holes": 3, "ring_diameter": "1/2", "ring_hole": "1/4"}, "ring_diameter", "middle hole"),
        ({"ring_holes": 30, "ring_diameter": "3", "ring_hole": "1/2"}, "ring_holes", "at most 16 holes"),
        ({"ring_holes": 3, "ring_hole": "1/2"}, "ring_diameter", "is not given for a ring of 3"),
        ({"ring_diameter": "3"}, "ring_diameter", "ring_holes"),
    ],
)
def test_a_round_without_wood_is_refused(changes, key, told):
    problem = only_problem("round", **changes)
    assert problem.place.endswith(f": {key}")
    assert told in str(problem)


def test_the_advice_for_a_ring_holds_to_the_last_hole():
    changes = {"ring_diameter": "3", "ring_hole": "1/2"}
    assert len(item("round", ring_holes=16, **changes).build.shaped[0].holes) == 17
    assert only_problem("round", ring_holes=17, **changes)


@given(
    diameter=st.integers(10, 300),
    hole=st.integers(1, 300),
    count=st.integers(0, 20),
    ring=st.integers(1, 300),
    each=st.integers(1, 60),
)
@settings(max_examples=60, deadline=None)
def test_a_round_is_refused_or_has_wood_everywhere(diameter, hole, count, ring, each):
    ring_values = {"ring_holes": count, "ring_diameter": ring, "ring_hole": each} if count else {}
    try:
        part = item("round", unit="mm", diameter=diameter, hole=hole, **ring_values).build.shaped[0]
    except InputError:
        return
    for hole_here in part.holes:
        assert wood_around(part.region, hole_here) >= LEAST_WALL - 3 * TOLERANCES.chord
    for index, a in enumerate(part.holes):
        for b in part.holes[index + 1 :]:
            assert math.dist(a.at, b.at) - (a.diameter + b.diameter) / 2 >= LEAST_WALL - 1e-5


@given(st.integers(3, 40), st.floats(20, 500), st.floats(0.1, 0.98))
def test_a_star_has_the_area_of_its_triangles(points, outer, ratio):
    region = star_region(points=points, outer=outer, inner=outer * ratio)
    assert region.area == pytest.approx(points * outer * outer * ratio / 4 * math.sin(math.pi / points), rel=AREA)


def test_a_star_of_lines_that_cross_has_the_known_ratio_and_tips_of_36_degrees():
    # The pentagram: inner over outer radius 1/phi^2 = 0.381966, tips of 36 degrees.
    # Euclid, Elements XIII.8, from memory.
    inner = 100 * (2 / (1 + math.sqrt(5))) ** 2
    assert tip_degrees(points=5, outer=100, inner=inner) == pytest.approx(36, abs=1e-9)
    corners = [segment.start for segment in star_region(points=5, outer=100, inner=inner).outline.segments]
    assert corners.count(max(corners, key=lambda at: at[1])) == 1
    assert max(corners, key=lambda at: at[1]) == pytest.approx((0, 50), abs=1e-9)
    # Two tips and the two notches between them lie on one line.
    first, notch, far = corners[0], corners[1], corners[3]
    cross = (notch[0] - first[0]) * (far[1] - first[1]) - (notch[1] - first[1]) * (far[0] - first[0])
    assert cross == pytest.approx(0, abs=1e-9)


def test_a_star_stands_with_a_notch_straight_down():
    for points in range(3, 12):
        corners = [segment.start for segment in star_region(points=points, outer=100, inner=40).outline.segments]
        assert min(math.dist(corner, (0, -20)) for corner in corners) < 1e-9


@pytest.mark.parametrize(
    ("changes", "key", "told"),
    [
        ({"inner": "4 1/4"}, "inner", "inner diameter of at most 3 13/16 in, or more points"),
        ({"ratio": 0.9}, "ratio", "a ratio of at most 0.848, or more points"),
        ({"hole": "2 3/16"}, "hole", "a hole of at most 2 1/8 in, or an inner diameter of at least 2 5/16 in"),
        ({"inner": "1", "ratio": 0.5}, "ratio", "give one of inner or ratio"),
    ],
)
def test_a_star_without_points_or_wood_is_refused(changes, key, told):
    problem = only_problem("star", **changes)
    assert problem.place.endswith(f": {key}")
    assert told in str(problem)


def test_the_inner_diameter_replaces_the_sizes_ratio():
    part = item("star", inner=2, points=5, outer=4).build.shaped[0]
    assert part.region == star_region(points=5, outer=4 * INCH, inner=2 * INCH)


def test_slender_tips_are_warned_of():
    (warning,) = item("star", points=12, ratio=0.12, hole="0.5 mm").build.warnings
    assert "break" in warning


@given(st.integers(3, 30), st.integers(15, 300), st.floats(0.1, 0.98), st.integers(1, 100))
@settings(max_examples=60, deadline=None)
def test_a_star_is_refused_or_has_wood_everywhere(points, outer, ratio, hole):
    try:
        part = item("star", unit="mm", points=points, outer=outer, ratio=ratio, hole=hole).build.shaped[0]
    except InputError:
        return
    assert_sound(part)
    assert wood_around(part.region, part.holes[0]) >= LEAST_WALL - 3 * TOLERANCES.chord


def test_the_wood_beside_a_hole_is_measured():
    plate = Region(rectangle(40, 20))
    assert wood_around(plate, Hole(at=(15, 10), diameter=8)) == pytest.approx(6, abs=2 * TOLERANCES.chord)
    assert wood_around(plate, Hole(at=(15, 3), diameter=8)) < 0
    assert wood_around(plate, Hole(at=(15, -30), diameter=8)) < -30


@pytest.mark.parametrize("design", ["round", "star"])
def test_a_hole_of_nothing_is_no_hole(design):
    (part,) = item(design, hole=0).build.shaped
    assert part.holes == ()


def test_a_base_with_sockets_and_a_counterbored_hole():
    """For a round base that takes five half balls on pegs, and a screw from below."""
    part = item(
        "round", diameter=5, hole="3/16", counterbore="1/2", counterbore_depth="1/4",
        ring_holes=5, ring_diameter=3, ring_hole="3/8", ring_depth="3/8",
    ).build.shaped[0]  # fmt: skip
    middle, *ring = part.holes
    assert (middle.diameter, middle.depth) == (pytest.approx(3 / 16 * INCH), None)
    wide, narrow = middle.steps
    assert (wide.diameter, wide.depth) == (pytest.approx(INCH / 2), pytest.approx(INCH / 4))
    assert narrow.depth is None
    assert {(round(hole.diameter, 6), round(hole.depth, 6)) for hole in ring} == {(9.525, 9.525)}
    assert len(part.round_holes) == 7


@pytest.mark.parametrize(
    ("changes", "key", "told"),
    [
        ({"hole": "1/4", "counterbore": "1/2"}, "counterbore_depth", "is not given"),
        ({"hole": "1/4", "counterbore_depth": "1/4"}, "counterbore", "is not given"),
        ({"hole": "1/2", "counterbore": "1/2", "counterbore_depth": "1/4"}, "counterbore", "no wider than the hole"),
        ({"hole": "1/4", "counterbore": 1, "counterbore_depth": "9/16"}, "counterbore_depth", "at most 17/32 in"),
        (
            {"ring_holes": 3, "ring_diameter": 3, "ring_hole": "1/2", "ring_depth": "5/8"},
            "ring_depth",
            "leaves less than",
        ),
        ({"ring_depth": "1/4"}, "ring_depth", "ring_holes"),
        (
            {"counterbore": 3, "counterbore_depth": "1/4", "ring_holes": 3, "ring_diameter": 3, "ring_hole": "1/2"},
            "ring_diameter",
            "middle hole",
        ),
    ],
)
def test_sockets_and_counterbores_without_wood_are_refused(changes, key, told):
    problem = only_problem("round", **changes)
    assert problem.place.endswith(f": {key}")
    assert told in str(problem)
