"""Mutants of how the machine is run: spindle, beam, feeds, dwells, cutters, heights, what stands on the board."""

from __future__ import annotations

import re
from collections.abc import Callable

import shapely

from tests.proof.mutants.cases import Case
from tests.proof.mutants.edits import changed, moves_of, words_of
from tests.proof.mutants.kinds import Setting, kind


def _rows(setting: Setting, file: str, pattern: str) -> list[int]:
    return [row for row, line in enumerate(setting.case.files[file]) if re.search(pattern, line)]


def _at(pattern: str, by: str | None, *, laser: bool | None = None) -> Callable[[Setting], Case | None]:
    """Replace a pattern on one line that has it; with None the line is dropped."""

    def spoil(setting: Setting) -> Case | None:
        if laser is not None and setting.laser != laser:
            return None
        file = setting.file()
        rows = _rows(setting, file, pattern)
        if not rows:
            return None
        row, lines = setting.chance.choice(rows), list(setting.case.files[file])
        if by is None:
            del lines[row]
        else:
            lines[row] = re.sub(pattern, by, lines[row])
        return setting.case.with_lines(file, lines)

    return spoil


kind("spindle switched off in its place", matters="always")(_at(r"\bM[34]\b", "M5", laser=False))
kind("dwell lost", matters="always")(_at(r"^G4 ", None, laser=False))
kind("dwell a tenth", matters="always")(_at(r"^G4 P(\d+)$", r"G4 P0.\1", laser=False))
kind("length of no cutter", matters="always")(_at(r"^G43", None))
kind("length of another cutter", matters="always")(_at(r"^G43 H(\d+)$", r"G43 H1\1"))
kind("halt lost", matters="always")(_at(r"^M0$", None))
kind("beam of a higher power", matters="always")(_at(r"S1000", "S2000", laser=True))
kind("beam too weak", matters="always")(_at(r"S1000", "S500", laser=True))
kind("a mark burned through", matters="always")(_at(r"S[23]\d\d F3000", "S1000 F300", laser=True))
kind("beam left on")(_at(r"^M5$", None, laser=True))
kind("S0 lost where the beam comes on")(_at(r"^S0 (M[34])$", r"\1", laser=True))


@kind("spindle not switched on", matters="always")
def never_on(setting: Setting) -> Case | None:
    """All lines that switch it on, between one stop and the next: each part's section does so again."""
    file = setting.file()
    lines = setting.case.files[file]
    rows = _rows(setting, file, r"^(S\S+ )?M[34]$")
    if setting.laser or not rows:
        return None
    chosen = setting.chance.choice(rows)
    stops = [row for row, line in enumerate(lines) if re.match(r"M(5|0|30|2)$", line)]
    first = max((row for row in stops if row < chosen), default=-1)
    last = min((row for row in stops if row > chosen), default=len(lines))
    gone = {row for row in rows if first < row < last}
    return setting.case.with_lines(file, [line for row, line in enumerate(lines) if row not in gone])


@kind("spindle turns the wrong way", matters="always")
def wrong_way(setting: Setting) -> Case | None:
    file = setting.file()
    rows = _rows(setting, file, r"\bM[34]\b")
    if setting.laser or not rows:
        return None
    row, lines = setting.chance.choice(rows), list(setting.case.files[file])
    lines[row] = re.sub(r"\bM([34])\b", lambda found: f"M{7 - int(found[1])}", lines[row])
    return setting.case.with_lines(file, lines)


@kind("spindle slow", matters="always")
def spindle_slow(setting: Setting) -> Case | None:
    file = setting.file()
    rows = _rows(setting, file, r"^S\d+ M[34]$")
    if setting.laser or not rows:
        return None
    row, lines = setting.chance.choice(rows), list(setting.case.files[file])
    lines[row] = changed(lines[row], "S", f"{float(dict(words_of(lines[row]))['S']) / 2:g}")
    return setting.case.with_lines(file, lines)


