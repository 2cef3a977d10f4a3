"""The choice of bridges on made-up boards: what it calls held is, with any bridge out; what can't be is named."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, box

from cutjob.cuts.cut import Feature, LoopCut
from cutjob.cuts.tabs import TabSites
from cutjob.geometry.contour import circle, polyline, rectangle
from cutjob.geometry.transform import Transform
from cutjob.holding.choose import Chosen, Wanted, choose
from cutjob.holding.ground import Ground, Loop, Site
from tests.cuts.makers import layout_of, shaped
from tests.holding.boards import chains

RADIUS = 100.0  # of every part here: its loop is 628 mm long
PLAN = TabSites(wanted=2, width=6.0, height=3.0, span=12.0, sites=())
PART = shaped(circle((0, 0), RADIUS))


def ground_of(parts: int, chunks: int, joins: list[tuple[int, int, int]]) -> Ground:
    """Discs and chunks; a bridge is a pair of nodes and where on the first disc it stands, in twentieths of a turn."""
    loops = tuple(
        Loop(
            placement=index,
            cut=LoopCut(
                op="outside cut", feature=Feature(kind="outline"), cutter=1, path=circle((0, 0), RADIUS), waste="right"
            ),
            plan=PLAN,
            away=3.0,
            radius=3.0,
            outer=0,
        )
        for index in range(parts)
    )
    sites = []
    for one, two, turn in joins:
        angle = math.pi * turn / 10
        here, along = (RADIUS * math.cos(angle), RADIUS * math.sin(angle)), loops[0].ruler.length * turn / 20
        places = [(one, along)]
        if two < parts:
            places.append((two, (along + loops[0].ruler.length / 2) % loops[0].ruler.length))
        there = (-here[0], -here[1]) if two < parts else (1.1 * here[0], 1.1 * here[1])
        sites.append(Site(joins=(one, two), places=tuple(places), ends=(here, there), width=6.0, cost=0.0))
    return Ground(
        layout=layout_of(*[(PART, Transform()) for _ in range(parts)]),
        loops=loops,
        chunks=tuple(box(0, 0, 10, 10) for _ in range(chunks)),
        sites=tuple(sites),
        swept=Point(0, 0),
    )


def chosen(ground: Ground, held: list[int]) -> Chosen:
    wanted = {
        part: Wanted(centroid=(0.0, 0.0), width=2 * RADIUS, size=2 * RADIUS, count=2)
        for part in range(len(ground.loops))
    }
    return choose(ground, held=[held], wanted=wanted, heavy=(), clear=10.0)


@st.composite
def boards(draw: st.DrawFn) -> tuple[Ground, list[int]]:
    parts, chunks = draw(st.integers(1, 6)), draw(st.integers(1, 3))
    pairs = st.tuples(st.integers(0, parts - 1), st.integers(0, parts + chunks - 1), st.integers(0, 19))
    joins = [(a, b, turn) for a, b, turn in draw(st.lists(pairs, max_size=40)) if a != b]
    return ground_of(parts, chunks, joins), [parts]


@given(boards())
@settings(max_examples=200, deadline=None)
def test_what_is_held_is_held_with_any_one_bridge_out(given_board: tuple[Ground, list[int]]) -> None:
    ground, held = given_board
    found, parts = chosen(ground, held), len(ground.loops)
    count = parts + len(ground.chunks)
    joins = [ground.sites[number].joins for number in found.sites]
    level = chains(joins, held, count)
    named = {fault.node for fault in found.faults}
    for part in range(parts):
        without = [
            chains([*joins[:number], *joins[number + 1 :]], held, count)[part] is None for number in range(len(joins))
        ]
        good = level[part] is not None and level[part] <= 3 and not any(without)  # type: ignore[operator]
        assert good or part in named
        assert level[part] is None or found.to_hold[part] == level[part]
        if level[part] is None:
            assert (part, "joined") in {(fault.node, fault.lacks) for fault in found.faults}


@given(boards())
@settings(max_examples=100, deadline=None)
def test_bridges_on_a_path_keep_apart(given_board: tuple[Ground, list[int]]) -> None:
    ground, held = given_board
    found = chosen(ground, held)
    on: dict[int, list[float]] = {}
    for number in found.sites:
        for loop, along in ground.sites[number].places:
            on.setdefault(loop, []).append(along)
    length = ground.loops[0].ruler.length
    for places in on.values():
        places.sort()
        gaps = [(b - a) % length or length for a, b in zip(places, [*places[1:], places[0]], strict=True)]
        assert min(gaps) >= PLAN.span + 6.0 - 1e-9
        assert max(gaps) >= PLAN.span + 2 * 10.0 - 1e-9  # room for a way in and out


def test_two_opposite_bridges_rather_than_two_side_by_side() -> None:
    found = chosen(ground_of(1, 1, [(0, 1, 0), (0, 1, 1), (0, 1, 2), (0, 1, 10)]), [1])
    assert found.faults == ()
    assert 3 in found.sites


def test_all_on_one_side_is_named() -> None:
    found = chosen(ground_of(1, 1, [(0, 1, 0), (0, 1, 2), (0, 1, 4)]), [1])
    assert [(fault.node, fault.lacks) for fault in found.faults] == [(0, "spread")]


def lath(length: float, width: float) -> tuple[Ground, dict[int, Wanted]]:
    """A lath in a field of waste: good places along one edge, poor ones along the other."""
    path = polyline([(-3, -3), (length + 3, -3), (length + 3, width + 3), (-3, width + 3)])
    loop = Loop(
        placement=0,
        cut=LoopCut(op="outside cut", feature=Feature(kind="outline"), cutter=1, path=path, waste="right"),
        plan=PLAN,
        away=3.0,
        radius=3.0,
        outer=0,
    )
    half = length + width + 12
    sites = [
        Site(
            joins=(0, 1),
            places=((0, begin + 20.0 + i * 22.0),),
            ends=((20.0 + i * 22.0, y), (20.0 + i * 22.0, y - 6)),
            width=6.0,
            cost=cost,
        )
        for begin, y, cost in ((0.0, 0.0, 0.0), (half, width, 4.0))
        for i in range(int((length - 40) / 22))
    ]
    ground = Ground(
        layout=layout_of((shaped(rectangle(length, width)), Transform())),
        loops=(loop,),
        chunks=(box(-50, -50, length + 50, width + 50),),
        sites=tuple(sites),
        swept=Point(0, 0),
    )
    return ground, {0: Wanted(centroid=(length / 2, width / 2), width=width, size=length, count=3)}


@pytest.mark.parametrize(("length", "width"), [(254.0, 19.0), (200.0, 40.0), (500.0, 25.0)])
def test_a_lath_gets_bridges_on_both_edges_though_one_has_the_better_places(length: float, width: float) -> None:
    ground, wanted = lath(length, width)
    found = choose(ground, held=[[1]], wanted=wanted, heavy=(), clear=10.0)
    assert found.faults == ()
    assert {round(ground.sites[number].ends[0][1]) for number in found.sites} == {0, round(width)}


def test_a_neighbour_that_part_of_a_hull_hangs_on_is_joined_without_the_part() -> None:
    """Chunk 3 hangs on part 0 alone unless its own bridge to part 1, which is held, is left standing as well."""
    ground = ground_of(2, 2, [(0, 2, 0), (0, 2, 2), (0, 3, 9), (0, 3, 11), (1, 3, 4), (1, 3, 6), (1, 2, 14), (1, 2, 0)])
    found = chosen(ground, [2])
    assert not [fault for fault in found.faults if fault.node == 0]
    beyond = {ground.sites[number].joins for number in found.sites}
    assert (0, 3) in beyond
    assert (1, 3) in beyond


def test_a_chain_of_four_is_named_and_one_of_three_is_not() -> None:
    def row(count: int) -> Ground:
        joins = [(0, count, turn) for turn in (0, 5, 10, 15)]
        joins += [(n + 1, n, turn) for n in range(count - 1) for turn in (0, 3, 7, 10, 13, 17)]
        return ground_of(count, 1, joins)

    assert {fault.lacks for fault in chosen(row(3), [3]).faults} <= {"spread"}
    assert (3, "chain") in {(fault.node, fault.lacks) for fault in chosen(row(4), [4]).faults}


def test_a_chunk_that_a_part_hangs_on_is_joined_itself() -> None:
    """Part 0 hangs on a free chunk, which hangs on part 1: both sides of it are taken."""
    joins = [(1, 2, 0), (1, 2, 5), (1, 2, 10), (1, 3, 14), (1, 3, 16), (0, 3, 2), (0, 3, 12), (0, 3, 7)]
    found = chosen(ground_of(2, 2, joins), [2])
    assert found.to_hold[0] == 3
    assert [joins[number][:2] for number in found.sites].count((1, 3)) == 2
    assert found.faults == ()


def test_screws_in_one_window_only_do_not_hold_in_the_other() -> None:
    ground = ground_of(1, 2, [(0, 1, 0), (0, 1, 10), (0, 2, 5), (0, 2, 15)])
    wanted = {0: Wanted(centroid=(0.0, 0.0), width=2 * RADIUS, size=2 * RADIUS, count=2)}
    found = choose(ground, held=[[1], [2]], wanted=wanted, heavy=(), clear=10.0)
    assert found.faults == ()
    assert len(found.sites) == 4
    alone = ground_of(1, 2, [(0, 1, 0), (0, 1, 10)])
    lost = choose(alone, held=[[1], [2]], wanted=wanted, heavy=(), clear=10.0)
    assert [(fault.node, fault.lacks) for fault in lost.faults] == [(0, "joined")]
