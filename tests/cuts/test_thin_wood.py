"""Wood thinner and holes narrower than a profile allows, each with its figure."""

from __future__ import annotations

import pytest
from shapely import Polygon

from cutjob.cuts.fitness import thin_wood_warnings, unfit_parts
from cutjob.cuts.reach import thin_places
from cutjob.geometry.contour import Contour, polyline, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.transform import Transform
from cutjob.parts.part import Hole, ShapedPart
from cutjob.units import each_spelled, spelled
from tests.cuts.makers import changed, cutter, layout_of, router, shaped
from tests.layout.makers import slot, star


def warned(part: ShapedPart, least: float | None = 2.0) -> list[str]:
    machine = changed(router(), cutting={"least_web": least})
    return list(each_spelled(thin_wood_warnings([layout_of((part, Transform(x=50, y=50)))], machine), "mm"))


def window(x: float, y: float, length: float, width: float) -> Contour:
    return Transform(x=x, y=y).contour(rectangle(length, width))


@pytest.mark.parametrize(
    ("part", "wide"),
    [
        (shaped(rectangle(60, 40), holes=(Hole(at=(20.0, 4.0), diameter=6.0),)), 1.0),
        (shaped(rectangle(60, 40), holes=tuple(Hole(at=(x, 20.0), diameter=6.0) for x in (20.0, 27.5))), 1.5),
        (shaped(rectangle(60, 40), window(1.2, 10, 20, 20)), 1.2),
        (shaped(rectangle(60, 40), window(10, 10, 15, 20), window(26.8, 10, 15, 20)), 1.8),
        # A neck between two notches, a strip that stands out, a whole part that is thin.
        (shaped(polyline([(0, 0), (60, 0), (60, 40), (31, 40), (30, 21), (29, 40), (0, 40)]),
                holes=(Hole(at=(30.0, 16.0), diameter=8.0),)), 1.0),
        (shaped(polyline([(0, 0), (60, 0), (60, 40), (30.7, 40), (30.7, 60), (29.3, 60), (29.3, 40), (0, 40)])), 1.4),
        (shaped(rectangle(60, 1.6)), 1.6),
    ],
)  # fmt: skip
def test_thin_wood_is_warned_of_with_its_width(part: ShapedPart, wide: float) -> None:
    (warning,) = warned(part)
    assert warning.startswith(f'item "gate latch": part "piece": wood only {wide:g} mm wide ')
    assert warning.endswith("less than the profile's least_web of 2 mm; widen it, or it may break or char")
    assert warned(part, wide - 0.05) == []
    assert warned(part, None) == []


def test_points_and_sound_wood_are_no_webs() -> None:
    assert warned(shaped(star(24, 60, 40))) == []
    assert warned(shaped(polyline([(0, 0), (60, 0), (30, 90)]), holes=(Hole(at=(30.0, 30.0), diameter=8.0),))) == []
    assert thin_places(Polygon(to_polygon(rectangle(20, 20))), width=19.0) == ()


def test_narrow_holes_are_refused_with_what_is_cut() -> None:
    machine = changed(router(), cutting={"least_hole": 2.0})
    narrow = Transform(x=45, y=20).contour(slot(20, 1.5))
    by_hand = Hole(at=(10.0, 30.0), diameter=1.0, by_hand=True)
    part = shaped(rectangle(90, 40), narrow, holes=(Hole(at=(10.0, 10.0), diameter=1.8), by_hand))
    found = unfit_parts([layout_of((part, Transform(x=50, y=50)))], cutter=cutter(1.0), machine=machine, locations={})
    said = [spelled(problem.message, "mm") for problem in found]
    assert said == [
        "a hole of 1.8 mm; the profile cuts none narrower than 2 mm (least_hole)",
        "an opening at x 55 mm, y 20 mm of the part is too narrow; the profile cuts none narrower than 2 mm "
        "(least_hole)",
    ]
    wide = Transform(x=45, y=20).contour(slot(20, 2.0))
    part = shaped(rectangle(90, 40), wide, holes=(Hole(at=(10.0, 10.0), diameter=2.0),))
    exact = layout_of((part, Transform(x=50, y=50)))
    assert unfit_parts([exact], cutter=cutter(1.0), machine=machine, locations={}) == ()
