"""What to saw off boards, board by board and in order: as data for the plan, and in words from the plan.

The lists of rods and strips in words, from plan.json's content, lengths in its own units.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, pairwise
from typing import Any

from cutjob.layout.saw_order import SawnBoard
from cutjob.parts.part import Section
from cutjob.sticks.lists import section_words, sticks_of
from cutjob.units import Unit, down_to_tape, format_length

_MOST_LINES = 12  # of sticks of a section in the terminal; the job sheet has them all


def stick_lines(plan: dict[str, Any]) -> Iterator[str]:
    """Yield what to saw rods and strips into: a line for each section, and one for each kind of stick sawn.

    Where the stock has none of a section, a line for each of its pieces instead.
    """
    unit: Unit = "in" if plan.get("units") == "in" else "mm"
    for one in plan.get("sticks", ()):
        kind, size = f"{kind_of(one)}s", size_words(one, unit)
        if not one["sticks"]:
            for setting in one["stop_settings"]:
                length = format_length(setting["length"], unit=unit)
                yield f"{kind}: {setting['count']} of {size}, {length} long ({parts_words(setting)})"
            continue
        yield f"{kind}: {_count(one)} of {size} off {_bought(one)}{_cost(one)}{_outcome(one)}"
        lines = [stick_line(stick, unit) for stick in one["sticks"]]
        yield from (f"{kind}: no. {line}" for line in lines[:_MOST_LINES])
        if len(lines) > _MOST_LINES:
            more = len(lines) - _MOST_LINES
            ways = "1 more way" if more == 1 else f"{more} more ways"
            yield f"{kind}: {ways} of sawing in plan.json and on the job sheet"


def stick_line(stick: dict[str, Any], unit: Unit) -> str:
    """Return one line for sticks sawn alike: `1, 2 x dowel of 48 in: 12 in, 2 x 11 in; 1/2 in left`."""
    times = f"{stick['count']} x " if stick["count"] > 1 else ""
    length = format_length(stick["length"], unit=unit)
    pieces, left = pieces_words(stick, unit), left_words(stick, unit)
    return f"{stick['number']}, {times}{stick['stock']} of {length}: {pieces}; {left} left"


def pieces_words(stick: dict[str, Any], unit: Unit) -> str:
    """Return the lengths a stick gives: `12 in, 2 x 11 in`."""
    return ", ".join(
        (f"{piece['count']} x " if piece["count"] > 1 else "") + format_length(piece["length"], unit=unit)
        for piece in stick["pieces"]
    )


def left_words(stick: dict[str, Any], unit: Unit) -> str:
    """Return what is left of a stick, rounded down to a 16th of an inch or a whole mm."""
    left = down_to_tape(stick["left"], unit)
    return format_length(left, unit=unit) if left > 0 else "nothing"


def parts_words(setting: dict[str, Any]) -> str:
    """Return the parts that pieces of one length are for."""
    return "; ".join(f"{part['part']}, {part['item']}" for part in setting["parts"])


def kind_of(one: dict[str, Any]) -> str:
    """Return what sticks of a section are called."""
    return sticks_of(_section(one))


def size_words(one: dict[str, Any], unit: Unit) -> str:
    """Return the section: `3/4 in`, or `1 1/2 in x 3/4 in`."""
    return section_words(_section(one), unit)


def _section(one: dict[str, Any]) -> Section:
    return tuple(one[key] for key in ("diameter", "width", "thickness") if key in one)


def _count(one: dict[str, Any]) -> str:
    count = sum(setting["count"] for setting in one["stop_settings"] if setting["sticks"])
    return "1 piece" if count == 1 else f"{count} pieces"


def _bought(one: dict[str, Any]) -> str:
    counts: dict[str, int] = {}
    for stick in one["sticks"]:
        counts[stick["stock"]] = counts.get(stick["stock"], 0) + stick["count"]
    return " and ".join(f"{count} of {name}" for name, count in counts.items())


def _cost(one: dict[str, Any]) -> str:
    return f", {one['cost']:.2f} in all" if one["cost"] else ""


def _outcome(one: dict[str, Any]) -> str:
    if one["proven"]:
        return "; no other way of sawing takes less"
    share = math.ceil(one["may_save"] * 1000) / 10
    return f"; another way of sawing could save at most {share:g} %" if share else "; perhaps fewer sticks would do"


# Common practice, no source.
_MEASURE = "Measure each piece from the end the last cut left, not all from one end: every kerf is then allowed for"
_LONGEST = "The longest come first, so that after a slip the rest still gives the shorter ones"


def saw_order_data(order: Sequence[SawnBoard]) -> list[dict[str, Any]]:
    """Return the boards to saw as data, lengths in mm; `at` is where a piece begins, from the board's square end."""
    return [
        {
            "board": board.board,
            "end": board.end,
            "count": board.count,
            "cuts": [
                {
                    "item": cut.item,
                    "part": cut.part,
                    "length": cut.length,
                    "at": cut.at,
                    "waste": cut.waste,
                    "past_keep_out": cut.past_keep_out,
                    "rips": [{"item": item, "part": part, "width": width} for item, part, width in cut.rips],
                }
                for cut in board.cuts
            ],
        }
        for board in order
    ]


def saw_rows(plan: dict[str, Any]) -> Iterator[tuple[str, str, str, str]]:
    """Yield for each board to saw: how many alike, its name, the end to start from, and its cuts in order."""
    unit: Unit = "in" if plan.get("units") == "in" else "mm"
    for board in plan.get("saw_order", ()):
        cuts = "; ".join(_alike(_cuts(board["cuts"], unit)))
        yield str(board["count"]), str(board["board"]), f"{board['end']} end", cuts


def saw_why(plan: dict[str, Any]) -> str:
    """Return how to measure, and why the longest come first if they do on every board: keep-outs may not let them."""
    lengths = [[cut["length"] for cut in board["cuts"]] for board in plan.get("saw_order", ())]
    falling = all(one >= after for board in lengths for one, after in pairwise(board))
    several = any(min(board) < max(board) for board in lengths if board)
    return f"{_MEASURE}. {_LONGEST}" if falling and several else _MEASURE


def saw_lines(plan: dict[str, Any]) -> Iterator[str]:
    """Yield a line for each board from which more than one cut is made."""
    for (count, name, end, cuts), board in zip(saw_rows(plan), plan.get("saw_order", ()), strict=True):
        first = board["cuts"][0]
        if len(board["cuts"]) > 1 or first["waste"] or first["rips"]:
            yield f"saw in this order: {count} x {name}, from the {end}: {cuts}"


def _cuts(cuts: Sequence[dict[str, Any]], unit: Unit) -> Iterator[str]:
    for number, cut in enumerate(cuts):
        if cut["waste"]:
            off = format_length(cut["waste"], unit=unit)
            squared = number == 0 and not cut["past_keep_out"]
            yield f"{off} off to {'square the end' if squared else 'come clear of a keep-out'}"
        length = format_length(cut["length"], unit=unit)
        if cut["rips"]:
            strips = (f"{format_length(r['width'], unit=unit)} wide {r['part']} ({r['item']})" for r in cut["rips"])
            yield f"{length}, ripped into {', '.join(_alike(strips))}"
        else:
            yield f"{length} {cut['part']} ({cut['item']})"


def _alike(words: Iterable[str]) -> Iterator[str]:
    """The same one after another once, with how often."""
    for word, run in groupby(words):
        times = len(list(run))
        yield f"{times} x {word}" if times > 1 else word
