"""What a run came to, as data and as rows of text: the summary the commands print."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from cutjob.proof.finding import ProofReport

HEAD = ("layout", "board", "boards", "parts", "file", "cutter", "minutes")


def proof_data(report: ProofReport) -> dict[str, Any]:
    """Return a proof as data, lengths in mm."""
    return {
        "passed": report.passed,
        "worst_gouge_mm": report.worst_gouge,
        "worst_left_mm": report.worst_left,
        "findings": [
            {
                "check": one.check,
                "severity": one.severity,
                "message": one.message,
                "file": one.file,
                "line": one.line,
                "at": one.at,
                "measured": one.measured,
                "limit": one.limit,
            }
            for one in report.findings
        ],
    }


def verdict(report: ProofReport) -> str:
    """Return the outcome of a proof in a few words."""
    errors = sum(finding.severity == "error" for finding in report.findings)
    return "passed" if report.passed else f"failed, {errors} {'error' if errors == 1 else 'errors'}"


def part_of_plan(plan: dict[str, Any]) -> dict[str, Any]:
    """Return the summary's share of plan.json: everything but outlines."""
    boards = [
        {
            key: value
            for key, value in board.items()
            if key in ("id", "stock", "material", "stack", "copies", "programs")
        }
        | {"parts": len(board.get("placements", ()))}
        for board in plan.get("boards", ())
    ]
    rest: dict[str, Any] = {key: plan[key] for key in ("sawn", "rods", "bought", "yield", "warnings") if key in plan}
    return {"boards": boards, **rest}


def summary_rows(plan: dict[str, Any]) -> Iterator[tuple[str, ...]]:
    """Yield a row for each program of a plan: layout, board, boards, parts, file, cutter, minutes."""
    for board in plan.get("boards", ()):
        sheets = board.get("copies", 1) * board.get("stack", 1)
        head = (
            str(board.get("id", "")),
            str(board.get("stock", "")),
            str(sheets),
            str(len(board.get("placements", ()))),
        )
        programs = board.get("programs", ())
        for program in programs:
            cutter = program.get("cutter", {}).get("number", "")
            minutes = f"{program.get('seconds', 0) / 60:.1f}"
            yield (*head, str(program.get("file", "")), str(cutter), minutes)
        if not programs:
            yield (*head, "", "", "")
