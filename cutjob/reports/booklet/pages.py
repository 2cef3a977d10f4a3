"""Headings, texts, tables, pictures and steps, one below the other, onto pages with a number each. mm."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cutjob.output.operations import Rgb
from cutjob.output.paper.letters import fitted, width_of, wrapped
from cutjob.output.paper.pdf import Book, Look
from cutjob.output.picture.finished import GROUND, Drawing, grounded, line_of
from cutjob.output.picture.solids import OUTLINED, Area

_MARGIN, _FOOT = 18.0, 16.0
_TEXT, _PITCH = 3.5, 5.0  # height of letters, and from line to line
_SMALL = 2.8
_SOFT: Rgb = (90, 84, 74)
_LINE: Rgb = (190, 182, 168)
_AROUND = 0.08  # of a picture's box, kept free round a drawing


class Pages:
    """Writes one thing below the other, and begins a new page when one is full."""

    def __init__(self, book: Book, *, title: str, total: int) -> None:
        """Add to a book; `total` is the number of its pages, 0 if not known yet."""
        self._book, self._title, self._total = book, title, total
        self.width = book.paper.width - 2 * _MARGIN
        self._y = 0.0

    def begin(self) -> None:
        """Begin a page."""
        book = self._book
        book.page()
        self._y = book.paper.height - _MARGIN
        number = f"page {book.pages}" + (f" of {self._total}" if self._total else "")
        right = book.paper.width - _MARGIN
        book.words(number, (right, _FOOT - 6.0), size=_SMALL, anchor="end", colour=_SOFT)
        room = self.width - width_of(number, size=_SMALL) - 6.0
        book.words(fitted(self._title, size=_SMALL, width=room), (_MARGIN, _FOOT - 6.0), size=_SMALL, colour=_SOFT)

    @property
    def left(self) -> float:
        """The height that is left on the page."""
        return self._y - _FOOT

    def room(self, height: float) -> None:
        """Begin a new page where less than `height` is left."""
        if height > self.left:
            self.begin()

    def gap(self, height: float) -> None:
        """Leave some height free."""
        self._y -= min(height, max(self.left, 0.0))

    def head(self, words: str, *, size: float = 5.4) -> None:
        """Add a heading, in as many lines as it takes, with room for some lines after it."""
        lines = wrapped(words, size=size, width=self.width)
        self.room(len(lines) * size * 1.35 + 4 * _PITCH)
        for line in lines:
            self._y -= size * 1.3
            self._book.words(line, (_MARGIN, self._y), size=size, bold=True)
        self._y -= size * 0.35

    def text(self, words: str, *, indent: float = 0.0, sign: str = "", soft: bool = False) -> None:
        """Add a paragraph, with a sign before its first line."""
        colour = _SOFT if soft else (0, 0, 0)
        for number, line in enumerate(wrapped(words, size=_TEXT, width=self.width - indent)):
            self.room(_PITCH)
            self._y -= _PITCH
            if number == 0 and sign:
                self._book.words(sign, (_MARGIN, self._y), size=_TEXT, bold=True)
            self._book.words(line, (_MARGIN + indent, self._y), size=_TEXT, colour=colour)
        self._y -= 1.2

    def points(self, texts: Iterable[str]) -> None:
        """Add paragraphs with a dash before each."""
        for words in texts:
            self.text(words, indent=4.0, sign="–")

    def table(self, heads: Sequence[str], rows: Sequence[Sequence[str]], shares: Sequence[float]) -> None:
        """Add a table; `shares` of the width are those of its columns. Its heads come again on a new page."""
        self._row(heads, shares, head=True)
        for row in rows:
            if max(map(len, self._cells(row, shares))) * _PITCH + 2.0 > self.left:
                self.begin()
                self._row(heads, shares, head=True)
            self._row(row, shares)
        self._y -= 2.0

    def _cells(self, row: Sequence[str], shares: Sequence[float]) -> list[list[str]]:
        """The lines of each cell of a row."""
        return [
            wrapped(cell, size=_TEXT, width=share * self.width - 2.5) for cell, share in zip(row, shares, strict=True)
        ]

    def _row(self, row: Sequence[str], shares: Sequence[float], *, head: bool = False) -> None:
        cells = self._cells(row, shares)
        deep = max(1, *map(len, cells))
        if head:
            self.room((deep + 2) * _PITCH)
        x = _MARGIN
        for lines, share in zip(cells, shares, strict=True):
            for number, line in enumerate(lines):
                self._book.words(line, (x, self._y - (number + 1) * _PITCH), size=_TEXT, bold=head)
            x += share * self.width
        self._y -= deep * _PITCH + 1.4
        under = Look(stroke=(0, 0, 0) if head else _LINE, width=0.25 if head else 0.12)
        self._book.lines([[(_MARGIN, self._y), (_MARGIN + self.width, self._y)]], under)
        self._y -= 0.4

    def pictures(self, drawings: Sequence[Drawing], *, height: float) -> None:
        """Add drawings side by side at one scale on a plain ground as wide as the page, `height` high."""
        self.room(height)
        self._y -= height
        self._drawn(drawings, (_MARGIN, self._y, self.width, height))
        self._y -= 3.0

    def step(self, number: int, head: str, words: Sequence[str], drawing: Drawing | None, *, high: float) -> None:
        """Add a step: its number, what is done, and its picture on the right, `high` mm high at most."""
        wide = 0.0 if drawing is None else min(0.42 * self.width, 1.6 * high)
        room = self.width - wide - (5.0 if wide else 0.0) - 9.0
        lines = [line for text in words for line in wrapped(text, size=_TEXT, width=room)]
        heads = wrapped(head, size=4.0, width=room)
        needed = len(heads) * 5.6 + len(lines) * _PITCH + 3.0
        if needed <= self._book.paper.height - _MARGIN - _FOOT:
            self.room(max(needed, high + 3.0 if wide else 0.0))
        top, page = self._y, self._book.pages
        if drawing is not None:
            self._drawn([drawing], (_MARGIN + self.width - wide, top - high, wide, high))
        self._book.words(str(number), (_MARGIN, top - 5.2), size=4.6, bold=True)
        for line in heads:
            self._y -= 5.6
            self._book.words(line, (_MARGIN + 9.0, self._y), size=4.0, bold=True)
        for line in lines:
            self.room(_PITCH)
            self._y -= _PITCH
            self._book.words(line, (_MARGIN + 9.0, self._y), size=_TEXT)
        if wide and self._book.pages == page:
            self._y = min(self._y, top - high)
        self._y -= 4.0

    def _drawn(self, drawings: Sequence[Drawing], box: tuple[float, float, float, float]) -> None:
        """Drawings side by side in a box (x, y, width, height) on a plain ground."""
        x, y, width, height = box
        book = self._book
        book.box(x, y, width, height, Look(stroke=None, fill=GROUND))
        if not drawings:
            return
        line = line_of(drawings)
        wide = sum(one.size[0] for one in drawings)
        between = _AROUND * width
        free = width - between * (len(drawings) + 1)
        scale = min(free / wide, height * (1 - 2 * _AROUND) / max(one.size[1] for one in drawings))
        left = x + (width - wide * scale - between * (len(drawings) - 1)) / 2
        low = y + (height - max(one.size[1] for one in drawings) * scale) / 2
        for drawing in drawings:
            x0, y0, x1, _ = drawing.box
            _draw(book, drawing, (left - x0 * scale, low - y0 * scale), scale, line * scale)
            left += (x1 - x0) * scale + between


def _draw(book: Book, drawing: Drawing, at: tuple[float, float], scale: float, line: float) -> None:
    x, y = at

    def runs(lines: Iterable[Iterable[Sequence[float]]]) -> list[list[tuple[float, float]]]:
        return [[(x + a[0] * scale, y + a[1] * scale) for a in one] for one in lines]

    for shape in grounded(drawing):
        if isinstance(shape, Area):
            width = line * (0.3 if shape.line == shape.fill else OUTLINED)
            rings = [ring.coords[:-1] for ring in (shape.area.exterior, *shape.area.interiors)]
            book.lines(runs(rings), Look(stroke=shape.line, width=width, fill=shape.fill), closed=True)
        else:
            look = Look(stroke=shape.colour, width=shape.width * line)
            book.lines(runs(one.coords for one in shape.lines), look)
