"""Shapes of design files against closed forms, and curves against scipy's natural cubic spline."""

import math

import numpy as np
import pytest
import shapely
from scipy.interpolate import CubicSpline

from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Arc
from cutjob.tolerances import TOLERANCES

from ..order import assert_sound, off_outline
from .files import build, part

# Sums of a few floats of about 1000 mm and their squares.
EXACT = 1e-6


def shape(text, folder, more="", **rest):
    return part(f'[[part]]\nname = "thing"\n{text}\n{more}', folder, **rest)


def test_a_rectangle_with_round_corners(tmp_path):
    one = shape('rectangle = { length = 120, width = "80", round = "10" }', tmp_path)
    assert one.region.area == pytest.approx(120 * 80 - (4 - math.pi) * 100, abs=EXACT)
    assert one.region.bounds == pytest.approx((0, 0, 120, 80))
    assert one.deviation == 0


def test_a_slot_at_an_angle(tmp_path):
    one = shape('slot = { length = 100, width = 30, at = [200, 100], angle = "30" }', tmp_path)
    assert one.region.area == pytest.approx(70 * 30 + math.pi * 15**2, abs=EXACT)
    assert one.region.outline.length == pytest.approx(2 * 70 + math.pi * 30, abs=EXACT)
    reach = 35 * math.cos(math.radians(30)) + 15
    assert one.region.bounds[0] == pytest.approx(200 - reach, abs=EXACT)


@pytest.mark.parametrize("sides", [3, 5, 6, 17])
def test_polygons(tmp_path, sides):
    # A regular polygon's area: n/2 R^2 sin(2 pi/n) by its corners, n r^2 tan(pi/n) by its flats.
    wide = shape(f"polygon = {{ sides = {sides}, across_corners = 90 }}", tmp_path)
    assert wide.region.area == pytest.approx(sides / 2 * 45**2 * math.sin(2 * math.pi / sides), abs=EXACT)
    flat = shape(f"polygon = {{ sides = {sides}, across_flats = 90 }}", tmp_path)
    assert flat.region.area == pytest.approx(sides * 45**2 * math.tan(math.pi / sides), abs=EXACT)


STAR = """
[parameter.points]
kind = "count"
help = "points of the star"
default = 7

[[part]]
name = "star"
path = [
  [60, 0],
  ["25 mm * cos(180 / points)", "25 mm * sin(180 / points)"],
  { repeat = "points - 1", steps = [
    ["60 mm * cos((k + 1) * 360 / points)", "60 mm * sin((k + 1) * 360 / points)"],
    ["25 mm * cos((k + 3/2) * 360 / points)", "25 mm * sin((k + 3/2) * 360 / points)"],
  ] },
]
"""


@pytest.mark.parametrize("points", [3, 5, 7, 12])
def test_a_star_drawn_with_a_repeat(tmp_path, points):
    one = part(STAR, tmp_path, points=points)
    # points x R x r x sin(pi / points): 2 points triangles with two sides R and r.
    assert one.region.area == pytest.approx(points * 60 * 25 * math.sin(math.pi / points), abs=EXACT)


def test_a_ring_with_holes_round_it(tmp_path):
    text = """
opening = [{ circle = { diameter = 120 } }]
hole = [{ at = ["80", 0], diameter = 8, repeat = { count = 9, about = [0, 0] } }]
"""
    one = shape("circle = { diameter = 200 }", tmp_path, text)
    assert one.region.area == pytest.approx(math.pi * (100**2 - 60**2), abs=EXACT)
    assert len(one.holes) == 9
    # The law of cosines: c^2 = 2 R^2 (1 - cos(360/9)).
    chord = math.sqrt(2 * 80**2 * (1 - math.cos(math.radians(40))))
    for here, after in zip(one.holes, one.holes[1:] + one.holes[:1], strict=True):
        assert math.dist(here.at, after.at) == pytest.approx(chord, abs=EXACT)
    assert_sound(one)


def test_a_row_of_holes_along_a_line(tmp_path):
    repeat = "{ count = 4, along = [25, 5] }"
    text = f'hole = [{{ at = [20, 20], diameter = "6 mm", depth = "k * 1 mm + 2 mm", repeat = {repeat} }}]'
    one = shape("rectangle = { length = 150, width = 60 }", tmp_path, text)
    for hole, at in zip(one.holes, [(20, 20), (45, 25), (70, 30), (95, 35)], strict=True):
        assert hole.at == pytest.approx(at)
    assert [hole.depth for hole in one.holes] == pytest.approx([2, 3, 4, 5])


