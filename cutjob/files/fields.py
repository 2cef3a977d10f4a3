"""The kinds of value the models are made of: lengths, feeds and names, each with its limits and its JSON Schema.

A bare number is read in the file's `units`, which the readers hand over as the validation context `{"units": ...}`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, TypeAlias

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo, WithJsonSchema

from cutjob.units import HELP, parse_length

KeyPath: TypeAlias = tuple[str | int, ...]

_LENGTH_SCHEMA: dict[str, Any] = {
    "anyOf": [{"type": "number"}, {"type": "string"}],
    "description": f"a length; a bare number is in the file's units; {HELP}",
}


_LEAST = 1e-5  # in any unit: a thousandth of what a caliper shows


def _to_mm(value: Any, info: ValidationInfo) -> float:
    if not isinstance(value, (str, int, float)) or isinstance(value, bool):
        raise ValueError(f"this is not a length; {HELP}")
    if isinstance(value, float) and 0 < abs(value) < _LEAST:
        raise ValueError(f"{value:g} is less than anyone can measure; {HELP}")
    units = (info.context or {}).get("units", "mm")
    return parse_length(value, unit=units)


_read_length = BeforeValidator(_to_mm)
_schema = WithJsonSchema(_LENGTH_SCHEMA)

# Above a kilometre a number is a slip of the pen, and squares of it are no longer exact.
Mm = Annotated[float, _read_length, Field(ge=-1e6, le=1e6, allow_inf_nan=False), _schema]
PositiveMm = Annotated[float, _read_length, Field(gt=0, le=1e6, allow_inf_nan=False), _schema]
NotNegativeMm = Annotated[float, _read_length, Field(ge=0, le=1e6, allow_inf_nan=False), _schema]


def _alone(value: Any) -> Any:
    return value if isinstance(value, (list, tuple)) else (value,)


# One length, or several.
LengthsMm = Annotated[
    tuple[PositiveMm, ...],
    BeforeValidator(_alone),
    WithJsonSchema(
        {
            "anyOf": [*_LENGTH_SCHEMA["anyOf"], {"type": "array", "items": _LENGTH_SCHEMA, "minItems": 1}],
            "description": "one length or a list; bare numbers are in the file's units",
        }
    ),
    Field(min_length=1, max_length=50),
]
# Of no feed, speed, time, power or price in a workshop there is less but nothing at all; what is divided by less runs
# out of numbers.
_LEAST_NUMBER = 1e-3


def _not_tiny(value: float) -> float:
    if 0 < value < _LEAST_NUMBER:
        raise ValueError(f"{value:g} is too small to mean anything; write 0, or at least {_LEAST_NUMBER:g}")
    return value


# Strict: neither `true` nor text passes for a number; a whole number passes for a decimal one.
Positive = Annotated[float, Field(ge=_LEAST_NUMBER, le=1e9, allow_inf_nan=False, strict=True)]
NotNegative = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False, strict=True), AfterValidator(_not_tiny)]
Whole = Annotated[int, Field(strict=True)]
YesNo = Annotated[bool, Field(strict=True)]
# No line ends and controls (with U+0085, U+2028 and U+2029), and nothing that can't be seen: marks that turn the order
# of letters round, joiners of nothing, byte order marks. They end lines or hide what a file says.
ON_ONE_LINE = r"^[^\x00-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb]+$"
Name = Annotated[str, Field(min_length=1, max_length=80, pattern=ON_ONE_LINE)]
Sentence = Annotated[str, Field(min_length=1, max_length=200, pattern=ON_ONE_LINE)]
PointMm = tuple[Mm, Mm]


class MistakesError(ValueError):
    """Several mistakes a model found in itself: each the path of keys to it from that model, and what is wrong."""

    def __init__(self, mistakes: Sequence[tuple[KeyPath, str]]) -> None:
        """Take at least one mistake."""
        self.mistakes = tuple(mistakes)
        super().__init__("; ".join(message for _, message in self.mistakes))


class FileModel(BaseModel):
    """Base of every model read from a file: frozen, unknown keys refused, no silent change of type."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=False, str_strip_whitespace=True)
