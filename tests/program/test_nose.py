"""The spindle's nose over clamps and screws: refused with what helps, and screws set far enough away."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
import shapely

from cutjob.cuts.board_cuts import BoardCuts, cut_layouts
from cutjob.cuts.cut import Feature, FeatureKind
from cutjob.cuts.cutter_choice import Cutters
from cutjob.cuts.nose_margin import screw_margin
from cutjob.cuts.numbers import numbered_boards
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import polyline, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.transform import Transform
from cutjob.holding.screws import with_windows
from cutjob.job.machine import Machine, Screws
from cutjob.layout.layout import BoardLayout, HoldDown
from cutjob.parts.part import Hole
from cutjob.program.moves import Move, Program, Section, Step
from cutjob.program.obstacles import check_nose
from cutjob.program.program import programs_of
from cutjob.units import spelled
from tests.cuts.makers import changed, cutter, layout_of, router, shaped
from tests.holding.boards import lies_fast, too_thin
from tests.layout.makers import kept_out

# One part, 60 x 40 at (20, 20), cut by a cutter of 6: its middle runs up to x 83, and a little further on the ways in
# and out.
CLAMP = polyline([(130, 20), (130, 60), (160, 60), (160, 20)])
HIGH, BESIDE = 20.0, 47.0
SCREWS = Screws(hole=6.0, head=14.0, height=5.0, margin=2.0, every=250.0)


def machine(nose: float | None, stickout: float | None, *, screws: bool = False) -> Machine:
    made = changed(router(), spindle={"nose_diameter": nose})
    own = cutter(6.0, number=1).model_copy(update={"stickout": stickout})
    return made.model_copy(update={"cutter": (own,), "screws": SCREWS if screws else None})


def board_of(layout: BoardLayout, on: Machine) -> BoardCuts:
    cutters = Cutters(outline=on.cutter[0], usable=on.cutter, changer=False)
    (board,), _ = cut_layouts([layout], cutters=cutters, machine=on, gap=8.0, locations={})
    return board


def clamped(on: Machine, *, height: float = HIGH) -> tuple[Program, ...]:
    layout = layout_of((shaped(rectangle(60, 40)), Transform(x=20, y=20)), thickness=12.0)
    board = replace(layout.board, keep_outs=kept_out((CLAMP,), heights=(height,)))
    return programs_of(board_of(replace(layout, board=board), on), machine=on)


def refusal(on: Machine, *, height: float = HIGH) -> Problem:
    with pytest.raises(InputError) as caught:
        clamped(on, height=height)
    (problem,) = caught.value.problems
    return problem


def test_a_nose_that_would_meet_a_clamp_is_refused_with_what_helps() -> None:
    problem = refusal(machine(96.0, 25.0))
    assert problem.message == "with cutter 1 down in the board the spindle's nose would meet keep-out 1, 20.0 mm high"
    # 12 mm of board, 0.3 of overcut and 20 of clamp, and a millimetre of air.
    told = re.fullmatch(
        r"let cutter 1 stick out ([\d.]+) mm or more and set its stickout in the profile, use a lower clamp, or move "
        r"it ([\d.]+) mm further from the parts",
        problem.advice,
    )
    assert told is not None
    depth = max(program.depth for program in clamped(machine(None, None)))
    assert float(told[1]) == pytest.approx(depth + HIGH + 1.0, abs=0.05)
    # What is said helps: the longer cutter, the lower clamp, or a nose smaller by what it lacks on either side.
    assert clamped(machine(96.0, float(told[1]) + 0.05))
    assert clamped(machine(96.0, 25.0), height=25.0 - depth - 1.01)
    assert clamped(machine(96.0 - 2 * (float(told[2]) + 0.05), 25.0))
    assert refusal(machine(96.0, float(told[1]) - 0.06))


@pytest.mark.parametrize(("nose", "stickout"), [(None, 25.0), (96.0, None), (2 * BESIDE - 8.0, 25.0)])
def test_nothing_is_asked_where_nothing_is_known_or_all_is_clear(nose: float | None, stickout: float | None) -> None:
    assert clamped(machine(nose, stickout))


def test_a_flat_keep_out_is_in_no_nose_s_way() -> None:
    assert clamped(machine(96.0, 25.0), height=0.0)


def test_a_cutter_that_would_go_deeper_than_it_sticks_out_is_refused() -> None:
    problem = refusal(machine(None, 12.0))
    assert problem.message.startswith("cutter 1 sticks out 12.0 mm and would go 12.")
    assert clamped(machine(None, 13.0))


def wide_cuts(on: Machine, *, waste: float) -> BoardCuts:
    """A large part with so much waste all round."""
    place = (shaped(rectangle(300, 100)), Transform(x=waste, y=waste))
    return board_of(layout_of(place, length=300 + 2 * waste, width=100 + 2 * waste, thickness=12.0), on)


def screwed(on: Machine, *, waste: float = 50.0) -> tuple[BoardCuts, tuple[Program, ...]]:
    """That board with its screws."""
    board = lies_fast(wide_cuts(on, waste=waste), machine=on)
    return board, programs_of(board, machine=on)


def nearest(board: BoardCuts, programs: tuple[Program, ...]) -> float:
    """How near the cutter's middle comes to a screw while it cuts, once the screws are in; straight moves' ends."""
    return min(
        ((move.x - down.at[0]) ** 2 + (move.y - down.at[1]) ** 2) ** 0.5
        for program in programs
        for step in program.steps
        if step.placement is not None
        for move in step.moves
        if move.z < 0
        for down in board.layout.hold_downs
    )


def test_screws_are_set_as_far_from_the_cuts_as_the_nose_asks_for() -> None:
    needed = 7.0 + 30.0  # the head's radius and the nose's
    near = nearest(*screwed(machine(None, 15.0, screws=True)))
    assert near < needed <= nearest(*screwed(machine(60.0, 15.0, screws=True)))
    # A cutter that keeps the nose above the heads asks for nothing: 12 mm of board, 0.5 at most below, 5 of head and 1.
    assert nearest(*screwed(machine(60.0, 18.6, screws=True))) == near
    assert nearest(*screwed(machine(60.0, None, screws=True))) == near


def bit_on(nose: float | None, stickout: float | None) -> Machine:
    """A long cutter for parts, and a drill bit of 5 mm that sticks out so far, for the holes of screws."""
    on = machine(nose, 40.0)
    bit = cutter(5.0, number=2).model_copy(update={"stickout": stickout, "only_down": True})
    return on.model_copy(update={"cutter": (*on.cutter, bit), "screws": SCREWS.model_copy(update={"hole": 5.0})})


@pytest.mark.parametrize("stickout", [15.0, 40.0])
def test_screws_are_set_as_far_from_clamps_as_the_nose_over_their_holes_asks_for(stickout: float) -> None:
    """A clamp all along the board: nearer to it than the nose is wide only where that passes above it."""
    layout = layout_of((shaped(rectangle(60, 30)), Transform(x=370, y=112)), length=450, width=150, thickness=12.0)
    clamp = polyline([(0, 0), (0, 40), (450, 40), (450, 0)])
    layout = replace(layout, board=replace(layout.board, keep_outs=kept_out((clamp,), heights=(HIGH,))))

    def apart(on: Machine) -> float:
        board = lies_fast(board_of(layout, on), machine=on)
        assert programs_of(board, machine=on)
        return min(shapely.distance(to_polygon(clamp), shapely.Point(down.at)) for down in board.layout.hold_downs)

    near, found = apart(bit_on(None, None)), apart(bit_on(120.0, stickout))
    assert near < 60.0
    assert found == near if stickout == 40.0 else found >= 60.0


def test_screws_left_too_near_are_refused() -> None:
    board, _ = screwed(machine(None, None, screws=True))
    on = machine(60.0, 15.0, screws=True)
    board = replace(board, cutters=Cutters(outline=on.cutter[0], usable=on.cutter, changer=False))
    with pytest.raises(InputError, match="the spindle's nose would meet screw 1, 5") as caught:
        programs_of(board, machine=on)
    assert "give [screws] in the profile a margin" in caught.value.problems[0].advice


def test_waste_too_thin_for_screws_beside_a_nose_says_how_much_it_lacks() -> None:
    assert screwed(machine(None, None, screws=True), waste=30.0)
    # A head of 14, and on both sides the nose's 20 less the cutter's 3.
    on = machine(40.0, 15.0, screws=True)
    problem = too_thin(wide_cuts(on, waste=30.0), machine=on)
    assert "its head needs a clear circle of 48" in str(problem)
    assert "for the spindle's nose to pass beside it (18 mm if the nose weren't in the way)" in str(problem)
    told = re.match(
        r"let cutter 1 stick out ([\d.]+) mm or more and set its stickout in the profile; or ", problem.advice
    )
    assert told is not None
    assert screwed(machine(40.0, float(told[1]), screws=True), waste=30.0)


def test_waste_too_thin_with_and_without_a_nose_gets_no_advice_about_it() -> None:
    on = machine(40.0, 15.0, screws=True)
    problem = too_thin(wide_cuts(on, waste=10.0), machine=on)
    assert "for the spindle's nose to pass beside it" in problem.message
    assert "stick out" not in problem.advice


@pytest.mark.parametrize("used", [False, True])
def test_only_cutters_in_use_ask_for_room_beside_screws(used: bool) -> None:
    """A short cutter of 3 mm, for a hole of 3 mm in the part or for nothing."""
    on = machine(60.0, 40.0, screws=True)
    short = cutter(3.0, number=2).model_copy(update={"stickout": 15.0})
    on = on.model_copy(update={"cutter": (*on.cutter, short)})
    part = shaped(rectangle(300, 100), **({"holes": (Hole(at=(5.0, 50.0), diameter=3.0),)} if used else {}))
    layout = layout_of((part, Transform(x=50, y=50)), length=400, width=200, thickness=12.0)
    cutters = Cutters(outline=on.cutter[0], usable=on.cutter, changer=True)
    (board,), _ = cut_layouts([layout], cutters=cutters, machine=on, gap=8.0, locations={})
    margin, needed = screw_margin(board, on, SCREWS)
    assert (margin > SCREWS.margin, sorted(needed)) == (used, [2] if used else [])


def test_holes_for_pins_are_drilled_once_screws_are_in() -> None:
    """A hole beside a screw, at the screw's own place, and far off; held by no part all three."""
    on = machine(60.0, 15.0, screws=True)
    down = HoldDown(at=(100.0, 100.0), diameter=6.0, head=7.0, height=5.0)
    layout = replace(
        layout_of((shaped(rectangle(60, 40)), Transform(x=300, y=200)), thickness=12.0), hold_downs=(down,)
    )

    def drilled(x: float, kind: FeatureKind) -> tuple[Section, ...]:
        moves = tuple(Move(kind="rapid", x=x, y=100.0, z=z) for z in (7.0, -12.5, 7.0))
        step = Step(op="drill", placement=None, feature=Feature(kind=kind), moves=moves)
        return (Section(cutter=on.cutter[0], rpm=None, steps=(step,)),)

    check_nose(drilled(100.0, "screw hole"), layout, None, on)
    check_nose(drilled(137.1, "pin hole"), layout, None, on)
    with pytest.raises(InputError, match="would meet screw 1"):
        check_nose(drilled(136.9, "pin hole"), layout, None, on)


