import json
import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.cuts.cut import Feature
from cutjob.cuts.cutter_choice import Cutters
from cutjob.geometry.contour import rectangle
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.transform import Transform
from cutjob.job.read_stock import LeftAside
from cutjob.layout.layout import Layout
from cutjob.layout.leftovers import leftovers_of
from cutjob.output.leftovers import kept_leftovers
from cutjob.parts.part import Hole
from cutjob.program.moves import Step
from cutjob.program.program import programs_of
from cutjob.proof.finding import ProofReport
from cutjob.proof.plan.data import PlanData
from cutjob.proof.plan.layout import planned_layout
from cutjob.reports.plan.board import board_data
from cutjob.reports.plan.plan import plan_of, write_plan
from cutjob.result import DrawingFile, Search
from tests.cuts.makers import changed, cutter, layout_of, router, shaped
from tests.output.samples import (
    changer,
    held_layout,
    held_long_layout,
    hole_moves,
    layout,
    long_layout,
    long_programs,
    program,
    whole_layout,
)
from tests.reports.makers import job_result

PROOF = ProofReport(findings=(), worst_gouge=0.001234567, worst_left=0.0)


def plan(**changes):
    given_ = {
        "title": "Spring market, first batch",
        "units": "in",
        "layout": whole_layout(stack=2, copies=3),
        "programs": (program(),),
        "drawings": (DrawingFile(file="board-01.dxf", board="board-01", offset=0.1),),
        "warnings": ("measure the stock",),
        "proof": PROOF,
    }
    return plan_of(job_result(**(given_ | changes)))


def test_shape_of_the_published_plan():
    made = json.loads(write_plan(plan()))
    assert " ".join(made) == (
        "schema title units machine seed search files boards patterns booklet sawn saw_order leftovers left_aside rods "
        "strips sticks bought finishes hand_holes items boards_used least_boards yield cost money warnings cautions "
        "proof"
    )
    assert made["schema"] == "cutjob-plan/1"
    [board] = made["boards"]
    assert " ".join(board) == (
        "id stock material hazards thickness stack copies sawn_off outline keep_out keep_out_heights windows "
        "hold_downs held_by holds chunks bridges lettering placements programs drawings"
    )
    assert board["keep_out_heights"] == [0.0]
    assert board["windows"] == board["hold_downs"] == board["lettering"] == []
    assert (board["stock"], board["stack"], board["copies"]) == ("cedar picket", 2, 3)
    placement = board["placements"][0]
    assert " ".join(placement) == "part item unit units rotation mirrored at outline holes features bridges_to_hold"
    assert [feature["op"] for feature in placement["features"]] == ["drill", "bore", "mark"]
    assert [feature["depth"] for feature in placement["features"]] == [None, 6.0, 0.5]
    assert set(placement["features"][2]) == {"op", "depth", "path"}
    [made_program] = board["programs"]
    assert made_program == {
        "file": "board-01.nc",
        "number": 1,
        "window": None,
        "cutters": [{"number": 2, "diameter": 3.175, "name": "straight bit"}],
        "cutter": {"number": 2, "diameter": 3.175, "name": "straight bit"},
        "origin": [0.0, 0.0],
        "z_zero": "stock top",
        "safe_z": 5.0,
        "clear_z": 5.0,
        "skin": 0.0,
        "seconds": 41.25,
        "cut_mm": 700.125,
        "air_mm": 120.5,
        "tabs": [
            {"placement": 0, "at": [120.0, 30.0], "width": 6.0, "height": 3.0},
            {"placement": 0, "at": [210.0, 60.0], "width": 6.0, "height": 3.0},
        ],
    }
    assert board["drawings"] == [{"file": "board-01.dxf", "offset": 0.1}]
    assert made["proof"] == {
        "passed": True,
        "worst_gouge_mm": 0.001235,
        "worst_left_mm": 0.0,
        "worst_pattern_mm": None,
        "greatest_allowed_mm": 0.01,
        "findings": [],
    }


def test_lists_for_the_whole_order():
    made = plan()
    assert made["rods"] == [
        {"item": "porch name tag", "part": "post", "diameter": 9.525, "length": 300.0, "count": 3, "note": ""}
    ]
    assert made["bought"] == [{"name": "cup hook", "count": 7, "price": None, "pack": 1, "packs": 7}]
    assert plan(packs={"cup hook": (0.4, 5)})["bought"][0] == {
        "name": "cup hook", "count": 7, "price": 0.4, "pack": 5, "packs": 2,
    }  # fmt: skip
    assert made["hand_holes"][0]["count"] == 3
    assert made["items"][0]["facts"] == {"height": 180.0}
    assert made["sawn"][0]["part"] == "leg"
    # Two at a time, three times, and one that only gave legs.
    assert made["cost"] == pytest.approx(7 * 3.4, abs=1e-6)
    assert made["boards_used"] == [{"board": "cedar picket", "count": 7, "price": 3.4}]
    assert [item["together"] for item in made["items"]] == [False, False]


