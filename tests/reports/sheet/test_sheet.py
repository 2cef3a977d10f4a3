from __future__ import annotations

import re
from pathlib import Path

import pytest

from cutjob.making import make_job
from cutjob.reports.sheet.facts import Table, duration
from tests.reports.sheet.jobs import HOSTILE, SAMPLES, SHEET, hostile, laser, page, sample
from tests.reports.sheet.reading import read

NAME = HOSTILE.replace('\\"', '"')
MADE = {"spinner": lambda: sample("porch-spinner"), "round": hostile, "laser": laser}


@pytest.mark.parametrize("name", MADE)
def test_nothing_is_fetched_from_anywhere(name: str) -> None:
    text = page(MADE[name]())
    tags = read(text).tags
    for tag, attributes in tags:
        assert tag not in ("link", "iframe", "img", "object", "embed", "base", "form")
        assert "src" not in attributes
        assert not any(key.startswith("on") for key in attributes)
        assert (attributes.get("href") or "#").startswith("#")
    assert re.findall(r"https?://(?!www\.w3\.org/2000/svg)", text) == []
    assert "@import" not in text
    assert "url(" not in text


@pytest.mark.parametrize("name", MADE)
def test_links_lead_to_places_on_the_page_and_ids_are_there_once(name: str) -> None:
    tags = read(page(MADE[name]())).tags
    ids = [attributes["id"] for _, attributes in tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    links = [attributes.get("href") for tag, attributes in tags if tag == "a"]
    assert links
    assert all(link is not None and link[1:] in ids for link in links)


def test_names_stay_names() -> None:
    result = hostile()
    text, words = page(result), read(page(result)).words()
    for what in ("title", "item", "board"):
        assert f"{NAME} {what}" in words
    assert "<b>" not in text
    assert [attributes for tag, attributes in read(text).tags if tag == "b"] == []


def test_the_sheet_says_what_the_plan_says() -> None:
    result = sample("porch-spinner")
    words = read(page(result)).words()
    plan = result.plan
    assert plan["title"] in words
    assert "72 in x 5 1/2 in x 5/8 in" in words
    assert "3.40" in words
    for program in result.programs:
        assert program.file in words
    for piece in plan["sawn"]:
        assert piece["note"] in words
    for hole in plan["hand_holes"]:
        assert hole["note"] in words
    for warning in plan["warnings"]:
        assert warning in words
    for part in ("base 1", "base 2", "centre rod", "pieces 1 to 9", "topper"):
        assert f"{part}: " in words
    assert SHEET in plan["files"]


@pytest.mark.parametrize("name", MADE)
def test_every_caution_stands_there_in_full_with_a_box(name: str) -> None:
    result = MADE[name]()
    words = read(page(result)).words()
    shown = [text for text in result.plan["cautions"] if text in words]
    assert shown == result.plan["cautions"]
    assert shown
    assert page(result).count('<li><label><input type="checkbox">') == len(shown)


def test_the_same_job_gives_the_same_sheet(tmp_path_factory: pytest.TempPathFactory) -> None:
    again = make_job(SAMPLES / "porch-spinner.toml", out=tmp_path_factory.mktemp("again") / "out", effort="quick")
    assert again.files[SHEET] == sample("porch-spinner").files[SHEET]


def test_only_the_sheet_when_only_that_is_asked_for(tmp_path_factory: pytest.TempPathFactory) -> None:
    out = tmp_path_factory.mktemp("only") / "out"
    result = make_job(SAMPLES / "gate-stars.toml", out=out, effort="quick", only=frozenset({"sheet"}))
    assert sorted(path.name for path in out.iterdir()) == [SHEET, "plan.json"]
    assert result.plan["files"] == [SHEET]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (59.4, "59 s"),
        (59.6, "1 min 00 s"),
        (425, "7 min 05 s"),
        (3599.6, "1 h 00 min"),
        (4800, "1 h 20 min"),
    ],
)
def test_times_are_written_as_people_say_them(seconds: float, words: str) -> None:
    assert duration(seconds) == words


