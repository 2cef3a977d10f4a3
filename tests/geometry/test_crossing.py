import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.crossing import meetings
from cutjob.geometry.segment import Arc, Line

CLOSE = 1e-6


def arc(centre, radius, first, last):
    a, b = math.radians(first), math.radians(last)
    return Arc(
        (centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)),
        (centre[0] + radius * math.cos(b), centre[1] + radius * math.sin(b)),
        centre,
        last < first,
    )


def places(first, second):
    found = sorted((round(m.point[0], 5) + 0.0, round(m.point[1], 5) + 0.0) for m in meetings(first, second))
    return [value for point in found for value in point]


class TestKnown:
    @pytest.mark.parametrize(
        ("first", "second", "expected"),
        [
            (Line((0, 0), (10, 10)), Line((0, 10), (10, 0)), [(5, 5)]),
            (Line((0, 0), (10, 0)), Line((5, 0), (5, 7)), [(5, 0)]),
            (Line((0, 0), (10, 0)), Line((11, -1), (11, 7)), []),
            (Line((0, 0), (10, 0)), Line((0, 1), (10, 1)), []),
            (Line((0, 0), (10, 0)), Line((4, 0), (20, 0)), [(4, 0), (10, 0)]),
            (Line((0, 0), (10, 0)), Line((10, 0), (20, 0)), [(10, 0)]),
            (Line((-9, 0), (9, 0)), arc((0, 0), 5, 10, 350), [(-5, 0)]),
            (Line((-9, 3), (9, 3)), arc((0, 0), 5, 0, 180), [(-4, 3), (4, 3)]),
            (Line((-9, 5), (9, 5)), arc((0, 0), 5, 0, 180), [(0, 5)]),
            (Line((-9, 5.1), (9, 5.1)), arc((0, 0), 5, 0, 180), []),
            (arc((0, 0), 5, 0, 180), arc((6, 0), 5, 0, 180), [(3, 4)]),
            (arc((0, 0), 5, -180, 170), arc((6, 0), 5, 20, 340), [(3, -4), (3, 4)]),
            (arc((0, 0), 5, -90, 90), arc((10, 0), 5, 90, 270), [(5, 0)]),
            (arc((0, 0), 5, -90, 90), arc((2, 0), 3, -90, 90), [(5, 0)]),
            (arc((0, 0), 5, 0, 90), arc((0, 0), 5, 45, 180), [(0, 5), (3.53553, 3.53553)]),
            (arc((0, 0), 5, 0, 90), arc((0, 0), 6, 0, 90), []),
        ],
    )
    def test_places(self, first, second, expected):
        values = [value for point in expected for value in point]
        assert places(first, second) == pytest.approx(values, abs=1e-5)
        assert places(second, first) == pytest.approx(values, abs=1e-5)
        assert places(first.reversed(), second) == pytest.approx(values, abs=1e-5)

    def test_shared_stretches_are_told_apart(self):
        assert all(m.along for m in meetings(Line((0, 0), (10, 0)), Line((4, 0), (20, 0))))
        assert all(m.along for m in meetings(arc((0, 0), 5, 0, 90), arc((0, 0), 5, 45, 180)))
        assert not any(m.along for m in meetings(Line((0, 0), (10, 0)), Line((10, 0), (20, 0))))


coordinates = st.integers(-20, 20).map(float)
points = st.tuples(coordinates, coordinates)


@st.composite
def segments(draw):
    start, end = draw(points), draw(points)
    if start == end:
        end = (start[0] + 1, start[1])
    if draw(st.booleans()):
        return Line(start, end)
    # A centre on the perpendicular through the middle, at whole shares of the chord.
    off = draw(st.sampled_from([-1.5, -0.5, -0.1, 0.0, 0.3, 1.0]))
    dx, dy = end[0] - start[0], end[1] - start[1]
    centre = ((start[0] + end[0]) / 2 - off * dy, (start[1] + end[1]) / 2 + off * dx)
    return Arc(start, end, centre, draw(st.booleans()))


class TestAnySegments:
    @given(segments(), segments())
    @settings(max_examples=150, deadline=None)
    def test_points_lie_on_both_and_none_is_missed(self, first, second):
        found = meetings(first, second)
        for meeting in found:
            assert math.dist(first.point_at(meeting.first), meeting.point) <= 2 * CLOSE
            assert math.dist(second.point_at(meeting.second), meeting.point) <= 2 * CLOSE
        # Where fine chords of the two cross, a meeting is near.
        a = [first.start, *first.chords(0.001)]
        b = [second.start, *second.chords(0.001)]
        for p, q in itertools.pairwise(a):
            for r, s in itertools.pairwise(b):
                crossing = plain_crossing(p, q, r, s)
                if crossing is None or any(m.along for m in found):
                    continue
                slack = 0.01 / abs(sine(p, q, r, s))
                assert any(math.dist(crossing, m.point) <= slack for m in found)


def sine(p, q, r, s):
    cross = (q[0] - p[0]) * (s[1] - r[1]) - (q[1] - p[1]) * (s[0] - r[0])
    return cross / (math.dist(p, q) * math.dist(r, s))


def plain_crossing(p, q, r, s):
    """Where two chords cross well within both and at an angle that is no touch, else None."""
    if abs(sine(p, q, r, s)) < 0.3:
        return None
    cross = (q[0] - p[0]) * (s[1] - r[1]) - (q[1] - p[1]) * (s[0] - r[0])
    a = ((r[0] - p[0]) * (s[1] - r[1]) - (r[1] - p[1]) * (s[0] - r[0])) / cross
    b = ((r[0] - p[0]) * (q[1] - p[1]) - (r[1] - p[1]) * (q[0] - p[0])) / cross
    # Chords stand off their arcs, so crossings next to an end may be none.
    if not (0.1 < a < 0.9 and 0.1 < b < 0.9) or min(math.dist(p, q), math.dist(r, s)) < 0.2:
        return None
    return p[0] + a * (q[0] - p[0]), p[1] + a * (q[1] - p[1])
