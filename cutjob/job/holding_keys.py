"""What a job says of holding its work to the machine as it holds it: with tabs, a skin or neither; or to what is wrong.

A key that would do nothing on its machine is refused, so that nobody counts on it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cutjob.errors import Problem
from cutjob.files.fields import KeyPath
from cutjob.job.job import Job
from cutjob.job.machine import Machine
from cutjob.parts.part import Item
from cutjob.units import length

_KEYS = ("parts_held_by", "board_held_by", "between_boards")
_FROM_BELOW = ("tape", "vacuum")
_SKIP = "leave it out"


def held_machine(job: Job, items: Sequence[Item]) -> tuple[Machine, tuple[str, ...], tuple[Problem, ...]]:
    """Return the machine as the job uses it, with tabs, with a skin instead, or with neither; warnings; and a problem
    for every key of the job that asks for what its machine does not do.
    """
    machine, file = job.machine, job.file
    skin = machine.cutting.skin if file.parts_held_by == "skin" else 0.0
    tabs = None if file.parts_held_by == "skin" or file.board_held_by in _FROM_BELOW else machine.tabs
    cutting = machine.cutting.model_copy(update={"skin": skin})
    held = machine.model_copy(update={"cutting": cutting, "tabs": tabs})
    return held, tuple(_warnings(job, held)), tuple(_problems(job, items))


def _warnings(job: Job, held: Machine) -> Iterator[str]:
    off = held.cutting.thickness_error
    if not held.has_spindle or not 0 < held.skin < off:
        return
    skin, error = length(held.skin), length(off)
    yield (
        f"a skin of {skin} holds the parts, but a board may be {error} thicker or thinner than is stated "
        "(thickness_error of the profile): where it is thinner the skin is cut through and parts come loose; measure "
        "every board where it is cut, or hold it with tape or vacuum"
    )


def _problems(job: Job, items: Sequence[Item]) -> Iterator[Problem]:
    idle = _why_idle(job.machine, items)
    if idle:
        for key in _asked(job):
            yield _problem(job, (key,), f"does nothing here: {idle}", _SKIP)
        yield from _tabs_by_hand(job, f"do nothing here: {idle}", "leave them out")
    elif job.machine.has_beam:
        yield from _laser_problems(job)
    else:
        yield from _board_problems(job)
        yield from _part_problems(job)


def _why_idle(machine: Machine, items: Sequence[Item]) -> str:
    """Why nothing a job says of holding does anything, or nothing where it does."""
    if machine.by_hand:
        return f'on "{machine.name}" parts are sawn by hand'
    if not machine.runs_gcode:
        return f'"{machine.name}" takes drawings only, and whoever cuts by them holds the work'
    if not any(item.build.shaped for item in items):
        return "no part of this job is cut out of a board"
    return ""


def _asked(job: Job) -> list[str]:
    """The keys of holding that the job gives."""
    return [key for key in _KEYS if key in job.file.model_fields_set]


def _problem(job: Job, path: KeyPath, message: str, advice: str) -> Problem:
    return Problem(location=job.source.at(path), place=str(path[0]), message=message, advice=advice)


def _tabs_by_hand(job: Job, message: str, advice: str) -> Iterator[Problem]:
    """A problem for every line of the order that places tabs by hand."""
    for index, make in enumerate(job.file.make):
        if make.tabs:
            yield Problem(
                location=job.source.at(("make", index, "tabs")),
                place=f'make "{make.name}": tabs',
                message=message,
                advice=advice,
            )


def _laser_problems(job: Job) -> Iterator[Problem]:
    """A beam pushes nothing: a board only lies there, and tabs are where the beam is off."""
    asked = _asked(job)
    if "board_held_by" in asked:
        yield _problem(job, ("board_held_by",), "does nothing here: a board lies on a laser's bed", _SKIP)
    if "between_boards" in asked:
        yield _problem(job, ("between_boards",), "does nothing here: a beam pushes no board off the next", _SKIP)
    if job.file.parts_held_by == "skin":
        yield _problem(job, ("parts_held_by",), "a beam leaves no skin", 'take "tabs", or leave it out')
        yield from _tabs_by_hand(job, 'do nothing with parts_held_by = "skin"', "leave them out")
    elif job.machine.tabs is None:
        message = f'the profile "{job.machine.name}" has no [tabs]'
        if "parts_held_by" in asked:
            yield _problem(job, ("parts_held_by",), message, "add [tabs] to it, or leave this out")
        else:
            yield from _tabs_by_hand(job, message, "add [tabs] to it, or leave them out")


def _board_problems(job: Job) -> Iterator[Problem]:
    """What holds the boards of a router."""
    file, by = job.file, job.file.board_held_by
    if by == "screws" and job.machine.screws is None:
        yield _problem(
            job,
            ("board_held_by",),
            f'the profile "{job.machine.name}" says nothing of screws',
            "add [screws] with hole, head, height, margin and every to it, or use clamps",
        )
    if file.between_boards is not None and file.stack == 1:
        message = "does nothing here: boards are cut one at a time"
        yield _problem(job, ("between_boards",), message, "leave it out, or set stack")
    if by in _FROM_BELOW and file.stack > 1 and file.between_boards is None:
        message = f"{by} under a stack holds its lowest board only"
        yield _problem(
            job, ("board_held_by",), message, 'add between_boards = "tape", or take "clamps", "screws" or stack = 1'
        )


def _part_problems(job: Job) -> Iterator[Problem]:
    """What holds the parts in the boards of a router."""
    file, machine = job.file, job.machine
    asked = "parts_held_by" in _asked(job)
    from_below = file.board_held_by in _FROM_BELOW
    if file.parts_held_by == "skin":
        yield from _skin_problems(job)
        yield from _tabs_by_hand(job, 'do nothing with parts_held_by = "skin"', "leave them out")
    elif from_below:
        with_it = f'with board_held_by = "{file.board_held_by}", which holds the parts too'
        if asked:
            yield _problem(job, ("parts_held_by",), f'"tabs" does nothing {with_it}', "leave one of the two out")
        yield from _tabs_by_hand(job, f"do nothing {with_it}", "leave them out")
    elif machine.tabs is None:
        key = "parts_held_by" if asked else "board_held_by" if "board_held_by" in _asked(job) else "machine"
        yield _problem(
            job,
            (key,),
            f'the profile "{machine.name}" has no [tabs], and nothing else holds the parts',
            'add [tabs] to it, or set parts_held_by = "skin", or board_held_by = "tape" or "vacuum"',
        )


def _skin_problems(job: Job) -> Iterator[Problem]:
    file, machine = job.file, job.machine
    if not machine.cutting.skin:
        message = f'the profile "{machine.name}" says no thickness of a skin'
        yield _problem(job, ("parts_held_by",), message, 'add skin to its [cutting], or take "tabs"')
    if file.stack > 1 and file.between_boards is None and file.board_held_by not in _FROM_BELOW:
        message = "a skin is left under the lowest board of a stack only, and the others are cut through"
        yield _problem(job, ("parts_held_by",), message, 'add between_boards = "tape", or take "tabs" or stack = 1')
