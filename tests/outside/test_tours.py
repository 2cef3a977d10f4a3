"""Air moves against known best tours: TSPLIB, and a library for the travelling salesman's problem, elkai (LKH)."""

from __future__ import annotations

import itertools
import json
import math
import os
import random
from collections.abc import Sequence
from pathlib import Path

import elkai
import pytest

from cutjob.geometry.segment import Point
from cutjob.program.tour import Start, sequence

DATA = Path(os.environ.get("CUTJOB_DATA", Path(__file__).parents[3] / "shared" / "data"))
HOME = (0.0, 0.0)
_FINE = 1000  # the library counts in whole numbers: thousandths of a mm
_FORCED = (
    5_000_000  # more than a tour is long, so that legs without it must be in it; the library takes up to 10 million
)


def round_trip(places: Sequence[Point]) -> float:
    """Length of our way through all places and back to the first."""
    return tour_length(our_tour(places))


def our_tour(places: Sequence[Point]) -> list[Point]:
    starts = [[Start(0.0, place, place)] for place in places[1:]]
    order = sequence([()] * len(starts), starts, home=places[0], closed=True)
    assert len({task for task, _ in order}) == len(starts)
    return [places[0], *(start.point for _, start in order)]


def library_round_trip(places: Sequence[Point], *, runs: int = 10) -> float:
    """Length of the library's tour."""
    found = elkai.Coordinates2D({str(number): place for number, place in enumerate(places)}).solve_tsp(runs=runs)
    assert len(set(found)) == len(places)
    return tour_length([places[int(number)] for number in found[:-1]])


def tour_length(tour: Sequence[Point]) -> float:
    return sum(math.dist(a, b) for a, b in zip(tour, [*tour[1:], tour[0]], strict=True))


def random_places(count: int) -> list[Point]:
    chance = random.Random(count)
    return [(chance.random() * 1000, chance.random() * 1000) for _ in range(count)]


def random_lines(count: int, longest: float) -> list[tuple[Point, Point]]:
    """Lines, 20 mm apart on average, run from either end."""
    chance, lines = random.Random(count), []
    for _ in range(count):
        x, y, turn = chance.random(), chance.random(), chance.random() * 2 * math.pi
        side, long = 20 * math.sqrt(count), chance.random() * longest
        lines.append(
            ((x * side, y * side), (x * side + long * math.cos(turn), y * side + long * math.sin(turn))),
        )
    return lines


def air_moves(lines: Sequence[tuple[Point, Point]]) -> float:
    """Length of our air moves from home through all lines."""
    order = sequence([()] * len(lines), [[Start(0.0, a, b), Start(1.0, b, a)] for a, b in lines], home=HOME)
    ends = [HOME, *(place for _, start in order for place in (start.point, start.end))]
    assert len(ends) == 1 + 2 * len(lines)
    return sum(math.dist(a, b) for a, b in zip(ends[:-1:2], ends[1::2], strict=True))


def library_air_moves(lines: Sequence[tuple[Point, Point]], *, runs: int = 3) -> float:
    """Length of the library's: both ends of a line are places, and the leg between them is forced into the tour.

    So is the one from a place anywhere, reached for nothing, to home: the way back is free.
    """
    places = [HOME, HOME, *(place for line in lines for place in line)]
    legs = [[_FORCED + round(_FINE * math.dist(a, b)) for b in places] for a in places]
    for number in range(len(places)):
        legs[1][number] = legs[number][1] = _FORCED
    for number in range(0, len(places), 2):
        legs[number][number + 1] = legs[number + 1][number] = 0
    tour = elkai.DistanceMatrix(legs).solve_tsp(runs=runs)
    total = sum(legs[a][b] for a, b in itertools.pairwise(tour))
    return (total - _FORCED * (len(lines) + 1)) / _FINE


def tsplib_tours() -> list[dict[str, object]]:
    file = DATA / "tours.json"
    if not file.exists():
        pytest.skip("the open data sets are not there")
    return list(json.loads(file.read_text())["tours"])


@pytest.mark.parametrize("name", ["berlin52", "eil51"])
def test_tsplib(name: str) -> None:
    """Lengths of TSPLIB's optimal tours (G. Reinelt 1991): no tour is shorter with legs rounded as TSPLIB does, while
    unrounded ours may be a little, as those are not the optimum of that.
    """
    (tour,) = [one for one in tsplib_tours() if one["name"] == name]
    ours = our_tour([(x, y) for x, y in tour["points"]])
    legs = [math.dist(a, b) for a, b in itertools.pairwise([*ours, ours[0]])]
    assert sum(int(leg + 0.5) for leg in legs) >= tour["optimum_rounded"]
    assert sum(legs) <= 1.03 * tour["length_unrounded"]


@pytest.mark.parametrize("count", [200, pytest.param(500, marks=pytest.mark.slow)])
def test_random_places(count: int) -> None:
    places = random_places(count)
    assert round_trip(places) <= 1.03 * library_round_trip(places)


@pytest.mark.parametrize("longest", [20.0, 60.0])
def test_random_lines(longest: float) -> None:
    lines = random_lines(60, longest)
    assert air_moves(lines) <= 1.03 * library_air_moves(lines)
