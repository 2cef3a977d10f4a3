"""What a drawing says of the kerf, and the text to paste into an order."""

from __future__ import annotations

from cutjob.job.machine import Machine
from cutjob.job.read_machine import read_machine
from cutjob.output.drawing import as_drawn, draw_board
from cutjob.output.words.drawn import kerf_words, order_text
from tests.proof.test_prove_laser import tag


def service() -> Machine:
    return read_machine("laser-service", beside=None)


def test_the_kerf_is_worded_from_how_far_outlines_are_moved() -> None:
    beam, router, saw = service(), read_machine("bench-router", beside=None), read_machine("bandsaw", beside=None)
    assert kerf_words(beam, offset=0.0, unit="mm") == (
        "Outlines are drawn at their finished size, with no allowance for the kerf: whoever cuts them must allow for "
        "it."
    )
    assert kerf_words(beam, offset=0.1, unit="mm") == (
        "Outlines are moved by half the kerf of 0.2 mm, outward round pieces and inward in openings: cut along the "
        "lines, and allow for no kerf again."
    )
    assert "half the cutter's width of 1/4 in" in kerf_words(router, offset=3.175, unit="in")
    assert "allow for it when you cut" in kerf_words(saw, offset=0.0, unit="in")


def test_an_order_says_all_that_a_service_asks() -> None:
    machine, board = service(), tag()
    drawing = draw_board(board, machine=machine, drawn=as_drawn(board, beam=True))
    files = ["board-01.dxf", "board-01-cut.svg"]
    text = order_text(board, drawing, files=files, machine=machine, offset=0.0, title="Herb pots", unit="mm").decode()
    assert text.splitlines() == [
        "Herb pots, board-01",
        "",
        "Drawing: board-01.dxf or board-01-cut.svg, which hold the same",
        "Material: plywood, 3 mm thick",
        "Quantity: 1 sheet of 100 mm x 60 mm",
        "Pieces: 1 piece",
        "  1 x plant tag (herb pot)",
        "Units: millimetres, drawn at real size (1:1)",
        "Size of all that is drawn, to check the scale by: 60 mm x 20 mm",
        "Kerf: Outlines are drawn at their finished size, with no allowance for the kerf: whoever cuts them must allow "
        "for it.",
        "Layers, by name and colour:",
        "  outside cut (#0072b2): cut through, last: the edges of the pieces",
        "  inside cut (#d55e00): cut through, before the outlines: openings and holes",
        "  mark (#cc79a7): a line marked on the surface, not cut through",
    ]
