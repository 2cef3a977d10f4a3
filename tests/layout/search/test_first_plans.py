"""How much work first plans take where parts are hard to lay, counted in positions, and that there is a plan still."""

from __future__ import annotations

import math

import pytest

from cutjob.errors import InputError
from cutjob.geometry.contour import Region, circle
from cutjob.job.stock import Board
from cutjob.layout import layout_job
from cutjob.layout.layout import Layout
from cutjob.layout.search import board_search
from cutjob.layout.search.crew import OVERDRAFT, Crew
from cutjob.layout.search.plan_search import POSITIONS, search
from cutjob.parts.part import Item
from tests.layout.judge import assert_sound
from tests.layout.makers import board, item, kept_out, part, star

_BUDGET = 20_000  # of parts as plain as rectangles; less the more pieces a part has
_BRIEF = 800  # positions at most, on average, for a part laid in haste: 8 poses, 4 samples, 12 steps, 2 spaces


@pytest.fixture
def crews(monkeypatch: pytest.MonkeyPatch) -> list[Crew]:
    """The crews that work from here on, with that little to do."""
    made: list[Crew] = []

    class Seen(Crew):
        def __init__(self, *args: object, **options: object) -> None:
            super().__init__(*args, **options)  # type: ignore[arg-type]
            made.append(self)

    monkeypatch.setattr(layout_job, "Crew", Seen)
    monkeypatch.setitem(POSITIONS, "quick", _BUDGET)
    return made


def stars(kinds: int, each: int) -> list[Item]:
    """Parts of many convex pieces, no two kinds alike."""
    return [
        item(part(Region(star(9 + kind % 4, 34.0 + kind, 21.0))), count=each, name=f"star {kind}")
        for kind in range(kinds)
    ]


def knotty(count: int, **more: object) -> Board:
    knots = tuple(circle((x, 70.0 + 30 * math.sin(x)), 9.0) for x in (60.0, 170.0, 290.0, 420.0, 530.0))
    return board(600.0, 140.0, count=count, keep_outs=kept_out(knots), grain="none", **more)


def lay(items: list[Item], stock: list[Board], *, stack: int = 1) -> Layout:
    return layout_job.lay_out(items, stock, gap=6.0, edge_margin=2.0, stack=stack, saw_kerf=3.0, seed=1, effort="quick")


@pytest.mark.parametrize("stack", [1, 3])
def test_first_plans_take_little_more_than_what_may_be_overdrawn(crews: list[Crew], stack: int) -> None:
    wish = stars(kinds=6, each=9)
    found = lay(wish, [knotty(40), knotty(40, price=9.0, thickness=16.0)], stack=stack)
    assert_sound(found, wish)
    (crew,) = crews
    assert crew.overdrawn  # else nothing is tested
    parts = 6 * 9
    # What may be overdrawn, and what is in haste after that: the rest of four orders, and with a stack a third of the
    # parts in two more.
    assert crew.used < OVERDRAFT * crew.positions + parts * _BRIEF * (4 + (2 / 3 if stack > 1 else 0))


def test_in_haste_each_part_takes_few_positions_and_all_are_laid(
    crews: list[Crew], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(POSITIONS, "quick", 1)
    wish = stars(kinds=6, each=9)
    assert_sound(lay(wish, [knotty(40)]), wish)
    # Two orders, and two boards filled again from either end, in four.
    assert crews[0].used < 6 * 9 * _BRIEF * (2 + 3)


def test_what_haste_misses_is_found_with_care(crews: list[Crew], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(POSITIONS, "quick", 1)
    monkeypatch.setattr(board_search, "_BRIEF_SAMPLES", 0)  # so that haste misses every place
    wish = stars(kinds=2, each=5)
    assert_sound(lay(wish, [knotty(1)]), wish)


def test_boards_that_do_not_suffice_are_said_so_all_the_same(
    crews: list[Crew], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(POSITIONS, "quick", 1)
    with pytest.raises(InputError, match="all boards are full and"):
        lay(stars(kinds=6, each=9), [knotty(2)])


@pytest.mark.parametrize(("positions", "searches"), [(1, 1), (2_500_000, 2)])
def test_with_the_budget_overdrawn_other_ways_to_lay_grain_are_left_untried(
    crews: list[Crew], monkeypatch: pytest.MonkeyPatch, positions: int, searches: int
) -> None:
    """Parts with grain on boards with grain and without: laid along it everywhere, or on the latter at any angle."""
    monkeypatch.setitem(POSITIONS, "quick", positions)
    made = []
    monkeypatch.setattr(layout_job, "search", lambda *args, **options: made.append(args) or search(*args, **options))
    wish = [item(part(Region(star(9, 34.0, 21.0)), grain="length"), count=4)]
    stock = [board(300.0, 140.0, count=4), board(300.0, 140.0, count=4, grain="none", name="birch")]
    assert_sound(lay(wish, stock), wish)
    assert len(made) == searches
