"""Jobs with nothing left open: their defaults, and items fitted to how they are cut: tabs by hand and reliefs."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from cutjob.checking import check_files
from cutjob.errors import InputError
from cutjob.making import make_job
from cutjob.resolved import read_order, resolve

JOB = """\
units = "mm"
machine = "bench-router"
{top}
[[make]]
name = "pot foot"
design = "outline"
with = {{ file = "foot.svg" }}
count = 2
{make}
[[board]]
name = "larch"
length = 400
width = 200
thickness = 10
"""
# A plate of 80 x 60 with a square opening of 30.
FOOT = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'
    '<rect x="10" y="10" width="80" height="60"/><rect x="30" y="25" width="30" height="30"/></svg>'
)


def write(folder: Path, *, top: str = "", make: str = "") -> Path:
    (folder / "foot.svg").write_text(FOOT, encoding="utf-8")
    job = folder / "spring.toml"
    job.write_text(JOB.format(top=top, make=make), encoding="utf-8")
    return job


def test_tabs_by_hand_are_where_the_job_wants_them(tmp_path: Path) -> None:
    # With room all round, or there is no wood for the tabs to end in.
    job = write(tmp_path, top="edge_margin = 12\ngap = 20", make='tabs = { "outline 1" = [[20, 0], [60, 60]] }')
    result = make_job(job, out=tmp_path / "out", effort="quick")
    assert result.proof.passed
    placements = result.layout.boards[0].placements
    (program,) = result.programs
    assert len(program.tabs) == 4
    for tab in program.tabs:
        move = placements[tab.placement].transform
        wanted = [move.point((20.0, 0.0)), move.point((60.0, 60.0))]
        assert min(abs(tab.at[0] - x) + abs(tab.at[1] - y) for x, y in wanted) < 0.01


def test_tabs_of_a_part_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError) as refused:
        resolve(*read_order(write(tmp_path, make='tabs = { "outline 7" = [[20, 0]] }')))
    (problem,) = refused.value.problems
    assert "spring.toml:9: " in str(problem)
    assert 'it has no part "outline 7"; its parts are outline 1' in str(problem)


@pytest.mark.parametrize(("way", "corners"), [("none", 4), ("side", 0), ("diagonal", 0)])
def test_reliefs_leave_no_corner_for_hand_work(tmp_path: Path, way: str, corners: int) -> None:
    result = make_job(write(tmp_path, make=f'relief = "{way}"'), out=tmp_path / "out", effort="quick")
    assert result.proof.passed
    told = [warning for warning in result.plan["warnings"] if "inside corners tighter" in warning]
    assert len(told) == (1 if corners else 0)
    plain = 80 * 60 - 30 * 30
    area = result.items[0].build.shaped[0].region.area
    assert (area == pytest.approx(plain)) == (way == "none")


def test_ramped_tabs_where_there_is_room_for_the_ramps(tmp_path: Path) -> None:
    job = write(tmp_path, top="edge_margin = 12\ngap = 20")
    job.write_text(job.read_text(encoding="utf-8").replace('"bench-router"', '"./own.toml"'), encoding="utf-8")
    profile = (Path(__file__).parents[1] / "machines" / "bench-router.toml").read_text(encoding="utf-8")
    (tmp_path / "own.toml").write_text(profile.replace("[tabs]", "[tabs]\nramp_degrees = 20"), encoding="utf-8")
    result = make_job(job, out=tmp_path / "out", effort="quick")
    assert result.proof.passed, [str(finding) for finding in result.proof.findings]
    (program,) = result.programs
    assert program.tabs
    moves = [move for step in program.steps if step.op == "outside cut" for move in step.moves]
    # Onto each tab up a slope, not straight up: 3.3 mm in about 9.1.
    rising = [b for a, b in itertools.pairwise(moves) if b.kind == "cut" and b.z > a.z + 0.5]
    straight = [b for a, b in itertools.pairwise(moves) if b.kind == "plunge" and b.z > a.z + 0.5]
    assert len(rising) >= len(program.tabs) / 2
    assert len(straight) <= len(program.tabs)


def test_what_a_job_leaves_open_is_filled_in(tmp_path: Path) -> None:
    """The profile fills in: its cutter and web make the gap, its margin along edges holds, its tabs hold the parts."""
    job, items = read_order(write(tmp_path))
    plain = resolve(job, items)
    (wood,) = plain.woods
    cutting = job.machine.cutting
    assert wood.gap == wood.cutters.outline.diameter + cutting.web == wood.leftovers.gap
    assert wood.edge_margin == cutting.edge_margin == wood.leftovers.edge_margin
    assert plain.machine.tabs is not None
    assert plain.boards == job.boards
    assert (plain.left_aside, plain.warnings) == ((), ())
    assert [part.name for part in wood.parts] == ["outline 1"]


def test_what_a_job_says_stands(tmp_path: Path) -> None:
    stated = 'gap = 25\nedge_margin = 12\nboard_held_by = "tape"\nleast_leftover = [300, 90]'
    asked = resolve(*read_order(write(tmp_path, top=stated, make='relief = "side"')))
    (wood,) = asked.woods
    assert (wood.gap, wood.edge_margin, wood.leftovers.least) == (25.0, 12.0, (300.0, 90.0))
    assert asked.machine.tabs is None
    assert asked.machine.name == asked.job.machine.name
    # A slot as wide as the cutter in each corner of the opening makes that larger.
    assert wood.parts[0].region.area < 80 * 60 - 30 * 30


def test_a_board_in_stock_too_large_for_the_machine_is_left_aside(tmp_path: Path) -> None:
    shed = 'units = "mm"\n[[board]]\nname = "wide larch"\nlength = 1200\nwidth = 1000\nthickness = 10\n'
    (tmp_path / "shed.toml").write_text(shed, encoding="utf-8")
    found = resolve(*read_order(write(tmp_path, top='stock = "shed.toml"')))
    assert [board.name for board in found.boards] == ["larch"]
    assert [(one.board, one.why) for one in found.left_aside] == [("wide larch", "too large for the machine")]


def test_every_mistake_is_refused_at_once(tmp_path: Path) -> None:
    with pytest.raises(InputError) as refused:
        resolve(*read_order(write(tmp_path, top='between_boards = "tape"', make='tabs = { "outline 7" = [[20, 0]] }')))
    assert [problem.location.line for problem in refused.value.problems if problem.location] == [3, 9]


# A letter A with a sharp opening, and a hole narrower than any cutter.
LETTER = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="160mm" height="120mm" viewBox="0 0 160 120">'
    '<rect x="10" y="10" width="140" height="100"/><path d="M20 100 L55 20 L90 100 Z"/>'
    '<circle cx="120" cy="40" r="1"/><circle cx="120" cy="80" r="6"/></svg>'
)


def test_sharp_corners_stay_round_and_a_narrow_hole_is_drilled_by_hand(tmp_path: Path) -> None:
    job = write(tmp_path, top="edge_margin = 12\ngap = 20")
    (tmp_path / "foot.svg").write_text(LETTER, encoding="utf-8")
    result = make_job(job, out=tmp_path / "out", effort="quick", only={"gcode", "dxf"})
    assert result.proof.passed
    hole, corners = result.job.warnings[:2]
    assert hole == (
        'item "pot foot": part "outline 1": a hole of 2 mm at x 110 mm, y 70 mm of the part is narrower than every '
        "cutter (cutter 2 is 3.175 mm) and is not cut; a cutter of at most 2 mm would do, which this profile does not "
        "have: add one, or drill it by hand"
    )
    assert "3 inside corners tighter than the cutter" in corners
    (by_hand,) = result.job.hand_holes
    assert (by_hand.count, by_hand.hole.diameter, by_hand.hole.note) == (2, 2.0, "where the picture shows it")
    plan = tmp_path / "out" / "plan.json"
    text = plan.read_text(encoding="utf-8")
    assert text.count('"by_hand": true') == 2
    programs = sorted((tmp_path / "out").glob("*.nc"))
    assert check_files(programs, plan=plan).report.passed
    # A plan that doesn't say so is not what the file cuts.
    plan.write_text(text.replace('"by_hand": true', '"by_hand": false'), encoding="utf-8")
    assert not check_files(programs, plan=plan).report.passed
    job = write(tmp_path, make='inside_corners = "exact"')
    (tmp_path / "foot.svg").write_text(LETTER, encoding="utf-8")
    with pytest.raises(InputError, match='inside_corners = "exact" allows none'):
        make_job(job, out=tmp_path / "out", effort="quick")


def test_a_hole_deeper_than_the_cutters_that_fit_it_go_is_drilled_by_hand(tmp_path: Path) -> None:
    """The only cutter narrower than 6 mm, of 1/8 in, goes 12 mm deep; the board is 15.875 mm thick."""
    (tmp_path / "job.toml").write_text(
        'units = "in"\nmachine = "bench-router"\n[[make]]\nname = "pot foot"\ndesign = "round"\ncount = 2\n'
        'with = { diameter = 3, hole = "6 mm" }\n[[board]]\nname = "larch picket"\nlength = 34\nwidth = "5 1/2"\n'
        'thickness = "5/8"\ncount = 1\n',
        encoding="utf-8",
    )
    result = make_job(tmp_path / "job.toml", out=tmp_path / "out", effort="quick", only={"gcode"})
    assert result.proof.passed
    assert result.job.warnings[0] == (
        'item "pot foot": part "round": a hole of 0.2362 in at x 0 in, y 0 in of the part is too deep for the cutters '
        "that fit (cutter 2 goes 0.4724 in deep) and is not cut; drill it by hand, or take a longer cutter or wider "
        "holes"
    )
    [by_hand] = result.job.hand_holes
    assert (by_hand.count, by_hand.hole.diameter, by_hand.hole.depth) == (2, 6.0, None)


POCKET = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="140mm" viewBox="0 0 200 140"><g stroke="brown">'
    '<rect x="10" y="10" width="180" height="120"/><path stroke="orange" d="M40 110 L70 20 L100 110 Z"/></g></svg>'
)


def test_the_tip_of_a_pocket_stays_round(tmp_path: Path) -> None:
    job = write(tmp_path, top="edge_margin = 12\ngap = 20")
    (tmp_path / "foot.svg").write_text(POCKET, encoding="utf-8")
    layers = ', layers = { brown = "outline", orange = { pocket = 4 } } }\ncount = 1'
    job.write_text(job.read_text(encoding="utf-8").replace(" }\ncount = 2", layers), encoding="utf-8")
    result = make_job(job, out=tmp_path / "out", effort="quick", only={"gcode"})
    assert result.proof.passed
    assert "3 inside corners tighter than the cutter; up to 6.86 mm" in result.job.warnings[0]


STACK = """\
units = "in"
machine = "long-bed-router"
[[make]]
name = "spinner"
design = "graded-stack"
size = "small"
{make}
[[board]]
name = "glued panel"
length = 48
width = 16
thickness = "5/8"
price = 40
[[board]]
name = "plank"
length = 60
width = "7 1/4"
thickness = "5/8"
price = 12
"""


def test_a_base_has_a_width_and_the_job_may_name_the_board(tmp_path: Path) -> None:
    job = tmp_path / "spring.toml"
    job.write_text(STACK.format(make='with = { base = ["7"], base_width = "7" }'), encoding="utf-8")
    (piece,) = make_job(job, out=tmp_path / "out", effort="quick").plan["sawn"]  # type: ignore[attr-defined]
    assert (piece["board"], piece["width"]) == ("plank", pytest.approx(7 * 25.4))
    job.write_text(
        STACK.format(make='sawn_from = "glued panel"\nwith = { base = ["7"], base_width = "7" }'), encoding="utf-8"
    )
    (piece,) = make_job(job, out=tmp_path / "out", effort="quick").plan["sawn"]  # type: ignore[attr-defined]
    assert (piece["board"], piece["width"]) == ("glued panel", pytest.approx(7 * 25.4))


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            'sawn_from = "oak"\nwith = { base = ["7"] }',
            'make "spinner": sawn_from: there is no board "oak"; take one of glued panel, plank',
        ),
        (
            'sawn_from = "plank"\nwith = { base = [] }',
            'item "spinner": sawn_from: no part of it is sawn off a board; leave it out',
        ),
    ],
)
def test_a_board_to_saw_from_that_can_not_be(tmp_path: Path, make: str, message: str) -> None:
    job = tmp_path / "spring.toml"
    job.write_text(STACK.format(make=make), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        make_job(job, out=tmp_path / "out", effort="quick")
    assert str(caught.value).startswith(f"{job}:7: {message}")


def test_waste_that_thin_necks_make_one_piece_is_held(tmp_path: Path) -> None:
    """The core of a letter W of strokes 15 mm wide: three pieces under 4 cm2 each, more together."""
    letter = "M20 20 L35 20 L52 78 L68 20 L83 20 L99 78 L116 20 L131 20 L107 100 L91 100 L75.5 46 L60 100 L44 100 Z"
    job = write(tmp_path, top="edge_margin = 12\ngap = 20")
    (tmp_path / "foot.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="160mm" height="120mm" viewBox="0 0 160 120">'
        f'<rect x="2" y="2" width="150" height="116"/><path d="{letter}"/></svg>',
        encoding="utf-8",
    )
    result = make_job(job, out=tmp_path / "out", effort="quick", only={"gcode"})
    assert result.proof.passed
