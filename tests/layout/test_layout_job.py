from __future__ import annotations

import json
import os
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from cutjob.errors import InputError, Location
from cutjob.geometry.contour import Region, circle, polyline, rectangle
from cutjob.job.stock import Board
from cutjob.layout.check import check_layout
from cutjob.layout.layout import Layout
from cutjob.layout.layout_job import lay_out
from cutjob.layout.search.plan_search import POSITIONS
from cutjob.layout.search.progress import SearchProgress
from cutjob.parts.part import Build, Hole, Item, SawnPart, ShapedPart
from tests.layout.judge import assert_sound, fine
from tests.layout.makers import INCH, board, boards, dog_eared, ell, item, kept_out, part, parts, ring, star, wedge

DATA = Path(os.environ.get("CUTJOB_DATA", Path(__file__).parents[3] / "shared" / "data")) / "nesting"


@pytest.fixture(autouse=True)
def _little_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """These tests ask whether, not how well."""
    monkeypatch.setitem(POSITIONS, "quick", 60_000)


def laid(items: list[Item], stock: list[Board], **more: object) -> Layout:
    options = {
        "gap": 6.0, "edge_margin": 2.0, "stack": 1, "saw_kerf": 3.0, "seed": 1, "effort": "quick"
    }  # fmt: skip
    return lay_out(items, stock, **{**options, **more})  # type: ignore[arg-type]


def reach(layout: Layout, number: int = 0) -> float:
    return max(placement.region.bounds[2] for placement in layout.boards[number].placements)


@settings(
    max_examples=30,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.function_scoped_fixture],
)
@given(parts(), boards(), st.floats(0, 9), st.floats(0, 6), st.integers(1, 3), st.integers(1, 3), st.integers(0, 99))
def test_every_layout_is_sound(
    pieces: tuple[ShapedPart, ...], stock: Board, gap: float, margin: float, count: int, stack: int, seed: int
) -> None:
    wish = [item(*pieces, count=count), item(pieces[0], count=2, name="bird feeder")]
    try:
        found = laid(wish, [stock], gap=gap, edge_margin=margin, stack=stack, seed=seed)
    except InputError:  # a part that fits no board; the message has tests of its own
        assume(False)
    assert check_layout(found, wish) == ()
    assert_sound(found, wish)


@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(parts(), st.integers(0, 99))
def test_the_same_arguments_give_the_same_layout(pieces: tuple[ShapedPart, ...], seed: int) -> None:
    wish, stock = [item(*pieces, count=3)], [board(700, 180, count=30)]
    assert laid(wish, stock, seed=seed, stack=2) == laid(wish, stock, seed=seed, stack=2)


def test_another_seed_may_give_another_layout() -> None:
    pieces = [part(star(5, 20 + 4 * i, 9 + 2 * i), f"star {i}", grain="none") for i in range(7)]
    layouts = {laid([item(*pieces)], [board()], seed=seed).boards[0].placements for seed in range(2)}
    assert len(layouts) > 1


def test_parts_fill_a_board_to_the_last_hundredth() -> None:
    # Three slats, two gaps and two margins are exactly as wide as the board; none may come nearer than asked.
    slat = part(rectangle(300, 40))
    found = laid([item(slat, count=3)], [board(304, 136, count=1)])
    assert_sound(found, [item(slat, count=3)])
    with pytest.raises(InputError, match="1 part is left over"):
        laid([item(slat, count=3)], [board(304, 135.99, count=1)])


def test_a_disc_as_wide_as_the_board_fits() -> None:
    disc = part(circle((0, 0), 68), grain="none")
    found = laid([item(disc)], [board(600, 140)])
    assert reach(found) == pytest.approx(138, abs=0.001)
    with pytest.raises(InputError):
        laid([item(disc)], [board(600, 139.99)])


def test_margins_are_not_undercut_where_there_is_space() -> None:
    found = laid([item(part(rectangle(50, 30)), count=4)], [board()])
    for placement in found.boards[0].placements:
        x0, y0, _, y1 = placement.region.bounds
        assert x0 >= 2.0 - 2e-5  # rounding to whole units
        assert y0 >= 2.0 - 2e-5
        assert y1 <= 138 + 2e-5


