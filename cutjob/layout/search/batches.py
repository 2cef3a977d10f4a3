"""Batches: the parts wanted as lots, boards with the same layout made several times, and the resulting layouts.

A *lot* must come off one board: it is one part, or all parts of one unit of an item that is kept together. A *sheet* is
a board filled with lots that is made several `times`, with as many stacked as allowed.

Also the numbers of each part that a job wants, and the unit of its item that each copy is for.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutjob.errors import Location
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import Item, ShapedPart
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """`count` equal parts for an item, `per_unit` of them for each unit; units are numbered from `first_unit`."""

    item: str
    part: ShapedPart
    per_unit: int
    count: int
    first_unit: int = 1
    location: Location | None = None

    def unit_of(self, copy: int) -> int:
        """The unit of a copy; copies are counted from 0."""
        return self.first_unit + copy // self.per_unit


def demands(items: Sequence[Item]) -> tuple[Demand, ...]:
    """Return every part wanted; equal parts of an item are one demand, and items with the same name
    share their units.
    """
    result: list[Demand] = []
    units: dict[str, int] = {}
    for item in items:
        parts: dict[ShapedPart, int] = {}
        for part in item.build.shaped:
            parts[part] = parts.get(part, 0) + 1
        first = units.get(item.name, 0) + 1
        units[item.name] = first - 1 + item.count
        result += [
            Demand(
                item=item.name,
                part=part,
                per_unit=number,
                count=number * item.count,
                first_unit=first,
                location=item.location,
            )
            for part, number in parts.items()
            if item.count > 0
        ]
    return tuple(result)


_MOST_AT_ONCE = 150  # parts: a step with more is only kept where nothing is repeated
_MOST_CHAINS = 16
_SHARES = 8  # most shares into which equal lots are divided for repeated boards


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """`count` times these demands (indices, one for each part), each time on one board. Parts that are not `stackable`
    have holes of partial depth, which only the top board of a stack would get.
    """

    parts: tuple[int, ...]
    count: int
    stackable: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A part on a sheet: its lot, the number of that lot among the sheet's lots of its kind, its demand and place."""

    lot: int
    bundle: int
    demand: int
    transform: Transform


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A filled board of a kind (an index), to be made several `times`. A board longer than the machine's bed is cut in
    `windows`.
    """

    kind: int
    times: int
    pieces: tuple[Piece, ...]
    windows: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Of every lot that is left, one in `times` is laid out, and that layout is made `times` times.

    With `drop` the emptiest board is removed and its lots are left for the next step. `free` allows only boards that
    cost nothing, `bought` only the others. `plain` leaves out lots that can't be stacked.
    """

    times: int
    drop: bool = False
    free: bool = False
    bought: bool = False
    plain: bool = False


Chain = tuple[Step, ...]


def lots_of(items: Sequence[Item], wanted: Sequence[Demand]) -> tuple[Lot, ...]:
    """Return the lots of the items whose demands are given, in the order of `demands`."""
    lots: list[Lot] = []
    at = 0
    # A hole partway through or a pocket reaches only the top board of a stack.
    stackable = [all(hole.depth is None for hole in entry.part.holes) and not entry.part.pockets for entry in wanted]
    for item in items:
        if item.count < 1:
            continue
        own = range(at, at + len(dict.fromkeys(item.build.shaped)))
        at = own.stop
        if item.together and sum(wanted[i].per_unit for i in own) > 1:
            parts = tuple(i for i in own for _ in range(wanted[i].per_unit))
            lots.append(Lot(parts=parts, count=item.count, stackable=all(stackable[i] for i in own)))
        else:
            lots += [Lot(parts=(i,), count=wanted[i].count, stackable=stackable[i]) for i in own]
    return tuple(lots)


