"""A job's work by hand and its costs in words: the sawing, the sticks, and the time and cost of each item.

For the summary in the terminal and for the job sheet; lengths are in the job's units.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, pairwise

from cutjob.costs.finishes import Painted
from cutjob.layout.layout import BoardLayout
from cutjob.layout.saw_order import SawCut
from cutjob.output.words.drawn import kerf_words
from cutjob.output.words.held import number_ranges
from cutjob.result import JobResult
from cutjob.sticks.lists import SawnStick, StickList, StopSetting, numbered, section_words, sticks_of
from cutjob.units import Unit, down_to_tape, format_bought, format_length

_SAME = 1e-6  # mm: lengths that differ by less differ only by arithmetic
_MOST_LINES = 12  # for sticks of one section in the terminal; the job sheet has them all


def drawing_words(result: JobResult) -> tuple[str, ...]:
    """Return the drawings' sentences on the kerf, each once; empty unless a service cuts by the drawings."""
    machine, unit = result.machine, result.units
    if machine.runs_gcode or machine.by_hand:
        return ()
    return tuple(dict.fromkeys(kerf_words(machine, offset=one.offset, unit=unit) for one in result.drawings))


def stick_lines(result: JobResult) -> Iterator[str]:
    """Yield how to saw up rods and strips: a line for each section, and one for each kind of stick sawn.

    Where the stock has no sticks of a section, there is a line for each of its pieces instead.
    """
    unit = result.units
    for one, first in numbered(result.sticks):
        kind, size = f"{sticks_of(one.section)}s", section_words(one.section, unit)
        if not one.sticks:
            for setting in one.settings:
                length = format_length(setting.length, unit=unit)
                yield f"{kind}: {setting.count} of {size}, {length} long ({parts_words(setting)})"
            continue
        yield f"{kind}: {_count(one)} of {size} off {_sticks_taken(one)}{_cost(one)}{_outcome(one)}"
        lines = [stick_line(stick, first + place, unit) for place, stick in enumerate(one.sticks)]
        yield from (f"{kind}: no. {line}" for line in lines[:_MOST_LINES])
        if len(lines) > _MOST_LINES:
            more = len(lines) - _MOST_LINES
            ways = "1 more way" if more == 1 else f"{more} more ways"
            yield f"{kind}: {ways} of sawing in plan.json and on the job sheet"


def stick_line(stick: SawnStick, number: int, unit: Unit) -> str:
    """Return one line for sticks that are sawn alike: `1, 2 x dowel of 48 in: 12 in, 2 x 11 in; 1/2 in left`."""
    times = f"{stick.times} x " if stick.times > 1 else ""
    length = format_length(stick.length, unit=unit)
    pieces, left = pieces_words(stick, unit), left_words(stick, unit)
    return f"{number}, {times}{stick.stock} of {length}: {pieces}; {left} left"


def pieces_words(stick: SawnStick, unit: Unit) -> str:
    """Return the lengths a stick gives: `12 in, 2 x 11 in`."""
    return ", ".join(
        (f"{count} x " if count > 1 else "") + format_length(length, unit=unit) for length, count in stick.pieces
    )


def left_words(stick: SawnStick, unit: Unit) -> str:
    """Return the remainder of a stick, rounded down to a 16th of an inch or a whole mm."""
    left = down_to_tape(stick.left, unit)
    return format_length(left, unit=unit) if left > 0 else "nothing"


def parts_words(setting: StopSetting) -> str:
    """Return the parts that pieces of one length are for."""
    return "; ".join(f"{part.part}, {part.item}" for part in setting.parts)


def _count(one: StickList) -> str:
    count = sum(setting.count for setting in one.settings if setting.sticks)
    return "1 piece" if count == 1 else f"{count} pieces"


def _sticks_taken(one: StickList) -> str:
    counts: dict[str, int] = {}
    for stick in one.sticks:
        counts[stick.stock] = counts.get(stick.stock, 0) + stick.times
    return " and ".join(f"{count} of {name}" for name, count in counts.items())


def _cost(one: StickList) -> str:
    return f", {one.cost:.2f} in all" if one.cost else ""


def _outcome(one: StickList) -> str:
    if one.proven:
        return "; no other way of sawing takes less"
    share = math.ceil(round(one.may_save, 6) * 1000) / 10
    return f"; another way of sawing could save at most {share:g} %" if share else "; perhaps fewer sticks would do"


# Common practice, no source.
_MEASURE = "Measure each piece from the last cut, not all from one end: this allows for every kerf"
_LONGEST = "The longest pieces come first, so that after a mistake the remainder still gives the shorter ones"


def least_words(result: JobResult) -> str:
    """Return `, at least 5 by area` where the job takes more boards than the fewest it can need and cheaper ones might
    do, else nothing.
    """
    least = result.least
    return f", at least {least.count} by {least.by}" if least is not None and least.cheaper else ""


def may_save_boards(result: JobResult) -> bool:
    """Whether a longer search may find fewer boards: the last one ended with its effort before that was ruled out."""
    search, least = result.search, result.least
    longer = search is not None and search.unfinished and not search.stopped and search.effort in ("quick", "normal")
    return longer and least is not None and least.cheaper


