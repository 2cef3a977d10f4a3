import math

import ezdxf
import pytest

from cutjob.geometry.segment import Line
from cutjob.parts.part import ShapedPart
from cutjob.tolerances import TOLERANCES

from ..order import EXACT, INCH, assert_sound, item, only_problem, problems

# A plate of 80 x 40 with a round hole of 10 and a square cutout of 12; an ellipse of 30 x 20 to its right.
PORCH_SIGN = """<svg xmlns="http://www.w3.org/2000/svg" width="140mm" height="60mm" viewBox="0 0 140 60">
  <rect x="10" y="10" width="80" height="40"/>
  <circle cx="30" cy="20" r="5"/>
  <rect x="60" y="24" width="12" height="12"/>
  <ellipse cx="115" cy="40" rx="15" ry="10"/>
</svg>"""
# Sums of coordinates of about 100 mm that went through a page's scale and back.
READ = 1e-6


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "porch-sign.svg").write_text(PORCH_SIGN)
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 1
    space = document.modelspace()
    space.add_lwpolyline([(2, 1), (8, 1), (8, 4), (2, 4)], close=True, dxfattribs={"layer": "parts"})
    space.add_circle((5, 2), 0.25, dxfattribs={"layer": "parts"})
    space.add_line((3, 3), (7, 3), dxfattribs={"layer": "letters"})
    space.add_circle((3, 2), 0.5, dxfattribs={"layer": "letters"})
    space.add_line((0, 0), (0, 9), dxfattribs={"layer": "notes"})
    document.saveas(tmp_path / "gate-tag.dxf")
    return tmp_path


def parts(folder, **rest) -> tuple[ShapedPart, ...]:
    return item("outline", folder=folder, **{"unit": "mm", **rest}).build.shaped


def test_every_outline_is_a_part_with_its_holes(folder):
    plate, ellipse = parts(folder, file="porch-sign.svg")
    assert (plate.name, ellipse.name) == ("outline 1", "outline 2")
    assert plate.region.bounds == pytest.approx((0, 0, 80, 40), abs=READ)
    assert plate.region.area == pytest.approx(80 * 40 - 12 * 12, rel=1e-9)
    (hole,) = plate.holes
    # 20 from the left edge and 10 below the top one: the drawing's y runs down, ours up.
    assert hole.at == pytest.approx((20, 30), abs=READ)
    assert (hole.diameter, hole.depth) == (pytest.approx(10, abs=READ), None)
    assert plate.deviation == 0.0
    assert ellipse.deviation == pytest.approx(TOLERANCES.curve)
    # pi a b, within the fit all round a perimeter of less than 2 pi a.
    assert ellipse.region.area == pytest.approx(math.pi * 150, abs=TOLERANCES.curve * 2 * math.pi * 15)
    assert ellipse.region.bounds == pytest.approx((0, 0, 30, 20), abs=2 * TOLERANCES.curve)
    for part in (plate, ellipse):
        assert_sound(part)
        assert (part.grain, part.may_mirror, part.marks) == ("length", False, ())


def test_the_medium_size_is_the_drawn_one(folder):
    drawn = parts(folder, file="porch-sign.svg", scale=1)
    assert parts(folder, file="porch-sign.svg") == drawn
    for size, scale in (("small", 0.75), ("large", 1.5)):
        for part, first in zip(parts(folder, file="porch-sign.svg", size=size), drawn, strict=True):
            fit = TOLERANCES.curve * part.region.outline.length if part.deviation else 0.0
            assert part.region.area == pytest.approx(first.region.area * scale**2, rel=1e-9, abs=2 * fit)
            assert part.deviation <= TOLERANCES.curve


@pytest.mark.parametrize(("key", "wanted", "scale"), [("width", 240, 2.0), ("height", "1 in", 25.4 / 40)])
def test_a_wanted_width_or_height_is_that_of_the_whole_drawing(folder, key, wanted, scale):
    # The drawing holds 120 x 40: 10 to 130 across, 10 to 50 up.
    plate, _ = parts(folder, file="porch-sign.svg", **{key: wanted})
    assert plate.region.bounds == pytest.approx((0, 0, 80 * scale, 40 * scale), rel=2e-4)
    assert plate.holes[0].diameter == pytest.approx(10 * scale, rel=2e-4)
    assert plate.region.area == pytest.approx((80 * 40 - 144) * scale**2, rel=4e-4)


def test_a_wanted_width_settles_the_size_of_a_drawing_without_a_unit(tmp_path):
    body = '<rect x="10" y="10" width="30" height="20"/>'
    (tmp_path / "plain.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="50" height="40">{body}</svg>', encoding="utf-8"
    )
    [plate] = parts(tmp_path, file="plain.svg", width="50 mm")
    assert plate.region.bounds == pytest.approx((0, 0, 50, 100 / 3), abs=1e-6)
    [pixels] = parts(tmp_path, file="plain.svg", units="px")
    assert pixels.region.bounds == pytest.approx((0, 0, 30 * 25.4 / 96, 20 * 25.4 / 96), abs=1e-9)


