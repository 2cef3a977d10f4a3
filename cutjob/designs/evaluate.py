"""Turns the lines of an order into items: the size's values, changed by the user's, are built into parts.

Every mistake of a line comes in one `InputError`: unknown parameters, values that can't be read, an unknown size; and,
where all values can be read, everything that can't be built from them. The mistakes of all lines are reported together.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from cutjob.designs.catalogue import CATALOGUE, find
from cutjob.designs.design import BuildContext, Design, Work
from cutjob.designs.parameter import Value, Values
from cutjob.errors import InputError, Location, Problem, errors_in
from cutjob.files.read_toml import read_part
from cutjob.files.source import Source, units_of
from cutjob.files.values import BadValue, nearest
from cutjob.job.finish import finish_of
from cutjob.job.model import Make
from cutjob.parts.part import Build, Item, SawnPart, ShapedPart, Wood, kind_of_part
from cutjob.units import Unit, each_spelled


def evaluate(
    make: Make,
    *,
    unit: Unit,
    location: Location | None,
    key_locations: Mapping[str, Location],
    folder: Path,
    thickness: float,
    edge_margin: float = 0.0,
    gap: float = 0.0,
    woods: Mapping[str, Wood] | None = None,
    work: Work | None = None,
    designs: Mapping[str, Design] = CATALOGUE,
) -> Item:
    """Return the item that a line of the order asks for.

    `unit` is the job's, for bare numbers and messages. `key_locations` has the lines of the keys of `with`. Paths, also
    those of own designs, are taken from `folder`. `thickness` is that of the job's wood, `edge_margin` and `gap` are
    the wood that the layout keeps free on boards, mm, where known; `woods` has the wood of each board by its name.
    `work` is the work left for own designs, shared by the lines of a job. Raises InputError with every mistake of the
    line, and those of an own design's file.
    """
    woods = woods or {}
    whole = woods.get(make.wood) if isinstance(make.wood, str) else None
    context = BuildContext(
        name=make.name,
        unit=unit,
        thickness=thickness if whole is None else whole.thickness,
        edge_margin=edge_margin,
        gap=gap,
        folder=folder,
        location=location,
        key_locations=key_locations,
        work=work or Work(),
        woods={kind: woods[board] for kind, board in _by_kind(make).items() if board in woods},
        sawn_wood=woods.get(make.sawn_from or "") if whole is None else None,
        boards=tuple(dict.fromkeys(woods.values())),
    )
    place, where = f'make "{make.name}": design', key_locations.get("design", location)
    if designs is CATALOGUE and make.design not in CATALOGUE:
        from cutjob.designs.own.find_design import find_design  # the models of own designs take a while to build

        design = find_design(make.design, folder=folder, place=place, location=where)
    else:
        design = find(make.design, designs=designs, place=place, location=where)
    values = _values(design, make, context)
    with errors_in(unit):
        build = _of_wood(design.build(values, context), make, context, whole)
    return Item(
        name=make.name,
        design=design.name,
        size=make.size,
        count=make.number,
        build=replace(build, warnings=each_spelled(build.warnings, unit)),
        location=location,
        together=make.together,
        sawn_from=make.sawn_from,
        finish=finish_of(make.finish, build),
    )


def _by_kind(make: Make) -> Mapping[str, str]:
    """The boards that a line names for some of its parts, by kind of part."""
    return make.wood if isinstance(make.wood, dict) else {}


def _of_wood(build: Build, make: Make, context: BuildContext, whole: Wood | None) -> Build:
    """The parts with the wood that the line names for them. Raises InputError for names of parts that are not there."""
    kinds = list(dict.fromkeys(kind_of_part(part.name) for part in build.from_boards))
    known = f"its parts are {', '.join(kinds)}" if kinds else "none of its parts comes off a board"
    problems = [
        context.problem(f"wood: {kind}", f'it has no part "{kind}"', known)
        for kind in _by_kind(make)
        if kind not in kinds
    ]
    if whole is not None and not kinds:
        problems.append(context.problem("wood", known, "leave it out"))
    if problems:
        raise InputError(problems)

    def of(part: ShapedPart | SawnPart) -> Wood | None:
        return context.wood_of(part.name, sawn=isinstance(part, SawnPart)) or whole or part.wood

    return replace(
        build,
        shaped=tuple(replace(part, wood=of(part)) for part in build.shaped),
        sawn=tuple(replace(part, wood=of(part)) for part in build.sawn),
    )


def _values(design: Design, make: Make, context: BuildContext) -> Values:
    problems: list[Problem] = []
    values: dict[str, Value] = {}
    if make.size in design.sizes:
        values = design.size_values(make.size, unit=context.unit)
    else:
        message = f'design "{design.name}" has no size "{make.size}"'
        problems.append(context.problem("size", message, nearest(make.size, design.sizes)))
    given, mistakes = _given(design, make, context)
    problems += mistakes
    for group in design.either:
        chosen = [name for name in make.changes if name in group]
        if len(chosen) > 1:
            problems.append(
                context.problem(
                    chosen[1], f"{' and '.join(chosen)} are both given", f"give one of {' or '.join(group)}"
                )
            )
        if chosen:
            values = {name: value for name, value in values.items() if name not in group}
    values |= given
    problems += _missing(design, make, values, context)
    if problems:
        raise InputError(problems)
    return Values(values)


def _given(design: Design, make: Make, context: BuildContext) -> tuple[dict[str, Value], list[Problem]]:
    given: dict[str, Value] = {}
    problems: list[Problem] = []
    names = [parameter.name for parameter in design.parameters]
    for name, raw in make.changes.items():
        parameter = design.parameter(name)
        if parameter is None:
            message = f'design "{design.name}" has no parameter "{name}"'
            advice = nearest(name.replace("-", "_").replace(" ", "_"), names)
            problems.append(context.problem(name, message, advice))
            continue
        try:
            given[name] = parameter.read(raw, unit=context.unit)
        except BadValue as error:
            problems.append(context.problem(name, error.message, error.advice))
    return given, problems


def _missing(design: Design, make: Make, values: Mapping[str, Value], context: BuildContext) -> list[Problem]:
    if make.size not in design.sizes:
        return []  # without a known size, nobody knows which parameters are missing
    problems = [
        context.problem(parameter.name, "is not given", f"write {parameter.expects(unit=context.unit)}")
        for parameter in design.parameters
        if parameter.required and parameter.name not in values and parameter.name not in make.changes
    ]
    for group in design.needs_one:
        if not any(name in values or name in make.changes for name in group):
            problems.append(context.problem(group[0], "is not given", f"give one of {' or '.join(group)}"))
    return problems


# Shaped parts in one job, more than a small shop cuts from one. The search stores the depth of every pair: 10,000
# equal parts took 1.8 GB and half a minute.
_OF_DESIGN = ("name", "design", "size", "with", "wood")  # keys of a `make` table that say how an item is built
MOST_PARTS = 10_000


def order_items(
    source: Source,
    *,
    folder: Path,
    thickness: float,
    edge_margin: float = 0.0,
    gap: float = 0.0,
    woods: Mapping[str, Wood] | None = None,
) -> tuple[tuple[Item, ...], tuple[Problem, ...]]:
    """Return the items of a job file's `make` tables, and the problems with their designs and parameters.

    Tables with other mistakes give no items: reading the job reports them. What can be read of their designs is checked
    all the same. `thickness` is that of the job's wood,
    `edge_margin` and `gap` are the wood that the layout keeps free, mm, where known; `woods` has the wood of each board
    by its name. Paths are taken from `folder`.
    """
    items: list[Item] = []
    problems: list[Problem] = []
    work = Work()
    entries = source.data.get("make")
    for index in range(len(entries) if isinstance(entries, list) else 0):
        make = read_part(source, ("make", index), Make)
        sound = make is not None
        make = make or read_part(source, ("make", index), Make, keys=_OF_DESIGN)
        if make is None:
            continue
        try:
            found = evaluate(
                make,
                unit=units_of(source),
                location=source.at(("make", index)),
                key_locations={
                    "design": source.at(("make", index, "design")),
                    "size": source.at(("make", index, "size")),
                    "wood": source.at(("make", index, "wood")),
                    **{f"wood: {kind}": source.at(("make", index, "wood", kind)) for kind in _by_kind(make)},
                    **{key: source.at(("make", index, "with", key)) for key in make.changes},
                },
                folder=folder,
                thickness=thickness,
                edge_margin=edge_margin,
                gap=gap,
                woods=woods,
                work=work,
            )
            items += [found] if sound else []
        except InputError as error:
            problems.extend(error.problems)
    # Many lines of the order may name one design file; each of its mistakes is reported once.
    return tuple(items), (*dict.fromkeys(problems), *_too_many(items))


def _too_many(items: Sequence[Item]) -> Iterator[Problem]:
    total = 0
    for item in items:
        total += item.count * len(item.build.shaped)
        if total > MOST_PARTS:
            message = f"with this the job has {total} parts, and one job can hold {MOST_PARTS}"
            advice = "lower the counts, or split the order into several jobs"
            yield Problem(place=f'make "{item.name}"', message=message, advice=advice, location=item.location)
            return
