"""A window sill with pockets, on the board of `workshop`, and a program for it written out move by move.

The sill lies at (30, 30) to (130, 90), square at its corners. It has a tray, 6 deep, from (36, 36) to (76, 66), with a
square island and a hole of 8 through its floor; a dado, 5 deep and 12 wide, that runs out at both long edges, with a
deeper mortise in it, 8 deep; a recess that runs into the tray, 3 deep; and a hole of the cutter's 6 with a
counterbore of 14, 4 deep. Rough passes keep 0.3 off walls.
"""

from __future__ import annotations

from cutjob.geometry.contour import Contour, Region, polyline, rectangle
from cutjob.geometry.transform import Transform
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import Counterbore, Hole, Pocket, ShapedPart
from tests.proof import workshop as ws

Lines = list[str]
Box = tuple[float, float, float, float]
LEFT = 0.3
R = ws.RADIUS
TRAY, ISLAND = (36.0, 36.0, 76.0, 66.0), (50.0, 46.0, 56.0, 56.0)
RECESS = (36.0, 60.0, 60.0, 84.0)
DADO, MORTISE = (96.0, 30.0, 108.0, 90.0), (96.0, 50.0, 108.0, 70.0)
HOLE, SCREW = (68.0, 51.0), (84.0, 78.0)


def contour(box: Box) -> Contour:
    x0, y0, x1, y1 = box
    return polyline([(x0 - 30, y0 - 30), (x1 - 30, y0 - 30), (x1 - 30, y1 - 30), (x0 - 30, y1 - 30)])


def sill(*, dado: Box = DADO) -> ShapedPart:
    return ShapedPart(
        name="sill",
        region=Region(rectangle(100.0, 60.0)),
        holes=(
            Hole(at=(HOLE[0] - 30, HOLE[1] - 30), diameter=8.0),
            Hole(at=(SCREW[0] - 30, SCREW[1] - 30), diameter=6.0, counterbore=Counterbore(diameter=14.0, depth=4.0)),
        ),
        pockets=(
            Pocket(region=Region(contour(TRAY), (contour(ISLAND),)), depth=6.0),
            Pocket(region=Region(contour(RECESS)), depth=3.0),
            Pocket(region=Region(contour(dado)), depth=5.0),
            Pocket(region=Region(contour(MORTISE)), depth=8.0),
        ),
    )


def layout(part: ShapedPart | None = None) -> BoardLayout:
    placement = Placement(part=part or sill(), item="porch", unit=1, transform=Transform(x=30.0, y=30.0))
    return BoardLayout(id="board-01", board=ws.board(), placements=(placement,))


def rows(box: Box, levels: tuple[float, ...], *, around: Box | None = None) -> Lines:
    """To and fro along X, each row down on a ramp and back, then round the edges: the cutter's centre stays in the box,
    and off another.
    """
    x0, y0, x1, y1 = box
    lines: Lines = []
    before = 0.0
    count = max(1, -int(-(y1 - y0) // 2.4))
    for z in levels:
        for number in range(count + 1):
            y = y0 + (y1 - y0) * number / count
            spans = [(x0, x1)]
            if around is not None and around[1] < y < around[3]:
                spans = [(x0, around[0]), (around[2], x1)]
            for a, b in spans:
                lines += [*ws.over(a, y), f"G1 Z{ws.num(before)} F300", f"G1 X{ws.num(b)} Z{ws.num(z)}"]
                lines += [f"G1 X{ws.num(a)} F1200"]
        lines += wall(box, z) + (wall(around, z, inward=False) if around is not None else [])
        before = z
    return [*lines, "G0 Z5"]


def wall(box: Box, z: float, *, inward: bool = True) -> Lines:
    """Once round a box at full depth, counter-clockwise, from and back to a place 0.3 farther off its walls."""
    x0, y0, x1, y1 = box
    middle, off = (y0 + y1) / 2, LEFT if inward else -LEFT
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, middle)]
    lines = [*ws.over(x0 + off, middle), f"G1 Z{ws.num(z)} F300", f"G1 X{ws.num(x0)} F1200"]
    lines += [f"G1 X{ws.num(x)} Y{ws.num(y)}" for x, y in corners]
    return [*lines, f"G1 X{ws.num(x0 + off)}", "G0 Z5"]


