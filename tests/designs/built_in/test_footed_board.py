import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate

from cutjob.designs.built_in.footed_board import from_end_cut, heights
from cutjob.geometry.polygons import to_polygon

from ..order import EXACT, INCH, assert_sound, item, only_problem

THICK = 1.25 * INCH


@pytest.mark.parametrize(
    "two",
    [{"foot": "1 1/4", "dado": "1/4"}, {"height": "2 1/4", "dado": "1/4"}, {"height": "2 1/4", "foot": "1 1/4"}, {}],
)
def test_a_known_board_stands_2_1_4_high(two):
    # Common practice, no source: 9 x 14 x 2 1/4 in over all; 1 1/4 + 1 1/4 - 1/4 = 2 1/4, feet 2 to 3 in from the ends.
    built = item("footed-board", thickness=THICK, **two).build
    facts = dict(built.facts)
    assert facts["overall height"] == pytest.approx(2.25 * INCH, abs=EXACT)
    assert facts["height of the feet"] == pytest.approx(1.25 * INCH, abs=EXACT)
    assert facts["depth of the dados"] == pytest.approx(0.25 * INCH, abs=EXACT)
    board, *feet = built.shaped
    assert board.region.bounds == pytest.approx((0, 0, 14 * INCH, 9 * INCH))
    assert [foot.region.bounds for foot in feet] == [pytest.approx((0, 0, 9 * INCH, 1.25 * INCH))] * 2
    first, second = (to_polygon(pocket.region).bounds for pocket in board.pockets)
    assert 2 * INCH <= first[0] <= 3 * INCH
    assert 14 * INCH - second[2] == pytest.approx(first[0], abs=EXACT)
    assert first[2] - first[0] == pytest.approx(THICK + 0.2, abs=EXACT)
    assert all(pocket.depth == pytest.approx(0.25 * INCH, abs=EXACT) for pocket in board.pockets)
    assert_sound(board)


def test_screws_go_through_the_dados_and_are_counterbored_by_hand():
    built = item("footed-board", screws=3).build
    board = built.shaped[0]
    dados = [to_polygon(pocket.region) for pocket in board.pockets]
    assert len(board.holes) == 6
    for hole in board.holes:
        assert any(abs(dado.centroid.x - hole.at[0]) < EXACT for dado in dados)
    assert len(built.hand_holes) == 6
    assert built.hand_holes[0].diameter == 0.5 * INCH
    assert item("footed-board", screws=0).build.hand_holes == ()


def test_all_three_may_be_given_when_they_agree():
    item("footed-board", thickness=THICK, height="2 1/4", foot="1 1/4", dado="1/4")
    problem = only_problem("footed-board", thickness=THICK, height="2 1/2", foot="1 1/4", dado="1/4")
    assert "1 1/4 in + 1 1/4 in - 1/4 in gives 2 1/4 in, not 2 1/2 in" in problem.message


@pytest.mark.parametrize(
    ("changes", "key", "told"),
    [
        ({"height": "2 1/2", "foot": "1"}, "height", "a dado of"),
        ({"dado": "9/16"}, "dado", "17/32 in"),
        ({"foot": "1/4", "dado": "3/16"}, "foot", "is hardly higher than"),
        ({"feet_in": "6 1/2"}, "feet_in", "meet in a board 14 in long"),
        ({"screw": "9/16", "counterbore": "3/4"}, "screw", "split feet"),
        ({"counterbore": "1/4"}, "counterbore", "no wider"),
        ({"counterbore_depth": "1/2"}, "counterbore_depth", "heads and the dado"),
        ({"screws": 19}, "screws", "at most 15"),
        ({"end_cut_length": "11"}, "end_cut_width", "needs a length and a width"),
        ({"end_cut_length": "11", "end_cut_width": "2"}, "end_cut_width", "of the width is left"),
    ],
)
def test_what_cannot_be_made_is_refused_with_what_would_work(changes, key, told):
    problem = only_problem("footed-board", **changes)
    assert problem.place.endswith(f": {key}")
    assert told in str(problem)


def test_the_largest_board_of_an_end_cut():
    # 7 - 1 1/4 - 1/8 = 5 5/8 wide, but two feet of that are longer than 11: (11 - 1/8) / 2 = 5 7/16.
    length, width, strips = from_end_cut(11 * INCH, 7 * INCH, foot=1.25 * INCH, kerf=0.125 * INCH)
    assert (length, strips) == (11 * INCH, 1)
    assert width == pytest.approx(5.4375 * INCH, abs=EXACT)
    # Short and wide: a strip for each, 11 - 2 x 1 3/8 = 8 1/4, no longer than the strip.
    length, width, strips = from_end_cut(9 * INCH, 11 * INCH, foot=1.25 * INCH, kerf=0.125 * INCH)
    assert (length, strips) == (9 * INCH, 2)
    assert width == pytest.approx(8.25 * INCH, abs=EXACT)
    built = item("footed-board", end_cut_length=12, end_cut_width=7, kerf="1/8", feet_in=2).build
    assert built.shaped[0].region.bounds == pytest.approx((0, 0, 12 * INCH, 5.625 * INCH))
    assert dict(built.facts)["both feet beside it, end to end: width"] == 1.25 * INCH


