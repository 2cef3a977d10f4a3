"""What a G-code file says before it moves: comments for whoever stands at the machine with that file alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cutjob.holding.windows import slides
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout
from cutjob.output.gcode.comments import both_units, plain_ascii
from cutjob.output.numbers import fixed
from cutjob.output.words.cautions import board_cautions, keep_out_line
from cutjob.output.words.held import held_texts, other_keep_outs, program_places, screw_texts
from cutjob.program.moves import Program
from cutjob.tolerances import TOLERANCES

# So many names of files stand in a comment one by one; of more the first and the last.
_MOST_NAMES = 6


def opening_texts(
    program: Program,
    *,
    layout: BoardLayout,
    machine: Machine,
    programs: Sequence[Program],
    title: str,
    order: str,
) -> Iterator[str]:
    """Yield the texts of a file's opening comments. `programs` are all files of the board, in the order to run them.

    Lengths stand in mm and inches; texts of users are not yet fit for a comment.
    """
    yield f"Job: {plain_ascii(title) or 'untitled'}"
    yield f"Machine: {machine.name}"
    if layout.holding is not None:
        yield from held_texts(program, layout=layout, machine=machine, programs=programs)
    yield from _stock(layout)
    yield from _order(program, layout, programs, order)
    yield from _window(program, layout, machine, programs)
    if program.sections[0].stop:
        yield f"Before the start: {program.sections[0].stop}"
    yield from _cutters(program, machine)
    yield from _tool_lengths(program, machine)
    yield from _speeds(program, machine)
    yield "After a break: run the lines down to the first cut, then those from any later cut of the same cutter on"
    yield _zero(program, machine)
    yield from _depth(program, layout, machine)
    if layout.holding is None:
        yield from screw_texts(program, layout=layout, machine=machine, programs=programs)
    others = other_keep_outs(layout)
    if others.keep_outs:
        yield keep_out_line(others, machine=machine, air=program.safe_z, clear=program.clear_z)
    yield from (f"Warning: {warning}" for warning in program.warnings)
    yield from (f"Note: {note}" for note in machine.note)
    yield from (f"Caution: {caution.short}" for caution in board_cautions(layout, machine=machine, programs=programs))


def _stock(layout: BoardLayout) -> Iterator[str]:
    board = layout.board
    sizes = f"{both_units(board.length)} long, {both_units(board.width)} wide, {both_units(board.thickness)} thick"
    yield f"Stock: {layout.id}, {board.name}, {board.material}, {sizes}"
    if board.sawn_off > 0:
        every = " of every board" if layout.stack * layout.copies > 1 else ""
        yield f"Saw first: {both_units(board.sawn_off)} off the {board.square_end} end{every}"
    if layout.stack > 1:
        yield f"Stack: {layout.stack} boards at once, {both_units(layout.height)} high"


def _order(program: Program, layout: BoardLayout, programs: Sequence[Program], order: str) -> Iterator[str]:
    if order:
        yield f"Order: {order}"
    names = [each.file for each in programs]
    if len(names) > 1:
        listed = ", ".join(names) if len(names) <= _MOST_NAMES else f"{names[0]} to {names[-1]} by their numbers"
        yield f"Files: this is {program.number} of {program.count} for the board, run them in this order: {listed}"
    if layout.copies > 1 and len(names) > 1:
        yield f"Run all files of the board in order, {layout.copies} times over, each time on fresh stock"
    elif layout.copies > 1:
        yield f"Run this file {layout.copies} times, each on fresh stock"


def _window(program: Program, layout: BoardLayout, machine: Machine, programs: Sequence[Program]) -> Iterator[str]:
    """Which length of a long board lies on the bed, how it comes there, and the holes for what locates it next."""
    number, windows = program.window, layout.windows
    if number is None:
        return
    window = windows[number]
    extent = f"from {both_units(window.first)} to {both_units(window.last)} along the board"
    yield f"Window: {number + 1} of {len(windows)}, {extent}"
    before = programs[program.number - 2] if program.number > 1 else None
    if before is not None and before.window == number:
        yield "The board stays where it lay for the file before"
    elif number:
        slide = both_units(slides(windows)[number - 1])
        yield f"Before the start: slide the board {slide} towards its left end, {_located(program, layout, machine)}"
        yield "Hold it down again, and leave the machine's zero point where it was"
    if any(step.feature.kind == "pin hole" for step in program.steps):
        places = program_places(window.holes, program, machine)
        yield f"Pin holes: {len(window.holes)} are drilled here for window {number + 2}, at {places}"


def _located(program: Program, layout: BoardLayout, machine: Machine) -> str:
    assert program.window is not None
    pins = layout.windows[program.window].pins
    if not pins:
        return "its edge against the stop"
    size = f" of {both_units(machine.travel.pin)} diameter" if machine.travel is not None else ""
    return f"its holes onto the pins{size} in the bed at {program_places(pins, program, machine)}"


def _cutters(program: Program, machine: Machine) -> Iterator[str]:
    cutters = program.cutters
    for number, cutter in enumerate(cutters, start=1):
        if machine.kind == "laser":
            yield f"Beam: {cutter.number}, {cutter.name}, kerf {both_units(cutter.diameter)}"
        else:
            which = f"Cutter {number} of {len(cutters)}" if len(cutters) > 1 else "Cutter"
            yield f"{which}: {cutter.number}, {cutter.name}, diameter {both_units(cutter.diameter)}"
    turns = [section.cutter for section in program.sections]
    changes = [cutter for number, cutter in enumerate(turns) if number == 0 or turns[number - 1] != cutter]
    if len(changes) > len(cutters):
        yield f"They come in this order: {', '.join(str(cutter.number) for cutter in changes)}"


def _tool_lengths(program: Program, machine: Machine) -> Iterator[str]:
    if not changes_cutters(machine):
        return
    if machine.controller.tool_length == "table":
        slots = ", ".join(str(cutter.number) for cutter in program.cutters)
        these = ("slot", "this cutter's length") if len(program.cutters) == 1 else ("slots", "these cutters' lengths")
        yield f"Tool length: {these[0]} {slots} of the controller's tool table, which must hold {these[1]}"
    else:
        what = "this file sets no tool length"
        if len(program.cutters) > 1:
            what += ", it halts after every change for Z to be set again with the new cutter"
        yield f"Cutter change: {what}, set Z with cutter {program.sections[0].cutter.number} before the start"


def changes_cutters(machine: Machine) -> bool:
    """Whether a file has the machine change its cutters."""
    return machine.controller.tool_change == "changer" and machine.kind == "router"


def by_dial(machine: Machine) -> bool:
    """Whether someone switches the router on and sets its speed by hand."""
    return machine.kind == "router" and not machine.spindle.speed_word


def halts_for_dial(machine: Machine) -> bool:
    """Whether a file halts at its start for the router to be switched on."""
    controller = machine.controller
    wanted = controller.tool_change == "by hand" if controller.halts is None else controller.halts
    return by_dial(machine) and wanted


def _speeds(program: Program, machine: Machine) -> Iterator[str]:
    if machine.kind == "laser":
        return
    speeds: dict[Cutter, float] = {}
    for section in program.sections:
        if section.rpm is not None:
            speeds.setdefault(section.cutter, section.rpm)
    for number, (cutter, speed) in enumerate(speeds.items()):
        rpm, turns = fixed(speed, 0), machine.spindle.turns
        of = f" for cutter {cutter.number}" if len(speeds) > 1 else ""
        if machine.spindle.speed_word:
            yield f"Spindle: {rpm} rpm{of}, {turns}"
        else:
            when = "before the start" if number == 0 else "when the program halts for it"
            yield f"Spindle: set the dial to {rpm} rpm{of} {when}, {turns}"
    if by_dial(machine):
        when = "when the program halts for it" if halts_for_dial(machine) else "before the start"
        yield f"Router: switch it on {when}, and off once the program has ended"


def _zero(program: Program, machine: Machine) -> str:
    x, y = program.origin
    if abs(x) <= TOLERANCES.same_point and abs(y) <= TOLERANCES.same_point:
        place = "X Y the lower left corner of the board"
    elif abs(y) <= TOLERANCES.same_point:
        place = f"X Y the point {both_units(x)} along the board's lower edge from its left end"
    else:
        place = (
            f"X Y the point {both_units(x)} along and {both_units(y)} across from the lower left corner of the board"
        )
    if machine.kind == "laser":
        return f"Zero point: {place}"
    height = "the spoilboard under the stock" if machine.motion.z_zero == "spoilboard" else "the top of the stock"
    return f"Zero point: {place}, Z {height}"


def _depth(program: Program, layout: BoardLayout, machine: Machine) -> Iterator[str]:
    if machine.kind == "laser":
        yield f"Depth: through {both_units(layout.height)} or as marked"
        return
    yield f"Depth: {both_units(program.depth)} below the top of the stock at the deepest"
    if program.skin > 0:
        yield (
            f"Skin: cuts round parts and openings stop {both_units(program.skin)} above the underside, "
            "what is left there holds the parts and is cut by hand"
        )
