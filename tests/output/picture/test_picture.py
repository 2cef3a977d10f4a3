import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
import shapely
import svgelements
from hypothesis import given
from hypothesis import strategies as st

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.cuts.cutter_choice import Cutters
from cutjob.geometry.contour import rectangle
from cutjob.geometry.segment import Line
from cutjob.geometry.transform import Transform
from cutjob.job.model import BoardStock
from cutjob.job.stock import KeepOut, board_of
from cutjob.layout.layout import Lettering, Window
from cutjob.layout.leftovers import leftovers_of
from cutjob.layout.sawing import shortened
from cutjob.output.picture.board import rows_of_windows
from cutjob.output.picture.key import nice_length, part_rows
from cutjob.output.picture.picture import write_picture
from cutjob.parts.part import Mark
from cutjob.program.program import programs_of
from cutjob.reports.sheet.notebook import board_view
from cutjob.reports.sheet.sheet import held_view
from tests.cuts.makers import cutter, layout_of, router, shaped
from tests.output.samples import held_layout, held_long_layout, layout, long_layout, long_programs, picket, program

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
    boxes = [svgelements.Path(path.get("d")).bbox() for path in group if path.tag == f"{SVG}path"]
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


def long_picture(**options):
    board = long_layout(pins=True)
    return picture(board, **({"programs": long_programs(pins=True)} | options))[1]


def drawn(root, name):
    """The groups of a class that are no samples of the key."""
    return [group for group in of_class(root, name) if len(group)]


def key(root):
    return {element.get("class").removeprefix("sample ") for element in root.iter()
            if (element.get("class") or "").startswith("sample ")}  # fmt: skip


def test_the_key_explains_what_occurs_and_nothing_else():
    everything = {
        "outside-cut", "inside-cut", "pocket", "bore", "drill", "mark", "lettering", "screw", "pin-hole", "keep-out",
        "standing", "leader", "window", "grain", "cutter-path", "air-move",
    }  # fmt: skip
    root = long_picture()
    assert key(root) == everything
    assert {"letters", "hole for a pin", "thing on the board", "window on the bed"} <= set(words(root))
    plain = picture(replace(layout(), placements=layout().placements[:1]))[1]
    assert key(plain) == {"outside-cut", "inside-cut", "bore", "mark", "keep-out", "grain"}


def frame(root):
    """Left edge and lower edge of the board on the sheet."""
    [wood] = of_class(root, "board")
    x0, _, _, bottom = svgelements.Path(wood[0].get("d")).bbox()
    return x0, bottom


def box_of(path, root):
    x0, bottom = frame(root)
    left, top, right, low = svgelements.Path(path.get("d")).bbox()
    return left - x0, bottom - low, right - x0, bottom - top


def test_pockets_lie_where_they_are_and_spare_their_islands():
    root = long_picture()
    groups = drawn(root, "pocket")
    assert len(groups) == 8
    placement = long_layout().placements[2]
    expected = placement.transform.region(placement.part.pockets[0].region)
    path = groups[4][0]
    assert path.get("fill-rule") == "evenodd"
    assert box_of(path, root) == pytest.approx(expected.bounds, abs=0.003)
    # Two closed rings in one path: the outline and the island.
    assert path.get("d").count("Z") == 2


def test_a_counterbore_is_two_rings_the_wide_one_under_the_narrow():
    parts = of_class(long_picture(), "part")
    circles = [child for group in parts[0] for child in group if child.tag == f"{SVG}circle"]
    assert [float(one.get("r")) for one in circles] == [5.0, 2.0, 3.175]
    assert circles[0].get("cx") == circles[1].get("cx")


def test_screws_are_crossed_circles_and_pins_are_rings():
    root = long_picture()
    x0, bottom = frame(root)
    screws = drawn(root, "screw")
    downs = long_layout(pins=True).hold_downs
    for group, down in zip(screws, downs, strict=True):
        circle, cross = group
        assert (float(circle.get("cx")) - x0, bottom - float(circle.get("cy"))) == pytest.approx(down.at, abs=0.003)
        # Of a head that would be a speck on a long board the sign is larger: 0.4 letters, of which 85 go along it.
        assert float(circle.get("r")) == pytest.approx(max(down.head, 0.4 * 2400 / 85), abs=0.001)
        left, low, right, high = box_of(cross, root)
        assert ((left + right) / 2, (low + high) / 2) == pytest.approx(down.at, abs=0.003)
        assert cross.get("d").count("M") == 2
    pins = drawn(root, "pin-hole")
    for group, at in zip(pins, long_layout(pins=True).windows[0].holes, strict=True):
        assert (float(group[0].get("cx")) - x0, bottom - float(group[0].get("cy"))) == pytest.approx(at, abs=0.003)


