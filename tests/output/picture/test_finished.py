from __future__ import annotations

import math
import re
from itertools import combinations, pairwise, product
from xml.etree import ElementTree

import pytest
import shapely

from cutjob.geometry.contour import Region, polyline, rectangle
from cutjob.geometry.segment import Line
from cutjob.output.picture.finished import (
    Drawing,
    Looks,
    Views,
    _side_by_side,
    finished_picture,
    front_drawing,
    item_size,
    svg_of,
    turned_drawing,
)
from cutjob.output.picture.solids import Area, Pen
from cutjob.parts.finish import Coat, PartFinish
from cutjob.parts.part import Build, Mark, Pocket, ShapedPart, Stand
from tests.reports.sheet.jobs import hostile, sample

TENTH = 0.1  # mm; the picture's chords lie this near to the outline


def _front(build: Build, *, title: str) -> str | None:
    drawing = front_drawing(build)
    return None if drawing is None else svg_of(drawing, title=title)


def _turned(build: Build, *, title: str) -> str | None:
    drawing = turned_drawing(build)
    return None if drawing is None else svg_of(drawing, title=title)


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


def test_pictures_are_svg_of_the_item_at_its_size() -> None:
    build = _build("porch-spinner")
    front, turned = _front(build, title="a <spinner>"), _turned(build, title="turned")
    assert front is not None
    assert turned is not None
    root = ElementTree.fromstring(front)
    assert root.findtext("{http://www.w3.org/2000/svg}title") == "a <spinner>"
    size = item_size(build)
    drawing = front_drawing(build)
    assert size is not None
    assert drawing is not None
    assert drawing.size == pytest.approx(size, abs=TENTH)


def test_an_item_that_does_not_say_how_it_stands_shows_its_parts() -> None:
    build = hostile().items[0].build
    assert build.stands == ()
    assert _front(build, title="round") is not None
    assert item_size(build) is None
    assert _front(Build(), title="nothing") is None
    assert _turned(Build(), title="nothing") is None
    several = Build(shaped=tuple(ShapedPart(name=f"slat {n}", region=Region(rectangle(300.0, 20.0))) for n in (1, 2)))
    assert _turned(several, title="their places are not known") is None


def _corners(drawing: Drawing | None) -> list[tuple[float, float]]:
    assert drawing is not None
    return [at for one in drawing.shapes if isinstance(one, Area) for at in one.area.exterior.coords]


def test_turned_pieces_are_where_a_turn_about_the_rod_puts_them() -> None:
    """Two slats of 200 x 20 x 10 mm on a rod, turned by 70 degrees each way, seen from above and the side: their
    corners are those of the box, turned and looked at along the same way.
    """
    slat = Region(rectangle(200.0, 20.0))
    stands = tuple(
        Stand(part=f"slat {n}", outline=slat, seen="face", foot=40.0 * n, centre=100.0, thick=10.0, turns=True)
        for n in (1, 2)
    )
    build = Build(shaped=tuple(ShapedPart(name=f"slat {n}", region=slat) for n in (1, 2)), stands=stands)
    shown = _corners(turned_drawing(build))
    yaw, rise = math.radians(24.0), math.radians(20.0)
    for n, turn in ((1, -70.0), (2, 70.0)):
        angle = math.radians(turn)
        wanted = []
        for x, y, z in product((-100.0, 100.0), (-5.0, 5.0), (40.0 * n, 40.0 * n + 20.0)):
            # About the rod, then as the viewer goes round the item and up.
            a, b = x * math.cos(angle) - y * math.sin(angle), x * math.sin(angle) + y * math.cos(angle)
            across, deep = a * math.cos(yaw) - b * math.sin(yaw), a * math.sin(yaw) + b * math.cos(yaw)
            wanted.append((across, deep * math.sin(rise) + z * math.cos(rise)))
        near = [min(math.dist(corner, at) for at in shown) for corner in wanted]
        # One corner of a box is behind it.
        assert sum(away < TENTH for away in near) >= 7


