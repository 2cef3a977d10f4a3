"""Jobs that take boards and rods from files of stock, and what can be wrong with those, with the line."""

from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.files.source import read_source
from cutjob.job.read_job import likely_thickness, read_job
from cutjob.job.read_stock import job_mark, marked_job, read_stock

JOB = """\
title = "Gull mobile"
units = "in"
machine = "bench-router"
{top}

[[make]]
name = "gull"
design = "round"
"""
OWN = """
[[board]]
name = "cedar picket"
length = "34"
width = "5 1/2"
thickness = "5/8"
"""
STOCK = """\
units = "mm"

[[board]]
name = "larch rest"
length = 400
width = 140
thickness = "5/8 in"
count = 4

[[board]]
name = "thin larch"
length = 400
width = 140
thickness = 12
"""


def _write(folder: Path, top: str = 'stock = "shed.toml"', *, own: str = "", stock: str | None = STOCK) -> Path:
    if stock is not None:
        (folder / "shed.toml").write_text(stock, encoding="utf-8")
    path = folder / "gull.toml"
    path.write_text(JOB.format(top=top) + own, encoding="utf-8")
    return path


def _said(path: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_job(path)
    return [str(problem).replace(f"{path.parent}/", "") for problem in caught.value.problems]


def test_boards_of_the_job_come_first_and_stock_of_its_thickness_after(tmp_path: Path) -> None:
    job = read_job(_write(tmp_path, own=OWN))
    assert [(board.name, board.count) for board in job.boards] == [("cedar picket", 1), ("larch rest", 4)]
    larch = job.boards[1]
    # The file's own units: 400 mm in a job in inches.
    assert (larch.length, larch.thickness) == pytest.approx((400.0, 15.875), abs=1e-9)
    assert [(aside.board, aside.file, aside.why) for aside in job.left_aside] == [
        ("thin larch", "shed.toml", "0.4724 in thick")
    ]
    place = job.board_location(larch, "thickness")
    assert place is not None
    assert (Path(place.file).name, place.line) == ("shed.toml", 7)


def test_a_job_without_own_boards(tmp_path: Path) -> None:
    job = read_job(_write(tmp_path, 'stock = ["shed.toml"]\nthickness = "12 mm"'))
    assert [board.name for board in job.boards] == ["thin larch"]
    one_kind = STOCK.replace("= 12", '= "5/8 in"')
    assert len(read_job(_write(tmp_path, stock=one_kind)).boards) == 2


def test_several_thicknesses_ask_for_one(tmp_path: Path) -> None:
    [said] = _said(_write(tmp_path))
    assert said == (
        "gull.toml:4: stock: the boards in stock are 0.4724 in or 5/8 in thick; say which to take: add a line "
        'thickness = "0.4724 in" at the top of the job'
    )
    # What the message says is near enough.
    assert len(read_job(_write(tmp_path, 'stock = "shed.toml"\nthickness = "0.4724 in"')).boards) == 1
    [said] = _said(_write(tmp_path, 'stock = "shed.toml"\nthickness = "7/8"'))
    assert said == (
        'gull.toml:4: stock: no board is left to lay parts on: board "larch rest" of shed.toml is 5/8 in thick, board '
        '"thin larch" of shed.toml is 0.4724 in thick; the job takes boards 7/8 in thick; add boards to the stock, or '
        "a [[board]] to the job"
    )


def test_why_no_board_is_left(tmp_path: Path) -> None:
    def said(top: str, stock: str) -> str:
        [message] = _said(_write(tmp_path, f'stock = "shed.toml"\n{top}', stock=stock))
        start, end = "gull.toml:4: stock: no board is left to lay parts on: ", "; add boards to the stock, or a [["
        assert message.startswith(start)
        return message.removeprefix(start).partition(end)[0]

    assert said("", 'units = "mm"\n') == "the stock has none"
    larch = STOCK.partition('[[board]]\nname = "thin')[0]
    assert said('material = "plywood"', larch) == (
        'board "larch rest" of shed.toml is of softwood; the job takes boards of plywood'
    )
    assert said('thickness = "7/8"\nmaterial = "plywood"', larch).endswith(
        "is 5/8 in thick; the job takes boards 7/8 in thick of plywood"
    )
    took = larch + '[[board.taken]]\nby = "crab wreath.toml"\ncount = 4\n'
    assert said("", took) == 'board "larch rest" of shed.toml is taken by other jobs'
    own = larch + 'from = "{}, board-01"\n'.format(job_mark("Gull mobile", tmp_path / "gull.toml"))
    assert said("", own) == "the stock has only offcuts of this job"
    many = larch + "".join(
        f'[[board]]\nname = "slat {n}"\nlength = 400\nwidth = 90\nthickness = {20 + n}\n' for n in range(6)
    )
    told = said('thickness = "7/8"', many)
    assert told.count('board "') == 4
    assert "and 3 more are left aside; the job takes" in told


def test_materials_likewise(tmp_path: Path) -> None:
    mixed = STOCK.replace("= 12", '= "5/8 in"\nmaterial = "plywood"')
    [said] = _said(_write(tmp_path, stock=mixed))
    assert said.startswith("gull.toml:4: stock: the boards in stock are of softwood or plywood; say which to take")
    job = read_job(_write(tmp_path, 'stock = "shed.toml"\nmaterial = "plywood"', stock=mixed))
    assert [board.name for board in job.boards] == ["thin larch"]
    own = read_job(_write(tmp_path, own=OWN, stock=mixed))
    assert [aside.why for aside in own.left_aside] == ["of plywood"]


def test_rods_in_stock_are_the_job_s(tmp_path: Path) -> None:
    rods = STOCK + '[[rod]]\nname = "dowel"\ndiameter = 10\nlength = 1000\n'
    job = read_job(_write(tmp_path, own=OWN, stock=rods))
    assert [rod.length for rod in job.rods] == [1000.0]


def test_mistakes_in_stock_name_its_file_and_line_and_come_with_the_job_s(tmp_path: Path) -> None:
    broken = STOCK.replace("= 12", '= "twelve"').replace('name = "thin larch"', 'name = "larch rest"')
    said = _said(_write(tmp_path, 'stock = "shed.toml"\ngap = "wide"', own=OWN, stock=broken))
    assert [line.partition(": ")[0] for line in said] == ["gull.toml:5", "shed.toml:11", "shed.toml:14"]
    assert "line 4 has the same name" in said[1]
    assert "'twelve' is not a length" in said[2]


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("width = 140", "outline = [[0, 0], [9, 9], [9, 0], [0, 9]]\nwide = 3", 7, '"wide" is not a key'),
        ('units = "mm"', 'title = "shed"', 1, "units: is missing"),
        ("length = 400\nwidth = 140", "outline = [[0, 0], [9, 9], [9, 0], [0, 9]]", 5, "crosses or touches itself"),
        ("count = 4", "keep_out = [{ at = [900, 0], radius = 3 }]", 8, "is outside the board"),
        ("count = 4", 'taken = [{ by = "x" }]', 8, "count: is missing"),
        ("count = 4", "count = 4 4", 8, "the line goes on after the value"),
    ],
)
def test_stock_is_judged_as_boards_of_a_job_are(tmp_path: Path, old: str, new: str, line: int, words: str) -> None:
    said = _said(_write(tmp_path, own=OWN, stock=STOCK.replace(old, new, 1)))
    assert any(one.startswith(f"shed.toml:{line}") and words in one for one in said), said


