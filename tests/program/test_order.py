"""The order of cuts: nothing before what it waits for, everything once, the nearest next."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.board_cuts import BoardCuts, cut_layouts
from cutjob.cuts.cut import HoleCut, LoopCut
from cutjob.geometry.contour import circle, polyline, rectangle
from cutjob.geometry.segment import Line, distance
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout
from cutjob.parts.part import Hole, Mark, ShapedPart
from cutjob.program.order import Start, Task, sequence, tasks_of
from cutjob.program.program import program_of
from tests.cuts.makers import cutter, layout_of, router, shaped

CUT = HoleCut(op="drill", at=(0.0, 0.0), radius=0.0, depth=None, clockwise=False)


@st.composite
def waiting(draw: st.DrawFn) -> tuple[list[Task], list[list[Start]]]:
    """Tasks that wait for tasks listed before or after them, without going round in a ring, with some starts each."""
    count = draw(st.integers(1, 25))
    ranks = draw(st.permutations(range(count)))
    tasks, starts = [], []
    for index in range(count):
        lower = [other for other in range(count) if ranks[other] < ranks[index]]
        after = draw(st.lists(st.sampled_from(lower), max_size=3)) if lower else []
        tasks.append(Task(cut=CUT, placement=index, after=tuple(after)))
        places = draw(st.lists(st.tuples(st.floats(0, 500), st.floats(0, 200)), min_size=1, max_size=4))
        starts.append([Start(float(number), place) for number, place in enumerate(places)])
    return tasks, starts


@given(waiting())
@settings(max_examples=150, deadline=None)
def test_everything_once_and_nothing_too_early(given_tasks: tuple[list[Task], list[list[Start]]]) -> None:
    tasks, starts = given_tasks
    order = sequence(tasks, starts, home=(0.0, 0.0))
    assert sorted(index for index, _ in order) == list(range(len(tasks)))
    done: set[int] = set()
    for index, start in order:
        assert set(tasks[index].after) <= done
        assert start in starts[index]
        done.add(index)


@given(waiting(), st.tuples(st.floats(-50, 550), st.floats(-50, 250)))
@settings(max_examples=150, deadline=None)
def test_the_nearest_of_those_free_to_come_is_next(
    given_tasks: tuple[list[Task], list[list[Start]]], home: tuple[float, float]
) -> None:
    tasks, starts = given_tasks
    here, done = home, set[int]()
    for index, start in sequence(tasks, starts, home=home):
        free = [other for other in range(len(tasks)) if other not in done and set(tasks[other].after) <= done]
        nearest = min(distance(here, one.point) for other in free for one in starts[other])
        assert distance(here, start.point) == pytest.approx(nearest, abs=1e-12)
        here = start.point
        done.add(index)


def test_tasks_that_wait_for_each_other() -> None:
    tasks = [Task(cut=CUT, placement=0, after=(1,)), Task(cut=CUT, placement=1, after=(0,))]
    with pytest.raises(ValueError, match="wait for each other"):
        sequence(tasks, [[Start(0.0, (0, 0))]] * 2, home=(0, 0))


def test_a_thousand_starts_take_no_more_than_a_few_times_the_shortest_way() -> None:
    """Nearest next on evenly spread places is known to be about a quarter longer than the best tour [from memory].

    The best tour through n random places on an area A is about 0.7124 sqrt(n A) long (Beardwood, Halton and
    Hammersley's constant, as known from large tours [from memory]).
    """
    count, side = 1000, 1000.0
    golden = (math.sqrt(5) - 1) / 2
    places = [((i * golden) % 1 * side, (i + 0.5) / count * side) for i in range(count)]
    tasks = [Task(cut=CUT, placement=i, after=()) for i in range(count)]
    order = sequence(tasks, [[Start(0.0, place)] for place in places], home=(0, 0))
    length = sum(distance(places[a[0]], places[b[0]]) for a, b in itertools.pairwise(order))
    assert length < 1.6 * 0.7124 * math.sqrt(count * side * side)


def cuts_of(layout: BoardLayout) -> BoardCuts:
    (board,), _ = cut_layouts([layout], cutter=cutter(), machine=router(), units="mm", locations={})
    return board


def ring_with_plug(order: tuple[int, int]) -> BoardLayout:
    """A ring whose opening holds a round with a hole; `order` says which of the two comes first in the layout."""
    ring = shaped(circle((0, 0), 90), circle((0, 0), 65), holes=(Hole(at=(77.5, 0), diameter=8),))
    plug = shaped(circle((0, 0), 40), holes=(Hole(at=(0, 0), diameter=10),))
    places = [(ring, Transform(x=120, y=120)), (plug, Transform(x=120, y=120))]
    return layout_of(*(places[index] for index in order), length=260, width=260)


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_what_lies_in_an_opening_is_cut_before_the_opening(order: tuple[int, int]) -> None:
    program = program_of(cuts_of(ring_with_plug(order)), machine=router())
    ring = order.index(0)
    steps = [(step.placement == ring, step.op) for step in program.steps]
    assert steps.index((False, "outside cut")) < steps.index((True, "inside cut"))
    assert steps.index((True, "inside cut")) < steps.index((True, "outside cut"))
    assert steps.index((False, "bore")) < steps.index((False, "outside cut"))
    assert len(steps) == 2 + 3


def lattice() -> ShapedPart:
    window = [Transform(x=15 + 40 * i, y=15).contour(rectangle(25, 25)) for i in range(3)]
    return shaped(
        rectangle(140, 55),
        *window,
        holes=(Hole(at=(8, 8), diameter=8), Hole(at=(8, 47), diameter=6)),
        marks=(Mark(path=(Line((20, 8), (60, 8)),)),),
    )


def test_a_parts_inside_comes_before_its_outline() -> None:
    layout = layout_of((lattice(), Transform(x=20, y=20)), (lattice(), Transform(x=20, y=100)))
    program = program_of(cuts_of(layout), machine=router())
    for placement in (0, 1):
        ops = [step.op for step in program.steps if step.placement == placement]
        assert ops[-1] == "outside cut"
        assert sorted(ops) == ["bore", "drill", "inside cut", "inside cut", "inside cut", "mark", "outside cut"]


@pytest.mark.parametrize("gap", [6.0, 9.0])
def test_holes_come_before_a_neighbours_slot_frees_the_part(gap: float) -> None:
    """Parts a cutter's width apart share their slots: the last may be loose before its own outline is begun."""
    places = [(lattice(), Transform(x=20 + (140 + gap) * i, y=20 + (55 + gap) * j)) for i in range(2) for j in range(3)]
    program = program_of(cuts_of(layout_of(*places, length=340, width=240)), machine=router())
    done: set[tuple[int | None, str]] = set()
    counts = {"bore": 1, "drill": 1, "inside cut": 3, "mark": 1, "outside cut": 1}
    seen: list[tuple[int | None, str]] = []
    for step in program.steps:
        seen.append((step.placement, step.op))
        done.add((step.placement, step.op))
        if step.op == "outside cut" and gap < 9:
            # Placement 3 i + j lies at column i, row j; those beside it along a whole edge share a slot with it.
            i, j = divmod(step.placement or 0, 3)
            beside = [
                3 * a + b for a, b in ((i - 1, j), (i + 1, j), (i, j - 1), (i, j + 1)) if a in (0, 1) and 0 <= b < 3
            ]
            for other in beside:
                assert all(seen.count((other, op)) == count for op, count in counts.items() if op != "outside cut")
    assert len(program.steps) == 6 * sum(counts.values())


def test_bays_behind_a_closed_mouth_come_before_the_part_is_free() -> None:
    board = cuts_of(ring_with_plug((0, 1)))
    bay = polyline([(0, 0), (10, 0), (10, 10)])
    loop = LoopCut(op="outside cut", path=bay, waste="left")
    part = board.parts[0]
    parts = (type(part)(placement=0, inner=(), outline=(part.outline[0], loop, loop)), board.parts[1])
    tasks = tasks_of(BoardCuts(layout=board.layout, cutter=board.cutter, parts=parts))
    assert tasks[0].after == (1, 2)
    assert tasks[1].after == tasks[2].after == ()
