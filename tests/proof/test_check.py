"""One file checked by itself and against a plan's data; and good programs that stay good wherever they lie."""

from __future__ import annotations

import math
import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.errors import InputError
from cutjob.geometry.contour import Region, circle, polyline
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import ShapedPart
from cutjob.proof.check import examine_program
from cutjob.proof.finding import ProofReport
from cutjob.proof.plan.reader import planned_programs
from cutjob.proof.prove import prove
from tests.proof import two_cutters as two
from tests.proof import workshop as ws


def corner(x: float, y: float, radius: float, begin: float) -> list[list[float]]:
    """A quarter turn in chords within 0.002 mm: the plan's polygons."""
    count = math.ceil(math.pi / 2 / (2 * math.acos(1 - 0.002 / radius)))
    angles = [begin + math.pi / 2 * step / count for step in range(count + 1)]
    return [[x + radius * math.cos(angle), y + radius * math.sin(angle)] for angle in angles]


def plan() -> dict[str, Any]:
    """What plan.json says about the latch's board."""
    outline = [
        *corner(120, 40, 10, -math.pi / 2), *corner(120, 80, 10, 0), *corner(40, 80, 10, math.pi / 2),
        *corner(40, 40, 10, math.pi),
    ]  # fmt: skip
    features = [
        {"op": "bore", "depth": None, "at": [50.0, 50.0], "diameter": 12.0},
        {"op": "drill", "depth": None, "at": [50.0, 72.0], "diameter": 6.0},
        {"op": "bore", "depth": 5.0, "at": [72.0, 50.0], "diameter": 14.0},
        {"op": "mark", "depth": 1.0, "path": [[60.0, 80.0], [100.0, 80.0], [110.0, 76.0]]},
    ]
    window = [[90.0, 50.0], [90.0, 70.0], [114.0, 70.0], [114.0, 50.0]]
    placement = {
        "part": "gate latch", "item": "garden gate", "unit": 1, "rotation": 0, "mirrored": False,
        "outline": outline, "holes": [window], "features": features,
    }  # fmt: skip
    tabs = [{"placement": 0, "at": list(tab.at), "width": tab.width, "height": tab.height} for tab in ws.tabs()]
    program = {
        "file": "board-01.nc", "window": None, "cutter": {"number": 1, "diameter": 6.0}, "origin": [0.0, 0.0],
        "z_zero": "stock top", "tabs": tabs,
    }  # fmt: skip
    board = {
        "id": "board-01", "stock": "larch plank", "material": "softwood", "thickness": 12.0, "stack": 1, "copies": 1,
        "outline": [[0, 0], [220, 0], [220, 120], [0, 120]], "keep_out": [], "placements": [placement],
        "programs": [program], "held_by": "tape", "holds": [],
    }  # fmt: skip
    return {"schema": "cutjob-plan/1", "boards": [board]}


def check(lines: list[str], data: dict[str, Any] | None) -> ProofReport:
    return examine_program(ws.text(lines), name="out/board-01.nc", machine=ws.router(), plan=data).report


def checks(report: ProofReport) -> set[str]:
    return {finding.check for finding in report.findings if finding.severity == "error"}


def test_a_file_alone_is_held_to_the_rules() -> None:
    assert check(ws.latch_program(), None).passed
    assert checks(check([line for line in ws.latch_program() if line != "M2"], None)) == {"program end"}
    assert checks(check([line.replace("-12.3", "-14") for line in ws.latch_program()], None)) == set()


def test_a_file_against_its_plan() -> None:
    report = check(ws.latch_program(), plan())
    assert [str(finding) for finding in report.findings] == []
    # The plan's polygons lie within 0.002 of the arcs, inside the convex ones: as much is left.
    assert report.worst_left < 0.003
    assert "gouge" in checks(check(ws.latch_program(30.05), plan()))
    assert "tab" in checks(check([line.replace("G1 Z-9", "G1 Z-12.3") for line in ws.latch_program()], plan()))
    assert "missing" in checks(check([*ws.head(), *ws.latch_inner(), *ws.tail()], plan()))


