"""The job's paper patterns read back and judged: what the pages are to show, and the proof's word on it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from cutjob.job.paper import PatternsWanted
from cutjob.layout.layout import Layout
from cutjob.output.paper_files import PATTERNS_FILE, OnPaper
from cutjob.proof.expect_patterns import (
    LINE_KINDS,
    ExpectedLine,
    ExpectedPage,
    ExpectedPattern,
    ExpectedPatterns,
    ExpectedSheet,
    LineKind,
)
from cutjob.proof.finding import ProofReport

if TYPE_CHECKING:
    from cutjob.output.patterns.book import PatternBook
    from cutjob.output.patterns.pattern import Pattern
    from cutjob.output.patterns.sheets import Sheet


def prove_paper(paper: OnPaper, layout: Layout, wanted: PatternsWanted) -> ProofReport | None:
    """Return the proof of a job's patterns, or None where it has none."""
    if paper.patterns is None:
        return None
    from cutjob.proof.patterns import judge_patterns

    expected = expected_patterns(paper.patterns, layout, wanted)
    findings, worst = judge_patterns(paper.files[PATTERNS_FILE], expected)
    return ProofReport(findings=tuple(findings), worst_gouge=0.0, worst_left=0.0, worst_pattern=worst)


def expected_patterns(book: PatternBook, layout: Layout, wanted: PatternsWanted) -> ExpectedPatterns:
    """Return what the book is to show."""
    from cutjob.output.patterns.looks import LOOKS

    sheets: list[ExpectedSheet] = []
    page = book.first
    for sheet in book.sheets:
        sheets.append(_sheet(book, sheet, page))
        page += len(sheet.tiles)
    lines: dict[LineKind, ExpectedLine] = {}
    for kind in LINE_KINDS:
        look = LOOKS[kind]
        assert look.stroke is not None
        lines[kind] = ExpectedLine(colour=look.stroke, width=look.width, dashes=look.dashes)
    paper = book.tiles.paper
    return ExpectedPatterns(
        file=PATTERNS_FILE,
        paper=(paper.width, paper.height),
        sheets=tuple(sheets),
        layout=layout,
        parts=wanted.parts,
        boards=wanted.layout,
        lines=lines,
    )


def _sheet(book: PatternBook, sheet: Sheet, first: int) -> ExpectedSheet:
    x, y = book.tiles.corner
    width, height = book.tiles.window
    return ExpectedSheet(
        pages=tuple(
            ExpectedPage(number=number, window=(x, y, x + width, y + height), shift=book.tiles.shift(tile))
            for number, tile in enumerate(sheet.tiles, start=first)
        ),
        patterns=tuple(
            ExpectedPattern(item=pattern.item, part=pattern.part, move=move, fold=_fold(pattern))
            for pattern, move in sheet.placed
        ),
        board=sheet.board,
        move=sheet.move,
    )


def _fold(pattern: Pattern) -> tuple[Literal["upright", "level"], float] | None:
    return None if pattern.fold is None else (pattern.fold.way, pattern.fold.at)
