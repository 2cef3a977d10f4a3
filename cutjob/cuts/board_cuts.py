"""Board layouts to cuts in the board's frame; everything the cutter can't do is reported here, before any file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial

from cutjob.cuts.board_tabs import add_tabs
from cutjob.cuts.cut import Cut, LoopCut, placed
from cutjob.cuts.part_cuts import Examined, cut_part
from cutjob.cuts.tabs import TabSites, mirrored
from cutjob.errors import InputError, Location, Problem
from cutjob.geometry.segment import Point
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, format_length

# Different parts from which on other processes take a share of them, and how many they take at once.
_WORTH_SHARING = 100
_CHUNK = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedCuts:
    """The cuts of one placement (its index on the board), moved to the board's frame."""

    placement: int
    inner: tuple[Cut, ...]
    outline: tuple[LoopCut, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardCuts:
    """All that one cutter does on one board layout."""

    layout: BoardLayout
    cutter: Cutter
    parts: tuple[PlacedCuts, ...]


def cut_layouts(
    layouts: Sequence[BoardLayout],
    *,
    cutter: Cutter,
    machine: Machine,
    units: Unit,
    locations: Mapping[str, Location | None],
    executor: Executor | None = None,
) -> tuple[tuple[BoardCuts, ...], tuple[str, ...]]:
    """Return each board's cuts, and warnings. `locations` gives the line of each item of the job.

    `executor` takes a share of the work where the parts are many. Raises InputError with every hole, slot or opening
    that the cutter would spoil.
    """
    examined = _examined(layouts, cutter, machine, executor)
    told: set[tuple[int, float]] = set()
    problems: dict[str, Problem] = {}
    warnings: dict[str, None] = {}
    boards = []
    for layout in layouts:
        parts = []
        for index, placement in enumerate(layout.placements):
            key = (id(placement.part), layout.board.thickness)
            found = examined[key]
            if key not in told:
                told.add(key)
                for problem in _problems(placement, found, cutter, machine, units, locations.get(placement.item)):
                    problems[str(problem)] = problem
                warnings.update(dict.fromkeys(_warnings(placement, found, cutter, units)))
            parts.append(_place(index, placement, found))
        found_sites = [examined[id(placement.part), layout.board.thickness].sites for placement in layout.placements]
        held, lacking = _with_tabs(layout, parts, found_sites, cutter)
        warnings.update(dict.fromkeys(_tab_warnings(layout, lacking, found_sites)))
        boards.append(BoardCuts(layout=layout, cutter=cutter, parts=tuple(held)))
    if problems:
        raise InputError(problems.values())
    warnings.update(dict.fromkeys([*_holding_warnings(machine), *_opening_warnings(layouts, machine, units)]))
    warnings.update(dict.fromkeys(_stack_warnings(layouts, machine)))
    return tuple(boards), tuple(warnings)


def _examined(
    layouts: Sequence[BoardLayout], cutter: Cutter, machine: Machine, executor: Executor | None
) -> dict[tuple[int, float], Examined]:
    """Every part examined once for each thickness it is cut from; by its identity and that thickness."""
    wanted = {
        (id(placement.part), layout.board.thickness): placement.part
        for layout in layouts
        for placement in layout.placements
    }
    examine = partial(_examine, cutter=cutter, machine=machine)
    tasks = [(part, thickness) for (_, thickness), part in wanted.items()]
    if executor is None or len(tasks) < _WORTH_SHARING:
        return dict(zip(wanted, map(examine, tasks), strict=True))
    return dict(zip(wanted, executor.map(examine, tasks, chunksize=_CHUNK), strict=True))


def _examine(task: tuple[ShapedPart, float], *, cutter: Cutter, machine: Machine) -> Examined:
    return cut_part(task[0], cutter=cutter, machine=machine, thickness=task[1])


def _place(index: int, placement: Placement, found: Examined) -> PlacedCuts:
    loops = []
    for loop in found.cuts.outline:
        moved = placed(loop, placement.transform)
        assert isinstance(moved, LoopCut)
        loops.append(moved)
    return PlacedCuts(
        placement=index,
        inner=tuple(placed(cut, placement.transform) for cut in found.cuts.inner),
        outline=tuple(loops),
    )


def _with_tabs(
    layout: BoardLayout, parts: Sequence[PlacedCuts], sites: Sequence[TabSites | None], cutter: Cutter
) -> tuple[list[PlacedCuts], dict[int, int]]:
    """The cuts with tabs on the loop that frees each part, and how many tabs each placement lacks."""
    loops = {part.placement: part.outline[0] for part in parts if part.outline}
    wanted = {
        part.placement: mirrored(found, length=loops[part.placement].path.length)
        if layout.placements[part.placement].transform.mirrored
        else found
        for part, found in zip(parts, sites, strict=True)
        if found is not None
    }
    loops = {index: loop for index, loop in loops.items() if index in wanted}
    done, lacking = add_tabs(layout, loops, wanted, cutter=cutter)
    held = [
        replace(part, outline=(done[part.placement], *part.outline[1:])) if part.placement in done else part
        for part in parts
    ]
    return held, lacking


def _tab_warnings(layout: BoardLayout, lacking: Mapping[int, int], sites: Sequence[TabSites | None]) -> list[str]:
    """Tell parts too small or too curved for tabs from those that have no wood beside their slot."""
    curved: list[str] = []
    crowded: list[str] = []
    for index, count in lacking.items():
        plan = sites[index]
        (curved if plan is None or not plan.sites else crowded).append(f"{index + 1} ({count} fewer)")
    warnings = []
    if curved:
        warnings.append(
            f"{layout.id}: parts {', '.join(curved)} are too small or too curved for all their tabs; hold these with "
            "tape or screws"
        )
    if crowded:
        warnings.append(
            f"{layout.id}: no wood beside the cut for all tabs of parts {', '.join(crowded)}; hold these with tape or "
            "screws, or give a wider gap"
        )
    return warnings


def _name(placement: Placement) -> str:
    return f'item "{placement.item}": part "{placement.part.name}"'


def _spot(point: Point, units: Unit) -> str:
    return f"x {format_length(point[0], unit=units)}, y {format_length(point[1], unit=units)} of the part"


def _problems(
    placement: Placement, found: Examined, cutter: Cutter, machine: Machine, units: Unit, location: Location | None
) -> list[Problem]:
    size = format_length(cutter.diameter, unit=units)
    problems = []
    for small in found.too_small:
        hole = small.hole
        problems.append(
            Problem(
                location=location,
                place=_name(placement),
                message=f"a hole of {format_length(hole.diameter, unit=units)} at {_spot(hole.at, units)} is smaller "
                f"than the {size} cutter {cutter.number}",
                advice=_other_cutter(machine, hole.diameter, units) + ", or make the hole larger",
            )
        )
    for rest in found.rests:
        if rest.lost:
            problems.append(
                Problem(
                    location=location,
                    place=_name(placement),
                    message=f"the {size} cutter {cutter.number} can't reach an opening or slot at "
                    f"{_spot(rest.at, units)}: {format_length(rest.depth, unit=units, finest=32)} "
                    f"({rest.area:.1f} mm2) would stay uncut",
                    advice=_other_cutter(machine, cutter.diameter * 0.999, units) + ", or widen it",
                )
            )
    return problems


def _other_cutter(machine: Machine, diameter: float, units: Unit) -> str:
    fits = [cutter for cutter in machine.cutter if cutter.diameter <= diameter]
    if not fits:
        return "no cutter of the profile is as small as that"
    best = max(fits, key=lambda cutter: cutter.diameter)
    return f"cutter {best.number} ({format_length(best.diameter, unit=units)}) may do"


def _warnings(placement: Placement, found: Examined, cutter: Cutter, units: Unit) -> list[str]:
    warnings = []
    corners = [rest for rest in found.rests if not rest.lost]
    if corners:
        worst = corners[0]
        count = "an inside corner" if len(corners) == 1 else f"{len(corners)} inside corners"
        warnings.append(
            f"{_name(placement)}: {count} tighter than cutter {cutter.number}; up to "
            f"{format_length(worst.depth, unit=units)} ({worst.area:.1f} mm2) left for hand work, "
            f"most at {_spot(worst.at, units)}"
        )
    return warnings


def _opening_warnings(layouts: Sequence[BoardLayout], machine: Machine, units: Unit) -> list[str]:
    """Openings whose waste may be thrown when it comes free (tabs hold parts only), and those no blade gets into."""
    found: dict[str, None] = {}
    for layout in layouts:
        for placement in layout.placements:
            for hole in placement.part.region.holes:
                x0, y0, x1, y1 = hole.bounds
                size = " x ".join(format_length(side, unit=units, finest=8) for side in (x1 - x0, y1 - y0))
                if machine.kind == "pattern":
                    told = f"no closed blade gets into an opening of {size}; drill a way in and use a jigsaw"
                elif machine.kind == "router" and min(x1 - x0, y1 - y0) > TOLERANCES.loose_waste:
                    told = f"the waste of an opening of {size} comes loose; fix it with tape or screws"
                else:
                    continue
                found[f"{_name(placement)}: {told}"] = None
    return list(found)


def _holding_warnings(machine: Machine) -> list[str]:
    if machine.kind != "router" or machine.tabs is not None:
        return []
    return ["this profile makes no tabs: hold every part down with tape, vacuum or screws before it comes free"]


def _stack_warnings(layouts: Sequence[BoardLayout], machine: Machine) -> list[str]:
    stacked = [layout for layout in layouts if layout.stack > 1]
    if machine.kind != "router" or not stacked:
        return []
    warnings = [
        "in a stack the tabs hold the lowest board only: fix every board to the next, inside the parts and in the waste"
    ]
    marked = {
        placement.part.name: None for layout in stacked for placement in layout.placements if placement.part.marks
    }
    if marked:
        warnings.append(f"in a stack only the top board is marked: {', '.join(marked)}")
    return warnings
