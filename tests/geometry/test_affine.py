import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.affine import Affine, ellipse_arc
from cutjob.geometry.segment import Arc, Line

CLOSE = 1e-9
DEVIATION = 0.003
numbers = st.floats(-3, 3).map(lambda value: round(value, 3))
maps = st.builds(Affine, numbers, numbers, numbers, numbers, numbers, numbers)


def nearest(point, segments):
    def away(segment):
        shares = [i / 4000 for i in range(4001)] if isinstance(segment, Arc) and segment.length > 1e-9 else [0, 1]
        if isinstance(segment, Line):
            dx, dy = segment.end[0] - segment.start[0], segment.end[1] - segment.start[1]
            share = ((point[0] - segment.start[0]) * dx + (point[1] - segment.start[1]) * dy) / (dx * dx + dy * dy)
            return math.dist(point, segment.point_at(min(1, max(0, share))))
        turned = math.atan2(point[1] - segment.centre[1], point[0] - segment.centre[0]) - segment.start_angle
        turned = turned % math.tau if segment.sweep > 0 else -turned % math.tau
        if turned <= abs(segment.sweep):
            return abs(math.dist(point, segment.centre) - segment.radius)
        return min(math.dist(point, segment.point_at(shares[0])), math.dist(point, segment.point_at(shares[-1])))

    return min(away(segment) for segment in segments)


class TestMaps:
    @given(maps, maps, numbers, numbers)
    @settings(max_examples=50, deadline=None)
    def test_product_applies_the_second_first(self, outer, inner, x, y):
        assert (outer @ inner).point((x, y)) == pytest.approx(outer.point(inner.point((x, y))), abs=CLOSE)

    @given(maps, st.booleans(), st.floats(0, 360), st.floats(5, 355))
    @settings(max_examples=15, deadline=None)
    def test_arcs(self, change, clockwise, first, turn):
        if abs(change.a * change.d - change.b * change.c) < 0.05:
            return  # nearly flat: tested on its own
        a, b = math.radians(first), math.radians(first + (-turn if clockwise else turn))
        segment = Arc(
            (2 + 10 * math.cos(a), 3 + 10 * math.sin(a)),
            (2 + 10 * math.cos(b), 3 + 10 * math.sin(b)),
            (2, 3),
            clockwise,
        )
        placed = change.segment(segment, deviation=DEVIATION)
        assert placed[0].start == change.point(segment.start)
        assert placed[-1].end == change.point(segment.end)
        for step in range(41):
            assert nearest(change.point(segment.point_at(step / 40)), placed) <= DEVIATION

    @pytest.mark.parametrize("mirror", [1, -1])
    @given(st.floats(0, 360), st.floats(0.1, 5), st.floats(5, 355))
    @settings(max_examples=25, deadline=None)
    def test_similar_maps_keep_arcs(self, mirror, degrees, scale, turn):
        cos, sin = scale * math.cos(math.radians(degrees)), scale * math.sin(math.radians(degrees))
        change = Affine(cos, sin, -sin * mirror, cos * mirror, 7, 8)
        b = math.radians(turn)
        segment = Arc((10, 0), (10 * math.cos(b), 10 * math.sin(b)), (0, 0), False)
        placed = change.segment(segment)
        assert all(isinstance(piece, Arc) and piece.clockwise == (mirror < 0) for piece in placed)
        assert len(placed) <= 2
        assert sum(piece.length for piece in placed) == pytest.approx(segment.length * scale, rel=CLOSE)
        assert all(math.dist(piece.centre, (7, 8)) <= CLOSE * 100 for piece in placed)


class TestEllipses:
    @given(
        st.tuples(numbers, numbers), st.tuples(numbers, numbers), st.floats(-4, 4), st.floats(0.2, 6.2), st.booleans()
    )
    @settings(max_examples=40, deadline=None)
    def test_any_conjugate_half_axes(self, u, v, start, turn, backwards):
        if abs(u[0] * v[1] - u[1] * v[0]) < 0.02:
            return
        first, last = (start + turn, start) if backwards else (start, start + turn)

        def point(t):
            return 1 + math.cos(t) * u[0] + math.sin(t) * v[0], 2 + math.cos(t) * u[1] + math.sin(t) * v[1]

        pieces = ellipse_arc((1, 2), u, v, first, last, deviation=DEVIATION)
        assert math.dist(pieces[0].start, point(first)) <= CLOSE
        assert math.dist(pieces[-1].end, point(last)) <= CLOSE
        for step in range(41):
            assert nearest(point(first + (last - first) * step / 40), pieces) <= DEVIATION

    @pytest.mark.parametrize("backwards", [False, True])
    def test_seen_from_the_edge_it_is_lines(self, backwards):
        first, last = (math.tau, 0.0) if backwards else (0.0, math.tau)
        pieces = ellipse_arc((0, 0), (3, 4), (6, 8), first, last)
        assert all(isinstance(piece, Line) for piece in pieces)
        size = math.hypot(5, 10)
        assert sum(piece.length for piece in pieces) == pytest.approx(4 * size, rel=CLOSE)
        assert math.dist(pieces[0].start, (3, 4)) <= CLOSE
        assert math.dist(pieces[-1].end, (3, 4)) <= CLOSE
