"""Places for clamps: at the edge, on one piece of waste, clear of what is cut; near both ends; kept free beforehand."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.contour import circle, polyline, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.holding.clamps import (
    as_hold,
    end_clamps,
    more_clamps,
    places_at_edge,
    room_for_clamps,
    with_clamps,
    without_holds,
)
from cutjob.job.machine import Clamps
from cutjob.layout.holding import Holding
from tests.cuts.makers import board
from tests.layout.makers import areas_of, kept_out

CLAMPS = Clamps()


def whole(length: float = 600, width: float = 140, **more: object):  # type: ignore[no-untyped-def]
    return board(length, width, outline=rectangle(length, width), **more)


def test_all_round_a_board_without_cuts() -> None:
    plain = whole()
    chunk = to_polygon(plain.outline)
    places = places_at_edge(plain, [chunk], busy=shapely.Point(300, 70).buffer(5), clamps=CLAMPS, margin=3.0)
    sizes = {tuple(sorted((round(b[2] - b[0], 6), round(b[3] - b[1], 6)))) for b in (p.area.bounds for p in places)}
    assert sizes == {(25.0, 40.0)}  # 40 x 25 mm: common practice, no source
    for place in places:
        assert chunk.exterior.intersection(place.area.buffer(1e-6)).length >= 40
    one, two = end_clamps(places, [chunk], first=0.0, last=600.0, clamps=CLAMPS) or (None, None)
    assert one is not None
    assert two is not None
    assert one.area.bounds[0] == pytest.approx(0)
    assert two.area.bounds[2] == pytest.approx(600)


def test_clear_of_what_is_cut_and_of_knots() -> None:
    knot = circle((20.0, 20.0), 15.0)
    plain = replace(whole(), keep_outs=kept_out((knot,), heights=(0.0,), whys=("knot",)))
    busy = shapely.box(200, 0, 400, 140)
    chunks = list(shapely.get_parts(to_polygon(plain.outline).difference(busy)))
    places = places_at_edge(plain, chunks, busy=busy, clamps=CLAMPS, margin=3.0)
    assert places
    for place in places:
        assert place.area.distance(busy) >= 3.0 - 1e-6
        assert not place.area.intersects(to_polygon(knot))
        assert chunks[place.chunk].covers(place.area.buffer(-0.02))


def test_none_where_the_waste_is_too_thin() -> None:
    plain = whole()
    busy = to_polygon(rectangle(600, 140)).buffer(-20)
    ring = to_polygon(plain.outline).difference(busy)
    assert places_at_edge(plain, [ring], busy=busy, clamps=CLAMPS, margin=3.0) == ()


def test_both_ends_or_nothing() -> None:
    plain = whole()
    busy = shapely.box(100, 0, 600, 140)
    chunk = to_polygon(plain.outline).difference(busy)
    places = places_at_edge(plain, [chunk], busy=busy, clamps=CLAMPS, margin=3.0)
    assert places
    assert end_clamps(places, [chunk], first=0.0, last=600.0, clamps=CLAMPS) is None


def test_one_more_on_every_piece_that_has_none() -> None:
    plain = whole()
    busy = shapely.union_all([shapely.box(x, 0, x + 10, 140) for x in (150, 300, 450)])
    chunks = list(shapely.get_parts(to_polygon(plain.outline).difference(busy)))
    places = places_at_edge(plain, chunks, busy=busy, clamps=CLAMPS, margin=3.0)
    pair = end_clamps(places, chunks, first=0.0, last=600.0, clamps=CLAMPS)
    assert pair is not None
    more = more_clamps(places, pair, clamps=CLAMPS)
    assert sorted(one.chunk for one in (*pair, *more)) == [0, 1, 2, 3]


def test_clamps_stand_on_the_board_and_come_off_it() -> None:
    knot = circle((300.0, 70.0), 10.0)
    plain = replace(whole(), keep_outs=kept_out((knot,), heights=(), whys=("knot",)))
    chunk = to_polygon(plain.outline)
    places = places_at_edge(plain, [chunk], busy=shapely.Point(300, 70).buffer(5), clamps=CLAMPS, margin=3.0)
    pair = end_clamps(places, [chunk], first=0.0, last=600.0, clamps=CLAMPS)
    assert pair is not None
    holds = tuple(as_hold(place, clamps=CLAMPS, window=None) for place in pair)
    clamped = with_clamps(plain, holds)
    assert [one.why for one in clamped.keep_outs] == ["knot", "clamp", "clamp"]
    assert [one.height for one in clamped.keep_outs] == [0.0, 20.0, 20.0]
    bare = without_holds(clamped, Holding(by="clamps", holds=holds))
    assert areas_of(bare) == (knot,)
    assert [one.why for one in bare.keep_outs] == ["knot"]


@given(st.floats(120, 2500), st.floats(60, 400), st.integers(2, 5), st.integers(0, 12))
@settings(max_examples=40, deadline=None)
def test_places_kept_free_are_clear_of_each_other_and_at_both_ends(
    length: float, width: float, count: int, reach: int
) -> None:
    plain = whole(length, width)
    kept = room_for_clamps(plain, clamps=CLAMPS, count=count, reach=reach, bed=None)
    areas = [to_polygon(area) for area in areas_of(kept)]
    assert 2 <= len(areas) <= count
    assert min(area.bounds[0] for area in areas) <= 1e-6
    assert max(area.bounds[2] for area in areas) >= length - 1e-6
    inner = [area.buffer(-reach, join_style="mitre") if reach else area for area in areas]
    assert all(a.distance(b) > 0 for i, a in enumerate(inner) for b in inner[:i])


def test_two_in_every_window_of_a_long_board() -> None:
    kept = room_for_clamps(whole(1800, 140), clamps=CLAMPS, count=2, reach=0.0, bed=900.0)
    spans = [area.bounds[0::2] for area in areas_of(kept)]
    for first in range(0, 901, 50):
        assert sum(x0 >= first and x1 <= first + 900 for x0, x1 in spans) >= 2


def test_no_room_is_kept_for_others_where_the_job_names_clamps() -> None:
    named = whole(keep_outs=kept_out((rectangle(60, 8),), heights=(25.0,), whys=("clamp",)))
    assert room_for_clamps(named, clamps=CLAMPS, count=2, reach=0.0, bed=None) == named
    knot = whole(keep_outs=kept_out((rectangle(60, 8),), heights=(0.0,), whys=("knot",)))
    assert len(room_for_clamps(knot, clamps=CLAMPS, count=2, reach=0.0, bed=None).keep_outs) == 3


def test_a_dog_eared_end_has_its_clamp_between_the_ears() -> None:
    eared = board(600, 140, outline=polyline([(0, 0), (568, 0), (600, 32), (600, 108), (568, 140), (0, 140)]))
    kept = room_for_clamps(eared, clamps=CLAMPS, count=2, reach=0.0, bed=None)
    x0, y0, x1, y1 = max((area.bounds for area in areas_of(kept)), key=lambda bounds: bounds[2])
    assert x1 == pytest.approx(600)
    assert (x1 - x0, y1 - y0) == pytest.approx((25, 40))
