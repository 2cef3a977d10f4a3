"""A batch to sheets of labels: one for each kind of part of each item with its count, or one for every piece. mm."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from cutjob.counting import counted
from cutjob.job.paper import LabelSheet, LabelsWanted, PaperName, label_sheets, papers, usual_labels
from cutjob.layout.layout import Layout
from cutjob.layout.sets import Sets, sets_of
from cutjob.output.operations import BLACK
from cutjob.output.paper.letters import fitted, width_of
from cutjob.output.paper.pdf import Book
from cutjob.output.paper.picture import DARK
from cutjob.output.words.sets import set_words
from cutjob.parts.part import Item, ShapedPart
from cutjob.units import Unit, format_length

_EDGE = 2.5  # between a label's edge and its words: sheets shift in the printer
_BLANK = 5.0  # along the paper's edges, where most printers can't print
_LARGEST, _LEAST = 5.0, 1.9  # sizes of letters
_PITCH = 1.3
_FIRST = 1.35  # how many times as high the first line is


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """The words of one label: the part, the number of pieces or where the piece is cut, their size, the item and the
    part's place in it, the order.
    """

    part: str
    pieces: str
    item: str
    size: str
    order: str


def labels_of(
    items: Sequence[Item], layout: Layout, *, title: str, units: Unit, each: bool = False
) -> tuple[Label, ...]:
    """Return a label for each kind of part that is made, in the order of the items and of the parts in them.

    Parts of an item with the same name and size share one label, with their number. `3 of 10` is the place in the
    item's list, which is the order of assembly. With `each` every piece has a label of its own, those of one item
    together: `pot stand 3 of 8` is the item it is for, and the board and number are those it is cut under.
    """
    if each:
        sets = sets_of(layout, items)
        return tuple(label for item in items for label in _own_labels(item, layout, sets, title=title, units=units))
    return tuple(label for item in items for label in _item_labels(item, layout, title=title, units=units))


def _own_labels(item: Item, layout: Layout, sets: Sets, *, title: str, units: Unit) -> Iterator[Label]:
    """The labels of every piece, item by item."""
    where: dict[tuple[str, int], list[str]] = {}
    for board in layout.boards:
        for index, placement in enumerate(board.placements):
            if placement.item != item.name:
                continue
            places = ((run, layer) for run in range(board.copies) for layer in range(board.stack))
            for number, (run, layer) in zip(sets.of(board, index), places, strict=True):
                words = f"{board.id} no. {index + 1}"
                words += f", run {run + 1}" if board.copies > 1 else ""
                words += f", layer {layer + 1}" if board.stack > 1 else ""
                where.setdefault((placement.part.name, number), []).append(words)
    sizes = list(_sizes(item, layout, units))
    for number in range(1, item.count + 1):
        for place, (name, size) in enumerate(sizes, start=1):
            cut = where.get((name, number), [])
            yield Label(
                part=name,
                pieces=cut.pop(0) if cut else "",
                item=f"{set_words(item.name, [number], item.count)}, part {place} of {len(sizes)}",
                size=size,
                order=title,
            )


def _item_labels(item: Item, layout: Layout, *, title: str, units: Unit) -> Iterator[Label]:
    found: dict[tuple[str, str], int] = {}
    for key in _sizes(item, layout, units):
        found[key] = found.get(key, 0) + item.count
    for place, ((name, size), count) in enumerate(found.items(), start=1):
        yield Label(
            part=name,
            pieces=counted(count, "piece"),
            item=f"{item.name}, {place} of {len(found)}",
            size=size,
            order=title,
        )


def _sizes(item: Item, layout: Layout, units: Unit) -> Iterator[tuple[str, str]]:
    """The name and the size of every piece of one item."""
    thick = {one.part.name: b.board.thickness for b in layout.boards for one in b.placements if one.item == item.name}
    sawn = {piece.part: (piece.width, piece.thickness) for piece in layout.sawn if piece.item == item.name}
    for name, lengths in (
        *((part.name, (*_across(part), thick.get(part.name))) for part in item.build.shaped),
        *((piece.name, (piece.length, *sawn.get(piece.name, ()))) for piece in item.build.sawn),
        *((stick.name, (*stick.section, stick.length)) for stick in item.build.sticks),
    ):
        yield name, _size(lengths, units)


def _across(part: ShapedPart) -> tuple[float, float]:
    x0, y0, x1, y1 = part.region.bounds
    return x1 - x0, y1 - y0


def _size(lengths: Sequence[float | None], units: Unit) -> str:
    """The known lengths, rounded as people measure: to 0.1 mm, or in inches to 1/32 or a hundredth."""
    step = 25.4 / 32 if units == "in" else 0.1
    known = [format_length(round(length / step) * step, unit=units) for length in lengths if length is not None]
    # The unit once, at the end.
    return " x ".join([*(words.removesuffix(f" {units}") for words in known[:-1]), *known[-1:]])


def write_labels(
    layout: Layout, *, items: Sequence[Item], wanted: LabelsWanted, paper: PaperName, title: str, units: Unit
) -> bytes:
    """Return the PDF. The first `wanted.first` labels of the first sheet are left out, as they are used already.

    Raises ValueError where there is nothing to label.
    """
    sheet = label_sheets()[wanted.sheet or usual_labels(paper)]
    labels = labels_of(items, layout, title=title, units=units, each=wanted.each)
    if not labels:
        raise ValueError("there is nothing to label")
    book = Book(title=f"{title}: labels", paper=papers()[sheet.paper])
    for place, label in _placed(labels, sheet, first=wanted.first):
        if place == 0 or book.pages == 0:
            book.page()
        column, row = place % sheet.columns, place // sheet.columns
        left = sheet.left + column * sheet.step[0]
        top = book.paper.height - sheet.top - row * sheet.step[1]
        _draw(book, label, sheet, left=left, top=top)
    return book.data()


def _placed(labels: Sequence[Label], sheet: LabelSheet, *, first: int) -> Iterator[tuple[int, Label]]:
    for number, label in enumerate(labels, start=(first - 1) % sheet.count):
        yield number % sheet.count, label


def _draw(book: Book, label: Label, sheet: LabelSheet, *, left: float, top: float) -> None:
    """One label: the part in large letters, its item and order below; on low labels two things share a line."""
    paper = book.paper
    edge = min(_EDGE, sheet.height / 10)
    x0, x1 = max(left + _EDGE, _BLANK), min(left + sheet.width - _EDGE, paper.width - _BLANK)
    y0, y1 = max(top - sheet.height + edge, _BLANK), min(top - edge, paper.height - _BLANK)
    width, height = x1 - x0, y1 - y0
    rows = [words for words in (label.part, label.pieces, label.item, label.size, label.order) if words]
    if height < 5.4 * _LEAST * _PITCH:
        rows = [label.part, ", ".join(filter(None, (label.pieces, label.item))), f"{label.size}, {label.order}"]
    size = min(_LARGEST, height / _PITCH / (len(rows) + _FIRST - 1))
    y = y1
    for number, words in enumerate(rows):
        room = size * _FIRST if number == 0 else size
        # A long line is written smaller first, and cut short only where that does not help.
        high = min(room, max(_LEAST, room * width / max(width_of(words, size=room), 1e-9)))
        y -= room * _PITCH
        colour = DARK if number == len(rows) - 1 else BLACK
        shown = fitted(words, size=high, width=width)
        book.words(shown, (x0, y + size * 0.3), size=high, bold=number == 0, colour=colour)
