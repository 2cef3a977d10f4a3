"""Rules about the text of a file: the standard's language, and what the controller of the profile reads."""

from __future__ import annotations

from collections.abc import Iterator

from cutjob.proof.finding import Finding
from cutjob.proof.reading import Motion
from cutjob.proof.standing import HAIR, Standing

_CYCLES = frozenset({"G81", "G82", "G83"})
_ALWAYS = {"units": "G20 or G21", "distance": "G90", "plane": "G17", "feed mode": "G94"}


def broken_lines(standing: Standing) -> Iterator[Finding]:
    """Every line that breaks the language, and an empty file."""
    for problem in standing.reading.problems:
        line = problem.location.line if problem.location else None
        column = problem.location.column if problem.location else None
        where = f"column {column}: " if column is not None else ""
        yield standing.error("language", where + problem.message, line=line)
    if not standing.reading.motions and not standing.reading.problems:
        yield standing.error("language", "the file moves nothing")


def modes_stated(standing: Standing) -> Iterator[Finding]:
    """Units, distance, plane and feed mode are stated before the first motion, not left to what the machine was."""
    reading = standing.reading
    for mode, codes in _ALWAYS.items():
        if reading.motions and mode not in reading.set_before_motion:
            yield standing.error(
                "modes", f"the file doesn't state its {mode} ({codes}) before the first motion", reading.motions[0]
            )
    wanted = standing.machine.controller.units
    if reading.motions and reading.inches != (wanted == "in"):
        got = "inches" if reading.inches else "mm"
        yield standing.error("modes", f"the file is in {got}; the profile's controller works in {wanted}")


def program_end(standing: Standing) -> Iterator[Finding]:
    """The program ends with M2 or M30, as the profile has it."""
    reading, wanted = standing.reading, standing.machine.controller.program_end
    if not reading.ended:
        yield standing.error("program end", f"the program has no end; its last line should be {wanted}")
    elif wanted not in reading.codes:
        yield standing.error("program end", f"the program doesn't end with {wanted}, as the profile asks")
    if reading.percent != standing.machine.controller.percent_lines:
        says = "opens with a percent sign" if reading.percent else "lacks its percent signs"
        yield standing.error("program end", f"the file {says}, against the profile")


def within_controller(standing: Standing) -> Iterator[Finding]:
    """No word, comment, number or line the controller can't read."""
    reading, controller = standing.reading, standing.machine.controller
    arcs = [motion for motion in reading.motions if motion.kind == "arc"]
    if arcs and not controller.arcs:
        yield standing.error("controller", "an arc (G2 or G3), which the controller doesn't read", arcs[0])
    helices = [motion for motion in arcs if abs(motion.end[2] - motion.start[2]) > HAIR]
    if helices and not controller.helices:
        yield standing.error("controller", "an arc with Z, which the controller doesn't read", helices[0])
    for style in sorted(reading.comment_styles):
        if style != controller.comments:
            yield standing.error("controller", f"comments in {style} style; the controller reads {controller.comments}")
    length, line = reading.longest_line
    if length > controller.longest_line:
        message = f"a line of {length} characters; the controller reads {controller.longest_line}"
        yield standing.error("controller", message, line=line, measured=length, limit=controller.longest_line)
    if reading.decimals > controller.decimals:
        message = f"coordinates of {reading.decimals} decimals; the profile writes {controller.decimals}"
        yield standing.error("controller", message, measured=reading.decimals, limit=controller.decimals)
    yield from _codes(standing, arcs)


def _codes(standing: Standing, arcs: list[Motion]) -> Iterator[Finding]:
    reading, controller = standing.reading, standing.machine.controller
    for code in sorted(reading.codes & _CYCLES):
        yield standing.error("controller", f"canned cycle {code}, which small controllers don't read")
    if "/" in reading.codes:
        yield standing.error("controller", "lines with block delete may run or not; what they cut can't be proved")
    if "M6" in reading.codes and controller.tool_change == "by hand":
        yield standing.error("controller", "a tool change (M6), but cutters are changed by hand on this machine")
    if controller.dwell == "none" and any(event.kind == "dwell" for event in reading.events):
        yield standing.error("controller", "a dwell (G4), which the controller doesn't read")
    if arcs and "R" in reading.letters and not reading.codes & _CYCLES:
        yield standing.error("controller", "an arc in R form; its centre is uncertain near a half turn, write I and J")
