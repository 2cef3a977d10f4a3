from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.errors import InputError, Location
from cutjob.geometry.contour import circle, polyline
from cutjob.geometry.polygons import to_polygon
from cutjob.job.stock import Board
from cutjob.layout.sawing import Sawing, saw_off
from cutjob.parts.part import SawnPart
from tests.layout.makers import INCH, board, dog_eared, item, kept_out

KERF = INCH / 8


def legs(*inches: float, count: int = 1) -> list:  # type: ignore[type-arg]
    return [item(count=count, sawn=tuple(SawnPart(name=f"leg {i}", length=x * INCH) for i, x in enumerate(inches)))]


def picket(**more: object) -> Board:
    return board(72 * INCH, 5.5 * INCH, **{"count": 1, **more})  # type: ignore[arg-type]


def left_over(sawing: Sawing) -> Board:
    (rest,) = sawing.boards
    return rest


def test_two_pieces_and_their_kerfs_come_off_the_square_end() -> None:
    sawing = saw_off(legs(12, 8), [picket()], saw_kerf=KERF)
    rest = left_over(sawing)
    assert rest.length == pytest.approx(51.75 * INCH)  # 72 - 12 1/8 - 8 1/8
    assert rest.sawn_off == pytest.approx(20.25 * INCH)
    assert (rest.count, rest.width) == (1, pytest.approx(5.5 * INCH))
    assert [(piece.length, piece.count, piece.board) for piece in sawing.pieces] == [
        (pytest.approx(12 * INCH), 1, "cedar picket"),
        (pytest.approx(8 * INCH), 1, "cedar picket"),
    ]
    assert (sawing.pieces[0].width, sawing.pieces[0].thickness) == (pytest.approx(5.5 * INCH), 16.0)
    assert sawing.sawn_from == (("cedar picket", 1),)


def test_a_dog_ear_at_the_far_end_stays_on_the_rest() -> None:
    eared = picket(outline=dog_eared(72 * INCH, 5.5 * INCH, 1.25 * INCH))
    rest = left_over(saw_off(legs(12), [eared], saw_kerf=KERF))
    removed = to_polygon(eared.outline).area - to_polygon(rest.outline).area
    assert removed == pytest.approx(12.125 * INCH * 5.5 * INCH)
    assert rest.outline.bounds[:2] == (pytest.approx(0), pytest.approx(0))
    assert min(abs(segment.start[0] - rest.length) for segment in rest.outline.segments) < 1e-6


def test_pieces_off_the_right_end_leave_the_frame_where_it_was() -> None:
    knot = circle((20 * INCH, 50), 10)
    rest = left_over(saw_off(legs(12), [picket(square_end="right", keep_outs=kept_out((knot,)))], saw_kerf=KERF))
    assert rest.length == pytest.approx(59.875 * INCH)
    assert rest.keep_outs[0].area.bounds == pytest.approx(knot.bounds)


def test_keep_outs_move_with_the_frame_when_the_left_end_is_sawn() -> None:
    knot = circle((30 * INCH, 50), 10)
    rest = left_over(saw_off(legs(12), [picket(keep_outs=kept_out((knot,)))], saw_kerf=KERF))
    assert rest.keep_outs[0].area.bounds[0] == pytest.approx(30 * INCH - 10 - 12.125 * INCH)


def test_ears_at_both_ends_are_trimmed_first() -> None:
    ear = 1.25 * INCH
    length, width = 72 * INCH, 5.5 * INCH
    points = [(ear, 0), (length - ear, 0), (length, ear), (length, width - ear), (length - ear, width), (ear, width)]
    eared = picket(outline=polyline([*points, (0, width - ear), (0, ear)]), ear=ear)
    rest = left_over(saw_off(legs(12), [eared], saw_kerf=KERF))
    assert rest.sawn_off == pytest.approx((1.25 + 0.125 + 12 + 0.125) * INCH)
    assert rest.ear == 0
    assert min(x for x, y in (segment.start for segment in rest.outline.segments) if y < 1e-6) == pytest.approx(0)