def test_one_of_several_files_need_not_cut_everything() -> None:
    data = plan()
    data["boards"][0]["programs"].append({**data["boards"][0]["programs"][0], "file": "board-01-b.nc"})
    data["boards"][0]["programs"][0]["tabs"] = []
    assert check([*ws.head(), *ws.latch_inner(), *ws.tail()], data).passed
    assert "gouge" in checks(check([*ws.head(), *ws.latch_inner(30.05), *ws.tail()], data))


def full_plan() -> dict[str, Any]:
    """The latch's board with all that a plan may say: screws, lettering, heights, windows and two cutters by hand."""
    data = plan()
    board = data["boards"][0]
    board["keep_out"] = [[[180, 20], [190, 20], [190, 30], [180, 30]]]
    board["keep_out_heights"] = [3.0]
    board["hold_downs"] = [
        {"at": list(at), "diameter": 6.0, "head": 7.0, "height": 3.0, "window": 0} for at in two.SCREWS
    ]
    board["lettering"] = [{"placement": 0, "depth": 0.8, "paths": [[[120.0, 75.0], [120.0, 68.0], [124.0, 68.0]]]}]
    board["windows"] = [
        {"first": 0.0, "last": 220.0, "placements": [0], "holes": [[214.0, 14.0]], "pins": []},
        {"first": 200.0, "last": 220.0, "placements": [], "holes": [], "pins": [[214.0, 14.0]]},
    ]
    drill = {"number": 2, "diameter": 6.0, "name": "drill bit 6"}
    straight = {"number": 1, "diameter": 6.0, "name": "straight cutter 6"}
    common = {"window": 0, "origin": [0.0, 0.0], "z_zero": "stock top", "safe_z": 5.0, "skin": 0.0}
    tabs = board["programs"][0]["tabs"]
    board["programs"] = [
        {"file": "board-01-1.nc", "number": 1, "cutters": [drill], "cutter": drill, **common, "tabs": []},
        {"file": "board-01-2.nc", "number": 2, "cutters": [straight], "cutter": straight, **common, "tabs": tabs},
    ]
    return data


def both_files() -> dict[str, list[str]]:
    one, other = two.by_hand()
    letters = [*ws.over(120, 75), "G1 Z-0.8 F300", "F1200", "G1 Y68", "G1 X124", "G0 Z5"]
    begin = other.index("(outline)")
    pin = [*two.drilled(214, 14), *one[-2:]]
    return {"board-01-1.nc": [*one[:-2], *pin], "board-01-2.nc": [*other[:begin], *letters, *other[begin:]]}


def check_named(name: str, lines: list[str], data: dict[str, Any]) -> ProofReport:
    return examine_program(ws.text(lines), name=name, machine=two.router(), plan=data).report


def test_a_plan_with_screws_lettering_windows_and_cutters() -> None:
    files = both_files()
    for name, lines in files.items():
        assert [str(finding) for finding in check_named(name, lines, full_plan()).findings] == [], name
    one, other = files.values()
    # What the plan says more is what the files are held to.
    without = full_plan()
    without["boards"][0]["lettering"] = []
    assert checks(check_named("board-01-2.nc", other, without)) == {"gouge", "waste"}
    near = full_plan()
    near["boards"][0]["hold_downs"][0]["head"] = 21.0
    assert checks(check_named("board-01-2.nc", other, near)) == {"hold-down"}
    high = full_plan()
    high["boards"][0]["keep_out_heights"] = [8.0]
    assert "rapid" in checks(check_named("board-01-2.nc", other, high))
    second = full_plan()
    second["boards"][0]["programs"][1]["window"] = 1
    assert "window" in checks(check_named("board-01-2.nc", other, second))
    wrong = full_plan()
    wrong["boards"][0]["programs"][0]["cutters"] = wrong["boards"][0]["programs"][1]["cutters"]
    assert "speed" in checks(check_named("board-01-1.nc", one, wrong))


