"""Reads from a plan.json the data that the check of one file needs: bytes in, the plan with that file's board out.

A plan of ten thousand parts holds millions of points, which take ten times the room of the file as Python's lists. So
only the board of the file is read as a whole; of all other boards only the names of their files are read.

The JSON file may have any size. Its outer brackets are read piece by piece: where its tables and lists begin and end.
The brackets of four levels are kept: the plan, its lists, their entries, and the lists of those. The data below, the
points of the parts, is a hundred times as much and is only passed over.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from cutjob.errors import InputError, Location, Problem
from cutjob.files.file_bytes import opened, too_large

_READ_AT_ONCE = 4_000_000  # bytes read at once
_DEEPEST = 500  # a plan is ten levels deep, and Python's own reader ends at a thousand
_KEPT_LEVELS = 4
_MOST_KEPT = 1_000_000  # ten thousand boards have 200,000
_MOST_MARKS = 100_000_000  # brackets and quotes: 400 MB of points have 66 million
# Openings, closings and quotes; 0 for everything else.
_OPENS, _CLOSES, _QUOTE = 1, 2, 3
_KINDS = np.zeros(256, dtype=np.uint8)
_KINDS[list(b"[{")] = _OPENS
_KINDS[list(b"]}")] = _CLOSES
_KINDS[ord('"')] = _QUOTE


class TooMuchError(Exception):
    """The file would take too long to read, or too much room."""


@dataclass(frozen=True, slots=True)
class Brackets:
    """The place of each outer bracket, the depth after it, and the number of bytes in the file."""

    at: NDArray[np.int64]
    depths: NDArray[np.int32]
    size: int

    def part(self, first: int, last: int) -> Brackets:
        """The brackets from number `first` up to but without `last`."""
        return Brackets(self.at[first:last], self.depths[first:last], self.size)


def outer_brackets(file: BinaryIO, *, most: int) -> Brackets:
    """Return the brackets of a file, of which at most `most` + 1 bytes are read.

    Raises ValueError where it isn't JSON, TooMuchError where it has too many brackets.
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
    """The next piece; it never ends in the middle of an escaped sign."""
    piece = file.read(_READ_AT_ONCE)
    while piece.endswith(b"\\") and (len(piece) - len(piece.rstrip(b"\\"))) % 2 and (more := file.read(1)):
        piece += more
    return piece


def _marks(piece: bytes) -> tuple[NDArray[np.int64], NDArray[np.uint8]]:
    """The places of brackets and quotes in a piece, and their kinds; escaped quotes don't count."""
    # Replaced by as many bytes, so that places stay.
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


_LARGEST = 400_000_000  # bytes; ten thousand discs 2 m wide have this many
_MOST_BOARDS = 10_000
_MOST_KEYS = 10_000  # lists and tables of the outermost table, which has about twenty
_MOST_LISTS = 1_000_000  # lists and tables, points too, of one board or of all but the boards: each up to 150 bytes
_MOST_PER_PART = 1_000  # and this many for each part: as many as a disc 2 m wide has
_MOST_PARTS = 10_000
_COMMAS, _BYTES = 3, 100  # for each list, as a limit
_LOOK_BACK = 60  # bytes before a bracket that are searched for its key
_LONGEST_GAP = 1_000  # bytes of space between boards
_PIECE = 1_000_000  # bytes counted at once
_ADVICE = "give the plan.json as cutjob make wrote it, or check the file without --plan"


def read_plan(path: Path, file: str | None) -> dict[str, object]:
    """Return the plan as data. Only the first board that names `file` is whole, the others have only the names of their
    files; with None all boards are whole.

    Raises InputError for a file that isn't a plan, or that holds more than any plan.
    """
    where = Location(file=str(path))
    with opened(path) as stream:
        try:
            plan = _plan(stream, file)
        except _TooLargeError:
            advice = "check the file without --plan, or make the job in parts"
            raise too_large(path, most=_LARGEST, advice=advice) from None
        except TooMuchError:
            message = "the file holds more lists and tables than any plan"
            raise InputError(Problem(message=message, advice=_ADVICE, location=where)) from None
        except (ValueError, RecursionError):
            plan = None
    if not isinstance(plan, dict) or not str(plan.get("schema", "")).startswith("cutjob-plan/"):
        advice = "give the plan.json from the folder the file was made in"
        raise InputError(Problem(message="this is not a plan", advice=advice, location=where))
    return plan


class _TooLargeError(Exception):
    """The file has more bytes than any plan."""


def _plan(stream: BinaryIO, file: str | None) -> Any:
    """Return the plan; with a file, its other boards are shortened. Raises ValueError for bytes that aren't JSON."""
    brackets = outer_brackets(stream, most=_LARGEST)
    if brackets.size > _LARGEST:
        raise _TooLargeError
    if file is None:
        return _Reader(stream, "").whole(brackets.size)
    reader = _Reader(stream, file)
    first = reader.opening(brackets, "boards", depth=2)
    if first is None:
        return reader.loaded((0, brackets.size))
    after = np.flatnonzero(brackets.depths[first + 1 :] < 2)
    if not len(after):
        raise ValueError("the list of boards has no end")
    last = first + 1 + int(after[0])
    start, end = int(brackets.at[first]) + 1, int(brackets.at[last])
    plan = reader.loaded((0, start), (end, brackets.size))
    if isinstance(plan, dict):
        plan["boards"] = reader.boards(brackets.part(first + 1, last), (start, end))
    return plan


