"""More room for clamps, screws and the spindle's nose: a job's boards go in, boards and distances for another layout
come out. mm.

Parts may lie so close that no clamp finds a place, or slots may run off the board's edge and leave nothing to hang on
to. Then the layout is made again with places for clamps kept free, with a rail of wood left round the board's edge, or
with wider gaps between the parts; the way that takes the least wood is tried first.

Places for screws are kept free where parts, laid as close as they go, leave none. The places are along both edges in
turn, where they take the least room, no farther apart than screws may be.

Where a cutter goes down so deep that the spindle's nose comes as low as a clamp, the clamp counts as that much larger
while parts are laid out, so that the nose passes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import cycle

import numpy as np
import shapely

from cutjob.cuts.cutter_choice import Cutters
from cutjob.cuts.fitness import pocket_problems
from cutjob.cuts.nose_margin import comes_low, grown, needed_stickout, stickout_advice
from cutjob.cuts.part_cuts import Stock, past_edge, pocket_cutter
from cutjob.geometry.contour import circle
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point
from cutjob.holding.screws import run_beside
from cutjob.job.machine import Cutter, Machine, Screws
from cutjob.job.stock import Board, KeepOut
from cutjob.layout.rules import Room
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES

_ASIDE = 9  # x values tried for a place, in the middle half of its stretch
_LEAST = 0.5  # mm: least radius of the area kept free at a place, so that it has an outline


def room_for_screws(
    room: Room | None, *, screws: Screws, margin: float, slot: float, gap: float, bed: float | None
) -> Room:
    """Return room in which screws find their places, in addition to the `room` that is kept in any case.

    `margin` is the wood between a screw's head and the cutter, `slot` how far beside a part the cutter sweeps, and
    `gap` the distance parts keep from anything. Boards longer than `bed` are cut in windows, each with its own screws.
    """

    def beside(board: Board) -> Board:
        before = board if room is None else room.beside(board)
        radius = max(_LEAST, screws.head / 2 + margin + slot - gap)
        every = screws.every if bed is None or board.length <= bed else screws.every / 2
        found = _places(before, clear=screws.head / 2 + margin, edge=max(screws.hole, screws.head / 2), every=every)
        return replace(before, keep_outs=(*before.keep_outs, *(KeepOut(circle(at, radius)) for at in found)))

    if room is not None:
        return replace(room, beside=beside)
    return Room(beside=beside, taken_by="the place for screws", advice='hold the board with board_held_by = "clamps"')


def _places(board: Board, *, clear: float, edge: float, every: float) -> list[Point]:
    """One place in each of the fewest equal stretches no longer than `every`, at the lower and the upper edge in turn;
    none in a stretch that has no room.
    """
    wood = to_polygon(board.outline)
    knots = [to_polygon(one.area).buffer(clear) for one in board.keep_outs]
    free = shapely.difference(wood.buffer(-edge), shapely.union_all(knots))
    if free.is_empty:
        return []
    x0, y0, x1, y1 = wood.bounds
    count = max(2, math.ceil((x1 - x0) / every - 1e-9))
    step = (x1 - x0) / count
    asides = sorted(np.linspace(-step / 4, step / 4, _ASIDE), key=lambda aside: (abs(aside), aside))
    found: list[Point] = []
    sides = cycle((False, True))
    for number in range(count):
        middle, upper = x0 + (number + 0.5) * step, next(sides)
        for x in (middle + float(aside) for aside in asides):
            line = shapely.intersection(shapely.LineString([(x, y0), (x, y1)]), free)
            if not line.is_empty:
                _, low, _, high = line.bounds
                found.append((x, high if upper else low))
                break
    return found


@dataclass(frozen=True, slots=True)
class _Use:
    """A cutter at work on a part: how deep it goes, and how far beyond the part's edge its middle runs."""

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
    """Return the room that parts must leave beside things on the boards for the nose to pass, where that is more than
    `gap`; None where the gap is enough.

    The cutters that count are those the parts need and, with `numbers`, the one for these, each as deep as it goes. A
    cutter whose stickout the profile doesn't give is not checked.
    """
    nose = machine.spindle.nose_diameter
    if nose is None or not machine.has_spindle or not parts:
        return None
    uses: dict[tuple[float, str], tuple[_Use, ...]] = {}
    needed: dict[int, float] = {}
    for board in boards:
        height = stack * board.thickness
        stock = Stock(thickness=board.thickness, height=height, material=board.material, gap=gap)
        key = board.thickness, board.material
        tallest = board.tallest
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
    """All uses of cutters whose stickout is known; of uses that are alike perhaps only the greatest."""
    outline, loops = cutters.outline, machine.through(stock.height, loop=True)
    deepest = machine.through(stock.height)
    yield _Use(outline, loops, run_beside(machine, outline, 2 * TOLERANCES.curve))
    if numbers:
        depth = machine.cutting.mark_depth
        yield _Use(cutters.for_strokes(depth=depth), depth, 0.0)
    others = [cutter for cutter in cutters.usable if cutter != outline and cutter.stickout is not None]
    if not others and not machine.skin:
        return  # all other cuts are by the cutter for outlines, no deeper, or by one with no known stickout
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
            if not pocket_problems(pocket, part.region):  # a faulty one is refused later
                cutter = pocket_cutter(pocket, part, cutters=cutters, machine=machine, stock=stock)
                within = shapely.distance(edge, to_polygon(pocket.region.outline))
                yield _Use(cutter or outline, pocket.depth, past_edge(machine) - within)


