"""Jobs on pickets 72 x 5 1/2 in: what to make, and on which boards. Lengths mm."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from cutjob.designs.evaluate import evaluate
from cutjob.geometry.contour import circle, polyline
from cutjob.job.model import Make
from cutjob.job.stock import Board
from cutjob.parts.part import Build, Item
from cutjob.resolved import read_order
from tests.layout.makers import kept_out

INCH = 25.4
LENGTH, WIDTH, THICKNESS = 72 * INCH, 5.5 * INCH, 0.625 * INCH
MARGIN = INCH / 16
_SAMPLE = Path(__file__).parents[2] / "samples" / "garden-batch.toml"
_EAR = 1.25 * INCH
_MANY = 400  # pickets to buy, more than any job here takes
_PRICE = 3.40


def garden(count: int) -> list[Item]:
    """`count` items of the garden sample, in the shares of its order, of any wood. Nothing is sawn."""
    _, order = read_order(_SAMPLE)
    made = [0] * len(order)
    for _ in range(count):
        next_ = min(range(len(order)), key=lambda i: (made[i] / order[i].count, i))
        made[next_] += 1
    return [
        replace(item, count=number, build=Build(shaped=tuple(replace(part, wood=None) for part in item.build.shaped)))
        for item, number in zip(order, made, strict=True)
        if number
    ]


def arches(count: int) -> list[Item]:
    """`count` porch spinners: ten graded arches and a star, all along the grain."""
    make = Make(
        name="porch spinner",
        design="graded-stack",
        count=count,
        **{
            "with": {
                "tiers": 10, "longest": "21", "shortest": "5", "tallest": "2.4", "least_height": "1.1",
                "base": [], "topper": "star", "topper_diameter": "3",
            }
        },
    )  # fmt: skip
    made = evaluate(make, unit="in", location=None, key_locations={}, folder=Path(), thickness=THICKNESS)
    return [replace(made, build=Build(shaped=made.build.shaped))]


ITEMS: dict[str, Callable[[int], list[Item]]] = {"garden": garden, "arches": arches}


def _picket(*, ears: bool = False, knots: Sequence[tuple[float, float, float]] = ()) -> Board:
    e = _EAR if ears else 0.0
    corners = [(0.0, 0.0), (LENGTH - e, 0.0), (LENGTH, e), (LENGTH, WIDTH - e), (LENGTH - e, WIDTH), (0.0, WIDTH)]
    outline = polyline(list(dict.fromkeys(corners)))
    return Board(
        name="picket",
        outline=outline,
        keep_outs=kept_out(tuple(circle((x, y), radius) for x, y, radius in knots)),
        thickness=THICKNESS,
        grain="length",
        material="softwood",
        count=_MANY,
        price=_PRICE,
    )


def _end_cut(number: int, length: float, slant: float) -> Board:
    outline = polyline([(0, 0), (length, 0), (length - slant, WIDTH), (0, WIDTH)])
    return replace(_picket(), name=f"end cut {number}", outline=outline, count=1, price=0.0)


def boards(kind: str) -> list[Board]:
    """Pickets of a kind: plain, dog-eared, knotty, or plain ones with three end cuts that cost nothing."""
    if kind == "plain":
        return [_picket()]
    if kind == "dog-eared":
        return [_picket(ears=True)]
    if kind == "knots":
        return [_picket(knots=[(25 * INCH, 2.4 * INCH, 0.7 * INCH), (58 * INCH, 4.1 * INCH, 0.5 * INCH)])]
    if kind == "end cuts":
        return [
            _end_cut(1, 23 * INCH, 0.0),
            _end_cut(2, 19 * INCH, 3 * INCH),
            _end_cut(3, 12 * INCH, 2 * INCH),
            _picket(),
        ]
    raise ValueError(f"no such boards: {kind}")


BOARDS = ("plain", "dog-eared", "knots", "end cuts")

FEWEST = {
    ("garden", "plain", 0.125, 20): 2,
    ("garden", "plain", 0.125, 60): 5,
    ("garden", "plain", 0.25, 60): 5,
    ("garden", "knots", 0.25, 60): 6,
    ("arches", "plain", 0.25, 6): 5,
    ("arches", "knots", 0.125, 6): 4,
    ("arches", "plain", 0.25, 20): 14,
    ("arches", "plain", 0.25, 60): 40,
}
"""Pickets bought in the best run we know, by set, boards, gap in inches and number of items."""