def test_files_that_are_not_there_or_named_twice(tmp_path: Path) -> None:
    [said] = _said(_write(tmp_path, 'stock = ["shed.toml", "barn.toml"]', own=OWN))
    assert said.startswith('gull.toml:4: stock no. 2: there is no file "barn.toml"; the path is taken from ')
    [said] = _said(_write(tmp_path, 'stock = ["shed.toml", "./shed.toml"]', own=OWN))
    assert "the file is named twice" in said
    [said] = _said(_write(tmp_path, "", stock=None))
    assert said == 'gull.toml:1: board: is missing; add a [[board]], or stock = "shed.toml"'


def test_two_boards_of_one_name_in_two_files(tmp_path: Path) -> None:
    [said] = _said(_write(tmp_path, own=OWN, stock=STOCK.replace("larch rest", "cedar picket")))
    assert said == 'shed.toml:4: board "cedar picket": name: gull.toml:11 has the same name; give them different names'
    # One that is left aside anyway does no harm.
    assert read_job(_write(tmp_path, own=OWN, stock=STOCK.replace("thin larch", "cedar picket"))).left_aside


def test_taken_boards_are_gone_for_other_jobs_only(tmp_path: Path) -> None:
    mine, other = "Gull mobile (gull.toml)", "Reed fence (reed.toml)"
    taken = f'count = 4\ntaken = [{{ by = "{other}", count = 1 }}, {{ by = "{mine}", count = 2 }}]'
    job = read_job(_write(tmp_path, own=OWN, stock=STOCK.replace("count = 4", taken)))
    assert job.mark == mine
    assert job.boards[1].count == 3
    gone = STOCK.replace("count = 4", f'taken = [{{ by = "{other}", count = 1 }}]')
    job = read_job(_write(tmp_path, own=OWN, stock=gone))
    assert len(job.boards) == 1
    assert "taken by other jobs" in [aside.why for aside in job.left_aside]


