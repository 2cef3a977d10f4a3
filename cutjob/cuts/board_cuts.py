"""Board layouts to cuts in the board's frame. Whatever the cutter can't do is reported here, before any file is made.

Warnings for marks whose groove reaches over the part's edge: a mark is as wide as its cutter. mm.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import Polygon

from cutjob.cuts.blade_curves import blade_warnings
from cutjob.cuts.cut import Cut, Feature, HoleCut, LoopCut, MarkCut, placed
from cutjob.cuts.cutter_choice import Cutters, other_cutter
from cutjob.cuts.part_cuts import Examined, Stock, cut_part
from cutjob.cuts.reach import uncut_corners
from cutjob.cuts.tabs import TabSites, mirrored
from cutjob.errors import InputError, Location, Problem
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point, Segment
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES
from cutjob.units import RULE, length, length_by, rounded_up
from cutjob.workers import unfinished_cancelled

# Where a line ends on an edge or crosses one, its groove runs over the edge as meant. This many radii from there it
# no longer does, even at 30 degrees to the edge.
_RUNS_OUT = 2.0


def wide_mark_warnings(part: ShapedPart, cuts: Sequence[Cut], *, cutters: Cutters) -> tuple[str, ...]:
    """Return a warning for the marks among a part's cuts, in its own frame, whose groove runs over an edge of the part,
    of an opening or of a hole. One warning covers all marks over the same kind of edge and gives the place of the
    first.

    A line that ends on an edge, or crosses it, is meant to: no warning names it.
    """
    marks = [cut for cut in cuts if isinstance(cut, MarkCut)]
    if not marks:
        return ()
    edges = _edges(part)
    found: dict[tuple[str, int], list[shapely.Point]] = {}
    for cut in marks:
        line, radius = _line(cut.path), cutters.numbered(cut.cutter).radius
        groove = line.buffer(radius - TOLERANCES.acceptance, quad_segs=32)
        for what, edge in edges:
            lost = shapely.intersection(edge, groove)
            if not lost.is_empty:
                lost = shapely.difference(lost, _ways_out(line, edge, _RUNS_OUT * radius))
            if shapely.length(lost) > 0:
                worst = max(shapely.get_parts(shapely.line_merge(lost)), key=lambda piece: float(piece.length))
                found.setdefault((what, cut.cutter), []).append(worst.interpolate(0.5, normalized=True))
    return tuple(_warning(what, places, number, cutters) for (what, number), places in found.items())


def _warning(what: str, places: Sequence[shapely.Point], number: int, cutters: Cutters) -> str:
    cutter = cutters.numbered(number)
    marks, runs = ("a mark", "runs") if len(places) == 1 else (f"{len(places)} marks", "run")
    first = "at" if len(places) == 1 else "the first at"
    return (
        f"{marks} cut {length(cutter.diameter)} wide by cutter {number} {runs} over {what}, "
        f"{first} x {_on_rule(places[0].x)}, y {_on_rule(places[0].y)} of the part; keep marks at least "
        f"{rounded_up(cutter.radius)} off, or take a narrower cutter for the outlines"
    )


def _on_rule(mm: float) -> str:
    return length_by(lambda unit: round(mm / RULE[unit]) * RULE[unit])


def _edges(part: ShapedPart) -> list[tuple[str, shapely.Geometry]]:
    """The part's edges by kind, as lines."""
    edges: list[tuple[str, shapely.Geometry]] = [("the part's edge", to_polygon(part.region.outline).exterior)]
    if part.region.holes:
        rings = [to_polygon(hole).exterior for hole in part.region.holes]
        edges.append(("the edge of an opening", shapely.multilinestrings(rings)))
    if part.round_holes:
        rings = [shapely.Point(hole.at).buffer(hole.diameter / 2, quad_segs=32).exterior for hole in part.round_holes]
        edges.append(("the edge of a hole", shapely.multilinestrings(rings)))
    return edges