def test_no_piece_takes_in_a_knot_nor_is_the_saw_led_through_it() -> None:
    knot = circle((10 * INCH, 50), INCH)  # 9 to 11 in
    rest = left_over(saw_off(legs(12), [picket(keep_outs=kept_out((knot,)))], saw_kerf=KERF))
    assert rest.sawn_off == pytest.approx((11 + 0.125 + 12 + 0.125) * INCH)
    assert rest.keep_outs == ()
    # A piece of 9 in would need its kerf where the knot starts; 8 7/8 in just fits before it.
    before = left_over(saw_off(legs(8.875), [picket(keep_outs=kept_out((knot,)))], saw_kerf=KERF))
    assert before.sawn_off == pytest.approx(9 * INCH)
    beyond = left_over(saw_off(legs(9), [picket(keep_outs=kept_out((knot,)))], saw_kerf=KERF))
    assert beyond.sawn_off == pytest.approx((11 + 0.125 + 9 + 0.125) * INCH)


def test_short_pieces_use_the_wood_before_a_knot_that_a_long_one_skipped() -> None:
    knot = circle((10 * INCH, 50), INCH)
    rest = left_over(saw_off(legs(12, 8), [picket(keep_outs=kept_out((knot,)))], saw_kerf=KERF))
    assert rest.sawn_off == pytest.approx(23.25 * INCH)


def test_another_board_is_taken_rather_than_wood_lost_before_a_knot() -> None:
    knotty = picket(keep_outs=kept_out((circle((10 * INCH, 50), INCH),)))
    clear = replace(picket(), name="clear picket")
    sawing = saw_off(legs(12), [knotty, clear], saw_kerf=KERF)
    assert [piece.board for piece in sawing.pieces] == ["clear picket"]
    assert sawing.boards[0] == knotty


def test_the_board_left_with_least_is_taken_and_few_are_begun() -> None:
    short = replace(board(13 * INCH, 5.5 * INCH, count=1), name="end cut", price=0.0)
    sawing = saw_off(legs(12, count=5), [picket(count=9), short], saw_kerf=KERF)
    assert {(piece.board, piece.count) for piece in sawing.pieces} == {("end cut", 1), ("cedar picket", 4)}
    assert sawing.sawn_from == (("cedar picket", 1), ("end cut", 1))
    assert [rest.count for rest in sawing.boards if rest.name == "cedar picket"] == [8, 1]


def test_equal_sawn_boards_are_counted_together() -> None:
    sawing = saw_off(legs(40, count=3), [picket(count=4)], saw_kerf=KERF)
    assert [(rest.count, rest.sawn_off > 0) for rest in sawing.boards] == [(1, False), (3, True)]


def test_a_piece_as_long_as_a_square_board_needs_no_kerf() -> None:
    assert saw_off(legs(72), [picket()], saw_kerf=KERF).boards == ()
    with pytest.raises(InputError):
        saw_off(legs(72), [picket(outline=dog_eared(72 * INCH, 5.5 * INCH, 10))], saw_kerf=KERF)


def test_what_does_not_fit_is_said_with_its_length_and_the_longest_there_is() -> None:
    wish = [replace(legs(80)[0], location=Location(file="spring.toml", line=7))]
    with pytest.raises(InputError) as caught:
        saw_off(wish, [picket(outline=dog_eared(72 * INCH, 5.5 * INCH, INCH))], saw_kerf=KERF)
    assert str(caught.value.spelled("in")) == (
        'spring.toml:7: item "porch trellis": part "leg 0" is sawn 80 in long, but the longest piece left '
        "clear of keep-outs is 70 7/8 in; add a straight board with at least 80 1/8 in (length and saw kerf) clear "
        "from its square end"
    )


