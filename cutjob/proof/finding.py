"""What the proof found, as values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

Severity: TypeAlias = Literal["error", "warning"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One fault or remark: which check, where in the file (line from 1) and on the board (mm), measured and limit."""

    check: str
    severity: Severity
    message: str
    file: str
    line: int | None = None
    at: tuple[float, float] | None = None
    measured: float | None = None
    limit: float | None = None

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line is not None else self.file
        place = f" at x {self.at[0]:.3f} y {self.at[1]:.3f}" if self.at else ""
        return f"{where}: {self.check}: {self.message}{place}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofReport:
    """All findings, and the worst measures over everything cut: gouge into a part and wood left outside it, mm."""

    findings: tuple[Finding, ...]
    worst_gouge: float
    worst_left: float

    @property
    def passed(self) -> bool:
        """True when no finding is an error."""
        return not any(finding.severity == "error" for finding in self.findings)
