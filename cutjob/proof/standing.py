"""What a rule needs to know of a file beside its motions, and how a rule says what it found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cutjob.job.machine import Cutter, Feed, Machine
from cutjob.proof.finding import Finding
from cutjob.proof.reading import Motion, Reading
from cutjob.tolerances import TOLERANCES

HAIR = 1e-6  # mm; arithmetic, far below the last written decimal
SPARE = 1.001  # a share of a feed: one converted between units is written rounded


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A file as read, the machine it is for, and what is known of its job: the cutter, its row of the feed table, the
    program's Z of the stock's top, and the stack's height (None where no plan says it), mm.
    """

    reading: Reading
    machine: Machine
    cutter: Cutter | None = None
    feed: Feed | None = None
    stock_top: float = 0.0
    height: float | None = None
    overcut: float | None = None

    @property
    def safe_height(self) -> float:
        """The program's Z of safe height, less the rounding of a file, mm."""
        return self.stock_top + self.machine.motion.safe_height - TOLERANCES.output

    def error(
        self, check: str, message: str, motion: Motion | None = None, *, line: int | None = None,
        measured: float | None = None, limit: float | None = None, severity: Literal["error", "warning"] = "error",
    ) -> Finding:  # fmt: skip
        """Return a finding in this file, at a motion or a line."""
        return Finding(
            check=check,
            severity=severity,
            message=message,
            file=self.reading.name,
            line=motion.line if motion is not None else line,
            at=None if motion is None else motion.end[:2],
            measured=measured,
            limit=limit,
        )
