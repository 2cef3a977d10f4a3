"""Mutants thought up to do harm that the geometry of what is left doesn't show: fire, blunt cutters, thrown parts, a
machine that does what nobody asked for. Each matters always: by what a careful machinist would stop the machine for.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator

import shapely

from cutjob.proof.expect import ExpectedProgram
from tests.proof.mutants.cases import Case
from tests.proof.mutants.edits import Line, changed, moves_of, sections_of, words_of
from tests.proof.mutants.kinds import Setting, kind

Lines = list[str]
_TIMES_DEEPER = 1.5  # of a pass: too deep, whatever is allowed for rounding


def _cuts(setting: Setting, file: str) -> list[Line]:
    """Cuts along the wood that are no leads: at one height, and longer than these."""
    return [
        one for one in setting.cuts(file) if one.along and one.start[2] == one.end[2] and _run(one) > _long(setting)
    ]


def _long(setting: Setting) -> float:
    return setting.mm(2 * setting.case.machine.cutting.lead + 2)


def _run(one: Line) -> float:
    return math.dist(one.start[:2], one.end[:2])


def _router(setting: Setting) -> str | None:
    return None if setting.laser else setting.file()


def _after(setting: Setting, file: str, row: int, new: Lines) -> Case:
    lines = setting.case.files[file]
    return setting.case.with_lines(file, [*lines[: row + 1], *new, *lines[row + 1 :]])


def _modal(setting: Setting, file: str, one: Line) -> Lines:
    """Lines that bring back the motion and feed in force after a cut: the place is the cut's own end."""
    x, y, z = (setting.written(value) for value in one.end)
    return [f"G1 X{x} Y{y} Z{z} F{setting.written(one.feed)}"]


def _inserted(name: str, new: Callable[[Setting, Line], Lines], *, laser: bool | None = False) -> None:
    """A kind that puts lines right after a cut along the wood."""

    def spoil(setting: Setting) -> Case | None:
        file = setting.file()
        if laser is not None and setting.laser != laser:
            return None
        lines = setting.case.files[file]
        rows = [one for one in _cuts(setting, file) if not _goes_on_as_arc(lines, one.number)]
        if not rows:
            return None
        one = setting.chance.choice(rows)
        return _after(setting, file, one.number, new(setting, one))

    kind(name, matters="always")(spoil)


def _goes_on_as_arc(lines: Lines, row: int) -> bool:
    """Whether the next line takes its motion from this one as an arc."""
    words = dict(words_of(lines[row + 1])) if row + 1 < len(lines) else {}
    return "I" in words or "J" in words or ("G" not in words and any(letter in words for letter in "XYZ"))


for _seconds in ("0.5", "2", "30"):
    _inserted(f"a dwell of {_seconds} s in the wood", lambda setting, one, text=_seconds: [f"G4 P{text}"])
_inserted("two short dwells in the wood", lambda setting, one: ["G4 P0.2", "G4 P0.2"])


def _per_second(setting: Setting, seconds: float) -> str:
    return f"{seconds * (1000 if setting.case.machine.controller.dwell == 'milliseconds' else 1):g}"


def _in_the_air(name: str, new: Callable[[Setting], Lines], *, laser: bool | None = None) -> None:
    """A kind that puts lines before the first cut of a section, in the air."""

    def spoil(setting: Setting) -> Case | None:
        if laser is not None and setting.laser != laser:
            return None
        file = setting.file()
        lines = setting.case.files[file]
        rows = [row for row, line in enumerate(lines) if re.match(r"\([a-z ]+: (part \d+|hole|pin)", line)]
        if not rows:
            return None
        row = setting.chance.choice(rows)
        return setting.case.with_lines(file, [*lines[:row], *new(setting), *lines[row:]])

    kind(name, matters="always")(spoil)


