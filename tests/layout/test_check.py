"""The check must find what is wrong: each test spoils a sound layout in one way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from cutjob.geometry.contour import circle, rectangle
from cutjob.geometry.transform import Transform
from cutjob.layout import layout_job
from cutjob.layout.check import LayoutError, check_layout
from cutjob.layout.layout import BoardLayout, Layout, Placement
from cutjob.layout.layout_job import lay_out
from cutjob.layout.search import board_groups
from cutjob.parts.part import SawnPart
from tests.layout.makers import board, item, kept_out, part, ring

SLAT = part(rectangle(100, 40))
WREATH = part(ring(50, 30), "wreath", grain="none")
ITEMS = [item(SLAT, SLAT, WREATH, sawn=(SawnPart(name="leg", length=200.0),))]
STOCK = board(800, 140, count=2, keep_outs=kept_out((circle((700, 70), 10),)))


def sound() -> Layout:
    return lay_out(ITEMS, [STOCK], gap=6.0, edge_margin=2.0, stack=1, saw_kerf=3.0, seed=1, effort="quick")


SOUND = sound()


def on_board(change: Callable[[BoardLayout], BoardLayout]) -> Layout:
    return replace(SOUND, boards=(change(SOUND.boards[0]),))


def placed(**at: Transform) -> Layout:
    """The layout with parts at stated places: slat, other, wreath."""
    usual = {
        "slat": Transform(x=2, y=2),
        "other": Transform(x=2, y=48),
        "wreath": Transform(x=160, y=70),
    }
    places = {**usual, **at}
    placements = tuple(
        Placement(part=WREATH if name == "wreath" else SLAT, item="porch trellis", unit=1, transform=place)
        for name, place in places.items()
    )
    return on_board(lambda entry: replace(entry, placements=placements))


def problems(layout: Layout) -> str:
    return "\n".join(str(problem) for problem in check_layout(layout, ITEMS))


def test_a_sound_layout_has_no_problems() -> None:
    assert problems(SOUND) == ""
    assert problems(placed()) == ""


@pytest.mark.parametrize(
    ("layout", "message"),
    [
        (placed(other=Transform(x=2, y=47.998)), "lies 5.9980 mm from part"),
        (placed(other=Transform(x=50, y=20)), "lies 0.0000 mm from part"),
        (placed(other=Transform(x=110, y=50)), "lies 0.0000 mm from part"),
        (placed(slat=Transform(x=1.998, y=2)), "lies 1.9980 mm from the edge"),
        (placed(slat=Transform(x=-50, y=2)), "partly off the board"),
        (placed(slat=Transform(x=5000, y=2)), "partly off the board"),
        (placed(slat=Transform(x=400, y=50)), "from keep-out 1; the gap is 6.0000"),
        (placed(slat=Transform(x=381.5, y=45)), "from keep-out 1; the gap is 6.0000"),
        (placed(slat=Transform(x=300, y=10, degrees=90)), "turned or mirrored"),
        (placed(slat=Transform(x=102, y=2, mirrored=True)), "turned or mirrored"),
        (placed(slat=Transform(x=2.2, y=4, degrees=1)), "turned or mirrored"),
        (on_board(lambda entry: replace(entry, copies=2)), 'part "slat" is made 4 times, not 2'),
        (on_board(lambda entry: replace(entry, stack=2)), 'part "wreath" is made 2 times, not 1'),
        (on_board(lambda entry: replace(entry, stack=2)), "2 boards are used and there are 1"),
        (on_board(lambda entry: replace(entry, placements=entry.placements[1:])), "times, not"),
        (on_board(lambda entry: replace(entry, stack=0)), "count from 1"),
        (replace(SOUND, boards=SOUND.boards * 2), "the same id"),
        (replace(SOUND, boards=()), 'part "wreath" is made 0 times, not 1'),
        (replace(SOUND, sawn=()), 'part "leg", 200.000 mm long, is sawn 0 times, not 1'),
        (replace(SOUND, gap=SOUND.gap + 300), "the gap is"),
        (replace(SOUND, edge_margin=40.0), "the margin is 40"),
    ],
)
def test_each_spoiled_layout_is_found_out(layout: Layout, message: str) -> None:
    assert message in problems(layout)


def test_a_part_or_unit_the_job_does_not_have_is_found_out() -> None:
    def with_first(**change: object) -> Layout:
        return on_board(
            lambda entry: replace(
                entry,
                placements=(replace(entry.placements[0], **change), *entry.placements[1:]),  # type: ignore[arg-type]
            )
        )

    assert "for unit 2 of 1" in problems(with_first(unit=2))
    assert "none of the job's parts" in problems(with_first(item="bench"))
    assert "none of the job's parts" in problems(with_first(part=replace(SLAT, region=part(rectangle(90, 40)).region)))


def test_a_part_without_grain_may_lie_at_any_angle() -> None:
    assert problems(placed(wreath=Transform(x=160, y=70, degrees=33.3))) == ""
    assert "turned or mirrored" in problems(placed(wreath=Transform(x=160, y=70, degrees=33.3, mirrored=True)))
    askew = placed(slat=Transform(x=400, y=40, degrees=33.3))
    assert "turned or mirrored" in problems(askew)
    boards = tuple(replace(entry, board=replace(entry.board, grain="none")) for entry in askew.boards)
    assert check_layout(replace(askew, boards=boards), ITEMS) == ()


KEY, FOB = part(rectangle(60, 30), "key"), part(rectangle(40, 30), "fob")
Place = tuple[str, int]  # part and unit
SETS = [replace(item(KEY, FOB, FOB, count=4, name="key rack"), together=True)]
WHOLE: list[Place] = [("key", 1), ("fob", 1), ("fob", 1)]


def laid(*boards: tuple[list[Place], int, int]) -> Layout:
    """Boards of single parts in a row, with their stack and copies."""
    return Layout(
        boards=tuple(
            BoardLayout(
                id=f"board-{number:02d}",
                board=board(900, 140, count=9),
                placements=tuple(
                    Placement(
                        part=KEY if name == "key" else FOB,
                        item="key rack",
                        unit=unit,
                        transform=Transform(x=10 + 70 * index, y=10),
                    )
                    for index, (name, unit) in enumerate(places)
                ),
                stack=stack,
                copies=copies,
            )
            for number, (places, stack, copies) in enumerate(boards, start=1)
        ),
        gap=6.0,
        edge_margin=2.0,
        seed=1,
    )


def as_unit(number: int) -> list[Place]:
    return [(name, number) for name, _ in WHOLE]


@pytest.mark.parametrize(
    "layout",
    [
        laid((WHOLE, 4, 1)),
        laid((WHOLE, 2, 2)),
        laid((WHOLE, 1, 4)),
        laid((WHOLE + as_unit(3), 2, 1)),
        laid((WHOLE, 3, 1), (as_unit(4), 1, 1)),
        laid(*((as_unit(number), 1, 1) for number in (1, 2, 3, 4))),
    ],
)
def test_whole_units_belong_together_however_they_are_stacked(layout: Layout) -> None:
    assert check_layout(layout, SETS) == ()


@pytest.mark.parametrize(
    ("layout", "message"),
    [
        (  # the parts of two boards of a stack on one board, that of other two on the next
            laid(([("key", 1), ("key", 3)], 2, 1), ([("fob", 1), ("fob", 1), ("fob", 3), ("fob", 3)], 2, 1)),
            "the parts of unit 1 belong together and lie apart: board-01, board-02",
        ),
        (  # whole units by number, but not on each board
            laid(([("key", 1), ("fob", 1)], 4, 1), ([("fob", 1)], 4, 1)),
            "the parts of unit 1 belong together and lie apart: board-01, board-02",
        ),
        (  # right in number over the whole job
            laid(([("key", 1), ("fob", 1), ("fob", 1), ("fob", 1)], 2, 1), ([("key", 3), ("fob", 3)], 2, 1)),
            'unit 1 of item "key rack" belongs together and is not whole here: 3 of part "fob", not 2',
        ),
        (  # numbered by the part, as if each counted for itself
            laid(([("key", 1), ("key", 2), ("fob", 1), ("fob", 1), ("fob", 1), ("fob", 2)], 2, 1)),
            'unit 2 of item "key rack" belongs together and is not whole here: 1 of part "fob", not 2',
        ),
    ],
)
def test_units_torn_apart_are_found_out(layout: Layout, message: str) -> None:
    found = check_layout(layout, SETS)
    assert message in "\n".join(str(problem) for problem in found)
    assert check_layout(layout, [replace(SETS[0], together=False)]) == ()


def test_a_torn_unit_is_one_problem() -> None:
    torn = laid(([*WHOLE, *as_unit(2)[:2]], 1, 1), ([*as_unit(2)[2:], *as_unit(3), *as_unit(4)], 1, 1))
    assert [problem.message for problem in check_layout(torn, SETS)] == [
        "the parts of unit 2 belong together and lie apart: board-01, board-02"
    ]


def test_lines_of_one_name_count_their_units_on() -> None:
    """Two lines of an order with the same name, of which only the second is kept together."""
    first = item(KEY, count=2, name="key rack")
    second = replace(item(KEY, FOB, name="key rack"), together=True)
    places: list[Place] = [("key", 1), ("key", 2), ("key", 3), ("fob", 3)]
    assert check_layout(laid((places, 1, 1)), [first, second]) == ()
    apart = laid((places[1:], 1, 1), (places[:1], 1, 1))
    assert check_layout(apart, [first, second]) == ()
    assert len(check_layout(laid((places[:3], 1, 1), (places[3:], 1, 1)), [first, second])) == 1


def test_without_a_gap_parts_may_touch_but_not_overlap() -> None:
    touching = replace(placed(other=Transform(x=2, y=42)), gap=0.0)
    assert problems(touching) == ""
    assert "lies 0.0000 mm from part" in problems(replace(placed(other=Transform(x=2, y=41.99)), gap=0.0))
    edge = replace(placed(slat=Transform(x=0, y=0)), edge_margin=0.0)
    assert problems(edge) == ""


def test_parts_in_holes_are_no_overlap() -> None:
    disc = part(circle((0, 0), 23.9), "disc", grain="none")
    wish = [*ITEMS, item(disc, name="coaster")]
    inner = Placement(part=disc, item="coaster", unit=1, transform=Transform(x=160, y=70))
    layout = placed()
    within = replace(layout, boards=(replace(layout.boards[0], placements=(*layout.boards[0].placements, inner)),))
    assert check_layout(within, wish) == ()
    shifted = replace(inner, transform=Transform(x=160.2, y=70))
    off = replace(layout, boards=(replace(layout.boards[0], placements=(*layout.boards[0].placements, shifted)),))
    assert "lies 5.8999 mm" in str(check_layout(off, wish)[0])


def test_a_careless_engine_is_never_believed(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = board_groups.layouts_of

    def careless(*given: object) -> tuple[BoardLayout, ...]:
        """All parts at one place."""
        return tuple(
            replace(entry, placements=tuple(replace(p, transform=Transform(x=60, y=60)) for p in entry.placements))
            for entry in plain(*given)  # type: ignore[arg-type]
        )

    monkeypatch.setattr(layout_job, "layouts_of", careless)
    with pytest.raises(LayoutError) as caught:
        sound()
    assert caught.value.exit_code == 1


def test_an_engine_that_lays_nothing_is_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(layout_job, "layouts_of", lambda *_: ())
    with pytest.raises(LayoutError, match="is made 0 times"):
        sound()