def test_how_the_layout_was_searched_for():
    assert plan()["search"] is None
    asked = {"seed": 3, "seconds": 40.0, "stopped": False, "clock_decided": True, "unfinished": False}
    assert plan(search=Search(seed=3, seconds=40.0))["search"] == asked


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
        plan(proof=replace(PROOF, worst_gouge=math.nan))


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
    aside = (LeftAside(board="thin larch", file="shed.toml", why="9 mm thick"),)
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


def long_plan(**changes):
    board = long_layout(pins=True)
    whole = replace(whole_layout(), boards=(board,))
    given_ = {"layout": whole, "programs": long_programs(pins=True), "machine": changer()}
    return json.loads(write_plan(plan(**(given_ | changes))))


def test_windows_screws_letters_and_clamps():
    [board] = long_plan()["boards"]
    layout_ = long_layout(pins=True)
    assert board["keep_out_heights"] == [30.0, 0.0]
    assert len(board["keep_out"]) == 2
    for made, window in zip(board["windows"], layout_.windows, strict=True):
        assert made == {
            "first": window.first,
            "last": window.last,
            "placements": list(window.placements),
            "holes": [list(at) for at in window.holes],
            "pins": [list(at) for at in window.pins],
        }
    assert board["hold_downs"][0] == {"at": [400, 20], "diameter": 4.5, "head": 6.0, "height": 3.5, "window": 0}
    assert [down["window"] for down in board["hold_downs"]] == [0, 0, 1, 2]
    assert [one["placement"] for one in board["lettering"]] == [4, 3]
    assert board["lettering"][0]["depth"] == 0.4
    assert board["lettering"][0]["paths"] == [[[1400, 76], [1400, 60], [1408, 60]], [[1414, 60], [1414, 76]]]


def test_programs_with_their_windows_and_cutters():
    programs = long_plan()["boards"][0]["programs"]
    assert [(each["number"], each["window"], each["file"]) for each in programs] == [
        (1, 0, "board-01-1.nc"),
        (2, 1, "board-01-2.nc"),
        (3, 2, "board-01-3.nc"),
    ]
    for each in programs:
        assert [cutter["number"] for cutter in each["cutters"]] == [7, 5, 2]
        assert each["cutter"] == each["cutters"][0]
        assert each["safe_z"] == 32.0
    assert [each["origin"] for each in programs] == [[0, 0], [700, 0], [1400, 0]]
    skinned = tuple(replace(each, skin=0.4) for each in long_programs(pins=True))
    assert {each["skin"] for each in long_plan(programs=skinned)["boards"][0]["programs"]} == {0.4}


def test_pockets_and_counterbores_are_features():
    [board] = long_plan()["boards"]
    features = board["placements"][2]["features"]  # mirrored
    assert [feature["op"] for feature in features] == ["bore", "bore", "drill", "pocket", "pocket", "mark"]
    assert [(feature["diameter"], feature["depth"]) for feature in features[:3]] == [
        (10.0, 5.0),
        (4.0, None),
        (6.35, None),
    ]
    assert features[0]["at"] == features[1]["at"] == [1030, 80]
    tray, round_one = features[3:5]
    assert (tray["depth"], round_one["depth"]) == (6.35, 3.0)
    assert sorted(tray["outline"]) == [[1070, 55], [1070, 105], [1140, 55], [1140, 105]]
    [island] = tray["islands"]
    ring = shapely.LinearRing(island)
    assert tuple(ring.centroid.coords[0]) == pytest.approx((1105, 80), abs=1e-3)
    # Chords of the plan lie within 0.002 mm of the circle of radius 8.
    assert shapely.Polygon(island).area == pytest.approx(math.pi * 64, abs=2 * math.pi * 8 * 0.002)
    assert round_one["islands"] == []


def test_a_hole_is_drilled_where_its_own_cutter_makes_it():
    """The rail's 6.35 mm hole is drilled by the cutter of that size; another bores it, whatever else is used."""
    programs = long_programs(pins=True)
    hole = long_layout().placements[0].transform.point((285.0, 40.0))
    bored = Step(op="bore", placement=0, feature=Feature(kind="hole", number=2), moves=hole_moves(*hole, radius=1.5875))
    drilling, small, wide = programs[0].sections
    other = replace(small, steps=(*small.steps, bored))
    cut = replace(programs[0], sections=(drilling, other, replace(wide, steps=wide.steps[1:])))
    made = long_plan(programs=(cut, *programs[1:]))["boards"][0]["placements"]
    assert [made[0]["features"][2]["op"], made[2]["features"][2]["op"]] == ["bore", "drill"]
    # Without any program the profile's first cutter, of 6.35 mm, is as good a guess as any.
    bare = long_plan(programs=())["boards"][0]["placements"]
    assert [feature["op"] for feature in bare[0]["features"][:3]] == ["bore", "bore", "drill"]


