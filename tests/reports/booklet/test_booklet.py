"""The booklet of whole jobs: what it says, and its templates as the proof, a print and a ruler see them."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader, PdfWriter, Transformation

from cutjob.cli.commands import main
from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_folder
from cutjob.job.paper import papers
from cutjob.making import MakeResult, make_job
from cutjob.output.paper.picture import LOOKS
from cutjob.reports.booklet.booklet import write_booklet
from tests.output.paper.reading import page_sizes, page_words

HOSTILE = "pot <foot> & \\\\ 漢 {{ 7 }}"
# An outline longer than a page, discs with holes, a stack on a rod; prices that nobody sees.
JOB = f"""
title = "Porch goods"
units = "mm"
machine = "long-bed-router"
cutter = [1, 2]
booklet = true
[[make]]
name = "plant shelf"
design = "outline"
relief = "side"
finish = "oil"
coats = 3
[make.with]
file = "porch-shelf.dxf"
pockets = {{ dado = 5, recess = 4, counterbore = 4 }}
[[make]]
name = "{HOSTILE}"
design = "round"
count = 3
price = 7654.31
with = {{ diameter = 90, hole = 20 }}
[[make]]
name = "dune stack"
design = "graded-stack"
size = "small"
count = 2
finish = {{ ends = "white", topper = "gold" }}
[[board]]
name = "oiled ash board"
length = 1600
width = 190
thickness = 11.5
material = "hardwood"
count = 3
price = 1234.56
[[rod]]
name = "8 mm dowel"
diameter = 8
length = 900
count = 4
price = 777.77
"""
INCHES = """
title = "Gate stars"
units = "in"
machine = "bandsaw"
booklet = "gate star"
[[make]]
name = "gate star"
design = "star"
count = 4
[[make]]
name = "shed plate"
design = "plate"
[[board]]
name = "cedar picket"
length = "6 ft"
width = "5 1/2"
thickness = "5/8"
count = 3
"""


@dataclass(frozen=True)
class Made:
    result: MakeResult
    folder: Path

    @property
    def booklet(self) -> bytes:
        return (self.folder / "booklet.pdf").read_bytes()

    @property
    def plan(self) -> dict[str, object]:
        plan: dict[str, object] = json.loads((self.folder / "plan.json").read_text(encoding="utf-8"))
        return plan


def _made(folder: Path, text: str, **options: object) -> Made:
    shutil.copy(shipped_folder("samples") / "porch-shelf.dxf", folder)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    made = make_job(folder / "job.toml", out=folder / "out", effort="quick", **options)  # type: ignore[arg-type]
    return Made(made, folder / "out")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return _made(tmp_path_factory.mktemp("made"), JOB)


@pytest.fixture(scope="module")
def inches(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return _made(tmp_path_factory.mktemp("inches"), INCHES, only=frozenset({"booklet"}))


def _words(data: bytes) -> str:
    return re.sub(r"\s+", " ", " ".join(page_words(data)))


def test_it_says_what_is_made_from_what_and_how(made: Made) -> None:
    words = _words(made.booklet)
    for said in (
        "How to make: plant shelf, pot <foot> & \\ [U+6F22] {{ 7 }}, dune stack",
        "board: oiled ash board, hardwood, 1600 mm x 190 mm x 11.5 mm",
        "rod: 8 mm dowel, 900 mm long",
        "for all 3",
        "finish: oil",
        "3 coats",
        "Put in place: base 1",
        "Drill",
        "oil: all of",
        "ends of pieces 1 to 5",
        "The machine's manual, local codes and licensed practice come before anything said here.",
    ):
        assert said in words, said
    pages = page_words(made.booklet)
    assert all(f"page {number} of {len(pages)}" in page for number, page in enumerate(pages, start=1))


def test_it_shows_no_prices(made: Made) -> None:
    words = _words(made.booklet)
    assert "1234.56" in (made.folder / "job-sheet.html").read_text(encoding="utf-8")
    for secret in ("1234", "7654", "777", "USD", "price", "cost"):
        assert secret not in words, secret


def test_steps_come_in_order_each_with_its_number(made: Made) -> None:
    """The stack: sawn, cut, drilled, sanded, put together from the base up, painted."""
    words = _words(made.booklet)
    chapter = words[words.rindex("Steps") :]
    order = [
        "Saw the straight",
        "Cut out",
        "Drill",
        "Sand",
        "base 1",
        "centre rod",
        "pieces 1 to 5",
        "topper: ",
        "Paint",
    ]
    places = [chapter.find(f"{number} {said}") for number, said in enumerate(order[:4], start=1)]
    assert places == sorted(places)
    assert min(places) >= 0
    later = [chapter.index(f"Put in place: {name}") for name in ("base 1", "centre rod", "pieces 1 to 5", "topper")]
    assert later == sorted(later)
    assert chapter.index("Paint and finish") > later[-1] > places[-1]


def test_the_same_job_gives_the_same_bytes(made: Made) -> None:
    names = [item.name for item in made.result.items]
    again = write_booklet(made.result.job, names=names, paper="A4")
    assert again.templates.data == made.booklet


def test_pages_have_the_papers_size(made: Made, inches: Made) -> None:
    for one, paper in ((made, papers()["A4"]), (inches, papers()["Letter"])):
        sizes = page_sizes(one.booklet)
        assert all(size == pytest.approx((paper.width, paper.height), abs=0.01) for size in sizes)


def test_one_item_of_a_job_has_a_booklet_of_its_own(inches: Made) -> None:
    assert sorted(path.name for path in inches.folder.iterdir()) == ["booklet.pdf", "plan.json"]
    words = _words(inches.booklet)
    assert "How to make: gate star." in words
    assert "shed plate" not in words
    assert inches.plan["booklet"]["items"] == ["gate star"]  # type: ignore[index]
    assert _check(inches).exit_code == 0


def _check(one: Made, data: bytes | None = None, folder: Path | None = None) -> Result:
    file = one.folder / "booklet.pdf"
    if data is not None and folder is not None:
        file = folder / "booklet.pdf"
        file.write_bytes(data)
    return CliRunner().invoke(main, ["check", str(file), "--plan", str(one.folder / "plan.json")])


def test_templates_are_proven_like_patterns(made: Made) -> None:
    proof = made.result.proof
    assert proof.passed
    assert proof.worst_pattern is not None
    assert 0 < proof.worst_pattern <= 0.01  # chords of the part and of the page; 0.1 mm are allowed
    result = _check(made)
    assert (result.exit_code, result.stdout) == (0, f"{made.folder / 'booklet.pdf'}: passed\n")
    pages = made.plan["booklet"]["sheets"]  # type: ignore[index]
    assert any(len(sheet["pages"]) > 1 for sheet in pages)  # the shelf is longer than a page


def _pages(data: bytes, change: Callable[[PdfWriter], None]) -> bytes:
    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(data)))
    change(writer)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def _scaled(writer: PdfWriter) -> None:
    """The last page a little larger, as by a printer that fits pages to the paper."""
    writer.pages[-1].add_transformation(Transformation().scale(1.004))


def _shorter(writer: PdfWriter) -> None:
    writer.remove_page(len(writer.pages) - 1)


def _one_more(writer: PdfWriter) -> None:
    writer.insert_page(writer.pages[0], 0)


@pytest.mark.parametrize(
    ("change", "found"),
    [(_scaled, "has no bar of 100 mm"), (_shorter, "the sheets end on page"), (_one_more, "the sheets end on page")],
)
def test_a_spoiled_booklet_is_refused(
    made: Made, tmp_path: Path, change: Callable[[PdfWriter], None], found: str
) -> None:
    assert _check(made, _pages(made.booklet, lambda writer: None), tmp_path).exit_code == 0
    result = _check(made, _pages(made.booklet, change), tmp_path)
    assert (result.exit_code, found in result.stdout) == (1, True), result.output


def test_a_template_left_out_of_the_plan_is_missed(made: Made, tmp_path: Path) -> None:
    plan = made.plan
    plan["booklet"]["sheets"].pop(0)  # type: ignore[index]
    (tmp_path / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
    result = CliRunner().invoke(
        main, ["check", str(made.folder / "booklet.pdf"), "--plan", str(tmp_path / "plan.json")]
    )
    assert (result.exit_code, "has no pattern" in result.stdout) == (1, True), result.output


def test_nothing_is_written_where_a_template_is_wrong(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages drawn 1 % too large: the proof within `make` sees it."""
    monkeypatch.setattr("cutjob.output.paper.pdf.POINTS_PER_MM", 72 / 25.4 * 1.01)
    made = _made(tmp_path, INCHES, only=frozenset({"booklet"}))
    assert not made.result.proof.passed
    assert not made.folder.exists()


