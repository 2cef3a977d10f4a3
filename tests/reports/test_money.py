"""Costs and prices as data, as CSV and in words, from whole jobs: sums close, and what is said is what was counted."""

from __future__ import annotations

import csv
import io
import json
from decimal import Decimal
from pathlib import Path

import pytest

from cutjob.making import make_job
from cutjob.pricing import price_job, variants_of
from cutjob.reports.money import (
    COSTS_FILE,
    batch_lines,
    cost_rows,
    explain_lines,
    given_lines,
    hours_words,
    money_data,
    notes,
    percent_words,
    price_rows,
    summary_words,
)
from tests.costs.shops import shop as _shop

JOB = """\
title = "Two rounds"
units = "mm"
machine = "bench-router"
board_held_by = "tape"
{top}
[[make]]
name = "coaster"
design = "round"
count = 4
with = {{ diameter = 90, hole = 0 }}
{coaster}
[[make]]
name = "=pot foot"
design = "round"
count = 2
with = {{ diameter = 120, hole = 0 }}

[[board]]
name = "larch"
length = 600
width = 200
thickness = 10
count = 3
price = 4.0
"""
SHOP = """\
currency = "EUR"
endings = []
timed = [{ work = "hole", count = 2, minutes = 1 }]
supply = []
[pay]
by_hand = 30.0
machine = 0
attended = 0
[overhead]
monthly = 0
hours = 100
spoilage = 0
[material]
offcut_value = 0
[minutes]
program = 6
board = 12
cutter_change = 0
sand_edge = 0
sand_face = 0
glue = 0
assemble = 0
pack = 3
[wanted]
margin = 50
[[channel]]
name = "stall"
season_costs = 10
[[channel]]
name = "online"
percentage = 10
"""


def written(folder: Path, *, top: str = "", coaster: str = "", shop: str = SHOP) -> Path:
    path = folder / "rounds.toml"
    path.write_text(JOB.format(top=top, coaster=coaster), encoding="utf-8")
    if shop:
        (folder / "shop.toml").write_text(shop, encoding="utf-8")
    return path


def test_a_batch_priced_on_paper(tmp_path: Path) -> None:
    """One board of 4.00, one file loaded in 6 min, one board laid down in 12: shared by area, 4 x 90^2 to 2 x 120^2 are
    32400 to 28800, 9/17 and 8/17. Each item is packed in 3 min. At 30.00 an hour 18 min are 9.00, so the coasters bear
    9/17 of 13.00, 6.8824, each 1.7206, and 1.50 for packing: 3.2206. The pot feet 8/17, each 3.0588, and 1.50: 4.5588.
    In all 13.00 + 6 x 1.50 = 22.00. Without fees a margin of 50 % is twice the cost, 6.45; with 10 % off for the
    percentage 3.2206 / 0.4 = 8.06. The stall's 10.00 are back after 10 / 3.2294 = 3.1, four sales.
    """
    result = price_job(written(tmp_path))
    data = money_data(result)
    assert data is not None
    coaster, foot = data["items"]  # type: ignore[misc]
    assert (round(coaster["cost"], 4), round(foot["cost"], 4)) == (3.2206, 4.5588)
    assert data["batch"]["cost"] == 22.0  # type: ignore[index]
    assert data["batch"]["material"] == 4.0  # type: ignore[index]
    assert data["batch"]["hands_hours"] == pytest.approx((18 + 18) / 60, abs=1e-6)  # type: ignore[index]
    stall, online = coaster["prices"]["stall"], coaster["prices"]["online"]
    assert (stall["price"], online["price"]) == (6.45, 8.06)
    assert stall["break_even"] == 4


def test_sums_are_count_times_one_to_the_cent(tmp_path: Path) -> None:
    data = json.loads(json.dumps(money_data(price_job(written(tmp_path, shop="")))))
    for name, whole in data["batch"].items():
        each = sum(one["count"] * one[name] for one in data["items"])
        assert abs(each - whole) < (0.005 if not name.endswith("_hours") else 1e-6)
    for one in data["items"]:
        assert sum(one["of_material"].values()) == pytest.approx(one["material"], abs=1e-7)
        assert sum(one["of_hours"].values()) == pytest.approx(one["hands_hours"], abs=1e-7)
        parts = ("material", "labour", "machine", "overhead", "spoilage")
        assert sum(one[part] for part in parts) == pytest.approx(one["cost"], abs=1e-7)


def test_make_writes_the_same_figures_to_plan_csv_and_sheet(tmp_path: Path) -> None:
    result = make_job(written(tmp_path, coaster="price = 9.0"), out=tmp_path / "out", effort="quick")
    plan = json.loads(result.files["plan.json"])
    rows = list(csv.DictReader(io.StringIO(result.files[COSTS_FILE].decode())))
    assert [(row["name"], row["sold by"]) for row in rows] == [
        ("coaster", "stall"),
        ("coaster", "online"),
        ("'=pot foot", "stall"),  # a spreadsheet would take it for a formula
        ("'=pot foot", "online"),
    ]
    coaster = plan["money"]["items"][0]
    assert (rows[0]["cost each"], rows[0]["price"], rows[0]["break-even"]) == ("3.22", "6.45", "4")
    assert (coaster["prices"]["stall"]["price"], coaster["prices"]["stall"]["given"]["price"]) == (6.45, 9.0)
    sheet = result.files["job-sheet.html"].decode()
    assert "Time, costs and prices" in sheet
    assert "22.00" in sheet
    assert COSTS_FILE in plan["files"]


