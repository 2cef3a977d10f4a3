"""What must come before what: insides before outlines, marks first, guests before hosts; sections by cutter."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.board_cuts import BoardCuts, cut_layouts
from cutjob.cuts.cut import Feature, HoleCut, LoopCut, MarkCut
from cutjob.geometry.contour import Region, circle, polyline, rectangle
from cutjob.geometry.segment import Line
from cutjob.geometry.transform import Transform
from cutjob.layout.holding import Holding
from cutjob.layout.layout import BoardLayout
from cutjob.parts.part import Counterbore, Hole, Mark, Pocket, ShapedPart
from cutjob.program.moves import Step
from cutjob.program.precedence import Task, by_cutter, tasks_of
from cutjob.program.program import air_without_and_with_groups, programs_of
from cutjob.tolerances import TOLERANCES
from tests.cuts.makers import alone, layout_of, router, shaped

CUT = HoleCut(
    op="drill", feature=Feature(kind="hole"), cutter=1, at=(0.0, 0.0), radius=0.0, depth=None, clockwise=False
)


def cuts_of(layout: BoardLayout) -> BoardCuts:
    (board,), _ = cut_layouts([layout], cutters=alone(), machine=router(), gap=6.0, locations={})
    return board


def ring_with_plug(order: tuple[int, int]) -> BoardLayout:
    """A ring whose opening holds a round with a hole; `order` says which of the two comes first in the layout."""
    ring = shaped(circle((0, 0), 90), circle((0, 0), 65), holes=(Hole(at=(77.5, 0), diameter=8),))
    plug = shaped(circle((0, 0), 40), holes=(Hole(at=(0, 0), diameter=10),))
    places = [(ring, Transform(x=120, y=120)), (plug, Transform(x=120, y=120))]
    return layout_of(*(places[index] for index in order), length=260, width=260)


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_what_lies_in_an_opening_is_cut_before_the_opening(order: tuple[int, int]) -> None:
    (program,) = programs_of(cuts_of(ring_with_plug(order)), machine=router())
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
    (program,) = programs_of(cuts_of(layout), machine=router())
    for placement in (0, 1):
        ops = [step.op for step in program.steps if step.placement == placement]
        assert ops[-1] == "outside cut"
        assert sorted(ops) == ["bore", "drill", "inside cut", "inside cut", "inside cut", "mark", "outside cut"]


@pytest.mark.parametrize("gap", [6.0, 9.0])
def test_holes_come_before_a_neighbours_slot_frees_the_part(gap: float) -> None:
    """Parts a cutter's width apart share their slots: the last may be loose before its own outline is begun."""
    places = [(lattice(), Transform(x=20 + (140 + gap) * i, y=20 + (55 + gap) * j)) for i in range(2) for j in range(3)]
    (program,) = programs_of(cuts_of(layout_of(*places, length=340, width=240)), machine=router())
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
    loop = LoopCut(op="outside cut", feature=Feature(kind="outline"), cutter=1, path=bay, waste="left")
    part = board.parts[0]
    parts = (type(part)(placement=0, inner=(), outline=(part.outline[0], loop, loop)), board.parts[1])
    tasks = tasks_of(BoardCuts(layout=board.layout, cutters=board.cutters, parts=parts))
    assert tasks[0].after == (1, 2)
    assert tasks[1].after == tasks[2].after == ()


def task(cutter: int, *after: int) -> Task:
    return Task(cut=replace(CUT, cutter=cutter), placement=0, after=after)


def test_fewest_changes_that_the_order_allows() -> None:
    # Holes by 2, outlines by 1, a socket by 3 that waits for a recess by 1.
    tasks = [task(2), task(1, 0), task(1), task(3, 2), task(1, 3)]
    sections = by_cutter(tasks, last=1)
    assert [tasks[section[0]].cut.cutter for section in sections] in ([2, 1, 3, 1], [1, 2, 3, 1], [1, 3, 2, 1])
    # Of equally few the sections that end with the cutter for outlines.
    assert by_cutter([task(1), task(2)], last=1) == [[1], [0]]
    assert by_cutter([task(1), task(2)], last=2) == [[0], [1]]
    assert by_cutter([], last=1) == []


