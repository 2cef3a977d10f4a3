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
from cutjob.program.moves import Program, Step
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
    lines += _tool_lines(program, machine)
    lines += _motion(program, layout, machine)
    lines += profile_lines(controller.end, key="end", controller=controller)
    lines.append(controller.program_end)
    if controller.percent_lines:
        lines = ["%", *lines, "%"]
    return "".join(f"{line}\n" for line in lines).encode("ascii")


def _modes(controller: Controller) -> list[str]:
    return ["G20" if controller.units == "in" else "G21", "G17", "G90", "G94"]


def _tool_lines(program: Program, machine: Machine) -> list[str]:
    controller, number = machine.controller, program.cutter.number
    if not _changes_cutters(machine):
        return []
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
    else:
        motion.lift(program.safe_z)
        motion.insert(_spindle_on(program, machine))
    for step in program.steps:
        motion.insert(comment_lines([_what(step, layout)], controller=machine.controller))
        for move in step.moves:
            motion.move(move)
    motion.lift(program.safe_z)
    if motion.lines[-1] != "M5":
        motion.insert(["M5"])
    return motion.lines


def _what(step: Step, layout: BoardLayout) -> str:
    if step.placement is None:
        return step.op
    placement = layout.placements[step.placement]
    return f"{step.op}: part {step.placement + 1}, {placement.part.name}, {placement.item}"


def _spindle_on(program: Program, machine: Machine) -> list[str]:
    turn = "M3" if machine.spindle.turns == "clockwise" else "M4"
    with_speed = machine.spindle.speed_word and program.rpm is not None
    lines = [f"S{fixed(program.rpm, 0)} {turn}" if with_speed and program.rpm is not None else turn]
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
    cutter = program.cutter
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
    if laser:
        texts.append(f"Beam: {cutter.number}, {cutter.name}, kerf {_both(cutter.diameter)}")
    else:
        texts.append(f"Cutter: {cutter.number}, {cutter.name}, diameter {_both(cutter.diameter)}")
    texts += _tool_length(program, machine)
    texts += _speed(program, machine)
    texts.append(_zero(program, machine))
    texts.append(
        f"Depth: through {_both(layout.height)} or as marked"
        if laser
        else f"Depth: {_both(program.depth)} below the top of the stock at the deepest"
    )
    if board.keep_outs:
        texts.append(keep_out_line(len(board.keep_outs), machine=machine, height=_both(program.safe_z)))
    if order:
        texts.append(f"Order: {order}")
    texts += [f"Warning: {warning}" for warning in program.warnings]
    texts += [f"Note: {note}" for note in machine.note]
    cautions = cautions_for(kind=machine.kind, material=board.material, stack=layout.stack)
    return texts + [f"Caution: {caution.short}" for caution in cautions]


def _tool_length(program: Program, machine: Machine) -> list[str]:
    if not _changes_cutters(machine):
        return []
    if machine.controller.tool_length == "table":
        number = program.cutter.number
        return [f"Tool length: slot {number} of the controller's tool table, which must hold this cutter's length"]
    return [
        "Cutter change: this file sets no tool length, cutters of different length need Z set again after every change"
    ]


def _speed(program: Program, machine: Machine) -> list[str]:
    if machine.kind == "laser" or program.rpm is None:
        return []
    rpm = fixed(program.rpm, 0)
    if machine.spindle.speed_word:
        return [f"Spindle: {rpm} rpm, {machine.spindle.turns}"]
    return [f"Spindle: set the dial to {rpm} rpm before the start, {machine.spindle.turns}"]


def _zero(program: Program, machine: Machine) -> str:
    x, y = program.origin
    if abs(x) < 1e-9 and abs(y) < 1e-9:
        place = "X Y the lower left corner of the board"
    else:
        place = f"X Y the point {_both(x)} along and {_both(y)} across from the lower left corner of the board"
    if machine.kind == "laser":
        return f"Zero point: {place}"
    height = "the spoilboard under the stock" if machine.motion.z_zero == "spoilboard" else "the top of the stock"
    return f"Zero point: {place}, Z {height}"


def _both(mm: float) -> str:
    return f"{format_length(mm, unit='mm')} = {format_length(mm, unit='in')}"
