"""The commands: what they print where, and their exit codes.

The stages behind `make` and `check` have tests of their own; here others stand in for them, to have every outcome.
"""

import json
import os
import subprocess
import sys
import types
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import cutjob.cli.commands
from cutjob.cli.commands import KINDS, main, spread_only
from cutjob.designs.catalogue import CATALOGUE
from cutjob.errors import InputError, Location, Problem, ProofError
from cutjob.files.file_bytes import shipped_files
from cutjob.job.read_job import read_job
from cutjob.proof.check import Checked
from cutjob.proof.finding import Finding, ProofReport
from cutjob.proof.gcode.reader import read_gcode

GOUGE = Finding(
    check="gouge", severity="error", message="cuts 0.5 mm into a part", file="board-01.nc", line=12, at=(1.0, 2.0)
)
REMARK = Finding(check="feed", severity="warning", message="slow", file="board-01.nc")
PASSED = ProofReport(findings=(REMARK,), worst_gouge=0.0, worst_left=0.004)
FAILED = ProofReport(findings=(GOUGE, REMARK), worst_gouge=0.5, worst_left=0.004)
PLAN: dict[str, Any] = {
    "schema": "cutjob-plan/1",
    "boards": [
        {
            "id": "board-01",
            "stock": "cedar picket",
            "material": "softwood",
            "stack": 2,
            "copies": 3,
            "outline": [[0, 0], [1, 0], [1, 1]],
            "placements": [{"part": "a"}, {"part": "b"}],
            "programs": [{"file": "board-01.nc", "cutter": {"number": 3, "diameter": 6.35}, "seconds": 90}],
        },
        {"id": "board-02", "stock": "offcut", "placements": [{"part": "a"}], "programs": []},
    ],
    "yield": 0.625,
    "warnings": ["buy rods"],
}


@dataclass
class Made:
    folder: Path = Path("out/spring")
    plan: dict[str, Any] = field(default_factory=lambda: PLAN)
    proof: ProofReport = PASSED
    seconds: dict[str, float] = field(default_factory=lambda: {"reading": 0.01234})
    refused: Path | None = None
    rings: tuple[int | None, ...] = ()


def _run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


Stand = Callable[..., list[dict[str, Any]]]


@pytest.fixture
def making(monkeypatch: pytest.MonkeyPatch) -> Stand:
    """Put something in the place of the pipeline; returns the options it was called with."""

    def stand_in(result: Any) -> list[dict[str, Any]]:
        calls: list[dict[str, Any]] = []

        def make_job(path: Path, **options: Any) -> Any:
            calls.append({"path": path, **options})
            if isinstance(result, BaseException):
                raise result
            return result

        module = types.ModuleType("cutjob.making")
        module.make_job = make_job  # type: ignore[attr-defined]
        monkeypatch.setitem(sys.modules, "cutjob.making", module)
        return calls

    return stand_in


@pytest.fixture
def checking(monkeypatch: pytest.MonkeyPatch) -> Stand:
    def stand_in(report: ProofReport) -> list[dict[str, Any]]:
        calls: list[dict[str, Any]] = []

        def examine_program(data: bytes, **options: Any) -> Checked:
            calls.append({"data": data, **options})
            reading = read_gcode(data, name=options["name"])
            return Checked(report=report, readings=(reading,), programs=(), not_judged=())

        def examine_board(files: dict[str, bytes], **options: Any) -> Checked:
            (name,) = files
            return examine_program(files[name], name=name, **options)

        monkeypatch.setattr("cutjob.checking.examine_program", examine_program)
        monkeypatch.setattr("cutjob.checking.examine_board", examine_board)
        return calls

    return stand_in


def test_make_hands_on_its_options(making: Stand) -> None:
    calls = making(Made())
    assert _run("make", "spring.toml").exit_code == 0
    words = ["-o", "there", "--seed", "7", "--effort", "best", "--only", "gcode", "dxf", "--png", "--json"]
    assert _run("make", "spring.toml", *words).exit_code == 0
    plain = {"path": Path("spring.toml"), "out": None, "seed": 0, "effort": "normal", "seconds": None, "only": None}
    plain |= {"png": False, "cores": os.cpu_count() or 1, "keep_offcuts": None}
    for call in calls:
        assert not call.pop("watch").stop
        call.pop("progress")("reading")
    assert calls[0] == plain
    given = {"out": Path("there"), "seed": 7, "effort": "best", "only": frozenset({"gcode", "dxf"}), "png": True}
    assert calls[1] == {**plain, **given}


