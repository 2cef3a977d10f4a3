"""Several cutters in a job: changed by a changer or by hand, each with its own length, speed, feeds and reach."""

from __future__ import annotations

import pytest

from cutjob.job.machine import Machine
from cutjob.proof.check import examine_program
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove
from tests.proof import two_cutters as two
from tests.proof import workshop as ws
from tests.proof.spoil import Lines, Spoil, checks, drop, insert, swap


def judge(lines: Lines, program: ExpectedProgram | None = None, machine: Machine | None = None) -> ProofReport:
    program = program or two.expected()
    return prove({program.file: ws.text(lines)}, programs=[program], drawings=[], machine=machine or two.changer())


def test_a_program_for_a_changer_passes() -> None:
    report = judge(two.program())
    assert [str(finding) for finding in report.findings] == []
    assert max(report.worst_gouge, report.worst_left) < 2e-4  # four decimals


def test_a_changer_without_a_table_of_lengths() -> None:
    machine = two.changer(tool_length="none")
    without = drop("^G43")(two.program())
    assert checks(judge(without, machine=machine)) == {"tool length"}
    change = without.index("T1 M6")
    halted = [*without[: change + 1], "M0", *without[change + 1 :]]
    assert judge(halted, machine=machine).passed
    assert checks(judge(two.program(), machine=machine)) == {"tool length"}


SPOILED: list[tuple[str, Spoil, str]] = [
    ("a cutter that is not planned", swap("^T1 M6$", "T3 M6"), "tool"),
    ("a change to no cutter", swap("^T1 M6$", "T0 M6"), "tool"),
    ("a change left out", lambda lines: drop("^T1 M6$")(drop("^G43 H1$")(lines)), "tool"),
    ("no change at all", drop("^(T|G43)"), "tool"),
    ("the other cutter first", lambda lines: swap("^T9", "T1")(swap("^T1", "T2")(swap("^T2", "T9")(lines))), "tool"),
    ("a cut before the first change", insert("^T2 M6$", ["G0 Z5", "S8000 M3", "G4 P3", "G1 Z-1 F200", "G0 Z5", "M5"]),
     "tool"),
    ("the length of the other cutter", swap("^G43 H1$", "G43 H2"), "tool length"),
    ("no length", drop("^G43 H1$"), "tool length"),
    ("no length for the first", drop("^G43 H2$"), "tool length"),
    ("a length dropped again", insert("^S12000 M3$", ["G49"]), "tool length"),
    ("a length after the first move", lambda lines: insert("^S12000 M3$", ["G43 H1"])(drop("^G43 H1$")(lines)),
     "tool length"),
    ("changed in the hole", insert("^T1 M6$", ["G1 Z-2 F200"]), "spindle stop"),
    ("changed just above the stock", insert("^T1 M6$", ["G0 Z2"]), "spindle stop"),
    ("not started after the change", drop("^S12000 M3$"), "spindle"),
    ("no time after the change", drop("^G4 P3$", at=-1), "dwell"),
    ("another speed without time", insert(r"^\(window\)$", ["S11999.5", "S12000"]), "dwell"),
    ("started at no speed, which comes later", swap("^S12000 M3$", "M3"), "speed"),
    ("the speed of the other cutter", swap("^S12000 M3$", "S8000 M3"), "speed"),
    ("the drill bit plunging as fast as the other", swap("F200$", "F300"), "plunge"),
    ("the drill bit moved sideways in the wood", insert(r"^M5$", ["G0 Z1", "G1 Z-1 F200", "G1 X53", "G0 Z5"], at=1),
     "drill"),
]  # fmt: skip


def _raise_left_out(lines: Lines) -> Lines:
    begin = lines.index("G43 H1")
    first = next(number for number in range(begin, len(lines)) if lines[number].startswith("G0 X"))
    return [*lines[:begin], *[line for line in lines[begin:first] if line != "G0 Z5"], *lines[first:]]


def _sideways_first(lines: Lines) -> Lines:
    place = lines.index("G43 H1") + 1
    return [*lines[:place], "G0 X60 Y80", *lines[place:]]


def _low_first(lines: Lines) -> Lines:
    place = lines.index("G43 H1") + 1
    return [*lines[:place], "G0 Z2", *lines[place:]]


def _height_not_said(lines: Lines) -> Lines:
    """Where the cutter stood before, but with no word of its height."""
    place = lines.index("G43 H1") + 1
    assert lines[place] == "G0 Z5"
    return [*lines[:place], "G0 X50 Y72", *lines[place + 1 :]]


AFTER_CHANGE = {
    "height not said": _height_not_said,
    "left out": _raise_left_out,
    "sideways": _sideways_first,
    "low": _low_first,
}


@pytest.mark.parametrize("spoil", AFTER_CHANGE.values(), ids=AFTER_CHANGE.keys())
def test_the_first_motion_after_a_change_raises_the_cutter(spoil: Spoil) -> None:
    assert "rapid" in checks(judge(spoil(two.program())))


