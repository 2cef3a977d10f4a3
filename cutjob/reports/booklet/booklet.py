"""A job's result to booklet.pdf: a cover, a chapter for each item, then the templates at true size. No prices. mm."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from cutjob.job.paper import PaperName, PatternsWanted, papers
from cutjob.layout.layout import Layout
from cutjob.output.paper.book import PatternBook, PatternSection, refuse_huge, written_twice
from cutjob.output.paper.packing import tiling
from cutjob.output.paper.pattern import Pattern, patterns_of
from cutjob.output.paper.pdf import Book
from cutjob.output.paper.sheets import part_sheets
from cutjob.output.words.cautions import hand_cautions
from cutjob.parts.part import Item
from cutjob.reports.booklet.contents import Contents
from cutjob.reports.booklet.pages import Pages
from cutjob.result import JobResult

_HEADING = "templates at true size"
_COVER, _CHAPTER = 120.0, 92.0  # height of pictures
_UNDER, _LAST_LINE = 10.0, 8.0  # for the name under a picture, and for a line below all
_STEP = 44.0
_FIRST_ROWS = 32.0
_FIRST_STEP = 60.0  # a heading does not stand alone at the foot of a page
_GET = (0.54, 0.23, 0.23)
_PARTS = (0.09, 0.27, 0.4, 0.24)
_SHARED = (
    "Boards and sticks for one are those that its parts need by their share of the wood in the whole batch. Knots, "
    "splits and short boards may ask for more."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Booklet:
    """The PDF as bytes, the names of the items in it, and its templates; `sheets` of these are empty where nothing is
    cut out.
    """

    items: tuple[str, ...]
    templates: PatternBook


def write_booklet(result: JobResult, *, names: Collection[str], paper: PaperName) -> Booklet:
    """Return the booklet of the items of these names. The same result gives the same bytes. Raises InputError for parts
    whose template would take far too many pages.
    """
    items = tuple(item for item in result.items if item.name in names)
    layout = of_items(result.layout, names)
    tiles = tiling(papers()[paper])
    refuse_huge(layout, PatternsWanted(), tiles, key="booklet")
    patterns = tuple(_for_one(pattern, items) for pattern in patterns_of(layout, items))
    sheets = part_sheets(patterns, layout=tiles, unit=result.units) if patterns else ()
    cautions = hand_cautions(
        layout,
        sticks=any(item.build.sticks for item in items),
        drilled=any(item.build.hand_holes or any(part.holes for part in item.build.shaped) for item in items),
        painted=any(one.item in names for one in result.finishes),
    )
    section = PatternSection(
        patterns=patterns,
        sheets=sheets,
        layout=layout,
        paper=paper,
        machine=result.machine,
        title=result.title,
        units=result.units,
        heading=_HEADING,
        cautions=tuple(one.short for one in cautions),
    )
    views = dict(zip((item.name for item in result.items), result.views, strict=True))
    chapters = [Contents(result, item, views[item.name], patterns) for item in items]

    def add(book: Book, total: int) -> int:
        pages = Pages(book, title=result.title, total=total)
        _cover(pages, chapters, title=result.title)
        for chapter in chapters:
            _chapter(pages, chapter, alone=len(chapters) == 1)
        pages.head("Before you start")
        pages.points(f"{one.topic.capitalize()}: {one.full}" for one in cautions)
        return section.add(book, total) if sheets else book.pages + 1

    book, first = written_twice(add, title=result.title, tiles=tiles)
    return Booklet(
        items=tuple(item.name for item in items),
        templates=PatternBook(data=book.data(), sheets=sheets, tiles=tiles, first=first),
    )


def of_items(layout: Layout, names: Collection[str]) -> Layout:
    """Return a layout with only the parts of some items, and only the boards that these are on."""
    boards = [
        replace(board, placements=tuple(one for one in board.placements if one.item in names))
        for board in layout.boards
    ]
    return replace(layout, boards=tuple(board for board in boards if board.placements))


def _for_one(pattern: Pattern, items: Sequence[Item]) -> Pattern:
    """A pattern with the number of pieces that one item needs, each from one board."""
    item = next(one for one in items if one.name == pattern.item)
    pieces = sum(part == pattern.part for part in item.build.shaped)
    _, boards, height = pattern.stacks[0]
    return replace(pattern, stacks=((pieces, 1, height / boards),), items=1)


def _cover(pages: Pages, chapters: Sequence[Contents], *, title: str) -> None:
    pages.begin()
    pages.gap(6.0)
    pages.head(title, size=10.0)
    names = ", ".join(chapter.item.name for chapter in chapters)
    pages.text(
        f"How to make: {names}. With sizes, wood and things to buy, the steps in order, and templates at true size."
    )
    pages.gap(4.0)
    shown = [chapter for chapter in chapters if chapter.drawings][:4]
    high = min(_COVER, (pages.left - _LAST_LINE) / max(1, len(shown)) - _UNDER)
    for chapter in shown:
        pages.pictures(chapter.drawings, height=high)
        if len(shown) > 1:
            pages.text(chapter.item.name, soft=True)
    if len(chapters) == 1:
        for name, words in chapters[0].sizes[:1]:
            pages.text(f"{name}: {words}")


def _chapter(pages: Pages, chapter: Contents, *, alone: bool) -> None:
    item = chapter.item
    pages.begin()
    pages.head(item.name, size=7.0)
    if not alone and chapter.drawings:
        pages.pictures(chapter.drawings, height=_CHAPTER)
    if chapter.sizes:
        pages.head("Sizes")
        pages.table(("what", "measures"), chapter.sizes, (0.5, 0.5))
    pages.head("Wood and things to buy")
    if item.count == 1:
        pages.table(("what", "how much"), [row[:2] for row in chapter.to_get], (_GET[0], _GET[1] + _GET[2]))
    else:
        pages.table(("what", "for one", f"for all {item.count}"), chapter.to_get, _GET)
        pages.text(_SHARED, soft=True)
    pages.room(_FIRST_ROWS)
    pages.head("Parts of one")
    pages.table(("pieces", "part", "size", "made"), chapter.parts, _PARTS)
    pages.room(_FIRST_STEP)
    pages.head("Steps")
    for number, step in enumerate(chapter.steps, start=1):
        pages.step(number, step.head, step.words, step.drawing, high=_STEP)