def inset(box: Box, by: float) -> Box:
    return box[0] + by, box[1] + by, box[2] - by, box[3] - by


def tray(box: Box = TRAY, island: Box = ISLAND, levels: tuple[float, ...] = (-3.0, -6.0)) -> Lines:
    rough = rows(inset(box, R + LEFT), levels, around=inset(island, -R - LEFT))
    return ["(tray)", *rough, *wall(inset(box, R), levels[-1]), *wall(inset(island, -R), levels[-1], inward=False)]


def recess(box: Box = RECESS, z: float = -3.0) -> Lines:
    return ["(recess)", *rows(inset(box, R + LEFT), (z,)), *wall(inset(box, R), z)]


def dado(box: Box = DADO, levels: tuple[float, ...] = (-2.5, -5.0), past: float = R + 0.1) -> Lines:
    x0, y0, x1, y1 = box
    rough = rows((x0 + R + LEFT, y0 - past, x1 - R - LEFT, y1 + past), levels)
    lines = ["(dado)", *rough]
    for x in (x0 + R, x1 - R):
        lines += [*ws.over(x, y0 - past), f"G1 Z{ws.num(levels[-1])} F300"]
        lines += [f"G1 Y{ws.num(y1 + past)} F1200", "G0 Z5"]
    return lines


def mortise(levels: tuple[float, ...] = (-4.0, -8.0)) -> Lines:
    return ["(mortise)", *rows(inset(MORTISE, R + LEFT), levels), *wall(inset(MORTISE, R), levels[-1])]


def screw(counterbore: float = -4.0) -> Lines:
    lines = ["(counterbore)", *ws.bore(*SCREW, 4.0, counterbore), "(screw hole)", *ws.over(*SCREW)]
    lines += [f"G1 Z{ws.num(counterbore)} F300"]
    for depth in (-8.0, ws.DEPTHS[-1]):
        lines += [f"G1 Z{ws.num(depth)} F300", "G0 Z1"]
    return [*lines, "G0 Z5"]


def hole() -> Lines:
    return ["(hole)", *ws.bore(*HOLE, 1.0, ws.DEPTHS[-1], pitch=1.0)]


def outline(levels: tuple[float, ...] = ws.DEPTHS, *, off: float = 0.0, name: str = "outline") -> Lines:
    """Clockwise round the outside, `off` mm farther out, each pass begun by a ramp along the left side."""
    r = R + off
    left, right, low, high = 30 - r, 130 + r, 30 - r, 90 + r
    lines = [f"({name})", *ws.over(left, 45), "G1 Z0 F300", "F1200"]
    before = 0.0
    for depth in levels:
        lines += [f"G1 Y75 Z{ws.num((before + depth) / 2)}", f"G1 Y45 Z{ws.num(depth)}", "G1 Y90"]
        lines += [f"G2 X30 Y{ws.num(high)} I{ws.num(r)} J0", "G1 X130"]
        lines += [f"G2 X{ws.num(right)} Y90 I0 J{ws.num(-r)}", "G1 Y30"]
        lines += [f"G2 X130 Y{ws.num(low)} I{ws.num(-r)} J0", "G1 X30"]
        lines += [f"G2 X{ws.num(left)} Y30 I0 J{ws.num(r)}", "G1 Y45"]
        before = depth
    return [*lines, "G0 Z5"]


def inner() -> Lines:
    return [*tray(), *recess(), *dado(), *mortise(), *hole(), *screw()]


def program(*parts: Lines) -> Lines:
    """The sections in the order given, or all in a good one."""
    sections = parts or (inner(), outline())
    return [*ws.head(), *(line for section in sections for line in section), *ws.tail()]
