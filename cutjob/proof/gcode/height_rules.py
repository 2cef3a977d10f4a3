"""Rules about heights: air moves clear of the stock, the greatest depth, the machine's travel. mm.

Also adds heights to findings: from a finding's line to the height of that line's motions.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from cutjob.proof import limits
from cutjob.proof.board.tracks import motion_curves
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding, Severity
from cutjob.proof.gcode.file_case import HAIR, FileCase
from cutjob.proof.gcode.reading import Reading
from cutjob.proof.gcode.tool_rules import sideways
from cutjob.tolerances import TOLERANCES


def with_heights(
    findings: Sequence[Finding], programs: Sequence[ExpectedProgram], readings: Sequence[Reading]
) -> tuple[Finding, ...]:
    """Return the findings; those with a line and a place get the height of the lowest end of the line's motions.

    Heights count from the stock's top. A finding that has a height keeps it.
    """
    wanted = {(finding.file, finding.line) for finding in findings if finding.z is None and finding.at is not None}
    lowest: dict[tuple[str, int | None], float] = {}
    for program, reading in zip(programs, readings, strict=True):
        lines = {line for file, line in wanted if file == program.file and line is not None}
        for motion in reading.motions if lines else ():
            if motion.line in lines and motion.z_known:
                key = (program.file, motion.line)
                height = motion.end[2] - program.stock_top_z
                lowest[key] = min(lowest.get(key, height), height)
    return tuple(
        replace(finding, z=lowest[finding.file, finding.line])
        if finding.z is None and finding.at is not None and (finding.file, finding.line) in lowest
        else finding
        for finding in findings
    )


def first_moves(case: FileCase) -> Iterator[Finding]:
    """The first motion only goes up, over everything on the board: the tool's place before it is not known."""
    motions = case.reading.motions
    if not motions:
        return
    first, safe = motions[0], case.clear_height
    if not case.planned and any(event.kind == "home" and event.motions == 0 for event in case.reading.events):
        return  # from home, whose place is not known
    if not first.z_known:
        message = "the file moves before it has raised the cutter to a stated height (Z alone, in absolute mode)"
        yield case.error("rapid", message, first)
    elif first.end[2] < safe:
        message = "the file's first motion doesn't raise the cutter to safe height, over everything on the board"
        yield case.error("rapid", message, first, measured=first.end[2], limit=safe)
    elif case.reading.first_axes != {"Z"}:
        message = "the file's first motion goes sideways while it raises the cutter; Z alone must come first"
        yield case.error("rapid", message, first)


def placed(case: FileCase) -> Iterator[Finding]:
    """Until the file has stated the cutter's X and Y, the cutter stays over everything on the board."""
    motions = case.reading.motions
    for motion in (motions[index] for index in case.reading.unplaced):
        if motion.z_known and motion.end[2] < case.clear_height:
            message = "the cutter is lowered before the file has stated its place in X and Y (in absolute mode)"
            yield case.error("rapid", message, motion)


def homes(case: FileCase) -> Iterator[Finding]:
    """The way to the machine's home, which goes sideways too unless only Z is named, begins at safe height."""
    motions = case.reading.motions
    at_home: set[int] = set()
    for event in case.reading.events:
        if event.kind != "home":
            continue
        if event.value == 1.0 or event.motions in at_home:
            at_home.add(event.motions)
            continue
        before = motions[event.motions - 1] if event.motions else None
        if before is None or not before.z_known or before.end[2] < case.clear_height:
            message = "the way to the machine's home begins below safe height, or at a height the file doesn't state"
            height = None if before is None or not before.z_known else before.end[2] - case.stock_top
            yield case.error(
                "rapid", message, line=event.line, measured=height, limit=case.clear_height - case.stock_top
            )


