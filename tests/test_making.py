"""Whole jobs, from the file to a proven folder: what comes out, and what stays as it was when nothing does."""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest

import cutjob
import cutjob.finishing
from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_folder
from cutjob.geometry.polygons import to_polygon
from cutjob.layout.search.plan_search import POSITIONS
from cutjob.making import MakeResult, make_job, work_out
from cutjob.proof.finding import Finding, ProofReport
from cutjob.reports.plan.plan import plan_of, write_plan
from cutjob.stages import StoppedError
from cutjob.tolerances import TOLERANCES

ROUNDS = """
[[make]]
name = "pot foot"
design = "round"
count = 5
with = { diameter = 60, hole = 8, ring_holes = 4, ring_diameter = 36, ring_hole = 6.35 }
"""
STACK = """
[[make]]
name = "wind stack"
design = "graded-stack"
size = "small"
count = 3
with.tiers = 3
with.longest = 150
with.shortest = 90
with.tallest = 40
with.least_height = 34
with.stands = "flat"
with.bore = 10
with.base = []
with.topper = "none"
"""
SPINNER = """
[[make]]
name = "porch spinner"
design = "graded-stack"
size = "small"
count = 2
with.tiers = 3
with.longest = 160
with.shortest = 90
with.tallest = 40
with.least_height = 34
with.base = [60]
with.topper = "star"
with.centre_mark = true
"""
BOARD = """
[[board]]
name = "larch picket"
length = 700
width = 140
thickness = {thickness}
material = "{material}"
count = 6
"""


@pytest.fixture(autouse=True)
def _short_search(monkeypatch: pytest.MonkeyPatch) -> None:
    """A twentieth of the quick search: how full boards get is tested with the layouts."""
    monkeypatch.setitem(POSITIONS, "quick", 100_000)


def write(
    folder: Path,
    makes: str = ROUNDS,
    *,
    machine: str = "long-bed-router",
    thickness: float = 12,
    material: str = "softwood",
    head: str = "",
    board: str = BOARD,
) -> Path:
    path = folder / "spring.toml"
    text = board.replace("{thickness}", str(thickness)).replace("{material}", material)
    path.write_text(f'units = "mm"\nmachine = "{machine}"\n{head}\n{makes}\n{text}', encoding="utf-8")
    return path


def made(path: Path, out: Path | None = None, **more: Any) -> MakeResult:
    result = make_job(path, out=out or path.parent / "out", effort="quick", **more)
    assert result.proof.passed, [str(finding) for finding in result.proof.findings]
    assert result.proof.worst_gouge <= TOLERANCES.acceptance
    assert result.proof.worst_left <= TOLERANCES.acceptance
    return result


def contents(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir()}


def counts(result: MakeResult) -> dict[str, int]:
    """How many of each part come off all boards, all copies and every board of a stack."""
    found: dict[str, int] = {}
    for board in result.layout.boards:
        for placement in board.placements:
            found[placement.part.name] = found.get(placement.part.name, 0) + board.stack * board.copies
    return found


def test_a_router_job_of_single_boards(tmp_path: Path) -> None:
    result = made(write(tmp_path, ROUNDS + SPINNER))
    files = contents(tmp_path / "out")
    assert files == result.files
    assert counts(result) == {"round": 5, "piece 1": 2, "piece 2": 2, "piece 3": 2, "topper": 2}
    boards = [board.id for board in result.layout.boards]
    kinds = ("nc", "dxf", "svg")
    assert set(files) == {
        "plan.json",
        "job-sheet.html",
        "costs.csv",
        "finished-01.svg",
        "finished-02.svg",
        *(f"{board}.{kind}" for board in boards for kind in kinds),
    }
    plan = json.loads(files["plan.json"])
    assert plan == result.plan
    assert plan["schema"] == "cutjob-plan/1"
    assert (plan["proof"]["passed"], plan["sawn"][0]["count"]) == (True, 2)
    for program in result.programs:
        ops = {step.op for step in program.steps}
        assert ops <= {"outside cut", "bore", "drill", "mark"}
        assert program.seconds > 0
        assert program.cut_mm > 0
    assert {"bore", "drill", "mark", "outside cut"} == {
        step.op for program in result.programs for step in program.steps
    }
    # Times and lengths in the plan are those of the programs, rounded as it says.
    programs = [program for board in plan["boards"] for program in board["programs"]]
    assert [one["cut_mm"] for one in programs] == pytest.approx([one.cut_mm for one in result.programs], abs=1e-5)


