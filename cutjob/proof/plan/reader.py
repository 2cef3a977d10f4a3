"""Reads what plan.json says about the files of a board, as values for the sweep: cutters, zero, heights and
tabs. mm.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from cutjob.errors import InputError, Problem
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout
from cutjob.proof.expect import ExpectedDrawing, ExpectedProgram, ExpectedTab
from cutjob.proof.plan.data import PlanData, shown
from cutjob.proof.plan.faults import plan_faults, schema_fault
from cutjob.proof.plan.layout import planned_layout
from cutjob.tolerances import TOLERANCES

_MOST_NAMED = 4


def planned_programs(plan: Mapping[str, object], file: str, machine: Machine) -> tuple[ExpectedProgram, ...]:
    """Return all programs of the board that `file` cuts, as the plan has them, in the order to run them.

    Raises InputError with the place in the plan, and for a plan that was made for another machine or doesn't name the
    file.
    """
    root = planned_root(plan, machine)
    named: list[str] = []
    for board in root["boards"].each():
        programs = board.several("programs")
        names = [program["file"].text() for program in programs]
        named += names
        if file not in names:
            continue
        twice = next((one for one in programs if names.count(one["file"].text()) > 1), None)
        if twice is not None:
            raise twice["file"].fail(f"is the same for two files of the board: {shown(twice['file'].data)}")
        if machine.has_spindle and isinstance(board.data, Mapping) and "held_by" not in board.data:
            raise _made_earlier(board)
        layout = planned_layout(board)
        _refuse(plan_faults(root, board, layout, machine))
        return tuple(_program(one, layout, name, machine) for one, name in zip(programs, names, strict=True))
    raise not_named(root, file, named)


def planned_drawing(plan: Mapping[str, object], file: str, machine: Machine) -> ExpectedDrawing:
    """Return a drawing as the plan has it. Raises InputError as `planned_programs` does."""
    root = planned_root(plan, machine)
    for board in root["boards"].each():
        for drawing in board.several("drawings"):
            if drawing["file"].text() == file:
                layout = planned_layout(board)
                _refuse(plan_faults(root, board, layout, machine))
                return ExpectedDrawing(file=file, board=layout, offset=drawing["offset"].number())
    raise not_named(root, file)


def not_named(root: PlanData, file: str, named: Sequence[str] = ()) -> InputError:
    """Return the error of a plan that doesn't name a file; `named` are files it names."""
    listed = ", ".join(named[:_MOST_NAMED]) + (" and others" if len(named) > _MOST_NAMED else "")
    return InputError(
        Problem(
            place=root.place,
            message=f"doesn't name the file {file}" + (f"; it names {listed}" if named else ""),
            advice="give the plan.json of the folder the file was made in",
        )
    )


def planned_root(plan: Mapping[str, object], machine: Machine) -> PlanData:
    """Return the plan to be read. Raises InputError for one of another schema or made for another machine."""
    root = PlanData(plan)
    wrong = schema_fault(root)
    if wrong is not None:
        raise InputError(wrong)
    made_for = root.get("machine")
    if made_for is not None and made_for.text() != machine.name:
        raise InputError(
            Problem(
                place=made_for.place,
                message=f'was made for machine "{made_for.text()}", not for "{machine.name}"',
                advice="name that machine, or give the plan.json of the folder the file was made in",
            )
        )
    return root


def _refuse(faults: Sequence[Problem]) -> None:
    if faults:
        raise InputError(faults)


def _made_earlier(board: PlanData) -> InputError:
    return InputError(
        Problem(
            place=board.place,
            message='has no "held_by": it was made by an earlier version, which didn\'t say how the board is held',
            advice="make the job again",
        )
    )


def _program(entry: PlanData, layout: BoardLayout, file: str, machine: Machine) -> ExpectedProgram:
    z_zero = entry.get("z_zero")
    zero = z_zero.text() if z_zero else machine.motion.z_zero
    if z_zero and zero not in ("stock top", "spoilboard"):
        raise z_zero.fail(f'should be "stock top" or "spoilboard", not {shown(zero)}')
    window, safe_z, skin = entry.get("window"), entry.get("safe_z"), entry.get("skin")
    clear_z = entry.get("clear_z") or safe_z
    return ExpectedProgram(
        file=file,
        board=layout,
        cutters=_cutters(entry, machine),
        origin=entry["origin"].point(),
        stock_top_z=layout.height if zero == "spoilboard" else 0.0,
        overcut=machine.cutting.overcut,
        safe_z=machine.motion.safe_height if safe_z is None else safe_z.not_negative(),
        clear_z=machine.motion.safe_height if clear_z is None else clear_z.not_negative(),
        skin=0.0 if skin is None else skin.not_negative(),
        window=None if window is None else window.index(len(layout.windows), "window"),
        tabs=tuple(_tab(tab, layout) for tab in entry.several("tabs")),
    )


def _cutters(entry: PlanData, machine: Machine) -> tuple[Cutter, ...]:
    """The cutters in the order they come; an older plan names only one."""
    several = entry.get("cutters")
    if several is None:
        return (_cutter(entry["cutter"], machine),)
    found = tuple(_cutter(one, machine) for one in several.each())
    if not found:
        raise several.fail("names no cutter")
    return tuple({cutter.number: cutter for cutter in found}.values())


def _cutter(entry: PlanData, machine: Machine) -> Cutter:
    number, diameter = entry["number"].number(), entry["diameter"].positive()
    cutter = next((cutter for cutter in machine.cutter if cutter.number == number), None)
    if cutter is None:
        raise entry.fail(f"cutter {number:g} is not in the machine profile")
    if abs(cutter.diameter - diameter) > TOLERANCES.output:
        raise entry.fail(f"diameter {diameter:g} is not the profile's, {cutter.diameter:g} mm")
    return cutter


def _tab(entry: PlanData, layout: BoardLayout) -> ExpectedTab:
    placement = entry.get("placement")
    return ExpectedTab(
        placement=None if placement is None else placement.index(len(layout.placements), "placement"),
        at=entry["at"].point(),
        width=entry["width"].positive(),
        height=entry["height"].positive(),
    )
