"""Files spoiled at random, with a plan and without: always an answer, never a fault of the program."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.errors import InputError
from cutjob.proof.check import Checked, StatedStock, examine_program
from tests.proof import workshop as ws
from tests.proof.test_check import plan

PIECES = st.sampled_from(
    ["\n", "%", "(", ")", ";", "#1=", "[", "]", "X", "Z-", "G91\n", "G20\n", "G18\n", "G28 Z0\n", "M6\n", "T1", "G0 ",
     "G2 ", "R5", "\x00", "é", "9" * 30, "M2\n", "G81 R1 ", "G93\n", "F0", "/", "N1 ", "O7\n", "I0 J0", "\r", "-", "."]
)  # fmt: skip


def judged(data: bytes, *, with_plan: bool) -> Checked | None:
    try:
        stated = None if with_plan else StatedStock(thickness=12.0, material="softwood", cutter=1)
        return examine_program(
            data, name="board-01.nc", machine=ws.router(), plan=plan() if with_plan else None, stated=stated
        )
    except InputError as error:
        return None if error.problems else _never()


def _never() -> None:
    raise AssertionError("an error without a problem")


@given(
    chance=st.randoms(use_true_random=False), pieces=st.lists(PIECES, min_size=1, max_size=4), with_plan=st.booleans()
)
@settings(max_examples=120, deadline=None)
def test_spoiled_programs_get_an_answer(chance: random.Random, pieces: list[str], with_plan: bool) -> None:
    text = "\n".join(ws.latch_program())
    for piece in pieces:
        begin = chance.randrange(len(text) + 1)
        text = text[:begin] + piece + text[begin + chance.choice([0, 0, 1, 5, 200]) :]
    checked = judged(text.encode("latin-1"), with_plan=with_plan)
    if checked is None:
        return
    for finding in checked.report.findings:
        assert finding.message
        assert finding.words("in").startswith("board-01.nc")
        assert finding.line is None or 1 <= finding.line <= text.count("\n") + 1
    # What can't be read is never passed.
    assert not (checked.readings[0].problems and checked.report.passed)


@given(data=st.binary(max_size=300), with_plan=st.booleans())
@settings(max_examples=60, deadline=None)
def test_rubbish_gets_an_answer(data: bytes, with_plan: bool) -> None:
    checked = judged(data, with_plan=with_plan)
    assert checked is None or not checked.report.passed


def test_a_file_that_ends_in_the_middle_never_passes() -> None:
    """A program cut short anywhere, as a broken copy leaves it, is refused wherever it ends."""
    lines = ws.latch_program()
    for count in range(len(ws.head()) + 1, len(lines) - 1, 3):
        checked = judged(ws.text(lines[:count]), with_plan=True)
        assert checked is not None
        assert not checked.report.passed, count
        assert any(finding.check == "program end" for finding in checked.report.findings)
