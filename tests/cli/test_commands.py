"""The commands: what they print where, and their exit codes.

The stages behind `make` and `check` have tests of their own; here others stand in for them, to have every outcome.
"""

import json
import os
import subprocess
import sys
import types
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import cutjob.cli.commands
from cutjob.cli.commands import KINDS, main, spread_only
from cutjob.designs.catalogue import CATALOGUE
from cutjob.errors import InputError, Location, Problem, ProofError
from cutjob.files.file_bytes import shipped_files
from cutjob.geometry.contour import Region, rectangle
from cutjob.geometry.transform import Transform
from cutjob.job.read_job import read_job
from cutjob.layout.layout import BoardLayout, Placement, SawnPiece
from cutjob.making import MakeResult
from cutjob.output.words.cautions import Caution
from cutjob.parts.part import BoughtPart, Build, HandHole, Item, RodPart, ShapedPart
from cutjob.proof.check import Checked
from cutjob.proof.finding import Finding, ProofReport
from cutjob.proof.gcode.reader import read_gcode
from cutjob.reports.plan.plan import plan_of
from cutjob.result import JobResult, Search
from cutjob.sticks.lists import stick_lists
from tests.layout.makers import board
from tests.output.samples import program, whole_layout
from tests.reports.makers import job_result

GOUGE = Finding(
    check="gouge", severity="error", message="cuts 0.5 mm into a part", file="board-01.nc", line=12, at=(1.0, 2.0)
)
REMARK = Finding(check="feed", severity="warning", message="slow", file="board-01.nc")
PASSED = ProofReport(findings=(REMARK,), worst_gouge=0.0, worst_left=0.004)
FAILED = ProofReport(findings=(GOUGE, REMARK), worst_gouge=0.5, worst_left=0.004)


def _picket(name: str, price: float, *, layout: str, parts: Sequence[Placement], **times: int) -> BoardLayout:
    """A board of 160 x 100 mm."""
    wood = board(160.0, 100.0, name=name, price=price)
    return BoardLayout(id=layout, board=wood, placements=tuple(parts), **times)


def _placed(item: str, unit: int, name: str, *size: float) -> Placement:
    slat = ShapedPart(name=name, region=Region(rectangle(*size)))
    return Placement(part=slat, item=item, unit=unit, transform=Transform(x=0.0, y=0.0))


def _job(first: Sequence[Placement], second: Sequence[Placement], **changes: Any) -> JobResult:
    """A layout of three stacks of two pickets, which a program cuts, and one of an offcut."""
    boards = (
        _picket("cedar picket", 3.4, layout="board-01", parts=first, stack=2, copies=3),
        _picket("offcut", 0.0, layout="board-02", parts=second),
    )
    made = program(seconds=90.0)
    (only,) = made.sections
    cutter = only.cutter.model_copy(update={"number": 3})
    given = {
        "items": (),
        "layout": replace(whole_layout(), boards=boards, sawn=(), sawn_from=()),
        "stock": tuple(one.board for one in boards),
        "programs": (replace(made, sections=(replace(only, cutter=cutter),)),),
        "warnings": ("buy rods",),
    }
    return job_result(**(given | changes))


# Parts are 6 x 10,000 and 10,000 mm2 of seven boards of 16,000: 0.625 of the wood.
JOB = _job(
    [_placed("gull", 1, "a", 100.0, 50.0), _placed("gull", 1, "b", 100.0, 50.0)],
    [_placed("gull", 13, "a", 100.0, 100.0)],
)
PLAN = plan_of(JOB)


def _made(job: JobResult = JOB, proof: ProofReport = PASSED) -> MakeResult:
    return MakeResult(
        job=job, folder=Path("out/spring"), plan=plan_of(job), proof=proof, seconds={"reading": 0.01234}, files={}
    )


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
    calls = making(_made())
    assert _run("make", "spring.toml").exit_code == 0
    words = ["-o", "there", "--seed", "7", "--effort", "best", "--only", "gcode", "dxf", "--png", "--json"]
    assert _run("make", "spring.toml", *words).exit_code == 0
    plain = {"path": Path("spring.toml"), "out": None, "seed": 0, "effort": "normal", "seconds": None, "only": None}
    plain |= {"png": False, "cores": os.cpu_count() or 1, "keep_offcuts": None, "executor": None}
    for call in calls:
        assert not call.pop("watch").stop
        call.pop("progress")("reading")
    assert calls[0] == plain
    given = {"out": Path("there"), "seed": 7, "effort": "best", "only": frozenset({"gcode", "dxf"}), "png": True}
    assert calls[1] == {**plain, **given}


def test_the_summary_is_plain_when_piped(making: Stand) -> None:
    making(_made())
    result = _run("make", "spring.toml")
    assert result.stdout.splitlines() == [
        "run      4.5 min on the machine in 4 runs: board-01.nc (2 at once of cedar picket, 1.5 min, 3 times)",
        "wood     6 x cedar picket; 1 x offcut; 62% of the wood used",
        "warning  buy rods",
        "warning  board-01.nc: feed: slow",
        "proof    passed: read back, the files cut what was meant",
        f"files    {Path('out/spring')}",
    ]
    assert result.stderr == ""


