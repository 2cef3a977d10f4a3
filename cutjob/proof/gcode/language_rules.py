"""Rules about the text of a file: the standard's language, and the limits of the profile's controller."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from cutjob.errors import Problem
from cutjob.proof.finding import Finding, Severity
from cutjob.proof.gcode.canned import CYCLES
from cutjob.proof.gcode.file_case import HAIR, FileCase
from cutjob.proof.gcode.line_state import G_GROUPS

_OFFSETS = tuple(f"G{code}" for code in G_GROUPS["coordinates"])
_CANCELLED = {"G40": "cutter compensation", "G49": "tool length offsets", "G80": "canned cycles"}
_CYCLES = frozenset(f"G{code}" for code in CYCLES)
_ALWAYS = {"units": "G20 or G21", "distance": "G90", "plane": "G17", "feed mode": "G94"}
_USUAL_AT_START = ("plane", "feed mode")

_CODES = re.compile(r"(?<![A-Z])([GM])(\d+(?:\.[1-9])?)")
_EXACT = "stops or slows down at every corner"
# Codes of the standard (NISTIR 6556, tables 5 and 7) that no file needs.
_SPARE = {
    "G61": _EXACT,
    "G61.1": _EXACT,
    "G64": "lets the controller round off corners",
    "M7": "switches coolant on",
    "M8": "switches coolant on",
    "M48": "takes the operator's overrides as the file has them",
    "M49": "locks the operator's overrides of speed and feed",
}
# Those that a planned file doesn't need beside them; others may be written for machines that know them.
_SPARE_IF_PLANNED = {
    "G28": "goes to a place of the machine's that is not in the file",
    "G30": "goes to a place of the machine's that is not in the file",
    "G93": "takes feeds as times",
    "M1": "halts or not, depending on a switch",
}


def broken_lines(case: FileCase) -> Iterator[Finding]:
    """Findings for lines that break the language, lines that not every controller reads, and an empty file."""
    reading = case.reading
    for problem in reading.problems:
        yield _on_its_line(case, problem, "error")
    for problem in reading.remarks:
        yield _on_its_line(case, problem, _unless_planned(case))
    if not reading.motions and not reading.problems:
        yield case.error("language", "the file has no motion")


def _on_its_line(case: FileCase, problem: Problem, severity: Severity) -> Finding:
    where = problem.location
    column = "" if where is None or where.column is None else f"column {where.column}: "
    line = None if where is None else where.line
    found = case.error("language", column + problem.message, line=line, severity=severity)
    place = case.reading.problem_places.get(line or 0)
    return found if place is None else replace(found, at=case.on_board(place))


def _unless_planned(case: FileCase) -> Severity:
    """The severity where a file differs from the profile: a file without a plan may."""
    return "error" if case.planned else "warning"


def modes_stated(case: FileCase) -> Iterator[Finding]:
    """The file states units, distance, plane and feed mode before its first motion; it doesn't rely on the last
    state.
    """
    reading = case.reading
    for mode, codes in _ALWAYS.items():
        if reading.motions and mode not in reading.set_before_motion:
            # Most controllers start in G17 and G94, so a file without a plan may leave these out.
            severity = _unless_planned(case) if mode in _USUAL_AT_START else "error"
            message = f"the file doesn't state its {mode} ({codes}) before the first motion"
            yield case.error("modes", message, reading.motions[0], severity=severity)
    wanted = case.machine.controller.units
    if reading.motions and reading.inches != (wanted == "in"):
        got = "inches" if reading.inches else "mm"
        message = f"the file is in {got}; the profile's controller works in {wanted}"
        line = reading.first_lines.get("G20" if reading.inches else "G21")
        yield case.error("modes", message, line=line, severity=_unless_planned(case))


def safe_start(case: FileCase) -> Iterator[Finding]:
    """The file cancels everything an earlier program may have left on before its first motion. Its work offset is the
    one the profile names: the zero of another is not known.
    """
    reading, controller = case.reading, case.machine.controller
    wanted = controller.work_offset
    for code in _OFFSETS:
        if code in reading.codes and code != (wanted or "G54"):
            named = f"the profile names {wanted}" if wanted else "the profile names none, which leaves G54"
            message = f"the file uses the work offset {code}; {named}"
            yield case.error("modes", message, line=reading.first_lines[code])
    if not case.planned or not reading.motions:
        return
    first = reading.motions[0].line
    needed = [code for code in _CANCELLED if code not in controller.unknown_codes]
    for code in needed:
        if code == "G49" and case.machine.has_beam:
            continue
        if reading.first_lines.get(code, first) >= first:
            message = f"{_CANCELLED[code]} may still be on from an earlier program; {code} must come before any motion"
            yield case.error("modes", message, reading.motions[0])
    if wanted and reading.first_lines.get(wanted, first) >= first:
        message = f"the file doesn't state the work offset the profile names ({wanted}) before the first motion"
        yield case.error("modes", message, reading.motions[0])


def program_end(case: FileCase) -> Iterator[Finding]:
    """The program ends with M2 or M30, as the profile has it, and nothing follows."""
    reading, wanted = case.reading, case.machine.controller.program_end
    severity = _unless_planned(case)
    last = reading.motions[-1] if reading.motions else None
    if not reading.ended:
        # Between percent signs the standard asks for no other end.
        kind = severity if reading.percent else "error"
        yield case.error("program end", f"the program has no end; its last line should be {wanted}", severity=kind)
    elif wanted not in reading.codes:
        line = max((reading.first_lines.get(code, 0) for code in ("M2", "M30")), default=0) or None
        message = f"the program doesn't end with {wanted}, as the profile asks"
        yield case.error("program end", message, line=line, severity=severity)
    if reading.after_end is not None:
        message = "there are lines after the program's end; a controller that is fed line by line runs them too"
        yield case.error("program end", message, line=reading.after_end)
    if reading.percent != case.machine.controller.percent_lines and last is not None:
        says = "opens with a percent sign" if reading.percent else "lacks its percent signs"
        yield case.error("program end", f"the file {says}, unlike the profile", severity=severity)


def within_controller(case: FileCase) -> Iterator[Finding]:
    """The controller can read every word, comment, number and line."""
    reading, controller = case.reading, case.machine.controller
    yield from _arcs(case)
    for style in sorted(reading.comment_styles):
        if style != controller.comments:
            message = f"comments in {style} style; the controller reads {controller.comments}"
            severity = _unless_planned(case)
            yield case.error("controller", message, line=reading.first_lines.get(style), severity=severity)
    length, line = reading.longest_line
    if length > controller.longest_line:
        message = f"a line of {length} characters; the controller reads {controller.longest_line}"
        yield case.error("controller", message, line=line, measured=length, limit=controller.longest_line)
    if reading.decimals > controller.decimals:
        message = f"coordinates of {reading.decimals} decimals; the profile writes {controller.decimals}"
        yield case.error(
            "controller", message, line=reading.first_lines.get("decimals"), measured=reading.decimals,
            limit=controller.decimals, severity=_unless_planned(case),
        )  # fmt: skip
    yield from _codes(case)


def spare_codes(case: FileCase) -> Iterator[Finding]:
    """No code changes how the machine follows the file, or runs other equipment, except codes in the profile's own
    lines.
    """
    reading = case.reading
    own = {f"{letter}{number.lstrip('0')}" for line in case.own_lines for letter, number in _CODES.findall(line)}
    own |= set(case.machine.controller.air_assist.values())
    spare = _SPARE | _SPARE_IF_PLANNED if case.planned else _SPARE
    for code in sorted(reading.codes & spare.keys() - own):
        message = f"{code} {spare[code]}; the profile doesn't ask for it"
        yield case.error("controller", message, line=reading.first_lines.get(code), severity=_unless_planned(case))


def _arcs(case: FileCase) -> Iterator[Finding]:
    reading, controller = case.reading, case.machine.controller
    arcs = [reading.first_lines[code] for code in ("G2", "G3") if code in reading.codes]
    if arcs and not controller.arcs:
        yield case.error("controller", "an arc (G2 or G3), which the controller doesn't read", line=min(arcs))
    helices = [one for one in reading.motions if one.kind == "arc" and abs(one.end[2] - one.start[2]) > HAIR]
    if not controller.helices:
        if helices:
            yield case.error("controller", "an arc with Z, which the controller doesn't read", helices[0])
        elif reading.other_planes is not None:
            message = "an arc outside the XY plane, which a controller without helices may not read"
            yield case.error("controller", message, line=reading.other_planes)
    for index in reading.uncertain_arcs:
        motion = reading.motions[index]
        message = (
            "an arc in R form near a half or a full turn: rounding its numbers moves its middle far off (section "
            "3.5.3 of the standard); write I and J, or two arcs"
        )
        yield case.error("controller", message, motion)


def _codes(case: FileCase) -> Iterator[Finding]:
    reading, controller = case.reading, case.machine.controller
    severity, lines = _unless_planned(case), reading.first_lines
    for code in sorted(reading.codes & _CYCLES):
        message = f"canned cycle {code}, which small controllers don't read"
        yield case.error("controller", message, line=lines[code], severity=severity)
    if "#" in reading.codes:
        message = "parameters or expressions, which small controllers don't read"
        yield case.error("controller", message, line=lines["#"], severity=severity)
    if "/" in reading.codes:
        message = "lines with block delete may run or not; their cuts can't be proved"
        yield case.error("controller", message, line=lines["/"])
    if "M6" in reading.codes and controller.tool_change == "by hand":
        message = "a tool change (M6), but cutters are changed by hand on this machine"
        yield case.error("controller", message, line=lines["M6"])
    if controller.dwell == "none":
        for event in reading.events:
            if event.kind == "dwell":
                yield case.error("controller", "a dwell (G4), which the controller doesn't read", line=event.line)
                break
