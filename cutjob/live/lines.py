"""The lines of the live sheet: every key of a job file and its shop file, in the order of the work, and what it holds.

The lines come from the models that read the file and from the parameters of its designs, so that a new key or parameter
has its line without a change here. What a line holds is written as a person types it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

from cutjob.designs.catalogue import CATALOGUE
from cutjob.designs.design import Design
from cutjob.designs.parameter import Parameter
from cutjob.errors import CutjobError, Problem
from cutjob.files.fields import FileModel, KeyPath, plain_schema
from cutjob.files.file_bytes import shipped_files
from cutjob.files.source import Source, units_of
from cutjob.job.model import JobFile
from cutjob.job.read_shop import usual_data
from cutjob.job.shop import ShopFile
from cutjob.live.edits import Kind, written
from cutjob.units import Unit, parse_length, spelled

_Schema = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One key: its `path`, its `kind` and, where there are few, the `choices`. `typed` is what the file holds, None
    where the file does not say; `usual` is what is taken then. `problems` are the mistakes at this key.

    A length, a count or a number has its `amount` where it can be read, and its limits where known; mm for lengths.
    """

    path: KeyPath
    name: str
    kind: Kind
    typed: str | None
    usual: str = ""
    help: str = ""
    choices: tuple[str, ...] = ()
    amount: float | None = None
    least: float | None = None
    greatest: float | None = None
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A table of the file, or one entry of a list of tables: its lines, and the groups within it.

    One with an `added` value is an empty place: adding an entry there puts this value at its path.
    """

    path: KeyPath
    name: str
    lines: tuple[Line, ...] = ()
    groups: tuple[Group, ...] = ()
    removable: bool = False
    added: Mapping[str, Any] | None = None
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A part of the sheet, in the order of the work."""

    id: str
    title: str
    lines: tuple[Line, ...]
    groups: tuple[Group, ...]


# Each key of a job file, once.
SECTIONS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("make", "What to make", ("title", "units", "make")),
    ("wood", "Out of what", ("stock", "left_in_stock", "thickness", "material", "board", "rod", "strip")),
    ("machine", "On which machine", ("machine", "cutter")),
    ("lies", "How it lies", ("stack", "gap", "edge_margin", "prefer", "least_leftover", "keep")),
    ("held", "How it is held and cut",
     ("board_held_by", "parts_held_by", "between_boards", "numbers", "number_height")),
    ("hands", "What hands must do", ("end_trim", "paper", "patterns", "labels", "booklet")),
    ("costs", "What it takes, what to ask", ("shop", "hours", "bought", "set", "fixed")),
)  # fmt: skip

# What a new entry of a list of tables holds: valid by itself, in the unit of the file.
_NEW: Mapping[str, Callable[[Unit], dict[str, Any]]] = {
    "make": lambda _: {"name": "new item", "design": "round", "size": "medium", "count": 1},
    "board": lambda unit: (
        {"name": "board", "length": "36", "width": "5 1/2", "thickness": "5/8"}
        if unit == "in"
        else {"name": "board", "length": 900, "width": 140, "thickness": 16}
    ),
    "rod": lambda unit: (
        {"name": "dowel", "diameter": "3/8", "length": "48"}
        if unit == "in"
        else {"name": "dowel", "diameter": 10, "length": 1000}
    ),
    "strip": lambda unit: (
        {"name": "strip", "width": "1", "thickness": "3/8", "length": "48"}
        if unit == "in"
        else {"name": "strip", "width": 25, "thickness": 10, "length": 1000}
    ),
    "keep_out": lambda unit: (
        {"at": ["12", "2"], "radius": "1/2", "why": "knot"}
        if unit == "in"
        else {"at": [300, 50], "radius": 12, "why": "knot"}
    ),
    "bought": lambda _: {"name": "thing", "price": 1.0, "count": 1},
    "fixed": lambda _: {"name": "template", "price": 10.0},
    "set": lambda _: {"name": "set", "items": []},
    "keep": lambda _: {"item": "", "part": "", "board": ""},
}
# Words for an entry that is added; a list that is not here is only shown where the file has entries.
NEW_WORDS: Mapping[str, str] = {
    "make": "another item", "board": "another board", "rod": "another rod", "strip": "another strip",
    "keep_out": "a knot or a clamp", "bought": "a thing to buy", "fixed": "a cost paid once",
    "set": "a set sold as one", "keep": "a part to keep on its board",
}  # fmt: skip