def test_paint_and_wood_have_their_colours() -> None:
    """White ends of a slat that faces left: the light comes from there. Its face keeps the tone of its wood."""
    slat = ShapedPart(name="slat", region=Region(rectangle(300.0, 20.0)))
    looks = Looks(
        tones={"slat": (200, 150, 100)}, finish={"slat": PartFinish(ends=Coat(name="white", colour=(255, 255, 255)))}
    )
    drawing = turned_drawing(Build(shaped=(slat,)), looks)
    assert drawing is not None
    fills = {one.fill for one in drawing.shapes if isinstance(one, Area)}
    white = [fill for fill in fills if max(fill) - min(fill) <= 1]
    assert len(white) == 1
    assert min(white[0]) > 150
    for red, green, blue in fills - set(white):
        assert (green / red, blue / red) == pytest.approx((0.75, 0.5), abs=0.02)
    oiled = front_drawing(
        Build(shaped=(slat,)),
        Looks(finish={"slat": PartFinish(faces=Coat(name="oil", colour=(200, 200, 200), clear=True))}),
    )
    navy = front_drawing(
        Build(shaped=(slat,)), Looks(finish={"slat": PartFinish(faces=Coat(name="navy", colour=(0, 0, 128)))})
    )
    assert oiled is not None
    assert navy is not None
    assert any(isinstance(one, Pen) for one in oiled.shapes)  # its grain shows
    assert not any(isinstance(one, Pen) for one in navy.shapes)


def test_parts_in_one_place_have_no_turned_view() -> None:
    """The cradle's cheeks are one behind the other, and its design says only how that looks from the front."""
    cradle = sample("porch-rods").items[1].build
    assert front_drawing(cradle) is not None
    assert turned_drawing(cradle) is None


def test_the_parts_so_far_are_in_the_box_of_the_whole() -> None:
    build = _build("porch-spinner")
    whole, some = front_drawing(build), front_drawing(build, parts=range(4))
    assert whole is not None
    assert some is not None
    assert some.box == whole.box
    top = max(y for _, y in _corners(some))
    assert top == pytest.approx(max(y for _, y in _corners(front_drawing(build, parts=range(4)))))
    assert len(some.shapes) < len(whole.shapes) / 2


def test_a_picture_by_itself_has_both_views_with_margins_and_the_same_bytes() -> None:
    build = _build("porch-spinner")
    data = finished_picture(Views(build, Looks()).drawings, title="spinner")
    assert data == finished_picture(Views(build, Looks()).drawings, title="spinner")
    root = ElementTree.fromstring(data)
    _, _, wide, high = map(float, root.attrib["viewBox"].split())
    front, turned = front_drawing(build), turned_drawing(build)
    assert front is not None
    assert turned is not None
    assert wide > 1.1 * (front.size[0] + turned.size[0])
    assert high > 1.1 * max(front.size[1], turned.size[1])
    assert max(float(root.attrib["width"]), float(root.attrib["height"])) == pytest.approx(900)
    assert len(data) < 250_000


def test_parts_side_by_side_come_in_rows_and_do_not_overlap() -> None:
    """Twelve slats of 300 x 20 mm: in one row they would be 3.6 m by 20 mm."""
    slats = tuple(ShapedPart(name=f"slat {n}", region=Region(rectangle(300.0, 20.0))) for n in range(12))
    svg = _front(Build(shaped=slats), title="slats")
    assert svg is not None
    _, _, width, height = map(float, re.search(r'viewBox="([^"]*)"', svg)[1].split())
    assert 0.2 < height / width < 2
    shapes = [
        shapely.affinity.translate(solid.outline, solid.at[0], solid.at[2]) for solid in _side_by_side(slats, Looks())
    ]
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
    assert len(_marks(_front(build, title="front"))) == wanted
    # The highest piece is turned by 70 degrees, and seen from 24 more: its back shows, without the mark.
    assert len(_marks(_turned(build, title="turned"))) == wanted - 1
    corner = (Line((10.0, 5.0), (20.0, 5.0)), Line((20.0, 5.0), (20.0, 15.0)))
    slat = ShapedPart(name="slat", region=Region(rectangle(300.0, 20.0)), marks=(Mark(path=corner),))
    [way] = _marks(_front(Build(shaped=(slat,)), title="slat"))
    places = [tuple(map(float, place.split())) for place in way[1:].split("L")]
    steps = [(x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in pairwise(places)]
    assert steps == [pytest.approx((10.0, 0.0), abs=TENTH), pytest.approx((0.0, -10.0), abs=TENTH)]


def test_the_floor_of_a_pocket_shows_within_its_part() -> None:
    over = Pocket(region=Region(polyline([(50, -5), (60, -5), (60, 25), (50, 25)])), depth=4.0)
    slat = ShapedPart(name="slat", region=Region(rectangle(300.0, 20.0)), pockets=(over,))
    [solid] = _side_by_side([slat], Looks())
    wood, floor = solid.outline, solid.floors[0]
    assert floor.area == pytest.approx(200.0)
    assert wood.covers(floor)
