"""Mutants of tabs: dropped, added, too low or high, too thin or wide."""

from __future__ import annotations

import math

from tests.proof.mutants.cases import Case
from tests.proof.mutants.edits import Line, changed, words_of
from tests.proof.mutants.kinds import Setting, kind
from tests.proof.mutants.kinds_of_sections import section_moves

_OUTER = ("outside cut",)


def _tab_rises(setting: Setting, file: str) -> list[tuple[Line, list[Line], Line]]:
    """Ways up onto a tab, what runs over it, and the way down again."""
    found = []
    for moves in section_moves(setting, file, _OUTER):
        for number, one in enumerate(moves):
            if one.motion == 0 or one.along or not one.start[2] < one.end[2] < setting.top(file):
                continue
            over = []
            for two in moves[number + 1 :]:
                if not two.along and two.end[2] < two.start[2]:
                    found.append((one, over, two))
                    break
                if "Z" in two.words:
                    break
                over.append(two)
    return found


@kind("tab dropped")
def tab_dropped(setting: Setting) -> Case | None:
    file = setting.file()
    tabs = _tab_rises(setting, file)
    if not tabs:
        return None
    up, _, down = setting.chance.choice(tabs)
    lines = list(setting.case.files[file])
    # The feed along is said after a way straight up or down.
    feed = max(one.feed for one in setting.cuts(file) if one.along)
    for row in (down.number, up.number):
        lines[row : row + 1] = []
    return setting.case.with_lines(file, _with_feed(lines, up.number, feed))


def _with_feed(lines: list[str], row: int, feed: float) -> list[str]:
    if "F" not in dict(words_of(lines[row])) and words_of(lines[row]):
        lines[row] += f" F{feed:g}"
    return lines


def _tab_height(setting: Setting, mm: float) -> Case | None:
    file = setting.file()
    tabs = _tab_rises(setting, file)
    if not tabs:
        return None
    up, _, _ = setting.chance.choice(tabs)
    lines = list(setting.case.files[file])
    lines[up.number] = changed(lines[up.number], "Z", setting.written(up.end[2] + setting.mm(mm)))
    return setting.case.with_lines(file, lines)


@kind("tab too low")
def tab_low(setting: Setting) -> Case | None:
    return _tab_height(setting, -1.0)


@kind("tab too high")
def tab_high(setting: Setting) -> Case | None:
    return _tab_height(setting, 1.0)


def _tab_end(setting: Setting, mm: float) -> Case | None:
    """Where the cutter goes down behind a tab moved along a straight line: a narrower tab or a wider one."""
    file = setting.file()
    tabs = [tab for tab in _tab_rises(setting, file) if len(tab[1]) == 1 and tab[1][0].motion == 1]
    if not tabs:
        return None
    _, (over,), _ = setting.chance.choice(tabs)
    (x0, y0, _), (x1, y1, _) = over.start, over.end
    length = math.dist((x0, y0), (x1, y1))
    share = 1 - setting.mm(mm) / length
    lines = list(setting.case.files[file])
    line = lines[over.number]
    for letter, a, b in (("X", x0, x1), ("Y", y0, y1)):
        if letter in over.words:
            line = changed(line, letter, setting.written(a + (b - a) * share))
    lines[over.number] = line
    return setting.case.with_lines(file, lines)


@kind("tab too thin")
def tab_thin(setting: Setting) -> Case | None:
    return _tab_end(setting, 1.5)


@kind("tab too wide")
def tab_wide(setting: Setting) -> Case | None:
    return _tab_end(setting, -1.5)


@kind("tab added")
def tab_added(setting: Setting) -> Case | None:
    """The cutter lifted 2 mm over a stretch of a straight line at full depth."""
    file = setting.file()
    choices = []
    for moves in section_moves(setting, file, _OUTER):
        cuts = [one for one in moves if one.motion == 1 and one.along]
        deepest = min((one.end[2] for one in cuts), default=0.0)
        choices += [
            one
            for one in cuts
            if one.start[2] <= deepest + 1e-9 >= one.end[2]
            and math.dist(one.start[:2], one.end[:2]) * setting.unit > 25
        ]
    if setting.laser or not choices:
        return None
    one = setting.chance.choice(choices)
    (x0, y0, z), (x1, y1, _) = one.start, one.end
    half = setting.mm(8) / math.dist((x0, y0), (x1, y1))
    places = [(x0 + (x1 - x0) * share, y0 + (y1 - y0) * share) for share in (0.5 - half, 0.5 + half)]
    (ax, ay), (bx, by) = ((setting.written(x), setting.written(y)) for x, y in places)
    lines = setting.case.files[file]
    high, low = setting.written(z + setting.mm(2)), setting.written(z)
    plunge = min(two.feed for two in setting.cuts(file) if two.feed)
    new = [
        f"G1 X{ax} Y{ay}",
        f"G1 Z{high}",
        f"G1 X{bx} Y{by}",
        f"G1 Z{low} F{plunge:g}",
        f"G1 X{setting.written(x1)} Y{setting.written(y1)} F{one.feed:g}",
    ]
    return setting.case.with_lines(file, [*lines[: one.number], *new, *lines[one.number + 1 :]])
