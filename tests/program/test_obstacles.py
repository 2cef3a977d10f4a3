"""Air moves over clamps and screws: as high as what lies under each asks for, and no higher."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutjob.cuts.cut import Feature
from cutjob.geometry.contour import rectangle
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import HoldDown
from cutjob.program.moves import Move, Step
from cutjob.program.obstacles import cleared, obstacles_of
from tests.cuts.makers import cutter, layout_of, router, shaped
from tests.layout.makers import kept_out

PART = (shaped(rectangle(60, 40)), Transform(x=50, y=50))


def board(height: float = 20.0):
    """A clamp 20 mm high at x 200 to 240, y 0 to 25, and a knot."""
    areas = (Transform(x=200, y=0).contour(rectangle(40, 25)), Transform(x=400, y=0).contour(rectangle(20, 200)))
    made = layout_of(PART, keep_outs=kept_out(areas, heights=(height, 0.0)))
    return made


def hop(*places: tuple[float, float]) -> list[Step]:
    """A hole at each place, with the moves before they know of clamps: safe height 5, approach 1."""
    return [
        Step(
            op="drill",
            placement=None,
            feature=Feature(kind="screw hole"),
            moves=(
                Move("rapid", x, y, 5.0),
                Move("rapid", x, y, 1.0),
                Move("plunge", x, y, -3.0, 300.0),
                Move("rapid", x, y, 5.0),
            ),
        )
        for x, y in places
    ]


def heights(*places: tuple[float, float], layout=None, **changes: object) -> list[list[float]]:
    made = cleared(hop(*places), cutter(**changes), obstacles_of(layout or board(), None, router()), router())
    return [[move.z for move in step.moves] for step in made]


def test_only_the_way_over_the_clamp_is_high() -> None:
    ways = heights((150, 10), (300, 10), (300, 100), (500, 100))
    # From anywhere to the first; over the clamp to the second; beside it, and over the knot, low.
    assert ways == [[22, 1, -3, 22], [22, 1, -3, 5], [5, 1, -3, 5], [5, 1, -3, 5]]


@pytest.mark.parametrize(("y", "height"), [(28.9, 22), (29.1, 5)])
def test_a_cutter_of_six_passes_a_clamp_low_a_millimetre_away(y: float, height: float) -> None:
    ways = heights((150, y), (300, y))
    assert (ways[0][-1], ways[1][0]) == (height, height)


def test_a_lower_clamp_asks_for_less() -> None:
    assert heights((150, 10), (300, 10), layout=board(8.0)) == [[10, 1, -3, 10], [10, 1, -3, 5]]


def test_screws_stand_where_their_heads_are() -> None:
    downs = (HoldDown(at=(225.0, 100.0), diameter=4.5, head=6.0, height=6.0),)
    screwed = replace(board(), hold_downs=downs)
    assert [way[0] for way in heights((150, 100), (300, 100), (300, 150), (150, 150), layout=screwed)] == [22, 8, 5, 5]


def test_nothing_changes_where_nothing_stands() -> None:
    steps = hop((150, 10), (300, 10))
    assert cleared(steps, cutter(), obstacles_of(layout_of(PART), None, router()), router()) == steps
