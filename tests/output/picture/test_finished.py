from __future__ import annotations

import re
from itertools import combinations, pairwise
from xml.etree import ElementTree

import pytest

from cutjob.geometry.contour import Region, polyline, rectangle
from cutjob.geometry.segment import Line
from cutjob.output.picture.finished import _side_by_side, fanned_view, front_view, item_size
from cutjob.parts.part import Build, Mark, Pocket, ShapedPart
from tests.reports.sheet.jobs import hostile, sample

TENTH = 0.1  # mm; the picture's chords lie this near to the outline


def _build(name: str) -> Build:
    return sample(name).items[0].build


def test_a_stack_stands_as_high_as_its_measures_say() -> None:
    build = _build("porch-spinner")
    facts = dict(build.facts)
    size = item_size(build)
    assert size is not None
    longest = max(part.region.outline.bounds[2] - part.region.outline.bounds[0] for part in build.shaped)
    assert size[0] == pytest.approx(longest, abs=TENTH)
    topper = next(stand for stand in build.stands if stand.part == "topper")
    _, y0, _, y1 = topper.outline.outline.bounds
    assert size[1] == pytest.approx(topper.foot + y1, abs=TENTH)
    # The rod's end is a socket deep in the topper, which is drawn round it.
    assert topper.foot + y0 < facts["rod length"] < topper.foot + y1


def test_gaps_between_standing_pieces_are_equal_along_the_rod() -> None:
    build = _build("porch-spinner")
    pieces = [stand for stand in build.stands if stand.turns]
    depths = {hole.part: hole.depth for hole in build.hand_holes}
    feet = [stand.foot + _bottom_at_centre(stand.outline.outline.points(0.01)) for stand in pieces]
    gaps = [
        after - before - (depths[stand.part] or 0.0)
        for stand, before, after in zip(pieces, feet, feet[1:], strict=False)
    ]
    assert max(gaps) - min(gaps) < TENTH
    heights = sum(depths[stand.part] or 0.0 for stand in pieces)
    assert dict(build.facts)["stand height"] == pytest.approx(heights + sum(gaps), abs=len(gaps) * TENTH)


def _bottom_at_centre(points: list[tuple[float, float]]) -> float:
    crossing = [
        ya + (yb - ya) * (0 - xa) / (xb - xa)
        for (xa, ya), (xb, yb) in zip(points, points[1:] + points[:1], strict=True)
        if (xa <= 0) != (xb <= 0)
    ]
    return min(crossing)


def test_pictures_are_svg_with_a_shape_for_every_part() -> None:
    build = _build("porch-spinner")
    front, fanned = front_view(build, title="a <spinner>"), fanned_view(build, title="fanned")
    assert front is not None
    assert fanned is not None
    name = "{http://www.w3.org/2000/svg}"
    root = ElementTree.fromstring(front)
    assert root.findtext(f"{name}title") == "a <spinner>"
    assert len(_areas(root)) == len(build.stands)
    # Sides and face of every part but the rod, which is round and looks alike.
    assert len(_areas(ElementTree.fromstring(fanned))) == 2 * (len(build.stands) - 1) + 1


def _areas(root: ElementTree.Element) -> list[ElementTree.Element]:
    return [one for one in root.iter() if one.tag.endswith("path") and one.get("fill") != "none"]


def test_an_item_that_does_not_say_how_it_stands_shows_its_parts() -> None:
    build = hostile().items[0].build
    assert build.stands == ()
    assert front_view(build, title="round") is not None
    assert fanned_view(build, title="round") is None
    assert item_size(build) is None
    assert front_view(Build(), title="nothing") is None


def test_parts_side_by_side_come_in_rows_and_do_not_overlap() -> None:
    """Twelve slats of 300 x 20 mm: in one row they would be 3.6 m by 20 mm."""
    slats = tuple(ShapedPart(name=f"slat {n}", region=Region(rectangle(300.0, 20.0))) for n in range(12))
    svg = front_view(Build(shaped=slats), title="slats")
    assert svg is not None
    _, _, width, height = map(float, re.search(r'viewBox="([^"]*)"', svg)[1].split())
    assert 0.2 < height / width < 2
    shapes = [shape.area for shape in _side_by_side(slats)]
    assert len(shapes) == 12
    assert all(not a.buffer(1.0).intersects(b) for a, b in combinations(shapes, 2))


def _marks(svg: str | None) -> list[str]:
    assert svg is not None
    return [one.get("d") or "" for one in ElementTree.fromstring(svg).iter() if one.get("class") == "mark"]


def test_marks_show_on_pieces_that_stand_and_on_parts_side_by_side() -> None:
    """The spinner's pieces and topper carry a centre mark each; a lone slat one of two strokes."""
    build = _build("porch-spinner")
    wanted = sum(len(part.marks) for part in build.shaped)
    assert wanted > 5
    assert len(_marks(front_view(build, title="front"))) == wanted
    assert len(_marks(fanned_view(build, title="fanned"))) == wanted
    corner = (Line((10.0, 5.0), (20.0, 5.0)), Line((20.0, 5.0), (20.0, 15.0)))
    slat = ShapedPart(name="slat", region=Region(rectangle(300.0, 20.0)), marks=(Mark(path=corner),))
    [way] = _marks(front_view(Build(shaped=(slat,)), title="slat"))
    places = [tuple(map(float, place.split())) for place in way[1:].split(" L")]
    steps = [(x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in pairwise(places)]
    assert steps == [pytest.approx((10.0, 0.0), abs=TENTH), pytest.approx((0.0, -10.0), abs=TENTH)]


def test_the_floor_of_a_pocket_shows_within_its_part() -> None:
    over = Pocket(region=Region(polyline([(50, -5), (60, -5), (60, 25), (50, 25)])), depth=4.0)
    slat = ShapedPart(name="slat", region=Region(rectangle(300.0, 20.0)), pockets=(over,))
    wood, floor = (shape.area for shape in _side_by_side([slat]))
    assert floor.area == pytest.approx(200.0)
    assert wood.covers(floor)
