"""Data read from a TOML file to a model, or to every mistake in it, in plain words and with its line.

Which lines and arcs, or which points, lie near each other, with an end to the search where too many do.

Every drawing worth cutting has few such pairs beside the joints of its outlines. In a tangle, where everything crosses
everything, they grow with the square of its lines: that is told, not looked through.
"""

from __future__ import annotations

import types
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any, Generic, TypeVar, Union, get_args, get_origin

import numpy as np
import numpy.typing as npt
import shapely
from pydantic import BaseModel, ValidationError
from shapely.geometry.base import BaseGeometry

from cutjob.errors import InputError, Location, Problem, closest
from cutjob.files.fields import FileModel, KeyPath, MistakesError
from cutjob.files.source import Source
from cutjob.geometry.segment import Arc, Point, Segment, chord_count
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit

_AT_ONCE = 128
_MOST_BOXES = 1_000_000  # pairs whose boxes meet: about two seconds
_MOST_PAIRS = (10, 10_000)  # pairs that meet: so many for each segment, and besides
_MOST_CHORDS = 256  # of an arc; of more its box is taken


class TangledError(ValueError):
    """Lines meet, or lie nearly on each other, in more places than can be looked through."""


def near_pairs(segments: Sequence[Segment]) -> list[tuple[int, int]]:
    """Return the pairs of segments, the lower index first, that may meet. Raises TangledError for very many."""
    shapes = np.array([_shape(segment) for segment in segments], dtype=object)
    reach = TOLERANCES.same_point + 2 * TOLERANCES.chord * any(isinstance(segment, Arc) for segment in segments)
    found: list[tuple[int, int]] = []
    most = _MOST_PAIRS[0] * len(segments) + _MOST_PAIRS[1]
    for first, second in _boxes_that_meet(shapes, reach):
        near = shapely.dwithin(shapes[first], shapes[second], reach)
        found += zip(first[near].tolist(), second[near].tolist(), strict=True)
        if len(found) > most:
            raise TangledError
    return sorted(found)


def near_points(points: Sequence[Point], distance: float) -> list[tuple[int, int]]:
    """Return the pairs of points, the lower index first, at most `distance` apart. Raises TangledError for many."""
    if not points:
        return []
    places = np.array(shapely.points(points), dtype=object)
    found: list[tuple[int, int]] = []
    for first, second in _boxes_that_meet(places, distance):
        near = shapely.dwithin(places[first], places[second], distance)
        found += zip(first[near].tolist(), second[near].tolist(), strict=True)
        if len(found) > _MOST_BOXES // 2:
            raise TangledError
    return sorted(found)


Indices = npt.NDArray[np.int64]


def _boxes_that_meet(shapes: npt.NDArray[np.object_], reach: float) -> Iterator[tuple[Indices, Indices]]:
    """Yield pairs whose boxes lie within `reach` of each other, the lower index first, some shapes at a time."""
    x0, y0, x1, y1 = shapely.bounds(shapes).T
    boxes = shapely.box(x0 - reach, y0 - reach, x1 + reach, y1 + reach)
    tree = shapely.STRtree(shapes)
    count = 0
    for start in range(0, len(shapes), _AT_ONCE):
        first, second = tree.query(boxes[start : start + _AT_ONCE])
        later = first + start < second
        count += int(later.sum())
        if count > _MOST_BOXES:
            raise TangledError
        yield first[later] + start, second[later]


def _shape(segment: Segment) -> BaseGeometry:
    if isinstance(segment, Arc) and chord_count(segment.radius, segment.sweep, TOLERANCES.chord) > _MOST_CHORDS:
        return shapely.box(*segment.bounds)
    return shapely.linestrings([segment.start, *segment.chords(TOLERANCES.chord)])


M = TypeVar("M", bound=FileModel)

