"""What is cut by layer and by colour of line: DXF written by ezdxf, SVG written by hand."""

import math

import ezdxf
import pytest

from cutjob.drawings.drawing import colour_of
from cutjob.parts.part import ShapedPart

from ..order import EXACT, assert_sound, item, only_problem, problems

READ = 1e-6  # sums of coordinates of about 100 mm that went through a page's scale and back

# A shelf end of 120 x 80 in the colours a drawing happens to have.
COLOURS = """<svg xmlns="http://www.w3.org/2000/svg" width="140mm" height="100mm" viewBox="0 0 140 100">
  <style>.pencil { stroke: rgb(128, 0, 0) }</style>
  <g id="front" fill="none" stroke="teal">
    <rect x="10" y="10" width="120" height="80"/>
    <circle cx="40" cy="50" r="24" stroke="#0F0"/>
    <path class="pencil" d="M 80 30 L 120 30"/>
    <g style="stroke: #ffa500"><rect x="80" y="50" width="30" height="20"/></g>
    <circle cx="120" cy="80" r="3" stroke="black"/>
    <line x1="0" y1="0" x2="140" y2="0" stroke="silver"/>
  </g>
</svg>"""
BY_COLOUR = {
    "teal": "outline",
    "#00ff00": "opening",
    "Maroon": {"mark": 1.5},
    "orange": {"pocket": 6},
    "black": "hole",
    "#c0c0c0": "ignore",
}


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "end.svg").write_text(COLOURS)
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()

    def box(x, y, length, width, layer):
        corners = [(x, y), (x + length, y), (x + length, y + width), (x, y + width)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})

    box(0, 0, 200, 100, "FRONT")
    box(150, 20, 30, 60, "inside")
    space.add_circle((60, 50), 25, dxfattribs={"layer": "inside"})
    space.add_circle((110, 50), 22, dxfattribs={"layer": "rounds"})
    space.add_circle((20, 20), 4, dxfattribs={"layer": "pegs"})
    space.add_line((5, 90), (195, 90), dxfattribs={"layer": "pencil"})
    space.add_line((5, 95), (195, 95), dxfattribs={"layer": "scribe"})
    box(10, 60, 15, 15, "recess")
    space.add_line((0, -20), (200, -20), dxfattribs={"layer": "sizes"})
    document.saveas(tmp_path / "end.dxf")
    return tmp_path


BY_LAYER = {
    "FRONT": "outline",
    "inside": "opening",
    "rounds": "hole",
    "pegs": {"hole": 8},
    "pencil": "mark",
    "scribe": {"mark": 2},
    "recess": {"pocket": "1/4 in"},
    "sizes": "ignore",
}


def parts(folder, **rest) -> tuple[ShapedPart, ...]:
    return item("outline", folder=folder, **{"unit": "mm", **rest}).build.shaped


def test_every_layer_of_a_dxf_is_cut_as_the_job_says(folder):
    built = item("outline", folder=folder, unit="mm", file="end.dxf", layers=BY_LAYER).build
    (part,) = built.shaped
    assert built.warnings == ()  # nothing was left out that the job did not name
    assert_sound(part)
    # The wide circle is a hole, as the job says, though the same on another layer is an opening.
    through, peg = sorted(part.holes, key=lambda hole: -hole.diameter)
    assert (through.at, through.diameter, through.depth) == (pytest.approx((110, 50)), pytest.approx(44), None)
    assert (peg.at, peg.diameter, peg.depth) == (pytest.approx((20, 20)), pytest.approx(8), 8)
    areas = sorted(abs(hole.signed_area) for hole in part.region.holes)
    assert areas == pytest.approx([30 * 60, math.pi * 25**2], rel=1e-9)
    (pocket,) = part.pockets
    assert pocket.depth == pytest.approx(6.35)
    assert pocket.region.bounds == pytest.approx((10, 60, 25, 75), abs=EXACT)
    assert sorted((mark.path[0].start[1], mark.depth) for mark in part.marks) == [(90, None), (95, 2)]