def rapids(case: FileCase) -> Iterator[Finding]:
    """No rapid goes below the stock's top, sideways below safe height, or straight down to nearer above the stock than
    the profile's approach. Two may: straight up out of the stock, and down a hole that the same cutter has just
    drilled, to the approach above its floor.
    """
    top, safe = case.stock_top, case.safe_height
    motion_limits = case.machine.motion
    approach = top + min(motion_limits.approach, motion_limits.safe_height) - TOLERANCES.output
    above = motion_limits.approach - 2 * TOLERANCES.output
    floor = top
    cycled: dict[tuple[float, float], float] = {}
    tool: int | None = None
    for number, motion in enumerate(case.reading.motions):
        # The depth drilled since the cutter came here, and by cycles, which may come back to a hole.
        if number == 0 or sideways(motion) or motion.tool != tool:
            floor, tool = cycled.get(motion.end[:2], top) if motion.tool == tool else top, motion.tool
        elif motion.kind == "feed":
            floor = min(floor, motion.end[2])
            if motion.cycle:
                cycled[motion.end[:2]] = floor
        if motion.kind != "rapid" or not motion.z_known:
            continue
        low = motion.end[2] if number == 0 else min(motion.start[2], motion.end[2])
        across = number > 0 and sideways(motion)
        straight_up = not across and motion.end[2] >= motion.start[2]
        # A controller's own pecking cycle goes back down nearer to the floor.
        pecks = floor < top and motion.end[2] >= floor + (-HAIR if motion.cycle else above)
        if low < top - HAIR and not straight_up and not pecks:
            yield case.error("rapid", f"a rapid {top - low:.3f} mm below the stock's top", motion, measured=low - top)
        elif across and low < safe:
            message = f"a rapid sideways {low - top:.3f} mm above the stock, below safe height"
            yield case.error("rapid", message, motion, measured=low - top, limit=safe - top)
        elif number > 0 and not straight_up and low < approach and not (pecks and low < top):
            message = (
                f"a rapid down to {low - top:.3f} mm above the stock; the profile's approach is {approach - top:.2f} mm"
            )
            yield case.error(
                "rapid", message, motion, measured=low - top, limit=approach - top,
                severity="error" if case.planned else "warning",
            )  # fmt: skip


def feeds_in_the_air(case: FileCase) -> Iterator[Finding]:
    """No cut runs across the board above the stock but below safe height: it would cut nothing, so its Z is a mistake.

    On its way into the wood a cut may come from above, no flatter than half a ramp of the feed table.
    """
    top, safe = case.stock_top, case.safe_height
    flattest: dict[int, float] = {}
    for motion in case.reading.motions:
        low = min(motion.start[2], motion.end[2])
        if motion.kind == "rapid" or not motion.z_known or low >= safe or low < top - TOLERANCES.output:
            continue
        if not sideways(motion) or motion.length <= TOLERANCES.acceptance:
            continue
        if motion.tool not in flattest:
            row = case.feed_of(motion.tool)
            degrees = row.ramp_degrees if row is not None else 0.0
            flattest[motion.tool] = math.tan(math.radians(degrees)) / 2
        fall = motion.start[2] - motion.end[2]
        if fall > flattest[motion.tool] * math.hypot(motion.end[0] - motion.start[0], motion.end[1] - motion.start[1]):
            continue
        message = f"a cut runs across {low - top:.3f} mm above the stock's top, where it cuts nothing"
        severity: Severity = "error" if case.planned else "warning"
        yield case.error("air", message, motion, measured=low - top, limit=safe - top, severity=severity)


def deepest(case: FileCase) -> Iterator[Finding]:
    """No cut is deeper below the stock than the profile or the plan allows, or deeper than the cutter's cutting
    length.
    """
    motions = case.reading.motions
    if not motions:
        return
    lowest = min(motions, key=lambda motion: motion.end[2])
    depth = case.stock_top - lowest.end[2]
    if case.height is not None:
        below, allowed = depth - case.height, case.machine.cutting.deepest_below_stock
        if below > allowed + TOLERANCES.output:
            message = f"cuts {below:.3f} mm below the stock; the profile allows {allowed:.3f} mm"
            yield case.error("depth", message, lowest, measured=below, limit=allowed)
        elif case.overcut is not None and below > case.overcut + TOLERANCES.acceptance:
            message = f"cuts {below:.3f} mm below the stock; the plan has {case.overcut:.3f} mm"
            yield case.error("depth", message, lowest, measured=below, limit=case.overcut)
    for tool in sorted({motion.tool for motion in motions}):
        yield from _cutting_length(case, tool)
    longest = max(cutter.cutting_length for cutter in case.machine.cutter)
    if not case.planned and depth > longest + TOLERANCES.output and not lowest.tool and not case.cutters:
        message = f"cuts {depth:.2f} mm deep; the longest cutter of the profile cuts {longest:.2f} mm deep"
        yield case.error("depth", message, lowest, measured=depth, limit=longest)


