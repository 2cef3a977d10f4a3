"""Everything but the layout search, for thousands of different shaped parts laid on sheets in rows.

    python -m tests.benchmarks.scale 1000 4000

Each part is a shape of its own (lines and arcs, a bored hole and two drilled ones, every third with an opening).
Prints the seconds of each stage,
the whole, and the growth against n log n.
"""

from __future__ import annotations

import math
import os
import random
import resource
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from itertools import pairwise
from multiprocessing import get_context
from typing import Any

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.cuts.cutter_choice import Cutters
from cutjob.finishing import FilesWanted, finish_boards, joined
from cutjob.geometry.contour import Contour, Region, circle, polyline
from cutjob.geometry.segment import arc_through_bulge
from cutjob.geometry.transform import Transform
from cutjob.holding.hold import hold_boards
from cutjob.job.model import BoardStock
from cutjob.job.read_machine import read_machine
from cutjob.job.stock import Board, board_of
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import Hole, ShapedPart
from cutjob.workers import processes

_SIDE = 60.0  # mm a part takes on the sheet
_COLUMNS, _ROWS = 38, 19  # on a sheet of 2400 x 1200 mm


def shape(rng: random.Random) -> Contour:
    """A wavy disc of about 40 arcs that follow each other almost smoothly."""
    count, waves, phase, swing = rng.randint(30, 50), rng.randint(2, 4), rng.uniform(0, 6), rng.uniform(0.5, 2.0)

    def at(angle: float) -> tuple[float, float]:
        radius = 21.0 + swing * math.sin(waves * angle + phase)
        return radius * math.cos(angle), radius * math.sin(angle)

    angles = [2 * math.pi * i / count for i in range(count)]
    straight = polyline([at(angle) for angle in angles])
    arcs = []
    for line, angle in zip(straight.segments, angles, strict=True):
        (ahead, behind), (dx, dy) = (at(angle + 1e-4), at(angle)), line.direction_at(0.0)
        tx, ty = ahead[0] - behind[0], ahead[1] - behind[1]
        # An arc leaves its chord at half its included angle; the bulge is the tangent of a quarter of that angle.
        lean = math.atan2(tx * dy - ty * dx, tx * dx + ty * dy)
        arcs.append(arc_through_bulge(line.start, line.end, math.tan(lean / 2)))
    return Contour(tuple(arcs))


def sheets(count: int, seed: int = 1) -> list[BoardLayout]:
    """`count` different parts in rows on as many sheets as it takes."""
    rng = random.Random(seed)
    stock = board_of(
        BoardStock(name="sheet", length=2400.0, width=1200.0, thickness=6.0, material="plywood", grain="none", count=99)
    )
    layouts: list[BoardLayout] = []
    placements: list[Placement] = []
    for number in range(count):
        place = number % (_COLUMNS * _ROWS)
        if place == 0 and placements:
            layouts.append(_sheet(len(layouts), stock, placements))
            placements = []
        openings = (circle((-9.0, 0.0), 5.0),) if number % 3 == 0 else ()
        part = ShapedPart(
            name=f"part {number + 1}",
            region=Region(shape(rng), openings),
            holes=(Hole(at=(8.0, 0.0), diameter=8.0), *(Hole(at=(2.0, y), diameter=6.35) for y in (-11.0, 11.0))),
            grain="none",
        )
        x, y = 40 + _SIDE * (place % _COLUMNS), 40 + _SIDE * (place // _COLUMNS)
        placements.append(Placement(part=part, item="part", unit=number + 1, transform=Transform(x=x, y=y)))
    layouts.append(_sheet(len(layouts), stock, placements))
    return layouts


def _sheet(number: int, stock: Board, placements: list[Placement]) -> BoardLayout:
    return BoardLayout(id=f"board-{number + 1:02d}", board=stock, placements=tuple(placements))


def run(count: int) -> dict[str, float]:
    """Seconds per stage for `count` parts."""
    machine = read_machine("long-bed-router", beside=None)
    only = machine.cutter[0]
    cutters = Cutters(outline=only, usable=(only,), changer=True)
    layouts = sheets(count)
    seconds: dict[str, float] = {}

    def timed(name: str, work: Callable[[], Any]) -> Any:
        start = time.perf_counter()
        result = work()
        seconds[name] = time.perf_counter() - start
        return result

    with processes(count, cores=os.cpu_count() or 1) as executor:
        cuts, _ = timed(
            "cuts",
            lambda: cut_layouts(layouts, cutters=cutters, machine=machine, gap=8.0, locations={}, executor=executor),
        )
        held = timed("holding", lambda: hold_boards(cuts, machine=machine, by="clamps", executor=executor))
        if not all(each.good for each in held):
            raise SystemExit("the boards are not held")
        cuts = [each.board for each in held]
        order = FilesWanted(title="scale", units="mm", machine=machine, boards=len(cuts))
        finished = timed("boards", lambda: finish_boards(cuts, order, executor=executor))
    report = joined([board.proof for board in finished])
    if not report.passed:
        for finding in report.findings[:5]:
            print(finding)
        raise SystemExit("the proof failed")
    lines = sum(board.files[program.file].count(b"\n") for board in finished for program in board.programs)
    shares = {stage: sum(board.seconds[stage] for board in finished) for stage in ("program", "files", "proof")}
    told = ", ".join(f"{stage} {value:.2f} s" for stage, value in shares.items())
    print(
        f"{count} parts: worst gouge {report.worst_gouge:.4f} mm, most left {report.worst_left:.4f} mm, "
        f"{lines} lines of G-code; of the boards, added up over {os.cpu_count()} cores: {told}"
    )
    return seconds


_WANTED = 4.0, 400.0  # s for 1,000 parts, MB for 4,000


def rows() -> list[tuple[str, str, str]]:
    """What, measured, wanted: each size in a process of its own, for its memory."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as first:
        seconds, _ = first.submit(_whole, 1000).result()
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as second:
        _, memory = second.submit(_whole, 4000).result()
    return [
        ("seconds for 1,000 different parts, all but the search", f"{seconds:.1f}", f"{_WANTED[0]:.0f}"),
        ("MB for 4,000 different parts, all but the search", f"{memory:.0f}", f"{_WANTED[1]:.0f}"),
    ]


def _whole(count: int) -> tuple[float, float]:
    """The seconds of all stages, and the greatest memory of this process in MB."""
    return sum(run(count).values()), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> None:
    """Run the sizes given (default 250 1000) and print a table."""
    sizes = [int(word) for word in sys.argv[1:]] or [250, 1000]
    rows = {size: run(size) for size in sizes}
    stages = list(rows[sizes[0]])
    print("parts   " + "".join(f"{stage:>10}" for stage in [*stages, "whole"]))
    for size, row in rows.items():
        print(f"{size:<8}" + "".join(f"{row[stage]:10.2f}" for stage in stages) + f"{sum(row.values()):10.2f}")
    for small, large in pairwise(sizes):
        grown = sum(rows[large].values()) / sum(rows[small].values())
        bound = large * math.log(large) / (small * math.log(small))
        print(f"{small} to {large}: {grown:.2f} times; n log n grows {bound:.2f} times; ratio {grown / bound:.2f}")
    print(f"greatest memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
