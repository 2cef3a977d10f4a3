"""One part to its cuts, in the part's own frame: outside and inside cuts, pockets, holes, marks; and the places that
can't be reached.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import count
from typing import Literal

import shapely

from cutjob.cuts.clearing import clear, widest_reaching
from cutjob.cuts.cut import Cut, Feature, HoleCut, LoopCut, MarkCut, PartCuts, PocketCut, Side
from cutjob.cuts.cutter_choice import Cutters, frame_round
from cutjob.cuts.open_pockets import opened
from cutjob.cuts.reach import UncutCorner, goes_all_round, uncut_corners
from cutjob.cuts.tabs import TabSites, tab_sites
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.longest_moves import longest_moves
from cutjob.geometry.offset import offset
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point
from cutjob.job.machine import Cutter, Feed, Machine
from cutjob.parts.part import Hole, Pocket, ShapedPart
from cutjob.remembered import remembered
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True, kw_only=True)
class NarrowPocket:
    """A pocket with a place that no cutter gets into: the place, and the pocket's greatest width there."""

    at: Point
    width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """What a part is cut from: the thickness of one board and of the whole stack, and the wood; and the clear gap
    beside the part, mm.
    """

    thickness: float
    height: float
    material: str
    gap: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """A part's cuts, the places for bridges on the loop that frees it, and what the cutters can't do: pockets too
    narrow, corners left.

    `plugs` are the places for bridges on inside cuts whose waste would come free in one large piece, by the number of
    the cut in `cuts.inner`.
    """

    cuts: PartCuts
    narrow: tuple[NarrowPocket, ...]
    uncut_corners: tuple[UncutCorner, ...]
    sites: TabSites | None
    plugs: tuple[tuple[int, TabSites], ...] = ()


@remembered(most=256, by_value=(Stock,))
def cut_part(part: ShapedPart, *, cutters: Cutters, machine: Machine, stock: Stock) -> Examined:
    """Return the cuts of one part, each with the number of its cutter."""
    waste_left = not machine.holes_clockwise
    deepest = machine.through(stock.height)
    outline_cutter = cutters.outline
    inner: list[Cut] = []
    for number, mark in enumerate(part.marks):
        depth = machine.cutting.mark_depth if mark.depth is None else mark.depth
        feature = Feature(kind="mark", number=number, depth=depth)
        number_of = outline_cutter.number
        inner.append(MarkCut(feature=feature, path=mark.path, cutter=number_of, depth=depth, op=mark.operation))
    pockets, narrow, found = _pocket_cuts(part, cutters, machine, stock, waste_left=waste_left)
    inner.extend(pockets)
    holes = _hole_cuts(part, cutters, deepest, clockwise=not waste_left)
    inner.extend(holes)
    finish = machine.finish
    around = outline_cutter.radius + part.deviation
    paths = _paths(part.region.outline, around, finish=finish)
    if not goes_all_round(part.region.outline, paths.final, by=around):
        found += uncut_corners(Region(part.region.outline), radius=outline_cutter.radius)
    for number, hole in enumerate(part.region.holes):
        cutter = cutters.for_opening(hole, depth=deepest)
        inside = _paths(hole, -cutter.radius - part.deviation, finish=-finish)
        inner.extend(_loops(Feature(kind="opening", number=number), inside, cutter, waste_left=waste_left))
        found += uncut_corners(Region(frame_round(hole), (hole,)), radius=cutter.radius)
    outline = _loops(Feature(kind="outline"), paths, outline_cutter, waste_left=waste_left)
    sites, plugs = None, []
    if machine.tabs is not None:
        sited = partial(
            tab_sites,
            part=part,
            thickness=stock.thickness,
            material=stock.material,
            tabs=machine.tabs,
            overcut=machine.overcut,
        )
        if outline:
            sites = sited(outline[0].path, cutter_radius=around, area=part.region.area)
        for number, cut in enumerate(inner if machine.has_spindle else ()):
            if isinstance(cut, LoopCut):
                radius = cutters.numbered(cut.cutter).radius
                plug = _plug_area(cut.path, radius)
                if plug > TOLERANCES.bridged_plug:
                    found_sites = sited(cut.path, cutter_radius=radius + part.deviation, area=plug, of_plug=True)
                    plugs.append((number, found_sites))
    return Examined(
        cuts=PartCuts(inner=tuple(inner), outline=outline),
        narrow=tuple(narrow),
        uncut_corners=tuple(sorted(found, key=lambda corner: -corner.depth)),
        sites=sites,
        plugs=tuple(plugs),
    )


def _plug_area(path: Contour, radius: float) -> float:
    """The area, mm2, of the piece of waste that a cutter leaves inside the path of an inside cut."""
    return float(to_polygon(path).buffer(-radius).area)


