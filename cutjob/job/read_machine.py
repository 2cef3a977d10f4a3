"""Reads a machine profile, by its name or path, into a `Machine`."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from cutjob.errors import InputError, Problem
from cutjob.files.fields import KeyPath
from cutjob.files.file_bytes import shipped_files
from cutjob.files.read_toml import problem_at, read_model, required
from cutjob.files.source import Source, read_source
from cutjob.files.values import nearest
from cutjob.job.hazards import hazards_of, laser_hazard
from cutjob.job.machine import Feed, Machine
from cutjob.remembered import remembered
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, format_length

# A feed worked out from a chip load in inches may miss the machine's limit by its rounding.
_SAME_FEED = 1e-6
_LEAST_AIR = 0.5  # mm between a router's cutter and the stock in air moves; common practice is ten times as much
# With fewer decimals rounding is larger than `TOLERANCES.output`, and the finished edge is off by more than stated.
_LEAST_DECIMALS: dict[Unit, int] = {"mm": 3, "in": 4}


def read_machine(name_or_path: str, *, beside: Path | None) -> Machine:
    """Return the shipped profile of that name, or the profile in the file of that path.

    A text that has a folder in it or ends in `.toml` is a path, taken from the folder `beside` (None: the current one).
    Raises InputError with every mistake in the profile, or without a location where there is no such profile.
    """
    return _machine_of(read_source(profile_path(name_or_path, beside=beside)))


@remembered(most=32)
def _machine_of(source: Source) -> Machine:
    machine = required(read_model(source, Machine))
    problems = tuple(_passed_limits(machine, source))
    if problems:
        raise InputError(problems)
    return machine


def profile_path(name_or_path: str, *, beside: Path | None) -> Path:
    """Return the path of a profile's file. Raises InputError where there is none."""
    if "/" not in name_or_path and "\\" not in name_or_path and not name_or_path.lower().endswith(".toml"):
        return _shipped_path(name_or_path)
    path = (beside or Path()) / name_or_path
    try:
        if path.exists():
            return path
    except (OSError, ValueError):
        pass  # the system allows no such name, so there is no file
    advice = f"paths are taken from the folder {beside}" if beside is not None else "check the path"
    raise InputError(Problem(message=f'there is no machine profile "{name_or_path}"', advice=advice))


def _shipped_path(name: str) -> Path:
    known = shipped_files("machines")
    if name not in known:
        advice = nearest(name, known) or "give the path of a profile file, ending in .toml"
        raise InputError(Problem(message=f'there is no machine profile named "{name}"', advice=advice))
    return known[name]


def _passed_limits(machine: Machine, source: Source) -> Iterator[Problem]:
    """A problem for every key that goes beyond the machine's own limits, or is a hazard."""
    if machine.runs_gcode:
        yield from _too_coarse(machine, source)
        yield from _too_deep(machine, source)
        yield from _too_low(machine, source)
    for index, cutter in enumerate(machine.cutter):
        for row_index, row in enumerate(cutter.feed):
            path = ("cutter", index, "feed", row_index)
            hazard = laser_hazard(hazards_of(row.material)) if machine.has_beam else ""
            if hazard:
                message = f"{row.material} must never go into a laser: {hazard}"
                yield problem_at(source, (*path, "material"), message, advice="delete this feed")
            if machine.runs_gcode:
                yield from _too_fast(machine, row, path, source)
            if row.depth_per_pass is not None and row.depth_per_pass > cutter.diameter + TOLERANCES.same_point:
                yield problem_at(
                    source,
                    (*path, "depth_per_pass"),
                    f"{format_length(row.depth_per_pass, unit='mm')} is more than the cutter's diameter, "
                    f"{format_length(cutter.diameter, unit='mm')}",
                    advice="take half a diameter to one diameter in each pass",
                )
            if machine.has_beam:
                yield from _marks_cut(row, path, source)


def _too_coarse(machine: Machine, source: Source) -> Iterator[Problem]:
    controller = machine.controller
    least = _LEAST_DECIMALS[controller.units]
    if controller.decimals < least:
        unit = "inches" if controller.units == "in" else "mm"
        yield problem_at(
            source,
            ("controller", "decimals"),
            f"{controller.decimals} decimals in {unit} are too coarse for edges within {TOLERANCES.acceptance:g} mm",
            advice=f"write at least {least}",
        )


def _too_deep(machine: Machine, source: Source) -> Iterator[Problem]:
    cutting = machine.cutting
    if machine.has_spindle and cutting.overcut > cutting.deepest_below_stock + TOLERANCES.same_point:
        yield problem_at(
            source,
            ("cutting", "overcut"),
            f"{format_length(cutting.overcut, unit='mm')} is more than deepest_below_stock, "
            f"{format_length(cutting.deepest_below_stock, unit='mm')}",
            advice="lower it, or allow more below the stock",
        )


def _marks_cut(row: Feed, path: KeyPath, source: Source) -> Iterator[Problem]:
    """A problem for marks with the power of a cut, which would burn through."""
    if row.power is not None and row.mark_power is not None and row.mark_power >= row.power:
        message = f"the power of marks, {row.mark_power:.6g}, is not below that of cuts, {row.power:.6g}"
        advice = "lower it until a mark only browns the wood; try it on scrap"
        yield problem_at(source, (*path, "mark_power"), message, advice=advice)


def _too_low(machine: Machine, source: Source) -> Iterator[Problem]:
    air = machine.motion.safe_height
    if machine.has_spindle and air < _LEAST_AIR:
        yield problem_at(
            source,
            ("motion", "safe_height"),
            f"at {format_length(air, unit='mm')} the cutter would scrape over boards that are not quite flat",
            advice=f"write at least {format_length(_LEAST_AIR, unit='mm')}",
        )


def _too_fast(machine: Machine, row: Feed, path: KeyPath, source: Source) -> Iterator[Problem]:
    motion, spindle = machine.motion, machine.spindle
    greatest_power = machine.controller.greatest_power
    limits = [
        ("chip_load" if row.chip_load is not None else "feed", "feed", row.feed, motion.greatest_feed),
        ("mark_feed", "feed of marks", row.mark_feed, motion.greatest_feed),
    ]
    if machine.has_spindle:
        limits.append(("plunge", "plunge", row.plunge, motion.greatest_plunge))
        limits.append(("rpm", "speed", row.rpm, spindle.greatest_rpm))
        if row.rpm is not None and row.rpm < spindle.least_rpm:
            message = f"speed {row.rpm:.6g} is less than the machine's {spindle.least_rpm:.6g}"
            yield problem_at(source, (*path, "rpm"), message, advice="raise it")
    else:
        limits.append(("power", "power", row.power, greatest_power))
        limits.append(("mark_power", "power of marks", row.mark_power, greatest_power))
    for key, words, value, greatest in limits:
        if value is not None and value > greatest + _SAME_FEED:
            message = f"{words} {value:.6g} is more than the machine's {greatest:.6g}"
            yield problem_at(source, (*path, key), message, advice="lower it")
