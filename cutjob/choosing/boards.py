"""Finds ways to lay out a board, each a real layout that is held: pieces and their values in, columns out.

A board is filled with the pieces that are worth most in its area, a little more than fit; some are taken out until they
lie on it, then more are put in as long as there are free places. The full board must hold together to the last cut,
with room for clamps, bridges or screws, else pieces are taken out again. What a piece is worth follows from the mix of
the columns so far: boards of what is short are worth more than boards of what there is enough of.

Work is counted in layouts, never by the clock.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from cutjob.choosing.pieces import Piece, given_by, items_with
from cutjob.choosing.programme import Column, Programme, best_filling, linear_prices
from cutjob.choosing.worth import board_cost
from cutjob.errors import InputError, Problem
from cutjob.finishing import board_leftovers
from cutjob.holding.room import MoreRoom
from cutjob.laying_out import HeldLayout, cut_wood, lay_out_wood, ways_to_hold
from cutjob.layout.clear_space import room_area
from cutjob.layout.holding import HeldBy
from cutjob.layout.layout import Layout
from cutjob.layout.leftovers import sawn_leftovers
from cutjob.layout.rules import Clearance
from cutjob.program.program import programs_of
from cutjob.resolved import ResolvedWood
from cutjob.stages import Effort, Stop, go_on

# Layouts of single boards that are tried, counted in lots of twenty pieces.
_LAYOUTS: dict[Effort, int] = {"quick": 80, "normal": 240, "best": 900}
_PIECES = 20
_TRIAL = 0.1  # of the quick search
_FIRST_FILL, _FULLER, _EMPTIER = 1.0, 1.03, 0.93  # shares of a board's room that pieces fill
_HALF = 0.5  # of one more, for which a board has room on average
_MOST_LESS = 4  # sets taken out of a full board less one, so that others lie on it
_MOST_MISSES = 4  # pieces that found no place, in one filling
_MOST_WAYS = 3  # ways to hold that are tried on one filling
_MOST_FILLINGS = 3  # of one board, each with more room for holding
_MANY = 20  # boards of a kind that count when kinds are put in order
_LEAST_GAIN = 1e-4  # money


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """Boards of a kind: the place of their wood, and of the kind among its boards; their number and their room, mm2."""

    wood: int
    place: int
    count: int
    room: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Set:
    """What of one item (an index) comes off the boards of a wood: its pieces, how many items there can be at most, and
    what the set is worth, in money.
    """

    wood: int
    line: int
    needs: tuple[int, ...]
    most: int
    value: float


def kinds_of(woods: Sequence[ResolvedWood]) -> tuple[Kind, ...]:
    """Return every kind of board of all woods."""
    return tuple(
        Kind(
            wood=index,
            place=place,
            count=board.count,
            room=room_area(board, clearance=Clearance(gap=wood.gap, edge_margin=wood.edge_margin)),
        )
        for index, wood in enumerate(woods)
        for place, board in enumerate(wood.boards)
    )


class Bench:
    """Lays out single boards, and remembers what fitted. `left` is how many more layouts may be tried.

    Boards are filled beside the room that holding took on the last one of their wood, as all boards of a wood are held
    in one way.
    """

    def __init__(
        self,
        woods: Sequence[ResolvedWood],
        pieces: Sequence[Piece],
        kinds: Sequence[Kind],
        *,
        seed: int,
        effort: Effort,
        stop: Stop | None = None,
    ) -> None:
        """Begin with empty boards."""
        self._woods, self.pieces, self.kinds = woods, pieces, kinds
        self._seed, self._stop = seed, stop
        self._laid: dict[tuple[int, int, tuple[int, ...]], Layout | None] = {}
        self._held: dict[tuple[int, int, tuple[int, ...]], Column | None] = {}
        self._ways = [_ways(wood) for wood in woods]
        self._way = [0 for _ in woods]
        self._fill = [_FIRST_FILL for _ in kinds]
        self._alone: dict[tuple[int, ...], float] = {}  # the room that one set takes, learned from boards of it alone
        self.left = _LAYOUTS[effort]

    def refuse_too_large(self, places: Sequence[int]) -> None:
        """Raise InputError for every piece at these places that fits no board."""
        problems: list[Problem] = []
        for place in places:
            counts = tuple(int(number == place) for number in range(len(self.pieces)))
            own = [number for number, kind in enumerate(self.kinds) if kind.wood == self.pieces[place].wood]
            if not any(self._fits(number, counts, way=0) for number in own):
                wood = self._woods[self.pieces[place].wood]
                try:
                    self._lay_out(replace(wood, items=items_with(wood, self.pieces, counts)), None)
                except InputError as error:
                    problems += error.problems
        if problems:
            raise InputError(dict.fromkeys(problems))

    def column(self, kind: int, sets: Sequence[Set]) -> Column | None:
        """Return the column of a board of a kind, filled with what is worth most and held; None where none is found."""
        for _ in range(_MOST_FILLINGS):
            counts = self._filled(kind, sets)
            if counts is None:
                return None
            found = self.held(kind, counts)
            if found is not None:
                return found
            self._more_room(kind)
        return None

    def size_of(self, need: tuple[int, ...]) -> float:
        """Return the room that one set of pieces takes on a board, mm2: as boards of it alone showed, else its area."""
        return self._alone.get(need, self._area(need))

    def counts_alone(self, kind: int, need: tuple[int, ...]) -> tuple[int, ...] | None:
        """Return the pieces of a held board with as many as fit of one set of pieces; None where not one fits.

        The board is first held in the way of the last one, then in every other that holds more.
        """
        for _ in range(_MOST_FILLINGS):
            low, high = 0, int(self.kinds[kind].room / max(self._area(need), 1.0)) + 1
            while high - low > 1:  # low fits, high does not
                number = (low + high) // 2
                if self._fits(kind, tuple(number * count for count in need)):
                    low = number
                else:
                    high = number
            if not low:
                return None
            counts = tuple(low * count for count in need)
            if self.held(kind, counts) is not None:
                low = self._more_in_another_way(kind, need, low)
                self._alone[need] = self.kinds[kind].room / (low + _HALF)
                return tuple(low * count for count in need)
            self._more_room(kind)
        return None

    def one_on_several(self, kind: int, need: tuple[int, ...]) -> list[Column]:
        """Return the columns of held boards that together give one set of pieces, which no single board holds: each has
        the largest of those left that lie on it. They end before a piece that can't be held.
        """
        found: list[Column] = []
        left = list(need)
        order = sorted(range(len(need)), key=lambda one: (-self.pieces[one].padded, one))
        while any(left):
            for _ in range(_MOST_FILLINGS):
                counts = tuple(0 for _ in need)
                for place in (one for one in order for _ in range(left[one])):
                    larger = tuple(count + (number == place) for number, count in enumerate(counts))
                    counts = larger if self._fits(kind, larger) else counts
                column = self.held(kind, counts) if any(counts) else None
                if column is not None:
                    break
                self._more_room(kind)
            if column is None:
                return found
            found.append(column)
            left = [there - count for there, count in zip(left, counts, strict=True)]
        return found

    def _more_in_another_way(self, kind: int, need: tuple[int, ...], number: int) -> int:
        """The number of sets on a board held in the way that holds most, which then is the way for its wood."""
        wood = self.kinds[kind].wood
        by = self._ways[wood][self._way[wood]][0]
        for way, (hold, _) in enumerate(self._ways[wood]):
            while hold == by and way != self._way[wood] and self.left > 0:
                if self._kept(kind, way, tuple((number + 1) * count for count in need)) is None:
                    break
                number += 1
                while self._kept(kind, way, tuple((number + 1) * count for count in need)) is not None:
                    number += 1
                self._way[wood] = way
        return number

    def way_of(self, kind: int) -> int:
        """Return the way in which the last board of a kind's wood was held."""
        return self._way[self.kinds[kind].wood]

    def begin_with(self, kind: int, way: int) -> None:
        """Fill and hold the next boards of a kind's wood in a way."""
        self._way[self.kinds[kind].wood] = way

    def topped(self, kind: int, counts: tuple[int, ...], sets: Sequence[Set]) -> Column | None:
        """Return the column of a board with some pieces and all others that still find a place; None where it does not
        hold together.
        """
        own = [one for one in sets if one.wood == self.kinds[kind].wood]
        return self.held(kind, self._with_more(kind, counts, own, [0 for _ in own]) or counts)

    def _more_room(self, kind: int) -> None:
        """Fill boards of a kind beside more room for holding from now on, or else fill them less."""
        wood = self.kinds[kind].wood
        if self._way[wood] + 1 < len(self._ways[wood]):
            self._way[wood] += 1
        self._fill[kind] *= _EMPTIER

    def _filled(self, kind: int, sets: Sequence[Set]) -> tuple[int, ...] | None:
        """Pieces that lie on one board of a kind and are worth much; None where none does."""
        room = self.kinds[kind].room
        own = [one for one in sets if one.wood == self.kinds[kind].wood and one.value > 0]
        own.sort(key=lambda one: -one.value / max(1.0, self._area(one.needs)))
        sizes = [self._alone.get(one.needs, max(1.0, self._area(one.needs))) for one in own]
        limits = [min(one.most, math.ceil(room / size)) for one, size in zip(own, sizes, strict=True)]
        values = [one.value for one in own]
        share = self._fill[kind]
        tried: tuple[int, ...] | None = None
        while own:
            numbers = best_filling(values, sizes, share * room, limits)
            counts = tuple(
                sum(number * one.needs[place] for number, one in zip(numbers, own, strict=True))
                for place in range(len(self.pieces))
            )
            if not any(numbers) or self.left <= 0:
                return self._with_more(kind, tuple(0 for _ in self.pieces), own, [0 for _ in own])
            if counts != tried and self._fits(kind, counts):
                counts = self._with_more(kind, counts, own, numbers) or counts
                self._fill[kind] = min(1.0, share * _FULLER)
                return counts
            share, tried = share * _EMPTIER, counts
        return None

    def _area(self, counts: Sequence[int]) -> float:
        return sum(piece.padded * count for piece, count in zip(self.pieces, counts, strict=True))

    def _with_more(
        self, kind: int, counts: tuple[int, ...], sets: Sequence[Set], numbers: Sequence[int]
    ) -> tuple[int, ...] | None:
        """The pieces, and more that still find a place: whole sets, the first ones first, then single pieces of
        sets that other boards complete. None for no pieces.
        """
        more = [(one.needs, one.most - number) for one, number in zip(sets, numbers, strict=True)]
        more += [
            (tuple(int(number == place) for number in range(len(self.pieces))), one.most * one.needs[place])
            for one in sets
            if sum(one.needs) > 1
            for place in sorted(range(len(self.pieces)), key=lambda each: (-self.pieces[each].padded, each))
            if one.needs[place]
        ]
        misses = 0
        for added, most in more:
            for _ in range(most):
                larger = tuple(count + plus for count, plus in zip(counts, added, strict=True))
                if misses >= _MOST_MISSES or self.left <= 0:
                    break
                if not self._fits(kind, larger):
                    misses += 1
                    break
                counts = larger
        return counts if any(counts) else None

    def held(self, kind: int, counts: tuple[int, ...]) -> Column | None:
        """Return the column of a board with these pieces; None where it does not hold together to the last cut."""
        wood = self.kinds[kind].wood
        first = self._way[wood]
        for way in range(first, min(len(self._ways[wood]), first + _MOST_WAYS)):
            found = self._kept(kind, way, counts)
            if found is not None:
                self._way[wood] = way
                return found
        return None

    def _kept(self, kind: int, way: int, counts: tuple[int, ...]) -> Column | None:
        """The column of a board held in a way; worked out once."""
        key = (kind, way, counts)
        if key not in self._held:
            self._held[key] = self._cut(kind, way, counts)
        return self._held[key]

    def _cut(self, kind: int, way: int, counts: tuple[int, ...]) -> Column | None:
        if not self._fits(kind, counts, way=way):
            return None
        layout = self._laid[kind, way, counts]
        assert layout is not None
        wood, (by, more) = self._of_one_board(kind, counts), self._ways[self.kinds[kind].wood][way]
        go_on(self._stop)
        try:
            cuts = cut_wood(wood, layout, by=by, stop=self._stop)
        except InputError:
            return None
        if not cuts.all_held:
            return None
        return self._column_of(kind, wood, HeldLayout(layout=layout, cuts=cuts, by=by, room=more))

    def _column_of(self, kind: int, wood: ResolvedWood, held: HeldLayout) -> Column:
        machine = wood.machine
        programs = [
            program
            for board in held.cuts.boards
            for program in (programs_of(board, machine=machine) if machine.runs_gcode else ())
        ]
        layout = held.as_cut
        leftovers = [
            left
            for board in layout.boards
            for left in board_leftovers(
                board, [program for program in programs if program.board == board.id], wood.leftovers
            )
        ]
        leftovers += sawn_leftovers(
            held.layout.boards, layout.after_sawing, edge_margin=layout.edge_margin, least=wood.leftovers.least
        )
        spent = board_cost(wood, wood.items, layout, programs, leftovers)
        return Column(
            board=kind,
            gives=tuple(map(float, given_by(layout, self.pieces))),
            cost=spent.money,
            by_hand=spent.by_hand,
            machine=spent.machine,
        )

    def _fits(self, kind: int, counts: tuple[int, ...], *, way: int | None = None) -> bool:
        """Whether pieces lie on one board of a kind, with the room for a way to hold it: by default the last one's."""
        way = self._way[self.kinds[kind].wood] if way is None else way
        key = (kind, way, counts)
        if key not in self._laid:
            self.left -= (sum(counts) > 1) + sum(counts) // _PIECES
            go_on(self._stop)
            _, more = self._ways[self.kinds[kind].wood][way]
            try:
                self._laid[key] = self._lay_out(self._of_one_board(kind, counts), more)
            except InputError:
                self._laid[key] = None
        return self._laid[key] is not None

    def _of_one_board(self, kind: int, counts: tuple[int, ...]) -> ResolvedWood:
        """The wood with one board of a kind and so many pieces."""
        there = self.kinds[kind]
        wood = self._woods[there.wood]
        return replace(
            wood,
            items=items_with(wood, self.pieces, counts),
            boards=(replace(wood.boards[there.place], count=1),),
        )

    def _lay_out(self, wood: ResolvedWood, more: MoreRoom | None) -> Layout:
        return lay_out_wood(wood, seed=self._seed, effort="quick", share=_TRIAL, more=more)


