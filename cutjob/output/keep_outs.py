"""What stands on a board, told to whoever runs the file: air moves pass over knots and clamps alike."""

from __future__ import annotations

import re
from collections.abc import Sequence

from cutjob.job.machine import Machine
from cutjob.job.model import BoardStock
from cutjob.job.stock import Board
from cutjob.layout.layout import Layout
from cutjob.output.comments import both_units
from cutjob.units import Unit, format_length

# What sticks up out of a board and breaks a cutter.
_STANDING = re.compile(r"\b(clamp|screw|nail)", re.IGNORECASE)


def keep_out_line(board: Board, *, machine: Machine, air: float, clear: float) -> str:
    """Return the line on a board's keep-outs in a file's opening; air moves pass `air` mm above the stock, and no more
    than `clear` mm over what has a height.

    They clear every height that is stated, so only what has none is warned of.
    """
    count = len(board.keep_outs)
    stated = [height for height in board.heights if height > 0]
    places, them = ("1 place", "it") if count == 1 else (f"{count} places", "them")
    opening = f"Keep-outs: {places} on the board, never cut."
    if machine.kind == "laser":
        return f"{opening} Between cuts the head may pass over {them}: nothing there may stand in its way."
    above = f"{both_units(air)} above the stock"
    if not stated:
        return f"{opening} Air moves may pass over {them} {above}: clamps and screws there must be lower."
    highest = f"{both_units(max(stated))} high at most"
    over = f"{both_units(clear)} above the stock"
    if len(stated) == count:
        return f"{opening} What stands there is {highest} by the job, air moves clear {them}, at most {over}."
    these = "it" if len(stated) == 1 else "these"
    return (
        f"{opening} What is stated to stand on {len(stated)} of them is {highest}, air moves clear {these}, at most "
        f"{over}, and pass over the others {above}: clamps and screws of no stated height must be lower."
    )


def keep_out_warnings(stock: Sequence[BoardStock], *, layout: Layout, machine: Machine, unit: Unit) -> tuple[str, ...]:
    """Return a warning for each kind of board used whose keep-outs are clamps, screws or nails by their `why`.

    Only for machines that run G-code, and on a router only for those of no stated height: air moves clear the others.
    `unit` is for the wording.
    """
    if "gcode" not in machine.writes:
        return ()
    used = {board.board.name for board in layout.boards if board.board.keep_outs}
    laser = machine.kind == "laser"
    warnings = []
    for board in stock:
        reasons = dict.fromkeys(
            area.why
            for area in board.keep_out
            if area.why and _STANDING.search(area.why) and (laser or not area.height)
        )
        if board.name not in used or not reasons:
            continue
        if laser:
            advice = "the head passes over it between cuts, so it must not stand in the head's way"
        else:
            height = format_length(machine.motion.safe_height, unit=unit)
            above = f"{height} above the stock (safe_height)"
            advice = f"air moves pass over it {above}, so it must be lower; or state its height"
        warnings.append(f'board "{board.name}": keep-out ({", ".join(reasons)}): {advice}')
    return tuple(warnings)
