"""What a job costs and should sell for, without its files; and what other batches, stacks and sizes would cost."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from copy import deepcopy
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from cutjob.choosing.plain_job import plain_job
from cutjob.designs.own.find_design import find_design
from cutjob.errors import InputError, Location, Problem
from cutjob.files.file_bytes import real_path
from cutjob.files.read_toml import problem_at
from cutjob.files.source import Source, parse_source, read_bytes, read_source
from cutjob.job.job import Job
from cutjob.job.model import AS_MANY_AS_FIT, OpenCount
from cutjob.job.read_shop import Shop, read_shop
from cutjob.layout.search.progress import Watch
from cutjob.making import work_out
from cutjob.output.one_file import change_file
from cutjob.parts.part import Build, Item
from cutjob.reports.money import Variant
from cutjob.resolved import order_of, read_order, resolve
from cutjob.result import JobResult
from cutjob.stages import Clock, Effort, Progress

BATCHES = (1, 5, 10, 25, 50)
STACKS = (1, 2, 3)
# Programs alone: their time is needed, pictures and pages are not.
_ONLY = frozenset({"gcode"})
_PLENTY = 1000  # boards and sticks of each kind, so that a larger batch finds its wood


def price_job(
    path: Path,
    *,
    shop: Path | None = None,
    effort: Effort = "quick",
    seed: int = 0,
    progress: Progress | None = None,
    watch: Watch | None = None,
) -> JobResult:
    """Return a job's result with its costs and prices; nothing is written. `shop` is a shop file that replaces the
    job's. Raises InputError with every mistake in the files.
    """
    own = None if shop is None else read_shop(shop)
    clock = Clock(progress)
    with clock.stage("reading"):
        order = read_order(path)
    return _worked(order, own, effort=effort, seed=seed, watch=watch, clock=clock)


def choose_counts(
    path: Path,
    *,
    out: Path | None = None,
    shop: Path | None = None,
    effort: Effort = "normal",
    seed: int = 0,
    progress: Progress | None = None,
    watch: Watch | None = None,
) -> JobResult:
    """Return a job's result with what is chosen of its open counts; with `out` the job is written there with these
    counts, which `make_job` then makes with the same result. `shop` is as in `price_job`.

    Raises InputError with every mistake in the files, for a job that leaves no count open, and where `out` is the job
    itself or lies where the files that the job names are not found.
    """
    own = None if shop is None else read_shop(shop)
    clock = Clock(progress)
    with clock.stage("reading"):
        data = read_bytes(path)
        order = order_of(parse_source(data, name=str(path)), path)
        job = order[0]
        if not any(isinstance(make.count, OpenCount) for make in job.file.make):
            advice = f'write count = "{AS_MANY_AS_FIT}" or count = {{ least = 4, most = 12 }} in a [[make]]'
            raise InputError(problem_at(job.source, ("make",), "no count is left open", advice=advice))
        if out is not None:
            # Before the work: whether a plain job can be written at all, and its files are found from there.
            first = {make.name: 1 for make in job.file.make}
            _check_out(out, path, plain_job(data, first, name=str(path)))
    result = _worked(order, own, effort=effort, seed=seed, watch=watch, clock=clock)
    assert result.chosen is not None  # as a count was open
    if out is not None:
        counts = {one.name: one.count for one in result.chosen.items}
        plain = plain_job(data, counts, name=str(path))
        change_file(out, lambda _: plain)
    return result


def _check_out(out: Path, path: Path, plain: bytes) -> None:
    where = Location(file=str(out))
    if real_path(out) == real_path(path):
        message = "this is the job itself, whose counts would no longer be open"
        raise InputError(Problem(message=message, advice="give the new job another name", location=where))
    if out.parent.resolve() == path.parent.resolve():
        return
    try:
        order_of(parse_source(plain, name=str(out)), out)
    except InputError as error:
        message = f"from there the job's files are not found ({error.problems[0].message})"
        advice = f"write it beside the job: {path.parent / out.name}"
        raise InputError(Problem(message=message, advice=advice, location=where)) from None


def _worked(
    order: tuple[Job, tuple[Item, ...]],
    shop: Shop | None,
    *,
    effort: Effort,
    seed: int,
    watch: Watch | None = None,
    clock: Clock | None = None,
) -> JobResult:
    job, items = order
    resolved = resolve(job if shop is None else replace(job, shop=shop), items)
    return work_out(resolved, seed=seed, effort=effort, only=_ONLY, watch=watch, clock=clock).job


def variants_of(
    path: Path, *, shop: Path | None = None, seed: int = 0, progress: Progress | None = None
) -> tuple[Variant, ...]:
    """Return what the items of a job would cost in other batches, other stacks and their designs' other sizes.

    There is wood enough of every kind that the job buys. Each variant is laid out anew, quickly. Raises InputError
    where the job as it is has a mistake.
    """
    own = None if shop is None else read_shop(shop)
    source = read_source(path)
    _, items = order_of(source, path)
    now = {item.name: item.build for item in items}
    found: list[Variant] = []
    for what, names, data in _changed(source, items, path):
        if progress is not None:
            progress(what)
        changed = replace(source, data=data)
        if what.startswith("size ") and _same_parts(changed, path, names[0], now[names[0]]):
            why = "the same parts: it is the job's size, or the job sets the values that differ"
            found.append(Variant(what=what, item=names[0], why=why))
        else:
            found += _variant(what, names, changed, path, own, seed)
    return tuple(found)


def _changed(
    source: Source, items: tuple[Item, ...], path: Path
) -> Iterator[tuple[str, tuple[str, ...], Mapping[str, object]]]:
    """Every change of the job: what it is, the items to report, and the job's data with it."""
    every = tuple(item.name for item in items)
    for batch in BATCHES:
        yield f"batch of {batch}", every, _with(source, partial(_batch, count=batch))
    for stack in STACKS:
        yield f"stack of {stack}", every, _with(source, partial(_stack, height=stack))
    for index, item in enumerate(items):
        design = find_design(str(source.value(("make", index, "design"))), folder=path.parent)
        for size in design.sizes if len(design.sizes) > 1 else ():
            yield f"size {size}", (item.name,), _with(source, partial(_size, index=index, size=size))


