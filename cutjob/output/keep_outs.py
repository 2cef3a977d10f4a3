"""What stands on a board, told to whoever runs the file: air moves pass over knots and clamps alike."""

from __future__ import annotations

import re
from collections.abc import Sequence

from cutjob.job.machine import Machine
from cutjob.job.model import BoardStock
from cutjob.layout.layout import Layout
from cutjob.units import Unit, format_length

# What sticks up out of a board and breaks a cutter.
_STANDING = re.compile(r"\b(clamp|screw|nail)", re.IGNORECASE)


def keep_out_line(count: int, *, machine: Machine, height: str, tallest: float = 0.0) -> str:
    """Return the line on keep-outs in a file's opening; `height` says how high above the stock air moves pass, and
    `tallest`, mm, how far the highest of them is stated to stand above it.
    """
    places, them = ("1 place", "it") if count == 1 else (f"{count} places", "them")
    opening = f"Keep-outs: {places} on the board, never cut."
    if machine.kind == "laser":
        return f"{opening} Between cuts the head may pass over {them}: nothing there may stand in its way."
    if tallest:
        return f"{opening} Air moves pass over them {height} above the stock, clear of what the job says stands there."
    return f"{opening} Air moves may pass over {them} {height} above the stock: clamps and screws there must be lower."


def keep_out_warnings(stock: Sequence[BoardStock], *, layout: Layout, machine: Machine, unit: Unit) -> tuple[str, ...]:
    """Return a warning for each kind of board used whose keep-outs are clamps, screws or nails by their `why`.

    Only for machines that run G-code. `unit` is for the wording.
    """
    if "gcode" not in machine.writes:
        return ()
    used = {board.board.name for board in layout.boards if board.board.keep_outs}
    warnings = []
    for board in stock:
        reasons = dict.fromkeys(
            area.why for area in board.keep_out if area.why and not area.height and _STANDING.search(area.why)
        )
        if board.name not in used or not reasons:
            continue
        if machine.kind == "laser":
            advice = "the head passes over it between cuts, so it must not stand in the head's way"
        else:
            height = format_length(machine.motion.safe_height, unit=unit)
            advice = f"air moves pass over it {height} above the stock (safe_height), so it must be lower, or say its height"
        warnings.append(f'board "{board.name}": keep-out ({", ".join(reasons)}): {advice}')
    return tuple(warnings)