def test_boards_of_free_outline_give_no_sawn_parts() -> None:
    with pytest.raises(InputError, match="no board has a square end"):
        saw_off(legs(12), [picket(square_end=None)], saw_kerf=KERF)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(40, 500), min_size=1, max_size=8),
    st.lists(st.tuples(st.floats(0, 1), st.floats(2, 30)), max_size=3),
    st.sampled_from(["left", "right"]),
    st.integers(1, 3),
)
def test_wood_is_accounted_for(lengths: list[float], knots: list[tuple[float, float]], end: str, count: int) -> None:
    stock = board(
        1800, 140, count=30, keep_outs=kept_out(tuple(circle((x * 1800, 70), r) for x, r in knots)), square_end=end
    )
    wish = [item(count=count, sawn=tuple(SawnPart(name=f"leg {i}", length=x) for i, x in enumerate(lengths)))]
    sawing = saw_off(wish, [stock], saw_kerf=3.0)
    assert sum(piece.count for piece in sawing.pieces) == count * len(lengths)
    needed = count * sum(length + 3.0 for length in lengths)
    gone = sum(1800 - rest.length for rest in sawing.boards for _ in range(rest.count) if rest.sawn_off)
    used = sum(number for _, number in sawing.sawn_from)
    gone += 1800 * (used - sum(rest.count for rest in sawing.boards if rest.sawn_off))
    assert gone >= needed - 3.0 * used - 1e-6
    if not knots:
        assert gone <= needed + 1e-6
    assert sawing == saw_off(wish, [stock], saw_kerf=3.0)
    # The order has every piece once, none over a knot, each a kerf beyond the one before.
    made = sorted(cut.length for one in sawing.order for cut in one.cuts for _ in range(one.count))
    assert made == sorted(lengths * count)
    spans = [
        (x * 1800 - r, x * 1800 + r) if end == "left" else (1800 - x * 1800 - r, 1800 - x * 1800 + r) for x, r in knots
    ]
    for one in sawing.order:
        assert one.end == end
        reached = -3.0
        for cut in one.cuts:
            assert cut.at - reached == pytest.approx(3.0 + (cut.waste + 3.0 if cut.waste else 0.0))
            reached = cut.at + cut.length
            assert reached <= 1800 + 1e-6
            assert all(cut.at >= high - 1e-6 or reached <= low + 1e-6 for low, high in spans)


def test_the_order_is_from_the_square_end_the_longest_first() -> None:
    sawing = saw_off(legs(8, 12, 10, count=2), [picket(count=3)], saw_kerf=KERF)
    for one in sawing.order:
        lengths = [cut.length for cut in one.cuts]
        assert lengths == sorted(lengths, reverse=True)
        assert (one.board, one.end) == ("cedar picket", "left")
        # Each begins a kerf after the last one's end, with nothing lost between.
        ends = [0.0, *(cut.at + cut.length + KERF for cut in one.cuts)]
        assert [cut.at for cut in one.cuts] == pytest.approx(ends[:-1])
        assert {cut.waste for cut in one.cuts} == {0.0}
    # All that was asked for, once, and as many boards as were sawn.
    made = sorted(cut.length / INCH for one in sawing.order for cut in one.cuts for _ in range(one.count))
    assert made == pytest.approx([8, 8, 10, 10, 12, 12])
    assert sum(one.count for one in sawing.order) == dict(sawing.sawn_from)["cedar picket"]


def test_what_is_wasted_before_a_piece_is_said() -> None:
    knot = circle((13.5 * INCH, 2.0 * INCH), 1.0 * INCH)  # from 12 1/2 to 14 1/2
    (board_,) = saw_off(legs(12, 8), [picket(keep_outs=kept_out((knot,)))], saw_kerf=KERF).order
    first, second = board_.cuts
    assert (first.length, first.at, first.waste) == (pytest.approx(12 * INCH), 0.0, 0.0)
    # A cut just beyond the knot, at 14 1/2: from 12 1/8 on 2 3/8 are lost.
    assert second.at == pytest.approx(14.625 * INCH)
    assert second.waste == pytest.approx(2.375 * INCH)