def _batch(data: Any, *, count: int) -> None:
    for one in data["make"]:
        one["count"] = count


def _stack(data: Any, *, height: int) -> None:
    data["stack"] = height


def _size(data: Any, *, index: int, size: str) -> None:
    data["make"][index]["size"] = size


def _with(source: Source, change: Callable[[Any], None]) -> Mapping[str, object]:
    data: Any = deepcopy(dict(source.data))
    for table in ("board", "rod", "strip"):
        for one in data.get(table, []):
            if one.get("price", 1):  # an end cut is there once
                one["count"] = max(one.get("count", 1), _PLENTY)
    change(data)
    changed: Mapping[str, object] = data
    return changed


def _same_parts(source: Source, path: Path, name: str, build: Build) -> bool:
    """Whether an item of a changed job is what it was."""
    try:
        return any(item.name == name and item.build == build for item in order_of(source, path)[1])
    except InputError:
        return False


def _variant(
    what: str, names: tuple[str, ...], source: Source, path: Path, shop: Shop | None, seed: int
) -> Iterator[Variant]:
    try:
        result = _worked(order_of(source, path), shop, effort="quick", seed=seed)
    except InputError as error:
        first = error.problems[0]
        for name in names:
            yield Variant(what=what, item=name, why=f"not possible: {first.message}")
        return
    assert result.account is not None
    priced = {one.name: [each.asked.price for each in one.prices] for one in result.priced}
    for one in result.account.items:
        if one.name in names:
            yield Variant(
                what=what,
                item=one.name,
                boards=sum(used.count for used in result.boards_used),
                hands_hours=one.hands_hours.value,
                machine_hours=one.machine_hours.value,
                cost=one.cost.value,
                prices=(min(priced[one.name]), max(priced[one.name])),
            )
