import math
import random

import ezdxf
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.special import ellipe

from cutjob.drawings.outlines import read_outlines, regions
from cutjob.errors import InputError
from cutjob.geometry.segment import Arc, Line
from cutjob.tolerances import TOLERANCES
from tests.drawings.files import (
    INCH,
    MM,
    ROUNDING,
    add_loose,
    area,
    areas,
    contour_of,
    farthest,
    new_dxf,
    only,
    outlines,
    samples,
    saved,
)

FEW = settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


class TestEntities:
    def test_circle_is_two_exact_arcs(self, tmp_path):
        document, space = new_dxf()
        space.add_circle((10, 20), 7)
        contour = only(saved(document, tmp_path))
        centre, radius = contour.circle()
        assert centre == (10, 20)
        assert radius == 7
        assert read_outlines(tmp_path / "drawing.dxf").contours[0].deviation == 0

    def test_arc_and_line_make_a_half_disc(self, tmp_path):
        document, space = new_dxf()
        space.add_arc((0, 0), 5, 0, 180)
        space.add_line((-5, 0), (5, 0))
        assert area(only(saved(document, tmp_path))) == pytest.approx(math.pi * 25 / 2, abs=ROUNDING)

    def test_bulges(self, tmp_path):
        # DXF reference: bulge = tan(included angle / 4); 1 is a half circle, tan(22.5 degrees) a quarter.
        document, space = new_dxf()
        space.add_lwpolyline([(0, 0, 1), (10, 0, 0)], format="xyb", close=True)
        quarter = math.tan(math.radians(90) / 4)
        space.add_lwpolyline([(50, 0, quarter), (60, 10, 0), (50, 10, 0)], format="xyb", close=True)
        half_disc, quarter_disc = math.pi * 25 / 2, math.pi * 100 / 4
        corner = 100 - quarter_disc  # the quarter bows outward from the corner opposite its centre
        found = areas(saved(document, tmp_path))
        assert found == pytest.approx(sorted([half_disc, 100 - corner]), abs=ROUNDING)

    def test_old_polylines(self, tmp_path):
        document = ezdxf.new("R12")
        space = document.modelspace()
        space.add_polyline2d([(0, 0, 1), (10, 0, 0)], format="xyb", close=True)
        space.add_polyline3d([(50, 0, 3), (60, 0, 3), (60, 10, 3), (50, 10, 3)], close=True)
        found = areas(saved(document, tmp_path), units="mm")
        assert found == pytest.approx([math.pi * 25 / 2, 100], abs=ROUNDING)

    def test_ellipse(self, tmp_path):
        document, space = new_dxf()
        space.add_ellipse((5, 5), (30, 40), 0.4)
        contour = only(saved(document, tmp_path))
        perimeter = 4 * 50 * ellipe(1 - 0.4**2)
        assert area(contour) == pytest.approx(math.pi * 50 * 20, abs=TOLERANCES.curve * perimeter)
        assert contour.length == pytest.approx(perimeter, abs=math.tau * TOLERANCES.curve)

    def test_part_of_an_ellipse_closed_by_a_line(self, tmp_path):
        document, space = new_dxf()
        space.add_ellipse((0, 0), (20, 0), 0.5, 0, math.pi)
        space.add_line((20, 0), (-20, 0))
        assert area(only(saved(document, tmp_path))) == pytest.approx(math.pi * 20 * 10 / 2, abs=0.003 * 60)

    def test_rational_spline_is_a_circle(self, tmp_path):
        # A quadratic NURBS with weights 1 and cos 45 degrees is an exact circle (any text on NURBS).
        document, space = new_dxf()
        points = [(10, 0), (10, 10), (0, 10), (-10, 10), (-10, 0), (-10, -10), (0, -10), (10, -10), (10, 0)]
        knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
        w = math.sqrt(0.5)
        spline = space.add_rational_spline([(x, y, 0) for x, y in points], [1, w, 1, w, 1, w, 1, w, 1], degree=2)
        spline.knots = knots
        contour = only(saved(document, tmp_path))
        circle = [(10 * math.cos(t / 50), 10 * math.sin(t / 50)) for t in range(315)]
        assert farthest(circle, contour) <= TOLERANCES.curve
        assert area(contour) == pytest.approx(math.pi * 100, abs=TOLERANCES.curve * 63)

    def test_spline_through_fit_points(self, tmp_path):
        document, space = new_dxf()
        fit = [(0, 0, 0), (20, 15, 0), (40, 0, 0)]
        space.add_spline(fit)
        space.add_line((40, 0), (0, 0))
        contour = only(saved(document, tmp_path))
        assert farthest([(x, y) for x, y, _ in fit], contour) <= TOLERANCES.curve

    def test_closed_spline_of_control_points(self, tmp_path):
        document, space = new_dxf()
        control = [(0, 0), (30, -10), (40, 30), (10, 40), (-15, 20)]
        spline = space.add_spline()
        spline.set_closed([(x, y, 0) for x, y in control])
        contour = only(saved(document, tmp_path))
        reference = [(p.x, p.y) for p in spline.construction_tool().approximate(200)]  # ezdxf evaluates it itself
        assert farthest(reference, contour) <= TOLERANCES.curve

    @pytest.mark.parametrize("turn", [0.1, 90, 359.9])
    def test_full_turn_where_angles_are_equal(self, tmp_path, turn):
        document, space = new_dxf()
        space.add_arc((0, 0), 5, turn, turn)
        assert area(only(saved(document, tmp_path))) == pytest.approx(math.pi * 25, abs=ROUNDING)