def test_the_tables_and_what_a_given_price_leaves(tmp_path: Path) -> None:
    result = price_job(written(tmp_path, coaster="price = 9.0"))
    heads, rows = cost_rows(result)
    assert dict(zip(heads, rows[-1], strict=True))["cost"] == "22.00"
    heads, rows = price_rows(result)
    first = dict(zip(heads, rows[0], strict=True))
    assert (first["item"], first["sold by"], first["price"], first["margin"], first["paid-once costs"]) == (
        "coaster",
        "stall",
        "6.45",
        "50 %",
        "back with 4",
    )
    lines = list(given_lines(result))
    assert lines[0].startswith("coaster at 9.00, stall: leaves 5.78, margin 64 %, markup 179 %")


def test_the_summary_names_hours_cost_and_price_and_nothing_that_flatters(tmp_path: Path) -> None:
    said = summary_words(price_job(written(tmp_path)))
    assert said.startswith("22.00 EUR, with 36 min by hand and ")
    assert "coaster 3.22, to sell at 6.45 to 8.06" in said


def test_what_is_usual_and_what_has_no_price_is_said(tmp_path: Path) -> None:
    unpriced = written(tmp_path, shop="")
    unpriced.write_text(unpriced.read_text(encoding="utf-8").replace("price = 4.0\n", ""), encoding="utf-8")
    said = list(notes(price_job(unpriced)))
    assert said[0].startswith("there is no shop.toml: wages, minutes and rates are usual figures without a source")
    assert said[1] == "not counted, because no price is stated: larch"
    named = list(notes(price_job(written(tmp_path))))
    assert named[0].startswith("usual figures without a source, not your own: sliding long boards; sawing pieces off")


def test_the_whole_batch_is_judged_with_what_is_paid_once(tmp_path: Path) -> None:
    """All sold at the stall: 4 x (6.45 - 3.2206) + 2 x (9.12 - 4.5588) = 22.04 less 10.00 for the stall."""
    first, second = batch_lines(price_job(written(tmp_path)))
    assert first.startswith("the whole batch sold, stall: leaves 12.04, with 10.00 paid once; an hour brings ")
    assert second.startswith("the whole batch sold, online: leaves ")


def test_the_chain_goes_from_the_price_to_what_was_entered(tmp_path: Path) -> None:
    path = written(tmp_path)
    lines = list(explain_lines(price_job(path)))
    text = "\n".join(lines)

    def line(file: Path, words: str) -> str:
        """`shop.toml:6` of the line that has the words."""
        number = next(n for n, one in enumerate(file.read_text().splitlines(), start=1) if words in one)
        return f"{file.name}:{number}"

    assert "  cost 3.22: sum" in lines
    assert f"price of one 4.00: {line(path, 'price = 4.0')}" in text
    shop = tmp_path / "shop.toml"
    assert f"pay of an hour by hand 30.00: {line(shop, 'by_hand')}" in text
    assert f"minutes each 12 min: {line(shop, 'board = 12')}" in text
    assert "price, online 8.05: (cost + fees of a sale) / (1 - percentage - margin)" in text
    assert f"wanted margin 50 %: {line(shop, 'margin')}" in text


def test_other_batches_stacks_and_sizes(tmp_path: Path) -> None:
    """A larger batch shares its set-up; a stack too high for the cutter says why."""
    found = variants_of(written(tmp_path))
    one = {(each.what, each.item): each for each in found}
    assert one["batch of 1", "coaster"].cost > one["batch of 25", "coaster"].cost
    assert one["batch of 50", "=pot foot"].boards > one["batch of 5", "=pot foot"].boards
    assert {each.what for each in found} >= {"stack of 1", "stack of 2", "stack of 3", "size small", "size large"}
    impossible = {each.what for each in found if each.why.startswith("not possible")}
    assert impossible <= {"stack of 2", "stack of 3"}
    same = {(each.what, each.item) for each in found if each.why.startswith("the same parts")}
    assert ("size large", "coaster") in same  # the job sets its diameter and hole


def test_hours_and_percent_in_words() -> None:
    words = [hours_words(Decimal(hours)) for hours in ("0", "0.001", "0.2", "1", "2.51")]
    assert words == ["0 min", "less than 1 min", "12 min", "1 h", "2 h 31 min"]
    assert [percent_words(value) for value in (None, Decimal("41.4"))] == ["-", "41 %"]


def test_a_shop_of_the_tests_has_no_usual_minutes() -> None:
    assert all(not value for value in _shop().file.minutes.model_dump().values())
