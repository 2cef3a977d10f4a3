"""What in wood can hurt someone: told by all spellings, and by nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_files
from cutjob.job.hazards import Hazard, hazards_of, laser_hazard
from cutjob.job.model import BoardStock
from cutjob.job.read_machine import read_machine
from cutjob.job.stock import board_of
from cutjob.making import make_job
from cutjob.output.leftovers import entry_of
from cutjob.output.words.cautions import cautions_for


@pytest.mark.parametrize(
    "text",
    [
        "treated",
        "treated pine",
        "Pressure-Treated Pine",
        "pressure treated picket",
        "pressure_treated",
        "creosote",
        "creosoted oak",
        "Creosoted oak",
        "cca pine",
        "CCA",
        "C.C.A. pine",
        "ACQ pine",
        "tanalised softwood",
        "Tanalized batten",
        "pine with preservative",
        "pine, treated",
        "heat-treated, then pressure-treated ash",
    ],
)
def test_treated_wood(text: str) -> None:
    """Names under which preservative-treated wood is sold; from memory, no list of them is published."""
    assert "treated" in hazards_of(text)
    assert "treated" in hazards_of("softwood", text)
    assert "poisonous smoke" in laser_hazard(hazards_of("softwood", text))


@pytest.mark.parametrize(
    "text",
    [
        "softwood",
        "untreated pine",
        "un-treated pine",
        "non-treated pine",
        "not treated",
        "not pressure-treated",
        "heat-treated ash",
        "heat treated ash",
        "Heat-Treated Ash",
        "thermally treated pine",
        "thermo-treated pine",
        "steam treated beech",
        "entreated",
        "soccasion",
        "accadia pine",
    ],
)
def test_wood_that_holds_no_preservative(text: str) -> None:
    assert hazards_of(text) == frozenset()
    assert laser_hazard(hazards_of("softwood", text)) == ""


@pytest.mark.parametrize(
    ("text", "hazard"),
    [
        ("cedar picket", "cedar"),
        ("western redcedar", "cedar"),
        ("Red Cedar", "cedar"),
        ("birch plywood", "glued"),
        ("5-ply", "glued"),
        ("MDF", "glued"),
        ("fibreboard", "glued"),
        ("PVC sheet", "vinyl"),
        ("polyvinyl", "vinyl"),
    ],
)
def test_other_hazards(text: str, hazard: Hazard) -> None:
    assert hazards_of(text) == {hazard}
    assert hazards_of("softwood", text) == {hazard}
    assert (laser_hazard({hazard}) != "") is (hazard == "vinyl")


def test_nothing_in_names_that_only_look_alike() -> None:
    for text in ("incedary", "applied", "reply", "vinylla", "larch picket", "oiled ash board"):
        assert hazards_of(text) == frozenset(), text


def test_what_the_job_says_counts_beside_the_names() -> None:
    assert hazards_of("softwood", "picket", treated=True) == {"treated"}
    assert hazards_of("softwood", "picket treated with oil", treated=False) == frozenset()
    # The material still counts: it is what feeds and cautions go by.
    assert hazards_of("treated pine", "picket", treated=False) == {"treated"}


def stock(**changes: object) -> BoardStock:
    return BoardStock.model_validate({"name": "picket", "length": 1800, "width": 140, "thickness": 16} | changes)


@pytest.mark.parametrize(
    "changes", [{"name": "treated picket"}, {"material": "treated pine"}, {"treated": True}, {"name": "CCA post"}]
)
def test_a_boards_cautions_and_its_leftovers_go_by_the_same_value(changes: dict[str, object]) -> None:
    board = board_of(stock(**changes))
    topics = {one.topic for one in cautions_for(kind="router", hazards=board.hazards, stack=1)}
    assert "treated lumber" in topics
    # However the leftover is called, it is as treated as what it comes from.
    entry = entry_of(board, name="offcut 1", units="mm")
    again = BoardStock.model_validate({key: value for key, value in entry.items() if key != "outline"})
    assert "treated" in board_of(again).hazards


JOB = """
title = "Plot stars"
units = "mm"
machine = "{machine}"
[[make]]
name = "plot star"
design = "star"
with = {{ outer = 60, hole = 0 }}
[[board]]
name = "{name}"
length = 300
width = 120
thickness = {thickness}
material = "{material}"
{more}
"""


def job(folder: Path, **values: object) -> Path:
    path = folder / "job.toml"
    path.write_text(JOB.format(**({"more": ""} | values)), encoding="utf-8")
    return path


def test_a_picket_named_treated_has_its_caution_in_every_file(tmp_path: Path) -> None:
    path = job(tmp_path, machine="long-bed-router", name="treated picket", thickness=16, material="softwood")
    result = make_job(path, out=tmp_path / "out", effort="quick")
    assert result.proof.passed
    program = (tmp_path / "out" / "board-01.nc").read_text(encoding="ascii")
    assert "never burn it" in " ".join(program.replace("(.. ", "").replace(")\n", " ").split())
    assert "Never burn it" in (tmp_path / "out" / "job-sheet.html").read_text(encoding="utf-8")
    assert any("Never burn it" in caution for caution in result.plan["cautions"])


def test_it_never_goes_into_a_laser(tmp_path: Path) -> None:
    material = next(row.material for row in read_machine("bench-laser", beside=None).cutter[0].feed)
    assert "bench-laser" in shipped_files("machines")
    for more in ({"name": "treated board"}, {"name": "board", "more": "treated = true"}):
        path = job(tmp_path, machine="bench-laser", thickness=3, material=material, **more)
        with pytest.raises(InputError, match="must never go into a laser: treated lumber gives off poisonous smoke"):
            make_job(path, out=tmp_path / "out", effort="quick")
    path = job(tmp_path, machine="bench-laser", name="heat-treated ash", thickness=3, material=material)
    assert make_job(path, out=tmp_path / "out", effort="quick").proof.passed