def test_the_layout_of_a_plan_is_read_back_as_it_was() -> None:
    data = full_plan()
    floor = {"op": "pocket", "depth": 3.0, "outline": [[60, 40], [80, 40], [80, 60], [60, 60]],
             "islands": [[[65, 45], [70, 50], [70, 45]]]}  # fmt: skip
    counterbored = [
        {"op": "bore", "depth": 4.0, "at": [100.0, 40.0], "diameter": 14.0},
        {"op": "drill", "depth": None, "at": [100.0, 40.0], "diameter": 6.0},
    ]
    data["boards"][0]["placements"][0]["features"] += [floor, *counterbored]
    data["boards"][0]["programs"][1]["skin"] = 0.2
    program = planned_programs(data, "board-01-2.nc", two.router())[1]
    layout = program.board
    (part,) = [placement.part for placement in layout.placements]
    (pocket,) = part.pockets
    assert (pocket.depth, abs(pocket.region.outline.signed_area)) == (3.0, pytest.approx(400.0))
    assert [abs(island.signed_area) for island in pocket.region.holes] == [pytest.approx(12.5)]
    assert [(hole.diameter, hole.depth) for hole in part.round_holes[-2:]] == [(14.0, 4.0), (6.0, None)]
    assert [one.height for one in layout.board.keep_outs] == [3.0]
    assert [(down.at, down.diameter, down.head, down.height, down.window) for down in layout.hold_downs] == [
        (at, 6.0, 7.0, 3.0, 0) for at in two.SCREWS
    ]
    (lettering,) = layout.lettering
    assert (lettering.placement, lettering.depth, [len(path) for path in lettering.paths]) == (0, 0.8, [2])
    assert [(one.first, one.last, one.placements, one.holes, one.pins) for one in layout.windows] == [
        (0.0, 220.0, (0,), ((214.0, 14.0),), ()),
        (200.0, 220.0, (), (), ((214.0, 14.0),)),
    ]
    assert [cutter.number for cutter in program.cutters] == [1]
    assert (program.window, program.safe_z, program.skin) == (0, 5.0, 0.2)


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda board: board["hold_downs"][0].update(head=0), r"hold_downs\[0\].head: should be more than 0"),
        (lambda board: board["hold_downs"][1].update(height=-1), r"hold_downs\[1\].height: should not be less"),
        (lambda board: board["hold_downs"][1].update(window=2), "the board has no window 2"),
        (lambda board: board["lettering"][0].update(placement=4), "the board has no placement 4"),
        (lambda board: board["lettering"][0].update(paths=[[[1, 1]]]), "two different points"),
        (lambda board: board["lettering"][0].update(depth=None), "should be a number, not nothing"),
        (lambda board: board.update(keep_out_heights=[1, 2]), "2 heights for 1 keep-out;"),
        (lambda board: board.update(keep_out_heights=[-1]), "should not be less than 0"),
        (lambda board: board["windows"][0].update(last=0), "before it begins"),
        (lambda board: board["windows"][0].update(placements=[0.5]), "the board has no placement 0.5"),
        (lambda board: board["windows"][0].update(pins=[[1]]), "should be a point"),
        (lambda board: board["programs"][0].update(cutters=[]), "names no cutter"),
        (lambda board: board["programs"][0]["cutters"][0].update(number=7), "cutter 7 is not in the machine profile"),
        (lambda board: board["programs"][0].update(window=2), "the board has no window 2"),
        (lambda board: board["programs"][0].update(safe_z="high"), "should be a number"),
        (
            lambda board: board["placements"][0]["features"].append({"op": "pocket", "depth": 2, "outline": [[0, 0]]}),
            "three different points",
        ),
    ],
)
def test_a_plan_broken_where_it_says_more(spoil: Any, says: str) -> None:
    data = full_plan()
    spoil(data["boards"][0])
    with pytest.raises(InputError, match=says) as caught:
        check_named("board-01-1.nc", both_files()["board-01-1.nc"], data)
    assert caught.value.problems[0].place.startswith("plan")


