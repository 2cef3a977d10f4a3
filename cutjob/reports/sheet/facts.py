"""The contents of the job sheet: rows of tables and lists from a finished job, with lengths in words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from cutjob.counting import counted
from cutjob.job.machine import Machine
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout
from cutjob.layout.sets import NO_SETS, Sets
from cutjob.output.numbers import size_at_least
from cutjob.output.picture.key import part_rows
from cutjob.output.words.held import hanging_rows, held_shortly, number_ranges, other_keep_outs
from cutjob.output.words.line import Label
from cutjob.output.words.opening import opening_lines
from cutjob.parts.part import HandHole
from cutjob.program.moves import Program
from cutjob.reports.money import cost_rows, price_rows, share_widths
from cutjob.reports.words import (
    finish_name,
    left_words,
    parts_words,
    pieces_words,
    saw_rows,
    several,
    surfaces_words,
    to_buy,
)
from cutjob.result import HandHoles, JobResult
from cutjob.sticks.lists import numbered, section_words, sticks_of
from cutjob.units import Unit, area, format_length, spelled

Rows: TypeAlias = list[tuple[str, ...]]
# Lines of a file's opening that are shown once for its board, or elsewhere on the page.
_ELSEWHERE: tuple[Label, ...] = ("Machine", "Stock", "Saw first", "Stack", "Files", "Caution", "Warning", "Note")
_PATTERNS = "patterns.pdf: print it at true size, measure the bars, glue it on; saw openings before outlines"
_MOST_HANGING = 12  # rows of the table of what hangs on what; nobody reads more


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table: its heads, and rows with a cell for each."""

    heads: tuple[str, ...]
    rows: Rows
    below: str = ""  # a line that is true for all rows

    def without_empty(self) -> Table:
        """Return the table without its empty columns."""
        kept = [place for place in range(len(self.heads)) if any(row[place] for row in self.rows)]
        rows: Rows = [tuple(row[place] for place in kept) for row in self.rows]
        return replace(self, heads=tuple(self.heads[place] for place in kept), rows=rows)

    def with_common(self, head: str) -> Table:
        """Return the table with the text of the column `head` below it, if all of several rows have the same."""
        place = self.heads.index(head)
        said = {row[place] for row in self.rows}
        if len(self.rows) < 2 or len(said) > 1 or not any(said):
            return self
        rows: Rows = [(*row[:place], "", *row[place + 1 :]) for row in self.rows]
        return replace(self, rows=rows, below=f"{head.capitalize()}: {said.pop()}").without_empty()


def duration(seconds: float) -> str:
    """Return a time for reading: `45 s`, `7 min 05 s`, `1 h 20 min`."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    return f"{whole // 3600} h {whole % 3600 // 60:02d} min"


def size_of(board: Board, unit: Unit) -> str:
    """Return length x width x thickness in words."""
    return " x ".join(format_length(value, unit=unit) for value in (board.length, board.width, board.thickness))


def board_name(layout: BoardLayout) -> str:
    """Return the name of a board's layout, and its number of boards."""
    boards = layout.stack * layout.copies
    return f"{layout.id}: {layout.board.name}" + (f", {boards} boards" if boards > 1 else "")


def summary(result: JobResult) -> Rows:
    """Return the first lines of the sheet: the machine, and the rows of `summary_of`."""
    machine = result.machine
    name = f"{machine.name}: {machine.summary}" if machine.summary else machine.name
    return [("Machine", name), *summary_of(result)]


def summary_of(result: JobResult) -> list[tuple[str, str]]:
    """Return the boards, runs, time, wood used and the outcome of the proof, each with its name."""
    boards = sum(used.count for used in result.boards_used)
    rows = [("Boards", f"{counted(boards, 'board')}, {counted(len(result.layout.boards), 'layout')}")]
    seconds = result.machine_seconds
    if seconds > 0:
        rows.append(("Machine time", f"about {duration(seconds)}, {counted(result.runs, 'run')}, without work by hand"))
    if result.wood_yield is not None:
        rows.append(("Wood used", f"{result.wood_yield:.0%} of the boards"))
    proof = result.proof
    if proof is not None and (seconds > 0 or result.drawings):
        rows.append(
            ("Proof", "passed: the files were read back and compared with the parts" if proof.passed else "failed")
        )
    return rows