class TestPlacing:
    def test_seen_from_below(self, tmp_path):
        # Extrusion (0, 0, -1): x runs the other way (DXF reference, arbitrary axis algorithm).
        document, space = new_dxf()
        down = {"extrusion": (0, 0, -1)}
        space.add_circle((-50, 20), 5, dxfattribs=down)
        space.add_lwpolyline([(0, 0), (10, 0), (0, 20)], close=True, dxfattribs={**down, "elevation": 4})
        space.add_arc((0, 50), 5, 0, 90, dxfattribs=down)
        space.add_line((0, 50), (-5, 50))
        space.add_line((0, 50), (0, 55))
        found = {c.contour.bounds: area(c.contour) for c in read_outlines(saved(document, tmp_path)).contours}
        boxes = {tuple(round(v, 6) + 0.0 for v in box): size for box, size in found.items()}
        assert boxes[45, 15, 55, 25] == pytest.approx(math.pi * 25, abs=ROUNDING)
        assert boxes[-10, 0, 0, 20] == pytest.approx(100, abs=ROUNDING)
        assert boxes[-5, 50, 0, 55] == pytest.approx(math.pi * 25 / 4, abs=ROUNDING)

    def test_one_height_is_no_matter_two_are(self, tmp_path):
        document, space = new_dxf()
        space.add_circle((0, 0, 30), 5)
        assert area(only(saved(document, tmp_path))) == pytest.approx(math.pi * 25, abs=ROUNDING)
        space.add_line((0, 0, 0), (10, 0, 5))
        space.add_circle((40, 0), 5, dxfattribs={"extrusion": (0, 1, 1)})
        with pytest.raises(InputError) as caught:
            read_outlines(saved(document, tmp_path))
        assert [p.message[:12] for p in caught.value.problems] == ["is not flat:"] * 2

    @pytest.mark.parametrize(
        ("scale_x", "scale_y", "rotation"), [(2, 2, 30), (-1, 1, 0), (3, 1, 45), (1, -2, 10), (-1, -1, 77)]
    )
    def test_blocks_scale_areas(self, tmp_path, scale_x, scale_y, rotation):
        document, space = new_dxf()
        block = document.blocks.new("SHAPE", base_point=(3, 4))
        block.add_circle((10, 10), 5)
        block.add_lwpolyline([(20, 0, 0.3), (30, 0, 0), (30, 10, -0.2)], format="xyb", close=True)
        space.add_blockref("SHAPE", (100, 50), dxfattribs={"xscale": scale_x, "yscale": scale_y, "rotation": rotation})
        plain = contour_of([(20, 0, 0.3), (30, 0, 0), (30, 10, -0.2)])
        factor = abs(scale_x * scale_y)
        found = areas(saved(document, tmp_path))
        expected = sorted([math.pi * 25 * factor, area(plain) * factor])
        slack = TOLERANCES.curve * 250 if abs(scale_x) != abs(scale_y) else ROUNDING
        assert found == pytest.approx(expected, abs=slack)

    def test_blocks_in_blocks_repeated_and_mirrored(self, tmp_path):
        document, space = new_dxf()
        inner = document.blocks.new("INNER")
        inner.add_circle((10, 0), 2)
        outer = document.blocks.new("OUTER")
        outer.add_blockref("INNER", (0, 0), dxfattribs={"rotation": 90})
        outer.add_blockref("INNER", (20, 0), dxfattribs={"xscale": -1})
        grid = {"row_count": 2, "column_count": 3, "row_spacing": 100, "column_spacing": 50}
        space.add_blockref("OUTER", (5, 5), dxfattribs={**grid, "xscale": 2, "yscale": 2})
        centres = sorted(c.contour.circle()[0] for c in read_outlines(saved(document, tmp_path)).contours)
        expected = sorted(
            (5 + 50 * i + x, 5 + 100 * j + y) for i in range(3) for j in range(2) for x, y in [(0, 20), (20, 0)]
        )
        assert [v for c in centres for v in c] == pytest.approx([v for c in expected for v in c], abs=ROUNDING)

    @given(outlines(), st.floats(0, 360), st.booleans())
    @FEW
    def test_turned_and_mirrored_block_keeps_arcs_and_area(self, tmp_path, vertices, degrees, mirror):
        document, space = new_dxf()
        document.blocks.new("SHAPE").add_lwpolyline(vertices, format="xyb", close=True)
        space.add_blockref("SHAPE", (1, 2), dxfattribs={"rotation": degrees, "xscale": -1 if mirror else 1})
        plain, contour = contour_of(vertices), only(saved(document, tmp_path))
        assert area(contour) == pytest.approx(area(plain), rel=ROUNDING)
        assert contour.length == pytest.approx(plain.length, rel=ROUNDING)
        assert sum(isinstance(s, Arc) for s in contour.segments) == sum(isinstance(s, Arc) for s in plain.segments)


