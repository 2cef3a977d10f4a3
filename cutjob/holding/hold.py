"""Holds one board: its cuts go in; the same cuts with bridges, and what holds the board, come out. mm, board's
frame.
"""

from __future__ import annotations

import importlib.resources
import math
import tomllib
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import cache, partial
from typing import Literal

import shapely
from shapely import Polygon

from cutjob.cuts.board_cuts import BoardCuts, PlacedCuts
from cutjob.cuts.cut import LoopCut, TabSpan
from cutjob.cuts.nose_margin import screw_margin
from cutjob.cuts.tabs import way
from cutjob.geometry.contour import circle
from cutjob.geometry.polygons import from_polygon, to_polygon
from cutjob.holding.choose import Chosen, Fault, Wanted, choose
from cutjob.holding.clamps import Place, as_hold, end_clamps, more_clamps, places_at_edge, windows_of, with_clamps
from cutjob.holding.ground import Ground, Loop, look_at, thin_waste
from cutjob.holding.screws import busy_areas
from cutjob.job.machine import Cutter, Machine
from cutjob.job.stock import named_clamps
from cutjob.layout.holding import Bridge, HeldBy, Hold, Holding
from cutjob.stages import Stop, go_on
from cutjob.tolerances import TOLERANCES
from cutjob.workers import unfinished_cancelled

_UNDER = 1.0  # mm2 at least of a node that a hold covers
_SHOWN = 0.3  # mm by which the outlines of chunks may be off
_UNREACHED = 99  # the number of bridges to the hold that is written for a part with no way there


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A board's cuts with its bridges and its `Holding`, and what is wrong with them: `faults` of nodes (placements by
    index, then chunks), and whether there is `no_hold`.
    """

    board: BoardCuts
    faults: tuple[Fault, ...] = ()
    no_hold: bool = False

    @property
    def good(self) -> bool:
        """Whether everything is held."""
        return not self.faults and not self.no_hold


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How a job wants its boards held: `by` what, and what holds the boards of a stack together."""

    by: HeldBy
    between_boards: Literal["tape"] | None = None


def hold_boards(
    boards: Sequence[BoardCuts],
    *,
    machine: Machine,
    by: HeldBy,
    between_boards: Literal["tape"] | None = None,
    executor: Executor | None = None,
    stop: Stop | None = None,
) -> tuple[Held, ...]:
    """Return each board's cuts as they are held (see `hold_board`), in order. Several boards are shared out by
    `executor`. Raises StoppedError between two boards once `stop` says so.
    """
    hold = partial(hold_board, machine=machine, by=by, between_boards=between_boards)
    held: list[Held] = []
    if executor is None or len(boards) < 2:
        for board in boards:
            go_on(stop)
            held.append(hold(board))
        return tuple(held)
    # The longest tasks come first, so that no core starts one at the end.
    largest = sorted(range(len(boards)), key=lambda index: -len(boards[index].parts))
    futures = {index: executor.submit(hold, boards[index]) for index in largest}
    with unfinished_cancelled(futures.values()):
        for index in range(len(boards)):
            go_on(stop)
            held.append(futures[index].result())
    return tuple(held)


def hold_board(
    board: BoardCuts, *, machine: Machine, by: HeldBy, between_boards: Literal["tape"] | None = None
) -> Held:
    """Return a board's cuts as they are held. Bridges go over the whole height of a stack unless its boards are taped
    to each other.

    A machine that moves no cutter needs no holding. Under a laser the board lies on the bed.
    """
    if not machine.runs_gcode or machine.by_hand:
        return Held(board=board)
    if machine.has_beam:
        return _on_bed(board, machine)
    way_of = Way(by=by, between_boards=between_boards if board.layout.stack > 1 else None)
    if way_of.by in ("tape", "vacuum"):
        count = len(board.layout.placements)
        holding = Holding(by=way_of.by, to_hold=(0,) * count, between_boards=way_of.between_boards)
        return Held(board=replace(board, layout=replace(board.layout, holding=holding)))
    ground = look_at(board)
    if way_of.by == "screws":
        fixed = [
            Hold(area=circle(down.at, down.head), height=down.height, window=down.window)
            for down in board.layout.hold_downs
        ]
        return _with_bridges(board, ground, fixed, machine, way_of)
    named = named_clamps(board.layout.board)
    if named:
        stock = board.layout.board
        fixed = [
            Hold(area=clamp.area, height=clamp.height, window=number)
            for clamp in (stock.keep_outs[index] for index in named)
            for number in _windows_under(board, to_polygon(clamp.area))
        ]
        return _with_bridges(board, ground, fixed, machine, way_of)
    return _clamped(board, ground, machine, way_of)


