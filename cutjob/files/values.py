"""The kinds of value in a file - lengths, counts, numbers, yes or no, choices, text: how each is read, its limits,
and the messages for a wrong one.

They read the keys of jobs, profiles and stock (`fields.py` hands them to pydantic) and the parameters of designs.
A raw value is the value as the file has it; a bare number for a length is in the file's unit.
"""

from __future__ import annotations

import math
import re
from abc import ABC, abstractmethod
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, ClassVar, Generic, TypeVar

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from cutjob.counting import counted
from cutjob.errors import closest
from cutjob.units import HELP, RULE, TAPE, Unit, format_length, parse_length

T_co = TypeVar("T_co", covariant=True)

# No line ends, no control characters (with U+0085, U+2028 and U+2029), no invisible characters: marks that reverse the
# order of letters, joiners, byte order marks. They end lines or hide what a file says.
ON_ONE_LINE = r"^[^\x00-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb]+$"
_LEAST_LENGTH = 1e-5  # in any unit: a thousandth of a caliper's finest step
_LONGEST_SHOWN = 40
# Pairs of mm: a limit up to the first length is worded in steps of the second.
_LIMIT_STEPS: Mapping[Unit, Sequence[tuple[float, float]]] = {
    "in": ((3.0, 25.4 / 64), (25.4, 25.4 / 16), (150.0, 25.4 / 4), (math.inf, 25.4)),
    "mm": ((30.0, 0.5), (300.0, 1.0), (math.inf, 10.0)),
}


class BadValue(ValueError):  # noqa: N818 - a value with its advice, not a failure of the program
    """A value that is refused: the message, and the advice what to write instead."""

    def __init__(self, message: str, advice: str = "") -> None:
        """Keep both halves of the message."""
        super().__init__(f"{message}; {advice}" if advice else message)
        self.message, self.advice = message, advice


@dataclass(frozen=True, slots=True)
class Kind(ABC, Generic[T_co]):
    """A kind of value. In `Annotated` it reads a field of a model, in the unit of the validation context `units`."""

    what: ClassVar[str]
    json_schema: ClassVar[Mapping[str, object]] = {}  # of a raw value, without its limits

    def read(self, raw: Any, *, unit: Unit) -> T_co:
        """Return the checked value, lengths in mm. Raises BadValue with a message fit for a user."""
        return self._read(raw, unit)

    def expects(self, *, unit: Unit) -> str:
        """Say in words what may be written, with the limits in `unit`: `a length, 1 in to 6 in`."""
        return self.what + self.limits(unit)

    def limits(self, unit: Unit) -> str:
        """The words that follow `what`: `, 1 in to 6 in`."""
        return ""

    @abstractmethod
    def _read(self, raw: Any, unit: Unit) -> T_co: ...

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        def read(raw: Any, info: ValidationInfo) -> T_co:
            return self._read(raw, (info.context or {}).get("units", "mm"))

        return core_schema.with_info_plain_validator_function(read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, object]:
        return {**self.json_schema, **self._bounds()}

    def _bounds(self) -> dict[str, object]:
        return {}


@dataclass(frozen=True, slots=True)
class _Limited(Kind[T_co]):
    """A number with limits, which are allowed values themselves; mm for lengths."""

    least: float | None = None
    greatest: float | None = None

    def limits(self, unit: Unit) -> str:
        least = "" if self.least is None else self._words(self.least, unit, up=True)
        greatest = "" if self.greatest is None else self._words(self.greatest, unit, up=False)
        if least and greatest:
            return f", {least} to {greatest}"
        return f", at least {least}" if least else f", at most {greatest}" if greatest else ""

    def _within(self, value: float, raw: Any, unit: Unit) -> None:
        if self.least is not None and value < self.least:
            least = self._words(self.least, unit, up=True)
            raise BadValue(f"{shown(raw)} is too small", f"it must be at least {least}")
        if self.greatest is not None and value > self.greatest:
            greatest = self._words(self.greatest, unit, up=False)
            raise BadValue(f"{shown(raw)} is too large", f"it must be at most {greatest}")

    def _words(self, limit: float, unit: Unit, *, up: bool) -> str:
        return f"{limit:.12g}"

    def _bounds(self) -> dict[str, object]:
        bounds = {"minimum": self.least, "maximum": self.greatest}
        return {key: limit for key, limit in bounds.items() if limit is not None}


