"""What the job sheet says: rows of tables and lists from plan.json's content and the layout, lengths in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any, TypeAlias

from cutjob.job.machine import Machine
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout
from cutjob.output.costs import item_table
from cutjob.output.numbers import size_at_least
from cutjob.output.words.held import hanging_rows, held_shortly, other_keep_outs
from cutjob.output.words.line import Label
from cutjob.output.words.opening import opening_lines
from cutjob.output.words.sawing import kind_of, left_words, parts_words, pieces_words, saw_rows, size_words
from cutjob.parts.part import Item, RodPart, Stand, StripPart
from cutjob.program.moves import Program
from cutjob.units import RULE, Unit, format_length

Rows: TypeAlias = list[tuple[str, ...]]
# Of a file's opening, what is said once for its board or elsewhere on the page.
_ELSEWHERE: tuple[Label, ...] = ("Machine", "Stock", "Saw first", "Stack", "Files", "Caution", "Warning", "Note")
_PATTERNS = "patterns.pdf: print at true size, measure the bars, glue on; saw openings before outlines"
_MOST_HANGING = 12  # rows of a table of what hangs on what; of more nobody reads each


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table: its heads, and rows with a cell for each."""

    heads: tuple[str, ...]
    rows: Rows

    def without_empty(self) -> Table:
        """Return the table without the columns in which nothing stands."""
        kept = [place for place in range(len(self.heads)) if any(row[place] for row in self.rows)]
        rows: Rows = [tuple(row[place] for place in kept) for row in self.rows]
        return Table(heads=tuple(self.heads[place] for place in kept), rows=rows)


def duration(seconds: float) -> str:
    """Return a time for reading: `45 s`, `7 min 05 s`, `1 h 20 min`."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    return f"{whole // 3600} h {whole % 3600 // 60:02d} min"


def counted(count: int, thing: str) -> str:
    """Return `1 board`, `2 boards`."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def size_of(board: Board, unit: Unit) -> str:
    """Return length x width x thickness in words."""
    return " x ".join(format_length(value, unit=unit) for value in (board.length, board.width, board.thickness))


def machine_seconds(plan: dict[str, Any]) -> float:
    """Return how long the machine works on all boards together, s."""
    runs = [(board["copies"], program["seconds"]) for board in plan["boards"] for program in board["programs"]]
    return sum((float(copies * seconds) for copies, seconds in runs), 0.0)


def board_name(layout: BoardLayout) -> str:
    """Return what a board's layout is called, and of how many boards."""
    boards = layout.stack * layout.copies
    return f"{layout.id}: {layout.board.name}" + (f", {boards} boards" if boards > 1 else "")


def summary(plan: dict[str, Any], machine: Machine) -> Rows:
    """Return the first lines of the sheet: the machine, and what `summary_of` says."""
    name = f"{machine.name}: {machine.summary}" if machine.summary else machine.name
    return [("Machine", name), *summary_of(plan)]


def summary_of(plan: dict[str, Any]) -> list[tuple[str, str]]:
    """Return the boards, runs, time, wood used and the outcome of the proof, each with its name."""
    runs = sum(board["copies"] * max(1, len(board["programs"])) for board in plan["boards"])
    boards = sum(int(kind["count"]) for kind in plan["boards_used"])
    rows = [("Boards", f"{counted(boards, 'board')} in {counted(len(plan['boards']), 'layout')}")]
    seconds = machine_seconds(plan)
    if seconds > 0:
        rows.append(("Machine time", f"about {duration(seconds)} in {counted(runs, 'run')}, without work by hand"))
    if isinstance(plan["yield"], float):
        rows.append(("Wood used", f"{plan['yield']:.0%} of the boards"))
    proof = plan["proof"]
    if proof is not None and (seconds > 0 or any(board["drawings"] for board in plan["boards"])):
        rows.append(
            ("Proof", "passed: the files were read back and compared with the parts" if proof["passed"] else "failed")
        )
    return rows


def boards_to_fetch(plan: dict[str, Any], stock: Sequence[Board]) -> Table:
    """Return how many boards of each kind, with their size, and what they cost where that is known."""
    unit: Unit = plan["units"]
    kinds = {board.name: board for board in stock}
    priced = any(kind["price"] for kind in plan["boards_used"])
    rows: Rows = []
    for used in plan["boards_used"]:
        board = kinds[used["board"]]
        row = (str(used["count"]), board.name, size_of(board, unit), board.material)
        rows.append((*row, *((f"{used['price']:.2f}", f"{used['price'] * used['count']:.2f}") if priced else ())))
    return Table(
        heads=("count", "board", "length x width x thickness", "material", *(("each", "in all") if priced else ())),
        rows=rows,
    )


