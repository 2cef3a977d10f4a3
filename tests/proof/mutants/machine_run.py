"""The lines of a program run by a small machine of its own: what the oracle knows of G-code. mm, board's frame.

It knows the words our writer uses and the few that mutants put in their place; anything else it calls unreadable. It
shares nothing with the reader of the proof.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import NamedTuple

Point3 = tuple[float, float, float]
_WORD = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))")
_COMMENT = re.compile(r"\([^()]*\)|;.*")
_RADII = 0.0025  # mm by which the ends of an arc may lie unequally far from its centre before a controller stops
_LETTERS = "GMTSFHPXYZIJ"
_MODES = {"G20", "G21", "G17", "G90", "G94"}


class Step(NamedTuple):
    """One motion: `arc` is the centre and the signed angle turned, None for a line. `rapid` ones have no feed."""

    start: Point3
    end: Point3
    arc: tuple[float, float, float] | None
    rapid: bool
    feed: float
    spindle: int
    speed: float
    tool: int
    length: int
    warm: float  # seconds waited since the spindle was started


@dataclass(frozen=True)
class Run:
    """What a file does: its motions, the modes said before the first, whether it ends, where it halts, and why it
    can't be run (empty: it can).
    """

    steps: tuple[Step, ...]
    modes: frozenset[str]
    ended: bool
    halts: tuple[int, ...]
    broken: str = ""


@dataclass
class _State:
    at: list[float]
    motion: int | None = None
    scale: float = 1.0
    spindle: int = 0
    speed: float = 0.0
    feed: float = 0.0
    tool: int = 0
    length: int = 0
    warm: float = 0.0
    modes: set[str] = field(default_factory=set)


def run(lines: list[str], *, origin: tuple[float, float], top: float, milliseconds: bool) -> Run:
    """Run a file whose zero lies at `origin` of the board, with the stock's top at its Z `top`."""
    state = _State([math.nan, math.nan, math.nan])
    steps: list[Step] = []
    halts: list[int] = []
    ended, modes = False, frozenset[str]()
    shift = (origin[0], origin[1], -top)
    for number, line in enumerate(lines, start=1):
        text = _COMMENT.sub("", line).replace(" ", "").strip()
        if text in ("", "%"):
            continue
        words = _WORD.findall(text)
        known = all(letter in _LETTERS for letter, _ in words)
        if "".join(letter + value for letter, value in words) != text or not known or ended:
            return Run(tuple(steps), modes, ended, tuple(halts), f"line {number} is not understood")
        try:
            _modes(state, words)
            step = _motion(state, words, shift)
        except ValueError as problem:
            return Run(tuple(steps), modes, ended, tuple(halts), f"line {number}: {problem}")
        if step is not None:
            modes = modes or frozenset(state.modes)
            steps.append(step)
        for letter, value in words:
            if letter == "M" and float(value) in (2, 30):
                ended = True
            elif letter == "M" and float(value) == 0:
                halts.append(len(steps))
            elif letter == "P":
                state.warm += float(value) * (0.001 if milliseconds else 1.0)
    return Run(tuple(steps), modes, ended, tuple(halts))


def _modes(state: _State, words: list[tuple[str, str]]) -> None:
    for letter, text in words:
        value = float(text)
        name = f"{letter}{value:g}"
        if name in ("G0", "G1", "G2", "G3"):
            state.motion = int(value)
        elif name in ("G20", "G21"):
            state.scale = 25.4 if name == "G20" else 1.0
        elif letter == "G" and name not in (*_MODES, "G4", "G43", "G40", "G49", "G80"):
            raise ValueError(f"{name} is not known")
        elif letter == "F":
            state.feed = value * state.scale
        elif letter == "S":
            if value != state.speed:
                state.warm = 0.0
            state.speed = value
        elif letter == "T":
            state.tool, state.length, state.spindle = int(value), 0, 0
        elif letter == "H":
            state.length = int(value)
        elif name in ("M3", "M4", "M5"):
            turning = {"M3": 1, "M4": -1, "M5": 0}[name]
            if turning != state.spindle:
                state.warm = 0.0
            state.spindle = turning
        elif letter == "M" and name not in ("M0", "M2", "M6", "M30"):
            raise ValueError(f"{name} is not known")
        if name in _MODES:
            state.modes.add(name)


def _motion(state: _State, words: list[tuple[str, str]], shift: Point3) -> Step | None:
    given = {letter: float(text) * state.scale for letter, text in words if letter in "XYZIJ"}
    if not given:
        return None
    if state.motion is None:
        raise ValueError("a place without a motion")
    start = list(state.at)
    for axis, letter in enumerate("XYZ"):
        if letter in given:
            state.at[axis] = given[letter] + shift[axis]
    arc = None
    if state.motion in (2, 3):
        if not {"I", "J"} & set(given):
            raise ValueError("an arc without a centre")
        cx, cy = start[0] + given.get("I", 0.0), start[1] + given.get("J", 0.0)
        arc = (cx, cy, _angle(start, state.at, cx, cy, clockwise=state.motion == 2))
    elif {"I", "J"} & set(given):
        raise ValueError("a centre without an arc")
    return Step(
        (start[0], start[1], start[2]), (state.at[0], state.at[1], state.at[2]), arc, state.motion == 0,
        state.feed if state.motion else 0.0, state.spindle, state.speed, state.tool, state.length, state.warm,
    )  # fmt: skip


def _angle(start: list[float], end: list[float], cx: float, cy: float, *, clockwise: bool) -> float:
    first, last = math.dist(start[:2], (cx, cy)), math.dist(end[:2], (cx, cy))
    if math.isnan(first) or abs(first - last) > _RADII or min(first, last) < _RADII:
        raise ValueError("an arc whose ends lie unequally far from its centre")
    turn = math.atan2(end[1] - cy, end[0] - cx) - math.atan2(start[1] - cy, start[0] - cx)
    if math.dist(start[:2], end[:2]) < 1e-9:
        turn = 0.0
    turn %= 2 * math.pi
    if clockwise:
        return turn - 2 * math.pi
    return turn if turn > 0 else 2 * math.pi