def test_small_parts_lie_in_the_holes_of_large_ones() -> None:
    frame = part(ring(65, 50), "wreath", grain="none")
    disc = part(circle((0, 0), 40), "disc", grain="none")
    found = laid([item(frame, disc)], [board(300, 140, count=1)])
    assert reach(found) == pytest.approx(132, abs=0.01)
    assert_sound(found, [item(frame, disc)])


def test_a_hole_too_small_for_part_and_gaps_is_left_alone() -> None:
    frame, disc = part(ring(65, 45.9), "wreath", grain="none"), part(circle((0, 0), 40), "disc", grain="none")
    assert reach(laid([item(frame, disc)], [board(300, 140, count=1)])) > 200


def test_a_wreath_may_lie_round_a_knot_but_no_part_on_it() -> None:
    stock = board(140, 140, count=1, keep_outs=kept_out((circle((70, 70), 10),)), square_end=None)
    wreath = part(ring(67, 30), "wreath", grain="none")
    assert_sound(laid([item(wreath)], [stock]), [item(wreath)])
    with pytest.raises(InputError, match=r"clear of its keep-outs; take a board like"):
        laid([item(part(circle((0, 0), 60), "disc"))], [stock])


@pytest.mark.parametrize("outline", [wedge(500, 150), ell(400, 400, 150), dog_eared(500, 150, 40)])
def test_free_outlines_are_filled_within_their_edges(outline) -> None:  # type: ignore[no-untyped-def]
    pieces = [part(rectangle(60, 45), grain="none"), part(star(5, 30, 13), "star", grain="none")]
    wish = [item(*pieces, count=4)]
    assert_sound(laid(wish, [board(outline=outline, square_end=None)]), wish)


def test_an_arm_exactly_as_wide_as_a_part_is_used() -> None:
    wish = [item(part(rectangle(200, 96)))]
    found = laid(wish, [board(count=1, outline=ell(320, 110, 100), square_end=None)])
    assert_sound(found, wish)


def test_five_parts_at_two_high_take_two_stacked_and_one_single() -> None:
    slat = part(rectangle(180, 60))
    found = laid([item(slat, count=5)], [board(190, 140)], stack=2)
    assert [(entry.stack, entry.copies, len(entry.placements)) for entry in found.boards] == [(2, 1, 2), (1, 1, 1)]
    assert [placement.unit for entry in found.boards for placement in entry.placements] == [1, 3, 5]
    assert [entry.id for entry in found.boards] == ["board-01", "board-02"]


def test_a_stack_is_no_higher_than_the_boards_there_are() -> None:
    found = laid([item(part(rectangle(180, 130)), count=3)], [board(190, 140, count=3)], stack=2)
    assert [(entry.stack, entry.copies) for entry in found.boards] == [(2, 1), (1, 1)]


def test_a_stack_never_takes_more_boards_than_single_ones_would() -> None:
    found = laid([item(part(rectangle(80, 60)), count=4)], [board(190, 140)], stack=4)
    assert [(entry.stack, len(entry.placements)) for entry in found.boards] == [(1, 4)]


def test_equal_boards_are_one_layout_cut_again() -> None:
    found = laid([item(part(rectangle(180, 60)), count=12)], [board(190, 140)])
    assert [(entry.copies, len(entry.placements)) for entry in found.boards] == [(6, 2)]


def test_units_count_pairs_of_equal_parts_and_items_of_one_name() -> None:
    side = part(rectangle(180, 60), "side")
    wish = [item(side, side, count=2), item(side, count=1)]
    found = laid(wish, [board(600, 140)])
    assert sorted(placement.unit for placement in found.boards[0].placements) == [1, 1, 2, 2, 3]


def test_leftovers_come_first_then_the_cheapest_for_its_area() -> None:
    slat = part(rectangle(180, 60))
    stock = [
        board(400, 140, count=1, price=5.0, name="dear plank"),
        board(400, 140, count=1, price=2.0, name="cheap plank"),
        board(190, 140, count=1, price=0.0, name="offcut"),
    ]
    used = [entry.board.name for entry in laid([item(slat, count=8)], stock).boards]
    assert used == ["offcut", "cheap plank", "dear plank"]


def test_the_last_parts_go_on_the_cheapest_board_that_takes_them() -> None:
    slat = part(rectangle(180, 60))
    stock = [board(2000, 140, price=10.0, name="long plank"), board(190, 140, price=2.0, name="short plank")]
    assert [entry.board.name for entry in laid([item(slat, count=2)], stock).boards] == ["short plank"]


