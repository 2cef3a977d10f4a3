import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.interpolate import CubicSpline

from cutjob.geometry.batten import natural_spline

EXACT = 1e-12  # small whole numbers: rounding only
DEVIATION = 0.003


class TestCheckValues:
    """Solved by hand from the tridiagonal system."""

    def test_three_pins(self):
        strip = natural_spline([(0, 0), (1, 1), (2, 0)])
        assert strip.y(0.5) == pytest.approx(0.6875, abs=EXACT)
        assert strip.second_derivative(1) == pytest.approx(-3, abs=EXACT)
        assert strip.slope(0) == pytest.approx(1.5, abs=EXACT)

    def test_four_pins(self):
        strip = natural_spline([(0, 0), (1, 1), (2, 0), (3, 1)])
        assert strip.bending == pytest.approx((0, -4, 4, 0), abs=EXACT)
        assert [strip.y(x) for x in (0.5, 1.5, 2.5)] == pytest.approx([0.75, 0.5, 0.25], abs=EXACT)

    def test_two_pins_are_straight(self):
        strip = natural_spline([(0, 0), (4, 2)])
        assert strip.y(1) == pytest.approx(0.5, abs=EXACT)
        assert strip.slope(3) == pytest.approx(0.5, abs=EXACT)
        assert strip.second_derivative(2) == 0


@st.composite
def pins(draw):
    steps = draw(st.lists(st.floats(5, 80), min_size=1, max_size=9))
    xs = list(itertools.accumulate(steps, initial=draw(st.floats(-100, 100))))
    return [(x, draw(st.floats(-40, 40))) for x in xs]


class TestAgainstScipy:
    """SciPy's CubicSpline with natural ends is the reference."""

    @given(pins())
    @settings(max_examples=40, deadline=None)
    def test_values_slopes_and_bending(self, given_pins):
        xs, ys = np.array(given_pins).T
        strip, reference = natural_spline(given_pins), CubicSpline(xs, ys, bc_type="natural")
        scale = 1e-9 * 200  # relative rounding of a well-conditioned system, over heights of up to about 200 mm
        for x in np.linspace(xs[0], xs[-1], 23):
            x = float(min(max(x, xs[0]), xs[-1]))
            assert strip.y(x) == pytest.approx(float(reference(x)), abs=scale)
            assert strip.slope(x) == pytest.approx(float(reference(x, 1)), abs=scale)
            assert strip.second_derivative(x) == pytest.approx(float(reference(x, 2)), abs=scale)

    @given(pins())
    @settings(max_examples=20, deadline=None)
    def test_goes_through_the_pins_and_mirrors(self, given_pins):
        strip = natural_spline(given_pins)
        mirrored = natural_spline([(-x, y) for x, y in reversed(given_pins)])
        for x, y in given_pins:
            assert strip.y(x) == pytest.approx(y, abs=1e-9)
            assert mirrored.y(-x - 1.0) == pytest.approx(strip.y(x + 1.0), abs=1e-7)


def test_runs_on_straight_beyond_the_pins():
    strip = natural_spline([(0, 0), (1, 1), (2, 0)])
    assert strip.y(-2) == pytest.approx(-3, abs=EXACT)  # slope 1.5 at the first pin
    assert strip.y(4) == pytest.approx(-3, abs=EXACT)
    assert strip.slope(9) == pytest.approx(-1.5, abs=EXACT)
    assert strip.second_derivative(9) == 0


class TestSegments:
    PINS = ((0, 0), (120, 45), (260, 10), (400, 60))

    def test_area_and_length_against_quadrature(self):
        strip = natural_spline(self.PINS)
        segments = strip.segments(0, 400, deviation=DEVIATION)
        exact_area = sum(quad(strip.y, a[0], b[0])[0] for a, b in itertools.pairwise(self.PINS))
        exact_length = sum(
            quad(lambda x: math.hypot(1, strip.slope(x)), a[0], b[0])[0] for a, b in itertools.pairwise(self.PINS)
        )
        # Shoelace terms run from the origin, so the triangle to the end point is added back.
        under = 400 * 60 / 2 - sum(s.area_under for s in segments) / 2
        assert under == pytest.approx(exact_area, abs=DEVIATION * exact_length)
        turning = sum(abs(s.sweep) for s in segments if hasattr(s, "sweep"))
        assert sum(s.length for s in segments) == pytest.approx(exact_length, abs=(turning + 2) * DEVIATION)

    def test_ends_are_exact_and_leftwards_is_the_reverse(self):
        strip = natural_spline(self.PINS)
        right, left = strip.segments(30, 300), strip.segments(300, 30)
        assert right[0].start == (30, strip.y(30))
        assert left[0].start == (300, strip.y(300))
        assert [s.reversed() for s in reversed(left)] == list(right)

    def test_straight_strip_is_one_line(self):
        assert len(natural_spline([(0, 0), (100, 30), (200, 60)]).segments(-20, 220)) == 1

    def test_empty_stretch(self):
        with pytest.raises(ValueError, match="increase"):
            natural_spline(self.PINS).segments(5, 5)


class TestRefusal:
    @pytest.mark.parametrize("few", [[], [(0, 0)]])
    def test_too_few(self, few):
        with pytest.raises(ValueError, match="at least two pins"):
            natural_spline(few)

    @pytest.mark.parametrize("wrong", [[(0, 0), (0, 1)], [(0, 0), (5, 1), (4, 2)]])
    def test_order(self, wrong):
        with pytest.raises(ValueError, match="left to right: pin"):
            natural_spline(wrong)

    @pytest.mark.parametrize("value", [math.nan, math.inf])
    def test_not_finite(self, value):
        with pytest.raises(ValueError, match="finite"):
            natural_spline([(0, 0), (1, value)])
