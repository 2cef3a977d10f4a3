"""Leftovers to `[[board]]` entries for the next job, and to the file of them in the output folder.

What is written is never larger than the wood: lengths are rounded down, outlines inward, keep-outs outward.

What is left of rods and strips and worth keeping becomes `[[rod]]` and `[[strip]]` entries likewise.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from shapely import Polygon

from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Point
from cutjob.job.hazards import hazards_of
from cutjob.job.job import Job
from cutjob.job.model import UNTITLED
from cutjob.job.stock import Board, KeepOut
from cutjob.layout.leftovers import Leftover
from cutjob.sticks.lists import StickList, measures_of, numbered, sticks_of
from cutjob.tolerances import TOLERANCES
from cutjob.units import MM_PER, Unit, down_to_tape, parse_length

LEFTOVERS_FILE = "leftovers.toml"
# Steps of these decimals are far below what a shop measures; more are taken only where an outline needs them.
_DECIMALS: dict[Unit, tuple[int, ...]] = {"mm": (3, 5, 6), "in": (4, 6, 7)}
_HALF_STEP = 0.75  # a rounded point lies within the root of a half of a step, rounded up
_FUZZ = 1e-6  # of a step: a length that is a whole number of steps but for the arithmetic
_LONGEST_NAME = 80
OFFCUT = "offcut of "


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptLeftover:
    """A leftover with its own name, and what a file says of it, key by key, in the file's units."""

    name: str
    leftover: Leftover
    entry: Mapping[str, Any]


def kept_leftovers(leftovers: Sequence[Leftover], *, title: str, units: Unit) -> tuple[KeptLeftover, ...]:
    """Return the leftovers named apart, each `offcut of <board>, <title> <layout>`, as entries in `units`."""
    kept: list[KeptLeftover] = []
    taken: set[str] = set()
    for leftover in leftovers:
        pair = sum(other.layout == leftover.layout and other.layout is not None for other in leftovers) > 1
        name = free_name(_name(leftover, title, with_side=pair), taken)
        taken.add(name)
        kept.append(KeptLeftover(name=name, leftover=leftover, entry=entry_of(leftover.board, name=name, units=units)))
    return tuple(kept)


def title_of(job: Job) -> str:
    """Return the words leftovers are named after: the job's title, or its file's name where it has none."""
    return job.path.stem if job.file.title == UNTITLED else job.file.title


def free_name(name: str, taken: set[str]) -> str:
    """Return the name, with a number behind it where it is taken."""
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name[: _LONGEST_NAME - 5]} ({number})"
    return free


