"""The result of a run in short: a screen of a finished job, and the same as data.

A screen has at most `MOST_LINES` lines. Each group of it opens with a word for what it is about: what is made, what the
machine runs, how the wood is held, the wood, the work by hand, what to buy, the cost. Warnings take the lines that the
groups leave free. A group that does not fit ends in `...`: the job sheet and `--verbose` have all of it.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path
from typing import Any

from cutjob.cli.progress import one_line
from cutjob.counting import counted
from cutjob.layout.layout import BoardLayout
from cutjob.output.paper.files import PATTERNS_FILE
from cutjob.output.words.cautions import OVER_ALL
from cutjob.output.words.held import hold_areas
from cutjob.program.moves import Program
from cutjob.proof.finding import ProofReport
from cutjob.reports.chosen import chosen_words
from cutjob.reports.money import summary_words
from cutjob.reports.words import drawing_words, least_words, may_save_boards, to_buy
from cutjob.result import JobResult

MOST_LINES = 15
PIPED_WIDTH = 100  # letters of a line where no terminal says how many it has
_LEAST_WIDTH = 40
_LABEL = 9  # letters
_SHEET = "job-sheet.html"
_MOST_NAMED = 4  # things without a price


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """A word for what `text` is about, and how many lines it may take."""

    label: str
    text: str
    most: int = 1


def verdict(report: ProofReport) -> str:
    """Return the outcome of a proof in a few words."""
    errors = sum(finding.severity == "error" for finding in report.findings)
    return "passed" if report.passed else f"failed, {errors} {'error' if errors == 1 else 'errors'}"


# Of plan.json; outlines are left out.
_OF_BOARDS = ("id", "stock", "material", "stack", "copies", "windows", "hold_downs", "held_by", "programs")
_OF_PLAN = (
    "search",
    "items",
    "sawn",
    "saw_order",
    "rods",
    "strips",
    "sticks",
    "bought",
    "hand_holes",
    "boards_used",
    "least_boards",
    "yield",
    "cost",
    "money",
    "warnings",
    "cautions",
)


def summary_data(result: JobResult, plan: dict[str, Any]) -> dict[str, Any]:
    """Return the summary as data: plan.json without outlines, and counts."""
    boards = [
        {key: value for key, value in board.items() if key in _OF_BOARDS} | {"parts": len(board["placements"])}
        for board in plan["boards"]
    ]
    return {
        "boards": boards,
        "layouts": len(boards),
        "runs": result.runs,
        "together": [{"item": name, "units": where} for name, where in result.together.items()],
        **{key: plan[key] for key in _OF_PLAN},
        **{key: plan[key] for key in ("chosen",) if key in plan},
        "leftovers": [
            {key: value for key, value in leftover.items() if key != "outline"} for leftover in plan["leftovers"]
        ],
    }


def summary_lines(
    result: JobResult, proof: ProofReport, *, folder: Path, refused: Path | None = None, width: int = PIPED_WIDTH
) -> list[str]:
    """Return the screen of a finished job; `refused` is the folder of the pictures of a proof that failed.

    No line is longer than `width` letters, unless a single word is.
    """
    warnings = (*result.warnings, *(one.words(result.units) for one in proof.findings if proof.passed))
    groups = [group for group in _groups(result) if group.text] if proof.passed else []
    last = _end(result, proof, folder, refused, width)
    safety = _lines(_Group(label="safety", text=_safety(result), most=2), width) if result.cautions else []
    room = MOST_LINES - len(safety) - len(last)
    lines = _fitting(groups, room - min(2, len(warnings)), width)
    free = room - len(lines)
    where = f"see {_SHEET} or --verbose" if _SHEET in result.files else "see --verbose"
    return [*lines, *_warnings(warnings, where, max(free, 1), width), *safety, *last]


def _fitting(groups: Sequence[_Group], most: int, width: int) -> list[str]:
    """The lines of the groups. If there are more than `most`, the longest group loses a line, again and again, until
    all fit; no group loses its last line.
    """
    groups = list(groups)
    while True:
        lines = [_lines(group, width) for group in groups]
        longest = max(range(len(groups)), key=lambda number: len(lines[number]), default=0)
        if sum(map(len, lines)) <= most or len(lines[longest]) < 2:
            return [line for one in lines for line in one]
        groups[longest] = replace(groups[longest], most=len(lines[longest]) - 1)


def _lines(group: _Group, width: int) -> list[str]:
    """The group's text in lines, its label before the first one."""
    return textwrap.wrap(
        one_line(group.text),
        width=max(width, _LEAST_WIDTH),
        initial_indent=group.label.ljust(_LABEL),
        subsequent_indent=" " * _LABEL,
        max_lines=group.most,
        placeholder=" ...",
        break_long_words=False,
        break_on_hyphens=False,
    )


