"""All places for bridges on a board: in wood that stays, clear of corners and other cuts, as wide at both ends."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from cutjob.cuts.board_cuts import BoardCuts, cut_layouts
from cutjob.cuts.cut import LoopCut, TabSpan
from cutjob.cuts.part_cuts import cut_part
from cutjob.cuts.tabs import TabSites, along_nearest, bridge_area
from cutjob.geometry.contour import Contour, circle, polyline, rectangle
from cutjob.geometry.nearest import NearestSegment
from cutjob.geometry.offset import offset
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import Line, arc_through_bulge
from cutjob.geometry.transform import Transform
from cutjob.holding.choose import choose
from cutjob.holding.ground import look_at, thin_waste
from cutjob.holding.hold import Way, bridged, wanted_of
from cutjob.layout.layout import BoardLayout
from cutjob.tolerances import TOLERANCES
from tests.cuts.makers import alone, cutter, layout_of, router, shaped, stock_of
from tests.layout.makers import kept_out

RADIUS = 3.0


def cut(layout: BoardLayout, radius: float = RADIUS, **tabs: float) -> BoardCuts:
    (board,), _ = cut_layouts(
        [layout], cutters=alone(cutter(2 * radius)), machine=router(tabs=tabs), gap=2 * radius, locations={}
    )
    return board


def held(layout: BoardLayout, radius: float = RADIUS, **tabs: float) -> BoardCuts:
    """The board with bridges, as if every chunk of its waste were clamped."""
    board, machine = cut(layout, radius, **tabs), router(tabs=tabs)
    ground, parts = look_at(board), len(layout.placements)
    chosen = choose(
        ground,
        held=[range(parts, parts + len(ground.chunks))],
        wanted={part: wanted_of(board, ground, part, machine) for part in range(parts)},
        heavy=(),
        clear=2 + 2 * radius,
    )
    return bridged(board, ground, chosen, (), Way(by="clamps")).board


def tabs_of(board: BoardCuts) -> dict[int, tuple[TabSpan, ...]]:
    return {part.placement: part.outline[0].tabs for part in board.parts}


def beyond(cut: LoopCut, tab: TabSpan) -> shapely.Polygon:
    """The wood a bridge ends in, from the slot's far edge on."""
    slot = shapely.LineString([cut.path.segments[0].start, *(p for s in cut.path.segments for p in s.chords(1e-3))])
    return bridge_area(cut, tab, away=RADIUS).difference(slot.buffer(RADIUS))


def row(gap: float, *, edge: float = 20.0, count: int = 3, **more: object) -> BoardLayout:
    part = shaped(rectangle(80, 50))
    places = [(part, Transform(x=edge + index * (80 + gap), y=edge)) for index in range(count)]
    return layout_of(*places, length=2 * edge + count * 80 + (count - 1) * gap, width=50 + 2 * edge, **more)


@pytest.mark.parametrize("gap", [9.0, 12.0, 20.0])
def test_every_bridge_ends_in_wood_that_stays(gap: float) -> None:
    layout = row(gap)
    board = held(layout)
    slots = {
        part.placement: to_polygon(layout.placements[part.placement].region).buffer(2 * RADIUS) for part in board.parts
    }
    for part in board.parts:
        assert len(part.outline[0].tabs) >= 2
        for tab in part.outline[0].tabs:
            wood = beyond(part.outline[0], tab)
            assert to_polygon(layout.board.outline).contains(wood)
            for other, slot in slots.items():
                if other != part.placement:
                    assert slot.intersection(wood).area < 1e-3
            # The middle of the bridge lies on the part's outline, and its wood is what is planned.
            outline = to_polygon(layout.placements[part.placement].region).exterior
            assert outline.distance(shapely.Point(tab.at)) <= TOLERANCES.path
            assert tab.last - tab.first == pytest.approx(tab.width + 2 * RADIUS)


def test_none_towards_the_boards_edge_or_a_keep_out() -> None:
    """Only the right side has wood: the others lie at the board's edge, or have a knot in the way."""
    knot = Transform(x=4, y=59).contour(rectangle(80, 8))
    layout = layout_of(
        (shaped(rectangle(80, 50)), Transform(x=2, y=2)), length=200, width=74, keep_outs=kept_out((knot,))
    )
    tabs = tabs_of(held(layout))[0]
    assert tabs
    assert {round(tab.at[0], 3) for tab in tabs} == {82.0}


def test_neighbours_whose_slots_overlap_share_bridges() -> None:
    """Three in a row along the board's whole width, a cutter's width apart: only the ends have wood beside them."""
    part = shaped(rectangle(80, 50))
    places = [(part, Transform(x=20 + index * (80 + 7), y=2)) for index in range(3)]
    board = held(layout_of(*places, length=40 + 3 * 80 + 14, width=54))
    tabs = tabs_of(board)
    (left, middle, right) = (tabs[index] for index in range(3))
    assert len(middle) >= 1
    for tab in middle:
        # The same bridge leaves the neighbour just across the gap.
        x, y = tab.at
        facing = [other.at for other in (*left, *right) if abs(other.at[1] - y) <= TOLERANCES.bridge_aside]
        assert any(abs(abs(fx - x) - 7) <= TOLERANCES.bridge_aside for fx, _ in facing)


