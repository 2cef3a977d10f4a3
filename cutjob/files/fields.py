"""The types of the models' fields, each a kind of value of `values.py`, and the base class of all models of files.

A bare number is read in the file's `units`, which the readers hand over as the validation context `{"units": ...}`.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from datetime import date
from typing import Annotated, Any, TypeAlias, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from cutjob.files.values import Day, Length, Number, Text, TrueFalse, shown

KeyPath: TypeAlias = tuple[str | int, ...]
T = TypeVar("T", bound=Hashable)

# A length above a kilometre is a slip of the pen, and its square would no longer be exact.
Mm = Annotated[float, Length(-1e6, 1e6)]
PositiveMm = Annotated[float, Length(None, 1e6, positive=True)]
NotNegativeMm = Annotated[float, Length(0, 1e6)]
PointMm = tuple[Mm, Mm]
# Every feed, speed, time, power and price in a workshop is 0 or larger than this. Dividing by a smaller number would
# overflow.
LEAST_NUMBER = 1e-3
Positive = Annotated[float, Number(LEAST_NUMBER, 1e9)]
NotNegative = Annotated[float, Number(0, 1e9, tiny=LEAST_NUMBER)]
CalendarDay = Annotated[date, Day()]
YesNo = Annotated[bool, TrueFalse()]
Name = Annotated[str, Text(80)]
Sentence = Annotated[str, Text(200)]


class OneOrSeveral:
    """Lets one value stand alone where a list of them may stand."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        def listed(raw: Any) -> Any:
            return raw if isinstance(raw, (list, tuple)) else (raw,)

        return core_schema.no_info_before_validator_function(listed, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, object]:
        several = handler(schema)
        return {"anyOf": [several["items"], several]}


class MistakesError(ValueError):
    """Several mistakes that a model found in itself: for each the path of keys from that model, and the message."""

    def __init__(self, mistakes: Sequence[tuple[KeyPath, str]]) -> None:
        """Take at least one mistake."""
        self.mistakes = tuple(mistakes)
        super().__init__("; ".join(message for _, message in self.mistakes))


def _each_once(values: tuple[T, ...]) -> tuple[T, ...]:
    again = [index for index, value in enumerate(values) if value in values[:index]]
    if again:
        raise MistakesError([((i,), f"{shown(values[i])} is named twice; leave one of them out") for i in again])
    return values


EACH_ONCE = AfterValidator(_each_once)


class FileModel(BaseModel):
    """Base of every model read from a file: frozen, unknown keys refused, no silent change of type."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=False, str_strip_whitespace=True)


def plain_schema(model: type[FileModel]) -> dict[str, Any]:
    """Return a model's JSON Schema without nulls, as TOML has none."""
    return dict(_without_nulls(model.model_json_schema()))


def _without_nulls(node: Any) -> Any:
    """Take out the alternative null, and defaults that are null or hold one: TOML has none, a key is left out."""
    if isinstance(node, list):
        return [_without_nulls(one) for one in node]
    if not isinstance(node, dict):
        return node
    cleaned = {key: _without_nulls(value) for key, value in node.items() if value is not None}
    choices = cleaned.get("anyOf")
    if isinstance(choices, list) and {"type": "null"} in choices:
        left = [choice for choice in choices if choice != {"type": "null"}]
        del cleaned["anyOf"]
        cleaned = {**left[0], **cleaned} if len(left) == 1 else {**cleaned, "anyOf": left}
    return cleaned