def test_a_file_that_may_find_its_way_cleared_is_only_warned() -> None:
    """A slot cut at full depth at once: by itself an error, behind another file of its board a warning."""
    deep = [line.replace("Z-4 ", "Z-8 ").replace("Z-4", "Z-8") for line in ws.latch_program()]
    assert "depth per pass" in checks(check(deep, plan()))
    data = plan()
    data["boards"][0]["programs"].insert(0, {**data["boards"][0]["programs"][0], "file": "board-01-a.nc"})
    report = check(deep, data)
    assert "depth per pass" not in checks(report)
    assert any(finding.check == "depth per pass" and finding.severity == "warning" for finding in report.findings)


def test_a_stack_and_keep_outs_of_the_plan() -> None:
    data = plan()
    data["boards"][0]["keep_out"] = [{"at": [139.5, 60.0], "radius": 5.0}]
    assert checks(check(ws.latch_program(), data)) == {"keep-out"}
    data["boards"][0]["keep_out"] = [{"outline": [[150, 60], [160, 60], [160, 70]]}]
    assert check(ws.latch_program(), data).passed
    data["boards"][0]["stack"] = 2
    assert "missing" in checks(check(ws.latch_program(), data))


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda data: data.pop("boards"), 'has no "boards"'),
        (lambda data: data["boards"][0]["programs"][0].update(file="other.nc"), "doesn't name the file"),
        (lambda data: data["boards"][0]["programs"][0].update(cutter={"number": 9, "diameter": 6.0}), "cutter 9"),
        (lambda data: data["boards"][0]["programs"][0]["cutter"].update(diameter=3.0), "diameter 3"),
        (lambda data: data["boards"][0].update(thickness="thick"), "should be a number"),
        (lambda data: data["boards"][0]["programs"][0]["tabs"][0].update(placement=7), "placement 7"),
        (lambda data: data["boards"][0]["placements"][0].update(outline=[[0, 0], [1, 1]]), "three different points"),
        (lambda data: data["boards"][0]["placements"][0]["features"][0].update(op="carve"), "'carve'"),
        (lambda data: data["boards"][0].update(placements=5), "should be a list"),
        (lambda data: data["boards"][0].update(thickness=0), r"thickness: should be more than 0, not 0"),
        (lambda data: data["boards"][0].update(thickness=math.nan), "should be a number, not nan"),
        (lambda data: data["boards"][0].update(thickness=10**400), "should be a number"),
        (lambda data: data["boards"][0].update(stack=1.5), "stack: should be a whole number"),
        (lambda data: data["boards"][0].update(outline=[[0, 0], [220, 120], [220, 0], [0, 120]]), "crosses"),
        (lambda data: data["boards"][0].update(outline=[[0, 0], [220, 0], [110, 0]]), "outline: "),
        (
            lambda data: data["boards"][0].update(keep_out=[{"at": [9, 9], "radius": -1}]),
            "radius: should be more than 0",
        ),
        (lambda data: data["boards"][0]["programs"][0]["tabs"][0].update(width=-6), "width: should be more than 0"),
        (lambda data: data["boards"][0]["programs"][0]["tabs"][0].update(height=0), "height: should be more than 0"),
        (lambda data: data["boards"][0]["programs"][0].update(z_zero="bed"), "z_zero: should be"),
        (lambda data: data["boards"][0]["placements"][0].update(holes=[[[0, 0], [9, 9], [9, 0], [0, 9]]]), "crosses"),
        (lambda data: data["boards"][0]["placements"][0]["features"][0].update(diameter=0), "diameter: should be more"),
        (
            lambda data: data["boards"][0]["placements"][0]["features"][2].update(depth=-5),
            "depth: should be more than 0",
        ),
        (lambda data: data["boards"][0]["placements"][0]["features"][3].update(path=[[1, 1]]), "two different points"),
        (lambda data: data["boards"][0]["placements"][0]["features"][3].update(path=[]), "two different points"),
    ],
)
def test_a_broken_plan_is_an_error_with_its_place(spoil: Any, says: str) -> None:
    data = plan()
    spoil(data)
    with pytest.raises(InputError, match=says) as caught:
        check(ws.latch_program(), data)
    assert caught.value.problems[0].place.startswith("plan")


