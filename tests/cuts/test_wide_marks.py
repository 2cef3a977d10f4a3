"""Marks are as wide as their cutter: what reaches over an edge is told, what ends there on purpose is not."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutjob.cuts.board_cuts import cut_layouts, wide_mark_warnings
from cutjob.cuts.cut import Feature, MarkCut
from cutjob.geometry.contour import rectangle
from cutjob.geometry.segment import Line, Point
from cutjob.geometry.transform import Transform
from cutjob.parts.part import Hole, Mark, ShapedPart
from cutjob.program.program import programs_of
from cutjob.units import spelled
from tests.cuts.makers import alone, cutter, layout_of, router, shaped

# A part of 100 x 60 mm with an opening from 60, 20 to 80, 40 and a hole of 10 mm about 30, 30; the cutter is 6 mm wide.
OPENING = Transform(x=60, y=20).contour(rectangle(20, 20)).reversed()
PART = shaped(rectangle(100, 60), OPENING, holes=(Hole(at=(30, 30), diameter=10),))


def told(*marks: tuple[Point, Point], part: ShapedPart = PART) -> list[str]:
    cuts = [
        MarkCut(feature=Feature(kind="mark"), path=(Line(start, end),), cutter=1, depth=1.0) for start, end in marks
    ]
    return [spelled(warning, "mm") for warning in wide_mark_warnings(part, cuts, cutters=alone())]


def test_an_edge_cut_away() -> None:
    (warning,) = told(((10, 59), (80, 59)))
    assert warning == (
        "a mark cut 6 mm wide by cutter 1 runs over the part's edge, at x 45 mm, y 60 mm of the part; keep marks at "
        "least 3 mm off, or take a narrower cutter for the outlines"
    )


@pytest.mark.parametrize(
    ("mark", "edge"),
    [
        (((62, 42), (78, 42)), "an opening"),
        (((20, 37), (40, 37)), "a hole"),
        (((1, 10), (20, 10)), "the part's edge"),  # ends short of the edge, and breaks out
        (((0, 60), (100, 60)), "the part's edge"),  # along the very edge
        (((0, 58.5), (100, 59.5)), "the part's edge"),  # from edge to edge, and along one
    ],
)
def test_every_kind_of_edge(mark: tuple[Point, Point], edge: str) -> None:
    (warning,) = told(mark)
    assert edge in warning


@pytest.mark.parametrize(
    "mark",
    [
        ((10, 56.9), (80, 56.9)),  # 3.1 mm off
        ((50, 0), (50, 60)),  # from edge to edge
        ((50, 50), (50, 60)),
        ((90, 40), (110, 60)),  # at 45 degrees, and past the edge
        ((30, 30), (30, 50)),  # from a hole's middle
        ((70, 40), (70, 50)),  # from an opening's edge
        ((0, 10), (17.32, 0)),  # at 30 degrees off the end and the edge
    ],
)
def test_what_keeps_off_or_ends_there_is_not_told(mark: tuple[Point, Point]) -> None:
    assert told(mark) == []


def test_several_are_told_once_and_inches_in_inches() -> None:
    marks = [((10, y), (80, y)) for y in (1.0, 59.0)]
    (warning,) = told(*marks)
    assert warning.startswith("2 marks cut 6 mm wide by cutter 1 run over the part's edge, the first at ")
    cut = MarkCut(feature=Feature(kind="mark"), path=(Line((10, 59), (80, 59)),), cutter=1, depth=1.0)
    inch = alone(cutter(6.35))
    (warning,) = wide_mark_warnings(PART, [cut], cutters=inch)
    assert "cut 1/4 in wide" in spelled(warning, "in")
    assert "at least 1/8 in off" in spelled(warning, "in")


@given(st.floats(0.2, 5.9), st.floats(0.2, 5.9))
def test_told_where_nearer_than_half_the_cutter(y0: float, y1: float) -> None:
    """Beside the lower edge, far from its ends: the least distance of a line is at one of its own."""
    near = min(y0, y1)
    if not math.isclose(near, 3.0, abs_tol=0.02):
        assert bool(told(((10, y0), (50, y1)))) == (near < 3.0)


def test_told_in_the_summary_and_in_the_file() -> None:
    part = replace(PART, marks=(Mark(path=(Line((10, 59), (80, 59)),)),))
    layout = layout_of((part, Transform(x=20, y=20)), (part, Transform(x=160, y=20)))
    arguments = {"cutters": alone(), "gap": 8.0, "locations": {}}
    (board,), warnings = cut_layouts([layout], machine=router(), **arguments)  # type: ignore[arg-type]
    (told_so,) = [line for line in warnings if "mark" in line]
    assert spelled(told_so, "mm").startswith('item "gate latch": part "piece": a mark cut 6 mm wide')
    assert board.warnings == (told_so,)
    (program,) = programs_of(board, machine=router())
    assert told_so in program.warnings
    saw = router().model_copy(update={"kind": "pattern"})
    (board,), _ = cut_layouts([layout], machine=saw, **arguments)  # type: ignore[arg-type]
    assert board.warnings == ()
