"""Paper patterns at hand checked with the plan of their job: accepted as made, refused when spoiled."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from cutjob.cli.commands import main
from cutjob.files.file_bytes import shipped_folder
from cutjob.making import make_job

# Parts with pockets, holes, an opening and marks, some turned and mirrored, halves and whole layouts.
JOB = """
title = "Porch goods, sawn"
units = "mm"
machine = "bandsaw"
patterns = { halves = true, layout = true }
[[make]]
name = "plant shelf"
design = "outline"
count = 1
[make.with]
file = "porch-shelf.dxf"
pockets = { dado = 5, recess = 4, counterbore = 4 }
[[make]]
name = "pot foot"
design = "round"
count = 3
with = { diameter = 90, hole = 20, ring_holes = 3, ring_diameter = 60, ring_hole = 8 }
[[make]]
name = "bean-row star"
design = "star"
count = 4
with = { outer = 120, hole = 6 }
[[board]]
name = "oiled ash board"
length = 700
width = 190
thickness = 12
material = "hardwood"
count = 3
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    shutil.copy(shipped_folder("samples") / "porch-shelf.dxf", folder)
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    assert make_job(folder / "job.toml", out=folder / "out", effort="quick").proof.passed
    return folder / "out"


def check(patterns: Path, plan: Path, *words: str) -> Result:
    return CliRunner().invoke(main, ["check", str(patterns), "--plan", str(plan), *words])


def test_patterns_as_made_pass(made: Path) -> None:
    result = check(made / "patterns.pdf", made / "plan.json")
    assert (result.exit_code, result.stdout) == (0, f"{made / 'patterns.pdf'}: passed\n")
    data = json.loads(check(made / "patterns.pdf", made / "plan.json", "--json").stdout)
    assert data["passed"]
    assert 0 < data["worst_pattern_mm"] <= 0.01  # chords of the plan and of the page; 0.1 mm are allowed
    plan = json.loads((made / "plan.json").read_text(encoding="utf-8"))
    folds = {one["fold"]["way"] for sheet in plan["patterns"]["sheets"] for one in sheet["patterns"] if one["fold"]}
    assert folds
    assert {sheet["board"] for sheet in plan["patterns"]["sheets"]} > {None}


def _moved_part(plan: dict[str, Any]) -> None:
    """A part of a board whose whole layout is on paper, 0.3 mm farther on."""
    board = plan["boards"][0]
    for points in (board["placements"][0]["outline"], *board["placements"][0]["holes"]):
        for point in points:
            point[0] += 0.3


def _wider_hole(plan: dict[str, Any]) -> None:
    for board in plan["boards"]:
        for placement in board["placements"]:
            for feature in placement["features"]:
                if "diameter" in feature:
                    feature["diameter"] += 0.5


def _dropped_sheet(plan: dict[str, Any]) -> None:
    plan["patterns"]["sheets"].pop(0)


def _moved_page(plan: dict[str, Any]) -> None:
    plan["patterns"]["sheets"][0]["pages"][0]["shift"][0] += 0.3


def _other_paper(plan: dict[str, Any]) -> None:
    plan["patterns"]["paper"][0] += 1.0


@pytest.mark.parametrize(
    ("spoil", "found"),
    [
        (_moved_part, "from its right place"),
        (_wider_hole, "from its right place"),
        (_dropped_sheet, "has no pattern"),
        (_moved_page, "from its right place"),
        (_other_paper, "not the paper's size"),
    ],
)
def test_patterns_that_differ_from_the_plan_are_refused(
    made: Path, tmp_path: Path, spoil: Callable[[dict[str, Any]], None], found: str
) -> None:
    plan = json.loads((made / "plan.json").read_text(encoding="utf-8"))
    spoil(plan)
    (tmp_path / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
    result = check(made / "patterns.pdf", tmp_path / "plan.json")
    assert result.exit_code == 1, result.output
    assert found in result.stdout
    assert f"error: {made / 'patterns.pdf'}" in result.stdout


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"file": "other.pdf"}, "doesn't name the file patterns.pdf"),
        ({"paper": [210.0]}, "plan.patterns.paper: should be a point"),
        ({"parts": "yes"}, "plan.patterns.parts: should be true or false"),
        ({"lines": {}}, 'plan.patterns.lines: has no "outline"'),
        ({"sheets": [{"pages": [], "board": "board-77"}]}, "is not in the plan"),
        (
            {"sheets": [{"pages": [], "patterns": [{"board": "board-01", "placement": 900}]}]},
            "the board has no placement 900",
        ),
        ({"sheets": [{"pages": [{"page": 1, "window": [0, 0]}]}]}, "should be [least x, least y"),
    ],
)
def test_a_plan_that_says_no_such_pages_is_refused(
    made: Path, tmp_path: Path, change: dict[str, Any], place: str
) -> None:
    plan = json.loads((made / "plan.json").read_text(encoding="utf-8"))
    plan["patterns"] |= change
    (tmp_path / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
    result = check(made / "patterns.pdf", tmp_path / "plan.json")
    assert (result.exit_code, place in result.stderr) == (2, True), result.stderr


def test_what_can_not_be_asked_of_patterns(made: Path, tmp_path: Path) -> None:
    alone = CliRunner().invoke(main, ["check", str(made / "patterns.pdf"), "--machine", "bandsaw"])
    assert (alone.exit_code, alone.stderr.startswith("--plan: a drawing can only be checked against its plan")) == (
        2,
        True,
    )
    pictured = check(made / "patterns.pdf", made / "plan.json", "--picture", str(tmp_path / "a.svg"))
    assert (pictured.exit_code, pictured.stderr.startswith("--picture: ")) == (2, True)
    words = tmp_path / "patterns.pdf"
    words.write_text("not a page\n", encoding="utf-8")
    broken = check(words, made / "plan.json")
    assert broken.exit_code == 1
    assert f"error: {words}" in broken.stdout