def test_tasks_that_wait_for_each_other_in_vain() -> None:
    with pytest.raises(ValueError, match="wait for each other"):
        by_cutter([task(1, 1), task(2, 0)], last=1)


@st.composite
def few_tasks(draw: st.DrawFn) -> list[Task]:
    count = draw(st.integers(1, 8))
    made = []
    for index in range(count):
        after = draw(st.sets(st.integers(0, index - 1), max_size=2)) if index else set()
        made.append(task(draw(st.integers(1, 3)), *after))
    return made


def fewest(tasks: list[Task]) -> int:
    """The least number of sections, by trying every order of single tasks."""
    best = {(frozenset[int](), 0): 0}
    for _ in tasks:
        following: dict[tuple[frozenset[int], int], int] = {}
        for (done, cutter), sections in best.items():
            for index, one in enumerate(tasks):
                if index in done or not set(one.after) <= done:
                    continue
                key = (done | {index}, one.cut.cutter)
                count = sections + (one.cut.cutter != cutter)
                following[key] = min(count, following.get(key, 99))
        best = following
    return min(best.values())


@given(few_tasks())
@settings(max_examples=80, deadline=None)
def test_sections_against_every_possible_order(tasks: list[Task]) -> None:
    sections = by_cutter(tasks, last=1)
    done: set[int] = set()
    for section in sections:
        assert len({tasks[index].cut.cutter for index in section}) == 1
        for index in section:
            assert set(tasks[index].after) <= done | set(section)
        done |= set(section)
    assert done == set(range(len(tasks)))
    assert len(sections) == fewest(tasks)


def test_a_hole_in_a_floor_or_under_a_counterbore_comes_after_it() -> None:
    floor = Pocket(region=Region(Transform(x=30, y=10).contour(rectangle(40, 30))), depth=4.0)
    holes = (
        Hole(at=(50, 25), diameter=8.0),
        Hole(at=(12, 12), diameter=7.0, counterbore=Counterbore(diameter=14.0, depth=5.0)),
    )
    part = shaped(rectangle(90, 50), holes=holes, pockets=(floor,))
    tasks = tasks_of(cuts_of(layout_of((part, Transform(x=20, y=20)), thickness=12)))
    by_place = {(task.cut.op, getattr(task.cut, "depth", None)): n for n, task in enumerate(tasks)}
    pocket, wide = by_place["pocket", 4.0], by_place["bore", 5.0]
    through = [n for n, task in enumerate(tasks) if isinstance(task.cut, HoleCut) and task.cut.depth is None]
    tops = {tasks[n].cut.top: tasks[n].after for n in through if isinstance(tasks[n].cut, HoleCut)}
    assert tops == {4.0: (pocket,), 5.0: (wide,)}


def test_towards_the_fixed_end() -> None:
    part = shaped(rectangle(40, 40))
    places = [(part, Transform(x=x, y=20)) for x in (120, 20, 220, 70)]
    machine = router(cutting={"far_end_first": True})
    (program,) = programs_of(cuts_of(layout_of(*places)), machine=machine)
    assert [step.placement for step in program.steps] == [2, 0, 3, 1]


def freed(layout: BoardLayout, **cutting: object) -> list[int]:
    """The placements in the order in which the last cut of each is made."""
    (program,) = programs_of(cuts_of(layout), machine=router(cutting={"far_end_first": True, **cutting}))
    last = {step.placement: number for number, step in enumerate(program.steps) if step.placement is not None}
    return sorted(last, key=lambda placement: last[placement])


def test_towards_the_fixed_end_the_reach_of_a_part_counts_not_where_it_begins() -> None:
    long, short = shaped(rectangle(200, 30)), shaped(rectangle(40, 30))
    # The long one begins nearest to x 0 and reaches farthest.
    places = [(short, Transform(x=100, y=80)), (long, Transform(x=20, y=20)), (short, Transform(x=150, y=140))]
    assert freed(layout_of(*places)) == [1, 2, 0]