ODD = st.sampled_from(
    [None, True, -1, 0, 0.5, 3, 1e5, 1e300, 10**400, math.nan, math.inf, "", "x", [], {}, [[]], [[0, 0]], [0, 0],
     [[0, 0], [0, 0], [0, 0]], [[0, 0], [9, 0], [0, 9], [9, 9]], [[1, 1], [9, 1], [9, 9]], {"at": [0, 0]}]
)  # fmt: skip


@given(chance=st.randoms(use_true_random=False), odd=ODD, full=st.booleans())
@settings(max_examples=90, deadline=None)
def test_no_plan_however_odd_breaks_the_check(chance: random.Random, odd: object, full: bool) -> None:
    data: Any = full_plan() if full else plan()
    here = data
    while True:
        keys = list(here) if isinstance(here, dict) else list(range(len(here)))
        key = chance.choice([one for one in keys if one != "schema"])
        if not isinstance(here[key], (dict, list)) or not here[key] or chance.random() < 0.15:
            break
        here = here[key]
    here[key] = odd
    report, places = None, ["plan"]
    try:
        report = (
            check_named("board-01-2.nc", both_files()["board-01-2.nc"], data)
            if full
            else check(ws.latch_program(), data)
        )
    except InputError as error:
        places = [problem.place for problem in error.problems]
    assert all(place.startswith("plan") for place in places)
    assert report is None or math.isfinite(report.worst_gouge + report.worst_left)


def test_a_machine_that_reads_no_gcode_has_no_right_file() -> None:
    service = ws.router(kind="laser", writes=["dxf"])
    for data in (None, plan()):
        with pytest.raises(InputError, match="reads no G-code"):
            examine_program(ws.text(ws.latch_program()), name="board-01.nc", machine=service, plan=data)


def turned_latch(degrees: float, x: float, y: float) -> tuple[BoardLayout, list[str]]:
    """A disc with an off-centre opening, turned about the board's origin and shifted, and its program."""
    middle, opening = ws.turned((60.0, 60.0), degrees), ws.turned((70.0, 60.0), degrees)
    part = ShapedPart(name="lid", region=Region(circle((60.0, 60.0), 30.0), (circle((70.0, 60.0), 8.0),)))
    layout = BoardLayout(
        id="board-01",
        board=Board(
            name="plank", outline=polyline([(-500, -500), (500, -500), (500, 500), (-500, 500)]), keep_outs=(),
            thickness=ws.THICK, grain="none", material="softwood", count=1, price=0.0,
        ),
        placements=(
            Placement(part=part, item="lamp", unit=1, transform=Transform(x=x, y=y, degrees=degrees)),
        ),
    )  # fmt: skip
    cuts = ws.round_cut(opening[0] + x, opening[1] + y, 5.0, inside=True) + ws.round_cut(
        middle[0] + x, middle[1] + y, 33.0
    )
    return layout, [*ws.head(), *cuts, *ws.tail()]


