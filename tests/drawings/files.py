"""Drawings written for the readers' tests, and the reading of them."""

import itertools
import math

import ezdxf
from hypothesis import strategies as st

from cutjob.drawings.outlines import read_outlines
from cutjob.geometry.contour import Contour, closed
from cutjob.geometry.segment import Arc, arc_through_bulge

MM, INCH = 4, 1  # $INSUNITS (DXF reference)
ROUNDING = 1e-6  # mm or mm2 relative to sizes of some hundred: doubles through a few maps


def new_dxf(units=MM, version="R2010"):
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = units
    return document, document.modelspace()


def saved(document, tmp_path, name="drawing.dxf"):
    path = tmp_path / name
    document.saveas(path)
    return path


def svg(tmp_path, body, *, head='width="200mm" height="100mm" viewBox="0 0 200 100"', before="", name="drawing.svg"):
    path = tmp_path / name
    spaces = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    path.write_text(f"{before}<svg {spaces} {head}>{body}</svg>", encoding="utf-8")
    return path


def only(path, **options):
    """The single contour of a file."""
    drawing = read_outlines(path, **options)
    assert len(drawing.contours) == 1
    return drawing.contours[0].contour


def area(contour):
    return abs(contour.signed_area)


def areas(path, **options):
    return sorted(area(drawn.contour) for drawn in read_outlines(path, **options).contours)


def farthest(points, contour):
    """Greatest distance of points from a contour, measured without the package's own measuring."""
    return max(min(_away(point, segment) for segment in contour.segments) for point in points)


def _away(point, segment):
    ends = min(math.dist(point, segment.start), math.dist(point, segment.end))
    if isinstance(segment, Arc):
        turned = math.atan2(point[1] - segment.centre[1], point[0] - segment.centre[0]) - segment.start_angle
        turned = turned % math.tau if segment.sweep > 0 else -turned % math.tau
        inside = turned <= abs(segment.sweep)
        return abs(math.dist(point, segment.centre) - segment.radius) if inside else ends
    dx, dy = segment.end[0] - segment.start[0], segment.end[1] - segment.start[1]
    share = ((point[0] - segment.start[0]) * dx + (point[1] - segment.start[1]) * dy) / (dx * dx + dy * dy)
    return math.dist(point, segment.point_at(share)) if 0 <= share <= 1 else ends


def samples(contour, count=7):
    return [segment.point_at(i / count) for segment in contour.segments for i in range(count)]


@st.composite
def outlines(draw):
    """Vertices with bulges of a star-shaped outline that does not cross itself: (x, y, bulge), counter-clockwise."""
    count = draw(st.integers(3, 9))
    offset = draw(st.floats(0, 6))
    x, y = draw(st.floats(-200, 200)), draw(st.floats(-200, 200))
    vertices = []
    for index in range(count):
        angle = offset + index * math.tau / count
        radius = draw(st.floats(30, 40))
        # Little enough bulge that arcs stay within their share of the turn.
        bulge = draw(st.sampled_from([0.0, 0.0, 0.1, -0.1, 0.2, -0.15]))
        vertices.append((x + radius * math.cos(angle), y + radius * math.sin(angle), bulge))
    return vertices


def contour_of(vertices) -> Contour:
    ends = vertices[1:] + vertices[:1]
    return closed(arc_through_bulge(a[:2], b[:2], a[2]) for a, b in zip(vertices, ends, strict=True))


def add_loose(space, contour, order, turned):
    """Add the contour's segments as single lines and arcs, in the given order, some run the other way."""
    for index in order:
        segment = contour.segments[index]
        if turned[index]:
            segment = segment.reversed()
        if isinstance(segment, Arc):
            # An ARC always runs counter-clockwise.
            run = segment.reversed() if segment.clockwise else segment
            first = math.degrees(run.start_angle)
            space.add_arc(run.centre, run.radius, first, first + math.degrees(run.sweep))
        else:
            space.add_line(segment.start, segment.end)


def ring(points):
    return list(itertools.pairwise([*points, points[0]]))
