"""Leads: quarter arcs that touch their path, on the waste's side and clear of everything."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.cut import Side
from cutjob.cuts.entry import Surroundings, best_lead, lead_in, lead_out
from cutjob.geometry.contour import circle, rectangle
from cutjob.geometry.offset import offset
from cutjob.geometry.ruler import Ruler
from cutjob.geometry.segment import distance
from cutjob.geometry.transform import Transform
from cutjob.tolerances import TOLERANCES
from tests.cuts.makers import layout_of, shaped
from tests.layout.makers import kept_out

SIDES = st.sampled_from(["left", "right"])


@given(st.floats(0, 320), SIDES, st.floats(0.25, 5))
def test_leads_touch_the_path_and_lie_in_the_waste(along: float, waste: Side, radius: float) -> None:
    ruler = Ruler(rectangle(100, 60).segments)
    into, out = (at(ruler, along, waste=waste, radius=radius) for at in (lead_in, lead_out))
    point, (dx, dy) = ruler.point(along), ruler.direction(along)
    for arc, share, here in ((into, 1.0, into.end), (out, 0.0, out.start)):
        assert here == pytest.approx(point, abs=1e-9)
        assert arc.length == pytest.approx(radius * math.pi / 2)  # a quarter turn
        assert arc.direction_at(share) == pytest.approx((dx, dy), abs=1e-9)
        side = 1 if waste == "left" else -1
        for middle in (arc.point_at(0.3), arc.point_at(0.6), arc.centre):
            assert side * (dx * (middle[1] - point[1]) - dy * (middle[0] - point[0])) > 0
        assert distance(arc.centre, arc.end) == pytest.approx(radius)


def _path_round(x: float, cutter_radius: float = 3.0) -> Ruler:
    return Ruler(offset(Transform(x=x, y=50).contour(rectangle(60, 40)), cutter_radius)[0].reversed().segments)


@pytest.mark.parametrize("gap", [7.0, 8.5, 10.0, 30.0])
def test_a_lead_keeps_clear_of_the_neighbour(gap: float) -> None:
    """Two parts side by side; the lead starts on the right edge of the left one, towards the other."""
    part = shaped(rectangle(60, 40))
    layout = layout_of((part, Transform(x=50, y=50)), (part, Transform(x=110 + gap, y=50)))
    around, ruler = Surroundings(layout, cutter_radius=3.0), _path_round(50)
    along = next(a / 4 for a in range(int(4 * ruler.length)) if distance(ruler.point(a / 4), (113, 70)) < 0.25)
    arc = best_lead(lead_in, ruler, along, own=0, waste="left", greatest=2.0, around=around)
    # The cutter reaches its radius beyond the arc, and the arc its own beyond the path.
    room = gap - 2 * 3.0 - TOLERANCES.lead_clearance
    fitting = [2.0 * share for share in (1.0, 0.5, 0.25, 0.125) if 2.0 * share <= room]
    assert (arc.radius if arc else 0.0) == pytest.approx(max(fitting, default=0.0))
    if arc:
        swept = shapely.LineString([arc.start, *arc.chords(1e-4)]).buffer(3.0)
        neighbour = shapely.box(110 + gap, 50, 170 + gap, 90)
        assert swept.distance(neighbour) > 0


def test_a_lead_keeps_clear_of_keep_outs_and_bridges() -> None:
    part = shaped(rectangle(60, 40))
    ruler = _path_round(50)
    along = next(a / 4 for a in range(int(4 * ruler.length)) if distance(ruler.point(a / 4), (113, 70)) < 0.25)

    def lead(layout: object, **more: object) -> object:
        around = Surroundings(layout, cutter_radius=3.0, **more)  # type: ignore[arg-type]
        return best_lead(lead_in, ruler, along, own=0, waste="left", greatest=2.0, around=around)

    free = layout_of((part, Transform(x=50, y=50)))
    assert lead(free) is not None
    assert lead(layout_of((part, Transform(x=50, y=50)), keep_outs=kept_out((circle((120, 70), 4.0),)))) is None
    assert lead(free, bridges=(shapely.box(112, 64, 118, 70),)) is None


def test_no_lead_is_wanted() -> None:
    layout = layout_of((shaped(rectangle(60, 40)), Transform(x=50, y=50)))
    around = Surroundings(layout, cutter_radius=3.0)
    assert best_lead(lead_in, _path_round(50), 10.0, own=0, waste="left", greatest=0.0, around=around) is None


@given(st.floats(0, 225), st.sampled_from([0.0, 0.003]))
@settings(max_examples=40, deadline=None)
def test_a_lead_never_enters_the_part_it_cuts(along: float, deviation: float) -> None:
    part = shaped(rectangle(60, 40), deviation=deviation)
    layout = layout_of((part, Transform(x=50, y=50)))
    around = Surroundings(layout, cutter_radius=3.0)
    ruler = _path_round(50, 3.0 + deviation)
    body = shapely.box(50, 50, 110, 90)
    for lead, waste in ((lead_in, "left"), (lead_out, "left"), (lead_in, "right")):
        arc = best_lead(lead, ruler, along, own=0, waste=waste, greatest=2.0, around=around)  # type: ignore[arg-type]
        if arc is not None:
            assert shapely.LineString([arc.start, *arc.chords(1e-4)]).distance(body) >= 3.0 - 3 * TOLERANCES.chord
        if waste == "right":
            assert arc is None  # towards the part there is never room