def test_the_stickout_told_is_for_what_is_cut_beside_the_clamp() -> None:
    """A hole right through far from the clamp, and a shallow one beside it."""
    on = machine(60.0, 14.0)
    layout = layout_of((shaped(rectangle(60, 40)), Transform(x=20, y=20)), thickness=12.0)
    layout = replace(layout, board=replace(layout.board, keep_outs=kept_out((CLAMP,), heights=(HIGH,))))

    def check(stickout: float) -> None:
        steps = tuple(
            Step(
                op="drill",
                placement=0,
                feature=Feature(kind="hole"),
                moves=tuple(Move(kind="rapid", x=x, y=40.0, z=z) for z in (22.0, low, 22.0)),
            )
            for x, low in ((50.0, -12.3), (110.0, -2.0))
        )
        own = on.cutter[0].model_copy(update={"stickout": stickout})
        check_nose((Section(cutter=own, rpm=None, steps=steps),), layout, None, on)

    with pytest.raises(InputError, match=r"let cutter 1 stick out 23\.0 mm or more"):
        check(14.0)
    check(23.0)


def test_waste_too_thin_beside_a_clamp_says_that_the_nose_would_pass_over_it() -> None:
    """Between the clamp and the board's edge are 60 mm: for a screw, not for a nose of 120 beside the clamp."""
    layout = layout_of((shaped(rectangle(30, 20)), Transform(x=410, y=75)), length=450, width=100, thickness=12.0)
    clamp = polyline([(0, 0), (0, 40), (350, 40), (350, 0)])
    layout = replace(layout, board=replace(layout.board, keep_outs=kept_out((clamp,), heights=(HIGH,))))

    on = bit_on(120.0, 15.0)
    problem = too_thin(board_of(layout, on), machine=on)
    assert "because the spindle's nose needs room beside clamps" in problem.message
    told = re.match(r"let cutter 2 stick out ([\d.]+) mm or more", spelled(problem.advice, "mm"))
    assert told is not None
    on = bit_on(120.0, float(told[1]))
    assert programs_of(lies_fast(board_of(layout, on), machine=on), machine=on)