def _warnings(warnings: Sequence[str], where: str, most: int, width: int) -> list[str]:
    """The warnings that fit in `most` lines; the last line says how many are left out, and where to read them."""
    for each in (4, 3, 2, 1):
        whole = [_lines(_Group(label="warning", text=warning, most=each), width) for warning in warnings]
        if sum(map(len, whole)) <= most:
            return [line for lines in whole for line in lines]
    short = [_lines(_Group(label="warning", text=warning), width) for warning in warnings[: most - 1]]
    left = counted(len(warnings) - len(short), "more warning" if short else "warning")
    last = _Group(label="warning", text=f"{left}: {where}")
    return [line for lines in (*short, _lines(last, width)) for line in lines]


def _groups(result: JobResult) -> Iterator[_Group]:
    made = ", ".join(f"{item.count} {item.name}" for item in result.items)
    yield _Group(label="made", text=made, most=2 if len(result.items) < 9 else 1)
    yield _Group(label="chosen", text=chosen_words(result), most=2)
    yield from _runs(result)
    yield _Group(label="held", text=_held(result))
    yield _Group(label="wood", text="; ".join(_wood(result)), most=2)
    yield _Group(label="by hand", text=", ".join(_by_hand(result)))
    yield _Group(label="buy", text="; ".join(f"{count} x {what}" for count, what, _ in to_buy(result)), most=2)
    yield _Group(label="cost", text=_cost(result), most=3)
    yield _Group(label="search", text=_search(result))


def _runs(result: JobResult) -> Iterator[_Group]:
    boards = result.layout.boards
    if result.programs:
        minutes = f"{result.machine_seconds / 60:.1f} min on the machine in {counted(result.runs, 'run')}"
        files = "; ".join(_program(board, one) for board in boards for one in result.programs_of(board))
        yield _Group(label="run", text=f"{minutes}: {files}", most=3)
    elif result.drawings and not result.machine.by_hand:
        files = "; ".join(
            f"{one.file} ({_times(board)}{board.board.name})" for board in boards for one in result.drawings_of(board)
        )
        yield _Group(label="send", text="; ".join((files, *drawing_words(result))), most=4)
    elif boards:
        sawn = "; ".join(
            f"{alike} x {name}"
            for name, several in groupby(boards, key=lambda board: board.board.name)
            for alike in [sum(board.stack * board.copies for board in several)]
        )
        by = f" by {PATTERNS_FILE}" if PATTERNS_FILE in result.files else ""
        yield _Group(label="saw", text=f"{sawn}{by}", most=2)


def _program(board: BoardLayout, program: Program) -> str:
    window = f", window {program.window + 1}" if program.window is not None and len(board.windows) > 1 else ""
    runs = f", {board.copies} times" if board.copies > 1 else ""
    stack = f"{board.stack} at once of " if board.stack > 1 else ""
    return f"{program.file} ({stack}{board.board.name}{window}, {program.seconds / 60:.1f} min{runs})"


def _times(board: BoardLayout) -> str:
    count = board.stack * board.copies
    return f"{count} x " if count > 1 else ""


def _held(result: JobResult) -> str:
    """What holds the boards, and how many bridges are sawn off afterwards."""
    held = [board for board in result.layout.boards if board.holding is not None]
    kinds: dict[str, list[int]] = {}
    bridges = 0
    for board in held:
        assert board.holding is not None
        bridges += len(board.holding.bridges) * board.copies
        by = board.holding.by
        number = {"clamps": len(hold_areas(board)), "screws": len(board.hold_downs)}.get(by, 0)
        kinds.setdefault(by, []).append(number)
    words = [
        _each(by, numbers) if by in ("clamps", "screws") else f"{by} under the whole board"
        for by, numbers in kinds.items()
    ]
    if bridges:
        words.append(f"{counted(bridges, 'bridge')} of wood between the parts, to saw off afterwards")
    return "; ".join(words)


