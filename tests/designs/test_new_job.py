"""The first job file of every design: valid, and every line in it means what its comment says."""

import re
from pathlib import Path

import pytest

from cutjob.designs.catalogue import CATALOGUE
from cutjob.designs.design import Design
from cutjob.designs.evaluate import evaluate
from cutjob.designs.new_job import new_job
from cutjob.errors import CutjobError
from cutjob.job.boards import check_boards, through_cutters
from cutjob.job.job import Job
from cutjob.job.machine import Cutter
from cutjob.job.read_job import read_job
from cutjob.parts.part import Item

DESIGNS = pytest.mark.parametrize("design", CATALOGUE.values(), ids=list(CATALOGUE))


def _read(folder: Path, text: str) -> Job:
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return read_job(path)


def _item(job: Job) -> Item:
    return evaluate(
        job.file.make[0],
        unit=job.file.units,
        location=job.source.at(("make", 0)),
        key_locations={key: job.source.at(("make", 0, "with", key)) for key in job.file.make[0].changes},
        folder=job.folder,
        thickness=job.boards[0].thickness,
    )


def _needs_a_file(design: Design) -> bool:
    return any(parameter.required for parameter in design.parameters)


@DESIGNS
def test_it_is_a_job_whose_boards_can_be_cut(design: Design, tmp_path: Path) -> None:
    job = _read(tmp_path, new_job(design))
    cutter, *_ = through_cutters(job.boards, job.machine, numbers=(), stack=job.file.stack)
    assert isinstance(cutter, Cutter)
    assert check_boards(job.boards, job.machine, cutter, job.file.stack) == []
    assert job.file.make[0].design == design.name


@DESIGNS
def test_its_item_can_be_built_from_its_boards_and_rods(design: Design, tmp_path: Path) -> None:
    job = _read(tmp_path, new_job(design))
    if _needs_a_file(design):
        with pytest.raises(CutjobError):
            _item(job)
        return
    item = _item(job)
    board = job.boards[0]
    area = sum(part.region.area for part in item.build.shaped) * item.count
    assert area < board.count * board.length * board.width
    for part in item.build.shaped:
        x0, y0, x1, y1 = part.region.bounds
        sides = (x1 - x0, y1 - y0) if part.grain == "length" and board.grain == "length" else sorted((x1 - x0, y1 - y0))
        assert max(sides) < board.length
        assert sides[1] < board.width or sides[0] < board.width
    for rod in item.build.rods:
        stock = [one for one in job.file.rod if abs(one.diameter - rod.diameter) < 1e-9]
        assert len(stock) == 1
        assert rod.length < stock[0].length


@DESIGNS
def test_taking_away_the_hash_signs_changes_nothing(design: Design, tmp_path: Path) -> None:
    text = new_job(design)
    opened = re.sub(r"^# (\w+ = )", r"\1", text, flags=re.MULTILINE)
    opened = opened.replace('keep_out = [{ at = ["12 in", "2 in"], radius = "3/4 in", why = "knot" }]', "")
    assert opened.count("\n") == text.count("\n")
    if _needs_a_file(design):
        return
    first, second = _item(_read(tmp_path, text)).build, _item(_read(tmp_path, opened)).build
    assert [part.name for part in first.shaped] == [part.name for part in second.shaped]
    # Defaults in mm are written as inches of four decimals.
    nearly = pytest.approx(sum(part.region.area for part in first.shaped), rel=1e-4)
    assert sum(part.region.area for part in second.shaped) == nearly
    assert [piece.length for piece in second.sawn] == pytest.approx([piece.length for piece in first.sawn], abs=0.01)
    assert [rod.length for rod in second.rods] == pytest.approx([rod.length for rod in first.rods], abs=0.01)


@DESIGNS
def test_every_parameter_is_named(design: Design) -> None:
    text = new_job(design)
    for parameter in design.parameters:
        assert re.search(rf"^(# )?{parameter.name}\b", text, flags=re.MULTILINE), parameter.name
