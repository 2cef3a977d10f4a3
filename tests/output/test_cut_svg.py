"""Drawings to cut from as SVG: what they hold, read by the reader of users' drawings and by the proof's own."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from cutjob.drawings.svg import read_svg
from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import to_polygon
from cutjob.job.machine import Machine
from cutjob.job.read_machine import read_machine
from cutjob.output.cut_svg import write_cut_svg
from cutjob.output.drawing import as_drawn, draw_board, moved_into_waste
from cutjob.output.operations import COLOURS
from cutjob.output.words.drawn import kerf_words
from cutjob.proof.drawing.drawing import judge_drawing
from cutjob.proof.expect import ExpectedDrawing
from tests.output.samples import layout
from tests.proof.test_prove_laser import laser, tag

NAME = "board-01-cut.svg"


def service(**drawing: object) -> Machine:
    return laser().model_copy(update={"drawing": laser().drawing.model_copy(update={"board": False, **drawing})})


def cut_svg(machine: Machine, board=None, by: float = 0.0) -> bytes:
    board = board or tag()
    drawn = [moved_into_waste(part, by) if by else part for part in as_drawn(board, beam=True)]
    drawing = draw_board(board, machine=machine, drawn=drawn)
    says = kerf_words(machine, offset=by, unit="mm")
    return write_cut_svg(drawing, board=board.board, width=0.2, title="Herb pots", says=says)


def found(data: bytes, machine: Machine, by: float = 0.0, board=None) -> list[str]:
    expected = ExpectedDrawing(file=NAME, board=board or tag(), offset=by)
    # The boards of other tests have blind holes, which a laser can't make.
    messages = [finding.message for finding in judge_drawing(data, expected, machine)]
    return [message for message in messages if "a laser can't stop at its depth" not in message]


def test_a_page_at_real_size_with_a_group_for_each_operation_and_none_without() -> None:
    root = ElementTree.fromstring(cut_svg(service()))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("100mm", "60mm", "0 0 100 60")
    assert root.get("stroke-width") == "0.2"
    groups = [(one.get("id"), one.findtext("{*}title")) for one in root.findall("{*}g")]
    # A round hole and any other opening are one operation of a beam.
    assert groups == [("outside-cut", "outside cut"), ("inside-cut", "inside cut"), ("mark", "mark")]
    inside = root.find("{*}g[@id='inside-cut']")
    assert inside is not None
    assert [child.tag.split("}")[1] for child in inside] == ["title", "path", "circle"]


@pytest.mark.parametrize("by", [0.0, 0.1])
@pytest.mark.parametrize("board", [tag(), layout()], ids=["tag", "arcs"])
def test_it_is_proven_and_read_as_a_drawing(by: float, board, tmp_path) -> None:
    machine = service(board=True)
    data = cut_svg(machine, board, by)
    assert data == cut_svg(machine, board, by)
    assert found(data, machine, by, board) == []
    path = tmp_path / NAME
    path.write_bytes(data)
    drawing = read_svg(path, units=None)
    assert drawing.problems == []
    outlines = [to_polygon(Contour(one.segments)) for one in drawing.shapes if one.layer == "outside cut"]
    expected = [to_polygon(placement.region.outline).buffer(by) for placement in board.placements]
    assert len(outlines) == len(expected)
    for one, other in zip(
        sorted(outlines, key=lambda o: o.bounds), sorted(expected, key=lambda o: o.bounds), strict=True
    ):
        assert one.bounds == pytest.approx(other.bounds, abs=0.005)
        assert one.symmetric_difference(other).area < 0.01 * one.length


def test_layers_and_colours_of_a_service() -> None:
    machine = service(layers={"outside cut": "Schnitt <A>"}, colours={"outside cut": "#123456", "mark": "#ABCDEF"})
    data = cut_svg(machine)
    root = ElementTree.fromstring(data)
    outside, inside, mark = root.findall("{*}g")
    assert (outside.findtext("{*}title"), outside.get("stroke")) == ("Schnitt -A", "#123456")
    assert (inside.get("stroke"), mark.get("stroke")) == ("#d55e00", "#abcdef")
    assert found(data, machine) == []
    (said,) = found(data.replace(b"#123456", b"#654321"), machine)
    assert said == "layer 'Schnitt -A' is drawn in #654321, not in #123456"


SPOILED = {
    "scaled page": (b'width="100mm"', b'width="200mm"', "not drawn at real size"),
    "another page": (b'width="100mm" height="60mm" viewBox="0 0 100 60"',
                     b'width="90mm" height="60mm" viewBox="0 0 90 60"', "the page is 90 x 60 mm"),
    "in inches": (b'width="100mm"', b'width="100in"', "states no width and height in mm"),
    "filled": (b'fill="none"', b'fill="black"', "filled"),
    "moved": (b'<g id="mark"', b'<g id="mark" transform="translate(1 0)"', "which cutting files don't have"),
    "styled": (b"<circle", b'<circle style="display:none"', "which cutting files don't have"),
    "a hole elsewhere": (b'<circle cx="18"', b'<circle cx="18.02"', "not drawn in its place"),
    "a hole too large": (b'r="2"', b'r="2.02"', "is not drawn"),
    "a hole gone": (b'<circle cx="18" cy="40" r="2" />', b"", "not drawn"),
    "open": (b" Z", b"", "drawn open"),
    "layer renamed": (b"<title>mark</title>", b"<title>cut</title>", "not on 'mark'"),
    "an empty layer": (b"</svg>", b'<g id="x" stroke="#000000"><title>x</title></g></svg>', "nothing is drawn"),
    "a text": (b"</svg>", b"<text>cut me</text></svg>", "where cutting files have none"),
    "no XML": (b"</svg>", b"", "is not XML"),
    "an entity": (b"<svg", b'<!DOCTYPE svg [<!ENTITY a "b">]><svg', "document type"),
    "a curve": (b" L ", b" C ", "which is not read here"),
}  # fmt: skip


@pytest.mark.parametrize("name", SPOILED)
def test_spoiled_files_are_refused(name: str) -> None:
    old, new, says = SPOILED[name]
    data = cut_svg(service())
    assert old in data
    messages = found(data.replace(old, new, 1), service())
    assert any(says in message for message in messages), messages


def test_an_arc_turned_round_is_refused() -> None:
    machine, board = service(board=True), layout()
    data = cut_svg(machine, board)
    assert b" 0 0 0 " in data
    assert found(data, machine, 0.0, board) == []
    turned = data.replace(b" 0 0 0 ", b" 0 0 1 ")
    assert any("is not drawn, or not all of it" in one for one in found(turned, machine, 0.0, board))


def test_what_is_said_of_the_kerf_is_what_is_drawn() -> None:
    machine = service()
    plain, moved = cut_svg(machine), cut_svg(machine, by=0.1)
    assert (
        b"drawn at their finished size, with no allowance for the kerf: whoever cuts them must allow for it." in plain
    )
    assert b"moved by half the kerf of 0.2 mm, outward round pieces and inward in openings" in moved
    assert found(plain.replace(b"finished size", b"true size"), machine) == [
        "the drawing doesn't say that its outlines are drawn at their finished size"
    ]
    assert found(moved.replace(b"0.2 mm", b"0.3 mm"), machine, 0.1) == [
        "the drawing says a kerf of 0.3 mm; its outlines are moved by half of 0.2 mm"
    ]
    other = moved.replace(b"moved by half", b"drawn at their finished size, not moved by half")
    assert found(other, machine, 0.1) == ["the drawing doesn't say that its outlines are moved by half the kerf"]


@pytest.mark.parametrize("name", ["bench-router", "long-bed-router", "bench-laser", "laser-service", "bandsaw"])
def test_no_service_is_guessed_at(name: str) -> None:
    """Layers are in plain English and colours of the published palette, until a profile states its service's own."""
    drawing = read_machine(name, beside=None).drawing
    assert (drawing.layers, drawing.colours) == ({}, {})
    pure = [op for op, colour in COLOURS.items() if set(colour) <= {0, 255}]
    assert pure == ["board"]
