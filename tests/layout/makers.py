"""Parts, boards and items for the layout tests, and strategies for random ones. Lengths mm."""

from __future__ import annotations

import math
from dataclasses import replace

from hypothesis import strategies as st

from cutjob.geometry.contour import Contour, Region, circle, polyline, rectangle
from cutjob.geometry.segment import Arc, Line
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board, KeepOut
from cutjob.parts.part import Build, Item, SawnPart, ShapedPart

INCH = 25.4


def kept_out(areas, *, heights=(), whys=()):
    """Keep-outs of these areas; those without a height lie flat, those without a why say nothing."""
    rest = len(areas)
    return tuple(
        KeepOut(area, height=height, why=why)
        for area, height, why in zip(areas, (*heights, *[0.0] * rest), (*whys, *[None] * rest), strict=False)
    )


def areas_of(board):
    """The areas of a board's keep-outs."""
    return tuple(one.area for one in board.keep_outs)


def board(length: float = 600.0, width: float = 140.0, *, count: int = 10, price: float = 3.4, **more: object) -> Board:
    made = Board(
        name="cedar picket",
        outline=rectangle(length, width),
        keep_outs=(),
        thickness=16.0,
        grain="length",
        material="softwood",
        count=count,
        price=price,
        square_end="left",
    )
    return replace(made, **more)  # type: ignore[arg-type]


def dog_eared(length: float, width: float, ear: float) -> Contour:
    return polyline(
        [(0, 0), (length - ear, 0), (length, ear), (length, width - ear), (length - ear, width), (0, width)]
    )


def wedge(length: float, width: float) -> Contour:
    return polyline([(0, 0), (length, 0), (length * 0.8, width), (0, width)])


def ell(length: float, width: float, arm: float) -> Contour:
    return polyline([(0, 0), (length, 0), (length, arm), (arm, arm), (arm, width), (0, width)])


def star(points: int, outer: float, inner: float) -> Contour:
    step = math.pi / points
    return polyline(
        [
            (radius * math.cos(step * i), radius * math.sin(step * i))
            for i in range(2 * points)
            for radius in [outer if i % 2 == 0 else inner]
        ]
    )


def slot(length: float, width: float) -> Contour:
    """A bar with round ends, `length` between their centres."""
    r = width / 2
    return Contour(
        (
            Line((0, -r), (length, -r)),
            Arc((length, -r), (length, r), (length, 0), False),
            Line((length, r), (0, r)),
            Arc((0, r), (0, -r), (0, 0), False),
        )
    )


def moon(radius: float) -> Contour:
    """A disc with a round bite: convex and concave arcs."""
    return Contour(
        (
            Arc((0, radius), (0, -radius), (0, 0), False),
            Arc((0, -radius), (0, radius), (radius * 0.8, 0), True),
        )
    )


def ring(outer: float, inner: float) -> Region:
    return Region(circle((0, 0), outer), (circle((0, 0), inner),))


def part(shape: Contour | Region, name: str = "slat", **more: object) -> ShapedPart:
    region = shape if isinstance(shape, Region) else Region(shape)
    return replace(ShapedPart(name=name, region=region), **more)  # type: ignore[arg-type]


def item(*parts: ShapedPart, count: int = 1, name: str = "porch trellis", sawn: tuple[SawnPart, ...] = ()) -> Item:
    return Item(name=name, design="demo", size="medium", count=count, build=Build(shaped=parts, sawn=sawn))


def _size(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda value: round(value, 3))


contours = st.one_of(
    st.builds(rectangle, _size(10, 120), _size(8, 60)),
    st.builds(lambda n, r, share: star(n, r, r * share), st.integers(3, 7), _size(15, 45), st.floats(0.25, 0.9)),
    st.builds(lambda a, share: ell(a, a * 0.8, a * share), _size(25, 80), st.floats(0.15, 0.6)),
    st.builds(lambda r: circle((r, 2 * r), r), _size(5, 40)),
    st.builds(slot, _size(10, 90), _size(8, 30)),
    st.builds(moon, _size(12, 40)),
)
with_holes = st.one_of(
    st.builds(lambda r, share: ring(r, r * share), _size(20, 45), st.floats(0.3, 0.85)),
    st.builds(
        lambda a, share: Region(
            rectangle(a, a), (Transform(x=a / 2, y=a / 2).contour(star(4, a * share, a * share / 2)),)
        ),
        _size(30, 90),
        st.floats(0.2, 0.45),
    ),
)
regions = st.one_of(contours.map(Region), contours.map(Region), with_holes)
outlines = st.one_of(
    st.builds(rectangle, _size(300, 700), _size(130, 180)),
    st.builds(dog_eared, _size(300, 700), _size(130, 180), _size(5, 40)),
    st.builds(wedge, _size(350, 700), _size(130, 180)),
    st.builds(lambda a: ell(a, a, a * 0.4), _size(330, 450)),
)


@st.composite
def parts(draw: st.DrawFn, *, most: int = 4) -> tuple[ShapedPart, ...]:
    made = draw(st.lists(regions, min_size=1, max_size=most))
    return tuple(
        ShapedPart(
            name=f"part {number}",
            region=region,
            grain=draw(st.sampled_from(["length", "none"])),
            may_mirror=draw(st.booleans()),
        )
        for number, region in enumerate(made)
    )


@st.composite
def boards(draw: st.DrawFn) -> Board:
    outline = draw(outlines)
    knots = draw(st.lists(st.tuples(st.floats(0.2, 0.9), st.floats(0.1, 0.9), _size(2, 20)), max_size=2))
    _, _, x1, y1 = outline.bounds
    return board(
        count=40,
        outline=outline,
        keep_outs=kept_out(tuple(circle((x1 * x, y1 * y), radius) for x, y, radius in knots)),
        grain=draw(st.sampled_from(["length", "none"])),
        square_end=None,
    )