@pytest.mark.parametrize(("width", "height", "gap"), [(20, 12, 7), (20, 12.4, 9), (30, 50, 7)])
def test_bridges_between_neighbours_keep_off_their_corners(width: float, height: float, gap: float) -> None:
    """Both ends of a shared bridge keep off corners: right at one nothing would be cut beside the bridge."""
    wide, narrow = shaped(rectangle(120, 74)), shaped(rectangle(width, height))
    left = 140 + gap
    places = [
        (wide, Transform(x=20, y=2)),
        (narrow, Transform(x=left, y=12)),
        (wide, Transform(x=left + width + gap, y=2)),
    ]
    above, below = Transform(x=left, y=12 + height + 4), Transform(x=left, y=2)
    knots = (above.contour(rectangle(width, 60 - height)), below.contour(rectangle(width, 6)))
    board = held(layout_of(*places, length=400, width=78, keep_outs=kept_out(knots)))
    for part in board.parts:
        region = to_polygon(board.layout.placements[part.placement].region)
        corners = shapely.MultiPoint(list(region.exterior.coords))
        for tab in part.outline[0].tabs:
            assert corners.distance(shapely.Point(tab.at)) >= 0.6 * tab.width + RADIUS - 0.01


@pytest.mark.parametrize("degrees", [0, 90, 180, 270])
def test_a_mirrored_part_has_its_bridges_mirrored(degrees: float) -> None:
    slanted = shaped(polyline([(0, 0), (120, 0), (90, 60), (0, 40)]), may_mirror=True)
    for mirrored in (False, True):
        transform = Transform(x=200, y=150, degrees=degrees, mirrored=mirrored)
        layout = layout_of((slanted, transform))
        board = held(layout)
        outline = to_polygon(layout.placements[0].region).exterior
        for tab in tabs_of(board)[0]:
            assert outline.distance(shapely.Point(tab.at)) <= 0.001 + TOLERANCES.path


def test_a_round_in_a_ring_hangs_on_the_plug_of_waste_or_right_on_the_ring() -> None:
    """Where the opening is just the two cutters wider than the round, the waste between them is cut away."""
    ring, small, large = (
        shaped(circle((0, 0), 90), circle((0, 0), 60)),
        shaped(circle((0, 0), 30)),
        shaped(circle((0, 0), 52)),
    )
    for plug, beyond_the_slot in ((small, 2), (large, 0)):
        layout = layout_of((ring, Transform(x=100, y=100)), (plug, Transform(x=100, y=100)), length=200, width=200)
        board = held(layout)
        holding = board.layout.holding
        assert holding is not None
        joined = {max(bridge.joins) if max(bridge.joins) > 1 else min(bridge.joins) for bridge in holding.bridges
                  if 1 in bridge.joins}  # fmt: skip
        assert joined
        assert all((node >= 2) == (beyond_the_slot == 2) for node in joined)


@pytest.mark.parametrize("slant", [0, 5, 8, 11, 14])
@pytest.mark.parametrize("radius", [1.5, RADIUS, 4.5])
def test_no_cut_comes_into_the_wood_of_a_shared_bridge(slant: int, radius: float) -> None:
    """Where two edges face each other at an angle, cuts that end abreast on the edges don't end abreast in the slot."""
    lean = 40 * math.tan(math.radians(slant))
    left, right = shaped(rectangle(40, 40)), shaped(polyline([(0, 0), (40, 0), (40, 40), (lean, 40)]))
    places = [(left, Transform(x=30, y=2)), (right, Transform(x=70 + 2 * radius - lean / 4, y=2))]
    board = held(layout_of(*places, length=180, width=44), radius, least=4, most=4)
    cuts = {part.placement: part.outline[0] for part in board.parts}
    if slant == 0:
        assert all(len(cut.tabs) > 1 for cut in cuts.values())
    swept = {index: cut_area(cut, radius) for index, cut in cuts.items()}
    for index, cut in cuts.items():
        for tab in cut.tabs:
            (x, y), (dx, dy) = Ruler(cut.path.segments).place((tab.first + tab.last) / 2)
            # No cut comes into the middle four fifths of the wood.
            for share in (-0.4, 0.0, 0.4):
                spot = shapely.Point(x + share * tab.width * dx, y + share * tab.width * dy)
                assert not any(area.contains(spot) for other, area in swept.items() if other != index)


def cut_area(cut: LoopCut, radius: float) -> shapely.Geometry:
    """What is cut right through round a part, a hundredth of a mm short of it."""
    ruler = Ruler(cut.path.segments)
    places = [step / 3 for step in range(int(3 * ruler.length))]
    free = [
        along
        for along in places
        if not any((along - tab.first) % ruler.length < tab.last - tab.first for tab in cut.tabs)
    ]
    return shapely.MultiPoint([ruler.point(along) for along in free]).buffer(radius - 0.01)


