import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
import svgelements

from cutjob.job.model import BoardStock
from cutjob.job.stock import board_of
from cutjob.layout.leftovers import leftovers_of
from cutjob.layout.sawing import shortened
from cutjob.output.picture import write_picture
from cutjob.output.picture_key import nice_length, part_rows
from tests.output.samples import layout, picket, program

SVG = "{http://www.w3.org/2000/svg}"


def picture(board=None, *, programs=None, units="mm", title="Spring market"):
    data = write_picture(board or layout(), program=programs, units=units, title=title)
    return data, ElementTree.fromstring(data)


def of_class(root, name):
    return [element for element in root.iter() if element.get("class") == name]


def words(root):
    return [element.text or "" for element in root.iter(f"{SVG}text")]


def test_every_operation_is_a_class_and_nothing_has_an_id_or_style_sheet():
    _, root = picture(programs=program())
    for name in ("board", "grain", "keep-out", "outside-cut", "inside-cut", "bore", "drill", "mark", "tab", "scale-bar",
                 "cutter-path", "air-move"):  # fmt: skip
        assert of_class(root, name), name
    assert len(of_class(root, "outside-cut")) == len(layout().placements)
    assert not [element for element in root.iter() if element.get("id") or element.tag == f"{SVG}style"]
    _, without = picture()
    assert not of_class(without, "tab")
    assert not of_class(without, "cutter-path")


def test_outlines_lie_where_the_parts_lie():
    # svgelements reads the path data on its own; true arcs keep the boxes exact but for three decimals.
    board = layout()
    _, root = picture(board)
    [outline] = of_class(root, "board")
    x0, _, _, bottom = svgelements.Path(outline[0].get("d")).bbox()
    for group, placement in zip(of_class(root, "outside-cut"), board.placements, strict=True):
        left, top, right, low = svgelements.Path(group[0].get("d")).bbox()
        found = (left - x0, bottom - low, right - x0, bottom - top)
        assert found == pytest.approx(placement.region.bounds, abs=0.003)


def test_view_box_holds_everything_in_mm_and_pixels_are_sensible():
    boards = [layout()]
    small = board_of(BoardStock.model_validate({"name": "end", "length": 250, "width": 400, "thickness": 18}))
    boards.append(replace(layout(board=small), placements=layout().placements[:1]))
    for board in boards:
        _, root = picture(board)
        x, y, width, height = map(float, root.get("viewBox").split())
        assert (x, y) == (0, 0)
        assert width >= board.board.length
        assert height >= board.board.width
        assert 300 <= float(root.get("width")) <= 1600
        assert 150 <= float(root.get("height")) <= 1600
        assert float(root.get("width")) / float(root.get("height")) == pytest.approx(width / height, rel=1e-3)
        for text in root.iter(f"{SVG}text"):
            assert 0 <= float(text.get("x")) <= width
            assert 0 <= float(text.get("y")) <= height


@pytest.mark.parametrize(("units", "length"), [("mm", "425.45 mm"), ("in", "16 3/4 in")])
def test_the_heading_says_what_to_saw_first(units, length):
    rest = shortened(picket(), 425.45)
    _, root = picture(layout(board=rest), units=units)
    [heading] = [word for word in words(root) if word.startswith("cedar picket")]
    assert heading.endswith(f"; saw {length} off the left end first")
    _, several = picture(layout(board=rest, stack=2), units=units)
    assert any(word.endswith(f"; saw {length} off the left end of each first") for word in words(several))
    _, whole = picture(units=units)
    assert not any("saw" in word for word in words(whole))


def test_a_heading_too_long_for_the_paper_leaves_the_saw_cut_readable():
    rest = replace(shortened(picket(), 425.45), name="cedar picket " * 6)
    _, root = picture(layout(board=rest))
    [heading] = [word for word in words(root) if word.startswith("cedar picket")]
    assert "…" in heading
    assert heading.endswith("; saw 425.45 mm off the left end first")
    x, letters = float(root.get("viewBox").split()[2]), 0.56 * rest.length / 85
    assert len(heading) * letters <= x


