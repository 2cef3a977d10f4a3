from __future__ import annotations

from collections import Counter

import pytest
from shapely import box

from tests.benchmarks.instances import Instance, StripItem
from tests.benchmarks.library_boards import Plain, boards_filled
from tests.benchmarks.library_strips import INSTALLED, lay_by_library
from tests.benchmarks.strip_check import faults, length_of, polygons_of

pytestmark = pytest.mark.skipif(not INSTALLED, reason="the extra `bench` is not installed")


def slats(height: float, count: int = 4) -> tuple[StripItem, ...]:
    return (StripItem(name="slat", polygon=box(0, 0, 30, height), count=count, rotations=(0.0, 180.0)),)


def test_with_a_gap_parts_may_touch_the_strips_edge() -> None:
    # Two slats and one gap fill the width, so that they lie in two columns; a little play for what 32 bits round.
    strip = Instance(name="slats", width=24.01, items=slats(11), unit_mm=1.0)
    laid = lay_by_library(strip.items, strip.width, gap=2.0, seconds=5, enough=62.1)
    assert laid.failure == ""
    assert faults(strip, laid.placements, gap=2.0) == []
    assert length_of(polygons_of(strip, laid.placements)) == pytest.approx(62, abs=0.1)


def test_a_panic_is_told_and_no_more() -> None:
    laid = lay_by_library(slats(30), 20.0, gap=2.0, seconds=1)
    assert laid.placements == ()
    assert laid.failure
    assert laid.gave_up


def test_boards_are_filled_until_no_part_is_left() -> None:
    # Six slats to a board, as three columns of two; the seventh takes a second one.
    board = Plain(length=95.0, width=24.1, gap=2.0, seconds=1)
    assert boards_filled(slats(11, count=7), board) == [Counter({0: 6}), Counter({0: 1})]
