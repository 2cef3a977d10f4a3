"""A finished job's value from what a test is about, the rest as small as it can be."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from cutjob.job.model import RodStock, StripStock
from cutjob.output.picture.finished import Looks, Views
from cutjob.parts.part import Build, Item, RodPart, StripPart
from cutjob.result import JobResult
from cutjob.sticks.lists import stick_lists
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
    made |= changes
    views = tuple(Views(one.build, Looks()) for one in made["items"])
    return JobResult(**({"views": views} | made))


INCH = 25.4
RODS = tuple(
    RodPart(name=f"rod {n + 1}", diameter=0.75 * INCH, length=(12 - 2 * n) * INCH, note="ease") for n in range(3)
)
STRIPS = (StripPart(name="rail", width=1.5 * INCH, thickness=0.5 * INCH, length=30 * INCH),)
DOWELS = RodStock(name="3/4 dowel", diameter=0.75 * INCH, length=48 * INCH, count=4, price=2.10)
BATTENS = StripStock(name="batten", width=1.5 * INCH, thickness=0.5 * INCH, length=30 * INCH, count=1)


def stick_job(stock: Sequence[RodStock | StripStock], units: str = "in", **build: Any) -> JobResult:
    """Two fans of rods and strips off sticks in stock, sawn by a kerf of 1/8 in."""
    fans = (Item(name="fan", design="test", size="medium", count=2, build=Build(**build)),)
    return job_result(units=units, items=fans, sticks=stick_lists(fans, stock, saw_kerf=INCH / 8))