def test_all_of_it_when_asked(making: Stand) -> None:
    made = _made()
    making(made)
    short = _run("make", "spring.toml").stdout
    result = _run("make", "spring.toml", "--verbose")
    assert result.stdout.splitlines() == [
        "boards and files",
        "layout    board         boards  parts  file         cutter  minutes",
        "board-01  cedar picket  6       2      board-01.nc  3       1.5",
        "board-02  offcut        1       1",
        "layouts: 2, cut in 4 runs of the machine",
        "",
        "wood",
        "boards: 6 of cedar picket at 3.40, 1 of offcut at no cost; 20.40 in all",
        "wood used: 62% of the boards",
        "",
        "warnings",
        "buy rods",
        "",
        *short.splitlines(),
    ]


def _left(units: str) -> JobResult:
    """Two pieces to saw off boards, and one of another length; a rod twice, holes by hand, and hooks to buy."""
    pieces = (("base 1", 254.0, 2, "bore it"), ("base 2", 165.1, 1, ""))
    sawn = tuple(
        SawnPiece(
            item="spinner", part=part, length=long, width=100.0, thickness=16.0, count=count, board="cedar picket",
            note=note,
        )
        for part, long, count, note in pieces
    )  # fmt: skip
    rod = RodPart(name="centre rod", diameter=9.525, length=571.5)
    drilled = (("piece 1", 9.525, 50.8), ("piece 1", 9.525, 50.8), ("piece 2", 9.525, 25.4), ("topper", 6.35, 25.4))
    spinner = Build(
        rods=(rod, rod),
        hand_holes=tuple(HandHole(part=part, diameter=wide, depth=deep, note="long") for part, wide, deep in drilled),
        bought=(BoughtPart(name="cup hook", count=7),),
    )
    gull = Build(hand_holes=(HandHole(part="body", diameter=6.35, depth=None, note="long"),))
    items = tuple(
        Item(name=name, design="demo", size="medium", count=1, build=build)
        for name, build in (("spinner", spinner), ("gull", gull))
    )
    layout = replace(JOB.layout, sawn=sawn)
    return replace(JOB, units=units, layout=layout, items=items, sticks=stick_lists(items, [], saw_kerf=3.0))


def test_what_is_left_for_the_hands_is_named_in_the_units_of_the_job(making: Stand) -> None:
    making(_made(_left("in")))
    lines = _run("make", "spring.toml", "--verbose").stdout.splitlines()
    started = ("saw first", "rods:", "drill by hand", "buy:")
    assert [line for line in lines if line.startswith(started)] == [
        "saw first: 2 pieces 10 in long off cedar picket (base 1, spinner); bore it",
        "saw first: 1 piece 6 1/2 in long off cedar picket (base 2, spinner)",
        "rods: 2 of 3/8 in, 22 1/2 in long (centre rod, spinner)",
        "drill by hand: 3 holes 3/8 in wide, 1 in to 2 in deep (spinner)",
        "drill by hand: 1 hole 1/4 in wide, 1 in deep (spinner)",
        "drill by hand: 1 hole 1/4 in wide, through (gull)",
        "buy: 7 x cup hook",
        "buy: 2 x piece of 3/8 in rod, 45 in together, the longest 22 1/2 in",
    ]
    made = _made(_left("mm"))
    making(made)
    assert "saw first: 1 piece 165.1 mm long off" in _run("make", "spring.toml", "--verbose").stdout
    as_data = json.loads(_run("make", "spring.toml", "--json").stdout)
    for key, entries in (("sawn", 2), ("rods", 1), ("hand_holes", 4), ("bought", 1)):
        assert len(as_data[key]) == entries
        assert as_data[key] == made.plan[key]


HOSTILE = "ply [/2] [bold]\x1b[2J\n"


def _hostile_job() -> JobResult:
    layout = _picket(HOSTILE, 0.0, layout=HOSTILE, parts=[_placed("gull", 1, "a", 100.0, 80.0)])
    piece = SawnPiece(
        item=HOSTILE, part=HOSTILE, length=9.0, width=9.0, thickness=9.0, count=1, board=HOSTILE, note=HOSTILE
    )
    return replace(
        JOB,
        layout=replace(JOB.layout, boards=(layout,), sawn=(piece,)),
        stock=(layout.board,),
        programs=(),
        warnings=(HOSTILE,),
        cautions=(Caution(topic="dust", short="dust", full=HOSTILE),),
    )