def test_empty_columns_are_left_out() -> None:
    table = Table(heads=("count", "of", "then"), rows=[("1", "rod", ""), ("2", "lath", "")])
    assert table.without_empty() == Table(heads=("count", "of"), rows=[("1", "rod"), ("2", "lath")])


_SAW_JOB = """
title = "Gate stars"
units = "mm"
machine = "bandsaw"
stack = 2

[[make]]
name = "gate rods"
design = "graded-rods"
size = "small"
count = 2
with.base_sockets = 4

[[board]]
name = "larch board"
length = 900
width = 200
thickness = 12
count = 2
price = 5

[[bought]]
name = "{bead}"
price = 0.5
"""


def test_a_saws_sheet_tells_of_patterns_prices_and_costs(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    bead = "wooden bead, 19 mm across"
    job.write_text(_SAW_JOB.format(bead=bead), encoding="utf-8")
    result = make_job(job, out=tmp_path / "out", effort="quick")
    [bought] = result.plan["bought"]
    assert (bought["name"], bought["price"]) == (bead, 0.5)
    text = page(result).replace("\N{NO-BREAK SPACE}", " ")
    assert "patterns.pdf: print it at true size" in text
    assert "as it is sawn" in text
    assert "as it lies on the machine" not in text
    assert f"{0.5 * bought['count']:.2f}</td>" in text
    [item] = result.plan["money"]["items"]
    assert item["of_material"][bead] == 0.5 * bought["count"] / item["count"]
    assert f"{item['cost']:.2f}</td>" in text
    plain = text.replace("\u00a0", " ")
    assert "not counted, because no price is stated: 10 mm rod, 19 mm rod" in plain
    patterns_only = make_job(job, out=tmp_path / "few", effort="quick", only=frozenset({"sheet"}))
    assert "at true size" not in page(patterns_only)


def test_measures_over_all_and_how_far_up_a_part_is_are_as_fine_as_the_facts(tmp_path: Path) -> None:
    # 3/4 + 1 1/4 - 5/32 in = 1 27/32 in, the board 1 3/32 in up: no sixteenths.
    path = tmp_path / "stand.toml"
    path.write_text(
        'units = "in"\nmachine = "bench-router"\n[[make]]\nname = "stand"\ndesign = "footed-board"\nsize = "small"\n'
        'with = { foot = "1 1/4", dado = "5/32" }\n[[board]]\nname = "end cut"\nlength = "14"\nwidth = "9"\n'
        'thickness = "3/4"\nmaterial = "softwood"\n'
    )
    made = make_job(path, out=tmp_path / "out", effort="quick", only=frozenset({"sheet"})).files[SHEET].decode()
    sheet = read(made).words()
    assert "1 27/32 in high" in sheet
    assert sheet.count("1 27/32 in") >= 2
    assert "its lowest place 1 3/32 in up" in sheet


def test_in_never_stands_for_two_things() -> None:
    """No column is called `in`, and no length in inches runs into a name: `10 in base 1`."""
    page_ = read(page(sample("porch-spinner")))
    heads = [text.split() for tag, text in page_.texts if tag == "th"]
    assert not [head for head in heads if "in" in head and head[-1] != "order"]
    assert re.findall(r"\d in (?:piece|base|topper|all|\d+ in)\b", page_.words()) == []
    assert "10 in for base 1 (porch spinner)" in page_.words()
    assert re.search(r"Boards 1 board, 1 layout Machine time about [\w ]+, 1 run, without work by hand", page_.words())


def test_a_lone_board_is_open_and_several_are_not() -> None:
    def boards(name: str) -> list[bool]:
        tags = read(page(sample(name))).tags
        return [
            "open" in attributes
            for (tag, attributes), (_, before) in zip(tags[1:], tags, strict=False)
            if tag == "details" and before.get("class") == "s-board"
        ]

    assert boards("porch-spinner") == [True]
    assert boards("gate-stars") == [False, False]
