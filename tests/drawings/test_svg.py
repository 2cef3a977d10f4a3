import math
import re

import pytest
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.drawings.outlines import read_outlines, regions
from cutjob.drawings.svg_path import read_path
from cutjob.drawings.svg_shapes import Viewport, fitted_view, length, transform
from cutjob.errors import InputError
from cutjob.geometry.affine import Affine
from cutjob.geometry.segment import Arc
from cutjob.tolerances import TOLERANCES
from tests.drawings.files import ROUNDING, area, areas, farthest, only, svg


class TestShapes:
    def test_rectangle_with_y_up(self, tmp_path):
        contour = only(svg(tmp_path, '<rect x="10" y="20" width="30" height="15"/>'))
        assert contour.bounds == pytest.approx((10, 100 - 35, 40, 80), abs=ROUNDING)

    @pytest.mark.parametrize(
        ("corner", "rx", "ry"),
        [
            ('rx="4"', 4, 4),
            ('ry="3"', 3, 3),
            ('rx="4" ry="2"', 4, 2),
            ('rx="99" ry="99"', 15, 10),
            ('rx="0" ry="3"', 0, 0),
        ],
    )
    def test_rounded_rectangle(self, tmp_path, corner, rx, ry):
        # SVG 2, 10.2: one radius stands for both, and neither exceeds half a side.
        path = svg(tmp_path, f'<rect width="30" height="20" {corner}/>')
        exact = 600 - (4 - math.pi) * rx * ry
        assert area(only(path)) == pytest.approx(exact, abs=ROUNDING if rx == ry else 0.003 * 100)
        assert (read_outlines(path).contours[0].deviation == 0) == (rx == ry)

    def test_circle_stays_exact(self, tmp_path):
        contour = only(svg(tmp_path, '<circle cx="50" cy="30" r="7"/>'))
        centre, radius = contour.circle()
        assert centre == pytest.approx((50, 70), abs=ROUNDING)
        assert radius == pytest.approx(7, abs=ROUNDING)

    def test_circle_by_two_arcs_of_a_path(self, tmp_path):
        contour = only(svg(tmp_path, '<path d="M40 50a10 10 0 1 0 20 0a10 10 0 1 0-20 0z"/>'))
        assert contour.circle()[1] == pytest.approx(10, abs=ROUNDING)
        assert area(contour) == pytest.approx(100 * math.pi, abs=ROUNDING)

    def test_ellipse_polygon_polyline_and_line(self, tmp_path):
        body = (
            '<ellipse cx="100" cy="50" rx="20" ry="10"/><polygon points="0,0 10,0 10 10"/>'
            '<polyline points="20,20 30,20 30,30"/><line x1="30" y1="30" x2="20" y2="20"/>'
        )
        assert areas(svg(tmp_path, body)) == pytest.approx([50, 50, 200 * math.pi], abs=0.003 * 97)

    def test_bezier_parabola(self, tmp_path):
        # Archimedes: two thirds of base times height; control at 60 puts the top at 30.
        contour = only(svg(tmp_path, '<path d="M0 90 q 30 -60 60 0 z"/>'))
        assert area(contour) == pytest.approx(2 / 3 * 60 * 30, abs=0.003 * 150)

    def test_subpaths_are_contours(self, tmp_path):
        drawing = read_outlines(svg(tmp_path, '<path d="M0 0h40v40h-40z m10 10 h10 v10 h-10 z"/>'))
        (region,) = regions(drawing)
        assert region.area == pytest.approx(1600 - 100, abs=ROUNDING)