def test_a_part_that_fits_one_board_only_is_laid_on_it_before_larger_parts() -> None:
    long_one, slab = part(rectangle(550, 20), "rail"), part(rectangle(180, 125), "slab")
    stock = [board(600, 140, count=1, name="long"), board(190, 140, count=3, name="short", price=9.0)]
    wish = [item(long_one, slab, slab, slab)]
    assert_sound(laid(wish, stock), wish)


def test_parts_with_grain_lie_along_it_and_others_as_they_fit() -> None:
    tall = part(rectangle(60, 150), "post")
    with pytest.raises(InputError, match="allow it to lie across the grain"):
        laid([item(tall)], [board(600, 140)])
    assert laid([item(replace(tall, grain="none"))], [board(600, 140)]).boards[0].placements[0].transform.degrees % 180
    assert laid([item(tall)], [board(600, 140, grain="none")]).boards


def test_mirrored_versions_are_used_where_the_part_allows() -> None:
    hook = polyline([(0, 0), (100, 0), (100, 20), (20, 20), (20, 60), (0, 60)])
    board_ = board(130, 90, outline=polyline([(0, 0), (130, 0), (130, 90), (105, 90), (105, 27), (0, 27)]), count=1)
    wish = replace(board_, square_end=None)
    with pytest.raises(InputError):
        laid([item(part(hook))], [wish])
    found = laid([item(part(hook, may_mirror=True))], [wish])
    assert found.boards[0].placements[0].transform.mirrored


def test_a_part_that_fits_nowhere_is_named_with_the_largest_space_and_what_helps() -> None:
    large = replace(item(part(rectangle(700, 139), "back rail")), location=Location(file="spring.toml", line=9))
    with pytest.raises(InputError) as caught:
        laid([large], [board(600, 140), board(300, 120)])
    assert str(caught.value) == (
        'spring.toml:9: item "porch trellis": part "back rail" is 700 mm x 139 mm and fits no board; the largest space '
        'is 596 mm x 136 mm on board "cedar picket"; add a board of at least 704 mm x 143 mm, or make the part smaller'
    )
    with pytest.raises(InputError, match="make the edge margin smaller"):
        laid([item(part(rectangle(500, 139)))], [board(600, 140)])


def test_all_parts_that_fit_nowhere_are_named_at_once() -> None:
    with pytest.raises(InputError) as caught:
        laid([item(part(rectangle(700, 20), "one"), part(rectangle(20, 700), "two"))], [board()])
    assert len(caught.value.problems) == 2
    with pytest.raises(InputError, match="no board"):
        laid([item(part(rectangle(700, 20), "one"))], [])


def test_when_boards_run_out_the_parts_left_and_the_boards_needed_are_said() -> None:
    with pytest.raises(
        InputError, match=r"2 parts are left over: 2 of part .slat.*add about 2 more of board .cedar"
    ) as caught:
        laid([item(part(rectangle(180, 60)), count=6)], [board(190, 140, count=2)])
    assert len(caught.value.problems) == 1


def test_sawn_parts_come_off_first_and_the_rest_is_laid_on() -> None:
    wish = [item(part(rectangle(180, 60)), count=2, sawn=(SawnPart(name="leg", length=12 * INCH),))]
    stock = [board(72 * INCH, 5.5 * INCH, count=2)]
    found = laid(wish, stock)
    (entry,) = found.boards
    assert entry.board.sawn_off == pytest.approx(2 * (12 * INCH + 3))
    assert [(piece.part, piece.count) for piece in found.sawn] == [("leg", 2)]
    assert found.sawn_from == (("cedar picket", 1),)
    assert_sound(found, wish)


def test_boards_that_are_sawn_up_are_said_to_be() -> None:
    def refusal(sawn: float) -> str:
        wish = [item(part(rectangle(180, 60)), sawn=(SawnPart(name="leg", length=sawn),))]
        with pytest.raises(InputError) as caught:
            laid(wish, [board(400, 140, count=1)])
        (problem,) = caught.value.problems
        return problem.spelled("mm").message

    assert refusal(400.0) == (
        'part "slat" is 180 mm x 60 mm, but the sawn parts use up all boards, so none is left to cut it from'
    )
    # 300 mm and a kerf of 3 mm; of what is left, 97 mm, the margins take 2 mm each.
    assert refusal(300.0).endswith(
        'the largest space is 93 mm x 136 mm on board "cedar picket", of which sawn parts take 303 mm'
    )