def test_arcs_through_a_point_and_with_a_radius_are_one(tmp_path):
    through = shape("path = [[0, 0], [100, 0], { to = [100, 60], through = [130, 30] }, [0, 60]]", tmp_path)
    radius = shape('path = [[0, 0], [100, 0], { to = [100, 60], radius = 30, turn = "left" }, [0, 60]]', tmp_path)
    for one in (through, radius):
        assert one.region.area == pytest.approx(100 * 60 + math.pi * 30**2 / 2, abs=EXACT)
    long = shape(
        'path = [[0, 0], [100, 0], { to = [100, 60], radius = 50, turn = "left", long = true }, [0, 60]]', tmp_path
    )
    # A circle of 50 less the segment its chord of 60 cuts off: r^2 (a - sin a) / 2 with sin(a / 2) = 30 / 50.
    angle = 2 * math.asin(0.6)
    segment = 50**2 * (angle - math.sin(angle)) / 2
    assert long.region.area == pytest.approx(100 * 60 + math.pi * 50**2 - segment, abs=EXACT)
    inwards = shape('path = [[0, 0], [100, 0], { to = [100, 60], radius = 50, turn = "right" }, [0, 60]]', tmp_path)
    assert inwards.region.area == pytest.approx(100 * 60 - segment, abs=EXACT)


@pytest.mark.parametrize("corner", [(60, 0), (90, 40), (50, 60)])
def test_a_rounded_corner_of_lines(tmp_path, corner):
    x, y = corner
    sharp = shape(f"path = [[0, 0], [{x}, {y}], [0, 90]]", tmp_path).region
    round_one = shape(f"path = [[0, 0], {{ to = [{x}, {y}], round = 7 }}, [0, 90]]", tmp_path).region
    a, b = (math.atan2(-y, -x), math.atan2(90 - y, -x))
    angle = abs((a - b + math.pi) % (2 * math.pi) - math.pi)
    # Of a corner of angle t a radius r takes r^2 (1 / tan(t / 2) - (pi - t) / 2).
    taken = 49 * (1 / math.tan(angle / 2) - (math.pi - angle) / 2)
    assert sharp.area - round_one.area == pytest.approx(taken, abs=EXACT)
    assert_smooth(round_one.outline, kinks=2)


def assert_smooth(outline, *, kinks):
    found = 0
    pairs = zip(outline.segments, outline.segments[1:] + outline.segments[:1], strict=True)
    for here, after in pairs:
        (ux, uy), (vx, vy) = here.direction_at(1.0), after.direction_at(0.0)
        found += abs(ux * vy - uy * vx) > 1e-3 or ux * vx + uy * vy < 0
    assert found == kinks


def test_rounded_corners_between_lines_and_arcs(tmp_path):
    one = shape(
        """path = [
  { to = [0, 0], round = 5 },
  { to = [80, 0], round = 4 },
  { to = [80, 50], through = [100, 25], round = 6 },
  { to = [0, 50], through = [40, 35], round = 8 },
]""",
        tmp_path,
    )
    assert_smooth(one.region.outline, kinks=0)
    assert sum(isinstance(segment, Arc) for segment in one.region.outline.segments) == 6
    assert to_polygon(one.region).is_valid


def test_a_rounded_corner_on_a_curve(tmp_path):
    text = "path = [[0, 0], { to = [120, 0], round = 3 }, [120, 30], { pins = [[60, 50], [0, 30]], round = 6 }]"
    one = shape(text, tmp_path)
    assert_smooth(one.region.outline, kinks=2)
    assert one.deviation == TOLERANCES.curve


def test_a_curve_is_scipys_natural_spline(tmp_path):
    one = shape("path = [[0, 0], [160, 0], [160, 40], { pins = [[110, 62], [70, 41], [0, 50]] }]", tmp_path)
    strip = CubicSpline([0, 70, 110, 160], [50, 41, 62, 40], bc_type="natural")
    for x in np.linspace(0.5, 159.5, 60):
        assert off_outline(one.region, (float(x), float(strip(x)))) <= TOLERANCES.curve + EXACT


def test_a_curve_that_runs_upwards(tmp_path):
    one = shape("path = [[0, 0], [60, 0], { pins = [[75, 50], [55, 110], [60, 160]] }, [0, 160]]", tmp_path)
    strip = CubicSpline([0, 50, 110, 160], [60, 75, 55, 60], bc_type="natural")
    for y in np.linspace(0.5, 159.5, 60):
        assert off_outline(one.region, (float(strip(y)), float(y))) <= TOLERANCES.curve + EXACT


