"""A plain reader of the few G-code words cutjob writes, for the tests; written from NISTIR 6556 and sharing no code."""

import math
import re
from dataclasses import dataclass, field

_WORD = re.compile(r"([A-Z])([+-]?\d+(?:\.\d+)?|[+-]?\.\d+)")


@dataclass
class Read:
    """Points of the path in mm, each (mode, x, y, z, feed in mm/min, power, beam or spindle word)."""

    path: list = field(default_factory=list)
    words: list = field(default_factory=list)  # (line number, letter, value)
    events: list = field(default_factory=list)  # words of interest in order, such as "G21", "M3", "move"


def strip_comment(line):
    if line.startswith("("):
        assert line.endswith(")")
        assert line.count("(") == line.count(")") == 1, line
        return ""
    return "" if line.startswith(";") else line


def read(data, *, limit_mm=0.002, limit_in=0.0002):
    made, factor, mode = Read(), None, None
    at = {"X": 0.0, "Y": 0.0, "Z": 0.0}
    feed = power = 0.0
    turning = "M5"
    for number, line in enumerate(data.decode("ascii").split("\n"), start=1):
        code = strip_comment(line)
        if code in ("", "%"):
            continue
        found = _WORD.findall(code.replace(" ", ""))
        assert "".join(letter + value for letter, value in found) == code.replace(" ", ""), line
        letters = [letter for letter, _ in found]
        assert len(set(letters)) == len(letters), line
        words = {letter: float(value) for letter, value in found}
        made.words += [(number, letter, value) for letter, value in found]
        if "T" in words:
            made.events.append(f"T{words['T']:g}")
            # NISTIR 6556, 3.6.3: M6 leaves the spindle stopped. Where the tool is after it the file can't know.
            turning, at = "M5", {"X": None, "Y": None, "Z": None}
        if "G" in words:
            made.events.append(f"G{words['G']:g}")
            if words["G"] in (20, 21):
                assert len(words) == 1
                factor = 25.4 if words["G"] == 20 else 1.0
            if words["G"] in (0, 1, 2, 3):
                mode = int(words["G"])
        if "F" in words:
            feed = words["F"] * factor
        power = words.get("S", power)
        if "M" in words:
            made.events.append(f"M{words['M']:g}")
            if words["M"] == 0:
                # NISTIR 6556, 3.6.1: the program waits; whoever stands at the machine may move the tool meanwhile.
                assert turning == "M5"
                at = {"X": None, "Y": None, "Z": None}
            turning = f"M{words['M']:g}" if words["M"] in (3, 4, 5) else turning
        if not words.keys() & {"X", "Y", "Z"}:
            continue
        made.events.append("move")
        target = at | {letter: words[letter] for letter in "XYZ" if letter in words}
        if mode in (2, 3):
            limit = limit_mm if factor == 1 else limit_in
            _arc(made, at, target, words, mode, factor, limit, (feed, power, turning))
        else:
            _point(made, mode, target, factor, (feed, power, turning))
        at = target
    return made


def _point(made, mode, at, factor, state):
    """A place that isn't known is None: Z alone may be known, but nothing is cut or crossed without it."""
    assert at["Z"] is not None or at["X"] is at["Y"] is None
    assert mode == 0 or None not in at.values()
    made.path.append((mode, *(None if at[letter] is None else at[letter] * factor for letter in "XYZ"), *state))


def _arc(made, at, target, words, mode, factor, limit, state):
    assert {"X", "Y", "I", "J"} <= words.keys()
    cx, cy = at["X"] + words["I"], at["Y"] + words["J"]
    first, second = math.hypot(words["I"], words["J"]), math.hypot(target["X"] - cx, target["Y"] - cy)
    assert abs(first - second) <= limit
    assert (target["X"], target["Y"]) != (at["X"], at["Y"])
    start, end = math.atan2(at["Y"] - cy, at["X"] - cx), math.atan2(target["Y"] - cy, target["X"] - cx)
    sweep = (end - start) % (2 * math.pi) if mode == 3 else -((start - end) % (2 * math.pi))
    count = max(2, math.ceil(abs(sweep) / 0.02))
    for step in range(1, count + 1):
        share = step / count
        angle, radius = start + sweep * share, first + (second - first) * share
        place = {
            "X": cx + radius * math.cos(angle),
            "Y": cy + radius * math.sin(angle),
            "Z": at["Z"] + (target["Z"] - at["Z"]) * share,
        }
        _point(made, mode, place, factor, state)