@kind("wrong cutter", matters="always")
def wrong_cutter(setting: Setting) -> Case | None:
    file = setting.file()
    rows = _rows(setting, file, r"^T\d+ M6$")
    if not rows:
        return None
    row, lines = setting.chance.choice(rows), list(setting.case.files[file])
    tool = int(dict(words_of(lines[row]))["T"])
    other = setting.chance.choice([one.number for one in setting.case.machine.cutter if one.number != tool])
    lines[row] = f"T{other} M6"
    if lines[row + 1].startswith("G43"):
        lines[row + 1] = f"G43 H{other}"
    return setting.case.with_lines(file, lines)


def _feeds(factor: float) -> Callable[[Setting], Case | None]:
    def spoil(setting: Setting) -> Case | None:
        file = setting.file()
        lines = list(setting.case.files[file])
        rows = [row for row, line in enumerate(lines) if "F" in dict(words_of(line))]
        row = setting.chance.choice(rows)
        feed = float(dict(words_of(lines[row]))["F"])
        lines[row] = changed(lines[row], "F", f"{feed * factor:g}")
        return setting.case.with_lines(file, lines)

    return spoil


kind("feed x 10")(_feeds(10))
kind("feed x 1.3")(_feeds(1.3))
kind("feed / 10, of a beam")(lambda setting: _feeds(0.1)(setting) if setting.laser else None)
kind("feed nought")(_feeds(0))


@kind("plunge at the feed along")
def plunge_fast(setting: Setting) -> Case | None:
    """Feeds of ways straight down that end in the wood made those of cuts along it."""
    file = setting.file()
    lines = list(setting.case.files[file])
    moves = [one for one in setting.cuts(file) if not one.along and one.end[2] < one.start[2]]
    along = [one.feed for one in setting.cuts(file) if one.along]
    if setting.laser or not moves or not along:
        return None
    one = setting.chance.choice(moves)
    kept = "" if "F" in one.words else f" F{max(along):g}"
    lines[one.number] = changed(lines[one.number], "F", f"{max(along):g}") + kept
    return setting.case.with_lines(file, lines)


@kind("a ramp as steep as a plunge")
def ramp_short(setting: Setting) -> Case | None:
    """A way down made a straight plunge at the feed along."""
    file = setting.file()
    moves = [one for one in setting.cuts(file) if one.motion == 1 and one.along and one.end[2] < one.start[2]]
    if setting.laser or not moves:
        return None
    one = setting.chance.choice(moves)
    lines = list(setting.case.files[file])
    z = one.words["Z"]
    rest = " ".join(f"{a}{b}" for a, b in words_of(lines[one.number]) if a not in "ZG")
    lines[one.number : one.number + 1] = [f"G1 Z{z}", f"G1 {rest}"]
    return setting.case.with_lines(file, lines)


@kind("rapid lowered")
def rapid_lowered(setting: Setting) -> Case | None:
    file = setting.file()
    top = setting.top(file)
    moves = [one for one in moves_of(setting.case.files[file]) if one.motion == 0 and "Z" in one.words]
    if setting.laser or not moves:
        return None
    one = setting.chance.choice(moves)
    lines = list(setting.case.files[file])
    low = setting.written(top - setting.mm(setting.chance.choice((0.5, 2, 5))))
    lines[one.number] = changed(lines[one.number], "Z", low)
    return setting.case.with_lines(file, lines)


@kind("rapid for a feed")
def rapid_for_feed(setting: Setting) -> Case | None:
    file = setting.file()
    rows = [one.number for one in setting.cuts(file) if one.motion == 1]
    row, lines = setting.chance.choice(rows), list(setting.case.files[file])
    words = [(a, b) for a, b in words_of(lines[row]) if a not in "GF"]
    lines[row] = "G0 " + " ".join(f"{a}{b}" for a, b in words)
    # The next line goes on with a feed.
    if "G" not in dict(words_of(lines[row + 1])) and re.match(r"[XYZ]", lines[row + 1]):
        lines[row + 1] = f"G1 {lines[row + 1]}"
    return setting.case.with_lines(file, lines)


