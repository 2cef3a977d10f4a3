"""Where bridges may stay on a path: away from corners and tight curves, as many as the spacing asks for."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.tabs import TabSites, corners_of, gentle_stretches, mirrored, tab_sites, turn_between, way
from cutjob.geometry.contour import Contour, Region, circle, polyline, rectangle
from cutjob.geometry.offset import offset
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Arc, Line
from cutjob.job.machine import Tabs
from cutjob.parts.part import Pocket
from cutjob.tolerances import TOLERANCES
from tests.cuts.makers import shaped
from tests.strategies import star_shaped

TABS = Tabs(width=6.0, height=3.0, every=250.0, gentle_radius=40.0, least=2, most=8, grams_each=1e6)


def sites_round(
    part: Contour, radius: float = 3.0, thickness: float = 16.0, tabs: Tabs = TABS
) -> tuple[Ruler, TabSites]:
    path = offset(part, radius)[0]
    return Ruler(path.segments), tab_sites(
        path,
        part=shaped(part, grain="none"),
        cutter_radius=radius,
        thickness=thickness,
        material="softwood",
        tabs=tabs,
    )


def corner_places(ruler: Ruler, radius: float) -> list[float]:
    """Where a path turns sharply or runs round a corner of the part, mm along it."""
    places = []
    for index, segment in enumerate(ruler.segments):
        if turn_between(ruler.segments[index - 1], segment) > 0.2:
            places.append(ruler.start_of(index))
        if isinstance(segment, Arc) and segment.radius <= radius * 1.01:
            places += [ruler.start_of(index), ruler.start_of(index) + segment.length]
    return places


@given(star_shaped(least=40, greatest=120), st.sampled_from([1.5, 3.175, 4.7625]))
@settings(max_examples=40, deadline=None)
def test_bridges_end_clear_of_corners(part: Contour, radius: float) -> None:
    """The cuts beside a bridge end on gentle stretches, where the width of its wood is what was planned."""
    ruler, sites = sites_round(part, radius)
    assert sites.span == pytest.approx(sites.width + 2 * radius)
    corners = corner_places(ruler, radius)
    for along, _ in sites.sites:
        # Places are rounded to 0.001 mm.
        assert all(way(along, corner, ruler.length) >= sites.span / 2 + sites.width / 2 - 0.002 for corner in corners)


@pytest.mark.parametrize("degrees", [1.5, 4.0, 30.0])
def test_even_a_slight_inside_corner_parts_stretches(degrees: float) -> None:
    """A cutter leaves r (1/cos(t/2) - 1) in a corner that turns t: too much to be taken for cut from 1.5 degrees on."""
    bend = math.tan(math.radians(degrees))
    line = [Line((0, 0), (50, 0)), Line((50, 0), (100, 50 * bend)), Line((100, 50 * bend), (100, 80)),
            Line((100, 80), (0, 80)), Line((0, 80), (0, 0))]  # fmt: skip
    assert len(gentle_stretches(Ruler(line), corners_of(line), 40.0)) == 5
    assert 3.0 * (1 / math.cos(0.02 / 2) - 1) < TOLERANCES.path


def test_how_many_and_how_large() -> None:
    _, sites = sites_round(rectangle(600, 100))
    assert sites.wanted == round((1400 + 2 * math.pi * 3) / 250)
    assert (sites.width, sites.height) == (6.0, 3.0)
    assert sites_round(rectangle(3000, 500))[1].wanted == TABS.most
    assert sites_round(rectangle(60, 40))[1].wanted == TABS.least
    # Never above half the board's thickness, and narrower on small parts, down to half.
    assert sites_round(rectangle(60, 40), thickness=4.0)[1].height == 2.0
    assert sites_round(rectangle(40, 30))[1].width == pytest.approx(max(3.0, (140 + 6 * math.pi) / 40))


def test_a_round_takes_bridges_all_the_way_round() -> None:
    ruler, sites = sites_round(circle((0, 0), 60))
    places = [along for along, _ in sites.sites]
    gaps = [b - a for a, b in zip(places, [*places[1:], places[0] + ruler.length], strict=True)]
    assert max(gaps) <= sites.span / 3 + 0.002
    assert {level for _, level in sites.sites} == {0}
    # On a smaller one they lie on a curve tighter than the profile calls gentle.
    assert {level for _, level in sites_round(circle((0, 0), 20))[1].sites} == {1}


def test_no_sites_where_nothing_is_straight_enough() -> None:
    teeth = [
        (r * math.cos(math.pi * i / 18), r * math.sin(math.pi * i / 18)) for i in range(36) for r in [40 - i % 2 * 8]
    ]
    assert sites_round(polyline(teeth))[1].sites == ()


def test_sites_of_a_mirrored_part() -> None:
    plan = TabSites(wanted=2, width=6, height=3, span=12, sites=((0.0, 1), (10.0, 0), (70.0, 2)))
    assert mirrored(plan, length=100.0).sites == ((0.0, 1), (30.0, 2), (90.0, 0))
    assert mirrored(mirrored(plan, length=100.0), length=100.0) == plan


@given(st.floats(0, 300), st.floats(0, 300))
def test_the_shorter_way_round(a: float, b: float) -> None:
    # One addition and one remainder in floating point.
    assert way(a, b, 100.0) == pytest.approx(way(b, a, 100.0), abs=1e-9)
    assert 0 <= way(a, b, 100.0) <= 50 + 1e-9
    assert way(a, a + 100, 100.0) == pytest.approx(0.0, abs=1e-9)


def test_ramps_where_an_even_stretch_is_long_enough() -> None:
    ramped = TABS.model_copy(update={"ramp_degrees": 20.0})
    _, long_edges = sites_round(rectangle(200, 100), tabs=ramped)
    assert long_edges.ramped
    assert long_edges.ramped < {site for site, _ in long_edges.sites}
    _, short_edges = sites_round(rectangle(28, 26), tabs=ramped)
    assert short_edges.sites
    assert not short_edges.ramped
    # Mirrored, the same places are counted from the other end.
    turned = mirrored(long_edges, length=700.0)
    assert {round(700.0 - site, 6) % 700 for site in turned.ramped} == {round(site, 6) for site in long_edges.ramped}


@given(
    star_shaped(least=40, greatest=120),
    st.lists(st.tuples(st.integers(-80, 80), st.integers(-80, 80)), min_size=1, max_size=4),
)
@settings(max_examples=40, deadline=None)
def test_bridges_by_hand_keep_clear_of_corners_and_each_other(part: Contour, places: list[tuple[int, int]]) -> None:
    radius = 1.5875
    path = offset(part, radius)[0]
    found = tab_sites(
        path,
        part=replace(shaped(part), tab_places=tuple((float(x), float(y)) for x, y in places)),
        cutter_radius=radius,
        thickness=16.0,
        material="softwood",
        tabs=TABS,
    )
    ruler = Ruler(path.segments)
    alongs = [along for along, _ in found.sites]
    assert found.wanted == len(places) >= len(alongs)
    for along in alongs:
        assert all(way(along, corner, ruler.length) >= found.span / 2 for corner in corner_places(ruler, radius))
        assert all(way(along, other, ruler.length) >= found.span + found.width for other in alongs if other != along)


def test_a_bridge_by_hand_with_room_stays_where_it_is_wanted() -> None:
    path = offset(rectangle(200, 100), 3.0)[0]
    part = replace(shaped(rectangle(200, 100)), tab_places=((120.0, -5.0), (200.0, 100.0), (120.0, 1.0)))
    found = tab_sites(path, part=part, cutter_radius=3.0, thickness=16.0, material="softwood", tabs=TABS)
    xs = sorted(Ruler(path.segments).point(along) for along, _ in found.sites)
    # The second goes as far from its corner as the nearer side needs; the third would be one with the first.
    assert len(xs) == 2
    assert xs[0] == pytest.approx((120.0, -3.0), abs=1e-4)  # a search by thirds, mm
    clear = found.span / 2 + found.width / 2
    assert xs[1] in (pytest.approx((203.0, 100.0 - clear)), pytest.approx((200.0 - clear, 103.0)))
    assert found.wanted == 3


@pytest.mark.parametrize("by_hand", [False, True])
@pytest.mark.parametrize(("depth", "kept"), [(2.9, True), (3.1, False)])
def test_no_bridge_stands_where_an_open_pocket_would_take_its_top_off(by_hand: bool, depth: float, kept: bool) -> None:
    """On a board of 6 a bridge of 3: a rebate along the lower edge deeper than 3 runs out over bridges there."""
    outline, radius = rectangle(200, 80), 3.0
    rebate = Pocket(region=Region(rectangle(200, 10)), depth=depth)
    places = ((50.0, 0.0), (150.0, 0.0), (100.0, 80.0)) if by_hand else ()
    part = shaped(outline, grain="none", pockets=(rebate,), tab_places=places)
    path = offset(outline, radius)[0]
    plan = tab_sites(path, part=part, cutter_radius=radius, thickness=6.0, material="softwood", tabs=TABS)
    ruler = Ruler(path.segments)
    rows = {round(ruler.point(along)[1], 3) for along, _ in plan.sites}
    assert (-3.0 in rows) == kept
    assert 83.0 in rows
