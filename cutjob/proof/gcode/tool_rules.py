"""Rules about changes of cutter: the planned ones in their order, each with its own length, at a known height.

The file doesn't say what a changer does between two lines. The cutter's place after a change, and the stickout of the
new cutter, are unknown until the file states them.

Also rules about a router's spindle: up to speed and turning the right way in the wood, stopped only clear of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from cutjob.proof import limits
from cutjob.proof.finding import Finding, Severity
from cutjob.proof.gcode.file_case import HAIR, FileCase
from cutjob.proof.gcode.reading import Event, Motion
from cutjob.tolerances import TOLERANCES

_DWELLS = re.compile(r"(?<![A-Z])G0*4P([0-9.]+)")
_WAYS = {"clockwise": 1, "counter-clockwise": -1}


def spindle_on(case: FileCase) -> Iterator[Finding]:
    """In the stock the spindle turns, in the profile's direction."""
    wanted = _WAYS[case.machine.spindle.turns]
    for number, motion in enumerate(case.reading.motions):
        # The tool's place before the first motion is not known.
        low = motion.end[2] if number == 0 and motion.kind == "rapid" else min(motion.start[2], motion.end[2])
        in_stock = low < case.stock_top - HAIR
        if not in_stock or motion.spindle == wanted or not motion.z_known:
            continue
        if motion.spindle == 0:
            yield case.error("spindle", "a motion in the stock with the spindle stopped", motion)
        else:
            yield case.error("spindle", "a motion in the stock with the spindle turning the wrong way", motion)


def time_to_speed(case: FileCase) -> Iterator[Finding]:
    """The file waits as long as the profile says between spindle on, or a new speed, and the first motion into
    the stock.
    """
    machine, reading = case.machine, case.reading
    needed = machine.spindle.seconds_to_speed
    if needed <= 0 or machine.controller.dwell == "none":
        return
    scale = 0.001 if machine.controller.dwell == "milliseconds" else 1.0
    for number in _starts(reading.events):
        event = reading.events[number]
        waited = 0.0
        end = _first_in_stock(case, event.motions)
        for later in reading.events[number + 1 :]:
            if later.motions > end or later.kind in ("spindle", "tool", "speed"):
                break
            waited += later.value * scale if later.kind == "dwell" else 0.0
        if end < len(reading.motions) and waited < needed - HAIR:
            message = f"the spindle gets {waited:.2f} s to come up to speed; the profile asks for {needed:.2f} s"
            yield case.error("dwell", message, reading.motions[end], measured=waited, limit=needed)


def waits(case: FileCase) -> Iterator[Finding]:
    """The program waits only clear of the wood (a cutter that turns on the spot burns it), and never for minutes."""
    machine, motions = case.machine, case.reading.motions
    scale = 0.001 if machine.controller.dwell == "milliseconds" else 1.0
    own = [float(word) * scale for line in case.own_lines for word in _DWELLS.findall(line)]
    longest = max(limits.LONGEST_WAIT, 2 * machine.spindle.seconds_to_speed) + sum(own)
    severity: Severity = "error" if case.planned else "warning"
    waited: dict[int, float] = {}
    for event in case.reading.events:
        if event.kind != "dwell":
            continue
        before = motions[event.motions - 1] if event.motions else None
        if before is not None and before.z_known and not before.cycle and before.end[2] < case.stock_top - HAIR:
            message = f"the program waits {event.value * scale:g} s with the cutter in the wood, which burns it"
            yield case.error("dwell", message, line=event.line, severity=severity)
        total = waited.get(event.motions, 0.0) + event.value * scale
        waited[event.motions] = total
        if total > longest + HAIR:
            message = f"the program waits {total:g} s in one place; it never needs to wait longer than {longest:g} s"
            message += "; the dwell may be in milliseconds" if machine.controller.dwell == "seconds" else ""
            yield case.error("dwell", message, line=event.line, measured=total, limit=longest, severity=severity)


def _starts(events: Sequence[Event]) -> Iterator[int]:
    """The events, by index, after which the spindle needs time: switched on, or another speed while it is on."""
    turning, speed = 0.0, 0.0
    for number, event in enumerate(events):
        if event.kind == "spindle":
            # Stated again while it turns that way, it changes nothing.
            before, turning = turning, event.value
            if turning not in (0, before):
                yield number
        elif event.kind in ("tool", "end"):
            turning = 0.0
        elif event.kind == "speed":
            if turning and event.value != speed:
                yield number
            speed = event.value


def _first_in_stock(case: FileCase, begin: int) -> int:
    motions = case.reading.motions
    return next(
        (number for number in range(begin, len(motions)) if motions[number].end[2] < case.stock_top - HAIR),
        len(motions),
    )


