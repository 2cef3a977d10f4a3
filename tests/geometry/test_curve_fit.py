import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ellipe, ellipeinc

from cutjob.errors import CutjobError
from cutjob.geometry.affine import fit_bezier, fit_ellipse_arc
from cutjob.geometry.biarc import biarc, distances
from cutjob.geometry.curve_fit import CurveFitError, FittedSpan, fit_curve, worst_deviation
from cutjob.geometry.segment import Arc, Line, distance

DEVIATION = 0.003
ROUNDING = 1e-9  # mm; sums of a few hundred doubles of some hundred mm
FLOAT_ANGLE = 1e-6  # radians; tangents read a millionth of the span inside a corner are off by about this


def length(segments):
    return sum(segment.length for segment in segments)


def greatest_corner(segments):
    corners = [0.0]
    for before, after in itertools.pairwise(segments):
        u, v = before.direction_at(1), after.direction_at(0)
        corners.append(abs(math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])))
    return max(corners)


def chain_off_curve(position, first, last, segments, count=4000):
    """Greatest distance from points of the curve to the segments, without the module's own measuring."""
    worst = 0.0
    for step in range(count + 1):
        x, y = position(first + (last - first) * step / count)
        worst = max(worst, min(plain_distance((x, y), segment) for segment in segments))
    return worst


def plain_distance(point, segment):
    ends = min(distance(point, segment.start), distance(point, segment.end))
    if isinstance(segment, Line):
        dx, dy = segment.end[0] - segment.start[0], segment.end[1] - segment.start[1]
        share = ((point[0] - segment.start[0]) * dx + (point[1] - segment.start[1]) * dy) / (dx * dx + dy * dy)
        return distance(point, segment.point_at(share)) if 0 <= share <= 1 else ends
    angle = math.atan2(point[1] - segment.centre[1], point[0] - segment.centre[0]) - segment.start_angle
    sweep = segment.sweep
    turned = angle % (2 * math.pi) if sweep > 0 else -(-angle % (2 * math.pi))
    if abs(turned) <= abs(sweep):
        return abs(distance(point, segment.centre) - segment.radius)
    return ends


def wave(t):
    return t, 20 * math.sin(t / 15)


def wave_direction(t):
    return 1.0, 20 / 15 * math.cos(t / 15)


class TestFit:
    @pytest.mark.parametrize("deviation", [0.1, 0.003, 0.0005])
    def test_keeps_the_bound_measured_without_the_module(self, deviation):
        fitted = fit_curve(wave, wave_direction, 0.0, 150.0, deviation=deviation)
        assert chain_off_curve(wave, 0.0, 150.0, fitted) <= deviation

    def test_is_continuous_in_place_and_direction_with_exact_ends(self):
        fitted = fit_curve(wave, wave_direction, 0.0, 150.0, deviation=DEVIATION)
        assert fitted[0].start == wave(0.0)
        assert fitted[-1].end == wave(150.0)
        assert all(before.end == after.start for before, after in itertools.pairwise(fitted))
        assert greatest_corner(fitted) < ROUNDING

    def test_needs_few_arcs(self):
        # A biarc errs by k' h^3 / 324, so the least number is about the integral of (k' / (324 deviation))^(1/3).
        count, steps = 0.0, 20000
        for step in range(steps):
            t = 150.0 * (step + 0.5) / steps
            y1, y2, y3 = 4 / 3 * math.cos(t / 15), -20 / 225 * math.sin(t / 15), -20 / 3375 * math.cos(t / 15)
            speed = math.hypot(1, y1)
            k_slope = abs(y3 / speed**4 - 3 * y1 * y2 * y2 / speed**6)
            count += (k_slope / (324 * DEVIATION)) ** (1 / 3) * speed * 150.0 / steps
        fitted = fit_curve(wave, wave_direction, 0.0, 150.0, deviation=DEVIATION)
        # A quarter more: the formula takes k' for steady within a span, which fails where k' passes through nought.
        assert len(fitted) / 2 <= 1.25 * count

    def test_straight_is_one_line(self):
        fitted = fit_curve(lambda t: (3 * t, 4 * t), lambda t: (3.0, 4.0), 0.0, 10.0, deviation=DEVIATION)
        assert fitted == (Line((0.0, 0.0), (30.0, 40.0)),)

    def test_circle_is_arcs_about_its_centre(self):
        fitted = fit_curve(
            lambda t: (5 + 50 * math.cos(t), 50 * math.sin(t)),
            lambda t: (-math.sin(t), math.cos(t)),
            0.0,
            3.0,
            deviation=DEVIATION,
        )
        assert len(fitted) == 1
        assert distance(fitted[0].centre, (5.0, 0.0)) < 1e-7
        assert length(fitted) == pytest.approx(150.0, abs=1e-7)

    def test_corner_reported_is_kept(self):
        fitted = fit_curve(
            lambda t: (t, abs(t - 0.3)),
            lambda t: (1.0, 1.0 if t > 0.3 else -1.0),
            -1.0,
            1.0,
            deviation=DEVIATION,
            breaks=[0.3],
        )
        assert [segment.end for segment in fitted] == [(0.3, 0.0), (1.0, 0.7)]

    def test_corner_not_reported_is_found(self):
        def position(t):
            return t, abs(t - 0.3)

        fitted = fit_curve(position, lambda t: (1.0, 1.0 if t > 0.3 else -1.0), -1.0, 1.0, deviation=DEVIATION)
        assert chain_off_curve(position, -1.0, 1.0, fitted) <= DEVIATION

    @given(st.floats(0.5, 4), st.floats(0.5, 4), st.floats(0, 6), st.floats(5, 60))
    @settings(max_examples=15, deadline=None)
    def test_closed_curves_of_two_waves(self, first, second, phase, size):
        def position(t):
            return size * math.cos(first * t), size * math.sin(second * t + phase)

        def direction(t):
            return -first * math.sin(first * t), second * math.cos(second * t + phase)

        fitted = fit_curve(position, direction, 0.0, 3.0, deviation=DEVIATION)
        assert chain_off_curve(position, 0.0, 3.0, fitted, count=700) <= DEVIATION
        assert all(before.end == after.start for before, after in itertools.pairwise(fitted))

    def test_single_point_gives_nothing(self):
        assert fit_curve(lambda t: (1.0, 2.0), lambda t: (1.0, 0.0), 0.0, 1.0, deviation=DEVIATION) == ()