def _cutting_length(case: FileCase, tool: int) -> Iterator[Finding]:
    cutter = case.cutter_of(tool)
    lowest = min((one for one in case.reading.motions if one.tool == tool), key=lambda motion: motion.end[2])
    depth = case.stock_top - lowest.end[2]
    if cutter is not None and depth > cutter.cutting_length + TOLERANCES.output:
        length = cutter.cutting_length
        message = f"cuts {depth:.2f} mm deep; cutter {cutter.number} has a cutting length of {length:.2f} mm"
        yield case.error("depth", message, lowest, measured=depth, limit=length)


def air_moves(case: FileCase) -> Iterator[Finding]:
    """The machine can lift the cutter over the stack and everything on it. The judges of keep-outs and screws check
    whether air moves clear these.
    """
    reach = case.machine.travel
    if reach is None or reach.z <= 0 or case.height is None:
        return
    needed = case.height + case.clear_height - case.stock_top
    if needed > reach.z + TOLERANCES.acceptance:
        message = f"the stack and the air over it are {needed:.2f} mm high; the machine's travel is {reach.z:.2f} mm"
        yield case.error("travel", message, measured=needed, limit=reach.z)


def travel(case: FileCase) -> Iterator[Finding]:
    """All motions of the file fit into the machine's travel, wherever its zero is set; with a plan, together with the
    board.

    The board's place on the bed is not known. The rule only assumes that the machine reaches all of the board, or of
    its window on the bed, except for a strip as wide as cuts may run beside it: some box of the size of the travel must
    hold both that and all motions.
    """
    reach = case.machine.travel
    motions = case.reading.motions
    if reach is None or not motions:
        return
    # In a planned file the zero counts too, as it is set at the board. In another file the tool may be anywhere before
    # the file states its place; what follows starts there.
    known = np.ones(len(motions), dtype=bool)
    if not case.planned and len(case.reading.unplaced) < len(motions):
        known[list(case.reading.unplaced)] = False
    curves = motion_curves(case.reading).take(known)
    motions = tuple(motion for motion, kept in zip(motions, known.tolist(), strict=True) if kept)
    low_x, low_y, high_x, high_y = (np.asarray(side) for side in curves.boxes())
    heights = np.array([motion.end[2] for motion in case.reading.motions])
    spans = (
        ("X", float(high_x.max() - low_x.min()), reach.x, motions[int(high_x.argmax())]),
        ("Y", float(high_y.max() - low_y.min()), reach.y, motions[int(high_y.argmax())]),
        (
            "Z",
            float(heights.max() - heights.min()),
            0.0 if case.machine.has_beam else reach.z,
            case.reading.motions[int(heights.argmax())],
        ),
    )
    for name, span, limit, farthest in spans:
        if limit > 0 and span > limit + TOLERANCES.acceptance:
            message = f"{name} goes over {span:.2f} mm; the machine's travel is {limit:.2f} mm"
            yield case.error("travel", message, farthest, measured=span, limit=limit)
    if case.lying is None:
        return
    widest = max((cutter.diameter for cutter in case.cutters), default=0.0)
    beside = limits.off_board(widest, case.machine.cutting.lead)
    for name, low, high, first, last, limit in (
        ("X", low_x, high_x, case.lying[0], case.lying[2], reach.x),
        ("Y", low_y, high_y, case.lying[1], case.lying[3], reach.y),
    ):
        off = np.maximum(first - low, high - last)
        far = int(off.argmax())
        span = max(last, float(high.max())) - min(first, float(low.min()))
        if off[far] > beside and span > limit + beside + TOLERANCES.acceptance:
            message = f"goes {off[far]:.2f} mm off the board in {name}; a travel of {limit:.2f} mm doesn't reach "
            message += "there from the board's other side"
            yield case.error("travel", message, motions[far], measured=span, limit=limit)
