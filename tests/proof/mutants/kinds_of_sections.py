"""Mutants of whole stretches: sections and programs swapped, passes and holes dropped or added, wrong sides."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import pairwise

import shapely

from tests.proof.mutants.cases import Case
from tests.proof.mutants.edits import Line, Section, changed, moves_of, sections_of, words_of
from tests.proof.mutants.kinds import Setting, kind

_OUTER = ("outside cut",)


def _same_turn(lines: list[str], first: int, last: int) -> bool:
    """Whether no change of cutter and no halt lies between."""
    return not any(re.match(r"T\d|M0|M6|M30|M2$", line) for line in lines[first:last])


def _moved(lines: list[str], section: Section, to: int) -> list[str]:
    """The lines with a section put before row `to`."""
    own = lines[section.first : section.last]
    if to <= section.first:
        return [*lines[:to], *own, *lines[to : section.first], *lines[section.last :]]
    return [*lines[: section.first], *lines[section.last : to], *own, *lines[to:]]


def _inside_and_outline(setting: Setting, lines: list[str]) -> tuple[Section, Section] | None:
    """A section inside a part and a later one, with the same cutter, that cuts the part free; None for none."""
    sections = sections_of(lines)
    pairs = [
        (inner, outer)
        for inner in sections
        for outer in sections
        if outer.name in _OUTER and inner.name not in _OUTER and inner.part == outer.part
        and inner.first < outer.first and _same_turn(lines, inner.first, outer.last)
    ]  # fmt: skip
    return setting.chance.choice(pairs) if pairs else None


@kind("a part cut free before its holes", matters="always")
def freed_early(setting: Setting) -> Case | None:
    file = setting.file()
    lines = setting.case.files[file]
    pair = _inside_and_outline(setting, lines)
    if pair is None:
        return None
    inner, outer = pair
    return setting.case.with_lines(file, _restated(_moved(lines, outer, inner.first)))


@kind("a hole after its part is loose", matters="always")
def hole_late(setting: Setting) -> Case | None:
    file = setting.file()
    lines = setting.case.files[file]
    pair = _inside_and_outline(setting, lines)
    if pair is None:
        return None
    inner, outer = pair
    return setting.case.with_lines(file, _restated(_moved(lines, inner, outer.last)))


def _restated(lines: list[str]) -> list[str]:
    """Lines put in another order, with X and Y of a section's first rapid both said, and G0 before it."""
    lines = list(lines)
    sections = sections_of(lines)
    original = moves_of(lines)
    for section in sections:
        first = next((one for one in original if section.first <= one.number < section.last), None)
        if first is not None and "G" not in first.words and first.motion == 0:
            lines[first.number] = "G0 " + lines[first.number]
    return lines


@kind("two sections swapped")
def sections_swapped(setting: Setting) -> Case | None:
    file = setting.file()
    lines = setting.case.files[file]
    sections = sections_of(lines)
    if len(sections) < 2:
        return None
    one, two = sorted(setting.chance.sample(sections, 2), key=lambda section: section.first)
    if not _same_turn(lines, one.first, two.last):
        return None
    first, second = lines[one.first : one.last], lines[two.first : two.last]
    return setting.case.with_lines(
        file, [*lines[: one.first], *second, *lines[one.last : two.first], *first, *lines[two.last :]]
    )


@kind("two programs swapped", matters="always")
def programs_swapped(setting: Setting) -> Case | None:
    names = sorted(setting.case.files)
    if len(names) < 2:
        return None
    one, two = setting.chance.sample(names, 2)
    files = setting.case.files
    return replace(setting.case, files=files | {one: files[two], two: files[one]})


@kind("program of another board", matters="always")
def other_board(setting: Setting) -> Case | None:
    if not setting.others:
        return None
    other = setting.chance.choice(setting.others)
    return setting.case.with_lines(setting.file(), list(other.files[setting.chance.choice(sorted(other.files))]))


@kind("section dropped")
def section_dropped(setting: Setting) -> Case | None:
    return _dropped(setting, ("outside cut", "inside cut", "bore", "drill", "pocket", "mark"))


@kind("hole missing")
def hole_missing(setting: Setting) -> Case | None:
    return _dropped(setting, ("bore", "drill"))


@kind("pocket missing")
def pocket_missing(setting: Setting) -> Case | None:
    return _dropped(setting, ("pocket",))


def _dropped(setting: Setting, names: tuple[str, ...]) -> Case | None:
    file = setting.file()
    lines = setting.case.files[file]
    sections = [one for one in sections_of(lines) if one.name in names]
    if not sections:
        return None
    one = setting.chance.choice(sections)
    return setting.case.with_lines(file, lines[: one.first] + lines[one.last :])


def section_moves(setting: Setting, file: str, names: tuple[str, ...]) -> list[list[Line]]:
    """The lines that move of each section of these names that has any."""
    lines = setting.case.files[file]
    moves = moves_of(lines)
    of_sections = [
        [one for one in moves if one.section == index]
        for index, section in enumerate(sections_of(lines))
        if section.name in names
    ]
    return [own for own in of_sections if own]


