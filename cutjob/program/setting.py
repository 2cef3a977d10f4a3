"""How one cutter runs on one board layout: depths, heights and feeds, worked out once. mm, mm/min; Z 0 is the top."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cutjob.errors import InputError, Problem
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout
from cutjob.tolerances import TOLERANCES
from cutjob.units import MM_PER

# A bore barely wider than its cutter may go down steeper than a ramp: by this share of the diameter a turn.
_LEAST_PITCH = 0.1
# Depth of the last pass, which frees a part held by tabs, as a share of the others'. Common practice, no source.
_LAST_SHARE = 1 / 3
# Air between the cutter and the things on a board, mm.
OVER = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Depths are positive numbers below the stock's top; `slope` is the fall of a ramp per mm along it.

    Holes go down to `through`, cuts round parts and openings to `loops`, which is less where a skin stays.
    `acceleration` is in mm/s2; `grid` is the step, mm, to which coordinates are written; `holes_clockwise` is the way
    round a hole, seen from above.
    """

    laser: bool
    through: float
    loops: float
    stack_height: float
    per_pass: float
    last_pass: float
    slope: float
    safe_z: float
    approach_z: float
    feed: float
    plunge: float
    lift: float
    lead: float
    passes: int
    power: float
    mark_feed: float
    mark_power: float
    cutter_diameter: float
    stepover: float
    acceleration: float
    grid: float
    holes_clockwise: bool

    @property
    def top(self) -> float:
        """Z where a way down starts: the stock's top; 0 for a beam too."""
        return 0.0

    def pitch(self, radius: float) -> float:
        """Fall in one turn of a bore whose centre runs at `radius`, mm."""
        turn = max(2 * math.pi * radius * self.slope, _LEAST_PITCH * self.cutter_diameter)
        return min(self.per_pass, turn)

    def depths(self, depth: float, *, top: float = 0.0) -> tuple[float, ...]:
        """Equal passes from `top` down to `depth`, none deeper than a pass may be."""
        count = max(1, math.ceil((depth - top) / self.per_pass - 1e-9))
        return tuple(top + (depth - top) * (step + 1) / count for step in range(count))

    def gentle_depths(self, depth: float) -> tuple[float, ...]:
        """Equal passes down to `depth`, with a lighter last one, at most half as deep as each of the others."""
        last = min(self.last_pass, self.per_pass / 2)
        count = max(1, math.ceil((depth - last) / self.per_pass - 1e-9))
        last = min(last, depth / (2 * count + 1))
        return (*(step * (depth - last) / count for step in range(1, count + 1)), depth)

    def slope_feed(self, length: float, rise: float) -> float:
        """Feed along a sloping way of `length` in plan: its rise or fall is no faster than the plunge feed."""
        if abs(rise) <= TOLERANCES.same_point:
            return self.feed
        whole = math.hypot(length, rise)
        return min(self.feed, (self.plunge if rise < 0 else self.lift) * whole / abs(rise))


def clear_height(layout: BoardLayout, machine: Machine) -> float:
    """Return a height above the stock's top that clears everything on the board, no less than the profile's safe
    height.

    Raises InputError where the machine can't lift the cutter so high.
    """
    tallest = max(layout.board.tallest, *(down.height for down in layout.hold_downs), 0.0)
    height = max(machine.motion.safe_height, tallest + OVER if tallest else 0.0)
    travel = machine.travel
    needed = layout.height + height + machine.cutting.overcut
    if travel is not None and 0 < travel.z < needed:
        raise InputError(
            Problem(
                location=layout.board.location,
                place=f'board "{layout.board.name}"',
                message=f"with {layout.height:.1f} mm of stock, {tallest:.1f} mm of clamps or screws, and the overcut, "
                f"the machine must move {needed:.1f} mm up and down; it moves only {travel.z:.1f} mm",
                advice="use lower clamps or screws, or cut fewer boards at once",
            )
        )
    return height


def setting_of(layout: BoardLayout, *, cutter: Cutter, machine: Machine) -> Setting:
    """Return the setting of a cutter on a board layout. Raises InputError without a feed for the material."""
    row = cutter.feed_for(layout.board.material)
    if row is None or not row.feed:
        raise InputError(
            Problem(
                location=layout.board.location,
                place=f'board "{layout.board.name}"',
                message=f'cutter {cutter.number} has no feed for "{layout.board.material}"',
                advice="add one to the machine profile, or choose another cutter",
            )
        )
    laser = machine.has_beam
    motion = machine.motion
    feed = min(row.feed, motion.greatest_feed)
    plunge = min(row.plunge or feed, motion.greatest_plunge)
    slope = math.tan(math.radians(row.ramp_degrees))
    return Setting(
        laser=laser,
        through=0.0 if laser else machine.through(layout.height),
        loops=0.0 if laser else machine.through(layout.height, loop=True),
        stack_height=layout.height,
        per_pass=row.depth_per_pass or max(layout.height, 1.0),
        last_pass=machine.cutting.last_pass or (row.depth_per_pass or max(layout.height, 1.0)) * _LAST_SHARE,
        slope=slope,
        safe_z=0.0 if laser else motion.safe_height,
        approach_z=0.0 if laser else min(motion.approach, motion.safe_height),
        feed=feed,
        plunge=plunge,
        lift=min(motion.rapid_z, feed),
        lead=machine.cutting.lead,
        passes=row.passes,
        power=row.power or 0.0,
        mark_feed=min(row.mark_feed or feed, motion.greatest_feed),
        mark_power=row.mark_power if row.mark_power is not None else (row.power or 0.0),
        cutter_diameter=cutter.diameter,
        stepover=row.stepover * cutter.diameter,
        acceleration=motion.acceleration,
        grid=10.0**-machine.controller.decimals * MM_PER[machine.controller.units],
        holes_clockwise=machine.holes_clockwise,
    )
