import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import BSpline

from cutjob.geometry.biarc import distances
from cutjob.geometry.nurbs import Nurbs, fit_nurbs

CLOSE = 1e-9  # mm over sizes of a hundred: rounding of a few interpolations
DEVIATION = 0.003


@st.composite
def curves(draw):
    degree = draw(st.integers(1, 4))
    count = draw(st.integers(degree + 1, degree + 6))
    points = [(draw(st.floats(-50, 50)), draw(st.floats(-50, 50))) for _ in range(count)]
    steps = [draw(st.sampled_from([0.0, 0.5, 1.0, 2.0])) for _ in range(count - degree - 1)]
    inner = list(np.cumsum([1.0, *steps]))[: count - degree - 1]
    last = (inner[-1] if inner else 0.0) + 1.0
    if draw(st.booleans()):  # clamped
        knots = [0.0] * (degree + 1) + inner + [last] * (degree + 1)
    else:
        knots = (
            [-float(k) for k in range(degree, 0, -1)] + [0.0, *inner, last] + [last + k for k in range(1, degree + 1)]
        )
    weights = [draw(st.floats(0.3, 3)) for _ in points] if draw(st.booleans()) else [1.0] * count
    return Nurbs(degree, tuple(points), tuple(float(k) for k in knots), tuple(weights))


def reference(curve):
    """SciPy's B-spline of the homogeneous coordinates."""
    rows = np.array([(x * w, y * w, w) for (x, y), w in zip(curve.control, curve.weights, strict=True)])
    spline = BSpline(np.array(curve.knots), rows, curve.degree)

    def position(t):
        x, y, w = spline(t)
        return float(x / w), float(y / w)

    return position


class TestAgainstScipy:
    @given(curves())
    @settings(max_examples=60, deadline=None)
    def test_positions(self, curve):
        position = reference(curve)
        # Inner knots of more than the degree make a jump, where either side is right.
        for share in np.linspace(0, 1, 17)[1:-1]:
            t = curve.first + (curve.last - curve.first) * (0.999 * float(share) + 0.0003)
            assert curve.position(t) == pytest.approx(position(t), abs=CLOSE * 100)

    @given(curves())
    @settings(max_examples=40, deadline=None)
    def test_derivatives(self, curve):
        step = 1e-6
        for share in (0.0123, 0.3377, 0.7019, 0.9871):
            t = curve.first + (curve.last - curve.first) * share
            (x0, y0), (x1, y1) = curve.position(t - step), curve.position(t + step)
            slope = curve.derivative(t)
            # Central differences are good to about 1e-4 of slopes of some hundred.
            assert slope == pytest.approx(((x1 - x0) / (2 * step), (y1 - y0) / (2 * step)), abs=0.05, rel=1e-4)

    @given(curves())
    @settings(max_examples=12, deadline=None)
    def test_fits_keep_the_bound(self, curve):
        inner = [t for t in curve.knots if curve.first < t < curve.last]
        if any(inner.count(t) > curve.degree for t in inner):
            return  # not one curve
        position = reference(curve)
        fitted = fit_nurbs(curve, deviation=DEVIATION)
        points = [position(t) for t in np.linspace(curve.first, curve.last, 300)]
        if not fitted:
            assert max(math.dist(points[0], p) for p in points) < CLOSE
            return
        nearest = np.min([distances(points, segment) for segment in fitted], axis=0)
        assert nearest.max() <= DEVIATION


def test_a_curve_whose_first_fit_is_just_too_far_off_is_fitted_again():
    # Found by the test above: the search was content with 0.003 mm where a closer look saw 0.003002.
    control = (
        (-22.90320409345183, 0.0),
        (-43.0, -17.0),
        (0.0, -31.8046875),
        (-18.73811704870442, 28.08609194845711),
        (-6.205078125, -5.716024887374225),
        (-23.97111014617947, 41.501953125),
        (-25.53125, -9.125),
    )
    knots = tuple(float(k) for k in range(-4, 8))
    weights = (1.0, 2.0, 1.5, 1.0, 1.2117379354132922, 0.9939337868039908, 1.9268476716498404)
    curve = Nurbs(4, control, knots, weights)
    position = reference(curve)
    points = [position(t) for t in np.linspace(curve.first, curve.last, 3000)]
    fitted = fit_nurbs(curve, deviation=DEVIATION)
    assert np.min([distances(points, segment) for segment in fitted], axis=0).max() <= DEVIATION


def test_ends():
    curve = Nurbs(2, ((0, 0), (5, 10), (10, 0)), (0, 0, 0, 1, 1, 1), (1, 1, 1))
    assert curve.position(0) == (0, 0)
    assert curve.position(1) == (10, 0)
    assert curve.derivative(0) == (10, 20)  # degree times the first leg
    assert curve.derivative(1) == (10, -20)


def test_degree_one_is_lines():
    curve = Nurbs(1, ((0, 0), (5, 0), (5, 5)), (0, 0, 1, 2, 2), (1, 1, 1))
    assert [segment.end for segment in fit_nurbs(curve)] == [(5, 0), (5, 5)]


@pytest.mark.parametrize(
    ("degree", "count", "knots", "weights"),
    [
        (3, 3, [0, 0, 0, 0, 1, 1, 1], [1, 1, 1]),
        (1, 2, [0, 0, 1], [1, 1]),
        (1, 2, [0, 1, 0, 1], [1, 1]),
        (1, 2, [0, 0, 0, 0], [1, 1]),
        (1, 2, [0, 0, 1, 1], [1, 0]),
        (1, 2, [0, 0, 1, 1], [1]),
        (1, 2, [0, 0, math.nan, 1], [1, 1]),
        (0, 2, [0, 0, 1], [1, 1]),
    ],
)
def test_nonsense(degree, count, knots, weights):
    with pytest.raises(ValueError, match="spline"):
        Nurbs(degree, tuple((float(i), 0.0) for i in range(count)), tuple(knots), tuple(weights))