def _ways(wood: ResolvedWood) -> list[tuple[HeldBy, MoreRoom | None]]:
    """All ways to hold a wood's boards, the plain one first."""
    by: HeldBy = wood.job.file.board_held_by
    return [(by, None), *ways_to_hold(wood, by)]


def first_columns(bench: Bench, sets: Sequence[Set]) -> tuple[list[Column], list[Set]]:
    """Return columns of each set alone, for the kind of board with most room: whole sets, or else several boards for
    one set; and the same with their free places filled, and with a few of the set less.

    Also return the sets that further boards are filled with: single pieces of those that no board holds whole.
    """
    parted: list[Set] = []
    found: list[Column | None] = []
    alone: list[tuple[int, tuple[int, ...], Set, int]] = []
    for one in sets:
        own = [number for number, kind in enumerate(bench.kinds) if kind.wood == one.wood]
        number = max(own, key=lambda each: (bench.kinds[each].room * min(bench.kinds[each].count, _MANY), -each))
        counts = bench.counts_alone(number, one.needs)
        if counts is None:
            found += bench.one_on_several(number, one.needs)
            parted += _single(one)
        else:
            parted.append(one)
            found.append(bench.held(number, counts))
            alone.append((number, counts, one, bench.way_of(number)))
    for less in range(_MOST_LESS):
        for number, counts, one, way in alone:
            fewer = tuple(count - less * need for count, need in zip(counts, one.needs, strict=True))
            others = [each for each in sets if each is not one]
            for order in (others, others[::-1]) if less and len(others) > 1 else (others,):
                if bench.left > 0 and order and any(fewer) and min(fewer) >= 0:
                    bench.begin_with(number, way)
                    found.append(bench.topped(number, fewer, order))
    return [one for one in dict.fromkeys(found) if one is not None], parted


