"""A plan.json to what the check of one file needs of it: bytes in, the plan with that file's board out.

A plan of ten thousand parts holds some million points, which as Python's lists take ten times the room of the file. So
its boards are read one after the other, and of all but the one that the file belongs to only the names of files stay.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cutjob.errors import InputError, Location, Problem
from cutjob.job.file_bytes import bytes_of

_LARGEST = 80_000_000  # bytes; ten thousand parts of 300 points each have 60 million
_MOST_LISTS = 4_000_000  # lists and tables, points too, of the whole plan: about two seconds
_MOST_TEXTS = 1_000_000  # names and keys; each part has about ten
_MOST_BOARDS = 10_000
_MOST_AT_ONCE = 1_000_000  # of one board, or of all but the boards: each takes up to 150 bytes
_ADVICE = "give the plan.json from the folder the file was made in"
_BOARDS = re.compile(rb'"boards"\s*:\s*\Z')
_LOOK_BACK = 60  # bytes before a bracket that are looked at for its key


class _TooMuchError(Exception):
    """It would take too long, or too much room."""


def read_plan(path: Path, file: str) -> dict[str, Any]:
    """Return the plan as data, its boards but those that name `file` without anything but their files.

    Raises InputError for what is no plan, or holds more than any.
    """
    data = bytes_of(path, most=_LARGEST, advice=_ADVICE).removeprefix(b"\xef\xbb\xbf")
    try:
        plan = _plan(data, file)
    except _TooMuchError:
        message = "this holds more lists and tables than any plan"
        raise InputError(Problem(message=message, advice=_ADVICE, location=Location(file=str(path)))) from None
    except (ValueError, RecursionError):
        plan = None
    if not isinstance(plan, dict) or not str(plan.get("schema", "")).startswith("cutjob-plan/"):
        raise InputError(Problem(message="this is not a plan", advice=_ADVICE, location=Location(file=str(path))))
    return plan


def _plan(data: bytes, file: str) -> Any:
    """Return the plan, its boards shortened. Raises ValueError for bytes that are no JSON."""
    count = data.count(b"[") + data.count(b"{")
    if count > _MOST_LISTS or data.count(b'"') > 2 * _MOST_TEXTS:
        raise _TooMuchError
    opened, depths = _brackets(data)
    first = _boards_at(data, opened, depths)
    if first is None:
        return _loaded(data, count)
    after = np.flatnonzero(depths[first + 1 :] < 2)
    if not len(after):
        raise ValueError("the list of boards has no end")
    last = first + 1 + int(after[0])
    start, end = int(opened[first]) + 1, int(opened[last])
    plan = _loaded(data[:start] + data[end:], count - (last - first) // 2)
    if isinstance(plan, dict):
        plan["boards"] = _boards(data, opened[first + 1 : last], depths[first + 1 : last], (start, end), file)
    return plan


def _brackets(data: bytes) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Return where every bracket outside of texts stands, and how deep it is after it."""
    # Of the same length, so that places stay: a quote within a text ends none.
    plain = data.replace(b"\\\\", b"__").replace(b'\\"', b"__")
    wanted = np.zeros(256, dtype=np.bool_)
    wanted[list(b'[]{}"')] = True
    codes = np.frombuffer(plain, dtype=np.uint8)
    at = np.flatnonzero(wanted[codes])
    marks = codes[at]
    quotes = marks == ord('"')
    outside = ~quotes & (np.cumsum(quotes, dtype=np.uint8) % 2 == 0)
    at, marks = at[outside], marks[outside]
    steps = ((marks == ord("[")) | (marks == ord("{"))).astype(np.int8) * 2 - 1
    return at, np.cumsum(steps, dtype=np.int32)


def _boards_at(data: bytes, opened: NDArray[np.int64], depths: NDArray[np.int32]) -> int | None:
    """Which bracket opens the list of the key `boards` of the outermost table."""
    for index in np.flatnonzero((depths[1:] == 2) & (depths[:-1] == 1)) + 1:
        at = int(opened[index])
        if data[at : at + 1] == b"[" and _BOARDS.search(data, max(0, at - _LOOK_BACK), at):
            return int(index)
    return None


def _boards(
    data: bytes, opened: NDArray[np.int64], depths: NDArray[np.int32], span: tuple[int, int], file: str
) -> list[Any]:
    """Return what the list between two places holds; `opened` and `depths` are of the brackets in it."""
    found: list[Any] = []
    at, begun = span[0], 0
    ends = np.flatnonzero(depths == 2)
    if len(ends) > _MOST_BOARDS:
        raise _TooMuchError
    for ended in ends.tolist():
        start, end = int(opened[begun]), int(opened[ended]) + 1
        if not _parted(data[at:start], first=not found):
            raise ValueError("between boards stands something else")
        found.append(_shortened(_loaded(data[start:end], (ended - begun) // 2 + 1), file))
        at, begun = end, ended + 1
    if data[at : span[1]].strip():
        raise ValueError("after the boards stands something else")
    return found


def _parted(between: bytes, *, first: bool) -> bool:
    """Whether what stands before a board is a comma, or nothing before the first."""
    return between.strip() == (b"" if first else b",")


def _shortened(board: Any, file: str) -> Any:
    """A board as it is where one of its programs is the file's; else its programs' names."""
    programs = board.get("programs") if isinstance(board, dict) else None
    if not isinstance(programs, list) or not all(isinstance(one, dict) and "file" in one for one in programs):
        return board
    if any(one["file"] == file for one in programs):
        return board
    return {"programs": [{"file": one["file"]} for one in programs]}


def _loaded(data: bytes, count: int) -> Any:
    if count > _MOST_AT_ONCE or data.count(b",") > 3 * _MOST_AT_ONCE:
        raise _TooMuchError
    return json.loads(data.decode("utf-8"))