@dataclass(frozen=True, slots=True)
class Length(_Limited[float]):
    """A length, mm; `positive` refuses 0 and less."""

    what: ClassVar[str] = "a length"
    json_schema: ClassVar[Mapping[str, object]] = {
        "anyOf": [{"type": "number"}, {"type": "string"}],
        "description": f"a length; a bare number is in the file's units; {HELP}",
    }
    positive: bool = False

    def _read(self, raw: Any, unit: Unit) -> float:
        if isinstance(raw, bool) or not isinstance(raw, (str, int, float)):
            raise BadValue(f"{shown(raw)} is not a length", HELP)
        if isinstance(raw, float) and 0 < abs(raw) < _LEAST_LENGTH:
            raise BadValue(f"{raw:g} is too small to measure", HELP)
        try:
            length = parse_length(raw, unit=unit)
        except ValueError as error:
            raise BadValue(*str(error).rsplit("; ", 1)) from None
        if self.positive and length <= 0:
            raise BadValue(f"{shown(raw)} is too small", "it must be more than 0")
        self._within(length, raw, unit)
        return length

    def _bounds(self) -> dict[str, object]:
        return {}  # text can't be compared

    def _words(self, limit: float, unit: Unit, *, up: bool) -> str:
        """Word a limit. A length that no rule shows is rounded inward to a step that reads well at its size."""
        rule = RULE[unit]
        if not math.isclose(limit / rule, round(limit / rule), abs_tol=1e-6):
            step = next(step for most, step in _LIMIT_STEPS[unit] if limit <= most)
            if self.least is not None and self.greatest is not None:
                span = self.greatest - self.least
                step = next((one for one in (step, TAPE[unit]) if 4 * one <= span), rule)
            limit = (math.ceil(limit / step - 1e-6) if up else math.floor(limit / step + 1e-6)) * step
        return format_length(limit, unit=unit)


@dataclass(frozen=True, slots=True)
class Count(_Limited[int]):
    """A whole number; neither `true` nor a decimal one passes for it."""

    what: ClassVar[str] = "a whole number"
    json_schema: ClassVar[Mapping[str, object]] = {"type": "integer"}

    def _read(self, raw: Any, unit: Unit) -> int:
        if isinstance(raw, bool) or not isinstance(raw, int):
            raise BadValue(f"{shown(raw)} is not a whole number", "write a number without quotes and without a point")
        self._within(raw, raw, unit)
        return raw


@dataclass(frozen=True, slots=True)
class Number(_Limited[float]):
    """A number; neither `true` nor text passes for it. One between 0 and `tiny` is refused."""

    what: ClassVar[str] = "a number"
    json_schema: ClassVar[Mapping[str, object]] = {"type": "number"}
    tiny: float = 0.0

    def _read(self, raw: Any, unit: Unit) -> float:
        if isinstance(raw, bool) or not isinstance(raw, (int, float)) or not math.isfinite(raw):
            raise BadValue(f"{shown(raw)} is not a number", "write a number such as 0.5, without quotes")
        if 0 < abs(raw) < self.tiny:
            raise BadValue(f"{raw:g} is too small to mean anything", f"write 0, or at least {self.tiny:g}")
        self._within(raw, raw, unit)
        return float(raw)


@dataclass(frozen=True, slots=True)
class TrueFalse(Kind[bool]):
    """True or false."""

    what: ClassVar[str] = "true or false"
    json_schema: ClassVar[Mapping[str, object]] = {"type": "boolean"}

    def _read(self, raw: Any, unit: Unit) -> bool:
        if not isinstance(raw, bool):
            raise BadValue(f"{shown(raw)} is neither true nor false", "write true or false, without quotes")
        return raw