class _Reader:
    """A plan's file, read piecewise on demand; everything read except the file's own board shares one limit."""

    def __init__(self, stream: BinaryIO, file: str) -> None:
        self._stream, self._file = stream, file
        self._left = _MOST_LISTS
        self._found = False

    def whole(self, size: int) -> Any:
        """The whole plan."""
        return self._read([(0, size)], self._most(0, size))[0]

    def opening(self, brackets: Brackets, key: str, *, depth: int) -> int | None:
        """The number of the bracket that opens the last list of that key, `depth` deep."""
        wanted = re.compile(rb'(?<!\\)"' + key.encode() + rb'"\s*:\s*\[\Z')
        before = np.concatenate([[depth - 1], brackets.depths[:-1]])
        found = np.flatnonzero((brackets.depths == depth) & (before == depth - 1))
        if len(found) > _MOST_KEYS:
            raise TooMuchError
        for index in found[::-1]:
            at = int(brackets.at[index])
            if wanted.search(self._bytes(max(0, at - _LOOK_BACK), at + 1)):
                return int(index)
        return None

    def boards(self, brackets: Brackets, span: tuple[int, int]) -> list[Any]:
        """Return the boards of the list between two places; `brackets` are those in it."""
        found: list[Any] = []
        at, begun = span[0], 0
        ends = np.flatnonzero(brackets.depths == 2)
        if len(ends) > _MOST_BOARDS:
            raise TooMuchError
        for ended in ends.tolist():
            start, end = int(brackets.at[begun]), int(brackets.at[ended]) + 1
            if self._between(at, start) != (b"," if found else b""):
                raise ValueError("there is something else between boards")
            found.append(self._board(brackets.part(begun, ended + 1), start, end))
            at, begun = end, ended + 1
        if self._between(at, span[1]):
            raise ValueError("there is something else after the boards")
        return found

    def _between(self, start: int, end: int) -> bytes:
        if end - start > _LONGEST_GAP:
            raise ValueError("there is more than a gap between boards")
        return self._bytes(start, end).strip()

    def _board(self, brackets: Brackets, start: int, end: int) -> Any:
        """The first board with the file among its programs or drawings as it is; of any other board the
        programs' names.
        """
        index = self.opening(brackets, "programs", depth=4)
        if index is None:
            return self.loaded((start, end))
        programs = self.loaded((int(brackets.at[index]), int(brackets.at[index + 1]) + 1))
        if not all(isinstance(one, dict) and "file" in one for one in programs):
            return self.loaded((start, end))
        names = [one["file"] for one in programs]
        if self._found or self._file not in [*names, *self._drawings(brackets)]:
            return {"programs": [{"file": name} for name in names]}
        self._found = True
        return self._read([(start, end)], self._most(start, end))[0]

    def _drawings(self, brackets: Brackets) -> list[Any]:
        """The names of a board's drawings."""
        index = self.opening(brackets, "drawings", depth=4)
        if index is None:
            return []
        drawings = self.loaded((int(brackets.at[index]), int(brackets.at[index + 1]) + 1))
        return [one.get("file") for one in drawings if isinstance(one, dict)]

    def _most(self, start: int, end: int) -> int:
        """How many lists and tables a board of this size may have."""
        parts = sum(piece.count(b'"outline"') for piece in self._pieces((start, end)))
        return _MOST_LISTS + _MOST_PER_PART * min(parts, _MOST_PARTS)

    def loaded(self, *spans: tuple[int, int]) -> Any:
        """The data between places of the file, one span after the other; its lists count towards the limit."""
        data, lists = self._read(spans, self._left)
        self._left -= lists
        return data

    def _read(self, spans: Sequence[tuple[int, int]], most: int) -> tuple[Any, int]:
        """The data of spans that hold at most `most` lists, and the number of lists they hold."""
        lists, commas, size = 0, 0, sum(end - start for start, end in spans)
        for piece in self._pieces(*spans):
            lists += piece.count(b"[") + piece.count(b"{")
            commas += piece.count(b",")
            if lists > most or commas > _COMMAS * most or size > _BYTES * most:
                raise TooMuchError
        text = b"".join(self._bytes(*span) for span in spans).removeprefix(b"\xef\xbb\xbf").decode("utf-8")
        return json.loads(text), lists

    def _pieces(self, *spans: tuple[int, int]) -> Iterator[bytes]:
        for start, end in spans:
            for at in range(start, end, _PIECE):
                yield self._bytes(at, min(at + _PIECE, end))

    def _bytes(self, start: int, end: int) -> bytes:
        self._stream.seek(start)
        return self._stream.read(end - start)
