"""Where the cutter went, in the board's frame and down from the stock's top: motions of read files as columns. mm.

A laser has no height. Its beam, on at the power of a cut, counts as a cut down to the stack's underside; at the power
of a mark, as one that is as deep as the profile's marks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import chain

import numpy as np

from cutjob.job.machine import Feed, Machine
from cutjob.proof.board.curves import Bools, Curves, Floats, Ints, from_columns, join, portion_below
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.gcode.beam_rules import is_mark
from cutjob.proof.gcode.reading import Reading
from cutjob.tolerances import TOLERANCES

_NOWHERE = (0.0, 0.0)


@dataclass(frozen=True)
class Tracks:
    """Curves in the order they are run, with the program, the line, and the cutter's number and radius of each."""

    curves: Curves
    program: Ints
    line: Ints
    cutter: Ints
    radius: Floats

    def __len__(self) -> int:
        return len(self.line)

    def below(self, level: float) -> tuple[Ints, Tracks]:
        """The tracks that reach down to `level`, by index, and the pieces of them that do."""
        kept, curves = portion_below(self.curves, level)
        return kept, self._with(curves, kept)

    def take(self, index: Ints | Bools) -> Tracks:
        """The chosen ones, in the order chosen."""
        return self._with(self.curves.take(index), index)

    def back(self, earlier: Ints, later: Ints) -> Floats:
        """The length of the way from the end of each earlier track to the start of the later one; infinite where they
        don't belong to one unbroken way.
        """
        way, along = self._ways
        run = along[later] - self.curves.take(later).length - along[earlier]
        return np.where(way[earlier] == way[later], run, np.inf)

    @cached_property
    def _ways(self) -> tuple[Ints, Floats]:
        """The way each track belongs to, and how far along all ways it ends."""
        curves = self.curves
        apart = np.hypot(curves.x0[1:] - curves.x1[:-1], curves.y0[1:] - curves.y1[:-1])
        apart = np.maximum(apart, np.abs(curves.z0[1:] - curves.z1[:-1]))
        way = np.cumsum(np.concatenate([[0], apart > TOLERANCES.output])) if len(self) else np.zeros(0)
        return way.astype(np.int64), np.cumsum(curves.length)

    def _with(self, curves: Curves, index: Ints | Bools) -> Tracks:
        return Tracks(curves, self.program[index], self.line[index], self.cutter[index], self.radius[index])


def feed_rows(programs: Sequence[ExpectedProgram]) -> dict[tuple[int, int], Feed | None]:
    """Return for each program, by index, and each of its cutters, by number, its row of the feed table or None."""
    return {
        (index, cutter.number): cutter.feed_for(program.board.board.material)
        for index, program in enumerate(programs)
        for cutter in program.cutters
    }


def cutters_in_use(program: ExpectedProgram, reading: Reading) -> Ints:
    """Return the number of the cutter each motion of a file is run with.

    A file without a change is run with the first cutter planned. A cutter that isn't planned counts as the first one
    too: nothing is known about it, and another rule refuses the file.
    """
    first = program.cutters[0].number
    known = {cutter.number for cutter in program.cutters}
    numbers = [motion.tool if motion.tool in known else first for motion in reading.motions]
    return np.array(numbers, dtype=np.int64)


def all_tracks(programs: Sequence[ExpectedProgram], readings: Sequence[Reading], machine: Machine) -> Tracks:
    """Return every motion of the programs of one board, one after another; for a laser only those with the beam on."""
    tracks = [
        _laser_tracks(number, program, reading, machine) if machine.has_beam else _tracks(number, program, reading)
        for number, (program, reading) in enumerate(zip(programs, readings, strict=True))
    ]
    return Tracks(
        join([one.curves for one in tracks]),
        np.concatenate([one.program for one in tracks]),
        np.concatenate([one.line for one in tracks]),
        np.concatenate([one.cutter for one in tracks]),
        np.concatenate([one.radius for one in tracks]),
    )


def cutting(tracks: Tracks) -> Tracks:
    """Return the pieces that lie in the stock: below its top by more than the rounding of a file."""
    return tracks.below(-TOLERANCES.output)[1]


def motion_curves(reading: Reading, shift: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Curves:
    """Return all motions of a file as curves, shifted. A first rapid shrinks to its end, since the machine's place
    before it is not known.
    """
    motions = reading.motions
    by = np.array(shift)
    count = len(motions)
    start = np.fromiter(chain.from_iterable(motion.start for motion in motions), float, 3 * count).reshape(-1, 3) + by
    end = np.fromiter(chain.from_iterable(motion.end for motion in motions), float, 3 * count).reshape(-1, 3) + by
    centres = chain.from_iterable(motion.centre or _NOWHERE for motion in motions)
    centre = np.fromiter(centres, float, 2 * count).reshape(-1, 2) + by[:2]
    sweep = np.fromiter((motion.sweep for motion in motions), float, count)
    if count and motions[0].kind == "rapid":
        start[0] = end[0]
    return from_columns(start, end, centre, sweep)


def _tracks(number: int, program: ExpectedProgram, reading: Reading) -> Tracks:
    curves = motion_curves(reading, (program.origin[0], program.origin[1], -program.stock_top_z))
    count = len(curves)
    line = np.array([motion.line for motion in reading.motions], dtype=np.int64)
    cutter = cutters_in_use(program, reading)
    radii = {one.number: one.radius for one in program.cutters}
    radius = np.array([radii[one] for one in cutter.tolist()], dtype=float)
    return Tracks(curves, np.full(count, number, dtype=np.int64), line, cutter, radius)


def _laser_tracks(number: int, program: ExpectedProgram, reading: Reading, machine: Machine) -> Tracks:
    tracks = _tracks(number, program, reading)
    feed = program.cutters[0].feed_for(program.board.board.material)
    on = np.array([motion.kind != "rapid" and motion.spindle != 0 for motion in reading.motions], dtype=bool)
    power = np.where(on, np.array([motion.speed for motion in reading.motions], dtype=float), 0.0)
    marks = np.array(
        [feed is not None and is_mark(feed, power=motion.speed, feed=motion.feed) for motion in reading.motions],
        dtype=bool,
    )
    depth = np.where(marks, machine.cutting.mark_depth, program.board.height)
    lit = np.flatnonzero(power > 0)
    curves = tracks.curves.take(lit)
    level = -depth[lit]
    lit_curves = Curves(
        curves.x0,
        curves.y0,
        level,
        curves.x1,
        curves.y1,
        level,
        curves.cx,
        curves.cy,
        curves.r,
        curves.a0,
        curves.sweep,
    )
    return replace(tracks.take(lit), curves=lit_curves)
