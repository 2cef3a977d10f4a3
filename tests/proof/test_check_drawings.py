"""A drawing at hand checked with the plan of its job: accepted as made, refused when spoiled."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cutjob.cli.commands import main
from tests.proof.mutants.cases import all_cases


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    all_cases(folder, jobs=("marked",))
    return folder / "marked" / "out"


def check(path: Path, made: Path, *words: str) -> Result:
    return CliRunner().invoke(main, ["check", str(path), "--plan", str(made / "plan.json"), *words])


def test_a_drawing_as_made_passes_against_the_polygons_of_its_plan(made: Path) -> None:
    result = check(made / "board-01.dxf", made)
    assert (result.exit_code, result.stdout) == (0, f"{made / 'board-01.dxf'}: passed\n")
    data = json.loads(check(made / "board-01.dxf", made, "--json").stdout)
    assert (data["passed"], data["files"], data["not_judged"]) == (True, [str(made / "board-01.dxf")], [])


def first_circle(text: str) -> re.Match[str]:
    found = re.search(r"(\nCIRCLE\n.*?\n 10\n)([-0-9.]+)(\n.*?\n 40\n)([-0-9.]+)\n", text, re.DOTALL)
    assert found is not None
    return found


def test_a_spoiled_drawing_is_refused(made: Path, tmp_path: Path) -> None:
    text = (made / "board-01.dxf").read_text(encoding="ascii")
    circle = first_circle(text)
    x, radius = float(circle.group(2)), float(circle.group(4))
    moved = text[: circle.start(2)] + f"{x + 0.02:.6f}" + text[circle.end(2) :]
    wider = text[: circle.start(4)] + f"{radius + 0.02:.6f}" + text[circle.end(4) :]
    within = text[: circle.start(4)] + f"{radius + 0.004:.6f}" + text[circle.end(4) :]
    end = text.index("\n  0\n", circle.start(1) + 1)
    begin = text.rindex("\n  0\n", 0, circle.start(1) + 1)
    dropped = text[:begin] + text[end:]
    path = tmp_path / "board-01.dxf"
    for spoiled, passes in ((within, True), (moved, False), (wider, False), (dropped, False)):
        assert spoiled != text
        path.write_text(spoiled, encoding="ascii")
        result = check(path, made)
        assert (result.exit_code == 0) is passes, result.stdout
        assert passes or f"error: {path}" in result.stdout


def test_what_can_not_be_asked_of_a_drawing(made: Path, tmp_path: Path) -> None:
    alone = CliRunner().invoke(main, ["check", str(made / "board-01.dxf"), "--machine", "bench-laser"])
    assert (alone.exit_code, alone.stderr.startswith("--plan: a drawing can only be checked against its plan")) == (
        2,
        True,
    )
    pictured = check(made / "board-01.dxf", made, "--picture", str(tmp_path / "a.svg"))
    assert (pictured.exit_code, pictured.stderr.startswith("--picture: ")) == (2, True)
    other = tmp_path / "board-07.dxf"
    other.write_bytes((made / "board-01.dxf").read_bytes())
    unknown = check(other, made)
    assert (unknown.exit_code, "doesn't name the file board-07.dxf" in unknown.stderr) == (2, True)
