"""One board of a job as plain data for plan.json: its wood, its parts, the things on it, and the files that cut it. mm.

Outlines are chords within 0.002 mm of the contours, in the board's frame.
"""

from __future__ import annotations

from collections.abc import Sequence

from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import to_ring
from cutjob.geometry.segment import Point, Segment
from cutjob.job.hazards import HAZARDS
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.output.operations import Work, work_of
from cutjob.output.words.held import hold_areas
from cutjob.program.moves import Program
from cutjob.result import JobResult
from cutjob.tolerances import TOLERANCES

# A tenth is kept back for the decimals of the file and for the comparison.
_DEVIATION = TOLERANCES.chord * 0.9


def board_data(layout: BoardLayout, result: JobResult) -> dict[str, object]:
    """Return a board's entry, with its own programs and drawings."""
    machine, own = result.machine, result.programs_of(layout)
    board = layout.board
    work = work_of(own, otherwise=[machine.cutter[0].diameter])
    return {
        "id": layout.id,
        "stock": board.name,
        "material": board.material,
        "hazards": [hazard for hazard in HAZARDS if hazard in board.hazards],
        "thickness": board.thickness,
        "stack": layout.stack,
        "copies": layout.copies,
        "sawn_off": board.sawn_off,
        "outline": ring(board.outline),
        "keep_out": [ring(one.area) for one in board.keep_outs],
        "keep_out_heights": [one.height for one in board.keep_outs],
        "windows": _windows(layout),
        "hold_downs": _hold_downs(layout),
        "held_by": None if layout.holding is None else layout.holding.by,
        "holds": [
            {"window": hold.window, "area": ring(hold.area), "height": hold.height} for hold in hold_areas(layout)
        ],
        "chunks": [] if layout.holding is None else [ring(chunk) for chunk in layout.holding.chunks],
        "bridges": _bridges(layout),
        "lettering": [
            {"placement": one.placement, "depth": one.depth, "paths": [_path(path) for path in one.paths]}
            for one in layout.lettering
        ],
        "placements": [
            _placement(placement, number, machine, work, result.sets.of(layout, number))
            | {"bridges_to_hold": _to_hold(layout, number)}
            for number, placement in enumerate(layout.placements)
        ],
        "programs": [_program(program, machine) for program in own],
        "drawings": [{"file": one.file, "offset": one.offset} for one in result.drawings_of(layout)],
    }


def _windows(layout: BoardLayout) -> list[dict[str, object]]:
    return [
        {
            "first": window.first,
            "last": window.last,
            "placements": list(window.placements),
            "holes": [list(at) for at in window.holes],
            "pins": [list(at) for at in window.pins],
        }
        for window in layout.windows
    ]


def _hold_downs(layout: BoardLayout) -> list[dict[str, object]]:
    """`window` is null on a board that is not cut in windows; `head` is a radius."""
    return [
        {
            "at": list(down.at),
            "diameter": down.diameter,
            "head": down.head,
            "height": down.height,
            "window": down.window,
        }
        for down in layout.hold_downs
    ]


def _bridges(layout: BoardLayout) -> list[dict[str, object]]:
    """Each end of a bridge is on the edge of the part or the chunk of waste that it joins there, in that order."""
    if layout.holding is None:
        return []
    return [
        {
            "ends": [list(end) for end in bridge.ends],
            "width": bridge.width,
            "height": bridge.height,
            "joins": [_node(node, layout) for node in bridge.joins],
        }
        for bridge in layout.holding.bridges
    ]


def _node(node: int, layout: BoardLayout) -> dict[str, int]:
    parts = len(layout.placements)
    return {"placement": node} if node < parts else {"chunk": node - parts}


def _to_hold(layout: BoardLayout, number: int) -> int | None:
    """The greatest number of bridges between a part and a hold; null where that is not settled."""
    to_hold = () if layout.holding is None else layout.holding.to_hold
    return to_hold[number] if number < len(to_hold) else None


def _placement(
    placement: Placement, index: int, machine: Machine, work: Work, units: tuple[int, ...]
) -> dict[str, object]:
    """`units` are the items that its pieces are for: run after run, and in each from the top of the stack down."""
    move, region = placement.transform, placement.region
    return {
        "part": placement.part.name,
        "item": placement.item,
        "unit": placement.unit,
        "units": list(units),
        "rotation": move.degrees,
        "mirrored": move.mirrored,
        "at": [move.x, move.y],
        "outline": ring(region.outline),
        "holes": [ring(hole) for hole in region.holes],
        "features": _features(placement, index, machine, work),
    }


def _features(placement: Placement, index: int, machine: Machine, work: Work) -> list[dict[str, object]]:
    """Round holes (a counterbored one as two, the wide one first), pockets and marks."""
    move, part = placement.transform, placement.part
    found: list[dict[str, object]] = [
        {
            "op": work.hole_operation(hole, index, number),
            "depth": hole.depth,
            "at": list(move.point(hole.at)),
            "diameter": hole.diameter,
            **({"by_hand": True} if hole.by_hand else {}),
        }
        for number, hole in enumerate(part.round_holes)
    ]
    for pocket in part.pockets:
        region = move.region(pocket.region)
        outline, islands = ring(region.outline), [ring(island) for island in region.holes]
        found.append({"op": "pocket", "depth": pocket.depth, "outline": outline, "islands": islands})
    for mark in part.marks:
        # null would mean through, so a mark without a depth gets the profile's.
        depth = machine.cutting.mark_depth if mark.depth is None else mark.depth
        found.append({"op": mark.operation, "depth": depth, "path": _path([move.segment(one) for one in mark.path])})
    return found


def _program(program: Program, machine: Machine) -> dict[str, object]:
    """`number` counts the board's files in the order to run them; `window` is an index, or null."""
    cutters = [_cutter(cutter) for cutter in program.cutters]
    return {
        "file": program.file,
        "number": program.number,
        "window": program.window,
        "cutters": cutters,
        "cutter": cutters[0],
        "origin": list(program.origin),
        "z_zero": machine.motion.z_zero,
        "safe_z": program.safe_z,
        "clear_z": program.clear_z,
        "skin": program.skin,
        "seconds": program.seconds,
        "cut_mm": program.cut_mm,
        "air_mm": program.air_mm,
        "tabs": [
            {"placement": tab.placement, "at": list(tab.at), "width": tab.width, "height": tab.height}
            for tab in program.tabs
        ],
    }


def _cutter(cutter: Cutter) -> dict[str, object]:
    return {"number": cutter.number, "diameter": cutter.diameter, "name": cutter.name}


def ring(contour: Contour) -> list[list[float]]:
    """Return the corners of a contour's chords."""
    return [list(point) for point in to_ring(contour, deviation=_DEVIATION)]


def _path(chain: Sequence[Segment]) -> list[list[float]]:
    points: list[Point] = [chain[0].start] if chain else []
    for segment in chain:
        points.extend(segment.chords(_DEVIATION))
    return [list(point) for point in points]