_in_the_air("a dwell of a minute", lambda setting: [f"G4 P{_per_second(setting, 60)}"], laser=False)
_in_the_air("a dwell in milliseconds for seconds", lambda setting: ["G4 P4000"], laser=False)
_in_the_air("many dwells one after the other", lambda setting: [f"G4 P{_per_second(setting, 8)}"] * 8, laser=False)
for _code, _what in {
    "G64": "paths blended",
    "G64 P0.5": "paths blended by half a millimetre",
    "G61": "exact stops",
    "G61.1": "exact stops at corners",
    "M48": "overrides taken over",
    "M49": "overrides locked",
    "M7": "mist",
    "M8": "coolant",
    "G28 Z0": "home in between",
    "G30 Z0": "another home in between",
    "G92 X0": "the zero moved",
    "G10 L2 P1 X10": "the stored zero moved",
    "G53 G0 Z0": "machine coordinates",
    "G55": "another coordinate system",
    "M1": "a halt that may be switched off",
    "G41 D1": "compensation of the cutter",
    "G68": "a turned coordinate system",
    "G51": "a scaled coordinate system",
    "M6": "a change of cutter nobody planned",
    "M98 P1": "a program called",
}.items():
    _in_the_air(f"{_what} ({_code})", lambda setting, text=_code: [text])


def _feeds_of_section(setting: Setting, factor: float, *, beam: bool) -> Case | None:
    """Every feed from a section on to the next multiplied."""
    if setting.laser != beam:
        return None
    file = setting.file()
    rows = _cuts(setting, file)
    if not rows:
        return None
    begin = setting.chance.choice(rows)
    last = max(one.number for one in moves_of(setting.case.files[file]) if one.section == begin.section)
    first = min(one.number for one in moves_of(setting.case.files[file]) if one.section == begin.section)
    lines = list(setting.case.files[file])
    for row in range(first, last + 1):
        words = dict(words_of(lines[row]))
        if "F" in words:
            lines[row] = changed(lines[row], "F", setting.written(float(words["F"]) * factor))
    return setting.case.with_lines(file, lines)


for _factor in (0.45, 0.2, 0.05):
    kind(f"a section at {_factor:g} of its feed", matters="always")(
        lambda setting, factor=_factor: _feeds_of_section(setting, factor, beam=False)
    )
for _factor in (0.5, 0.3):
    kind(f"a beam at {_factor:g} of its feed", matters="always")(
        lambda setting, factor=_factor: _feeds_of_section(setting, factor, beam=True)
    )


def _slower(setting: Setting, one: Line) -> Lines:
    """Along the same cut back and forth slowly: a third of its feed, then on."""
    x, y = (setting.written(value) for value in one.start[:2])
    return [f"G1 X{x} Y{y} F{setting.written(one.feed / 3)}", *_modal(setting, "", one)]


_inserted("a straight cut run back slowly", _slower, laser=None)


@kind("a contour burned once more", matters="always")
def burned_again(setting: Setting) -> Case | None:
    return _burned(setting, 1)


@kind("a contour burned five times more", matters="always")
def burned_often(setting: Setting) -> Case | None:
    return _burned(setting, 5)


def _burned(setting: Setting, times: int) -> Case | None:
    """The longest closed stretch of lines of a section again."""
    if not setting.laser:
        return None
    file = setting.file()
    rows = _cuts(setting, file)
    row = setting.case.programs[0].cutters[0].feed_for(setting.case.layout.board.material)
    # Marks may be burned again where no harm is seen.
    rows = [one for one in rows if row is not None and one.feed <= row.feed * 1.01 and one.motion == 1]
    if not rows:
        return None
    one = setting.chance.choice(rows)
    x0, y0, x1, y1 = (setting.written(value) for value in (*one.start[:2], *one.end[:2]))
    lines = setting.case.files[file]
    if _goes_on_as_arc(lines, one.number):
        return None
    return _after(setting, file, one.number, [f"G1 X{x0} Y{y0}", f"X{x1} Y{y1}"] * times)


def _lifts(setting: Setting, file: str) -> Iterator[tuple[Line, Line, Line]]:
    """Rapids up, over and down to where a way into the wood begins, one after the other."""
    moves = moves_of(setting.case.files[file])
    for up, over, down in zip(moves, moves[1:], moves[2:], strict=False):
        if up.motion == over.motion == down.motion == 0 and over.along and not down.along:
            yield up, over, down


