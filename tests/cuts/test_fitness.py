"""Parts a machine can't make are refused before anything is cut."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.making import make_job

SHEET = """
[[board]]
name = "sheet"
length = {length}
width = 300
thickness = {thickness}
material = "plywood"
grain = "none"
count = 4
"""


def refused(tmp_path: Path, text: str) -> str:
    job = tmp_path / "job.toml"
    job.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        make_job(job, out=tmp_path / "out", effort="quick")
    assert not (tmp_path / "out").exists()
    return str(caught.value)


def test_a_laser_makes_no_hole_that_stops_partway(tmp_path: Path) -> None:
    text = refused(
        tmp_path,
        'units = "mm"\nmachine = "laser-service"\n[[make]]\nname = "spinner"\ndesign = "graded-stack"\nsize = "small"\n'
        'with = { stands = "flat", topper = "round", socket = 3, base = [] }\n' + SHEET.format(length=550, thickness=6),
    )
    assert "3 mm deep can't be made with a laser" in text
    assert "job.toml:3" in text


def test_a_hole_as_wide_as_the_beam_is_refused(tmp_path: Path) -> None:
    (tmp_path / "tag.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="50mm" viewBox="0 0 50 50">'
        '<rect x="5" y="5" width="40" height="40"/><circle cx="25" cy="25" r="0.1"/></svg>'
    )
    text = refused(
        tmp_path,
        'units = "mm"\nmachine = "bench-laser"\n[[make]]\nname = "tag"\ndesign = "outline"\n'
        'with = { file = "tag.svg" }\n' + SHEET.format(length=300, thickness=3),
    )
    assert "hole" in text


def test_a_gap_the_cutter_does_not_pass_is_told_with_what_works(tmp_path: Path) -> None:
    order = (
        'units = "mm"\nmachine = "bench-router"\ngap = {gap}\n[[make]]\nname = "disc"\ndesign = "round"\ncount = 2\n'
        + SHEET.format(length=700, thickness=12)
    )
    text = refused(tmp_path, order.replace("{gap}", "3"))
    assert "job.toml:3: gap: 3 mm is too narrow for the 6.35 mm cutter 1" in text
    assert "at least 6.4 mm" in text
    job = tmp_path / "job.toml"
    job.write_text(order.replace("{gap}", "6.4"), encoding="utf-8")
    assert make_job(job, out=tmp_path / "out", effort="quick").proof.passed


def test_moves_beyond_the_machine_are_an_error_of_the_job(tmp_path: Path) -> None:
    text = refused(
        tmp_path,
        'units = "mm"\nmachine = "bench-router"\n[[make]]\nname = "disc"\ndesign = "round"\n'
        "with = { diameter = 595, hole = 20 }\n"
        '[[board]]\nname = "sheet"\nlength = 700\nwidth = 600\nthickness = 12\nmaterial = "plywood"\ngrain = "none"\n',
    )
    assert re.search(r"60[1-4]\.\d mm across the board", text)
    assert "600.0 mm" in text


def test_holes_the_cutter_does_not_go_into_are_left_to_a_smaller_one(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(
        'units = "mm"\nmachine = "bench-router"\n[[make]]\nname = "star"\ndesign = "star"\nsize = "small"\n'
        + SHEET.format(length=300, thickness=10),
        encoding="utf-8",
    )
    result = make_job(job, out=tmp_path / "out", effort="quick")
    assert result.proof.passed
    hole = min(hole.diameter for part in result.items[0].build.shaped for hole in part.holes)
    smaller, round_it = (program.cutters[0].diameter for program in result.programs)
    assert smaller <= hole < round_it == 6.35
    assert {step.op for step in result.programs[1].steps} == {"outside cut"}


def test_openings_no_saw_gets_into_are_told(tmp_path: Path) -> None:
    (tmp_path / "tag.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" viewBox="0 0 90 90">'
        '<rect x="5" y="5" width="80" height="80"/><rect x="15" y="15" width="60" height="60" rx="12"/></svg>'
    )
    order = (
        'units = "mm"\nmachine = "{machine}"\n[[make]]\nname = "tag"\ndesign = "outline"\n'
        'with = {{ file = "tag.svg" }}\n' + SHEET.format(length=300, thickness=12).replace("{", "{{")
    )
    job = tmp_path / "job.toml"
    told = {}
    for machine in ("bandsaw", "bench-router"):
        job.write_text(order.format(machine=machine), encoding="utf-8")
        told[machine] = " ".join(make_job(job, out=tmp_path / machine, effort="quick").plan["warnings"])
    assert "drill a way in" in told["bandsaw"]
    assert "loose" not in told["bench-router"]  # it hangs on its part by bridges
