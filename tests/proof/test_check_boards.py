"""Boards of several files checked as a whole: by cutter, by window, with files missing, of screw holes alone."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from cutjob.cli.commands import main
from cutjob.proof.check import Checked, examine_board, examine_program
from tests.proof import two_cutters as two
from tests.proof import workshop as ws
from tests.proof.openings import opened
from tests.proof.test_check import both_files, full_plan, plan
from tests.test_checking import toml_of

FIRST, SECOND = "board-01-1.nc", "board-01-2.nc"


def by_cutter() -> dict[str, Any]:
    """The latch's board held by screws, in two files of a cutter each, without windows."""
    data = full_plan()
    board = data["boards"][0]
    board["windows"] = []
    board["hold_downs"] = [down | {"window": None} for down in board["hold_downs"]]
    for program in board["programs"]:
        program["window"] = None
    return data


def judged(files: dict[str, list[str]], data: dict[str, Any] | None = None) -> Checked:
    data = full_plan() if data is None else data
    return examine_board({name: ws.text(lines) for name, lines in files.items()}, machine=two.router(), plan=data)


def errors(checked: Checked) -> set[tuple[str, str]]:
    """File and check of each error."""
    found = checked.report.findings
    return {(finding.file, finding.check) for finding in found if finding.severity == "error"}


def without_pins() -> dict[str, list[str]]:
    """The same files for a board that is not cut in windows."""
    files = both_files()
    return files | {FIRST: [*files[FIRST][: -len(two.drilled(214, 14)) - 2], "M5", "M2"]}


@pytest.mark.parametrize(("files", "data"), [(both_files(), full_plan()), (without_pins(), by_cutter())])
def test_a_board_of_two_files_is_judged_as_one(files: dict[str, list[str]], data: dict[str, Any]) -> None:
    checked = judged(files, data)
    assert [str(finding) for finding in checked.report.findings] == []
    assert checked.not_judged == ()
    # The plan says the order, however they are given.
    turned = judged(dict(reversed(files.items())), data)
    assert [reading.name for reading in turned.readings] == [FIRST, SECOND]
    assert turned.report.findings == ()


def without(lines: list[str], begin: str, end: str) -> list[str]:
    """A file without what stands from one line up to another."""
    first = lines.index(begin)
    return [*lines[:first], *lines[lines.index(end, first) :]]


def test_what_only_the_whole_board_shows_is_an_error() -> None:
    files = both_files()
    one, other = files.values()
    # One of two screws' holes is left out.
    screw = two.drilled(*two.SCREWS[1])
    at = next(index for index in range(len(one)) if one[index : index + len(screw)] == screw)
    assert (f"{FIRST}, {SECOND}", "missing") in errors(judged(files | {FIRST: [*one[:at], *one[at + len(screw) :]]}))
    halt = [line for line in one if line != "M0"]
    assert {check for _, check in errors(judged(files | {FIRST: halt}))} == {"hold-down"}
    # The second file ends before the outline; the first without the hole that it drills.
    outline = [*other[: other.index("(outline)")], "M5", "M2"]
    assert "missing" in {check for _, check in errors(judged(files | {SECOND: outline}))}
    assert "missing" in {check for _, check in errors(judged(files | {FIRST: without(one, "(drilled hole)", "M5")}))}


def test_a_pass_too_deep_is_an_error_where_no_other_file_can_have_made_room() -> None:
    files = both_files()
    spoiled = files | {SECOND: [line.replace("G1 X27 Y80 Z-4", "G1 X27 Y80 Z-8") for line in files[SECOND]]}
    assert spoiled != files
    assert "depth per pass" in {check for _, check in errors(judged(spoiled))}
    # Alone it is only warned of: the first file may have been there.
    alone = judged({SECOND: spoiled[SECOND]})
    assert "depth per pass" not in {check for _, check in errors(alone)}
    assert "depth per pass" in {finding.check for finding in alone.report.findings}
    assert any(f"whether {FIRST} made room" in text for text in alone.not_judged)
    # Nothing runs before the first file.
    first = files[FIRST]
    peck = [line for line in first if line != "G1 Z-4 F200"]
    assert peck != first
    once = judged({FIRST: peck})
    assert (FIRST, "depth per pass") in errors(once)
    (said,) = once.not_judged
    assert said.startswith(
        f"whether everything is cut and the board held as planned, without {SECOND} of the same board"
    )