def test_towards_the_fixed_end_parts_that_reach_as_far_go_by_their_order() -> None:
    part = shaped(rectangle(40, 30))
    places = [(part, Transform(x=100, y=y)) for y in (220, 20, 120)]
    assert freed(layout_of(*places)) == [0, 1, 2]


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_towards_the_fixed_end_a_guest_is_free_with_its_host(order: tuple[int, int]) -> None:
    """The plug reaches to x 160, the ring round it to 210, a bar beside them to 180: the plug goes before both."""
    ring = ring_with_plug(order)
    bar = shaped(rectangle(100, 20))
    layout = layout_of(
        *((one.part, one.transform) for one in ring.placements), (bar, Transform(x=80, y=235)), length=300, width=280
    )
    host, guest = order.index(0), order.index(1)
    assert freed(layout) == [guest, host, 2]
    tasks = tasks_of(cuts_of(layout), far_end_first=True)
    plain = tasks_of(cuts_of(layout))
    own = [n for n, task in enumerate(tasks) if task.placement == guest and task.cut.op == "outside cut"]
    # A guest waits for nothing but its own cuts.
    assert [tasks[n].after for n in own] == [plain[n].after for n in own]


def test_towards_the_fixed_end_each_part_waits_for_the_next_one_out() -> None:
    part = shaped(rectangle(40, 40), holes=(Hole(at=(20, 20), diameter=10),))
    places = [(part, Transform(x=x, y=20)) for x in (120, 20, 220, 70)]
    board = cuts_of(layout_of(*places))
    plain, tasks = tasks_of(board), tasks_of(board, far_end_first=True)
    loops = {task.placement: n for n, task in enumerate(tasks) if task.cut.op == "outside cut"}
    more = {n: set(task.after) - set(plain[n].after) for n, task in enumerate(tasks)}
    chain = [2, 0, 3, 1]
    assert {n: waits for n, waits in more.items() if waits} == {
        loops[after]: {loops[before]} for before, after in itertools.pairwise(chain)
    }
    assert all(set(plain[n].after) <= set(task.after) for n, task in enumerate(tasks))


@pytest.mark.parametrize(("between", "waits"), [(6.0 + TOLERANCES.acceptance, True), (6.1, False)])
def test_an_outline_waits_for_what_is_inside_a_part_its_slot_runs_beside(between: float, waits: bool) -> None:
    """The cutter is 6 wide: a neighbour farther off than that, and than rounding, is left alone."""
    one, other = shaped(rectangle(60, 40)), shaped(rectangle(60, 40), holes=(Hole(at=(30, 20), diameter=10),))
    places = [(one, Transform(x=20, y=20)), (other, Transform(x=80 + between, y=20))]
    tasks = tasks_of(cuts_of(layout_of(*places)))
    (hole,) = [n for n, task in enumerate(tasks) if isinstance(task.cut, HoleCut)]
    (loop,) = [task for task in tasks if task.placement == 0]
    assert (hole in loop.after) is waits


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_only_the_opening_a_guest_lies_in_waits_for_it(order: tuple[int, int]) -> None:
    """The host's own holes, at whatever place in the order of names, may come at once."""
    layout = ring_with_plug(order)
    tasks = tasks_of(cuts_of(layout))
    guest = {n for n, task in enumerate(tasks) if task.placement == order.index(1)}
    waiting = {task.cut.op for task in tasks if task.placement == order.index(0) and guest & set(task.after)}
    assert waiting == {"inside cut"}


def test_marks_wait_for_no_other_cutter() -> None:
    """Marks come before the other cuts of their own cutter, whichever numbers the cutters have."""
    board = cuts_of(layout_of((lattice(), Transform(x=20, y=20))))
    (part,) = board.parts
    numbers = {"mark": 2, "inside cut": 3, "bore": 2, "drill": 1}
    inner = tuple(replace(cut, cutter=numbers[cut.op]) for cut in part.inner)
    tasks = tasks_of(replace(board, parts=(replace(part, inner=inner),)))
    marks = {n for n, task in enumerate(tasks) if task.cut.op == "mark"}
    assert marks
    for task in tasks:
        if task.cut.op in ("inside cut", "bore", "drill"):
            assert (set(task.after) & marks == marks) is (task.cut.cutter == 2)


def test_without_windows_all_is_done_in_the_first() -> None:
    assert {task.window for task in tasks_of(cuts_of(ring_with_plug((0, 1))))} == {0}