def to_buy(result: JobResult) -> Iterator[tuple[int, str, float | None]]:
    """Yield the things to buy: how many, of what, and the price of one where it is known.

    These are the things the items need, sticks that the stock lacks, and the screws that hold the boards, which are
    used again for the next board.
    """
    for thing in result.bought:
        packed = thing.pack > 1
        name = f"pack of {thing.pack} {thing.name} ({thing.count} are used)" if packed else thing.name
        yield thing.packs, name, thing.price
    for one in result.sticks:
        missing = [setting for setting in one.settings if not setting.sticks]
        if missing:
            together = format_length(sum(setting.length * setting.count for setting in missing), unit=result.units)
            longest = format_length(max(setting.length for setting in missing), unit=result.units)
            kind = f"{section_words(one.section, result.units)} {sticks_of(one.section)}"
            count = sum(setting.count for setting in missing)
            yield count, f"piece of {kind}, {together} together, the longest {longest}", None
        yield from ((count, name, None) for name, count in one.to_add.items())
    screwed = [board for board in result.layout.boards if board.hold_downs]
    if screwed:
        most = max(screwed, key=lambda board: len(board.hold_downs))
        yield len(most.hold_downs), _screw_words(result, most), None


def _screw_words(result: JobResult, board: BoardLayout) -> str:
    """`screws for the waste, 1 1/2 in long, head at most 3/8 in wide`."""
    screws = result.machine.screws
    long = None
    if screws is not None:
        long = screws.length_for(board.height, spoilboard=result.machine.cutting.spoilboard)
    head = format_bought(2 * max(down.head for down in board.hold_downs), unit=result.units)
    length = "" if long is None else f", {format_bought(long, unit=result.units)} long"
    return f"screw for the waste{length}, head at most {head} wide"


def finish_name(one: Painted) -> str:
    """Return the name of a finish: `white`, or `paint or oil` where the job names none."""
    return "paint or oil" if one.coat is None else one.coat.name


def surfaces_words(one: Painted) -> str:
    """Return what a finish is on: `ends of pieces 1 to 9; all of topper`."""
    by_part: dict[str, list[str]] = {}
    for each in one.surfaces:
        by_part.setdefault(each.part, []).append(each.surface)
    by_surfaces: dict[tuple[str, ...], list[str]] = {}
    for part, surfaces in by_part.items():
        by_surfaces.setdefault(tuple(surfaces), []).append(part)
    return "; ".join(
        f"{'all' if {'faces', 'ends'} <= set(surfaces) else ' and '.join(surfaces)} of {several(parts)}"
        for surfaces, parts in by_surfaces.items()
    )


_NUMBERED = re.compile(r"(.*\S) (\d+)")


def several(names: Sequence[str]) -> str:
    """Return names in few words: `pieces 1 to 9, topper`."""
    words: list[str] = []
    split = [_NUMBERED.fullmatch(name) for name in dict.fromkeys(names)]
    for stem, run in groupby(zip(dict.fromkeys(names), split, strict=True), key=lambda one: one[1] and one[1][1]):
        found = list(run)
        if stem is None or len(found) == 1:
            words += [name for name, _ in found]
        else:
            numbers = number_ranges([int(match[2]) for _, match in found if match])
            words.append(f"{stem}s {numbers.replace('-', ' to ')}")
    return ", ".join(words)


def saw_rows(result: JobResult) -> Iterator[tuple[str, str, str, str]]:
    """Yield a row for each board to saw: the number of like boards, its name, the end to start from, and its
    cuts in order.
    """
    for board in result.layout.saw_order:
        cuts = "; ".join(_alike(_cuts(board.cuts, result.units)))
        yield str(board.count), board.board, f"{board.end} end", cuts


def saw_why(result: JobResult) -> str:
    """Return how to measure, and why the longest come first if they do on every board: keep-outs may not let them."""
    lengths = [[cut.length for cut in board.cuts] for board in result.layout.saw_order]
    falling = all(one > after - _SAME for board in lengths for one, after in pairwise(board))
    several = any(min(board) < max(board) - _SAME for board in lengths if board)
    return f"{_MEASURE}. {_LONGEST}" if falling and several else _MEASURE


def saw_lines(result: JobResult) -> Iterator[str]:
    """Yield a line for each board from which more than one cut is made."""
    for (count, name, end, cuts), board in zip(saw_rows(result), result.layout.saw_order, strict=True):
        first = board.cuts[0]
        if len(board.cuts) > 1 or first.waste or first.rips:
            yield f"saw in this order: {count} x {name}, from the {end}: {cuts}"


def _cuts(cuts: Sequence[SawCut], unit: Unit) -> Iterator[str]:
    for number, cut in enumerate(cuts):
        if cut.waste:
            off = format_length(cut.waste, unit=unit)
            squared = number == 0 and not cut.past_keep_out
            yield f"{off} off to {'square the end' if squared else 'clear a keep-out'}"
        length = format_length(cut.length, unit=unit)
        if cut.rips:
            strips = (f"{format_length(width, unit=unit)} wide {part} ({item})" for item, part, width in cut.rips)
            yield f"{length}, ripped into {', '.join(_alike(strips))}"
        else:
            yield f"{length} for {cut.part} ({cut.item})"


def _alike(words: Iterable[str]) -> Iterator[str]:
    """Words that follow each other unchanged, once, with their number."""
    for word, run in groupby(words):
        times = len(list(run))
        yield f"{times} x {word}" if times > 1 else word