def on_pins(stickout: float | None, *, width: float = 200.0) -> tuple[BoardCuts, tuple[Program, ...]]:
    """A board of two windows, a clamp along it, and pins of 5 mm drilled by a bit that sticks out so far."""
    on = changed(bit_on(120.0, stickout), travel={"x": 400.0, "open_ends": True, "located_by": "pins", "pin": 5.0})
    places = [(shaped(rectangle(60, 20)), Transform(x=x, y=width - 30.0)) for x in (10.0, 620.0)]
    layout = layout_of(*places, length=700, width=width, thickness=12.0)
    clamp = polyline([(0, 0), (0, 40), (700, 40), (700, 0)])
    layout = replace(layout, board=replace(layout.board, keep_outs=kept_out((clamp,), heights=(HIGH,))))
    board = board_of(with_windows(layout, machine=on, cutter=on.cutter[0]), on)
    board = lies_fast(board, machine=on, screws=False)
    return board, programs_of(board, machine=on)


def test_pins_are_set_as_far_from_clamps_as_the_nose_over_their_holes_asks_for() -> None:
    def lowest(board: BoardCuts) -> float:
        return min(at[1] for window in board.layout.windows for at in window.holes)

    near, far = on_pins(None)[0], on_pins(15.0)[0]
    assert lowest(near) < 100.0 <= lowest(far)
    with pytest.raises(InputError, match="no room for two pins") as caught:
        on_pins(15.0, width=105.0)
    told = re.match(r"let cutter 2 stick out ([\d.]+) mm or more", caught.value.problems[0].advice)
    assert told is not None
    assert on_pins(float(told[1]), width=105.0)


