"""Small boards of rectangular parts with clamps, and programs for them written out move by move, for the tests of how a
board is held. They share nothing with the package's own writers.

The board and the machine are those of `workshop`. A part is a box; a tab is a side of it (left, right, top, bottom) and
the place of its middle along that side. Clamps press on areas at the lower corners, 28 x 18.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from cutjob.geometry.contour import Contour, Region, polyline
from cutjob.geometry.transform import Transform
from cutjob.layout.holding import HeldBy, Hold, Holding
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import ShapedPart
from cutjob.proof.expect import ExpectedProgram, ExpectedTab
from tests.layout.makers import kept_out
from tests.proof import workshop as ws

Lines = list[str]
Box = tuple[float, float, float, float]
Side = Literal["left", "right", "top", "bottom"]
Tabs = tuple[tuple[Side, float], ...]
R = ws.RADIUS
AIR = 25.0  # over the clamps
RAMP = 10.0
LEFT_CLAMP, RIGHT_CLAMP = (2.0, 2.0, 30.0, 20.0), (190.0, 2.0, 218.0, 20.0)
CLAMP_HEIGHT = 20.0


@dataclass(frozen=True, slots=True)
class Piece:
    """A part and the tabs round it; an opening in it and the tabs of its plug."""

    box: Box
    tabs: Tabs
    opening: Box | None = None
    inner: Tabs = ()


def contour(box: Box, x: float = 0.0, y: float = 0.0) -> Contour:
    x0, y0, x1, y1 = box
    return polyline([(x0 - x, y0 - y), (x1 - x, y0 - y), (x1 - x, y1 - y), (x0 - x, y1 - y)])


def hold(box: Box, *, window: int | None = None) -> Hold:
    return Hold(area=contour(box), height=CLAMP_HEIGHT, window=window)


CLAMPS = (hold(LEFT_CLAMP), hold(RIGHT_CLAMP))


def layout(
    pieces: Sequence[Piece], *, holds: tuple[Hold, ...] = CLAMPS, by: HeldBy = "clamps", keep: bool = True,
    stack: int = 1, to_hold: tuple[int, ...] = (),
) -> BoardLayout:  # fmt: skip
    """A board with the pieces on it; its holds are keep-outs too, but for `keep` False."""
    placements = []
    for number, piece in enumerate(pieces):
        x, y = piece.box[:2]
        holes = () if piece.opening is None else (contour(piece.opening, x, y),)
        part = ShapedPart(name=f"slat {number + 1}", region=Region(contour(piece.box, x, y), holes))
        placements.append(Placement(part=part, item="porch", unit=1, transform=Transform(x=x, y=y)))
    board = ws.board()
    if keep:
        areas = tuple(one.area for one in holds)
        board = replace(board, keep_outs=kept_out(areas, heights=tuple(one.height for one in holds)))
    holding = Holding(by=by, holds=holds, to_hold=to_hold)
    return BoardLayout(id="board-01", board=board, placements=tuple(placements), stack=stack, holding=holding)


def expected(board: BoardLayout, pieces: Sequence[Piece], *, height: float = ws.TAB_HEIGHT) -> ExpectedProgram:
    tabs = []
    for number, piece in enumerate(pieces):
        places = [(piece.box, one) for one in piece.tabs]
        places += [(piece.opening, one) for one in piece.inner if piece.opening is not None]
        tabs += [
            ExpectedTab(placement=number, at=at(box, *one), width=ws.TAB_WIDTH, height=height) for box, one in places
        ]
    return ws.expected(board, safe_z=AIR, tabs=tuple(tabs))


def at(box: Box, side: Side, along: float) -> tuple[float, float]:
    x0, y0, x1, y1 = box
    return {"left": (x0, along), "right": (x1, along), "bottom": (along, y0), "top": (along, y1)}[side]


def over(x: float, y: float) -> Lines:
    return [f"G0 Z{AIR:g}", f"G0 X{ws.num(x)} Y{ws.num(y)}", "G0 Z1"]


def loop(
    box: Box, tabs: Tabs, *, inside: bool = False, depths: Sequence[float] = ws.DEPTHS, thick: float = ws.THICK,
    height: float = ws.TAB_HEIGHT,
) -> Lines:  # fmt: skip
    """Round a box at each depth from its lower left corner, clockwise outside and counter-clockwise inside, each time
    down a ramp to and fro on the first side; over each tab, or right up over those of the whole thickness.
    """
    by = -R if inside else R
    x0, y0, x1, y1 = box[0] - by, box[1] - by, box[2] + by, box[3] + by
    corners = [(x0, y0), (x0, y1), (x1, y1), (x1, y0)]
    sides: list[Side] = ["left", "top", "right", "bottom"]
    if inside:
        corners, sides = [corners[0], *corners[:0:-1]], ["bottom", "right", "top", "left"]
    # To and fro on the first side: up along the left one, or along the bottom.
    away = (x0 + RAMP, y0) if inside else (x0, y0 + RAMP)
    lines = [*over(x0, y0), "G1 Z0 F300", "F1200"]
    before = 0.0
    for depth in depths:
        lines.append(f"G1 X{ws.num(away[0])} Y{ws.num(away[1])} Z{ws.num((before + depth) / 2)}")
        lines.append(f"G1 X{ws.num(x0)} Y{ws.num(y0)} Z{ws.num(depth)}")
        for begin, end, side in zip(corners, [*corners[1:], corners[0]], sides, strict=True):
            lines += _side(begin, end, sorted(along for name, along in tabs if name == side), depth, height - thick)
        before = depth
    return [*lines, f"G0 Z{AIR:g}"]


def _side(begin: tuple[float, float], end: tuple[float, float], places: list[float], depth: float, top: float) -> Lines:
    axis = 0 if begin[1] == end[1] else 1
    forth = end[axis] > begin[axis]
    half = (ws.TAB_WIDTH / 2 + R) * (1 if forth else -1)
    lines: Lines = []
    word = "XY"[axis]
    for along in places if forth else places[::-1]:
        if depth >= top:
            continue
        lines.append(f"G1 {word}{ws.num(along - half)}")
        if top >= 0:
            lines += [f"G0 Z{AIR:g}", f"G0 {word}{ws.num(along + half)}", "G0 Z1"]
        else:
            lines += [f"G1 Z{ws.num(top)}", f"G1 {word}{ws.num(along + half)}"]
        lines += [f"G1 Z{ws.num(depth)} F300", "F1200"]
    return [*lines, f"G1 X{ws.num(end[0])} Y{ws.num(end[1])}"]


def begin() -> Lines:
    return [f"G0 Z{AIR:g}" if line == "G0 Z5" else line for line in ws.head()]


def finish() -> Lines:
    return [f"G0 Z{AIR:g}", "M5", "M2"]


def program(pieces: Sequence[Piece], **how: object) -> Lines:
    """Openings first, then the outlines, in order."""
    lines = begin()
    for piece in pieces:
        if piece.opening is not None:
            lines += ["(opening)", *loop(piece.opening, piece.inner, inside=True, **how)]  # type: ignore[arg-type]
    for number, piece in enumerate(pieces):
        lines += [f"(slat {number + 1})", *loop(piece.box, piece.tabs, **how)]  # type: ignore[arg-type]
    return [*lines, *finish()]
