"""Words for whoever cuts from a drawing, from the profile's settings: the kerf, and the meaning of each layer.

Also the text to paste into an order for one board: files, wood, pieces, size, unit, kerf, layers, quantity.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from cutjob.counting import counted
from cutjob.job.machine import Machine, Operation
from cutjob.layout.layout import BoardLayout
from cutjob.output.drawing import BoardDrawing
from cutjob.units import Unit, format_length


def kerf_words(machine: Machine, *, offset: float, unit: Unit) -> str:
    """Return the sentence about the kerf; `offset` is how far outlines were moved into the waste, half of it, mm."""
    lost = "cutter's width" if machine.has_spindle else "kerf"
    if offset == 0:
        left = "whoever cuts them must allow for it" if machine.has_beam else "allow for it when you cut"
        return f"Outlines are drawn at their finished size, with no allowance for the {lost}: {left}."
    width = format_length(2 * offset, unit=unit)
    return (
        f"Outlines are moved by half the {lost} of {width}, outward round pieces and inward in openings: cut along the "
        f"lines, and allow for no {lost} again."
    )


_BEAM: dict[Operation, str] = {
    "outside cut": "cut through, last: the edges of the pieces",
    "inside cut": "cut through, before the outlines: openings and holes",
    "mark": "a line marked on the surface, not cut through",
    "board": "the edge of the sheet, not cut",
}
_OTHER: dict[Operation, str] = {
    **_BEAM,
    "inside cut": "cut through, before the outlines: openings",
    "pocket": "cleared to a depth",
    "bore": "round holes, cut out",
    "drill": "round holes, drilled",
}


def layer_lines(drawing: BoardDrawing, *, machine: Machine) -> Iterator[str]:
    """Yield a line for each layer with something on it: its name, its colour and what is cut there."""
    words = _BEAM if machine.has_beam else _OTHER
    for layer in drawing.layers:
        done = "; ".join(words[op] for op in layer.operations)
        yield f"{layer.name} ({layer.css}): {done}"


def order_text(
    layout: BoardLayout, drawing: BoardDrawing, *, files: Sequence[str], machine: Machine, offset: float, title: str,
    unit: Unit,
) -> bytes:  # fmt: skip
    """Return the text, UTF-8."""
    board, sheets = layout.board, layout.copies * layout.stack
    pieces = Counter((placement.item, placement.part.name) for placement in layout.placements)
    size = " x ".join(format_length(side, unit=unit) for side in (board.length, board.width))
    lines = [
        f"{title}, {layout.id}",
        "",
        f"Drawing: {' or '.join(files)}{', which hold the same' if len(files) > 1 else ''}",
        f"Material: {board.material}, {format_length(board.thickness, unit=unit)} thick",
        f"Quantity: {sheets} {'sheet' if sheets == 1 else 'sheets'} of {size}{', cut alike' if sheets > 1 else ''}",
        f"Pieces: {counted(len(layout.placements), 'piece')}{_on_all(len(layout.placements), sheets)}",
        *(f"  {count} x {part} ({item})" for (item, part), count in pieces.items()),
        *_size(drawing, machine, unit),
        f"Kerf: {kerf_words(machine, offset=offset, unit=unit)}",
        "Layers, by name and colour:",
        *(f"  {line}" for line in layer_lines(drawing, machine=machine)),
    ]
    return ("\n".join(lines) + "\n").encode("utf-8", errors="backslashreplace")


def _on_all(pieces: int, sheets: int) -> str:
    return f" on a sheet, {pieces * sheets} in all" if sheets > 1 else ""


def _size(drawing: BoardDrawing, machine: Machine, unit: Unit) -> Iterator[str]:
    """The unit of the drawing, and its size to check the scale by."""
    units = "millimetres" if machine.drawing.units == "mm" else "inches"
    whole = ", SVG in millimetres" if machine.drawing.units == "in" and "svg" in machine.writes else ""
    yield f"Units: {units}{whole}, drawn at real size (1:1)"
    if drawing.bounds is not None:
        x0, y0, x1, y1 = drawing.bounds
        size = " x ".join(format_length(side, unit=unit) for side in (x1 - x0, y1 - y0))
        yield f"Size of all that is drawn, to check the scale by: {size}"
