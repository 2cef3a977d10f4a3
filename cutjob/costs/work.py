"""How much work and material each item takes: pieces to saw, holes, metres, square metres, the machine's time.

All amounts are for the whole count of an item. Work on a board as a whole (its files, setting it up, its windows, the
bridges) is shared by the area of the parts on it. Metres and square metres of parts cut or sawn off boards are those of
all their edges and of both faces; sticks come smooth.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from cutjob.job.machine import Machine
from cutjob.job.shop import WORKS, Covered, Work
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.parts.part import Item, with_hand_holes
from cutjob.parts.surfaces import surface_areas
from cutjob.program.moves import Program
from cutjob.program.time import move_seconds
from cutjob.sticks.lists import StickList

_M, _M2 = 1e-3, 1e-6  # m in a mm, m2 in a mm2


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """What an item's whole count takes: each kind of work, the machine's time in s, and what supplies are used for."""

    work: Mapping[Work, float]
    seconds: float
    covered: Mapping[Covered, float]


def amounts_of(
    items: Sequence[Item],
    layout: Layout,
    programs: Sequence[Program],
    sticks: Sequence[StickList],
    machine: Machine,
    *,
    coats: Mapping[str, int],
) -> dict[str, Amounts]:
    """Return the amounts of each item, by name. `coats` has how often each item is painted."""
    seconds = machine_seconds(layout, programs, machine)
    found: dict[str, dict[Work, float]] = {item.name: dict.fromkeys(WORKS, 0.0) for item in items}
    shared = (*_of_boards(layout, programs, machine), *_cutter_changes(layout, programs, machine))
    for name, kind, amount in (*shared, *_sawing(layout), *_sticks(sticks), *_by_hand(layout, machine)):
        found[name][kind] += amount
    by_hand = {item.name: item for item in with_hand_holes(items, every=machine.by_hand)}
    sizes = part_sizes(layout)
    result: dict[str, Amounts] = {}
    for item in items:
        work = found[item.name]
        edge, face, around = _surfaces(item, sizes)
        pieces = len(by_hand[item.name].build.from_boards) + len(item.build.sticks)
        turning = sum(stand.turns for stand in item.build.stands)
        joined = pieces if pieces > 1 else 0
        own: dict[Work, float] = {
            "hole": float(len(by_hand[item.name].build.hand_holes)),
            "sand_edge": edge,
            "sand_face": face,
            "glue": float(max(0, joined - turning)),
            "assemble": float(joined),
            "fit": float(sum(thing.count for thing in item.build.bought)),
            "coat": coats.get(item.name, 0) * around,
            "pack": 1.0,
        }
        for kind, amount in own.items():
            work[kind] += amount * item.count
        result[item.name] = Amounts(
            work={kind: amount for kind, amount in work.items() if amount},
            seconds=seconds.get(item.name, 0.0),
            covered={
                "glued part": work["glue"],
                "sanded square metre": work["sand_face"],
                "coated square metre": work["coat"],
                "metre of edge": work["sand_edge"],
                "part": float(pieces * item.count),
                "item": float(item.count),
            },
        )
    return result


def _with_shares(layout: Layout) -> Iterator[tuple[BoardLayout, dict[str, float]]]:
    """Every board layout, with the share of each item in the area of its parts."""
    for board in layout.boards:
        areas: dict[str, float] = {}
        for one in board.placements:
            areas[one.item] = areas.get(one.item, 0.0) + one.part.region.area
        whole = sum(areas.values())
        yield board, {item: area / whole for item, area in areas.items()}


def _of_boards(layout: Layout, programs: Sequence[Program], machine: Machine) -> Iterator[tuple[str, Work, float]]:
    """The work on every board layout as a whole, for all its copies; none where others cut it, or a saw does."""
    for board, share in _with_shares(layout):
        own = [program for program in programs if program.board == board.id]
        if not own or machine.by_hand:
            continue
        bridges = len(board.holding.bridges) if board.holding is not None else sum(len(one.tabs) for one in own)
        amounts: dict[Work, int] = {
            "program": len(own),
            "board": board.stack,
            "window": max(0, len(board.windows) - 1),
            "bridge": bridges,
        }
        for item, part in share.items():
            for kind, amount in amounts.items():
                yield item, kind, amount * board.copies * part


def _cutter_changes(layout: Layout, programs: Sequence[Program], machine: Machine) -> Iterator[tuple[str, Work, float]]:
    """The changes of cutter by hand, in the order in which the files are run, the first one fitted too."""
    if machine.by_hand or machine.has_beam or machine.controller.tool_change != "by hand":
        return
    last: int | None = None
    for board, share in _with_shares(layout):
        numbers = [cutter.number for one in programs if one.board == board.id for cutter in one.cutters]
        for number in numbers * board.copies:
            if number != last:
                for item, part in share.items():
                    yield item, "cutter_change", part
            last = number


def _sawing(layout: Layout) -> Iterator[tuple[str, Work, float]]:
    """Cuts that take pieces off boards, with those that clear an end or a knot and those that rip."""
    for board in layout.saw_order:
        for cut in board.cuts:
            yield cut.item, "saw_cut", board.count * (2.0 if cut.waste else 1.0)
            for item, _, _ in cut.rips:
                yield item, "saw_cut", float(board.count)


def _sticks(sticks: Sequence[StickList]) -> Iterator[tuple[str, Work, float]]:
    for one in sticks:
        for setting in one.settings:
            for part in setting.parts:
                yield part.item, "stick_cut", float(part.count)


def _by_hand(layout: Layout, machine: Machine) -> Iterator[tuple[str, Work, float]]:
    """Patterns and metres to saw, where a saw cuts the parts; boards stacked are sawn at once."""
    if not machine.by_hand:
        return
    for board in layout.boards:
        for one in board.placements:
            metres = sum(contour.length for contour in one.part.region.contours) * _M
            yield one.item, "pattern", float(board.copies)
            yield one.item, "saw_outline", metres * board.copies


# By the names of item and part: the thickness, and the width of a piece that is sawn off a board, mm.
PartSizes: TypeAlias = Mapping[tuple[str, str], tuple[float, float]]


def part_sizes(layout: Layout) -> PartSizes:
    """Return the thickness of each part, and the width of each piece that is sawn off a board, mm."""
    found = {(one.item, one.part.name): (b.board.thickness, 0.0) for b in layout.boards for one in b.placements}
    return found | {(piece.item, piece.part): (piece.thickness, piece.width) for piece in layout.sawn}


def _surfaces(item: Item, sizes: PartSizes) -> tuple[float, float, float]:
    """The metres of edge and the square metres of face of one item's parts off boards, and the square metres that are
    painted: those that its finish names, else all surfaces, with the sides of its sticks.
    """
    edge = face = around = 0.0
    for part in item.build.shaped:
        thick, _ = sizes.get((item.name, part.name), (0.0, 0.0))
        long = sum(contour.length for contour in part.region.contours)
        edge, face, around = edge + long * _M, face + 2 * part.region.area * _M2, around + long * thick * _M2
    for piece in item.build.sawn:
        thick, wide = sizes.get((item.name, piece.name), (0.0, 0.0))
        long = 2 * (piece.length + wide)
        edge, face, around = edge + long * _M, face + 2 * piece.length * wide * _M2, around + long * thick * _M2
    for stick in item.build.sticks:
        across = math.pi * stick.section[0] if len(stick.section) == 1 else 2 * sum(stick.section)
        around += across * stick.length * _M2
    return edge, face, _finished(item, sizes) if item.finish else face + around


def _finished(item: Item, sizes: PartSizes) -> float:
    """The square metres of the surfaces that an item's finish names."""
    finish, area = dict(item.finish), 0.0
    for part in (*item.build.from_boards, *item.build.sticks):
        thick, wide = sizes.get((item.name, part.name), (0.0, 0.0))
        areas = surface_areas(part, thick=thick, wide=wide) if part.name in finish else {}
        area += sum(own for surface, own in areas.items() if finish[part.name].on(surface) is not None)
    return area


def machine_seconds(layout: Layout, programs: Sequence[Program], machine: Machine) -> dict[str, float]:
    """Return the machine's time for each item that it cuts, by name, for all copies of the boards together, s.

    The times add up to those of the programs, each as often as it runs.
    """
    layouts = {board.id: board for board in layout.boards}
    seconds: dict[str, float] = {}
    for program in programs:
        board = layouts[program.board]
        own = _moving(program, board, machine)
        whole = sum(own.values())
        for item, moving in own.items():
            seconds[item] = seconds.get(item, 0.0) + program.seconds * board.copies * moving / whole
    return seconds


def _moving(program: Program, board: BoardLayout, machine: Machine) -> dict[str, float]:
    """The time of the moves on each item's parts, s; without such moves every part counts the same."""
    every = [move for step in program.steps for move in step.moves]
    times = iter(move_seconds(every, (*program.origin, program.clear_z), machine.motion))
    own: dict[str, float] = {}
    for step in program.steps:
        taken = sum(next(times) for _ in step.moves)
        if step.placement is not None:
            item = board.placements[step.placement].item
            own[item] = own.get(item, 0.0) + taken
    if sum(own.values()) > 0:
        return own
    return {placement.item: 1.0 for placement in board.placements}
