"""Faults of a plan.json, whatever its files do: the plan, one of its boards and the machine go in, problems come out.

Files are judged by the plan, so a plan that was altered, or never passed, is refused before anything is judged.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import shapely

from cutjob.counting import counted
from cutjob.errors import Problem
from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import to_polygon
from cutjob.job.hazards import hazards_of
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.proof import limits
from cutjob.proof.plan.data import PlanData, shown
from cutjob.tolerances import TOLERANCES

PLAN_SCHEMA = "cutjob-plan/1"


def schema_fault(root: PlanData) -> Problem | None:
    """The fault of a plan with another schema than this program writes: it can't be read safely."""
    schema = root.data.get("schema") if isinstance(root.data, dict) else None
    if schema == PLAN_SCHEMA:
        return None
    return _problem(f"{root.place}.schema", f'should be "{PLAN_SCHEMA}", not {shown(schema)}')


def plan_faults(root: PlanData, entry: PlanData, layout: BoardLayout, machine: Machine) -> tuple[Problem, ...]:
    """Return what is wrong with a plan of the right schema, and with the board of `entry`, read as `layout`."""
    found = [*_not_proven(root), *_material(entry, layout, machine), *_hazards(entry, layout), *_turned(entry)]
    if machine.has_spindle:
        found += [*_holds(entry, layout), *_screws(entry, layout, machine)]
    return tuple(found)


def _problem(place: str, message: str) -> Problem:
    return Problem(place=place, message=message, advice="give the plan.json as cutjob make wrote it, or make it again")


def _not_proven(root: PlanData) -> Iterator[Problem]:
    """A plan whose own proof failed."""
    if not isinstance(root.data, dict) or "proof" not in root.data:
        return
    proof = root.data["proof"]
    passed = proof.get("passed") if isinstance(proof, dict) else None
    if passed is not True:
        yield _problem(f"{root.place}.proof.passed", f"should be true, not {shown(passed)}: its files were not proven")
        return
    findings = proof.get("findings")
    for number, finding in enumerate(findings if isinstance(findings, list) else []):
        if isinstance(finding, dict) and finding.get("severity") == "error":
            yield _problem(f"{root.place}.proof.findings[{number}]", "is an error, although the proof is said to pass")
    for key in ("worst_gouge_mm", "worst_left_mm"):
        worst = proof.get(key)
        if isinstance(worst, (int, float)) and worst > TOLERANCES.acceptance:
            yield _problem(f"{root.place}.proof.{key}", f"is {worst:g} mm, more than {TOLERANCES.acceptance:g} mm")


def _material(entry: PlanData, layout: BoardLayout, machine: Machine) -> Iterator[Problem]:
    material = layout.board.material
    # A service that cuts from drawings may state no feeds at all.
    if machine.materials and material not in machine.materials:
        place = f"{entry.place}.material"
        what = f'"{material[:40]}" has no feeds in the profile' if material else "is missing or empty"
        yield _problem(place, f"{what}; the profile has {', '.join(machine.materials)}")


def _hazards(entry: PlanData, layout: BoardLayout) -> Iterator[Problem]:
    """Missing hazards that the words of the material, or of the board's name, show. A name may be declared harmless
    only for treated wood.
    """
    stock = entry.get("stock")
    said = hazards_of(layout.board.material, stock.text() if stock is not None else "", treated=False)
    for hazard in sorted(said - layout.board.hazards):
        yield _problem(f"{entry.place}.hazards", f'leaves out "{hazard}"')


def _turned(entry: PlanData) -> Iterator[Problem]:
    """Outlines that run clockwise, and holes that run counter-clockwise: the wood would be on the other side."""
    yield from _wrong_way(entry["outline"], out=True)
    for area in (*entry.several("keep_out"), *(hold["area"] for hold in entry.several("holds"))):
        if not isinstance(area.data, dict):
            yield from _wrong_way(area, out=True)
    for placement in entry["placements"].each():
        yield from _wrong_way(placement["outline"], out=True)
        for hole in placement.several("holes"):
            yield from _wrong_way(hole, out=False)
        for feature in placement.several("features"):
            if feature["op"].data == "pocket":
                yield from _wrong_way(feature["outline"], out=True)
                for island in feature.several("islands"):
                    yield from _wrong_way(island, out=False)


def _wrong_way(contour: PlanData, *, out: bool) -> Iterator[Problem]:
    if (contour.contour().signed_area > 0) != out:
        way, lies = ("clockwise", "outside") if out else ("counter-clockwise", "inside")
        yield _problem(contour.place, f"runs {way}, so that its wood is {lies} it")


def _holds(entry: PlanData, layout: BoardLayout) -> Iterator[Problem]:
    """Holds that differ from the thing that presses there: a clamp's keep-out, a screw's head, the board on
    tape or vacuum.
    """
    holding, board = layout.holding, layout.board
    if holding is None:
        return
    places: Sequence[tuple[shapely.Polygon, float]]
    if holding.by == "clamps":
        places = [(to_polygon(one.area), one.height) for one in board.keep_outs]
        what = "the keep-out of a clamp"
    elif holding.by == "screws":
        places = [(shapely.Point(down.at).buffer(down.head, quad_segs=64), down.height) for down in layout.hold_downs]
        what = "a screw's head"
        if len(holding.holds) != len(layout.hold_downs):
            message = f"are {len(holding.holds)} for {counted(len(layout.hold_downs), 'screw')}"
            yield _problem(f"{entry.place}.holds", message)
    else:
        places, what = [(to_polygon(board.outline), 0.0)], "the board"
    for number, hold in enumerate(holding.holds):
        place = f"{entry.place}.holds[{number}]"
        fits = [height for area, height in places if _alike(hold.area, area)]
        if not fits:
            yield _problem(f"{place}.area", f"is not that of {what}")
        elif all(abs(height - hold.height) > TOLERANCES.output for height in fits):
            yield _problem(f"{place}.height", f"is {hold.height:g} mm; that of {what} there is {fits[0]:g} mm")


def _alike(contour: Contour, area: shapely.Polygon) -> bool:
    own = to_polygon(contour)
    return bool(area.buffer(limits.ROUND_CHORDS).covers(own) and own.buffer(limits.ROUND_CHORDS).covers(area))


def _screws(entry: PlanData, layout: BoardLayout, machine: Machine) -> Iterator[Problem]:
    """Screws of other sizes than the profile's."""
    if machine.screws is None:
        return
    wanted = {"diameter": machine.screws.hole, "head": machine.screws.head / 2, "height": machine.screws.height}
    for number, down in enumerate(layout.hold_downs):
        for key, size in wanted.items():
            found = getattr(down, key)
            if abs(found - size) > TOLERANCES.output:
                place = f"{entry.place}.hold_downs[{number}].{key}"
                yield _problem(place, f"is {found:g} mm; that of the profile's screws is {size:g} mm")