class TestPlacing:
    def test_groups_and_similar_maps_keep_circles(self, tmp_path):
        body = '<g transform="rotate(30 50 50) scale(-2 2)"><circle cx="-20" cy="20" r="3"/></g>'
        drawing = read_outlines(svg(tmp_path, body))
        assert drawing.contours[0].deviation == 0
        assert drawing.contours[0].contour.circle()[1] == pytest.approx(6, abs=ROUNDING)

    @pytest.mark.parametrize("change", ["scale(2 1)", "skewX(30)", "matrix(1 .2 -.5 2 3 4)"])
    def test_other_maps_make_ellipses(self, tmp_path, change):
        matrix = transform(change)
        factor = abs(matrix.a * matrix.d - matrix.b * matrix.c)
        drawing = read_outlines(svg(tmp_path, f'<g transform="{change}"><circle cx="20" cy="20" r="10"/></g>'))
        assert drawing.contours[0].deviation == TOLERANCES.curve
        assert area(drawing.contours[0].contour) == pytest.approx(100 * math.pi * factor, abs=0.003 * 110)
        edge = [matrix.point((20 + 10 * math.cos(t), 20 + 10 * math.sin(t))) for t in range(40)]
        assert farthest([(x, 100 - y) for x, y in edge], drawing.contours[0].contour) <= TOLERANCES.curve

    def test_use_symbol_and_defs(self, tmp_path):
        body = (
            '<defs><circle id="dot" r="3"/></defs><symbol id="leaf" viewBox="0 0 10 10">'
            '<rect width="10" height="10"/></symbol>'
            '<use href="#dot" x="20" y="20"/><use xlink:href="#dot" transform="translate(40 20) scale(2)"/>'
            '<use href="#leaf" x="60" y="10" width="30" height="20"/>'
        )
        found = read_outlines(svg(tmp_path, body)).contours
        assert sorted(area(c.contour) for c in found) == pytest.approx([9 * math.pi, 36 * math.pi, 400], abs=ROUNDING)
        # 20 x 20 in the middle of 30 x 20 (xMidYMid meet).
        box = next(c.contour.bounds for c in found if c.layer == "leaf")
        assert box == pytest.approx((65, 70, 85, 90), abs=ROUNDING)

    def test_nested_page_and_percentages(self, tmp_path):
        body = '<svg x="10%" y="10" width="50%" height="50%"><rect width="50%" height="100%"/></svg>'
        assert only(svg(tmp_path, body)).bounds == pytest.approx((20, 40, 70, 90), abs=ROUNDING)

    def test_layer_is_the_title_or_id_of_the_group(self, tmp_path):
        body = (
            '<g id="a"><title>porch</title><rect width="5" height="5"/><g id="inner"><circle cx="50" cy="9" r="3"/></g>'
            '</g><circle cx="90" cy="9" r="3"/>'
        )
        drawing = read_outlines(svg(tmp_path, body))
        assert [c.layer for c in drawing.contours] == ["porch", "inner", "drawing"]


