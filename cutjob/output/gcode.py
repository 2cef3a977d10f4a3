"""A program to the text of its G-code file: RS-274/NGC (NISTIR 6556), as little of it as small controllers read.

Opening comments; each mode on a line of its own (units first and alone, since F on their line would still count in the
old unit); spindle or beam; moves; lift before the spindle stops; end. Cutter compensation, canned cycles, R arcs,
expressions and line numbers are never used. The same input gives the same bytes.
"""

from __future__ import annotations

from typing import assert_never

from cutjob.job.machine import Controller, Machine
from cutjob.layout.layout import BoardLayout
from cutjob.output.cautions import cautions_for
from cutjob.output.comments import comment_lines, plain_ascii, profile_lines
from cutjob.output.keep_outs import keep_out_line
from cutjob.output.motion_lines import MotionLines
from cutjob.output.numbers import fixed
from cutjob.program.moves import Program, Section, Step
from cutjob.units import format_length


def write_gcode(program: Program, *, layout: BoardLayout, machine: Machine, title: str, order: str) -> bytes:
    """Return the G-code file of `program`, ASCII with line feeds at line ends.

    `layout` is the board it cuts, `title` the job's, and `order` says in words which file this is and what comes before
    and after it. Raises InputError when the profile's own lines or its longest line make the file impossible.
    """
    controller = machine.controller
    lines = comment_lines(_opening(program, layout, machine, title, order), controller=controller)
    lines += _modes(controller)
    lines += profile_lines(controller.start, key="start", controller=controller)
    lines += _motion(program, layout, machine)
    lines += profile_lines(controller.end, key="end", controller=controller)
    lines.append(controller.program_end)
    if controller.percent_lines:
        lines = ["%", *lines, "%"]
    return "".join(f"{line}\n" for line in lines).encode("ascii")


def _modes(controller: Controller) -> list[str]:
    return ["G20" if controller.units == "in" else "G21", "G17", "G90", "G94"]


def _tool_lines(section: Section, machine: Machine) -> list[str]:
    controller, number = machine.controller, section.cutter.number
    lines = [f"T{number} M6"]
    if controller.tool_length == "table":
        lines.append(f"G43 H{number}")
    return lines + profile_lines(controller.after_change, key="after_change", controller=controller)


def _changes_cutters(machine: Machine) -> bool:
    return machine.controller.tool_change == "changer" and machine.kind == "router"


def _motion(program: Program, layout: BoardLayout, machine: Machine) -> list[str]:
    laser = machine.kind == "laser"
    motion = MotionLines(
        controller=machine.controller,
        origin=program.origin,
        raised=layout.height if machine.motion.z_zero == "spoilboard" else 0.0,
        laser=laser,
    )
    if laser:
        motion.beam_off()
    before: Section | None = None
    for section in program.sections:
        if not laser:
            _begin(motion, section, before, program, machine)
        for step in section.steps:
            motion.insert(comment_lines([_what(step, layout)], controller=machine.controller))
            for move in step.moves:
                motion.move(move)
        before = section
    motion.lift(program.safe_z)
    if motion.lines[-1] != "M5":
        motion.insert(["M5"])
    return motion.lines


def _begin(
    motion: MotionLines, section: Section, before: Section | None, program: Program, machine: Machine
) -> None:
    """The spindle stopped, what is done by hand, the change of cutter, safe height, and the spindle up to speed."""
    changed = before is None or before.cutter.number != section.cutter.number
    if before is not None and (changed or section.stop):
        motion.lift(program.safe_z)
        motion.insert(["M5"])
    if section.stop and before is not None:
        motion.insert([*comment_lines([f"Stop: {section.stop}"], controller=machine.controller), "M0"])
        motion.moved_by_hand()
    if changed and _changes_cutters(machine):
        motion.insert(_tool_lines(section, machine))
        motion.moved_by_hand()
    elif changed and before is not None:
        raise ValueError("a file for a machine whose cutters are changed by hand has one cutter")
    motion.lift(program.safe_z)
    if changed or section.stop:
        motion.insert(_spindle_on(section, machine))


def _what(step: Step, layout: BoardLayout) -> str:
    if step.placement is None:
        return f"{step.op}: hole for what holds the board"
    placement = layout.placements[step.placement]
    return f"{step.op}: part {step.placement + 1}, {placement.part.name}, {placement.item}"


def _spindle_on(section: Section, machine: Machine) -> list[str]:
    turn = "M3" if machine.spindle.turns == "clockwise" else "M4"
    with_speed = machine.spindle.speed_word and section.rpm is not None
    lines = [f"S{fixed(section.rpm, 0)} {turn}" if with_speed and section.rpm is not None else turn]
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


