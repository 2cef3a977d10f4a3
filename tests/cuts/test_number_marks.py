"""Numbers cut on parts or beside them: within free wood, readable, upright, and told where there is no room."""

from __future__ import annotations

from dataclasses import replace

import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.numbers import number_lettering
from cutjob.geometry.contour import Region, rectangle
from cutjob.geometry.segment import Line
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Lettering, Window
from cutjob.parts.part import Hole, Mark, Pocket, ShapedPart
from tests.cuts.makers import layout_of, shaped

WIDTH = 3.0
SIZES = st.lists(st.tuples(st.floats(12, 90), st.floats(12, 60)), min_size=1, max_size=5)


def lettered(layout: BoardLayout, where: str, height: float = 12.0) -> tuple[tuple[Lettering, ...], tuple[int, ...]]:
    return number_lettering(
        layout, where=where, height=height, least_height=6.0, depth=0.5, line_width=WIDTH, slot=6.35  # type: ignore[arg-type]
    )  # fmt: skip


def cut(lettering: Lettering) -> shapely.Geometry:
    """The wood the strokes take, from above."""
    return shapely.union_all([
        shapely.LineString([path[0].start, *(segment.end for segment in path)]).buffer(WIDTH / 2)
        for path in lettering.paths
    ])  # fmt: skip


def row(sizes: list[tuple[float, float]]) -> BoardLayout:
    places, x = [], 5.0
    for length, width in sizes:
        places.append((shaped(rectangle(length, width)), Transform(x=x, y=12.0)))
        x += length + 12.0
    return layout_of(*places, length=x + 40, width=110.0)


@given(SIZES)
@settings(max_examples=30, deadline=None)
def test_on_the_part_and_nowhere_else(sizes: list[tuple[float, float]]) -> None:
    layout = row(sizes)
    found, without = lettered(layout, "part")
    assert sorted([one.placement for one in found] + list(without)) == list(range(len(sizes)))
    for one in found:
        assert layout.placements[one.placement].polygon.buffer(-0.99).covers(cut(one))
    for index in without:
        assert min(sizes[index]) < 6.0 + WIDTH + 2.0 + 2.5


@given(SIZES)
@settings(max_examples=30, deadline=None)
def test_in_the_waste_beside_the_part(sizes: list[tuple[float, float]]) -> None:
    layout = row(sizes)
    found, _ = lettered(layout, "waste", 8.0)
    board = shapely.box(0, 0, layout.board.length, layout.board.width)
    for one in found:
        wood = cut(one)
        assert board.covers(wood)
        for placement in layout.placements:
            assert placement.polygon.distance(wood) >= 6.35
    areas = [cut(one) for one in found]
    for i, one in enumerate(areas):
        assert all(one.distance(other) > 0 for other in areas[:i])


def busy() -> ShapedPart:
    floor = Pocket(region=Region(Transform(x=5, y=5).contour(rectangle(50, 50))), depth=4.0)
    holes = (Hole(at=(75, 15), diameter=20),)
    marks = (Mark(path=(Line((65, 40), (115, 40)),)),)
    return shaped(rectangle(120, 60), holes=holes, pockets=(floor,), marks=marks)


def test_two_numbers_in_the_waste_do_not_run_together() -> None:
    """Two parts over each other, their numbers in one corner: a 1 next to a 2 would be read as 12."""
    parts = [(shaped(rectangle(60, 30)), Transform(x=5.0, y=y)) for y in (5.0, 61.0)]
    found, _ = lettered(layout_of(*parts, length=100.0, width=101.0), "waste")
    assert len(found) == 2
    one, two = (cut(lettering).envelope for lettering in found)
    assert one.distance(two) > 0.5 * 12.0


def test_clear_of_holes_pockets_and_marks() -> None:
    layout = layout_of((busy(), Transform(x=20, y=20)))
    (one,), without = lettered(layout, "part")
    assert without == ()
    wood = cut(one)
    assert wood.distance(shapely.Point(95, 35).buffer(10)) > 0.9
    assert wood.distance(shapely.box(25, 25, 75, 75)) > 0.9
    assert wood.distance(shapely.LineString([(85, 60), (135, 60)])) > WIDTH / 2


def test_small_parts_get_small_numbers_and_the_smallest_none() -> None:
    layout = layout_of(
        (shaped(rectangle(60, 13)), Transform(x=10, y=10)), (shaped(rectangle(60, 8)), Transform(x=10, y=60))
    )
    (one,), without = lettered(layout, "part")
    assert without == (1,)
    _, y0, _, y1 = shapely.union_all(
        [shapely.LineString([p.start for p in path] + [path[-1].end]) for path in one.paths]
    ).bounds
    assert 6.0 <= y1 - y0 < 12.0


def test_six_and_nine_are_told_apart() -> None:
    places = [(shaped(rectangle(30, 30)), Transform(x=10 + 40 * i, y=10)) for i in range(9)]
    found, _ = lettered(layout_of(*places, length=400, width=60), "part")
    strokes = [len(one.paths) for one in found]
    assert strokes[5] == 2  # the digit and its point
    assert strokes[8] == 2
    assert strokes[1] == 1


@given(SIZES)
@settings(max_examples=30, deadline=None)
def test_in_the_waste_of_the_parts_own_window(sizes: list[tuple[float, float]]) -> None:
    """Beyond its window the board does not lie on the bed while the number is cut."""
    layout = row(sizes)
    windows = tuple(
        Window(first=box[0] - 2.0, last=box[2] + 2.0, placements=(index,))
        for index, box in enumerate(placement.region.bounds for placement in layout.placements)
    )
    found, _ = lettered(replace(layout, windows=windows), "waste", 8.0)
    for one in found:
        low, _, high, _ = cut(one).buffer(-WIDTH / 2 + 0.01).bounds
        window = windows[one.placement]
        assert window.first - 0.02 <= low
        assert high <= window.last + 0.02