@pytest.mark.parametrize("scale", [0.5, 4.0, 40.0])
def test_curves_are_fitted_at_the_size_they_are_cut(folder, scale):
    """However small they are drawn, they lie no further off than any curve: an ellipse's area pi a b tells."""
    _, ellipse = parts(folder, file="porch-sign.svg", scale=scale)
    assert ellipse.deviation <= TOLERANCES.curve
    around = 2 * math.pi * 15 * scale
    assert ellipse.region.area == pytest.approx(math.pi * 150 * scale**2, abs=TOLERANCES.curve * around)
    assert item("outline", folder=folder, file="porch-sign.svg", unit="mm", scale=scale).build.warnings == ()


def test_a_drawing_in_inches_is_so_in_any_job(folder):
    for unit in ("in", "mm"):
        (tag,) = parts(folder, file="gate-tag.dxf", unit=unit, layer="parts")
        assert tag.region.bounds == pytest.approx((0, 0, 6 * INCH, 3 * INCH), abs=EXACT)
        assert tag.holes[0].at == pytest.approx((3 * INCH, INCH), abs=EXACT)
        assert tag.holes[0].diameter == pytest.approx(INCH / 2, abs=EXACT)
    (tag,) = parts(folder, file="gate-tag.dxf", layer="parts", units="mm")
    assert tag.region.bounds == pytest.approx((0, 0, 6, 3), abs=EXACT)


def test_marks_may_be_open_and_move_with_their_part(folder):
    asked = {"file": "gate-tag.dxf", "layer": "parts", "marks": "letters", "mark_depth": 1.5, "scale": 2}
    (tag,) = parts(folder, **asked)
    line, ring = sorted(tag.marks, key=lambda mark: len(mark.path))
    assert {line.depth, ring.depth} == {1.5}
    assert isinstance(line.path[0], Line)
    ends = sorted((line.path[0].start, line.path[-1].end))
    assert ends[0] == pytest.approx((2 * INCH, 4 * INCH), abs=EXACT)
    assert ends[1] == pytest.approx((10 * INCH, 4 * INCH), abs=EXACT)
    assert sum(segment.length for segment in ring.path) == pytest.approx(2 * math.pi * INCH, rel=1e-9)
    # A ring on the layer of marks is no hole.
    assert len(tag.holes) == 1
    built = item("outline", folder=folder, unit="mm", **asked).build
    assert not any("letters" in warning for warning in built.warnings)
    assert any('"notes"' in warning for warning in built.warnings)


def test_without_a_layer_everything_but_the_marks_is_outline(folder):
    # The open line among the notes is then a mistake, and is told at the job's line and the drawing's.
    problem = only_problem("outline", folder=folder, file="gate-tag.dxf", marks="letters")
    assert problem.place.startswith('make "reed spinner": file: gate-tag.dxf: ')
    assert "is not closed" in problem.message
    assert str(problem.location) == "spring.toml:20"
    document = ezdxf.readfile(folder / "gate-tag.dxf")
    document.modelspace().query('*[layer=="notes"]').first.destroy()
    document.saveas(folder / "plain-tag.dxf")
    (tag,) = parts(folder, file="plain-tag.dxf", marks="letters")
    assert (len(tag.marks), len(tag.holes), tag.marks[0].depth) == (2, 1, None)


def test_mirror_and_grain_are_as_asked(folder):
    plate, _ = parts(folder, file="porch-sign.svg", mirror=True, grain="none")
    assert (plate.may_mirror, plate.grain) == (True, "none")


@pytest.mark.parametrize(
    ("changes", "key", "told"),
    [
        ({}, "file", "is not given"),
        ({"file": "nothing.svg"}, "file", "there is no such file"),
        ({"file": "porch-sign.svg", "marks": "letters"}, "file", 'nothing on a layer "letters"'),
        ({"file": "gate-tag.dxf", "layer": "parts", "marks": "parts"}, "marks", "can't hold both"),
        ({"file": "gate-tag.dxf", "layer": "parts", "marks": "letters", "mark_depth": "5/8"}, "mark_depth", "through"),
        ({"file": "gate-tag.dxf", "layer": "parts", "mark_depth": "1/8"}, "mark_depth", "without marks"),
        ({"file": "porch-sign.svg", "width": "9 in", "scale": 2}, "scale", "both given"),
        ({"file": "porch-sign.svg", "units": "cm"}, "units", "not known"),
        ({"file": "porch-sign.svg", "scale": 0}, "scale", "too small"),
    ],
)
def test_what_cannot_be_read_is_told_at_the_order(folder, changes, key, told):
    (problem, *_) = problems("outline", folder=folder, **changes)
    assert problem.place.startswith(f'make "reed spinner": {key}')
    assert problem.location is not None
    assert told in str(problem)


