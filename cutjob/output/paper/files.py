"""A job's files on paper: patterns.pdf, the SVG for a plotter and labels.pdf; and warnings for letters not drawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cutjob.job.machine import Machine
from cutjob.job.model import JobFile
from cutjob.job.paper import LabelsWanted, PatternsWanted, usual_paper
from cutjob.layout.layout import Layout
from cutjob.parts.part import Build, Item

if TYPE_CHECKING:
    from cutjob.output.paper.book import PatternBook

PATTERNS_FILE, PLOTTER_FILE, LABELS_FILE = "patterns.pdf", "patterns.svg", "labels.pdf"
BOOKLET_FILE = "booklet.pdf"
_MOST_NAMED = 8  # letters in a warning


@dataclass(frozen=True, slots=True, kw_only=True)
class OnPaper:
    """The files by name, warnings, and the contents of the pages of `PATTERNS_FILE` if that is one of them."""

    files: dict[str, bytes]
    warnings: tuple[str, ...]
    patterns: PatternBook | None = None


def paper_files(
    layout: Layout, items: Sequence[Item], *, file: JobFile, machine: Machine, only: frozenset[str] | None
) -> OnPaper:
    """Return a job's files on paper.

    Patterns are written for a pattern machine, if the job has `[patterns]`, or if `only` names `pattern`; labels if the
    job has `[labels]` or `only` names `label`. With `only`, no other kind is written.
    """
    files: dict[str, bytes] = {}
    patterns = _asked("pattern", file.patterns is not None or machine.by_hand, only)
    labels = _asked("label", file.labels is not None, only)
    book: PatternBook | None = None
    if patterns and any(board.placements for board in layout.boards):  # else everything is sawn: nothing to draw
        more, book = _pattern_files(layout, items, file=file, machine=machine)
        files |= more
    paper = file.paper or usual_paper(file.units)
    any_part = any((*item.build.shaped, *item.build.sawn, *item.build.sticks) for item in items)
    if labels and any_part:
        # Imported here because they bring the library for PDF with them.
        from cutjob.output.paper.labels import write_labels

        wanted = file.labels or LabelsWanted()
        files[LABELS_FILE] = write_labels(
            layout, items=items, wanted=wanted, paper=paper, title=file.title, units=file.units
        )
    printed = files or _asked("booklet", file.booklet is not False, only)
    return OnPaper(files=files, warnings=_warnings(items, file) if printed else (), patterns=book)


def _asked(kind: str, wanted: bool, only: frozenset[str] | None) -> bool:
    return wanted if only is None else kind in only


def _pattern_files(
    layout: Layout, items: Sequence[Item], *, file: JobFile, machine: Machine
) -> tuple[dict[str, bytes], PatternBook]:
    from cutjob.output.paper.book import write_patterns
    from cutjob.output.paper.pattern import patterns_of
    from cutjob.output.paper.plotter import write_board_svg, write_parts_svg

    wanted = file.patterns or PatternsWanted()
    title, units = file.title, file.units
    book = write_patterns(
        layout,
        items=items,
        wanted=wanted,
        paper=file.paper or usual_paper(units),
        machine=machine,
        title=title,
        units=units,
    )
    files = {PATTERNS_FILE: book.data}
    if wanted.parts:
        patterns = patterns_of(layout, items, halves=wanted.halves)
        files[PLOTTER_FILE] = write_parts_svg(patterns, width=wanted.plotter_width, title=title, unit=units)
    if wanted.layout:
        for board in layout.boards:
            if board.placements:
                files[f"{board.id}-pattern.svg"] = write_board_svg(board, title=title, unit=units)
    return files, book


def _warnings(items: Sequence[Item], file: JobFile) -> tuple[str, ...]:
    from cutjob.output.paper.letters import missing, turned_round

    names = [file.title, *(item.name for item in items), *(name for item in items for name in _names(item.build))]
    warnings = []
    letters = missing(names)
    if letters:
        shown = ", ".join(f"{letter} as [U+{ord(letter):04X}]" for letter in letters[:_MOST_NAMED])
        more = f" and {len(letters) - _MOST_NAMED} more" if len(letters) > _MOST_NAMED else ""
        warnings.append(f"on paper: letters it can't print are written as numbers: {shown}{more}; use other letters")
    turned = list(dict.fromkeys(turned_round(names)))
    if turned:
        more = f" and {len(turned) - 1} more" if len(turned) > 1 else ""
        warnings.append(f'on paper: "{turned[0]}"{more} is written from left to right, letter by letter')
    return tuple(warnings)


def _names(build: Build) -> Iterator[str]:
    yield from (part.name for part in build.shaped)
    yield from (part.name for part in build.sawn)
    yield from (part.name for part in build.sticks)