@dataclass(frozen=True, slots=True)
class Day(Kind[date]):
    """A day of the calendar, of the years 2000 to 2199; a time of day is refused."""

    what: ClassVar[str] = "a date"
    json_schema: ClassVar[Mapping[str, object]] = {"type": "string", "format": "date"}

    def _read(self, raw: Any, unit: Unit) -> date:
        day = raw
        if isinstance(raw, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", raw.strip()):
            try:
                day = date.fromisoformat(raw.strip())
            except ValueError:
                raise BadValue(f"{shown(raw)} is not in the calendar", "check month and day") from None
        if not isinstance(day, date) or isinstance(day, datetime):
            raise BadValue(f"{shown(raw)} is not a date", "write year, month and day: 2027-04-02")
        if not 2000 <= day.year < 2200:
            raise BadValue(f"{shown(raw)} is too far away", "write a year from 2000 to 2199")
        return day


@dataclass(frozen=True, slots=True)
class Text(Kind[str]):
    """Text without the spaces round it: 1 to `most` letters, all of them allowed by `pattern`."""

    what: ClassVar[str] = "text"
    json_schema: ClassVar[Mapping[str, object]] = {"type": "string", "minLength": 1}
    most: int
    pattern: str = ON_ONE_LINE

    def _read(self, raw: Any, unit: Unit) -> str:
        if not isinstance(raw, str):
            raise BadValue(f"{shown(raw)} is not text", "put it in quotes")
        text = raw.strip()
        if not text:
            raise BadValue("the text is empty", "write at least one letter")
        if len(text) > self.most:
            raise BadValue("the text is too long", f"write at most {self.most} letters")
        if not re.search(self.pattern, text):
            raise _unseen(text)
        return text

    def _bounds(self) -> dict[str, object]:
        return {"maxLength": self.most, "pattern": self.pattern}


@dataclass(frozen=True, slots=True)
class Choice(Kind[str]):
    """One of some words."""

    what: ClassVar[str] = "one of"
    words: tuple[str, ...]

    def _read(self, raw: Any, unit: Unit) -> str:
        word = raw.strip() if isinstance(raw, str) else raw
        if word not in self.words:
            raise not_known(word, self.words)
        return str(word)

    def limits(self, unit: Unit) -> str:
        """The words: `"flat" or "on edge"`."""
        *first, last = (f'"{word}"' for word in self.words)
        return f" {', '.join(first)} or {last}" if first else f" {last}"


def not_known(raw: Any, known: Sequence[str]) -> BadValue:
    """The error for a value that is none of the known words."""
    return BadValue(f"{shown(raw)} is not known", nearest(raw if isinstance(raw, str) else "", known))


def not_a_list(raw: Any) -> BadValue:
    """The error for a value in place of a list."""
    return BadValue(f"{shown(raw)} is not a list", "write it in [ ]")


def too_many(count: int, most: int) -> BadValue:
    """The error for a list or table of more than `most` entries."""
    return BadValue(f"{_entries(count)} too many", f"write at most {most}")


def too_few(count: int, least: int) -> BadValue:
    """The error for a list or table of fewer than `least` entries."""
    return BadValue(f"{_entries(count)} too few", f"write at least {least}")


def _entries(count: int) -> str:
    return f"{counted(count, 'entry', 'entries')} {'is' if count == 1 else 'are'}"


def nearest(word: str, known: Collection[str]) -> str:
    """Return advice that names the most likely known word, or else all known words; empty where there are none."""
    every = f"take {'one of ' if len(known) > 1 else ''}{', '.join(known)}" if known else ""
    return did_you_mean(word, known) or every


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return `did you mean "tiers"?` with the known word nearest to `word`, or an empty text where none is near."""
    near = closest(word, known)
    return f'did you mean "{near}"?' if near is not None else ""


def shown(raw: Any) -> str:
    """A value as the file has it, shortened."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, str):
        text = "".join(letter if letter.isprintable() else "?" for letter in raw[: _LONGEST_SHOWN + 1])
        return f'"{text[:_LONGEST_SHOWN]}..."' if len(text) > _LONGEST_SHOWN else f'"{text}"'
    if isinstance(raw, Mapping):
        return "a table"
    if isinstance(raw, (list, tuple)):
        return "a list"
    return "this" if raw is None else str(raw)


def _unseen(text: str) -> BadValue:
    """The error for text that its pattern refuses; it names the first invisible character."""
    bad = next((letter for letter in text if letter != " " and not letter.isprintable()), "")
    if not bad:
        return BadValue(f"{shown(text)} has letters that are not allowed here", "use plain letters and digits")
    if bad in "\n\r":
        return BadValue(f"{shown(text)} goes over several lines", "write it on one line")
    return BadValue(
        f"{shown(text)} has an invisible character, U+{ord(bad):04X}",
        "type it again, with plain letters and digits",
    )