class TestRoundTrip:
    @given(outlines(), st.booleans())
    @FEW
    def test_polyline(self, tmp_path, vertices, turned):
        contour = contour_of(vertices)
        document, space = new_dxf()
        if turned:
            points = [
                (s.start[0], s.start[1], math.tan(s.sweep / 4) if isinstance(s, Arc) else 0)
                for s in contour.reversed().segments
            ]
        else:
            points = vertices
        space.add_lwpolyline(points, format="xyb", close=True)
        assert_same(only(saved(document, tmp_path)), contour)

    @given(outlines(), st.randoms(use_true_random=False))
    @FEW
    def test_loose_lines_and_arcs_in_any_order(self, tmp_path, vertices, rng):
        contour = contour_of(vertices)
        order = list(range(len(contour.segments)))
        rng.shuffle(order)
        document, space = new_dxf()
        add_loose(space, contour, order, [rng.random() < 0.5 for _ in order])
        assert_same(only(saved(document, tmp_path)), contour)

    @given(outlines())
    @FEW
    def test_inches_equal_millimetres(self, tmp_path, vertices):
        document, space = new_dxf(INCH)
        space.add_lwpolyline([(x / 25.4, y / 25.4, b) for x, y, b in vertices], format="xyb", close=True)
        assert_same(only(saved(document, tmp_path)), contour_of(vertices))


def assert_same(found, expected):
    assert area(found) == pytest.approx(area(expected), rel=ROUNDING)
    assert found.length == pytest.approx(expected.length, rel=ROUNDING)
    assert farthest(samples(expected), found) <= ROUNDING
    assert farthest(samples(found), expected) <= ROUNDING


class TestUnits:
    @pytest.mark.parametrize(("code", "mm"), [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0)])
    def test_named_by_the_file(self, tmp_path, code, mm):
        # $INSUNITS 1 inch, 2 foot, 4 mm, 5 cm, 6 m (DXF reference); 1 in = 25.4 mm exactly.
        document, space = new_dxf(code)
        space.add_circle((0, 0), 1)
        assert only(saved(document, tmp_path)).circle()[1] == pytest.approx(mm, rel=1e-12)

    def test_none_must_be_stated(self, tmp_path):
        document, space = new_dxf(0)
        space.add_circle((0, 0), 1)
        path = saved(document, tmp_path)
        with pytest.raises(InputError, match="does not state its units") as caught:
            read_outlines(path)
        assert 'units = "in"' in caught.value.problems[0].advice
        assert only(path, units="in").circle()[1] == 25.4

    def test_stated_ones_win(self, tmp_path):
        document, space = new_dxf(INCH)
        space.add_circle((0, 0), 1)
        drawing = read_outlines(saved(document, tmp_path), units="mm")
        assert drawing.contours[0].contour.circle()[1] == 1
        assert drawing.units == "mm"


