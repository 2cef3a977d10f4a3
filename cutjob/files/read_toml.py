"""Turns data read from a TOML file into a model, or into a list of all its mistakes, each with its line."""

from __future__ import annotations

import types
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any, Generic, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from cutjob.counting import counted
from cutjob.errors import InputError, Location, Problem, closest
from cutjob.files.fields import FileModel, KeyPath, MistakesError
from cutjob.files.source import Source, units_of
from cutjob.files.values import BadValue, nearest, not_a_list, not_known, shown, too_few, too_many

M = TypeVar("M", bound=FileModel)

# The key that names an entry of a list of tables to a reader.
_NAMED_BY = {
    **dict.fromkeys(("board", "make", "rod", "strip", "part", "sawn", "bought", "hand_hole"), "name"),
    "order": "mark",
    "cutter": "number",
    "feed": "material",
}
_AROUND = (tuple, list, Union, types.UnionType, Annotated)  # annotations that hold other annotations
_MOST_REPORTED = 100  # mistakes; nobody fixes more before trying again


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading(Generic[M]):
    """The outcome of reading a file: the model where the whole file is right, else the problems."""

    model: M | None
    problems: tuple[Problem, ...]


def read_model(source: Source, model: type[M]) -> Reading[M]:
    """Validate a whole file. Wrong units are reported once; all else is then read in mm, so that
    its mistakes show too.
    """
    try:
        return Reading(model=model.model_validate(source.data, context={"units": units_of(source)}), problems=())
    except ValidationError as error:
        return Reading(model=None, problems=problems_of(error, source, model))
    except RecursionError:
        problem = Problem(message="values are nested too deeply", location=Location(file=source.name))
        return Reading(model=None, problems=(problem,))


def read_part(source: Source, path: KeyPath, model: type[M], *, keys: Collection[str] | None = None) -> M | None:
    """Validate the table at `path` alone, or some `keys` of it; None where there are mistakes, which `read_model`
    reports.
    """
    table = source.value(path)
    if keys is not None and isinstance(table, dict):
        table = {key: value for key, value in table.items() if key in keys}
    try:
        return model.model_validate(table, context={"units": units_of(source)})
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
    errors = every[:_MOST_REPORTED]
    misspelt = _meant(errors, model)
    for one in errors:
        path: KeyPath = tuple(one["loc"])
        value = source.value(path)
        if path[-1:] == ("[key]",):  # pydantic's word for a key that is wrong itself
            path, value = path[:-1], path[-2]
        if one["type"] == "missing" and path in misspelt:
            continue  # reported once, with the misspelt key
        raised = one.get("ctx", {}).get("error")
        if isinstance(raised, MistakesError):
            found = [((*path, *inner), BadValue(*message.split("; ", 1))) for inner, message in raised.mistakes]
        else:
            bad = _wording(one["type"], one.get("ctx", {}), path, value, model)
            found = [(path, bad)] if bad else []
        for place_path, bad in found:
            problem = problem_at(source, place_path, bad.message, advice=bad.advice)
            if one["type"] == "extra_forbidden":  # the message names the key already
                problem = replace(problem, place=place_in_words(source, place_path[:-1]))
            problems.append((problem.location.line or 0 if problem.location else 0, problem))
    problems.sort(key=lambda pair: pair[0])
    more = len(every) - len(errors)
    if not more:
        return tuple(problem for _, problem in problems)
    others = f"and {counted(more, 'more mistake')}"
    last = Problem(message=others, advice="fix these first", location=source.at(every[-1]["loc"]))
    return (*(problem for _, problem in problems), last)