def test_a_mark_beside_the_part_is_refused(folder):
    document = ezdxf.readfile(folder / "gate-tag.dxf")
    document.modelspace().add_line((7, 2), (9, 2), dxfattribs={"layer": "letters"})
    document.saveas(folder / "gate-tag.dxf")
    problem = only_problem("outline", folder=folder, file="gate-tag.dxf", layer="parts", marks="letters")
    assert problem.place.endswith(": marks")
    assert "x 7 in, y 2 in" in problem.message or "x 9 in, y 2 in" in problem.message


def test_a_size_far_from_the_drawing_is_a_slip(folder):
    (folder / "tiny.svg").write_text(PORCH_SIGN.replace("140mm", "0.014mm").replace("60mm", "0.006mm"))
    problem = only_problem("outline", folder=folder, file="tiny.svg", width="9 in")
    assert problem.place.endswith(": width")
    assert "check the drawing's units" in problem.advice


def test_mistakes_in_a_drawing_keep_its_own_line(folder):
    (folder / "bent.svg").write_text(PORCH_SIGN.replace("</svg>", '<path d="M 1 1 L 9 9"/>\n</svg>'))
    problem = only_problem("outline", folder=folder, file="bent.svg")
    assert "is not closed" in problem.message
    assert problem.place.startswith('make "reed spinner": file: path')
    assert str(problem.location) == f"{folder / 'bent.svg'}:6"


def test_a_wide_round_opening_is_cut_out_and_not_bored(folder):
    (folder / "wreath.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200">'
        '<circle cx="100" cy="100" r="95"/><circle cx="100" cy="100" r="70"/></svg>'
    )
    (wreath,) = parts(folder, file="wreath.svg")
    assert wreath.holes == ()
    assert wreath.region.area == pytest.approx(math.pi * (95**2 - 70**2), rel=1e-9)


@pytest.fixture
def shelf(tmp_path):
    """A board of 200 x 100 with a dado that runs out at both edges, a recess with an island, a counterbored hole."""
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()

    def box(x, y, length, width, layer):
        corners = [(x, y), (x + length, y), (x + length, y + width), (x, y + width)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})

    box(10, 10, 200, 100, "board")
    box(40, 5, 12, 110, "dado")
    box(80, 30, 60, 60, "recess")
    space.add_circle((110, 60), 10, dxfattribs={"layer": "recess"})
    space.add_circle((180, 60), 2.5, dxfattribs={"layer": "board"})
    space.add_circle((180, 60), 6, dxfattribs={"layer": "head"})
    space.add_circle((180, 90), 4, dxfattribs={"layer": "head"})
    document.saveas(tmp_path / "shelf.dxf")
    return tmp_path


DEPTHS = {"dado": 5, "recess": 4, "head": 3}


def test_layers_of_pockets(shelf):
    (board,) = parts(shelf, file="shelf.dxf", pockets=DEPTHS)
    assert board.region.bounds == pytest.approx((0, 0, 200, 100), abs=READ)
    assert board.region.holes == ()
    dado, recess = board.pockets
    assert (dado.depth, recess.depth) == (5, 4)
    assert dado.region.bounds == pytest.approx((30, -5, 42, 105), abs=READ)
    assert recess.region.area == pytest.approx(3600 - math.pi * 100, rel=1e-9)
    assert len(recess.region.holes) == 1
    screw, socket = sorted(board.holes, key=lambda hole: hole.at[1])
    assert (screw.at, screw.diameter, screw.depth) == (pytest.approx((170, 50), abs=READ), pytest.approx(5), None)
    assert screw.counterbore is not None
    assert (screw.counterbore.diameter, screw.counterbore.depth) == (pytest.approx(12), 3)
    assert (socket.diameter, socket.depth, socket.counterbore) == (pytest.approx(8), 3, None)


def test_pockets_grow_with_the_part_but_not_deeper(shelf):
    (board,) = parts(shelf, file="shelf.dxf", pockets=DEPTHS, scale=2.0)
    assert [pocket.depth for pocket in board.pockets] == [5, 4]
    assert board.pockets[0].region.bounds == pytest.approx((60, -10, 84, 210), abs=READ)


@pytest.mark.parametrize(
    ("pockets", "told"),
    [
        ({"dado": 40}, "goes through boards"),
        ({"nothing": 4}, 'has nothing on a layer "nothing"'),
        ({"board": 4}, "can't hold both"),
        ([4], "names no layers"),
        ({"dado": "deep"}, "deep"),
        ({"dado": 0}, "too small"),
    ],
)
def test_pockets_that_can_not_be_are_told(shelf, pockets, told):
    found = problems("outline", folder=shelf, unit="mm", file="shelf.dxf", layer="board", pockets=pockets)
    assert told in str(found[0])