class TestRefusal:
    def test_jump(self):
        with pytest.raises(CurveFitError, match="jumps near"):
            fit_curve(lambda t: (t, float(t > 0.3)), lambda t: (1.0, 0.0), 0.0, 1.0, deviation=DEVIATION)

    def test_nowhere(self):
        with pytest.raises(CutjobError, match="no position"):
            fit_curve(lambda t: (t, math.nan), lambda t: (1.0, 0.0), 0.0, 1.0, deviation=DEVIATION)

    def test_no_direction(self):
        with pytest.raises(CurveFitError, match="no direction"):
            fit_curve(lambda t: (t, t), lambda t: (0.0, 0.0), 0.0, 1.0, deviation=DEVIATION)

    def test_too_rough(self):
        with pytest.raises(CurveFitError, match=r"too long or too rough|jumps"):
            fit_curve(
                lambda t: (t, math.sin(1e5 * t)), lambda t: (1.0, 1e5 * math.cos(1e5 * t)), 0.0, 100.0, deviation=1e-5
            )

    @pytest.mark.parametrize("deviation", [0.0, -1.0, math.nan, math.inf])
    def test_deviation_without_sense(self, deviation):
        with pytest.raises(ValueError, match="deviation"):
            fit_curve(wave, wave_direction, 0.0, 1.0, deviation=deviation)

    def test_range_without_sense(self):
        with pytest.raises(ValueError, match="increase"):
            fit_curve(wave, wave_direction, 1.0, 1.0, deviation=DEVIATION)


class TestMeasuring:
    """The checker must see every spoiled fit, in whichever span it lies."""

    def spans(self):
        marks = [0.0, 10.0, 20.0, 30.0]
        return [
            FittedSpan(low, high, fit_curve(wave, wave_direction, low, high, deviation=DEVIATION))
            for low, high in itertools.pairwise(marks)
        ]

    def test_good(self):
        assert 0 < worst_deviation(wave, self.spans()) <= DEVIATION

    @pytest.mark.parametrize("spoiled", [0, 1, 2])
    def test_one_span_made_a_chord(self, spoiled):
        spans = self.spans()
        span = spans[spoiled]
        spans[spoiled] = FittedSpan(span.first, span.last, (Line(wave(span.first), wave(span.last)),))
        assert worst_deviation(wave, spans) > 10 * DEVIATION

    @pytest.mark.parametrize("spoiled", [0, 1, 2])
    def test_one_span_with_a_detour(self, spoiled):
        # The curve is near the segments all along, but the segments run away from the curve and back.
        spans = self.spans()
        span = spans[spoiled]
        end = wave(span.last)
        away = (end[0], end[1] + 1.0)
        spans[spoiled] = FittedSpan(span.first, span.last, (*span.segments, Line(end, away), Line(away, end)))
        assert worst_deviation(wave, spans) > 0.5

    @pytest.mark.parametrize("spoiled", [0, 1, 2])
    def test_one_segment_missing(self, spoiled):
        spans = self.spans()
        span = spans[spoiled]
        spans[spoiled] = FittedSpan(span.first, span.last, span.segments[:-1])
        assert worst_deviation(wave, spans) > 10 * DEVIATION

    def test_curve_that_is_nowhere(self):
        assert worst_deviation(lambda t: (t, math.nan), self.spans()) == math.inf

    def test_agrees_with_a_plain_measure(self):
        spans = self.spans()
        plain = max(chain_off_curve(wave, s.first, s.last, s.segments, count=2000) for s in spans)
        assert worst_deviation(wave, spans) == pytest.approx(plain, rel=0.05)

    def test_a_bad_fit_is_never_handed_out(self, monkeypatch):
        monkeypatch.setattr("cutjob.geometry.curve_fit._SEARCH", 3.0)
        with pytest.raises(CurveFitError, match=r", not 0\.003 mm"):
            fit_curve(wave, wave_direction, 0.0, 150.0, deviation=DEVIATION)


