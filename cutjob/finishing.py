"""Turns each board's cuts into its program, its files and their proof; a large job is shared among processor cores.

Boards don't depend on each other, nor does a board's drawing on its program. Each is one task of a
`concurrent.futures` executor, and the results are joined in the order of the boards. So the bytes are the same for any
number of cores.

The job's paper patterns are read back and judged here too.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

from cutjob.cuts.board_cuts import BoardCuts
from cutjob.errors import InputError, Problem
from cutjob.geometry.segment import around
from cutjob.holding.clamps import without_holds
from cutjob.job.machine import Cutter, Machine
from cutjob.job.paper import PatternsWanted
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.layout.leftovers import Leftover, LeftoverRule, leftovers_of
from cutjob.layout.sets import NO_SETS, Sets
from cutjob.output.cut_svg import write_cut_svg
from cutjob.output.drawing import DrawnPart, as_drawn, draw_board, lost_by_moving, moved_into_waste
from cutjob.output.dxf import write_dxf
from cutjob.output.gcode.write import write_gcode
from cutjob.output.paper.files import PATTERNS_FILE, OnPaper
from cutjob.output.picture.picture import write_picture
from cutjob.output.picture.png import write_png
from cutjob.output.words.drawn import kerf_words, order_text
from cutjob.program.moves import Program
from cutjob.program.program import programs_of
from cutjob.program.time import swept_box
from cutjob.proof.expect import (
    LINE_KINDS,
    ExpectedDrawing,
    ExpectedLine,
    ExpectedPage,
    ExpectedPattern,
    ExpectedPatterns,
    ExpectedProgram,
    ExpectedSheet,
    ExpectedTab,
    LineKind,
)
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove
from cutjob.result import DrawingFile
from cutjob.stages import Stop, go_on
from cutjob.units import Unit, each_spelled, length
from cutjob.workers import unfinished_cancelled

if TYPE_CHECKING:
    from cutjob.output.paper.book import PatternBook
    from cutjob.output.paper.pattern import Pattern
    from cutjob.output.paper.sheets import Sheet


def prove_paper(paper: OnPaper, layout: Layout, wanted: PatternsWanted) -> ProofReport | None:
    """Return the proof of a job's patterns, or None where it has none."""
    if paper.patterns is None:
        return None
    return prove_patterns(paper.patterns, layout, wanted, file=PATTERNS_FILE)


def prove_patterns(book: PatternBook, layout: Layout, wanted: PatternsWanted, *, file: str) -> ProofReport:
    """Return the proof of a book of patterns: its pages must show what is wanted of the layout."""
    from cutjob.proof.paper.patterns import judge_patterns

    findings, worst = judge_patterns(book.data, expected_patterns(book, layout, wanted, file=file))
    return ProofReport(findings=tuple(findings), worst_gouge=0.0, worst_left=0.0, worst_pattern=worst)


def expected_patterns(
    book: PatternBook, layout: Layout, wanted: PatternsWanted, *, file: str = PATTERNS_FILE
) -> ExpectedPatterns:
    """Return the pages that the book must show."""
    from cutjob.output.paper.picture import LOOKS

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
        file=file,
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


@dataclass(frozen=True, slots=True, kw_only=True)
class FilesWanted:
    """What to write for every board of a job: `only` these kinds of file (None: all), pictures as `png` too, and the
    rule for the `leftovers` worth keeping of each board layout, by its id (without a rule: none). `sets` has which item
    each piece is for.
    """

    title: str
    units: Unit
    machine: Machine
    boards: int
    only: frozenset[str] | None = None
    png: bool = False
    leftovers: Mapping[str, LeftoverRule] = field(default_factory=dict)
    sets: Sets = NO_SETS

    def wants(self, kind: str) -> bool:
        """Whether files of a kind (gcode, dxf, picture) are to be written."""
        return self.only is None or kind in self.only


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """One board's files by name, their records, their proof, the seconds each stage took, and the board's offcuts."""

    files: dict[str, bytes]
    programs: tuple[Program, ...]
    drawings: tuple[DrawingFile, ...]
    proof: ProofReport
    seconds: dict[str, float]
    leftovers: tuple[Leftover, ...] = ()