def _more(use: _Use, height: float, nose: float, gap: float) -> float:
    """How much farther than `gap` parts must be from a thing of this height for a use of a cutter; 0 if no farther."""
    return max(0.0, nose / 2 + use.beside - gap) if comes_low(use.cutter, use.depth, height) else 0.0


def _with_room(board: Board, uses: Sequence[_Use], nose: float, gap: float) -> Board:
    keep_outs = []
    for one in board.keep_outs:
        more = max((_more(use, one.height, nose, gap) for use in uses), default=0.0) if one.height > 0 else 0.0
        keep_outs.append(replace(one, area=grown(one.area, more)) if more > 0 else one)
    return replace(board, keep_outs=tuple(keep_outs))


@dataclass(frozen=True, slots=True, kw_only=True)
class MoreRoom:
    """The extra room that a layout leaves: places for this many `clamps` on a board, a `rail` of this width between the
    board's edge and the slots beside it, and this much more `gap` between parts, mm. With a `screw_margin`, the wood
    between a screw's head and the cutter, it leaves places for screws.
    """

    clamps: int = 0
    rail: float = 0.0
    gap: float = 0.0
    screw_margin: float | None = None


def ways_to_make_room(
    *, width: float, lead: float, apart: float, clamps: bool, screw_margin: float | None
) -> Iterator[MoreRoom]:
    """Yield ways to lay a job out again, the one that takes the least wood first.

    `width` is that of a bridge, `lead` how far a lead-in goes beyond a slot, `apart` how much wider gaps must be for
    waste to stay between all slots. With `clamps`, places for clamps are kept free; with a `screw_margin`, places for
    screws.
    """
    rail = width + lead
    more = partial(MoreRoom, screw_margin=screw_margin)
    two, three = (2, 3) if clamps else (0, 0)
    if clamps or screw_margin is not None:
        yield more(clamps=two)
    yield more(clamps=two, rail=rail)
    yield more(clamps=two, gap=width)
    yield more(clamps=two, rail=rail, gap=width / 2)
    yield more(clamps=three, gap=width / 2)
    yield more(clamps=two, rail=rail, gap=max(0.0, apart - 2 * lead))
    yield more(clamps=two, rail=rail, gap=apart)


def beside_clamps(room: Room | None, clamped: Callable[[Board], Board]) -> Room:
    """Return room in which clamps find their places, in addition to the `room` for the spindle's nose. `clamped` gives
    a board with these places kept free.
    """
    return Room(
        beside=clamped if room is None else (lambda board: room.beside(clamped(board))),
        taken_by="the place for clamps" if room is None else f"the place for clamps and {room.taken_by}",
        advice='hold the board with board_held_by = "tape"' + ("" if room is None else f", or {room.advice}"),
    )