@kind("hole doubled elsewhere")
def hole_doubled(setting: Setting) -> Case | None:
    file = setting.file()
    lines = setting.case.files[file]
    sections = [one for one in sections_of(lines) if one.name in ("bore", "drill")]
    if not sections:
        return None
    section = setting.chance.choice(sections)
    own = lines[section.first : section.last]
    angle = setting.chance.uniform(0, 2 * math.pi)
    by = (setting.mm(18) * math.cos(angle), setting.mm(18) * math.sin(angle))
    own = [_moved_by(setting, line, by) for line in own]
    # X and Y are said in full where a section begins.
    moves = [one for one in moves_of(lines) if section.first <= one.number < section.last]
    if moves and not {"X", "Y"} <= set(moves[0].words):
        return None
    return setting.case.with_lines(file, [*lines[: section.last], *own, *lines[section.last :]])


def _moved_by(setting: Setting, line: str, by: tuple[float, float]) -> str:
    for letter, shift in zip("XY", by, strict=True):
        words = dict(words_of(line))
        if letter in words:
            line = changed(line, letter, setting.written(float(words[letter]) + shift))
    return line


@kind("a pass missing")
def pass_missing(setting: Setting) -> Case | None:
    """One time round a contour left out."""
    file = setting.file()
    lines = setting.case.files[file]
    found: list[tuple[int, int, int]] = []
    for moves in section_moves(setting, file, ("outside cut", "inside cut", "bore")):
        for number, one in enumerate(moves):
            later = [
                two for two in moves[number + 1 :] if math.dist(two.end[:2], one.end[:2]) < 1e-6 and one.motion > 0
            ]
            if later:
                after = next((two.motion for two in moves if two.number > later[0].number), 0)
                found.append((one.number + 1, later[0].number + 1, after))
    if not found:
        return None
    first, last, motion = setting.chance.choice(found)
    rest = lines[last:]
    if rest and re.match(r"[XYZ]", rest[0]):  # it goes on by the same motion
        rest = [f"G{motion} {rest[0]}", *rest[1:]]
    return setting.case.with_lines(file, [*lines[:first], *rest])


@kind("a lap of a beam missing", matters="always")
def lap_missing(setting: Setting) -> Case | None:
    if not setting.laser:
        return None
    return pass_missing(setting)


@kind("the same depth in one pass less", matters="always")
def passes_merged(setting: Setting) -> Case | None:
    """All but the last time round each contour of a section left out: full depth in one go."""
    file = setting.file()
    row_of = {one.number: one for one in setting.case.machine.cutter}
    if setting.laser or setting.case.layout.height < 2 * min(
        (row.depth_per_pass or 0.0)
        for one in row_of.values()
        for row in one.feed
        if row.material == setting.case.layout.board.material
    ):
        return None
    lines = setting.case.files[file]
    choices = []
    for moves in section_moves(setting, file, _OUTER):
        cuts = [one for one in moves if one.motion > 0]
        if not cuts:
            continue
        deepest = min(one.end[2] for one in cuts)
        shallow = [one for one in cuts if one.along and one.end[2] > deepest + 1e-9]
        level = [one for one in cuts if one.along and one.start[2] <= deepest + 1e-9 >= one.end[2]]
        if len(shallow) > 3 and len(level) > 3:
            choices.append((cuts, deepest))
    if not choices:
        return None
    cuts, deepest = setting.chance.choice(choices)
    new = list(lines)
    for one in cuts:
        if "Z" in one.words and one.along:
            new[one.number] = changed(new[one.number], "Z", setting.written(deepest))
    return setting.case.with_lines(file, new)


@kind("a stretch between two lifts dropped")
def lift_dropped(setting: Setting) -> Case | None:
    """What is cut between two lifts of the cutter: a finishing pass, a ring, a rough pass."""
    file = setting.file()
    lines = setting.case.files[file]
    blocks = []
    for moves in section_moves(setting, file, ("pocket", "outside cut", "inside cut", "bore")):
        lifts = [one for one in moves if one.motion == 0 and one.end[2] > one.start[2]]
        ends = [moves[0].number, *(one.number + 1 for one in lifts)]
        blocks += list(pairwise(ends))[1:] if len(ends) > 2 else []
    if setting.laser or not blocks:
        return None
    first, last = setting.chance.choice(blocks)
    return setting.case.with_lines(file, lines[:first] + lines[last:])


@kind("ways over a pocket's floor dropped")
def floor_dropped(setting: Setting) -> Case | None:
    file = setting.file()
    lines = setting.case.files[file]
    rows = [one.number for moves in section_moves(setting, file, ("pocket",)) for one in moves if one.motion > 0]
    if len(rows) < 6:
        return None
    at = setting.chance.randrange(len(rows) - 4)
    return setting.case.with_lines(file, lines[: rows[at]] + lines[rows[at + 3] :])


