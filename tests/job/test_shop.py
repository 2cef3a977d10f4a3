"""Shop files: usual figures where a key is missing, and every mistake with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.files.source import parse_source
from cutjob.job.read_job import read_job
from cutjob.job.read_shop import USUAL, shop_of, usual_data, usual_shop, usual_text
from cutjob.job.shop import WORKS, MinutesOfWork

SHOP = """\
currency = "EUR"
[pay]
by_hand = 24.0
machine = 4.5
[overhead]
monthly = 180
hours = 60
spoilage = 4
[minutes]
hole = 0.5
[[channel]]
name = "online"
percentage = 9
"""


def shop(text: str = SHOP):
    return shop_of(parse_source(text.encode(), name="shop.toml"))


def said(text: str) -> list[str]:
    with pytest.raises(InputError) as refused:
        shop(text)
    return [str(problem) for problem in refused.value.problems]


def test_the_usual_figures_are_a_shop_and_say_that_they_have_no_source() -> None:
    usual = usual_shop()
    assert usual.source is None
    assert usual.said("pay", "by_hand") == USUAL
    assert "common practice, no source" in usual_text()
    assert set(WORKS) == set(MinutesOfWork.model_fields) == set(usual_data()["minutes"])


def test_missing_keys_are_usual_and_named() -> None:
    found = shop()
    assert (found.file.currency, found.file.pay.by_hand, found.file.pay.attended) == ("EUR", 24.0, 100)
    assert found.said("pay", "by_hand") == "shop.toml:3"
    assert "pay.attended" in found.usual
    assert "pay.by_hand" not in found.usual
    assert "minutes.hole" not in found.usual
    assert len(found.usual) == 1 + len(WORKS) - 1
    # Lists are the shop's own or the usual ones, never both.
    assert [one.name for one in found.file.channel] == ["online"]
    assert len(found.file.supply) == len(usual_data()["supply"])


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"EUR"', '"EURO"', 'shop.toml:1: currency: "EURO" is not a currency; write its three letters of ISO 4217'),
        ('"EUR"', '"ZZZ"', 'shop.toml:1: currency: "ZZZ" is not a currency; write its three letters of ISO 4217'),
        ("by_hand = 24.0", "by_hand = 0", "shop.toml:3: pay: by_hand: 0 is too small; it must be at least 0.001"),
        ("hours = 60", "hours = -8", "shop.toml:7: overhead: hours: -8 is too small"),
        (
            "spoilage = 4",
            "spoilage = 100",
            "shop.toml:8: overhead: spoilage: 100 is too large; it must be at most 99.99",
        ),
        ("hole = 0.5", "hole = -1", "shop.toml:10: minutes: hole: -1 is too small; it must be at least 0"),
        ("hole = 0.5", "holes = 1", 'shop.toml:10: minutes: "holes" is not a key of this table; did you mean "hole"?'),
        ("percentage = 9", "percentage = 100", "a fee of 100 % leaves nothing; give less than 100"),
        ("percentage = 9", "percentage = 65", "fees of 65 % and a margin of 40 % leave nothing for the costs"),
        ('currency = "EUR"', 'endings = ["95"]', '"95" is not the end of a price; write it like ".95"'),
        ('currency = "EUR"', 'endings = ["x.95"]', "'x.95' is not the end of a price; write it like \".95\""),
        ('currency = "EUR"', 'currency = "JPY"\nendings = [".50"]', '".50" has more than 0 decimals; prices in JPY'),
        ('name = "online"', 'name = "online"\n[[channel]]\nname = "online"', "line 12 has the same name"),
        ('currency = "EUR"', 'decimal_mark = ","', "it is the decimal mark too; take another one"),
        ('currency = "EUR"', '[[bought]]\nname = "bead"\nprice = 10\npack = 0', "pack: 0 is too small"),
        ('currency = "EUR"', '[[timed]]\nwork = "holes"\ncount = 2\nminutes = 3', 'work: "holes" is not known'),
        ('currency = "EUR"', '[[timed]]\nwork = "hole"\ncount = 0\nminutes = 3', "count: 0 is too small"),
    ],
)
def test_every_mistake_has_its_line(old: str, new: str, words: str) -> None:
    text = SHOP
    if new.startswith("[["):  # a table can't come before the keys at the top
        text, new = f"{SHOP}{new}\n", old
    lines = said(text.replace(old, new, 1))
    assert len(lines) == 1, lines
    assert words.replace("'", '"') in lines[0].replace("'", '"')


JOB = """\
units = "mm"
machine = "bench-router"
{top}
[[make]]
name = "gate"
design = "round"
with = {{ diameter = 60 }}
{more}
[[board]]
name = "larch"
length = 400
width = 200
thickness = 10
"""


def job(folder: Path, *, top: str = "", more: str = "") -> Path:
    path = folder / "spring.toml"
    path.write_text(JOB.format(top=top, more=more), encoding="utf-8")
    return path


def refused(path: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_job(path)
    return [str(problem).replace(f"{path.parent}/", "") for problem in caught.value.problems]


def test_a_shop_beside_the_job_is_found_and_one_it_names_comes_first(tmp_path: Path) -> None:
    assert read_job(job(tmp_path)).shop.source is None
    (tmp_path / "shop.toml").write_text(SHOP, encoding="utf-8")
    assert read_job(job(tmp_path)).shop.file.pay.by_hand == 24.0
    (tmp_path / "other.toml").write_text(SHOP.replace("24.0", "30"), encoding="utf-8")
    assert read_job(job(tmp_path, top='shop = "other.toml"')).shop.file.pay.by_hand == 30.0


def test_mistakes_about_the_shop_come_with_the_job_s(tmp_path: Path) -> None:
    (line,) = refused(job(tmp_path, top='shop = "shed.toml"'))
    assert line.startswith('spring.toml:3: shop: there is no file "shed.toml"; the path is taken from')
    (tmp_path / "shop.toml").write_text(SHOP.replace("24.0", "-1"), encoding="utf-8")
    first, second = refused(job(tmp_path, top='gap = "wide"'))
    assert first.startswith("spring.toml:3: gap: ")
    assert second.startswith("shop.toml:3: pay: by_hand: -1 is too small")


def test_the_rate_of_the_machine_is_in_the_shop_file_now(tmp_path: Path) -> None:
    (line,) = refused(job(tmp_path, top="shop_rate = 24"))
    assert line == (
        "spring.toml:3: shop_rate: it is in the shop file now; write [pay] and machine = 24 in shop.toml instead"
    )


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (
            '[[bought]]\nname = "hook"\nprice = 1\ncount = 2\nitem = "gait"',
            'bought "hook": item: there is no item "gait"; did you mean "gate"?',
        ),
        (
            '[[bought]]\nname = "hook"\nprice = 1\nitem = "gate"',
            'bought "hook": how many "gate" needs is missing; add count',
        ),
        ('[[bought]]\nname = "bead"\nprice = 1\npack = 0', 'bought "bead": pack: 0 is too small'),
        ('[[set]]\nname = "pair"\nitems = ["gate", "fence"]', 'there is no item "fence"; take gate'),
        ('[[set]]\nname = "pair"\nitems = ["gate"]', "items: "),
        ('[[fixed]]\nname = "template"\nprice = -1', "price: -1 is too small"),
    ],
)  # fmt: skip
def test_things_bought_sets_and_costs_paid_once(tmp_path: Path, more: str, words: str) -> None:
    (line,) = refused(job(tmp_path, more=more))
    assert words in line


@pytest.mark.parametrize(
    ("written", "days"),
    [
        ('["2026-12-31 to 2027-01-02"]', ["2026-12-31", "2027-01-01", "2027-01-02"]),
        ('[2027-03-05, "2027-03-04 to 2027-03-06"]', ["2027-03-05", "2027-03-04", "2027-03-06"]),
        ('["2027-03-05 to 2027-03-05", "2027-03-07"]', ["2027-03-05", "2027-03-07"]),
        ("[]", []),
    ],
)
def test_days_off_may_be_stretches(written: str, days: list[str]) -> None:
    found = shop_of(parse_source(f"[week]\ndays_off = {written}\n".encode(), name="shop.toml"))
    assert [day.isoformat() for day in found.file.week.days_off] == days


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ('["2027-01-03 to 2026-12-20"]', "ends before it begins; write the earlier day first"),
        ('["2026-12-20 to 2027-01-32"]', "is not in the calendar; check month and day"),
        ('["2026-12-20 to 2028-01-03"]', "is longer than a year; check the years"),
        ('["2026-12-20 to 2026-12-22 to 2027-01-03"]', "is not a stretch of days; write it as"),
        ('["2026-12-20 - 2027-01-03"]', "is not a date; write year, month and day"),
        ('["2027-03-05", 2027-03-05]', "is named twice; leave one of them out"),
        ("2027-03-05", "is not a list; write it in [ ]"),
    ],
)
def test_a_wrong_stretch_of_days_is_one_error(written: str, words: str) -> None:
    with pytest.raises(InputError) as raised:
        shop_of(parse_source(f"[week]\ndays_off = {written}\n".encode(), name="shop.toml"))
    (problem,) = raised.value.problems
    assert str(problem).startswith("shop.toml:2: week: days_off")
    assert words in str(problem)
