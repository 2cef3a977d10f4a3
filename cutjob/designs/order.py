"""All lines of an order to items, as far as they can be read; the mistakes of every line together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from cutjob.designs.design import Work
from cutjob.designs.evaluate import evaluate
from cutjob.errors import InputError, Problem
from cutjob.job.model import Make
from cutjob.job.read_toml import read_part
from cutjob.job.source import Source
from cutjob.parts.part import Item

# Shaped parts in one job, more than a small shop cuts from one. The search remembers the depth of every pair: 10,000
# alike took 1.8 GB and half a minute.
MOST_PARTS = 10_000


def order_items(
    source: Source, *, folder: Path, thickness: float, edge_margin: float = 0.0, gap: float = 0.0
) -> tuple[tuple[Item, ...], tuple[Problem, ...]]:
    """Return the items of a job file's `make` tables, and what is wrong with what they ask of their designs.

    Tables that are wrong in themselves are passed over: reading the job reports them. `thickness` is the boards', mm,
    `edge_margin` and `gap` what the layout keeps free, mm, where known; paths are taken from `folder`.
    """
    items: list[Item] = []
    problems: list[Problem] = []
    work = Work()
    entries = source.data.get("make")
    for index in range(len(entries) if isinstance(entries, list) else 0):
        make = read_part(source, ("make", index), Make)
        if make is None:
            continue
        try:
            items.append(
                evaluate(
                    make,
                    unit="in" if source.data.get("units") == "in" else "mm",
                    location=source.at(("make", index)),
                    key_locations={
                        "design": source.at(("make", index, "design")),
                        "size": source.at(("make", index, "size")),
                        **{key: source.at(("make", index, "with", key)) for key in make.changes},
                    },
                    folder=folder,
                    thickness=thickness,
                    edge_margin=edge_margin,
                    gap=gap,
                    work=work,
                )
            )
        except InputError as error:
            problems.extend(error.problems)
    # One design file may be named by many lines of the order; its mistakes are told once.
    return tuple(items), (*dict.fromkeys(problems), *_too_many(items))


def _too_many(items: Sequence[Item]) -> Iterator[Problem]:
    total = 0
    for item in items:
        total += item.count * len(item.build.shaped)
        if total > MOST_PARTS:
            message = f"with this the job has {total} parts, more than the {MOST_PARTS} one job can hold"
            advice = "lower the counts, or share the order out among several jobs"
            yield Problem(place=f'make "{item.name}"', message=message, advice=advice, location=item.location)
            return
