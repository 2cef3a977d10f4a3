"""The order in which a board's parts are cut free, in words for its picture."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from cutjob.output.picture_key import LETTER
from cutjob.program.moves import Program

_MOST_LINES = 4
_SAYS = "cut free in this order: "


def cut_order(programs: Sequence[Program]) -> list[int]:
    """Return the numbers of the parts, from 1, in the order in which the last cut round each ends."""
    last: dict[int, None] = {}
    for program in programs:
        for step in program.steps:
            if step.op == "outside cut" and step.placement is not None:
                last.pop(step.placement, None)
                last[step.placement] = None
    return [placement + 1 for placement in last]


def order_lines(programs: Sequence[Program], *, width: float, text: float) -> list[str]:
    """Return lines of at most `width` mm at the height `text` with that order; none where fewer than two parts are cut.

    Of a board with more parts than a few lines hold, the first ones.
    """
    order = cut_order(programs)
    if len(order) < 2:
        return []
    room = max(len(_SAYS) + 8, int(width / (LETTER * text)))
    lines = textwrap.wrap(_SAYS + ", ".join(map(str, order)), room)
    return [*lines[: _MOST_LINES - 1], "and so on"] if len(lines) > _MOST_LINES else lines
