"""Openings for programs written by hand: all that the proof looks for, worded from what it expects, and cautions."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping
from typing import Any

from cutjob.job.machine import Machine
from cutjob.proof.gcode.instructions import Instruction, Value, instructions
from cutjob.proof.gcode.reader import read_gcode
from cutjob.proof.plan.reader import planned_programs
from tests.proof import workshop as ws

_ROOM = 68  # letters in a comment of the test router
_CAUTIONS = (
    "Wear eye and ear protection",
    "Hold the work down before the spindle starts",
    "First run in the air",
    "Measure the stock",
    "The machine's manual comes before this",
    "A cutter that meets a screw breaks",
    "Support a long board",
    "Change the cutter with the spindle at rest",
    "The spindle's nose is wide",
)


def opened(files: Mapping[str, list[str]], plan: dict[str, Any], machine: Machine) -> dict[str, bytes]:
    """The files of one board with an opening each."""
    programs = planned_programs(plan, next(iter(files)), machine)
    found: dict[str, bytes] = {}
    for program in programs:
        reading = read_gcode(ws.text(files[program.file]), name=program.file)
        wanted = [one for one in instructions(program, programs, reading, machine) if one.needed]
        texts = [*map(_worded, wanted), *(f"Caution: {text}" for text in _CAUTIONS)]
        lines = [line for text in texts for line in textwrap.wrap(text, _ROOM, subsequent_indent=".. ")]
        found[program.file] = ws.text([*(f"({line})" for line in lines), *files[program.file]])
    return found


def _worded(instruction: Instruction) -> str:
    """A text that says what is expected: of words that may be one or another the first."""
    values = iter(instruction.values)
    words = re.sub(r"\((.*?)\|.*?\)", r"\1", instruction.words).replace(".*", "")
    words = re.sub(r"\([^)]*\)\?|\w\?", "", words)
    return re.sub(r"\{(\w+)\}", lambda token: _value(token.group(1), values), words)


def _value(kind: str, values: Any) -> str:
    if kind == "any":
        return ""
    value: Value = next(values)
    if isinstance(value, str):
        return value
    if isinstance(value, tuple):
        return f"X {value[0]:.2f} Y {value[1]:.2f} mm"
    return f"{value:.3f} mm" + (f" = {value / 25.4:.4f} in" if kind == "b" else "")
