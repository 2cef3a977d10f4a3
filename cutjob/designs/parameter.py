"""A design's parameters, and the values a user wrote turned into checked ones: lengths in mm, counts, choices, pins.

A raw value is what stands in the file (text, number, yes or no, list); a bare number for a length is in the file's
unit. A mistake is a `BadValue` here; the caller knows the file and the line and makes a `Problem` of it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple, TypeAlias

from cutjob.errors import closest
from cutjob.units import MM_PER, RULE, TAPE, Unit, format_length, parse_length


class LayerUse(NamedTuple):
    """What the lines of a layer (or of a colour) stand for, one of `USES`, and how deep that is cut, mm."""

    layer: str
    use: str
    depth: float | None


Kind = Literal["length", "count", "number", "choice", "yes_no", "text", "lengths", "pins", "depths", "layers"]
Pin: TypeAlias = tuple[float, float]
LayerUses: TypeAlias = tuple[LayerUse, ...]
Depth: TypeAlias = tuple[str, float]
Value: TypeAlias = float | int | bool | str | tuple[float, ...] | tuple[Pin, ...] | tuple[Depth, ...] | LayerUses

# What the lines of a layer of a drawing may stand for; those that take a depth, and whether they need one.
USES = ("outline", "opening", "hole", "mark", "pocket", "ignore")
_SUNK = {"pocket": True, "hole": False, "mark": False}
_MOST_IN_A_LIST = 50
_MOST_LETTERS = 300
_KIND_WORDS: dict[Kind, str] = {
    "length": "a length",
    "count": "a whole number",
    "number": "a number",
    "choice": "one of",
    "yes_no": "true or false",
    "text": "text",
    "lengths": "a list of lengths",
    "pins": "a list of pins [along, up]",
    "depths": "layers with their depths, such as { recess = 6 }",
    "layers": 'layers and colours with what they are, such as { front = "outline", recess = { pocket = 6 } }; depths',
}


_POCKET = '{ pocket = "1/4 in" }'


class BadValue(Exception):  # noqa: N818 - a value with its advice, not a failure of the program
    """A value that can't be taken: what is wrong, and what to write instead."""

    def __init__(self, message: str, advice: str = "") -> None:
        """Keep both halves of the message."""
        super().__init__(message)
        self.message, self.advice = message, advice


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """One thing of a design that can be changed.

    `least` and `greatest` are inclusive limits, mm for lengths (of each length in a list); for pins they bound the
    share of the height. `default` is a raw value as in a file in mm; without one the parameter is left unset unless a
    size or the user sets it, and `required` says that the user has to.
    """

    name: str
    kind: Kind
    help: str
    least: float | None = None
    greatest: float | None = None
    choices: tuple[str, ...] = ()
    default: Any = None
    required: bool = False

    def expects(self, *, unit: Unit) -> str:
        """Say in words what may be written, with the limits in `unit`: `a length, 1 in to 6 in`."""
        if self.kind == "choice":
            return f"{_KIND_WORDS['choice']} {_listed(self.choices)}"
        limits = [self._limit(limit, unit) for limit in (self.least, self.greatest) if limit is not None]
        if not limits:
            return _KIND_WORDS[self.kind]
        if len(limits) == 2:
            return f"{_KIND_WORDS[self.kind]}, {limits[0]} to {limits[1]}"
        return f"{_KIND_WORDS[self.kind]}, {'at least' if self.least is not None else 'at most'} {limits[0]}"

    def read(self, raw: Any, *, unit: Unit) -> Value:
        """Return the checked value, lengths in mm. Raises BadValue with a message fit for a user."""
        match self.kind:
            case "length":
                return self._length(raw, unit)
            case "lengths":
                return tuple(self._length(one, unit) for one in self._list(raw))
            case "count":
                if isinstance(raw, bool) or not isinstance(raw, int):
                    raise BadValue(f"{_shown(raw)} is not a whole number", f"write {self.expects(unit=unit)}")
                self._limits(raw, unit)
                return raw
            case "number":
                number = _number(raw)
                self._limits(number, unit)
                return number
            case "yes_no":
                if not isinstance(raw, bool):
                    raise BadValue(f"{_shown(raw)} is neither true nor false", "write true or false, without quotes")
                return raw
            case "pins":
                return self._pins(raw, unit)
            case "depths":
                return self._depths(raw, unit)
            case "layers":
                return self._layers(raw, unit)
            case _:
                return self._text(raw)

    def _length(self, raw: Any, unit: Unit) -> float:
        if not isinstance(raw, (str, int, float)):
            raise BadValue(f"{_shown(raw)} is not a length", f"write {self.expects(unit=unit)}")
        try:
            length = parse_length(raw, unit=unit)
        except ValueError as error:
            message, _, advice = str(error).partition("; ")
            raise BadValue(message, advice) from None
        self._limits(length, unit)
        return length

    def _text(self, raw: Any) -> str:
        if not isinstance(raw, str) or not raw.strip():
            raise BadValue(f"{_shown(raw)} is not text", "write text in quotes")
        text = raw.strip()
        if self.choices and text not in self.choices:
            raise BadValue(f"{_shown(text)} is not known", f"{nearest(text, self.choices)}take {_listed(self.choices)}")
        if len(text) > _MOST_LETTERS:
            raise BadValue(f"{_shown(text)} is too long", f"at most {_MOST_LETTERS} letters")
        return text

    def _list(self, raw: Any) -> list[Any]:
        if not isinstance(raw, (list, tuple)):
            raise BadValue(f"{_shown(raw)} is not a list", f"write {_KIND_WORDS[self.kind]} in square brackets")
        if len(raw) > _MOST_IN_A_LIST:
            raise BadValue(f"a list of {len(raw)} is too long", f"at most {_MOST_IN_A_LIST} entries")
        return list(raw)

    def _pins(self, raw: Any, unit: Unit) -> tuple[Pin, ...]:
        pins: list[Pin] = []
        for one in self._list(raw):
            if not isinstance(one, (list, tuple)) or len(one) != 2:
                raise BadValue(f"{_shown(one)} is not a pin", "write two numbers such as [0.5, 0.8]")
            along, height = _number(one[0]), _number(one[1])
            self._limits(height, unit)
            pins.append((along, height))
        if len(pins) < 2:
            raise BadValue("a curve needs at least two pins", "one at 0, the centre, and one at 1, the tip")
        places = [along for along, _ in pins]
        if any(after - before < _CLOSEST_PINS for before, after in itertools.pairwise(places)):
            raise BadValue(
                "the pins must go from the centre outwards",
                f"each at least {_CLOSEST_PINS} further along than the last",
            )
        if places[0] != 0 or places[-1] != 1:
            raise BadValue(
                f"the pins reach from {places[0]:g} to {places[-1]:g}", "the first is at 0, the centre, the last at 1"
            )
        return tuple(pins)

    def _depths(self, raw: Any, unit: Unit) -> tuple[Depth, ...]:
        if not isinstance(raw, dict) or not raw:
            raise BadValue(f"{_shown(raw)} names no layers", f"write {_KIND_WORDS[self.kind]}")
        if len(raw) > _MOST_IN_A_LIST:
            raise BadValue(f"{len(raw)} layers are too many", f"at most {_MOST_IN_A_LIST}")
        return tuple((str(layer), self._length(depth, unit)) for layer, depth in raw.items())

    def _layers(self, raw: Any, unit: Unit) -> LayerUses:
        if not isinstance(raw, dict) or not raw:
            raise BadValue(f"{_shown(raw)} names no layers", f"write {_KIND_WORDS[self.kind]}")
        if len(raw) > _MOST_IN_A_LIST:
            raise BadValue(f"{len(raw)} layers are too many", f"at most {_MOST_IN_A_LIST}")
        return tuple(self._layer(str(layer), use, unit) for layer, use in raw.items())

    def _layer(self, layer: str, use: Any, unit: Unit) -> LayerUse:
        if isinstance(use, dict) and len(use) == 1:
            ((word, depth),) = use.items()
            if word in _SUNK:
                return LayerUse(layer, word, self._length(depth, unit))
            if word not in USES:
                raise BadValue(f'"{layer}": {_shown(word)} is not known', f"{nearest(word, USES)}take {_listed(USES)}")
            raise BadValue(f'"{layer}": {_shown(word)} takes no depth', f'write {layer} = "{word}"')
        if not isinstance(use, str) or use not in USES:
            advice = f"{nearest(use, USES) if isinstance(use, str) else ''}take {_listed(USES)}"
            raise BadValue(f'"{layer}": {_shown(use)} is not known', f"{advice}; a pocket is {_POCKET}")
        if _SUNK.get(use, False):
            raise BadValue(f'"{layer}": a pocket needs a depth', f"write {_POCKET}")
        return LayerUse(layer, use, None)

    def _limits(self, value: float, unit: Unit) -> None:
        for limit, beyond, word in ((self.least, -1, "below the least"), (self.greatest, 1, "above the greatest")):
            if limit is not None and (value - limit) * beyond > 0:
                written = format_length(value, unit=unit) if self._is_length else f"{value:g}"
                raise BadValue(f"{written} is {word}, {self._limit(limit, unit)}", f"write {self.expects(unit=unit)}")

    @property
    def _is_length(self) -> bool:
        return self.kind in ("length", "lengths", "depths", "layers")

    def _limit(self, limit: float, unit: Unit) -> str:
        """Word a limit; inches as a fraction that a tape shows, below an inch a rule, on the side that is allowed."""
        if not self._is_length:
            return f"{limit:g}"
        if unit == "in":
            exact = math.isclose(limit / RULE["in"], round(limit / RULE["in"]), abs_tol=1e-6)
            step = RULE["in"] if exact or limit < MM_PER["in"] else TAPE["in"]
            steps = limit / step
            limit = (math.floor(steps + 1e-6) if limit == self.greatest else math.ceil(steps - 1e-6)) * step
        return format_length(limit, unit=unit)