def _hole_cuts(part: ShapedPart, cutters: Cutters, deepest: float, *, clockwise: bool) -> list[HoleCut]:
    """The holes that a cutter makes. Which holes are drilled by hand is settled before."""
    cuts = []
    floors = [(to_polygon(pocket.region), pocket.depth) for pocket in part.pockets]
    numbers = count()
    for whole in part.holes:
        top = 0.0
        for hole, number in zip(whole.steps, numbers, strict=False):
            if hole.by_hand:
                continue
            depth = deepest if hole.depth is None else hole.depth
            cutter = cutters.for_hole(hole.diameter, depth=depth)
            assert cutter is not None, hole
            above = max([top, *_floors_over(hole, floors)])
            feature = Feature(kind="hole", number=number, diameter=hole.diameter, depth=hole.depth)
            cuts.append(_hole_cut(hole, cutter, feature, top=above if above < depth else 0.0, clockwise=clockwise))
            top = depth
    return cuts


def _floors_over(hole: Hole, floors: Sequence[tuple[shapely.Geometry, float]]) -> Iterator[float]:
    """Depths of the pockets in whose floor the whole hole lies."""
    disc = shapely.Point(hole.at).buffer(hole.diameter / 2 + TOLERANCES.acceptance)
    for floor, depth in floors:
        if shapely.covers(floor, disc):
            yield depth


def _hole_cut(hole: Hole, cutter: Cutter, feature: Feature, *, top: float, clockwise: bool) -> HoleCut:
    play = hole.diameter - cutter.diameter
    drilled = play <= TOLERANCES.same_point
    return HoleCut(
        op="drill" if drilled else "bore",
        feature=feature,
        cutter=cutter.number,
        at=hole.at,
        radius=0.0 if drilled else play / 2,
        depth=hole.depth,
        top=top,
        clockwise=clockwise,
    )


def _pocket_cuts(
    part: ShapedPart, cutters: Cutters, machine: Machine, stock: Stock, *, waste_left: bool
) -> tuple[list[PocketCut], list[NarrowPocket], list[UncutCorner]]:
    if not part.pockets:
        return [], [], []
    cuts, narrow, corners = [], [], []
    wood = to_polygon(part.region)
    for number, pocket in enumerate(part.pockets):
        cutter = pocket_cutter(pocket, part, cutters=cutters, machine=machine, stock=stock)
        chosen = cutters.outline if cutter is None else cutter
        row = chosen.feed_for(stock.material)
        share = row.stepover if row is not None else Feed.model_fields["stepover"].default
        stepover = share * chosen.diameter
        allowance = _allowance(pocket, chosen, machine, stock)
        both = []
        for way in (waste_left, not waste_left) if part.may_mirror else (waste_left,):
            both.append(
                clear(
                    _area(pocket, part, chosen, _PAST_EDGE + allowance),
                    radius=chosen.radius,
                    stepover=stepover,
                    allowance=allowance,
                    deviation=part.deviation,
                    counter_clockwise_walls=way,
                    along=machine.cutting.pockets,
                    wood=wood,
                )
            )
        cleared = both[0]
        if cutter is None:
            lost = next((corner for corner in cleared.unreached if corner.lost), None)
            x0, y0, x1, y1 = pocket.region.bounds
            at = lost.at if lost is not None else ((x0 + x1) / 2, (y0 + y1) / 2)
            narrow.append(NarrowPocket(at=at, width=_width_at(pocket, part)))
        corners += [
            UncutCorner(at=corner.at, depth=corner.depth, area=corner.area, lost=False)
            for corner in cleared.unreached
            if not corner.lost and corner.depth > TOLERANCES.worth_telling and wood.intersects(shapely.Point(corner.at))
        ]
        cuts.append(
            PocketCut(
                feature=Feature(kind="pocket", number=number, depth=pocket.depth),
                cutter=chosen.number,
                clearings=cleared.clearings,
                mirrored=both[-1].clearings,
                # Ways that leave nothing on the walls have run along them.
                walls=cleared.walls if cleared.allowance > 0 else (),
                depth=pocket.depth,
            )
        )
    return cuts, narrow, corners


def pocket_cutter(
    pocket: Pocket, part: ShapedPart, *, cutters: Cutters, machine: Machine, stock: Stock
) -> Cutter | None:
    """Return the cutter that clears a pocket; None where none gets everywhere: then the one for outlines clears it."""
    wood = to_polygon(part.region)

    def reaches(cutter: Cutter) -> bool:
        # Where the pocket runs out at the part's edge its cutter must not reach the neighbour.
        past = _PAST_EDGE + _allowance(pocket, cutter, machine, stock)
        room = cutter.radius + past <= stock.gap or not _is_open(pocket, part.region)
        area = _area(pocket, part, cutter, past)
        return room and widest_reaching(area, diameters=[cutter.diameter], wood=wood) is not None

    return cutters.for_area(reaches, depth=pocket.depth)


