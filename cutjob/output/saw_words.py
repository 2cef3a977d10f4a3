"""What to saw off boards, board by board and in order: as data for the plan, and in words from the plan."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, pairwise
from typing import Any

from cutjob.layout.saw_order import SawnBoard
from cutjob.units import Unit, format_length

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
