"""A finished job and its boards for a notebook: SVG and HTML that need no other file.

A board seen from above for a page: the picture's SVG, and the place of the board's frame on it. mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from html import escape
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from cutjob.counting import counted
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout
from cutjob.layout.leftovers import Leftover
from cutjob.layout.sets import NO_SETS, Sets
from cutjob.output.picture.board import draw_leftovers, draw_windows, draw_wood, room_around
from cutjob.output.picture.held import draw_hanging, draw_holding
from cutjob.output.picture.key import CLASSES, draw_key, draw_scale, key_height
from cutjob.output.picture.parts import draw_lettering, draw_parts, draw_paths, draw_tabs_and_numbers
from cutjob.output.picture.picture import order_lines
from cutjob.output.picture.svg_shapes import Sheet, coordinate, printable
from cutjob.program.moves import Program
from cutjob.reports.sheet.facts import board_name, summary_of
from cutjob.result import JobResult
from cutjob.units import Unit

# The board's longer side is this many letter heights; a page is narrower than the picture on its own.
_LETTERS_ALONG = 62
# Boards no longer than this many widths, which a phone shows whole, have fewer letter heights.
_SHORT, _FEW_LETTERS_ALONG = 4.0, 46
_TALL = 1.6  # a tall board is not blown up to the width of a long one
_LEAST_ALONG = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardView:
    """The picture as SVG; a place x, y of the board is at `left` + x, `bottom` - y of `width` by `height`, mm.

    `classes` are the classes drawn, in the order of a key.
    """

    svg: str
    left: float
    bottom: float
    width: float
    height: float
    classes: tuple[str, ...] = ()

    def _repr_svg_(self) -> str:
        """What a notebook shows."""
        return self.svg


def letter_height(board: Board) -> float:
    """Return the height of letters in a board's picture for a phone, mm."""
    along = _FEW_LETTERS_ALONG if board.length < _SHORT * board.width else _LETTERS_ALONG
    return max(board.length, board.width * _TALL) / along


def board_view(
    layout: BoardLayout,
    *,
    programs: Sequence[Program] = (),
    leftovers: Sequence[Leftover] = (),
    units: Unit,
    title: str,
    paths: bool = False,
    key: bool = False,
    sets: Sets = NO_SETS,
) -> BoardView:
    """Return the view of a board with its parts numbered, and the cutter's `paths` and a `key` if wanted.

    Without a key it has a scale and larger letters, to be read on a phone with a key beside it.
    """
    board = layout.board
    text = max(board.length, board.width * _TALL) / _LETTERS_ALONG if key else letter_height(board)
    room = room_around(layout, text=text)
    margin, inner = text, max(board.length, _LEAST_ALONG * text if key else 0.0)
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "font-family": "sans-serif", "role": "img"})
    name = SubElement(root, "title")
    name.text = printable(title)
    sheet = Sheet(root=root, left=margin + room.left, bottom=margin + room.above + board.width, text=text)
    shown = draw_wood(sheet, layout) | draw_leftovers(sheet, leftovers, units) | draw_hanging(sheet, layout)
    shown |= draw_parts(sheet, layout, programs, sets=sets)
    shown |= draw_lettering(sheet, layout, programs)
    if paths:
        shown |= draw_paths(sheet, programs)
    shown |= draw_holding(sheet, layout) | draw_windows(sheet, layout) | draw_tabs_and_numbers(sheet, layout, programs)
    height = 2 * margin + room.above + board.width + room.below
    classes = [one for one in CLASSES if one in shown]
    if key:
        notes = order_lines(programs, width=inner, text=text)
        draw_key(sheet, layout, classes, width=inner, units=units, y=-room.below, notes=notes, sets=sets)
        height += key_height(layout, classes, width=inner, text=text, notes=notes, sets=sets)
    else:
        draw_scale(sheet, width=inner, units=units, y=-room.below - 1.6 * text)
        height += 1.6 * text
    width = room.left + max(inner, board.length + room.right) + 2 * margin
    root.set("viewBox", f"0 0 {coordinate(width)} {coordinate(height)}")
    svg = ElementTree.tostring(root, encoding="unicode")
    return BoardView(svg=svg, left=sheet.left, bottom=sheet.bottom, width=width, height=height, classes=tuple(classes))


# A job with many boards would fill a notebook with pictures.
_MOST_SHOWN = 12


def board_views(result: JobResult) -> tuple[BoardView, ...]:
    """Return the pictures of a job's boards, with the cutter's paths."""
    return tuple(
        board_view(
            board,
            programs=result.programs_of(board),
            units=result.units,
            title=board.id,
            paths=True,
            key=True,
            sets=result.sets,
        )
        for board in result.layout.boards
    )


def result_html(result: JobResult) -> str:
    """Return the result of a run: its title, a table of figures, warnings, and the boards' pictures."""
    rows = "".join(f"<tr><th>{escape(name)}</th><td>{escape(words)}</td></tr>" for name, words in summary_of(result))
    warnings = "".join(f"<li>{escape(warning)}</li>" for warning in result.warnings)
    shown = replace(result, layout=replace(result.layout, boards=result.layout.boards[:_MOST_SHOWN]))
    figures = [
        f"<figure><figcaption>{escape(board_name(board))}</figcaption>{view.svg}</figure>"
        for board, view in zip(shown.layout.boards, board_views(shown), strict=True)
    ]
    more = len(result.layout.boards) - _MOST_SHOWN
    left_out = counted(more, "more layout")
    return (
        f"<div><h3>{escape(result.title)}</h3><table>{rows}</table>"
        + (f"<ul>{warnings}</ul>" if warnings else "")
        + f"<div>{''.join(figures)}{f'<p>and {left_out}</p>' if more > 0 else ''}</div></div>"
    )