def runs_of(sheet: Sheet, lots: Sequence[Lot], stack: int) -> int:
    """Return the number of runs of the machine for a sheet."""
    return -(-sheet.times // _height(sheet, lots, stack)) * sheet.windows


def windows_needed(spans: Sequence[tuple[float, float]], *, longest: float) -> int:
    """Return the fewest windows of a length that hold all spans of x, each span whole in one of them."""
    number, end = 0, -math.inf
    for first, last in sorted(spans):
        if last > end + TOLERANCES.same_point:
            number, end = number + 1, first + longest
    return number


def _height(sheet: Sheet, lots: Sequence[Lot], stack: int) -> int:
    return stack if all(lots[piece.lot].stackable for piece in sheet.pieces) else 1


def chains(lots: Sequence[Lot], *, stack: int, free: bool) -> list[Chain]:
    """Return promising ways of repeating layouts, each a sequence of steps that ends with single boards.

    `free` says whether there are boards that cost nothing, which may be filled first.
    """
    single = Step(times=1)
    made: dict[Chain, None] = {}
    parts = sum(lot.count * len(lot.parts) for lot in lots)
    for times in _factors(lots, stack):
        lot_parts = sum(lot.count // times * len(lot.parts) for lot in lots)
        if times == 1 or lot_parts == 0 or lot_parts > 2 * _MOST_AT_ONCE:
            continue
        rest = _rests(lots, times, stack)
        if stack > 1 and not all(lot.stackable for lot in lots):
            made[(Step(times=times, plain=True), *rest, single)] = None
            made[(Step(times=times, plain=True, drop=True), *rest, single)] = None
        made[(Step(times=times), *rest, single)] = None
        if free:
            made[(Step(times=1, free=True), Step(times=times, bought=True), *rest, single)] = None
        made[(Step(times=times, drop=True), *rest, single)] = None
    ordered = list(made)[:_MOST_CHAINS]
    if parts <= _MOST_AT_ONCE:
        return [(single,), *ordered]
    return [*ordered, (single,)] if parts <= 2 * _MOST_AT_ONCE or not ordered else ordered


def _factors(lots: Sequence[Lot], stack: int) -> list[int]:
    """How often a layout may be made: every count of a lot, divided among one board or a few."""
    most = max((lot.count for lot in lots), default=1)
    found: dict[int, None] = {}
    if stack > 1:
        for times in (stack, 2 * stack, 4 * stack):
            if times <= most:
                found[times] = None
    common = sorted({lot.count for lot in lots}, key=lambda count: -sum(lot.count == count for lot in lots))
    for count in common[:4]:
        for share in range(1, _SHARES + 1):
            times = count // share
            if times >= stack > 1:
                found[times - times % stack] = None
            if times > 1:
                found[times] = None
    return [*found]


def _rests(lots: Sequence[Lot], times: int, stack: int) -> list[Step]:
    """Steps for the lots left after a step with `times`, so that the last step has few parts."""
    steps: list[Step] = []
    while True:
        left = sum(lot.count % times * len(lot.parts) for lot in lots)
        if stack > 1 and times > stack and any(lot.count % times >= stack for lot in lots):
            next_ = max(stack, times // 3 - times // 3 % stack)
        elif left > _MOST_AT_ONCE:
            next_ = times // 3
        else:
            return steps
        if next_ < 2 or next_ >= times:
            return steps
        steps.append(Step(times=next_))
        times = next_


def merged(sheets: Sequence[Sheet], lots: Sequence[Lot], shapes: Sequence[int]) -> tuple[Sheet, ...]:
    """Return the sheets with fewer layouts: those with parts of the same shapes on the same kind of board are laid like
    the first of them.

    `shapes` has a number for the shape of each demand. Parts of equal shape change places, so that each of the boards
    gets the same number of each lot; where the numbers don't divide, the sheets stay as they are.
    """
    found: list[tuple[object, Sheet]] = []
    for sheet in sheets:
        alike = (sheet.kind, sorted(Counter(_shape(piece, lots, shapes) for piece in sheet.pieces).items()))
        for number, (key, other) in enumerate(found):
            both = _laid_alike(other, sheet, lots, shapes) if key == alike else None
            if both is not None:
                found[number] = (key, both)
                break
        else:
            found.append((alike, sheet))
    return tuple(sheet for _, sheet in found)


def _shape(piece: Piece, lots: Sequence[Lot], shapes: Sequence[int]) -> tuple[int, int, bool]:
    """What a piece can change places with: another of its shape, or where it stays with others only its own lot."""
    lot = lots[piece.lot]
    return (-1 if len(lot.parts) == 1 else piece.lot), shapes[piece.demand], lot.stackable


def _laid_alike(one: Sheet, other: Sheet, lots: Sequence[Lot], shapes: Sequence[int]) -> Sheet | None:
    """Both sheets as one that is laid like the first; None where the boards can't get the same numbers of each lot."""
    times = one.times + other.times
    total: Counter[tuple[int, int]] = Counter()
    for sheet in (one, other):
        for piece in sheet.pieces:
            total[piece.lot, piece.demand] += sheet.times
    if any(count % times for count in total.values()):
        return None
    waiting: dict[tuple[int, int, bool], list[Piece]] = {}
    for sheet in (one, other):
        for piece in sheet.pieces:
            key = piece.lot, piece.demand
            waiting.setdefault(_shape(piece, lots, shapes), []).extend([piece] * (total[key] // times))
            total[key] = 0
    pieces = tuple(
        piece
        if len(lots[piece.lot].parts) > 1
        else replace(waiting[_shape(piece, lots, shapes)].pop(0), bundle=number, transform=piece.transform)
        for number, piece in enumerate(one.pieces)
    )
    return replace(one, times=times, pieces=pieces)


def board_layouts(
    sheets: Sequence[Sheet], lots: Sequence[Lot], wanted: Sequence[Demand], boards: Sequence[Board], *, stack: int
) -> tuple[BoardLayout, ...]:
    """Return the layouts of all sheets: full stacks, and a sheet's remaining boards as one lower stack.

    The unit of a placement is that of the top board of the first stack; the other boards are for the next units.
    """
    done = [0] * len(lots)
    layouts: list[BoardLayout] = []
    for sheet in sheets:
        height = _height(sheet, lots, stack)
        for high, copies in ((height, sheet.times // height), (sheet.times % height, 1)):
            if high < 1 or copies < 1:
                continue
            placements, used = _placements(sheet, lots, wanted, done, high)
            for lot, number in used.items():
                done[lot] += number * high * copies
            name = f"board-{len(layouts) + 1:02d}"
            board = boards[sheet.kind]
            layouts.append(BoardLayout(id=name, board=board, placements=placements, stack=high, copies=copies))
    return tuple(layouts)


def _placements(
    sheet: Sheet, lots: Sequence[Lot], wanted: Sequence[Demand], done: Sequence[int], height: int
) -> tuple[tuple[Placement, ...], dict[int, int]]:
    bundles: dict[int, dict[int, int]] = {}
    placements = []
    for piece in sheet.pieces:
        known = bundles.setdefault(piece.lot, {})
        number = known.setdefault(piece.bundle, len(known))
        copy, demand = done[piece.lot] + number * height, wanted[piece.demand]
        whole = len(lots[piece.lot].parts) > 1
        unit = demand.first_unit + copy if whole else demand.unit_of(copy)
        placements.append(Placement(part=demand.part, item=demand.item, unit=unit, transform=piece.transform))
    return tuple(placements), {lot: len(known) for lot, known in bundles.items()}
