"""Handles: a point that is dragged is where it is dragged to, for every design."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from cutjob.designs.built_in.graded_base import Edges, piece_region
from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_files
from cutjob.files.source import read_source
from cutjob.job.job import Job
from cutjob.live.hand import HandDrawing, built, hand_drawings
from cutjob.live.lines import design_of
from cutjob.parts.part import ShapedPart
from cutjob.resolved import order_of

SAMPLES = shipped_files("samples")
FAR = 0.4  # mm that a handle is dragged


def drawings(job: Job, index: int) -> tuple[HandDrawing, ...]:
    make = job.file.make[index]
    design = design_of(job.source, ("make", index), folder=job.path.parent)
    assert design is not None
    return hand_drawings(make, built(make, job), design, path=("make", index), job=job)


def nearest(part: ShapedPart, place: tuple[float, float]) -> float:
    """How far the nearest corner, edge or hole of a part is from a place, mm."""
    loops = [*part.region.contours, *(one for pocket in part.pockets for one in pocket.region.contours)]
    far = [math.dist(at, place) for loop in loops for at in loop.points(0.002)]
    x0, y0, x1, y1 = part.region.bounds
    far += [abs(place[0] - x0), abs(place[0] - x1), abs(place[1] - y0), abs(place[1] - y1)]
    far += [abs(math.dist(hole.at, place) - hole.diameter / 2) for hole in part.holes]
    return min(far)


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
                value = handle.value + FAR * handle.per
                raw: object = value if handle.step == 0.01 else f"{value} mm"
                changed = make.model_copy(update={"changes": {**make.changes, handle.name: raw}})
                try:
                    item = built(changed, job)
                except InputError:
                    continue  # at its limit this way
                part = next(one for one in item.build.shaped if one.name == drawing.part)
                place = (handle.at[0] + FAR * handle.way[0], handle.at[1] + FAR * handle.way[1])
                assert nearest(part, place) < 0.05, (make.name, drawing.part, handle)
                seen += 1
    assert seen or name in ("wind-laths", "tide-fan")  # whose lengths go in steps of a rule


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


def test_every_kind_of_handle_is_found() -> None:
    """A star's points, a rod's ring of sockets, a foot's place."""
    expected = {
        "gate-stars": {"outer", "ratio"}, "porch-rods": {"base", "socket_ring"}, "pot-stand": {"feet_in", "length"},
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