def _on_bed(board: BoardCuts, machine: Machine) -> Held:
    """A board on a laser's bed. Tabs, where the profile has them, hold parts in the sheet; nothing pushes them."""
    if machine.tabs is None:
        return Held(board=board)
    ground = look_at(board)
    parts = board.layout.placements
    edge = to_polygon(board.layout.board.outline).exterior
    held = [len(parts) + i for i, chunk in enumerate(ground.chunks) if chunk.distance(edge) < TOLERANCES.acceptance]
    wanted = {part: wanted_of(board, ground, part, machine) for part in _cut_free(ground)}
    chosen = choose(ground, held=[held], wanted=wanted, heavy=(), clear=machine.cutting.lead)
    made = bridged(board, ground, chosen, (), Way(by="clamps")).board
    count = Counter(node for number in chosen.sites for node in ground.sites[number].joins)
    lacking = [str(part + 1) for part in wanted if count[part] < 2]
    warnings = []
    if lacking:
        warnings.append(f"parts {', '.join(lacking)} have one tab or none: they may tip and be hit by the head")
    layout = replace(made.layout, holding=None)
    return Held(board=replace(made, layout=layout, warnings=(*made.warnings, *warnings)))


def _windows_under(board: BoardCuts, area: Polygon) -> list[int | None]:
    """The windows for which a clamp that the job names holds the board: those that contain all of it."""
    if not board.layout.windows:
        return [None]
    x0, _, x1, _ = area.bounds
    return [
        number
        for number, first, last in windows_of(board.layout.windows, board.layout.board.length)
        if x0 >= first - TOLERANCES.acceptance and x1 <= last + TOLERANCES.acceptance
    ]


def _clamped(board: BoardCuts, ground: Ground, machine: Machine, way_of: Way) -> Held:
    """Clamps near both ends of every window; if that doesn't hold everything, one more on every chunk with room."""
    clamps, layout = machine.clamps, board.layout
    margin = screw_margin(board, machine, clamps)[0]
    busy = shapely.disjoint_subset_union_all([ground.swept, *busy_areas(board, machine)])
    places = places_at_edge(layout.board, ground.chunks, busy=busy, clamps=clamps, margin=margin)
    ends: list[tuple[int | None, Place]] = []
    more: list[tuple[int | None, Place]] = []
    for number, first, last in windows_of(layout.windows, layout.board.length):
        pair = end_clamps(places, ground.chunks, first=first, last=last, clamps=clamps)
        if pair is None:
            return Held(board=board, no_hold=True)
        ends += [(number, place) for place in pair]
        inside = [one for one in places if one.bounds[0] >= first and one.bounds[2] <= last]
        more += [(number, place) for place in more_clamps(inside, pair, clamps=clamps)]
    asked = _asked(board, ground, machine)

    def holds_at(chosen: Sequence[tuple[int | None, Place]]) -> list[Hold]:
        return [as_hold(place, clamps=clamps, window=number) for number, place in chosen]

    chosen, best = ends, _chosen(asked, holds_at(ends))
    if best is not None and best.faults and more:
        every = _chosen(asked, holds_at([*ends, *more]))
        if every is not None and len(every.faults) < len(best.faults):
            chosen, best = [*ends, *more], every
            for one in () if every.faults else more:  # a clamp that nothing hangs on is taken away again
                fewer = [each for each in chosen if each != one]
                found = _chosen(asked, holds_at(fewer))
                if found is not None and len(found.faults) <= len(best.faults):
                    chosen, best = fewer, found
    holds = holds_at(chosen)
    clamped = replace(board, layout=replace(layout, board=with_clamps(layout.board, holds)))
    return bridged(clamped, ground, best, holds, way_of, lead=machine.cutting.lead)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What a board's bridges must do, whatever holds the board."""

    board: BoardCuts
    ground: Ground
    nodes: tuple[Polygon, ...]
    wanted: dict[int, Wanted]
    heavy: tuple[int, ...]
    clear: float


