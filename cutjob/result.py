"""A finished job in one value: what is cut, sawn, drilled and bought, from which stock, and what the proof found.

The plan, the job sheet, the summary in the terminal and a notebook are written from it. Lengths mm, times s, areas as
shares.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import zip_longest
from typing import TYPE_CHECKING

from cutjob.costs.account import Account, ItemAccount
from cutjob.costs.chosen import Chosen
from cutjob.costs.finishes import Painted
from cutjob.costs.prices import Priced
from cutjob.costs.wood_used import boards_used, wood_cost, wood_yield
from cutjob.counting import counted
from cutjob.job.machine import Machine
from cutjob.job.model import FixedCost
from cutjob.job.paper import PatternsWanted
from cutjob.job.read_stock import LeftAside
from cutjob.job.stock import Board
from cutjob.layout.bounds import LeastBoards
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.layout.sets import Sets, sets_of
from cutjob.output.leftovers import KeptLeftover
from cutjob.output.paper.files import OnPaper
from cutjob.output.picture.finished import Views
from cutjob.output.words.cautions import Caution
from cutjob.parts.part import HandHole, Item, with_hand_holes
from cutjob.program.moves import Program
from cutjob.proof.finding import ProofReport
from cutjob.stages import Effort
from cutjob.sticks.lists import StickList
from cutjob.units import Unit

if TYPE_CHECKING:
    from cutjob.output.paper.book import PatternBook


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawingFile:
    """A DXF file: its name, the id of the board layout it draws, and how far its outlines were moved outward, mm."""

    file: str
    board: str
    offset: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """How a layout was searched for: with an `effort`, or for `seconds`; and whether it was `stopped` by hand, or ended
    `unfinished`: with its effort, while fewer boards might still be found.
    """

    seed: int
    effort: Effort | None = None
    seconds: float | None = None
    stopped: bool = False
    unfinished: bool = False

    @property
    def clock_decided(self) -> bool:
        """Whether the next run may give a different layout."""
        return self.stopped or self.seconds is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardsUsed:
    """The number of boards of a kind that are used, and the whole board."""

    board: Board
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ToBuy:
    """A thing to buy, the number for the whole job, and the price of a pack where known, with how many are in it."""

    name: str
    count: int
    price: float | None
    pack: int = 1

    @property
    def packs(self) -> int:
        """How many packs must be bought."""
        return -(-self.count // self.pack)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandHoles:
    """`count` holes of a kind to drill by hand in all the items of a name."""

    item: str
    hole: HandHole
    count: int


@dataclass(frozen=True, kw_only=True, repr=False)
class JobResult:
    """A finished job.

    `layout` has the boards as they are cut and held, `stock` every kind of board before it is sawn, and `left_aside`
    the boards in stock that the job did not take. `programs` and `drawings` are those of all boards, `files` the names
    of all files but the plan. `account` has the costs of all items, and `priced` the prices of items and sets; `packs`
    is the price of a pack of each thing to buy, with its content, by name, `own_things` are things that the job itself
    asks for, with their number, `fixed` costs paid once, and `sold_sets` the items of each set, by name. No layout
    takes fewer boards than `least`. `on_paper` has the pages of the patterns, made as `patterns` asks; `booklet` has
    the templates of the items `in_booklet`, and `views` the drawings of each item. `chosen` says what was chosen of
    counts that were left open. `proof` is None before the files are judged.
    """

    title: str
    units: Unit
    machine: Machine
    items: tuple[Item, ...]
    layout: Layout
    stock: tuple[Board, ...]
    programs: tuple[Program, ...] = ()
    drawings: tuple[DrawingFile, ...] = ()
    on_paper: OnPaper | None = None
    patterns: PatternsWanted = field(default_factory=PatternsWanted)
    sticks: tuple[StickList, ...] = ()
    leftovers: tuple[KeptLeftover, ...] = ()
    left_aside: tuple[LeftAside, ...] = ()
    account: Account | None = None
    priced: tuple[Priced, ...] = ()
    packs: Mapping[str, tuple[float, int]] = field(default_factory=dict)
    own_things: tuple[tuple[str, int], ...] = ()
    fixed: tuple[FixedCost, ...] = ()
    finishes: tuple[Painted, ...] = ()
    views: tuple[Views, ...] = ()
    booklet: PatternBook | None = None
    in_booklet: tuple[str, ...] = ()
    sold_sets: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    search: Search | None = None
    least: LeastBoards | None = None
    chosen: Chosen | None = None
    warnings: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    files: tuple[str, ...] = ()
    proof: ProofReport | None = None

    def __repr__(self) -> str:
        """One line: what was made, and whether it is proven."""
        counts = ((len(self.layout.boards), "board layout"), (len(self.programs), "program"), (len(self.files), "file"))
        made = ", ".join(f"{counted(count, what)}" for count, what in counts)
        return f"<JobResult {self.title!r}: {made}; {self._proven()}>"

    def _proven(self) -> str:
        if self.proof is None:
            return "not judged"
        return "proven" if self.proof.passed else f"not proven, {len(self.proof.findings)} found"

    def programs_of(self, board: BoardLayout) -> tuple[Program, ...]:
        """The programs of a board, in the order to run them."""
        return tuple(program for program in self.programs if program.board == board.id)

    def drawings_of(self, board: BoardLayout) -> tuple[DrawingFile, ...]:
        """The drawings of a board."""
        return tuple(drawing for drawing in self.drawings if drawing.board == board.id)

    @cached_property
    def boards_used(self) -> tuple[BoardsUsed, ...]:
        """The number of boards used of each kind, in the order of the stock."""
        used = boards_used(self.layout)
        return tuple(BoardsUsed(board=board, count=used[board.name]) for board in self.stock if board.name in used)

    @property
    def wood_cost(self) -> float:
        """The price of the boards used."""
        return wood_cost(self.layout, self.stock)

    @property
    def wood_yield(self) -> float | None:
        """The share of the boards used that is parts; None where no board is."""
        return wood_yield(self.layout, self.stock)

    @property
    def runs(self) -> int:
        """How often the machine runs: each file of a board, or its drawing, once for each copy."""
        return sum(board.copies * max(1, len(self.programs_of(board))) for board in self.layout.boards)

    @property
    def machine_seconds(self) -> float:
        """How long the machine works on all boards together."""
        return sum(
            (
                float(board.copies * program.seconds)
                for board in self.layout.boards
                for program in self.programs_of(board)
            ),
            0.0,
        )

    @cached_property
    def items_by_hand(self) -> tuple[Item, ...]:
        """The items with all holes that are drilled by hand: those that no cutter makes, and for a saw all holes of the
        parts.
        """
        return with_hand_holes(self.items, every=self.machine.by_hand)

    @cached_property
    def sets(self) -> Sets:
        """Which item each piece on the boards is for."""
        return sets_of(self.layout, self.items)

    @cached_property
    def hand_holes(self) -> tuple[HandHoles, ...]:
        """The holes to drill by hand; equal holes of an item are one entry."""
        return tuple(
            HandHoles(item=item.name, hole=hole, count=item.count * alike)
            for item in self.items_by_hand
            for hole, alike in Counter(item.build.hand_holes).items()
        )

    @cached_property
    def bought(self) -> tuple[ToBuy, ...]:
        """The things to buy for all items, by name."""
        counts: dict[str, int] = {}
        for item in self.items:
            for part in item.build.bought:
                counts[part.name] = counts.get(part.name, 0) + part.count * item.count
        for name, count in self.own_things:
            counts[name] = counts.get(name, 0) + count
        none: tuple[float | None, int] = (None, 1)
        return tuple(
            ToBuy(name=name, count=count, price=price, pack=pack)
            for name, count in counts.items()
            for price, pack in [self.packs.get(name, none)]
        )

    @property
    def item_accounts(self) -> tuple[tuple[Item, ItemAccount | None], ...]:
        """Each item with its costs, where known."""
        accounts = () if self.account is None else self.account.items
        return tuple((item, account) for item, account in zip_longest(self.items, accounts))

    @cached_property
    def together(self) -> dict[str, dict[str, int]]:
        """For each item kept together: the number of its units on the boards of each layout, over all its runs."""
        found: dict[str, dict[str, int]] = {item.name: {} for item in self.items if item.together}
        for board in self.layout.boards:
            units = {(one.item, one.unit) for one in board.placements}
            for name, where in found.items():
                count = sum(item == name for item, _ in units)
                if count:
                    where[board.id] = count * board.stack * board.copies
        return {name: where for name, where in found.items() if where}