def test_items_of_sawn_parts_alone_need_no_layout() -> None:
    found = laid([item(sawn=(SawnPart(name="leg", length=300.0),))], [board()])
    assert (found.boards, len(found.sawn)) == ((), 1)


def graded_pieces() -> tuple[ShapedPart, ...]:
    source = DATA / "one_picket.json"
    if not source.exists():
        pytest.skip(f"{source} is not here")
    data = json.loads(source.read_text())
    return tuple(
        part(Region(polyline([(x * INCH, y * INCH) for x, y in entry["outline"]])), entry["id"])
        for entry in data["parts"]
        for _ in range(entry["count"])
    )


def test_ten_arches_and_a_topper_fit_a_picket_within_fifty_inches() -> None:
    # A strip-packing library needs 43 to 44 in at this gap; 50 in is what one picket must leave free of its dog-ears.
    wish = [item(*graded_pieces())]
    stock = [board(72 * INCH, 5.5 * INCH, count=1)]
    found = laid(wish, stock, gap=INCH / 4, edge_margin=0.0)
    assert_sound(found, wish)
    assert reach(found) <= 50 * INCH
    assert sum(fine(p.region).area for p in found.boards[0].placements) < reach(found) * 5.5 * INCH


def test_parts_with_holes_that_stop_partway_are_never_stacked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(POSITIONS, "quick", 2_500_000)
    socket = ShapedPart(
        name="topper", region=Region(circle((0.0, 0.0), 30.0)), holes=(Hole(at=(0.0, 0.0), diameter=9.0, depth=12.0),)
    )
    plain = ShapedPart(name="disc", region=Region(circle((0.0, 0.0), 30.0)))
    build = Build(shaped=(socket, plain))
    items = [Item(name="spinner", design="round", size="small", count=24, build=build)]
    layout = laid(items, [board(400, 140, count=20)], stack=2)
    heights = {(placement.part.name, one.stack) for one in layout.boards for placement in one.placements}
    assert ("topper", 2) not in heights
    assert ("topper", 1) in heights
    assert ("disc", 2) in heights


def test_units_kept_together_lie_on_one_board_each() -> None:
    pieces = [part(rectangle(180, 60), "side"), part(rectangle(120, 50), "rung"), part(star(5, 30, 13), "star")]
    wish = [replace(item(*pieces, pieces[1], count=5), together=True), item(pieces[0], count=3, name="bird feeder")]
    found = laid(wish, [board(400, 140)], stack=2)
    assert check_layout(found, wish) == ()
    where: dict[int, set[str]] = {}
    for entry in found.boards:
        for placement in entry.placements:
            if placement.item == "porch trellis":
                where.setdefault(placement.unit, set()).add(entry.id)
    assert where
    assert all(len(ids) == 1 for ids in where.values())


class _AtOnce(Executor):
    """Does each task at once, in the thread that asks for it."""

    def submit(self, fn, /, *args, **kwargs):  # type: ignore[no-untyped-def]
        future: Future[object] = Future()
        future.set_result(fn(*args, **kwargs))
        return future


def test_any_executor_gives_the_same_layout() -> None:
    pieces = [part(star(5, 20 + 4 * i, 9 + 2 * i), f"star {i}", grain="none") for i in range(5)]
    wish, stock = [item(*pieces, count=4)], [board(500, 140)]
    with ThreadPoolExecutor(3) as threads:
        assert laid(wish, stock, executor=threads) == laid(wish, stock, executor=_AtOnce()) == laid(wish, stock)


def test_a_search_told_to_stop_keeps_a_whole_layout() -> None:
    told: list[SearchProgress] = []

    class Impatient:
        stop = property(lambda self: bool(told) and told[-1].boards > 0)

        def tell(self, standing: SearchProgress) -> None:
            told.append(standing)

    wish = [item(part(ell(90, 60, 20), "bracket"), part(rectangle(80, 30)), count=8)]
    found = laid(wish, [board(400, 140)], watch=Impatient())
    assert_sound(found, wish)
    assert told[0].what.startswith("getting the layout engine ready")
    assert all(0 <= standing.done <= 1 and 0 <= standing.yield_ <= 1 for standing in told)