class TestOrder:
    """Errors of one biarc over a span h, from the derived values k' h^3 / 324 (biarc) and / 124.7 (one arc)."""

    K_SLOPE = 1e-4  # 1/mm2

    def spiral(self, h):
        return (lambda t: (t, self.K_SLOPE * t**3 / 6)), (lambda t: (1.0, self.K_SLOPE * t**2 / 2))

    def error(self, h):
        position, direction = self.spiral(h)
        ends = [-h / 2, h / 2]
        unit = [(x / math.hypot(x, y), y / math.hypot(x, y)) for x, y in map(direction, ends)]
        segments = biarc(position(ends[0]), unit[0], position(ends[1]), unit[1])
        return chain_off_curve(position, *ends, segments, count=1500)

    def test_constant(self):
        # Slopes stay below 0.005, so the small-slope formula holds to a part in a thousand.
        assert self.error(20.0) == pytest.approx(self.K_SLOPE * 20**3 / 324, rel=2e-3)

    def test_halving_divides_by_eight(self):
        assert self.error(20.0) / self.error(10.0) == pytest.approx(8, rel=1e-2)

    def test_one_arc_is_worse(self):
        # One arc through the ends and best between them errs by k' h^3 / 124.7 here: 2.6 times a biarc.
        position, _ = self.spiral(20.0)
        h, k = 20.0, self.K_SLOPE
        off = max(abs(k * t**3 / 6 - k * (h / 2) ** 2 * t / 6) for t in (h / 2 / math.sqrt(3), h / 4))
        assert off == pytest.approx(k * h**3 / 124.7, rel=1e-3)
        line = Line(position(-h / 2), position(h / 2))
        points = [position(-h / 2 + h * i / 2000) for i in range(2001)]
        assert float(distances(points, line).max()) == pytest.approx(off, rel=1e-3)


class TestBezier:
    @pytest.mark.parametrize(
        "control",
        [
            [(0, 0), (50, 100), (100, -100), (150, 0)],
            [(0, 0), (150, 100), (-50, 100), (100, 0)],
            [(0, 0), (100, 100), (0, 100), (100, 0)],  # a cusp at t = 1/2
            [(0, 0), (0, 0), (0, 100), (100, 0)],  # no derivative at the start
            [(0, 0), (0, 100), (100, 0), (100, 0)],  # none at the end
            [(0, 0), (40, 90), (100, 0)],
        ],
    )
    def test_keeps_the_bound(self, control):
        def position(t):
            row = control
            while len(row) > 1:
                row = [(a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t) for a, b in itertools.pairwise(row)]
            return row[0]

        fitted = fit_bezier(control, deviation=DEVIATION)
        assert chain_off_curve(position, 0.0, 1.0, fitted, count=2000) <= DEVIATION
        assert fitted[0].start == control[0]
        assert fitted[-1].end == control[-1]

    def test_cusp_is_a_corner_at_its_point(self):
        fitted = fit_bezier([(0, 0), (100, 100), (0, 100), (100, 0)], deviation=DEVIATION)
        tip = [a.end for a, b in itertools.pairwise(fitted) if greatest_corner([a, b]) > 1]
        assert tip == [(50.0, 75.0)]

    def test_area_of_a_parabola(self):
        # Archimedes: the segment of a parabola is 2/3 of base times height; here base 100, height 45.
        fitted = fit_bezier([(0, 0), (50, 90), (100, 0)], deviation=DEVIATION)
        area = abs(sum(segment.area_under for segment in fitted)) / 2
        assert area == pytest.approx(2 / 3 * 100 * 45, abs=DEVIATION * length(fitted))

    @pytest.mark.parametrize(
        ("control", "stops"),
        [
            ([(0, 0), (10, 10)], [(10, 10)]),
            ([(0, 0), (1, 1), (2, 2), (10, 10)], [(10, 10)]),
            ([(0, 0), (10, 0), (0, 0)], [(5, 0), (0, 0)]),  # there and back, furthest at t = 1/2
            ([(3, 3), (3, 3), (3, 3)], []),
            ([(0, 0), (1e-300, 0), (2, 0)], [(2, 0)]),
        ],
    )
    def test_straight_ones_are_lines(self, control, stops):
        fitted = fit_bezier(control)
        assert all(isinstance(segment, Line) for segment in fitted)
        assert [segment.end for segment in fitted] == stops

    def test_small_round_corner_is_one_arc(self):
        # Four Bezier curves stand for a circle within 0.000273 r (the usual factor 0.5522847498).
        k = 0.5522847498
        fitted = fit_bezier([(1, 0), (1, k), (k, 1), (0, 1)], deviation=DEVIATION)
        assert len(fitted) == 1
        assert isinstance(fitted[0], Arc)

    def test_number_of_points(self):
        with pytest.raises(ValueError, match="two to four"):
            fit_bezier([(0, 0)])