def boards_to_fetch(result: JobResult) -> Table:
    """Return the number of boards of each kind, with their size, and their cost where that is known."""
    priced = any(used.board.price for used in result.boards_used)
    rows: Rows = []
    for used in result.boards_used:
        board = used.board
        row = (str(used.count), board.name, size_of(board, result.units), board.material)
        costs = (f"{board.price:.2f}", f"{board.price * used.count:.2f}") if board.priced else ("not stated", "")
        rows.append((*row, *(costs if priced else ())))
    return Table(
        heads=("count", "board", "length x width x thickness", "material", *(("each", "total") if priced else ())),
        rows=rows,
    )


def sticks_to_fetch(result: JobResult) -> Table:
    """Return the number of rods and strips of each kind, with their size, and how many of them must be bought first."""
    unit = result.units
    counts: dict[tuple[str, str], int] = {}
    to_add: dict[tuple[str, str], int] = {}
    for one in result.sticks:
        for stick in one.sticks:
            kind = stick.stock, f"{section_words(one.section, unit)}, {format_length(stick.length, unit=unit)} long"
            counts[kind] = counts.get(kind, 0) + stick.times
            to_add[kind] = one.to_add.get(stick.stock, 0)
    rows: Rows = [
        (str(count), *kind, f"buy {to_add[kind]} more" if to_add[kind] else "") for kind, count in counts.items()
    ]
    return Table(heads=("count", "rod or strip", "size", "missing"), rows=rows).without_empty()


def to_saw(result: JobResult) -> Table:
    """Return the pieces to saw off boards before they go to the machine, in order."""
    rows: Rows = [
        (
            str(piece.count),
            " x ".join(format_length(side, unit=result.units) for side in (piece.length, piece.width, piece.thickness)),
            piece.board,
            f"{piece.part}, {piece.item}",
            piece.note,
        )
        for piece in result.layout.sawn
    ]
    heads = ("count", "length x width x thickness", "off", "for", "then")
    return Table(heads=heads, rows=rows).with_common("then").without_empty()


def saw_order(result: JobResult) -> Table:
    """Return the saw cuts of each board, in order."""
    rows: Rows = list(saw_rows(result))
    return Table(heads=("count", "board", "start at", "saw off, in this order"), rows=rows)


def by_hand_title(result: JobResult) -> str:
    """Return the title of the work by hand: the kinds of sticks there are, and drilling."""
    kinds = list(dict.fromkeys(f"{sticks_of(one.section)}s" for one in result.sticks))
    return " and ".join([*kinds, *(["drilling"] if result.hand_holes else [])]).capitalize()


def sticks(result: JobResult) -> Table:
    """Return the rods and strips to saw up: which stick gives which pieces."""
    unit = result.units
    rows: Rows = [
        (
            str(first + place),
            str(stick.times),
            f"{stick.stock}, {section_words(one.section, unit)}, {format_length(stick.length, unit=unit)} long",
            pieces_words(stick, unit),
            left_words(stick, unit),
        )
        for one, first in numbered(result.sticks)
        for place, stick in enumerate(one.sticks)
    ]
    return Table(heads=("no.", "sticks", "of", "sawn into", "left of each"), rows=rows).without_empty()


def end_trim(result: JobResult) -> str:
    """Return the sentence on the sticks' first ends."""
    trims = {one.end_trim for one in result.sticks if one.end_trim}
    off = " and ".join(format_length(trim, unit=result.units) for trim in sorted(trims))
    return (
        f"Square one end of each, which takes {off}, and measure from there." if off else "Measure from a square end."
    )


def stops(result: JobResult) -> Table:
    """Return the settings of the stop block, in order, with the parts that each is for."""
    unit = result.units
    rows: Rows = [
        (
            format_length(setting.length, unit=unit),
            str(setting.count),
            f"{section_words(one.section, unit)} {sticks_of(one.section)}",
            ", ".join(f"no. {first + index}: {count}" for index, count in setting.sticks),
            parts_words(setting),
            "; ".join(dict.fromkeys(part.note for part in setting.parts if part.note)),
        )
        for one, first in numbered(result.sticks)
        for setting in one.settings
    ]
    heads = ("stop at", "pieces", "of", "off each stick", "for", "then")
    return Table(heads=heads, rows=rows).with_common("then").without_empty()


_LENGTH = re.compile(r"\d+(?:\.\d+)? mm|(?:\d+(?: \d+/\d+)?|\d+/\d+|\d+\.\d+) in\b")