def test_the_summary_is_plain_when_piped(making: Stand) -> None:
    making(Made())
    result = _run("make", "spring.toml")
    assert result.stdout.splitlines() == [
        "layout    board         boards  parts  file         cutter  minutes",
        "board-01  cedar picket  6       2      board-01.nc  3       1.5",
        "board-02  offcut        1       1",
        "layouts: 2, cut in 4 runs of the machine",
        "wood used: 62% of the boards",
        "warning: buy rods",
        "warning: board-01.nc: feed: slow",
        "proof: passed",
        f"written to {Path('out/spring')}",
    ]
    assert result.stderr == ""


LEFT = {
    "units": "in",
    "sawn": [
        {"item": "spinner", "part": "base 1", "length": 254.0, "count": 2, "board": "cedar picket", "note": "bore it"},
        {"item": "spinner", "part": "base 2", "length": 165.1, "count": 1, "board": "cedar picket", "note": ""},
    ],
    "rods": [{"item": "spinner", "part": "centre rod", "diameter": 9.525, "length": 571.5, "count": 2, "note": ""}],
    "sticks": [
        {
            "diameter": 9.525,
            "sticks": [],
            "stop_settings": [
                {"length": 571.5, "count": 2, "parts": [{"item": "spinner", "part": "centre rod"}], "sticks": []}
            ],
        }
    ],
    "hand_holes": [
        {"item": "spinner", "part": "piece 1", "diameter": 9.525, "depth": 50.8, "count": 2, "note": "long"},
        {"item": "spinner", "part": "piece 2", "diameter": 9.525, "depth": 25.4, "count": 1, "note": "long"},
        {"item": "spinner", "part": "topper", "diameter": 6.35, "depth": 25.4, "count": 1, "note": "long"},
        {"item": "gull", "part": "body", "diameter": 6.35, "depth": None, "count": 1, "note": "long"},
    ],
    "bought": [{"name": "cup hook", "count": 7}],
}


def test_what_is_left_for_the_hands_is_told_in_the_units_of_the_job(making: Stand) -> None:
    making(Made(plan=PLAN | LEFT))
    lines = _run("make", "spring.toml").stdout.splitlines()
    told = ("saw", "rod", "drill by hand", "buy")
    assert [line for line in lines if line.startswith(told)] == [
        "saw first: 2 pieces 10 in long off cedar picket (base 1, spinner); bore it",
        "saw first: 1 piece 6 1/2 in long off cedar picket (base 2, spinner)",
        "rods: 2 of 3/8 in, 22 1/2 in long (centre rod, spinner)",
        "drill by hand: 3 holes 3/8 in wide, 1 in to 2 in deep (spinner)",
        "drill by hand: 1 hole 1/4 in wide, 1 in deep (spinner)",
        "drill by hand: 1 hole 1/4 in wide, through (gull)",
        "buy: 7 of cup hook",
    ]
    making(Made(plan=PLAN | LEFT | {"units": "mm"}))
    assert "saw first: 1 piece 165.1 mm long off" in _run("make", "spring.toml").stdout
    as_data = json.loads(_run("make", "spring.toml", "--json").stdout)
    assert {key: as_data[key] for key in ("sawn", "rods", "hand_holes", "bought")} == {
        key: LEFT[key] for key in ("sawn", "rods", "hand_holes", "bought")
    }


HOSTILE = "ply [/2] [bold]\x1b[2J\n"


def _hostile_plan() -> dict[str, Any]:
    board = PLAN["boards"][0] | {"id": HOSTILE, "stock": HOSTILE, "programs": []}
    sawn = [{"item": HOSTILE, "part": HOSTILE, "length": 9.0, "count": 1, "board": HOSTILE, "note": HOSTILE}]
    return {"boards": [board], "warnings": [HOSTILE], "cautions": [HOSTILE], "sawn": sawn, "yield": 0.5}


@pytest.mark.parametrize("terminal", [True, False])
def test_what_users_name_their_boards_is_text(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, terminal: bool
) -> None:
    """Square brackets are no commands, and control characters reach no terminal."""
    monkeypatch.setattr(sys.stdout, "isatty", lambda: terminal)
    monkeypatch.setenv("TERM", "dumb")
    cutjob.cli.commands._print_summary(Path("out") / HOSTILE, _hostile_plan(), PASSED)
    printed = capsys.readouterr().out
    assert printed.count("ply [/2]") == 9
    assert printed.count("[bold]?[2J?") == 9
    assert "\x1b" not in printed
    assert "\n\n" not in printed


