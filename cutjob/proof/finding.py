"""Findings of the proof, as values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from cutjob.units import Unit

Severity: TypeAlias = Literal["error", "warning"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One fault or remark: which check, where in the file (line from 1) and on the board (mm), measured and limit.

    `at` is in the board's frame if a plan names the board, else in the program's own. `z` is the height of the line's
    motion there, over the stock's top.
    """

    check: str
    severity: Severity
    message: str
    file: str
    line: int | None = None
    at: tuple[float, float] | None = None
    z: float | None = None
    measured: float | None = None
    limit: float | None = None

    def words(self, unit: Unit = "mm") -> str:
        """Return the finding in one line, the place in `unit`."""
        where = f"{self.file}:{self.line}" if self.line is not None else self.file
        return f"{where}: {self.check}: {self.message}{self._place(unit)}"

    def _place(self, unit: Unit) -> str:
        if self.at is None:
            return ""
        scale, decimals = (1 / 25.4, 4) if unit == "in" else (1.0, 3)
        named = [("x", self.at[0]), ("y", self.at[1]), *([] if self.z is None else [("z", self.z)])]
        # Adding 0 turns a -0 from rounding into 0.
        numbers = " ".join(f"{name} {round(value * scale, decimals) + 0.0:.{decimals}f}" for name, value in named)
        return f" at {numbers} {unit}"

    def __str__(self) -> str:
        return self.words()


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofReport:
    """All findings, and the worst measures over everything cut: gouge into a part and wood left outside it, mm; and the
    greatest distance of a line of the paper patterns from its edge (None: there are no patterns).
    """

    findings: tuple[Finding, ...]
    worst_gouge: float
    worst_left: float
    worst_pattern: float | None = None

    @property
    def passed(self) -> bool:
        """True when no finding is an error."""
        return not any(finding.severity == "error" for finding in self.findings)