def _approach(name: str, height: float) -> None:
    def spoil(setting: Setting) -> Case | None:
        file = _router(setting)
        found = [] if file is None else list(_lifts(setting, file))
        if file is None or not found:
            return None
        _, _, down = setting.chance.choice(found)
        z = setting.written(setting.top(file) + setting.mm(height))
        lines = list(setting.case.files[file])
        lines[down.number] = changed(lines[down.number], "Z", z)
        return setting.case.with_lines(file, lines)

    kind(name, matters="always")(spoil)


_approach("a rapid down to the stock's top", 0.0)
_approach("a rapid down to a tenth over the stock", 0.1)
_approach("a rapid down to half a millimetre over the stock", 0.5)


def _over_the_stock(name: str, height: float) -> None:
    """A slip in Z: from one cut to the next as a feed move just above the stock."""

    def spoil(setting: Setting) -> Case | None:
        file = _router(setting)
        found = [] if file is None else [three for three in _lifts(setting, file) if _run(three[1]) > setting.mm(5)]
        if file is None or not found:
            return None
        up, over, down = setting.chance.choice(found)
        z = setting.written(setting.top(file) + setting.mm(height))
        x, y = (setting.written(value) for value in over.end[:2])
        back = setting.written(down.end[2])
        lines = list(setting.case.files[file])
        feed = setting.written(setting.mm(1000))
        lines[down.number] = f"G0 Z{back}"
        lines[over.number] = f"G1 X{x} Y{y} F{feed}"
        lines[up.number] = f"G1 Z{z} F{feed}"
        return setting.case.with_lines(file, lines)

    kind(name, matters="always")(spoil)


for _height in (0.0, 0.2, 0.9, 2.0):
    _over_the_stock(f"a feed across the stock {_height:g} mm above it", _height)


def _off_the_travel(name: str, x: int, y: int) -> None:
    """A move in the air to beyond the machine's travel on one side, the board being as far on the other."""

    def spoil(setting: Setting) -> Case | None:
        file = setting.file()
        travel = setting.case.machine.travel
        program = next(one for one in setting.case.programs if one.file == file)
        if travel is None:
            return None
        box = setting.case.layout.board.outline.bounds
        low, high = (box[0] - program.origin[0], box[1] - program.origin[1]), box[2:]
        if program.window is not None:
            window = setting.case.layout.windows[program.window]
            low, high = (window.first - program.origin[0], low[1]), (window.last, high[1])
        size = high[0] - program.origin[0] - low[0], high[1] - program.origin[1] - low[1]
        away = travel.x - size[0] + 30, travel.y - size[1] + 30
        place = [low[0] + size[0] / 2, low[1] + size[1] / 2]
        for axis, side in enumerate((x, y)):
            if side:
                place[axis] = low[axis] - away[axis] if side < 0 else low[axis] + size[axis] + away[axis]
        lines = setting.case.files[file]
        end = max(one.number for one in moves_of(lines))
        words = " ".join(
            f"{letter}{setting.written(setting.mm(value))}" for letter, value in zip("XY", place, strict=True)
        )
        return setting.case.with_lines(file, [*lines[: end + 1], f"G0 {words}", *lines[end + 1 :]])

    kind(name, matters="always")(spoil)


_off_the_travel("an air move off the travel, left", -1, 0)
_off_the_travel("an air move off the travel, right", 1, 0)
_off_the_travel("an air move off the travel, in front", 0, -1)
_off_the_travel("an air move off the travel, behind", 0, 1)


@kind("lifted beyond the travel", matters="always")
def lifted_high(setting: Setting) -> Case | None:
    file = _router(setting)
    travel = setting.case.machine.travel
    if file is None or travel is None or travel.z <= 0:
        return None
    lines = setting.case.files[file]
    end = max(one.number for one in moves_of(lines))
    z = setting.written(setting.top(file) + setting.mm(travel.z + 1))
    return setting.case.with_lines(file, [*lines[: end + 1], f"G0 Z{z}", *lines[end + 1 :]])