def test_seconds_end_the_search() -> None:
    wish = [item(part(ell(90, 60, 20), "bracket"), part(rectangle(80, 30)), count=8)]
    assert_sound(laid(wish, [board(400, 140)], seconds=0.3), wish)


@pytest.mark.parametrize("length", [300, 420, 560, 700])
def test_a_longer_board_never_takes_more_of_them(length: int) -> None:
    wish = [item(part(ell(90, 60, 20), "bracket"), part(star(5, 32, 14), "star"), part(rectangle(120, 40)), count=6)]
    numbers = [
        sum(entry.stack * entry.copies for entry in laid(wish, [board(size, 140, count=40)]).boards)
        for size in (length, length * 1.2)
    ]
    assert numbers[1] <= numbers[0]


def test_no_part_lies_longer_along_the_board_than_its_window() -> None:
    """A free part of 180 x 60 on a board 200 mm wide: only some turns are short enough for a bed of 150."""
    free = part(rectangle(180, 60), grain="none")
    layout = laid([item(free, count=5)], [board(1500, 200)], longest=150.0)
    for placement in layout.boards[0].placements:
        x0, _, x1, _ = placement.region.bounds
        assert x1 - x0 <= 150.0 + 0.01
    with pytest.raises(InputError, match="of which 150 mm lie on the machine's bed at one time"):
        laid([item(part(rectangle(180, 60)))], [board(1500, 200)], longest=150.0)


def test_of_boards_to_be_stacked_each_gives_a_sawn_piece_rather_than_a_third_be_bought() -> None:
    """Two pieces of 100 mm off one board of 300 leave no room for a slat; one off each of two leaves 197 mm on both."""
    wish = [
        item(part(rectangle(180, 130)), name="slats", count=2),
        item(name="bases", count=2, sawn=(SawnPart(name="base", length=100.0),)),
    ]
    found = laid(wish, [board(300, 140, count=3)], stack=2)
    assert [(entry.stack, entry.copies) for entry in found.boards] == [(2, 1)]
    assert [count for _, count in found.sawn_from] == [2]
    assert [(one.count, len(one.cuts)) for one in found.saw_order] == [(2, 1)]
    assert [rest.length for rest in (entry.board for entry in found.boards)] == [pytest.approx(197.0)]


def test_boards_with_equal_parts_are_one_layout_whosever_the_parts_are() -> None:
    slat = part(rectangle(280, 120))
    wish = [item(slat, count=2, name="trellis"), item(replace(slat, name="rung"), count=2, name="perch")]
    found = laid(wish, [board()])
    assert [(entry.copies, len(entry.placements)) for entry in found.boards] == [(2, 2)]
    assert sorted(one.item for one in found.boards[0].placements) == ["perch", "trellis"]
    assert_sound(found, wish)


def test_a_leftover_asked_for_first_may_take_more_layouts() -> None:
    # Two and two on three boards' worth of wood: as one layout made twice, or with all the wood left on one board.
    wish = [item(part(rectangle(180, 130)), count=4)]
    assert [entry.copies for entry in laid(wish, [board()]).boards] == [2]
    found = laid(wish, [board()], prefer=("cost", "leftover"))
    assert sorted(len(entry.placements) for entry in found.boards) == [1, 3]


def spread(layout: Layout) -> list[float]:
    """How far the parts of each board reach along it."""
    return [
        max(one.region.bounds[2] for one in entry.placements) - min(one.region.bounds[0] for one in entry.placements)
        for entry in layout.boards
    ]


def test_no_board_is_slid_where_few_runs_come_first_and_another_board_is_there() -> None:
    wish = [item(part(rectangle(90, 130)), count=5)]
    (slid,) = spread(laid(wish, [board()], longest=400.0))
    assert slid > 400
    for found in (laid(wish, [board()], longest=400.0, prefer=("cut",)), laid(wish, [board()], longest=480.0)):
        assert max(spread(found)) <= 480
        assert_sound(found, wish)
    beside = laid(wish, [board()], longest=400.0, prefer=("cut",))
    assert len(spread(beside)) == 2
    assert max(spread(beside)) <= 400
    # With one board only it is slid all the same.
    assert len(spread(laid(wish, [board(count=1)], longest=400.0, prefer=("cut",)))) == 1