DPI = 300
PIXEL = 25.4 / DPI
TRUE = 0.1  # mm, what is asked for; a pixel is 0.085 mm


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler's pdftoppm is not installed")
def test_a_disc_on_a_printed_template_measures_90_mm(made: Made, tmp_path: Path) -> None:
    sheet, pattern = next(
        (sheet, pattern)
        for sheet in made.plan["booklet"]["sheets"]  # type: ignore[index]
        for pattern in sheet["patterns"]
        if _placed(made, pattern)["part"] == "round"
    )
    middle = np.array(pattern["move"]["at"])  # the disc's own middle is its origin
    for page in sheet["pages"]:
        x, y = middle + page["shift"]
        x0, y0, x1, y1 = page["window"]
        if x0 + 46 < x < x1 - 46 and y0 + 46 < y < y1 - 46:
            break
    else:
        pytest.fail("the disc is on no page as a whole")
    image = _grey(made.booklet, tmp_path, page["page"]) < 128
    # Off the centre lines, which reach farther: there the chord is 0.1 mm shorter, worked out exactly.
    off = 3.0
    chord = 2 * (45.0**2 - off**2) ** 0.5
    line = LOOKS["outline"].width
    # By the width of the line along the chord.
    row = image[round((y + off) / PIXEL), round((x - 48) / PIXEL) : round((x + 48) / PIXEL)]
    column = image[round((y - 48) / PIXEL) : round((y + 48) / PIXEL), round((x + off) / PIXEL)]
    for dots in (row, column):
        places = np.flatnonzero(dots)
        assert (places[-1] + 1 - places[0]) * PIXEL - line == pytest.approx(chord, abs=TRUE)


