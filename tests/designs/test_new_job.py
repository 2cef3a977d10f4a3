"""The first job file of every design: valid, and every line in it means what its comment says."""

import re
from pathlib import Path

import pytest

from cutjob.designs.catalogue import CATALOGUE
from cutjob.designs.design import Design
from cutjob.designs.evaluate import evaluate
from cutjob.designs.new_job import new_job
from cutjob.errors import CutjobError, InputError
from cutjob.job.boards import check_boards, through_cutters
from cutjob.job.job import Job
from cutjob.job.machine import Cutter
from cutjob.job.read_job import read_job
from cutjob.job.read_stock import Stock, read_stock
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


SHED = """
units = "mm"
[[board]]
name = "larch picket"
length = 600
width = 140
thickness = 18
count = 3
taken = [{ by = "Winter (winter.toml)", count = 1 }]
[[board]]
name = "sold out"
length = 2000
width = 600
thickness = 18
count = 1
taken = [{ by = "Winter (winter.toml)", count = 1 }]
[[rod]]
name = "10 mm dowel"
diameter = 10
length = 1000
count = 4
"""


def _shed(folder: Path, text: str = SHED) -> Stock:
    path = folder / "shed.toml"
    path.write_text(text, encoding="utf-8")
    return read_stock(path)


@DESIGNS
def test_a_job_in_mm_is_in_mm(design: Design, tmp_path: Path) -> None:
    text = new_job(design, unit="mm")
    job = _read(tmp_path, text)
    assert job.file.units == "mm"
    assert not re.search(r"\d in\b", "\n".join(line for line in text.splitlines() if not line.startswith("units")))
    if not _needs_a_file(design):
        assert _item(job).build.shaped


def test_a_job_from_stock_takes_what_is_there(tmp_path: Path) -> None:
    shed = _shed(tmp_path)
    text = new_job(CATALOGUE["graded-stack"], stock=shed, stock_path="shed.toml")
    job = _read(tmp_path, text)
    assert 'stock = "shed.toml"' in text
    assert (job.file.units, job.file.thickness, job.file.material) == ("mm", 18.0, "softwood")
    assert [board.name for board in job.boards] == ["larch picket"]
    # Two pickets of 600 mm are left: fewer items than a job without stock makes, and no rods but those there are.
    assert job.file.make[0].count < 4
    assert "[[rod]]" not in text
    item = evaluate(job.file.make[0], unit="mm", location=None, key_locations={}, folder=tmp_path, thickness=18.0)
    assert max(part.region.bounds[2] - part.region.bounds[0] for part in item.build.shaped) < 600


def test_a_smaller_size_where_the_middle_one_does_not_fit(tmp_path: Path) -> None:
    short = SHED.replace("length = 600", "length = 300")
    assert 'size = "small"' in new_job(CATALOGUE["graded-stack"], stock=_shed(tmp_path, short), stock_path="shed.toml")


def test_stock_that_holds_nothing_of_a_design(tmp_path: Path) -> None:
    tiny = SHED.replace("length = 600", "length = 90")
    with pytest.raises(InputError) as caught:
        new_job(CATALOGUE["graded-stack"], stock=_shed(tmp_path, tiny), stock_path="shed.toml")
    assert "no board in shed.toml holds a small graded-stack, whose largest part is" in str(caught.value)
    assert "the largest board is larch picket, 90 mm x 140 mm; add a larger [[board]] to it" in str(caught.value)
    gone = SHED.replace("count = 3\n", "count = 1\n")
    with pytest.raises(InputError, match="no boards are left in stock"):
        new_job(CATALOGUE["star"], stock=_shed(tmp_path, gone), stock_path="shed.toml")