def _ways_out(line: shapely.LineString, edge: shapely.Geometry, reach: float) -> shapely.Geometry:
    """Where a groove runs out on purpose: round the places where its line ends on an edge or crosses one."""
    crossed = [
        piece for piece in shapely.get_parts(shapely.intersection(line, edge)) if isinstance(piece, shapely.Point)
    ]
    ends = [shapely.Point(line.coords[0]), shapely.Point(line.coords[-1])]
    crossed += [end for end in ends if shapely.distance(end, edge) <= TOLERANCES.repair]
    return shapely.union_all([point.buffer(reach) for point in crossed])


def _line(path: Sequence[Segment]) -> shapely.LineString:
    points = [path[0].start]
    for segment in path:
        points += segment.chords(TOLERANCES.chord)
    return shapely.LineString(np.array(points))


# From how many different parts on other processes take a share, and how many parts they take at once.
_WORTH_SHARING = 100
_CHUNK = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedCuts:
    """The cuts of one placement (its index on the board), moved to the board's frame.

    `sites` are the places for bridges on the loop that frees the part. `plugs` are those on inside cuts, by the number
    of the cut in `inner`.
    """

    placement: int
    inner: tuple[Cut, ...]
    outline: tuple[LoopCut, ...]
    sites: TabSites | None = None
    plugs: tuple[tuple[int, TabSites], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardCuts:
    """All that is cut on one board layout. `hold_downs` are the holes drilled first of all. `pins` are, by window, the
    holes for the pins of the next window. No lead-in or lead-out enters an area that is `kept`. `warnings` are for the
    operator who runs the board's files.
    """

    layout: BoardLayout
    cutters: Cutters
    parts: tuple[PlacedCuts, ...]
    hold_downs: tuple[HoleCut, ...] = ()
    pins: tuple[tuple[HoleCut, ...], ...] = ()
    kept: tuple[Polygon, ...] = ()
    warnings: tuple[str, ...] = ()


def cut_layouts(
    layouts: Sequence[BoardLayout],
    *,
    cutters: Cutters,
    machine: Machine,
    gap: float,
    locations: Mapping[str, Location | None],
    exact: Collection[str] = (),
    executor: Executor | None = None,
) -> tuple[tuple[BoardCuts, ...], tuple[str, ...]]:
    """Return each board's cuts, and warnings. `locations` gives the line of each item of the job; `gap` is the clear
    wood between its parts, mm. The items named as `exact` may have no inside corner left round.

    `executor` takes a share of the work where there are many parts. Raises InputError with every hole, slot, pocket
    or opening that the cutters would spoil.
    """
    examined = _examined(layouts, cutters, machine, gap, executor)
    told: set[_Key] = set()
    marked: dict[_Key, list[str]] = {}
    problems: dict[Problem, None] = {}
    warnings: dict[str, None] = {}
    boards = []
    for layout in layouts:
        parts = []
        for index, placement in enumerate(layout.placements):
            key = _key(placement, layout)
            found = examined[key]
            if key not in told:
                told.add(key)
                location = locations.get(placement.item)
                wrong = _problems(placement, found, cutters, machine, location, exact=placement.item in exact)
                problems.update(dict.fromkeys(wrong))
                warnings.update(dict.fromkeys(_warnings(placement, found, cutters, machine)))
                marked[key] = _mark_warnings(placement, found, cutters, machine)
            parts.append(_place(index, placement, found))
        parts = _with_lettering(layout, parts, cutters)
        wide = dict.fromkeys(line for placement in layout.placements for line in marked[_key(placement, layout)])
        warnings.update(wide)
        boards.append(BoardCuts(layout=layout, cutters=cutters, parts=tuple(parts), warnings=tuple(wide)))
    if problems:
        raise InputError(problems)
    warnings.update(dict.fromkeys(_opening_warnings(layouts, machine)))
    warnings.update(dict.fromkeys(blade_warnings(layouts, machine, cutters.outline)))
    return tuple(boards), tuple(warnings)


_Key = tuple[int, float, int, str]


def _key(placement: Placement, layout: BoardLayout) -> _Key:
    """What the cuts of a part depend on: the part itself, and the stock it is cut from."""
    return id(placement.part), layout.board.thickness, layout.stack, layout.board.material


def _examined(
    layouts: Sequence[BoardLayout], cutters: Cutters, machine: Machine, gap: float, executor: Executor | None
) -> dict[_Key, Examined]:
    """Every part examined once for each stock that it is cut from."""
    wanted: dict[_Key, tuple[ShapedPart, Stock]] = {}
    for layout in layouts:
        board = layout.board
        stock = Stock(thickness=board.thickness, height=layout.height, material=board.material, gap=gap)
        for placement in layout.placements:
            wanted.setdefault(_key(placement, layout), (placement.part, stock))
    tasks = list(wanted.values())
    if executor is None or len(tasks) < _WORTH_SHARING:
        return dict(zip(wanted, _examine(tasks, cutters, machine), strict=True))
    chunks = [tasks[start : start + _CHUNK] for start in range(0, len(tasks), _CHUNK)]
    futures = [executor.submit(_examine, chunk, cutters, machine) for chunk in chunks]
    with unfinished_cancelled(futures):
        return dict(zip(wanted, (one for future in futures for one in future.result()), strict=True))


def _examine(tasks: Sequence[tuple[ShapedPart, Stock]], cutters: Cutters, machine: Machine) -> list[Examined]:
    return [cut_part(part, cutters=cutters, machine=machine, stock=stock) for part, stock in tasks]


def _place(index: int, placement: Placement, found: Examined) -> PlacedCuts:
    loops = []
    for loop in found.cuts.outline:
        moved = placed(loop, placement.transform)
        assert isinstance(moved, LoopCut)
        loops.append(moved)
    inner = tuple(placed(cut, placement.transform) for cut in found.cuts.inner)
    flip = placement.transform.mirrored

    def turned(sites: TabSites, loop: Cut) -> TabSites:
        assert isinstance(loop, LoopCut)
        return mirrored(sites, length=loop.path.length) if flip else sites

    return PlacedCuts(
        placement=index,
        inner=inner,
        outline=tuple(loops),
        sites=None if found.sites is None else turned(found.sites, loops[0]),
        plugs=tuple((number, turned(sites, inner[number])) for number, sites in found.plugs),
    )


def _with_lettering(layout: BoardLayout, parts: Sequence[PlacedCuts], cutters: Cutters) -> list[PlacedCuts]:
    """The cuts; the strokes of a part's number come before its other cuts."""
    strokes: dict[int, list[Cut]] = {}
    for number, lettering in enumerate(layout.lettering):
        cutter = cutters.for_strokes(depth=lettering.depth, number=lettering.cutter).number
        feature = Feature(kind="number", number=number, depth=lettering.depth)
        strokes.setdefault(lettering.placement, []).extend(
            MarkCut(feature=feature, path=path, cutter=cutter, depth=lettering.depth) for path in lettering.paths
        )
    more = {placement: len(each) for placement, each in strokes.items()}
    return [
        replace(
            part,
            inner=(*strokes.get(part.placement, ()), *part.inner),
            plugs=tuple((number + more.get(part.placement, 0), sites) for number, sites in part.plugs),
        )
        for part in parts
    ]


def _name(placement: Placement) -> str:
    return f'item "{placement.item}": part "{placement.part.name}"'


def _spot(point: Point) -> str:
    return f"x {length(point[0])}, y {length(point[1])} of the part"


def _problems(
    placement: Placement,
    found: Examined,
    cutters: Cutters,
    machine: Machine,
    location: Location | None,
    *,
    exact: bool,
) -> list[Problem]:
    problems = []

    def add(message: str, advice: str) -> None:
        problems.append(Problem(location=location, place=_name(placement), message=message, advice=advice))

    for narrow in found.narrow:
        add(
            f"no cutter gets everywhere in a pocket at {_spot(narrow.at)}; the {length(cutters.outline.diameter)} "
            f"cutter {cutters.outline.number} does not",
            other_cutter(machine, narrow.width, cutters, otherwise="widen it"),
        )
    for corner in found.uncut_corners:
        if corner.lost:
            cutter = cutters.outline
            add(
                f"the {length(cutter.diameter)} cutter {cutter.number} can't reach an opening or "
                f"slot at {_spot(corner.at)}: {length(corner.depth, finest=32)} "
                f"({corner.area:.1f} mm2) would stay uncut",
                other_cutter(machine, _reaching(placement.part, cutter), cutters, otherwise="widen it"),
            )
    left = _corners_left(found, cutters, machine) if exact else ""
    if left:
        add(
            f'{left}, and inside_corners = "exact" allows none',
            "take a thinner cutter, round the corners, or add relief",
        )
    return problems


def _reaching(part: ShapedPart, cutter: Cutter) -> float:
    """The greatest diameter, mm, of a cutter that loses no slot or opening of a part, by halving."""
    low, high = 0.0, cutter.diameter
    for _ in range(12):
        middle = (low + high) / 2
        low, high = (
            (low, middle)
            if any(corner.lost for corner in uncut_corners(part.region, radius=middle / 2))
            else (middle, high)
        )
    return low


def _corners_left(found: Examined, cutters: Cutters, machine: Machine) -> str:
    """What stays round in a part's inside corners, and where most of it is. Empty for a saw, which cuts a corner from
    both sides.
    """
    corners = [] if machine.by_hand else [corner for corner in found.uncut_corners if not corner.lost]
    if not corners:
        return ""
    worst = corners[0]
    count = "an inside corner" if len(corners) == 1 else f"{len(corners)} inside corners"
    most = f"most at {_spot(worst.at)}"
    if machine.has_beam:
        wide = length(cutters.outline.diameter)
        return f"{count} sharper than a beam {wide} wide can cut; up to {length(worst.depth)} left round, {most}"
    size = length(worst.depth, finest=32)
    return f"{count} tighter than the cutter; up to {size} left for hand work, {most}"


def _warnings(placement: Placement, found: Examined, cutters: Cutters, machine: Machine) -> list[str]:
    left = _corners_left(found, cutters, machine)
    if not left:
        return []
    relief = "" if machine.has_beam else '; relief = "side" or "diagonal" cuts them out for a square corner to fit'
    return [f"{_name(placement)}: {left}{relief}"]


def _mark_warnings(placement: Placement, found: Examined, cutters: Cutters, machine: Machine) -> list[str]:
    if machine.by_hand:
        return []
    wide = wide_mark_warnings(placement.part, found.cuts.inner, cutters=cutters)
    return [f"{_name(placement)}: {warning}" for warning in wide]


def _opening_warnings(layouts: Sequence[BoardLayout], machine: Machine) -> list[str]:
    """A warning for each opening that a blade can't get into from outside."""
    found: dict[str, None] = {}
    for layout in layouts if machine.by_hand else ():
        for placement in layout.placements:
            for hole in placement.part.region.holes:
                x0, y0, x1, y1 = hole.bounds
                size = " x ".join(length(side, finest=8) for side in (x1 - x0, y1 - y0))
                warning = f"no closed blade gets into an opening of {size}; drill a way in and use a jigsaw"
                found[f"{_name(placement)}: {warning}"] = None
    return list(found)


def stack_warnings(layouts: Sequence[BoardLayout], machine: Machine) -> tuple[str, ...]:
    """Return warnings for boards cut in stacks: what must hold all boards but the lowest, and marks on the top board
    only.
    """
    stacked = [layout for layout in layouts if layout.stack > 1]
    if not machine.has_spindle or not stacked:
        return ()
    holdings = [layout.holding for layout in stacked]
    warnings = []
    if None in holdings:
        warnings.append(
            "in a stack the tabs hold the lowest board only: fix every board to the next, inside the parts and in the "
            "waste"
        )
    if any(holding is not None and holding.between_boards == "tape" for holding in holdings):
        warnings.append(
            "in a stack only tape holds the parts of the upper boards: tape every board to the next over its whole face"
        )
    marked = {
        placement.part.name: None for layout in stacked for placement in layout.placements if placement.part.marks
    }
    if marked:
        warnings.append(f"in a stack only the top board is marked: {', '.join(marked)}")
    return tuple(warnings)
