"""Places for screws kept free while parts are laid out: enough of them, free, and in nobody's way afterwards."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.geometry.contour import circle, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.transform import Transform
from cutjob.holding.room import room_for_screws
from cutjob.holding.screws import ThinWaste, held_down
from cutjob.job.machine import Screws
from cutjob.job.stock import Board
from cutjob.layout.rules import Room
from cutjob.tolerances import TOLERANCES
from tests.cuts.makers import alone, board, layout_of, router, shaped
from tests.holding.boards import lies_fast
from tests.layout.makers import areas_of, kept_out

SCREWS = Screws(hole=6.0, head=16.0, height=5.0, margin=3.0, every=250.0)
GAP, SLOT = 8.0, 6.0 + 2 * TOLERANCES.acceptance


def roomy(plain: Board, *, room: Room | None = None, bed: float | None = None) -> Board:
    made = room_for_screws(room, screws=SCREWS, margin=SCREWS.margin, slot=SLOT, gap=GAP, bed=bed)
    return made.beside(plain)


def places(plain: Board, **options: object) -> list[tuple[float, float]]:
    kept = areas_of(roomy(plain, **options))[len(plain.keep_outs) :]  # type: ignore[arg-type]
    found = [area.circle() for area in kept]
    return [each[0] for each in found if each is not None]


def plank(length: float, width: float, **more: object) -> Board:
    return replace(board(length, width, outline=rectangle(length, width)), **more)  # type: ignore[arg-type]


@given(st.floats(60, 2500), st.floats(40, 400))
@settings(max_examples=40, deadline=None)
def test_no_stretch_longer_than_every_goes_without(length: float, width: float) -> None:
    found = places(plank(length, width))
    xs = [0.0, *(x for x, _ in found), length]
    assert len(found) >= 2
    assert max(b - a for a, b in pairwise(xs)) <= SCREWS.every + 1e-6
    assert all(min(y, width - y) >= 8 - 1e-6 for _, y in found)
    assert {y < width / 2 for _, y in found} == {True, False}


def test_aside_of_knots_and_twice_as_many_in_windows() -> None:
    middle = places(plank(500, 100))[0][0]
    knot = circle((middle, 8.0), 10.0)
    spoiled = plank(500, 100, keep_outs=kept_out((knot,)))
    for place in places(spoiled):
        assert shapely.distance(to_polygon(knot), shapely.Point(place)) >= 11 - 0.01
    assert len(places(plank(1000, 100), bed=900)) == 2 * len(places(plank(1000, 100)))


def test_beside_other_room() -> None:
    other = Room(
        beside=lambda one: replace(one, keep_outs=kept_out((circle((30.0, 30.0), 25.0),))), taken_by="", advice=""
    )
    made = roomy(plank(500, 100), room=other)
    assert made.keep_outs[0].area == circle((30.0, 30.0), 25.0)
    assert len(made.keep_outs) == 3


def test_parts_that_keep_their_gap_leave_the_screws_their_room() -> None:
    """A board filled up to the gap from every place kept free has room; filled without them it has none."""
    plain = plank(300, 90)
    part = shaped(rectangle(46, 80))
    full = layout_of(*[(part, Transform(x=5 + 58 * n, y=5)) for n in range(5)], length=300, width=90)
    taken = [to_polygon(area).buffer(GAP - 0.001, quad_segs=64) for area in areas_of(roomy(plain))]
    free = [one for one in full.placements if not any(one.polygon.intersects(area) for area in taken)]
    assert 0 < len(free) < len(full.placements)
    machine = router().model_copy(update={"screws": SCREWS})
    arguments = {"cutters": alone(), "machine": machine, "gap": GAP, "locations": {}}
    (cuts,), _ = cut_layouts([full], **arguments)  # type: ignore[arg-type]
    thin = held_down(cuts, machine=machine, screws=True)
    assert isinstance(thin, ThinWaste)
    assert thin.margin == SCREWS.margin
    (cuts,), _ = cut_layouts([replace(full, placements=tuple(free))], **arguments)  # type: ignore[arg-type]
    assert len(lies_fast(cuts, machine=machine).layout.hold_downs) >= 2
