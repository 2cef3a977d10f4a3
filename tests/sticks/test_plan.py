"""Plans of sawing against optima found in another way, the paper-roll example and open instances."""

import itertools
import json
import math
import os
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from cutjob.sticks.plan import StickPlan, Sticks, plan_sticks
from cutjob.tolerances import TOLERANCES

DATA = Path(os.environ.get("CUTJOB_DATA", Path(__file__).parents[3] / "shared" / "data"))
FALKENAUER = DATA / "sticks" / "falkenauer.json"
ROLL_WIDTHS = [1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200]
ROLL_COUNTS = [22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20]


def check(plan: StickPlan, kinds: list[Sticks], wanted: list[tuple[float, int]], kerf: float) -> None:
    """Every piece wanted comes off a stick that holds it, its kerfs and what is said to be left, and no other does."""
    made = [0] * len(wanted)
    used = [0] * len(kinds)
    for sawing in plan.sawings:
        kind = kinds[sawing.kind]
        lengths = [length for (length, _), count in zip(wanted, sawing.counts, strict=True) for _ in range(count)]
        assert lengths
        assert sum(lengths) + kerf * (len(lengths) - 1) <= kind.length + TOLERANCES.stick
        rest = kind.length - sum(lengths) - kerf * len(lengths)
        assert sawing.left == (pytest.approx(rest, abs=1e-6) if rest > TOLERANCES.stick else 0.0)
        used[sawing.kind] += sawing.times
        made = [have + sawing.times * count for have, count in zip(made, sawing.counts, strict=True)]
    alike: Counter[float] = Counter()
    for (length, _), count in zip(wanted, made, strict=True):
        alike[length] += count
    missing = {index for index in range(len(wanted)) if index in plan.too_long}
    for length in {length for length, _ in wanted}:
        needed = sum(count for index, (one, count) in enumerate(wanted) if one == length and index not in missing)
        assert alike[length] == needed
    assert plan.more == tuple(max(0, u - kind.count) for u, kind in zip(used, kinds, strict=True))
    assert plan.least_cost <= plan.cost + 1e-9
    assert plan.least_sticks <= plan.sticks


def test_the_paper_roll_example_takes_73_rolls():
    # The standard example of the cutting stock problem, from memory: 5,600 mm rolls, 13 widths, 219 pieces; 73 rolls
    # are the least, of which 407,160 of 408,800 mm are used.
    wanted = list(zip(map(float, ROLL_WIDTHS), ROLL_COUNTS, strict=True))
    rolls = [Sticks(length=5600.0, count=100)]
    plan = plan_sticks(rolls, wanted, kerf=0.0)
    check(plan, rolls, wanted, 0.0)
    assert (plan.sticks, plan.least_sticks, plan.proven, plan.more) == (73, 73, True, (0,))
    assert sum(length * count for length, count in wanted) == 407_160


@pytest.mark.skipif(not FALKENAUER.exists(), reason="the open instances are not beside the checkout")
@pytest.mark.parametrize("place", range(16))
def test_open_instances_take_the_best_known_number(place):
    # E. Falkenauer, A hybrid grouping genetic algorithm for bin packing, Journal of Heuristics 2, 1996: 250 pieces each
    # in the larger ones; best known numbers as the file gives them.
    one = json.loads(FALKENAUER.read_text())["instances"][place]
    wanted = [(float(length), count) for length, count in Counter(one["pieces"]).items()]
    sticks = [Sticks(length=float(one["stick"]), count=1000)]
    plan = plan_sticks(sticks, wanted, kerf=0.0)
    check(plan, sticks, wanted, 0.0)
    assert plan.sticks <= one["best_known"]
    assert plan.proven