def test_a_stack_of_two(tmp_path: Path) -> None:
    result = made(write(tmp_path, STACK.replace("count = 3", "count = 12"), head="stack = 2"))
    assert counts(result) == {"piece 1": 12, "piece 2": 12, "piece 3": 12}
    assert 2 in {board.stack for board in result.layout.boards}
    for board, program in zip(result.layout.boards, result.programs, strict=True):
        # The stack's height and the profile's overcut.
        assert program.depth == pytest.approx(board.stack * 12 + 0.3)
        # Bridges stand over the whole height, and hold the parts of both boards.
        assert {tab.height for tab in program.tabs} == {board.stack * 12.0 if board.stack > 1 else 3.0}


def test_an_odd_piece_is_never_made_twice(tmp_path: Path) -> None:
    assert counts(made(write(tmp_path, STACK, head="stack = 2"))) == {"piece 1": 3, "piece 2": 3, "piece 3": 3}


def test_a_part_in_the_opening_of_another(tmp_path: Path) -> None:
    """A frame with a large window on a board hardly larger: the rounds only fit into the window."""
    (tmp_path / "frame.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="240mm" height="200mm" viewBox="0 0 240 200">'
        '<rect x="5" y="5" width="230" height="190"/><rect x="30" y="30" width="180" height="140" rx="6"/></svg>',
        encoding="utf-8",
    )
    frame = '[[make]]\nname = "frame"\ndesign = "outline"\nwith = { file = "frame.svg" }\n'
    board = BOARD.replace("700", "240").replace("140", "200").replace("count = 6", "count = 1")
    makes = frame + ROUNDS.replace("count = 5", "count = 2")
    # The frame leaves no room for clamps.
    result = made(write(tmp_path, makes, board=board, thickness=12, head='board_held_by = "tape"'))
    (layout,), (program,) = result.layout.boards, result.programs
    names = [placement.part.name for placement in layout.placements]
    ring = names.index("outline 1")
    window = to_polygon(layout.placements[ring].region.holes[0])
    steps = [(step.placement, step.op) for step in program.steps]
    opened = steps.index((ring, "inside cut"))
    for index, placement in enumerate(layout.placements):
        if index != ring:
            assert window.contains(to_polygon(placement.region))
            assert steps.index((index, "outside cut")) < opened


def test_laser_programs(tmp_path: Path) -> None:
    board = BOARD.replace("700", "580")
    result = made(write(tmp_path, machine="bench-laser", thickness=3, material="plywood", board=board))
    text = contents(tmp_path / "out")["board-01.nc"].decode("ascii")
    assert "M4" in text
    assert "Z" not in "".join(line for line in text.splitlines() if not line.startswith("("))
    assert all(not program.tabs for program in result.programs)


def test_drawings_for_a_service(tmp_path: Path) -> None:
    board = BOARD.replace("700", "580").replace("larch picket", "plywood sheet")
    result = made(write(tmp_path, machine="laser-service", thickness=3, material="plywood", board=board))
    assert result.programs == ()
    files = contents(tmp_path / "out")
    assert set(files) == {
        "plan.json",
        "job-sheet.html",
        "costs.csv",
        "leftovers.toml",
        "board-01.dxf",
        "board-01-cut.svg",
        "board-01.svg",
        "board-01-order.txt",
        "finished-01.svg",
    }
    document = ezdxf.readfile(tmp_path / "out" / "board-01.dxf")
    layers = {entity.dxf.layer for entity in document.modelspace()}
    assert len(layers) >= 2
    drawings = [tmp_path / "out" / name for name in ("board-01.dxf", "board-01-cut.svg")]
    assert cutjob.check(drawings, plan=tmp_path / "out" / "plan.json").report.passed
    # Drawing, order and sheet say the same of the kerf.
    says = b"drawn at their finished size, with no allowance for the kerf"
    for name in ("board-01.dxf", "board-01-cut.svg", "board-01-order.txt", "job-sheet.html"):
        assert says in files[name], name