def finish_boards(
    boards: Sequence[BoardCuts], order: FilesWanted, *, executor: Executor | None = None, stop: Stop | None = None
) -> tuple[Finished, ...]:
    """Return every board finished, in order. The work is done by `executor`, or without one in this process. Raises
    StoppedError between two boards once `stop` says so.
    """
    if executor is None:
        finished: list[Finished] = []
        for number, board in enumerate(boards, start=1):
            go_on(stop)
            finished.append(finish_board(board, number, order))
        return tuple(finished)
    # The longest tasks come first, so that no core starts one at the end.
    largest = sorted(range(len(boards)), key=lambda index: -len(boards[index].parts))
    cut = {index: executor.submit(_cut, boards[index], index + 1, order) for index in largest}
    drawn = {
        index: executor.submit(_drawn, boards[index].layout, boards[index].cutters.outline, order) for index in largest
    }
    with unfinished_cancelled([*cut.values(), *drawn.values()]):
        return tuple(_together(cut[index].result(), drawn[index].result()) for index in range(len(boards)))


def finish_board(board: BoardCuts, number: int, order: FilesWanted) -> Finished:
    """Put one board's cuts in order, write its files, and prove them. `number` counts the boards from 1."""
    return _together(_cut(board, number, order), _drawn(board.layout, board.cutters.outline, order))


def _cut(board: BoardCuts, number: int, order: FilesWanted) -> Finished:
    """A board's program and picture."""
    seconds: dict[str, float] = {}
    machine, layout = order.machine, board.layout
    with _timed("program", seconds):
        programs = tuple(
            replace(program, warnings=each_spelled(program.warnings, order.units))
            for program in (programs_of(board, machine=machine) if machine.runs_gcode else ())
        )
    with _timed("files", seconds):
        leftovers = board_leftovers(layout, programs, order.leftovers.get(layout.id))
        files: dict[str, bytes] = {}
        if order.wants("gcode"):
            place = f"board {number} of {order.boards}"
            for program in programs:
                files[program.file] = write_gcode(
                    program,
                    layout=layout,
                    machine=machine,
                    title=order.title,
                    order=place,
                    programs=programs,
                )
        if order.wants("picture"):
            picture = write_picture(
                layout,
                program=programs,
                units=order.units,
                title=order.title,
                leftovers=leftovers,
                sets=order.sets,
            )
            files[f"{layout.id}.svg"] = picture
            if order.png:
                files[f"{layout.id}.png"] = write_png(picture)
    with _timed("proof", seconds):
        proof = prove_board(files, layout, programs, (), machine, required=True)
    return Finished(files=files, programs=programs, drawings=(), proof=proof, seconds=seconds, leftovers=leftovers)


def board_leftovers(
    layout: BoardLayout, programs: Sequence[Program], rule: LeftoverRule | None
) -> tuple[Leftover, ...]:
    """Return the area of a board that is clear of its parts and of all that its programs cut."""
    if rule is None:
        return ()
    bare = layout if layout.holding is None else replace(layout, board=without_holds(layout.board, layout.holding))
    boxes = [box for box in map(swept_box, programs) if box is not None]
    return leftovers_of(
        bare,
        gap=rule.gap,
        edge_margin=rule.edge_margin,
        saw_kerf=rule.saw_kerf,
        least=rule.least,
        swept=around(boxes) if boxes else None,
    )


def _drawn(layout: BoardLayout, cutter: Cutter, order: FilesWanted) -> Finished:
    """A board's drawings."""
    seconds: dict[str, float] = {}
    machine = order.machine
    files: dict[str, bytes] = {}
    drawings: list[DrawingFile] = []
    with _timed("files", seconds):
        kinds = [kind for kind in ("dxf", "svg") if kind in machine.writes and order.wants(kind)]
        if kinds:
            drawn, by = drawn_parts(layout, machine, cutter)
            drawing = draw_board(layout, machine=machine, drawn=drawn)
            names = {"dxf": f"{layout.id}.dxf", "svg": f"{layout.id}-cut.svg"}
            drawings = [DrawingFile(file=names[kind], board=layout.id, offset=by) for kind in kinds]
            says = kerf_words(machine, offset=by, unit=order.units)
            if "dxf" in kinds:
                files[names["dxf"]] = write_dxf(drawing, machine=machine, says=says)
            if "svg" in kinds:
                files[names["svg"]] = write_cut_svg(
                    drawing, board=layout.board, width=cutter.diameter, title=f"{order.title}: {layout.id}", says=says
                )
    with _timed("proof", seconds):
        proof = prove_board(files, layout, (), drawings, machine)
    if drawings and not machine.runs_gcode and not machine.by_hand:
        # Someone else cuts this, so an order is written.
        files[f"{layout.id}-order.txt"] = order_text(
            layout,
            drawing,
            files=[one.file for one in drawings],
            machine=machine,
            offset=by,
            title=order.title,
            unit=order.units,
        )
    return Finished(files=files, programs=(), drawings=tuple(drawings), proof=proof, seconds=seconds)


