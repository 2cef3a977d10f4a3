"""Lines and arcs: lengths, places, bounds and chords; bulges as the DXF reference has them."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from cutjob.geometry.segment import Arc, Line, Segment, arc_through_bulge, bulge_of, chord_count, distance

# Coordinates of some hundred mm through a few sines and square roots.
CLOSE = 1e-9
PLACES = st.tuples(st.floats(-200, 200), st.floats(-200, 200))


@st.composite
def arcs(draw: st.DrawFn) -> Arc:
    """An arc of any size that is neither a point nor a whole turn."""
    x, y = draw(PLACES)
    radius, start, sweep = draw(st.floats(0.1, 300)), draw(st.floats(-4, 4)), draw(st.floats(0.01, 6.2))
    clockwise = draw(st.booleans())
    end = start - sweep if clockwise else start + sweep
    ends = [(x + radius * math.cos(angle), y + radius * math.sin(angle)) for angle in (start, end)]
    return Arc(ends[0], ends[1], (x, y), clockwise)


@st.composite
def segments(draw: st.DrawFn) -> Segment:
    if draw(st.booleans()):
        return draw(arcs())
    start, end = draw(PLACES), draw(PLACES)
    assume(distance(start, end) > 1e-3)
    return Line(start, end)


@given(segments(), st.floats(0.05, 0.95))
def test_parts_make_up_the_whole(segment: Segment, share: float) -> None:
    first, second = segment.part(0.0, share), segment.part(share, 1.0)
    assert first.end == second.start
    assert first.length + second.length == pytest.approx(segment.length, rel=1e-7)
    assert first.length == pytest.approx(share * segment.length, rel=1e-7)
    assert segment.point_at(share) == pytest.approx(first.end, abs=CLOSE)
    assert segment.point_at(0.0) == pytest.approx(segment.start, abs=CLOSE)
    assert segment.point_at(1.0) == pytest.approx(segment.end, abs=CLOSE)


@given(segments(), st.floats(0, 1))
def test_run_the_other_way(segment: Segment, share: float) -> None:
    back = segment.reversed()
    assert back.reversed() == segment
    assert back.length == pytest.approx(segment.length, rel=1e-7)
    assert back.area_under == pytest.approx(-segment.area_under, abs=1e-4, rel=1e-7)
    assert back.point_at(1 - share) == pytest.approx(segment.point_at(share), abs=1e-6)
    assert math.dist(back.direction_at(1 - share), segment.direction_at(share)) == pytest.approx(2.0)


@given(segments(), st.floats(0.02, 0.98))
def test_the_direction_is_the_slope_of_the_place(segment: Segment, share: float) -> None:
    step = 1e-5
    (x0, y0), (x1, y1) = segment.point_at(share - step), segment.point_at(share + step)
    size = 2 * step * segment.length
    # Central difference: off by step^2 of the third derivative, and by rounding of 1e-13 over 2e-5 of the length.
    assert segment.direction_at(share) == pytest.approx(((x1 - x0) / size, (y1 - y0) / size), abs=2e-4)


@given(segments())
def test_bounds_hold_every_place_and_no_more(segment: Segment) -> None:
    x0, y0, x1, y1 = segment.bounds
    places = [segment.point_at(i / 2000) for i in range(2001)]
    xs, ys = [x for x, _ in places], [y for _, y in places]
    # A place nearest to a side is half a step away at most, where the circle has moved off by r (step/2)^2 / 2.
    slack = segment.length**2 / 2000**2 if isinstance(segment, Line) else segment.radius * (6.3 / 2000) ** 2 / 8
    assert -CLOSE <= min(xs) - x0 <= slack + CLOSE
    assert -CLOSE <= min(ys) - y0 <= slack + CLOSE
    assert -CLOSE <= x1 - max(xs) <= slack + CLOSE
    assert -CLOSE <= y1 - max(ys) <= slack + CLOSE


@given(arcs(), st.sampled_from([0.5, 0.01, 0.001]))
def test_chords_keep_within_their_deviation_inside_the_circle(arc: Arc, deviation: float) -> None:
    places = [arc.start, *arc.chords(deviation)]
    assert places[-1] == arc.end
    for a, b in itertools.pairwise(places):
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        inside = arc.radius - distance(middle, arc.centre)
        assert inside >= -1e-7
        # An arc hardly larger than the deviation is drawn in quarter turns.
        assert inside <= max(deviation, 0.3 * arc.radius if arc.radius <= deviation else 0.0) + 1e-7


# Sagitta r (1 - cos(t/2)): worked out from it, radius 10 within 0.01 takes 71 chords round, 100 within 0.05 takes 100.
@pytest.mark.parametrize(("radius", "deviation", "count"), [(10, 0.01, 71), (100, 0.05, 100)])
def test_chords_of_a_full_circle(radius: float, deviation: float, count: int) -> None:
    assert chord_count(radius, 2 * math.pi, deviation) == count


# DXF reference, LWPOLYLINE: bulge = tan(included angle / 4), negative clockwise.
@pytest.mark.parametrize(("degrees", "bulge"), [(60, 0.267949), (90, 0.414214), (180, 1.0), (270, 2.414214)])
def test_bulges_of_the_reference(degrees: float, bulge: float) -> None:
    for sign in (1, -1):
        arc = arc_through_bulge((3.0, 4.0), (13.0, 4.0), sign * bulge)
        assert isinstance(arc, Arc)
        assert math.degrees(arc.sweep) == pytest.approx(sign * degrees, abs=1e-4)
        # Radius = chord (1 + b^2) / (4 |b|), the same reference.
        assert arc.radius == pytest.approx(10 * (1 + bulge**2) / (4 * bulge))
        assert distance(arc.centre, arc.start) == pytest.approx(distance(arc.centre, arc.end))
        assert bulge_of(arc) == pytest.approx(sign * bulge)


@given(PLACES, PLACES, st.floats(-4, 4))
def test_a_bulge_comes_back(start: tuple[float, float], end: tuple[float, float], bulge: float) -> None:
    assume(distance(start, end) > 1e-2)
    assume(bulge == 0 or abs(bulge) > 1e-3)
    assert bulge_of(arc_through_bulge(start, end, bulge)) == pytest.approx(bulge, abs=1e-6)


def test_a_half_turn_goes_the_way_it_says() -> None:
    for clockwise, top in ((False, 10.0), (True, -10.0)):
        arc = Arc((10.0, 0.0), (-10.0, 0.0), (0.0, 0.0), clockwise)
        assert abs(arc.sweep) == math.pi
        assert arc.point_at(0.5) == pytest.approx((0.0, top), abs=CLOSE)
