"""What a file is claimed to do, as the proof is told. mm; Z is the program's own when `z_zero` is subtracted."""

from __future__ import annotations

from dataclasses import dataclass

from cutjob.geometry.segment import Point
from cutjob.job.machine import Cutter
from cutjob.layout.layout import BoardLayout
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedTab:
    """A bridge that must stand: the index of its placement (None where it touches no part), its middle on the part's
    outline or on the edge of an opening (board frame), the wood's width along that and its height above the lowest
    board's underside.
    """

    placement: int | None
    at: Point
    width: float
    height: float

    def is_whole(self, stack_height: float) -> bool:
        """Whether it is as high as the stack, so that the cutter passes it in the air."""
        return self.height >= stack_height - TOLERANCES.acceptance


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedProgram:
    """A G-code file: the board layout it cuts, with which cutters in turn, from which zero (board frame).

    `stock_top_z` is the program's Z of the stock's top: 0, or the stack's height when zero is on the spoilboard. With a
    `skin` the cuts round parts stop so far above the underside. `window` is the index of the board's window that lies
    on the bed, None where the whole board does. Air moves run at `safe_z` over the stock's top, and at `clear_z` over
    what stands there.
    """

    file: str
    board: BoardLayout
    cutters: tuple[Cutter, ...]
    origin: Point
    stock_top_z: float
    overcut: float
    safe_z: float
    clear_z: float = 0.0
    skin: float = 0.0
    window: int | None = None
    tabs: tuple[ExpectedTab, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedDrawing:
    """A DXF file: the board layout it draws and how far outlines were moved outward (0, or half the kerf)."""

    file: str
    board: BoardLayout
    offset: float
