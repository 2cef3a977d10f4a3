"""One cut to its moves: depths, entries, passes, tabs, bores, drilled holes and marks, on routers and lasers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.cut import Feature, HoleCut, LoopCut, MarkCut, TabSpan
from cutjob.cuts.entry import Surroundings
from cutjob.errors import InputError
from cutjob.geometry.contour import Contour, rectangle
from cutjob.geometry.offset import offset
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Arc, Line
from cutjob.geometry.transform import Transform
from cutjob.program.moves import Move, Step
from cutjob.program.setting import setting_of
from cutjob.program.steps import starts_of, step_of
from tests.cuts.makers import cutter, layout_of, router, shaped
from tests.layout.makers import kept_out
from tests.program.makers import SETTING, segments_of

CLOSE = 1e-6
LASER = replace(
    SETTING, laser=True, safe_z=0.0, approach_z=0.0, through=0.0, loops=0.0, passes=2, power=900.0, mark_power=250.0
)


def outline_cut(tabs: Sequence[TabSpan] = ()) -> tuple[LoopCut, Surroundings]:
    """Round a part of 60 x 40 at (50, 50), clockwise with the waste on the left, with all room around it."""
    path = offset(Transform(x=50, y=50).contour(rectangle(60, 40)), 3.0)[0].reversed()
    layout = layout_of((shaped(rectangle(60, 40)), Transform(x=50, y=50)))
    return LoopCut(
        op="outside cut", feature=Feature(kind="outline"), cutter=1, path=path, waste="left", tabs=tuple(tabs)
    ), Surroundings(layout, cutter_radius=3.0)


def loop_step(cut: LoopCut, around: Surroundings, setting: object = SETTING) -> Step:
    starts = starts_of(cut, 6, setting)  # type: ignore[arg-type]
    return step_of(cut, placement=0, starts=starts, around=around, setting=setting)  # type: ignore[arg-type]


def deepest_at(moves: Sequence[Move], contour: Contour) -> list[float]:
    """The lowest height reached at places all along a contour (within a hundredth of a mm of it)."""
    places = [shapely.Point(segment.point_at(share)) for segment in contour.segments for share in (0.1, 0.35, 0.6, 0.9)]
    lowest = [math.inf] * len(places)
    start = (moves[0].x, moves[0].y)
    for segment, z0, z1 in segments_of(moves, start):
        line = shapely.LineString([segment.start, *segment.chords(1e-4)])
        for index, place in enumerate(places):
            if line.distance(place) < 0.01:
                share = line.project(place, normalized=True)
                lowest[index] = min(lowest[index], z0 + (z1 - z0) * share)
    return lowest


@given(st.floats(0.5, 60), st.floats(0.5, 8))
def test_passes_are_equal_and_never_too_deep(depth: float, per_pass: float) -> None:
    depths = replace(SETTING, per_pass=per_pass).depths(depth)
    assert depths[-1] == pytest.approx(depth)
    steps = [b - a for a, b in zip((0.0, *depths), depths, strict=False)]
    assert max(steps) <= per_pass * (1 + 1e-9)
    assert max(steps) - min(steps) <= 1e-9 * depth
    assert len(depths) == 1 or depth / (len(depths) - 1) > per_pass


@given(st.floats(0.5, 60), st.floats(0.5, 8), st.floats(0.1, 8))
def test_a_last_pass_that_frees_a_part_is_lighter(depth: float, per_pass: float, last_pass: float) -> None:
    depths = replace(SETTING, per_pass=per_pass, last_pass=last_pass).gentle_depths(depth)
    steps = [b - a for a, b in zip((0.0, *depths), depths, strict=False)]
    *others, last = steps
    assert depths[-1] == depth
    assert others
    assert max(others) <= per_pass * (1 + 1e-9)
    assert max(others) - min(others) <= 1e-9 * depth
    assert 0 < last <= min(last_pass, min(others) / 2) * (1 + 1e-9)


def test_where_tabs_hold_a_part_its_last_pass_is_the_lighter_one() -> None:
    """12.3 mm in passes of 4.4 at most, 1.4 the last: three of 3.633 mm and one of 1.4."""
    tab = TabSpan(first=40, last=52, height=3.0, width=6.0, at=(0, 0))
    for tabs, levels in (([], [-4.1, -8.2, -12.3]), ([tab], [-3.6333, -7.2667, -10.9, -12.3])):
        cut, around = outline_cut(tabs)
        moves = loop_step(cut, around).moves
        level = {
            round(z1, 4)
            for segment, z0, z1 in segments_of(moves, (moves[0].x, moves[0].y))
            if abs(z0 - z1) < CLOSE and segment.length > 20
        }
        assert sorted(level, reverse=True) == levels


def test_a_loop_is_cut_through_all_the_way_round() -> None:
    cut, around = outline_cut()
    step = loop_step(cut, around)
    assert deepest_at(step.moves, cut.path) == pytest.approx([-12.3] * (4 * len(cut.path.segments)))
    assert step.moves[0] == replace(step.moves[0], kind="rapid", z=5.0)
    assert step.moves[-1] == replace(step.moves[-1], kind="rapid", z=5.0)
    assert min(move.z for move in step.moves) == pytest.approx(-12.3)


def test_a_ramp_is_never_steeper_than_the_feed_table_says() -> None:
    cut, around = outline_cut()
    moves = loop_step(cut, around).moves
    for segment, z0, z1 in segments_of(moves, (moves[0].x, moves[0].y)):
        assert (z0 - z1) / segment.length <= SETTING.slope + CLOSE


@given(st.floats(20, 150), st.floats(12, 25))
@settings(max_examples=25, deadline=None)
def test_a_tab_stays_through_all_passes(at: float, width: float) -> None:
    tab = TabSpan(first=at, last=at + width, height=3.0, width=width - 6, at=(0, 0))
    cut, around = outline_cut([tab])
    moves = loop_step(cut, around).moves
    ruler_length = cut.path.length
    wood = shapely.LineString([cut.path.segments[0].start, *(p for s in cut.path.segments for p in s.chords(1e-4))])
    for segment, z0, z1 in segments_of(moves, (moves[0].x, moves[0].y)):
        for share in (0.0, 0.25, 0.5, 0.75, 1.0):
            place = shapely.Point(segment.point_at(share))
            along, z = wood.project(place), z0 + (z1 - z0) * share
            if wood.distance(place) < 0.01 and any(
                tab.first + 0.1 < along + turn < tab.last - 0.1 for turn in (0, ruler_length)
            ):
                assert z >= 3.0 - SETTING.stack_height - CLOSE


@given(st.lists(st.floats(0, 212), min_size=1, max_size=4), st.floats(1, 12))
@settings(max_examples=40, deadline=None)
def test_a_whole_bridge_stays_and_each_pass_takes_no_more_than_a_pass(places: list[float], width: float) -> None:
    """However the bridges lie: nothing of them is touched, and behind each no more new wood than a pass is deep."""
    tabs = [
        TabSpan(first=at, last=at + width + 6, height=SETTING.stack_height, width=width, at=(0, 0)) for at in places
    ]
    cut, around = outline_cut(tabs)
    length = cut.path.length
    if sum(tab.last - tab.first for tab in tabs) > length / 2:
        return
    moves = loop_step(cut, around).moves
    wood = shapely.LineString([cut.path.segments[0].start, *(p for s in cut.path.segments for p in s.chords(1e-4))])
    marks = [index + 0.5 for index in range(int(length))]
    floor = [0.0] * len(marks)
    here, z = (moves[0].x, moves[0].y), moves[0].z
    for move in moves:
        end = (move.x, move.y)
        if move.kind == "rapid":
            assert min(z, move.z) > 0 or end == here
        else:
            chords = [end] if move.centre is None else Arc(here, end, move.centre, move.clockwise).chords(1e-4)
            line = shapely.LineString([here, *chords])
            for index, along in enumerate(marks):
                place = wood.interpolate(along)
                if line.distance(place) > 1e-3:
                    continue
                share = line.project(place, normalized=True) if line.length else 1.0
                height = z + (move.z - z) * share
                assert floor[index] - height <= SETTING.per_pass + CLOSE
                floor[index] = min(floor[index], height)
        here, z = end, move.z
    for along, low in zip(marks, floor, strict=True):
        bridged = [(along - tab.first) % length < tab.last - tab.first for tab in tabs]
        near = [min((along - end) % length, (end - along) % length) < 0.01 for t in tabs for end in (t.first, t.last)]
        if not any(near):
            assert low == (0.0 if any(bridged) else pytest.approx(-12.3))


def test_between_bridges_too_close_for_a_lead_a_loop_starts_in_the_widest_gap() -> None:
    """Of 218.8 mm, 11 bridges of 15 leave 5 mm between each other, but 8 mm at one place."""
    tabs = [
        TabSpan(first=at, last=at + 15, height=SETTING.stack_height, width=9, at=(0, 0))
        for at in (*range(0, 200, 20), 203)
    ]
    cut, _ = outline_cut(tabs)
    (start,) = starts_of(cut, 6, SETTING)
    assert start.along == pytest.approx((195 + 203) / 2)
    low = [replace(tab, height=3.0) for tab in tabs]
    assert len(starts_of(replace(cut, tabs=tuple(low)), 6, SETTING)) > 1


def test_leads_come_from_the_waste_and_are_left_out_without_room() -> None:
    cut, around = outline_cut()
    free = loop_step(cut, around).moves
    assert (free[2].kind, free[2].z) == ("plunge", 0.0)
    assert free[3].centre is not None
    part = shapely.box(50, 50, 110, 90)
    assert part.distance(shapely.Point(free[0].x, free[0].y)) > 3.5
    assert part.distance(shapely.Point(free[-1].x, free[-1].y)) > 3.5
    walled = layout_of((shaped(rectangle(60, 40)), Transform(x=50, y=50)), keep_outs=kept_out((
        Transform(x=30, y=30).contour(rectangle(100, 16.9)), Transform(x=30, y=93.1).contour(rectangle(100, 10)),
        Transform(x=30, y=46).contour(rectangle(16.9, 50)), Transform(x=113.1, y=46).contour(rectangle(10, 50)),
    )))  # fmt: skip
    tight = loop_step(cut, Surroundings(walled, cutter_radius=3.0)).moves
    assert part.distance(shapely.Point(tight[0].x, tight[0].y)) == pytest.approx(3.0, abs=1e-3)


def test_a_laser_goes_round_as_often_as_the_feed_table_says() -> None:
    cut, around = outline_cut()
    moves = loop_step(cut, around, LASER).moves
    assert {move.z for move in moves} == {0.0}
    assert {move.power for move in moves if move.kind == "cut"} == {900.0}
    lead = sum(segment.length for segment, _, _ in segments_of(moves[:2], (moves[0].x, moves[0].y)))
    whole = sum(segment.length for segment, _, _ in segments_of(moves, (moves[0].x, moves[0].y)))
    assert whole - lead == pytest.approx(2 * cut.path.length)


@pytest.mark.parametrize("first", [20.0, 95.0, 205.0])
def test_a_laser_leaves_its_tabs_alone(first: float) -> None:
    """The beam is off over a tab on both rounds, wherever on the path it lies."""
    tabs = (TabSpan(first=first, last=first + 12, height=3.0, width=6, at=(0, 0)),)
    cut, around = outline_cut(tabs)
    moves = loop_step(cut, around, LASER).moves
    ruler = Ruler(cut.path.segments)
    assert sum(move.kind == "rapid" for move in moves) == 1 + 2
    here, lit = (moves[0].x, moves[0].y), 0.0
    for move in moves[1:]:
        end = (move.x, move.y)
        if move.kind == "rapid":
            assert here == pytest.approx(ruler.point(first))
            assert end == pytest.approx(ruler.point(first + 12))
            assert (move.z, move.power) == (0.0, 0.0)
        else:
            assert move.power == 900.0
            segment = Line(here, end) if move.centre is None else Arc(here, end, move.centre, move.clockwise)
            lit += segment.length
        here = end
    lead = math.pi / 2 * 2.0
    assert lit == pytest.approx(lead + 2 * (cut.path.length - 12))


def hole(op: str, radius: float, depth: float | None) -> HoleCut:
    return HoleCut(
        op=op, feature=Feature(kind="hole"), cutter=1, at=(20.0, 20.0), radius=radius, depth=depth, clockwise=False
    )  # type: ignore[arg-type]


def hole_moves(cut: HoleCut, setting: object = SETTING) -> tuple[Move, ...]:
    _, around = outline_cut()
    return step_of(cut, placement=0, starts=starts_of(cut, 6, setting), around=around, setting=setting).moves  # type: ignore[arg-type]


@given(st.floats(0.05, 8))
@settings(max_examples=40, deadline=None)
def test_a_bore_however_narrow_sinks_no_faster_than_a_plunge(radius: float) -> None:
    moves = hole_moves(hole("bore", radius, None))
    for segment, before, after in segments_of(moves, (moves[0].x, moves[0].y)):
        move = next(one for one in moves if (one.x, one.y) == segment.end and one.z == after)
        sinking = move.feed * (before - after) / math.hypot(segment.length, before - after)
        assert sinking <= SETTING.plunge * (1 + CLOSE)


def test_a_drilled_hole_is_cleared_between_passes() -> None:
    moves = hole_moves(hole("drill", 0.0, None))
    assert {(move.x, move.y) for move in moves} == {(20.0, 20.0)}
    assert [move.z for move in moves] == pytest.approx([5.0, 1.0, -4.1, 1.0, -3.1, -8.2, 1.0, -7.2, -12.3, 5.0])
    # Back down in the hole as a rapid to a millimetre above its floor, the approach; only new wood is fed through.
    assert [move.kind for move in moves] == [*["rapid"] * 2, *["plunge", "rapid", "rapid"] * 2, "plunge", "rapid"]


@given(st.floats(0.01, 12), st.one_of(st.none(), st.floats(0.5, 11)))
@settings(max_examples=60, deadline=None)
def test_a_bore_reaches_its_wall_and_its_floor_and_no_further(radius: float, depth: float | None) -> None:
    moves = hole_moves(hole("bore", radius, depth))
    floor = SETTING.through if depth is None else depth
    assert min(move.z for move in moves) == pytest.approx(-floor)
    level = 0.0
    around = shapely.Point(20, 20)
    for segment, z0, z1 in segments_of(moves, (moves[0].x, moves[0].y)):
        line = shapely.LineString([segment.start, *segment.chords(1e-4)])
        assert line.hausdorff_distance(around) <= radius + 1e-4
        if max(abs(z0 + floor), abs(z1 + floor)) < CLOSE and line.distance(around) > radius - 1e-3:
            level += segment.length
    # A full turn along the wall at the full depth.
    assert level >= 2 * math.pi * radius * (1 - 1e-3)


@pytest.mark.parametrize("radius", [1.0, 4.0, 10.0])
def test_the_floor_of_a_blind_hole_is_cleared(radius: float) -> None:
    moves = hole_moves(hole("bore", radius, 5.0))
    lines = [
        shapely.LineString([segment.start, *segment.chords(1e-4)]).buffer(3.0, quad_segs=64)
        for segment, z0, z1 in segments_of(moves, (moves[0].x, moves[0].y))
        if max(abs(z0 + 5.0), abs(z1 + 5.0)) < CLOSE
    ]
    swept = shapely.union_all(lines)
    assert swept.area == pytest.approx(math.pi * (radius + 3.0) ** 2, rel=2e-3)
    assert not list(swept.interiors)


@pytest.mark.parametrize(("radius", "plug"), [(14.2, True), (14.3, False)])
def test_a_bore_is_cleared_where_its_plug_would_be_large(radius: float, plug: bool) -> None:
    """A 6 mm cutter at 14.28 leaves a plug of 11.28 in radius, 400 mm2: common practice, no source."""
    moves = hole_moves(hole("bore", radius, None))
    pieces = segments_of(moves, (moves[0].x, moves[0].y))
    deep = [
        shapely.LineString([segment.start, *segment.chords(1e-4)]).buffer(3.0, quad_segs=64)
        for segment, z0, z1 in pieces[:-1]  # the last leads to the middle
        if max(abs(z0 + 12.3), abs(z1 + 12.3)) < CLOSE
    ]
    left = shapely.Point(20, 20).buffer(radius + 2.9).difference(shapely.union_all(deep))
    assert (left.area > 300) is plug
    assert min(move.z for move in moves) == pytest.approx(-12.3)
    # In rings no level is deeper than a pass below the last.
    levels = sorted({round(z1, 6) for _, z0, z1 in pieces if abs(z0 - z1) < CLOSE}, reverse=True)
    assert plug or levels == pytest.approx([-4.1, -8.2, -12.3])


def test_a_bore_under_a_counterbore_is_cleared_from_its_floor_on() -> None:
    moves = hole_moves(replace(hole("bore", 20.0, None), top=5.0))
    levels = sorted({round(z1, 6) for _, z0, z1 in segments_of(moves, (moves[0].x, moves[0].y)) if z0 == z1})
    assert levels == pytest.approx([-12.3, -8.65])


def test_a_laser_cuts_a_hole_from_its_middle() -> None:
    moves = hole_moves(hole("bore", 5.0, None), LASER)
    assert (moves[0].kind, moves[0].x, moves[0].y) == ("rapid", 20.0, 20.0)
    lengths = [segment.length for segment, _, _ in segments_of(moves, (20.0, 20.0))]
    assert sum(lengths) == pytest.approx(math.pi * 2.5 + 2 * 2 * math.pi * 5.0)


def test_a_mark_goes_forth_and_back_until_it_is_deep_enough() -> None:
    cut = MarkCut(
        feature=Feature(kind="mark"), cutter=1, path=(Line((0, 0), (10, 0)), Line((10, 0), (10, 5))), depth=6.0
    )
    _, around = outline_cut()
    moves = step_of(cut, placement=0, starts=starts_of(cut, 6, SETTING), around=around, setting=SETTING).moves
    assert [(move.x, move.y, move.z) for move in moves] == [
        (0, 0, 5.0), (0, 0, 1.0), (0, 0, -3.0), (10, 0, -3.0), (10, 5, -3.0), (10, 5, -6.0), (10, 0, -6.0),
        (0, 0, -6.0),
        (0, 0, 5.0),
    ]  # fmt: skip
    beam = step_of(cut, placement=0, starts=starts_of(cut, 6, LASER), around=around, setting=LASER).moves
    assert [(move.x, move.y, move.power) for move in beam] == [(0, 0, 0.0), (10, 0, 250.0), (10, 5, 250.0)]


def test_loops_start_clear_of_tabs() -> None:
    tab = TabSpan(first=10.0, last=22.0, height=3.0, width=6, at=(0, 0))
    cut, _ = outline_cut([tab])
    run = SETTING.last_pass / SETTING.slope
    for start in starts_of(cut, 6, SETTING):
        end = (start.along + run) % cut.path.length
        assert not tab.first - 8 < end < tab.last + 8
        assert start.end == pytest.approx(Ruler(cut.path.segments).point(end))


def test_settings_come_from_the_feed_table_within_the_machines_limits() -> None:
    machine = router(motion={"greatest_feed": 2000.0, "greatest_plunge": 500.0, "rapid_z": 9000.0})
    layout = layout_of(stack=2, thickness=9.0)
    tool = cutter()
    row = tool.feed_for("softwood")
    assert row is not None
    setting = setting_of(layout, cutter=tool, machine=machine)
    assert setting.through == 18.0 + machine.cutting.overcut
    assert (setting.feed, setting.plunge) == (2000.0, 500.0)
    # Going up through wood is a cut as well: no faster than the feed, however fast the machine lifts.
    assert setting.lift == 2000.0
    assert setting_of(layout, cutter=tool, machine=router(motion={"rapid_z": 700.0})).lift == 700.0
    # On the slope of a ramp the cutter may not go down faster than its plunge.
    fall = setting.slope_feed(1.0, -setting.slope) * math.sin(math.atan(setting.slope))
    assert fall <= setting.plunge * (1 + 1e-9)
    assert setting.slope == pytest.approx(math.tan(math.radians(row.ramp_degrees)))


def test_no_feed_no_setting() -> None:
    with pytest.raises(InputError, match='no feed for "balsa"'):
        setting_of(layout_of(material="balsa"), cutter=cutter(), machine=router())