def drilling(result: JobResult) -> Table:
    """Return the holes to drill by hand: one row for holes of one width that are made alike, whatever their lengths."""
    unit = result.units
    kinds: dict[tuple[str, float, bool, str], list[HandHoles]] = {}
    for one in result.hand_holes:
        kind = one.item, one.hole.diameter, one.hole.depth is None, _LENGTH.sub("#", one.hole.note)
        kinds.setdefault(kind, []).append(one)
    rows: Rows = []
    for (item, diameter, through, _), alike in kinds.items():
        depths = {one.hole.depth for one in alike}
        deep = "through" if through else f"{_deep(alike[0].hole, unit)}" if len(depths) == 1 else ""
        notes = [_LENGTH.findall(one.hole.note) for one in alike]
        differing = [place for place, lengths in enumerate(zip(*notes, strict=True)) if len(set(lengths)) > 1]
        how = _blanked(alike[0].hole.note, differing)
        own = [
            ", ".join([*([_deep(one.hole, unit)] if len(depths) > 1 else []), *(lengths[place] for place in differing)])
            for one, lengths in zip(alike, notes, strict=True)
        ]
        names = [one.hole.part for one in alike]
        listed = [f"{name}: {word}" for name, word in zip(names, own, strict=True) if word]
        where = "; ".join(listed) or several(names)
        hole = f"{format_length(diameter, unit=unit)} hole" + (f", {deep}" if deep else "")
        of = item if len({one.item for one in result.hand_holes}) > 1 else ""
        rows.append((str(sum(one.count for one in alike)), hole, of, where, how))
    return Table(heads=("count", "hole", "item", "where", "how"), rows=rows).without_empty()


def _deep(hole: HandHole, unit: Unit) -> str:
    return "through" if hole.depth is None else f"{format_length(hole.depth, unit=unit)} deep"


def _blanked(note: str, places: Sequence[int]) -> str:
    """The note, with "as listed" for the lengths that differ from part to part."""
    numbers = iter(range(len(note)))
    return _LENGTH.sub(lambda found: "as listed" if next(numbers) in places else found[0], note)


def bought(result: JobResult) -> Table:
    """Return the things to buy."""
    rows: Rows = []
    for count, what, price in to_buy(result):
        costs = ("", "") if price is None else (f"{price:.2f}", f"{price * count:.2f}")
        rows.append((str(count), what, *costs))
    return Table(heads=("count", "what", "each", "total"), rows=rows).without_empty()


def finishes(result: JobResult) -> Table:
    """Return what is painted with what: where, how large it is on all items together, how often, and the wait."""
    rows: Rows = [
        (
            finish_name(one),
            f"{one.count} x {one.item}",
            surfaces_words(one),
            spelled(area(one.area * one.count * 1e6), result.units),
            str(one.coats),
            f"{one.drying:g} h" if one.drying else "",
        )
        for one in result.finishes
    ]
    heads = ("finish", "of", "where", "area", "coats", "dry each coat")
    return Table(heads=heads, rows=rows).without_empty()


def leftovers(result: JobResult) -> Table:
    """Return the offcuts of the boards that are worth keeping."""
    rows: Rows = [
        (
            str(kept.leftover.board.count),
            size_at_least(kept.leftover.board.length, kept.leftover.board.width, unit=result.units),
            kept.name,
        )
        for kept in result.leftovers
    ]
    return Table(heads=("count", "length x width", "name"), rows=rows)


def costs(result: JobResult) -> Table:
    """Return what one of each item takes and costs."""
    heads, rows = cost_rows(result)
    return Table(heads=heads, rows=rows)


def prices(result: JobResult) -> Table:
    """Return the prices of each item and set in each way of selling."""
    heads, rows = price_rows(result)
    return Table(heads=heads, rows=rows).without_empty()


# Okabe and Ito's palette, without yellow: material, labour, machine, overhead, spoilage.
_BAR_COLOURS = {"material": "#E69F00", "labour": "#0072B2", "machine": "#009E73", "overhead": "#CC79A7",
                "spoilage": "#D55E00"}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class CostBar:
    """The shares of an item's cost as parts of a bar: name, percent, start in percent, colour."""

    item: str
    parts: tuple[tuple[str, float, float, str], ...]


