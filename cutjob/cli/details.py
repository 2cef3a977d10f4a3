"""The whole result of a run in lines of text, in groups: what `make --verbose` prints."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from cutjob.checking import FileCuts
from cutjob.counting import counted
from cutjob.layout.layout import BoardLayout
from cutjob.output.numbers import size_at_least
from cutjob.output.words.held import hold_areas
from cutjob.reports.money import batch_lines, cost_rows, given_lines, notes, price_rows
from cutjob.reports.words import drawing_words, least_words, may_save_boards, saw_lines, stick_lines, to_buy
from cutjob.result import HandHoles, JobResult
from cutjob.units import RULE, Unit, format_length

HEAD = ("layout", "board", "boards", "parts", "file", "cutter", "minutes")


@dataclass(frozen=True, slots=True, kw_only=True)
class DetailGroup:
    """Lines about one subject, under its `head`. A table of `rows` under `heads` comes first, if there are rows."""

    head: str
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    lines: tuple[str, ...] = ()


def detail_groups(result: JobResult) -> Iterator[DetailGroup]:
    """Yield all groups that aren't empty, in the order of the work."""
    costs, cost_rows_ = cost_rows(result)
    prices, price_rows_ = price_rows(result)
    groups = (
        DetailGroup(
            head="boards and files", heads=HEAD, rows=tuple(program_rows(result)), lines=tuple(board_lines(result))
        ),
        DetailGroup(head="wood", lines=tuple(wood_lines(result))),
        DetailGroup(head="work by hand", lines=tuple(hand_work(result))),
        DetailGroup(head="cost of one", heads=costs, rows=tuple(cost_rows_), lines=tuple(notes(result))),
        DetailGroup(
            head="prices", heads=prices, rows=tuple(price_rows_), lines=(*batch_lines(result), *given_lines(result))
        ),
        DetailGroup(head="warnings", lines=result.warnings),
        DetailGroup(head="cautions", lines=tuple(caution.full for caution in result.cautions)),
    )
    return (group for group in groups if group.rows or group.lines)


def program_rows(result: JobResult) -> Iterator[tuple[str, ...]]:
    """Yield a row for each program: layout, board, boards, parts, file, cutter, minutes.

    Where a program cuts one window of its board, the parts are those of the window, and its number is beside the file.
    Several cutters are listed in the order they come. A board without programs has a row with its drawing.
    """
    for board in result.layout.boards:
        head = (board.id, board.board.name, str(board.copies * board.stack))
        parts = str(len(board.placements))
        programs = result.programs_of(board)
        for program in programs:
            numbers = ", ".join(str(cutter.number) for cutter in program.cutters)
            minutes = f"{program.seconds / 60:.1f}"
            if program.window is None:
                yield (*head, parts, program.file, numbers, minutes)
            else:
                own = str(len(board.windows[program.window].placements))
                yield (*head, own, f"{program.file}, window {program.window + 1}", numbers, minutes)
        if not programs:
            yield (*head, parts, ", ".join(drawing.file for drawing in result.drawings_of(board)), "", "")


def board_lines(result: JobResult) -> Iterator[str]:
    """Yield a line each for the layouts and their runs, how boards are run where one file is not enough, what holds
    them, items kept together, the search.
    """
    boards = result.layout.boards
    if boards:
        by_machine = result.programs or result.drawings
        runs = f", cut in {counted(result.runs, 'run')} of the machine" if by_machine else ""
        yield f"layouts: {len(boards)}{runs}"
    yield from _handling(result)
    yield from _held(result)
    yield from (f"drawings: {words}" for words in drawing_words(result))
    for name, where in result.together.items():
        counts = ", ".join(f"{count} on {board}" for board, count in where.items())
        yield f"together: {name}, each on one board: {counts}"
    search = result.search
    if search is not None and search.stopped:
        yield "search: stopped by hand with the best layout so far; another run may give another"
    elif search is not None and search.seconds is not None:
        yield f"search: {search.seconds:g} seconds by the clock; another run may give another layout"
    elif may_save_boards(result):
        yield "search: a longer search may save a board: --effort best"


def wood_lines(result: JobResult) -> Iterator[str]:
    """Yield a line each for the boards used and the share of them that is parts, for each leftover worth keeping, and
    for the boards in stock that are not for this job.
    """
    used = result.boards_used
    if used:
        kinds = [
            f"{kind.count} of {kind.board.name} {_price(kind.board.price if kind.board.priced else None)}"
            for kind in used
        ]
        whole = f"; {result.wood_cost:.2f} in all" if len(used) > 1 or used[0].count > 1 else ""
        yield f"boards: {', '.join(kinds)}{whole if result.wood_cost else ''}{least_words(result)}"
    if result.wood_yield is not None:
        yield f"wood used: {result.wood_yield:.0%} of the boards"
    for kept in result.leftovers:
        board = kept.leftover.board
        size = size_at_least(board.length, board.width, unit=result.units)
        yield f"keep: {counted(board.count, 'piece')} {size}, {kept.name}"
    aside = [f"{one.board} ({one.why})" for one in result.left_aside]
    if aside:
        more = f" and {len(aside) - 4} more" if len(aside) > 4 else ""
        yield f"left aside in stock: {', '.join(aside[:4])}{more}"


