"""A board's programs: one for each cutter changed by hand, sections with a changer, windows of a long board, screws."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
import shapely

from cutjob.cuts.board_cuts import BoardCuts, cut_layouts
from cutjob.cuts.cut import Feature
from cutjob.cuts.cutter_choice import Cutters
from cutjob.errors import InputError
from cutjob.geometry.contour import Region, circle, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Line
from cutjob.geometry.transform import Transform
from cutjob.holding.screws import held_down, with_windows
from cutjob.job.machine import Machine, Screws
from cutjob.layout.layout import BoardLayout, Lettering
from cutjob.output.picture.picture import write_picture
from cutjob.parts.part import Counterbore, Hole, Mark, Pocket
from cutjob.program import program as program_module
from cutjob.program.moves import Program
from cutjob.program.precedence import tasks_of
from cutjob.program.program import programs_of
from cutjob.program.travel import extent
from cutjob.reports.sheet.play_data import play_data
from tests.cuts.makers import changed, cutter, layout_of, router, shaped, tabbed_board
from tests.holding.boards import lies_fast, too_thin
from tests.layout.makers import kept_out
from tests.program.makers import segments_of

THIN = cutter(3.0, number=2, cutting_length=20.0)
WIDE = cutter(6.0, number=1)
HOLES = (Hole(at=(10, 10), diameter=4.0), Hole(at=(50, 30), diameter=12.0))
SCREWS = Screws(hole=6.0, head=14.0, height=5.0, margin=2.0, every=250.0)


def machine(*, changer: bool = False, screws: bool = False, **tables: Any) -> Machine:
    made = changed(router(**tables), controller={"tool_change": "changer" if changer else "by hand"})
    return made.model_copy(update={"cutter": (WIDE, THIN), "screws": SCREWS if screws else None})


def cuts_of(layout: BoardLayout, on: Machine) -> BoardCuts:
    changer = on.controller.tool_change == "changer"
    cutters = Cutters(outline=WIDE, usable=(WIDE, THIN), changer=changer)
    (board,), _ = cut_layouts([layout], cutters=cutters, machine=on, gap=8.0, locations={})
    return board


def drilled(*places: Transform, **keys: Any) -> BoardLayout:
    keys.setdefault("thickness", 12.0)
    part = shaped(rectangle(60, 40), holes=HOLES)
    return layout_of(*((part, place) for place in places), **keys)


PLACES = (Transform(x=20, y=20), Transform(x=120, y=20), Transform(x=20, y=120))


def test_by_hand_a_program_for_each_cutter_in_the_order_to_run_them() -> None:
    first, second = programs_of(cuts_of(drilled(*PLACES), machine()), machine=machine())
    assert (first.file, second.file) == ("board-01-1.nc", "board-01-2.nc")
    assert [(p.number, p.count) for p in (first, second)] == [(1, 2), (2, 2)]
    assert [[c.number for c in p.cutters] for p in (first, second)] == [[2], [1]]
    # The small holes before the outlines that free the parts.
    assert {step.op for step in first.steps} == {"bore"}
    assert [step.op for step in second.steps].count("outside cut") == 3


def test_each_step_says_which_feature_it_cuts() -> None:
    """A counterbored hole is two, numbered as in the part's round holes."""
    counterbored = Hole(at=(20, 20), diameter=4.0, counterbore=Counterbore(diameter=10.0, depth=3.0))
    square = Region(Transform(x=60, y=10).contour(rectangle(20, 20)))
    part = shaped(
        rectangle(100, 60),
        Transform(x=30, y=40).contour(rectangle(15, 15)),
        Transform(x=5, y=40).contour(rectangle(15, 15)),
        holes=(counterbored, Hole(at=(40, 10), diameter=12.0, depth=5.0)),
        pockets=(Pocket(region=square, depth=2.0),),
        marks=(Mark(path=(Line((55, 50), (90, 50)),), depth=0.5), Mark(path=(Line((60, 40), (90, 40)),))),
    )
    layout = layout_of((part, Transform(x=150, y=120, degrees=180, mirrored=True)), thickness=12.0)
    strokes = tuple((Line((x, 200.0), (x, 220.0)),) for x in (10.0, 20.0))
    layout = replace(layout, lettering=(Lettering(placement=0, paths=strokes, depth=0.4),))
    on = machine(changer=True, cutting={"mark_depth": 0.7})
    (program,) = programs_of(cuts_of(layout, on), machine=on)
    assert {(step.op, step.feature) for step in program.steps} == {
        ("outside cut", Feature(kind="outline")),
        ("inside cut", Feature(kind="opening", number=0)),
        ("inside cut", Feature(kind="opening", number=1)),
        ("bore", Feature(kind="hole", number=0, diameter=10.0, depth=3.0)),
        ("bore", Feature(kind="hole", number=1, diameter=4.0)),
        ("bore", Feature(kind="hole", number=2, diameter=12.0, depth=5.0)),
        ("pocket", Feature(kind="pocket", depth=2.0)),
        ("mark", Feature(kind="mark", number=0, depth=0.5)),
        ("mark", Feature(kind="mark", number=1, depth=0.7)),
        ("mark", Feature(kind="number", depth=0.4)),
    }
    for step in program.steps:
        if step.feature.kind == "opening":
            opening = to_polygon(layout.placements[0].region.holes[step.feature.number])
            assert all(opening.covers(shapely.Point(move.x, move.y)) for move in step.moves)


