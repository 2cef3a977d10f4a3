"""Screws through the waste: drilled first and right through, driven at a halt, and nothing in their way after that."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutjob.geometry.contour import circle
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout, HoldDown
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove
from tests.layout.makers import kept_out
from tests.proof import two_cutters as two
from tests.proof import workshop as ws
from tests.proof.spoil import Lines, Spoil, checks, drop, insert, moved, swap


def judge(lines: Lines, program: ExpectedProgram | None = None, machine: Machine | None = None) -> ProofReport:
    program = program or two.expected()
    return prove({program.file: ws.text(lines)}, programs=[program], drawings=[], machine=machine or two.changer())


def low_move(x: float, y: float, z: float) -> Spoil:
    """One more way of the drill bit, over a place after the screws were driven, down to a height over the stock."""
    return insert(r"^\(drilled hole\)$", ["G0 Z5", f"G0 X{x} Y{y}", f"G1 Z{z} F200", "G0 Z5"])


SPOILED: list[tuple[str, Spoil, str]] = [
    ("one hole not right through", swap(r"^G1 Z-12.3 F200$", "G1 Z-11.9 F200", at=0), "missing"),
    ("one hole beside its place", swap("^G0 X14 Y14$", "G0 X14.5 Y14"), "missing"),
    ("a screw's hole drilled last", moved("screws", "T1 M6"), "hold-down"),
    ("no halt to drive the screws", lambda lines: drop("^M0$")(lines), "hold-down"),
    ("a halt that may be passed over", swap("^M0$", "M1"), "hold-down"),
    ("into a head", low_move(22, 14, -1), "hold-down"),
    ("down onto a head", low_move(14, 14, 3.5), "hold-down"),
    ("another peck where the screw is now", low_move(14, 14, -3), "hold-down"),
]


@pytest.mark.parametrize(("spoil", "check"), [case[1:] for case in SPOILED], ids=[case[0] for case in SPOILED])
def test_a_spoiled_program_is_rejected(spoil: Spoil, check: str) -> None:
    bad = spoil(two.program())
    assert bad != two.program()
    report = judge(bad)
    assert check in checks(report), [str(finding) for finding in report.findings]


@pytest.mark.parametrize("spoil", [low_move(24.1, 14, -1), low_move(14, 14, 4.1)], ids=["beside", "above"])
def test_moves_clear_of_the_heads_pass(spoil: Spoil) -> None:
    """The head reaches 7 from its middle and the drill 3; it stands 3 high, and a millimetre of air is kept."""
    # A cut beside a head makes nothing, but it harms no screw.
    assert checks(judge(spoil(two.program()))) <= {"waste"}


def test_the_holes_left_out() -> None:
    lines = two.program()
    begin, end = lines.index("(screws)"), lines.index("(stop)")
    report = judge([*lines[:begin], *lines[end:]])
    assert checks(report) == {"missing"}
    assert len(report.findings) == 2


def test_a_hole_drilled_too_late_is_told_as_such() -> None:
    report = judge(moved("screws", "T1 M6")(two.program()))
    assert any("something is cut before the hole" in finding.message for finding in report.findings)


def test_a_thin_drill_beside_the_middle_of_its_hole() -> None:
    """Within a hole of 8, but half a millimetre off its middle."""
    aside = swap("^G0 X14 Y14$", "G0 X14.5 Y14")(two.program())
    assert checks(judge(aside, two.expected(two.screwed(diameter=8.0)))) == {"missing"}


def bored(x: float, y: float, diameter: float) -> Lines:
    return ws.bore(x, y, diameter / 2 - ws.RADIUS, ws.DEPTHS[-1], pitch=1.0)


def test_wide_holes_are_bored_and_wider_ones_than_stated_refused() -> None:
    """All by cutter 1: the screws' holes of 8 bored by a cutter of 6."""
    layout = two.screwed(diameter=8.0)
    program = ws.expected(layout)

    def lines(diameter: float) -> Lines:
        holes = [line for at in two.SCREWS for line in bored(*at, diameter)]
        halt = ["M5", "M0", "S12000 M3", "G4 P3"]
        return [*ws.head(), "(screws)", *holes, *halt, *ws.latch_inner(), *ws.latch_outline(), *ws.tail()]

    assert [str(finding) for finding in judge(lines(8.0), program, ws.router()).findings] == []
    # The way back up in its middle is a hole, round which something else was cut first.
    assert "hold-down" in checks(judge(lines(8.1), program, ws.router()))
    # A hole as wide as the cutter is wider than one of 5.
    narrow = two.expected(two.screwed(diameter=5.0))
    assert "missing" in checks(judge(two.program(), narrow))
    # A thinner drill straight down in the middle is a hole for a screw.
    assert judge(two.program(), two.expected(two.screwed(diameter=7.0))).passed


