"""Handles: a point that is dragged is where it is dragged to, for every design, on a part and on the whole piece."""

from __future__ import annotations

import math
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import pytest

from cutjob.designs.built_in.graded_base import Edges, piece_region
from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_files
from cutjob.files.source import read_source
from cutjob.job.job import Job
from cutjob.live.hand import HandDrawing, built, hand_drawings
from cutjob.live.lines import design_of
from cutjob.output.picture.finished import frame_of, front_box, front_drawing, svg_of
from cutjob.parts.part import ShapedPart
from cutjob.resolved import order_of
from cutjob.units import RULE, TAPE

SAMPLES = shipped_files("samples")
FAR = 0.4  # mm that a handle is dragged
ROUNDED = {
    ("porch-rods", "longest"), ("tide-fan", "slat_width"), ("tide-fan", "gap"), ("wind-laths", "longest"),
    ("wind-laths", "shortest"),
}  # fmt: skip


def drawings(job: Job, index: int) -> tuple[HandDrawing, ...]:
    make = job.file.make[index]
    design = design_of(job.source, ("make", index), folder=job.path.parent)
    assert design is not None
    item = built(make, job)
    return hand_drawings(make, item, design, path=("make", index), job=job, whole=front_drawing(item.build))


def nearest(part: ShapedPart, place: tuple[float, float]) -> float:
    """How far the nearest corner, edge or hole of a part is from a place, mm."""
    loops = [*part.region.contours, *(one for pocket in part.pockets for one in pocket.region.contours)]
    far = [math.dist(at, place) for loop in loops for at in loop.points(0.002)]
    x0, y0, x1, y1 = part.region.bounds
    far += [abs(place[0] - x0), abs(place[0] - x1), abs(place[1] - y0), abs(place[1] - y1)]
    far += [abs(math.dist(hole.at, place) - hole.diameter / 2) for hole in part.holes]
    return min(far)


def beside(box: tuple[float, float, float, float], place: tuple[float, float]) -> float:
    """How far a place is from the middle of the nearest side of a box, mm."""
    x0, y0, x1, y1 = box
    middle, level = (x0 + x1) / 2, (y0 + y1) / 2
    return min(math.dist(place, at) for at in ((x0, level), (x1, level), (middle, y0), (middle, y1)))


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_a_dragged_point_follows(name: str) -> None:
    """The parameter is set as the page sets it; the part then has a corner or an edge where the pointer is.

    0.05 mm: outlines along battens are fits, and a ratio moves a point along a curve.
    """
    path = SAMPLES[name]
    job, _ = order_of(read_source(path), path)
    seen = 0
    for index, make in enumerate(job.file.make):
        for drawing in drawings(job, index):
            for handle in drawing.handles:
                # Where lengths are rounded, only a step of the tape is sure to show.
                drag = FAR if (name, handle.name) not in ROUNDED else TAPE[job.file.units] / handle.per
                value = handle.value + drag * handle.per
                raw: object = value if handle.step == 0.01 else f"{value} mm"
                changed = make.model_copy(update={"changes": {**make.changes, handle.name: raw}})
                try:
                    item = built(changed, job)
                except InputError:
                    continue  # at its limit this way
                place = (handle.at[0] + drag * handle.way[0], handle.at[1] + drag * handle.way[1])
                if drawing.whole:
                    far = min(beside(front_box(stand), place) for stand in item.build.stands)
                else:
                    far = nearest(next(one for one in item.build.shaped if one.name == drawing.part), place)
                rounded = RULE[job.file.units] / handle.per if (name, handle.name) in ROUNDED else 0.0
                assert far < 0.05 + rounded, (make.name, drawing.part, handle)
                seen += 1
    assert seen