def test_clamps_are_told_from_knots():
    root = long_picture()
    assert len(drawn(root, "standing")) == len(drawn(root, "standing-hatch")) == 1
    assert len(drawn(root, "keep-out")) == len(drawn(root, "keep-out-hatch")) == 1
    assert box_of(drawn(root, "standing")[0][0], root) == pytest.approx((0, 0, 40, 30), abs=0.003)
    # Hatched both ways: some lines of the clamp's rise, others fall.
    runs = re.findall(r"M([\d.]+) ([\d.]+) L([\d.]+) ([\d.]+)", drawn(root, "standing-hatch")[0][0].get("d"))
    slopes = {(float(x1) - float(x0)) * (float(y1) - float(y0)) > 0 for x0, y0, x1, y1 in runs}
    assert slopes == {True, False}


def test_windows_stand_at_the_edges_with_their_numbers():
    root = long_picture()
    brackets = [box_of(group[0], root) for group in drawn(root, "window")]
    for (left, low, right, high), window in zip(brackets, long_layout().windows, strict=True):
        assert (left, right) == pytest.approx((window.first, window.last), abs=0.003)
        assert low >= 160 or high <= 0
    assert [low >= 160 for _, low, _, _ in brackets] == [True, False, True]
    assert {"window 1", "window 2", "window 3"} <= set(words(root))
    heading = next(text for text in root.iter(f"{SVG}text") if text.text.startswith("cedar picket"))
    assert float(heading.get("y")) < frame(root)[1] - 160 - 1.6 * 2400 / 85
    bar = box_of(of_class(root, "scale-bar")[0][0], root)
    assert bar[3] < brackets[1][1]


@given(st.lists(st.tuples(st.integers(0, 60), st.integers(1, 40)), min_size=1, max_size=12))
def test_windows_of_a_row_never_overlap_and_rows_are_few(spans):
    windows = [Window(first=first, last=first + length, placements=()) for first, length in sorted(spans)]
    rows = rows_of_windows(windows)
    for number, (window, row) in enumerate(zip(windows, rows, strict=True)):
        for other, same in zip(windows[:number], rows[:number], strict=True):
            assert row != same or window.first >= other.last
    # As many rows as windows lie over one point at most: what colouring intervals needs.
    deepest = max(sum(one.first <= other.first < one.last for one in windows) for other in windows)
    assert max(rows) + 1 == deepest


def place_of_number(board, number):
    root = picture(board)[1]
    x0, bottom = frame(root)
    [found] = [text for text in root.iter(f"{SVG}text") if text.text == number]
    x, y, size = (float(found.get(name)) for name in ("x", "y", "font-size"))
    # A digit is about 0.7 of its size high, and 0.6 wide.
    return shapely.box(x - x0 - size * 0.3, bottom - y, x - x0 + size * 0.3, bottom - y + size * 0.7)


def test_the_number_of_a_part_keeps_off_the_letters_on_it():
    board = replace(long_layout(), lettering=())
    free = place_of_number(board, "4")
    left, low, right, high = free.bounds
    stroke = (Line((left, low), (right, high)),)
    lettered = replace(board, lettering=(Lettering(placement=3, paths=(stroke,), depth=0.4),))
    moved = place_of_number(lettered, "4")
    assert moved.distance(free) > 0
    assert board.placements[3].polygon.contains(moved)


def test_marks_and_letters_are_drawn_as_wide_as_they_are_cut():
    mark = Mark(path=(Line((10, 10), (60, 10)), Line((60, 10), (60, 30))))
    wide, fine = cutter(6.0), cutter(2.0, number=2)
    strokes = ((Line((30.0, 150.0), (30.0, 165.0)),), (Line((35.0, 150.0), (35.0, 165.0)),))
    part = shaped(rectangle(100, 60), marks=(mark,))
    board = replace(
        layout_of((part, Transform(x=20, y=20)), (part, Transform(x=180, y=160, degrees=90))),
        lettering=(Lettering(placement=1, paths=strokes, depth=0.5),),
    )
    cutters = Cutters(outline=wide, usable=(wide, fine), changer=False)
    (cuts,), _ = cut_layouts([board], cutters=cutters, machine=router(), gap=8, locations={})
    programs = programs_of(cuts, machine=router())
    root = picture(cuts.layout, programs=programs)[1]
    assert "width of the cut" in words(root)
    bands = drawn(root, "groove")
    assert [band.get("stroke-width") for band in bands] == ["6", "6", "2", "2"]
    # Each lies under a line of its own: the same path once faint and wide, once thin.
    lines = [path.get("d") for name in ("mark", "lettering") for group in drawn(root, name) for path in group]
    assert [band[0].get("d") for band in bands] == lines
    without = picture(board)[1]
    assert not of_class(without, "groove")
    assert "width of the cut" not in words(without)


