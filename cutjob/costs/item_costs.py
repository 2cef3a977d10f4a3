"""Works out each item's machine time and costs from the job's prices, its shop rate and the layout.

Only stated prices are counted; things without a price are named as not counted. All figures are for the whole count of
an item. With A for areas, L for lengths and t for times of the machine:

- boards: of every kind of board, price x boards used x A(parts of the item) / A(all parts off that kind). Sawn parts
  count with length x width. Whole boards are shared: the items also pay for the waste and the leftovers.
- sticks: of every section of rod or strip, price of the sticks sawn x L(pieces of the item) / L(all its pieces).
- bought: price x pieces.
- machine: shop rate x t / 3600 s. t is the time of the moves on the item's own parts, with the same share of the time
  for everything else in a program (changes of cutter, holes for screws).

It also counts the boards that a layout uses, with their price and the share of their area that is parts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cutjob.job.machine import Machine
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.parts.part import Item, Section
from cutjob.program.moves import Program
from cutjob.program.time import move_seconds
from cutjob.sticks.lists import as_known, stick_words
from cutjob.tolerances import TOLERANCES


def boards_used(layout: Layout) -> dict[str, int]:
    """Return the number of boards of each kind, by name, that are cut or sawn; a board that is both counts once."""
    used = dict(layout.sawn_from)
    for board in layout.boards:
        if not board.board.sawn_off:
            name = board.board.name
            used[name] = used.get(name, 0) + board.stack * board.copies
    return used


def wood_cost(layout: Layout, stock: Sequence[Board]) -> float:
    """Return the price of the boards used. `stock` has every kind of board, whole; raises KeyError for one it lacks."""
    kinds = {board.name: board for board in stock}
    return sum(kinds[name].price * count for name, count in boards_used(layout).items())


def wood_yield(layout: Layout, stock: Sequence[Board]) -> float | None:
    """Return the area of the parts, sawn ones too, divided by that of the boards used; None where no board is used.

    Openings in parts count as waste, as do the kerfs of saw and cutter. `stock` is as in `wood_cost`.
    """
    kinds = {board.name: board for board in stock}
    used = sum(abs(kinds[name].outline.signed_area) * count for name, count in boards_used(layout).items())
    if used <= 0:
        return None
    shaped = sum(
        board.stack * board.copies * sum(placement.part.region.area for placement in board.placements)
        for board in layout.boards
    )
    return (shaped + sum(piece.length * piece.width * piece.count for piece in layout.sawn)) / used


MACHINE_TIME = "machine time"
_HOUR = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SticksSawn:
    """The cost of the sticks of one section, and the longest of them, mm: longer pieces don't come from them."""

    cost: float
    longest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """The prices of a job: those of the sticks sawn, by section in mm; of one of each thing bought, by name; and of an
    hour of the machine (None: not stated). Other prices are not known.
    """

    sticks: Mapping[Section, SticksSawn]
    bought: Mapping[str, float]
    shop_rate: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemCost:
    """An item's machine time, s, and costs, all for its whole count; None for not known, or not needed. `not_counted`
    names things that are needed but have no price: boards, sticks, things to buy, machine time. Lengths in it are
    marks, to be spelled in a unit.
    """

    seconds: float | None
    boards: float
    sticks: float | None
    bought: float | None
    machine: float | None
    not_counted: tuple[str, ...]

    @property
    def in_all(self) -> float:
        """The sum of the known costs."""
        return sum(cost for cost in (self.boards, self.sticks, self.bought, self.machine) if cost is not None)


def item_costs(
    items: Sequence[Item],
    layout: Layout,
    *,
    stock: Sequence[Board],
    programs: Sequence[Program],
    machine: Machine,
    prices: Prices,
) -> tuple[ItemCost, ...]:
    """Return the costs of each item, in order. `stock` has every kind of board, whole."""
    boards = _board_costs(layout, stock)
    seconds = machine_seconds(layout, programs, machine)
    lengths = _stick_lengths(items, prices)
    unpriced = {board.name for board in stock if not board.priced}
    taken = _boards_of(layout)
    return tuple(
        _cost(
            item,
            boards.get(item.name, 0.0),
            seconds.get(item.name),
            lengths,
            prices,
            unknown=[name for name in taken.get(item.name, ()) if name in unpriced],
        )
        for item in items
    )


def _cost(
    item: Item,
    boards: float,
    seconds: float | None,
    lengths: Mapping[Section, float],
    prices: Prices,
    *,
    unknown: list[str],
) -> ItemCost:
    pieces, things = _sticks(item, prices), item.build.bought
    known = {section for section, _ in pieces}
    sections = [as_known(part.section, prices.sticks) for part in item.build.sticks]
    unknown += [stick_words(section) for section in sections if section not in known]
    unknown += [thing.name for thing in things if thing.name not in prices.bought]
    if seconds is not None and prices.shop_rate is None:
        unknown.append(MACHINE_TIME)
    shares = [prices.sticks[section].cost * length * item.count / lengths[section] for section, length in pieces]
    bought = [prices.bought[thing.name] * thing.count * item.count for thing in things if thing.name in prices.bought]
    return ItemCost(
        seconds=seconds,
        boards=boards,
        sticks=sum(shares) if shares else None,
        bought=sum(bought) if bought else None,
        machine=None if seconds is None or prices.shop_rate is None else prices.shop_rate * seconds / _HOUR,
        not_counted=tuple(dict.fromkeys(unknown)),
    )


def _sticks(item: Item, prices: Prices) -> list[tuple[Section, float]]:
    """The section, as named in the prices, and the length of every sawn piece of rod and strip in one item."""
    pieces = [(as_known(part.section, prices.sticks), part.length) for part in item.build.sticks]
    return [
        (section, length)
        for section, length in pieces
        if section in prices.sticks and length <= prices.sticks[section].longest + TOLERANCES.stick
    ]


def _stick_lengths(items: Sequence[Item], prices: Prices) -> dict[Section, float]:
    """The length of all pieces of the sections that have a price, mm."""
    lengths: dict[Section, float] = {}
    for item in items:
        for section, length in _sticks(item, prices):
            lengths[section] = lengths.get(section, 0.0) + length * item.count
    return lengths


def _board_costs(layout: Layout, stock: Sequence[Board]) -> dict[str, float]:
    """The price of the boards used, shared among the items by the area of their parts."""
    areas: dict[str, dict[str, float]] = {}
    for board in layout.boards:
        times = board.stack * board.copies
        for placement in board.placements:
            _add(areas, board.board.name, placement.item, placement.part.region.area * times)
    for piece in layout.sawn:
        _add(areas, piece.board, piece.item, piece.length * piece.width * piece.count)
    price = {board.name: board.price for board in stock}
    costs: dict[str, float] = {}
    for kind, count in boards_used(layout).items():
        shares = areas.get(kind, {})
        whole = sum(shares.values())
        for item, area in shares.items():
            costs[item] = costs.get(item, 0.0) + price[kind] * count * area / whole
    return costs


def _boards_of(layout: Layout) -> dict[str, list[str]]:
    """The names of the kinds of board from which each item is cut or sawn."""
    pairs = [(one.item, board.board.name) for board in layout.boards for one in board.placements]
    pairs += [(piece.item, piece.board) for piece in layout.sawn]
    found: dict[str, list[str]] = {}
    for item, board in dict.fromkeys(pairs):
        found.setdefault(item, []).append(board)
    return found


def _add(areas: dict[str, dict[str, float]], kind: str, item: str, area: float) -> None:
    of_kind = areas.setdefault(kind, {})
    of_kind[item] = of_kind.get(item, 0.0) + area


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