def _asked(board: BoardCuts, ground: Ground, machine: Machine) -> _Asked:
    parts = [placement.polygon for placement in board.layout.placements]
    freed = [] if machine.skin > 0 else _cut_free(ground)
    return _Asked(
        board=board,
        ground=ground,
        nodes=(*parts, *ground.chunks),
        wanted={part: wanted_of(board, ground, part, machine) for part in freed},
        heavy=tuple(len(parts) + chunk for chunk in ground.loose) if machine.skin <= 0 else (),
        clear=machine.cutting.lead + board.cutters.outline.diameter,
    )


def _chosen(asked: _Asked, holds: Sequence[Hold]) -> Chosen | None:
    """The bridges for some holds; None where no hold covers the board in some window."""
    layout = asked.board.layout
    areas = [(hold, to_polygon(hold.area)) for hold in holds]
    tree = shapely.STRtree(list(asked.nodes))
    held: list[frozenset[int]] = []
    for number, _, _ in windows_of(layout.windows, layout.board.length):
        own = [area for hold, area in areas if number is None or hold.window in (None, number)]
        under = [
            int(node)
            for area in own
            for node in tree.query(area, predicate="intersects")
            if shapely.area(shapely.intersection(asked.nodes[node], area)) > _UNDER
        ]
        if not under:
            return None
        held.append(frozenset(under))
    if not asked.wanted:
        return Chosen(sites=(), to_hold=(0,) * len(asked.nodes), faults=())
    return choose(asked.ground, held=held, wanted=asked.wanted, heavy=asked.heavy, clear=asked.clear)


def _with_bridges(board: BoardCuts, ground: Ground, holds: Sequence[Hold], machine: Machine, way_of: Way) -> Held:
    """The board with bridges for its holds."""
    chosen = _chosen(_asked(board, ground, machine), holds)
    return bridged(board, ground, chosen, holds, way_of, lead=machine.cutting.lead)


def _cut_free(ground: Ground) -> list[int]:
    """Placements that are cut out: those with a loop round them."""
    return sorted({loop.placement for loop in ground.loops if loop.outer is not None})


def wanted_of(board: BoardCuts, ground: Ground, part: int, machine: Machine) -> Wanted:
    """Return what a placement needs: as many bridges as its length, its weight and the cutter's force ask for."""
    polygon = board.layout.placements[part].polygon
    box = shapely.minimum_rotated_rectangle(polygon)
    corners = shapely.get_coordinates(box)
    sides = sorted(math.dist(corners[i], corners[i + 1]) for i in range(2))
    plan = board.parts[part].sites
    count = 0 if plan is None else plan.wanted
    if plan is not None and not plan.by_hand and machine.tabs is not None:
        count = min(machine.tabs.most, max(count, bridges_for_force(board, machine, plan.width, plan.height)))
    centre = polygon.centroid
    return Wanted(centroid=(centre.x, centre.y), width=sides[0], size=sides[1], count=max(2, count))