def test_paths_of_several_programs_say_which_file_and_cutter_they_are():
    root = long_picture()
    titles = {title.text for group in drawn(root, "cutter-path") for title in group.iter(f"{SVG}title")}
    files = [f"board-01-{number}.nc" for number in (1, 2, 3)]
    cutters = ["cutter 7, drill bit", "cutter 5, small bit", "cutter 2, straight bit"]
    # A screw's hole alone is drilled straight down, and has no path across.
    assert titles >= {f"{file}: {cutter}" for file in files for cutter in cutters[1:]}


def test_everything_of_a_rich_picture_lies_on_the_paper():
    root = long_picture()
    _, _, width, height = map(float, root.get("viewBox").split())
    for text in root.iter(f"{SVG}text"):
        assert 0 <= float(text.get("x")) <= width
        assert 0 <= float(text.get("y")) <= height
    [paper] = of_class(root, "paper")
    assert (float(paper.get("width")), float(paper.get("height"))) == (width, height)


def test_the_size_of_a_long_leftover_stands_in_its_middle():
    board = replace(long_layout(), placements=long_layout().placements[3:4], windows=(), hold_downs=(), lettering=())
    left = leftovers_of(board, gap=6.0, edge_margin=3.0, saw_kerf=3.2, least=(150.0, 50.0))
    root = ElementTree.fromstring(write_picture(board, program=None, units="mm", title="Gulls", leftovers=left))
    longest = max(left, key=lambda one: one.board.length)
    [label] = [text for text in root.iter(f"{SVG}text") if text.text.startswith(f"left: {longest.board.length:g} ")]
    x0, bottom = frame(root)
    middle = (longest.at[0] + longest.board.length / 2, longest.at[1] + longest.board.width / 2)
    assert (float(label.get("x")) - x0, bottom - float(label.get("y"))) == pytest.approx(middle, abs=0.002)


@pytest.mark.parametrize("at", [(1000.0, 75.0), (1100.0, 66.0), (950.0, 60.0)])
def test_the_size_of_a_leftover_stands_clear_of_knots(at):
    """A board with a knot where its words would stand: they go beside it. A letter is 0.6 of its height wide."""
    stock = {"name": "plank", "length": 1800, "width": 140, "thickness": 16, "keep_out": [{"at": at, "radius": 20}]}
    laid = layout(board=board_of(BoardStock.model_validate(stock)))
    board = replace(laid, placements=laid.placements[:1])
    left = leftovers_of(board, gap=6.0, edge_margin=3.0, saw_kerf=3.2, least=(150.0, 50.0))
    assert left
    root = ElementTree.fromstring(write_picture(board, program=None, units="mm", title="Gulls", leftovers=left))
    [label] = [text for text in root.iter(f"{SVG}text") if text.text.startswith("left: ")]
    x0, bottom = frame(root)
    x, y, high = float(label.get("x")) - x0, bottom - float(label.get("y")), float(label.get("font-size"))
    half = 0.6 * high * len(label.text) / 2
    assert not shapely.box(x - half, y, x + half, y + high).intersects(shapely.Point(at).buffer(20))
    assert 0 < x - half < x + half < 1800


def test_clamps_bridges_and_the_waste_on_them():
    board = held_layout()
    _, root = picture(board, programs=program())
    assert len(drawn(root, "clamp")) == 2
    assert not of_class(root, "standing")
    assert len(drawn(root, "keep-out")) == 1
    # One bar for each bridge, in place of the tabs; of the two pieces of waste only one is under no clamp.
    (((bars,),),) = drawn(root, "bridge")
    assert bars.get("d").count("M") == len(board.holding.bridges)
    assert not of_class(root, "tab")
    ((hanging,),) = drawn(root, "hanging")
    x0, y0, x1, y1 = box_of(hanging, root)
    assert (x1 - x0, y1 - y0) == (pytest.approx(500.0, abs=0.1), pytest.approx(35.0, abs=0.1))
    assert {"clamp", "bridge of wood", "waste on bridges"} <= set(words(root))
    assert any(text.startswith("held by 2 clamps; cedar picket") for text in words(root))


