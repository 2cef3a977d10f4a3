"""Ways to spoil a program: small functions from its lines to others, which fail where there is nothing to spoil."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TypeAlias

from cutjob.proof.finding import ProofReport

Lines: TypeAlias = list[str]
Spoil: TypeAlias = Callable[[Lines], Lines]


def checks(report: ProofReport) -> set[str]:
    return {finding.check for finding in report.findings if finding.severity == "error"}


def _hits(lines: Lines, pattern: str) -> list[int]:
    hits = [number for number, line in enumerate(lines) if re.search(pattern, line)]
    assert hits, f"{pattern} is on no line"
    return hits


def swap(pattern: str, by: str, *, at: int | None = None) -> Spoil:
    """Replace a pattern everywhere, or on the one matching line numbered `at`."""

    def spoil(lines: Lines) -> Lines:
        hits = _hits(lines, pattern)
        chosen = hits if at is None else [hits[at]]
        return [re.sub(pattern, by, line) if number in chosen else line for number, line in enumerate(lines)]

    return spoil


def drop(pattern: str, *, at: int | None = None) -> Spoil:
    """Leave out matching lines."""

    def spoil(lines: Lines) -> Lines:
        hits = _hits(lines, pattern)
        chosen = hits if at is None else [hits[at]]
        return [line for number, line in enumerate(lines) if number not in chosen]

    return spoil


def insert(before: str, new: Lines, *, at: int = 0) -> Spoil:
    """Put lines before a matching line."""

    def spoil(lines: Lines) -> Lines:
        hit = _hits(lines, before)[at]
        return [*lines[:hit], *new, *lines[hit:]]

    return spoil


def moved(name: str, before: str) -> Spoil:
    """Move the section that a comment opens before another line."""

    def spoil(lines: Lines) -> Lines:
        begin = lines.index(f"({name})")
        end = next(number for number in range(begin + 1, len(lines)) if lines[number].startswith(("(", "M")))
        rest = lines[:begin] + lines[end:]
        place = rest.index(before)
        return [*rest[:place], *lines[begin:end], *rest[place:]]

    return spoil
