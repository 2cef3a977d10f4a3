"""Parts and layouts for the tests of patterns."""

from __future__ import annotations

from dataclasses import replace

from cutjob.geometry.contour import Region, circle, polyline, rectangle
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.job.model import BoardStock
from cutjob.job.paper import PatternsWanted
from cutjob.job.read_machine import read_machine
from cutjob.job.stock import board_of
from cutjob.layout.layout import BoardLayout, Layout, Placement
from cutjob.output.paper.book import write_patterns
from cutjob.parts.part import Build, Hole, Item, ShapedPart


def disc(diameter=100.0, name="disc", *, bore=8.0):
    holes = (Hole(at=(0.0, 0.0), diameter=bore),) if bore else ()
    return ShapedPart(name=name, region=Region(circle((0.0, 0.0), diameter / 2)), holes=holes)


def plank(length, width, name="plank", **changes):
    return ShapedPart(name=name, region=Region(rectangle(length, width)), **changes)


def wedge(length=300.0, low=20.0, high=60.0, name="wedge"):
    """A part that is its own mirror image at no line."""
    return ShapedPart(name=name, region=Region(polyline([(0, 0), (length, 0), (length, high), (0, low)])))


def item(*parts, name="porch set", count=1, **changes):
    return Item(name=name, design="own", size="medium", count=count, build=Build(shaped=parts, **changes))


def layout_of(items, *, stack=1, copies=1, board=None, places=None):
    """All parts of the items once on one board; `places` are their transforms, by default wide apart."""
    stock = {"name": "sheet", "length": 20000, "width": 4000, "thickness": 16, "count": 50}
    placements = tuple(
        Placement(part=part, item=one.name, unit=1, transform=Transform(x=500.0 * number, y=500.0))
        for number, (one, part) in enumerate((one, part) for one in items for part in one.build.shaped)
    )
    if places is not None:
        placements = tuple(replace(one, transform=move) for one, move in zip(placements, places, strict=True))
    made = board or board_of(BoardStock.model_validate(stock))
    board_layout = BoardLayout(id="board-01", board=made, placements=placements, stack=stack, copies=copies)
    return Layout(boards=(board_layout,), gap=5.0, edge_margin=3.0, seed=0)


def bandsaw() -> Machine:
    return read_machine("bandsaw", beside=None)


def book_of(items, *, paper="A4", units="mm", title="Spring market", layout=None, **wanted) -> bytes:
    return write_patterns(
        layout or layout_of(items),
        items=items,
        wanted=PatternsWanted(**wanted),
        paper=paper,
        machine=bandsaw(),
        title=title,
        units=units,
    ).data