# The key that names an entry of a list of tables to a reader.
_NAMED_BY = {
    **dict.fromkeys(("board", "make", "rod", "strip", "part", "sawn", "bought", "hand_hole"), "name"),
    "cutter": "number",
    "feed": "material",
}
_AROUND = (tuple, list, Union, types.UnionType, Annotated)  # kinds of annotation that hold others
_LONGEST_SHOWN = 40
_MOST_TOLD = 100  # mistakes put into words; nobody mends more before trying again


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading(Generic[M]):
    """What came of a file: the model when all of it is right, else the problems."""

    model: M | None
    problems: tuple[Problem, ...]


def read_model(source: Source, model: type[M], *, default_units: Unit | None = None) -> Reading[M]:
    """Validate a whole file. `units` is read first, as bare numbers depend on it."""
    units = source.data.get("units", default_units)
    if units not in ("in", "mm"):
        # The wrong units are reported once; the rest is judged in mm so that other mistakes show too.
        units = "mm"
    try:
        return Reading(model=model.model_validate(source.data, context={"units": units}), problems=())
    except ValidationError as error:
        return Reading(model=None, problems=problems_of(error, source, model))
    except RecursionError:
        problem = Problem(message="values lie too deep inside each other", location=Location(file=source.name))
        return Reading(model=None, problems=(problem,))


def read_part(source: Source, path: KeyPath, model: type[M]) -> M | None:
    """Validate the table at `path` by itself; None when it has mistakes (`read_model` reports them)."""
    units = source.data.get("units")
    try:
        return model.model_validate(source.value(path), context={"units": units if units in ("in", "mm") else "mm"})
    except (ValidationError, RecursionError):
        return None


def required(reading: Reading[M]) -> M:
    """Return the model, or raise InputError with every problem."""
    if reading.model is None:
        raise InputError(reading.problems)
    return reading.model


def problems_of(error: ValidationError, source: Source, model: type[FileModel]) -> tuple[Problem, ...]:
    """Return pydantic's errors as problems, in the order of the file."""
    problems: list[tuple[int, Problem]] = []
    every = error.errors(include_url=False)
    errors = every[:_MOST_TOLD]
    misspelt = _meant(errors, model)
    for one in errors:
        path: KeyPath = tuple(one["loc"])
        if path[-1:] == ("[key]",):  # pydantic's word for a key that is wrong itself
            path = path[:-1]
        if one["type"] == "missing" and path in misspelt:
            continue  # told once, by the misspelt key
        if one["type"] == "value_error" and isinstance(one["ctx"]["error"], MistakesError):
            told = [(inner, *message.partition("; ")) for inner, message in one["ctx"]["error"].mistakes]
            found = [((*path, *inner), message, advice) for inner, message, _, advice in told]
        else:
            is_key = one["loc"][-1:] == ("[key]",)
            wording = _wording(one["type"], one.get("ctx", {}), path, source, model, one_of_keys=is_key)
            found = [(path, *wording)] if wording else []
        for place_path, message, advice in found:
            problem = problem_at(source, place_path, message, advice=advice)
            if one["type"] == "extra_forbidden":  # the message names the key already
                problem = replace(problem, place=place_in_words(source, place_path[:-1]))
            problems.append((problem.location.line or 0 if problem.location else 0, problem))
    problems.sort(key=lambda pair: pair[0])
    more = len(every) - len(errors)
    rest = (
        Problem(message=f"and {more} more mistakes", advice="mend these first", location=source.at(every[-1]["loc"])),
    )
    return (*(problem for _, problem in problems), *(rest if more else ()))


def _meant(errors: Sequence[Mapping[str, Any]], model: type[FileModel]) -> set[KeyPath]:
    """The keys that unknown ones of the same tables most likely stand for."""
    meant: set[KeyPath] = set()
    for one in errors:
        path: KeyPath = tuple(one["loc"])
        if one["type"] == "extra_forbidden" and path:
            key = closest(str(path[-1]), _keys_at(model, path[:-1]))
            if key is not None:
                meant.add((*path[:-1], key))
    return meant


def problem_at(source: Source, path: KeyPath, message: str, *, advice: str = "") -> Problem:
    """Return a problem of the value at a key path, with its line and its place in words."""
    return Problem(message=message, advice=advice, place=place_in_words(source, path), location=source.at(path))


