"""What changes up a graded stack: gaps, bottom edges, stops; and the length of a known rod."""

import itertools

import pytest

from ..order import EXACT, INCH, PICKET, item, only_problem


def build(**rest):
    return item("graded-stack", **rest).build


def test_the_rod_of_a_known_stack_is_34_long():
    # Common practice, no source: 27 7/8 of pieces and gaps, two 5/8 boards of base; the rest of 34 in is foot, neck and
    # what goes into the topper.
    built = build(
        tiers=11, longest=20, shortest="4 1/4", tallest="2 1/4", least_height=1, gap=1, base=["10", "7"],
        foot="1 1/2", neck="2 3/8", topper="star", topper_diameter=4, socket=1,
    )  # fmt: skip
    assert built.rods[0].length == pytest.approx(34 * INCH, abs=EXACT)
    assert built.sawn[0].note == "glue the base's pieces on each other"
    assert built.hand_holes[-1].note.endswith("first glue its pieces on each other")


def test_gaps_close_towards_the_top():
    built = build(tiers=6, gap="1", top_gap="1/2", stands="flat", topper="none", base=[])
    feet = [stand.foot for stand in built.stands if stand.turns]
    gaps = [high - low - PICKET for low, high in itertools.pairwise(feet)]
    assert gaps == pytest.approx([(1 - step / 8) * INCH for step in range(5)], abs=EXACT)
    assert dict(built.facts)["stand height"] == pytest.approx(6 * PICKET + 3.75 * INCH, abs=EXACT)


def test_pieces_are_hollow_beneath_and_flat_from_one_up():
    plain, changed = build(topper="none"), build(topper="none", flat_from=4)
    assert changed.shaped[:3] == plain.shaped[:3]
    for one, other in zip(changed.shaped[3:], plain.shaped[3:], strict=True):
        assert one.region.area > other.region.area
        longest = max(one.region.outline.segments, key=lambda segment: segment.length)
        assert longest.start[1] == longest.end[1] == 0.0
        assert one.region.bounds == pytest.approx(other.region.bounds, abs=0.01)


def test_stops_stand_under_every_piece():
    built = build(tiers=3, tallest=2, least_height=1, gap=1, foot="1/2", base=["8"], stops=True, topper="none", neck=1)
    stops = [hole for hole in built.hand_holes if hole.part == "centre rod"]
    # Undersides at 5/8 + 1/2, then 2 + 1, then 1 1/2 + 1 higher; a tack of 1/16 lies half its width below.
    for hole, height in zip(stops, ("1 3/32", "4 3/32", "6 19/32"), strict=True):
        assert f"its centre {height} in from the lower end" in hole.note
        assert hole.depth == built.rods[0].diameter / 2
    assert len([hole for hole in build(stops=True, foot=0).hand_holes if hole.part == "centre rod"]) == 6
    # Gaps that close by 1/15 in each: told as a rule shows it.
    for hole in build(tiers=6, gap=1, top_gap="2/3", stops=True, topper="none", neck=1).hand_holes:
        assert "." not in hole.note


@pytest.mark.parametrize(
    ("changes", "key", "told"),
    [
        ({"top_gap": "2"}, "top_gap", "at most 7/8 in"),
        ({"flat_from": 8}, "flat_from", "at most 7"),
        ({"stops": True, "gap": "1/2", "top_gap": "1/32"}, "stop", "at most 1/32 in"),
        ({"stops": True, "rod": "1/8"}, "stop", "a thicker rod"),
    ],
)
def test_what_cannot_be_made_is_refused(changes, key, told):
    problem = only_problem("graded-stack", **changes)
    assert problem.place.endswith(f": {key}")
    assert told in str(problem)