def sticks_to_fetch(plan: dict[str, Any]) -> Table:
    """Return how many rods and strips of each kind, with their size, those to be bought first among them."""
    unit: Unit = plan["units"]
    counts: dict[tuple[str, str], int] = {}
    to_add: dict[tuple[str, str], int] = {}
    for one in plan["sticks"]:
        short = {more["stock"]: more["count"] for more in one["to_add"]}
        for stick in one["sticks"]:
            kind = stick["stock"], f"{size_words(one, unit)}, {format_length(stick['length'], unit=unit)} long"
            counts[kind] = counts.get(kind, 0) + stick["count"]
            to_add[kind] = short.get(stick["stock"], 0)
    rows: Rows = [
        (str(count), *kind, f"{to_add[kind]} more than there are" if to_add[kind] else "")
        for kind, count in counts.items()
    ]
    return Table(heads=("count", "rod or strip", "size", "missing"), rows=rows).without_empty()


def to_saw(plan: dict[str, Any]) -> Table:
    """Return the pieces to saw off boards before they go to the machine, in order."""
    unit: Unit = plan["units"]
    rows: Rows = [
        (
            str(piece["count"]),
            " x ".join(format_length(piece[side], unit=unit) for side in ("length", "width", "thickness")),
            str(piece["board"]),
            f"{piece['part']}, {piece['item']}",
            str(piece["note"]),
        )
        for piece in plan["sawn"]
    ]
    return Table(heads=("count", "length x width x thickness", "off", "for", "then"), rows=rows).without_empty()


def saw_order(plan: dict[str, Any]) -> Table:
    """Return what to saw off each board, in order."""
    rows: Rows = list(saw_rows(plan))
    return Table(heads=("boards", "of", "start at", "saw off, in this order"), rows=rows)


def by_hand_title(plan: dict[str, Any]) -> str:
    """Return the title of the work on sticks and of the drilling by hand: what of them there is."""
    kinds = list(dict.fromkeys(f"{kind_of(one)}s" for one in plan["sticks"]))
    return " and ".join([*kinds, *(["drilling"] if plan["hand_holes"] else [])]).capitalize()


def sticks(plan: dict[str, Any]) -> Table:
    """Return the rods and strips to saw up: which stick gives which pieces."""
    unit: Unit = plan["units"]
    rows: Rows = [
        (
            str(stick["number"]),
            str(stick["count"]),
            f"{stick['stock']}, {size_words(one, unit)}, {format_length(stick['length'], unit=unit)} long",
            pieces_words(stick, unit),
            left_words(stick, unit),
        )
        for one in plan["sticks"]
        for stick in one["sticks"]
    ]
    return Table(heads=("no.", "sticks", "of", "sawn into", "rest of each"), rows=rows).without_empty()


def end_trim(plan: dict[str, Any]) -> str:
    """Return what is said of the sticks' first ends."""
    trims = {one["end_trim"] for one in plan["sticks"] if one["end_trim"]}
    off = " and ".join(format_length(trim, unit=plan["units"]) for trim in sorted(trims))
    return (
        f"Square one end of each, which takes {off}, and measure from there." if off else "Measure from a square end."
    )


def stops(plan: dict[str, Any]) -> Table:
    """Return the settings of the stop block, in order, with what each is for."""
    unit: Unit = plan["units"]
    rows: Rows = [
        (
            format_length(setting["length"], unit=unit),
            str(setting["count"]),
            f"{size_words(one, unit)} {kind_of(one)}",
            ", ".join(f"no. {stick['number']}: {stick['count']}" for stick in setting["sticks"]),
            parts_words(setting),
            "; ".join(dict.fromkeys(part["note"] for part in setting["parts"] if part["note"])),
        )
        for one in plan["sticks"]
        for setting in one["stop_settings"]
    ]
    heads = ("stop at", "pieces", "of", "off each stick", "for", "then")
    return Table(heads=heads, rows=rows).without_empty()


def drilling(plan: dict[str, Any]) -> Table:
    """Return the holes to drill by hand."""
    unit: Unit = plan["units"]
    rows: Rows = [
        (
            str(hole["count"]),
            f"{hole['part']}, {hole['item']}",
            format_length(hole["diameter"], unit=unit),
            "through" if hole["depth"] is None else f"{format_length(hole['depth'], unit=unit)} deep",
            str(hole["note"]),
        )
        for hole in plan["hand_holes"]
    ]
    return Table(heads=("count", "in", "diameter", "depth", "how"), rows=rows).without_empty()


