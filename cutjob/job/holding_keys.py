"""Turns a job's keys for holding work into a machine that holds parts with tabs, a skin or neither; or into mistakes.

A key that does nothing on the job's machine is refused, so that nobody relies on it.
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
    for every key of the job that asks for something its machine does not do.
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
        f"a skin of {skin} holds the parts, but a board may be {error} thicker or thinner than stated "
        "(thickness_error of the profile). Where it is thinner, the skin is cut through and parts come loose; measure "
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
    """Why a job's keys for holding have no effect, or an empty text where they have."""
    if machine.by_hand:
        return f'on "{machine.name}" parts are sawn by hand'
    if not machine.runs_gcode:
        return f'"{machine.name}" takes drawings only, and the person who cuts holds the work'
    if not any(item.build.shaped for item in items):
        return "no part of this job is cut out of a board"
    return ""


def _asked(job: Job) -> list[str]:
    """The keys for holding that the job gives."""
    return [key for key in _KEYS if key in job.file.model_fields_set]


def _problem(job: Job, path: KeyPath, message: str, advice: str) -> Problem:
    return Problem(location=job.source.at(path), place=str(path[0]), message=message, advice=advice)


def _tabs_by_hand(job: Job, message: str, advice: str) -> Iterator[Problem]:
    """A problem for every `[[make]]` that places tabs by hand."""
    for index, make in enumerate(job.file.make):
        if make.tabs:
            yield Problem(
                location=job.source.at(("make", index, "tabs")),
                place=f'make "{make.name}": tabs',
                message=message,
                advice=advice,
            )


def _laser_problems(job: Job) -> Iterator[Problem]:
    """Problems for a laser: its beam does not push the board, and makes tabs by switching off."""
    asked = _asked(job)
    if "board_held_by" in asked:
        yield _problem(job, ("board_held_by",), "does nothing here: a board lies on a laser's bed", _SKIP)
    if "between_boards" in asked:
        yield _problem(job, ("between_boards",), "does nothing here: a beam does not push boards apart", _SKIP)
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
    """Problems with how a router's boards are held."""
    file, by = job.file, job.file.board_held_by
    if by == "screws" and job.machine.screws is None:
        yield _problem(
            job,
            ("board_held_by",),
            f'the profile "{job.machine.name}" has no [screws]',
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
    """Problems with how parts are held in a router's boards."""
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
            f'the profile "{machine.name}" has no [tabs], so nothing holds the parts',
            'add [tabs] to it, or set parts_held_by = "skin", or board_held_by = "tape" or "vacuum"',
        )


def _skin_problems(job: Job) -> Iterator[Problem]:
    file, machine = job.file, job.machine
    if not machine.cutting.skin:
        message = f'the profile "{machine.name}" has no thickness for a skin'
        yield _problem(job, ("parts_held_by",), message, 'add skin to its [cutting], or take "tabs"')
    if file.stack > 1 and file.between_boards is None and file.board_held_by not in _FROM_BELOW:
        message = "a skin only holds the lowest board of a stack; the others are cut through"
        yield _problem(job, ("parts_held_by",), message, 'add between_boards = "tape", or take "tabs" or stack = 1')