# The first key of every path of the shop file's lines: no key of a job has a space.
SHOP = "shop file"
_NEW_IN_SHOP: Mapping[str, Callable[[Unit], dict[str, Any]]] = {
    "timed": lambda _: {"work": "hole", "count": 24, "minutes": 16.0},
    "supply": lambda _: {"name": "wood glue", "price": 6.0, "covers": 200, "of": "glued part"},
    "bought": lambda _: {"name": "thing", "price": 1.0, "pack": 1},
    "channel": lambda _: {"name": "market"},
}
_WORDS_IN_SHOP: Mapping[str, str] = {
    "timed": "work that was timed", "supply": "a thing that is used up", "bought": "a thing to buy",
    "channel": "a way of selling",
}  # fmt: skip


def shop_section(source: Source, *, problems: Sequence[Problem] = ()) -> Section:
    """Return all lines of a shop file, with the `problems` of each at its own line. Paths begin with `SHOP`."""
    schema = _schema_of(ShopFile)
    writer = _Writer(
        source=source, folder=Path(), unit="mm", at=_by_path(source, problems), model=ShopFile, new=_NEW_IN_SHOP,
        words=_WORDS_IN_SHOP, usual=usual_data(),
    )  # fmt: skip
    plain = [key for key in schema["properties"] if not _holds_tables(schema, key)]
    tables = [key for key in schema["properties"] if _holds_tables(schema, key)]
    return Section(
        id="shop",
        title="The shop's figures",
        lines=tuple(_in_shop(line) for line in writer.lines((), schema, plain)),
        groups=tuple(_all_in_shop(group) for group in writer.groups((), schema, tables)),
    )


def _in_shop(line: Line) -> Line:
    return replace(line, path=(SHOP, *line.path))


def _all_in_shop(group: Group) -> Group:
    return replace(
        group,
        path=(SHOP, *group.path),
        lines=tuple(map(_in_shop, group.lines)),
        groups=tuple(map(_all_in_shop, group.groups)),
    )


def sections_of(source: Source, *, folder: Path, problems: Sequence[Problem] = ()) -> tuple[Section, ...]:
    """Return all lines of a job file, with the `problems` of each at its own line.

    Paths of own designs are taken from `folder`.
    """
    at = _by_path(source, problems)
    writer = _Writer(source=source, folder=folder, unit=units_of(source), at=at)
    schema = _schema_of(JobFile)
    return tuple(
        Section(
            id=name,
            title=title,
            lines=tuple(writer.lines((), schema, [key for key in keys if not _holds_tables(schema, key)])),
            groups=tuple(writer.groups((), schema, [key for key in keys if _holds_tables(schema, key)])),
        )
        for name, title, keys in SECTIONS
    )


def lost_problems(source: Source, problems: Sequence[Problem]) -> tuple[Problem, ...]:
    """Return the problems that stand at no line of the sheet: those of other files, and of the file as a whole."""
    return tuple(problem for problem in problems if _path_of(source, problem) is None)


@cache
def _schema_of(model: type[FileModel]) -> dict[str, Any]:
    return plain_schema(model)


