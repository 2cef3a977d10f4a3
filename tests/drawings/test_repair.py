import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cutjob.drawings.outlines import read_outlines, regions
from cutjob.drawings.repair import mended
from cutjob.errors import InputError
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Arc, Line
from cutjob.tolerances import TOLERANCES
from tests.drawings.files import (
    INCH,
    ROUNDING,
    area,
    areas,
    contour_of,
    farthest,
    new_dxf,
    only,
    outlines,
    ring,
    samples,
    saved,
)

SQUARE = [(0, 0), (100, 0), (100, 100), (0, 100)]
FEW = settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def problems(path, **options):
    with pytest.raises(InputError) as caught:
        read_outlines(path, **options)
    return [str(problem) for problem in caught.value.problems]


class TestGaps:
    @pytest.mark.parametrize("gap", [1e-7, 0.001, 0.09])
    def test_small_ones_are_closed(self, tmp_path, gap):
        document, space = new_dxf()
        for start, end in ring(SQUARE):
            dx, dy = (end[0] - start[0]) / 100, (end[1] - start[1]) / 100
            space.add_line(start, (end[0] - gap * dx, end[1] - gap * dy))
        drawing = read_outlines(saved(document, tmp_path))
        assert area(drawing.contours[0].contour) == pytest.approx(10000, abs=400 * gap + ROUNDING)
        assert drawing.contours[0].deviation <= gap + ROUNDING
        assert bool(drawing.notes) == (gap > 0.01)

    def test_lines_are_carried_on_to_where_they_meet(self, tmp_path):
        document, space = new_dxf()
        space.add_lwpolyline([(0, 0), (100, 0), (100, 99.95)])
        space.add_lwpolyline([(99.95, 100), (0, 100), (0, 0)])
        assert area(only(saved(document, tmp_path))) == pytest.approx(10000, abs=ROUNDING)

    def test_large_ones_are_told_with_both_ends(self, tmp_path):
        document, space = new_dxf()
        space.add_lwpolyline([(0, 0), (100, 0), (100, 100), (0.5, 0.2)])
        (text,) = problems(saved(document, tmp_path))
        assert "is not closed: it runs from (0, 0) mm to (0.5, 0.2) mm, 0.539 mm apart" in text
        assert "LWPOLYLINE" in text

    def test_places_are_in_the_files_units_and_mm(self, tmp_path):
        document, space = new_dxf(INCH)
        space.add_line((1, 2), (3, 2.5))
        (text,) = problems(saved(document, tmp_path))
        assert "(1, 2) in = (25.4, 50.8) mm" in text
        assert "(3, 2.5) in = (76.2, 63.5) mm" in text

    def test_arcs_are_bent_a_little(self, tmp_path):
        document, space = new_dxf()
        space.add_arc((0, 0), 50, 0, 180)
        space.add_arc((0, -0.05), 50, 180, 360)
        contour = only(saved(document, tmp_path))
        assert all(isinstance(segment, Arc) for segment in contour.segments)
        circle = [(50 * math.cos(t / 20), 50 * math.sin(t / 20)) for t in range(126)]
        assert farthest(circle, contour) <= 0.05 + ROUNDING

    def test_an_almost_full_arc_closes_itself(self, tmp_path):
        document, space = new_dxf()
        space.add_arc((0, 0), 50, 0.05, 360)
        assert area(only(saved(document, tmp_path))) == pytest.approx(math.pi * 2500, abs=0.05 * 314)

    @given(outlines(), st.randoms(use_true_random=False))
    @FEW
    def test_ends_shaken_by_less_than_the_limit(self, tmp_path, vertices, rng):
        document, space = new_dxf()
        contour = contour_of([(x, y, 0.0) for x, y, _ in vertices])

        def shaken(point):
            turn, far = rng.uniform(0, math.tau), rng.uniform(0, 0.03)
            return point[0] + far * math.cos(turn), point[1] + far * math.sin(turn)

        for segment in contour.segments:
            space.add_line(shaken(segment.start), shaken(segment.end))
        found = only(saved(document, tmp_path))
        assert len(found.segments) == len(contour.segments)
        assert farthest(samples(contour), found) <= 0.1