def _each(by: str, numbers: Sequence[int]) -> str:
    least, most = min(numbers), max(numbers)
    count = counted(most, by.removesuffix("s")) if least == most else f"{least} to {most} {by}"
    return f"{count} on {'the board' if len(numbers) == 1 else 'each board'}"


def _wood(result: JobResult) -> Iterator[str]:
    used = "; ".join(f"{kind.count} x {kind.board.name}" for kind in result.boards_used)
    if used:
        share = "" if result.wood_yield is None else f"; {result.wood_yield:.0%} of the wood used"
        yield f"{used}{least_words(result)}{share}"
    sticks: dict[str, int] = {}
    for one in result.sticks:
        for stick in one.sticks:
            sticks[stick.stock] = sticks.get(stick.stock, 0) + stick.times
    if sticks:
        yield ", ".join(f"{count} x {name}" for name, count in sticks.items())
    kept = sum(one.leftover.board.count for one in result.leftovers)
    if kept:
        yield f"{counted(kept, 'offcut')} worth keeping"
    if result.left_aside:
        yield f"{counted(len(result.left_aside), 'board')} in stock left aside, --verbose says why"


def _by_hand(result: JobResult) -> Iterator[str]:
    sawn = sum(piece.count for piece in result.layout.sawn)
    if sawn:
        yield f"saw {counted(sawn, 'piece')} off boards first"
    sticks = sum(setting.count for one in result.sticks for setting in one.settings)
    if sticks:
        yield f"saw {counted(sticks, 'piece')} off rods or strips"
    holes = sum(one.count for one in result.hand_holes)
    if holes:
        yield f"drill {counted(holes, 'hole')}"


def _cost(result: JobResult) -> str:
    """What the batch and each item cost and should sell for, and what has no price; a service's work never has one."""
    unpriced = () if result.account is None else result.account.not_counted
    without = []
    if result.drawings and not result.programs and not result.machine.by_hand:
        without.append("what the service asks")
    without += unpriced[:_MOST_NAMED]
    more = f" and {len(unpriced) - _MOST_NAMED} more" if len(unpriced) > _MOST_NAMED else ""
    return summary_words(result, without=f" without {', '.join(without)}{more}" if without else "")


def _search(result: JobResult) -> str:
    search = result.search
    if search is not None and search.stopped:
        return "stopped by hand with the best layout so far; another run may give another"
    if search is not None and search.seconds is not None:
        return f"{search.seconds:g} seconds by the clock; another run may give another layout"
    if search is not None and may_save_boards(result):
        return "a longer search may save a board: --effort best"
    return ""


def _safety(result: JobResult) -> str:
    """The topics of the cautions, those of the wood first, and where to read them."""
    found = sorted(result.cautions, key=lambda caution: not caution.of_wood)
    topics = dict.fromkeys(caution.topic for caution in found if caution is not OVER_ALL)
    where = _SHEET if _SHEET in result.files else "the cautions (--verbose)"
    return f"read the machine's manual and {where} first: {'; '.join(topics)}"


def _end(result: JobResult, proof: ProofReport, folder: Path, refused: Path | None, width: int) -> list[str]:
    """The outcome of the proof and where the files are; a path is at the end of its line and is never broken."""
    if proof.passed:
        start = f" (start with {_SHEET})" if _SHEET in result.files else ""
        said, files = "passed: read back, the files cut what was meant", [_path("files", f"{folder}{start}")]
    else:
        said, files = f"{verdict(proof)}: nothing was written to {folder}", []
        if refused is not None:
            files = [_path("pictures", f"{refused} (each place found is ringed)")]
    return [*_lines(_Group(label="proof", text=said, most=3), width), *files]


def _path(label: str, text: str) -> str:
    return f"{label.ljust(_LABEL)}{one_line(text)}"
