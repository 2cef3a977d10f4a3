"""Rough passes a little off the part, then one pass at full depth on the final path."""

from __future__ import annotations

import math

import pytest
import shapely

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.geometry.contour import Contour, circle, rectangle
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import distance
from cutjob.geometry.transform import Transform
from cutjob.parts.relief import Way, relieved
from cutjob.program.moves import Step
from cutjob.program.pocket_steps import on_rough
from cutjob.program.program import programs_of
from tests.cuts.makers import alone, layout_of, router, shaped, tabbed_board
from tests.program.makers import segments_of

FINISH = 0.4


def outline_step(
    contour: Contour, *holes: Contour, op: str = "outside cut", tabs: tuple[tuple[float, float], ...] = ()
) -> tuple[Step, shapely.Polygon]:
    machine = router(cutting={"finish": FINISH})
    layout = layout_of((shaped(contour, *holes), Transform(x=40, y=40)), thickness=12.0)
    (board,), _ = cut_layouts([layout], cutters=alone(), machine=machine, gap=8.0, locations={})
    board = tabbed_board(board, {0: tabs}, height=3.0) if tabs else board
    (program,) = programs_of(board, machine=machine)
    (step,) = [step for step in program.steps if step.op == op]
    return step, layout.placements[0].polygon


@pytest.mark.parametrize(
    ("contour", "holes", "op"),
    [
        (rectangle(120, 60), (), "outside cut"),
        (circle((40, 40), 40), (), "outside cut"),
        (rectangle(120, 90), (Transform(x=20, y=20).contour(rectangle(80, 50)).reversed(),), "inside cut"),
    ],
)
def test_one_round_at_full_depth(contour: Contour, holes: tuple[Contour, ...], op: str) -> None:
    step, part = outline_step(contour, *holes, op=op)
    final = 0.0
    edge = part.exterior if op == "outside cut" else part.interiors[0]
    for segment, z0, z1 in segments_of(step.moves, (step.moves[0].x, step.moves[0].y)):
        line = shapely.LineString([segment.start, *segment.chords(1e-4)])
        away = part.distance(line)
        assert away >= 3.0 - 0.003
        if max(z0, z1) < 0 and max(z0, z1) > -11.5:
            # Above the last half millimetre nothing comes nearer than the rough path but over tabs, at the end.
            assert away >= 3.0 + FINISH - 0.01 or max(z0, z1) == pytest.approx(-9.0)
        if away < 3.0 + 0.01 and line.length > 0.5 and min(z0, z1) <= -9.0 + 1e-6:
            final += line.length
    whole = edge.buffer(3.0).exterior.length if op == "outside cut" else edge.length - 8 * 3.0
    # The ways in and out and a millimetre more lie as near.
    assert whole - 0.5 <= final <= whole + 5.0
    assert min(move.z for move in step.moves) == pytest.approx(-12.3)


def test_all_its_wood_is_gone_but_the_tabs() -> None:
    step, part = outline_step(rectangle(120, 60), tabs=((100.0, 40.0), (100.0, 100.0)))
    deep = [
        shapely.LineString([segment.start, *segment.chords(1e-4)]).buffer(3.0, quad_segs=64)
        for segment, z0, z1 in segments_of(step.moves, (step.moves[0].x, step.moves[0].y))
        if max(z0, z1) <= -12.0
    ]
    left = part.exterior.difference(shapely.union_all(deep).buffer(0.005))
    # Two tabs of 6 mm: along the part's own edge, which a round cutter only touches, as long as its path is lifted.
    assert left.length == pytest.approx(2 * (6.0 + 6.0), abs=1.0)


@pytest.mark.parametrize("way", ["side", "diagonal"])
@pytest.mark.parametrize("size", [(30, 40), (40, 30), (18, 44), (14, 36), (24, 24), (50, 16)])
def test_the_way_over_keeps_clear_of_a_reliefs_corner(size: tuple[float, float], way: Way) -> None:
    """In a mortise with reliefs the rough path does not go into them: there the last pass must not begin."""
    mortise = shaped(rectangle(120, 90), Transform(x=30, y=20).contour(rectangle(*size)).reversed())
    part = relieved(mortise, way=way, cutter_diameter=6.0).part
    step, wood = outline_step(part.region.outline, *part.region.holes, op="inside cut")
    for segment, z0, z1 in segments_of(step.moves, (step.moves[0].x, step.moves[0].y)):
        if min(z0, z1) < 0:
            assert wood.distance(shapely.LineString([segment.start, *segment.chords(1e-4)])) >= 3.0 - 0.005


def test_rough_passes_end_hardly_before_a_whole_bridge_and_beside_it() -> None:
    """Round a curve the stretch of the rough path is the longer one, by the ratio of their radii."""
    layout = layout_of((shaped(circle((0, 0), 60)), Transform(x=150, y=150)), thickness=12.0)
    (board,), _ = cut_layouts(
        [layout], cutters=alone(), machine=router(cutting={"finish": FINISH}), gap=8.0, locations={}
    )
    whole, low = (
        tabbed_board(board, {0: ((150.0, 210.0), (210.0, 150.0))}, height=height).parts[0].outline[0]
        for height in (12.0, 3.0)
    )
    ruler, final = Ruler(whole.rough.segments if whole.rough else ()), Ruler(whole.path.segments)
    for tab, beside in zip(whole.tabs, on_rough(whole, 12.0).tabs, strict=True):
        share = (60 + 3 + FINISH) / (60 + 3)
        assert beside.last - beside.first == pytest.approx((tab.last - tab.first) * share + 2 * 0.1, abs=1e-3)
        for end, other in ((tab.first, beside.first), (tab.last, beside.last)):
            assert distance(final.point(end), ruler.point(other)) == pytest.approx(math.hypot(FINISH, 0.1), abs=2e-3)
    for tab, beside in zip(low.tabs, on_rough(low, 12.0).tabs, strict=True):
        assert beside.last - beside.first == pytest.approx(tab.last - tab.first + 2 * 0.5)


@pytest.mark.parametrize("places", [((40.0, 60.0),), ((100.0, 40.0), (100.0, 100.0), (40.0, 60.0), (160.0, 60.0))])
def test_a_last_pass_leaves_whole_bridges_alone(places: tuple[tuple[float, float], ...]) -> None:
    machine = router(cutting={"finish": FINISH})
    layout = layout_of((shaped(rectangle(120, 60)), Transform(x=40, y=40)), thickness=12.0)
    (board,), _ = cut_layouts([layout], cutters=alone(), machine=machine, gap=8.0, locations={})
    (program,) = programs_of(tabbed_board(board, {0: places}, height=12.0), machine=machine)
    (step,) = program.steps
    swept = [
        shapely.LineString([segment.start, *segment.chords(1e-4)]).buffer(3.0, quad_segs=64)
        for segment, z0, z1 in segments_of(step.moves, (step.moves[0].x, step.moves[0].y))
        if min(z0, z1) < 0
    ]
    for x, y in places:
        wood = shapely.box(x - 2.99, y - 10, x + 2.99, y + 10) if y != 60 else shapely.box(x - 10, 57.01, x + 10, 62.99)
        assert wood.intersection(shapely.union_all(swept)).area < 0.05
    deep = [move for move in step.moves if move.z < -12.2]
    assert len(deep) > 8