def test_both_ends_of_a_shared_bridge_are_as_wide() -> None:
    """A small part asks for narrower bridges; in one shared with a large part its cut would eat into the wood."""
    large, small = shaped(rectangle(160, 50)), shaped(rectangle(44, 50))
    places = [(large, Transform(x=20, y=2)), (small, Transform(x=187, y=2)), (large, Transform(x=238, y=2))]
    board = held(layout_of(*places, length=418, width=54))
    tabs = tabs_of(board)
    assert tabs[1]
    assert {tab.width for tab in tabs[0]} == {6.0}
    for tab in tabs[1]:
        facing = [other for index in (0, 2) for other in tabs[index] if abs(other.at[1] - tab.at[1]) <= 0.6]
        assert {other.width for other in facing} == {tab.width}
        assert tab.last - tab.first == pytest.approx(tab.width + 2 * RADIUS)
        own = cut_part(small, cutters=alone(cutter(2 * RADIUS)), machine=router(), stock=stock_of(16.0)).sites
        assert own is not None
        assert own.width < tab.width


@pytest.mark.parametrize("every", [40.0, 60.0, 90.0])
def test_the_ramps_of_neighbouring_bridges_never_meet(every: float) -> None:
    """Where bridges stand so near each other that their ramps would, the cutter goes straight up and down there."""
    layout = layout_of((shaped(rectangle(300, 60)), Transform(x=30, y=30)), length=360, width=120)
    board = held(layout, every=every, most=20, ramp_degrees=10.0, grams_each=1e6)
    (loop,) = board.parts[0].outline
    length, tabs = loop.path.length, loop.tabs
    assert len(tabs) > 3
    for before, after in zip(tabs, (*tabs[1:], tabs[0]), strict=True):
        gap = (after.first - after.run - before.last - before.run) % length
        assert gap < length / 2  # else the ramps overlap
    assert every < 60 or any(tab.run > 0 for tab in tabs)


@pytest.mark.parametrize(("bulge", "stands"), [(0.05, True), (0.3, True), (0.6, False)])
def test_no_bridge_stands_where_the_edge_turns_from_round_to_hollow(bulge: float, stands: bool) -> None:
    """There the wood left has its middle aside of the middle of the path over it."""
    top = [arc_through_bulge((130, 60), (80, 60), bulge), arc_through_bulge((80, 60), (30, 60), -bulge)]
    low = [Line((30, 60), (30, 0)), Line((30, 0), (130, 0)), Line((130, 0), (130, 60))]
    part = shaped(Contour((*top, *low)), grain="none")
    board = cut(layout_of((part, Transform(x=10, y=30)), length=200, width=180))
    (placed,) = board.parts
    path = placed.outline[0].path
    turn = along_nearest(NearestSegment(path.segments), Ruler(path.segments), (90, 90))
    plan = TabSites(wanted=1, width=6.0, height=3.0, span=6.0 + 2 * RADIUS, sites=((turn, 0),))
    ground = look_at(replace(board, parts=(replace(placed, sites=plan),)))
    assert len(ground.sites) == int(stands)


def test_chunks_are_apart_where_only_a_neck_joins_them() -> None:
    """A web of 1 mm between a slot and the board's edge joins nothing, one of 4 mm does; ways in and out spare that."""
    part = shaped(rectangle(100, 100))
    for web, count in ((1.0, 2), (4.0, 1)):
        places = [(part, Transform(x=100, y=2 * RADIUS + web))]
        ground = look_at(cut(layout_of(*places, length=300, width=100 + 2 * (2 * RADIUS + web))))
        assert len(ground.chunks) == count
    assert any(piece.bounds[2] - piece.bounds[0] > 90 for piece in thin_waste(ground, lead=2.0))


def test_plugs_are_chunks_and_small_chips_are_not() -> None:
    ring = shaped(circle((0, 0), 80), circle((0, 0), 40), circle((60, 0), 8))
    ground = look_at(cut(layout_of((ring, Transform(x=200, y=150)))))
    assert [round(chunk.area) for chunk in ground.chunks[1:]] == [pytest.approx(math.pi * 34**2, rel=0.01)]


def test_no_shared_bridge_stands_where_the_neighbours_edge_turns_round() -> None:
    """Its middle there would lie aside of the middle of the neighbour's path, as it would on a site of its own."""
    long = shaped(rectangle(160, 40))
    # A rectangle of 70 x 40 mm with corners of 6.35 mm: a smaller one grown by that.
    rounded = shaped(offset(Transform(x=6.35, y=6.35).contour(rectangle(70 - 12.7, 40 - 12.7)), 6.35)[0])
    board = cut(layout_of((long, Transform(x=20, y=20)), (rounded, Transform(x=45, y=68)), width=140))
    shared = [site for site in look_at(board).sites if site.joins in ((0, 1), (1, 0))]
    assert shared
    for site in shared:
        x, _ = site.ends[site.joins.index(1)]
        assert 45 + 6.35 + 2.0 <= x <= 45 + 70 - 6.35 - 2.0
