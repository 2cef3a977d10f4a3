"""Pockets that can't be, each told in plain words, and those that run over edges and openings, which may be."""

from __future__ import annotations

from cutjob.cuts.fitness import pocket_problems
from cutjob.geometry.contour import Region, polyline, rectangle
from tests.cuts.test_open_pockets import BOARD, at, pocket


def test_problems_of_pockets_that_cannot_be() -> None:
    square = at(rectangle(40, 40), 20, 20)
    window = Region(rectangle(300, 100), (at(rectangle(60, 60), 100, 20),))
    cases = {
        (pocket(at(rectangle(20, 20), 400, 0)), BOARD): "it is wholly outside the part",
        (pocket(at(rectangle(20, 20), 300, 0)), BOARD): "it is wholly outside the part",
        (pocket(at(rectangle(20, 20), 110, 30)), window): (
            "it is wholly in an opening of the part, where there is no wood"
        ),
        (pocket(square, at(rectangle(5, 5), 100, 30)), BOARD): "island 1 is outside the pocket",
        (pocket(square, at(rectangle(5, 5), 30, 30), at(rectangle(20, 5), 50, 30)), BOARD): (
            "island 2 is partly outside the pocket"
        ),
        (pocket(square, at(rectangle(10, 10), 30, 30), at(rectangle(10, 10), 35, 35)), BOARD): (
            "islands 1 and 2 overlap"
        ),
        (pocket(at(rectangle(100, 80), 80, 10), at(rectangle(10, 10), 120, 40)), window): (
            "island 1 has no wood under it: it is in an opening of the part or beyond its edge"
        ),
        (pocket(polyline([(0, 0), (50, 0), (10, 40), (40, 40)])), BOARD): "its outline crosses itself",
    }  # fmt: skip
    for (one, part), message in cases.items():
        assert pocket_problems(one, part) == [message]


def test_pockets_over_edges_and_openings_are_allowed() -> None:
    window = Region(rectangle(300, 100), (at(rectangle(60, 60), 100, 20),))
    for fine in (
        pocket(at(rectangle(20, 140), 50, -20)),  # runs out on both sides
        pocket(at(rectangle(100, 80), 80, 10)),  # a rebate round the whole opening
        pocket(at(rectangle(50, 20), 80, 40)),  # over one edge of it
        pocket(at(rectangle(140, 98), 70, 1), at(rectangle(70, 70), 95, 15)),  # an island that holds the opening
        pocket(at(rectangle(140, 98), 70, 1), at(rectangle(20, 30), 90, 30)),  # an island that reaches into it
        pocket(rectangle(300, 100)),
    ):
        assert pocket_problems(fine, window) == []