class TestUnits:
    @pytest.mark.parametrize(
        ("head", "mm"),
        [
            ('width="100mm" height="50mm" viewBox="0 0 100 50"', 1),
            ('width="100mm" height="50mm" viewBox="0 0 200 100"', 0.5),
            ('width="4in" height="2in" viewBox="0 0 4 2"', 25.4),
            ('width="10cm" viewBox="0 0 10 5"', 10),
            ('height="5cm" width="100%" viewBox="0 0 10 5"', 10),
            # CSS Values and Units: 1 px = 1/96 in, 1 pt = 1/72 in, 1 pc = 12 pt, 1 Q = 1/4 mm.
            ('width="96px" height="96px"', 25.4 / 96),
            ('width="72pt" height="72pt" viewBox="0 0 72 72"', 25.4 / 72),
            ('width="6pc" height="6pc" viewBox="0 0 6 6"', 25.4 / 6),
            ('width="40Q" height="40Q" viewBox="0 0 10 10"', 1),
        ],
    )
    def test_page_size(self, tmp_path, head, mm):
        contour = only(svg(tmp_path, '<circle cx="2" cy="2" r="1"/>', head=head))
        assert contour.circle()[1] == pytest.approx(mm, rel=1e-9)

    @pytest.mark.parametrize("head", ["", 'width="100" height="50"', 'width="100%" viewBox="0 0 9 9"'])
    def test_none_must_be_stated(self, tmp_path, head):
        path = svg(tmp_path, '<circle cx="2" cy="2" r="1"/>', head=head)
        with pytest.raises(InputError, match="has no size") as caught:
            read_outlines(path)
        assert "width=" in caught.value.problems[0].advice
        assert only(path, units="in").circle()[1] == pytest.approx(25.4, rel=1e-12)
        assert only(path, units="mm").circle()[1] == pytest.approx(1, rel=1e-12)

    def test_stated_ones_win(self, tmp_path):
        path = svg(tmp_path, '<circle cx="2" cy="2" r="1"/>', head='width="100mm" height="50mm" viewBox="0 0 200 100"')
        contour = only(path, units="in")
        assert contour.circle()[1] == pytest.approx(25.4, rel=1e-12)
        assert contour.circle()[0] == pytest.approx((2 * 25.4, 98 * 25.4), rel=1e-12)

    @pytest.mark.parametrize(
        ("aspect", "expected"),
        [
            ("", (2, 2, 50, 0)),  # SVG 2, 8.6: xMidYMid meet
            ("xMinYMin meet", (2, 2, 0, 0)),
            ("xMaxYMax", (2, 2, 100, 0)),
            ("xMidYMid slice", (3, 3, 0, -50)),
            ("none", (3, 2, 0, 0)),
        ],
    )
    def test_aspect_of_a_view(self, aspect, expected):
        view = fitted_view([0, 0, 100, 100], Viewport(300, 200), aspect)
        assert (view.a, view.d, view.e, view.f) == pytest.approx(expected, abs=1e-12)


SVG_NAME = "http://www.w3.org/2000/svg"


class TestLeftOut:
    def test_hidden_and_what_is_no_outline(self, tmp_path):
        body = (
            "<style>.no{display:none} rect.gone, #gone {visibility: hidden}</style>"
            '<circle cx="9" cy="9" r="3"/><circle cx="30" cy="9" r="3" display="none"/>'
            '<g style="display:none"><circle cx="40" cy="9" r="3"/></g><circle class="no" cx="50" cy="9" r="3"/>'
            '<rect class="gone" width="5" height="5"/><ellipse id="gone" rx="5" ry="4"/>'
            '<text x="3">porch</text><image href="x.png"/><mask><rect width="7" height="7"/></mask>'
            '<clipPath id="c"><rect width="7" height="7"/></clipPath><marker><path d="M0 0h9v9z"/></marker>'
            "<title>porch</title>"
        )
        drawing = read_outlines(svg(tmp_path, body))
        assert len(drawing.contours) == 1
        assert set(drawing.ignored) == {
            "2 x circle that is not displayed",
            "g that is not displayed",
            "rect that is hidden",
            "ellipse that is hidden",
            "text",
            "image",
        }

    CLIP = '<clipPath id="c"><rect x="2" y="2" width="20" height="20"/></clipPath>'

    def test_a_clip_path_that_shows_all_of_a_shape_changes_nothing(self, tmp_path):
        body = self.CLIP + '<circle cx="9" cy="9" r="3" clip-path="url(#c)"/>'
        drawing = read_outlines(svg(tmp_path, body))
        assert (len(drawing.contours), drawing.ignored) == (1, ())
        # A reference to nothing clips nothing (SVG 2).
        assert len(read_outlines(svg(tmp_path, '<circle cx="9" cy="9" r="3" clip-path="url(#x)"/>')).contours) == 1

    def test_what_a_clip_path_hides_is_not_cut(self, tmp_path):
        hidden = '<g style="clip-path: url(#c)"><circle cx="40" cy="40" r="3"/><circle cx="9" cy="9" r="3"/></g>'
        drawing = read_outlines(svg(tmp_path, self.CLIP + hidden))
        assert len(drawing.contours) == 1
        assert drawing.ignored == ("circle outside its clip path",)

    @pytest.mark.parametrize(
        ("shape", "said"),
        [
            ('<circle cx="22" cy="9" r="3" clip-path="url(#c)"/>', "shows only a part of it"),
            (
                '<g clip-path="url(#c)"><g transform="translate(18)"><circle cx="3" cy="9" r="3"/></g></g>',
                "only a part",
            ),
            ('<circle cx="9" cy="9" r="3" mask="url(#c)"/>', "is trimmed by a mask"),
            (
                '<clipPath id="d" clipPathUnits="objectBoundingBox"><rect width="1" height="1"/></clipPath>'
                '<circle cx="9" cy="9" r="3" clip-path="url(#d)"/>',
                "in shares of its size",
            ),
        ],
    )
    def test_a_shape_that_is_cut_down_is_refused(self, tmp_path, shape, said):
        with pytest.raises(InputError) as caught:
            read_outlines(svg(tmp_path, self.CLIP + shape))
        assert said in str(caught.value)
        assert "trim the shape itself in the drawing program" in str(caught.value)

    def test_pixels_at_96_to_the_inch_when_asked(self, tmp_path):
        """CSS Values and Units: 1 in is 96 px, so 96 units are 25.4 mm."""
        path = tmp_path / "plain.svg"
        text = f'<svg xmlns="{SVG_NAME}" width="192" height="96"><rect width="96" height="48"/></svg>'
        path.write_text(text, encoding="utf-8")
        with pytest.raises(InputError, match='"px" for 1/96 in'):
            read_outlines(path)
        for options in ({"units": "px"}, {"unstated": "px"}):
            [drawn] = read_outlines(path, **options).contours
            assert drawn.contour.bounds == pytest.approx((0, 12.7, 25.4, 25.4), abs=1e-9)