class TestEllipse:
    @pytest.mark.parametrize(("a", "b"), [(100, 50), (100, 5), (30, 29.9), (3, 1)])
    def test_area_and_length(self, a, b):
        # Area pi a b; perimeter 4 a E(1 - b^2/a^2), the complete elliptic integral, from SciPy.
        fitted = fit_ellipse_arc((7, -3), (a * 0.6, a * 0.8), b / a, 0, 2 * math.pi, deviation=DEVIATION)
        perimeter = 4 * a * ellipe(1 - b * b / (a * a))
        assert fitted[0].start == fitted[-1].end
        assert sum(s.area_under for s in fitted) / 2 == pytest.approx(math.pi * a * b, abs=DEVIATION * perimeter)
        # A curve within d of another of total turning 2 pi, both convex, is longer or shorter by at most 2 pi d.
        assert length(fitted) == pytest.approx(perimeter, abs=2 * math.pi * DEVIATION)

    @given(st.floats(-3, 3), st.floats(0.2, 6.2), st.floats(0.1, 1.5), st.booleans())
    @settings(max_examples=15, deadline=None)
    def test_part_of_one(self, start, turn, ratio, clockwise):
        a = 40.0
        first, last = (start + turn, start) if clockwise else (start, start + turn)
        fitted = fit_ellipse_arc((1, 2), (a, 0), ratio, first, last, deviation=DEVIATION)

        def position(t):
            return 1 + a * math.cos(t), 2 + ratio * a * math.sin(t)

        # An end within a billionth of a quarter turn of an axis is taken as on it.
        on_axis = a * math.pi / 2 * 1e-9 + ROUNDING
        assert distance(fitted[0].start, position(first)) < on_axis
        assert distance(fitted[-1].end, position(last)) < on_axis
        assert chain_off_curve(position, start, start + turn, fitted, count=500) <= DEVIATION
        # Arc length from the incomplete integral of the second kind; t + pi/2 since x = a cos t.
        exact = a * (ellipeinc(start + turn + math.pi / 2, 1 - ratio**2) - ellipeinc(start + math.pi / 2, 1 - ratio**2))
        assert length(fitted) == pytest.approx(exact, abs=turn * DEVIATION + 2 * DEVIATION)

    def test_mirror_images_are_fitted_alike(self):
        fitted = fit_ellipse_arc((0, 0), (100, 0), 0.3, 0, 2 * math.pi)
        ends = {segment.end for segment in fitted}
        assert {(-x if x else 0.0, y) for x, y in ends} == ends
        assert {(x, -y if y else 0.0) for x, y in ends} == ends
        assert greatest_corner(fitted) < ROUNDING

    def test_round_one_is_exact(self):
        fitted = fit_ellipse_arc((1, 1), (0, 10), 1.0, 0.5, 0.5 + 2 * math.pi)
        assert all(isinstance(segment, Arc) for segment in fitted)
        assert length(fitted) == pytest.approx(20 * math.pi, abs=ROUNDING)
        assert fitted[0].start == fitted[-1].end

    @pytest.mark.parametrize(
        ("major", "ratio", "end"),
        [((0, 0), 1, 1), ((1, 0), 0, 1), ((1, 0), 1, 0), ((1, 0), 1, 7), ((math.inf, 0), 1, 1)],
    )
    def test_degenerate(self, major, ratio, end):
        with pytest.raises(ValueError, match="ellipse"):
            fit_ellipse_arc((0, 0), major, ratio, 0, end)
