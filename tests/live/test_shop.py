"""The shop file on the page: begun beside the job, each key a line, changes and steps back over both files."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from cutjob.files.fields import plain_schema
from cutjob.files.source import parse_source
from cutjob.job.read_shop import usual_text
from cutjob.job.shop import ShopFile
from cutjob.live.lines import SHOP, Group, shop_section
from cutjob.live.server import Listeners, page_app
from tests.live.client import Client
from tests.live.jobs import STARS
from tests.live.test_server import HERE, PORT, Seen


@pytest.fixture
def seen(tmp_path: Path) -> Seen:
    return Seen(tmp_path)


def change(seen: Seen, *path: str | int, typed: str = "", kind: str = "number", version: int | None = None) -> Any:
    one = {"path": [SHOP, *path], "kind": kind, "typed": typed}
    return seen.page().post("/edit", json_={"changes": [one], "shop_version": version})


def shop_of(seen: Seen) -> dict[str, Any]:
    return tomllib.loads((seen.path.parent / "shop.toml").read_text(encoding="utf-8"))


def paths_of(groups: tuple[Group, ...]) -> Iterator[tuple[str | int, ...]]:
    for group in groups:
        yield from (line.path for line in group.lines)
        yield from paths_of(group.groups)


def test_every_key_of_a_shop_file_is_a_line() -> None:
    section = shop_section(parse_source(usual_text().encode(), name="shop.toml"))
    there = {line.path for line in section.lines} | set(paths_of(section.groups))
    for table, values in tomllib.loads(usual_text()).items():
        if isinstance(values, dict):
            assert {(SHOP, table, key) for key in values} <= there
        elif not (isinstance(values, list) and isinstance(values[0], dict)):
            assert (SHOP, table) in there
    shown = {path[1] for path in there} | {group.path[1] for group in section.groups}
    assert shown == set(plain_schema(ShopFile)["properties"])


def test_what_a_file_leaves_out_is_shown_as_usual() -> None:
    section = shop_section(parse_source(b"[pay]\nby_hand = 31\n", name="shop.toml"))
    pay = next(group for group in section.groups if group.name == "pay")
    assert [(line.name, line.typed, line.usual) for line in pay.lines][:2] == [
        ("by_hand", "31", "20.0"), ("machine", None, "6.0"),
    ]  # fmt: skip


def test_a_shop_file_is_begun_once(seen: Seen) -> None:
    page = seen.page()
    assert page.get("/state").json()["shop"] is None
    state = page.post("/shop", json_={}).json()
    assert state["shop"] == "shop.toml"
    assert (seen.path.parent / "shop.toml").read_text(encoding="utf-8") == usual_text()
    (seen.path.parent / "shop.toml").write_text("[pay]\nby_hand = 30\n", encoding="utf-8")
    again = page.post("/shop", json_={})
    assert again.status_code == 422
    assert "is there already" in again.json()["said"][0]
    assert shop_of(seen) == {"pay": {"by_hand": 30}}


def test_a_figure_is_changed_with_its_comment_kept_and_worked_out_anew(seen: Seen) -> None:
    state = seen.page().post("/shop", json_={}).json()
    asked = len(seen.worker.asked)
    answer = change(seen, "pay", "by_hand", typed="31.5", version=state["shop_version"])
    assert answer.status_code == 200
    text = (seen.path.parent / "shop.toml").read_text(encoding="utf-8")
    assert "by_hand = 31.5 # an hour of work by hand" in " ".join(text.split())
    assert len(seen.worker.asked) == asked + 1
    assert seen.path.read_text(encoding="utf-8") == STARS
    section = answer.json()["look"]["sections"][-1]
    assert section["id"] == "shop"
    assert next(one for one in section["groups"] if one["name"] == "pay")["lines"][0]["typed"] == "31.5"


def test_an_older_version_of_the_shop_is_refused_and_a_hand_before(seen: Seen) -> None:
    version = seen.page().post("/shop", json_={}).json()["shop_version"]
    change(seen, "pay", "by_hand", typed="30", version=version)
    assert change(seen, "pay", "by_hand", typed="40", version=version).status_code == 409
    path = seen.path.parent / "shop.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("margin = 40", "margin = 35"), encoding="utf-8")
    assert change(seen, "pay", "by_hand", typed="40").status_code == 409
    assert (shop_of(seen)["pay"]["by_hand"], shop_of(seen)["wanted"]["margin"]) == (30, 35)


def test_steps_go_back_over_both_files_in_order(seen: Seen) -> None:
    page = seen.page()
    page.post("/shop", json_={})
    change(seen, "pay", "by_hand", typed="30")
    page.post("/edit", json_={"changes": [{"path": ["title"], "kind": "text", "typed": "Two"}]})
    change(seen, "wanted", "wage", typed="33")
    stations = []
    for what in ("undo", "undo", "undo", "redo", "redo", "redo"):
        state = page.post(f"/{what}", json_={}).json()
        title = tomllib.loads(seen.path.read_text(encoding="utf-8"))["title"]
        stations.append((shop_of(seen)["pay"]["by_hand"], title, shop_of(seen)["wanted"]["wage"]))
    first = tomllib.loads(STARS)["title"]
    assert stations == [
        (30, "Two", 20),
        (30, first, 20),
        (20, first, 20),
        (30, first, 20),
        (30, "Two", 20),
        (30, "Two", 33),
    ]
    assert (state["undo"], state["redo"]) == (True, False)


def test_a_mistake_in_the_shop_stands_at_its_line(seen: Seen) -> None:
    seen.page().post("/shop", json_={})
    state = change(seen, "pay", "by_hand", typed="-3").json()
    (mistake,) = state["look"]["mistakes"]
    assert "shop.toml" in mistake["said"]
    pay = next(one for one in state["look"]["sections"][-1]["groups"] if one["name"] == "pay")
    assert len(pay["lines"][0]["problems"]) == 1
    assert list(state["look"]["lost"]) == []


@pytest.mark.parametrize("path", [[], ["pay", 0, 0], ["nothing", "here"], ["__proto__"]])
def test_nonsense_changes_no_shop(seen: Seen, path: list[str | int]) -> None:
    seen.page().post("/shop", json_={})
    before = (seen.path.parent / "shop.toml").read_bytes()
    answer = change(seen, *path, typed="1")
    assert answer.status_code in (200, 422)
    if answer.status_code == 422:
        assert (seen.path.parent / "shop.toml").read_bytes() == before


def test_a_shop_file_elsewhere_is_not_changed_from_the_page(tmp_path: Path) -> None:
    inside = tmp_path / "jobs"
    inside.mkdir()
    (tmp_path / "shop.toml").write_text(usual_text(), encoding="utf-8")
    seen = Seen(inside)
    seen.path.write_text(f'shop = "../shop.toml"\n{STARS}', encoding="utf-8")
    seen.desk.look_at_disk()
    assert seen.page().get("/state").json()["shop"] is None
    assert change(seen, "pay", "by_hand", typed="1").status_code == 422
    assert (tmp_path / "shop.toml").read_text(encoding="utf-8") == usual_text()


def test_who_reads_along_begins_no_shop(tmp_path: Path) -> None:
    seen = Seen(tmp_path, token="t" * 32)
    other = Client(page_app(seen.desk, Listeners(), ports=[PORT], token="t" * 32), HERE, "192.168.1.20")
    assert other.post(f"/shop?token={'t' * 32}", json_={}).status_code in (403, 405)
    assert not (tmp_path / "shop.toml").exists()
