"""Changes to the text of a job file, line by line: comments, order and everything else in it stay as they are.

A change names a key path and its new value. The changed text is read back and compared with what was meant, so that a
text that can't be changed this way is refused and never spoiled.
"""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Item

from cutjob.errors import InputError, Location, Problem
from cutjob.files.fields import KeyPath
from cutjob.files.source import Place, key_places

Kind: TypeAlias = Literal["length", "count", "number", "choice", "yes_no", "text", "name", "list", "table"]
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_WHOLE, _DECIMAL = re.compile(r"[+-]?\d{1,18}"), re.compile(r"[+-]?(\d+\.\d+|\d+\.|\.\d+)")
_BY_TEXT = "change it in the text of the job"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A new `value` at a key path; None removes the key or the entry. A path that ends with the number of entries of a
    list of tables adds one.
    """

    path: KeyPath
    value: Any


def typed_value(kind: Kind, typed: str) -> Any:
    """Return the value that a person means who types `typed` for a key of that kind.

    What can't be of the kind stays as text: reading the job says what is wrong with it, at its line. Nothing typed
    means that the key is not given: None.
    """
    text = typed.strip()
    if not text:
        return None
    if kind in ("text", "name", "choice"):
        return text
    if kind == "yes_no":
        return {"true": True, "yes": True, "false": False, "no": False}.get(text.lower(), text)
    if kind in ("length", "count", "number"):
        return _structure(text) if text.startswith("{") else _number(text)
    return _structure(text)


def _number(text: str) -> Any:
    """A plain number where the text is one, so that the file has `count = 4`; a length such as 16 1/2 stays text."""
    if _WHOLE.fullmatch(text):
        return int(text)
    if _DECIMAL.fullmatch(text):
        return float(text)
    return text


def _structure(text: str) -> Any:
    """A list or a table as TOML writes it; several values with commas between them are a list."""
    for written in (text, f"[{text}]"):
        try:
            return tomllib.loads(f"value = {written}")["value"]
        except (tomllib.TOMLDecodeError, RecursionError):
            continue
    if "," in text and not any(mark in text for mark in '[]{}=\n"'):
        return [_number(one.strip()) for one in text.split(",") if one.strip()]
    return text


def written(value: Any) -> str:
    """Return a value of a job file as a person types it: text without quotes, the rest as TOML has it."""
    if isinstance(value, str):
        return value
    return _inline(value)


def _inline(value: Any) -> str:
    if isinstance(value, Mapping):
        pairs = ", ".join(f"{_key(str(key))} = {_inline(one)}" for key, one in value.items())
        return f"{{ {pairs} }}" if pairs else "{}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(map(_inline, value))}]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(tomlkit.item(value).as_string())


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else tomlkit.string(name).as_string()


def changed(text: str, changes: Sequence[Change], *, name: str = "job") -> str:
    """Return the text with the changes made, one after the other.

    Raises InputError for a text that is not TOML, a path that leads nowhere, and a text that can't be changed so.
    """
    for change in changes:
        text = _changed(text, change, name)
    return text


def _changed(text: str, change: Change, name: str) -> str:
    try:
        meant = _meant(tomllib.loads(text), change)
    except tomllib.TOMLDecodeError:
        raise _refused(name, "the job file is not TOML as it is", _BY_TEXT) from None
    except RecursionError:
        raise _refused(name, "this line can't be changed by itself", _BY_TEXT) from None
    except (KeyError, IndexError, TypeError, AttributeError):
        raise _refused(name, f"there is no place {'.'.join(map(str, change.path))} in the job", _BY_TEXT) from None
    try:
        windows = "\r\n" in text and "\n" not in text.replace("\r\n", "")
        plain = text.replace("\r\n", "\n") if windows else text
        new = _by_rows(plain, change)
        if new is None or not _reads_as(new, meant):
            new = _by_library(plain, change, meant)
        if windows:
            new = new.replace("\n", "\r\n")
        new.encode("utf-8")  # half a letter is in no file
        if not _reads_as(new, meant):
            raise ValueError
    except (TOMLKitError, ValueError, KeyError, IndexError, TypeError, AttributeError, RecursionError):
        raise _refused(name, "this line can't be changed by itself", _BY_TEXT) from None
    return new


def _by_library(text: str, change: Change, meant: dict[str, Any]) -> str:
    document = tomlkit.parse(text)
    if document.as_string() != text:
        raise ValueError
    if _is_added(document, change):
        return _with_entry(text, str(change.path[0]), change.value)
    _put(document, change)
    new = document.as_string()
    moved = _before_comments(text, new)
    return moved if _reads_as(moved, meant) else new


def _reads_as(text: str, meant: dict[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == meant
    except tomllib.TOMLDecodeError:
        return False


def _refused(name: str, message: str, advice: str) -> InputError:
    return InputError(Problem(message=message, advice=advice, location=Location(file=name)))


def _meant(data: dict[str, Any], change: Change) -> dict[str, Any]:
    """What the changed text must read as."""
    here: Any = data
    *way, last = change.path
    for key, following in zip(way, change.path[1:], strict=True):
        if isinstance(here, dict) and key not in here:
            here[key] = [] if isinstance(following, int) else {}
        here = here[key]
    if change.value is None:
        del here[last]
        if isinstance(here, list) and not here and len(way) == 1:
            del data[str(way[0])]  # a list of tables without a table is no line of the file
    elif isinstance(here, list) and last == len(here):
        here.append(copy.deepcopy(change.value))
    else:
        here[last] = copy.deepcopy(change.value)
    return data


def _put(document: Any, change: Change) -> None:
    """Make one change in a document of tomlkit."""
    here: Any = document
    *way, last = change.path
    for place, (key, following) in enumerate(zip(way, change.path[1:], strict=True)):
        if isinstance(key, str) and key not in here:
            table = not isinstance(following, int)
            here[key] = tomlkit.inline_table() if table else tomlkit.aot() if place == 0 else tomlkit.array()
        here = here[key]
    if change.value is None:
        del here[last]
        if isinstance(here, list) and not here and len(way) == 1:
            del document[way[0]]
    elif isinstance(here, list) and last == len(here):
        here.append(_item(change.value))
    else:
        here[last] = _item(change.value)


def _is_added(document: Any, change: Change) -> bool:
    """Whether a change adds a table to a list of tables."""
    if len(change.path) != 2 or change.value is None or not isinstance(change.value, Mapping):
        return False
    name, number = change.path
    held = document.get(name)
    return number == 0 if held is None else isinstance(held, AoT) and number == len(held)


_HEADER = re.compile(r"^[ \t]*\[{1,2}[ \t]*([A-Za-z_][A-Za-z0-9_-]*)[^\],]*\]{1,2}[ \t]*(?:#.*)?$", re.MULTILINE)


def _with_entry(text: str, name: str, value: Mapping[str, Any]) -> str:
    """The text with one more table in a list: after the others, before the comments that belong to what follows."""
    lines = [f"{_key(str(key))} = {_item(one).as_string()}" for key, one in value.items()]
    entry = "\n".join([f"[[{_key(name)}]]", *lines]) + "\n"
    headers = list(_HEADER.finditer(text))
    last = max((place for place, one in enumerate(headers) if one[1] == name), default=len(headers) - 1)
    end = headers[last + 1].start() if last + 1 < len(headers) else len(text)
    before, after = text[:end], text[end:]
    if after:
        rows = before.split("\n")[:-1]
        kept = len(rows)
        while kept and (not rows[kept - 1].strip() or rows[kept - 1].lstrip().startswith("#")):
            kept -= 1
        before, after = "\n".join(rows[:kept]) + "\n", "\n".join([*rows[kept:], after])
    elif not before.endswith("\n"):
        before += "\n"
    return before.rstrip("\n") + "\n\n" + entry + after if before.strip() else entry + after


def _by_rows(text: str, change: Change) -> str | None:
    """The text without a table that has a header of its own, or with one more below another table: comments that belong
    to what follows stay. None for any other change.
    """
    *list_path, index = change.path
    added = len(change.path) > 2 and isinstance(index, int) and index > 0 and isinstance(change.value, Mapping)
    if change.value is not None and not added:
        return None
    rows, places = text.split("\n"), key_places(text)
    if change.value is None:
        found = _rows_of(change.path, rows, places)
        if found is None:
            return None
        before, after = rows[: found[0]], rows[found[1] :]
        while after and not after[0].strip() and (not before or not before[-1].strip()):
            after = after[1:]
        return "\n".join([*before, *after])
    last = _rows_of((*list_path, int(index) - 1), rows, places)
    if last is None or change.path in places or not rows[last[0]].lstrip().startswith("[["):
        return None
    header = f"[[{'.'.join(_key(key) for key in list_path if isinstance(key, str))}]]"
    entry = [header, *(f"{_key(str(key))} = {_item(one).as_string()}" for key, one in change.value.items())]
    return "\n".join([*rows[: last[1]], *entry, *rows[last[1] :]])


def _rows_of(path: KeyPath, rows: Sequence[str], places: Mapping[KeyPath, Place]) -> tuple[int, int] | None:
    """The first row of a table with a header, and the row after its last; None where it has none."""
    if path not in places or not rows[places[path][0] - 1].lstrip().startswith("["):
        return None
    start = places[path][0] - 1
    others = (line - 1 for at, (line, _) in places.items() if at[: len(path)] != path and line - 1 > start)
    return start, _end_before(rows, min(others, default=len(rows)))


def _end_before(rows: Sequence[str], header: int) -> int:
    """The row after the last that does not belong to the header that stands at a row, or to the end of the file:
    comments right above it belong to it, and the free rows above them.
    """
    end = header
    while end and rows[end - 1].lstrip().startswith("#"):
        end -= 1
    while end and not rows[end - 1].strip():
        end -= 1
    return end


def _before_comments(old: str, new: str) -> str:
    """The text with the rows that are new in it moved before the comments of the header that follows them."""
    before, after = old.split("\n"), new.split("\n")
    more = len(after) - len(before)
    start = next(
        (row for row, (one, other) in enumerate(zip(before, after, strict=False)) if one != other), len(before)
    )
    if more <= 0 or before[start:] != after[start + more :]:
        return new
    header = next((row for row in range(start, len(before)) if before[row].strip()), None)
    if header is None or not before[header].lstrip().startswith("["):
        return new
    end = _end_before(before, header)
    if not 0 < end < start:
        return new
    return "\n".join([*before[:end], *after[start : start + more], *before[end:]])


def _item(value: Any) -> Item:
    """A value on one line."""
    if isinstance(value, Mapping):
        inline = tomlkit.inline_table()
        for key, one in value.items():
            inline[key] = _item(one)
        return inline
    if isinstance(value, list):
        array = tomlkit.array()
        for one in value:
            array.append(_item(one))
        return array
    item: Item = tomlkit.item(value)
    return item