class TestOpenLines:
    def test_kept_on_layers_for_marks(self, tmp_path):
        document, space = new_dxf()
        space.add_circle((0, 0), 5)
        space.add_lwpolyline([(20, 0), (30, 0), (30, 10)], dxfattribs={"layer": "marks"})
        path = saved(document, tmp_path)
        drawing = read_outlines(path, open_layers=["marks"])
        (mark,) = drawing.open_paths
        assert mark.layer == "marks"
        assert mark.segments == (Line((20, 0), (30, 0)), Line((30, 0), (30, 10)))
        assert len(problems(path)) == 1

    def test_a_tail_is_told(self, tmp_path):
        document, space = new_dxf()
        for start, end in ring(SQUARE):
            space.add_line(start, end)
        space.add_line((0, 0), (-20, 0))
        (text,) = problems(saved(document, tmp_path))
        assert "20.000 mm apart" in text

    def test_a_line_between_two_loops_is_told(self, tmp_path):
        document, space = new_dxf()
        for start, end in [*ring(SQUARE), *ring([(x + 200, y) for x, y in SQUARE])]:
            space.add_line(start, end)
        space.add_line((100, 0), (200, 0))
        (text,) = problems(saved(document, tmp_path))
        assert "(100, 0) mm" in text
        assert "(200, 0) mm" in text

    def test_specks_are_left_out(self, tmp_path):
        document, space = new_dxf()
        space.add_circle((0, 0), 5)
        space.add_line((20, 0), (20.05, 0))
        drawing = read_outlines(saved(document, tmp_path))
        assert len(drawing.contours) == 1
        assert "a line no longer than" in drawing.notes[0]


class TestTwice:
    def test_lines(self, tmp_path):
        document, space = new_dxf()
        for start, end in ring(SQUARE):
            space.add_line(start, end)
            space.add_line(end, start)
        drawing = read_outlines(saved(document, tmp_path))
        assert len(drawing.contours) == 1
        assert drawing.notes == ('layer "0": 4 lines drawn twice, taken once',)

    def test_whole_outlines_however_split(self, tmp_path):
        document, space = new_dxf()
        space.add_lwpolyline(SQUARE, close=True)
        space.add_lwpolyline([(0, 50), (0, 0), (40, 0), (100, 0), (100, 100), (0, 100)], close=True)
        space.add_circle((50, 50), 20)
        space.add_lwpolyline([(30, 50, 1), (70, 50, 1)], format="xyb", close=True)
        space.add_circle((50, 50), 20.04)
        drawing = read_outlines(saved(document, tmp_path))
        assert len(drawing.contours) == 2
        assert drawing.notes == ("3 contours drawn twice, taken once",)

    def test_a_thin_ring_is_no_double(self, tmp_path):
        document, space = new_dxf()
        space.add_circle((50, 50), 20)
        space.add_circle((50, 50), 20.4)
        assert len(read_outlines(saved(document, tmp_path)).contours) == 2


class TestSharedLines:
    @pytest.mark.parametrize("doubled", [False, True])
    def test_two_parts_with_one_line_between(self, tmp_path, doubled):
        document, space = new_dxf()
        for start, end in [*ring(SQUARE), ((100, 0), (150, 0)), ((150, 0), (150, 100)), ((150, 100), (100, 100))]:
            space.add_line(start, end)
        if doubled:
            space.add_line((100, 100), (100, 0))
        path = saved(document, tmp_path)
        assert areas(path) == pytest.approx([5000, 10000], abs=ROUNDING)
        assert "1 line shared by two outlines" in read_outlines(path).notes[-1]

    def test_two_closed_outlines_with_a_common_edge(self, tmp_path):
        document, space = new_dxf()
        space.add_lwpolyline(SQUARE, close=True)
        space.add_lwpolyline([(100, 0), (150, 0), (150, 100), (100, 100)], close=True)
        assert len(regions(read_outlines(saved(document, tmp_path)))) == 2

    def test_two_squares_with_a_common_corner(self, tmp_path):
        document, space = new_dxf()
        for start, end in [*ring(SQUARE), *ring([(x + 100, y + 100) for x, y in SQUARE])]:
            space.add_line(start, end)
        assert areas(saved(document, tmp_path)) == pytest.approx([10000, 10000], abs=ROUNDING)


