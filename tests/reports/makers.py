"""A finished job's value from what a test is about, the rest as small as it can be."""

from __future__ import annotations

from typing import Any

from cutjob.result import JobResult
from tests.output.samples import items, machine, picket, whole_layout


def job_result(**changes: Any) -> JobResult:
    """The samples' name tags and gull on a board, in mm, without files, programs, costs or a proof."""
    made: dict[str, Any] = {
        "title": "Spring market",
        "units": "mm",
        "machine": machine(),
        "items": items(),
        "layout": whole_layout(),
        "stock": (picket(),),
    }
    return JobResult(**(made | changes))