def test_a_mirrored_half_is_bent_round_all_pins(tmp_path):
    one = shape(
        """path = [[0, 0], [90, 0], [90, 20], { pins = [[50, 34], [0, 45]] }]
mirror = { x = 0 }""",
        tmp_path,
    )
    strip = CubicSpline([-90, -50, 0, 50, 90], [20, 34, 45, 34, 20], bc_type="natural")
    for x in np.linspace(-89.5, 89.5, 61):
        assert off_outline(one.region, (float(x), float(strip(x)))) <= TOLERANCES.curve + EXACT
    whole = to_polygon(one.region)
    turned = shapely.transform(whole, lambda points: points * [-1, 1])
    assert whole.symmetric_difference(turned).area < 1e-6
    assert one.region.area == pytest.approx(float(strip.integrate(-90, 90)), abs=180 * TOLERANCES.curve)


def test_a_level_mirror_line(tmp_path):
    one = shape("path = [[0, 5], [0, 30], [50, 40], [50, 5]]\nmirror = { y = 5 }", tmp_path)
    assert one.region.area == pytest.approx(2 * 50 * 30, abs=EXACT)
    assert one.region.bounds == pytest.approx((0, -30, 50, 40))


def test_pieces_of_a_series_and_the_lists(tmp_path):
    text = """
[parameter.tiers]
kind = "count"
help = "how many"
default = 5

[parameter.longest]
kind = "length"
help = "the lowest"
default = 300

[value]
step = "9/8 in"

[curve.swell]
pins = [[0, "40 mm"], [2, "70 mm"], [4, "30 mm"]]

[series.length]
count = "tiers"
each = "longest - i * step"

[[part]]
name = "slat"
count = "tiers"
when = "i > 0"
rectangle = { length = "length(i)", width = "swell(i)" }

[[sawn]]
name = "base"
length = "length(0) / 2"
note = "drill {step} deep"

[[rod]]
name = "rod"
diameter = "10"
length = "sum(length)"

[[bought]]
name = "bead"
count = "2 * tiers"

[fact]
"over all" = "sum(length)"
"""
    made = build(text, tmp_path)
    strip = CubicSpline([0, 2, 4], [40, 70, 30], bc_type="natural")
    lengths = [300 - i * 28.575 for i in range(5)]
    assert [one.name for one in made.shaped] == [f"slat {i + 1}" for i in range(1, 5)]
    for i, one in enumerate(made.shaped, start=1):
        assert one.region.bounds[2:] == pytest.approx((lengths[i], float(strip(i))), abs=EXACT)
    assert made.sawn[0].length == pytest.approx(150)
    assert made.sawn[0].note == "drill 28.575 mm deep"
    assert made.rods[0].length == pytest.approx(sum(lengths))
    assert (made.bought[0].name, made.bought[0].count) == ("bead", 10)
    assert dict(made.facts) == {"over all": pytest.approx(sum(lengths))}
    assert len(build(text, tmp_path, tiers=2, longest="1 m").shaped) == 1


def test_equal_steps_and_one_alone(tmp_path):
    text = """
[parameter.n_of]
kind = "count"
help = "how many"
default = 4

[[rod]]
name = "rod"
count = "n_of"
diameter = 8
length = "graded(300 mm, 120 mm)"
"""
    assert [rod.length for rod in build(text, tmp_path).rods] == pytest.approx([300, 240, 180, 120])
    assert [rod.length for rod in build(text, tmp_path, n_of=1).rods] == [300]


def test_inches_and_mm_come_to_the_same(tmp_path):
    inches = part(
        '[[part]]\nname = "a"\nrectangle = { length = "5 1/2", width = 2 }\n',
        tmp_path,
        head='units = "in"\nsummary = "a"\n',
    )
    assert inches.region.bounds == pytest.approx((0, 0, 139.7, 50.8))


def test_strips_are_pieces_of_their_section(tmp_path):
    text = """
[[strip]]
name = "slat {i + 1}"
count = 3
width = 20
thickness = "40"
length = "400 mm - 50 mm * i"
note = "ease the ends"
"""
    strips = build(text, tmp_path).strips
    assert [strip.name for strip in strips] == ["slat 1", "slat 2", "slat 3"]
    assert [strip.length for strip in strips] == pytest.approx([400, 350, 300])
    assert {(strip.section, strip.note) for strip in strips} == {((40.0, 20.0), "ease the ends")}
