"""The opening of a file, for whoever runs the machine: lines as values, which the writers put into words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cutjob.holding.windows import slides
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout
from cutjob.output.numbers import fixed
from cutjob.output.words.cautions import board_cautions, keep_out_line
from cutjob.output.words.held import DRIVE_SCREWS, held_lines, other_keep_outs, program_places, screw_lines
from cutjob.output.words.line import Length, Line, Places
from cutjob.program.moves import Program
from cutjob.tolerances import TOLERANCES

# Up to this many file names are listed one by one; of more, the first and the last.
_MOST_NAMES = 6


def opening_lines(
    program: Program,
    *,
    layout: BoardLayout,
    machine: Machine,
    programs: Sequence[Program],
    title: str = "",
    order: str = "",
) -> Iterator[Line]:
    """Yield the lines of a file's opening. `programs` are all files of the board, in the order to run them.

    `title` is the job's and `order` says which of its boards this is; each has a line if given.
    """
    if title:
        yield Line("Job", (title,))
    yield Line("Machine", (machine.name,))
    if layout.holding is not None:
        yield from held_lines(program, layout=layout, machine=machine, programs=programs)
    yield from _stock(layout)
    yield from _order(program, layout, programs, order)
    yield from _window(program, layout, machine, programs)
    if program.sections[0].screws_first:
        yield Line("Before the start", (DRIVE_SCREWS,))
    yield from _cutters(program, machine, layout.board.material)
    yield from _tool_lengths(program, machine)
    yield from _speeds(program, machine)
    again = "run the lines down to the first cut, then go on from any later cut with the same cutter"
    yield Line("After a break", (again,))
    yield _zero(program, machine)
    yield from _depth(program, layout, machine)
    if layout.holding is None:
        yield from screw_lines(program, layout=layout, machine=machine, programs=programs)
    others = other_keep_outs(layout)
    if others.keep_outs:
        yield keep_out_line(others, machine=machine, air=program.safe_z, clear=program.clear_z)
    yield from (Line("Warning", (warning,)) for warning in program.warnings)
    yield from (Line("Note", (note,)) for note in machine.note)
    cautions = board_cautions(layout, machine=machine, programs=programs)
    yield from (Line("Caution", (caution.short,)) for caution in cautions)


def _stock(layout: BoardLayout) -> Iterator[Line]:
    board = layout.board
    long, wide, thick = Length(board.length), Length(board.width), Length(board.thickness)
    what = f"{layout.id}, {board.name}, {board.material}, "
    yield Line("Stock", (what, long, " long, ", wide, " wide, ", thick, " thick"))
    if board.sawn_off > 0:
        every = " of every board" if layout.stack * layout.copies > 1 else ""
        yield Line("Saw first", (Length(board.sawn_off), f" off the {board.square_end} end{every}"))
    if layout.stack > 1:
        yield Line("Stack", (f"{layout.stack} boards at once, ", Length(layout.height), " high"))


def _order(program: Program, layout: BoardLayout, programs: Sequence[Program], order: str) -> Iterator[Line]:
    if order:
        yield Line("Order", (order,))
    names = [each.file for each in programs]
    if len(names) > 1:
        listed = ", ".join(names) if len(names) <= _MOST_NAMES else f"{names[0]} to {names[-1]} by their numbers"
        which = f"this is {program.number} of {program.count} for the board"
        yield Line("Files", (f"{which}, run them in this order: {listed}",))
    if layout.copies > 1 and len(names) > 1:
        times = f"{layout.copies} times over, each time on fresh stock"
        yield Line(None, (f"Run all files of the board in order, {times}",))
    elif layout.copies > 1:
        yield Line(None, (f"Run this file {layout.copies} times, each on fresh stock",))


def _window(program: Program, layout: BoardLayout, machine: Machine, programs: Sequence[Program]) -> Iterator[Line]:
    """Which length of a long board is on the bed, how to bring it there, and the holes for the next window's pins."""
    number, windows = program.window, layout.windows
    if number is None:
        return
    first, last = Length(windows[number].first), Length(windows[number].last)
    yield Line("Window", (f"{number + 1} of {len(windows)}, from ", first, " to ", last, " along the board"))
    before = programs[program.number - 2] if program.number > 1 else None
    if before is not None and before.window == number:
        yield Line(None, ("Leave the board where it was for the file before",))
    elif number:
        by, pins = Length(slides(windows)[number - 1]), windows[number].pins
        located: tuple[str | Length | Places, ...] = ("with its edge against the stop",)
        if pins:
            size = (" of ", Length(machine.travel.pin), " diameter") if machine.travel is not None else ()
            located = ("with its holes on the pins", *size, " in the bed at ", program_places(pins, program))
        yield Line("Before the start", ("slide the board ", by, " towards its left end, ", *located))
        yield Line(None, ("Hold it down again, and leave the machine's zero point where it was",))
    holes = windows[number].holes
    if any(step.feature.kind == "pin hole" for step in program.steps):
        drilled = f"{len(holes)} are drilled here for window {number + 2}, at "
        yield Line("Pin holes", (drilled, program_places(holes, program)))