def _opening(program: Program, layout: BoardLayout, machine: Machine, title: str, order: str) -> list[str]:
    board = layout.board
    laser = machine.kind == "laser"
    texts = [
        f"Job: {plain_ascii(title) or 'untitled'}",
        f"Machine: {machine.name}",
        f"Stock: {layout.id}, {board.name}, {board.material}, {_both(board.length)} long, {_both(board.width)} wide, "
        f"{_both(board.thickness)} thick",
    ]
    if board.sawn_off > 0:
        every = " of every board" if layout.stack * layout.copies > 1 else ""
        texts.append(f"Saw first: {_both(board.sawn_off)} off the {board.square_end} end{every}")
    if layout.stack > 1:
        texts.append(f"Stack: {layout.stack} boards at once, {_both(layout.height)} high")
    if layout.copies > 1:
        texts.append(f"Run this file {layout.copies} times, each on fresh stock")
    texts += _window(program, layout, machine)
    for number, cutter in enumerate(program.cutters, start=1):
        which = f"Cutter {number} of {len(program.cutters)}" if len(program.cutters) > 1 else "Cutter"
        if laser:
            texts.append(f"Beam: {cutter.number}, {cutter.name}, kerf {_both(cutter.diameter)}")
        else:
            texts.append(f"{which}: {cutter.number}, {cutter.name}, diameter {_both(cutter.diameter)}")
    texts += _tool_length(program, machine)
    texts += _speed(program, machine)
    texts.append(_zero(program, machine))
    texts.append(
        f"Depth: through {_both(layout.height)} or as marked"
        if laser
        else f"Depth: {_both(program.depth)} below the top of the stock at the deepest"
    )
    if program.skin:
        texts.append(f"Skin: {_both(program.skin)} stays under every part, to be cut by hand")
    texts += _screws(program, layout)
    if board.keep_outs:
        texts.append(
            keep_out_line(
                len(board.keep_outs), machine=machine, height=_both(program.safe_z), tallest=max(board.heights, default=0)
            )
        )
    if order:
        texts.append(f"Order: {order}")
    if program.count > 1:
        texts.append(f"File {program.number} of {program.count} for this board, run in this order")
    texts += [f"Warning: {warning}" for warning in program.warnings]
    texts += [f"Note: {note}" for note in machine.note]
    cautions = cautions_for(
        kind=machine.kind,
        material=board.material,
        stack=layout.stack,
        screws=bool(layout.hold_downs),
        windows=len(layout.windows) > 1,
    )
    return texts + [f"Caution: {caution.short}" for caution in cautions]


def _window(program: Program, layout: BoardLayout, machine: Machine) -> list[str]:
    """Which length of a long board lies on the bed, and how it comes there."""
    if program.window is None:
        return []
    number, windows = program.window, layout.windows
    window = windows[number]
    texts = [
        f"Window {number + 1} of {len(windows)}: the board from {_both(window.first)} to {_both(window.last)} lies on "
        "the bed"
    ]
    if number:
        slide = _both(window.first - windows[number - 1].first)
        texts.append(f"Slide the board {slide} towards X minus from the window before, and hold it down again")
    if window.pins:
        places = " and ".join(f"X{x - window.first:.3f} Y{y:.3f} mm" for x, y in window.pins)
        texts.append(f"Set its holes onto two pins, which stand at {places} of this file")
    if window.holes:
        texts.append("Two holes for the pins of the next window are drilled")
    if machine.travel is not None and len(windows) > 1:
        texts.append("Support both ends of the board level with the bed")
    return texts


def _screws(program: Program, layout: BoardLayout) -> list[str]:
    own = [down for down in layout.hold_downs if down.window is None or down.window == program.window]
    if not own:
        return []
    head = _both(2 * own[0].head)
    texts = [f"Screws: {len(own)} through the waste, heads no wider than {head} and {_both(own[0].height)} high"]
    if any(section.stop for section in program.sections[1:]):
        texts.append("Their holes are drilled first, then the program halts for the screws to be driven")
    if program.sections[0].stop:
        texts.append(f"Before the start: {program.sections[0].stop}")
    if layout.windows:
        texts.append("Take them out before the board is slid on")
    return texts


def _tool_length(program: Program, machine: Machine) -> list[str]:
    if not _changes_cutters(machine):
        return []
    if machine.controller.tool_length == "table":
        slots = ", ".join(str(cutter.number) for cutter in program.cutters)
        if len(program.cutters) == 1:
            return [f"Tool length: slot {slots} of the controller's tool table, which must hold this cutter's length"]
        return [f"Tool length: slots {slots} of the controller's tool table, which must hold these cutters' lengths"]
    return [
        "Cutter change: this file sets no tool length, cutters of different length need Z set again after every change"
    ]


def _speed(program: Program, machine: Machine) -> list[str]:
    if machine.kind == "laser":
        return []
    speeds = {section.cutter.number: section.rpm for section in program.sections if section.rpm is not None}
    texts = []
    for number, speed in speeds.items():
        rpm = fixed(speed, 0)
        of = f" with cutter {number}" if len(speeds) > 1 else ""
        if machine.spindle.speed_word:
            texts.append(f"Spindle: {rpm} rpm{of}, {machine.spindle.turns}")
        else:
            texts.append(f"Spindle: set the dial to {rpm} rpm before the start{of}, {machine.spindle.turns}")
    return texts


def _zero(program: Program, machine: Machine) -> str:
    x, y = program.origin
    if program.window is not None:
        place = f"X Y the board's lower edge, {_both(x)} along it from its left end"
    elif abs(x) < 1e-9 and abs(y) < 1e-9:
        place = "X Y the lower left corner of the board"
    else:
        place = f"X Y the point {_both(x)} along and {_both(y)} across from the lower left corner of the board"
    if machine.kind == "laser":
        return f"Zero point: {place}"
    height = "the spoilboard under the stock" if machine.motion.z_zero == "spoilboard" else "the top of the stock"
    return f"Zero point: {place}, Z {height}"


def _both(mm: float) -> str:
    return f"{format_length(mm, unit='mm')} = {format_length(mm, unit='in')}"
