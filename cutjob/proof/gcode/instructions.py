"""What the opening of a file must say to whoever runs it: a program, its board and machine go in, texts to find come
out.

Worked out from the plan and the machine alone. Texts are in small letters; lengths in them are in mm and inches.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Literal, TypeAlias

import numpy as np

from cutjob.counting import counted
from cutjob.geometry.segment import Point
from cutjob.job.machine import Machine
from cutjob.layout.holding import Hold
from cutjob.proof import limits
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.gcode.reading import Reading
from cutjob.tolerances import TOLERANCES

Value: TypeAlias = float | Point | str
Kind: TypeAlias = Literal[
    "machine",
    "hold",
    "clamp",
    "driving of screws",
    "taking off",
    "bridges",
    "tabs",
    "stock",
    "sawing",
    "stack",
    "files",
    "copies",
    "window",
    "slide",
    "slid board",
    "stay",
    "pin holes",
    "cutter",
    "cuts",
    "marks",
    "order of cutters",
    "tool length",
    "spindle",
    "router",
    "zero",
    "depth",
    "skin",
    "keep-outs",
    "dial",
    "zero again",
]
_MOST_NAMES = 6  # where there are more files, the opening names the first and the last
# How a text of each kind begins.
KINDS: dict[Kind, re.Pattern[str]] = {
    "machine": re.compile(r"machine ?:"),
    "hold": re.compile(r"(held by|screws) ?:"),
    "clamp": re.compile(r"clamp \d+ ?:"),
    "driving of screws": re.compile(
        r"(their holes are drilled|this file drills their holes|they were driven|before the start ?: .*screw)"
    ),
    "taking off": re.compile(r"after this file take "),
    "bridges": re.compile(r"bridges ?:"),
    "tabs": re.compile(r"tabs ?:"),
    "stock": re.compile(r"stock ?:"),
    "sawing": re.compile(r"saw first ?:"),
    "stack": re.compile(r"stack ?:"),
    "files": re.compile(r"files ?:"),
    "copies": re.compile(r"run (this file|all files)"),
    "window": re.compile(r"window ?:"),
    "slide": re.compile(r"before the start ?: slide"),
    "slid board": re.compile(r"hold it down again"),
    "stay": re.compile(r"leave the board where"),
    "pin holes": re.compile(r"pin holes ?:"),
    "cutter": re.compile(r"(cutter|cutter \d+ of \d+|beam) ?:"),
    "cuts": re.compile(r"cuts ?:"),
    "marks": re.compile(r"marks ?:"),
    "order of cutters": re.compile(r"the cutters come in this order ?:"),
    "tool length": re.compile(r"(tool length|cutter change) ?:"),
    "spindle": re.compile(r"spindle ?:"),
    "router": re.compile(r"router ?:"),
    "zero": re.compile(r"zero point ?:"),
    "depth": re.compile(r"depth ?:"),
    "skin": re.compile(r"skin ?:"),
    "keep-outs": re.compile(r"keep-outs ?:"),
    "dial": re.compile(r"stop ?: set the dial"),
    "zero again": re.compile(r"stop ?: set z again"),
}


@dataclass(frozen=True, slots=True)
class Instruction:
    """A text that must be there. In `words`, {b} is a length in both units, {u} one in either, {p} a place, {t} a name
    and {any} any words, in the order of `values`, mm (none for {any}).
    """

    kind: Kind
    words: str
    values: tuple[Value, ...] = ()
    needed: bool = True


def instructions(
    program: ExpectedProgram, programs: Sequence[ExpectedProgram], reading: Reading, machine: Machine
) -> Iterator[Instruction]:
    """Yield what the opening of a program must say; `programs` are all of its board, in the order to run them."""
    yield Instruction("machine", "machine: {t}", (machine.name,))
    yield from _stock(program)
    yield from _order(program, programs)
    yield from _window(program, programs, reading, machine)
    yield from _cutters(program, reading, machine)
    yield from _zero(program, machine)
    yield from _depth(program, reading, machine)
    if machine.has_spindle:
        yield from _held(program, programs, reading, machine)
    yield from _bridges(program)
    yield from _keep_outs(program, machine)


def _stock(program: ExpectedProgram) -> Iterator[Instruction]:
    layout, board = program.board, program.board.board
    sizes = (board.length, board.width, board.thickness)
    words = "stock: {t}, {any}, {t}, {b} long, {b} wide, {b} thick"
    yield Instruction("stock", words, (layout.id, board.material, *sizes))
    if board.sawn_off > 0:
        yield Instruction("sawing", "saw first: {b} off {any}", (board.sawn_off,))
    if layout.stack > 1:
        yield Instruction("stack", f"stack: {layout.stack} boards at once, {{b}} high", (layout.height,))


def _order(program: ExpectedProgram, programs: Sequence[ExpectedProgram]) -> Iterator[Instruction]:
    names = [PurePath(one.file).name for one in programs]
    own = names.index(PurePath(program.file).name) + 1
    if len(names) > 1:
        place = f"files: this is {own} of {len(names)} for the board, run them in this order: "
        if len(names) <= _MOST_NAMES:
            yield Instruction("files", place + ", ".join(["{t}"] * len(names)), tuple(names))
        else:
            yield Instruction("files", place + "{t} to {t} by their numbers", (names[0], names[-1]))
    copies = program.board.copies
    if copies > 1:
        what = "all files of the board in order, " if len(names) > 1 else "this file "
        times = (
            f"{copies} times over, each time on fresh stock"
            if len(names) > 1
            else f"{copies} times, each on fresh stock"
        )
        yield Instruction("copies", f"run {what}{times}")


def _before(program: ExpectedProgram, programs: Sequence[ExpectedProgram], step: int) -> ExpectedProgram | None:
    """The program run before (-1) or after (1) one."""
    at = [one.file for one in programs].index(program.file) + step
    return programs[at] if 0 <= at < len(programs) else None


def _window(
    program: ExpectedProgram, programs: Sequence[ExpectedProgram], reading: Reading, machine: Machine
) -> Iterator[Instruction]:
    number, windows = program.window, program.board.windows
    if number is None or number >= len(windows):
        return
    window, before = windows[number], _before(program, programs, -1)
    extent = "from {b} to {b} along the board"
    yield Instruction("window", f"window: {number + 1} of {len(windows)}, {extent}", (window.first, window.last))
    if before is not None and before.window == number:
        yield Instruction("stay", "leave the board where it was for the file before")
    elif number:
        slide = window.first - windows[number - 1].first
        words, values = "with its edge against the stop", tuple[Value, ...]()
        if window.pins and machine.travel is not None:
            words = "with its holes on the pins of {b} diameter in the bed at " + " and ".join(
                ["{p}"] * len(window.pins)
            )
            values = (machine.travel.pin, *(_from_zero(pin, program) for pin in window.pins))
        yield Instruction(
            "slide", f"before the start: slide the board {{b}} towards its left end, {words}", (slide, *values)
        )
        words = "hold it down again, and leave the machine's zero point where it was"
        yield Instruction("slid board", words)
    places = " and ".join(["{p}"] * len(window.holes))
    if window.holes:
        pin = machine.travel.pin if machine.travel is not None else 0.0
        yield Instruction(
            "pin holes",
            f"pin holes: {len(window.holes)} are drilled here for window {number + 2}, at {places}",
            tuple(_from_zero(at, program) for at in window.holes),
            needed=_made(reading, program, [(at, pin) for at in window.holes]),
        )


def _from_zero(at: Point, program: ExpectedProgram) -> Point:
    return at[0] - program.origin[0], at[1] - program.origin[1]


def _cutters(program: ExpectedProgram, reading: Reading, machine: Machine) -> Iterator[Instruction]:
    cutters = program.cutters
    for number, cutter in enumerate(cutters, start=1):
        if machine.has_beam:
            words = f"beam: {cutter.number}, {{t}}, kerf {{b}}"
        else:
            which = f"cutter {number} of {len(cutters)}" if len(cutters) > 1 else "cutter"
            words = f"{which}: {cutter.number}, {{t}}, diameter {{b}}"
        yield Instruction("cutter", words, (cutter.name, cutter.diameter))
    if machine.has_beam:
        yield from _burns(program, machine)
        return
    if machine.controller.tool_change == "changer":
        yield from _changes(program, reading, machine)
    rows = [(one, one.feed_for(program.board.board.material)) for one in cutters]
    speeds = [(one, row.rpm) for one, row in rows if row is not None and row.rpm is not None]
    for cutter, rpm in speeds:
        which = f" for cutter {cutter.number}" if len(speeds) > 1 else f"( for cutter {cutter.number})?"
        dial = "" if machine.spindle.speed_word else ".*the dial to "
        yield Instruction("spindle", f"spindle: {dial}{rpm:.0f} rpm{which}.*, {machine.spindle.turns}{{any}}")
        yield Instruction("dial", f"stop: set the dial to {rpm:.0f} rpm for cutter {cutter.number}", needed=False)
    if not machine.spindle.speed_word:
        controller = machine.controller
        halts = controller.tool_change == "by hand" if controller.halts is None else controller.halts
        when = "when the program halts for it" if halts else "before the start"
        yield Instruction("router", f"router: switch it on {when}, and off once the program has ended")


def _burns(program: ExpectedProgram, machine: Machine) -> Iterator[Instruction]:
    """The texts on feed, power, passes and air of a beam, where the feed table has them."""
    row, controller = program.cutters[0].feed_for(program.board.board.material), machine.controller
    if row is None or not row.feed:
        return

    def words(kind: Literal["cut", "mark"], feed: float, power: float) -> str:
        code = controller.air_assist.get(kind)
        assist = f", air assist {f'on by {code.lower()}' if code else 'off'}" if controller.air_assist else ""
        speed = min(feed, machine.motion.greatest_feed)
        return f"{kind}s: {speed:g} mm/min at power {power:g} of {controller.greatest_power:g}{assist}"

    # The opening says nothing of cuts in another window.
    whole = program.window is None
    times = "once" if row.passes == 1 else f"{row.passes} times"
    placements = program.board.placements
    cuts = f"{words('cut', row.feed, row.power or 0.0)}, {times} round"
    yield Instruction("cuts", cuts, needed=whole and bool(placements))
    if row.mark_feed is not None and row.mark_power is not None:
        marked = bool(program.board.lettering) or any(placement.part.marks for placement in placements)
        yield Instruction("marks", words("mark", row.mark_feed, row.mark_power), needed=whole and marked)


def _changes(program: ExpectedProgram, reading: Reading, machine: Machine) -> Iterator[Instruction]:
    """The texts on cutters that the machine changes by itself."""
    cutters = program.cutters
    turns = [int(event.value) for event in reading.events if event.kind == "tool"]
    turns = [number for at, number in enumerate(turns) if at == 0 or turns[at - 1] != number]
    if len(turns) > len(cutters):
        yield Instruction("order of cutters", f"the cutters come in this order: {', '.join(map(str, turns))}")
    numbers = ", ".join(str(one.number) for one in cutters)
    if machine.controller.tool_length == "table":
        yield Instruction("tool length", f"tool length: slots? {numbers} of {{any}}")
    else:
        first = f"set z with cutter {cutters[0].number} before the start"
        yield Instruction("tool length", f"cutter change: {{any}}. {first}")
        for cutter in cutters:
            yield Instruction("zero again", f"stop: set z again with cutter {cutter.number}", needed=False)


def _zero(program: ExpectedProgram, machine: Machine) -> Iterator[Instruction]:
    x, y = program.origin
    values: tuple[Value, ...] = ()
    place = "x y the lower left corner of the board"
    if abs(x) > TOLERANCES.same_point or abs(y) > TOLERANCES.same_point:
        place, values = "x y the point {b} along the board's lower edge from its left end", (x,)
    if abs(y) > TOLERANCES.same_point:
        place, values = "x y the point {b} along and {b} across from the lower left corner of the board", (x, y)
    if not machine.has_beam:
        place += ", z the spoilboard under the stock" if program.stock_top_z > 0 else ", z the top of the stock"
    yield Instruction("zero", f"zero point: {place}", values)


def _depth(program: ExpectedProgram, reading: Reading, machine: Machine) -> Iterator[Instruction]:
    if machine.has_beam:
        words = "depth: cuts go right through {b}, marks stay on the surface"
        yield Instruction("depth", words, (program.board.height,))
        return
    deepest = min((motion.end[2] for motion in reading.motions), default=0.0)
    yield Instruction("depth", "depth: {b} below the top of the stock at the deepest", (program.stock_top_z - deepest,))
    if program.skin > 0:
        yield Instruction(
            "skin", "skin: cuts round parts and openings stop {b} above the underside. {any}", (program.skin,)
        )


def _held(
    program: ExpectedProgram, programs: Sequence[ExpectedProgram], reading: Reading, machine: Machine
) -> Iterator[Instruction]:
    """How the board is held, the places of its clamps, and what to do with its screws."""
    holding = program.board.holding
    if holding is None:
        return
    if holding.by in ("tape", "vacuum"):
        runs = ". leave the pump on until the spindle has stopped" if holding.by == "vacuum" else ""
        yield Instruction("hold", f"held by: {holding.by} under the whole board, no tabs{runs}")
    elif holding.by == "screws":
        yield from _screws(program, programs, reading, machine)
    else:
        yield from _clamps(program, programs, holding.holds_in(program.window))


def _clamps(
    program: ExpectedProgram, programs: Sequence[ExpectedProgram], clamps: Sequence[Hold]
) -> Iterator[Instruction]:
    if not clamps:
        return
    before, after = _before(program, programs, -1), _before(program, programs, 1)
    moved = any(clamp.window is not None for clamp in clamps)
    count, one = counted(len(clamps), "clamp"), len(clamps) == 1
    them = "it" if one else "them"
    when = f"set {them} before the start" if before is None else f"leave {them} in place"
    if before is not None and before.window != program.window and moved:
        when = f"move {them} to {'this place' if one else 'these places'} once the board is slid"
    air = f"air moves over {them} go no higher than {{b}} above the stock{{any}}"
    where = "on the waste( at the board's edge)?, at most {b} high"
    words = f"held by: {count} {where}. {when}, clear of every move. {air}"
    yield Instruction("hold", words, (max(clamp.height for clamp in clamps), program.clear_z))
    for number, clamp in enumerate(clamps, start=1):
        x0, y0, x1, y1 = clamp.area.bounds
        middle = _from_zero(((x0 + x1) / 2, (y0 + y1) / 2), program)
        sizes = "{u} along the board and {u} across"
        yield Instruction("clamp", f"clamp {number}: middle at {{p}}, {sizes}", (middle, x1 - x0, y1 - y0))
    if moved and after is not None and after.window != program.window:
        yield Instruction(
            "taking off", "after this file take the clamps off, then slide the board as the next file says"
        )


def _screws(
    program: ExpectedProgram, programs: Sequence[ExpectedProgram], reading: Reading, machine: Machine
) -> Iterator[Instruction]:
    own = [down for down in program.board.hold_downs if down.window in (None, program.window)]
    if not own:
        return
    values: list[Value] = [2 * max(down.head for down in own), max(down.height for down in own)]
    long, length = "", None
    if machine.screws is not None:
        length = machine.screws.length_for(program.board.height, spoilboard=machine.cutting.spoilboard)
    if length is not None:
        long, values = ", {b} long", [length, *values]
    heads = "heads at most {b} wide and {b} high"
    yield Instruction("hold", f"held by: {counted(len(own), 'screw')} through the waste{long}, {heads}", tuple(values))
    after = _before(program, programs, 1)
    made = _made(reading, program, [(down.at, down.diameter) for down in own])
    # A halt before all cuts is for a router that is switched on by hand.
    below = program.stock_top_z - TOLERANCES.output
    begun = next((n for n, motion in enumerate(reading.motions) if motion.end[2] < below), len(reading.motions))
    if made and any(event.kind == "stop" and event.motions > begun for event in reading.events):
        words = "their holes are drilled first, then the program halts for you to drive the screws"
        yield Instruction("driving of screws", words)
    elif made and after is not None:
        number = [one.file for one in programs].index(after.file) + 1
        words = f"this file drills their holes. drive the screws before file {number}"
        yield Instruction("driving of screws", words)
    elif not made:
        words = "(they were driven before this file. leave them in|before the start: .*the screws.*)"
        yield Instruction("driving of screws", words)
    if own[0].window is not None and after is not None and after.window != program.window:
        yield Instruction("taking off", "after this file take them out, then slide the board as the next file says")


def _made(reading: Reading, program: ExpectedProgram, holes: Sequence[tuple[Point, float]]) -> bool:
    """Whether a file goes down into the stock at one of some holes, each with its diameter."""
    ends = [one.end for one in reading.motions if one.end[2] < program.stock_top_z - TOLERANCES.output]
    places = np.array(ends, dtype=float).reshape(-1, 3)[:, :2] + np.array(program.origin)
    return any(
        bool((np.hypot(places[:, 0] - at[0], places[:, 1] - at[1]) <= diameter / 2 + TOLERANCES.acceptance).any())
        for at, diameter in holes
    )


def _bridges(program: ExpectedProgram) -> Iterator[Instruction]:
    layout = program.board
    bridges = () if layout.holding is None else layout.holding.bridges
    low = [one for one in bridges if one.height < layout.height - TOLERANCES.acceptance]
    if len(low) < len(bridges):
        over = "the whole height of the stack" if layout.stack > 1 else "the board's whole thickness"
        count = len(bridges) - len(low)
        yield Instruction("bridges", f"bridges: {count} on the board, over {over}. saw them through afterwards")
    if low:
        sizes = (max(one.width for one in low), max(one.height for one in low))
        yield Instruction(
            "tabs", f"tabs: {len(low)} on the board, (at most )?{{b}} wide and (at most )?{{b}} high", sizes
        )


def _keep_outs(program: ExpectedProgram, machine: Machine) -> Iterator[Instruction]:
    layout = program.board
    holding = layout.holding
    clamps = [hold.area for hold in holding.holds] if holding is not None and holding.by == "clamps" else []
    others = [one.height for one in layout.board.keep_outs if one.area not in clamps]
    count, stated = len(others), sum(height > 0 for height in others)
    if count:
        places = counted(count, "place")
        words, values = f"keep-outs: {places} on the board, never cut.{{any}}", tuple[Value, ...]()
        if machine.has_spindle:
            if stated:
                words, values = words + " at most {b} above the stock{any}", (program.clear_z,)
            if stated < count:
                words, values = words + " {b} above the stock{any}", (*values, program.safe_z)
        yield Instruction("keep-outs", words, values)


_LENGTH = r"-?(?:\d+ \d+/\d+|\d+/\d+|\d+(?:\.\d+)?)"
_TOKENS = {
    "{b}": rf"(?P<b>({_LENGTH}) mm = ({_LENGTH}) in)",
    "{u}": rf"(?P<u>({_LENGTH}) (mm|in))",
    "{p}": r"(?P<p>x (-?\d*\.?\d+) y (-?\d*\.?\d+) (mm|in))",
    "{t}": r"(?P<t>.*?)",
    "{any}": r".*",
}
_PAIR = re.compile(rf"({_LENGTH} mm) = ({_LENGTH} in)")
_TOKEN = re.compile(r"\{(?:b|u|p|t|any)\}")
_WORDS = {"&": "and", "%": "percent", "×": "x", "°": "deg"}


def agrees(text: str, instruction: Instruction) -> bool:
    """Whether a text says the same as an instruction."""
    pattern, tokens = "", list[str]()
    at = 0
    for match in _TOKEN.finditer(instruction.words):
        name = f"v{len(tokens)}"
        token = match.group()
        pattern += _quoted(instruction.words[at : match.start()])
        if token == "{t}" and pattern.endswith(" "):
            pattern += "?"  # a name whose letters no comment can hold leaves nothing, not even the blank
        pattern += re.sub(r"\?P<\w>", f"?P<{name}>", _TOKENS[token])
        if token != "{any}":
            tokens.append(token)
        at = match.end()
    found = re.fullmatch(pattern + _quoted(instruction.words[at:]), text)
    if found is None or not all(
        abs(_length(mm) - _length(inches)) <= limits.SAID_IN_BOTH for mm, inches in _PAIR.findall(text)
    ):
        return False
    said = [found.group(f"v{number}") for number in range(len(tokens))]
    return all(_same(*one) for one in zip(tokens, said, instruction.values, strict=True))


def _quoted(words: str) -> str:
    """Words as a pattern: optional groups and `.*` keep their meaning, points are literal."""
    return words.replace(".*", "\0").replace(".", r"\.").replace("\0", ".*")


def _same(token: str, said: str, value: Value) -> bool:
    if isinstance(value, str):
        return _letters(said) == _letters(value)
    if isinstance(value, tuple):
        _, x, _, y, unit = said.split(" ")
        scale = 25.4 if unit == "in" else 1.0
        return (
            abs(float(x) * scale - value[0]) <= limits.SAID_PLACE
            and abs(float(y) * scale - value[1]) <= limits.SAID_PLACE
        )
    if token == "{u}":
        return abs(_length(said) - value) <= limits.SAID_IN_BOTH
    mm, inches = said.split(" = ")
    return abs(_length(mm) - value) <= limits.SAID_LENGTH and abs(_length(inches) - value) <= limits.SAID_IN_BOTH


def _length(text: str) -> float:
    *numbers, unit = text.split(" ")
    total = 0.0
    for number in numbers:
        above, _, below = number.partition("/")
        total += float(above) / (float(below) if below else 1.0)
    return total * (25.4 if unit == "in" else 1.0)


def _letters(text: str) -> str:
    """The letters and digits of a name as a comment can hold them."""
    spelled = unicodedata.normalize("NFKD", "".join(_WORDS.get(letter, letter) for letter in text))
    return "".join(one for one in spelled if one.isascii() and one.isalnum()).casefold()