class TestLeftOut:
    def test_hidden_layers_and_what_is_no_outline(self, tmp_path):
        document, space = new_dxf()
        document.layers.add("FROZEN").freeze()
        document.layers.add("OFF").off()
        space.add_circle((0, 0), 5)
        space.add_circle((0, 0), 6, dxfattribs={"layer": "FROZEN"})
        space.add_circle((0, 0), 7, dxfattribs={"layer": "OFF"})
        space.add_circle((0, 0), 8, dxfattribs={"invisible": 1})
        space.add_text("porch")
        space.add_mtext("porch")
        space.add_point((1, 1))
        hatch = space.add_hatch()
        hatch.paths.add_polyline_path([(0, 0), (1, 0), (1, 1)], is_closed=True)
        drawing = read_outlines(saved(document, tmp_path))
        assert len(drawing.contours) == 1
        assert set(drawing.ignored) == {
            'CIRCLE on layer "FROZEN", which is frozen',
            'CIRCLE on layer "OFF", which is off',
            "CIRCLE that is invisible",
            "HATCH",
            "MTEXT",
            "POINT",
            "TEXT",
        }

    def test_layer_zero_in_a_block_is_the_layer_of_the_block(self, tmp_path):
        document, space = new_dxf()
        document.layers.add("OFF").off()
        block = document.blocks.new("SHAPE")
        block.add_circle((0, 0), 5)
        block.add_circle((20, 0), 6, dxfattribs={"layer": "own"})
        space.add_blockref("SHAPE", (0, 0), dxfattribs={"layer": "OFF"})
        space.add_blockref("SHAPE", (0, 50), dxfattribs={"layer": "seat"})
        layers = sorted(drawn.layer for drawn in read_outlines(saved(document, tmp_path)).contours)
        assert layers == ["own", "own", "seat"]

    def test_layers_chosen(self, tmp_path):
        document, space = new_dxf()
        space.add_circle((0, 0), 5, dxfattribs={"layer": "parts"})
        space.add_circle((0, 0), 9, dxfattribs={"layer": "notes"})
        path = saved(document, tmp_path)
        drawing = read_outlines(path, layers=["parts"])
        assert [drawn.layer for drawn in drawing.contours] == ["parts"]
        assert drawing.ignored == ('everything on layer "notes"',)
        with pytest.raises(InputError, match='nothing on a layer "part"') as caught:
            read_outlines(path, layers=["part"])
        assert '"parts", "notes"' in caught.value.problems[0].advice

    def test_paper_pages(self, tmp_path):
        document, _ = new_dxf()
        document.layout("Layout1").add_circle((0, 0), 5)
        with pytest.raises(InputError, match="only in its paper layouts"):
            read_outlines(saved(document, tmp_path))


class TestOutsideReader:
    """GDAL's DXF driver, read through pyogrio, as an independent reader."""

    def test_straight_outlines_and_blocks(self, tmp_path):
        raw = pytest.importorskip("pyogrio.raw", reason="pyogrio with GDAL is not installed")
        document, space = new_dxf()
        rng = random.Random(4)
        block = document.blocks.new("SHAPE", base_point=(1, 2))
        for _ in range(4):
            points = [(rng.uniform(20, 30) * math.cos(k), rng.uniform(20, 30) * math.sin(k)) for k in range(6)]
            at = (rng.uniform(0, 1000), rng.uniform(0, 1000))
            block.add_lwpolyline([(x + at[0], y + at[1]) for x, y in points], close=True)
        attributes = {"xscale": -1.5, "yscale": 0.5, "rotation": 33}
        space.add_blockref("SHAPE", (12, 34), dxfattribs=attributes)
        path = saved(document, tmp_path)
        _, _, geometry, _ = raw.read(path)
        lines = [part for g in shapely.from_wkb(geometry) for part in shapely.get_parts(g)]
        theirs = sorted((shapely.Polygon(line.coords) for line in lines), key=lambda p: p.bounds)
        ours = sorted(
            (shapely.Polygon(drawn.contour.points(0.01)) for drawn in read_outlines(path).contours),
            key=lambda p: p.bounds,
        )
        assert len(ours) == len(theirs) == 4
        for a, b in zip(ours, theirs, strict=True):
            assert a.area == pytest.approx(b.area, rel=ROUNDING)
            assert shapely.hausdorff_distance(a, b) <= ROUNDING


class TestRegions:
    def test_parts_holes_and_parts_in_holes(self, tmp_path):
        document, space = new_dxf()
        for radius in (40, 30, 20, 10):
            space.add_circle((0, 0), radius)
        space.add_circle((-35, 0), 2)
        space.add_circle((100, 0), 5)
        found = regions(read_outlines(saved(document, tmp_path)))
        sizes = [(round(region.area / math.pi, 6), len(region.holes)) for region in found]
        assert sizes == [(1600 - 900 - 4, 2), (400 - 100, 1), (25, 0)]
        assert all(region.outline.signed_area > 0 for region in found)
        assert all(hole.signed_area < 0 for region in found for hole in region.holes)

    def test_order_is_left_to_right_then_upward_then_larger(self, tmp_path):
        document, space = new_dxf()
        rectangles = [(50, 0, 10, 10), (0, 30, 10, 10), (0, 0, 10, 10), (0, 0, 60, -9), (50, 0, 10, 20)]
        for x, y, w, h in rectangles[:3]:
            space.add_lwpolyline([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], close=True)
        found = regions(read_outlines(saved(document, tmp_path)))
        assert [region.bounds[:2] for region in found] == [(0, 0), (0, 30), (50, 0)]

    def test_lines_stay_lines(self, tmp_path):
        document, space = new_dxf(MM)
        space.add_lwpolyline([(0, 0), (10, 0), (0, 10)], close=True)
        assert all(isinstance(s, Line) for s in only(saved(document, tmp_path)).segments)
