"""The latch cut with two cutters and held by two screws through the waste: on a changer, and by hand in two files.

Cutter 2, a drill bit of 6, drills the holes for the screws, then the program halts while these are driven; after that
it drills the latch's own hole. Cutter 1 does the rest. The latch's slot runs 6 mm round it, from (24, 24) to (136, 96).
"""

from __future__ import annotations

from dataclasses import replace

from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout, HoldDown
from cutjob.proof.expect import ExpectedProgram
from tests.proof import workshop as ws

SCREWS = ((14.0, 14.0), (206.0, 106.0))
HEAD, HEIGHT = 7.0, 3.0  # radius and height of a screw's head


def row(feed: float, rpm: float, plunge: float) -> list[dict[str, object]]:
    return [
        {"material": "softwood", "source": "made up for tests", "feed": feed, "rpm": rpm, "plunge": plunge,
         "depth_per_pass": 4.4}
    ]  # fmt: skip


CUTTERS = [
    {"number": 1, "name": "straight cutter 6", "diameter": 6, "cutting_length": 22, "feed": row(1200, 12000, 300)},
    {"number": 2, "name": "drill bit 6", "diameter": 6, "cutting_length": 30, "only_down": True,
     "feed": row(400, 8000, 200)},
]  # fmt: skip


def router(**changes: object) -> Machine:
    return ws.router(cutter=CUTTERS, **changes)


def changer(**controller: object) -> Machine:
    return router(controller={"tool_change": "changer", "tool_length": "table"} | controller)


def screwed(*, diameter: float = 6.0, head: float = HEAD, height: float = HEIGHT) -> BoardLayout:
    downs = tuple(HoldDown(at=at, diameter=diameter, head=head, height=height) for at in SCREWS)
    return replace(ws.latch_board(), hold_downs=downs)


def expected(layout: BoardLayout | None = None, **changes: object) -> ExpectedProgram:
    first, second = router().cutter
    return ws.expected(layout or screwed(), **({"cutters": (second, first)} | changes))


def drilled(x: float, y: float) -> list[str]:
    lines = ws.over(x, y)
    for depth in ws.DEPTHS:
        lines += [f"G1 Z{ws.num(depth)} F200", "G0 Z1"]
    return [*lines, "G0 Z5"]


def modes() -> list[str]:
    return ["G21", "G17", "G90", "G94"]


def change(number: int, rpm: int) -> list[str]:
    return [f"T{number} M6", f"G43 H{number}", "G0 Z5", f"S{rpm} M3", "G4 P3"]


def screws() -> list[str]:
    return ["(screws)", *(line for at in SCREWS for line in drilled(*at))]


def stop() -> list[str]:
    return ["(stop)", "M5", "M0", "S8000 M3", "G4 P3"]


def rest() -> list[str]:
    """What cutter 1 does: all of the latch but the hole that is drilled."""
    inner = ws.latch_inner()
    begin, end = inner.index("(drilled hole)"), inner.index("(window)")
    return ["F1200", *inner[:begin], *inner[end:], *ws.latch_outline()]


def program() -> list[str]:
    """For the changer, all in one file."""
    own = ["(drilled hole)", *drilled(50, 72)]
    return [*modes(), *change(2, 8000), *screws(), *stop(), *own, "M5", *change(1, 12000), *rest(), "M5", "M2"]


def by_hand() -> tuple[list[str], list[str]]:
    """In two files, cutter 2 first."""
    own = ["(drilled hole)", *drilled(50, 72)]
    first = [*modes(), "G0 Z5", "S8000 M3", "G4 P3", *screws(), *stop(), *own, "M5", "M2"]
    return first, [*modes(), "G0 Z5", "S12000 M3", "G4 P3", *rest(), "M5", "M2"]
