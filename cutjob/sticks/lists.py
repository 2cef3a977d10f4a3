"""Cuts a job's rods and strips from its sticks: which stick gives which pieces, and the stop block's settings. mm.

It also says in words which sticks are missing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from cutjob.parts.part import Item, Section
from cutjob.sticks.plan import StickPlan, Sticks, plan_sticks
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, length, spelled

_SAME_LENGTH = 6  # decimals of a mm; lengths that are equal but for arithmetic agree to this


class StickStock(Protocol):
    """Sticks of one kind in stock: their count, section, length, and the price of one."""

    @property
    def name(self) -> str:
        """Their name."""

    @property
    def section(self) -> Section:
        """The diameter, or width and thickness, mm."""

    @property
    def length(self) -> float:
        """The length of each, mm."""

    @property
    def count(self) -> int:
        """Their number."""

    @property
    def price(self) -> float | None:
        """The price of one; None: not stated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StickPiece:
    """`count` equal pieces of a part, for all the items together."""

    item: str
    part: str
    length: float
    count: int
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SawnStick:
    """`times` sticks of `stock`, each `length` long, that are sawn in the same way: lengths, the longest first, with
    the number of pieces from one stick. `left` is the length of the offcut behind the last cut.
    """

    stock: str
    length: float
    times: int
    pieces: tuple[tuple[float, int], ...]
    left: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StopSetting:
    """A setting of the stop block: its length, the parts it is for, and the pieces from each stick (its index, and the
    number of that length). Without sticks the wood for it is missing.
    """

    length: float
    parts: tuple[StickPiece, ...]
    sticks: tuple[tuple[int, int], ...]

    @property
    def count(self) -> int:
        """The number of pieces sawn at it."""
        return sum(part.count for part in self.parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class StickList:
    """All pieces of one section: the sticks sawn, and the settings, the longest first. `to_add` are sticks needed
    beyond those in stock, `longest` the length of the longest in stock less `end_trim` (0: none of the section). `cost`
    is the price of the sticks, None where one has no price.

    No list of the same cost takes fewer sticks than `least_sticks`. Another list saves at most the share `may_save` of
    the cost. Where that is 0 and the number of sticks is the least, this list is `proven` to be the best.
    """

    section: Section
    sticks: tuple[SawnStick, ...] = ()
    settings: tuple[StopSetting, ...]
    to_add: Mapping[str, int] = field(default_factory=dict)
    longest: float = 0.0
    end_trim: float = 0.0
    cost: float | None = None
    least_sticks: int = 0
    may_save: float = 0.0
    proven: bool = True

    @property
    def too_long(self) -> tuple[StopSetting, ...]:
        """The settings for which no stick in stock is long enough."""
        return tuple(setting for setting in self.settings if not setting.sticks) if self.longest else ()


def stick_lists(
    items: Sequence[Item], stock: Sequence[StickStock], *, saw_kerf: float, end_trim: float = 0.0
) -> tuple[StickList, ...]:
    """Return a list for every section of rod and strip that the items need, in their order. Every stick first loses
    `end_trim`, which includes the kerf.
    """
    return tuple(
        _list(section, pieces, [one for one in stock if same_section(one.section, section)], saw_kerf, end_trim)
        for section, pieces in _by_section(items).items()
    )


def numbered(lists: Sequence[StickList]) -> Iterator[tuple[StickList, int]]:
    """Yield every list with the number of its first stick; sticks are numbered from 1 through the whole job."""
    first = 1
    for one in lists:
        yield one, first
        first += len(one.sticks)


def measures_of(section: Section) -> dict[str, float]:
    """Return the measures of a section by name."""
    names = ("diameter",) if len(section) == 1 else ("width", "thickness")
    return dict(zip(names, section, strict=True))


def same_section(one: Section, other: Section) -> bool:
    """Whether two sections are the same, within the tolerance of parts."""
    return len(one) == len(other) and all(abs(a - b) <= TOLERANCES.acceptance for a, b in zip(one, other, strict=True))


def as_known(section: Section, known: Iterable[Section]) -> Section:
    """Return the known section that is the same, or the section itself."""
    return next((one for one in known if same_section(one, section)), section)


def _by_section(items: Sequence[Item]) -> dict[Section, list[StickPiece]]:
    """The pieces by section, equal parts of an item together."""
    found: dict[Section, dict[StickPiece, int]] = {}
    for item in items:
        for part in item.build.sticks:
            section = as_known(part.section, found)
            piece = StickPiece(
                item=item.name,
                part=part.name,
                length=round(part.length, _SAME_LENGTH),
                count=item.count,
                note=part.note,
            )
            of_section = found.setdefault(section, {})
            of_section[piece] = of_section.get(piece, 0) + item.count
    return {
        section: [
            StickPiece(item=one.item, part=one.part, length=one.length, count=count, note=one.note)
            for one, count in pieces.items()
        ]
        for section, pieces in found.items()
    }


def _list(
    section: Section, pieces: Sequence[StickPiece], stock: Sequence[StickStock], saw_kerf: float, end_trim: float
) -> StickList:
    lengths = sorted({piece.length for piece in pieces}, reverse=True)
    parts = {length: tuple(piece for piece in pieces if piece.length == length) for length in lengths}
    if not stock:
        settings = tuple(StopSetting(length=length, parts=parts[length], sticks=()) for length in lengths)
        return StickList(section=section, settings=settings)
    plan = plan_sticks(
        [Sticks(length=max(0.0, kind.length - end_trim), count=kind.count, price=kind.price) for kind in stock],
        [(length, sum(part.count for part in parts[length])) for length in lengths],
        kerf=saw_kerf,
    )
    sticks = tuple(_sticks(plan, lengths, stock))
    return StickList(
        section=section,
        sticks=sticks,
        settings=tuple(
            StopSetting(length=length, parts=parts[length], sticks=tuple(_giving(length, sticks))) for length in lengths
        ),
        to_add={kind.name: more for kind, more in zip(stock, plan.more, strict=True) if more},
        longest=max(0.0, max(kind.length for kind in stock) - end_trim),
        end_trim=end_trim,
        cost=_cost(plan, stock),
        least_sticks=plan.least_sticks,
        may_save=1.0 - plan.least_cost / plan.cost if plan.cost else 0.0,
        proven=plan.proven,
    )


def _cost(plan: StickPlan, stock: Sequence[StickStock]) -> float | None:
    """The price of the sticks sawn; None where one of them has no price."""
    costs = [(stock[sawing.kind].price, sawing.times) for sawing in plan.sawings]
    known = [price * times for price, times in costs if price is not None]
    return sum(known) if known and len(known) == len(costs) else None


def _sticks(plan: StickPlan, lengths: Sequence[float], stock: Sequence[StickStock]) -> Iterator[SawnStick]:
    """The sticks, ordered by their longest pieces, the longest first."""
    order = sorted(plan.sawings, key=lambda sawing: (sawing.counts, -sawing.kind), reverse=True)
    for sawing in order:
        yield SawnStick(
            stock=stock[sawing.kind].name,
            length=stock[sawing.kind].length,
            times=sawing.times,
            pieces=tuple((length, count) for length, count in zip(lengths, sawing.counts, strict=True) if count),
            left=sawing.left,
        )


def _giving(length: float, sticks: Sequence[SawnStick]) -> Iterator[tuple[int, int]]:
    """The sticks, by index, that give pieces of a length, and their number."""
    for index, stick in enumerate(sticks):
        count = dict(stick.pieces).get(length, 0)
        if count:
            yield index, count


def stick_warnings(lists: Sequence[StickList]) -> tuple[str, ...]:
    """Return messages on missing wood: a section, length for a piece, or sticks. The longest piece comes first."""
    return tuple(warning for one in lists for warning in _warnings(one))


def sticks_of(section: Section) -> str:
    """Return the word for sticks of a section: rod or strip."""
    return "rod" if len(section) == 1 else "strip"


def section_words(section: Section, unit: Unit) -> str:
    """Return a section in words: 3/4 in, or 1 1/2 in x 3/4 in."""
    return spelled(_size(section), unit)


def stick_words(section: Section) -> str:
    """Return a section with the word for its sticks, lengths as marks: 3/4 in rod."""
    return f"{_size(section)} {sticks_of(section)}"


def _size(section: Section) -> str:
    return " x ".join(map(length, section))


def _warnings(one: StickList) -> Iterator[str]:
    kind, size = sticks_of(one.section), _size(one.section)
    if not one.longest:
        count = sum(setting.count for setting in one.settings)
        total = length(sum(setting.length * setting.count for setting in one.settings))
        pieces, are = ("piece", "is") if count == 1 else ("pieces", "are")
        yield f"{kind}s: {count} {pieces} of {size} {kind}, {total} in all, {are} not in the job's stock"
        return
    for setting in one.too_long:
        piece, stick = length(setting.length), length(one.longest)
        yield f"{kind}s: a {size} piece of {piece} is longer than the longest stick, {stick}"
    for name, count in one.to_add.items():
        yield f"{kind}s: {count} more of {name} needed than in stock"