def _holds_tables(schema: _Schema, key: str) -> bool:
    node = schema["properties"][key]
    return "$ref" in node or (node.get("type") == "array" and "$ref" in node.get("items", {}))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Writer:
    source: Source
    folder: Path
    unit: Unit
    at: Mapping[KeyPath, tuple[str, ...]]
    model: type[FileModel] = JobFile
    new: Mapping[str, Callable[[Unit], dict[str, Any]]] = field(default_factory=lambda: _NEW)
    words: Mapping[str, str] = field(default_factory=lambda: NEW_WORDS)
    usual: Mapping[str, Any] = field(default_factory=dict)  # what is taken where a file leaves a key out

    def lines(self, path: KeyPath, schema: _Schema, keys: Sequence[str] | None = None) -> Iterator[Line]:
        """The keys of a table that hold values."""
        for key in keys if keys is not None else list(schema["properties"]):
            node = schema["properties"][key]
            if _holds_tables(schema, key) or key in ("with", "taken"):
                continue
            here = (*path, key)
            usual = self._usual_at(here) or _usual(node)
            yield Line(
                path=here,
                name=key,
                kind=_kind(node),
                typed=self._typed(here),
                amount=self._amount(_kind(node), self._typed(here), usual),
                usual=usual,
                help=spelled(node.get("description", ""), self.unit),
                choices=self._choices(here, node),
                least=_limit(node, "minimum"),
                greatest=_limit(node, "maximum"),
                problems=self.at.get(here, ()),
            )

    def groups(self, path: KeyPath, schema: _Schema, keys: Sequence[str] | None = None) -> Iterator[Group]:
        """The tables in a table, one for each entry of a list, and an empty place for another."""
        for key in keys if keys is not None else list(schema["properties"]):
            node = schema["properties"][key]
            if not _holds_tables(schema, key) or key == "taken":
                continue
            here = (*path, key)
            if "$ref" in node:
                yield self._group(here, self._of(node["$ref"]), key)
                continue
            entries = self.source.value(here)
            entries = entries if isinstance(entries, list) else []
            for index, entry in enumerate(entries):
                named = entry.get("name") if isinstance(entry, dict) else None
                name = str(named) if named else f"{key} {index + 1}"
                yield self._group((*here, index), self._of(node["items"]["$ref"]), name, removable=True)
            new = self._new(key)
            if new is not None:
                yield Group(path=(*here, len(entries)), name=self.words[key], added=new)

    def _of(self, reference: str) -> _Schema:
        found: _Schema = _schema_of(self.model)["$defs"][reference.removeprefix("#/$defs/")]
        return found

    def _usual_at(self, path: KeyPath) -> str:
        """The figure that is taken where the file leaves a key out."""
        value: Any = self.usual
        for key in path:
            value = value.get(key) if isinstance(value, Mapping) else None
        return "" if value is None else written(value)

    def _new(self, key: str) -> dict[str, Any] | None:
        """What a new entry of a list holds; None where one can't be added."""
        if key not in self.new:
            return None
        new = self.new[key](self.unit)
        if key == "set":
            makes = self.source.value(("make",))
            named = [make.get("name") for make in makes if isinstance(make, dict)] if isinstance(makes, list) else []
            names = [name for name in named if isinstance(name, str)]
            if len(names) < 2:
                return None
            new["items"] = names[:3]
        if key == "keep":
            item, board = self.source.value(("make", 0, "name")), self.source.value(("board", 0, "name"))
            new["item"], new["board"] = (one if isinstance(one, str) else "" for one in (item, board))
        return new

    def _group(self, path: KeyPath, schema: _Schema, name: str, *, removable: bool = False) -> Group:
        groups = list(self.groups(path, schema))
        if path[0] == "make" and len(path) == 2:
            groups.insert(0, self._parameters(path))
        return Group(
            path=path,
            name=name,
            lines=tuple(self.lines(path, schema)),
            groups=tuple(groups),
            removable=removable or self.source.value(path) is not None,
            problems=self.at.get(path, ()),
        )

    def _parameters(self, make: KeyPath) -> Group:
        """The parameters of an item's design, with the values of its size."""
        here = (*make, "with")
        design, size = self._design(make), self.source.value((*make, "size")) or "medium"
        given = self.source.value(here)
        given = given if isinstance(given, dict) else {}
        known = () if design is None else design.parameters
        lines = [self._parameter((*here, one.name), one, design, str(size)) for one in known if design is not None]
        names = {one.name for one in known}
        lines += [
            Line(path=(*here, key), name=key, kind="text", typed=written(value), problems=self.at.get((*here, key), ()))
            for key, value in given.items()
            if key not in names
        ]
        return Group(path=here, name="with", lines=tuple(lines), problems=self.at.get(here, ()))

    def _parameter(self, path: KeyPath, parameter: Parameter, design: Design, size: str) -> Line:
        raw = design.written(parameter, size, unit=self.unit)
        usual = "" if raw is None else written(raw)
        kinds: Mapping[str, Kind] = {
            "length": "length", "count": "count", "number": "number", "choice": "choice", "yes_no": "yes_no",
            "text": "text", "depths": "table", "layers": "table",
        }  # fmt: skip
        return Line(
            path=path,
            name=parameter.name,
            kind=kinds.get(parameter.kind, "list"),
            typed=self._typed(path),
            amount=self._amount(kinds.get(parameter.kind, "list"), self._typed(path), usual),
            usual=usual,
            help=f"{parameter.help}; {parameter.expects(unit=self.unit)}",
            choices=parameter.choices,
            least=parameter.least,
            greatest=parameter.greatest,
            problems=self.at.get(path, ()),
        )

    def _design(self, make: KeyPath) -> Design | None:
        return design_of(self.source, make, folder=self.folder)

    def _typed(self, path: KeyPath) -> str | None:
        value = self.source.value(path) if self._is_given(path) else None
        return None if value is None else written(value)

    def _amount(self, kind: Kind, typed: str | None, usual: str) -> float | None:
        """The amount that a line holds, or that is usual; mm for a length. None for what can't be read."""
        text = usual if typed is None else typed
        try:
            if kind == "length":
                return parse_length(text, unit=self.unit)
            amount = float(text) if kind in ("count", "number") else None
        except ValueError:
            return None
        return amount if amount is not None and math.isfinite(amount) else None

    def _is_given(self, path: KeyPath) -> bool:
        return path in self.source.places

    def _choices(self, path: KeyPath, node: _Schema) -> tuple[str, ...]:
        if "enum" in node:
            return tuple(map(str, node["enum"]))
        if "const" in node:
            return (str(node["const"]),)
        if path == ("machine",):
            return tuple(shipped_files("machines"))
        if path[0] == "make" and path[-1] == "design":
            return tuple(CATALOGUE)
        if path[0] == "make" and path[-1] == "size":
            design = self._design(path[:-1])
            return () if design is None else tuple(design.sizes)
        return ()