def test_a_thick_or_a_high_head_is_told_from_the_one_planned() -> None:
    # The slot begins 24 from the board's edges, rounded by 16 about (40, 40): 20.8 from the first screw.
    assert judge(two.program(), two.expected(two.screwed(head=20.7))).passed
    assert checks(judge(two.program(), two.expected(two.screwed(head=21.0)))) == {"hold-down"}
    high = two.expected(two.screwed(height=4.5))
    assert checks(judge(two.program(), high)) == {"rapid", "hold-down"}
    lifted = swap("^G0 Z5$", "G0 Z6")(two.program())
    assert judge(lifted, replace(high, safe_z=6.0)).passed
    # What the plan says air moves run at is kept to.
    assert "rapid" in checks(judge(two.program(), replace(high, safe_z=6.0)))


def with_downs(*downs: HoldDown) -> BoardLayout:
    return replace(ws.latch_board(), hold_downs=downs)


@pytest.mark.parametrize(
    ("at", "says"),
    [((60.0, 40.0), "covers part"), ((25.0, 60.0), "covers part"), ((2.0, 60.0), "is not in the board"),
     ((300.0, 60.0), "is not in the board"), ((190.0, 60.0), "covers keep-out 1")],
)  # fmt: skip
def test_hold_downs_lie_in_the_waste(at: tuple[float, float], says: str) -> None:
    layout = replace(ws.latch_board(keep_outs=kept_out((circle((200.0, 60.0), 4.0),))))
    layout = replace(layout, hold_downs=(HoldDown(at=at, diameter=6.0, head=7.0, height=3.0),))
    report = judge(two.program(), two.expected(layout))
    assert any(finding.check == "hold-down" and says in finding.message for finding in report.findings)


def test_between_two_files_the_screws_are_driven_without_a_halt() -> None:
    machine = two.router()
    first, second = machine.cutter
    drill = two.expected(file="board-01-1.nc", cutters=(second,), tabs=())
    cut = two.expected(file="board-01-2.nc", cutters=(first,))
    _, rest = two.by_hand()
    opening = [*two.modes(), "G0 Z5", "S8000 M3", "G4 P3"]
    one = [*opening, *two.screws(), "M5", "M2"]
    own = [*opening, *two.drilled(50, 72), "M5", "M2"]
    again = replace(drill, file="board-01-3.nc")
    files = {drill.file: ws.text(one), again.file: ws.text(own), cut.file: ws.text(rest)}
    assert prove(files, programs=[drill, again, cut], drawings=[], machine=machine).passed
    # The same hole drilled again by the next file meets a screw.
    files[again.file] = ws.text(insert("^M5$", two.drilled(*two.SCREWS[0]))(own))
    assert checks(prove(files, programs=[drill, again, cut], drawings=[], machine=machine)) == {"hold-down"}


CLAMP = 12.0


def clamped() -> BoardLayout:
    """A clamp 12 high over the board's right edge, and a knot beside it."""
    layout = ws.latch_board(
        keep_outs=kept_out((circle((205.0, 60.0), 10.0), circle((170.0, 20.0), 5.0)), heights=(CLAMP,))
    )
    return layout


def judge_clamped(lines: Lines, safe_z: float) -> ProofReport:
    return judge(lines, ws.expected(clamped(), safe_z=safe_z), ws.router())


def test_air_moves_pass_over_a_clamp_in_its_way() -> None:
    high = swap("^G0 Z5$", "G0 Z14")(ws.latch_program())
    over = ["G0 Z14", "G0 X205 Y60", "G0 X180 Y110"]
    assert [str(finding) for finding in judge_clamped(insert(r"^\(outline\)$", over)(high), 14.0).findings] == []
    assert "rapid" in checks(judge_clamped(ws.latch_program(), 5.0))
    low = insert(r"^\(outline\)$", ["G0 Z14", "G0 X205 Y60", "G0 Z11", "G0 Z14"])(high)
    assert "keep-out" in checks(judge_clamped(low, 14.0))
    # Nothing stands on the knot: below 14 but above the profile's safe height there is room over it.
    knot = insert(r"^\(outline\)$", ["G0 Z14", "G0 X170 Y20", "G0 Z6", "G0 Z14"])(high)
    assert judge_clamped(knot, 14.0).passed
    at_five = insert(r"^\(outline\)$", ["G0 Z14", "G0 X170 Y20", "G0 Z4", "G0 Z14"])(high)
    assert checks(judge_clamped(at_five, 14.0)) == {"keep-out"}


def test_a_stack_and_its_air_within_the_travel() -> None:
    layout = replace(ws.latch_board(), stack=4)
    report = judge(ws.latch_program(), ws.expected(layout), ws.router(travel={"z": 50}))
    assert "travel" in checks(report)
    assert "travel" not in checks(judge(ws.latch_program(), ws.expected(layout), ws.router(travel={"z": 54})))
    # Cut right through, the stack is higher than the cutter cuts.
    deep = swap(r"-12\.3\b", "-48.3")(ws.latch_program())
    assert "depth" in checks(judge(deep, ws.expected(layout), ws.router(travel={"z": 54})))
