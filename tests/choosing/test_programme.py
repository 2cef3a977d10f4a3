"""The mix that leaves most: against every mix of small cases, and against a hand that takes the best item first."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.choosing.programme import (
    Column,
    Line,
    Mix,
    Programme,
    Stick,
    best_filling,
    best_mix,
    linear_prices,
)

# Sums of a few hundred figures, each exact to about 1e-12 of its size; HiGHS takes whole numbers within 1e-6.
_SAME = 1e-6
MONEY = st.integers(-20, 60).map(lambda cents: cents / 4)
HOURS = st.integers(0, 8).map(lambda quarters: quarters / 4)


@st.composite
def programmes(draw: st.DrawFn) -> Programme:
    """At most three items, two kinds of board and four columns, with sticks and an hours limit or without."""
    pieces = draw(st.integers(1, 3))
    sections = draw(st.integers(0, 1))
    lines = []
    for number in range(draw(st.integers(1, 3))):
        least = draw(st.integers(0, 1))
        lines.append(
            Line(
                name=f"item {number}",
                leaves=draw(MONEY),
                by_hand=draw(HOURS),
                machine=draw(HOURS),
                needs=tuple(float(draw(st.integers(0, 2))) for _ in range(pieces)),
                sticks=tuple(float(draw(st.integers(0, 3))) for _ in range(sections)),
                least=least,
                most=draw(st.integers(least, 3)),
            )
        )
    boards = draw(st.lists(st.integers(0, 2), min_size=1, max_size=2))
    columns = [
        Column(
            board=draw(st.integers(0, len(boards) - 1)),
            gives=tuple(float(draw(st.integers(0, 3))) for _ in range(pieces)),
            cost=abs(draw(MONEY)) / 4,
            by_hand=draw(HOURS),
            machine=draw(HOURS),
        )
        for _ in range(draw(st.integers(0, 4)))
    ]
    sticks = [
        Stick(
            section=0, length=float(draw(st.integers(1, 4))), count=draw(st.integers(0, 2)), cost=abs(draw(MONEY)) / 8
        )
        for _ in range(draw(st.integers(1, 2)) if sections else 0)
    ]
    return Programme(
        lines=tuple(lines),
        boards=tuple(boards),
        columns=tuple(columns),
        sticks=tuple(sticks),
        hours=draw(st.sampled_from([math.inf, 2.0, 6.0])),
    )


def every_mix(programme: Programme) -> Iterator[tuple[tuple[int, ...], float]]:
    """All counts that can be made, with what they leave at most."""
    lines, columns, sticks = programme.lines, programme.columns, programme.sticks
    for times in product(*(range(programme.boards[one.board] + 1) for one in columns)):
        if any(
            sum(number for number, one in zip(times, columns, strict=True) if one.board == kind) > most
            for kind, most in enumerate(programme.boards)
        ):
            continue
        given_ = [
            sum(number * one.gives[piece] for number, one in zip(times, columns, strict=True))
            for piece in range(len(lines[0].needs))
        ]
        for counts in product(*(range(line.least, line.most + 1) for line in lines)):
            needed = [
                sum(n * line.needs[piece] for n, line in zip(counts, lines, strict=True))
                for piece in range(len(given_))
            ]
            if any(need > there for need, there in zip(needed, given_, strict=True)):
                continue
            if any(
                sum(n * getattr(line, what) for n, line in zip(counts, lines, strict=True))
                + sum(n * getattr(one, what) for n, one in zip(times, columns, strict=True))
                > programme.hours
                for what in ("by_hand", "machine")
            ):
                continue
            cheapest = math.inf
            for taken in product(*(range(one.count + 1) for one in sticks)):
                long = sum(n * one.length for n, one in zip(taken, sticks, strict=True))
                if not sticks or long >= sum(n * line.sticks[0] for n, line in zip(counts, lines, strict=True)):
                    cheapest = min(cheapest, sum(n * one.cost for n, one in zip(taken, sticks, strict=True)))
            if cheapest < math.inf:
                leaves = sum(n * line.leaves for n, line in zip(counts, lines, strict=True)) - cheapest
                yield counts, leaves - sum(n * one.cost for n, one in zip(times, columns, strict=True))


def best_of_every(programme: Programme) -> float | None:
    return max((leaves for _, leaves in every_mix(programme)), default=None)


@settings(max_examples=150, deadline=None)
@given(programmes())
def test_the_mix_is_the_best_of_every_mix(programme: Programme) -> None:
    best, mix = best_of_every(programme), best_mix(programme)
    if best is None:
        assert mix is None
        return
    assert mix is not None
    assert mix.leaves == pytest.approx(best, abs=_SAME)
    assert mix.bound == pytest.approx(best, abs=_SAME)
    found = dict.fromkeys((counts for counts, _ in every_mix(programme)))
    assert mix.counts in found


@settings(max_examples=80, deadline=None)
@given(programmes(), st.data())
def test_refused_counts_and_all_larger_ones_are_not_taken(programme: Programme, data: st.DataObject) -> None:
    refused = [
        tuple(data.draw(st.integers(line.least, line.most)) for line in programme.lines)
        for _ in range(data.draw(st.integers(1, 2)))
    ]
    left = [
        leaves
        for counts, leaves in every_mix(programme)
        if not any(all(a >= b for a, b in zip(counts, no, strict=True)) for no in refused)
    ]
    mix = best_mix(programme, refused=refused)
    assert (mix is None) == (not left)
    if mix is not None:
        assert mix.leaves == pytest.approx(max(left), abs=_SAME)


@settings(max_examples=60, deadline=None)
@given(programmes(), st.integers(0, 6))
def test_counts_stay_within_a_sum_of_weights(programme: Programme, most: int) -> None:
    weights = [float(place + 1) for place in range(len(programme.lines))]
    left = [
        leaves
        for counts, leaves in every_mix(programme)
        if sum(weight * count for weight, count in zip(weights, counts, strict=True)) <= most
    ]
    mix = best_mix(programme, within=(weights, float(most)))
    assert (mix is None) == (not left)
    if mix is not None:
        assert mix.leaves == pytest.approx(max(left), abs=_SAME)


@settings(max_examples=80, deadline=None)
@given(programmes())
def test_the_linear_mix_leaves_no_less_and_its_prices_account_for_it(programme: Programme) -> None:
    """By duality: what boards, hours and the limits of the counts are worth is what the linear mix leaves. A column
    that costs more than its pieces, board and hours are worth can't improve it.
    """
    programme = replace(programme, sticks=(), lines=tuple(replace(line, sticks=()) for line in programme.lines))
    prices = linear_prices(programme)
    mix = best_mix(programme)
    if prices is None:
        assert mix is None
        return
    for one in programme.columns:
        worth = sum(price * count for price, count in zip(prices.pieces, one.gives, strict=True))
        spent = one.cost + prices.boards[one.board] + prices.by_hand * one.by_hand + prices.machine * one.machine
        if programme.boards[one.board]:
            assert worth <= spent + _SAME
    if mix is not None:
        dual = sum(price * count for price, count in zip(prices.boards, programme.boards, strict=True))
        dual += (prices.by_hand + prices.machine) * programme.hours if programme.hours < math.inf else 0.0
        for line in programme.lines:
            needs = sum(price * need for price, need in zip(prices.pieces, line.needs, strict=True))
            gain = line.leaves - needs - prices.by_hand * line.by_hand - prices.machine * line.machine
            dual += gain * (line.most if gain > 0 else line.least)
        assert mix.leaves <= dual + _SAME


def by_a_greedy_hand(programme: Programme) -> float:
    """What a maker gets who takes the item first that leaves most, as often as boards last, then the next."""
    left = list(programme.boards)
    leaves, hours = 0.0, programme.hours
    for number in sorted(range(len(programme.lines)), key=lambda one: -programme.lines[one].leaves):
        line = programme.lines[number]
        own = [
            one
            for one in programme.columns
            if all((there > 0) >= (need > 0) for there, need in zip(one.gives, line.needs, strict=True))
        ]
        made = 0
        for one in sorted(own, key=lambda each: each.cost):
            lot = int(min(there / need for there, need in zip(one.gives, line.needs, strict=True) if need))
            while left[one.board] and made < line.most:
                count = min(lot, line.most - made)
                spent = count * line.by_hand + one.by_hand
                gain = count * line.leaves - one.cost
                if gain <= 0 or spent > hours:
                    break
                leaves, hours, made = leaves + gain, hours - spent, made + count
                left[one.board] -= 1
    return leaves


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_larger_mixes_are_never_worse_than_a_greedy_hand(seed: int) -> None:
    import random

    chance = random.Random(seed)
    items, kinds = 12, 4
    lines = tuple(
        Line(
            name=f"item {number}",
            leaves=chance.uniform(-1, 20),
            by_hand=chance.uniform(0.05, 0.6),
            needs=tuple(float(piece == number) for piece in range(items)),
            most=chance.randint(1, 60),
        )
        for number in range(items)
    )
    columns = []
    for _ in range(60):
        gives = [0.0] * items
        for number in chance.sample(range(items), chance.randint(1, 3)):
            gives[number] = float(chance.randint(1, 12))
        columns.append(
            Column(
                board=chance.randrange(kinds),
                gives=tuple(gives),
                cost=chance.uniform(1, 8),
                by_hand=chance.uniform(0, 0.7),
            )
        )
    programme = Programme(
        lines=lines,
        boards=tuple(chance.randint(1, 8) for _ in range(kinds)),
        columns=tuple(columns),
        hours=chance.choice([math.inf, 10.0, 30.0]),
    )
    mix = best_mix(programme)
    assert mix is not None
    assert mix.leaves >= by_a_greedy_hand(programme) - _SAME
    assert mix.bound >= mix.leaves - _SAME
    assert _within(programme, mix)


def _within(programme: Programme, mix: Mix) -> bool:
    """Whether a mix keeps to boards, pieces and hours."""
    pieces = range(len(programme.lines[0].needs))
    enough = all(
        sum(t * one.gives[piece] for t, one in zip(mix.times, programme.columns, strict=True))
        >= sum(n * line.needs[piece] for n, line in zip(mix.counts, programme.lines, strict=True))
        for piece in pieces
    )
    boards = all(
        sum(t for t, one in zip(mix.times, programme.columns, strict=True) if one.board == kind) <= most
        for kind, most in enumerate(programme.boards)
    )
    hours = sum(t * one.by_hand for t, one in zip(mix.times, programme.columns, strict=True)) + sum(
        n * line.by_hand for n, line in zip(mix.counts, programme.lines, strict=True)
    )
    return enough and boards and hours <= programme.hours + _SAME


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 20), st.integers(1, 9), st.integers(0, 4)), min_size=1, max_size=4),
    st.integers(0, 30),
)
def test_a_filling_is_the_best_of_all(things: list[tuple[int, int, int]], room: int) -> None:
    values, sizes, most = zip(*things, strict=True)
    found = best_filling([float(v) for v in values], [float(s) for s in sizes], float(room), most)
    fitting = [
        counts
        for counts in product(*(range(count + 1) for count in most))
        if sum(c * s for c, s in zip(counts, sizes, strict=True)) <= room
    ]
    best = max(sum(c * v for c, v in zip(counts, values, strict=True)) for counts in fitting)
    assert found in fitting
    assert sum(c * v for c, v in zip(found, values, strict=True)) == best


def test_the_same_programme_gives_the_same_mix() -> None:
    lines = tuple(Line(name=str(i), leaves=5.0, needs=tuple(float(i == k) for k in range(4)), most=9) for i in range(4))
    columns = tuple(
        Column(board=0, gives=tuple(float(3 * (i == k)) for k in range(4)), cost=1.0) for i in range(4)
    )  # all alike, so that only the order decides
    programme = Programme(lines=lines, boards=(5,), columns=columns)
    assert len({best_mix(programme) for _ in range(5)}) == 1
