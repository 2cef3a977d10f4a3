"""Boards held: joined at the height of the bridges, by no single one, in short chains, spread round every part."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.contour import circle, rectangle
from cutjob.geometry.transform import Transform
from cutjob.holding.hold import Held, bridges_for_force, forces, hold_board
from cutjob.layout.holding import Holding
from tests.cuts.makers import changed, layout_of, router, shaped
from tests.holding.boards import chains, cut, held, loose
from tests.layout.makers import kept_out


def holding_of(done: Held) -> Holding:
    found = done.board.layout.holding
    assert found is not None
    return found


def held_nodes(done: Held) -> list[int]:
    holding = holding_of(done)
    nodes = [placement.polygon for placement in done.board.layout.placements]
    nodes += [shapely.Polygon([segment.start for segment in chunk.segments]) for chunk in holding.chunks]
    holds = [shapely.Polygon([segment.start for segment in hold.area.segments]) for hold in holding.holds]
    inside = len(done.board.layout.placements)
    found = []
    for index, node in enumerate(nodes):
        # A chunk's outline goes round all that lies in it; clamps lie on waste alone.
        if index >= inside and any(node.covers(hold.buffer(-0.5)) for hold in holds):
            found.append(index)
    return found


def assert_holds(done: Held) -> None:
    """All that is asked of a held board, looked at without the planner's own graph."""
    assert done.good, done.faults
    holding, placements = holding_of(done), done.board.layout.placements
    assert loose(done.board) == []
    count = len(placements) + len(holding.chunks)
    joins, roots = [bridge.joins for bridge in holding.bridges], held_nodes(done)
    level = chains(joins, roots, count)
    assert [level[part] for part in range(len(placements))] == list(holding.to_hold)
    assert all(each is not None and each <= 3 for each in level[: len(placements)])
    for number in range(len(joins)):
        without = chains([*joins[:number], *joins[number + 1 :]], roots, count)
        assert None not in without[: len(placements)], f"bridge {number} alone holds a part"
    for part, placement in enumerate(placements):
        points = [bridge.ends[bridge.joins.index(part)] for bridge in holding.bridges if part in bridge.joins]
        corners = list(shapely.minimum_rotated_rectangle(placement.polygon).exterior.coords)
        width = min(math.dist(corners[i], corners[i + 1]) for i in range(2))
        hull = shapely.MultiPoint(points).convex_hull
        assert len(points) >= 2
        assert hull.distance(placement.polygon.centroid) <= width / 10


def test_one_part_in_the_middle_hangs_on_the_waste_under_the_clamps() -> None:
    done = held((shaped(rectangle(120, 60)), Transform(x=140, y=120)))
    assert_holds(done)
    holding = holding_of(done)
    assert holding.by == "clamps"
    assert len(holding.holds) == 2
    left, right = sorted(hold.area.bounds[0] for hold in holding.holds)
    assert left < 400 / 3 < 400 * 2 / 3 < right + 40
    assert holding.to_hold == (1,)
    # The clamps stand on the board from then on.
    board = done.board.layout.board
    assert [one.why for one in board.keep_outs] == ["clamp", "clamp"]
    assert [one.height for one in board.keep_outs] == [20.0, 20.0]


def test_parts_side_by_side_hang_on_each_other_over_shared_bridges() -> None:
    part = shaped(rectangle(80, 60))
    done = held(*[(part, Transform(x=60 + 88 * column, y=60 + 68 * row)) for column in range(3) for row in range(3)])
    assert_holds(done)
    assert max(holding_of(done).to_hold) == 2  # the one in the middle
    tabs = [tab for each in done.board.parts for loop in each.outline for tab in loop.tabs]
    assert len(tabs) > len(holding_of(done).bridges)  # those between parts lie on two paths


@given(
    st.integers(1, 4),
    st.integers(1, 3),
    st.floats(8, 30),
    st.floats(30, 90),
    st.floats(30, 90),
    st.booleans(),
    st.floats(2, 30),
)
@settings(max_examples=40, deadline=None)
def test_what_is_called_held_is_held(
    columns: int, rows: int, gap: float, length: float, width: float, round_ones: bool, margin: float
) -> None:
    """Whatever lies on the board: either the planner says what is wrong, or all it calls held is, at a plain look."""
    part = shaped(circle((0, 0), width / 2)) if round_ones else shaped(rectangle(length, width))
    x0, y0 = (width / 2, width / 2) if round_ones else (0.0, 0.0)
    step_x, step_y = (width + gap if round_ones else length + gap), width + gap
    places = [
        (part, Transform(x=margin + x0 + column * step_x, y=margin + y0 + row * step_y))
        for column in range(columns)
        for row in range(rows)
    ]
    board_length = 2 * margin + columns * step_x - gap + 60
    board_width = 2 * margin + rows * step_y - gap
    done = held(*places, length=board_length, width=board_width)
    if done.good:
        assert_holds(done)
    else:
        assert done.no_hold or done.faults