def _handling(result: JobResult) -> Iterator[str]:
    """A line for each group of boards that are handled alike: files in order, windows and slides, screws, a skin."""
    alike: dict[str, list[str]] = {}
    for board in result.layout.boards:
        words = "; ".join(_ways(board, result))
        if words:
            alike.setdefault(words, []).append(board.id)
    for words, ids in alike.items():
        yield f"{_named(ids)}: {words}"


def _held(result: JobResult) -> Iterator[str]:
    """A line with what holds the boards. Screws are left out: the lines on handling name them."""
    alike: dict[str, list[str]] = {}
    for board in result.layout.boards:
        words = _holds(board)
        if words:
            alike.setdefault(words, []).append(board.id)
    if alike:
        yield f"held: {'; '.join(f'{_named(ids)} by {words}' for words, ids in alike.items())}"


def _named(ids: Sequence[str]) -> str:
    return f"{', '.join(ids[:4])} and {len(ids) - 4} more" if len(ids) > 5 else ", ".join(ids)


def _holds(board: BoardLayout) -> str:
    """`2 clamps, 14 bridges, at most 2 between a part and the clamps`."""
    holding = board.holding
    if holding is None:
        return ""
    if holding.by in ("tape", "vacuum"):
        return f"{holding.by} under the whole board"
    if holding.by != "clamps":
        return ""
    words = [counted(len(hold_areas(board)), "clamp")]
    if holding.bridges:
        words.append(counted(len(holding.bridges), "bridge"))
        words.append(f"at most {max(holding.to_hold, default=0)} between a part and the clamps")
    return ", ".join(words)


def _ways(board: BoardLayout, result: JobResult) -> Iterator[str]:
    unit, programs, windows = result.units, result.programs_of(board), board.windows
    if len(programs) > 1:
        yield f"{len(programs)} files, run in the order of their numbers"
    if len(windows) > 1:
        slides = [after.first - before.first for before, after in pairwise(windows)]
        yield f"{len(windows)} windows, slid by {', then '.join(format_length(slide, unit=unit) for slide in slides)}"
    if board.hold_downs:
        yield f"{counted(len(board.hold_downs), 'screw')} in the waste, holes drilled first"
    skin = max((program.skin for program in programs), default=0.0)
    if skin > 0:
        yield f"a skin of {format_length(skin, unit=unit)} left under the parts"


def _price(price: float | None) -> str:
    if price is None:
        return "(no price stated)"
    return f"at {price:.2f}" if price else "at no cost"


def hand_work(result: JobResult) -> Iterator[str]:
    """Yield a line for each kind of work by hand and of thing to buy: saw cuts, sticks, holes, hardware.

    Holes of an item that differ only in depth are one kind.
    """
    unit = result.units
    ripped = {(item, part) for board in result.layout.saw_order for cut in board.cuts for item, part, _ in cut.rips}
    for piece in result.layout.sawn:
        what = f"{counted(piece.count, 'piece')} {format_length(piece.length, unit=unit)} long"
        if (piece.item, piece.part) in ripped:
            what += f", {format_length(piece.width, unit=unit)} wide,"
        note = f"; {piece.note}" if piece.note else ""
        yield f"saw first: {what} off {piece.board} ({piece.part}, {piece.item}){note}"
    yield from saw_lines(result)
    yield from stick_lines(result)
    holes: dict[tuple[str, float], list[HandHoles]] = {}
    for one in result.hand_holes:
        holes.setdefault((one.item, one.hole.diameter), []).append(one)
    for (item, diameter), alike in holes.items():
        what = f"{counted(sum(one.count for one in alike), 'hole')} {format_length(diameter, unit=unit)} wide"
        yield f"drill by hand: {what}, {_depths([one.hole.depth for one in alike], unit)} ({item})"
    for count, what, price in to_buy(result):
        yield f"buy: {count} x {what}{'' if price is None else f' {_price(price)}'}"


def _depths(depths: Sequence[float | None], unit: Unit) -> str:
    """`1 in to 2 in deep`, `1 in deep or through`, `through`."""
    stated = [depth for depth in depths if depth is not None]
    least, most = (format_length(find(stated, default=0.0), unit=unit) for find in (min, max))
    deep = [f"{least} deep" if least == most else f"{least} to {most} deep"] if stated else []
    return " or ".join(deep + ["through"] * (len(stated) < len(depths)))


def cuts_words(cuts: FileCuts, unit: Unit) -> str:
    """Return what a G-code file cuts: its size and place, how deep, and how long it takes."""
    if cuts.box is None:
        return f"{cuts.file}: cuts nothing"
    x0, y0, x1, y1 = (_ruled(value, unit) for value in cuts.box)
    wide, high = (_ruled(cuts.box[axis + 2] - cuts.box[axis], unit) for axis in (0, 1))
    deep = f", {_ruled(cuts.depth, unit)} deep" if cuts.depth > 0 else ""
    minutes = "" if cuts.seconds is None else f", about {cuts.seconds / 60:.1f} min"
    return f"{cuts.file}: cuts {wide} x {high} (x {x0} to {x1}, y {y0} to {y1}){deep}{minutes}"


def _ruled(mm: float, unit: Unit) -> str:
    """A length to the nearest step of a rule."""
    return format_length(round(mm / RULE[unit]) * RULE[unit], unit=unit)