def _together(cut: Finished, drawn: Finished) -> Finished:
    return Finished(
        files=cut.files | drawn.files,
        programs=cut.programs,
        drawings=drawn.drawings,
        proof=joined([cut.proof, drawn.proof]),
        leftovers=cut.leftovers,
        seconds={stage: cut.seconds.get(stage, 0.0) + drawn.seconds.get(stage, 0.0) for stage in cut.seconds},
    )


@contextmanager
def _timed(stage: str, seconds: dict[str, float]) -> Iterator[None]:
    start = time.perf_counter()
    yield
    seconds[stage] = time.perf_counter() - start


def drawn_parts(layout: BoardLayout, machine: Machine, cutter: Cutter) -> tuple[tuple[DrawnPart, ...], float]:
    """Return the parts as a drawing shows them, and how far their outlines were moved, mm: half the kerf or nothing.

    Raises InputError for details that are too narrow for this move.
    """
    parts = as_drawn(layout, cutter_diameter=cutter.diameter, beam=machine.has_beam)
    if machine.drawing.outlines == "as drawn":
        return parts, 0.0
    by = cutter.radius
    problems = [
        Problem(
            place=f'item "{placement.item}": part "{placement.part.name}"',
            message=f'{lost} is too narrow for outlines = "offset", which moves lines by half the width of the '
            f"{length(cutter.diameter)} cutter {cutter.number}",
            advice='set outlines = "as drawn" in [drawing] of the profile, or take a thinner cutter for the outlines',
        )
        for placement, part in zip(layout.placements, parts, strict=True)
        for lost in lost_by_moving(part, by)
    ]
    if problems:
        raise InputError(dict.fromkeys(problems))
    moved = tuple(moved_into_waste(part, by) for part in parts)
    return moved, by


def prove_board(
    files: dict[str, bytes],
    layout: BoardLayout,
    programs: Sequence[Program],
    drawings: Sequence[DrawingFile],
    machine: Machine,
    *,
    required: bool = False,
) -> ProofReport:
    """Read one board's written files back and compare them with its parts.

    Where it is `required`, a router's board must say how it is held, and each program must give all instructions to the
    operator.
    """
    expected = [expected_program(program, layout, machine) for program in programs if program.file in files]
    drawn = [ExpectedDrawing(file=one.file, board=layout, offset=one.offset) for one in drawings]
    return prove(
        files,
        programs=expected,
        drawings=drawn,
        machine=machine,
        holding_required=required,
        comments_required=required,
    )


def expected_program(program: Program, layout: BoardLayout, machine: Machine) -> ExpectedProgram:
    """Return what the proof knows of a program: its purpose, never how it cuts. mm."""
    return ExpectedProgram(
        file=program.file,
        board=layout,
        cutters=program.cutters,
        origin=program.origin,
        stock_top_z=layout.height if machine.motion.z_zero == "spoilboard" else 0.0,
        overcut=machine.cutting.overcut,
        safe_z=program.safe_z,
        clear_z=program.clear_z,
        skin=program.skin,
        window=program.window,
        tabs=tuple(
            ExpectedTab(placement=tab.placement, at=tab.at, width=tab.width, height=tab.height) for tab in program.tabs
        ),
    )


def joined(proofs: Sequence[ProofReport]) -> ProofReport:
    """Return the proof of all boards together."""
    return ProofReport(
        findings=tuple(finding for proof in proofs for finding in proof.findings),
        worst_gouge=max((proof.worst_gouge for proof in proofs), default=0.0),
        worst_left=max((proof.worst_left for proof in proofs), default=0.0),
        worst_pattern=max((proof.worst_pattern for proof in proofs if proof.worst_pattern is not None), default=None),
    )