def test_the_summary_as_data(making: Stand) -> None:
    making(Made())
    data = json.loads(_run("make", "spring.toml", "--json").stdout)
    assert data["folder"] == str(Path("out/spring"))
    assert data["boards"][0]["parts"] == 2
    assert data["boards"][0]["programs"] == PLAN["boards"][0]["programs"]
    assert "outline" not in data["boards"][0]
    assert (data["yield"], data["warnings"]) == (0.625, ["buy rods"])
    assert data["proof"]["passed"] is True
    assert data["proof"]["findings"][0]["message"] == "slow"
    assert data["seconds"] == {"reading": 0.012}


def test_a_failed_proof_ends_with_1(making: Stand) -> None:
    making(Made(proof=FAILED))
    result = _run("make", "spring.toml")
    assert result.exit_code == 1
    assert "error: board-01.nc:12: gouge: cuts 0.5 mm into a part at x 1.000 y 2.000" in result.stderr
    assert "proof: failed, 1 error" in result.stdout
    assert "nothing was written" in result.stdout
    as_data = _run("make", "spring.toml", "--json")
    assert as_data.exit_code == 1
    assert json.loads(as_data.stdout)["proof"]["passed"] is False


def test_the_clock_or_an_effort(making: Stand) -> None:
    calls = making(Made())
    assert _run("make", "spring.toml", "--seconds", "2.5").exit_code == 0
    assert (calls[0]["seconds"], calls[0]["effort"]) == (2.5, "normal")
    both = _run("make", "spring.toml", "--seconds", "2.5", "--effort", "normal")
    assert both.exit_code == 2
    assert "--effort and --seconds both say how long to search" in both.stderr
    assert len(calls) == 1


SEARCHED = {
    "boards_used": [
        {"board": "cedar picket", "count": 6, "price": 3.4},
        {"board": "offcut", "count": 1, "price": 0.0},
    ],
    "cost": 20.4,
    "items": [{"name": "key rack", "together": True}, {"name": "gull", "together": False}],
    "boards": [
        PLAN["boards"][0]
        | {
            "placements": [
                {"part": "key", "item": "key rack", "unit": 1},
                {"part": "key", "item": "key rack", "unit": 3},
                {"part": "fob", "item": "key rack", "unit": 1},
                {"part": "fob", "item": "key rack", "unit": 3},
                {"part": "wing", "item": "gull", "unit": 1},
            ]
        },
        PLAN["boards"][1] | {"placements": [{"part": "key", "item": "key rack", "unit": 13}]},
    ],
}


@pytest.mark.parametrize(
    ("search", "line"),
    [
        ({"seed": 0, "effort": "best", "stopped": False, "clock_decided": False}, None),
        (
            {"seed": 0, "seconds": 90.0, "stopped": False, "clock_decided": True},
            "search: 90 seconds by the clock; another run may give another layout",
        ),
        (
            {"seed": 0, "seconds": 90.0, "stopped": True, "clock_decided": True},
            "search: stopped by hand with the best layout so far; another run may give another",
        ),
    ],
)
def test_layouts_runs_and_boards(making: Stand, search: dict[str, Any], line: str | None) -> None:
    making(Made(plan=PLAN | SEARCHED | {"search": search}))
    told = ("layouts", "boards:", "wood", "together", "search")
    lines = [one for one in _run("make", "spring.toml").stdout.splitlines() if one.startswith(told)]
    assert lines == [
        "layouts: 2, cut in 4 runs of the machine",
        "boards: 6 of cedar picket at 3.40, 1 of offcut at no cost; 20.40 in all",
        "wood used: 62% of the boards",
        "together: key rack, each on one board: 12 on board-01, 1 on board-02",
        *([line] if line else []),
    ]
    data = json.loads(_run("make", "spring.toml", "--json").stdout)
    assert (data["layouts"], data["runs"]) == (2, 4)
    assert data["boards_used"] == SEARCHED["boards_used"]
    assert data["together"] == [{"item": "key rack", "units": {"board-01": 12, "board-02": 1}}]
    assert data["search"] == search


