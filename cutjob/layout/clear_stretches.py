"""The clear wood of a board that pieces are sawn from: stretches of full width between its ends and keep-outs. mm."""

from __future__ import annotations

from dataclasses import dataclass

from cutjob.job.stock import Board
from cutjob.tolerances import TOLERANCES

_SAME = TOLERANCES.same_point


@dataclass(slots=True)
class Stretch:
    """Clear wood of full width, measured from the square end; `used` is where the next piece starts."""

    start: float
    end: float
    square: bool  # the far end is the board's own square end and needs no cut
    used: float
    past_keep_out: bool  # a keep-out lies right before it

    def end_of(self, length: float, kerf: float) -> float | None:
        """Where the kerf after a piece of that length ends, or None when it does not fit."""
        end = self.used + length + kerf
        if end <= self.end + _SAME:
            return end
        return self.end if self.square and self.used + length <= self.end + _SAME else None


def stretches_of(board: Board, kerf: float) -> list[Stretch]:
    """The clear stretches of a board, from its square end on."""
    start, end, square = _full_width(board)
    trimmed, past = start > _SAME, False
    stretches = []
    for low, high in [*_along(board), (end, end)]:
        first = start + kerf if trimmed else start
        if min(low, end) - first > _SAME:
            at_end = low >= end - _SAME
            stretches.append(Stretch(first, min(low, end), square and at_end, first, past))
        if high > start:
            start, trimmed, past = high, True, True
    return stretches


def _full_width(board: Board) -> tuple[float, float, bool]:
    """Where the board's full width starts and ends, from the square end, and whether it ends at the board's end."""
    points = [segment.start for segment in board.outline.segments]
    x0, y0, x1, y1 = board.outline.bounds
    low = [x for x, y in points if y <= y0 + _SAME]
    high = [x for x, y in points if y >= y1 - _SAME]
    left, right = max(min(low), min(high)), min(max(low), max(high))
    left, right = (left - x0, right - x0) if board.square_end == "left" else (x1 - right, x1 - left)
    return left, right, right >= x1 - x0 - _SAME


def _along(board: Board) -> list[tuple[float, float]]:
    """Extents of the keep-outs along the board, from the square end, sorted."""
    x0, _, x1, _ = board.outline.bounds
    spans = []
    for knot in board.keep_outs:
        low, _, high, _ = knot.bounds
        spans.append((low - x0, high - x0) if board.square_end == "left" else (x1 - high, x1 - low))
    return sorted(span for span in spans if span[1] > 0 and span[0] < x1 - x0)
