"""Results of a function that are remembered: for the same objects and equal numbers, and only a few."""

from __future__ import annotations

from dataclasses import dataclass

from cutjob.remembered import _MOST_SAME, remembered, same


@dataclass(frozen=True)
class Size:
    width: float


@dataclass(frozen=True)
class Wood:
    name: str


def test_same_object_and_equal_numbers() -> None:
    calls: list[tuple[Size, float, Wood]] = []

    @remembered(most=10, by_value=(Wood,))
    def area(size: Size, length: float, *, wood: Wood) -> float:
        calls.append((size, length, wood))
        return size.width * length

    size = Size(2.0)
    assert [area(size, 3.0, wood=Wood("cedar")), area(size, 3.0, wood=Wood("cedar"))] == [6.0, 6.0]
    assert len(calls) == 1
    assert area(size, 4.0, wood=Wood("cedar")) == 8.0
    assert area(size, 4.0, wood=Wood("pine")) == 8.0
    assert len(calls) == 3
    assert area(Size(2.0), 3.0, wood=Wood("cedar")) == 6.0  # equal, but another object
    assert len(calls) == 4


def test_the_oldest_is_forgotten() -> None:
    calls: list[int] = []

    @remembered(most=2)
    def double(number: int) -> int:
        calls.append(number)
        return 2 * number

    assert [double(n) for n in (1, 2, 1, 3, 1, 2)] == [2, 4, 2, 6, 2, 4]
    assert calls == [1, 2, 3, 2]  # 2 was not used when 3 came


def test_same_takes_the_value_from_before_only_for_the_very_same_bytes() -> None:
    one, other = Size(0.0), Size(0.0)
    assert same(one) is same(other)
    assert same(Size(-0.0)) is not same(one)  # equal, but written differently
    assert same(Size(1.0)) is not same(one)


def test_same_keeps_a_limited_number_of_values() -> None:
    first = same(Size(0.5))
    for number in range(_MOST_SAME):
        same(Size(float(number + 10)))
    again = Size(0.5)
    assert same(again) is again
    assert first == again