def least_cost(kinds: list[Sticks], wanted: list[tuple[int, int]], kerf: int) -> float:
    """The least cost by a whole-number program of every way there is of sawing a stick up, none left out."""
    lengths = [length for length, _ in wanted]
    ways = []
    for kind in kinds:
        ranges = [range(min(count, int(kind.length + kerf) // (length + kerf)) + 1) for length, count in wanted]
        ways += [
            (kind.price, counts)
            for counts in itertools.product(*ranges)
            if sum(c * (length + kerf) for c, length in zip(counts, lengths, strict=True)) <= kind.length + kerf
        ]
    found = milp(
        c=[price for price, _ in ways],
        constraints=LinearConstraint(np.array([counts for _, counts in ways]).T, lb=[count for _, count in wanted]),
        integrality=np.ones(len(ways)),
        bounds=Bounds(0, np.inf),
    )
    assert found.success
    return float(found.fun)


@st.composite
def small_tasks(draw):
    """One or two kinds of stick and up to five lengths, whole millimetres."""
    kinds = draw(st.lists(st.tuples(st.integers(300, 1200), st.integers(1, 9)), min_size=1, max_size=2))
    longest = max(length for length, _ in kinds)
    lengths = draw(st.lists(st.integers(60, longest), min_size=1, max_size=5, unique=True))
    wanted = [(length, draw(st.integers(1, 6))) for length in lengths]
    return [Sticks(length=float(length), count=99, price=float(price)) for length, price in kinds], wanted


@given(small_tasks(), st.integers(0, 4))
@settings(max_examples=40)
def test_small_tasks_cost_the_least(task, kerf):
    # Second opinion: scipy's milp over every way of sawing.
    kinds, wanted = task
    lengths = [(float(length), count) for length, count in wanted]
    plan = plan_sticks(kinds, lengths, kerf=float(kerf))
    check(plan, kinds, lengths, float(kerf))
    least = least_cost(kinds, wanted, kerf)
    assert plan.cost == pytest.approx(least, abs=1e-6)
    assert plan.least_cost <= least + 1e-6


@given(
    st.lists(st.tuples(st.floats(20, 900), st.integers(1, 4)), min_size=1, max_size=6),
    st.lists(
        st.tuples(st.floats(200, 1300), st.integers(1, 3), st.sampled_from([0.0, 1.25, 2.0])), min_size=1, max_size=3
    ),
    st.floats(0, 5),
)
@settings(max_examples=30)
def test_any_task_is_cut_right(wanted, stock, kerf):
    kinds = [Sticks(length=length, count=count, price=price) for length, count, price in stock]
    check(plan_sticks(kinds, wanted, kerf=kerf), kinds, wanted, kerf)


def test_kerfs_count_between_pieces_and_behind_the_last():
    sticks = [Sticks(length=1000.0, count=9)]
    # Four pieces and three kerfs fill it; a hair longer, and only three come off.
    assert plan_sticks(sticks, [((1000 - 3 * 3.2) / 4, 4)], kerf=3.2).sticks == 1
    assert plan_sticks(sticks, [((1000 - 3 * 3.2) / 4 + 0.01, 4)], kerf=3.2).sticks == 2
    (sawing,) = plan_sticks(sticks, [(300.0, 3)], kerf=3.2).sawings
    assert sawing.left == pytest.approx(1000 - 3 * 303.2)


def test_the_cheaper_wood_is_taken_and_of_equal_costs_the_fewer_sticks():
    # Two short ones at 2 cost less than one long one at 5, but not than one at 4: then one stick is the fewer.
    wanted = [(450.0, 2)]
    for price, sticks, cost in ((5.0, 2, 4.0), (4.0, 1, 4.0), (3.0, 1, 3.0)):
        kinds = [Sticks(length=500.0, count=9, price=2.0), Sticks(length=1000.0, count=9, price=price)]
        plan = plan_sticks(kinds, wanted, kerf=3.0)
        assert (plan.sticks, plan.cost, plan.proven) == (sticks, cost, True)


def test_free_sticks_are_used_first_and_no_more_of_them_than_there_are():
    kinds = [Sticks(length=700.0, count=2, price=0.0), Sticks(length=1000.0, count=5, price=3.0)]
    plan = plan_sticks(kinds, [(320.0, 7)], kerf=2.0)
    by_kind = Counter({sawing.kind: sawing.times for sawing in plan.sawings})
    assert by_kind == {0: 2, 1: 1}
    assert (plan.cost, plan.more) == (3.0, (0, 0))


def test_what_is_missing_is_said():
    plan = plan_sticks([Sticks(length=600.0, count=1, price=2.0)], [(250.0, 5), (601.0, 1)], kerf=3.0)
    assert (plan.too_long, plan.more, plan.sticks) == ((1,), (2,), 3)
    nothing = plan_sticks([], [(10.0, 1)], kerf=1.0)
    assert (nothing.sawings, nothing.too_long) == ((), (0,))


def test_the_same_input_gives_the_same_plan_in_any_order_of_other_work():
    wanted = [(127.3, 7), (88.9, 11), (214.0, 5), (301.6, 3)]
    kinds = [Sticks(length=1219.2, count=9, price=2.4), Sticks(length=914.4, count=9, price=1.9)]
    first = plan_sticks(kinds, wanted, kerf=3.175)
    plan_sticks([Sticks(length=5000.0, count=9)], [(731.0, 19), (402.0, 8)], kerf=2.0)
    assert plan_sticks(kinds, wanted, kerf=3.175) == first


def test_the_rest_is_gathered_on_one_stick():
    # Three pieces of 300 and three of 200 off sticks of 1,000: one full (300 300 200 200), one 500 left; or evenly.
    plan = plan_sticks([Sticks(length=1000.0, count=9)], [(300.0, 3), (200.0, 3)], kerf=0.0)
    assert plan.sticks == 2
    assert max(sawing.left for sawing in plan.sawings) == pytest.approx(500.0)


@pytest.mark.parametrize(("wanted", "kerf"), [([(0.0, 1)], 1.0), ([(10.0, 0)], 1.0), ([(10.0, 1)], -1.0)])
def test_nonsense_is_refused(wanted, kerf):
    with pytest.raises(ValueError, match="more than 0"):
        plan_sticks([Sticks(length=100.0, count=1)], wanted, kerf=kerf)


def test_many_lengths_end_soon_with_a_bound():
    # More different lengths than are worked through exactly: still a right plan, and a bound by length.
    wanted = [(100.0 + 0.5 * index, 2) for index in range(450)]
    sticks = [Sticks(length=2400.0, count=1000)]
    plan = plan_sticks(sticks, wanted, kerf=3.0)
    check(plan, sticks, wanted, 3.0)
    assert plan.least_sticks >= math.ceil(sum((length + 3) * count for length, count in wanted) / 2403.0)
    assert plan.sticks <= plan.least_sticks * 1.1


def test_a_long_rest_is_worth_more_ways_and_a_short_one_is_not():
    # 2 x (12, 10, 8) off 48: twice the same leaves 17 1/4 in of each; 2 x 12 + 2 x 10 and 2 x 8 leave 31 3/4 in of one.
    wanted = [(12.0, 2), (10.0, 2), (8.0, 2)]
    plan = plan_sticks([Sticks(length=48.0, count=9)], wanted, kerf=0.125)
    assert sorted((sawing.times, sawing.counts) for sawing in plan.sawings) == [(1, (0, 0, 2)), (1, (2, 2, 0))]
    # 2 x (20, 12, 11) off 46: exchanging 12 and 11 would lengthen a rest by 1 and take a second way.
    plan = plan_sticks([Sticks(length=46.0, count=9)], [(20.0, 2), (12.0, 2), (11.0, 2)], kerf=0.0)
    assert [(sawing.times, sawing.counts) for sawing in plan.sawings] == [(2, (1, 1, 1))]


def test_sticks_too_short_for_anything_are_left_alone():
    kinds = [Sticks(length=5.0, count=9), Sticks(length=300.0, count=9, price=1.0)]
    plan = plan_sticks(kinds, [(100.0, 4)], kerf=0.0)
    assert {sawing.kind for sawing in plan.sawings} == {1}
    assert (plan.sticks, plan.cost) == (2, 2.0)


def test_no_stick_is_asked_for_while_the_stock_does():
    # At equal prices two long sticks would do as well, but there is one: a long and a short one do, too.
    kinds = [Sticks(length=600.0, count=4, price=2.0), Sticks(length=1000.0, count=1, price=2.0)]
    plan = plan_sticks(kinds, [(249.0, 3), (200.0, 3)], kerf=3.2)
    assert (plan.more, plan.cost, plan.sticks, plan.proven) == ((0, 0), 4.0, 2, True)


@st.composite
def tight_tasks(draw):
    """Few sticks of kinds that cost alike, and pieces that may just come off them."""
    lengths = draw(st.lists(st.integers(300, 1000), min_size=2, max_size=3, unique=True))
    kinds = [Sticks(length=float(length), count=draw(st.integers(1, 3)), price=1.0) for length in lengths]
    pieces = draw(st.lists(st.integers(90, 400), min_size=1, max_size=3, unique=True))
    return kinds, [(length, draw(st.integers(1, 4))) for length in pieces]


@given(tight_tasks())
@settings(max_examples=60)
def test_sticks_are_added_only_where_those_there_are_do_not_do(task):
    kinds, wanted = task
    plan = plan_sticks(kinds, [(float(length), count) for length, count in wanted], kerf=3.0)
    if not plan.too_long:
        assert (sum(plan.more) == 0) == fits_the_stock(kinds, wanted, 3)


def fits_the_stock(kinds: list[Sticks], wanted: list[tuple[int, int]], kerf: int) -> bool:
    """Whether all pieces come off the sticks there are, by a whole-number program of every way there is."""
    rows, kind_of_way = [], []
    for number, kind in enumerate(kinds):
        ranges = [range(min(count, int(kind.length + kerf) // (length + kerf)) + 1) for length, count in wanted]
        for counts in itertools.product(*ranges):
            if sum(c * (length + kerf) for c, (length, _) in zip(counts, wanted, strict=True)) <= kind.length + kerf:
                rows.append(counts)
                kind_of_way.append(number)
    of_kind = [[int(kind == number) for kind in kind_of_way] for number in range(len(kinds))]
    found = milp(
        c=np.zeros(len(rows)),
        constraints=[
            LinearConstraint(np.array(rows).T, lb=[count for _, count in wanted]),
            LinearConstraint(np.array(of_kind), ub=[kind.count for kind in kinds]),
        ],
        integrality=np.ones(len(rows)),
        bounds=Bounds(0, np.inf),
    )
    return bool(found.success)


@pytest.mark.parametrize(
    "prices",
    [(10 / 3, math.e, 5.14159265358979), (1e-25, 2.0, 3.0), (1e9, 2.0, 3.5), (1e-300, 2.0, 1.0), (0.0, 0.0, 1e9)],
)
def test_odd_prices_are_prices(prices):
    kinds = [
        Sticks(length=length, count=9, price=price)
        for length, price in zip((600.0, 1000.0, 870.0), prices, strict=True)
    ]
    wanted = [(249.0, 9), (200.0, 9)]
    check(plan_sticks(kinds, wanted, kerf=3.2), kinds, wanted, 3.2)


def test_sticks_without_a_price_are_not_taken_for_free():
    # Unpriced, 600 mm count as 2.40 beside 4.00 for 1000: three of them for six pieces, 7.20, or two long ones, 8.00.
    kinds = [Sticks(length=600.0, count=9), Sticks(length=1000.0, count=9, price=4.0)]
    assert [s.kind for s in plan_sticks(kinds, [(298.0, 6)], kerf=3.0).sawings] == [0]
    # Six of 320: three of the long ones at 12.00, not six unpriced ones, which would be 14.40.
    assert [s.kind for s in plan_sticks(kinds, [(320.0, 6)], kerf=3.0).sawings] == [1]