def test_a_changer_does_it_in_one() -> None:
    on = machine(changer=True)
    (program,) = programs_of(cuts_of(drilled(*PLACES), on), machine=on)
    assert program.file == "board-01.nc"
    assert [section.cutter.number for section in program.sections] == [2, 1]
    alone = machine(changer=True, spindle={"seconds_to_speed": 0.0})
    quick = programs_of(cuts_of(drilled(*PLACES), alone), machine=alone)[0].seconds
    slow = changed(alone, controller={"seconds_to_change": 30.0})
    assert programs_of(cuts_of(drilled(*PLACES), slow), machine=slow)[0].seconds == pytest.approx(quick + 30.0)
    # The spindle comes up to speed twice.
    assert program.seconds == pytest.approx(quick + 2 * on.spindle.seconds_to_speed)


def long_board() -> BoardLayout:
    part = shaped(rectangle(200, 60), holes=(Hole(at=(20, 20), diameter=12.0),))
    return layout_of(*((part, Transform(x=5 + 215 * i, y=20)) for i in range(10)), length=2300, width=120)


def windowed(layout: BoardLayout, on: Machine) -> tuple[BoardLayout, tuple[Program, ...]]:
    cut = with_windows(layout, machine=on, cutter=WIDE)
    board = lies_fast(cuts_of(cut, on), machine=on, screws=False)
    return board.layout, programs_of(board, machine=on)


def test_a_long_board_is_cut_window_by_window() -> None:
    on = machine(travel={"open_ends": True, "located_by": "stop"})
    layout, programs = windowed(long_board(), on)
    assert len(layout.windows) == len(programs) == 3
    assert [program.window for program in programs] == [0, 1, 2]
    seen: list[int] = []
    for program, window in zip(programs, layout.windows, strict=True):
        assert program.origin == (window.first, 0.0)
        cut = {step.placement for step in program.steps}
        assert cut == set(window.placements)
        seen += sorted(cut - {None})  # type: ignore[type-var]
        box = extent(move for step in program.steps for move in step.moves)
        assert box is not None
        assert box[2] - box[0] <= 900
    assert sorted(seen) == list(range(10))


@pytest.mark.parametrize("finish", [0.0, 0.8])
def test_rough_passes_beside_a_last_one_stay_within_the_travel(finish: float) -> None:
    """At a board's right end the cutter runs farthest beyond it, and the rough pass farther still."""
    on = machine(travel={"x": 300.0, "open_ends": True, "located_by": "stop"}, cutting={"finish": finish})
    layout = layout_of((shaped(rectangle(60, 60)), Transform(x=838, y=20)), length=900, width=120)
    layout, (program,) = windowed(layout, on)
    # An arc out of the waste may begin anywhere beside the part, `lead` beyond the rough path.
    assert program.origin[0] + 300 >= 838 + 60 + WIDE.radius + finish + on.cutting.lead
    box = extent(move for step in program.steps for move in step.moves)
    assert box is not None
    assert box[2] - program.origin[0] <= 300