def test_outlines_moved_by_half_the_kerf_are_said_wherever_the_kerf_is(tmp_path: Path) -> None:
    text = (Path(cutjob.__file__).parent.parent / "machines" / "laser-service.toml").read_text(encoding="utf-8")
    text = text.replace('outlines = "as drawn"', 'outlines = "offset"')
    (tmp_path / "service.toml").write_text(text, encoding="utf-8")
    board = BOARD.replace("700", "580").replace("larch picket", "plywood sheet")
    made(write(tmp_path, machine="service.toml", thickness=3, material="plywood", board=board))
    files = contents(tmp_path / "out")
    for name in ("board-01.dxf", "board-01-cut.svg", "board-01-order.txt", "job-sheet.html"):
        words = files[name].decode(errors="replace").replace("\u00a0", " ")
        assert "moved by half the kerf of 0.2 mm" in words, name
        assert b"finished size" not in files[name], name


def test_a_bandsaw_gets_drawings(tmp_path: Path) -> None:
    result = made(write(tmp_path, STACK, machine="bandsaw"))
    assert result.programs == ()
    assert "board-01.dxf" in contents(tmp_path / "out")


def test_only_the_kinds_asked_for(tmp_path: Path) -> None:
    made(write(tmp_path), only=frozenset({"picture"}))
    assert {Path(name).suffix for name in contents(tmp_path / "out")} == {".svg", ".json"}


def test_png_beside_the_svg_on_request(tmp_path: Path) -> None:
    pytest.importorskip("resvg_py", reason="resvg-py, the extra that draws PNG, is not installed")
    made(write(tmp_path), only=frozenset({"gcode"}), png=True)
    files = contents(tmp_path / "out")
    assert {Path(name).suffix for name in files} == {".nc", ".svg", ".png", ".json"}
    assert files["board-01.png"].startswith(b"\x89PNG")
    assert "board-01.png" in json.loads(files["plan.json"])["files"]


def test_a_stack_that_is_not_cut_is_reported(tmp_path: Path) -> None:
    """Five discs of 60 mm lie on one board: there is nothing to stack."""
    unused = [one for one in made(write(tmp_path, head="stack = 2")).job.warnings if one.startswith("stack")]
    assert unused == [
        "stack = 2 is not used: too few boards get equal parts, or a hole or pocket goes only "
        "partway through; leave it out, and shorter cutters will do"
    ]
    assert not any(one.startswith("stack") for one in made(write(tmp_path)).job.warnings)


def test_a_stack_that_costs_time_is_reported(tmp_path: Path) -> None:
    """Through 2 x 16 mm only the long cutter goes, more slowly; through 2 x 12 mm the usual one does, as quickly as
    through single boards.
    """
    many = ROUNDS.replace("count = 5", "count = 30")
    thick = made(write(tmp_path, many, head="stack = 2", thickness=16))
    (said,) = [one for one in thick.job.warnings if "boards at once" in one]
    at_once, single = map(int, re.findall(r"(\d+) min", said)[:2])
    assert said.endswith("stack = 1 is quicker here")
    assert at_once == round(sum(one.seconds for one in thick.job.programs_of(thick.layout.boards[0])) / 60)
    alone = made(write(tmp_path, many, thickness=16), tmp_path / "alone")
    assert alone.job.machine_seconds < thick.job.machine_seconds
    assert single < at_once
    thin = made(write(tmp_path, many, head="stack = 2"), tmp_path / "thin")
    assert not any("boards at once" in one for one in thin.job.warnings)


def test_what_an_item_costs(tmp_path: Path) -> None:
    """The one kind of item bears all of the boards, and of the machine every second at 36 an hour: a cent each."""
    (tmp_path / "shop.toml").write_text(
        "supply = []\n[pay]\nmachine = 36\n[material]\noffcut_value = 0\n", encoding="utf-8"
    )
    order = ROUNDS + '[[bought]]\nname = "sea glass"\nprice = 1\n'
    job = write(tmp_path, order, board=BOARD + "price = 2.9\n")
    plan = made(job).plan
    [item], [account] = plan["items"], plan["money"]["items"]
    seconds = sum(program["seconds"] * board["copies"] for board in plan["boards"] for program in board["programs"])
    assert item["machine_seconds"] == pytest.approx(seconds, abs=1e-3)
    assert account["machine"] == pytest.approx(seconds / 100 / item["count"], abs=1e-6)
    assert account["material"] == pytest.approx(plan["cost"] / item["count"], abs=1e-6)
    assert account["not_counted"] == []
    assert (
        'bought "sea glass": no item needs it; nothing is to be bought; give count for a thing of the job itself'
        in plan["warnings"]
    )


def test_the_same_job_gives_the_same_bytes(tmp_path: Path) -> None:
    path = write(tmp_path, ROUNDS + SPINNER)
    made(path, tmp_path / "one")
    made(path, tmp_path / "two")
    assert contents(tmp_path / "one") == contents(tmp_path / "two")