def test_a_bar_is_as_wide_as_its_bridge_or_as_can_be_seen():
    board = held_layout()
    wide = tuple(
        replace(bridge, width=width) for bridge, width in zip(board.holding.bridges, (40.0, 2.0), strict=False)
    )
    _, root = picture(replace(board, holding=replace(board.holding, bridges=wide)))
    (group,) = [one for one in of_class(root, "bridge") if "sample" not in one.get("class")]
    first, second = (float(one.get("stroke-width")) for one in group)
    assert first == 40.0
    assert 2.0 < second < 12.0


def test_clamps_of_windows_carry_their_numbers():
    board = held_long_layout()
    _, root = picture(board)
    assert len(drawn(root, "clamp")) == 3
    before = words(picture(replace(board, holding=None))[1])
    assert sorted(words(root)[words(root).index("window 1") - 3 : words(root).index("window 1")]) == ["1", "2", "3"]
    assert len(before) < len(words(root))


@pytest.mark.parametrize("by", ["tape", "vacuum"])
def test_a_board_held_from_below_says_so_first(by):
    _, root = picture(held_layout(by), programs=program())
    assert any(text.startswith(f"held by {by} under the whole board, no tabs; cedar picket") for text in words(root))
    for name in ("clamp", "bridge", "hanging"):
        assert not of_class(root, name)


def _on_corners(board, *, reach=40.0):
    """A board with a clamp that sticks out over each corner, as clamps do that a job names itself."""
    wood = board.board
    corners = [(x, y) for x in (0.0, wood.length) for y in (0.0, wood.width)]
    areas = [Transform(x=x - reach, y=y - reach).contour(rectangle(2 * reach, 2 * reach)) for x, y in corners]
    outs = tuple(KeepOut(area, height=20.0, why="clamp") for area in areas)
    return replace(board, board=replace(wood, keep_outs=(*wood.keep_outs, *outs)))


@pytest.mark.parametrize("name", ["picture", "view with its key", "view", "how it hangs together"])
def test_clamps_over_the_corners_are_whole_and_clear_of_heading_scale_and_key(name):
    board = _on_corners(held_layout())
    match name:
        case "picture":
            root = picture(board)[1]
        case "how it hangs together":
            root = ElementTree.fromstring(held_view(board).svg)
        case _:
            view = board_view(board, units="mm", title="board", key=name == "view with its key")
            root = ElementTree.fromstring(view.svg)
    _, _, width, height = map(float, root.get("viewBox").split())
    boxes = [svgelements.Path(group[0].get("d")).bbox() for group in drawn(root, "standing")]
    assert len(boxes) == 4
    assert all(0 <= x0 < x1 <= width and 0 <= y0 < y1 <= height for x0, y0, x1, y1 in boxes)
    top, low = min(box[1] for box in boxes), max(box[3] for box in boxes)
    [outline] = of_class(root, "board")
    _, board_top, _, board_low = svgelements.Path(outline[0].get("d")).bbox()
    outside = [
        float(text.get("y")) for text in root.iter(f"{SVG}text") if not board_top < float(text.get("y")) < board_low
    ]
    assert outside or not of_class(root, "scale-bar")
    assert all(y < top or y > low for y in outside)
    for bar in of_class(root, "scale-bar"):
        assert svgelements.Path(bar[0].get("d")).bbox()[1] > low


def test_a_number_beside_its_part_has_a_line_to_it():
    """Of two parts the first has its number cut in the waste between them, the second on itself."""
    part = shaped(rectangle(100, 60))
    beside = ((Line((20.0, 90.0), (20.0, 105.0)),),)
    on_it = ((Line((80.0, 150.0), (80.0, 165.0)),),)
    board = replace(
        layout_of((part, Transform(x=20, y=20)), (part, Transform(x=20, y=130))),
        lettering=(
            Lettering(placement=0, paths=beside, depth=0.5),
            Lettering(placement=1, paths=on_it, depth=0.5),
        ),
    )
    root = picture(board)[1]
    [leader] = drawn(root, "leader")
    x0, low, _, high = box_of(leader[0], root)
    assert high == pytest.approx(90.0, abs=0.003)
    assert 70.0 < low < 80.0  # in the first part, whose upper edge is at 80
    assert x0 == pytest.approx(20.0, abs=0.003)
    assert "from a number to its part" in words(root)
    assert "from a number to its part" not in words(picture(replace(board, lettering=board.lettering[1:]))[1])