def test_onto_pins_in_the_waste_of_both_windows() -> None:
    on = machine(travel={"open_ends": True, "located_by": "pins", "pin": 8.0})
    layout, programs = windowed(long_board(), on)
    first, second, third = layout.windows
    assert first.holes == second.pins
    assert second.holes == third.pins
    assert third.holes == ()
    for program, window in zip(programs, layout.windows, strict=True):
        holes = [step.moves[0] for step in program.steps if step.placement is None]
        assert len(holes) == len(window.holes)
        pins = [step.feature for step in program.steps if step.placement is None]
        assert sorted(pins, key=lambda pin: pin.number) == [
            Feature(kind="pin hole", number=number, diameter=8.0) for number in range(len(window.holes))
        ]
        for at in window.pins:
            assert window.first <= at[0] <= window.last
    for x, y in first.holes:
        assert second.first <= x <= first.last
        for placement in layout.placements:
            x0, y0, x1, y1 = placement.region.bounds
            assert not (x0 - 4 < x < x1 + 4 and y0 - 4 < y < y1 + 4)


def test_a_board_no_longer_than_the_bed_has_no_windows() -> None:
    on = machine(travel={"open_ends": True})
    assert with_windows(drilled(*PLACES), machine=on, cutter=WIDE).windows == ()


def test_screws_are_drilled_first_and_no_move_comes_near_them() -> None:
    on = machine(screws=True)
    layout = drilled(Transform(x=60, y=60), Transform(x=220, y=180), length=400, width=300)
    board = lies_fast(cuts_of(layout, on), machine=on)
    assert len(board.layout.hold_downs) >= 2
    drilling, small, program = programs_of(board, machine=on)
    made = {step.feature.number: step.moves[0] for step in drilling.steps if step.feature.kind == "screw hole"}
    assert {number: (move.x, move.y) for number, move in made.items()} == {
        number: down.at for number, down in enumerate(board.layout.hold_downs)
    }
    # The screws go in before whatever is cut next: here the program of the thin cutter.
    assert {step.placement for step in drilling.steps} == {None}
    assert [each.sections[0].screws_first for each in (drilling, small, program)] == [False, True, False]
    steps = [*small.steps, *program.steps]
    assert program.clear_z >= SCREWS.height + 2
    for step in steps:
        if step.placement is None:
            continue
        for move in step.moves:
            for down in board.layout.hold_downs:
                apart = ((move.x - down.at[0]) ** 2 + (move.y - down.at[1]) ** 2) ** 0.5
                assert move.z >= SCREWS.height or apart > down.head


def test_one_cutter_halts_for_the_screws() -> None:
    on = machine(screws=True)
    layout = layout_of((shaped(rectangle(60, 40)), Transform(x=150, y=130)), length=400, width=300, thickness=12.0)
    board = lies_fast(cuts_of(layout, on), machine=on)
    (program,) = programs_of(board, machine=on)
    drilling, rest = program.sections
    assert {step.op for step in drilling.steps} == {"drill"}
    assert (drilling.screws_first, rest.screws_first) == (False, True)


def test_waste_too_thin_for_screws_is_told() -> None:
    on = machine(screws=True)
    layout = layout_of((shaped(rectangle(380, 280)), Transform(x=10, y=10)), length=400, width=300, thickness=12.0)
    problem = too_thin(cuts_of(layout, on), machine=on)
    assert "the waste is too thin for a screw between x 0 mm and" in str(problem)
    with pytest.raises(InputError, match="has no screws"):
        held_down(cuts_of(drilled(*PLACES), machine()), machine=machine(), screws=True)


def test_air_moves_clear_a_clamp() -> None:
    knot = Transform(x=300, y=150).contour(circle((0, 0), 20))
    layout = drilled(*PLACES, keep_outs=kept_out((knot,), heights=(40.0,)))
    board = replace(layout, board=layout.board)
    for program in programs_of(cuts_of(board, machine()), machine=machine()):
        assert (program.safe_z, program.clear_z) == (6.0, 42.0)
        rapids = [m for s in program.steps for m in s.moves if m.kind == "rapid"]
        assert max(move.z for move in rapids) == 42.0
    too_high = replace(layout, board=replace(layout.board, keep_outs=kept_out((knot,), heights=(80.0,))))
    with pytest.raises(InputError, match=r"the machine must move 94\.3 mm up and down"):
        programs_of(cuts_of(too_high, machine()), machine=machine())


