"""Puts the job sheet together: a page that holds its own style, script, pictures and data. Same in, same out.

Also a small SVG picture of how a board's parts hang once all is cut: clamps, bridges, and parts tinted by the number of
bridges between them and a hold.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import Any
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.output.paper.files import PATTERNS_FILE
from cutjob.output.picture.board import draw_wood, room_around
from cutjob.output.picture.finished import Views, item_size, svg_of
from cutjob.output.picture.held import draw_hanging, draw_holding, hold_class
from cutjob.output.picture.key import CLASSES, HELD_CLASSES, class_words, sign
from cutjob.output.picture.parts import draw_tabs_and_numbers
from cutjob.output.picture.picture import cut_order
from cutjob.output.picture.svg_shapes import Sheet, coordinate, printable
from cutjob.parts.part import Item
from cutjob.program.moves import Program
from cutjob.reports.assembly import as_measured, assembly
from cutjob.reports.chosen import chosen_lines
from cutjob.reports.money import MEANS, batch_lines, given_lines, notes
from cutjob.reports.sheet import facts
from cutjob.reports.sheet.notebook import BoardView, board_view, letter_height
from cutjob.reports.sheet.play_data import play_data
from cutjob.reports.words import drawing_words, saw_why
from cutjob.result import JobResult
from cutjob.units import Unit


def held_view(layout: BoardLayout) -> BoardView | None:
    """Return the picture; None where no bridges hold the parts."""
    holding = layout.holding
    if holding is None or not holding.bridges:
        return None
    board = layout.board
    text = letter_height(board)
    room = room_around(layout, text=text)
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "font-family": "sans-serif", "role": "img"})
    SubElement(root, "title").text = printable(f"{layout.id}: how the parts hang once all is cut")
    sheet = Sheet(root=root, left=text + room.left, bottom=text + room.above + board.width, text=text)
    shown = draw_wood(sheet, layout) - {"grain"} | draw_hanging(sheet, layout)
    for number, placement in enumerate(layout.placements):
        name = hold_class(holding.to_hold[number] if number < len(holding.to_hold) else 0)
        sheet.contours(sheet.group(name), placement.region.contours)
        shown.add(name)
    shown |= draw_holding(sheet, layout) | draw_tabs_and_numbers(sheet, layout, ())
    width = room.left + board.length + room.right + 2 * text
    height = room.above + board.width + room.below + 2 * text
    root.set("viewBox", f"0 0 {coordinate(width)} {coordinate(height)}")
    return BoardView(
        svg=ElementTree.tostring(root, encoding="unicode"),
        left=sheet.left,
        bottom=sheet.bottom,
        width=width,
        height=height,
        classes=tuple(one for one in (*HELD_CLASSES, *CLASSES) if one in shown),
    )


SHEET_FILE = "job-sheet.html"
# The most moves of all boards together that the page plays: about 5 MB of data.
_MOST_MOVES = 200_000
_FIRST_MEASURES = 3  # shown with the item's name; all measures are shown where it is put together
_PAGE, _STYLE, _SCRIPT = "page.html", "page.css", "player.js"


def write_job_sheet(result: JobResult) -> bytes:
    """Return the page, UTF-8."""
    playable = sum(len(step.moves) for program in result.programs for step in program.steps) <= _MOST_MOVES
    page = _page().get_template(_PAGE)
    text = page.render(
        title=printable(result.title),
        speaking=facts.SPEAKING,
        style=Markup(_text(_STYLE)),
        script=Markup(_text(_SCRIPT)),
        summary=facts.summary(result),
        files=sorted(result.files),
        items=[_item(item, views, result) for item, views in zip(result.items, result.views, strict=True)],
        fetch=facts.boards_to_fetch(result),
        fetch_sticks=facts.sticks_to_fetch(result),
        left_aside=[f"{one.board} ({one.why})" for one in result.left_aside],
        saw=facts.to_saw(result),
        saw_order=facts.saw_order(result),
        saw_why=saw_why(result),
        cautions=result.cautions,
        warnings=result.warnings,
        notes=(*result.machine.note, *drawing_words(result)),
        boards=[_board(board, result, playable=playable) for board in result.layout.boards],
        by_hand=facts.by_hand_title(result),
        sticks=facts.sticks(result),
        stops=facts.stops(result),
        end_trim=facts.end_trim(result),
        drilling=facts.drilling(result),
        bought=facts.bought(result),
        finishes=facts.finishes(result),
        leftovers=facts.leftovers(result),
        costs=facts.costs(result),
        prices=facts.prices(result),
        bars=facts.cost_bars(result),
        money_notes=[*chosen_lines(result), *batch_lines(result), *given_lines(result), *notes(result)],
        money_means=MEANS,
        currency="" if result.account is None else result.account.currency,
    )
    return text.encode("utf-8", errors="backslashreplace")


@cache
def _page() -> Environment:
    return Environment(
        loader=DictLoader({_PAGE: _text(_PAGE)}),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_unbroken,
    )


# Spaces and hyphens where a line must not break: within 1 3/8 in, 7 min 05 s, 2 x 24 mm, parts 8-10.
_WITHIN = re.compile(
    r"(?<=\d) (?=\d+/\d|in\b|mm\b|ft\b|min\b|s\b|h\b|x \d|rpm\b|%)|(?<=\d (?:h|x)) (?=\d)|(?<=\d min) (?=\d)"
)
_RANGE = re.compile(r"(?<![\w.-])(\d+)-(\d+)(?![\w.-])")


def _unbroken(value: object) -> object:
    """Return text with lengths, times and ranges of numbers that stay on one line."""
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return _RANGE.sub("\\1-\u2060\\2", _WITHIN.sub("\u00a0", value))


def _text(name: str) -> str:
    return files(__package__).joinpath(name).read_text(encoding="utf-8")


def _item(item: Item, views: Views, result: JobResult) -> dict[str, object]:
    unit, name, build = result.units, printable(item.name), item.build
    whole = bool(build.stands) or len(build.shaped) == 1
    titles = (f"{name}, seen from the front" if whole else f"The parts of {name}", f"{name}, from the side")
    front, turned = (
        None if drawing is None else Markup(svg_of(drawing, title=title))
        for drawing, title in zip((views.front, views.turned), titles, strict=True)
    )
    size = item_size(build)
    measures = [(key, as_measured(value, unit)) for key, value in build.facts]
    if size is not None:
        wide, high = (as_measured(value, unit) for value in size)
        measures.insert(0, ("over all", f"{high} high, {wide} wide"))
    return {
        "name": name,
        "design": item.design,
        "size": item.size,
        "count": item.count,
        "measures": measures,
        "first_measures": measures[:_FIRST_MEASURES],
        "front": front,
        "turned": turned,
        "steps": [step.words for step in assembly(item, unit)],
        "whole": whole,
        "parts": [part.name for part in build.shaped],
    }


def _board(board: BoardLayout, result: JobResult, *, playable: bool) -> dict[str, object]:
    unit, machine = result.units, result.machine
    own = result.programs_of(board)
    view = board_view(
        board,
        programs=own,
        leftovers=[kept.leftover for kept in result.leftovers if kept.leftover.layout == board.id],
        units=unit,
        title=f"{board.id}: the layout",
        sets=result.sets,
    )
    hangs = held_view(board)
    order = cut_order(own)
    return {
        "id": board.id,
        "facts": facts.board_facts(
            board, unit=unit, machine=machine, files=len(own), patterns=PATTERNS_FILE in result.files
        ),
        "drawings": [drawing.file for drawing in result.drawings_of(board)],
        "hangs": None if hangs is None else _shown(hangs),
        "hanging": facts.hanging(board),
        "line": facts.board_line(board, own),
        "layout": _shown(view),
        "parts": facts.parts_on(board, result.sets),
        "order": order if len(order) > 1 else [],
        "programs": [
            {
                "file": program.file,
                "rows": facts.set_up(program, layout=board, machine=machine, programs=own),
                "warnings": program.warnings,
            }
            for program in own
        ],
        "data": Markup(_played(board, view, own, machine=machine, unit=unit)) if own and playable else None,
        "too_long": bool(own) and not playable,
    }


def _shown(view: BoardView) -> dict[str, object]:
    """A picture, its width over its height, and its key."""
    return {
        "svg": Markup(view.svg),
        "ratio": round(view.width / view.height, 4),
        "key": [(Markup(sign(name)), class_words(name)) for name in view.classes],
    }


def _played(board: BoardLayout, view: BoardView, programs: Sequence[Program], *, machine: Machine, unit: Unit) -> str:
    """A board's data for the player."""
    data = {
        "unit": unit,
        "view": {"left": view.left, "bottom": view.bottom, "width": view.width, "height": view.height},
        "programs": [play_data(program, layout=board, machine=machine) for program in programs],
    }
    return _json(data)


def _json(data: Any) -> str:
    """JSON that is safe in a script element: no `<` can end the element."""
    return json.dumps(data, separators=(",", ":"), ensure_ascii=True).replace("<", "\\u003c")
