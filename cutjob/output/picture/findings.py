"""A board's picture with the places of the proof's findings ringed: findings and programs in, SVG bytes out."""

from __future__ import annotations

from collections.abc import Sequence

from cutjob.cuts.cut import Feature
from cutjob.geometry.segment import Point
from cutjob.job.machine import Cutter
from cutjob.layout.layout import BoardLayout
from cutjob.output.picture.picture import Ring, write_picture
from cutjob.program.moves import Move, PlannedTab, Program, Section, Step
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.gcode.reading import Reading
from cutjob.units import Unit

_MOST_RINGS = 60
_SAME_PLACE = 0.5  # mm; findings nearer to each other share a ring


def ring_numbers(findings: Sequence[Finding]) -> tuple[int | None, ...]:
    """Return the number of each finding's ring, from 1 in their order; None for one without a place, and after
    the 60th.
    """
    places: list[Point] = []
    numbers: list[int | None] = []
    for finding in findings:
        if finding.at is None:
            numbers.append(None)
            continue
        x, y = finding.at
        near = (n for n, (px, py) in enumerate(places) if max(abs(px - x), abs(py - y)) < _SAME_PLACE)
        index = next(near, len(places))
        if index == len(places):
            places.append((x, y))
        numbers.append(index + 1 if index < _MOST_RINGS else None)
    return tuple(numbers)


def findings_picture(
    layout: BoardLayout, *, findings: Sequence[Finding], programs: Sequence[Program], units: Unit, title: str
) -> bytes:
    """Return the picture of a board with a ring round every place, and the findings in words below."""
    rings: dict[int, Ring] = {}
    notes = []
    for finding, number in zip(findings, ring_numbers(findings), strict=True):
        if number is not None and finding.at is not None:
            rings.setdefault(number, Ring(at=finding.at, number=number))
        if number is not None or finding.at is None:
            notes.append(_note(finding, number))
    return write_picture(
        layout,
        program=programs,
        units=units,
        title=title,
        rings=tuple(rings.values()),
        notes=notes[:_MOST_RINGS],
    )


def _note(finding: Finding, number: int | None) -> str:
    ring = "" if number is None else f"ring {number}: "
    line = "" if finding.line is None else f"line {finding.line}, "
    return f"{ring}{line}{finding.check}: {finding.message}"


def moves_as_read(reading: Reading, *, origin: Point, stock_top: float) -> tuple[Move, ...]:
    """Return a file's motions as moves from its `origin`; `stock_top` is the file's Z of the stock's top, mm."""
    dx, dy = origin
    return tuple(
        Move(
            kind="rapid" if motion.kind == "rapid" else "cut",
            x=motion.end[0] + dx,
            y=motion.end[1] + dy,
            z=motion.end[2] - stock_top,
            feed=motion.feed,
            centre=None if motion.centre is None else (motion.centre[0] + dx, motion.centre[1] + dy),
            clockwise=motion.clockwise,
        )
        for motion in reading.motions
    )


def program_of(moves: Sequence[Move], *, file: str, board: str, cutter: Cutter) -> Program:
    """Return moves without any plan as a program to be drawn."""
    step = Step(op="outside cut", placement=None, feature=Feature(kind="outline"), moves=tuple(moves))
    section = Section(cutter=cutter, rpm=None, steps=(step,))
    return Program(file=file, board=board, sections=(section,), origin=(0.0, 0.0), safe_z=0.0, depth=0.0)


def program_as_read(reading: Reading, expected: ExpectedProgram) -> Program:
    """Return a file's motions as a program to be drawn, in the board's frame, with the plan's tabs."""
    moves = moves_as_read(reading, origin=expected.origin, stock_top=expected.stock_top_z)
    step = Step(op="outside cut", placement=None, feature=Feature(kind="outline"), moves=moves)
    section = Section(cutter=expected.cutters[0], rpm=None, steps=(step,))
    tabs = [
        PlannedTab(placement=one.placement, at=one.at, width=one.width, height=one.height)
        for one in expected.tabs
        if one.placement is not None
    ]
    return Program(
        file=expected.file,
        board=expected.board.id,
        sections=(section,),
        origin=expected.origin,
        safe_z=expected.safe_z,
        depth=0.0,
        tabs=tuple(tabs),
    )
