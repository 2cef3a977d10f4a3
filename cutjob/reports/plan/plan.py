"""A job's results to plan.json, on which other programs rely. Lengths in mm, areas as shares, times in seconds.

Placements have outlines as chords within 0.002 mm of the contour. Every list keeps the order in which it was worked
out, and the same job gives the same bytes.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from cutjob.costs.finishes import Painted
from cutjob.job.paper import PatternsWanted
from cutjob.layout.saw_order import SawnBoard
from cutjob.output.leftovers import KeptLeftover
from cutjob.output.numbers import rounded
from cutjob.output.operations import css_colour
from cutjob.output.paper.files import BOOKLET_FILE, PATTERNS_FILE
from cutjob.output.picture.finished import picture_file
from cutjob.parts.part import Item, RodPart, StripPart
from cutjob.proof.finding import ProofReport
from cutjob.reports.chosen import chosen_data
from cutjob.reports.money import money_data
from cutjob.reports.plan.board import board_data, ring
from cutjob.reports.plan.patterns import patterns_data
from cutjob.reports.plan.sticks import sticks_data
from cutjob.result import HandHoles, JobResult, Search
from cutjob.sticks.lists import measures_of
from cutjob.tolerances import TOLERANCES

SCHEMA = "cutjob-plan/1"
_DECIMALS = 6


def plan_of(result: JobResult) -> dict[str, object]:
    """Return the plan as plain data. Raises ValueError for numbers that are not finite.

    `least_boards` has a number of boards that no layout of the job goes below, by the "area" or the "length" of its
    parts; `boards_used` may be more. `chosen` is there where the job left counts open.

    A round hole is drilled if the cutter that makes it has its diameter (without programs: the profile's first cutter),
    else it is bored.
    """
    layout, proof = result.layout, result.proof
    plan = {
        "schema": SCHEMA,
        "title": result.title,
        "units": result.units,
        "machine": result.machine.name,
        "seed": layout.seed,
        "search": None if result.search is None else _search(result.search),
        "files": sorted(result.files),
        "boards": [board_data(board, result) for board in layout.boards],
        "patterns": _patterns(result),
        "booklet": _booklet(result),
        "sawn": [
            {
                "item": piece.item,
                "part": piece.part,
                "length": piece.length,
                "width": piece.width,
                "thickness": piece.thickness,
                "count": piece.count,
                "board": piece.board,
                "note": piece.note,
            }
            for piece in layout.sawn
        ],
        "saw_order": [_sawn_board(board) for board in layout.saw_order],
        "leftovers": [_leftover(kept) for kept in result.leftovers],
        "left_aside": [{"board": aside.board, "file": aside.file, "why": aside.why} for aside in result.left_aside],
        "rods": _sticks(result.items, RodPart),
        "strips": _sticks(result.items, StripPart),
        "sticks": sticks_data(result.sticks),
        "bought": [
            {"name": one.name, "count": one.count, "price": one.price, "pack": one.pack, "packs": one.packs}
            for one in result.bought
        ],
        "finishes": [_finish(one) for one in result.finishes],
        "hand_holes": [_hand_holes(holes) for holes in result.hand_holes],
        "items": [
            {
                "name": item.name,
                "design": item.design,
                "size": item.size,
                "count": item.count,
                "together": item.together,
                "facts": dict(item.build.facts),
                "picture": picture_file(number) if picture_file(number) in result.files else None,
                "machine_seconds": None if account is None else float(account.machine_hours.value * 3600 * item.count),
            }
            for number, (item, account) in enumerate(result.item_accounts, start=1)
        ],
        "boards_used": [
            {"board": used.board.name, "count": used.count, "price": used.board.price if used.board.priced else None}
            for used in result.boards_used
        ],
        "least_boards": None if result.least is None else {"count": result.least.count, "by": result.least.by},
        "yield": result.wood_yield,
        "cost": result.wood_cost,
        "money": money_data(result),
        **({} if result.chosen is None else {"chosen": chosen_data(result)}),
        "warnings": list(result.warnings),
        "cautions": [caution.full for caution in result.cautions],
        "proof": None if proof is None else _proof(proof),
    }
    made: dict[str, object] = _rounded(plan)
    return made


def proof_data(report: ProofReport) -> dict[str, object]:
    """Return a proof as data, lengths in mm."""
    return {
        "passed": report.passed,
        "worst_gouge_mm": report.worst_gouge,
        "worst_left_mm": report.worst_left,
        "worst_pattern_mm": report.worst_pattern,
        "findings": [
            {
                "check": one.check,
                "severity": one.severity,
                "message": one.message,
                "file": one.file,
                "line": one.line,
                "at": None if one.at is None else list(one.at),
                "z": one.z,
                "measured": one.measured,
                "limit": one.limit,
            }
            for one in report.findings
        ],
    }


def write_plan(plan: Mapping[str, object]) -> bytes:
    """Return a plan as JSON: UTF-8, a line per value, points and lists of plain values on one line."""
    return (_json(plan, "") + "\n").encode("utf-8", errors="backslashreplace")


def _proof(report: ProofReport) -> dict[str, object]:
    """The proof's figures, the limits for these, and all findings with their places."""
    figures = proof_data(report)
    findings = figures.pop("findings")
    return {**figures, "greatest_allowed_mm": TOLERANCES.acceptance, "findings": findings}


def _search(search: Search) -> dict[str, object]:
    """What was asked for; `unfinished`: the effort ended while fewer boards might still be found."""
    asked = {"effort": search.effort} if search.seconds is None else {"seconds": search.seconds}
    return {
        "seed": search.seed,
        **asked,
        "stopped": search.stopped,
        "clock_decided": search.clock_decided,
        "unfinished": search.unfinished,
    }


def _patterns(result: JobResult) -> dict[str, object] | None:
    """The patterns' entry."""
    if result.on_paper is None or result.on_paper.patterns is None:
        return None
    return patterns_data(result.on_paper.patterns, result.layout, result.patterns, file=PATTERNS_FILE)


def _booklet(result: JobResult) -> dict[str, object] | None:
    """The booklet's entry: the names of its items, and its templates as those of `patterns`."""
    if result.booklet is None:
        return None
    data = patterns_data(result.booklet, result.layout, PatternsWanted(), file=BOOKLET_FILE)
    return {**data, "items": list(result.in_booklet)}


def _sawn_board(board: SawnBoard) -> dict[str, object]:
    """A board to saw; `at` is the distance of a piece's start from the board's square end."""
    return {
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


def _leftover(kept: KeptLeftover) -> dict[str, object]:
    """`at` is the place of the leftover's frame in the frame of `board`; null if pieces were only sawn off."""
    leftover = kept.leftover
    return {
        "name": kept.name,
        "board": leftover.layout,
        "stock": leftover.board.name,
        "at": list(leftover.at),
        "outline": ring(leftover.board.outline),
        "area": leftover.area,
        "count": leftover.board.count,
    }


def _sticks(items: Sequence[Item], kind: type[RodPart | StripPart]) -> list[dict[str, object]]:
    return [
        {
            "item": item.name,
            "part": stick.name,
            **measures_of(stick.section),
            "length": stick.length,
            "count": item.count * alike,
            "note": stick.note,
        }
        for item in items
        for stick, alike in Counter(item.build.sticks).items()
        if isinstance(stick, kind)
    ]


def _hand_holes(holes: HandHoles) -> dict[str, object]:
    hole = holes.hole
    return {
        "item": holes.item,
        "part": hole.part,
        "diameter": hole.diameter,
        "depth": hole.depth,
        "count": holes.count,
        "note": hole.note,
    }


def _finish(one: Painted) -> dict[str, object]:
    """What one of an item gets painted with. Areas are in m2, of one coat."""
    coat = one.coat
    return {
        "item": one.item,
        "count": one.count,
        "finish": None if coat is None else coat.name,
        "colour": None if coat is None or coat.clear else css_colour(coat.colour),
        "coats": one.coats,
        "drying_hours": one.drying,
        "area_m2": one.area,
        "surfaces": [{"part": each.part, "surface": each.surface, "area_m2": each.area} for each in one.surfaces],
    }


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return rounded(value, _DECIMALS)
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_rounded(inner) for inner in value]
    return value


def _json(value: Any, indent: str) -> str:
    deeper = indent + " "
    if isinstance(value, Mapping) and value:
        rows = [
            f"{deeper}{json.dumps(key, ensure_ascii=False)}: {_json(inner, deeper)}" for key, inner in value.items()
        ]
        return "{\n" + ",\n".join(rows) + f"\n{indent}}}"
    if isinstance(value, list) and any(isinstance(inner, Mapping) for inner in value):
        return "[\n" + ",\n".join(deeper + _json(inner, deeper) for inner in value) + f"\n{indent}]"
    return _plain(value)


def _plain(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