def default_text(mm: float, unit: Unit) -> str:
    """Return a default length as it would be written: in mm where inches have no fraction for it."""
    inches = format_length(mm, unit=unit)
    return format_length(mm, unit="mm") if unit == "in" and "." in inches else inches


# Two pins nearer to each other than this share bend no real strip.
_CLOSEST_PINS = 0.01


@dataclass(frozen=True, slots=True)
class Values:
    """The checked values of all parameters that are set, read by kind; lengths mm."""

    by_name: Mapping[str, Value]

    def has(self, name: str) -> bool:
        """True when the parameter is set."""
        return name in self.by_name

    def number(self, name: str) -> float:
        """A length in mm or a number."""
        value = self.by_name[name]
        assert isinstance(value, (int, float)), name
        return float(value)

    def number_or(self, name: str, otherwise: float) -> float:
        """A length or number, or `otherwise` when it is not set."""
        return self.number(name) if self.has(name) else otherwise

    def count(self, name: str) -> int:
        """A whole number."""
        value = self.by_name[name]
        assert isinstance(value, int), name
        return value

    def word(self, name: str) -> str:
        """A choice or a text."""
        value = self.by_name[name]
        assert isinstance(value, str), name
        return value

    def yes(self, name: str) -> bool:
        """A yes or no."""
        value = self.by_name[name]
        assert isinstance(value, bool), name
        return value

    def lengths(self, name: str) -> tuple[float, ...]:
        """A list of lengths in mm, empty when it is not set."""
        value = self.by_name.get(name, ())
        assert isinstance(value, tuple), name
        return tuple(one for one in value if isinstance(one, (int, float)))

    def depths(self, name: str) -> tuple[Depth, ...]:
        """Layers with their depths in mm, none when it is not set."""
        value = self.by_name.get(name, ())
        assert isinstance(value, tuple), name
        return tuple(
            (one[0], one[1])
            for one in value
            if isinstance(one, tuple) and not isinstance(one, LayerUse) and isinstance(one[0], str)
        )

    def layers(self, name: str) -> LayerUses:
        """What the layers of a drawing stand for, nothing when it is not set."""
        value = self.by_name.get(name, ())
        assert isinstance(value, tuple), name
        return tuple(one for one in value if isinstance(one, LayerUse))

    def pins(self, name: str) -> tuple[Pin, ...]:
        """Pins of a curve: shares of the half length and of the height."""
        value = self.by_name[name]
        assert isinstance(value, tuple), name
        return tuple((one[0], one[1]) for one in value if isinstance(one, tuple) and not isinstance(one[0], str))


def nearest(word: str, known: Iterable[str]) -> str:
    """Return `did you mean "tiers"? ` for the known word nearest to `word`, or nothing when none is near."""
    found = closest(word, known)
    return f'did you mean "{found}"? ' if found is not None else ""


def _number(raw: Any) -> float:
    if isinstance(raw, bool) or not isinstance(raw, (int, float)) or not math.isfinite(raw):
        raise BadValue(f"{_shown(raw)} is not a number", "write a number such as 0.5, without quotes")
    return float(raw)


def _listed(words: tuple[str, ...]) -> str:
    quoted = [f'"{word}"' for word in words]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def _shown(raw: Any) -> str:
    text = f'"{raw}"' if isinstance(raw, str) else str(raw).lower() if isinstance(raw, bool) else repr(raw)
    return text if len(text) <= 60 else f"{text[:57]}..."
