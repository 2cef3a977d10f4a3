"""The spindle's nose against clamps, screws and the stock: distances worked out by hand from the latch's program."""

from __future__ import annotations

import pytest

from cutjob.geometry.contour import polyline
from cutjob.job.machine import Machine
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove
from tests.layout.makers import kept_out
from tests.proof import two_cutters as two
from tests.proof import workshop as ws
from tests.proof.spoil import Lines, checks, swap

# The cutter's middle runs up to x 133 beside the latch, 12.3 deep; a clamp 20 high begins 47 beyond it.
CLAMP = polyline([(180, 40), (180, 70), (200, 70), (200, 40)])
HIGH, AWAY, DEEP = 20.0, 47.0, 12.3


def with_nose(machine: Machine, diameter: float | None, stickout: float | None, *, number: int = 1) -> Machine:
    cutters = tuple(
        one.model_copy(update={"stickout": stickout}) if one.number == number else one for one in machine.cutter
    )
    spindle = machine.spindle.model_copy(update={"nose_diameter": diameter})
    return machine.model_copy(update={"cutter": cutters, "spindle": spindle})


def clamped(diameter: float | None, stickout: float | None, *, height: float = HIGH) -> ProofReport:
    machine = with_nose(ws.router(), diameter, stickout)
    layout = ws.latch_board(keep_outs=kept_out((CLAMP,), heights=(height,)))
    program = ws.expected(layout, machine, safe_z=22.0)
    lines = swap("^G0 Z5$", "G0 Z22")(ws.latch_program())
    return prove({program.file: ws.text(lines)}, programs=[program], drawings=[], machine=machine)


@pytest.mark.parametrize(
    ("diameter", "stickout"),
    [
        (None, 20.0),  # nothing is known of the nose
        (96.0, None),  # nor of the cutter
        (2 * AWAY - 0.1, 25.0),  # beside the clamp
        (96.0, HIGH + 1 + DEEP + 0.01),  # a millimetre above it
    ],
)
def test_a_nose_clear_of_a_clamp_passes(diameter: float | None, stickout: float | None) -> None:
    assert checks(clamped(diameter, stickout)) == set()


def test_a_nose_too_low_beside_a_clamp() -> None:
    report = clamped(96.0, HIGH + 1 + DEEP - 0.1)
    assert checks(report) == {"nose"}
    (finding,) = report.findings
    assert finding.measured == pytest.approx(96 / 2 - AWAY, abs=1e-3)  # the file's rounding
    assert "the thing 20.0 mm high on keep-out 1" in finding.message
    assert finding.line is not None
    assert checks(clamped(2 * AWAY + 0.1, 25.0)) == {"nose"}


def test_what_does_not_stand_up_is_in_no_nose_s_way() -> None:
    assert checks(clamped(96.0, 25.0, height=0.0)) == set()
    assert checks(clamped(96.0, 25.0, height=25.0 - DEEP - 1.01)) == set()
    assert checks(clamped(96.0, 25.0, height=25.0 - DEEP - 0.9)) == {"nose"}


def screwed(diameter: float, stickout: float, *, number: int = 1, lines: Lines | None = None) -> ProofReport:
    """The latch held by screws whose heads, 7 in radius and 3 high, lie 26 from the corner's middle both ways."""
    machine = with_nose(two.changer(), diameter, stickout, number=number)
    first, second = machine.cutter
    program: ExpectedProgram = two.expected(cutters=(second, first))
    return prove({program.file: ws.text(lines or two.program())}, programs=[program], drawings=[], machine=machine)


def test_a_nose_beside_the_heads_of_screws() -> None:
    # The cutter's middle runs round (40, 40) at 13, 23.77 from the screw at (14, 14): 16.77 from its head.
    assert checks(screwed(2 * 16.7, 14.0)) == set()
    assert checks(screwed(2 * 16.8, 14.0)) == {"nose"}
    assert checks(screwed(2 * 16.8, 3 + 1 + DEEP + 0.01)) == set()


def test_the_holes_for_screws_are_drilled_before_any_head_is_there() -> None:
    """The drill bit's nose is over each screw's place, low, while its hole is drilled."""
    # The latch's own hole is drilled afterwards, at (50, 72): 68.26 from the screw at (14, 14), 61.26 from its head.
    assert checks(screwed(2 * 61.2, 14.0, number=2)) == set()
    assert checks(screwed(2 * 61.4, 14.0, number=2)) == {"nose"}


def test_no_cutter_goes_deeper_than_it_sticks_out() -> None:
    def judged(stickout: float) -> ProofReport:
        machine = with_nose(ws.router(), None, stickout)
        program = ws.expected(machine=machine)
        return prove({program.file: ws.text(ws.latch_program())}, programs=[program], drawings=[], machine=machine)

    assert checks(judged(DEEP)) == set()
    report = judged(DEEP - 0.1)
    assert checks(report) == {"nose"}
    assert "goes 12.30 mm deep and sticks out 12.20 mm" in report.findings[0].message