def test_every_colour_of_an_svg_is_cut_as_the_job_says(folder):
    (part,) = parts(folder, file="end.svg", layers=BY_COLOUR)
    assert part.region.bounds == pytest.approx((0, 0, 120, 80), abs=READ)
    (opening,) = part.region.holes
    assert abs(opening.signed_area) == pytest.approx(math.pi * 24**2, rel=1e-9)
    (hole,) = part.holes
    assert (hole.at, hole.diameter) == (pytest.approx((110, 10), abs=READ), pytest.approx(6, abs=READ))
    (mark,) = part.marks
    assert mark.depth == 1.5
    assert [mark.path[0].start[1], mark.path[-1].end[1]] == pytest.approx([60, 60], abs=READ)
    (pocket,) = part.pockets
    assert (pocket.depth, pocket.region.area) == (6, pytest.approx(600, abs=READ))
    assert_sound(part)


def test_a_mark_without_a_depth_takes_mark_depth(folder):
    (part,) = parts(folder, file="end.dxf", layers=BY_LAYER, mark_depth=1)
    assert sorted(mark.depth for mark in part.marks) == [1, 2]


def test_scaled_depths_stay(folder):
    (part,) = parts(folder, file="end.dxf", layers=BY_LAYER, scale=2)
    assert part.pockets[0].depth == pytest.approx(6.35)
    assert max(hole.diameter for hole in part.holes) == pytest.approx(88)
    assert part.marks[0].path[0].length == pytest.approx(380)


def test_layers_and_the_older_keys_say_the_same(folder):
    document = ezdxf.readfile(folder / "end.dxf")
    for layer in ("inside", "rounds", "pegs", "scribe", "sizes"):
        for entity in document.modelspace().query(f'*[layer=="{layer}"]'):
            entity.destroy()
    document.saveas(folder / "plain.dxf")
    by_layers = {"FRONT": "outline", "pencil": "mark", "recess": {"pocket": 5}}
    one = parts(folder, file="plain.dxf", layers=by_layers, mark_depth=1)
    assert one == parts(folder, file="plain.dxf", marks="pencil", pockets={"recess": 5}, mark_depth=1)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"recess": None}, ['the lines on "recess" have no use', '"ignore"']),
        ({"recess": None, "sizes": None}, ['"recess", "sizes"']),
        ({"reces": {"pocket": 4}}, ['a colour, "reces"', 'did you mean "recess"?', 'lines on "FRONT"']),
        ({"FRONT": "ignore"}, ["no layer holds outlines"]),
        ({"FRONT": "front"}, ['"front" is not known', "take one of outline, opening"]),
        ({"recess": "pocket"}, ["a pocket needs a depth", "{ pocket ="]),
        ({"FRONT": {"outline": 4}}, ["takes no depth"]),
        ({"FRONT": {"bore": 4}}, ['"bore" is not known']),
        ({"recess": {"pocket": 40}}, ["goes through boards"]),
        ({"recess": {"pocket": 0}}, ["too small"]),
        ({"inside": "hole"}, ['"inside" at x 150 mm, y 20 mm is not round']),
        ({"recess": {"hole": 5}}, ['"recess" at x 10 mm, y 60 mm is not round']),
        ({"sizes": "opening"}, ["is not closed"]),
        ({"sizes": "mark"}, ["a mark is not wholly on a part"]),
    ],
)
def test_mistakes_are_told_with_what_the_drawing_has(folder, changes, told):
    asked = {name: use for name, use in {**BY_LAYER, **changes}.items() if use is not None}
    found = problems("outline", folder=folder, unit="mm", file="end.dxf", layers=asked)
    text = "\n".join(map(str, found))
    assert all(words in text for words in told), text
    assert all(problem.location is not None and problem.location.line for problem in found)


