"""What can go wrong, as values: where it is, what is wrong and what to do about it.

A `Problem` is one mistake. A `CutjobError` carries every mistake found in one go, so that a user mends them all at
once. `InputError` ends the command with exit code 2, `ProofError` with 1.

Messages carry lengths as marks (`cutjob.units`). Where the unit of the user's file is known, `errors_in` spells them on
the way out; a problem that none has spelled reads in mm.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Self

from cutjob.units import Unit, spelled

# Share of letters two words must have in common for one to be taken as a slip for the other.
_ALIKE = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Location:
    """A place in a file the user wrote: its name as given, and the line and column, counted from 1, where known."""

    file: str
    line: int | None = None
    column: int | None = None

    def __str__(self) -> str:
        return ":".join(str(word) for word in (self.file, self.line, self.column) if word is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One mistake: `message` says what is wrong, `advice` what to do, `place` which thing of the file it is in."""

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
        """The error with its lengths worded in `unit`; problems that read alike then are one."""
        return type(self)(dict.fromkeys(problem.spelled(unit) for problem in self.problems))


class InputError(CutjobError):
    """The input is wrong: a job, a profile, a drawing, or a wish the machine or the boards can't meet."""

    exit_code = 2


class ProofError(CutjobError):
    """A written file does not cut what was meant."""

    exit_code = 1


@contextmanager
def errors_in(unit: Unit) -> Iterator[None]:
    """Word the lengths of an InputError that comes out of the block in `unit`, that of the user's file."""
    try:
        yield
    except InputError as error:
        raise error.spelled(unit) from None


def closest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that `word` is most likely a slip for, or None when none is near."""
    found = difflib.get_close_matches(word.lower(), list(known), n=1, cutoff=_ALIKE)
    return found[0] if found else None
