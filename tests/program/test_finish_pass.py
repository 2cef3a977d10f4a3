"""Rough passes a little off the part, then one pass at full depth on the final path."""

from __future__ import annotations

import pytest
import shapely

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.geometry.contour import Contour, circle, rectangle
from cutjob.geometry.transform import Transform
from cutjob.parts.relief import Way, relieved
from cutjob.program.moves import Step
from cutjob.program.program import programs_of
from tests.cuts.makers import alone, layout_of, router, shaped
from tests.program.makers import segments_of

FINISH = 0.4


def outline_step(contour: Contour, *holes: Contour, op: str = "outside cut") -> tuple[Step, shapely.Polygon]:
    machine = router(cutting={"finish": FINISH})
    layout = layout_of((shaped(contour, *holes), Transform(x=40, y=40)), thickness=12.0)
    (board,), _ = cut_layouts([layout], cutters=alone(), machine=machine, gap=8.0, units="mm", locations={})
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
    step, part = outline_step(rectangle(120, 60))
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