def framed(on: Machine, *, opening: tuple[float, float] = (50.0, 5.0)) -> BoardCuts:
    """A part of 100 x 60 at (20, 20) with an opening at its (20, 20); tabs on its edge and on that of the opening."""
    hole = Transform(x=20, y=20).contour(rectangle(*opening)).reversed()
    layout = layout_of((shaped(rectangle(100, 60), hole), Transform(x=20, y=20)), thickness=12.0)
    return tabbed_board(
        cuts_of(layout, on), {0: ((70.0, 20.0), (70.0, 80.0))}, {0: ((65.0, 40.0),)}, height=layout.height
    )


@pytest.mark.parametrize("opening", [(50.0, 5.0), (50.0, 30.0)])
def test_the_waste_of_an_opening_is_tied_to_its_part(opening: tuple[float, float]) -> None:
    on = machine(changer=True)
    board = framed(on, opening=opening)
    (program,) = programs_of(board, machine=on)
    assert sorted(tab.at for tab in program.tabs) == [(65.0, 40.0), (70.0, 20.0), (70.0, 80.0)]
    assert {tab.placement for tab in program.tabs} == {0}
    ops = [step.op for step in program.steps]
    assert ops == ["inside cut", "outside cut"]
    (inside, _) = program.steps
    number = 2 if opening[1] < 6 else 1
    assert program.sections[0].cutter.number == number
    diameter = board.cutters.numbered(number).diameter
    # The wood of the tab, 6 mm wide, is nowhere cut, but what the other side of a narrow opening takes of it.
    swept = [
        shapely.LineString([segment.start, *segment.chords(1e-4)]).buffer(diameter / 2, quad_segs=64)
        for segment, z0, z1 in segments_of(inside.moves, (inside.moves[0].x, inside.moves[0].y))
        if min(z0, z1) < 0
    ]
    assert shapely.box(62.01, 40, 67.99, 42).intersection(shapely.union_all(swept)).area < 0.01
    assert sum(move.kind == "rapid" for move in inside.moves) > 3
    # The picture shows it on the edge of the opening.
    picture = write_picture(board.layout, program=program, units="mm", title="frames").decode()
    plain = write_picture(board.layout, program=replace(program, tabs=()), units="mm", title="frames").decode()
    assert picture.count("<path") > plain.count("<path") or picture.count("<poly") > plain.count("<poly")


def test_the_wood_of_a_bridge_is_known_by_the_cutter_of_its_own_loop() -> None:
    on = machine(changer=True)
    board = framed(on)
    tasks = tasks_of(board)
    areas = program_module._bridges(board, tasks)
    assert len(areas) == 3
    part = board.layout.placements[0].polygon
    for area in areas:
        # From the part's very edge, 6 wide, over the slot and 2 mm into what lies beyond.
        assert area.distance(part) < 1e-6
        assert area.intersection(part).area == pytest.approx(0.0, abs=0.01)
    slots = sorted(round(area.area / 6.0 - 2.0, 3) for area in areas)
    assert slots == [3.0, 6.0, 6.0]


def test_the_player_takes_the_rapids_within_a_cut_as_they_come() -> None:
    on = machine(changer=True)
    board = framed(on)
    (program,) = programs_of(board, machine=on)
    data = play_data(program, layout=board.layout, machine=on)
    numbers, place, kinds, ms = data["moves"], 0, [], 0
    while place < len(numbers):
        kind = numbers[place]
        kinds.append(kind)
        ms += numbers[place + 4]
        place += 7 if kind in (2, 3) else 5
    moves = [*(move for step in program.steps for move in step.moves), *program.end]
    assert kinds.count(0) == sum(move.kind == "rapid" for move in moves)
    assert ms / 1000 == pytest.approx(program.seconds, abs=0.01)
