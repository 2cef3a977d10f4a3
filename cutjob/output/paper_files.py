"""What a job has on paper: patterns.pdf and the SVG for a plotter, labels.pdf; and letters that could not be drawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cutjob.job.machine import Machine
from cutjob.job.model import JobFile
from cutjob.job.paper import LabelsWanted, PatternsWanted, usual_paper
from cutjob.layout.layout import Layout
from cutjob.parts.part import Build, Item

PATTERNS_FILE, PLOTTER_FILE, LABELS_FILE = "patterns.pdf", "patterns.svg", "labels.pdf"
_MOST_TOLD = 8  # letters named in a warning


def paper_files(
    layout: Layout, items: Sequence[Item], *, file: JobFile, machine: Machine, only: frozenset[str] | None
) -> tuple[dict[str, bytes], tuple[str, ...]]:
    """Return the files by name, and warnings.

    Patterns are written for a pattern machine, where the job has `[patterns]`, or where `only` names `pattern`; labels
    where the job has `[labels]` or `only` names `label`. With `only`, nothing it does not name.
    """
    files: dict[str, bytes] = {}
    patterns = _asked("pattern", file.patterns is not None or machine.kind == "pattern", only)
    labels = _asked("label", file.labels is not None, only)
    if patterns:
        files |= _pattern_files(layout, items, file=file, machine=machine)
    paper = file.paper or usual_paper(file.units)
    any_part = any((*item.build.shaped, *item.build.sawn, *item.build.rods) for item in items)
    if labels and any_part:
        # Imported where they are needed, as they bring the library for PDF with them.
        from cutjob.output.labels import write_labels

        wanted = file.labels or LabelsWanted()
        files[LABELS_FILE] = write_labels(
            layout, items=items, wanted=wanted, paper=paper, title=file.title, units=file.units
        )
    return files, _warnings(items, file) if files else ()


def _asked(kind: str, wanted: bool, only: frozenset[str] | None) -> bool:
    return wanted if only is None else kind in only


def _pattern_files(layout: Layout, items: Sequence[Item], *, file: JobFile, machine: Machine) -> dict[str, bytes]:
    if not any(board.placements for board in layout.boards):
        return {}  # all is sawn: there is nothing to draw
    from cutjob.output.patterns.book import write_patterns
    from cutjob.output.patterns.pattern import patterns_of
    from cutjob.output.patterns.plotter import write_board_svg, write_parts_svg

    wanted = file.patterns or PatternsWanted()
    title, units = file.title, file.units
    files = {
        PATTERNS_FILE: write_patterns(
            layout,
            items=items,
            wanted=wanted,
            paper=file.paper or usual_paper(units),
            machine=machine,
            title=title,
            units=units,
        )
    }
    if wanted.parts:
        patterns = patterns_of(layout, items, halves=wanted.halves)
        files[PLOTTER_FILE] = write_parts_svg(patterns, width=wanted.plotter_width, title=title, unit=units)
    if wanted.layout:
        for board in layout.boards:
            if board.placements:
                files[f"{board.id}-pattern.svg"] = write_board_svg(board, title=title, unit=units)
    return files


def _warnings(items: Sequence[Item], file: JobFile) -> tuple[str, ...]:
    from cutjob.output.pdf.letters import missing, turned_round

    names = [file.title, *(item.name for item in items), *(name for item in items for name in _names(item.build))]
    warnings = []
    letters = missing(names)
    if letters:
        shown = ", ".join(f"{letter} as [U+{ord(letter):04X}]" for letter in letters[:_MOST_TOLD])
        more = f" and {len(letters) - _MOST_TOLD} more" if len(letters) > _MOST_TOLD else ""
        warnings.append(
            f"patterns and labels: there is no letter for {shown}{more}; give names in other letters to read them"
        )
    turned = list(dict.fromkeys(turned_round(names)))
    if turned:
        more = f" and {len(turned) - 1} more" if len(turned) > 1 else ""
        warnings.append(f'patterns and labels: "{turned[0]}"{more} is written from left to right, letter by letter')
    return tuple(warnings)


def _names(build: Build) -> Iterator[str]:
    yield from (part.name for part in build.shaped)
    yield from (part.name for part in build.sawn)
    yield from (part.name for part in build.rods)