def _single(one: Set) -> Iterator[Set]:
    """The pieces of a set, each by itself."""
    for place, need in enumerate(one.needs):
        if need:
            alone = tuple(int(number == place) for number in range(len(one.needs)))
            yield replace(one, needs=alone, most=one.most * need)


def sets_of(programme: Programme, pieces: Sequence[Piece]) -> list[Set]:
    """Return what of one of each item comes off each wood, all worth 1."""
    return [
        Set(
            wood=wood,
            line=number,
            needs=tuple(int(need) if piece.wood == wood else 0 for piece, need in zip(pieces, line.needs, strict=True)),
            most=line.most,
            value=1.0,
        )
        for number, line in enumerate(programme.lines)
        for wood in sorted({piece.wood for piece, need in zip(pieces, line.needs, strict=True) if need})
    ]


def grown(programme: Programme, bench: Bench, sets: Sequence[Set], *, costs: Sequence[float]) -> Programme:
    """Return the programme with more columns: boards filled by what the mix so far would pay, until none pays more or
    the layouts are used up. `costs` is about what cutting one of each piece costs.
    """
    order = sorted(
        range(len(bench.kinds)), key=lambda one: (-bench.kinds[one].room * min(bench.kinds[one].count, _MANY), one)
    )
    tired: set[int] = set()
    while bench.left > 0 and len(tired) < len(order):
        for kind in order:
            prices = linear_prices(programme) or linear_prices(_eager(programme))
            if prices is None or bench.left <= 0:
                return programme
            priced = [replace(one, value=_worth(one.needs, prices.pieces) - _worth(one.needs, costs)) for one in sets]
            column = bench.column(kind, priced)
            if column is None or column in programme.columns:
                tired.add(kind)
                continue
            paid = _worth(column.gives, prices.pieces) - column.cost - prices.boards[kind]
            paid -= prices.by_hand * column.by_hand + prices.machine * column.machine
            programme = programme.with_columns([column])
            if paid > _LEAST_GAIN:
                tired.discard(kind)
            else:
                tired.add(kind)
    return programme


def _worth(counts: Sequence[float], values: Sequence[float]) -> float:
    return sum(count * value for count, value in zip(counts, values, strict=True))


def _eager(programme: Programme) -> Programme:
    """The programme with the least counts as wishes, where its columns don't yet give them: what is worth more than all
    else is found first.
    """
    dear = 1 + sum(abs(line.leaves) for line in programme.lines)
    return replace(
        programme,
        lines=tuple(
            replace(line, leaves=dear, least=0, most=line.least) if line.least else replace(line, most=0)
            for line in programme.lines
        ),
    )
