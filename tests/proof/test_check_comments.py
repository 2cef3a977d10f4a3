"""Comments that an operator acts on, on files as they are made: accepted as they are, refused where they contradict."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from cutjob.job.machine import Machine
from cutjob.job.read_machine import read_machine
from cutjob.proof.check import examine_board, examine_program
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.gcode.comments import comments_of, judge_comments, odd_characters
from cutjob.proof.gcode.instructions import Instruction, agrees
from cutjob.proof.gcode.reader import read_gcode
from cutjob.proof.plan.reader import planned_programs
from tests.proof import workshop as ws
from tests.proof.mutants.cases import all_cases
from tests.proof.test_check import plan

# Screws, windows onto pins and cutters changed by hand; a changer, in inches; a laser.
MADE = ("everything", "inches", "marked")
_FREE = ("(job:", "(note:", "(order:", "(warning:", "(after a break:", "(caution:")


@dataclass(frozen=True)
class File:
    """A file as made, with what its plan says of it and of all files of its board."""

    data: bytes
    program: ExpectedProgram
    programs: tuple[ExpectedProgram, ...]
    machine: Machine
    plan: dict[str, Any]

    def said(self, data: bytes | None = None) -> list[str]:
        data = self.data if data is None else data
        reading = read_gcode(data, name=self.program.file)
        found = judge_comments(data, reading, self.program, self.programs, self.machine, required=True)
        return [finding.message for finding in found]

    @property
    def lines(self) -> list[str]:
        return self.data.decode().split("\n")

    def without(self, first: int, last: int) -> bytes:
        return "\n".join([*self.lines[:first], *self.lines[last:]]).encode()

    def opening(self) -> list[tuple[int, int]]:
        """First line and the line after the last of each text before anything else."""
        lines = self.lines
        begin = 1 if lines[0] == "%" else 0
        end = next(index for index in range(begin, len(lines)) if not lines[index].startswith("("))
        starts = [index for index in range(begin, end) if not lines[index].startswith("(.. ")]
        return list(zip(starts, [*starts[1:], end], strict=True))


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[File]]:
    folder = tmp_path_factory.mktemp("made")
    all_cases(folder, jobs=MADE)
    found: dict[str, list[File]] = {}
    for job in MADE:
        out = folder / job / "out"
        data = json.loads((out / "plan.json").read_bytes())
        own = folder / job / "own-machine.toml"
        machine = read_machine(str(own) if own.exists() else data["machine"].replace(" ", "-"), beside=None)
        for path in sorted(out.glob("*.nc")):
            programs = planned_programs(data, path.name, machine)
            program = next(one for one in programs if one.file == path.name)
            found.setdefault(job, []).append(File(path.read_bytes(), program, programs, machine, data))
    return found


def test_files_as_they_are_made_say_what_their_plan_says(files: dict[str, list[File]]) -> None:
    assert [len(own) for own in files.values()] == [6, 1, 1]
    for own in files.values():
        for file in own:
            assert file.said() == []
            # Small letters are no contradiction, nor are other ends of lines.
            assert file.said(file.data.lower().replace(b"\n", b"\r\n")) == []


def test_no_number_an_operator_acts_on_may_be_another(files: dict[str, list[File]]) -> None:
    """Each number of the opening is made larger by a tenth and more; names of things and of files are numbers too."""
    tried = 0
    for own in files.values():
        for file in own:
            lines = file.lines
            for first, last in file.opening():
                if lines[first].lower().startswith(_FREE):
                    continue
                for index in range(first, last):
                    for match in re.finditer(r"\d+", lines[index]):
                        if lines[index][: match.start()].endswith("."):
                            continue
                        value = str(int(match.group()) + 1 + int(match.group()) // 10)
                        changed = lines[index][: match.start()] + value + lines[index][match.end() :]
                        data = "\n".join([*lines[:index], changed, *lines[index + 1 :]]).encode()
                        assert file.said(data), (lines[index], changed)
                        tried += 1
    assert tried > 300


def test_nothing_an_operator_acts_on_may_be_left_out(files: dict[str, list[File]]) -> None:
    for own in files.values():
        for file in own:
            for first, last in file.opening():
                text = file.lines[first].lower()
                if not text.startswith(_FREE[:-1]):
                    assert file.said(file.without(first, last)), text
            cautions = [first for first, _ in file.opening() if file.lines[first].startswith("(Caution:")]
            (end,) = {last for _, last in file.opening()[-1:]}
            assert "the opening lacks its cautions" in file.said(file.without(cautions[0], end))


@pytest.mark.parametrize(
    ("job", "old", "new"),
    [
        ("everything", "clockwise", "counter-clockwise"),
        ("everything", "lower left corner", "upper right corner"),
        ("everything", "Z the top of", "Z the bottom of"),
        ("inches", "Z the spoilboard under the stock", "Z the top of the stock"),
        ("everything", "screws through the waste", "screws through the parts"),
        ("everything", "hardwood", "softwood"),
        ("everything", "bench router", "long-bed router"),
        ("everything", "1/4 in two-flute,", "60 degree V,"),
        ("inches", "slots 1, 4", "slots 4, 1"),
        ("everything", "board-01-2.nc, board-01-3.nc", "board-01-3.nc, board-01-2.nc"),
        ("inches", "clear of every", "clear of each"),
        ("marked", "through", "half through"),
    ],
)
def test_words_that_say_otherwise(files: dict[str, list[File]], job: str, old: str, new: str) -> None:
    file = files[job][0]
    assert old.encode() in file.data
    assert file.said(file.data.replace(old.encode(), new.encode()))


@pytest.mark.parametrize(
    ("job", "key", "value"),
    [
        ("everything", "thickness", 12.5),
        ("everything", "material", "softwood"),
        ("everything", "stack", 2),
        ("everything", "copies", 3),
        ("everything", "sawn_off", 20.0),
        ("everything", "bridges", []),
        ("inches", "thickness", 16.875),
        ("inches", "material", "hardwood"),
        ("inches", "held_by", "vacuum"),
        ("marked", "keep_out", []),
        ("marked", "thickness", 4.0),
    ],
)
def test_a_plan_that_says_otherwise_than_the_file(
    files: dict[str, list[File]], job: str, key: str, value: object
) -> None:
    """A thicker board than that of the file, another wood, a knot left out."""
    file = files[job][0]
    board = file.plan["boards"][0] | {key: value}
    if key in ("held_by", "keep_out"):
        board |= {"holds": [], "keep_out_heights": []}
    spoiled = file.plan | {"boards": [board]}
    programs = planned_programs(spoiled, file.program.file, file.machine)
    program = next(one for one in programs if one.file == file.program.file)
    assert File(file.data, program, programs, file.machine, spoiled).said()


def test_an_instruction_that_no_plan_knows_of(files: dict[str, list[File]]) -> None:
    file = files["inches"][0]
    for text in (
        "Stack: 3 boards at once, 48 mm = 1.8898 in high",
        "Before the start: slide the board 100 mm = 3.937 in towards its left end, with its edge against the stop",
        "Saw first: 20 mm = 0.7874 in off the left end",
        "Stop: set the dial to 9000 rpm for cutter 1",
        "Clamp 3: middle at X 4 Y 2 in, 63/64 in along the board and 1.5748 in across",
        "They were driven before this file. Leave them in",
    ):
        lines = file.lines
        (message,) = file.said("\n".join([*lines[:3], f"({text})", *lines[3:]]).encode())
        assert message.endswith("contradicts the plan")


def test_a_file_without_an_opening_is_refused_where_one_is_asked_for() -> None:
    files, machine = {"board-01.nc": ws.text(ws.latch_program())}, ws.router()
    assert examine_board(files, machine=machine, plan=plan()).report.passed
    found = examine_board(files, machine=machine, plan=plan(), comments_required=True).report.findings
    assert {finding.check for finding in found} == {"comment"}
    assert any("says nothing or too little of: hold" in finding.message for finding in found)
    mute = ws.router(controller={"comments": "none"})
    silent = [line for line in ws.latch_program() if not line.startswith("(")]
    checked = examine_board({"board-01.nc": ws.text(silent)}, machine=mute, plan=plan(), comments_required=True)
    assert checked.report.passed
    assert checked.not_judged == (
        "what a file says of its cutter, zero, stock and hold: the controller reads no comments",
    )


@pytest.mark.parametrize("comment", ["(is it so?)", "(now!)", "(a~b)", "(50$)", "(#3)", "; what now?", "(a*b) (c_d)"])
def test_a_comment_that_some_controllers_act_on(comment: str) -> None:
    style = "semicolon" if comment.startswith(";") else "brackets"
    machine = ws.router(controller={"comments": style})
    lines = [line for line in ws.latch_program() if not line.startswith("(")]
    data = ws.text([*lines[:4], comment, *lines[4:]])
    assert examine_program(ws.text(lines), name="board-01.nc", machine=machine, plan=plan()).report.passed
    (found,) = examine_program(data, name="board-01.nc", machine=machine, plan=plan()).report.findings
    assert (found.check, found.severity, found.line) == ("comment", "error", 5)
    # A file from elsewhere may have been meant for a controller that doesn't mind.
    alone = examine_program(data, name="board-01.nc", machine=machine, plan=None).report.findings
    assert [(one.check, one.severity) for one in alone] == [("comment", "warning")]


def test_comments_as_they_are_read() -> None:
    data = b"%\n(Cutter: 1, wide,)\n(..  and long)\r\nG21 (Then) ; after\nG0 Z5\n(.. not of that)\n"
    assert [(one.text, one.line, one.opening) for one in comments_of(data)] == [
        ("cutter: 1, wide, and long", 2, True),
        ("then", 4, False),
        ("after", 4, False),
        (".. not of that", 6, False),
    ]
    apart = b"(Cutter: 1,)\n\n \r\n(.. wide)\n"
    assert [one.text for one in comments_of(apart)] == ["cutter: 1, wide"]
    assert list(odd_characters(b"(good: 1/2 in, 'so' + \"so\" = 3.5 -)\n;a;b\nG0 X1 (x) (y!)\n")) == [
        (2, ";"),
        (3, "!"),
    ]


@pytest.mark.parametrize(
    ("text", "agreed"),
    [
        ("depth: 16.175 mm = 0.6368 in below", True),
        ("depth: 16.175 mm = 0.7368 in below", False),
        ("depth: 17.175 mm = 0.6368 in below", False),
        ("depth: 16.175 mm below", False),
    ],
)
def test_a_length_stands_in_both_units(text: str, agreed: bool) -> None:
    assert agrees(text, Instruction("depth", "depth: {b} below", (16.175,))) is agreed


@pytest.mark.parametrize("name", ["Fräse № 1", "Станок", "A & B", "50 % x × y", 'the "big" one [2]'])
def test_names_in_any_letters(name: str, tmp_path: Path) -> None:
    """As the writer spells them; what no comment can hold is not compared."""
    from cutjob.output.gcode.comments import plain_ascii

    text = plain_ascii(f"Machine: {name}").casefold()
    assert agrees(text, Instruction("machine", "machine: {t}", (name,)))
    assert not agrees(text + " b", Instruction("machine", "machine: {t}", (name,)))