def test_a_file_of_nothing_but_screw_holes_belongs_to_its_plan() -> None:
    """Its cuts run along no contour of a part, and what goes straight down has no length along the board."""
    data = by_cutter()
    one, _ = two.by_hand()
    screws = without(without(one, "(stop)", "(drilled hole)"), "(drilled hole)", "M5")
    found = examine_program(ws.text(screws), name=FIRST, machine=two.router(), plan=data)
    assert "missing" not in {finding.check for finding in found.report.findings}
    # Bored wider, too, and drilled with a cutter that is narrower than the screws' holes.
    data["boards"][0]["hold_downs"] = [down | {"diameter": 8.0} for down in data["boards"][0]["hold_downs"]]
    assert examine_program(ws.text(screws), name=FIRST, machine=two.router(), plan=data).readings


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The board's files with their plan, and the profile of the machine."""
    for name, data in opened(both_files(), full_plan(), two.router()).items():
        (tmp_path / name).write_bytes(data)
    (tmp_path / "plan.json").write_text(json.dumps(full_plan() | {"machine": "test router"}), encoding="utf-8")
    machine = two.router().model_dump(mode="json", exclude_none=True, exclude_defaults=True)
    (tmp_path / "own.toml").write_text(toml_of(machine), encoding="utf-8")
    return tmp_path


def check(folder: Path, *words: str) -> Result:
    machine = ["--machine", str(folder / "own.toml"), "--plan", str(folder / "plan.json")]
    return CliRunner().invoke(main, ["check", *words, *machine])


def test_the_other_files_are_found(folder: Path) -> None:
    both = f"{folder / FIRST}, {folder / SECOND}"
    for words in ([str(folder / FIRST)], [str(folder / SECOND)], [str(folder / SECOND), str(folder / FIRST)]):
        result = check(folder, *words)
        assert (result.exit_code, result.stdout.splitlines()[-1]) == (0, f"{both}: passed")
        assert len(result.stdout.splitlines()) == 3  # the size of each file
    # One that lies elsewhere stands for that of its name; the others are found beside the plan.
    elsewhere = folder / "else"
    elsewhere.mkdir()
    (elsewhere / SECOND).write_bytes((folder / SECOND).read_bytes().replace(b"X124", b"X127"))
    result = check(folder, str(elsewhere / SECOND))
    assert result.exit_code == 1
    assert f"error: {elsewhere / SECOND}:" in result.stdout
    assert result.stdout.endswith(f"{folder / FIRST}, {elsewhere / SECOND}: failed, 2 errors\n")
    picture = folder / "found.svg"
    data = json.loads(check(folder, str(elsewhere / SECOND), "--json", "--picture", str(picture)).stdout)
    assert data["files"] == [str(folder / FIRST), str(elsewhere / SECOND)]
    assert picture.read_bytes().startswith(b"<")


def test_files_that_are_not_there_are_named(folder: Path) -> None:
    (folder / FIRST).unlink()
    result = check(folder, str(folder / SECOND))
    assert result.exit_code == 0
    assert f"not judged: whether everything is cut and the board held as planned, without {FIRST}" in result.stdout


def test_what_can_not_be_asked(folder: Path) -> None:
    twice = check(folder, str(folder / FIRST), str(folder / FIRST))
    assert (twice.exit_code, "is given twice" in twice.stderr) == (2, True)
    nothing = CliRunner().invoke(main, ["check", str(folder / FIRST)])
    assert (nothing.exit_code, nothing.stderr.startswith("--machine: the machine is not named")) == (2, True)
    unknown = CliRunner().invoke(main, ["check", str(folder / FIRST), "--plan", str(folder / "plan.json")])
    assert (unknown.exit_code, "the plan names no shipped profile" in unknown.stderr) == (2, True)
    data = plan()
    data["boards"][0]["programs"] *= 2
    data["boards"][0]["programs"][0]["file"] = FIRST
    (folder / "plan.json").write_text(json.dumps(data), encoding="utf-8")
    same = check(folder, str(folder / FIRST))
    assert (same.exit_code, "is the same for two files of the board" in same.stderr) == (2, True)