def test_a_hole_over_another_of_its_size_is_made_as_its_own_cut_says():
    """The shallow one is drilled; for the one right through the drill is too short, and it is bored."""
    wide, short = cutter(6.0), cutter(8.0, number=2, cutting_length=6.0)
    holes = (Hole(at=(20, 20), diameter=8.0, depth=4.0), Hole(at=(23, 20), diameter=8.0))
    board = layout_of((shaped(rectangle(100, 60), holes=holes), Transform(x=30, y=30)), thickness=12.0)
    cutters = Cutters(outline=wide, usable=(wide, short), changer=True)
    profile = changed(router(), controller={"tool_change": "changer"})
    (cuts,), _ = cut_layouts([board], cutters=cutters, machine=profile, gap=8, locations={})
    programs = programs_of(cuts, machine=profile)
    layout = Layout(boards=(board,), gap=8.0, edge_margin=6.0, seed=0)
    result = job_result(layout=layout, machine=profile, programs=programs)
    (made,) = board_data(board, result)["placements"]
    assert [feature["op"] for feature in made["features"]] == ["drill", "bore"]


def test_the_plan_is_read_back_as_the_layout_it_was_made_of():
    """The proof's reader, which shares no code with the writer, finds the same board."""
    again = planned_layout(PlanData(long_plan())["boards"].each()[0])
    meant = long_layout(pins=True)
    assert again.windows == meant.windows
    assert again.hold_downs == meant.hold_downs
    heights = [[one.height for one in board.keep_outs] for board in (again.board, meant.board)]
    assert heights[0] == heights[1]
    for one, other in zip(again.placements, meant.placements, strict=True):
        assert one.polygon.symmetric_difference(other.polygon).area < 0.01 * other.polygon.length
        assert [hole.diameter for hole in one.part.holes] == [hole.diameter for hole in other.part.round_holes]
        assert [pocket.depth for pocket in one.part.pockets] == [pocket.depth for pocket in other.part.pockets]
        for found, pocket in zip(one.part.pockets, other.part.pockets, strict=True):
            true = to_polygon(other.transform.region(pocket.region))
            assert to_polygon(found.region).symmetric_difference(true).area < 0.01 * true.length
    assert [one.placement for one in again.lettering] == [one.placement for one in meant.lettering]


def board_of_plan(board):
    made = json.loads(write_plan(plan(layout=replace(whole_layout(), boards=(board,)), programs=())))
    return made["boards"][0]


def test_how_a_board_is_held():
    made = board_of_plan(held_layout())
    assert made["held_by"] == "clamps"
    assert [(hold["window"], hold["height"]) for hold in made["holds"]] == [(None, 20.0), (None, 20.0)]
    assert shapely.box(5, 0, 45, 25).equals(shapely.Polygon(made["holds"][0]["area"]))
    # Clamps are keep-outs too, after the knot the board has.
    assert [hold["area"] for hold in made["holds"]] == made["keep_out"][1:]
    assert made["keep_out_heights"] == [0.0, 20.0, 20.0]
    assert [one["bridges_to_hold"] for one in made["placements"]] == [1, 1, 2, 4]
    assert len(made["chunks"]) == 2
    assert [one["joins"] for one in made["bridges"]][3:6] == [
        [{"chunk": 0}, {"placement": 1}],
        [{"placement": 1}, {"placement": 2}],
        [{"placement": 2}, {"chunk": 1}],
    ]
    assert made["bridges"][0] == {
        "ends": [[100.0, 30.0], [100.0, 27.0]],
        "width": 6.0,
        "height": 3.0,
        "joins": [{"placement": 0}, {"chunk": 0}],
    }


def test_holds_of_windows_name_theirs():
    assert [hold["window"] for hold in board_of_plan(held_long_layout())["holds"]] == [0, 1, 2]


@pytest.mark.parametrize("by", ["tape", "vacuum"])
def test_held_from_below_all_over(by):
    made = board_of_plan(held_layout(by))
    assert made["held_by"] == by
    assert made["holds"] == [{"window": None, "area": made["outline"], "height": 0.0}]
    assert made["bridges"] == []
    assert {one["bridges_to_hold"] for one in made["placements"]} == {0}


def test_what_is_not_settled_is_null():
    made = board_of_plan(layout())
    assert made["held_by"] is None
    assert made["holds"] == made["bridges"] == made["chunks"] == []
    assert {one["bridges_to_hold"] for one in made["placements"]} == {None}
