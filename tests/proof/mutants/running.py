"""How a file runs the machine, for the oracle: spindle, beam, feeds, cutters, rapids, modes, travel."""

from __future__ import annotations

import math

from cutjob.job.machine import Feed, Machine
from cutjob.proof.expect import ExpectedProgram
from tests.proof.mutants.machine_run import Run, Step


def row_of(program: ExpectedProgram, tool: int) -> Feed:
    """The feeds of the cutter a motion is run with."""
    cutter = next((one for one in program.cutters if one.number == tool), program.cutters[0])
    row = cutter.feed_for(program.board.board.material)
    assert row is not None
    return row


def runs_wrong(machine: Machine, program: ExpectedProgram, ran: Run, before: Run) -> str:
    """Why a file runs the machine as it must not be run, or as the proven file does not; nothing where it does not."""
    if before.modes - ran.modes:
        return f"{sorted(before.modes - ran.modes)} never said"
    if before.ended and not ran.ended:
        return "the program doesn't end"
    if len(ran.halts) < len(before.halts):
        return "a halt is missing"
    if not ran.steps:
        return "nothing moves" if before.steps else ""
    judge = _beam if machine.kind == "laser" else _spindle
    return judge(machine, program, ran) or _beyond_travel(machine, ran)


def _beyond_travel(machine: Machine, ran: Run) -> str:
    travel = machine.travel
    assert travel is not None
    for axis, reach in enumerate((travel.x, travel.y, travel.z)):
        places = [step.end[axis] for step in ran.steps if not math.isnan(step.end[axis])]
        if reach > 0 and places and max(places) - min(places) > reach + 0.02:
            return "more than the machine's travel"
    return ""


def _spindle(machine: Machine, program: ExpectedProgram, ran: Run) -> str:
    wanted = 1 if machine.spindle.turns == "clockwise" else -1
    changer = machine.controller.tool_change == "changer"
    first = ran.steps[0]
    if not math.isnan(first.end[0]) or not math.isnan(first.end[1]) or first.end[2] < machine.motion.safe_height:
        return "the first motion is not up"
    numbers = {cutter.number for cutter in program.cutters}
    floor = 0.0  # of the hole drilled since the cutter came here
    for step in ran.steps[1:]:
        (x0, y0, z0), (x1, y1, z1) = step.start, step.end
        along = (x0, y0) != (x1, y1) and not math.isnan(x0)
        if along:
            floor = 0.0
        elif not step.rapid:
            floor = min(floor, z1)
        if step.rapid:
            if along and min(z0, z1) < 0.01:
                return "a rapid through the stock"
            if z1 < min(z0, floor + 0.9 * machine.motion.approach if floor < 0 else -0.01, -0.01):
                return "a rapid down into the stock"
            continue
        if step.feed <= 0 or step.feed > machine.motion.greatest_feed * 1.002:
            return f"feed {step.feed:.0f}"
        if min(z0, z1) > -0.0015:
            continue
        row = row_of(program, step.tool)
        if step.spindle != wanted:
            return "the spindle stands or turns the wrong way"
        if machine.spindle.speed_word and abs(step.speed - (row.rpm or 0.0)) > 1.5:
            return f"speed {step.speed:.0f}"
        if step.warm < machine.spindle.seconds_to_speed - 1e-6 and machine.controller.dwell != "none":
            return f"{step.warm} s to come up to speed"
        if changer and (step.tool not in numbers):
            return f"cutter {step.tool}"
        if machine.controller.tool_length == "table" and step.length != step.tool:
            return "the length of another cutter"
        if along and step.feed > row.feed * 1.002:
            return f"feed {step.feed:.0f} along"
        sinking = _sinking(step)
        if sinking > min(row.plunge or math.inf, machine.motion.greatest_plunge) * 1.03:
            return f"sinks at {sinking:.0f}"
    return ""


def _sinking(step: Step) -> float:
    fall = step.start[2] - step.end[2]
    # The rounding of short steps makes them seem steeper.
    if fall < 0.02:
        return 0.0
    run_ = math.dist(step.start[:2], step.end[:2])
    if step.arc is not None:
        run_ = abs(step.arc[2]) * math.dist(step.start[:2], step.arc[:2])
    return step.feed * fall / math.hypot(run_ * 1.002, fall)


def _beam(machine: Machine, program: ExpectedProgram, ran: Run) -> str:
    row = row_of(program, 0)
    wanted = -1 if machine.controller.beam == "follows speed" else 1
    for step in ran.steps:
        lit = step.spindle != 0 and step.speed > 0
        if step.rapid:
            if lit:
                return "the beam is on in a rapid"
            continue
        if not lit or step.spindle != wanted:
            return "the beam is off in a cut, or on by the wrong code"
        mark = marks(row, step)
        power, feed = (row.mark_power, row.mark_feed) if mark else (row.power, row.feed)
        if power is None or feed is None or abs(step.speed - power) > 0.06:
            return f"power {step.speed}"
        if not 0.5 * feed <= step.feed <= feed * 1.002:
            return f"feed {step.feed:.0f} of the beam"
    last = ran.steps[-1]
    return "the beam stays on" if last.rapid and last.spindle != 0 and last.speed > 0 else ""


def marks(row: Feed, step: Step) -> bool:
    """Whether a beam marks in a motion."""
    return row.mark_power is not None and step.speed <= row.mark_power + 0.06
