"""What a run whose proof failed leaves: no cutting file, pictures with the places ringed, and nothing once mended."""

from __future__ import annotations

import json
import os
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

import cutjob.finishing
from cutjob.cli.commands import main
from cutjob.output.folder import refused_folder, remove_refused
from cutjob.output.picture.findings import ring_numbers
from cutjob.proof.finding import Finding, ProofReport
from tests.test_making import ROUNDS, contents, write

SVG = "{http://www.w3.org/2000/svg}"
GOUGE = Finding(
    check="gouge",
    severity="error",
    message="cuts 1 mm into part 1",
    file="board-01.nc",
    line=40,
    at=(35.0, 40.0),
    z=-6.0,
)


def finding(**changes: object) -> Finding:
    values = {"check": "gouge", "severity": "error", "message": "cuts", "file": "board-01.nc", **changes}
    return Finding(**values)  # type: ignore[arg-type]


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    def fails(files: dict[str, bytes], **_: object) -> ProofReport:
        found = tuple([GOUGE, finding(check="spindle", message="stands still")] if "board-01.nc" in files else [])
        return ProofReport(findings=found, worst_gouge=1.0 if found else 0.0, worst_left=0.0)

    monkeypatch.setattr(cutjob.finishing, "prove", fails)
    return monkeypatch


def test_pictures_beside_the_folder_and_no_cutting_file(failing: pytest.MonkeyPatch, tmp_path: Path) -> None:
    path, out = write(tmp_path, ROUNDS), tmp_path / "out"
    result = CliRunner().invoke(main, ["make", str(path), "-o", str(out), "--effort", "quick"])
    assert result.exit_code == 1
    refused = tmp_path / "out-not-proven"
    assert (
        "error: board-01.nc:40: gouge: cuts 1 mm into part 1 at x 35.000 y 40.000 z -6.000 mm (ring 1)" in result.stderr
    )
    assert f"pictures {refused} (each place found is ringed)" in result.stdout.splitlines()
    assert not out.exists()
    assert sorted(contents(refused)) == ["board-01.svg", "plan.json"]
    root = ElementTree.fromstring((refused / "board-01.svg").read_bytes())
    (rings,) = [one for one in root.iter(f"{SVG}g") if one.get("class") == "found"]
    assert len(rings) == 1
    words = [one.text for one in root.iter(f"{SVG}text")]
    assert "ring 1: line 40, gouge: cuts 1 mm into part 1" in words
    assert "spindle: stands still" in words
    proof = json.loads((refused / "plan.json").read_bytes())["proof"]
    assert (proof["passed"], proof["worst_gouge_mm"], proof["greatest_allowed_mm"]) == (False, 1.0, 0.01)
    assert proof["findings"][0] == {
        "check": "gouge", "severity": "error", "message": "cuts 1 mm into part 1", "file": "board-01.nc", "line": 40,
        "at": [35.0, 40.0], "z": -6.0, "measured": None, "limit": None,
    }  # fmt: skip
    # Once the proof passes the pictures are of no use any more.
    failing.undo()
    assert CliRunner().invoke(main, ["make", str(path), "-o", str(out), "--effort", "quick"]).exit_code == 0
    assert out.exists()
    assert not refused.exists()


def test_a_failed_proof_where_no_picture_can_be_put(failing: pytest.MonkeyPatch, tmp_path: Path) -> None:
    path = write(tmp_path, ROUNDS)
    mine = tmp_path / "out-not-proven"
    mine.mkdir()
    (mine / "notes.txt").write_text("mine", encoding="utf-8")
    result = CliRunner().invoke(main, ["make", str(path), "-o", str(tmp_path / "out"), "--effort", "quick", "--json"])
    assert result.exit_code == 1
    data = json.loads(result.stdout)
    assert (data["refused"], data["proof"]["passed"]) == (None, False)
    assert contents(mine) == {"notes.txt": b"mine"}


def test_only_what_was_refused_is_removed(tmp_path: Path) -> None:
    place = refused_folder(tmp_path / "out")
    plan = {"schema": "cutjob-plan/1", "files": ["a.svg"], "proof": {"passed": False}}

    def left(plan: object, *names: str) -> bool:
        place.mkdir(exist_ok=True)
        for name in names:
            (place / name).write_bytes(b"x")
        (place / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
        remove_refused(tmp_path / "out")
        return place.exists()

    assert not left(plan, "a.svg")
    assert not left(plan)
    assert left({**plan, "proof": {"passed": True}}, "a.svg")
    assert left({**plan, "schema": "other/1"})
    assert left([1])
    assert left(plan, "mine.txt")
    (place / "mine.txt").unlink()
    (place / "a.svg").unlink()
    (place / "a.svg").mkdir()
    assert left(plan)
    (place / "a.svg").rmdir()
    other = tmp_path / "other"
    os.rename(place, other)  # noqa: PTH104
    place.symlink_to(other)
    remove_refused(tmp_path / "out")
    assert contents(other)
    assert refused_folder(Path("/")) == Path("/not-proven")


def test_numbers_of_rings() -> None:
    places = [(0.0, 0.0), None, (9.0, 9.0), (0.3, 0.2), (9.0, 9.0)]
    assert ring_numbers([finding(at=place) for place in places]) == (1, None, 2, 1, 2)
    many = ring_numbers([finding(at=(float(number), 0.0)) for number in range(80)])
    assert many == (*range(1, 61), *[None] * 20)


def test_places_in_words() -> None:
    assert str(finding(line=3, at=(1.0, 2.5), z=-0.5)) == "board-01.nc:3: gouge: cuts at x 1.000 y 2.500 z -0.500 mm"
    assert finding(at=(-0.0001, 25.4)).words("in") == "board-01.nc: gouge: cuts at x 0.0000 y 1.0000 in"
    assert finding(z=1.0).words() == "board-01.nc: gouge: cuts"
