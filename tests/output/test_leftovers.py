"""Leftovers as entries of the next job: read back by the project's own reader they are the same wood, never more."""

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.files.source import parse_source
from cutjob.geometry.contour import circle, polyline, rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.job.read_stock import stock_of
from cutjob.layout.leftovers import Leftover, leftovers_of
from cutjob.layout.sawing import shortened
from cutjob.output.leftovers import entry_of, kept_leftovers, toml_value, write_leftovers
from tests.layout.makers import areas_of, board, dog_eared, ell, kept_out, wedge
from tests.layout.test_leftovers import RULE, laid, layouts

# Three steps of the last decimal, and what a drawn-in corner of a slant loses beyond that.
ROUNDING = {"mm": 0.003 * 5, "in": 0.0003 * 25.4 * 5}

STEP = {"mm": 0.001, "in": 0.0001 * 25.4}


def read_back(leftovers, *, units, title="Spring batch"):
    kept = kept_leftovers(leftovers, title=title, units=units)
    source = parse_source(write_leftovers(kept, title=title, units=units), name="leftovers.toml")
    return [entry.board for entry in stock_of(source).boards]


@given(layouts(), st.sampled_from(["mm", "in"]), st.floats(-3, 3))
@settings(max_examples=80)
def test_written_and_read_they_are_the_same_but_never_larger(layout, units, nudge):
    found = leftovers_of(layout, **(RULE | {"saw_kerf": 3.2 + nudge / 10}))
    wood = to_polygon(layout.board.outline).buffer(1e-6)
    for left, again in zip(found, read_back(found, units=units), strict=True):
        meant, got = to_polygon(left.board.outline), to_polygon(again.outline)
        # The reader moves an outline's box to the origin, which rounding may have drawn in.
        moves = [
            (dx, dy) for dx in (0.0, meant.bounds[2] - got.bounds[2]) for dy in (0.0, meant.bounds[3] - got.bounds[3])
        ]
        placed = [shapely.affinity.translate(got, *move) for move in moves]
        inside = [one for one in placed if meant.buffer(1e-6).covers(one)]
        assert inside
        assert shapely.hausdorff_distance(meant, got) <= ROUNDING[units]
        assert (again.thickness, again.grain, again.material, again.price, again.count) == (
            left.board.thickness,
            left.board.grain,
            left.board.material,
            0.0,
            left.board.count,
        )
        there = shapely.affinity.translate(inside[0], *left.at)
        assert wood.covers(there)
        for placement in layout.placements:
            assert there.distance(placement.polygon) >= RULE["gap"]
        for knot, knot_again in zip(areas_of(left.board), areas_of(again), strict=True):
            shift = inside[0].bounds[:2]
            covered = shapely.affinity.translate(to_polygon(knot_again), *shift)
            # Chords of both circles differ by 0.002 mm, and the corner the frame starts from is known to a step.
            assert covered.buffer(0.003 + STEP[units]).covers(to_polygon(knot))
            assert shapely.hausdorff_distance(covered, to_polygon(knot)) <= ROUNDING[units] + 0.003


def entry(outline, units="mm", **more):
    return entry_of(board(outline=outline, **more), name="rest", units=units)


def test_lengths_are_rounded_down_and_whole_ones_stay():
    made = entry(rectangle(412.7509, 139.69951), count=3)
    assert made == {
        "name": "rest", "length": 412.75, "width": 139.699, "thickness": 16.0, "material": "softwood", "count": 3,
        "price": 0,
    }  # fmt: skip
    assert entry(rectangle(16.25 * 25.4, 5.5 * 25.4), "in")["length"] == 16.25
    assert entry(rectangle(412.7509, 139.7), "in")["length"] == 16.25


def test_a_thickness_is_read_back_as_the_very_same():
    assert entry(rectangle(300, 100), "in", thickness=15.875)["thickness"] == 0.625
    assert entry(rectangle(300, 100), "in", thickness=18.0)["thickness"] == "18.0 mm"


def test_dog_ears_stay_dog_ears_so_that_the_square_end_may_be_sawn_from():
    made = entry(dog_eared(600, 140, 30.0004))
    assert made["corners"] == {"style": "dog-ear", "size": 30.001, "end": "right"}
    [again] = read_back([Leftover(board=board(outline=dog_eared(600, 140, 30)), side="right end")], units="mm")
    assert again.square_end == "left"
    both = polyline([(30, 0), (570, 0), (600, 30), (600, 110), (570, 140), (30, 140), (0, 110), (0, 30)])
    assert entry(both)["corners"]["end"] == "both"


@pytest.mark.parametrize("outline", [wedge(400, 140), ell(400, 400, 100), dog_eared(400, 60, 30)])
def test_any_other_shape_is_an_outline_from_zero_on(outline):
    points = entry(outline)["outline"]
    assert min(x for x, _ in points) == min(y for _, y in points) == 0
    assert shapely.Polygon(points).area == pytest.approx(to_polygon(outline).area, rel=1e-4)