def spindle_speed(case: FileCase) -> Iterator[Finding]:
    """The S word is the feed table's speed, within the spindle's range; where a dial sets the speed there is none."""
    spindle, reading = case.machine.spindle, case.reading
    if not spindle.speed_word:
        if "S" in reading.letters:
            severity: Severity = "error" if case.planned else "warning"
            line = reading.first_lines.get("S")
            message = "an S word, but the spindle's speed is set by a dial"
            yield case.error("speed", message, line=line, severity=severity)
        return
    seen: set[tuple[int, float]] = set()
    for motion in reading.motions:
        if motion.spindle == 0 or (motion.tool, motion.speed) in seen:
            continue
        seen.add((motion.tool, motion.speed))
        row = case.feed_of(motion.tool)
        rpm = None if row is None else row.rpm
        if not spindle.least_rpm <= motion.speed <= spindle.greatest_rpm:
            message = f"S{motion.speed:g}: the spindle turns {spindle.least_rpm:g} to {spindle.greatest_rpm:g} rpm"
            yield case.error("speed", message, motion, measured=motion.speed)
        elif rpm is not None and abs(motion.speed - rpm) > limits.SPEED_ROUNDING:
            message = f"S{motion.speed:g}: the feed table says {rpm:g} rpm for this cutter"
            yield case.error("speed", message, motion, measured=motion.speed, limit=rpm)


def spindle_stop(case: FileCase) -> Iterator[Finding]:
    """The spindle stops, by M5, a tool change, a stop or the end of the program, only at safe height."""
    reading = case.reading
    at_home = {0, *(event.motions for event in reading.events if event.kind == "home")}
    for event in reading.events:
        stops = event.kind in ("tool", "end", "stop") or (event.kind == "spindle" and event.value == 0)
        if not stops or event.motions in at_home:
            continue
        height = reading.motions[event.motions - 1].end[2]
        if height < case.safe_height and reading.motions[event.motions - 1].z_known:
            what = {"end": "the program ends", "stop": "the program stops", "tool": "the cutter is changed"}
            where = "out of the stock" if height < case.stock_top + HAIR else "to safe height"
            message = f"{what.get(event.kind, 'the spindle stops')} before the cutter is lifted {where}"
            yield case.error("spindle stop", message, line=event.line, measured=height, limit=case.safe_height)


def dial_halt(case: FileCase) -> Iterator[Finding]:
    """A program halts (M0) before it cuts, so that the router can be switched on, where a dial sets the router's speed
    and the profile lets programs halt.
    """
    machine, reading = case.machine, case.reading
    controller = machine.controller
    halts = controller.tool_change == "by hand" if controller.halts is None else controller.halts
    if not machine.has_spindle or machine.spindle.speed_word or not halts or not case.planned:
        return
    below = case.stock_top - TOLERANCES.output
    motions = reading.motions
    first = next((n for n, motion in enumerate(motions) if motion.z_known and motion.end[2] < below), None)
    if first is None:
        return
    if not any(event.kind == "stop" and event.value == 0 and event.motions <= first for event in reading.events):
        message = "the program doesn't halt (M0) before its first cut, so that the router can be switched on"
        yield case.error("stop", message, motions[first])


def stops(case: FileCase) -> Iterator[Finding]:
    """The spindle is stopped before the program halts for work by hand (M0, M1)."""
    spindle = 0
    for event in case.reading.events:
        if event.kind == "spindle":
            spindle = int(event.value)
        elif event.kind == "tool":
            spindle = 0
        elif event.kind == "stop" and spindle != 0:
            message = "the program halts for work by hand with the spindle turning; M5 must come before it"
            yield case.error("stop", message, line=event.line)


def tools(case: FileCase) -> Iterator[Finding]:
    """The file asks for the planned cutters and no others, each first in the order planned.

    Where cutters are changed by hand, a file has one and never changes it.
    """
    by_hand = case.machine.controller.tool_change == "by hand"
    changes = [event for event in case.reading.events if event.kind == "tool"]
    if by_hand:
        # The rules about the language report the change itself (M6).
        if "T" in case.reading.letters and not changes:
            severity: Severity = "error" if case.planned else "warning"
            line = case.reading.first_lines.get("T")
            message = "a T word, but cutters are changed by hand on this machine"
            yield case.error("tool", message, line=line, severity=severity)
        if len(case.cutters) > 1:
            numbers = ", ".join(str(cutter.number) for cutter in case.cutters)
            yield case.error("tool", f"one file for cutters {numbers}, which are changed by hand on this machine")
        return
    yield from _as_planned(case, changes)
    yield from _before_the_first(case, changes)


