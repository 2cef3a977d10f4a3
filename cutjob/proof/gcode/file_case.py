"""The facts a rule needs about a file beside its motions, and the way it reports a finding."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cutjob.geometry.segment import Point
from cutjob.job.machine import Cutter, Feed, Machine
from cutjob.proof.finding import Finding
from cutjob.proof.gcode.reading import Motion, Reading
from cutjob.tolerances import TOLERANCES

HAIR = 1e-6  # mm; slack for arithmetic, far below the last written decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class FileCase:
    """A file as read, the machine it is for, and the known facts about its job.

    `cutters` are those planned, in the order they come (none without a plan), and `material` is the board's, for their
    rows of the feed table. `stock_top` is the program's Z of the stock's top, `height` the stack's (None without a
    plan), `safe_z` the planned height of air moves over the stock's top, and `tallest` the height of the highest thing
    on the board, mm. `planned` is False for a file without a plan. `origin` is the program's zero in the board's frame.
    `lying` is the box (least x, least y, greatest x, greatest y, from that zero) of the board, or of its window on the
    bed; None without a plan.
    """

    reading: Reading
    machine: Machine
    cutters: tuple[Cutter, ...] = ()
    material: str = ""
    stock_top: float = 0.0
    height: float | None = None
    overcut: float | None = None
    safe_z: float = 0.0
    tallest: float = 0.0
    planned: bool = True
    origin: Point = (0.0, 0.0)
    lying: tuple[float, float, float, float] | None = None

    @property
    def air(self) -> float:
        """The least height of air moves above the stock's top, mm. Over things on the board they run higher, which
        other judges check.
        """
        return self.machine.motion.safe_height

    @property
    def own_lines(self) -> tuple[str, ...]:
        """The profile's own lines that a file may hold, in capitals and without blanks."""
        controller = self.machine.controller
        lines = (*controller.start, *controller.after_change, *controller.end)
        return tuple(line.upper().replace(" ", "") for line in lines)

    @property
    def clear_height(self) -> float:
        """The program's Z of a height that clears everything on the board, less the rounding of a file, mm."""
        over = self.tallest + TOLERANCES.standing_air if self.tallest > 0 else 0.0
        return self.stock_top + max(self.air, over) - TOLERANCES.output

    @property
    def safe_height(self) -> float:
        """The program's Z of safe height, less the rounding of a file, mm."""
        return self.stock_top + self.air - TOLERANCES.output

    def cutter_of(self, tool: int) -> Cutter | None:
        """The cutter for a motion with this tool number; without a change, the first one planned."""
        if not self.cutters:
            return next((cutter for cutter in self.machine.cutter if cutter.number == tool), None)
        return next((cutter for cutter in self.cutters if cutter.number == tool), self.cutters[0])

    def feed_of(self, tool: int) -> Feed | None:
        """The row of the feed table for a motion with this tool number."""
        cutter = self.cutter_of(tool)
        return None if cutter is None else cutter.feed_for(self.material)

    def error(
        self, check: str, message: str, motion: Motion | None = None, *, line: int | None = None,
        measured: float | None = None, limit: float | None = None, severity: Literal["error", "warning"] = "error",
    ) -> Finding:  # fmt: skip
        """Return a finding in this file, at a motion or a line; its place is the motion's end."""
        return Finding(
            check=check,
            severity=severity,
            message=message,
            file=self.reading.name,
            line=motion.line if motion is not None else line,
            at=None if motion is None else self.on_board(motion.end[:2]),
            z=None if motion is None or not motion.z_known else motion.end[2] - self.stock_top,
            measured=measured,
            limit=limit,
        )

    def on_board(self, place: Point) -> Point:
        """A place of the program in the board's frame."""
        return place[0] + self.origin[0], place[1] + self.origin[1]