def test_a_failed_proof_leaves_the_folder_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write(tmp_path)
    made(path)
    before = contents(tmp_path / "out")
    gouge = Finding(check="gouge", severity="error", message="cuts into a part", file="board-01.nc")

    def fails(*_: object, **__: object) -> ProofReport:
        return ProofReport(findings=(gouge,), worst_gouge=1.0, worst_left=0.0)

    monkeypatch.setattr(cutjob.finishing, "prove", fails)
    path.write_text(path.read_text(encoding="utf-8").replace("count = 5", "count = 3"), encoding="utf-8")
    result = make_job(path, out=tmp_path / "out", effort="quick")
    assert not result.proof.passed
    assert gouge in result.proof.findings
    assert result.plan["proof"]["passed"] is False
    assert contents(tmp_path / "out") == before
    make_job(path, out=tmp_path / "new", effort="quick")
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("diameter = 60", "diameter = 160", "fits no board"),
        ("count = 5", "count = 150", "boards are full"),
        ("thickness = 12", "thickness = 90", "90 mm thick is more than any cutter of long-bed router cuts through"),
        ("length = 700", "length = 7000", "more than the 2400 mm"),
    ],
)
def test_a_mistake_leaves_the_folder_as_it_was(tmp_path: Path, old: str, new: str, said: str) -> None:
    path = write(tmp_path)
    made(path)
    before = contents(tmp_path / "out")
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputError, match=said) as caught:
        make_job(path, out=tmp_path / "out", effort="quick")
    assert all(problem.location is not None and problem.location.line for problem in caught.value.problems)
    assert contents(tmp_path / "out") == before


def test_boards_of_two_thicknesses_without_a_word_which_to_take_are_refused(tmp_path: Path) -> None:
    second = BOARD.replace("larch picket", "offcut").replace("{thickness}", "16").replace("{material}", "softwood")
    with pytest.raises(InputError, match="does not say which of them its parts are cut from"):
        make_job(write(tmp_path, board=BOARD + second), out=tmp_path / "out", effort="quick")


def test_a_job_in_inches_is_the_same_job(tmp_path: Path) -> None:
    """Every length written in inches, 25.4 mm each, exactly: the same outlines in the same places."""
    metric = (
        'units = "mm"\nmachine = "bench-router"\n[[make]]\nname = "spinner"\ndesign = "graded-stack"\nsize = "small"\n'
        "with = { tiers = 3, longest = 203.2, shortest = 101.6, tallest = 38.1, least_height = 31.75, base = [63.5], "
        "gap = 19.05, bore = 9.525, foot = 12.7, neck = 9.525, topper_diameter = 50.8, socket = 12.7 }\n"
        '[[board]]\nname = "picket"\nlength = 711.2\nwidth = 139.7\nthickness = 15.875\n'
    )
    inches = (
        'units = "in"\nmachine = "bench-router"\n[[make]]\nname = "spinner"\ndesign = "graded-stack"\nsize = "small"\n'
        'with = { tiers = 3, longest = 8, shortest = "4", tallest = "1 1/2", least_height = 1.25, base = ["2 1/2"], '
        'gap = 0.75, bore = "3/8", foot = 0.5, neck = "3/8", topper_diameter = 2, socket = 0.5 }\n'
        '[[board]]\nname = "picket"\nlength = 28\nwidth = "5 1/2"\nthickness = "5/8"\n'
    )
    results = []
    for name, text in (("mm", metric), ("in", inches)):
        (tmp_path / name).mkdir()
        path = tmp_path / name / "spring.toml"
        path.write_text(text, encoding="utf-8")
        results.append(made(path))
    one, two = (result.plan["boards"] for result in results)
    assert len(one) == len(two)
    for a, b in zip(one, two, strict=True):
        assert len(a["placements"]) == len(b["placements"])
        for first, second in zip(a["placements"], b["placements"], strict=True):
            assert first["part"] == second["part"]
            np.testing.assert_allclose(first["outline"], second["outline"], rtol=0, atol=1e-6)
    for a_program, b_program in zip(results[0].programs, results[1].programs, strict=True):
        assert a_program.cut_mm == pytest.approx(b_program.cut_mm, abs=1e-3)


