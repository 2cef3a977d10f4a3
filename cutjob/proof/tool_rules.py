"""Rules about changes of cutter: the planned ones in their order, each with its own length, at a height that is known.

What a changer does between two lines is not in the file: where the cutter stands after it, and how far the new one
sticks out, is anyone's guess until the file says so.
"""

from __future__ import annotations

from collections.abc import Iterator

from cutjob.proof.finding import Finding, Severity
from cutjob.proof.reading import Event, Motion
from cutjob.proof.standing import HAIR, Standing
from cutjob.tolerances import TOLERANCES


def tools(standing: Standing) -> Iterator[Finding]:
    """The file asks for the planned cutters, each first in the order planned, and for no other.

    Where cutters are changed by hand a file has one, and none changes in it.
    """
    by_hand = standing.machine.controller.tool_change == "by hand"
    changes = [event for event in standing.reading.events if event.kind == "tool"]
    if by_hand:
        # A change itself (M6) is told by the rules about the language.
        if "T" in standing.reading.letters and not changes:
            severity: Severity = "error" if standing.planned else "warning"
            line = standing.reading.first_lines.get("T")
            message = "a T word, but cutters are changed by hand on this machine"
            yield standing.error("tool", message, line=line, severity=severity)
        if len(standing.cutters) > 1:
            numbers = ", ".join(str(cutter.number) for cutter in standing.cutters)
            yield standing.error("tool", f"one file for cutters {numbers}, which are changed by hand on this machine")
        return
    yield from _as_planned(standing, changes)
    yield from _before_the_first(standing, changes)


def _as_planned(standing: Standing, changes: list[Event]) -> Iterator[Finding]:
    planned = [cutter.number for cutter in standing.cutters] if standing.planned else []
    known = planned or [cutter.number for cutter in standing.machine.cutter]
    seen: list[int] = []
    for event in changes:
        number = int(event.value)
        if number not in known:
            where = "planned are" if planned else "the profile has"
            message = f"the file asks for cutter {number}; {where} {', '.join(map(str, known))}"
            yield standing.error("tool", message, line=event.line)
        elif number not in seen:
            seen.append(number)
            wanted = planned[len(seen) - 1] if planned else number
            if number != wanted:
                message = f"the file asks for cutter {number} where cutter {wanted} is planned to come"
                yield standing.error("tool", message, line=event.line)
    for number in planned:
        if number not in seen:
            yield standing.error("tool", f"the file doesn't ask for cutter {number}")


def _before_the_first(standing: Standing, changes: list[Event]) -> Iterator[Finding]:
    begin = changes[0].motions if changes else len(standing.reading.motions)
    for motion in standing.reading.motions[:begin]:
        if changes and motion.z_known and motion.end[2] < standing.stock_top - HAIR:
            yield standing.error("tool", "a motion in the stock before the file has asked for a cutter", motion)
            return


def tool_lengths(standing: Standing) -> Iterator[Finding]:
    """With a table of lengths, that of each cutter is taken after its change before anything moves; without, none."""
    table = standing.machine.controller.tool_length == "table"
    motions = standing.reading.motions
    events = [event for event in standing.reading.events if event.kind in ("tool", "tool length")]
    tool, length = 0, 0
    for number, event in enumerate(events):
        if event.kind == "tool":
            tool, length = int(event.value), 0
        else:
            length = int(event.value)
            yield from _own_length(standing, event, tool, table=table)
        end = events[number + 1].motions if number + 1 < len(events) else len(motions)
        if table and tool and length == 0 and event.motions < end:
            message = f"moves with cutter {tool} without its length (G43 H{tool})"
            yield standing.error("tool length", message, motions[event.motions])


def _own_length(standing: Standing, event: Event, tool: int, *, table: bool) -> Iterator[Finding]:
    length = int(event.value)
    if length and not table:
        message = f"G43 H{length} takes a length from the controller's table; by the profile there is none"
        yield standing.error("tool length", message, line=event.line)
    elif length and length != tool:
        which = f"for cutter {tool}" if tool else "before the file has asked for a cutter (T and M6)"
        message = f"G43 H{length} takes the length of cutter {length} {which}"
        yield standing.error("tool length", message, line=event.line)


def halts_for_lengths(standing: Standing) -> Iterator[Finding]:
    """Without a table of lengths the file halts (M0) after every change but the first, for Z to be set again."""
    if standing.machine.controller.tool_length == "table":
        return
    events = standing.reading.events
    for number, event in enumerate(events):
        if event.kind != "tool" or event.motions == 0:
            continue
        after = [other for other in events[number + 1 :] if other.motions == event.motions]
        if not any(other.kind == "stop" and other.value == 0 for other in after):
            cutter = int(event.value)
            message = f"no halt (M0) after the change to cutter {cutter}, whose length the machine doesn't know"
            yield standing.error("tool length", message, line=event.line)


def raised_after_changes(standing: Standing) -> Iterator[Finding]:
    """The first motion after a change goes up, over all that stands on the board, and nowhere else, and says so even
    where Z is the old one; the next one sideways starts anywhere, and runs as high.
    """
    motions = standing.reading.motions
    for event in standing.reading.events:
        if event.kind != "tool" or not 0 < event.motions < len(motions):
            continue
        motion = motions[event.motions]
        if not motion.z_known or sideways(motion):
            message = "the first motion after a change of cutter must raise it to safe height: Z alone"
            yield standing.error("rapid", message, motion)
        elif motion.end[2] < standing.clear_height:
            message = "the first motion after a change of cutter doesn't raise it to safe height"
            yield standing.error("rapid", message, motion, measured=motion.end[2], limit=standing.clear_height)
        else:
            across = next((one for one in motions[event.motions + 1 :] if sideways(one)), None)
            if across is not None and min(across.start[2], across.end[2]) < standing.clear_height:
                low = min(across.start[2], across.end[2])
                message = "the first motion sideways after a change of cutter may meet what stands on the board"
                yield standing.error("rapid", message, across, measured=low, limit=standing.clear_height)


def drill_bits(standing: Standing) -> Iterator[Finding]:
    """A cutter that only cuts downwards doesn't move sideways in the stock."""
    for motion in standing.reading.motions:
        cutter = standing.cutter_of(motion.tool)
        if cutter is None or not cutter.only_down or not motion.z_known or not sideways(motion):
            continue
        if min(motion.start[2], motion.end[2]) < standing.stock_top - TOLERANCES.output:
            message = f"cutter {cutter.number} only cuts downwards, and moves sideways in the stock"
            yield standing.error("drill", message, motion)


def sideways(motion: Motion) -> bool:
    """Whether a motion goes anywhere but straight up or down."""
    (x0, y0, _), (x1, y1, _) = motion.start, motion.end
    return motion.centre is not None or abs(x1 - x0) > HAIR or abs(y1 - y0) > HAIR
