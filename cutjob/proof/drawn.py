"""A drawing's chains beside the goals they draw, and how a judgement of a drawing says what it found."""

from __future__ import annotations

from dataclasses import dataclass

from cutjob.proof.curves import Curves, Ints
from cutjob.proof.dxf_reader import DrawnChain
from cutjob.proof.expect import ExpectedDrawing
from cutjob.proof.finding import Finding

MOST_TOLD = 20


@dataclass(frozen=True, slots=True)
class Drawn:
    """The chains of a drawing as one set of curves; `chain` says which each row belongs to, `goal` what it draws."""

    chains: tuple[DrawnChain, ...]
    curves: Curves
    chain: Ints
    goal: Ints  # by chain; -1 for none


def drawing_finding(expected: ExpectedDrawing, message: str, chain: DrawnChain | None = None) -> Finding:
    """Return a finding in a drawing, at a chain where there is one."""
    at = None
    if chain is not None and chain.segments:
        at = chain.segments[0].start
    return Finding(
        check="drawing",
        severity="error",
        message=message,
        file=expected.file,
        line=None if chain is None else chain.line,
        at=at,
    )