def test_a_slot_off_both_edges_leaves_a_part_between_two_pieces_of_waste_both_clamped() -> None:
    """A disc as wide as the board saws it in two; both pieces are clamped, and the disc hangs on both."""
    done = held((shaped(circle((0, 0), 50)), Transform(x=200, y=52)), width=104)
    assert_holds(done)


def test_a_piece_between_two_slots_that_nothing_joins_is_named() -> None:
    """Strips from edge to edge, hand over hand: what lies between is farther than three bridges from the clamps."""
    part = shaped(rectangle(30, 100))
    done = held(*[(part, Transform(x=50 + 38 * n, y=2)) for n in range(12)], length=560, width=104)
    assert {fault.lacks for fault in done.faults} == {"chain"}


def test_no_room_for_clamps_is_no_hold() -> None:
    done = held((shaped(rectangle(390, 290)), Transform(x=5, y=5)))
    assert done.no_hold


def test_a_plug_in_an_opening_hangs_on_its_part() -> None:
    ring = shaped(circle((0, 0), 80), circle((0, 0), 40))
    done = held((ring, Transform(x=200, y=150)))
    assert_holds(done)
    (part,) = done.board.parts
    assert sum(len(each.tabs) for each in part.inner if hasattr(each, "tabs")) == 2
    small = held((shaped(circle((0, 0), 80), circle((0, 0), 15)), Transform(x=200, y=150)))
    assert not any(each.tabs for each in small.board.parts[0].inner if hasattr(each, "tabs"))


@pytest.mark.parametrize("by", ["tape", "vacuum"])
def test_tape_and_vacuum_hold_without_bridges(by: str) -> None:
    done = held((shaped(rectangle(390, 290)), Transform(x=5, y=5)), by=by)
    assert done.good
    assert holding_of(done) == Holding(by=by, to_hold=(0,))  # type: ignore[arg-type]
    assert not any(loop.tabs for loop in done.board.parts[0].outline)


def test_a_stack_has_bridges_over_its_whole_height() -> None:
    done = held((shaped(rectangle(120, 60)), Transform(x=140, y=120)), stack=2)
    assert_holds(done)
    assert {bridge.height for bridge in holding_of(done).bridges} == {done.board.layout.height}
    assert {tab.height for loop in done.board.parts[0].outline for tab in loop.tabs} == {done.board.layout.height}


def test_a_clamp_the_job_names_is_the_only_one() -> None:
    place = (shaped(rectangle(120, 60)), Transform(x=140, y=120))
    layout = layout_of(place)
    named = replace(layout.board, keep_outs=kept_out((rectangle(40, 25),), heights=(18.0,), whys=("clamp",)))
    done = hold_board(cut(replace(layout, board=named)), machine=router(), by="clamps")
    assert_holds(done)
    assert [hold.area for hold in holding_of(done).holds] == [rectangle(40, 25)]
    assert len(done.board.layout.board.keep_outs) == 1


def test_a_skin_holds_the_parts_and_clamps_the_board() -> None:
    machine = router().model_copy(update={"tabs": None})
    done = held((shaped(rectangle(120, 60)), Transform(x=140, y=120)), machine=machine)
    assert machine.skin > 0
    assert done.good
    assert holding_of(done).bridges == ()
    assert len(holding_of(done).holds) == 2


def test_bridges_bear_the_side_force() -> None:
    """0.39 mm a tooth at 7.5 mm deep is about 100 N, and a bridge of 6 x 3 mm bears about 100 N: with a margin of two
    it takes two. (Worked from the sources in forces.toml.)
    """
    known = forces()
    assert known["specific_cutting_force"] * 0.39 * 7.5 == pytest.approx(100, rel=0.03)
    assert known["shear_strength"] * 6 * 3 == pytest.approx(100, rel=0.01)
    board = cut(layout_of((shaped(rectangle(120, 60)), Transform(x=140, y=120))))
    cutter = board.cutters.outline
    row = cutter.feed_for("softwood")
    assert row is not None
    assert row.rpm is not None
    hard = row.model_copy(update={"feed": 0.39 * row.rpm * cutter.flutes, "depth_per_pass": 7.5})
    strong = cutter.model_copy(update={"feed": (hard,)})
    tried = replace(board, cutters=replace(board.cutters, outline=strong))
    machine = changed(router(), motion={"greatest_feed": 1e9})
    assert bridges_for_force(tried, machine, 6.0, 3.0) in (2, 3)
    assert bridges_for_force(tried, machine, 3.0, 1.5) in (8, 9)
