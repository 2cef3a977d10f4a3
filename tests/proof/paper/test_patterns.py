"""Paper patterns read back: right ones pass, and each way they could be wrong is found."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from pypdf import PdfReader, PdfWriter
from pypdf.generic import DecodedStreamObject, NameObject

import cutjob.output.paper.pdf as pdf_book
from cutjob.finishing import expected_patterns
from cutjob.geometry.contour import Region
from cutjob.geometry.segment import Line
from cutjob.geometry.transform import Transform
from cutjob.job.model import BoardStock
from cutjob.job.paper import PatternsWanted
from cutjob.job.stock import board_of
from cutjob.output.paper.book import write_patterns
from cutjob.parts.part import Hole, Mark
from cutjob.proof.expect import ExpectedPatterns
from cutjob.proof.paper.patterns import judge_patterns
from cutjob.proof.paper.pdf_reader import UnreadablePdfError, read_pdf
from tests.output.paper.reading import read_pages
from tests.output.paper.samples import bandsaw, disc, item, layout_of, plank, wedge
from tests.output.samples import rail, tag

POINTS = 72 / 25.4
RIGHT = 0.005  # mm: arcs as curves, and chords of both sides; far below the 0.1 mm that are allowed
PDFIUM = 0.002  # mm: PDFium keeps 32-bit floats, and both take curves apart into pieces


def made(items, *, laid=None, **wanted) -> tuple[bytes, ExpectedPatterns]:
    asked, laid = PatternsWanted(**wanted), laid or layout_of(items)
    book = write_patterns(
        laid, items=items, wanted=asked, paper="A4", machine=bandsaw(), title="Spring market", units="mm"
    )
    return book.data, expected_patterns(book, laid, asked)


def checks(data: bytes, expected: ExpectedPatterns) -> set[str]:
    findings, _ = judge_patterns(data, expected)
    assert all(one.severity == "error" and one.file == "patterns.pdf" for one in findings)
    assert all(one.measured is None or np.isfinite(one.measured) for one in findings)
    return {one.check for one in findings}


def changed(data: bytes, page: int, change: Callable[[bytes], bytes]) -> bytes:
    """The file with another content of a page, counted from 1."""
    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(data)))
    own = writer.pages[page - 1]
    before = own.get_contents().get_data()
    after = change(before)
    assert after != before
    stream = DecodedStreamObject()
    stream.set_data(after)
    own[NameObject("/Contents")] = writer._add_object(stream)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def without(data: bytes, page: int) -> bytes:
    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(data)))
    writer.remove_page(page - 1)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def moved_tile(by: float) -> Callable[[bytes], bytes]:
    """The picture in a page's window lies `by` mm farther right."""

    def change(content: bytes) -> bytes:
        def further(found: re.Match[bytes]) -> bytes:
            return found[1] + f"1 0 0 1 {float(found[2]) + by * POINTS:.6f} ".encode() + found[3] + b" cm"

        return re.sub(rb"(W\* n\s+)1 0 0 1 (\S+) (\S+) cm", further, content, count=1)

    return change


@pytest.fixture(scope="module")
def several() -> tuple[bytes, ExpectedPatterns]:
    """Parts with openings, holes, pockets and marks, one of them on two pages."""
    return made([item(plank(420.0, 50.0), tag(), rail())])


@pytest.mark.parametrize(
    ("items", "wanted"),
    [
        ([item(disc())], {}),
        ([item(plank(420.0, 50.0), wedge(), tag(), rail())], {}),
        ([item(plank(420.0, 50.0), wedge(), tag(), rail(), disc(433.0))], {"halves": True}),
        ([item(disc(60.0), name="porch set"), item(disc(60.0), name="gate set")], {}),
    ],
)
def test_right_patterns_pass(items, wanted):
    findings, worst = judge_patterns(*made(items, **wanted))
    assert findings == []
    assert 0 < worst <= RIGHT


def test_right_layouts_pass_and_one_part_moved_is_found():
    places = [Transform(x=100, y=100), Transform(x=300, y=100, degrees=90), Transform(x=700, y=60, mirrored=True)]
    board = board_of(BoardStock.model_validate({"name": "shelf", "length": 1450, "width": 500, "thickness": 16}))
    items = [item(disc(), wedge(), tag())]
    layout = layout_of(items, places=places, board=board)
    data, expected = made(items, laid=layout, parts=False, layout=True)
    findings, worst = judge_patterns(data, expected)
    assert findings == []
    assert worst <= RIGHT
    (one,) = layout.boards
    elsewhere = (*one.placements[:2], replace(one.placements[2], transform=Transform(x=700.2, y=60, mirrored=True)))
    wrong = replace(layout, boards=(replace(one, placements=elsewhere),))
    sheet = replace(expected.sheets[0], board=wrong.boards[0])
    assert checks(data, replace(expected, sheets=(sheet,), layout=wrong)) == {"true size", "stray line"}
    assert checks(data, replace(expected, sheets=())) == {"missing", "pages"}