def test_the_gap_and_edge_margin_of_the_job_are_kept_on_an_end_cut():
    sides = {"end_cut_length": 22, "end_cut_width": "7 1/4", "foot": "1 1/4"}
    layout = {"edge_margin": INCH / 8, "gap": INCH / 4}
    # 7 1/4 - 2 x 1/8 - 1/4 - 1 1/4 = 5 1/2; 22 - 2 x 1/8 = 21 3/4.
    board = item("footed-board", **sides, layout=layout).build.shaped[0]
    assert board.region.bounds == pytest.approx((0, 0, 21.75 * INCH, 5.5 * INCH))
    assert item("footed-board", **sides, layout=layout, kerf="1/8", end_cut_margin=0).build.shaped[0] == board
    # What is asked for beyond them: 7 1/4 - 2 x 1/4 - 3/8 - 1 1/4 = 5 1/8.
    wider = item("footed-board", **sides, layout=layout, kerf="3/8", end_cut_margin="1/4").build.shaped[0]
    assert wider.region.bounds == pytest.approx((0, 0, 21.5 * INCH, 5.125 * INCH))
    # The board's sides are such as a rule shows.
    odd = item("footed-board", **sides, layout={"edge_margin": 2.0, "gap": 7.85}).build.shaped[0]
    _, _, long, wide = odd.region.bounds
    assert [side / INCH * 64 % 1 for side in (long, wide)] == pytest.approx([0, 0], abs=1e-9)


def test_an_end_cut_too_narrow_is_told_what_would_do():
    change = {"end_cut_length": 11, "end_cut_width": "2 1/2", "foot": "1 1/4"}
    change |= {"layout": {"edge_margin": 2.0, "gap": 8.0}}
    problem = only_problem("footed-board", **change)
    need = str(problem).split("at least ")[1].split(",")[0].removesuffix(" in")
    item("footed-board", **change | {"end_cut_width": need, "screws": 1})


@settings(max_examples=60, deadline=None)
@given(st.floats(150, 900), st.floats(120, 500), st.floats(15, 50), st.floats(1, 5))
def test_board_feet_and_kerfs_always_fit_the_end_cut(length, width, foot, kerf):
    long, wide, strips = from_end_cut(length, width, foot=foot, kerf=kerf)
    assert long == length
    assert wide + strips * (foot + kerf) <= width + 1e-6
    # What the strips give along their length, against both feet, as long as the board is wide.
    assert (2 * wide + kerf if strips == 1 else wide) <= length + 1e-6


@settings(max_examples=60, deadline=None)
@given(st.floats(8, 60), st.floats(10, 80), st.floats(1, 6))
def test_whichever_is_missing_comes_out_the_same(thick, foot, dado):
    height = thick + foot - dado
    for given_ in ({"foot": None}, {"height": None}, {"dado": None}):
        found = heights(thick, **({"height": height, "foot": foot, "dado": dado} | given_))
        assert found == pytest.approx((height, foot, dado))


def test_as_it_stands_the_feet_fill_the_dados_but_for_the_play():
    built = item("footed-board", play="0.2 mm").build
    *feet, board = built.stands
    assert board.profile is not None
    edge = translate(to_polygon(board.profile), -board.centre, board.foot)
    _, low, _, top = edge.bounds
    assert top - low == pytest.approx(board.thick, abs=EXACT)
    for foot in feet:
        end = translate(to_polygon(foot.outline), -foot.centre, foot.foot)
        assert edge.intersection(end).area == pytest.approx(0, abs=EXACT)
        # It touches the floor of its dado over its whole thickness, with half the play on either side.
        assert end.bounds[3] == pytest.approx(low + dict(built.facts)["depth of the dados"], abs=EXACT)
        assert edge.intersection(translate(end, 0.1 - EXACT)).area == pytest.approx(0, abs=EXACT)
        assert edge.intersection(translate(end, 0.1 + 0.01)).area > 0
        assert edge.intersection(translate(end, 0.0, 1.0)).area == pytest.approx(board.thick, abs=EXACT)


def test_feet_may_come_off_the_saw():
    cut, sawn = (item("footed-board", feet=feet).build for feet in ("cut", "sawn"))
    assert [part.name for part in sawn.shaped] == ["board"]
    assert sawn.shaped[0] == cut.shaped[0]
    for foot, strip in zip(cut.shaped[1:], sawn.sawn, strict=True):
        assert foot.region.bounds == pytest.approx((0, 0, strip.length, strip.width))
    assert cut.sawn == ()
    assert sawn.stands == cut.stands
    problem = only_problem("footed-board", feet="sawn", end_cut_length="14", end_cut_width="9")
    assert problem.place.endswith(": feet")
