"""What a laser's file says of feed, power, passes and air, and when it switches the air."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import cutjob
from cutjob.errors import InputError
from cutjob.finishing import expected_program
from cutjob.job.machine import Machine
from cutjob.job.read_machine import read_machine
from cutjob.making import MakeResult
from cutjob.proof.finding import Finding
from cutjob.proof.prove import prove

ROOT = Path(cutjob.__file__).parent.parent
PLAIN = "greatest_power = 1000\n"
AIR = 'greatest_power = 1000\nair_assist = { cut = "M8", mark = "M7" }\n'


def labels(folder: Path, air: str = PLAIN) -> MakeResult:
    """Three of the sample's labels on the bench laser, which cuts them and marks their numbers."""
    profile = (ROOT / "machines" / "bench-laser.toml").read_text(encoding="utf-8")
    (folder / "laser.toml").write_text(profile.replace(PLAIN, air), encoding="utf-8")
    drawing = (ROOT / "samples" / "shell-label.svg").read_text(encoding="utf-8")
    (folder / "shell-label.svg").write_text(drawing, encoding="utf-8")
    job = (ROOT / "samples" / "shell-labels.toml").read_text(encoding="utf-8").replace("count = 24", "count = 3")
    job = job.replace('machine = "laser-service"', 'machine = "laser.toml"\nnumbers = "part"')
    (folder / "labels.toml").write_text(job, encoding="utf-8")
    return cutjob.make(folder / "labels.toml", out=folder / "out", effort="quick", only={"gcode", "sheet"})


def test_file_and_sheet_say_feed_power_and_passes(tmp_path: Path) -> None:
    result = labels(tmp_path)
    assert result.proof.passed
    text = result.files["board-01.nc"].decode()
    assert "(Cuts: 300 mm/min at power 1000 of 1000, 2 times round)" in text
    assert "(Marks: 3000 mm/min at power 300 of 1000)" in text
    assert not re.search(r"^M[789]$", text, re.MULTILINE)
    sheet = result.files["job-sheet.html"].decode().replace("\N{NO-BREAK SPACE}", " ")
    assert "300 mm/min at power 1000 of 1000, 2 times round" in sheet
    assert "3000 mm/min at power 300 of 1000" in sheet
    # Each caution stands there once, and no note of the profile says it again.
    assert sheet.count("Never leave a") == sheet.count("wavelength") == 1


def test_air_goes_on_and_off_as_the_profile_says(tmp_path: Path) -> None:
    result = labels(tmp_path, AIR)
    assert result.proof.passed
    (program,), (layout,) = result.job.programs, result.job.layout.boards
    text = result.files[program.file].decode()
    assert "(Cuts: 300 mm/min at power 1000 of 1000, air assist on by M8, 2" in text
    assert "(Marks: 3000 mm/min at power 300 of 1000, air assist on by M7)" in text
    codes = re.findall(r"^M[789]$", text, re.MULTILINE)
    assert set(codes) == {"M7", "M8", "M9"}
    assert codes[-1] == "M9"

    def found(spoiled: str) -> list[Finding]:
        machine: Machine = result.job.machine
        expected = [expected_program(program, layout, machine)]
        return list(prove({program.file: spoiled.encode()}, programs=expected, drawings=[], machine=machine).findings)

    assert found(text) == []
    for old, new, says in (
        ("\nM8\n", "\n", "a cut with air by no code; the profile has M8 for it"),
        ("\nM7\n", "\nM8\n", "a mark with air by M8; the profile has M7 for it"),
        ("\nM9\n", "\n", "a cut with air by M7 and M8; the profile has M8 for it"),
    ):
        assert any(says in finding.message for finding in found(text.replace(old, new))), says


def test_only_a_laser_has_air(tmp_path: Path) -> None:
    text = (ROOT / "machines" / "bench-router.toml").read_text(encoding="utf-8")
    path = tmp_path / "router.toml"
    path.write_text(text.replace("[controller]\n", '[controller]\nair_assist = { cut = "M8" }\n'), encoding="utf-8")
    with pytest.raises(InputError, match="only a laser has air assist"):
        read_machine(str(path), beside=None)
