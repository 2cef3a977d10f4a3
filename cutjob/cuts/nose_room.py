"""Room for the spindle's nose beside what stands on a board: parts are laid so far away that it passes. mm.

Where a cutter of the job goes down so deep that the nose comes as low as a clamp, the clamp counts as so much larger
while parts are laid out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import shapely

from cutjob.cuts.cutter_choice import Cutters
from cutjob.cuts.holding import run_beside
from cutjob.cuts.nose_margin import comes_low, grown, needed_stickout, stickout_advice, through_depth
from cutjob.cuts.part_cuts import Stock, past_edge, pocket_cutter
from cutjob.cuts.pocket_problems import pocket_problems
from cutjob.geometry.polygons import to_polygon
from cutjob.job.machine import Cutter, Machine
from cutjob.job.stock import Board
from cutjob.layout.room import Room
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class _Use:
    """A cutter at its work on a part: how deep it goes, and how far beyond the part's edge its middle runs."""

    cutter: Cutter
    depth: float
    beside: float


def room_for_nose(
    boards: Sequence[Board],
    parts: Sequence[ShapedPart],
    *,
    cutters: Cutters,
    machine: Machine,
    gap: float,
    stack: int,
    numbers: bool = False,
) -> Room | None:
    """Return the room that parts leave beside what stands on boards for the nose to pass, where that is more than
    `gap`; None where the gap does.

    What counts is the cutters the parts need, and with `numbers` that for these, each as deep as it goes. Of a cutter
    of which the profile doesn't say by how much it sticks out nothing is known.
    """
    nose = machine.spindle.nose_diameter
    if nose is None or machine.kind != "router" or not parts:
        return None
    uses: dict[tuple[float, str], tuple[_Use, ...]] = {}
    needed: dict[int, float] = {}
    for board in boards:
        height = stack * board.thickness
        stock = Stock(thickness=board.thickness, height=height, material=board.material, gap=gap)
        key = board.thickness, board.material
        tallest = max(board.heights, default=0.0)
        if tallest > 0 and key not in uses:
            uses[key] = tuple(_uses(parts, cutters, machine, stock, numbers))
        for use in uses.get(key, ()):
            if tallest > 0 and _more(use, tallest, nose, gap) > 0:
                needed[use.cutter.number] = max(needed.get(use.cutter.number, 0.0), needed_stickout(use.depth, tallest))
    if not needed:
        return None

    def beside(board: Board) -> Board:
        return _with_room(board, uses.get((board.thickness, board.material), ()), nose, gap)

    return Room(beside=beside, taken_by="the spindle's nose", advice=f"{stickout_advice(needed)}, or use lower clamps")


def _uses(
    parts: Sequence[ShapedPart], cutters: Cutters, machine: Machine, stock: Stock, numbers: bool
) -> Iterator[_Use]:
    """All uses of cutters that say how far they stick out; of like ones it may be only the greatest."""
    outline, loops = cutters.outline, through_depth(stock.height, machine, loop=True)
    deepest = through_depth(stock.height, machine, loop=False)
    yield _Use(outline, loops, run_beside(machine, outline, 2 * TOLERANCES.curve))
    if numbers:
        depth = machine.cutting.mark_depth
        yield _Use(cutters.for_strokes(depth=depth), depth, 0.0)
    others = [cutter for cutter in cutters.usable if cutter != outline and cutter.stickout is not None]
    if not others and not machine.skin:
        return  # what else is cut is cut by the cutter for outlines, no deeper, or by one nothing is known of
    for part in dict.fromkeys(parts):
        edge = to_polygon(part.region).exterior
        for hole in part.round_holes:
            depth = deepest if hole.depth is None else hole.depth
            cutter = cutters.for_hole(hole.diameter, depth=depth)
            if cutter is not None:
                within = shapely.distance(edge, shapely.Point(hole.at)) - (hole.diameter - cutter.diameter) / 2
                yield _Use(cutter, depth, -max(0.0, within))
        for opening in part.region.holes:
            within = shapely.distance(edge, to_polygon(opening))
            yield _Use(cutters.for_opening(opening, depth=deepest), loops, -within)
        for pocket in part.pockets:
            if not pocket_problems(pocket, part.region):  # else it is refused later
                cutter = pocket_cutter(pocket, part, cutters=cutters, machine=machine, stock=stock)
                within = shapely.distance(edge, to_polygon(pocket.region.outline))
                yield _Use(cutter or outline, pocket.depth, past_edge(machine) - within)


def _more(use: _Use, height: float, nose: float, gap: float) -> float:
    """How much farther than `gap` off what stands so high parts must lie for a use of a cutter; 0 where no more."""
    return max(0.0, nose / 2 + use.beside - gap) if comes_low(use.cutter, use.depth, height) else 0.0


def _with_room(board: Board, uses: Sequence[_Use], nose: float, gap: float) -> Board:
    areas = []
    for area, height in zip(board.keep_outs, (*board.heights, *(0.0,) * len(board.keep_outs)), strict=False):
        more = max((_more(use, height, nose, gap) for use in uses), default=0.0) if height > 0 else 0.0
        areas.append(grown(area, more) if more > 0 else area)
    return replace(board, keep_outs=tuple(areas))
