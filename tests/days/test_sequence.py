"""The order of tasks against every order of them."""

from __future__ import annotations

from itertools import combinations, permutations

from hypothesis import given
from hypothesis import strategies as st

from cutjob.days.sequence import Task, by_due_date, earliest_end, ends, fewest_late, greatest_lateness, latest_starts


def tasks(minutes: list[int], deadlines: list[int]) -> list[Task]:
    return [
        Task(name=str(place), minutes=one, deadline=due)
        for place, (one, due) in enumerate(zip(minutes, deadlines, strict=True))
    ]


SOME = st.lists(st.tuples(st.integers(0, 12), st.integers(-1, 40)), min_size=1, max_size=6).map(
    lambda pairs: tasks([minutes for minutes, _ in pairs], [due for _, due in pairs])
)


def in_time(order: tuple[Task, ...]) -> bool:
    now = 0
    for task in order:
        now += task.minutes
        if now > task.deadline:
            return False
    return True


def test_the_worked_example_by_due_date() -> None:
    """Times 3 2 1 4 3 2, due 6 8 9 9 14 15: done at 3 5 6 10 13 15, the fourth late by 1. A worked example as in
    Kleinberg and Tardos, "Algorithm Design" (2005), chapter 4.2.
    """
    order = by_due_date(tasks([3, 2, 1, 4, 3, 2], [6, 8, 9, 9, 14, 15]))
    assert ends(order) == (3, 5, 6, 10, 13, 15)
    assert greatest_lateness(order) == 1
    kept, late = fewest_late(order)
    assert [one.name for one in late] == ["3"]
    assert in_time(kept)


@given(SOME)
def test_no_order_has_a_smaller_greatest_lateness(some: list[Task]) -> None:
    assert greatest_lateness(by_due_date(some)) == min(map(greatest_lateness, permutations(some)))


@given(SOME)
def test_no_choice_leaves_fewer_out_or_takes_less_time(some: list[Task]) -> None:
    kept, late = fewest_late(some)
    assert in_time(kept)
    assert sorted(one.name for one in (*kept, *late)) == sorted(one.name for one in some)
    best = max(
        (count, -sum(one.minutes for one in chosen))
        for count in range(len(some) + 1)
        for chosen in combinations(some, count)
        if any(map(in_time, permutations(chosen)))
    )
    assert (len(kept), -sum(one.minutes for one in kept)) == best


@given(SOME)
def test_the_latest_start_is_that_of_the_best_of_all_orders(some: list[Task]) -> None:
    starts = latest_starts(by_due_date(some))
    assert starts[0] == max(-greatest_lateness(order) for order in permutations(some))


@given(SOME)
def test_begun_at_its_latest_start_each_task_and_all_after_it_are_in_time_and_a_minute_later_one_is_late(
    some: list[Task],
) -> None:
    order = by_due_date(some)
    for place, start in enumerate(latest_starts(order)):
        after = order[place:]
        assert all(start + end <= task.deadline for task, end in zip(after, ends(after), strict=True))
        assert any(start + 1 + end > task.deadline for task, end in zip(after, ends(after), strict=True))


@given(SOME, st.integers(0, 12))
def test_another_task_is_done_as_early_as_any_order_allows(some: list[Task], minutes: int) -> None:
    kept, _ = fewest_late(some)
    other = Task(name="other", minutes=minutes, deadline=10**6)
    found = [ends(order)[order.index(other)] for order in permutations((*kept, other)) if in_time(order)]
    assert earliest_end(kept, minutes) == min(found)


def test_of_equally_long_tasks_the_one_due_last_is_left_out() -> None:
    _, late = fewest_late(tasks([5, 5, 5], [5, 10, 14]))
    assert [one.name for one in late] == ["2"]