@pytest.mark.parametrize(("spoil", "check"), [case[1:] for case in SPOILED], ids=[case[0] for case in SPOILED])
def test_a_spoiled_program_is_rejected(spoil: Spoil, check: str) -> None:
    bad = spoil(two.program())
    assert bad != two.program()
    report = judge(bad)
    assert check in checks(report), [str(finding) for finding in report.findings]


def test_a_cutter_that_comes_back_is_one_of_the_planned() -> None:
    lines = two.program()
    place = lines.index("T1 M6")
    back = [*two.change(1, 12000), "M5", *two.change(2, 8000), "M5"]
    assert judge([*lines[:place], *back, *lines[place:]]).passed


def test_each_cutter_has_its_own_cutting_length() -> None:
    first, second = two.router().cutter
    short = second.model_copy(update={"cutting_length": 10.0})
    report = judge(two.program(), two.expected(cutters=(short, first)))
    assert checks(report) == {"depth"}
    assert "cutter 2 has a cutting length of 10.00 mm" in str(report.findings[0])


def test_each_cutter_has_its_own_width() -> None:
    first, second = two.router().cutter
    wide = second.model_copy(update={"diameter": 6.2})
    assert {"gouge", "missing"} <= checks(judge(two.program(), two.expected(cutters=(wide, first))))
    thin = first.model_copy(update={"diameter": 5.8})
    assert "wood left" in checks(judge(two.program(), two.expected(cutters=(second, thin))))


def test_a_thin_cutter_may_stray_less_than_a_wide_one_of_the_same_file() -> None:
    first, second = two.router().cutter
    wide = second.model_copy(update={"diameter": 12.0})
    beside = insert(r"^\(outline\)$", [*ws.over(-12, 60), "G1 Z-2 F300", "F1200", "G0 Z5"])(two.program())
    assert "board" in checks(judge(beside, two.expected(cutters=(wide, first))))
    nearer = [line.replace("X-12", "X-10") for line in beside]
    assert "board" not in checks(judge(nearer, two.expected(cutters=(wide, first))))
    far = insert(r"^\(drilled hole\)$", [*ws.over(-14, 60), "G1 Z-2 F200", "G0 Z5"])(two.program())
    assert "board" not in checks(judge(far, two.expected(cutters=(wide, first))))


def test_two_files_where_cutters_are_changed_by_hand() -> None:
    machine = two.router()
    first, second = machine.cutter
    drill = two.expected(file="board-01-1.nc", cutters=(second,), tabs=())
    cut = two.expected(file="board-01-2.nc", cutters=(first,))
    one, other = two.by_hand()
    files = {drill.file: ws.text(one), cut.file: ws.text(other)}
    report = prove(files, programs=[drill, cut], drawings=[], machine=machine)
    assert [str(finding) for finding in report.findings] == []
    # The second file's cutter run in the first one is found out by its speed.
    wrong = two.expected(file="board-01-1.nc", cutters=(first,), tabs=())
    assert "speed" in checks(prove(files, programs=[wrong, cut], drawings=[], machine=machine))


def test_one_file_for_two_cutters_changed_by_hand() -> None:
    one, _ = two.by_hand()
    assert "tool" in checks(judge(one, machine=two.router()))
    second = two.router().cutter[1]
    with_word = insert("^G0 Z5$", ["T2"])(one)
    assert "tool" in checks(judge(with_word, two.expected(cutters=(second,)), machine=two.router()))
    with_change = insert("^G0 Z5$", ["T2 M6"])(one)
    assert "controller" in checks(judge(with_change, two.expected(cutters=(second,)), machine=two.router()))


def test_a_file_alone_is_held_to_the_profile_of_a_changer() -> None:
    def alone(lines: Lines) -> set[str]:
        return checks(examine_program(ws.text(lines), name="board-01.nc", machine=two.changer(), plan=None).report)

    assert alone(two.program()) == set()
    assert alone(swap("^T1 M6$", "T7 M6")(swap("^G43 H1$", "G43 H7")(two.program()))) == {"tool"}


STOPS: list[tuple[str, Spoil, str]] = [
    ("hands in while it turns", drop("^M5$", at=0), "stop"),
    ("an optional halt while it turns", lambda lines: swap("^M0$", "M1")(drop("^M5$", at=0)(lines)), "stop"),
    ("not lifted", insert("^M5$", ["G0 Z2"], at=0), "spindle stop"),
    ("not started again", drop("^S8000 M3$", at=1), "spindle"),
    ("started again without time", drop("^G4 P3$", at=1), "dwell"),
    ("started again the wrong way", swap("^S8000 M3$", "S8000 M4", at=1), "spindle"),
]


@pytest.mark.parametrize(("spoil", "check"), [case[1:] for case in STOPS], ids=[case[0] for case in STOPS])
def test_a_stop_that_would_hurt(spoil: Spoil, check: str) -> None:
    assert check in checks(judge(spoil(two.program())))