class TestCrossing:
    def test_tiny_loop_at_a_joint_is_cut_off(self, tmp_path):
        # The last line runs 0.05 past the first before coming back to its start.
        document, space = new_dxf()
        space.add_lwpolyline([(0, 0), (100, 0), (100, 100), (0.05, 100), (0.05, -0.05), (0, -0.05)], close=True)
        drawing = read_outlines(saved(document, tmp_path))
        assert drawing.contours[0].deviation <= 0.1
        assert "tiny loop" in drawing.notes[0]
        assert area(drawing.contours[0].contour) == pytest.approx(10000 - 5, abs=0.02)

    @pytest.mark.parametrize("count", [1, 2, 3, 40])
    def test_many_tiny_loops_are_cut_off(self, count):
        """Whether one at a time or all in one go: what is left is the square."""
        points = [(0.0, 0.0)]
        for number in range(count):
            x = 1.0 + number
            points += [(x, 0.0), (x + 0.03, 0.05), (x + 0.03, -0.0), (x + 0.01, 0.04)]
            points += [(x + 0.012, -0.01), (x + 0.5, 0.0)]
        points += [(60.0, 0.0), (60.0, 60.0), (0.0, 60.0)]
        ends = [*points[1:], points[0]]
        result = mended([Line(a, b) for a, b in zip(points, ends, strict=True) if a != b])
        assert result.crossings == ()
        assert result.cuts >= count
        assert result.moved <= TOLERANCES.repair
        assert to_polygon(result.contour).is_valid
        assert abs(result.contour.signed_area) == pytest.approx(3600, abs=0.02 * count)  # loops are 0.03 by 0.05 mm

    def test_a_spike_is_cut_off(self):
        points = [(0, 0), (50, 0), (50, -0.08), (50, 0), (100, 0), (100, 100)]
        result = mended([Line(a, b) for a, b in ring(points)])
        assert result.crossings == ()
        assert result.cuts == 1
        assert area(result.contour) == pytest.approx(5000, abs=ROUNDING)

    def test_a_bow_tie_is_told_with_its_place(self, tmp_path):
        document, space = new_dxf(INCH)
        space.add_lwpolyline([(0, 0), (4, 4), (4, 0), (0, 4)], close=True)
        (text,) = problems(saved(document, tmp_path))
        assert "crosses or touches itself at (2, 2) in = (50.8, 50.8) mm" in text

    def test_an_arc_through_a_line_is_told(self, tmp_path):
        document, space = new_dxf()
        space.add_lwpolyline([(0, 0, 0), (100, 0, -1), (60, 0, 0), (60, -50, 0), (0, -50, 0)], format="xyb", close=True)
        (text,) = problems(saved(document, tmp_path))
        assert "itself" in text

    @pytest.mark.parametrize("way", [1, -1])
    def test_an_outline_that_touches_itself_is_told(self, tmp_path, way):
        document, space = new_dxf()
        points = [(0, 0), (100, 0), (100, 100), (50, 0), (0, 100)][::way]
        space.add_lwpolyline(points, close=True)
        (text,) = problems(saved(document, tmp_path))
        assert "touches itself at (50, 0) mm" in text

    def test_running_back_along_itself_is_told(self, tmp_path):
        document, space = new_dxf()
        space.add_lwpolyline([(0, 0), (50, 0), (50, -20), (50, 0), (100, 0), (100, 100)], close=True)
        (text,) = problems(saved(document, tmp_path))
        assert "itself at (50," in text

    def test_smooth_outlines_are_left_alone(self, tmp_path):
        # Fitted arcs lead into each other within the same-point limit; that is no crossing.
        document, space = new_dxf()
        space.add_ellipse((0, 0), (300, 0), 0.97)
        space.add_spline([(400, 0), (500, 90), (600, 0), (500, -60), (400, 0)])
        drawing = read_outlines(saved(document, tmp_path))
        assert len(drawing.contours) == 2
        assert drawing.notes == ()

    def test_two_outlines_that_cross(self, tmp_path):
        document, space = new_dxf()
        space.add_circle((0, 0), 5)
        space.add_circle((6, 0), 5)
        (text,) = problems(saved(document, tmp_path))
        assert "(3, -4) mm and at (3, 4) mm" in text

    def test_a_hole_through_the_edge_or_touching_it(self, tmp_path):
        for x in (96, 95, 95.03):  # through it, touching it, a hair beyond it
            document, space = new_dxf()
            space.add_lwpolyline(SQUARE, close=True)
            space.add_circle((x, 50), 5)
            (text,) = problems(saved(document, tmp_path))
            assert "(100, " in text

    def test_two_holes_that_touch(self, tmp_path):
        document, space = new_dxf()
        space.add_lwpolyline(SQUARE, close=True)
        space.add_circle((40, 50), 5)
        space.add_circle((50, 50), 5)
        (text,) = problems(saved(document, tmp_path))
        assert "another hole" in text
        assert "(45, 50) mm" in text

    @pytest.mark.parametrize("overlap", [0.0, 0.05])
    def test_parts_side_by_side_may_overlap_by_a_hair(self, tmp_path, overlap):
        document, space = new_dxf()
        space.add_lwpolyline(SQUARE, close=True)
        space.add_lwpolyline([(x + 100 - overlap, y + 10) for x, y in SQUARE], close=True)
        assert len(regions(read_outlines(saved(document, tmp_path)))) == 2

    def test_every_problem_at_once(self, tmp_path):
        document, space = new_dxf()
        space.add_lwpolyline([(0, 0), (4, 4), (4, 0), (0, 4)], close=True)
        space.add_line((50, 0), (60, 0))
        space.add_circle((100, 0), 5)
        space.add_circle((106, 0), 5)
        assert len(problems(saved(document, tmp_path))) == 3