def test_sawn_pieces_come_off_first(tmp_path: Path) -> None:
    result = made(write(tmp_path, SPINNER))
    assert [(piece.part, piece.length, piece.count) for piece in result.layout.sawn] == [("base 1", 60.0, 2)]
    assert result.plan["boards"][0]["sawn_off"] == pytest.approx(2 * (60 + 3.175))


def test_every_finding_of_a_pass_is_a_remark(tmp_path: Path) -> None:
    result = made(write(tmp_path))
    assert all(finding.severity == "warning" for finding in result.proof.findings)
    assert replace(result.proof, findings=()).passed


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"only": ["pictures"]}, "only: 'pictures' is not one of gcode, dxf, svg, picture"),
        ({"only": "dxf"}, 'only: give several kinds of file, such as ["dxf"]'),
        ({"only": []}, "only: the list is empty"),
        ({"effort": "bset"}, "effort: 'bset' is not one of quick, normal, best"),
        ({"seed": -1}, "seed: -1 is not a whole number from 0"),
        ({"seed": 1.5}, "seed: 1.5 is not a whole number from 0"),
        ({"seconds": 0}, "is not more than 0"),
        ({"seconds": float("nan")}, "is not more than 0"),
        ({"cores": 0}, "cores: 0 is not a whole number from 1"),
    ],
)
def test_what_no_run_can_be_asked_for_is_told_with_what_can(asked: dict[str, Any], says: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=re.escape(says)):
        cutjob.make(tmp_path / "none.toml", **asked)


def test_the_functions_for_those_who_program(tmp_path: Path) -> None:
    """`cutjob.read`, `make`, `check` and `panel` work from Python; a result prints on one line."""
    resolved = cutjob.read(str(shipped_folder("samples") / "gate-stars.toml"))
    assert resolved.job.file.title
    assert [item.count for item in resolved.items]
    result = cutjob.make(
        shipped_folder("samples") / "gate-stars.toml", out=tmp_path / "out", effort="quick", only=["gcode"]
    )
    assert re.fullmatch(
        r"<MakeResult 'Gate stars[^\n]*board layouts?, [^\n]*programs?, [^\n]*; proven; [^\n]*out>", repr(result)
    )
    files = sorted((tmp_path / "out").glob("*.nc"))
    assert cutjob.check(files, plan=tmp_path / "out" / "plan.json").report.passed
    with pytest.raises(ValueError, match="give several files"):
        cutjob.check(files[0])
    panel = cutjob.panel(shipped_folder("samples") / "panels" / "porch-wall.toml", out=tmp_path / "wall")
    assert repr(panel).startswith("<PanelResult ")
    assert "\n" not in repr(panel)
    assert (Path(cutjob.__file__).parent / "py.typed").exists()


def test_a_job_from_its_path_its_text_or_its_data_is_the_same(tmp_path: Path) -> None:
    """Worked out in memory, nothing is written; `make` with the text writes the same files."""
    sample = shipped_folder("samples") / "gate-stars.toml"
    text = sample.read_text(encoding="utf-8")
    by_path = work_out(cutjob.read(sample), effort="quick")
    for job in (text, tomllib.loads(text)):
        again = work_out(cutjob.read(job, folder=sample.parent), effort="quick")
        assert again.files == by_path.files
        assert plan_of(again.job) == plan_of(by_path.job)
    made = cutjob.make(text, folder=sample.parent, out=tmp_path / "out", effort="quick")
    written = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    assert written == {**by_path.files, "plan.json": write_plan(plan_of(by_path.job))}
    assert made.plan == plan_of(by_path.job)


def test_mistakes_of_a_text_have_lines_and_those_of_data_none() -> None:
    with pytest.raises(InputError) as text:
        cutjob.read('title = "stall"\nunits = "furlong"\n')
    assert any(str(problem).startswith("job:2: units: ") for problem in text.value.problems)
    with pytest.raises(InputError) as data:
        cutjob.read({"title": "stall", "units": "furlong"})
    assert any(str(problem).startswith("job: units: ") for problem in data.value.problems)


def test_work_that_is_no_longer_wanted_ends_between_two_layouts_or_boards() -> None:
    resolved = cutjob.read(shipped_folder("samples") / "gate-stars.toml")
    asked: list[int] = []
    work_out(resolved, effort="quick", stop=lambda: bool(asked.append(1)))
    assert len(asked) >= 2 * len(resolved.boards)
    for last in {0, len(asked) // 2, len(asked) - 1}:
        left = iter([False] * last + [True])
        with pytest.raises(StoppedError):
            work_out(resolved, effort="quick", stop=lambda left=left: next(left))