def test_numbers_and_legend():
    board = layout()
    _, root = picture(board)
    shown = words(root)
    assert [word for word in shown if word.isdigit()] == ["1", "2", "3", "4"]
    assert part_rows(board) == ["1-3: name tag, porch name tag", "4: gull wing, gull spinner"]
    assert set(part_rows(board)) <= set(shown)


def test_scale_bar_in_the_units_of_the_job():
    for units, label, length in (("mm", "200 mm", 200.0), ("in", "12 in", 304.8)):
        _, root = picture(units=units)
        assert label in words(root)
        [bar] = of_class(root, "scale-bar")
        left, _, right, _ = svgelements.Path(bar[0].get("d")).bbox()
        assert right - left == pytest.approx(length, abs=0.002)


@pytest.mark.parametrize(
    ("greatest", "units", "length"),
    [
        (99, "mm", 50),
        (100, "mm", 100),
        (457.2, "mm", 200),
        (0.7, "mm", 0.5),
        (457.2, "in", 304.8),
        (1, "in", 3.175),
    ],
)
def test_usual_lengths(greatest, units, length):
    assert nice_length(greatest, units=units) == pytest.approx(length)


def test_hostile_titles_stay_text():
    title = '</svg><script>alert(1)</script> & "x" \x00\x0b\ud800é½'
    data, root = picture(title=title)
    assert not list(root.iter(f"{SVG}script"))
    assert any("</svg><script>" in word and "é½" in word for word in words(root))
    assert "\x00" not in data.decode("utf-8")


def test_no_exponents_no_minus_zero_and_the_same_bytes_twice():
    data, _ = picture(programs=[program(), program()])
    assert data == picture(programs=[program(), program()])[0]
    numbers = re.findall(r"(?<![\w#-])-?[\d.]+(?:e[-+]?\d+)?", " ".join(re.findall(r'\bd="([^"]*)"', data.decode())))
    assert len(numbers) > 100
    assert not [number for number in numbers if "e" in number or number == "-0"]


def test_cutter_path_follows_the_moves():
    _, root = picture(programs=program())
    [group] = of_class(root, "cutter-path")
    board = of_class(root, "board")[0][0].get("d")
    x0, _, _, bottom = svgelements.Path(board).bbox()
    boxes = [svgelements.Path(path.get("d")).bbox() for path in group]
    left, top, right, low = (
        min(box[0] for box in boxes), min(box[1] for box in boxes),
        max(box[2] for box in boxes), max(box[3] for box in boxes),
    )  # fmt: skip
    # The outside path runs 1.5875 mm outside the slot of radius 30 from x 60 to 180 about y 60.
    expected = (60 - 31.5875, 60 - 31.5875, 180 + 31.5875, 60 + 31.5875)
    assert (left - x0, bottom - low, right - x0, bottom - top) == pytest.approx(expected, abs=0.003)


def test_what_is_left_is_outlined_hatched_and_told_with_its_size():
    board = layout()
    left = leftovers_of(board, gap=6.0, edge_margin=3.0, saw_kerf=3.2, least=(150.0, 50.0))
    assert left
    root = ElementTree.fromstring(write_picture(board, program=None, units="mm", title="Gulls", leftovers=left))
    [wood] = of_class(root, "board")
    x0, _, _, bottom = svgelements.Path(wood[0].get("d")).bbox()
    drawn = [group for group in of_class(root, "leftover") if len(group)]
    assert len(drawn) == len(of_class(root, "leftover-hatch")) == len(left)
    for group, one in zip(drawn, left, strict=True):
        x, top, right, low = svgelements.Path(group[0].get("d")).bbox()
        (at_x, at_y), (_, _, length, width) = one.at, one.board.outline.bounds
        expected = (at_x, at_y, at_x + length, at_y + width)
        assert (x - x0, bottom - low, right - x0, bottom - top) == pytest.approx(expected, abs=0.003)
    assert any(word.startswith("left: ") for word in words(root))
    assert "leftover" in words(root)
    assert not of_class(picture()[1], "leftover")