def test_the_pins_stand_on_the_edges_of_the_piece() -> None:
    """A batten passes through its pins: the drawing's pins are on the outline that the design builds."""
    path = SAMPLES["porch-spinner"]
    job, _ = order_of(read_source(path), path)
    piece = drawings(job, 0)[0]
    top = next(one for one in piece.pins if one.name == "top")
    region = piece_region(
        Edges(bottom=piece.pins[0].pins, top=top.pins), length=2 * top.half, height=top.height, deviation=0.002
    )
    from shapely import Point

    from cutjob.geometry.polygons import to_polygon

    edge = to_polygon(region).exterior
    for pins in piece.pins:
        for along, up in pins.pins:
            for side in (-1, 1):
                assert edge.distance(Point(side * along * pins.half, up * pins.height)) < 0.01


def test_the_pins_of_lengths_stand_at_the_ends_of_the_rods() -> None:
    """Lengths along a strip: the pins at the ends are where the lowest and the highest rod end, on the whole piece."""
    path = SAMPLES["porch-rods"]
    job, items = order_of(read_source(path), path)
    *parts, whole = drawings(job, 0)
    assert whole.whole
    assert not any(part.pins for part in parts)
    (curve,) = whole.pins
    rods = {rod.name for rod in items[0].build.rods}
    boxes = [front_box(stand) for stand in items[0].build.stands if stand.part in rods]
    lying = sorted((box for box in boxes if box[2] - box[0] > box[3] - box[1]), key=lambda box: box[1])
    for (along, share), box in ((curve.pins[0], lying[0]), (curve.pins[-1], lying[-1])):
        place = (share * curve.half, curve.foot + along * curve.height)
        assert math.dist(place, (box[2], (box[1] + box[3]) / 2)) < 0.4  # mm: lengths go in 1/32 in


def test_the_whole_piece_is_framed_as_its_picture() -> None:
    """A place of the piece is where the picture shows it: the lower left of the box, in the units of its frame."""
    path = SAMPLES["porch-spinner"]
    _, items = order_of(read_source(path), path)
    front = front_drawing(items[0].build)
    assert front is not None
    left, bottom, width, height = frame_of(front)
    box = ElementTree.fromstring(svg_of(front, title="spinner")).get("viewBox")
    assert box is not None
    assert [float(one) for one in box.split()] == pytest.approx([0, 0, width, height], abs=0.01)
    x0, y0, x1, y1 = front.box
    assert left + x0 == pytest.approx(width - (left + x1))
    assert bottom - y1 == pytest.approx(height - (bottom - y0))


def test_handles_of_the_whole_do_not_cover_each_other() -> None:
    for name in ("porch-spinner", "wind-laths", "porch-rods"):
        path = SAMPLES[name]
        job, _ = order_of(read_source(path), path)
        for index in range(len(job.file.make)):
            for one in drawings(job, index):
                if one.whole:
                    assert all(math.dist(a.at, b.at) > one.text / 2 for a, b in combinations(one.handles, 2))


def test_every_kind_of_handle_is_found() -> None:
    """A star's points, a rod's ring of sockets, a foot's place."""
    expected = {
        "gate-stars": {"outer", "ratio"}, "pot-stand": {"feet_in", "length"},
        "porch-rods": {"base", "socket_ring", "longest", "bead"},
        "porch-spinner": {"longest", "tallest", "topper_diameter"}, "garden-batch": {"diameter", "hole", "bore"},
    }  # fmt: skip
    for name, wanted in expected.items():
        path = SAMPLES[name]
        job, _ = order_of(read_source(path), path)
        found = {h.name for index in range(len(job.file.make)) for one in drawings(job, index) for h in one.handles}
        assert wanted <= found, name


def test_a_search_for_handles_can_be_left() -> None:
    from cutjob.stages import StoppedError

    path = SAMPLES["porch-spinner"]
    job, (item,) = order_of(read_source(path), path)
    design = design_of(job.source, ("make", 0), folder=Path(path).parent)
    assert design is not None
    with pytest.raises(StoppedError):
        hand_drawings(job.file.make[0], item, design, path=("make", 0), job=job, stop=lambda: True)
