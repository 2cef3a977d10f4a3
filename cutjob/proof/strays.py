"""Cuts that stray from the board: clamps and fences stand there. mm."""

from __future__ import annotations

import numpy as np
import shapely

from cutjob.geometry.polygons import to_polygon
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.tracks import Tracks

_CLEAR = 1.0  # mm beyond what leads round a part on the very edge of the board may take
_HAIR = 1e-3  # mm
_LOOKS = 65  # places along a motion that may stray


def run_beside(cutter: Cutter, machine: Machine) -> float:
    """How far a cutter may run off the board: its width, a lead-in and a lead-out beside each other, and 1 mm."""
    return cutter.diameter + 2 * machine.cutting.lead + _CLEAR


def judge_strays(
    tracks: Tracks, layout: BoardLayout, programs: tuple[ExpectedProgram, ...], machine: Machine
) -> list[Finding]:
    """Return a finding for each program and cutter that moves below the stock's top too far from the board's outline.

    `tracks` are those in the stock.
    """
    board = to_polygon(layout.board.outline)
    low_x, low_y, high_x, high_y = tracks.curves.boxes()
    found = []
    turns = [(number, cutter) for number, program in enumerate(programs) for cutter in program.cutters]
    for number, cutter in turns:
        allowed = run_beside(cutter, machine)
        own = np.flatnonzero((tracks.program == number) & (tracks.cutter == cutter.number))
        room = shapely.buffer(board, allowed)
        shapely.prepare(room)
        # A box without area, as of a way straight down, would be none.
        boxes = shapely.box(low_x[own] - _HAIR, low_y[own] - _HAIR, high_x[own] + _HAIR, high_y[own] + _HAIR)
        suspects = own[~shapely.covers(room, boxes)]
        if not len(suspects):
            continue
        some = tracks.curves.take(np.repeat(suspects, _LOOKS))
        x, y = some.at(np.tile(np.linspace(0.0, 1.0, _LOOKS), len(suspects)))
        off = np.asarray(shapely.distance(board, shapely.points(x, y)), dtype=float)
        worst = int(np.argmax(off))
        if off[worst] > allowed:
            found.append(
                Finding(
                    check="board",
                    severity="error",
                    message=f"a move in the stock's height {off[worst]:.2f} mm off the board, where clamps may stand; "
                    f"at most {allowed:.2f} mm",
                    file=programs[number].file,
                    line=int(tracks.line[suspects[worst // _LOOKS]]),
                    at=(float(x[worst]), float(y[worst])),
                    measured=float(off[worst]),
                    limit=allowed,
                )
            )
    return found
