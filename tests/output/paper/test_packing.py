import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity

from cutjob.job.paper import papers
from cutjob.output.paper.packing import CELL, INSET, MARGIN, OVERLAP, crosses, pack, tile_name, tiling

A4 = tiling(papers()["A4"])
# Paper left between two shapes: the search works on cells, see `_turned`.
LEAST_GAP = 1.5


def placed(shapes, sheet):
    moved = []
    for index, move in sheet.placed:
        turned = affinity.rotate(shapes[index], move.degrees, origin=(0, 0))
        moved.append(affinity.translate(turned, move.x, move.y))
    return moved


def check(shapes, sheets, layout=A4):
    """Every shape once, apart from others, seen in full on the pages that are printed; small ones whole on one."""
    assert sorted(index for sheet in sheets for index, _ in sheet.placed) == list(range(len(shapes)))
    for sheet in sheets:
        moved = placed(shapes, sheet)
        windows = [shapely.box(*layout.box(tile)) for tile in sheet.tiles]
        seen = shapely.union_all([shapely.box(*layout.own(tile, sheet.size)) for tile in sheet.tiles])
        for shape in moved:
            assert shape.difference(seen.buffer(1e-6)).area < 1.0
            if one_page(shape, layout):
                assert any(window.buffer(1e-6).covers(shape) for window in windows)
        for one, other in itertools.combinations(moved, 2):
            assert one.distance(other) >= LEAST_GAP


def one_page(shape, layout):
    x0, y0, x1, y1 = shape.bounds
    across, up = layout.room((1, 1))
    return (x1 - x0 <= across and y1 - y0 <= up) or (y1 - y0 <= across and x1 - x0 <= up)


def pages(sheets):
    return sum(len(sheet.tiles) for sheet in sheets)


def test_the_window_leaves_the_margins():
    for paper in papers().values():
        layout = tiling(paper)
        assert layout.corner[0] >= MARGIN
        assert layout.corner[0] + layout.window[0] <= paper.width - MARGIN + 1e-9
        assert layout.corner[1] + layout.window[1] <= paper.height - MARGIN + 1e-9
        assert all(step % CELL == 0 for step in layout.step)


@settings(max_examples=50)
@given(width=st.floats(1, 3000), height=st.floats(1, 3000))
def test_as_many_columns_as_needed_and_no_more(width, height):
    size = A4.size_for(width, height)
    for axis, length in ((0, width), (1, height)):
        assert A4.room(size)[axis] >= length - 1e-6
        fewer = (size[0] - (axis == 0), size[1] - (axis == 1))
        assert size[axis] == 1 or A4.room(fewer)[axis] < length


def test_neighbours_share_a_strip_and_their_crosses():
    tiles = {(0, 0), (1, 0), (0, 1)}
    left, right = A4.box((0, 0)), A4.box((1, 0))
    assert left[2] - right[0] == OVERLAP
    at = {tile: set(crosses(tiles, tile, A4)) for tile in tiles}
    assert at[(1, 0)] < at[(0, 0)]
    assert at[(0, 1)] < at[(0, 0)]
    assert len(at[(0, 0)]) == 4
    # Each lies in the windows of both.
    for x, y in at[(1, 0)]:
        assert x == right[0]
        assert left[1] <= y <= left[3]


def test_tiles_are_lettered():
    size = (30, 3)
    tiles = ((0, 2), (1, 2), (0, 0), (26, 0), (27, 1))
    assert [tile_name(tile, size) for tile in tiles] == ["A1", "B1", "A3", "AA3", "AB2"]


@pytest.mark.parametrize(
    ("shapes", "fewest"),
    [
        # Room on a page: 186 x 248 mm. Two by two of these go on one.
        ([shapely.box(0, 0, 90, 120)] * 12, 3),
        ([shapely.Point(0, 0).buffer(45, quad_segs=32)] * 8, 2),
        ([shapely.box(0, 0, 40, 40)] * 20, 1),
        # As long as the page is slanting, and narrow: still one page.
        ([shapely.box(0, 0, 285, 20)], 1),
        ([shapely.box(0, 0, 419, 50)], 2),
        # Three side by side on the same two pages.
        ([shapely.box(0, 0, 419, 50)] * 3, 2),
        ([shapely.box(0, 0, 419, 50)] * 6, 4),
        # What is left of two pages takes the small ones.
        ([shapely.box(0, 0, 419, 50), *[shapely.box(0, 0, 50, 50)] * 6], 2),
        # As large as a page allows, to the last tenth.
        ([shapely.box(0, 0, 186, 248)], 1),
        ([shapely.box(0, 0, 187, 249)], 2),
    ],
)
def test_few_pages(shapes, fewest):
    sheets = pack(shapes, A4)
    check(shapes, sheets)
    assert pages(sheets) == fewest


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.floats(5, 500), st.floats(5, 120), st.floats(0.2, 1)), min_size=1, max_size=8))
def test_any_shapes_lie_apart_and_are_seen(sizes):
    shapes = [Polygon([(0, 0), (length, 0), (length * share, width)]) for length, width, share in sizes]
    sheets = pack(shapes, A4)
    check(shapes, sheets)
    area = sum(shape.area for shape in shapes)
    assert pages(sheets) >= math.ceil(area / (A4.window[0] * A4.window[1]))


def test_the_same_shapes_give_the_same_sheets():
    shapes = [shapely.box(0, 0, 20 + 7 * number % 90, 15 + 11 * number % 60) for number in range(20)]
    assert pack(shapes, A4) == pack(shapes, A4)


def test_three_hundred_small_shapes():
    shapes = [shapely.box(0, 0, 35 + number % 9, 25 + number % 7) for number in range(300)]
    sheets = pack(shapes, A4)
    assert sorted(index for sheet in sheets for index, _ in sheet.placed) == list(range(300))
    used = sum(shape.area for shape in shapes) / (len(sheets) * np.prod(A4.room((1, 1))))
    assert used > 0.6


def test_shapes_keep_to_the_inset():
    (sheet,) = pack([shapely.box(0, 0, 30, 30)], A4)
    (moved,) = placed([shapely.box(0, 0, 30, 30)], sheet)
    assert moved.bounds[:2] == pytest.approx((INSET, INSET))
