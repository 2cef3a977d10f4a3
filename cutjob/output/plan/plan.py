"""A job's results to plan.json: what other programs rely on. Lengths mm, areas by their share, times in seconds.

Placements carry outlines as chords within 0.002 mm of the contour. The order of every list is the order in which it
was worked out, and the same job gives the same bytes.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from itertools import zip_longest
from typing import Any

from cutjob.job.machine import Machine
from cutjob.job.read_stock import LeftAside
from cutjob.job.stock import Board
from cutjob.layout.layout import Layout
from cutjob.output.costs import ItemCost, boards_used, wood_cost, wood_yield
from cutjob.output.leftovers import KeptLeftover
from cutjob.output.numbers import rounded
from cutjob.output.plan.board import DrawingFile, board_data, ring
from cutjob.output.plan.sticks import section_data, sticks_data
from cutjob.output.words.sawing import saw_order_data
from cutjob.parts.part import Item, RodPart, StripPart
from cutjob.program.moves import Program
from cutjob.proof.finding import ProofReport
from cutjob.sticks.lists import StickList
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit

SCHEMA = "cutjob-plan/1"
_DECIMALS = 6


def plan_of(
    *,
    title: str,
    units: Unit,
    machine: Machine,
    items: Sequence[Item],
    layout: Layout,
    stock: Sequence[Board],
    programs: Sequence[Program] = (),
    drawings: Sequence[DrawingFile] = (),
    warnings: Sequence[str] = (),
    cautions: Sequence[str] = (),
    files: Sequence[str] = (),
    proof: Mapping[str, Any] | None = None,
    leftovers: Sequence[KeptLeftover] = (),
    left_aside: Sequence[LeftAside] = (),
    search: Mapping[str, Any] | None = None,
    costs: Sequence[ItemCost] = (),
    sticks: Sequence[StickList] = (),
    bought_prices: Mapping[str, float] | None = None,
    patterns: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """Return the plan as plain data. `proof` has `passed`, `worst_gouge_mm` and `worst_left_mm` and may have
    `findings`, each a mapping, or is None: not made.

    `stock` holds the job's kinds of board, whole, for what the boards used cost and how much of them is parts;
    `sticks` are the lists of its rods and strips, and `left_aside` boards in stock that the job did not take. A round
    hole is a drilled one where the cutter that makes it has its diameter (without programs: the profile's first
    cutter), else a bored one. `costs` are those of the items, in order, if known, and `bought_prices` those of
    one of each thing to buy, by name; `patterns` say what patterns.pdf shows. Raises ValueError for numbers that are
    not finite.
    """
    plan = {
        "schema": SCHEMA,
        "title": title,
        "units": units,
        "machine": machine.name,
        "seed": layout.seed,
        "search": None if search is None else dict(search),
        "files": sorted(files),
        "boards": [board_data(board, machine=machine, programs=programs, drawings=drawings) for board in layout.boards],
        "patterns": None if patterns is None else dict(patterns),
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
        "saw_order": saw_order_data(layout.saw_order),
        "leftovers": [_leftover(kept) for kept in leftovers],
        "left_aside": [{"board": aside.board, "file": aside.file, "why": aside.why} for aside in left_aside],
        "rods": _sticks(items, RodPart),
        "strips": _sticks(items, StripPart),
        "sticks": sticks_data(sticks),
        "bought": _bought(items, bought_prices or {}),
        "hand_holes": _hand_holes(items),
        "items": [
            {
                "name": item.name,
                "design": item.design,
                "size": item.size,
                "count": item.count,
                "together": item.together,
                "facts": dict(item.build.facts),
                **_costs(item, cost),
            }
            for item, cost in zip_longest(items, costs)
        ],
        "boards_used": _boards_used(layout, stock),
        "yield": wood_yield(layout, stock),
        "cost": wood_cost(layout, stock),
        "warnings": list(warnings),
        "cautions": list(cautions),
        "proof": None if proof is None else _proof(proof),
    }
    made: dict[str, Any] = _rounded(plan)
    return made


def proof_data(report: ProofReport) -> dict[str, Any]:
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
                "at": one.at,
                "z": one.z,
                "measured": one.measured,
                "limit": one.limit,
            }
            for one in report.findings
        ],
    }


def write_plan(plan: Mapping[str, Any]) -> bytes:
    """Return a plan as JSON: UTF-8, a line per value, points and lists of plain values on one line."""
    return (_json(plan, "") + "\n").encode("utf-8", errors="backslashreplace")


def _proof(proof: Mapping[str, Any]) -> dict[str, Any]:
    """The proof's figures: the worst measures, what they are allowed to be, and everything found with its place."""
    figures = {key: proof[key] for key in ("passed", "worst_gouge_mm", "worst_left_mm")}
    figures["worst_pattern_mm"] = proof.get("worst_pattern_mm")
    findings = [dict(finding) for finding in proof.get("findings", ())]
    for finding in findings:
        if finding.get("at") is not None:
            finding["at"] = list(finding["at"])
    return {**figures, "greatest_allowed_mm": TOLERANCES.acceptance, "findings": findings}


def _boards_used(layout: Layout, stock: Sequence[Board]) -> list[dict[str, Any]]:
    """How many of each kind, in the order of the stock, and the price of one."""
    used = boards_used(layout)
    return [
        {"board": board.name, "count": used[board.name], "price": board.price} for board in stock if board.name in used
    ]


def _leftover(kept: KeptLeftover) -> dict[str, Any]:
    """`at` is the place of its own frame in the frame of `board`, which is null where pieces were only sawn off."""
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


def _sticks(items: Sequence[Item], kind: type[RodPart | StripPart]) -> list[dict[str, Any]]:
    return [
        {
            "item": item.name,
            "part": stick.name,
            **section_data(stick.section),
            "length": stick.length,
            "count": item.count * alike,
            "note": stick.note,
        }
        for item in items
        for stick, alike in _counted(item.build.sticks).items()
        if isinstance(stick, kind)
    ]


def _bought(items: Sequence[Item], prices: Mapping[str, float]) -> list[dict[str, Any]]:
    counts: dict[str, int] = {}
    for item in items:
        for part in item.build.bought:
            counts[part.name] = counts.get(part.name, 0) + part.count * item.count
    return [{"name": name, "count": count, "price": prices.get(name)} for name, count in counts.items()]


def _costs(item: Item, cost: ItemCost | None) -> dict[str, Any]:
    """An item's machine time and costs, all for its whole count but `each`; null where nothing has a price."""
    if cost is None:
        return {"machine_seconds": None, "costs": None}
    known = {key: getattr(cost, key) for key in ("boards", "sticks", "bought", "machine", "in_all")}
    figures = {**known, "each": cost.in_all / item.count, "not_counted": list(cost.not_counted)}
    return {"machine_seconds": cost.seconds, "costs": figures if cost.in_all > 0 else None}


def _hand_holes(items: Sequence[Item]) -> list[dict[str, Any]]:
    return [
        {
            "item": item.name,
            "part": hole.part,
            "diameter": hole.diameter,
            "depth": hole.depth,
            "count": item.count * alike,
            "note": hole.note,
        }
        for item in items
        for hole, alike in _counted(item.build.hand_holes).items()
    ]


def _counted(values: Sequence[Any]) -> dict[Any, int]:
    counts: dict[Any, int] = {}
    for value in values:
        counts[value] = counts.get(value, 0) + 1
    return counts


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


__all__ = ["SCHEMA", "DrawingFile", "plan_of", "proof_data", "write_plan"]
