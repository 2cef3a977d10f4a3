"""The outer brackets of a JSON file of any size, read piece by piece: where its tables and lists begin and end.

Of a plan those of four levels are kept: the plan, its lists, what stands in these, and the lists of that. What lies
deeper, the points of the parts, is a hundred times as much and only passed over.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

_PIECE = 4_000_000  # bytes read at once
_DEEPEST = 500  # a plan is ten levels deep, and Python's own reader ends at a thousand
_KEPT_LEVELS = 4
_MOST_KEPT = 1_000_000  # ten thousand boards have 200,000
_MOST_MARKS = 100_000_000  # brackets and quotes: of 400 MB of points those are 66 million
# Openings, closings and quotes; 0 for all else.
_OPENS, _CLOSES, _QUOTE = 1, 2, 3
_KINDS = np.zeros(256, dtype=np.uint8)
_KINDS[list(b"[{")] = _OPENS
_KINDS[list(b"]}")] = _CLOSES
_KINDS[ord('"')] = _QUOTE


class TooMuchError(Exception):
    """It would take too long, or too much room."""


@dataclass(frozen=True, slots=True)
class Brackets:
    """Where each outer bracket stands, how deep it is after it, and how many bytes the file has."""

    at: NDArray[np.int64]
    depths: NDArray[np.int32]
    size: int

    def part(self, first: int, last: int) -> Brackets:
        """Those from one to before another."""
        return Brackets(self.at[first:last], self.depths[first:last], self.size)


def outer_brackets(file: BinaryIO, *, most: int) -> Brackets:
    """Return the brackets of a file, which is read no farther than `most` bytes and one.

    Raises ValueError where it is no JSON, TooMuchError where it has too many.
    """
    places, depths = [np.zeros(0, np.int64)], [np.zeros(0, np.int32)]
    begun, depth, quoted, marks, kept = 0, 0, False, 0, 0
    while begun <= most and (piece := _whole_piece(file)):
        at, kinds = _marks(piece)
        outside, ends_quoted = _outside(kinds, quoted)
        at, steps = at[outside], np.where(kinds[outside] == _OPENS, 1, -1).astype(np.int8)
        after = np.cumsum(steps, dtype=np.int32) + np.int32(depth)
        if len(after):
            if after.min() < 0 or after.max() > _DEEPEST:
                raise ValueError("closed more often than opened, or deeper than any plan")
            outer = after + (steps < 0) <= _KEPT_LEVELS
            places.append(at[outer] + begun)
            depths.append(after[outer])
            kept += len(places[-1])
            depth = int(after[-1])
        marks, quoted, begun = marks + len(kinds), ends_quoted, begun + len(piece)
        if marks > _MOST_MARKS or kept > _MOST_KEPT:
            raise TooMuchError
    return Brackets(np.concatenate(places), np.concatenate(depths), begun)


def _whole_piece(file: BinaryIO) -> bytes:
    """The next piece, which ends in no half of an escaped sign."""
    piece = file.read(_PIECE)
    while piece.endswith(b"\\") and (len(piece) - len(piece.rstrip(b"\\"))) % 2 and (more := file.read(1)):
        piece += more
    return piece


def _marks(piece: bytes) -> tuple[NDArray[np.int64], NDArray[np.uint8]]:
    """Where brackets and quotes stand in a piece, and which; an escaped quote is none."""
    # Of the same length, so that places stay.
    plain = piece.replace(b"\\\\", b"__").replace(b'\\"', b"__")
    kinds = _KINDS[np.frombuffer(plain, dtype=np.uint8)]
    at = np.flatnonzero(kinds)
    return at, kinds[at]


def _outside(kinds: NDArray[np.uint8], quoted: bool) -> tuple[NDArray[np.bool_], bool]:
    """Which of the marks are brackets outside of texts, and whether a text goes on after them."""
    quotes = kinds == _QUOTE
    count = int(np.count_nonzero(quotes))
    if not count:
        return ~quotes if not quoted else quotes, quoted
    inside = np.cumsum(quotes, dtype=np.uint8) % 2 == (0 if quoted else 1)
    return ~quotes & ~inside, quoted != bool(count % 2)
