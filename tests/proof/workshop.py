"""A small board, the machine that cuts it, and a program for it written out move by move, for the tests of the proof.

Everything here is worked out by hand or by the simplest means, and shares nothing with the package's own writers.

The board is 220 x 120 x 12. Its one part, a gate latch at (30, 30) to (130, 90), has corners rounded by 10, a window
(an inside contour, 24 x 20), a bored hole of 12, a drilled hole of the cutter's 6, a blind hole of 14, 5 deep, and a
mark 1 deep. A second part, a round plug, can lie in a larger window; see `ring_board`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from cutjob.geometry.contour import Region, circle, closed, polyline
from cutjob.geometry.segment import Arc, Line
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import Hole, Mark, ShapedPart
from cutjob.proof.expect import ExpectedProgram, ExpectedTab

THICK = 12.0
OVER = 0.3
RADIUS = 3.0
DEPTHS = (-4.0, -8.0, -12.3)
TAB_WIDTH, TAB_HEIGHT = 6.0, 3.0


# Programs written by hand here leave out what cancels an earlier program's modes.
NO_CANCELS: dict[str, object] = {"unknown_codes": ["G40", "G49", "G80"]}


def router(**changes: object) -> Machine:
    profile: dict[str, object] = {
        "name": "test router",
        "summary": "a router for tests",
        "kind": "router",
        "writes": ["gcode", "dxf"],
        "travel": {"x": 600, "y": 400, "z": 60},
        "motion": {"greatest_feed": 2000, "greatest_plunge": 500, "safe_height": 5, "acceleration": 5000},
        "spindle": {"least_rpm": 6000, "greatest_rpm": 20000, "seconds_to_speed": 3},
        "controller": {"decimals": 4, "longest_line": 70, **NO_CANCELS},
        "cutting": {"overcut": OVER, "deepest_below_stock": 0.5, "mark_depth": 0.5},
        "cutter": [
            {
                "number": 1,
                "name": "straight cutter 6",
                "diameter": 6,
                "cutting_length": 22,
                "feed": [
                    {
                        "material": "softwood",
                        "source": "made up for tests",
                        "feed": 1200,
                        "rpm": 12000,
                        "plunge": 300,
                        "depth_per_pass": 4.4,
                        "ramp_degrees": 15,
                    }
                ],
            }
        ],
    }
    for key, value in changes.items():
        here = profile.get(key)
        profile[key] = {**here, **value} if isinstance(here, dict) and isinstance(value, dict) else value
    return Machine.model_validate(profile)


def rounded_rectangle(x0: float, y0: float, x1: float, y1: float, r: float) -> Region:
    return Region(
        closed(
            [
                Line((x0 + r, y0), (x1 - r, y0)),
                Arc((x1 - r, y0), (x1, y0 + r), (x1 - r, y0 + r), False),
                Line((x1, y0 + r), (x1, y1 - r)),
                Arc((x1, y1 - r), (x1 - r, y1), (x1 - r, y1 - r), False),
                Line((x1 - r, y1), (x0 + r, y1)),
                Arc((x0 + r, y1), (x0, y1 - r), (x0 + r, y1 - r), False),
                Line((x0, y1 - r), (x0, y0 + r)),
                Arc((x0, y0 + r), (x0 + r, y0), (x0 + r, y0 + r), False),
            ]
        )
    )


def board(length: float = 220.0, width: float = 120.0, keep_outs: tuple = ()) -> Board:
    return Board(
        name="larch plank",
        outline=polyline([(0, 0), (length, 0), (length, width), (0, width)]),
        keep_outs=keep_outs,
        thickness=THICK,
        grain="length",
        material="softwood",
        count=1,
        price=0.0,
    )


def latch() -> ShapedPart:
    window = polyline([(60, 20), (60, 40), (84, 40), (84, 20)])
    return ShapedPart(
        name="gate latch",
        region=Region(rounded_rectangle(0, 0, 100, 60, 10).outline, (window,)),
        holes=(
            Hole(at=(20.0, 20.0), diameter=12.0),
            Hole(at=(20.0, 42.0), diameter=6.0),
            Hole(at=(42.0, 20.0), diameter=14.0, depth=5.0),
        ),
        marks=(Mark(path=(Line((30.0, 50.0), (70.0, 50.0)), Line((70.0, 50.0), (80.0, 46.0))), depth=1.0),),
    )


def latch_board(keep_outs: tuple = (), transform: Transform | None = None) -> BoardLayout:
    placement = Placement(part=latch(), item="garden gate", unit=1, transform=transform or Transform(x=30.0, y=30.0))
    return BoardLayout(id="board-01", board=board(keep_outs=keep_outs), placements=(placement,))


def tabs(*, x: float = 30.0, y: float = 30.0) -> tuple[ExpectedTab, ...]:
    return tuple(
        ExpectedTab(placement=0, at=at, width=TAB_WIDTH, height=TAB_HEIGHT)
        for at in ((x + 50.0, y), (x + 50.0, y + 60.0))
    )


def expected(layout: BoardLayout | None = None, machine: Machine | None = None, **changes: object) -> ExpectedProgram:
    plain = ExpectedProgram(
        file="board-01.nc",
        board=layout or latch_board(),
        cutters=(machine or router()).cutter[:1],
        origin=(0.0, 0.0),
        stock_top_z=0.0,
        overcut=OVER,
        safe_z=5.0,
        tabs=tabs(),
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def num(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".") if abs(value) > 5e-5 else "0"


def head() -> list[str]:
    return ["(gate latch)", "G21", "G17", "G90", "G94", "G0 Z5", "S12000 M3", "G4 P3", "F1200"]


def tail() -> list[str]:
    return ["G0 Z5", "M5", "M2"]


def over(x: float, y: float) -> list[str]:
    return ["G0 Z5", f"G0 X{num(x)} Y{num(y)}", "G0 Z1"]


def bore(x: float, y: float, radius: float, bottom: float, pitch: float = 4.0) -> list[str]:
    """Helix down in half turns, counter-clockwise, then a full circle and back to the middle."""
    right, left = x + radius, x - radius
    lines = [*over(right, y), "G1 Z0 F300", f"F{inside_feed(radius)}"]
    depth, side = 0.0, 1
    while depth > bottom:
        depth = max(bottom, depth - pitch / 2)
        lines.append(f"G3 X{num(left if side > 0 else right)} Y{num(y)} Z{num(depth)} I{num(-side * radius)} J0")
        side = -side
    here = right if side > 0 else left
    lines.append(f"G3 X{num(here)} Y{num(y)} I{num(-side * radius)} J0")
    lines.append(f"G1 X{num(x)} Y{num(y)} F1200")
    return [*lines, "G0 Z5"]


def inside_feed(radius: float) -> str:
    """The feed on an arc with the wall outside: along that it is 1200 mm/min, the feed table's."""
    return num(1200 * radius / (radius + RADIUS) - 0.0001)


