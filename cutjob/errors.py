"""Errors as values: where the mistake is, what is wrong and what to do about it.

A `Problem` is one mistake. A `CutjobError` carries every mistake found in one run, so that a user can fix them all at
once. `InputError` ends the command with exit code 2, `ProofError` with 1.

Messages carry lengths as marks (`cutjob.units`). Where the unit of the user's file is known, `errors_in` words them in
it; otherwise they read in mm.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Self

from cutjob.units import Unit, spelled

# Two words with at least this share of letters in common may be a misspelling of each other.
_ALIKE = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Location:
    """A place in a user's file: the file's name as given, and where known the line and column, counted from 1."""

    file: str
    line: int | None = None
    column: int | None = None

    def __str__(self) -> str:
        return ":".join(str(word) for word in (self.file, self.line, self.column) if word is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One mistake: `message` says what is wrong, `advice` what to do, `place` names the entry of the file."""

    message: str
    advice: str = ""
    place: str = ""
    location: Location | None = None

    def __str__(self) -> str:
        head = [str(word) for word in (self.location, self.place) if word]
        text = ": ".join([*head, spelled(self.message, "mm")])
        return f"{text}; {spelled(self.advice, 'mm')}" if self.advice else text

    def spelled(self, unit: Unit) -> Problem:
        """The problem with its lengths worded in `unit`."""
        return replace(self, message=spelled(self.message, unit), advice=spelled(self.advice, unit))


class CutjobError(Exception):
    """Base of all errors cutjob raises on purpose; `problems` holds at least one `Problem`."""

    exit_code = 2

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        """Take one problem or several; raises ValueError for none."""
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        if not self.problems:
            raise ValueError("an error needs at least one problem")
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[CutjobError], tuple[tuple[Problem, ...]]]:
        """Pickle with the problems: errors come from other processes too."""
        return type(self), (self.problems,)

    def spelled(self, unit: Unit) -> Self:
        """The error with its lengths worded in `unit`; problems that then read the same become one."""
        return type(self)(dict.fromkeys(problem.spelled(unit) for problem in self.problems))


class InputError(CutjobError):
    """The input is wrong: a job, a profile, a drawing, or something the machine or the boards can't do."""

    exit_code = 2


class ProofError(CutjobError):
    """A written file does not cut what the job asks for."""

    exit_code = 1


@contextmanager
def errors_in(unit: Unit) -> Iterator[None]:
    """Word the lengths of an InputError raised in the block in `unit`, the unit of the user's file."""
    try:
        yield
    except InputError as error:
        raise error.spelled(unit) from None


def closest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that `word` most likely misspells, or None where none is near."""
    found = difflib.get_close_matches(word.lower(), list(known), n=1, cutoff=_ALIKE)
    return found[0] if found else None