numbers = st.floats(-40, 40).map(lambda value: round(value, 3))
sizes = st.floats(3, 40).map(lambda value: round(value, 3))


@st.composite
def path_data(draw):
    words, before = [f"M{draw(numbers)} {draw(numbers)}"], "M"
    for _ in range(draw(st.integers(1, 6))):
        # The reference mirrors the control point of S for T, and of Q for S, which SVG 2, 9.3.7 does not.
        barred = {"S": "Tt", "C": "Tt", "Q": "Ss", "T": "Ss"}.get(before, "")
        kind = draw(st.sampled_from([letter for letter in "LlHhVvCcSsQqTtAa" if letter not in barred]))
        before = kind.upper()
        count = {"L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2}.get(kind.upper())
        if count is None:
            flags = f"{draw(st.integers(0, 1))} {draw(st.integers(0, 1))}"
            words.append(f"{kind}{draw(sizes)},{draw(sizes)} {draw(numbers)} {flags} {draw(numbers)} {draw(numbers)}")
        else:
            words.append(kind + " ".join(str(draw(numbers)) for _ in range(count)))
    return " ".join(words)


class TestPathData:
    """svgelements, a general-purpose library for SVG, as an independent reader."""

    @given(path_data())
    @settings(max_examples=40, deadline=None)
    def test_every_command(self, text):
        reference = svgelements.Path(text)
        segments = [segment for subpath in read_path(text, Affine()) for segment in subpath.segments]
        for piece in reference:
            if isinstance(piece, svgelements.Move) or not segments:
                continue
            for point in (piece.point(step / 12) for step in range(13)):
                near = min(_distance((point.x, point.y), segment) for segment in segments)
                assert near <= TOLERANCES.curve + 1e-6

    @pytest.mark.parametrize(
        "text",
        [
            "M0 0L10 0 10 10z",
            "M0,0L10,0,10,10Z",
            "M0 0 10 0 10 10 0 0",
            "m0 0 10 0 0 10z",
            "M0 0H10V10z",
            "M0 0h1e1v10z",
            "\nM\t0 0\rl10-0 0 10 z ",
            "M.0.0l10.0.0.0 10z",
        ],
    )
    def test_ways_of_writing_one_triangle(self, text):
        (subpath,) = read_path(text, Affine())
        assert abs(sum(s.area_under for s in subpath.segments)) / 2 == pytest.approx(50, abs=ROUNDING)

    def test_flags_without_blanks_and_radii_too_small(self):
        # SVG 2, B.2.5: radii that can't reach are scaled up until they do.
        (tight,) = read_path("M0 0a1 1 0 0110 0", Affine())
        (arc,) = tight.segments
        assert isinstance(arc, Arc)
        assert arc.radius == pytest.approx(5, abs=ROUNDING)
        assert arc.end == (10, 0)

    def test_drawing_on_after_closing(self):
        first, second = read_path("M10 10h10v10z l-5 0 0 -5z", Affine())
        assert first.closed
        assert second.closed
        assert second.segments[0].start == (10, 10)

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("L5 5", "must start with M"),
            ("M0 0 L 5", "lack a number at their end"),
            ("M0 0 L 5 5 foo", "can't be read at 'foo'"),
            ("M0 0 X 5 5", "can't be read at 'X 5 5'"),
            ("M0 0 A 5 5 0 2 1 9 9", "lack a number at '2 1 9 9'"),
            ("M0 0 L 1e999 0", "without bounds"),
            ("M0 0 L nan 0", "lack a number"),
            ("M0 0 h", "lack a number"),
            ("M0 0 z 5 5", "can't be read"),
        ],
    )
    def test_faults_are_told(self, text, words):
        with pytest.raises(ValueError, match=re.escape(words)):
            read_path(text, Affine())