def _as_planned(case: FileCase, changes: list[Event]) -> Iterator[Finding]:
    planned = [cutter.number for cutter in case.cutters] if case.planned else []
    known = planned or [cutter.number for cutter in case.machine.cutter]
    seen: list[int] = []
    for event in changes:
        number = int(event.value)
        if number not in known:
            where = "the plan has" if planned else "the profile has"
            message = f"the file asks for cutter {number}; {where} {', '.join(map(str, known))}"
            yield case.error("tool", message, line=event.line)
        elif number not in seen:
            seen.append(number)
            wanted = planned[len(seen) - 1] if planned else number
            if number != wanted:
                message = f"the file asks for cutter {number}; by the plan cutter {wanted} comes here"
                yield case.error("tool", message, line=event.line)
    for number in planned:
        if number not in seen:
            yield case.error("tool", f"the file doesn't ask for cutter {number}")


def _before_the_first(case: FileCase, changes: list[Event]) -> Iterator[Finding]:
    begin = changes[0].motions if changes else len(case.reading.motions)
    for motion in case.reading.motions[:begin]:
        if changes and motion.z_known and motion.end[2] < case.stock_top - HAIR:
            yield case.error("tool", "a motion in the stock before the file has asked for a cutter", motion)
            return


def tool_lengths(case: FileCase) -> Iterator[Finding]:
    """With a table of lengths, each cutter's length is taken after its change, before anything moves; without,
    none is.
    """
    table = case.machine.controller.tool_length == "table"
    motions = case.reading.motions
    events = [event for event in case.reading.events if event.kind in ("tool", "tool length")]
    tool, length = 0, 0
    for number, event in enumerate(events):
        if event.kind == "tool":
            tool, length = int(event.value), 0
        else:
            length = int(event.value)
            yield from _own_length(case, event, tool, table=table)
        end = events[number + 1].motions if number + 1 < len(events) else len(motions)
        if table and tool and length == 0 and event.motions < end:
            message = f"moves with cutter {tool} without its length (G43 H{tool})"
            yield case.error("tool length", message, motions[event.motions])


def _own_length(case: FileCase, event: Event, tool: int, *, table: bool) -> Iterator[Finding]:
    length = int(event.value)
    if length and not table:
        message = f"G43 H{length} takes a length from the controller's table, but the profile has no such table"
        yield case.error("tool length", message, line=event.line)
    elif length and length != tool:
        which = f"for cutter {tool}" if tool else "before the file has asked for a cutter (T and M6)"
        message = f"G43 H{length} takes the length of cutter {length} {which}"
        yield case.error("tool length", message, line=event.line)


def halts_for_lengths(case: FileCase) -> Iterator[Finding]:
    """Without a table of lengths the file halts (M0) after every change but the first, so that Z can be set again."""
    if case.machine.controller.tool_length == "table":
        return
    events = case.reading.events
    for number, event in enumerate(events):
        if event.kind != "tool" or event.motions == 0:
            continue
        after = [other for other in events[number + 1 :] if other.motions == event.motions]
        if not any(other.kind == "stop" and other.value == 0 for other in after):
            cutter = int(event.value)
            message = f"no halt (M0) after the change to cutter {cutter}, whose length the machine doesn't know"
            yield case.error("tool length", message, line=event.line)


def raised_after_changes(case: FileCase) -> Iterator[Finding]:
    """The first motion after a change only goes up, over everything on the board, and states Z even if it is the old
    one. The next motion sideways may start anywhere, and runs at least as high.
    """
    motions = case.reading.motions
    for event in case.reading.events:
        if event.kind != "tool" or not 0 < event.motions < len(motions):
            continue
        motion = motions[event.motions]
        if not motion.z_known or sideways(motion):
            message = "the first motion after a change of cutter must raise it to safe height: Z alone"
            yield case.error("rapid", message, motion)
        elif motion.end[2] < case.clear_height:
            message = "the first motion after a change of cutter doesn't raise it to safe height"
            yield case.error("rapid", message, motion, measured=motion.end[2], limit=case.clear_height)
        else:
            across = next((one for one in motions[event.motions + 1 :] if sideways(one)), None)
            if across is not None and min(across.start[2], across.end[2]) < case.clear_height:
                low = min(across.start[2], across.end[2])
                message = "the first motion sideways after a change of cutter may meet something on the board"
                yield case.error("rapid", message, across, measured=low, limit=case.clear_height)


def drill_bits(case: FileCase) -> Iterator[Finding]:
    """A cutter that only cuts downwards doesn't move sideways in the stock."""
    for motion in case.reading.motions:
        cutter = case.cutter_of(motion.tool)
        if cutter is None or not cutter.only_down or not motion.z_known or not sideways(motion):
            continue
        if min(motion.start[2], motion.end[2]) < case.stock_top - TOLERANCES.output:
            message = f"cutter {cutter.number} only cuts downwards, and moves sideways in the stock"
            yield case.error("drill", message, motion)


def sideways(motion: Motion) -> bool:
    """Whether a motion goes anywhere but straight up or down."""
    (x0, y0, _), (x1, y1, _) = motion.start, motion.end
    return motion.centre is not None or abs(x1 - x0) > HAIR or abs(y1 - y0) > HAIR