def _slot(name: str, length: float, aside: float, pieces: int) -> None:
    """A slot in the waste at full depth beside a straight cut that is done: from its end outward, and along it."""

    def spoil(setting: Setting) -> Case | None:
        file = _router(setting)
        if file is None:
            return None
        height = setting.case.layout.height
        bottom = setting.top(file) - setting.mm(height) + setting.mm(0.5)
        lines = setting.case.files[file]
        done = [one for one in _cuts(setting, file) if one.end[2] <= bottom and one.motion == 1]
        done = [one for one in done if _run(one) > setting.mm(length) and not _goes_on_as_arc(lines, one.number)]
        if not done:
            return None
        one = setting.chance.choice(done)
        run = _run(one)
        dx, dy = (one.end[0] - one.start[0]) / run, (one.end[1] - one.start[1]) / run
        # A climb cut has its part on the right, so that the waste is on the left.
        climb = setting.case.machine.cutting.direction == "climb"
        turn = 1 if climb == (setting.case.machine.spindle.turns == "clockwise") else -1
        nx, ny = -dy * turn, dx * turn
        x, y = one.end[0] + setting.mm(aside) * nx, one.end[1] + setting.mm(aside) * ny
        new = [f"G1 X{setting.written(x)} Y{setting.written(y)}"]
        for piece in range(1, pieces + 1):
            by = setting.mm(length) * piece / pieces
            new.append(f"X{setting.written(x - by * dx)} Y{setting.written(y - by * dy)}")
        new += [f"X{setting.written(x)} Y{setting.written(y)}", *_modal(setting, file, one)]
        return _after(setting, file, one.number, new)

    kind(name, matters="always")(spoil)


_slot("a slot beside a slot at full depth", 12.0, 3.0, 1)
_slot("the same in pieces shorter than leads", 12.0, 3.0, 6)
_slot("the same in tiny pieces", 12.0, 3.0, 60)


@kind("passes left out, so that one takes two", matters="always")
def two_passes(setting: Setting) -> Case | None:
    """The first cuts of a section at its first height left out up to where it goes deeper than a pass and a half."""
    file = _router(setting)
    if file is None:
        return None
    program = next(one for one in setting.case.programs if one.file == file)
    cutter = program.cutters[0]
    row = cutter.feed_for(setting.case.layout.board.material)
    assert row is not None
    assert row.depth_per_pass is not None
    limit = setting.top(file) - setting.mm(row.depth_per_pass * _TIMES_DEEPER)
    lines = setting.case.files[file]
    if len(program.cutters) > 1:
        return None
    moves = moves_of(lines)
    found = []
    for section in {one.section for one in _cuts(setting, file)}:
        own = [one for one in moves if one.section == section and one.motion > 0]
        wet = [one for one in own if one.end[2] < setting.top(file)]
        deep = [one for one in wet if one.end[2] < limit and one.along]
        name = lines[min(one.number for one in moves if one.section == section) - 1]
        if deep and deep[0].number - wet[0].number > 3 and ("outside" in name or "inside" in name):
            found.append((wet[0], deep[0]))
    if not found:
        return None
    first, deep_one = setting.chance.choice(found)
    words = dict(words_of(lines[deep_one.number]))
    if "I" in words or "J" in words:
        return None
    x, y, z = (setting.written(value) for value in deep_one.start)
    new = [f"G1 X{x} Y{y} Z{z} F{setting.written(deep_one.feed)}"]
    return setting.case.with_lines(file, [*lines[: first.number], *new, *lines[deep_one.number :]])


def _back(setting: Setting, one: Line) -> Lines:
    """Along the same cut back, and on again."""
    x, y = (setting.written(value) for value in one.start[:2])
    return [f"G1 X{x} Y{y}", *_modal(setting, "", one)]


def _outline_cuts(setting: Setting, file: str) -> list[Line]:
    """Straight cuts of sections round parts, below half the stock, that no arc goes on from."""
    lines = setting.case.files[file]
    names = {one.section: "" for one in setting.cuts(file)}
    for row, line in enumerate(lines):
        found = re.match(r"\((outside|inside) cut: part", line)
        if found:
            owner = [one.section for one in setting.cuts(file) if one.number > row]
            names |= {owner[0]: found[1]} if owner else {}
    middle = setting.top(file) - setting.mm(setting.case.layout.height / 2)
    return [
        one
        for one in _cuts(setting, file)
        if names[one.section]
        and one.motion == 1
        and one.end[2] < middle
        and not _goes_on_as_arc(lines, one.number)
        and _beside(setting, one) < 2  # in a slot between two parts either way is wrong for one of them
    ]


