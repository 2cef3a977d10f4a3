"""Turns lengths as people write them into millimetres, and back.

`16`, `16 in`, `1 1/8`, `1-1/8 in`, `5/8"`, `6 ft`, `5 ft 6 in`, `34.5 mm`, `2 cm`, `1.2 m`; a bare number takes the
given unit.
Text becomes an exact fraction of a millimetre (1 in = 254/10 mm) and is turned into a float once, at the end.

Messages carry lengths as values, so that code that finds a mistake need not know the job's unit: `length` puts a mark
in the message's text, and where the text leaves the program, `spelled` words every mark in the job's unit.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Literal

Unit = Literal["in", "mm"]

MM_PER: dict[Unit, float] = {"mm": 1.0, "in": 25.4}
# The step that is read off a tape at a glance, and the finest step of a rule, mm.
TAPE: dict[Unit, float] = {"mm": 1.0, "in": 25.4 / 16}
RULE: dict[Unit, float] = {"mm": 0.1, "in": 25.4 / 64}
_SLACK = 1e-6  # of a step: a length this near to a whole number of steps counts as one

_MM_PER: dict[str, Fraction] = {
    "": Fraction(0),
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": Fraction(254, 10),
    "inch": Fraction(254, 10),
    "inches": Fraction(254, 10),
    '"': Fraction(254, 10),
    "″": Fraction(254, 10),
    "”": Fraction(254, 10),
    "ft": Fraction(3048, 10),
    "foot": Fraction(3048, 10),
    "feet": Fraction(3048, 10),
    "'": Fraction(3048, 10),
    "′": Fraction(3048, 10),
    "’": Fraction(3048, 10),
}
# Longer texts are refused before any arithmetic with long numbers; no length in a workshop reaches 100 km.
_LONGEST_TEXT = 40
_GREATEST_MM = 1e8
_ONE = re.compile(
    r"""\s*(?P<sign>[+-]?)\s*
        (?:(?P<whole>\d+)(?:\s+|\s*-\s*)(?P<num>\d+)\s*/\s*(?P<den>\d+)
          |(?P<num_only>\d+)\s*/\s*(?P<den_only>\d+)
          |(?P<decimal>\d+(?:\.\d*)?|\.\d+))
        \s*(?P<unit>[a-zA-Z]+|["'″”′’]?)\s*""",
    re.VERBOSE | re.ASCII,
)
HELP = 'write a length like 16, 1 1/8, 5/8", 6 ft or 34.5 mm'


def parse_length(text: str | int | float, *, unit: Unit) -> float:
    """Return the length in mm; a bare number is in `unit`. Raises ValueError with a message fit for a user."""
    if isinstance(text, bool):
        raise ValueError(f"{text!r} is not a length; {HELP}")
    if isinstance(text, (int, float)):
        if text != text or abs(text) == float("inf"):
            raise ValueError(f"{text!r} is not a length; {HELP}")
        if abs(text) > _GREATEST_MM:
            raise ValueError(f"the number is longer than any board; {HELP}")
        # The shortest decimal that means this float, without an exponent.
        text = format(Decimal(repr(text)), "f")
    if len(text) > _LONGEST_TEXT:
        raise ValueError(f"{text[:_LONGEST_TEXT]!r}... is too long for a length; {HELP}")
    total, rest, sign = Fraction(0), text, 1
    first = True
    while True:
        found = _ONE.match(rest)
        # `5 ft 6 in` adds up; it has one sign, in front.
        if found is None or (not first and (found["sign"] or not found["unit"])):
            raise ValueError(f"{text!r} is not a length; {HELP}")
        if first:
            sign = -1 if found["sign"] == "-" else 1
        total += _number(found, text) * _mm_per(found["unit"], unit, text)
        rest = rest[found.end() :]
        first = False
        if not rest:
            break
        if found["unit"].lower() not in ("ft", "foot", "feet", "'", "′", "’"):
            raise ValueError(f"{text!r} is not a length; {HELP}")
    if total > _GREATEST_MM:
        raise ValueError(f"{text!r} is longer than any board; {HELP}")
    return sign * float(total)


def _number(found: re.Match[str], text: str) -> Fraction:
    if found["decimal"] is not None:
        return Fraction(found["decimal"])
    whole = int(found["whole"] or 0)
    numerator, denominator = int(found["num"] or found["num_only"]), int(found["den"] or found["den_only"])
    if denominator == 0:
        raise ValueError(f"{text!r} divides by zero; {HELP}")
    return whole + Fraction(numerator, denominator)


def _mm_per(name: str, default: Unit, text: str) -> Fraction:
    try:
        return _MM_PER[name.lower()] or _MM_PER[default]
    except KeyError:
        raise ValueError(f"{text!r}: unit {name!r} is not known; use in, ft, mm, cm or m") from None


def to_tape(mm: float, unit: Unit) -> float:
    """Return the length nearest to `mm` that a tape shows at a glance, mm: whole mm, or 16ths of an inch."""
    return round(mm / TAPE[unit]) * TAPE[unit]


# Pairs of mm: a length up to the first is round where it is a multiple of the second.
_ROUND_MM = ((5.0, 0.5), (30.0, 1.0), (math.inf, 5.0))


def round_mm(mm: float) -> float:
    """Return the nearest length that a person working in mm would choose: 6.35 to 6, 76.2 to 75."""
    step = next(step for most, step in _ROUND_MM if mm <= most)
    return round(mm / step) * step


def down_to_tape(mm: float, unit: Unit) -> float:
    """Return the longest length up to `mm` that a tape shows at a glance, mm."""
    return math.floor(mm / TAPE[unit] + _SLACK) * TAPE[unit]


def format_length(mm: float, *, unit: Unit, finest: int = 64) -> str:
    """Return `mm` for reading: `12 3/4 in` where a fraction of 1/`finest` hits it within 0.001 in, else decimals."""
    if unit == "mm":
        return f"{_trim(mm, 3)} mm"
    inches = mm / 25.4
    near = Fraction(round(inches * finest), finest)
    if abs(float(near) - inches) > 0.001:
        return f"{_trim(inches, 4)} in"
    whole, rest = divmod(abs(near), 1)
    sign = "-" if near < 0 else ""
    words = [str(whole)] if whole or not rest else []
    if rest:
        words.append(f"{rest.numerator}/{rest.denominator}")
    return f"{sign}{' '.join(words)} in"


def format_bought(mm: float, *, unit: Unit) -> str:
    """Return `mm` as it is bought and measured: in mm where inches have no fraction for it."""
    text = format_length(mm, unit=unit)
    return format_length(mm, unit="mm") if unit == "in" and "." in text else text


# A mark, between two control characters, has the kind of length, its value in mm for readers of mm and for readers of
# inches, and the finest fraction of an inch. Files refuse these characters, or they are replaced (`unmarked`), so that
# no text of a user's is taken for a mark.
_MARK_FIRST, _MARK_LAST = "\x02", "\x03"
_VALUE = r"(-?\d{1,17}(?:\.\d{1,20})?(?:e-\d{2,3}|e\+\d\d)?)"
_MARK = re.compile(rf"{_MARK_FIRST}(length|limit|area) {_VALUE} {_VALUE} ([1-9]\d{{0,3}}){_MARK_LAST}", re.ASCII)


def length(mm: float, *, finest: int = 64) -> str:
    """Return a mark for a length in a message; `spelled` words it as `format_length` does."""
    return _mark("length", {"mm": mm, "in": mm}, finest)


def length_by(mm: Callable[[Unit], float]) -> str:
    """Return a mark for a length that differs between the units, such as one rounded to the lines of a rule."""
    return _mark("length", {"mm": mm("mm"), "in": mm("in")})


def rounded_up(mm: float, step: Mapping[Unit, float] = RULE) -> str:
    """Return a mark for the shortest length from `mm` on that is a whole number of steps."""
    return length_by(lambda unit: math.ceil(mm / step[unit] - _SLACK) * step[unit])


def rounded_down(mm: float, step: Mapping[Unit, float] = RULE) -> str:
    """Return a mark for the longest length up to `mm` that is a whole number of steps."""
    return length_by(lambda unit: math.floor(mm / step[unit] + _SLACK) * step[unit])


def at_most(mm: Mapping[Unit, float]) -> str:
    """Return a mark for a limit that differs between the units: `at most 1/4 in`, or `none at all` where it is 0."""
    return _mark("limit", mm)


def area(mm2: float) -> str:
    """Return a mark for an area, spelled in whole square inches or square centimetres."""
    return _mark("area", {"mm": mm2, "in": mm2})


def _mark(kind: str, values: Mapping[Unit, float], finest: int = 64) -> str:
    return f"{_MARK_FIRST}{kind} {float(values['mm'])!r} {float(values['in'])!r} {finest}{_MARK_LAST}"


def spelled(text: str, unit: Unit) -> str:
    """Return a message with every mark in it worded in `unit`; text without marks as it is."""
    return _MARK.sub(lambda found: _worded(found, unit), text) if _MARK_FIRST in text else text


def unmarked(text: str) -> str:
    """Return a user's text with ? in place of the two characters that enclose marks."""
    return text.replace(_MARK_FIRST, "?").replace(_MARK_LAST, "?")


def each_spelled(texts: Iterable[str], unit: Unit) -> tuple[str, ...]:
    """Return the messages spelled; messages that then read the same are kept once."""
    return tuple(dict.fromkeys(spelled(text, unit) for text in texts))


def _worded(mark: re.Match[str], unit: Unit) -> str:
    kind, value = mark[1], float(mark[2] if unit == "mm" else mark[3])
    if kind == "area":
        return f"{value / 25.4**2:.0f} sq in" if unit == "in" else f"{value / 100:.0f} cm2"
    words = format_length(value, unit=unit, finest=int(mark[4]))
    if kind == "limit":
        return f"at most {words}" if value > 0 else "none at all"
    return words


def _trim(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
