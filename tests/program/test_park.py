"""Where the cutter stays at the end: over the board's far corner, or where the profile says, within the travel."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutjob.errors import InputError
from cutjob.geometry.contour import rectangle
from cutjob.geometry.segment import Arc
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import Window
from cutjob.program.moves import Move
from cutjob.program.travel import extent, park_moves, park_place
from tests.cuts.makers import layout_of, router, shaped

BOARD = layout_of((shaped(rectangle(60, 40)), Transform(x=50, y=50)))  # 400 x 300
MOVES = [Move("rapid", 20.0, 30.0, 6.0), Move("cut", 150.0, 120.0, -3.0, 900.0), Move("rapid", 150.0, 120.0, 6.0)]


def test_over_the_far_corner_of_the_board() -> None:
    assert park_place(extent(MOVES), BOARD, None, (0.0, 0.0), router()) == (400.0, 300.0)


def test_over_the_far_corner_of_a_window() -> None:
    windows = (Window(first=0.0, last=250.0, placements=(0,)), Window(first=180.0, last=400.0, placements=()))
    cut = replace(BOARD, windows=windows)
    assert park_place(extent(MOVES), cut, 0, (0.0, 0.0), router()) == (250.0, 300.0)
    assert park_place(extent(MOVES), cut, 1, (180.0, 0.0), router()) == (400.0, 300.0)


def test_never_out_of_the_machines_reach() -> None:
    short = router()
    assert short.travel is not None
    short = short.model_copy(update={"travel": short.travel.model_copy(update={"x": 300.0, "y": 200.0})})
    # From the moves' lowest X, 20, and Y, 30.
    assert park_place(extent(MOVES), BOARD, None, (0.0, 0.0), short) == (320.0, 230.0)
    far = short.model_copy(update={"motion": short.motion.model_copy(update={"park": (-200.0, 0.0)})})
    with pytest.raises(InputError, match="parks the cutter"):
        park_place(extent(MOVES), BOARD, None, (0.0, 0.0), far)


def test_where_the_profile_says_from_the_programs_zero() -> None:
    own = router(motion={"park": (0.0, 250.0)})
    assert park_place(extent(MOVES), BOARD, None, (100.0, 0.0), own) == (100.0, 250.0)


def test_up_before_across() -> None:
    up, across = park_moves(MOVES[-1], (400.0, 300.0), 22.0)
    assert (up.x, up.y, up.z) == (150.0, 120.0, 22.0)
    assert (across.kind, across.x, across.y, across.z) == ("rapid", 400.0, 300.0, 22.0)


_PLACES = st.tuples(st.integers(-40, 40), st.integers(-40, 40))


@given(
    start=_PLACES,
    arcs=st.lists(st.tuples(_PLACES, st.floats(0.0, 6.28), st.booleans(), st.booleans()), min_size=1, max_size=8),
)
def test_the_extent_is_that_of_every_move(
    start: tuple[int, int], arcs: list[tuple[tuple[int, int], float, bool, bool]]
) -> None:
    """The same numbers as the box of each arc by itself gives, whatever was left out as lying within the others."""
    here: tuple[float, float] = start
    moves, boxes = [Move("rapid", *here, 5.0)], [(*here, *here)]
    for centre, angle, clockwise, straight in arcs:
        radius = math.dist(here, centre)
        there = (centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))
        if straight or not radius or math.dist(here, there) < 1e-6:
            moves.append(Move("cut", *there, 0.0, 900.0))
        else:
            moves.append(Move("cut", *there, 0.0, 900.0, centre, clockwise))
            boxes.append(Arc(here, there, centre, clockwise).bounds)
        boxes.append((*there, *there))
        here = there
    lows, highs = zip(*((box[:2], box[2:]) for box in boxes), strict=True)
    whole = (*(min(each) for each in zip(*lows, strict=True)), *(max(each) for each in zip(*highs, strict=True)))
    assert extent(moves) == whole
    assert extent([]) is None
