"""Rests of sticks as entries that read back as stock, and are never longer than the wood."""

import pytest

from cutjob.job.model import RodStock, StripStock
from cutjob.job.read_stock import read_stock
from cutjob.output.leftovers import stick_entries, write_leftovers
from cutjob.parts.part import Build, Item, RodPart, StripPart
from cutjob.sticks.lists import stick_lists


def lists(length: float, count: int = 1):
    build = Build(
        rods=(RodPart(name="mast", diameter=19.05, length=length),),
        strips=(StripPart(name="rail", width=38.1, thickness=19.05, length=1000.0),),
    )
    items = [Item(name="fan", design="test", size="medium", count=count, build=build)]
    stock = [
        RodStock(name="3/4 dowel", diameter=19.05, length=1219.2, count=9, price=2.0),
        StripStock(name="batten", width=38.1, thickness=19.05, length=1200.0, count=9),
    ]
    return stick_lists(items, stock, saw_kerf=3.175)


def test_rests_are_stock_of_the_next_job(tmp_path):
    entries = tuple(stick_entries(lists(700.0, 2), title="Spring batch", units="in", least=152.4))
    file = tmp_path / "leftovers.toml"
    file.write_bytes(write_leftovers((), title="Spring batch", units="in", sticks=entries))
    stock = read_stock(file)
    (rod,), (strip,) = stock.rods, stock.strips
    assert rod.name == "offcut of 3/4 dowel, Spring batch no. 1"
    # 1219.2 - 700 - 3.175 = 516.025 mm: 20 5/16 in and a little.
    assert (rod.length, rod.diameter, rod.count, rod.price) == (
        pytest.approx(20.3125 * 25.4),
        pytest.approx(19.05),
        2,
        0,
    )
    assert strip.section == pytest.approx((38.1, 19.05))
    assert 1200 - 1003.175 - 25.4 / 16 < strip.length <= 1200 - 1003.175


def test_a_rest_of_a_rest_is_known_by_the_whole_stick():
    items = [
        Item(
            name="fan",
            design="t",
            size="medium",
            count=1,
            build=Build(rods=(RodPart(name="a", diameter=9.0, length=90.0),)),
        )
    ]
    stock = [RodStock(name="offcut of thin dowel, May, no. 4", diameter=9.0, length=500.0, price=0)]
    ((_, entry),) = stick_entries(stick_lists(items, stock, saw_kerf=3.0), title="June", units="mm", least=100.0)
    assert (entry["name"], entry["length"]) == ("offcut of thin dowel, May, June no. 1", 407.0)


@pytest.mark.parametrize(("least", "kept"), [(196.0, 1), (197.0, 0)])
def test_only_what_is_worth_keeping(least, kept):
    entries = [table for table, _ in stick_entries(lists(1200.0), title="", units="mm", least=least)]
    assert entries == ["strip"] * kept
