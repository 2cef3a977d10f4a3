"""Judges all written files of a job at once: the entry of the proof. Bytes in, a report out; nothing is raised."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import PurePath

from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.proof.board.board_case import board_case
from cutjob.proof.drawing.drawing import judge_drawing
from cutjob.proof.expect import ExpectedDrawing, ExpectedProgram
from cutjob.proof.finding import Finding, ProofReport
from cutjob.proof.gcode.comments import judge_comments
from cutjob.proof.gcode.file_case import FileCase
from cutjob.proof.gcode.height_rules import with_heights
from cutjob.proof.gcode.reader import read_gcode
from cutjob.proof.gcode.reading import Reading
from cutjob.proof.gcode.rules import judge_rules
from cutjob.proof.sweep.keep_out import tallest
from cutjob.proof.sweep.sweep import Swept, sweep_board


def prove(
    files: Mapping[str, bytes],
    *,
    programs: Sequence[ExpectedProgram],
    drawings: Sequence[ExpectedDrawing],
    machine: Machine,
    holding_required: bool = False,
    comments_required: bool = False,
) -> ProofReport:
    """Return the findings on the files, and the worst gouge and most wood left over all boards, mm.

    Where `holding_required`, a router's board must say how it is held. Where `comments_required`, the opening of every
    program must say everything that one must.

    Programs of one board layout come in the order they are run. Feeds and limits are those of the machine profile and
    of each cutter's row for the board's material.
    """
    findings = _unclaimed(files, programs, drawings, machine)
    swept: list[Swept] = []
    for layout, own in _by_board(programs):
        readings = []
        for program in own:
            reading = _read(files, program, findings)
            if reading is not None:
                findings += judge_rules(file_case(program, reading, machine))
                text = files[program.file]
                findings += judge_comments(text, reading, program, own, machine, required=comments_required)
                readings.append(reading)
        # A file that can't be read in full can't be swept, nor can a board with a missing file.
        if len(readings) == len(own) and not any(reading.problems for reading in readings):
            one = sweep_board(board_case(layout, own, readings, machine, holding_required=holding_required))
            swept.append(replace(one, findings=with_heights(one.findings, own, readings)))
    for one in swept:
        findings += one.findings
    for drawing in drawings:
        data = files.get(drawing.file)
        if data is None:
            findings.append(_missing(drawing.file))
        else:
            findings += judge_drawing(data, drawing, machine)
    return ProofReport(
        findings=tuple(findings),
        worst_gouge=max((one.worst_gouge for one in swept), default=0.0),
        worst_left=max((one.worst_left for one in swept), default=0.0),
    )


def file_case(program: ExpectedProgram, reading: Reading, machine: Machine) -> FileCase:
    """Return the facts that the rules need about a program's file."""
    return FileCase(
        reading=reading,
        machine=machine,
        cutters=program.cutters,
        material=program.board.board.material,
        stock_top=program.stock_top_z,
        height=program.board.height,
        overcut=program.overcut,
        safe_z=program.safe_z,
        tallest=tallest(program),
        origin=program.origin,
        lying=_lying(program),
    )


def _lying(program: ExpectedProgram) -> tuple[float, float, float, float]:
    """The box of the board, or of its window on the bed, from the program's zero."""
    low_x, low_y, high_x, high_y = program.board.board.outline.bounds
    if program.window is not None and program.window < len(program.board.windows):
        window = program.board.windows[program.window]
        low_x, high_x = max(low_x, window.first), min(high_x, window.last)
    x, y = program.origin
    return low_x - x, low_y - y, high_x - x, high_y - y


def _by_board(programs: Sequence[ExpectedProgram]) -> list[tuple[BoardLayout, list[ExpectedProgram]]]:
    boards: dict[str, tuple[BoardLayout, list[ExpectedProgram]]] = {}
    for program in programs:
        boards.setdefault(program.board.id, (program.board, []))[1].append(program)
    return list(boards.values())


def _read(files: Mapping[str, bytes], program: ExpectedProgram, findings: list[Finding]) -> Reading | None:
    data = files.get(program.file)
    if data is None:
        findings.append(_missing(program.file))
        return None
    return read_gcode(data, name=program.file)


def _missing(file: str) -> Finding:
    return Finding(check="files", severity="error", message="the file is missing", file=file)


def _unclaimed(
    files: Mapping[str, bytes],
    programs: Sequence[ExpectedProgram],
    drawings: Sequence[ExpectedDrawing],
    machine: Machine,
) -> list[Finding]:
    known = {program.file for program in programs} | {drawing.file for drawing in drawings}
    cutting = {f".{machine.controller.extension.lower()}", ".dxf"}
    return [
        Finding(check="files", severity="error", message="an unexplained cutting file, not in the plan", file=name)
        for name in sorted(files)
        if name not in known and PurePath(name).suffix.lower() in cutting
    ]