@pytest.mark.parametrize("terminal", [True, False])
def test_what_users_name_their_boards_is_text(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, terminal: bool
) -> None:
    """Square brackets are no commands, and control characters reach no terminal."""
    monkeypatch.setattr(sys.stdout, "isatty", lambda: terminal)
    monkeypatch.setenv("TERM", "dumb")
    made = replace(_made(_hostile_job()), folder=Path("out") / HOSTILE)
    cutjob.cli.commands._print_summary(made)
    short = capsys.readouterr().out
    cutjob.cli.commands._print_details(made.job)
    printed = " ".join(capsys.readouterr().out.split())  # without where lines were broken
    # The board's name twice, a warning, and the folder; a caution is there by its topic.
    assert (short.count("ply [/2]"), short.count("[bold]?[2J?")) == (4, 4)
    # The board's id, its name twice, a warning, a caution, a sawn piece's four names.
    assert (printed.count("ply [/2]"), printed.count("[bold]?[2J?")) == (9, 9)
    assert "\n\n" not in short
    assert "\x1b" not in short


def test_the_summary_as_data(making: Stand) -> None:
    making(_made())
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
    making(_made(proof=FAILED))
    result = _run("make", "spring.toml")
    assert result.exit_code == 1
    assert "error: board-01.nc:12: gouge: cuts 0.5 mm into a part at x 1.000 y 2.000" in result.stderr
    assert "proof    failed, 1 error: nothing was written" in result.stdout
    as_data = _run("make", "spring.toml", "--json")
    assert as_data.exit_code == 1
    assert json.loads(as_data.stdout)["proof"]["passed"] is False


def test_the_clock_or_an_effort(making: Stand) -> None:
    calls = making(_made())
    assert _run("make", "spring.toml", "--seconds", "2.5").exit_code == 0
    assert (calls[0]["seconds"], calls[0]["effort"]) == (2.5, "normal")
    both = _run("make", "spring.toml", "--seconds", "2.5", "--effort", "normal")
    assert both.exit_code == 2
    assert "--effort and --seconds both say how long to search" in both.stderr
    assert len(calls) == 1


TOGETHER = tuple(
    Item(name=name, design="demo", size="medium", count=13, together=together, build=Build())
    for name, together in (("key rack", True), ("gull", False))
)
SEARCHED = _job(
    [
        _placed(item, unit, name, 100.0, 20.0)
        for name, item, unit in (
            ("key", "key rack", 1), ("key", "key rack", 3), ("fob", "key rack", 1), ("fob", "key rack", 3),
            ("wing", "gull", 1),
        )
    ],
    [_placed("key rack", 13, "key", 100.0, 100.0)],
    items=TOGETHER,
)  # fmt: skip


@pytest.mark.parametrize(
    ("search", "line"),
    [
        (Search(seed=0, effort="best"), None),
        (
            Search(seed=0, seconds=90.0),
            "search: 90 seconds by the clock; another run may give another layout",
        ),
        (
            Search(seed=0, seconds=90.0, stopped=True),
            "search: stopped by hand with the best layout so far; another run may give another",
        ),
    ],
)
def test_layouts_runs_and_boards(making: Stand, search: Search, line: str | None) -> None:
    making(_made(replace(SEARCHED, search=search)))
    started = ("layouts", "boards:", "wood used", "together", "search:")
    lines = [one for one in _run("make", "spring.toml", "--verbose").stdout.splitlines() if one.startswith(started)]
    assert lines == [
        "layouts: 2, cut in 4 runs of the machine",
        "together: key rack, each on one board: 12 on board-01, 1 on board-02",
        *([line] if line else []),
        "boards: 6 of cedar picket at 3.40, 1 of offcut at no cost; 20.40 in all",
        "wood used: 62% of the boards",
    ]
    data = json.loads(_run("make", "spring.toml", "--json").stdout)
    assert (data["layouts"], data["runs"]) == (2, 4)
    assert data["boards_used"] == [
        {"board": "cedar picket", "count": 6, "price": 3.4},
        {"board": "offcut", "count": 1, "price": 0.0},
    ]
    assert data["together"] == [{"item": "key rack", "units": {"board-01": 12, "board-02": 1}}]
    asked = {"effort": "best"} if search.seconds is None else {"seconds": 90.0}
    flags = {"stopped": search.stopped, "clock_decided": search.clock_decided, "unfinished": search.unfinished}
    assert data["search"] == {"seed": 0, **asked, **flags}


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
    assert result.stdout.splitlines() == [
        f"{program}: cuts nothing", "warning: board-01.nc: feed: slow", f"{program}: passed"
    ]  # fmt: skip
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
    findings = tuple(replace(GOUGE, message=f"cuts into {chr(65 + n // 26)}{chr(65 + n % 26)}") for n in range(75))
    many = ProofReport(findings=findings, worst_gouge=0.5, worst_left=0.0)
    checking(many)
    lines = _run("check", str(program), "--machine", "bench-router").stdout.splitlines()
    assert len([line for line in lines if line.startswith("error: ")]) == 60
    assert "and 15 more findings; --json lists them all" in lines
    assert lines[-1].endswith("failed, 75 errors")
    data = json.loads(_run("check", str(program), "--machine", "bench-router", "--json").stdout)
    assert len(data["findings"]) == 75
    making(_made(proof=many))
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
    assert done.stderr == (
        "none.toml: there is no such file; check the name and the folder, or write a first job: "
        "cutjob new graded-stack > none.toml\n"
    )