def past_edge(machine: Machine) -> float:
    """Return how far beyond a part's edge the middle of a cutter runs at most where a pocket runs out."""
    return _PAST_EDGE + machine.cutting.pocket_finish + 2 * TOLERANCES.curve


_PAST_EDGE = 0.05  # mm by which the middle of a cutter runs out past an edge
# How many times the finishing allowance the last pass may take in a corner: that of 30 degrees; our choice.
_FARTHEST = 4.0
_FINE = 0.02  # mm, chords of a path that is only measured
_NARROWEST = 0.1  # mm: no message asks for a cutter thinner than this
_HALVINGS = 24  # of a pocket's length, down to less than a thousandth of a mm


def _allowance(pocket: Pocket, cutter: Cutter, machine: Machine, stock: Stock) -> float:
    """The wood left on a pocket's walls for a last pass, mm: 0 where its depth is cut in one pass."""
    row = cutter.feed_for(stock.material)
    levels = -(-pocket.depth // (row.depth_per_pass or pocket.depth)) if row is not None else 1
    return machine.cutting.pocket_finish if levels > 1 else 0.0


def _area(pocket: Pocket, part: ShapedPart, cutter: Cutter, past: float) -> Region:
    """Return the area a cutter clears. It goes so far past the part's edge that rough passes leave no more wood at the
    ends of walls than along them.
    """
    return opened(pocket, part.region, by=cutter.radius + part.deviation + past)


def _is_open(pocket: Pocket, part: Region) -> bool:
    inside = to_polygon(part).buffer(-TOLERANCES.acceptance)
    return not inside.covers(to_polygon(pocket.region))


def _width_at(pocket: Pocket, part: ShapedPart) -> float:
    """The widest cutter that would get everywhere, mm, by halving; 0 where no useful one does."""
    wood = to_polygon(part.region)
    low, high = 0.0, max(pocket.region.bounds[2] - pocket.region.bounds[0], 2 * _NARROWEST)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        area = opened(pocket, part.region, by=middle / 2 + _PAST_EDGE)
        if middle > _NARROWEST and widest_reaching(area, diameters=[middle], wood=wood) is None:
            high = middle
        else:
            low = middle
    return low if low > _NARROWEST else 0.0


@dataclass(frozen=True, slots=True)
class _Paths:
    """A contour's offsets, the largest first. Round a part the largest frees it; others go round bays that closed up.
    `rough` are those for the rough passes, `finish` mm farther off, or none.
    """

    final: list[Contour]
    rough: list[Contour]
    finish: float


def _paths(contour: Contour, away: float, *, finish: float) -> _Paths:
    """Offsets `away` mm outside a contour (inside when negative), the rough ones `finish` farther if not 0."""

    def paths(by: float) -> list[Contour]:
        return sorted(offset(contour, by), key=lambda path: -abs(path.signed_area))

    return _Paths(final=paths(away), rough=paths(away + finish) if finish else [], finish=abs(finish))


def _loops(feature: Feature, paths: _Paths, cutter: Cutter, *, waste_left: bool) -> tuple[LoopCut, ...]:
    """Cuts along offset paths. Each has a rough path where one gets nearly as far everywhere: in a narrow corner where
    it does not, the last pass would take all the wood at full depth.

    Offset paths have the area they enclose on their left: the part for an outside cut, the waste for an inside cut.
    """
    op: Literal["outside cut", "inside cut"] = "outside cut" if feature.kind == "outline" else "inside cut"
    reverse = waste_left == (op == "outside cut")
    side: Side = "left" if waste_left else "right"
    final, rough = (
        [_joined(path.reversed() if reverse else path) for path in some] for some in (paths.final, paths.rough)
    )
    kept: list[Contour | None] = [None] * len(final)
    if len(rough) == len(final):
        reach = _FARTHEST * paths.finish
        kept = [one if _gets_near(one, path, reach) else None for one, path in zip(rough, final, strict=True)]
    return tuple(
        LoopCut(op=op, feature=feature, cutter=cutter.number, path=path, waste=side, rough=kept[number])
        for number, path in enumerate(final)
    )


def _gets_near(rough: Contour, final: Contour, reach: float) -> bool:
    """Whether a rough path comes within `reach` mm of every place of the path of the last pass."""
    line = shapely.LinearRing(rough.points(TOLERANCES.curve))
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(final.points(_FINE)), reach)))
    return bool(shapely.dwithin(line, points, reach).all())


def _joined(path: Contour) -> Contour:
    """The path in fewer and longer moves, as far as the tolerance allows."""
    return Contour(longest_moves(path.segments, tolerance=TOLERANCES.join, closed=True))