def test_a_hole_in_a_floor_waits_for_no_deeper_pocket_elsewhere() -> None:
    shallow = Pocket(region=Region(Transform(x=30, y=10).contour(rectangle(40, 30))), depth=4.0)
    deep = Pocket(region=Region(Transform(x=90, y=10).contour(rectangle(40, 30))), depth=6.0)
    part = shaped(rectangle(150, 50), holes=(Hole(at=(50, 25), diameter=8.0),), pockets=(shallow, deep))
    tasks = tasks_of(cuts_of(layout_of((part, Transform(x=20, y=20)), thickness=12)))
    (hole,) = [task for task in tasks if isinstance(task.cut, HoleCut)]
    assert [getattr(tasks[n].cut, "depth", None) for n in hole.after] == [4.0]


def test_hundreds_of_cuts_of_one_cutter_are_one_section() -> None:
    tasks = [task(1, *(() if n == 0 else (n - 1,))) for n in range(400)]
    assert by_cutter(tasks, last=1) == [list(range(400))]


def grouped(board: BoardCuts, to_hold: Sequence[int]) -> BoardCuts:
    """The board with its parts so many bridges from what is held."""
    return replace(board, layout=replace(board.layout, holding=Holding(by="clamps", to_hold=tuple(to_hold))))


def row_of(count: int, *, holed: bool = True) -> BoardCuts:
    holes = (Hole(at=(20, 15), diameter=10),) if holed else ()
    part = shaped(rectangle(40, 30), holes=holes)
    places = [(part, Transform(x=20 + 50 * (n % 6), y=20 + 40 * (n // 6))) for n in range(count)]
    return cuts_of(layout_of(*places, length=400, width=300))


def steps_of(board: BoardCuts, **cutting: object) -> list[tuple[int | None, str]]:
    (program,) = programs_of(board, machine=router(cutting=cutting))
    return [(step.placement, step.op) for step in program.steps]


def test_the_parts_farthest_from_the_hold_are_cut_free_first() -> None:
    board = grouped(row_of(6), (1, 3, 2, 3, 1, 2))
    steps = steps_of(board)
    assert {op for _, op in steps[:6]} == {"bore"}
    assert [{placement for placement, _ in steps[n : n + 2]} for n in (6, 8, 10)] == [{1, 3}, {2, 5}, {0, 4}]
    # Windows and cutters come first: all is one section.
    (program,) = programs_of(board, machine=router())
    assert len(program.sections) == 1


def test_within_a_group_the_air_moves_are_short_and_begin_where_the_last_ends() -> None:
    """The holes end at the right, so that the first group is begun there, and the second at its left end."""
    steps = steps_of(grouped(row_of(6, holed=False), (1, 1, 1, 2, 2, 2)))
    assert steps[0][0] in (3, 5)
    order = [placement for placement, _ in steps]
    assert order in ([3, 4, 5, 2, 1, 0], [5, 4, 3, 2, 1, 0])


def test_without_a_hold_or_with_none_said_the_order_is_as_ever() -> None:
    board = row_of(12)
    plain = programs_of(board, machine=router())
    assert programs_of(grouped(board, ()), machine=router()) == plain
    assert {task.rank for task in tasks_of(board)} == {task.rank for task in tasks_of(grouped(board, ()))} == {0}


def test_all_as_far_from_the_hold_are_ordered_as_without_but_for_the_insides() -> None:
    plain = row_of(9, holed=False)
    assert steps_of(grouped(plain, (2,) * 9)) == steps_of(plain)
    steps = steps_of(grouped(row_of(9), (0,) * 9))
    assert [op for _, op in steps] == ["bore"] * 9 + ["outside cut"] * 9


def test_towards_the_fixed_end_groups_change_nothing_but_that_insides_come_first() -> None:
    board = row_of(6)
    free = [placement for placement, op in steps_of(board, far_end_first=True) if op == "outside cut"]
    steps = steps_of(grouped(board, (1, 3, 2, 3, 1, 2)), far_end_first=True)
    assert [placement for placement, op in steps if op == "outside cut"] == free == [5, 4, 3, 2, 1, 0]
    ranks = {task.rank for task in tasks_of(grouped(board, (1, 3, 2, 3, 1, 2)), far_end_first=True)}
    assert ranks == {0, 1}


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_what_lies_in_an_opening_is_of_no_group(order: tuple[int, int]) -> None:
    """It is cut with the insides, before the opening; a part beside them, farther from the hold, comes after that."""
    ring = ring_with_plug(order)
    bar = shaped(rectangle(100, 20))
    layout = layout_of(
        *((one.part, one.transform) for one in ring.placements), (bar, Transform(x=80, y=235)), length=300, width=280
    )
    host, guest = order.index(0), order.index(1)
    to_hold = [0, 0, 3]
    to_hold[guest] = 2
    to_hold[host] = 1
    board = grouped(cuts_of(layout), to_hold)
    ranks = {(task.placement, task.cut.op): task.rank for task in tasks_of(board)}
    assert (ranks[guest, "outside cut"], ranks[host, "inside cut"]) == (0, 0)
    assert (ranks[2, "outside cut"], ranks[host, "outside cut"]) == (1, 3)
    outlines = [placement for placement, op in steps_of(board) if op == "outside cut"]
    assert outlines == [guest, 2, host]


def test_a_bay_behind_a_closed_mouth_is_of_no_later_group_than_its_part() -> None:
    board = cuts_of(ring_with_plug((0, 1)))
    loop = LoopCut(
        op="outside cut",
        feature=Feature(kind="outline"),
        cutter=1,
        path=polyline([(0, 0), (10, 0), (10, 10)]),
        waste="left",
    )
    part = board.parts[0]
    parts = (replace(part, inner=(), outline=(part.outline[0], loop)), board.parts[1])
    tasks = tasks_of(grouped(replace(board, parts=parts), (1, 2)))
    ranks = [task.rank for task in tasks if task.placement == 0]
    assert ranks == [2, 2]


@given(st.lists(st.integers(0, 4), min_size=8, max_size=8), st.floats(6.0, 9.0), st.booleans())
@settings(max_examples=40, deadline=None)
def test_no_cut_comes_before_one_it_waits_for(to_hold: list[int], gap: float, far_end_first: bool) -> None:
    places = [(lattice(), Transform(x=20 + (140 + gap) * i, y=20 + (55 + gap) * j)) for i in range(2) for j in range(3)]
    ring = [(one.part, replace(one.transform, x=450, y=120)) for one in ring_with_plug((0, 1)).placements]
    board = grouped(cuts_of(layout_of(*places, *ring, length=600, width=260)), to_hold)
    tasks = tasks_of(board, far_end_first=far_end_first)
    for task in tasks:
        assert all(tasks[before].rank <= task.rank for before in task.after)
    (program,) = programs_of(board, machine=router(cutting={"far_end_first": far_end_first}))
    count = [sum(task.placement == one for task in tasks) for one in range(8)]
    assert [sum(step.placement == one for step in program.steps) for one in range(8)] == count
    # The steps in order against the tasks: each step is of one of the tasks of its part and kind that may come.
    done: set[int] = set()
    for step in program.steps:
        index = next(
            n for n, task in enumerate(tasks)
            if n not in done and (task.placement, task.cut.op) == (step.placement, step.op) and touches(task, step)
        )  # fmt: skip
        assert set(tasks[index].after) <= done
        lower = [n for n, task in enumerate(tasks) if task.rank < tasks[index].rank and n not in done]
        assert lower == []
        done.add(index)


def touches(task: Task, step: Step) -> bool:
    """Whether a step goes where a cut is."""
    cut = task.cut
    if isinstance(cut, HoleCut):
        place = cut.at
    elif isinstance(cut, MarkCut):
        place = cut.path[0].start
    else:
        assert isinstance(cut, LoopCut)
        place = cut.path.segments[0].start
    return any(abs(move.x - place[0]) + abs(move.y - place[1]) < 0.01 for move in step.moves)


def test_what_groups_cost_in_air() -> None:
    board = grouped(row_of(12), [1, 2, 3] * 4)
    without, grouped_air = air_without_and_with_groups(board, machine=router())
    assert without == sum(one.air_mm for one in programs_of(row_of(12), machine=router()))
    assert grouped_air == sum(one.air_mm for one in programs_of(board, machine=router()))
    assert without < grouped_air
