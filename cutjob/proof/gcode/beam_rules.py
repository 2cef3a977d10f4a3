"""Rules about a laser: no heights, the beam on in every cut at a power the profile knows, and off on every rapid.

Also decides from a beam's power and feed whether a motion cuts right through or marks. S words, mm/min.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from cutjob.job.machine import Feed
from cutjob.proof import limits
from cutjob.proof.finding import Finding, Severity
from cutjob.proof.gcode.file_case import HAIR, FileCase


def is_mark(row: Feed, *, power: float, feed: float) -> bool:
    """Whether a motion with the beam at `power` marks, by the row of the feed table; else it cuts through.

    Marks have less power than cuts or, at the same power, a faster feed.
    """
    cut = row.power or 0.0
    mark = cut if row.mark_power is None else row.mark_power
    if mark + 2 * limits.POWER_ROUNDING < cut:
        return power <= mark + limits.POWER_ROUNDING
    return row.mark_feed is not None and row.mark_feed > row.feed and feed > (row.feed + row.mark_feed) / 2


_ROOMY = 60  # characters; on shorter lines, power and feed may have to be on lines before their motion


def no_height(case: FileCase) -> Iterator[Finding]:
    """A laser's file moves in the plane only."""
    for motion in case.reading.motions:
        if abs(motion.end[2] - motion.start[2]) > HAIR:
            yield case.error("height", "a Z motion in a laser's file", motion)


def beam_on_in_cuts(case: FileCase) -> Iterator[Finding]:
    """G1, G2 and G3 run with the beam on, by the code the controller knows."""
    wanted = -1 if case.machine.controller.beam == "follows speed" else 1
    for motion in case.reading.motions:
        if motion.kind == "rapid":
            continue
        if motion.spindle == 0 or motion.speed <= 0:
            yield case.error("beam", "a cut with the beam off", motion)
        elif motion.spindle != wanted:
            code = "M4" if wanted < 0 else "M3"
            yield case.error("beam", f"a cut with the beam not switched on by {code}", motion)


def beam_off_on_rapids(case: FileCase) -> Iterator[Finding]:
    """Rapids run with the beam switched off (M5 or S0), not left to the controller."""
    for motion in case.reading.motions:
        if motion.kind == "rapid" and motion.spindle != 0 and motion.speed > 0:
            yield case.error("beam", "a rapid with the beam on", motion)


def beam_stated(case: FileCase) -> Iterator[Finding]:
    """The file states before its first motion that the beam is off; it doesn't rely on the machine's last state."""
    reading = case.reading
    if reading.motions and not any(event.kind == "spindle" and event.motions == 0 for event in reading.events):
        message = "the file moves before it has switched the beam off (M5)"
        severity: Severity = "error" if case.planned else "warning"
        yield case.error("beam", message, reading.motions[0], severity=severity)


def beam_off_at_end(case: FileCase) -> Iterator[Finding]:
    """The beam is switched off before the program ends."""
    events = case.reading.events
    last = next((event for event in reversed(events) if event.kind == "spindle"), None)
    if case.reading.motions and last is not None and last.value != 0:
        yield case.error("beam", "the beam is not switched off (M5) before the program ends", line=last.line)


def beam_placed(case: FileCase) -> Iterator[Finding]:
    """Nothing is burned before the file has stated the beam's place in X and Y."""
    motions = case.reading.motions
    for motion in (motions[index] for index in case.reading.unplaced):
        if motion.kind != "rapid" and motion.spindle != 0 and motion.speed > 0:
            message = "the beam comes on before the file has stated its place in X and Y (in absolute mode)"
            yield case.error("beam", message, motion)


def beam_power(case: FileCase) -> Iterator[Finding]:
    """S is at most full power and, where the feed table is known, its power for a cut or a mark."""
    full, feed = case.machine.controller.greatest_power, case.feed_of(0)
    known = [value for value in (feed.power, feed.mark_power) if value] if feed is not None else []
    seen: set[float] = set()
    for motion in case.reading.motions:
        if motion.spindle == 0 or motion.speed == 0 or motion.speed in seen:
            continue
        seen.add(motion.speed)
        if motion.speed > full + limits.POWER_ROUNDING:
            message = f"S{motion.speed:g} is more than the full power {full:g}"
            yield case.error("beam", message, motion, measured=motion.speed, limit=full)
        elif known and not any(abs(motion.speed - value) <= limits.POWER_ROUNDING for value in known):
            wanted = " or ".join(f"{value:g}" for value in known)
            yield case.error("beam", f"S{motion.speed:g} is not a power of the feed table ({wanted})", motion)


def air_assist(case: FileCase) -> Iterator[Finding]:
    """Air is switched on and off for cuts and marks as the profile says, by its codes, and off at the end."""
    wanted, row = case.machine.controller.air_assist, case.feed_of(0)
    if not wanted or row is None or row.power is None:
        return
    motions = case.reading.motions
    events = [event for event in case.reading.events if event.kind == "coolant"]
    on: frozenset[str] = frozenset()
    place = 0
    reported: set[str] = set()
    for index, motion in enumerate(motions):
        while place < len(events) and events[place].motions <= index:
            on = _air(on, events[place].value)
            place += 1
        if motion.kind == "rapid" or motion.spindle == 0 or motion.speed <= 0:
            continue
        kind: Literal["cut", "mark"] = "mark" if is_mark(row, power=motion.speed, feed=motion.feed) else "cut"
        code = wanted.get(kind)
        if on != frozenset([code] if code else []) and kind not in reported:
            reported.add(kind)
            says = (
                f"a {kind} with air by {' and '.join(sorted(on)) or 'no code'}; the profile has {code or 'none'} for it"
            )
            yield case.error("beam", says, motion)
    for event in events[place:]:
        on = _air(on, event.value)
    if on:
        yield case.error("beam", "air assist is not switched off (M9) before the program ends", line=events[-1].line)


def _air(on: frozenset[str], code: float) -> frozenset[str]:
    """What is on after a code. M7 and M8 may be on together; M9 switches both off (NISTIR 6556, 3.6.4)."""
    return frozenset() if code == 9 else on | {f"M{code:.0f}"}


def beam_standing(case: FileCase) -> Iterator[Finding]:
    """The beam never stands still: it comes up on the line of a cut, and is off in every dwell and stop."""
    motions = case.reading.motions
    spindle, speed = 0, 0.0
    for event in case.reading.events:
        before = spindle != 0
        if event.kind == "spindle":
            spindle = int(event.value)
        elif event.kind == "speed":
            speed = event.value
        elif event.kind == "tool":
            spindle = 0
        if spindle == 0 or speed <= 0:
            continue
        if event.kind in ("dwell", "stop"):
            what = "waits" if event.kind == "dwell" else "stops"
            yield case.error("beam", f"the program {what} with the beam on", line=event.line)
        elif event.kind in ("spindle", "speed"):
            follows = motions[event.motions] if event.motions < len(motions) else None
            near = follows is not None and follows.kind != "rapid" and follows.length > HAIR
            lines = _lines_apart(case) if event.kind == "speed" and before else 0
            if not near or follows is None or follows.line - event.line > lines:
                yield case.error("beam", "the beam comes on with no cut on its line", line=event.line)


def _lines_apart(case: FileCase) -> int:
    """How many lines before its cut S may be: where lines are short, S, F and the motion may each need a line."""
    return 2 if case.machine.controller.longest_line < _ROOMY else 0
