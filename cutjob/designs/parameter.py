"""A design's parameters, which turn a user's values into checked ones: lengths in mm, counts, choices, pins.

A raw value is the value as the file has it. A mistake is a `BadValue`; the caller knows the file and the line and makes
a `Problem` of it.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple, TypeAlias

from cutjob.files.values import (
    BadValue,
    Choice,
    Count,
    Kind,
    Length,
    Number,
    Text,
    TrueFalse,
    not_a_list,
    not_known,
    shown,
    too_many,
)
from cutjob.units import Unit


class LayerUse(NamedTuple):
    """The use of the lines of a layer or a colour, one of `USES`, and the depth of the cut, mm."""

    layer: str
    use: str
    depth: float | None


Pin: TypeAlias = tuple[float, float]
LayerUses: TypeAlias = tuple[LayerUse, ...]
Depth: TypeAlias = tuple[str, float]
Value: TypeAlias = float | int | bool | str | tuple[float, ...] | tuple[Pin, ...] | tuple[Depth, ...] | LayerUses

# The uses of a layer's lines in a drawing; the uses that take a depth, and whether they need it.
USES = ("outline", "opening", "hole", "mark", "pocket", "ignore")
_SUNK = {"pocket": True, "hole": False, "mark": False}
_DEPTHS = "layers with their depths, such as { recess = 6 }"
_LAYERS = 'layers and colours with their use, such as { front = "outline", recess = { pocket = 6 } }; depths'
_POCKET = '{ pocket = "1/4 in" }'
_MOST_IN_A_LIST = 50
# No real strip can be bent round two pins nearer to each other than this share.
_CLOSEST_PINS = 0.01


@dataclass(frozen=True, slots=True)
class _Several(Kind[Value]):
    """Several values in a list, or in a table of layers, made by `make`; `each` reads one of them."""

    words: str
    holder: type[list[Any]] | type[dict[str, object]]
    each: Length | Number
    make: Callable[[Any, Length | Number, Unit], Value]

    def expects(self, *, unit: Unit) -> str:
        return self.words + self.each.limits(unit)

    def _read(self, raw: Any, unit: Unit) -> Value:
        raw = list(raw) if isinstance(raw, tuple) else raw
        if self.holder is dict and (not isinstance(raw, dict) or not raw):
            raise BadValue(f"{shown(raw)} names no layers", f"write {self.expects(unit=unit)}")
        if not isinstance(raw, self.holder):
            raise not_a_list(raw)
        if len(raw) > _MOST_IN_A_LIST:
            raise too_many(len(raw), _MOST_IN_A_LIST)
        return self.make(raw, self.each, unit)


def _lengths(raw: list[Any], length: Length | Number, unit: Unit) -> tuple[float, ...]:
    return tuple(length.read(one, unit=unit) for one in raw)


def _pins(raw: list[Any], height: Length | Number, unit: Unit) -> tuple[Pin, ...]:
    pins: list[Pin] = []
    for one in raw:
        if not isinstance(one, (list, tuple)) or len(one) != 2:
            raise BadValue(f"{shown(one)} is not a pin", "write two numbers such as [0.5, 0.8]")
        pins.append((Number().read(one[0], unit=unit), height.read(one[1], unit=unit)))
    if len(pins) < 2:
        raise BadValue("a curve needs at least two pins", "put one at 0, the centre, and one at 1, the tip")
    places = [along for along, _ in pins]
    if any(after - before < _CLOSEST_PINS for before, after in itertools.pairwise(places)):
        message = "the pins must go from the centre outwards"
        raise BadValue(message, f"put each at least {_CLOSEST_PINS} further along than the one before")
    if places[0] != 0 or places[-1] != 1:
        message = f"the pins reach from {places[0]:g} to {places[-1]:g}"
        raise BadValue(message, "put the first at 0, the centre, and the last at 1, the tip")
    return tuple(pins)


def _depths(raw: dict[str, object], depth: Length | Number, unit: Unit) -> tuple[Depth, ...]:
    return tuple((layer, depth.read(one, unit=unit)) for layer, one in raw.items())


def _layers(raw: dict[str, object], depth: Length | Number, unit: Unit) -> LayerUses:
    return tuple(_layer(layer, use, depth, unit) for layer, use in raw.items())


def _layer(layer: str, use: Any, depth: Length | Number, unit: Unit) -> LayerUse:
    word, deep = next(iter(use.items())) if isinstance(use, dict) and len(use) == 1 else (use, None)
    if word not in USES:
        bad = not_known(word, USES)
        raise BadValue(f'"{layer}": {bad.message}', f"{bad.advice}; a pocket is {_POCKET}")
    if deep is not None and word not in _SUNK:
        raise BadValue(f'"{layer}": "{word}" takes no depth', f'write {layer} = "{word}"')
    if deep is None and _SUNK.get(word, False):
        raise BadValue(f'"{layer}": a pocket needs a depth', f"write {_POCKET}")
    return LayerUse(layer, word, None if deep is None else depth.read(deep, unit=unit))


# Each kind of parameter, made from its limits, mm for lengths.
_KINDS: Mapping[str, Callable[[float | None, float | None], Kind[Value]]] = {
    "length": Length,
    "count": Count,
    "number": Number,
    "yes_no": lambda *_: TrueFalse(),
    "text": lambda *_: Text(300),
    "lengths": lambda *limits: _Several("a list of lengths", list, Length(*limits), _lengths),
    "pins": lambda *limits: _Several("a list of pins [along, up]", list, Number(*limits), _pins),
    "depths": lambda *limits: _Several(_DEPTHS, dict, Length(*limits), _depths),
    "layers": lambda *limits: _Several(_LAYERS, dict, Length(*limits), _layers),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """One thing of a design that can be changed.

    `least` and `greatest` are inclusive limits, mm for lengths and for each length in a list; for pins they limit the
    share of the height. `default` is a raw value as in a file in mm; without one the parameter is only set where a size
    or the user sets it. A parameter that is `required` must be set by the user.
    """

    name: str
    kind: Literal["length", "count", "number", "choice", "yes_no", "text", "lengths", "pins", "depths", "layers"]
    help: str
    least: float | None = None
    greatest: float | None = None
    choices: tuple[str, ...] = ()
    default: Any = None
    required: bool = False

    def expects(self, *, unit: Unit) -> str:
        """Say in words what may be written, with the limits in `unit`: `a length, 1 in to 6 in`."""
        return self._kind.expects(unit=unit)

    def read(self, raw: Any, *, unit: Unit) -> Value:
        """Return the checked value, lengths in mm. Raises BadValue with a message fit for a user."""
        return self._kind.read(raw, unit=unit)

    @property
    def is_length(self) -> bool:
        """Whether it is a length or a list of lengths."""
        return self.kind in ("length", "lengths")

    @property
    def _kind(self) -> Kind[Value]:
        return Choice(self.choices) if self.kind == "choice" else _KINDS[self.kind](self.least, self.greatest)


@dataclass(frozen=True, slots=True)
class Values:
    """The checked values of all parameters that are set, read by kind; lengths mm."""

    by_name: Mapping[str, Value]

    def has(self, name: str) -> bool:
        """True where the parameter is set."""
        return name in self.by_name

    def number(self, name: str) -> float:
        """A length in mm or a number."""
        value = self.by_name[name]
        assert isinstance(value, (int, float)), name
        return float(value)

    def number_or(self, name: str, otherwise: float) -> float:
        """A length or number, or `otherwise` where it is not set."""
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
        """A list of lengths in mm, empty where it is not set."""
        value = self.by_name.get(name, ())
        assert isinstance(value, tuple), name
        return tuple(one for one in value if isinstance(one, (int, float)))

    def depths(self, name: str) -> tuple[Depth, ...]:
        """Layers with their depths in mm, none where it is not set."""
        value = self.by_name.get(name, ())
        assert isinstance(value, tuple), name
        return tuple(
            (one[0], one[1])
            for one in value
            if isinstance(one, tuple) and not isinstance(one, LayerUse) and isinstance(one[0], str)
        )

    def layers(self, name: str) -> LayerUses:
        """The uses of a drawing's layers, none where it is not set."""
        value = self.by_name.get(name, ())
        assert isinstance(value, tuple), name
        return tuple(one for one in value if isinstance(one, LayerUse))

    def pins(self, name: str) -> tuple[Pin, ...]:
        """Pins of a curve: shares of the half length and of the height."""
        value = self.by_name[name]
        assert isinstance(value, tuple), name
        return tuple((one[0], one[1]) for one in value if isinstance(one, tuple) and not isinstance(one[0], str))