def place_in_words(source: Source, path: KeyPath) -> str:
    """Return a key path as a reader would say it: `board "cedar picket": thickness`."""
    words: list[str] = []
    key_before = ""
    for index, key in enumerate(path):
        if isinstance(key, str):
            words.append(_shown(key)[1:-1])
            key_before = key
        elif key_before in _NAMED_BY:
            name = source.value((*path[: index + 1], _NAMED_BY[key_before]))
            words[-1] = f"{key_before} {_shown(name) if isinstance(name, (str, int)) else f'no. {key + 1}'}"
            key_before = ""
        elif key_before == "outline":
            words.append(f"point {key + 1}")
            key_before = "point"
        elif key_before in ("point", "at") and key in (0, 1):
            words.append("xy"[key])
        elif words and isinstance(source.value(path[:index]), list):
            words[-1] = f"{words[-1]} no. {key + 1}"
    return ": ".join(words)


def nearest(word: str, known: Sequence[str]) -> str:
    """Return advice that names the most likely of the known words, or all of them."""
    if not known:
        return ""
    close = closest(word, known)
    return f'did you mean "{close}"?' if close is not None else f"known here: {', '.join(known)}"


def _wording(
    kind: str,
    context: Mapping[str, Any],
    path: KeyPath,
    source: Source,
    model: type[FileModel],
    *,
    one_of_keys: bool = False,
) -> tuple[str, str] | None:
    """What is wrong and what to do, for one of pydantic's kinds of error; None for a mere echo of another one.

    `one_of_keys` says that the path's last key is wrong itself, not what it stands for.
    """
    value = source.value(path)
    shown = _shown(value)
    match kind:
        case "missing":
            return _missing(path, model)
        case "extra_forbidden":
            return f"{_shown(path[-1])} is not a key of this table", nearest(str(path[-1]), _keys_at(model, path[:-1]))
        case "value_error":
            message, _, advice = str(context["error"]).partition("; ")
            return message, advice
        case "greater_than" | "greater_than_equal" | "less_than" | "less_than_equal":
            return f"{shown} is out of range", _limit(kind, context)
        case "finite_number":
            return f"{shown} is not a number to work with", "write an ordinary number"
        case "too_short" | "too_long":
            return _wrong_count(kind, context, value)
        case "string_too_short":
            return "the text is empty", "write at least one letter"
        case "string_too_long":
            return "the text is too long", f"write at most {context['max_length']} letters"
        case "string_pattern_mismatch":
            return _unseen(value)
        case "literal_error":
            if one_of_keys:
                value, shown = path[-1], _shown(path[-1])
            known = [word.strip("'") for word in str(context["expected"]).replace(" or ", ", ").split(", ")]
            return f"{shown} is not known", nearest(value if isinstance(value, str) else "", known)
    return _wrong_type(kind, path, value)


def _unseen(value: Any) -> tuple[str, str]:
    """What is wrong with text that its pattern refuses: the first character in it that no one can see."""
    bad = next((letter for letter in str(value) if letter != " " and not letter.isprintable()), "")
    if not bad:
        return f"{_shown(value)} has letters that can't stand here", "use plain letters and digits"
    if bad in "\n\r":
        return f"{_shown(value)} goes over several lines, which can't stand here", "write it on one line"
    return (
        f"{_shown(value)} has a character that can't be seen, U+{ord(bad):04X}, which can't stand here",
        "write it anew, with plain letters and digits",
    )