@kind("air moves too low")
def air_low(setting: Setting) -> Case | None:
    """Every air move of a file 5 mm lower than planned, where something stands that high on the board."""
    layout = setting.case.layout
    if not layout.board.tallest > 0 and not layout.hold_downs:
        return None
    file = setting.file()
    lines, top = list(setting.case.files[file]), setting.top(file)
    safe = max(one.end[2] for one in moves_of(lines) if one.motion == 0)
    for one in moves_of(lines):
        if one.motion == 0 and one.words.get("Z") and float(one.words["Z"]) >= safe - 1e-9:
            lines[one.number] = changed(lines[one.number], "Z", setting.written(top + (safe - top) / 2))
    return setting.case.with_lines(file, lines)


def _visit(setting: Setting, at: tuple[float, float]) -> Case | None:
    """Put a short cut at a place of the board before some section of a file."""
    file = setting.file()
    program = next(one for one in setting.case.programs if one.file == file)
    lines, top = setting.case.files[file], setting.top(file)
    x, y = (setting.written(setting.mm(value - zero)) for value, zero in zip(at, program.origin, strict=True))
    if setting.laser:
        rows = [row for row, line in enumerate(lines) if line.startswith("(") and lines[row + 1] == "M5"]
        words = [line for line in lines if re.search(r"S1000", line)]
        code = next(line for line in lines if line.startswith("S0"))
        del words
        other = setting.written(setting.mm(at[0] - program.origin[0]) + setting.mm(2))
        new = ["M5", f"G0 X{x} Y{y}", code, f"G1 X{other} Y{y} S1000 F300"]
    else:
        moves = moves_of(lines)
        safe = max(one.end[2] for one in moves if one.motion == 0)
        rows = [
            one.number + 1
            for one in moves
            if one.motion == 0 and one.end[2] >= safe - 1e-9 and lines[one.number + 1].startswith("(")
        ]
        feed = min(one.feed for one in moves if one.motion > 0)
        low, high = setting.written(top - setting.mm(1)), setting.written(safe)
        new = [f"G0 X{x} Y{y}", f"G0 Z{setting.written(top + setting.mm(1))}", f"G1 Z{low} F{feed:g}", f"G0 Z{high}"]
    if not rows:
        return None
    row = setting.chance.choice(rows)
    return setting.case.with_lines(file, [*lines[:row], *new, *lines[row:]])


@kind("clamp or knot crossed", matters="always")
def into_keep_out(setting: Setting) -> Case | None:
    areas = [one.area for one in setting.case.layout.board.keep_outs]
    if not areas:
        return None
    area = shapely.Polygon(setting.chance.choice(areas).points(0.01))
    return _visit(setting, area.representative_point().coords[0])


@kind("screw crossed", matters="always")
def into_screw(setting: Setting) -> Case | None:
    """A cut at the rim of a screw's head, in a file whose screws are in."""
    case = setting.case
    if not case.layout.hold_downs:
        return None
    down = setting.chance.choice(case.layout.hold_downs)
    spoiled = _visit(setting, (down.at[0] + down.head, down.at[1]))
    if spoiled is None:
        return None
    file = next(name for name, lines in spoiled.files.items() if lines is not case.files[name])
    program = next(one for one in case.programs if one.file == file)
    if down.window is not None and down.window != program.window:
        return None
    return spoiled


@kind("cut into the waste far off the board", matters="always")
def off_board(setting: Setting) -> Case | None:
    x0, _, _, _ = setting.case.layout.board.outline.bounds
    return _visit(setting, (x0 - 60.0, 20.0)) if setting.case.layout.windows == () else None


@kind("a part burned or bored in its middle")
def into_a_part(setting: Setting) -> Case | None:
    placement = setting.chance.choice(setting.case.layout.placements)
    return _visit(setting, placement.polygon.representative_point().coords[0])
