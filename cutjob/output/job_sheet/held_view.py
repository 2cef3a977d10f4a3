"""How a board hangs together once all is cut, as a small SVG picture: clamps, bridges, and parts tinted by how many
bridges lie between them and what is held.
"""

from __future__ import annotations

from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from cutjob.layout.layout import BoardLayout
from cutjob.output.picture_board import draw_wood
from cutjob.output.picture_held import draw_hanging, draw_holding, hold_class
from cutjob.output.picture_key import CLASSES, HELD_CLASSES, draw_samples, samples_rows
from cutjob.output.picture_parts import draw_tabs_and_numbers
from cutjob.output.svg_shapes import Sheet, coordinate, printable

_LETTERS_ALONG = 62
_TALL = 1.6  # a tall board is not blown up to the width of a long one
_LEAST_ALONG = 40
_ROW = 1.5  # height of a row of samples over the text's


def held_view(layout: BoardLayout) -> str | None:
    """Return the picture as SVG; None where no bridges hold the parts."""
    holding = layout.holding
    if holding is None or not holding.bridges:
        return None
    board = layout.board
    text = max(board.length, board.width * _TALL) / _LETTERS_ALONG
    width = max(board.length, _LEAST_ALONG * text)
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "font-family": "sans-serif", "role": "img"})
    SubElement(root, "title").text = printable(f"{layout.id}: how it hangs together once all is cut")
    sheet = Sheet(root=root, left=text, bottom=text + board.width, text=text)
    shown = draw_wood(sheet, layout) - {"grain"} | draw_hanging(sheet, layout)
    for number, placement in enumerate(layout.placements):
        name = hold_class(holding.to_hold[number] if number < len(holding.to_hold) else 0)
        sheet.contours(sheet.group(name), placement.region.contours)
        shown.add(name)
    shown |= draw_holding(sheet, layout) | draw_tabs_and_numbers(sheet, layout, ())
    classes = [one for one in (*HELD_CLASSES, *CLASSES) if one in shown]
    draw_samples(sheet, classes, width=width, y=-2.2 * text)
    height = board.width + (3.2 + samples_rows(classes, width=width, text=text) * _ROW) * text
    root.set("viewBox", f"0 0 {coordinate(width + 2 * text)} {coordinate(height)}")
    return ElementTree.tostring(root, encoding="unicode")