def design_of(source: Source, make: KeyPath, *, folder: Path) -> Design | None:
    """Return the design of an entry of the order; None where there is none that can be read."""
    name = source.value((*make, "design"))
    if not isinstance(name, str):
        return None
    if name in CATALOGUE:
        return CATALOGUE[name]
    from cutjob.designs.own.find_design import find_design  # the models of own designs take a while to build

    try:
        return find_design(name, folder=folder, place="", location=None)
    except CutjobError:
        return None


def _kind(node: _Schema) -> Kind:
    types = {one.get("type") for one in node.get("anyOf", ())}
    if "enum" in node or "const" in node:
        return "choice"
    if "integer" in types and "array" not in types:
        return "count"  # a number, or one that is left open
    if types == {"number", "string"}:
        return "length"
    if types & {"array", "object"} or node.get("type") in ("array", "object"):
        return "list" if node.get("type") == "array" or "array" in types else "table"
    kinds: Mapping[str, Kind] = {"boolean": "yes_no", "integer": "count", "number": "number"}
    return kinds.get(str(node.get("type")), "text")


def _usual(node: _Schema) -> str:
    default = node.get("default")
    if default in (None, "", [], {}):
        return ""
    if _kind(node) == "length" and isinstance(default, float):
        return "" if default == 0 else f"{default:g} mm"
    return written(default)


def _limit(node: _Schema, name: str) -> float | None:
    value = node.get(name)
    return None if value is None else float(value)


def _by_path(source: Source, problems: Sequence[Problem]) -> dict[KeyPath, tuple[str, ...]]:
    """The words of each problem at the key where it stands."""
    found: dict[KeyPath, tuple[str, ...]] = {}
    for problem in problems:
        path = _path_of(source, problem)
        if path is not None:
            found[path] = (*found.get(path, ()), problem_words(problem))
    return found


def problem_words(problem: Problem) -> str:
    """Return a problem as the command line says it, without the file and the line."""
    return f"{problem.message}; {problem.advice}" if problem.advice else problem.message


def _path_of(source: Source, problem: Problem) -> KeyPath | None:
    """The key at a problem's line that it is about: the one it names, else the nearest table."""
    where = problem.location
    if where is None or where.line is None or where.file != source.name:
        return None
    there = [path for path, place in source.places.items() if path and place[0] == where.line]
    words = [word.strip() for word in problem.place.split(":")]
    named = [path for path in there if isinstance(path[-1], str) and path[-1] in words]
    if named:
        return max(named, key=len)
    keys = [path for path in there if _is_line(path)]
    return min(keys or there, key=len, default=None)


def _is_line(path: KeyPath) -> bool:
    return isinstance(path[-1], str)