@pytest.mark.parametrize("turned", [False, True])
def test_what_lies_on_the_fold_is_drawn_and_meant(turned):
    """A mark along the mirror line itself, as a centre mark is, a bore on it, and bores on both sides."""
    long, high = (40.0, 150.0) if turned else (150.0, 40.0)
    ends = ((0.0, high / 2), (long, high / 2)) if turned else ((long / 2, 0.0), (long / 2, high))
    corners = [(x, y) for x in (10.0, long - 10.0) for y in (10.0, high - 10.0)]
    holes = tuple(Hole(at=at, diameter=8.0) for at in [(long / 2, high / 2), *corners])
    marked = plank(long, high, marks=(Mark(path=(Line(*ends),)),), holes=holes)
    data, expected = made([item(marked)], halves=True)
    (pattern,) = expected.sheets[0].patterns
    assert pattern.fold is not None
    assert judge_patterns(data, expected)[0] == []


def test_one_percent_too_large_is_found(several):
    data, expected = several
    for page in range(expected.sheets[0].pages[0].number, expected.sheets[-1].pages[-1].number + 1):
        whole = changed(data, page, lambda content: b"1.01 0 0 1.01 0 0 cm\n" + content)
        assert {"check bar", "true size"} <= checks(whole, expected)


def test_a_part_one_percent_too_large_is_found():
    """The paper and its bars are right, and the disc of 100 mm is drawn with 101."""
    data, expected = made([item(disc(101.0, bore=0.0))])
    (pattern,) = expected.sheets[0].patterns
    true = replace(pattern, part=disc(100.0, bore=0.0), move=pattern.move)
    layout = layout_of([item(disc(100.0, bore=0.0))])
    told = replace(expected, sheets=(replace(expected.sheets[0], patterns=(true,)),), layout=layout)
    findings, worst = judge_patterns(data, told)
    assert {one.check for one in findings} == {"true size", "stray line"}
    assert worst == pytest.approx(0.5, abs=0.01)  # half of 1 % of 100 mm


@pytest.mark.parametrize(("by", "found"), [(0.05, False), (0.15, True), (-1.0, True)])
def test_a_shifted_tile_is_found(several, by, found):
    data, expected = several
    paged = next(sheet for sheet in expected.sheets if len(sheet.pages) > 1)
    for page in paged.pages:
        got = checks(changed(data, page.number, moved_tile(by)), expected)
        assert got == ({"true size", "stray line"} if found else set())


def test_crosses_that_do_not_meet_are_found(several):
    """The window and its picture stay, the crosses of one page are drawn elsewhere."""
    data, expected = several
    paged = next(sheet for sheet in expected.sheets if len(sheet.pages) > 1)
    first = paged.pages[0]
    # What follows the window's Q lies on the paper itself: frame, crosses, bars.
    shifted = changed(
        data,
        first.number,
        lambda content: re.sub(rb"(\nQ\s+)(.*)", rb"\g<1>q 1 0 0 1 0.6 0 cm \g<2> Q", content, flags=re.DOTALL),
    )
    assert "register" in checks(shifted, expected)


def test_a_missing_part_is_found(several):
    data, expected = several
    number = expected.sheets[0].pages[0].number
    # A blank page, a page that is not there.
    blank = changed(data, number, lambda content: content[: content.index(b"W* n")] + b"n Q")
    assert {"true size", "check bar"} <= checks(blank, expected)
    assert {"missing", "pages"} <= checks(without(data, expected.sheets[-1].pages[-1].number), expected)
    # Forgotten before anything was drawn.
    few = [replace(sheet, patterns=sheet.patterns[1:]) for sheet in expected.sheets]
    assert {"missing", "stray line"} <= checks(data, replace(expected, sheets=tuple(few)))


@pytest.mark.parametrize("kind", ["hole", "pocket", "opening", "mark"])
def test_every_kind_of_line_is_looked_for(kind):
    """What the part has and the paper lacks is found, and the other way round."""
    full = {"hole": tag(), "pocket": rail(), "opening": tag(), "mark": tag()}[kind]
    bare = {
        "hole": replace(full, holes=()),
        "pocket": replace(full, pockets=()),
        "opening": replace(full, region=Region(full.region.outline)),
        "mark": replace(full, marks=()),
    }[kind]
    for drawn, told, check in ((full, bare, "stray line"), (bare, full, "true size")):
        data, expected = made([item(drawn)])
        (pattern,) = expected.sheets[0].patterns
        sheet = replace(expected.sheets[0], patterns=(replace(pattern, part=told),))
        layout = layout_of([item(told)])
        findings, _ = judge_patterns(data, replace(expected, sheets=(sheet,), layout=layout))
        assert any(one.check == check and kind in one.message for one in findings)


def test_a_window_cut_short_and_a_line_of_another_look_are_found(several):
    data, expected = several
    number = expected.sheets[0].pages[0].number
    narrow = changed(data, number, lambda content: content.replace(b"W* n", b"W* n 0 0 200 900 re W* n", 1))
    assert "true size" in checks(narrow, expected)
    thick = changed(data, number, lambda content: re.sub(rb"\.8503\d* w", b"1.2 w", content))
    assert "true size" in checks(thick, expected)