def test_an_opening_beside_the_part_would_be_a_part(folder):
    document = ezdxf.readfile(folder / "end.dxf")
    document.modelspace().add_circle((300, 50), 10, dxfattribs={"layer": "inside"})
    document.saveas(folder / "end.dxf")
    problem = only_problem("outline", folder=folder, unit="mm", file="end.dxf", layers=BY_LAYER)
    assert '"inside" at x 290 mm, y 40 mm is in no part' in problem.message
    (folder / "end.dxf").unlink()
    assert "no such file" in only_problem("outline", folder=folder, unit="mm", file="end.dxf", layers=BY_LAYER).message


def test_an_empty_drawing_has_no_layers(folder):
    ezdxf.new("R2000").saveas(folder / "empty.dxf")
    problem = only_problem("outline", folder=folder, unit="mm", file="empty.dxf", units="mm", layers=BY_LAYER)
    assert "no lines that could be cut" in problem.message


def test_a_line_that_two_names_fit(folder):
    asked = {**BY_COLOUR, "front": {"mark": 1.5}}
    found = problems("outline", folder=folder, unit="mm", file="end.svg", layers=asked)
    # All but the maroon line, which is a mark by both names.
    assert len(found) == 5
    assert all("have two uses" in str(one) and "Maroon" not in str(one) for one in found)
    # Alike, it does not matter which.
    plain = COLOURS.replace("</g>\n</svg>", "</g></svg>").split("    <circle")[0] + "</g></svg>"
    (folder / "plain.svg").write_text(plain)
    (part,) = parts(folder, file="plain.svg", layers={"front": "outline", "teal": "outline"})
    assert part.region.area == pytest.approx(120 * 80, rel=1e-9)


@pytest.mark.parametrize("use", ["mark", "ignore"])
def test_a_colour_named_twice_is_told_so(folder, use):
    asked = {name: one for name, one in BY_COLOUR.items() if colour_of(name) != "#800000"}
    problem = only_problem(
        "outline", folder=folder, unit="mm", file="end.svg", layers={**asked, "maroon": "mark", "#800000": use}
    )
    assert '"maroon" and "#800000" are the same colour' in problem.message
    assert "one of them" in problem.advice


@pytest.mark.parametrize("other", [{"layer": "FRONT"}, {"marks": "pencil"}, {"pockets": {"recess": 4}}])
def test_layers_take_the_place_of_the_other_keys(folder, other):
    problem = only_problem("outline", folder=folder, unit="mm", file="end.dxf", layers=BY_LAYER, **other)
    assert "both given" in problem.message


@pytest.mark.parametrize(
    ("text", "colour"),
    [
        # CSS Color Module Level 4, 6.1 and 5.2: keywords, and three digits that stand for six.
        ("Red", "#ff0000"),
        ("#F0a", "#ff00aa"),
        ("#FF00AA", "#ff00aa"),
        ("rgb(255, 0, 170)", "#ff00aa"),
        ("rgb(255 0 170)", "#ff00aa"),
        # 5.1 of it: shares as percentages or decimals too, beyond their ends those at the ends.
        ("rgb(0%,0%,0%)", "#000000"),
        ("rgb(100%, 0%, 50%)", "#ff0080"),
        ("rgb( 0% 100.0% .4% )", "#00ff01"),
        ("rgb(254.6, 0.2, 300)", "#ff00ff"),
        ("rgb(120% 0% 0%)", "#ff0000"),
        ("rgb(1%%,0,0)", "rgb(1%%,0,0)"),
        ("rgb(1 2)", "rgb(1 2)"),
        ("fuchsia", "#ff00ff"),
        ("magenta", "#ff00ff"),
        ("none", ""),
        ("", ""),
        ("url(#x)", "url(#x)"),
        ("#12345", "#12345"),
    ],
)
def test_colours_have_one_spelling(text, colour):
    assert colour_of(text) == colour