def test_corners_nearer_than_the_decimals_get_more_of_them():
    step = polyline([(0, 0), (300, 0), (300, 60), (299.9998, 60.0002), (299.9998, 100), (0, 100)])
    assert shapely.Polygon(entry(step)["outline"]).is_valid


def test_keep_outs_say_what_they_are():
    on = board(keep_outs=kept_out((circle((30, 40.00049), 8), rectangle(9, 8)), whys=("old nail",)))
    made = entry_of(on, name="rest", units="mm")["keep_out"]
    assert made[0] == {"at": [30.0, 40.0], "radius": 8.001, "why": "old nail"}
    assert "why" not in made[1]
    assert shapely.Polygon(made[1]["outline"]).covers(shapely.box(0, 0, 9, 8))
    # What needs no rounding does not grow from job to job.
    assert (
        entry_of(board(keep_outs=kept_out((circle((30, 40), 8),))), name="rest", units="mm")["keep_out"][0]["radius"]
        == 8.0
    )


def test_a_clamp_is_no_fault_of_the_wood():
    """What stands on a board is gone when the board is off the machine; what is in the wood stays."""
    knots = (circle((100, 40), 8), circle((200, 40), 9), circle((300, 40), 7))
    on = board(keep_outs=kept_out(knots, heights=(30.0,), whys=("clamp", None, "nail")))
    made = entry_of(on, name="rest", units="mm")["keep_out"]
    assert [knot["at"] for knot in made] == [[200.0, 40.0], [300.0, 40.0]]
    assert [knot.get("why") for knot in made] == [None, "nail"]
    assert "keep_out" not in entry_of(
        replace(on, keep_outs=kept_out(knots, heights=(30.0, 2.0, 1.0))), name="rest", units="mm"
    )


def test_clamps_leave_with_the_board_and_heights_stay_with_their_keep_outs():
    knots = (circle((30, 120), 8), circle((550, 40), 9), circle((450, 40), 7), circle((350, 90), 6))
    whys, heights = ("clamp", "clamp", "knot", "strap"), (30.0, 25.0, 0.0, 4.0)
    on = board(600, 140, keep_outs=kept_out(knots, heights=heights, whys=whys), square_end="left")
    [left] = leftovers_of(laid(on, (5, 5, 100, 60)), **RULE)
    assert left.side == "right end"
    entries = kept_leftovers([left], title="Gulls", units="mm")[0].entry
    assert [knot["why"] for knot in entries["keep_out"]] == ["knot"]
    # The first keep-out goes with the piece that is sawn off; the others keep their heights.
    rest = shortened(on, 60.0)
    assert [(one.why, one.height) for one in rest.keep_outs] == list(zip(whys[1:], heights[1:], strict=True))


def names(*leftovers, title="Spring batch"):
    return [kept.name for kept in kept_leftovers(leftovers, title=title, units="mm")]


def test_names_say_where_a_piece_comes_from():
    one = Leftover(board=board(), side="right end", layout="board-02")
    assert names(one) == ["offcut of cedar picket, Spring batch board-02"]
    assert names(one, replace(one, side="left end")) == [
        "offcut of cedar picket, Spring batch board-02 right end",
        "offcut of cedar picket, Spring batch board-02 left end",
    ]
    sawn = replace(one, layout=None, side="sawn")
    assert names(sawn, sawn) == [
        "offcut of cedar picket, Spring batch sawn",
        "offcut of cedar picket, Spring batch sawn (2)",
    ]
    again = replace(one, board=board(name="offcut of cedar picket, Winter batch board-09"))
    assert names(again) == ["offcut of cedar picket, Spring batch board-02"]
    horseshoe = replace(one, side="upper edge")
    assert len(set(names(horseshoe, horseshoe))) == 2
    for long in (names(replace(one, board=board(name="b" * 80)), title="t" * 80), names(one, title="t" * 80)):
        assert len(long[0]) <= 80
        assert long[0].endswith("t board-02")


@given(st.text(st.characters(exclude_characters="\x7f", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40))
def test_any_title_and_name_stay_toml(words):
    assert tomllib.loads(f"a = {toml_value({'b': [words, 1.5, 2]})}") == {"a": {"b": [words, 1.5, 2]}}
    left = Leftover(board=board(name=words), side="right end", layout="board-01")
    kept = kept_leftovers([left], title=words, units="mm")
    data = tomllib.loads(write_leftovers(kept, title=words, units="mm").decode())
    assert data["board"][0]["name"] == kept[0].name


def test_the_file_tells_what_it_is(tmp_path: Path):
    left = leftovers_of(laid(board(600, 140), (5, 5, 100, 60)), **RULE)
    text = write_leftovers(kept_leftovers(left, title="Spring\nbatch", units="in"), title="Spring\nbatch", units="in")
    assert text.decode().splitlines()[0].startswith("# What is left of the boards")
    assert b"# Job: Spring?batch\n" in text
    assert b'units = "in"\n\n[[board]]\n' in text