@kind("an edge run the wrong way and on again", matters="always")
def wrong_way_round(setting: Setting) -> Case | None:
    file = _router(setting)
    rows = [] if file is None else _outline_cuts(setting, file)
    if file is None or not rows:
        return None
    one = setting.chance.choice(rows)
    return _after(setting, file, one.number, _back(setting, one))


def _inside_arcs(setting: Setting, file: str) -> list[Line]:
    """Arcs in the wood that turn as holes are cut, so tight that the wall goes by a fifth faster and more."""
    climb = setting.case.machine.cutting.direction == "climb"
    motion = 3 if climb == (setting.case.machine.spindle.turns == "clockwise") else 2
    radius = setting.mm(min(cutter.radius for cutter in _program(setting, file).cutters))
    return [one for one in setting.cuts(file) if one.motion == motion and _bend(one) < 5 * radius]


def _bend(one: Line) -> float:
    """The radius of an arc written with its centre; none, endless, for others."""
    i, j = (float(one.words.get(letter, 0.0)) for letter in "IJ")
    return math.hypot(i, j) or math.inf


def _program(setting: Setting, file: str) -> ExpectedProgram:
    return next(one for one in setting.case.programs if one.file == file)


def _feed_of(setting: Setting, file: str) -> float:
    """The least feed along of the feed table for a file's cutters, in its unit."""
    program = _program(setting, file)
    rows = [cutter.feed_for(setting.case.layout.board.material) for cutter in program.cutters]
    return setting.mm(min(row.feed for row in rows if row is not None))


def _fed(setting: Setting, file: str, chosen: list[Line], feed: float) -> Case:
    """The file with another feed on some motions, and what there was stated again on those after them."""
    lines, moves = list(setting.case.files[file]), moves_of(setting.case.files[file])
    numbers = {one.number for one in chosen}
    for one in moves:
        if one.motion == 0 or one.feed <= 0:
            continue
        wanted = feed if one.number in numbers else one.feed
        kept = [f"{letter}{text}" for letter, text in words_of(lines[one.number]) if letter != "F"]
        lines[one.number] = " ".join([*kept, f"F{setting.written(wanted)}"])
    return setting.case.with_lines(file, lines)


@kind("an inside arc at the table's feed", matters="always")
def arc_at_table(setting: Setting) -> Case | None:
    file = _router(setting)
    rows = [] if file is None else _inside_arcs(setting, file)
    if file is None or not rows:
        return None
    return _fed(setting, file, [setting.chance.choice(rows)], _feed_of(setting, file))


@kind("inside arcs of a feed a third faster", matters="always")
def arcs_faster(setting: Setting) -> Case | None:
    file = _router(setting)
    rows = [] if file is None else _inside_arcs(setting, file)
    if file is None or not rows:
        return None
    same = [one for one in rows if one.feed == rows[0].feed]
    return _fed(setting, file, same, rows[0].feed * 4 / 3)


@kind("a bore's rounds at the feed along", matters="always")
def bore_at_table(setting: Setting) -> Case | None:
    file = _router(setting)
    if file is None:
        return None
    sections = sections_of(setting.case.files[file])
    names = {number for number, section in enumerate(sections) if section.name == "bore"}
    rows = [one for one in _inside_arcs(setting, file) if one.section in names]
    if not rows:
        return None
    section = setting.chance.choice(sorted({one.section for one in rows}))
    return _fed(setting, file, [one for one in rows if one.section == section], _feed_of(setting, file))


def _beside(setting: Setting, one: Line) -> int:
    """How many parts a cut runs along."""
    origin, unit = setting.case.programs[0].origin, setting.mm(1.0)
    x, y = ((a + b) / 2 / unit + o for a, b, o in zip(one.start[:2], one.end[:2], origin, strict=True))
    reach = max(cutter.radius for program in setting.case.programs for cutter in program.cutters) + 0.1
    return sum(placement.polygon.distance(shapely.Point(x, y)) < reach for placement in setting.case.layout.placements)


