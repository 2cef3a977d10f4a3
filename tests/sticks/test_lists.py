"""Lists of a job's rods and strips, worked out by hand."""

import pytest

from cutjob.job.model import RodStock, StripStock
from cutjob.parts.part import Build, Item, RodPart, StripPart
from cutjob.sticks.lists import stick_lists, stick_warnings
from cutjob.units import each_spelled

INCH = 25.4


def item(name: str, count: int, **build) -> Item:
    return Item(name=name, design="test", size="medium", count=count, build=Build(**build))


def rod(name: str, length: float, diameter: float = 12.0) -> RodPart:
    return RodPart(name=name, diameter=diameter, length=length)


def dowels(
    length: float, count: int = 9, *, name: str = "dowel", diameter: float = 12.0, price: float | None = None
) -> RodStock:
    return RodStock(name=name, diameter=diameter, length=length, count=count, price=price)


def test_which_stick_gives_which_pieces_and_the_settings_in_order():
    items = [
        item("fan", 2, rods=(rod("mast", 400.0), rod("arm", 150.0), rod("arm", 150.0))),
        item("gate", 1, rods=(rod("bolt", 150.0),)),
    ]
    (one,) = stick_lists(items, [dowels(1000.0, price=2.0)], saw_kerf=3.0)
    # 2 x 400 + 5 x 150 and the kerfs take two sticks; the rest is longest where one stick is as full as can be:
    # 2 x 400 + 150 and 3 kerfs = 959, and 4 x 150 and 4 kerfs = 612.
    assert [(stick.times, stick.pieces, stick.left) for stick in one.sticks] == [
        (1, ((400.0, 2), (150.0, 1)), pytest.approx(41.0)),
        (1, ((150.0, 4),), pytest.approx(388.0)),
    ]
    assert [(setting.length, setting.count, setting.sticks) for setting in one.settings] == [
        (400.0, 2, ((0, 2),)),
        (150.0, 5, ((0, 1), (1, 4))),
    ]
    assert [(part.item, part.part, part.count) for part in one.settings[1].parts] == [
        ("fan", "arm", 4),
        ("gate", "bolt", 1),
    ]
    assert (one.cost, one.least_sticks, one.proven, one.may_save, dict(one.to_add)) == (4.0, 2, True, 0.0, {})
    assert stick_warnings([one]) == ()


def test_a_list_for_each_section_and_strips_lie_either_way():
    items = [
        item(
            "screen",
            1,
            rods=(rod("pin", 50.0, 8.0), rod("peg", 60.0, 8.009)),
            strips=(
                StripPart(name="stile", width=40.0, thickness=20.0, length=900.0),
                StripPart(name="rail", width=20.0, thickness=40.0, length=500.0),
            ),
        )
    ]
    stock = [
        StripStock(name="batten", width=20.0, thickness=40.0, length=1800.0, count=1),
        dowels(1000.0, diameter=8.0),
        dowels(1000.0, diameter=8.02, name="another"),
    ]
    pins, battens = stick_lists(items, stock, saw_kerf=3.0)
    assert (pins.section, battens.section) == ((8.0,), (40.0, 20.0))
    # What is as wide within 0.01 mm is the same.
    assert [(stick.stock, stick.pieces) for stick in pins.sticks] == [("dowel", ((60.0, 1), (50.0, 1)))]
    assert [(stick.stock, stick.pieces) for stick in battens.sticks] == [("batten", ((900.0, 1), (500.0, 1)))]


def test_what_is_missing_in_words():
    items = [item("fan", 3, rods=(rod("mast", 500.0), rod("pole", 1200.0), rod("pin", 40.0, 6.0)))]
    lists = stick_lists(items, [dowels(1000.0, 1, name="12 mm dowel")], saw_kerf=3.0)
    assert each_spelled(stick_warnings(lists), "mm") == (
        "rods: a 12 mm piece of 1200 mm is longer than the longest stick, 1000 mm",
        "rods: 2 more of 12 mm dowel needed than in stock",
        "rods: 3 pieces of 6 mm rod, 120 mm in all, are not in the job's stock",
    )
    masts = lists[0]
    assert [setting.sticks for setting in masts.settings] == [(), ((0, 1),)]
    assert [setting.length for setting in masts.too_long] == [1200.0]
    assert lists[1].too_long == ()
    assert [setting.count for setting in lists[1].settings] == [3]


def test_strips_are_called_strips():
    items = [
        item("slats", 1, strips=(StripPart(name="slat", width=1.5 * INCH, thickness=0.75 * INCH, length=10 * INCH),))
    ]
    (warning,) = each_spelled(stick_warnings(stick_lists(items, [], saw_kerf=3.0)), "in")
    assert warning == "strips: 1 piece of 1 1/2 in x 3/4 in strip, 10 in in all, is not in the job's stock"


def test_sets_of_dowels_for_a_market():
    # Common practice, no source: sets of 9, 12 and 15 rods, 9, 12 and 15 in wide, 3/4 in rods.
    sets = {
        count: item(
            f"set of {count}", 5, rods=tuple(rod(f"rod {n}", (count - 0.75 * n) * INCH, 19.05) for n in range(count))
        )
        for count in (9, 12, 15)
    }
    (one,) = stick_lists(list(sets.values()), [dowels(48 * INCH, 500, diameter=19.05, price=2.1)], saw_kerf=3.175)
    assert sum(setting.count for setting in one.settings) == 5 * 36
    for setting in one.settings:
        assert setting.count == sum(count * one.sticks[index].times for index, count in setting.sticks)
    wood = sum(setting.length * setting.count for setting in one.settings)
    assert one.least_sticks >= wood / (48 * INCH)
    assert one.proven
    assert one.cost == pytest.approx(2.1 * one.least_sticks)


def test_a_cost_is_told_only_where_every_stick_has_a_price():
    items = [item("fan", 1, rods=(rod("mast", 900.0), rod("pole", 500.0)))]
    priced = dowels(1000.0, price=2.0)
    (one,) = stick_lists(items, [priced], saw_kerf=3.0)
    assert one.cost == 4.0
    (one,) = stick_lists(items, [priced, dowels(510.0, name="rest", price=0.0)], saw_kerf=3.0)
    assert one.cost == 2.0
    (one,) = stick_lists(items, [priced, dowels(510.0, name="unpriced")], saw_kerf=3.0)
    assert one.cost is None


def test_an_end_is_squared_first():
    items = [item("fan", 1, rods=(rod("mast", 495.0), rod("pole", 495.0)))]
    (one,) = stick_lists(items, [dowels(1000.0)], saw_kerf=3.0)
    assert [(stick.times, stick.left) for stick in one.sticks] == [(1, pytest.approx(4.0))]
    (trimmed,) = stick_lists(items, [dowels(1000.0)], saw_kerf=3.0, end_trim=8.0)
    assert [(stick.length, stick.times) for stick in trimmed.sticks] == [(1000.0, 2)]
    assert trimmed.sticks[0].left == pytest.approx(1000 - 8 - 498)
    (none,) = stick_lists(items, [dowels(500.0)], saw_kerf=3.0, end_trim=8.0)
    (warning,) = each_spelled(stick_warnings([none]), "mm")
    assert warning == "rods: a 12 mm piece of 495 mm is longer than the longest stick, 492 mm"