@kind("wrong side")
def wrong_side(setting: Setting) -> Case | None:
    """The last time round an outline a cutter's diameter to the other side: inside the part."""
    file = setting.file()
    program = next(one for one in setting.case.programs if one.file == file)
    options = section_moves(setting, file, ("outside cut", "inside cut"))
    if not options:
        return None
    moves = setting.chance.choice(options)
    cuts = [one for one in moves if one.motion > 0 and one.along]
    if not cuts:
        return None
    deepest = min(one.end[2] for one in cuts)
    level = [one for one in cuts if one.motion == 1 and one.start[2] <= deepest + 1e-9 >= one.end[2]]
    long = [one for one in level if math.dist(one.start[:2], one.end[:2]) * setting.unit > 5]
    if not long:
        return None
    one = setting.chance.choice(long)
    (x0, y0, _), (x1, y1, _) = one.start, one.end
    length = math.dist((x0, y0), (x1, y1))
    radius = max(cutter.radius for cutter in program.cutters)
    across = setting.mm(2 * radius) / length
    middle = shapely.Point(
        (x0 + x1) / 2 * setting.unit + program.origin[0], (y0 + y1) / 2 * setting.unit + program.origin[1]
    )
    towards = min(
        (-1, 1),
        key=lambda side: min(
            placement.polygon.distance(
                shapely.Point(
                    middle.x - side * (y1 - y0) / length * radius, middle.y + side * (x1 - x0) / length * radius
                )
            )
            for placement in setting.case.layout.placements
        ),
    )
    dx, dy = -towards * (y1 - y0) * across, towards * (x1 - x0) * across
    lines = setting.case.files[file]
    new = [
        f"G1 X{setting.written(x0 + dx)} Y{setting.written(y0 + dy)}",
        f"G1 X{setting.written(x1 + dx)} Y{setting.written(y1 + dy)}",
        f"G1 X{setting.written(x1)} Y{setting.written(y1)}",
    ]
    return setting.case.with_lines(file, [*lines[: one.number], *new, *lines[one.number + 1 :]])


@kind("lead-in moved")
def lead_in_moved(setting: Setting) -> Case | None:
    """Where a cut begins moved 8 mm, and a straight way from there."""
    file = setting.file()
    lines = list(setting.case.files[file])
    options = []
    for moves in section_moves(setting, file, ("outside cut", "inside cut")):
        first = next((number for number, one in enumerate(moves) if one.motion > 0 and one.along), None)
        if first is not None and first > 0 and moves[0].motion == 0 and {"X", "Y"} <= set(moves[0].words):
            options.append((moves[0], moves[first], moves[first + 1] if first + 1 < len(moves) else None))
    if not options:
        return None
    begin, lead, after = setting.chance.choice(options)
    angle = setting.chance.uniform(0, 2 * math.pi)
    x = setting.written(begin.end[0] + setting.mm(8) * math.cos(angle))
    y = setting.written(begin.end[1] + setting.mm(8) * math.sin(angle))
    lines[begin.number] = changed(changed(lines[begin.number], "X", x), "Y", y)
    rest = [(a, b) for a, b in words_of(lines[lead.number]) if a in "ZSF"]
    place = f"G1 X{setting.written(lead.end[0])} Y{setting.written(lead.end[1])}"
    lines[lead.number] = " ".join([place, *(f"{a}{b}" for a, b in rest)])
    if after is not None and "G" not in after.words:
        lines[after.number] = f"G{after.motion} {lines[after.number]}"
    return setting.case.with_lines(file, lines)


def _all_heights(setting: Setting, mm: float) -> Case | None:
    file = setting.file()
    if setting.laser:
        return None
    lines, top = list(setting.case.files[file]), setting.top(file)
    for one in moves_of(lines):
        if "Z" in one.words and float(one.words["Z"]) < top - 1e-9:
            new = setting.written(float(one.words["Z"]) + setting.mm(mm))
            lines[one.number] = changed(lines[one.number], "Z", new)
    return setting.case.with_lines(file, lines)


@kind("all cuts lower by 0.05 mm", matters="always")
def all_lower(setting: Setting) -> Case | None:
    return _all_heights(setting, -0.05)


@kind("all cuts higher by 0.05 mm", matters="always")
def all_higher(setting: Setting) -> Case | None:
    return _all_heights(setting, 0.05)


@kind("cut into the spoilboard")
def too_deep(setting: Setting) -> Case | None:
    file = setting.file()
    rows = [one for one in setting.cuts(file) if "Z" in one.words]
    if setting.laser or not rows:
        return None
    deepest = min(one.end[2] for one in rows)
    one = setting.chance.choice([one for one in rows if one.end[2] <= deepest + 1e-9])
    lines = list(setting.case.files[file])
    lines[one.number] = changed(lines[one.number], "Z", setting.written(deepest - setting.mm(0.4)))
    return setting.case.with_lines(file, lines)
