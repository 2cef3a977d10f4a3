"""Air moves against known best tours: TSPLIB, and elkai, a binding of Helsgaun's LKH."""

from __future__ import annotations

import json
import math
import os
import random
from collections.abc import Sequence
from pathlib import Path

import pytest

from cutjob.geometry.segment import Point
from cutjob.program.tour import Start, sequence

DATA = Path(os.environ.get("CUTJOB_DATA", Path(__file__).parents[3] / "shared" / "data"))


def round_trip(places: Sequence[Point]) -> float:
    """Length of our way through all places and back to the first."""
    starts = [[Start(0.0, place, place)] for place in places[1:]]
    order = sequence([()] * len(starts), starts, home=places[0], closed=True)
    return tour_length([places[0], *(start.point for _, start in order)])


def tour_length(tour: Sequence[Point]) -> float:
    return sum(math.dist(a, b) for a, b in zip(tour, [*tour[1:], tour[0]], strict=True))


@pytest.mark.parametrize("name", ["berlin52", "eil51"])
def test_tsplib(name: str) -> None:
    """Lengths of the best tours, unrounded, from TSPLIB's optimal tours (G. Reinelt 1991)."""
    file = DATA / "tours.json"
    if not file.exists():
        pytest.skip("the open data sets are not there")
    (tour,) = [one for one in json.loads(file.read_text())["tours"] if one["name"] == name]
    assert round_trip([(x, y) for x, y in tour["points"]]) <= 1.03 * tour["length_unrounded"]


@pytest.mark.parametrize("count", [200, pytest.param(500, marks=pytest.mark.slow)])
def test_random_places(count: int) -> None:
    elkai = pytest.importorskip("elkai")
    chance = random.Random(count)
    places = [(chance.random() * 1000, chance.random() * 1000) for _ in range(count)]
    found = elkai.Coordinates2D({str(i): place for i, place in enumerate(places)}).solve_tsp()
    best = tour_length([places[int(i)] for i in found[:-1]])
    assert round_trip(places) <= 1.03 * best