@pytest.mark.parametrize(("kind", "code"), [(InputError, 2), (ProofError, 1)])
def test_errors_come_one_a_line_without_a_traceback(making: Stand, kind: type[InputError], code: int) -> None:
    where = Location(file="spring.toml", line=14)
    making(kind([Problem(message="one", advice="mend it", location=where), Problem(message="two")]))
    result = _run("make", "spring.toml")
    assert result.exit_code == code
    assert result.stderr.splitlines() == ["spring.toml:14: one; mend it", "two"]
    assert result.stdout == ""


def test_a_fault_of_the_program_is_one_line(making: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    making(ZeroDivisionError("float division\nby zero"))
    monkeypatch.delenv("CUTJOB_DEBUG", raising=False)
    result = _run("make", "spring.toml")
    assert result.exit_code == 1
    assert len(result.stderr.splitlines()) == 1
    assert "ZeroDivisionError: float division by zero" in result.stderr
    assert "report" in result.stderr
    monkeypatch.setenv("CUTJOB_DEBUG", "1")
    assert "Traceback" in _run("make", "spring.toml").stderr


def test_stopped_from_the_keyboard(making: Stand) -> None:
    making(KeyboardInterrupt())
    result = _run("make", "spring.toml")
    assert (result.exit_code, result.stderr) == (130, "stopped\n")


@pytest.mark.parametrize(
    "words",
    [
        ["make"],
        ["make", "a.toml", "--effort", "huge"],
        ["make", "a.toml", "--seconds", "0"],
        ["make", "a.toml", "--seconds", "nan"],
        ["make", "a.toml", "--seconds", "inf"],
        ["make", "a.toml", "--seconds", "5", "--effort", "best"],
        ["make", "a.toml", "--seed", "-1"],
        ["make", "a.toml", "--seed", "x"],
        ["make", "a.toml", "--only", "pictures"],
        ["make", "a.toml", "b.toml"],
        ["list", "colours"],
        ["check", "a.nc"],
        ["nothing"],
    ],
)
def test_wrong_words_on_the_line_end_with_2(words: list[str]) -> None:
    result = _run(*words)
    assert result.exit_code == 2
    assert "Traceback" not in result.output


def test_only_takes_several_kinds() -> None:
    both = ["--only", "gcode", "--only", "dxf"]
    assert spread_only(["j", "--only", "gcode", "dxf", "--json"]) == ["j", *both, "--json"]
    assert spread_only(["--only", "gcode,dxf", "j"]) == [*both, "j"]
    assert spread_only(["--only=gcode", "j", "--only", "dxf"]) == [both[0], both[1], "j", both[2], both[3]]
    assert spread_only(["j", "--only"]) == ["j", "--only"]
    assert spread_only(["j", "-o", "gcode"]) == ["j", "-o", "gcode"]
    assert set(KINDS) >= {"gcode", "dxf"}


def test_a_job_that_is_wrong_says_so(tmp_path: Path) -> None:
    job = tmp_path / "spring.toml"
    job.write_text('units = "in"\nmachine = "bench-ruter"\n', encoding="utf-8")
    result = _run("make", str(job), "-o", str(tmp_path / "out"))
    assert result.exit_code == 2
    assert [line.replace(str(job), "").split(": ")[1] for line in result.stderr.splitlines()] == [
        "make",
        "board",
        "machine",
    ]
    assert result.stdout == ""
    assert list(tmp_path.iterdir()) == [job]


def test_check_prints_the_findings(checking: Stand, tmp_path: Path) -> None:
    program, plan = tmp_path / "board-01.nc", tmp_path / "plan.json"
    program.write_bytes(b"G21\nM2\n")
    plan.write_text(json.dumps(PLAN), encoding="utf-8")
    calls = checking(PASSED)
    result = _run("check", str(program), "--machine", "bench-router", "--plan", str(plan))
    assert result.exit_code == 0
    assert result.stdout.splitlines() == ["warning: board-01.nc: feed: slow", f"{program}: passed"]
    assert calls[0]["data"] == b"G21\nM2\n"
    assert calls[0]["name"] == str(program)
    assert calls[0]["machine"].name == "bench router"
    # Of the boards that the file does not belong to, only their files are handed on.
    handed = calls[0]["plan"]
    assert handed["boards"] == [PLAN["boards"][0], *({"programs": []} for _ in PLAN["boards"][1:])]
    assert handed | {"boards": None} == PLAN | {"boards": None}
    checking(FAILED)
    failed = _run("check", str(program), "--machine", "bench-router", "--json")
    assert failed.exit_code == 1
    data = json.loads(failed.stdout)
    assert (data["passed"], data["worst_gouge_mm"]) == (False, 0.5)
    assert data["findings"][0]["line"] == 12
    assert data["findings"][0]["at"] == [1.0, 2.0]


def test_more_findings_than_anybody_reads(checking: Stand, making: Stand, tmp_path: Path) -> None:
    program = tmp_path / "a.nc"
    program.write_bytes(b"G21\nM2\n")
    many = ProofReport(findings=(GOUGE,) * 75, worst_gouge=0.5, worst_left=0.0)
    checking(many)
    lines = _run("check", str(program), "--machine", "bench-router").stdout.splitlines()
    assert len([line for line in lines if line.startswith("error: ")]) == 60
    assert "and 15 more findings; --json lists them all" in lines
    assert lines[-1].endswith("failed, 75 errors")
    data = json.loads(_run("check", str(program), "--machine", "bench-router", "--json").stdout)
    assert len(data["findings"]) == 75
    making(Made(proof=many))
    made = _run("make", "spring.toml")
    assert len(made.stderr.splitlines()) == 60
    assert "and 15 more findings; --json lists them all" in made.stdout


def test_check_says_every_file_that_is_wrong(checking: Stand, tmp_path: Path) -> None:
    calls = checking(PASSED)
    plan = tmp_path / "plan.json"
    for text in ("[]", "{", '{"schema": "other/1"}', "[" * 100_000):
        plan.write_text(text, encoding="utf-8")
        result = _run("check", str(tmp_path), "--machine", "bench-ruter", "--plan", str(plan))
        assert result.exit_code == 2
        assert len(result.stderr.splitlines()) == 3
        assert "this is not a plan" in result.stderr
        assert 'did you mean "bench-router"?' in result.stderr
    assert calls == []


def test_nothing_in_a_file_drives_the_terminal(checking: Stand, tmp_path: Path) -> None:
    program = tmp_path / "a.nc"
    program.write_bytes(b"(\x1b[2J)\n")
    checking(ProofReport(findings=(replace(GOUGE, message="\x1b[2J\ntwo"),), worst_gouge=0.0, worst_left=0.0))
    result = _run("check", str(program), "--machine", "bench-router")
    assert "?[2J?two" in result.stdout
    assert "\x1b" not in result.stdout


def test_lists() -> None:
    designs, machines, materials = (_run("list", what) for what in ("designs", "machines", "materials"))
    heads = [line for line in designs.stdout.splitlines() if not line.startswith(" ")]
    assert [line.split()[0] for line in heads] == list(CATALOGUE)
    for design in CATALOGUE.values():
        assert f"{design.name}  {design.summary}" in heads
        for parameter in design.parameters:
            assert any(line.startswith(f"    {parameter.name} ") for line in designs.stdout.splitlines())
            assert parameter.expects(unit="in") in designs.stdout
    assert [line.split()[0] for line in machines.stdout.splitlines()] == list(shipped_files("machines"))
    assert {line.split()[0] for line in materials.stdout.splitlines()} >= {"softwood", "hardwood", "plywood", "mdf"}
    assert {result.exit_code for result in (designs, machines, materials)} == {0}


@pytest.mark.parametrize("design", list(CATALOGUE))
def test_new_prints_a_job(design: str, tmp_path: Path) -> None:
    result = _run("new", design)
    assert result.exit_code == 0
    job = tmp_path / "job.toml"
    job.write_bytes(result.stdout_bytes)
    assert read_job(job).file.make[0].design == design


def test_new_of_an_unknown_design() -> None:
    result = _run("new", "starr")
    assert result.exit_code == 2
    assert 'did you mean "star"?' in result.stderr
    assert result.stdout == ""


def test_help_needs_nothing_heavy() -> None:
    program = (
        "import sys, cutjob, cutjob.cli.commands\n"
        "heavy = {'pydantic', 'shapely', 'numpy', 'ezdxf', 'rich', 'pyclipper', 'svgelements'}\n"
        "print(sorted(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_command_runs_as_a_program(tmp_path: Path) -> None:
    program = "import sys; from cutjob.cli.commands import main; sys.exit(main())"
    words = [sys.executable, "-c", program, "make", "none.toml"]
    done = subprocess.run(words, capture_output=True, text=True, check=False, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr == "none.toml: there is no such file; check the name and the folder\n"
