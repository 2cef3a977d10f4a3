"""Numbers are cut by a cutter fine enough for their height, or refused with the least that can be read."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.cuts.cut import MarkCut
from cutjob.cuts.cutter_choice import Cutters
from cutjob.cuts.numbers import numbered_boards
from cutjob.errors import InputError, errors_in
from cutjob.geometry.contour import rectangle
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout
from cutjob.units import each_spelled
from tests.cuts.makers import alone, cutter, layout_of, router, shaped

WIDE, FINE = cutter(6.0), cutter(3.0, number=2)
BOTH = Cutters(outline=WIDE, usable=(WIDE, FINE), changer=False)


def board(*sizes: tuple[float, float]) -> BoardLayout:
    places, x = [], 10.0
    for length, width in sizes:
        places.append((shaped(rectangle(length, width)), Transform(x=x, y=10)))
        x += length + 10
    return layout_of(*places, length=x + 10, width=120)


def numbered(*boards: BoardLayout, height: float, **options: Any) -> tuple[tuple[BoardLayout, ...], tuple[str, ...]]:
    options = {"where": "part", "asked": True, "cutters": BOTH, "machine": router()} | options
    return numbered_boards(boards, height=height, **options)


def height_of(layout: BoardLayout, index: int = 0) -> float:
    ends = [point for path in layout.lettering[index].paths for s in path for point in (s.start, s.end)]
    return max(y for _, y in ends) - min(y for _, y in ends)


def test_too_low_to_be_read_is_refused_with_the_least_height() -> None:
    with pytest.raises(InputError) as caught:
        numbered(board((90, 60)), height=11.9)
    (problem,) = caught.value.problems
    assert problem.place == "number_height"
    assert "11.9 mm high can't be read when cut 3 mm wide by cutter 2" in str(problem)
    assert str(problem).endswith("; give at least 12 mm, or name a finer cutter in the job's cutter as well")
    (made,), warnings = numbered(board((90, 60)), height=12.0)
    assert warnings == ()
    assert height_of(made) == pytest.approx(12.0)  # the font's digits are as high as its capitals


def test_in_inches_the_least_is_a_sixteenth_more() -> None:
    inch = alone(cutter(25.4 / 8))
    with pytest.raises(InputError, match="give at least 1/2 in"), errors_in("in"):
        numbered(board((90, 60)), height=10, cutters=inch)


def test_a_height_nobody_asked_for_grows_with_the_cutter() -> None:
    (made,), warnings = numbered(board((90, 60)), height=12, asked=False, cutters=alone())
    assert warnings == ()
    assert height_of(made) == pytest.approx(24.0)


def test_the_cutter_for_outlines_where_it_can_be_read() -> None:
    low, high = (numbered(board((90, 60)), height=height)[0][0] for height in (23.9, 24.0))
    assert [one.cutter for one in low.lettering] == [2]
    assert [one.cutter for one in high.lettering] == [1]
    arguments = {"cutters": BOTH, "machine": router(), "gap": 8.0, "locations": {}}
    for made, number in ((low, 2), (high, 1)):
        (cuts,), _ = cut_layouts([made], **arguments)  # type: ignore[arg-type]
        assert {cut.cutter for cut in cuts.parts[0].inner if isinstance(cut, MarkCut)} == {number}


def test_the_finest_where_some_have_no_room_for_wide_strokes() -> None:
    boards, warnings = numbered(board((90, 60)), board((60, 60), (40, 20)), height=30)
    assert warnings == ()
    assert [[one.cutter for one in made.lettering] for made in boards] == [[2], [2, 2]]


def test_without_room_the_warning_says_how_high_they_must_be() -> None:
    (made,), warnings = numbered(board((90, 60), (40, 10)), height=30)
    assert [one.placement for one in made.lettering] == [0]
    assert made.lettering[0].cutter == 1  # a finer one has no room for the other either
    assert each_spelled(warnings, "mm") == (
        "board-01: no room for the numbers of parts 2, which cutter 2 must make at least 12 mm high to be read",
    )


@given(st.floats(12.0, 40.0), st.floats(30.0, 90.0))
@settings(max_examples=20, deadline=None)
def test_never_lower_than_can_be_read(height: float, side: float) -> None:
    (made,), _ = numbered(board((side, side)), height=height)
    for index, one in enumerate(made.lettering):
        assert one.cutter is not None
        assert height_of(made, index) >= 4 * BOTH.numbered(one.cutter).diameter - 1e-6