def _plunged(name: str, depth: float) -> None:
    """The lead-in of a cut round a part, or the ramp after it, made a plunge on the edge where it ends. Where a last
    pass takes the mark away it is none on an edge.
    """

    def spoil(setting: Setting) -> Case | None:
        file = _router(setting)
        cutting = setting.case.machine.cutting
        if file is None or cutting.lead <= 0 or cutting.finish > 0:
            return None
        lines, top = list(setting.case.files[file]), setting.top(file)
        found = []
        for row, line in enumerate(lines):
            if not re.match(r"\((outside|inside) cut: part", line):
                continue
            own = [one for one in moves_of(lines) if one.number > row][:6]
            at = next((n for n, one in enumerate(own) if one.motion > 1 and one.start[2] == top), None)
            if at is not None and at >= 2 and own[at - 1].end[2] == top and own[at - 2].motion == 0:
                found.append((own, at))
        if not found:
            return None
        own, at = setting.chance.choice(found)
        lead, over = own[at], next(one for one in reversed(own[:at]) if one.motion == 0 and one.along)
        x, y = (setting.written(value) for value in lead.end[:2])
        lines[over.number] = f"G0 X{x} Y{y}"
        z = setting.written(top - setting.mm(depth))
        feed = setting.written(own[at - 1].feed)
        lines[lead.number] = f"G1 Z{z} F{feed}"
        follows = own[at + 1]
        code = "" if "G" in follows.words else f"G{follows.motion} "
        lines[follows.number] = f"{code}{lines[follows.number]}"
        if "F" not in follows.words:
            lines[follows.number] += f" F{setting.written(lead.feed)}"
        return setting.case.with_lines(file, lines)

    kind(name, matters="always")(spoil)


_plunged("a lead-in taken out for a plunge of 1 mm", 1.0)
_plunged("a lead-in taken out for a plunge of 2 mm", 2.0)


@kind("straight down on an edge once more", matters="always")
def down_on_edge(setting: Setting) -> Case | None:
    """Before a section round a part begins, the cutter drills in the middle of one of its long cuts."""
    file = _router(setting)
    rows = [] if file is None else _outline_cuts(setting, file)
    if file is None or not rows:
        return None
    one = setting.chance.choice(rows)
    lines = setting.case.files[file]
    begin = max(row for row, line in enumerate(lines[: one.number]) if line.startswith("("))
    top = setting.top(file)
    row = _program(setting, file).cutters[0].feed_for(setting.case.layout.board.material)
    assert row is not None
    x, y = (setting.written((a + b) / 2) for a, b in zip(one.start[:2], one.end[:2], strict=True))
    safe = setting.written(top + setting.mm(40))
    new = [
        f"G0 Z{safe}", f"X{x} Y{y}", f"Z{setting.written(top + setting.mm(1))}",
        f"G1 Z{setting.written(top - setting.mm(2))} F{setting.written(setting.mm(row.plunge or 100))}", f"G0 Z{safe}",
    ]  # fmt: skip
    return setting.case.with_lines(file, [*lines[:begin], *new, *lines[begin:]])


def _dropped_tabs(name: str, keep: Callable[[float, float], bool]) -> None:
    """Rises onto low tabs left out where they lie on one side of the board."""

    def spoil(setting: Setting) -> Case | None:
        file = _router(setting)
        if file is None:
            return None
        lines = list(setting.case.files[file])
        moves = moves_of(lines)
        bounds = setting.case.layout.board.outline.bounds
        middle = setting.mm((bounds[1] + bounds[3]) / 2)
        gone = []
        for up, over, down in zip(moves, moves[1:], moves[2:], strict=False):
            level = over.along and over.start[2] == over.end[2] < setting.top(file)
            rises = up.motion == 1 and not up.along and up.end[2] > up.start[2] and not down.along
            if level and rises and down.end[2] == up.start[2] and not keep(over.end[1], middle):
                gone += [up.number, down.number]
        if not gone:
            return None
        for row in gone:
            words = dict(words_of(lines[row]))
            lines[row] = " ".join(f"{a}{words[a]}" for a in "GF" if a in words) or "F" + setting.written(1000.0)
        return setting.case.with_lines(file, [line for line in lines if line])

    kind(name, matters="always")(spoil)


_dropped_tabs("no bridge stands any more", lambda y, middle: False)
_dropped_tabs("bridges on the lower half only", lambda y, middle: y < middle)
_dropped_tabs("bridges on the upper half only", lambda y, middle: y >= middle)