def latch_inner(x: float = 30.0, y: float = 30.0) -> list[str]:
    """Mark, blind hole, bored and drilled hole, window of the latch at (x, y)."""
    lines = ["(mark)", *over(x + 30, y + 50), "G1 Z-1 F300", "F1200"]
    lines += [f"G1 X{num(x + 70)} Y{num(y + 50)}", f"G1 X{num(x + 80)} Y{num(y + 46)}"]
    # Its middle first, down to where the rest is within one pass.
    lines += ["(blind hole)", *bore(x + 42, y + 20, 2.0, -4.0, pitch=2.0), *bore(x + 42, y + 20, 4.0, -5.0)]
    lines += ["(bored hole)", *bore(x + 20, y + 20, 3.0, DEPTHS[-1])]
    lines += ["(drilled hole)", *over(x + 20, y + 42)]
    for depth in DEPTHS:
        lines += [f"G1 Z{num(depth)} F300", "G0 Z1"]
    lines += ["F1200", "(window)", *over(x + 72, y + 23), "G1 Z0 F300", "F1200"]
    corners = [(81, 23), (81, 37), (63, 37), (63, 23), (72, 23)]
    before = 0.0
    for depth in DEPTHS:
        # A ramp to and fro, then round at full depth.
        lines.append(f"G1 X{num(x + 81)} Y{num(y + 23)} Z{num((before + depth) / 2)}")
        lines.append(f"G1 X{num(x + 72)} Y{num(y + 23)} Z{num(depth)}")
        lines += [f"G1 X{num(x + cx)} Y{num(y + cy)}" for cx, cy in corners]
        before = depth
    return [*lines, "G0 Z5"]