def _burns(program: Program, beam: Cutter, machine: Machine, material: str) -> Iterator[Line]:
    """The feed and power with which a beam cuts and marks, how many rounds it makes, and whether with air."""
    row = beam.feed_for(material)
    if row is None:
        return
    full, fastest, air = machine.controller.greatest_power, machine.motion.greatest_feed, machine.controller.air_assist
    marked = {step.feature.kind in ("mark", "number") for step in program.steps}

    def how(feed: float, power: float, switched: str | None) -> str:
        assist = "" if not air else f", air assist {'off' if switched is None else f'on by {switched}'}"
        return f"{min(feed, fastest):g} mm/min at power {power:g} of {full:g}{assist}"

    if False in marked:
        times = "once round" if row.passes == 1 else f"{row.passes} times round"
        yield Line("Cuts", (f"{how(row.feed, row.power or 0.0, air.get('cut'))}, {times}",))
    if True in marked and row.mark_feed is not None and row.mark_power is not None:
        yield Line("Marks", (how(row.mark_feed, row.mark_power, air.get("mark")),))


def _cutters(program: Program, machine: Machine, material: str) -> Iterator[Line]:
    cutters = program.cutters
    for number, cutter in enumerate(cutters, start=1):
        what, wide = f"{cutter.number}, {cutter.name}", Length(cutter.diameter)
        if machine.has_beam:
            yield Line("Beam", (f"{what}, kerf ", wide))
            yield from _burns(program, cutter, machine, material)
        else:
            which = (number, len(cutters)) if len(cutters) > 1 else (None, None)
            yield Line("Cutter", (f"{what}, diameter ", wide), *which)
    turns = [section.cutter for section in program.sections]
    changes = [cutter for number, cutter in enumerate(turns) if number == 0 or turns[number - 1] != cutter]
    if len(changes) > len(cutters):
        yield Line(None, (f"The cutters come in this order: {', '.join(str(one.number) for one in changes)}",))


def _tool_lengths(program: Program, machine: Machine) -> Iterator[Line]:
    if not changes_cutters(machine):
        return
    if machine.controller.tool_length == "table":
        slots = ", ".join(str(cutter.number) for cutter in program.cutters)
        these = ("slot", "this cutter's length") if len(program.cutters) == 1 else ("slots", "these cutters' lengths")
        where = f"{these[0]} {slots} of the controller's tool table"
        yield Line("Tool length", (f"{where}, which must hold {these[1]}",))
    else:
        what = "this file sets no tool length"
        if len(program.cutters) > 1:
            what += ". It halts after every change for you to set Z again with the new cutter"
        first = program.sections[0].cutter.number
        yield Line("Cutter change", (f"{what}. Set Z with cutter {first} before the start",))


def changes_cutters(machine: Machine) -> bool:
    """Whether a file has the machine change its cutters."""
    return machine.controller.tool_change == "changer" and machine.has_spindle


def by_dial(machine: Machine) -> bool:
    """Whether someone switches the router on and sets its speed by hand."""
    return machine.has_spindle and not machine.spindle.speed_word


def halts_for_dial(machine: Machine) -> bool:
    """Whether a file halts at its start for the router to be switched on."""
    controller = machine.controller
    wanted = controller.tool_change == "by hand" if controller.halts is None else controller.halts
    return by_dial(machine) and wanted


def _speeds(program: Program, machine: Machine) -> Iterator[Line]:
    if machine.has_beam:
        return
    speeds: dict[Cutter, float] = {}
    for section in program.sections:
        if section.rpm is not None:
            speeds.setdefault(section.cutter, section.rpm)
    for number, (cutter, speed) in enumerate(speeds.items()):
        rpm, turns = fixed(speed, 0), machine.spindle.turns
        of = f" for cutter {cutter.number}" if len(speeds) > 1 else ""
        if machine.spindle.speed_word:
            yield Line("Spindle", (f"{rpm} rpm{of}, {turns}",))
        else:
            when = "before the start" if number == 0 else "when the program halts for it"
            yield Line("Spindle", (f"set the dial to {rpm} rpm{of} {when}, {turns}",))
    if by_dial(machine):
        when = "when the program halts for it" if halts_for_dial(machine) else "before the start"
        yield Line("Router", (f"switch it on {when}, and off once the program has ended",))


def _zero(program: Program, machine: Machine) -> Line:
    x, y = program.origin
    along = ("X Y the point ", Length(x), " along")
    if abs(x) <= TOLERANCES.same_point and abs(y) <= TOLERANCES.same_point:
        place: tuple[str | Length, ...] = ("X Y the lower left corner of the board",)
    elif abs(y) <= TOLERANCES.same_point:
        place = (*along, " the board's lower edge from its left end")
    else:
        place = (*along, " and ", Length(y), " across from the lower left corner of the board")
    if machine.has_beam:
        return Line("Zero point", place)
    height = "the spoilboard under the stock" if machine.motion.z_zero == "spoilboard" else "the top of the stock"
    return Line("Zero point", (*place, f", Z {height}"))


def _depth(program: Program, layout: BoardLayout, machine: Machine) -> Iterator[Line]:
    if machine.has_beam:
        yield Line("Depth", ("cuts go right through ", Length(layout.height), ", marks stay on the surface"))
        return
    yield Line("Depth", (Length(program.depth), " below the top of the stock at the deepest"))
    if program.skin > 0:
        after = " above the underside. The wood left there holds the parts, cut it by hand"
        yield Line("Skin", ("cuts round parts and openings stop ", Length(program.skin), after))