def test_equal_boards_are_sawn_alike() -> None:
    (one,) = saw_off(legs(40, 20, count=3), [picket(count=3)], saw_kerf=KERF).order
    assert (one.count, [cut.part for cut in one.cuts]) == (3, ["leg 0", "leg 1"])


def feet(*widths: float, length: float = 9.0, count: int = 1) -> list:  # type: ignore[type-arg]
    parts = tuple(SawnPart(name=f"foot {i}", length=length * INCH, width=x * INCH) for i, x in enumerate(widths))
    return [item(count=count, sawn=parts)]


def test_narrow_pieces_are_ripped_out_of_one_blank() -> None:
    sawing = saw_off(feet(1.25, 1.25), [picket()], saw_kerf=KERF)
    assert left_over(sawing).sawn_off == pytest.approx(9.125 * INCH)
    assert [(piece.width, piece.length, piece.count) for piece in sawing.pieces] == [
        (pytest.approx(1.25 * INCH), pytest.approx(9 * INCH), 1)
    ] * 2
    ((cut,),) = [one.cuts for one in sawing.order]
    assert [(part, width) for _, part, width in cut.rips] == [("foot 0", 1.25 * INCH), ("foot 1", 1.25 * INCH)]


@pytest.mark.parametrize(("width", "blanks"), [(1.25, 2), (1.28, 2), (1.29, 3), (2.6875, 4), (2.7, 7), (5.5, 7)])
def test_a_blank_gives_as_many_as_its_width_holds(width: float, blanks: int) -> None:
    # n widths and n - 1 kerfs of 1/8 in 5 1/2: four up to (5 1/2 - 3/8) / 4 = 1.28125, two up to 2.6875.
    sawing = saw_off(feet(width, count=7), [picket(count=3)], saw_kerf=KERF)
    cuts = [cut for one in sawing.order for cut in one.cuts for _ in range(one.count)]
    assert len(cuts) == blanks
    assert sum(len(cut.rips) for cut in cuts) == 7
    for cut in cuts:
        assert sum(w for _, _, w in cut.rips) + KERF * (len(cut.rips) - 1) <= 5.5 * INCH + 1e-9


def test_what_is_wider_than_every_board_can_not_be_ripped() -> None:
    with pytest.raises(InputError, match=r"no board with a square end is 152\.4 mm wide"):
        saw_off(feet(6.0), [picket()], saw_kerf=KERF)


def ripped(*sizes: tuple[float, float]) -> list:  # type: ignore[type-arg]
    parts = tuple(SawnPart(name=f"foot {i}", length=long, width=wide) for i, (long, wide) in enumerate(sizes))
    return [item(count=1, sawn=parts)]


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("narrow_length", "wide_length"),
    # Equal ones, and the wide one the shorter, of which less would be left.
    [(125.0, 125.0), (160.0, 125.0), (125.0, 160.0)],
)
def test_a_narrow_piece_leaves_the_wide_board_to_a_wide_one(
    turned: bool, narrow_length: float, wide_length: float
) -> None:
    boards = [board(narrow_length, 80, count=1, name="narrow"), board(wide_length, 200, count=1, name="wide")]
    sawing = saw_off(ripped((120, 28), (110, 88)), boards[::-1] if turned else boards, saw_kerf=3.0)
    assert {(piece.length, piece.board) for piece in sawing.pieces} == {(120, "narrow"), (110, "wide")}


def test_pieces_of_whole_width_leave_the_wide_board_to_one_that_is_ripped() -> None:
    wish = [*legs(5), *ripped((110, 88))]
    boards = [board(130, 200, count=1, name="wide"), board(160, 80, count=1, name="narrow")]
    sawing = saw_off(wish, boards, saw_kerf=3.0)
    assert {(piece.part, piece.board) for piece in sawing.pieces} == {("leg 0", "narrow"), ("foot 0", "wide")}