def _placed(made: Made, pattern: dict[str, object]) -> dict[str, object]:
    board = next(one for one in made.plan["boards"] if one["id"] == pattern["board"])  # type: ignore[attr-defined]
    placed: dict[str, object] = board["placements"][pattern["placement"]]
    return placed


def _grey(data: bytes, folder: Path, page: int) -> np.ndarray:
    """A page in grey, row 0 at the bottom: 0 is black, 255 white."""
    file, out = folder / "booklet.pdf", folder / "page"
    file.write_bytes(data)
    command = [
        "pdftoppm",
        "-r",
        str(DPI),
        "-f",
        str(page),
        "-l",
        str(page),
        "-gray",
        "-singlefile",
        str(file),
        str(out),
    ]
    subprocess.run(command, check=True, timeout=120)
    _, size, _, dots = out.with_suffix(".pgm").read_bytes().split(b"\n", 3)
    width, height = map(int, size.split())
    return np.frombuffer(dots, dtype=np.uint8).reshape(height, width)[::-1]


def test_an_item_of_sticks_alone_has_no_templates(tmp_path: Path) -> None:
    text = """
title = "Chimes"
units = "mm"
machine = "bandsaw"
booklet = true
[[make]]
name = "strip chime"
design = "bundle"
size = "small"
with = { of = "strips", width = 24, strip = 10, hole = 7, star_tips = 0 }
[[strip]]
name = "larch strip"
width = 24
thickness = 10
length = 2000
count = 5
"""
    made = _made(tmp_path, text)
    assert made.result.proof.passed
    words = _words(made.booklet)
    assert "strip: larch strip, 2000 mm long" in words
    assert "true size" not in words.replace("templates at true size", "")
    assert _check(made).exit_code == 0


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ('booklet = "gate stra"', 'booklet: there is no item "gate stra"; did you mean "gate star"?'),
        ('booklet = ["gate star", "shed"]', 'there is no item "shed"'),
        ("booklet = 3", "booklet: 3 is no item; write booklet = true for all"),
    ],
)
def test_a_booklet_of_no_item_is_a_mistake_with_its_line(tmp_path: Path, key: str, said: str) -> None:
    with pytest.raises(InputError) as error:
        _made(tmp_path, INCHES.replace('booklet = "gate star"', key))
    [problem] = error.value.problems
    assert said in str(problem)
    assert problem.location is not None
    assert problem.location.line == 5
    assert not (tmp_path / "out").exists()


def test_a_part_of_far_too_many_pages_is_refused(tmp_path: Path) -> None:
    star = 'design = "star"\ncount = 4'
    text = INCHES.replace(star, 'design = "plate"\nwith = { length = "117 in", width = "117 in" }')
    text = text.replace('length = "6 ft"\nwidth = "5 1/2"', 'length = "14 ft"\nwidth = "13 ft"')
    with pytest.raises(InputError) as error:
        _made(tmp_path, text, only=frozenset({"booklet"}))
    assert str(error.value.problems[0]).startswith('booklet: part "plate": its pattern would take ')
    assert "at most 200 are written" in str(error.value.problems[0])
