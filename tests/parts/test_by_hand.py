"""What a saw leaves to the hands."""

from cutjob.geometry.contour import Region, rectangle
from cutjob.parts.part import (
    Build,
    Counterbore,
    HandHole,
    Hole,
    Item,
    Pocket,
    ShapedPart,
    pockets_left,
    with_hand_holes,
)
from cutjob.units import each_spelled

PART = ShapedPart(
    name="plate",
    region=Region(rectangle(100.0, 60.0)),
    holes=(
        Hole(at=(20.0, 30.0), diameter=6.0),
        Hole(at=(50.0, 30.0), diameter=6.0, counterbore=Counterbore(diameter=14.0, depth=4.0)),
        Hole(at=(80.0, 30.0), diameter=8.0, depth=10.0),
    ),
    pockets=(Pocket(region=Region(rectangle(10.0, 10.0)), depth=5.0),),
)
OWN = HandHole(part="rail", diameter=5.0, depth=None, note="through the edge")


def items(*parts: ShapedPart) -> list[Item]:
    build = Build(shaped=parts, hand_holes=(OWN,))
    return [Item(name="rack", design="t", size="medium", count=2, build=build)]


def test_every_hole_is_drilled_by_hand_a_counterbored_one_in_two_steps() -> None:
    (item,) = with_hand_holes(items(PART), every=True)
    assert item.build.hand_holes[0] == OWN
    told = [(hole.part, hole.diameter, hole.depth) for hole in item.build.hand_holes[1:]]
    assert told == [("plate", 6.0, None), ("plate", 14.0, 4.0), ("plate", 6.0, None), ("plate", 8.0, 10.0)]
    assert {hole.note for hole in item.build.hand_holes[1:]} == {"where the pattern shows it"}


def test_pockets_are_not_for_a_saw() -> None:
    (warning,) = each_spelled(pockets_left(items(PART)), "mm")
    assert warning.startswith('item "rack": part "plate": pocket 5 mm deep, not for a saw')
    assert list(pockets_left(items())) == []