def _wrong_type(kind: str, path: KeyPath, value: Any) -> tuple[str, str]:
    shown = _shown(value)
    wanted = {
        "string_type": ("is not text", "put it in quotes"),
        "int_type": ("is not a whole number", "write a number without quotes and without a point"),
        "int_from_float": ("is not a whole number", "write a number without a point"),
        "float_type": ("is not a number", "write a number without quotes"),
        "bool_type": ("is neither true nor false", "write true or false, without quotes"),
        "dict_type": ("is not a table", "write it as { key = value }"),
        "tuple_type": ("is not a list", "write it in [ ]"),
    }
    if kind == "tuple_type" and isinstance(value, Mapping):
        return "is a single table here", f"write it in double brackets: [[{'.'.join(_words(path))}]]"
    if kind == "tuple_type" and path and path[-1] in _NAMED_BY:
        return f"{shown} is not a table", f"write [[{'.'.join(_words(path))}]] and its keys below"
    if kind in ("model_type", "model_attributes_type"):
        return f"{shown} is not a table", "write it as { key = value }, or as a [table] of its own"
    problem, advice = wanted.get(kind, ("can't stand here", "compare it with a sample"))
    return f"{shown} {problem}", advice


def _missing(path: KeyPath, model: type[FileModel]) -> tuple[str, str]:
    if isinstance(path[-1], int):
        return "a point has two numbers", "write it as [x, y]"
    field = _field_at(model, path)
    described = field.description if field is not None else None
    if field is not None and get_origin(field.annotation) is tuple and _model_in(field.annotation) is not None:
        return "is missing", f"add a [[{path[-1]}]] and its keys below"
    if described is None:
        return "is missing", f"add a line {path[-1]} = ..."
    return "is missing", f"add it: {described}"


def _wrong_count(kind: str, context: Mapping[str, Any], value: Any) -> tuple[str, str] | None:
    count = len(value) if isinstance(value, (list, Mapping)) else 0
    if kind == "too_long":
        if context["max_length"] == 2:
            return f"a point has two numbers, not {count}", "write it as [x, y]"
        return f"{count} entries are too many", f"write at most {context['max_length']}"
    if count >= context["min_length"]:
        return None  # too few are left after the wrong ones, which are reported themselves
    return f"{count} entries are too few", f"write at least {context['min_length']}"


def _limit(kind: str, context: Mapping[str, Any]) -> str:
    key, words = {
        "greater_than": ("gt", "more than"),
        "greater_than_equal": ("ge", "at least"),
        "less_than": ("lt", "less than"),
        "less_than_equal": ("le", "at most"),
    }[kind]
    return f"it must be {words} {context[key]:.12g}"


def _shown(value: Any) -> str:
    """A value as the file has it, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = "".join(letter if letter.isprintable() else "?" for letter in value[: _LONGEST_SHOWN + 1])
        return f'"{text[:_LONGEST_SHOWN]}..."' if len(text) > _LONGEST_SHOWN else f'"{text}"'
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if value is None:
        return "this"
    return str(value)


def _words(path: KeyPath) -> list[str]:
    return [key for key in path if isinstance(key, str)]


def _keys_at(model: type[FileModel], path: KeyPath) -> list[str]:
    """The keys known in the table at a path."""
    here = _model_at(model, path)
    return [field.alias or name for name, field in here.model_fields.items()] if here else []


def _field_at(model: type[FileModel], path: KeyPath) -> Any:
    here = _model_at(model, path[:-1])
    if here is None:
        return None
    return next((field for name, field in here.model_fields.items() if (field.alias or name) == path[-1]), None)


def _model_at(model: type[FileModel], path: KeyPath) -> type[BaseModel] | None:
    here: Any = model
    for key in path:
        if not isinstance(key, int):
            here = _annotation_at(here, key)
    return _model_in(here)


def _annotation_at(annotation: Any, key: str) -> Any:
    """What stands at a key of a table: the field's annotation, or that of all values of a `dict`; None for neither."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        fields = {field.alias or name: field for name, field in annotation.model_fields.items()}
        return fields[key].annotation if key in fields else None
    inner = get_args(annotation)
    if get_origin(annotation) is dict:
        return inner[1]
    found = (_annotation_at(one, key) for one in inner) if get_origin(annotation) in _AROUND else ()
    return next((one for one in found if one is not None), None)


def _model_in(annotation: Any) -> type[BaseModel] | None:
    """The model inside `X`, `X | None`, `tuple[X, ...]`, `list[X]`, or any of them with remarks."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) in _AROUND:
        for inner in get_args(annotation):
            found = _model_in(inner)
            if found is not None:
                return found
    return None