@given(degrees=st.floats(-180, 180), x=st.floats(-200, 200), y=st.floats(-200, 200), off=st.sampled_from([0.0, 0.03]))
@settings(max_examples=25, deadline=None)
def test_a_good_program_stays_good_wherever_it_lies(degrees: float, x: float, y: float, off: float) -> None:
    layout, _ = turned_latch(degrees, x, y)
    _, lines = turned_latch(degrees, x + off, y)
    program = ws.expected(layout, tabs=())
    report = prove({program.file: ws.text(lines)}, programs=[program], drawings=[], machine=ws.router())
    assert report.passed is (off == 0.0)
    # Four decimals of centre and ends; the shift shows in full.
    assert report.worst_gouge == pytest.approx(off, abs=3e-4)


@given(x=st.floats(-250, 250), y=st.floats(-200, 200))
@settings(max_examples=10, deadline=None)
def test_the_program_zero_may_lie_anywhere(x: float, y: float) -> None:
    x, y = round(x, 3), round(y, 3)
    lines = ws.latch_program(30.0 - x, 30.0 - y)
    program = ws.expected(origin=(x, y))
    report = prove({program.file: ws.text(lines)}, programs=[program], drawings=[], machine=ws.router())
    assert [str(finding) for finding in report.findings] == []


@pytest.mark.parametrize(
    ("x", "y", "found"), [(-300, 50, set()), (-400, 50, {"travel"}), (590, 50, set()), (650, 50, {"travel"}),
                          (50, -250, set()), (50, -300, {"travel"}), (50, 390, set()), (50, 420, {"travel"})]
)  # fmt: skip
def test_air_moves_within_the_travel_as_the_board_lies(x: float, y: float, found: set[str]) -> None:
    """The board is 220 x 120, the travel 600 x 400: a box of that size holds both, but for 11 mm of leads beside it."""
    lines = ws.latch_program()
    program = ws.expected()
    away = [*lines[:-2], f"G0 X{x} Y{y}", *lines[-2:]]
    report = prove({program.file: ws.text(away)}, programs=[program], drawings=[], machine=ws.router())
    assert checks(report) == found


@given(degrees=st.sampled_from([0.0, 90.0, 180.0, 270.0]), x=st.floats(-50, 50), y=st.floats(-50, 50))
@settings(max_examples=8, deadline=None)
def test_board_and_program_moved_together(degrees: float, x: float, y: float) -> None:
    """The part's own frame may be anywhere: what counts is where the placement puts it."""
    own = Transform(x=x, y=y, degrees=degrees)
    part = ws.latch()
    moved = ShapedPart(
        name=part.name,
        region=own.region(part.region),
        holes=tuple(type(hole)(at=own.point(hole.at), diameter=hole.diameter, depth=hole.depth) for hole in part.holes),
        marks=tuple(
            type(mark)(path=tuple(own.segment(one) for one in mark.path), depth=mark.depth) for mark in part.marks
        ),
    )
    back = ws.turned((x, y), -degrees)
    placed = Transform(x=30.0 - back[0], y=30.0 - back[1], degrees=-degrees % 360)
    layout = BoardLayout(
        id="board-01", board=ws.board(), placements=(Placement(part=moved, item="gate", unit=1, transform=placed),)
    )
    program = ws.expected(layout)
    report = prove({program.file: ws.text(ws.latch_program())}, programs=[program], drawings=[], machine=ws.router())
    assert [str(finding) for finding in report.findings] == []


def held_plan() -> dict[str, Any]:
    """The latch's board under two clamps, which a plan lists with the bridges that lie between them and the part."""
    data = plan()
    areas = [[[2, 2], [22, 2], [22, 18], [2, 18]], [[190, 2], [218, 2], [218, 18], [190, 18]]]
    holds = [{"window": None, "area": area, "height": 4.0} for area in areas]
    data["boards"][0].update(held_by="clamps", holds=holds, keep_out=areas, keep_out_heights=[4.0, 4.0])
    data["boards"][0]["placements"][0]["bridges_to_hold"] = 1
    return data