def _distance(point, segment):
    if isinstance(segment, Arc):
        turned = math.atan2(point[1] - segment.centre[1], point[0] - segment.centre[0]) - segment.start_angle
        turned = turned % math.tau if segment.sweep > 0 else -turned % math.tau
        if turned <= abs(segment.sweep):
            return abs(math.dist(point, segment.centre) - segment.radius)
        return min(math.dist(point, segment.start), math.dist(point, segment.end))
    dx, dy = segment.end[0] - segment.start[0], segment.end[1] - segment.start[1]
    share = ((point[0] - segment.start[0]) * dx + (point[1] - segment.start[1]) * dy) / (dx * dx + dy * dy)
    share = min(1.0, max(0.0, share))
    return math.dist(point, (segment.start[0] + share * dx, segment.start[1] + share * dy))


class TestTransforms:
    @given(
        st.lists(
            st.sampled_from(
                [
                    "translate(3 4)",
                    "translate(5)",
                    "rotate(33)",
                    "rotate(10, 4, 5)",
                    "scale(2)",
                    "scale(1 -3)",
                    "skewX(20)",
                    "skewY(-10)",
                    "matrix(1 2 3 4 5 6)",
                ]
            ),
            max_size=4,
        )
    )
    @settings(max_examples=25, deadline=None)
    def test_against_svgelements(self, words):
        text = " ".join(words)
        ours, theirs = transform(text), svgelements.Matrix(text)
        assert (ours.a, ours.b, ours.c, ours.d, ours.e, ours.f) == pytest.approx(
            (theirs.a, theirs.b, theirs.c, theirs.d, theirs.e, theirs.f), abs=1e-9
        )

    @pytest.mark.parametrize(
        "text", ["rotate(a)", "turn(3)", "matrix(1 2 3)", "scale(1) x", "rotate 3", "scale(1e999)"]
    )
    def test_faults(self, text):
        with pytest.raises(ValueError, match=r"can't be read|without bounds"):
            transform(text)

    @pytest.mark.parametrize("text", ["3em", "x", "1e999", "nan", ""])
    def test_lengths_without_sense(self, text):
        with pytest.raises(ValueError, match="is"):
            length(text, whole=1)
