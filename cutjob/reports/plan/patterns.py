"""The contents of patterns.pdf as plain data for plan.json, so that the file can be judged again later. mm."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from cutjob.geometry.transform import Transform
from cutjob.job.paper import PatternsWanted
from cutjob.layout.layout import BoardLayout, Layout

if TYPE_CHECKING:
    from cutjob.output.paper.book import PatternBook
    from cutjob.output.paper.pattern import Pattern
    from cutjob.output.paper.sheets import Sheet


def patterns_data(book: PatternBook, layout: Layout, wanted: PatternsWanted, *, file: str) -> dict[str, object]:
    """Return the paper's size, the look of each kind of line, and the sheets: the pages each is glued from, and the
    patterns or the board's layout on it. A pattern belongs to a placement; `move` takes it from the part's own frame
    onto the sheet.
    """
    from cutjob.output.paper.picture import EDGES, LOOKS

    paper = book.tiles.paper
    sheets, page = [], book.first
    for sheet in book.sheets:
        sheets.append(_sheet(book, sheet, page, layout.boards))
        page += len(sheet.tiles)
    looks = {kind: LOOKS[kind] for kind in EDGES}
    return {
        "file": file,
        "paper": [paper.width, paper.height],
        "parts": wanted.parts,
        "layout": wanted.layout,
        "lines": {
            kind: {"colour": list(look.stroke or ()), "width": look.width, "dashes": list(look.dashes)}
            for kind, look in looks.items()
        },
        "sheets": sheets,
    }


def _sheet(book: PatternBook, sheet: Sheet, first: int, boards: Sequence[BoardLayout]) -> dict[str, object]:
    x, y = book.tiles.corner
    width, height = book.tiles.window
    return {
        "pages": [
            {"page": number, "window": [x, y, x + width, y + height], "shift": list(book.tiles.shift(tile))}
            for number, tile in enumerate(sheet.tiles, start=first)
        ],
        "patterns": [_pattern(pattern, move, boards) for pattern, move in sheet.placed],
        "board": None if sheet.board is None else sheet.board.id,
        "move": None if sheet.move is None else _move(sheet.move),
    }


def _pattern(pattern: Pattern, move: Transform, boards: Sequence[BoardLayout]) -> dict[str, object]:
    board, number = next(
        (board, number)
        for board in boards
        for number, placement in enumerate(board.placements)
        if placement.item == pattern.item and placement.part == pattern.part
    )
    fold = pattern.fold
    return {
        "board": board.id,
        "placement": number,
        "move": _move(move),
        "fold": None if fold is None else {"way": fold.way, "at": fold.at},
    }


def _move(move: Transform) -> dict[str, object]:
    return {"at": [move.x, move.y], "rotation": move.degrees, "mirrored": move.mirrored}
