"""The items of a job fitted to how they are cut: tabs where the job wants them, pockets that end at their part's edge,
reliefs for the cutter. mm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from cutjob.errors import Problem
from cutjob.job.job import Job
from cutjob.job.machine import Cutter
from cutjob.parts.part import Item, ShapedPart
from cutjob.parts.relief import relieved
from cutjob.parts.trimmed_pockets import with_trimmed_pockets
from cutjob.units import format_length


def fitted_items(
    job: Job, items: Sequence[Item], cutter: Cutter
) -> tuple[tuple[Item, ...], tuple[str, ...], tuple[Problem, ...]]:
    """Return the items with the tabs and corner reliefs the job asks for and their pockets cut back to the parts;
    warnings, and what is wrong with any of it.

    Reliefs are as wide as `cutter`, the one that goes round the parts.
    """
    asked = {make.name: (index, make) for index, make in enumerate(job.file.make)}
    fitted: list[Item] = []
    warnings: dict[str, None] = {}
    problems: list[Problem] = []
    for item in items:
        index, make = asked[item.name]
        names = [part.name for part in item.build.shaped]
        problems += _unknown_parts(job, index, make.tabs, names)
        shaped = []
        for part in item.build.shaped:
            part = with_trimmed_pockets(replace(part, tab_places=make.tabs.get(part.name, ())))
            if make.relief != "none":
                part, told = _relieved(job, item, part, make.relief, cutter)
                warnings.update(dict.fromkeys(told))
            shaped.append(part)
        fitted.append(replace(item, build=replace(item.build, shaped=tuple(shaped))))
    return tuple(fitted), tuple(warnings), tuple(problems)


def _unknown_parts(job: Job, index: int, tabs: Mapping[str, object], names: Sequence[str]) -> Iterator[Problem]:
    for name in tabs:
        if name not in names:
            yield Problem(
                location=job.source.at(("make", index, "tabs", name)),
                place=f'make "{job.file.make[index].name}": tabs',
                message=f'it has no part "{name}"',
                advice=f"its parts are {', '.join(dict.fromkeys(names))}" if names else "none of its parts is cut out",
            )


def _relieved(job: Job, item: Item, part: ShapedPart, way: str, cutter: Cutter) -> tuple[ShapedPart, list[str]]:
    done = relieved(part, way="side" if way == "side" else "diagonal", cutter_diameter=cutter.diameter)
    told = [
        f'item "{item.name}": part "{part.name}": no room for a relief in the corner at '
        f"x {format_length(x, unit=job.file.units)}, y {format_length(y, unit=job.file.units)} of the part"
        for x, y in done.skipped
    ]
    return done.part, told