def _meant(errors: Sequence[Mapping[str, Any]], model: type[FileModel]) -> set[KeyPath]:
    """The known keys that the unknown keys of the same table are most likely meant to be."""
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
            words.append(shown(key)[1:-1])
            key_before = key
        elif key_before in _NAMED_BY and isinstance(source.value(path[:index]), list):
            name = source.value((*path[: index + 1], _NAMED_BY[key_before]))
            words[-1] = f"{key_before} {shown(name) if isinstance(name, (str, int)) else f'no. {key + 1}'}"
            key_before = ""
        elif key_before == "outline":
            words.append(f"point {key + 1}")
            key_before = "point"
        elif key_before in ("point", "at") and key in (0, 1):
            words.append("xy"[key])
        elif words and isinstance(source.value(path[:index]), list):
            words[-1] = f"{words[-1]} no. {key + 1}"
    return ": ".join(words)


def _wording(
    kind: str, context: Mapping[str, Any], path: KeyPath, value: Any, model: type[FileModel]
) -> BadValue | None:
    """The message and advice for one of pydantic's kinds of error; None where it only repeats another error."""
    match kind:
        case "missing":
            return _missing(path, model)
        case "extra_forbidden":
            message = f"{shown(path[-1])} is not a key of this table"
            return BadValue(message, nearest(str(path[-1]), _keys_at(model, path[:-1])))
        case "value_error":
            error = context["error"]
            return error if isinstance(error, BadValue) else BadValue(*str(error).split("; ", 1))
        case "too_short" | "too_long":
            return _wrong_count(kind, context, value)
        case "literal_error":
            known = [word.strip("'") for word in str(context["expected"]).replace(" or ", ", ").split(", ")]
            return not_known(value, known)
        case "tuple_type" | "list_type":
            table = f"[[{'.'.join(key for key in path if isinstance(key, str))}]]"
            if isinstance(value, Mapping):
                return BadValue("is a single table here", f"write it in double brackets: {table}")
            if path and path[-1] in _NAMED_BY:
                return BadValue(f"{shown(value)} is not a table", f"write {table} and its keys below")
            return not_a_list(value)
        case "dict_type":
            return BadValue(f"{shown(value)} is not a table", "write it as { key = value }")
        case "model_type" | "model_attributes_type":
            return BadValue(f"{shown(value)} is not a table", "write it as { key = value }, or as a [table] of its own")
    return BadValue(f"{shown(value)} is not allowed here", "compare it with a sample")


def _missing(path: KeyPath, model: type[FileModel]) -> BadValue:
    if isinstance(path[-1], int):
        return BadValue("a point has two numbers", "write it as [x, y]")
    field = _field_at(model, path)
    described = field.description if field is not None else None
    if field is not None and get_origin(field.annotation) is tuple and _model_in(field.annotation) is not None:
        return BadValue("is missing", f"add a [[{path[-1]}]] and its keys below")
    return BadValue("is missing", f"add a line {path[-1]} = ..." if described is None else f"add it: {described}")


def _wrong_count(kind: str, context: Mapping[str, Any], value: Any) -> BadValue | None:
    count = len(value) if isinstance(value, (list, Mapping)) else 1  # one value in place of a list
    if kind == "too_long":
        if context["max_length"] == 2:
            return BadValue(f"a point has two numbers, not {count}", "write it as [x, y]")
        return too_many(count, context["max_length"])
    if count >= context["min_length"]:
        return None  # entries that are wrong are missing from the count, and are reported themselves
    return too_few(count, context["min_length"])


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
    """The annotation at a key of a table: the field's, or that of all values of a `dict`; None for neither."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        fields = {field.alias or name: field for name, field in annotation.model_fields.items()}
        return fields[key].annotation if key in fields else None
    inner = get_args(annotation)
    if get_origin(annotation) is dict:
        return inner[1]
    found = (_annotation_at(one, key) for one in inner) if get_origin(annotation) in _AROUND else ()
    return next((one for one in found if one is not None), None)


def _model_in(annotation: Any) -> type[BaseModel] | None:
    """The model inside `X`, `X | None`, `tuple[X, ...]`, `list[X]`, or any of them in `Annotated`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) in _AROUND:
        for inner in get_args(annotation):
            found = _model_in(inner)
            if found is not None:
                return found
    return None