def test_numbers_in_the_waste_are_cut_where_the_nose_passes_beside_clamps() -> None:
    """Marks 0.5 deep, by a cutter that sticks out less than the clamp is high: a nose of 120 keeps 60 off it."""
    layout = layout_of((shaped(rectangle(60, 40)), Transform(x=76, y=20)), length=400, width=100, thickness=12.0)
    board = replace(
        layout.board, keep_outs=kept_out((polyline([(0, 0), (0, 100), (10, 100), (10, 0)]),), heights=(HIGH,))
    )
    layout = replace(layout, board=board)

    def apart(nose: float | None) -> float:
        on = bit_on(nose, None)
        pen = cutter(3.0, number=3).model_copy(update={"stickout": 18.0})
        on = on.model_copy(update={"cutter": (*on.cutter, pen)})
        cutters = Cutters(outline=on.cutter[0], usable=on.cutter, changer=True)
        (made,), warnings = numbered_boards(
            [layout], where="waste", height=12.0, asked=True, cutters=cutters, machine=on
        )
        assert not warnings
        (board,), _ = cut_layouts([made], cutters=cutters, machine=on, gap=8.0, locations={})
        assert programs_of(board, machine=on)
        return min(point[0] for path in made.lettering[0].paths for s in path for point in (s.start, s.end)) - 10.0

    assert apart(None) < 60.0 <= apart(120.0)