def bridges_for_force(board: BoardCuts, machine: Machine, width: float, height: float) -> int:
    """Return how many bridges of this size bear the side force of the cut that frees a part; 0 without feeds.

    Side force = specific cutting force x chip thickness x depth of cut, for one tooth in the wood at a time. The
    figures and their sources are in forces.toml.
    """
    cutter: Cutter = board.cutters.outline
    row = cutter.feed_for(board.layout.board.material)
    if not machine.has_spindle or row is None or not row.rpm or not row.depth_per_pass:
        return 0
    known = forces()
    chip = min(row.feed, machine.motion.greatest_feed) / (row.rpm * cutter.flutes)
    force = known["specific_cutting_force"] * chip * row.depth_per_pass
    return math.ceil(known["times_safe"] * force / (known["shear_strength"] * width * height))


@cache
def forces() -> dict[str, float]:
    """Return the figures of forces.toml."""
    text = importlib.resources.files("cutjob.holding").joinpath("forces.toml").read_text(encoding="utf-8")
    return {name: float(value) for name, value in tomllib.loads(text).items()}


def bridged(
    board: BoardCuts, ground: Ground, chosen: Chosen | None, holds: Sequence[Hold], way_of: Way, *, lead: float = 0.0
) -> Held:
    """Return the board with the bridges chosen on its loops, and its holding; with no hold where none was found."""
    if chosen is None:
        return Held(board=board, no_hold=True)
    layout = board.layout
    full = layout.stack > 1 and way_of.between_boards is None
    alongs: dict[int, list[tuple[float, float]]] = {}
    bridges = []
    for number in chosen.sites:
        site = ground.sites[number]
        plan = ground.loops[site.places[0][0]].plan
        assert plan is not None
        height = layout.height if full else plan.height
        bridges.append(Bridge(joins=site.joins, ends=site.ends, width=site.width, height=height))
        for loop, along in site.places:
            alongs.setdefault(loop, []).append((along, site.width))
    count = len(layout.placements)
    # Only for pictures: a tenth of a bridge's width is near enough.
    chunks = tuple(from_polygon(shapely.simplify(chunk, _SHOWN)).outline for chunk in ground.chunks)
    holding = Holding(
        by=way_of.by,
        between_boards=way_of.between_boards,
        holds=tuple(holds),
        chunks=chunks,
        bridges=tuple(bridges),
        to_hold=tuple(min(level, _UNREACHED) for level in chosen.to_hold[:count]),
    )
    loops = {
        (loop.placement, loop.inner, loop.outer): replace(
            loop.cut, tabs=_spans(loop, alongs[number], layout.height if full else None)
        )
        for number, loop in enumerate(ground.loops)
        if number in alongs
    }
    parts = tuple(_tabbed(part, loops) for part in board.parts)
    kept = thin_waste(ground, lead=lead) if lead > 0 else ()
    made = replace(board, parts=parts, kept=kept, layout=replace(layout, holding=holding))
    return Held(board=made, faults=chosen.faults)


def _tabbed(part: PlacedCuts, loops: dict[tuple[int, int | None, int | None], LoopCut]) -> PlacedCuts:
    inner = tuple(loops.get((part.placement, number, None), cut) for number, cut in enumerate(part.inner))
    outline = tuple(loops.get((part.placement, None, number), cut) for number, cut in enumerate(part.outline))
    return replace(part, inner=inner, outline=outline)


def _spans(loop: Loop, alongs: Sequence[tuple[float, float]], full: float | None) -> tuple[TabSpan, ...]:
    plan = loop.plan
    assert plan is not None
    spans = []
    for along, width in sorted(alongs):
        half = (plan.span - plan.width + width) / 2
        apart = all(
            way(along, other, loop.ruler.length) >= plan.span + plan.width + 2 * plan.run
            for other, _ in alongs
            if other != along
        )
        run = plan.run if full is None and along in plan.ramped and apart else 0.0
        spans.append(
            TabSpan(
                first=along - half,
                last=along + half,
                height=plan.height if full is None else full,
                width=width,
                at=loop.outward(along)[0],
                run=run,
            )
        )
    return tuple(spans)