def test_the_longest_there_is_is_told_of_boards_wide_enough() -> None:
    boards = [board(500, 80, count=1, name="narrow"), board(100, 200, count=1, name="wide")]
    with pytest.raises(InputError) as caught:
        saw_off(ripped((110, 88)), boards, saw_kerf=3.0)
    assert str(caught.value).endswith(
        "but the longest piece 88 mm wide left clear of keep-outs is 100 mm; add a straight board with at "
        "least 113 mm (length and saw kerf) clear from its square end, 88 mm wide or wider"
    )


def test_what_lies_before_a_piece_is_cut_off_for_a_keep_out_or_to_square_the_end() -> None:
    knot = circle((30, 60), 20)
    (beyond,) = saw_off(legs(12), [picket(keep_outs=kept_out((knot,)))], saw_kerf=KERF).order
    assert [(cut.waste > 0, cut.past_keep_out) for cut in beyond.cuts] == [(True, True)]
    ear = 1.25 * INCH
    both_ends = polyline(
        [(ear, 0), (72 * INCH, 0), (72 * INCH, 5.5 * INCH), (ear, 5.5 * INCH), (0, 5.5 * INCH - ear), (0, ear)]
    )
    (squared,) = saw_off(legs(12), [picket(outline=both_ends, ear=ear)], saw_kerf=KERF).order
    assert [(cut.waste > 0, cut.past_keep_out) for cut in squared.cuts] == [(True, False)]


def test_a_piece_comes_off_the_cheapest_board_that_is_wide_enough() -> None:
    """A base 7 in wide is not sawn off the glued panel while a cheaper board is as wide."""
    panel = replace(board(48 * INCH, 16 * INCH, count=1), name="glued panel", price=40.0)
    plank = replace(board(60 * INCH, 7.25 * INCH, count=1), name="plank", price=12.0)
    boards = [panel, picket(price=3.4), plank]
    base = [item(sawn=(SawnPart(name="base", length=7 * INCH, width=7 * INCH),))]
    (piece,) = saw_off(base, boards, saw_kerf=KERF).pieces
    assert (piece.board, piece.width) == ("plank", pytest.approx(7 * INCH))
    # Without a width of its own it comes off the cheapest of all.
    (piece,) = saw_off(legs(7), boards, saw_kerf=KERF).pieces
    assert (piece.board, piece.width) == ("cedar picket", pytest.approx(5.5 * INCH))


def test_where_nothing_has_a_price_the_least_wood_is_taken() -> None:
    panel = replace(board(48 * INCH, 16 * INCH, count=1), name="glued panel", price=0.0)
    (piece,) = saw_off(legs(7), [panel, picket(price=0.0)], saw_kerf=KERF).pieces
    assert piece.board == "cedar picket"


def test_a_job_names_the_board() -> None:
    panel = replace(board(48 * INCH, 16 * INCH, count=1), name="glued panel", price=40.0)
    (wish,) = legs(7)
    named = [replace(wish, sawn_from="glued panel"), replace(wish, name="other")]
    sawing = saw_off(named, [panel, picket(price=3.4)], saw_kerf=KERF)
    assert {(piece.item, piece.board) for piece in sawing.pieces} == {
        (wish.name, "glued panel"),
        ("other", "cedar picket"),
    }
    with pytest.raises(InputError, match="cedar picket"):
        saw_off([replace(legs(80)[0], sawn_from="cedar picket")], [panel, picket()], saw_kerf=KERF)


def test_what_is_ripped_out_of_a_blank_comes_off_its_own_board_too() -> None:
    panel = replace(board(48 * INCH, 16 * INCH, count=1), name="glued panel", price=40.0)
    (first,) = ripped((7 * INCH, 2 * INCH))
    sawing = saw_off(
        [replace(first, sawn_from="glued panel"), replace(first, name="other", sawn_from="cedar picket")],
        [panel, picket(price=3.4)],
        saw_kerf=KERF,
    )
    assert {(piece.item, piece.board) for piece in sawing.pieces} == {
        (first.name, "glued panel"),
        ("other", "cedar picket"),
    }
