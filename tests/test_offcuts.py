"""Leftovers and stock from end to end: one job's rest is the next job's board, through files as a user has them."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
import shapely
from click.testing import CliRunner, Result

from cutjob.cli.commands import main
from cutjob.job.read_stock import read_stock
from cutjob.making import MakeResult, make_job
from tests.output.reading import read

JOB = """\
title = "{title}"
units = "mm"
machine = "long-bed-router"
stock = "shed.toml"
{head}

[[make]]
name = "pot foot"
design = "round"
count = {count}
with = {{ diameter = 60, hole = 8 }}
"""
SHED = """\
# Under the workbench.
units = "in"

[[board]]
name = "larch picket"
length = "27 1/2"
width = "5 1/2"
thickness = "1/2"
count = 2
price = 3.40

[[board]]
name = "thick larch"
length = "27 1/2"
width = "5 1/2"
thickness = "3/4"
"""


def _job(
    folder: Path, name: str, *, count: int = 2, head: str = 'thickness = "1/2 in"', shed: str | None = None
) -> Path:
    if shed is not None:
        (folder / "shed.toml").write_text(shed, encoding="utf-8")
    path = folder / f"{name}.toml"
    path.write_text(JOB.format(title=name.title(), head=head, count=count), encoding="utf-8")
    return path


def _made(path: Path, **more: Any) -> MakeResult:
    result = make_job(path, out=path.parent / "out" / path.stem, effort="quick", **more)
    assert result.proof.passed, [str(finding) for finding in result.proof.findings]
    return result


def _boards(folder: Path) -> dict[str, dict[str, Any]]:
    return {
        board["name"]: board for board in tomllib.loads((folder / "shed.toml").read_text(encoding="utf-8"))["board"]
    }


def test_the_rest_of_one_job_is_the_board_of_the_next(tmp_path: Path) -> None:
    shed = tmp_path / "shed.toml"
    first = _made(_job(tmp_path, "feet", shed=SHED), keep_offcuts=shed)
    assert [aside["board"] for aside in first.plan["left_aside"]] == ["thick larch"]
    kept = shed.read_bytes()
    boards = _boards(tmp_path)
    assert list(boards)[2:] == ["offcut of larch picket, Feet board-01"]
    assert boards["larch picket"]["taken"] == [{"by": "Feet (feet.toml)", "count": 1}]
    # Made again it takes the same board, and the file stays byte for byte.
    again = _made(tmp_path / "feet.toml", keep_offcuts=shed)
    assert again.files == first.files
    assert shed.read_bytes() == kept
    # The next job takes the rest, which costs nothing, before a board that has a price.
    second = _made(_job(tmp_path, "more feet"), keep_offcuts=shed)
    assert [board.board.name for board in second.layout.boards] == ["offcut of larch picket, Feet board-01"]
    assert second.plan["cost"] == 0
    boards = _boards(tmp_path)
    assert boards["offcut of larch picket, Feet board-01"]["taken"] == [
        {"by": "More Feet (more feet.toml)", "count": 1}
    ]
    assert "offcut of larch picket, More Feet board-01" in boards
    # And a third finds one picket fewer, and the rest of the rest.
    third = _made(_job(tmp_path, "last feet", count=1))
    assert [board.board.name for board in third.layout.boards] == ["offcut of larch picket, More Feet board-01"]
    assert "taken by other jobs" in [aside["why"] for aside in third.plan["left_aside"]]


def test_the_rest_is_clear_of_all_the_file_cuts(tmp_path: Path) -> None:
    result = _made(_job(tmp_path, "feet", shed=SHED))
    plan = json.loads((tmp_path / "out" / "feet" / "plan.json").read_text(encoding="utf-8"))
    assert "leftovers.toml" in plan["files"]
    [left] = plan["leftovers"]
    outline = shapely.affinity.translate(shapely.Polygon(left["outline"]), *left["at"])
    assert left["area"] == pytest.approx(outline.area, abs=1e-3)
    assert (left["board"], left["count"], left["stock"]) == ("board-01", 1, "larch picket")
    # Program zero is the board's own, and the cutter's radius is beside its path.
    program = result.programs[0]
    path = [(x, y) for mode, x, y, z, *_ in read(result.files["board-01.nc"]).path if z < 0 and mode != 0]
    assert program.origin == (0.0, 0.0)
    nearest = float(shapely.distance(outline, shapely.points(path[:: max(1, len(path) // 20_000)])).min())
    # What is left begins a saw's kerf beyond all that the cutter takes; the file has four decimals of an inch or mm.
    assert nearest - program.cutters[0].radius >= 3.175 - 0.01
    [entry] = read_stock(tmp_path / "out" / "feet" / "leftovers.toml").boards
    assert entry.board.name == left["name"]
    assert entry.board.length == pytest.approx(outline.bounds[2] - outline.bounds[0], abs=0.01)
    assert b"leftover" in result.files["board-01.svg"]


def test_least_leftover_and_only_leave_the_file_out(tmp_path: Path) -> None:
    path = _job(tmp_path, "feet", head='thickness = "1/2 in"\nleast_leftover = ["3 ft", 50]', shed=SHED)
    result = _made(path, keep_offcuts=tmp_path / "shed.toml")
    assert result.plan["leftovers"] == []
    assert "leftovers.toml" not in result.files
    assert list(_boards(tmp_path)) == ["larch picket", "thick larch"]
    assert _boards(tmp_path)["larch picket"]["taken"]
    small = _made(_job(tmp_path, "feet", shed=SHED), only=frozenset({"gcode"}))
    assert set(small.files) == {"board-01.nc", "plan.json"}
    assert len(small.plan["leftovers"]) == 1


def test_stock_too_large_for_the_machine_waits(tmp_path: Path) -> None:
    huge = SHED + '\n[[board]]\nname = "barn door"\nlength = "30 ft"\nwidth = "3 ft"\nthickness = "1/2"\nprice = 0\n'
    result = _made(_job(tmp_path, "feet", shed=huge))
    assert {"board": "barn door", "file": "shed.toml", "why": "too large for the machine"} in result.plan["left_aside"]


def test_only_sawn_boards_leave_their_rest(tmp_path: Path) -> None:
    stack = 'design = "graded-stack"\nsize = "small"'
    sizes = "tiers = 3, longest = 160, shortest = 90, tallest = 40, least_height = 34, base = [400], topper = 'none'"
    path = _job(tmp_path, "spinner", count=2, shed=SHED.replace('1/2"\ncount = 2', '1/2"\ncount = 3'))
    text = path.read_text(encoding="utf-8").replace('design = "round"', stack)
    path.write_text(text.replace("{ diameter = 60, hole = 8 }", f"{{ {sizes} }}"), encoding="utf-8")
    result = _made(path, keep_offcuts=tmp_path / "shed.toml")
    sawn = [left for left in result.plan["leftovers"] if left["board"] is None]
    on_board = [board for board in result.layout.boards if board.board.sawn_off]
    # Both bases come off boards of their own; parts lie on none, one or both of the rests.
    assert sum(left["count"] for left in sawn) == 2 - sum(board.stack * board.copies for board in on_board)
    assert _boards(tmp_path)["larch picket"]["taken"][0]["count"] == 2
    for left in sawn:
        assert max(x for x, _ in left["outline"]) == pytest.approx(27.5 * 25.4 - 400 - 3.175, abs=1e-6)


def _run(*words: str) -> Result:
    return CliRunner().invoke(main, ["make", *words, "--effort", "quick"])


def test_the_command_tells_what_to_keep_and_where_it_went(tmp_path: Path) -> None:
    path, shed, out = _job(tmp_path, "feet", shed=SHED), tmp_path / "shed.toml", str(tmp_path / "out")
    result = _run(str(path), "-o", out, "--keep-offcuts", str(shed), "--verbose")
    assert result.exit_code == 0, result.output
    [line] = [line for line in result.stdout.splitlines() if line.startswith("keep: ")]
    assert line.startswith("keep: 1 piece ")
    assert line.endswith(" x 139.7 mm, offcut of larch picket, Feet board-01")
    assert "left aside in stock: thick larch (19.05 mm thick)" in result.stdout
    assert f"offcuts  {shed}" in result.stdout.splitlines()
    data = json.loads(_run(str(path), "-o", out, "--json").stdout)
    assert [left["name"] for left in data["leftovers"]] == ["offcut of larch picket, Feet board-01"]


def test_a_faulty_file_of_leftovers_ends_the_run_before_it_starts(tmp_path: Path) -> None:
    path, rests = _job(tmp_path, "feet", shed=SHED), tmp_path / "rests.toml"
    rests.write_text('units = "mm"\n[[board]]\nname = "oak"\n', encoding="utf-8")
    result = _run(str(path), "-o", str(tmp_path / "out"), "--keep-offcuts", str(rests))
    assert result.exit_code == 2
    assert f"{rests}:2: " in result.stderr
    assert not (tmp_path / "out").exists()
    assert rests.read_text(encoding="utf-8") == 'units = "mm"\n[[board]]\nname = "oak"\n'


def test_nothing_is_kept_of_a_run_that_is_not_proven(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import cutjob.finishing
    from cutjob.proof.finding import Finding, ProofReport

    failed = ProofReport(
        findings=(Finding(check="gouge", severity="error", message="cuts into a part", file="board-01.nc"),),
        worst_gouge=1.0,
        worst_left=0.0,
    )
    monkeypatch.setattr(cutjob.finishing, "prove", lambda *_, **__: failed)
    path, shed = _job(tmp_path, "feet", shed=SHED), tmp_path / "shed.toml"
    result = _run(str(path), "-o", str(tmp_path / "out"), "--keep-offcuts", str(shed))
    assert result.exit_code == 1
    assert shed.read_text(encoding="utf-8") == SHED
    assert not (tmp_path / "out").exists()