def _covering(box: tuple[float, float, float, float], colour: str = "1 1 1") -> Callable[[bytes], bytes]:
    """A filled box (x, y, width, height, mm) painted over all that a page has."""
    words = " ".join(f"{value * POINTS:.4f}" for value in box)
    return lambda content: content + f"\n{colour} rg {words} re f".encode()


@pytest.mark.parametrize("colour", ["1 1 1", "0.2 0.2 0.2"])
def test_a_line_painted_over_is_missing(colour):
    data, expected = made([item(disc(80.0))])
    (page,) = expected.sheets[0].pages
    (pattern,) = expected.sheets[0].patterns
    x, y = np.array(pattern.move.point((0.0, 0.0))) + np.array(page.shift)
    beside, over = (x - 15, y + 10, 30, 10), (x - 15, y + 30, 30, 15)
    assert checks(changed(data, page.number, _covering(beside, colour)), expected) == set()
    assert checks(changed(data, page.number, _covering(over, colour)), expected) == {"true size"}
    # What is painted first covers nothing, nor does what is clipped away.
    first = changed(data, page.number, lambda content: _covering(over, colour)(b"q") + b" Q\n" + content)
    assert checks(first, expected) == set()
    clipped = changed(data, page.number, lambda content: _covering(over, colour)(content + b"\n0 0 20 20 re W n"))
    assert checks(clipped, expected) == set()


def test_numbers_of_parts_too_small_for_them_cover_no_line():
    board = board_of(BoardStock.model_validate({"name": "shelf", "length": 150, "width": 100, "thickness": 16}))
    layout = layout_of([item(disc(3.0, bore=0.0))], places=[Transform(x=40, y=40)], board=board)
    assert judge_patterns(*made([item(disc(3.0, bore=0.0))], laid=layout, parts=False, layout=True))[0] == []


def test_a_window_that_is_no_box_is_refused(several):
    data, expected = several
    number = expected.sheets[0].pages[0].number
    for shape in (b"0 0 m 600 0 l 600 900 l h", b"0 0 m 600 20 l 580 900 l -20 880 l h", b"0 0 600 900 re 5 5 9 9 re"):
        odd = changed(data, number, lambda content, s=shape: content.replace(b"W* n", b"W* n " + s + b" W* n", 1))
        assert checks(odd, expected) == {"readable"}
    letters = changed(data, number, lambda content: content + b"\nBT 7 Tr ET")
    assert checks(letters, expected) == {"readable"}


def test_the_paper_must_be_the_one_asked_for(several):
    data, expected = several
    assert "paper size" in checks(data, replace(expected, paper=(215.9, 279.4)))


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"no PDF",
        b"%PDF-1.4\n%%EOF",
        lambda data: data[: len(data) // 2],
        lambda data: changed(data, 2, lambda content: content + b"\n/Im1 Do"),
        lambda data: changed(data, 2, lambda content: content + b"\nl"),
        lambda data: changed(data, 2, lambda content: content + b"\n1 2 l"),
        lambda data: changed(data, 2, lambda content: content + b"\nQ Q Q Q Q"),
    ],
)
def test_what_can_not_be_read_is_refused(several, data):
    right, expected = several
    wrong = data if isinstance(data, bytes) else data(right)
    assert checks(wrong, expected) == {"readable"}
    with pytest.raises(UnreadablePdfError):
        read_pdf(wrong)


def test_as_pdfium_reads_it(several):
    """Another reader finds the same paths at the same places: in the same order, as wide, of the same colour."""
    data, _ = several
    ours, theirs = read_pdf(data), read_pages(data)
    assert len(ours) == len(theirs)
    compared = 0
    for mine, others in zip(ours, theirs, strict=True):
        stroked = [path for path in mine.paths if path.stroke is not None]
        others = [path for path in others if len(path.runs) and path.width]
        boxes = np.array([_box(path.runs) for path in others])
        for path in stroked:
            away = np.abs(boxes - _box(path.runs)).max(axis=1)
            near = others[int(away.argmin())]
            # Curves that are not shown are not taken apart here, so their boxes may be smaller.
            if away.min() <= PDFIUM:
                compared += 1
                same = [one for one, off in zip(others, away, strict=True) if off <= PDFIUM]
                assert any(one.colour == path.stroke.colour for one in same)
                assert near.width == pytest.approx(path.stroke.width, abs=0.5)
    assert compared > 50


def _box(runs) -> np.ndarray:
    points = np.vstack(runs)
    return np.concatenate([points.min(axis=0), points.max(axis=0)])


def test_a_writer_gone_wrong_is_found(monkeypatch, several):
    """All that the writer draws one per cent too large, paper included."""
    _, expected = several
    monkeypatch.setattr(pdf_book, "POINTS_PER_MM", POINTS * 1.01)
    data, _ = made([item(plank(420.0, 50.0), tag(), rail())])
    assert {"paper size", "check bar", "true size"} <= checks(data, expected)