def cost_bars(result: JobResult) -> list[CostBar]:
    """Return a bar for each item whose cost is known."""
    bars = []
    for account in () if result.account is None else result.account.items:
        start, parts = 0.0, []
        for name, share in share_widths(account):
            parts.append((name, round(100 * share, 2), round(start, 2), _BAR_COLOURS[name]))
            start += 100 * share
        if parts:
            bars.append(CostBar(item=account.name, parts=tuple(parts)))
    return bars


# Columns whose figures need no name, so that a phone shows them without it.
SPEAKING = frozenset({
    "board", "count", "hole", "how", "item", "length x width", "length x width x thickness", "material", "missing",
    "name", "of", "rod or strip", "saw off, in this order", "size", "then", "what", "where",
})  # fmt: skip


def board_line(layout: BoardLayout, programs: Sequence[Program]) -> str:
    """Return a board in a line: its name, how many there are, the number of its parts, and the time."""
    boards = layout.stack * layout.copies
    words = [layout.board.name if boards == 1 else f"{boards} x {layout.board.name}"]
    if layout.stack > 1:
        words.append(f"{layout.stack} at once")
    words.append(counted(len(layout.placements), "part") + (" each" if boards > 1 else ""))
    if programs:
        words.append(counted(len(programs), "file"))
        words.append(f"about {duration(sum(program.seconds for program in programs))}")
    return ", ".join(words)


def parts_on(layout: BoardLayout, sets: Sets = NO_SETS) -> list[str]:
    """Return `1-3, 7: name tag, porch set 1-4 of 8` for each kind of part on a board; the item is left out if it is the
    same for all and there is only one.
    """
    items = {placement.item for placement in layout.placements}
    if len(items) > 1 or any(sets.counts.get(item, 1) > 1 for item in items):
        return part_rows(layout, sets)
    kinds: dict[str, list[int]] = {}
    for number, placement in enumerate(layout.placements, start=1):
        kinds.setdefault(placement.part.name, []).append(number)
    return [f"{number_ranges(numbers)}: {part}" for part, numbers in kinds.items()]


def board_facts(layout: BoardLayout, *, unit: Unit, machine: Machine, files: int, patterns: bool = False) -> Rows:
    """Return the facts about a board before its programs; `patterns` says whether there are paper patterns."""
    board = layout.board
    by_hand = machine.by_hand
    lies = "as it is sawn" if by_hand else "as it lies on the machine"
    held = held_shortly(layout)
    rows: Rows = [("Held by", held)] if held else []
    rows.append(("Board", f"{board.name}, {board.material}, {size_of(board, unit)} {lies}"))
    if board.sawn_off > 0:
        each = " of each board" if layout.stack * layout.copies > 1 else ""
        off = f"{format_length(board.sawn_off, unit=unit)} off the {board.square_end} end{each}"
        rows.append(("Saw first", off))
    if layout.stack > 1:
        rows.append(("Stack", f"{layout.stack} boards at once, {format_length(layout.height, unit=unit)} high"))
    if layout.copies > 1:
        what = "stack" if layout.stack > 1 else "board"
        rows.append(("Runs", f"{layout.copies} times, each on a fresh {what}"))
    for why in dict.fromkeys(one.why for one in other_keep_outs(layout).keep_outs if one.why):
        rows.append(("Keep-out", why))
    if files > 1:
        rows.append(("Files", f"{files}, run them in the order below"))
    if by_hand and patterns:
        rows.append(("Patterns", _PATTERNS))
        if layout.stack > 1:
            rows.append(("Hold", "screw or tape the boards together in the waste, glue the patterns on the top one"))
    return rows


def hanging(layout: BoardLayout) -> Table:
    """Return the table of what the parts of a board hang on once all is cut, like parts together; empty without
    bridges.
    """
    holding = layout.holding
    hold = "the hold" if holding is None else f"the {holding.by}"
    rows: Rows = list(hanging_rows(layout, most=_MOST_HANGING))
    return Table(heads=(f"bridges to {hold}", "parts", "hang on"), rows=rows).without_empty()


def set_up(program: Program, *, layout: BoardLayout, machine: Machine, programs: Sequence[Program]) -> Rows:
    """Return the settings before and during a program: its file's opening, line by line."""
    opening = opening_lines(program, layout=layout, machine=machine, programs=programs)
    unit = machine.controller.units
    rows: Rows = [(line.name or "Also", line.words(unit)) for line in opening if line.label not in _ELSEWHERE]
    return [*rows, ("Time", f"about {duration(program.seconds)}")]