def test_what_the_job_itself_left_is_none_of_its_boards(tmp_path: Path) -> None:
    left = STOCK.replace("count = 4", 'from = "{}, board-01"')
    job = read_job(_write(tmp_path, own=OWN, stock=left.format("Gull mobile (gull.toml)")))
    assert len(job.boards) == 1
    assert [aside.board for aside in job.left_aside] == ["thin larch"]
    assert len(read_job(_write(tmp_path, own=OWN, stock=left.format("Gull mobile (july.toml)"))).boards) == 2


def test_marks_of_jobs() -> None:
    assert job_mark("Gulls", Path("shop/gull.toml")) == "Gulls (gull.toml)"
    assert job_mark("untitled job", Path("gull.toml")) == "gull.toml"
    assert marked_job("Gulls, small (gull.toml), board-01") == "Gulls, small (gull.toml)"
    assert len(job_mark("x" * 80, Path("y" * 400))) <= 300


def test_a_broken_job_still_has_a_likely_thickness(tmp_path: Path) -> None:
    def found(path: Path) -> float | None:
        return likely_thickness(read_source(path), path.parent)

    assert found(_write(tmp_path, 'stock = "shed.toml"\nthickness = "3/4"')) == pytest.approx(19.05)
    assert found(_write(tmp_path)) == pytest.approx(15.875)
    assert found(_write(tmp_path, "thickness = true\nstock = 3", own=OWN)) == pytest.approx(15.875)
    assert found(_write(tmp_path, 'stock = "barn.toml"')) is None


def test_a_file_of_stock_by_itself(tmp_path: Path) -> None:
    stock = read_stock(_write(tmp_path).parent / "shed.toml")
    assert [entry.board.name for entry in stock.boards] == ["larch rest", "thin larch"]
    assert stock.boards[1].at("width").line == 13
    (tmp_path / "empty.toml").write_text('units = "in"\n', encoding="utf-8")
    assert read_stock(tmp_path / "empty.toml").boards == ()


def test_a_job_leaves_boards_in_stock(tmp_path: Path) -> None:
    """Boards that the job names are left, with the reason; a name that is not there is refused at its line."""
    (tmp_path / "shed.toml").write_text(
        'units = "mm"\n' + "".join(
            f'[[board]]\nname = "{name}"\nlength = 600\nwidth = 140\nthickness = 16\n' for name in ("one", "two")
        ),
        encoding="utf-8",
    )  # fmt: skip
    path = tmp_path / "job.toml"
    text = 'units = "mm"\nmachine = "bench-router"\nstock = "shed.toml"\nleft_in_stock = "two"\n'
    path.write_text(text + '[[make]]\nname = "a"\ndesign = "round"\n', encoding="utf-8")
    job = read_job(path)
    assert [board.name for board in job.boards] == ["one"]
    assert [(one.board, one.why) for one in job.left_aside] == [("two", "left in stock by the job")]
    path.write_text(text.replace('"two"', '["tow"]') + '[[make]]\nname = "a"\ndesign = "round"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r'job\.toml:4: left_in_stock no\. 1: there is no board "tow" in stock'):
        read_job(path)
