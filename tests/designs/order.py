"""One line of an order for the tests, and what parts must be like in every test."""

import math
from pathlib import Path
from typing import Any

import pytest
from shapely import Point
from shapely.geometry.base import BaseGeometry

from cutjob.designs.catalogue import CATALOGUE
from cutjob.designs.evaluate import evaluate
from cutjob.errors import InputError, Location, Problem
from cutjob.geometry.contour import Region
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Arc, Segment
from cutjob.geometry.segment import Point as At
from cutjob.job.model import Make
from cutjob.parts.part import Item, ShapedPart

INCH = 25.4
PICKET = 5 / 8 * INCH
# Sums of a few floats of about 1000 mm, each with 16 digits.
EXACT = 1e-9


def item(design: str, *, size: str = "medium", unit: str = "in", thickness: float = PICKET, **rest: Any) -> Item:
    folder = rest.pop("folder", Path())
    designs = rest.pop("designs", CATALOGUE)
    kept = rest.pop("layout", {})  # edge margin and gap, mm
    make = Make.model_validate({"name": "reed spinner", "design": design, "size": size, "with": rest})
    return evaluate(
        make,
        unit=unit,
        location=Location(file="spring.toml", line=9),
        key_locations={key: Location(file="spring.toml", line=20 + at) for at, key in enumerate(rest)},
        folder=folder,
        thickness=thickness,
        designs=designs,
        **kept,
    )


def problems(design: str, **rest: Any) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        item(design, **rest)
    return caught.value.problems


def only_problem(design: str, **rest: Any) -> Problem:
    found = problems(design, **rest)
    assert len(found) == 1, [str(problem) for problem in found]
    return found[0]


def wood(part: ShapedPart) -> BaseGeometry:
    """The part as a polygon, its holes not taken out."""
    return to_polygon(part.region)


def assert_sound(part: ShapedPart) -> None:
    """The outline is a polygon with area, and every hole lies in it with wood all round."""
    polygon = wood(part)
    assert polygon.is_valid
    assert polygon.area > 1
    assert part.region.outline.signed_area > 0
    for hole in part.holes:
        assert polygon.contains(Point(hole.at).buffer(hole.diameter / 2))


def off_outline(region: Region, point: At) -> float:
    """How far a point lies from the outline, exactly, from the lines and arcs themselves."""
    return min(_off(segment, point) for segment in region.outline.segments)


def _off(segment: Segment, point: At) -> float:
    ends = min(math.dist(point, segment.start), math.dist(point, segment.end))
    if isinstance(segment, Arc):
        angle = math.atan2(point[1] - segment.centre[1], point[0] - segment.centre[0])
        turn = (angle - segment.start_angle) * (-1 if segment.clockwise else 1) % (2 * math.pi)
        within = turn <= abs(segment.sweep)
        return abs(math.dist(point, segment.centre) - segment.radius) if within else ends
    (x0, y0), (x1, y1) = segment.start, segment.end
    share = ((point[0] - x0) * (x1 - x0) + (point[1] - y0) * (y1 - y0)) / segment.length**2
    return math.dist(point, segment.point_at(share)) if 0 <= share <= 1 else ends
