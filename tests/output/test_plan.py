import json
import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from cutjob.job.read_stock import LeftAside
from cutjob.layout.leftovers import leftovers_of
from cutjob.output.leftover_boards import kept_leftovers
from cutjob.output.plan import DrawingFile, plan_of, write_plan
from tests.output.samples import items, layout, machine, picket, program, whole_layout

PROOF = {"passed": True, "worst_gouge_mm": 0.001234567, "worst_left_mm": 0.0}


def plan(**changes):
    given_ = {
        "title": "Spring market, first batch",
        "units": "in",
        "machine": machine(),
        "items": items(),
        "layout": whole_layout(stack=2, copies=3),
        "stock": [picket()],
        "programs": [program()],
        "drawings": [DrawingFile(file="board-01.dxf", board="board-01", offset=0.1)],
        "warnings": ["measure the stock"],
        "proof": PROOF,
    }
    return plan_of(**(given_ | changes))


def test_shape_of_the_published_plan():
    made = json.loads(write_plan(plan()))
    assert " ".join(made) == (
        "schema title units machine seed search files boards sawn leftovers left_aside rods bought hand_holes "
        "items boards_used yield cost warnings cautions proof"
    )
    assert made["schema"] == "cutjob-plan/1"
    [board] = made["boards"]
    assert list(board) == ["id", "stock", "material", "thickness", "stack", "copies", "sawn_off", "outline", "keep_out",
                           "placements", "programs", "drawings"]  # fmt: skip
    assert (board["stock"], board["stack"], board["copies"]) == ("cedar picket", 2, 3)
    placement = board["placements"][0]
    assert list(placement) == ["part", "item", "unit", "rotation", "mirrored", "at", "outline", "holes", "features"]
    assert [feature["op"] for feature in placement["features"]] == ["drill", "bore", "mark"]
    assert [feature["depth"] for feature in placement["features"]] == [None, 6.0, 0.5]
    assert set(placement["features"][2]) == {"op", "depth", "path"}
    [made_program] = board["programs"]
    assert made_program == {
        "file": "board-01.nc",
        "window": None,
        "cutter": {"number": 2, "diameter": 3.175, "name": "straight bit"},
        "origin": [0.0, 0.0],
        "z_zero": "stock top",
        "seconds": 41.25,
        "cut_mm": 700.125,
        "air_mm": 120.5,
        "tabs": [
            {"placement": 0, "at": [120.0, 30.0], "width": 6.0, "height": 3.0},
            {"placement": 0, "at": [210.0, 60.0], "width": 6.0, "height": 3.0},
        ],
    }
    assert board["drawings"] == [{"file": "board-01.dxf", "offset": 0.1}]
    assert made["proof"] == {"passed": True, "worst_gouge_mm": 0.001235, "worst_left_mm": 0.0}


def test_lists_for_the_whole_order():
    made = plan()
    assert made["rods"] == [
        {"item": "porch name tag", "part": "post", "diameter": 9.525, "length": 300.0, "count": 3, "note": ""}
    ]
    assert made["bought"] == [{"name": "cup hook", "count": 7}]
    assert made["hand_holes"][0]["count"] == 3
    assert made["items"][0]["facts"] == {"height": 180.0}
    assert made["sawn"][0]["part"] == "leg"
    # Two at a time, three times, and one that only gave legs.
    assert made["cost"] == pytest.approx(7 * 3.4, abs=1e-6)
    assert made["boards_used"] == [{"board": "cedar picket", "count": 7, "price": 3.4}]
    assert [item["together"] for item in made["items"]] == [False, False]


def test_how_the_layout_was_searched_for():
    assert plan()["search"] is None
    asked = {"seed": 3, "seconds": 40.0, "stopped": False, "clock_decided": True}
    assert plan(search=asked)["search"] == asked


def test_outlines_stand_for_the_true_contours():
    board = layout()
    placements = plan()["boards"][0]["placements"]
    for made, placement in zip(placements, board.placements, strict=True):
        ring = shapely.LinearRing(made["outline"])
        assert ring.is_ccw
        contour = placement.region.outline
        for segment in contour.segments:
            for number in range(101):
                # 0.002 mm is what the plan promises.
                assert ring.distance(shapely.Point(segment.point_at(number / 100))) <= 0.002
        [hole] = made["holes"]
        assert not shapely.LinearRing(hole).is_ccw
        exact = math.pi * 10.0**2
        assert exact * (1 - 2 * 0.002 / 10) <= shapely.Polygon(hole).area <= exact
        moved = placement.transform.point(placement.part.holes[1].at)
        assert made["features"][1]["at"] == pytest.approx(moved, abs=1e-6)


def test_yield_is_area_of_parts_over_boards():
    # A slot 120 long and 60 wide with round ends, less a hole of radius 10; a picket 72 x 5 1/2 less two 1 1/4 ears.
    part = 120 * 60 + math.pi * 30**2 - math.pi * 10**2
    board = 1828.8 * 139.7 - 31.75**2
    legs = 2 * 200 * 139.7
    assert plan()["yield"] == pytest.approx((6 * 4 * part + legs) / (7 * board), abs=1e-6)


def test_without_programs_or_proof():
    made = plan(programs=(), drawings=(), proof=None, warnings=())
    assert made["proof"] is None
    assert made["boards"][0]["programs"] == []
    assert json.loads(write_plan(made)) == made


def test_the_same_bytes_twice_and_no_minus_zero():
    data = write_plan(plan())
    assert data == write_plan(plan())
    assert b"-0.0," not in data
    assert b"NaN" not in data
    assert data.endswith(b"}\n")


def test_numbers_that_are_none_are_refused():
    with pytest.raises(ValueError, match="can't be written"):
        plan(proof=PROOF | {"worst_gouge_mm": math.nan})


def test_half_a_surrogate_pair_is_escaped():
    # A file name the system could not decode comes as a lone surrogate, which UTF-8 can't hold but JSON can escape.
    assert json.loads(write_plan({"file": "board-\udce9.nc"})) == {"file": "board-\udce9.nc"}


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(st.dictionaries(st.text(), json_values, max_size=4))
def test_any_data_survives_being_written(value):
    assert json.loads(write_plan(value)) == value


def test_leftovers_say_where_they_lie_and_stock_left_aside_why():
    left = leftovers_of(layout(), gap=6.0, edge_margin=3.0, saw_kerf=3.2, least=(150.0, 50.0))
    kept = kept_leftovers(left, title="Gulls", units="in")
    aside = [LeftAside(board="thin larch", file="shed.toml", why="9 mm thick")]
    made = json.loads(write_plan(plan(leftovers=kept, left_aside=aside)))
    assert made["left_aside"] == [{"board": "thin larch", "file": "shed.toml", "why": "9 mm thick"}]
    assert len(made["leftovers"]) == len(left) > 0
    wood = shapely.Polygon(made["boards"][0]["outline"]).buffer(1e-5)
    for one, leftover in zip(made["leftovers"], left, strict=True):
        assert list(one) == ["name", "board", "stock", "at", "outline", "area", "count"]
        ring = shapely.Polygon(one["outline"])
        assert wood.covers(shapely.affinity.translate(ring, *one["at"]))
        assert one["area"] == pytest.approx(ring.area, rel=1e-9) == pytest.approx(leftover.area, rel=1e-9)
        assert (one["board"], one["stock"], one["count"]) == ("board-01", "cedar picket", 1)
