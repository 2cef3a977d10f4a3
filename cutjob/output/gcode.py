"""A program to the text of its G-code file: RS-274/NGC (NISTIR 6556), as little of it as small controllers read.

Opening comments; each mode on a line of its own (units first and alone, since F on their line would still count in the
old unit), and what an earlier program may have left on switched off; for every section its cutter, the spindle or beam,
and its moves; lift before the spindle stops; away from the work; end. Every cut states the spindle, X, Y, Z and F
again, so that after a break a file can be run from there on. Cutter compensation, canned cycles, R arcs, expressions
and line numbers are never used. The same input gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import assert_never

from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.output.comments import comment_lines, profile_lines
from cutjob.output.motion_lines import MotionLines
from cutjob.output.numbers import fixed
from cutjob.output.opening import by_dial, changes_cutters, halts_for_dial, opening_texts
from cutjob.program.moves import Program, Section, Step


def write_gcode(
    program: Program,
    *,
    layout: BoardLayout,
    machine: Machine,
    title: str,
    order: str,
    programs: Sequence[Program] = (),
) -> bytes:
    """Return the G-code file of `program`, ASCII with line feeds at line ends.

    `layout` is the board it cuts, and `programs` are all files of the board in the order to run them, which a board
    of one file may leave out. `title` is the job's, and `order` says in words which of its boards this is. Raises
    InputError when the profile's own lines or its longest line make the file impossible, ValueError for a program that
    is not the one its number says of `programs`, and for several cutters where they are changed by hand.
    """
    programs = tuple(programs) or (program,)
    if len(programs) != program.count or programs[program.number - 1].file != program.file:
        raise ValueError(f"{program.file} is not file {program.number} of the {len(programs)} given for its board")
    controller = machine.controller
    texts = opening_texts(program, layout=layout, machine=machine, programs=programs, title=title, order=order)
    lines = comment_lines(texts, controller=controller)
    lines += _modes(machine)
    lines += profile_lines(controller.start, key="start", controller=controller)
    lines += _motion(program, layout, machine)
    lines += profile_lines(controller.end, key="end", controller=controller)
    lines.append(controller.program_end)
    if controller.percent_lines:
        lines = ["%", *lines, "%"]
    return "".join(f"{line}\n" for line in lines).encode("ascii")


def _modes(machine: Machine) -> list[str]:
    """The safe start (NISTIR 6556, table 4): each modal group that bears on the file, a line each."""
    controller = machine.controller
    # A laser has no tool length: nothing moves up or down.
    off = [code for code in ("G40", "G49", "G80") if code != "G49" or machine.kind != "laser"]
    return [
        "G20" if controller.units == "in" else "G21",
        "G17",
        "G90",
        "G94",
        *(code for code in off if code not in controller.unknown_codes),
        *([controller.work_offset] if controller.work_offset is not None else []),
    ]


def _motion(program: Program, layout: BoardLayout, machine: Machine) -> list[str]:
    laser = machine.kind == "laser"
    motion = MotionLines(
        controller=machine.controller,
        origin=program.origin,
        raised=layout.height if machine.motion.z_zero == "spoilboard" else 0.0,
        laser=laser,
        clear_z=program.clear_z,
    )
    if len(program.cutters) > 1 and not changes_cutters(machine):
        raise ValueError(f"{program.file} has {len(program.cutters)} cutters, which this machine can't change")
    if laser:
        motion.beam_off()
    before: Section | None = None
    for section in program.sections:
        if not laser:
            _begin(motion, section, before, program, machine)
        for step in section.steps:
            motion.insert(comment_lines([_what(step, layout)], controller=machine.controller))
            if not laser:
                motion.insert([_turning(section, machine)])
            motion.state_afresh()
            for move in step.moves:
                motion.move(move)
        before = section
    motion.lift(program.clear_z)
    if motion.lines[-1] != "M5":
        motion.beam_off()
    for move in program.end:
        motion.move(move)
    if by_dial(machine):
        motion.insert(comment_lines(["Switch the router off"], controller=machine.controller))
    return motion.lines


def _begin(motion: MotionLines, section: Section, before: Section | None, program: Program, machine: Machine) -> None:
    """Write what comes before a section: a halt for work by hand, a change of cutter, the spindle up to speed.

    What is to be done before the first section is told in the opening: the program has not been started then.
    """
    changed = before is None or before.cutter.number != section.cutter.number
    new_speed = before is None or before.rpm != section.rpm
    stops = [] if before is None else _stops(section, machine, new_speed=new_speed)
    if not (changed or new_speed or stops):
        return
    if before is not None:
        motion.lift(program.clear_z)
        motion.insert(["M5"])
    if stops:
        motion.insert([*comment_lines(stops, controller=machine.controller), "M0"])
        motion.moved_by_hand()
    if changed and changes_cutters(machine):
        motion.insert(_change(section, machine))
        if before is not None and not knows_lengths(machine):
            told = f"Stop: set Z again with cutter {section.cutter.number}"
            motion.insert([*comment_lines([told], controller=machine.controller), "M0"])
        motion.moved_by_hand()
    motion.lift(program.clear_z)
    if before is None and halts_for_dial(machine):
        told = f"Stop: switch the router on{_dial(section)}"
        motion.insert([*comment_lines([told], controller=machine.controller), "M0"])
        motion.moved_by_hand()
        motion.lift(program.clear_z)
    motion.insert(_spindle_on(section, machine))


def _stops(section: Section, machine: Machine, *, new_speed: bool) -> list[str]:
    """What is done by hand before a section, with the program halted."""
    stops = [f"Stop: {section.stop}"] if section.stop else []
    if new_speed and by_dial(machine) and section.rpm is not None:
        stops.append(f"Stop: set the dial to {fixed(section.rpm, 0)} rpm for cutter {section.cutter.number}")
    if stops and by_dial(machine):
        stops = ["Stop: switch the router off", *stops, "Then switch the router on again"]
    return stops


def _dial(section: Section) -> str:
    return "" if section.rpm is None else f", its dial at {fixed(section.rpm, 0)} rpm"


def _change(section: Section, machine: Machine) -> list[str]:
    controller, number = machine.controller, section.cutter.number
    lines = [f"T{number} M6"]
    if controller.tool_length == "table":
        lines.append(f"G43 H{number}")
    return lines + profile_lines(controller.after_change, key="after_change", controller=controller)


def knows_lengths(machine: Machine) -> bool:
    """Whether every cutter's length is known to the controller, or seen to by the profile's own lines with a halt."""
    controller = machine.controller
    return controller.tool_length == "table" or any("M0" in line.upper().split() for line in controller.after_change)


def _what(step: Step, layout: BoardLayout) -> str:
    if step.placement is None:
        return f"{step.op}: hole for what holds the board"
    placement = layout.placements[step.placement]
    return f"{step.op}: part {step.placement + 1}, {placement.part.name}, {placement.item}"


def _turning(section: Section, machine: Machine) -> str:
    turn = "M3" if machine.spindle.turns == "clockwise" else "M4"
    with_speed = machine.spindle.speed_word and section.rpm is not None
    return f"S{fixed(section.rpm, 0)} {turn}" if with_speed and section.rpm is not None else turn


def _spindle_on(section: Section, machine: Machine) -> list[str]:
    lines = [_turning(section, machine)]
    seconds = machine.spindle.seconds_to_speed
    if seconds > 0:
        match machine.controller.dwell:
            case "seconds":
                lines.append(f"G4 P{fixed(seconds, 3)}")
            case "milliseconds":
                lines.append(f"G4 P{fixed(seconds * 1000, 0)}")
            case "none":
                pass
            case other:
                assert_never(other)
    return lines
