import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.segment import Arc
from cutjob.output.paper.pdf import bezier_error, cubics
from cutjob.tolerances import TOLERANCES

# Of sums of products of coordinates up to 2,000 mm in floating point.
ROUNDING = 1e-9


def arc(radius, start, sweep, centre=(30.0, -20.0)):
    ends = [
        (centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)) for angle in (start, start + sweep)
    ]
    return Arc(ends[0], ends[1], centre, sweep < 0)


def samples(start, curve):
    t = np.linspace(0, 1, 200)[:, None]
    a, b, c, d = (np.array(point) for point in (start, *curve))
    return (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d


@settings(max_examples=60)
@given(
    radius=st.floats(0.5, 2000),
    start=st.floats(-math.pi, math.pi),
    sweep=st.floats(0.01, 6.2),
    clockwise=st.booleans(),
)
def test_the_curves_keep_to_the_arc(radius, start, sweep, clockwise):
    true = arc(radius, start, -sweep if clockwise else sweep)
    last, worst, turned = true.start, 0.0, 0.0
    for curve in cubics(true, deviation=TOLERANCES.curve):
        points = samples(last, curve)
        off = points - np.array(true.centre)
        worst = max(worst, float(np.abs(np.hypot(off[:, 0], off[:, 1]) - radius).max()))
        angles = np.unwrap(np.arctan2(off[:, 1], off[:, 0]))
        turned += float(angles[-1] - angles[0])
        last = curve[-1]
    assert worst <= TOLERANCES.curve + ROUNDING
    assert last == true.end
    assert turned == pytest.approx(true.sweep, abs=1e-6)


def test_the_stated_error_is_the_true_one():
    # A quarter circle by one curve: 2.725e-4 of the radius (M. Goldapp, 1991; the known figure for 4/3 (sqrt 2 - 1)).
    assert bezier_error(1.0, math.pi / 2) == pytest.approx(2.7253e-4, rel=1e-3)
    true = arc(1000.0, 0.3, math.pi / 2)
    (curve,) = cubics(true, deviation=1.0)
    off = samples(true.start, curve) - np.array(true.centre)
    measured = float(np.abs(np.hypot(off[:, 0], off[:, 1]) - 1000.0).max())
    assert measured == pytest.approx(bezier_error(1000.0, math.pi / 2), rel=0.01)


def test_no_more_curves_than_needed():
    assert len(cubics(arc(5.0, 0.0, math.pi), deviation=TOLERANCES.curve)) == 2
    assert len(cubics(arc(1000.0, 0.0, math.pi), deviation=TOLERANCES.curve)) <= 5


def test_an_impossible_deviation_is_refused():
    with pytest.raises(ValueError, match="can't be drawn within"):
        cubics(arc(1e6, 0.0, 6.0), deviation=1e-30)