def _name(leftover: Leftover, title: str, *, with_side: bool) -> str:
    kind = leftover.board.name
    if kind.startswith(OFFCUT):  # an offcut of an offcut is named by the whole board
        kind = kind.removeprefix(OFFCUT).partition(", ")[0]
    where = f"{leftover.layout or 'sawn'}{f' {leftover.side}' if with_side else ''}"
    room = _LONGEST_NAME - len(OFFCUT) - len(where) - 3
    title = title[: max(room - len(kind), room // 3)].strip()
    return f"{OFFCUT}{kind[: room - len(title)].strip()}, {title} {where}"


def entry_of(board: Board, *, name: str, units: Unit) -> dict[str, Any]:
    """Return a board as a file's `[[board]]` would say it: a rectangle, a dog-eared one or an outline; price 0."""
    for decimals in _DECIMALS[units]:
        corner = (0.0, 0.0)  # of what is written, in the leftover's frame
        shape = _rectangle(board, units, decimals)
        if shape is None:
            corner, points = _outline(board, units, decimals)
            shape = {"outline": [list(point) for point in points]} if points else None
        if shape is not None:
            break
    else:
        raise ValueError(f'the outline of "{name}" has corners too near each other to be written')
    entry: dict[str, Any] = {"name": name, **shape, "thickness": _exact(board.thickness, units)}
    if board.grain != "length":
        entry["grain"] = board.grain
    entry["material"] = board.material
    treated = "treated" in board.hazards
    if treated != ("treated" in hazards_of(board.material, name)):
        entry["treated"] = treated
    if board.count > 1:
        entry["count"] = board.count
    entry["price"] = 0
    faults = list(_faults(board))
    if faults:
        entry["keep_out"] = [_keep_out(fault, corner, units, decimals) for fault in faults]
    return entry


def _faults(board: Board) -> Iterator[KeepOut]:
    """The keep-outs that are in the wood, and what they are: what stood on the board is off it with the next job."""
    yield from (one for one in board.keep_outs if one.height <= 0)


def entry_lines(entry: Mapping[str, Any], *, table: str = "board") -> Iterator[str]:
    """Yield the lines of a `[[board]]`, or of another table, in TOML."""
    yield f"[[{table}]]"
    for key, value in entry.items():
        yield f"{key} = {toml_value(value)}"


def toml_value(value: Any) -> str:
    """Return text, numbers, lists and tables as TOML on one line."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {toml_value(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(toml_value(inner) for inner in value) + "]"
    if isinstance(value, float):
        return f"{value:.9f}".rstrip("0").rstrip(".")
    return str(value)


def write_leftovers(
    kept: Sequence[KeptLeftover],
    *,
    title: str,
    units: Unit,
    sticks: Iterable[tuple[str, Mapping[str, Any]]] = (),
) -> bytes:
    """Return the file of a job's leftovers: one that the next job can name as its stock, or take entries from. `sticks`
    are the names of tables and entries for what is left of rods and strips.
    """
    lines = [
        "# What is left of the boards, each piece by one straight saw cut clear of the parts, and of rods and strips.",
        f"# Job: {''.join(letter if letter.isprintable() else '?' for letter in title)}",
        '# Paste the entries into a job or a file of stock, or name this file in a job: stock = "..."',
        "# Measure what you cut: sizes are those planned.",
        "",
        f'units = "{units}"',
    ]
    for one in kept:
        lines += ["", *entry_lines(one.entry)]
    for table, entry in sticks:
        lines += ["", *entry_lines(entry, table=table)]
    return ("\n".join(lines) + "\n").encode("utf-8", errors="replace")


def _down(mm: float, units: Unit, decimals: int) -> float:
    return math.floor(mm / MM_PER[units] * 10.0**decimals + _FUZZ) / 10.0**decimals


def _up(mm: float, units: Unit, decimals: int) -> float:
    return math.ceil(mm / MM_PER[units] * 10.0**decimals - _FUZZ) / 10.0**decimals


def _exact(mm: float, units: Unit) -> float | str:
    """A size that must be read back as the very same: a number in the units, or text in mm."""
    value = round(mm / MM_PER[units], 6)
    return value if parse_length(value, unit=units) == mm else f"{mm!r} mm"


def _rectangle(board: Board, units: Unit, decimals: int) -> dict[str, Any] | None:
    """Length and width, and dog-ears where the outline has them; None for any other outline."""
    polygon = to_polygon(board.outline)
    length, width = board.length, board.width
    points = [segment.start for segment in board.outline.segments]
    same = TOLERANCES.same_point
    sizes = {
        end: min((y for x, y in points if abs(x - edge) <= same and y > same), default=0.0)
        for end, edge in (("left", 0.0), ("right", length))
    }
    eared = {end: size for end, size in sizes.items() if size < width - same}
    ear = max(eared.values(), default=0.0)
    meant: shapely.Geometry = shapely.box(0.0, 0.0, length, width)
    for end in eared:
        x, into = (0.0, ear) if end == "left" else (length, -ear)
        for y, up in ((0.0, ear), (width, -ear)):
            meant = shapely.difference(meant, Polygon([(x, y), (x + into, y), (x, y + up)]))
    if shapely.symmetric_difference(meant, polygon).area > same:
        return None
    shape: dict[str, Any] = {"length": _down(length, units, decimals), "width": _down(width, units, decimals)}
    if eared:
        size = _up(ear, units, decimals)
        if size * 2 >= shape["width"] or size * len(eared) >= shape["length"]:
            return None
        end = "both" if len(eared) == 2 else next(iter(eared))
        shape["corners"] = {"style": "dog-ear", "size": size, "end": end}
    return shape if shape["length"] > 0 and shape["width"] > 0 else None


def _outline(board: Board, units: Unit, decimals: int) -> tuple[Point, list[Point]]:
    """The corners from their least x and y on, and where that is; drawn in before they are rounded.

    No corners where so few decimals don't give an outline.
    """
    step = MM_PER[units] / 10**decimals
    pieces = polygons_of(to_polygon(board.outline).buffer(-_HALF_STEP * step, join_style="mitre"))
    if not pieces:
        return (0.0, 0.0), []
    largest = max(pieces, key=lambda piece: piece.area)
    points = [_rounded(point, (0.0, 0.0), units, decimals) for point in largest.exterior.coords[:-1]]
    points = [point for number, point in enumerate(points) if point != points[number - 1]]
    if len(points) < 3 or not Polygon(points).is_valid:
        return (0.0, 0.0), []
    corner = min(x for x, _ in points), min(y for _, y in points)
    moved = [(round(x - corner[0], decimals), round(y - corner[1], decimals)) for x, y in points]
    return (corner[0] * MM_PER[units], corner[1] * MM_PER[units]), moved


def _rounded(point: Sequence[float], corner: Point, units: Unit, decimals: int) -> Point:
    x, y = (round((value - least) / MM_PER[units], decimals) + 0.0 for value, least in zip(point, corner, strict=True))
    return x, y


def _keep_out(fault: KeepOut, corner: Point, units: Unit, decimals: int) -> dict[str, Any]:
    grow = _HALF_STEP * MM_PER[units] / 10**decimals
    round_one = fault.area.circle()
    made: dict[str, Any]
    if round_one is not None:
        at, radius = round_one
        written = _rounded(at, corner, units, decimals)
        moved = math.dist(at, [value * MM_PER[units] + least for value, least in zip(written, corner, strict=True)])
        made = {"at": list(written), "radius": _up(radius + moved, units, decimals)}
    else:
        ring = to_polygon(fault.area).buffer(grow, join_style="mitre").exterior.coords[:-1]
        made = {"outline": [list(_rounded(point, corner, units, decimals)) for point in ring]}
    return made | ({"why": fault.why} if fault.why else {})


def stick_entries(
    lists: Sequence[StickList], *, title: str, units: Unit, least: float
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield the name of the table and its keys in `units` for every offcut of a stick from that length on, mm."""
    for one, first in numbered(lists):
        for place, stick in enumerate(one.sticks):
            length = down_to_tape(stick.left, units)
            if length < least:
                continue
            end = f", {title[:30].strip()} no. {first + place}"
            kind = stick.stock
            if kind.startswith(OFFCUT):  # an offcut of an offcut is named by the whole stick
                kind = kind.removeprefix(OFFCUT).rpartition(", ")[0]
            entry: dict[str, Any] = {"name": f"{OFFCUT}{kind[: _LONGEST_NAME - len(OFFCUT) - len(end)].strip()}{end}"}
            sides = measures_of(one.section) | {"length": length}
            entry |= {key: round(side / MM_PER[units], 6) for key, side in sides.items()}
            if stick.times > 1:
                entry["count"] = stick.times
            yield sticks_of(one.section), entry | {"price": 0}