def bought(plan: dict[str, Any]) -> Table:
    """Return the things to buy."""
    rows: Rows = []
    for one in plan["bought"]:
        price = one["price"]
        costs = ("", "") if price is None else (f"{price:.2f}", f"{price * one['count']:.2f}")
        rows.append((str(one["count"]), str(one["name"]), *costs))
    return Table(heads=("count", "what", "each", "in all"), rows=rows).without_empty()


def leftovers(plan: dict[str, Any]) -> Table:
    """Return what is left of the boards and worth keeping."""
    unit: Unit = plan["units"]
    rows: Rows = []
    for left in plan["leftovers"]:
        across, high = (max(point[axis] for point in left["outline"]) for axis in (0, 1))
        rows.append((str(left["count"]), size_at_least(across, high, unit=unit), str(left["name"])))
    return Table(heads=("count", "length x width", "name"), rows=rows)


def costs(plan: dict[str, Any]) -> Table:
    """Return the machine time and costs of each kind of item."""
    heads, rows = item_table(plan)
    return Table(heads=heads, rows=rows)


def board_facts(layout: BoardLayout, *, unit: Unit, machine: Machine, files: int, patterns: bool = False) -> Rows:
    """Return what is to be known of a board before any of its programs; whether there are paper `patterns`."""
    board = layout.board
    by_hand = machine.kind == "pattern"
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
    for why in dict.fromkeys(filter(None, other_keep_outs(layout).whys)):
        rows.append(("Keep-out", why))
    if files > 1:
        rows.append(("Files", f"{files}, run in the order in which they stand below"))
    if by_hand and patterns:
        rows.append(("Patterns", _PATTERNS))
        if layout.stack > 1:
            rows.append(("Hold", "screw or tape the boards on each other in the waste, the patterns on the top one"))
    return rows


def hanging(layout: BoardLayout) -> Table:
    """Return what the parts of a board hang on once all is cut, those alike together; empty without bridges."""
    holding = layout.holding
    hold = "what holds it" if holding is None else f"the {holding.by}"
    rows: Rows = list(hanging_rows(layout, most=_MOST_HANGING))
    return Table(heads=(f"bridges to {hold}", "parts", "hang on"), rows=rows).without_empty()


def set_up(program: Program, *, layout: BoardLayout, machine: Machine, programs: Sequence[Program]) -> Rows:
    """Return what is set before and during a program: what its file's opening says, line by line."""
    opening = opening_lines(program, layout=layout, machine=machine, programs=programs)
    unit = machine.controller.units
    rows: Rows = [(line.name or "Also", line.words(unit)) for line in opening if line.label not in _ELSEWHERE]
    return [*rows, ("Time", f"about {duration(program.seconds)}")]


def assembly(item: Item, unit: Unit) -> Iterator[str]:
    """Yield a line for each part of a standing or hanging item, in the order of assembly, with how far up it is."""
    named = {stick.name: stick for stick in item.build.sticks}
    stands = [stand for stand in item.build.stands if stand.look != "cord"]
    if any(stand.look == "bead" for stand in stands):  # what is threaded on a rod goes on from the bottom up
        stands.sort(key=lambda stand: stand.foot)
    for threaded, alike in groupby(stands, key=lambda stand: stand.look == "bead"):
        if threaded:
            beads = len(list(alike))
            yield "a bead" if beads == 1 else f"{beads} beads"
        else:
            yield from _steps(alike, named, unit)


def _steps(stands: Iterable[Stand], named: Mapping[str, RodPart | StripPart], unit: Unit) -> Iterator[str]:
    for stand in stands:
        rod = named.get(stand.part)
        turns = ", free to turn" if stand.turns else ""
        if rod is None:
            how = "flat" if stand.seen == "edge" else "on edge"
            yield f"{stand.part}: {how}, {_height(stand, unit)}{turns}"
        else:
            across = " x ".join(format_length(side, unit=unit) for side in rod.section)
            long = format_length(rod.length, unit=unit)
            x0, _, x1, _ = stand.outline.outline.bounds
            lies = f", {_height(stand, unit)}" if x1 - x0 > rod.section[0] else ""
            yield f"{rod.name}: {across} across, {long} long{lies}{turns}"


def _height(stand: Stand, unit: Unit) -> str:
    foot = stand.foot if stand.seen == "edge" else stand.foot + stand.outline.outline.bounds[1]
    near = as_measured(foot, unit)
    return "at the bottom" if near == as_measured(0.0, unit) else f"its lowest place {near} up from the bottom"


def as_measured(mm: float, unit: Unit) -> str:
    """A length as the finest rule shows it: to 0.1 mm, or 1/64 in."""
    return format_length(round(mm / RULE[unit]) * RULE[unit], unit=unit)