def latch_outline(x: float = 30.0, y: float = 30.0, with_tabs: bool = True) -> list[str]:
    """Clockwise round the outside, entered by a sinking arc, with tabs in the middle of the long sides at the end."""
    xl, xr, yl, yr = x - RADIUS, x + 100 + RADIUS, y - RADIUS, y + 60 + RADIUS
    r = 10 + RADIUS
    half = TAB_WIDTH / 2 + RADIUS
    top = -THICK + TAB_HEIGHT
    lines = ["(outline)", *over(xl - 2, y + 28), "G1 Z0 F300", f"F{inside_feed(2)}"]
    lines.append(f"G3 X{num(xl)} Y{num(y + 30)} Z-0.2 I0 J2")
    for depth in DEPTHS:
        lines.append(f"G1 X{num(xl)} Y{num(y + 50)} Z{num(depth)} F1200")
        lines.append(f"G2 X{num(x + 10)} Y{num(yr)} I{num(r)} J0")
        if depth < top and with_tabs:
            lines += _tab(x + 50 - half, x + 50 + half, yr, top, depth)
        lines.append(f"G1 X{num(x + 90)} Y{num(yr)}")
        lines.append(f"G2 X{num(xr)} Y{num(y + 50)} I0 J{num(-r)}")
        lines.append(f"G1 X{num(xr)} Y{num(y + 10)}")
        lines.append(f"G2 X{num(x + 90)} Y{num(yl)} I{num(-r)} J0")
        if depth < top and with_tabs:
            lines += _tab(x + 50 + half, x + 50 - half, yl, top, depth)
        lines.append(f"G1 X{num(x + 10)} Y{num(yl)}")
        lines.append(f"G2 X{num(xl)} Y{num(y + 10)} I0 J{num(r)}")
        lines.append(f"G1 X{num(xl)} Y{num(y + 30)}")
    lines.append(f"G1 X{num(xl)} Y{num(y + 50)}")
    lines.append(f"G3 X{num(xl - 2)} Y{num(y + 52)} I-2 J0 F{inside_feed(2)}")
    return [*lines, "G0 Z5"]


def _tab(x_from: float, x_to: float, y: float, top: float, depth: float) -> list[str]:
    return [
        f"G1 X{num(x_from)} Y{num(y)}",
        f"G1 Z{num(top)}",
        f"G1 X{num(x_to)} Y{num(y)}",
        f"G1 Z{num(depth)} F300",
        "F1200",
    ]


def latch_program(x: float = 30.0, y: float = 30.0) -> list[str]:
    return [*head(), *latch_inner(x, y), *latch_outline(x, y), *tail()]


def plunge_at(x: float, y: float, depth: float, *, aside: float = 0.0) -> Callable[[list[str]], list[str]]:
    """Put a way down at a place before the outline, straight or running `aside` mm along X."""

    def spoil(lines: list[str]) -> list[str]:
        begin = lines.index("(outline)")
        down = [*over(x, y), "G1 Z0 F300", f"G1 X{num(x + aside)} Z{num(depth)}", "F1200", "G0 Z5"]
        return [*lines[:begin], "(one more way down)", *down, *lines[begin:]]

    return spoil


def text(lines: list[str]) -> bytes:
    return "".join(f"{line}\n" for line in lines).encode("ascii")


def disc(radius: float, name: str = "plug") -> ShapedPart:
    return ShapedPart(name=name, region=Region(circle((0.0, 0.0), radius)))


def ring_board() -> BoardLayout:
    """A ring of 40 about (60, 60) with an opening of 30, and a plug of 20 lying in the opening."""
    ring = ShapedPart(name="ring", region=Region(circle((0.0, 0.0), 40.0), (circle((0.0, 0.0), 30.0),)))
    at = Transform(x=60.0, y=60.0)
    return BoardLayout(
        id="board-01",
        board=board(),
        placements=(
            Placement(part=ring, item="porch lamp", unit=1, transform=at),
            Placement(part=disc(20.0), item="porch lamp", unit=1, transform=at),
        ),
    )


def round_cut(x: float, y: float, radius: float, *, inside: bool = False) -> list[str]:
    """A full circle at each depth, clockwise outside and the other way inside, entered by a helix of half turns."""
    turn = "G3" if inside else "G2"
    lines = [*over(x + radius, y), "G1 Z0 F300", f"F{inside_feed(radius) if inside else 1200}"]
    before = 0.0
    for depth in DEPTHS:
        lines.append(f"{turn} X{num(x - radius)} Y{num(y)} Z{num((before + depth) / 2)} I{num(-radius)} J0")
        lines.append(f"{turn} X{num(x + radius)} Y{num(y)} Z{num(depth)} I{num(radius)} J0")
        lines.append(f"{turn} X{num(x + radius)} Y{num(y)} I{num(-radius)} J0")
        before = depth
    return [*lines, "G0 Z5"]


def turned(point: tuple[float, float], degrees: float) -> tuple[float, float]:
    a = math.radians(degrees)
    return point[0] * math.cos(a) - point[1] * math.sin(a), point[0] * math.sin(a) + point[1] * math.cos(a)
