"""Boards full of scalloped discs and the programs that cut them, for timing the proof. Run it as a module:

python -m tests.proof.many_parts 1000 4000
"""

from __future__ import annotations

import math
import sys
import time

from cutjob.geometry.contour import Region, closed
from cutjob.geometry.segment import Arc, Point
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import Hole, ShapedPart
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.prove import prove
from tests.proof import workshop as ws

LOBES = 12
PITCH = 90.0


def scallops(offset: float = 0.0) -> list[Arc]:
    """Twelve lobes of 8 on a circle of 30, hollows of 9 between them, moved outward by `offset`."""
    lobe, hollow, ring = 8.0, 9.0, 30.0
    half = math.pi / LOBES
    # The hollow's centre is lobe + hollow from both lobes' centres.
    far = ring * math.cos(half) + math.sqrt((lobe + hollow) ** 2 - (ring * math.sin(half)) ** 2)

    def polar(radius: float, angle: float) -> Point:
        return radius * math.cos(angle), radius * math.sin(angle)

    def touch(lobe_angle: float, hollow_angle: float) -> Point:
        (x0, y0), (x1, y1) = polar(ring, lobe_angle), polar(far, hollow_angle)
        share = (lobe + offset) / (lobe + hollow)
        return x0 + (x1 - x0) * share, y0 + (y1 - y0) * share

    arcs = []
    for number in range(LOBES):
        angle = 2 * half * number
        before, after = touch(angle, angle - half), touch(angle, angle + half)
        arcs.append(Arc(before, after, polar(ring, angle), False))
        arcs.append(Arc(after, touch(angle + 2 * half, angle + half), polar(far, angle + half), True))
    return arcs


def part(number: int) -> ShapedPart:
    return ShapedPart(
        name=f"scallop {number}", region=Region(closed(scallops())), holes=(Hole(at=(0.0, 0.0), diameter=8.0),)
    )


def _outline(x: float, y: float) -> list[str]:
    path = [arc.reversed() for arc in reversed(scallops(ws.RADIUS))]
    begin = path[0].start
    lines = [*ws.over(begin[0] + x, begin[1] + y), "G1 Z0 F300", "F1200"]
    before = 0.0
    for depth in ws.DEPTHS:
        for number, arc in enumerate((*path, *path)):
            z = before + (depth - before) * min(1.0, (number + 1) / len(path))
            code = "G2" if arc.clockwise else "G3"
            i, j = arc.centre[0] - arc.start[0], arc.centre[1] - arc.start[1]
            lines.append(
                f"{code} X{ws.num(arc.end[0] + x)} Y{ws.num(arc.end[1] + y)} Z{ws.num(z)} I{ws.num(i)} J{ws.num(j)}"
            )
        before = depth
    return [*lines, "G0 Z5"]


def filled_board(identity: str, columns: int, rows: int) -> tuple[ExpectedProgram, bytes]:
    placements, lines = [], ws.head()
    for column in range(columns):
        for row in range(rows):
            x, y = PITCH * (column + 0.5), PITCH * (row + 0.5)
            number = column * rows + row
            placements.append(Placement(part=part(number), item="lid", unit=number + 1, transform=Transform(x=x, y=y)))
            lines += ws.bore(x, y, 1.0, ws.DEPTHS[-1], pitch=4.0) + _outline(x, y)
    layout = BoardLayout(
        id=identity, board=ws.board(length=PITCH * columns, width=PITCH * rows), placements=tuple(placements)
    )
    return ws.expected(layout, file=f"{identity}.nc", tabs=()), ws.text([*lines, *ws.tail()])


def timed(parts: int, boards: int) -> None:
    each = parts // boards
    rows = max(1, int(math.sqrt(each)))
    columns = each // rows
    made = [filled_board(f"board-{number + 1:02d}", columns, rows) for number in range(boards)]
    files = {program.file: data for program, data in made}
    machine = ws.router(travel={"x": 1e5, "y": 1e5, "z": 60})
    begin, cpu = time.perf_counter(), time.process_time()
    report = prove(files, programs=[program for program, _ in made], drawings=[], machine=machine)
    seconds, cpu = time.perf_counter() - begin, time.process_time() - cpu
    lines = sum(data.count(b"\n") for data in files.values())
    print(
        f"{rows * columns * boards} parts on {boards} boards, {lines} lines: {seconds:.1f} s, {cpu:.1f} s of processor "
        f"time; passed {report.passed}, gouge {report.worst_gouge:.4f}, left {report.worst_left:.4f}"
    )
    for finding in report.findings[:3]:
        print("  ", finding)


if __name__ == "__main__":
    for count in sys.argv[1:]:
        timed(int(count), max(1, int(count) // 50))
        timed(int(count), 1)