def test_how_a_board_is_held_is_read_from_the_plan_and_judged() -> None:
    report = check(ws.latch_program(), held_plan())
    assert [str(finding) for finding in report.findings] == []
    data = held_plan()
    holding = planned_programs(data, "board-01.nc", ws.router())[0].board.holding
    assert holding is not None
    assert (holding.by, holding.to_hold) == ("clamps", (1,))
    assert [(hold.height, hold.window, abs(hold.area.signed_area)) for hold in holding.holds] == [
        (4.0, None, 320.0),
        (4.0, None, 448.0),
    ]
    data["boards"][0]["holds"] = []
    assert checks(check(ws.latch_program(), data)) == {"held"}
    other = held_plan()
    other["boards"][0]["placements"][0]["bridges_to_hold"] = 2
    (remark,) = check(ws.latch_program(), other).findings
    assert (remark.check, remark.severity, remark.measured, remark.limit) == ("held", "warning", 1.0, 2.0)
    loose = held_plan()
    loose["boards"][0]["programs"][0]["tabs"] = []
    free = [*ws.head(), *ws.latch_inner(), *ws.latch_outline(with_tabs=False), *ws.tail()]
    assert checks(check(free, loose)) == {"held"}


def test_one_of_several_files_is_judged_by_what_it_cuts_itself() -> None:
    """Without the outline, which another file cuts, and without the openings, which one cut before."""
    data = held_plan()
    data["boards"][0]["programs"].append({**data["boards"][0]["programs"][0], "file": "board-01-b.nc"})
    inner = [*ws.head(), *ws.latch_inner(), *ws.tail()]
    assert "held" not in checks(check(inner, data))
    outer = [*ws.head(), *ws.latch_outline(), *ws.tail()]
    assert "held" not in checks(check(outer, data))
    free = [*ws.head(), *ws.latch_outline(with_tabs=False), *ws.tail()]
    assert "held" in checks(check(free, data))


def test_a_plan_that_does_not_say_how_its_board_is_held() -> None:
    data = plan()
    del data["boards"][0]["held_by"]
    with pytest.raises(InputError, match='has no "held_by": it was made by an earlier version') as caught:
        check(ws.latch_program(), data)
    assert "make the job again" in str(caught.value)
    # Of a machine that moves no cutter through the wood nothing needs to be said.
    assert (
        planned_programs(data, "board-01.nc", ws.router().model_copy(update={"kind": "laser"}))[0].board.holding is None
    )


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda board: board.update(held_by="glue"), "should be clamps, screws, tape, vacuum or null, not 'glue'"),
        (lambda board: board.update(held_by=3), "should be text"),
        (lambda board: board["holds"][0].update(window=0), "the board has no window 0"),
        (lambda board: board["holds"][1].update(area=[[1, 1], [2, 2]]), r"holds\[1\].area: .*three different points"),
        (lambda board: board["holds"][0].update(height=-1), "should not be less than 0"),
        (lambda board: board["holds"][0].pop("height"), 'has no "height"'),
        (lambda board: board["placements"][0].update(bridges_to_hold=1.5), "should be a whole number, not 1.5"),
    ],
)
def test_a_plan_broken_where_it_says_how_a_board_is_held(spoil: Any, says: str) -> None:
    data = held_plan()
    spoil(data["boards"][0])
    with pytest.raises(InputError, match=says):
        check(ws.latch_program(), data)


def test_a_bridge_between_pieces_of_waste_is_on_no_part() -> None:
    """It is listed without a placement, and looked for where the plan says it stands."""
    data = held_plan()
    tabs = data["boards"][0]["programs"][0]["tabs"]
    tabs.append({"placement": None, "at": [80.0, 27.0], "width": 6.0, "height": 3.0})
    assert checks(check(ws.latch_program(), data)) == set()
    tabs[-1]["at"] = [27.0, 60.0]
    assert checks(check(ws.latch_program(), data)) == {"held"}
