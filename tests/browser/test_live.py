"""The live sheet in a real browser: by pointer, touch and keyboard, at three sizes, and with all that goes wrong."""

from __future__ import annotations

import json
import re
import shutil
import socket
import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from cutjob.files.file_bytes import shipped_folder
from cutjob.making import make_job
from cutjob.reports.money import money_data
from tests.browser.chromium import page_at, require_axe, require_chromium
from tests.live.jobs import STARS as STAR
from tests.live.serving import Served, served

WIDE, TABLET, PHONE = (1600, 1000), (820, 1180), (390, 844)
SLOW = 90_000  # ms at most for a proof, on a busy machine


def line(page: Any, *path: str | int) -> Any:
    return page.locator(f"[data-path='{json.dumps(list(path), separators=(',', ':'))}']")


def settled(page: Any, state: str = "proven") -> None:
    page.wait_for_selector(f"#sheet[data-state={state}]", timeout=SLOW)


def at_version(page: Any, least: int) -> None:
    """Wait until the page shows this version."""
    until(lambda: int(page.locator("#sheet").get_attribute("data-version") or 0) >= least)


def until(is_so: Callable[[], object]) -> None:
    """Wait until something is so."""
    end = time.monotonic() + 60
    while not is_so():
        assert time.monotonic() < end
        time.sleep(0.05)


def written(job: Path, words: str) -> None:
    """Wait until the file has these words."""
    until(lambda: words in job.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def stall(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Served, Path]]:
    require_chromium()
    folder = tmp_path_factory.mktemp("stall")
    job = folder / "stars.toml"
    job.write_text(STAR, encoding="utf-8")
    with served(job, folder=folder) as server:
        yield server, job


@pytest.fixture
def star(stall: tuple[Served, Path]) -> tuple[Served, Path]:
    """A server of its own for all tests, with the job as it was at first."""
    server, job = stall
    server.ask("job", STAR.encode(), method="PUT")
    return server, job


def drawn_by_hand(address: str, folder: Path, size: tuple[int, int], *, touch: bool) -> None:
    """From an empty folder to proven files for a graded stack with a curve drawn by hand, without touching the file."""
    with page_at(address, size=size, touch=touch) as (page, wrong):
        press = (lambda one: one.tap()) if touch else (lambda one: one.click())
        button = page.locator('[data-design="graded-stack"][data-size="small"]')
        button.wait_for(timeout=SLOW)
        press(button)
        page.wait_for_selector("[data-pins]", timeout=SLOW)
        (job,) = folder.glob("*.toml")
        before = tomllib.loads(job.read_text(encoding="utf-8"))
        pin = page.locator('[data-pins="1"][data-pin="1"][data-side="1"]').first
        pin.scroll_into_view_if_needed()
        box = pin.bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + 12, y + 6, steps=6)
        page.mouse.up()
        at_version(page, 2)
        after = tomllib.loads(job.read_text(encoding="utf-8"))
        assert "top" not in before["make"][0]["with"]
        top = after["make"][0]["with"]["top"]
        assert top[0] == [0, 1]
        assert top[1] != [0.5, 0.82]
        count = line(page, "make", 0, "count")
        count.fill("1")
        count.press("Enter")
        settled(page)
        press(page.locator("#part-files [data-do=write]"))
        page.wait_for_selector("text=Written to", timeout=SLOW)
        out = folder / "out" / job.stem
        assert json.loads((out / "plan.json").read_text(encoding="utf-8"))["proof"]["passed"]
        again = make_job(job, out=folder / "again", effort="quick")
        assert {one.name: one.read_bytes() for one in out.iterdir()} == again.files
        assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
        assert wrong == []


@pytest.mark.slow
@pytest.mark.usefixtures("whole_search")
@pytest.mark.parametrize(("size", "touch"), [(WIDE, False), (TABLET, True), (PHONE, True)])
def test_from_an_empty_folder_to_proven_files(tmp_path: Path, size: tuple[int, int], touch: bool) -> None:
    require_chromium()
    with served(None, folder=tmp_path) as server:
        drawn_by_hand(server.address, tmp_path, size, touch=touch)


def test_without_a_job_the_page_offers_the_designs_and_the_jobs_there_are(tmp_path: Path) -> None:
    require_chromium()
    (tmp_path / "stars.toml").write_text(STAR, encoding="utf-8")
    with served(None, folder=tmp_path) as server, page_at(server.address) as (page, wrong):
        settled(page, "start")
        page.locator('[data-design="graded-stack"][data-size="large"] svg').wait_for(timeout=SLOW)
        page.locator('[data-job="stars.toml"]').click()
        page.locator("h1", has_text="Stars").wait_for(timeout=SLOW)
        assert wrong == []


def test_a_value_is_typed_and_everything_follows(star: tuple[Served, Path]) -> None:
    server, job = star
    with page_at(server.address) as (page, wrong):
        settled(page)
        count = line(page, "make", 0, "count")
        count.fill("3")
        count.press("Enter")
        page.locator("h3", has_text="3 x star").wait_for(timeout=SLOW)
        written(job, "count = 3")
        settled(page)
        assert page.locator("[data-key=layout-board-01] .l-over[data-keeps] rect").count() == 3
        assert page.locator(".l-was").count() > 0  # figures stand beside what they were
        page.locator("[data-do=undo]").click()
        page.locator("h3", has_text="2 x star").wait_for(timeout=SLOW)
        assert job.read_text(encoding="utf-8") == STAR
        assert wrong == []


def test_a_mistake_stands_at_its_field_and_nothing_is_handed_out(star: tuple[Served, Path]) -> None:
    server, job = star
    with page_at(server.address) as (page, wrong):
        settled(page)
        outer = line(page, "make", 0, "with", "outer")
        outer.fill("wide")
        outer.press("Enter")
        settled(page, "wrong")
        said = page.locator(".l-line[data-wrong] .l-said").inner_text()
        assert said.startswith("'wide' is not a length")
        assert outer.input_value() == "wide"
        assert page.locator("#part-files a").count() == 0
        assert page.locator("[data-do=write]").first.is_disabled()
        assert page.locator(".l-of-before").count() > 0
        assert 'outer = "wide"' in job.read_text(encoding="utf-8")
        page.locator("[data-do=undo]").click()
        settled(page)
        assert job.read_text(encoding="utf-8") == STAR
        assert wrong == []


def test_two_tabs_and_an_editor_see_each_other(star: tuple[Served, Path]) -> None:
    server, job = star
    with page_at(server.address) as (page, _):
        other = page.context.new_page()
        other.goto(server.address)
        settled(page)
        settled(other)
        title = line(page, "title")
        title.fill("Stars for May")
        title.press("Enter")
        other.locator("h1", has_text="Stars for May").wait_for(timeout=SLOW)
        job.write_text(STAR.replace('"Stars"', '"By hand"'), encoding="utf-8")
        for one in (page, other):
            one.locator("h1", has_text="By hand").wait_for(timeout=SLOW)
        job.write_text(STAR, encoding="utf-8")
        page.locator("h1", has_text="Stars").wait_for(timeout=SLOW)


def test_a_file_changed_at_the_same_time_is_never_overwritten(star: tuple[Served, Path]) -> None:
    """The page's change is to an older text: it asks, shows the file as it is, and makes its change when told to."""
    server, job = star
    with page_at(server.address) as (page, _):
        settled(page)
        page.route("**/events*", lambda route: route.abort())  # the page does not hear of the change
        server.ask("edit", {"changes": [{"path": ["title"], "kind": "text", "typed": "Elsewhere"}]})
        count = line(page, "make", 0, "count")
        count.fill("4")
        count.press("Enter")
        time.sleep(0.5)
        if page.locator(".l-ask").count():
            assert 'title = "Elsewhere"' in job.read_text(encoding="utf-8")
            assert "count = 2" in job.read_text(encoding="utf-8")
            page.locator("[data-do=mine]").click()
        page.locator("h3", has_text="4 x star").wait_for(timeout=SLOW)
        text = job.read_text(encoding="utf-8")
        assert 'title = "Elsewhere"' in text
        assert "count = 4" in text


def test_a_whole_text_is_put_only_over_the_text_it_came_from(star: tuple[Served, Path]) -> None:
    server, job = star
    job.write_bytes(STAR.replace("\n", "\r\n").encode())
    with page_at(server.address) as (page, _):
        settled(page)
        page.locator("#part-text summary").click()
        area = page.locator("#text")
        until(lambda: "Stars" in area.input_value())
        area.fill(area.input_value().replace('"Stars"', '"Put"'))
        page.locator("[data-do=put]").click()
        page.locator("h1", has_text="Put").wait_for(timeout=SLOW)
        assert job.read_bytes() == STAR.replace('"Stars"', '"Put"').replace("\n", "\r\n").encode()
        area.fill(area.input_value().replace('"Put"', '"Put again"'))
        server.ask("edit", {"changes": [{"path": ["title"], "kind": "text", "typed": "Elsewhere"}]})
        page.locator("h1", has_text="Elsewhere").wait_for(timeout=SLOW)
        page.keyboard.press("Escape")  # draws all of the page anew
        page.locator("[data-do=put]").click()
        page.locator(".l-ask").wait_for(timeout=SLOW)
        assert 'title = "Elsewhere"' in job.read_text(encoding="utf-8")
        page.locator("[data-do=mine]").click()
        page.locator("h1", has_text="Put again").wait_for(timeout=SLOW)
        assert 'title = "Put again"' in job.read_text(encoding="utf-8")


def test_the_text_follows_the_file_and_keeps_what_is_typed(star: tuple[Served, Path]) -> None:
    server, job = star
    with page_at(server.address) as (page, _):
        settled(page)
        page.locator("#part-text summary").click()
        area, put = page.locator("#text"), page.locator("[data-do=put]")
        until(lambda: "Stars" in area.input_value())

        def slow(route: Any) -> None:
            time.sleep(1)
            route.continue_()

        page.route(re.compile(r"/job$"), slow)  # the answer comes after more is typed
        area.fill(area.input_value().replace('"Stars"', '"Put"'))
        put.click()
        area.fill(area.input_value().replace('"Put"', '"Typed since"'))
        written(job, '"Put"')
        page.locator("h1", has_text="Put").wait_for(timeout=SLOW)
        page.wait_for_timeout(2500)
        assert '"Typed since"' in area.input_value()
        put.click()
        page.locator("h1", has_text="Typed since").wait_for(timeout=SLOW)
        assert not page.locator(".l-ask").count()
        server.ask("edit", {"changes": [{"path": ["title"], "kind": "text", "typed": "Elsewhere"}]})
        until(lambda: '"Elsewhere"' in area.input_value())
        assert area.input_value() == job.read_text(encoding="utf-8")


def test_a_change_never_goes_to_another_entry(star: tuple[Served, Path]) -> None:
    """Each change names its entry by number: where an entry before it was taken out meanwhile, it is made again."""
    server, job = star
    other = '[[make]]\nname = "disc"\ndesign = "round"\nsize = "small"\n\n'
    third = other.replace("disc", "third")
    server.ask("job", STAR.replace("[[board]]", f"{other}{third}[[board]]").encode(), method="PUT")
    with page_at(server.address) as (page, _):
        settled(page)
        page.locator("[data-remove='[\"make\",0]']").evaluate(
            """remove => {
                const count = document.querySelector(`[data-path='["make",1,"count"]']`);
                count.value = "7";
                remove.click();
                count.dispatchEvent(new Event("change", { bubbles: true }));
            }"""
        )
        page.locator(".l-gone", has_text="make it again").wait_for(timeout=SLOW)
        assert [one["name"] for one in tomllib.loads(job.read_text(encoding="utf-8"))["make"]] == ["disc", "third"]
        assert "count = 7" not in job.read_text(encoding="utf-8")


def test_two_clicks_add_no_more_than_they_say(star: tuple[Served, Path]) -> None:
    """The second is about a place that is taken by then: it must not overwrite what stands there."""
    server, job = star
    with page_at(server.address) as (page, _):
        settled(page)
        page.locator("[data-add='[\"board\",1]']").evaluate("add => { add.click(); add.click(); }")
        page.locator(".l-gone", has_text="make it again").wait_for(timeout=SLOW)
        boards = tomllib.loads(job.read_text(encoding="utf-8"))["board"]
        assert [one["name"] for one in boards] == ["larch", "board"]


def test_one_of_several_boards_is_put_on_a_line_of_its_own(star: tuple[Served, Path]) -> None:
    """What is drawn on a line of several boards is on all of them: one alone gets a line, and then its knot."""
    server, job = star
    server.ask(
        "job", STAR.replace("thickness = 16", 'thickness = 16\ncount = 3\nmaterial = "softwood"').encode(), method="PUT"
    )
    with page_at(server.address) as (page, wrong):
        settled(page)
        page.locator("[data-alone='0']").click()
        written(job, "larch 2")
        boards = tomllib.loads(job.read_text(encoding="utf-8"))["board"]
        same = {"length": 600, "width": 140, "thickness": 16, "material": "softwood"}
        assert boards == [{"name": "larch", **same, "count": 2}, {"name": "larch 2", **same, "count": 1}]
        page.locator("[data-tool='[\"board\",1]'][data-mode=knot]").click()
        page.locator("svg[data-board='1']").click(position={"x": 100, "y": 30})
        written(job, "knot")
        first, second = tomllib.loads(job.read_text(encoding="utf-8"))["board"]
        assert "keep_out" not in first
        assert len(second["keep_out"]) == 1
        settled(page)
        assert wrong == []


def test_a_dragged_value_is_followed_while_it_is_dragged(star: tuple[Served, Path]) -> None:
    server, job = star
    with page_at(server.address) as (page, wrong):
        settled(page)
        before = page.locator("[data-picture='0'] svg").get_attribute("viewBox")
        grip = page.locator('[data-grip=\'["make",0,"with","outer"]\']')
        grip.scroll_into_view_if_needed()
        box = grip.bounding_box()
        page.mouse.move(box["x"] + 8, box["y"] + 8)
        page.mouse.down()
        page.mouse.move(box["x"] + 48, box["y"] + 8, steps=4)
        until(lambda: page.locator("[data-picture='0'] svg").get_attribute("viewBox") != before)
        assert job.read_text(encoding="utf-8") == STAR  # nothing is written before it is let go
        page.mouse.up()
        written(job, "outer = 100")
        assert wrong == []


def test_a_knot_a_clamp_and_an_outline_are_drawn_by_taps(star: tuple[Served, Path]) -> None:
    server, job = star
    with page_at(server.address) as (page, wrong):
        settled(page)

        def tap(x: float, y: float) -> None:
            board = page.locator("svg[data-board='0']")
            box = board.bounding_box()
            board.click(position={"x": box["width"] * x, "y": box["height"] * y})

        page.locator("[data-mode=knot]").click()
        tap(0.5, 0.5)
        page.locator(".l-group[aria-label='keep_out 1']").wait_for(timeout=SLOW)
        (knot,) = tomllib.loads(job.read_text(encoding="utf-8"))["board"][0]["keep_out"]
        assert knot["why"] == "knot"
        assert 290 <= knot["at"][0] <= 310
        assert 60 <= knot["at"][1] <= 80
        page.locator("[data-mode=clamp]").click()
        tap(0.05, 0.9)
        tap(0.12, 0.6)
        page.locator(".l-group[aria-label='keep_out 2']").wait_for(timeout=SLOW)
        clamp = tomllib.loads(job.read_text(encoding="utf-8"))["board"][0]["keep_out"][1]
        assert len(clamp["outline"]) == 4
        assert clamp["height"] == 25
        server.ask("job", STAR.encode(), method="PUT")
        at_version(page, server.state()["version"])
        page.locator("button[data-mode=outline]").click()
        for place in ((0.05, 0.9), (0.9, 0.9), (0.7, 0.1), (0.05, 0.1)):
            tap(*place)
        page.locator("[data-close]").click()
        written(job, "outline")
        board = tomllib.loads(job.read_text(encoding="utf-8"))["board"][0]
        assert "length" not in board
        assert len(board["outline"]) == 4
        assert wrong == []


def test_a_part_is_kept_and_a_bridge_moved(star: tuple[Served, Path]) -> None:
    server, job = star
    with page_at(server.address) as (page, wrong):
        settled(page)
        page.locator("[data-keeping]").first.click()
        page.locator("rect[data-keep='1']").first.click()
        page.locator("rect[data-keep][aria-checked=true]").first.wait_for(timeout=SLOW)
        (kept,) = tomllib.loads(job.read_text(encoding="utf-8"))["keep"]
        settled(page)
        plan = server.state()["plan"]
        (part,) = [
            one for board in plan["boards"] for one in board["parts"]
            if (one["item"], one["unit"], one["part"]) == (kept["item"], kept.get("unit", 1), kept["part"])
        ]  # fmt: skip
        assert part["box"][:2] == pytest.approx(kept["at"], abs=1e-3)
        page.locator("[data-bridges]").first.click()
        bridge = page.locator("[data-bridge]").first
        bridge.focus()
        bridge.press("ArrowRight")
        written(job, "tabs")
        tabs = tomllib.loads(job.read_text(encoding="utf-8"))["make"][0]["tabs"]["star"]
        own = [one for one in plan["boards"][0]["bridges"] if one["number"] == 1]
        assert len(tabs) == len(own)
        settled(page)
        assert wrong == []


def test_keys_alone_do_everything(star: tuple[Served, Path]) -> None:
    """From the address bar on: no pointer is used."""
    server, job = star
    with page_at(server.address) as (page, wrong):
        settled(page)

        def reach(selector: str) -> None:
            for _ in range(400):
                page.keyboard.press("Tab")
                if page.evaluate("one => document.activeElement.matches(one)", selector):
                    return
            raise AssertionError(selector)

        reach("[data-handle]")
        page.keyboard.press("ArrowRight")
        written(job, "with")
        reach('[data-path=\'["make",0,"count"]\']')
        page.keyboard.type("4")
        page.keyboard.press("Enter")
        page.locator("h3", has_text=re.compile("4 x star|24 x star|42 x star")).wait_for(timeout=SLOW)
        reach("[data-do=write]")
        page.keyboard.press("Escape")
        page.keyboard.press("Control+z")
        page.locator("h3", has_text="2 x star").wait_for(timeout=SLOW)
        settled(page)
        reach("#part-files [data-do=write]")
        page.keyboard.press("Enter")
        page.wait_for_selector("text=Written to", timeout=SLOW)
        assert wrong == []


@pytest.mark.parametrize("size", [WIDE, TABLET, PHONE])
def test_nothing_hangs_over_and_axe_finds_nothing(
    star: tuple[Served, Path], size: tuple[int, int], tmp_path_factory: pytest.TempPathFactory
) -> None:
    server, _ = star
    axe = require_axe(tmp_path_factory.mktemp("axe"))
    with page_at(server.address, size=size, touch=size != WIDE) as (page, wrong):
        settled(page)
        page.locator("#cut-boards section").first.wait_for(timeout=SLOW)
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
        page.evaluate(axe)
        found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found["violations"]] == []
        assert wrong == []


def test_a_program_is_played(star: tuple[Served, Path]) -> None:
    server, _ = star
    with page_at(server.address) as (page, wrong):
        settled(page)
        page.locator("#cut-boards [data-part=play]").first.click()
        time.sleep(0.7)
        assert page.locator("#cut-boards .s-time").first.inner_text()[:4] != "0:00"
        assert page.locator("#cut-boards canvas").count() >= 2
        assert wrong == []


def test_a_proven_file_is_downloaded(star: tuple[Served, Path], tmp_path: Path) -> None:
    server, job = star
    with page_at(server.address) as (page, _):
        settled(page)
        with page.expect_download() as found:
            page.locator("#part-files a", has_text="board-01.nc").click()
        found.value.save_as(tmp_path / "board-01.nc")
        made = make_job(job, out=tmp_path / "out", effort="quick")
        assert made.proof.passed
        assert (tmp_path / "board-01.nc").read_text().startswith("%") or (tmp_path / "board-01.nc").stat().st_size > 500


def test_a_server_that_is_gone_is_said_and_taken_up_again(tmp_path: Path) -> None:
    require_chromium()
    job = tmp_path / "stars.toml"
    shutil.copy(shipped_folder("samples") / "gate-stars.toml", job)
    with socket.socket() as any_port:  # one that no other test's server takes while this one is gone
        any_port.bind(("127.0.0.1", 0))
        port = any_port.getsockname()[1]
    with served(job, folder=tmp_path, port=port) as server, page_at(server.address) as (page, _):
        page.wait_for_selector("#sheet[data-version]", timeout=SLOW)
        title = line(page, "title")
        title.wait_for(timeout=SLOW)
        server.kill()
        page.locator(".l-gone").wait_for(timeout=SLOW)
        assert page.locator(".l-state").inner_text() == "no server"
        # What is typed meanwhile waits on the page, and is sent once the server is back.
        count = line(page, "make", 0, "count")
        count.fill("3")
        count.press("Tab")
        page.locator(".l-gone", has_text="1 change waits on this page").wait_for(timeout=SLOW)
        assert count.input_value() == "3"
        with served(job, folder=tmp_path, port=port):
            page.locator(".l-gone").wait_for(state="detached", timeout=SLOW)
            written(job, "count = 3")
            assert count.input_value() == "3"
            title.fill("after")
            title.press("Enter")
            page.locator("h1", has_text="after").wait_for(timeout=SLOW)
            assert 'title = "after"' in job.read_text(encoding="utf-8")


def test_a_finger_drags_a_pin(tmp_path: Path) -> None:
    """As the browser itself takes a finger: the page must not scroll away from under it."""
    require_chromium()
    job = tmp_path / "stack.toml"
    job.write_bytes(shipped_folder("samples").joinpath("porch-spinner.toml").read_bytes())
    with served(job, folder=tmp_path) as server, page_at(server.address, size=PHONE, touch=True) as (page, wrong):
        pin = page.locator('[data-pins="1"][data-pin="1"][data-side="1"]').first
        pin.wait_for(timeout=SLOW)
        pin.scroll_into_view_if_needed()
        page.wait_for_timeout(500)
        box = pin.bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        fingers = page.context.new_cdp_session(page)
        for kind, up in [("touchStart", 0), *(("touchMove", 4 * step) for step in range(1, 7)), ("touchEnd", None)]:
            points = [] if up is None else [{"x": x, "y": y - up}]
            fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
            page.wait_for_timeout(40)
        written(job, "top =")
        assert tomllib.loads(job.read_text(encoding="utf-8"))["make"][0]["with"]["top"][1][1] > 0.9
        assert wrong == []


def test_a_shop_file_is_begun_and_its_figures_change_the_price(tmp_path: Path) -> None:
    """From usual figures to a wage of one's own, what it was before beside it, a step back over both files, and figures
    as those of `make`.
    """
    require_chromium()
    job, shop = tmp_path / "stars.toml", tmp_path / "shop.toml"
    job.write_text(STAR, encoding="utf-8")
    with served(job, folder=tmp_path) as server, page_at(server.address) as (page, wrong):
        settled(page)
        page.locator("[data-do=begin-shop]").click()
        wage = line(page, "shop file", "pay", "by_hand")
        wage.wait_for(timeout=SLOW)
        assert wage.input_value() == "20.0"
        assert page.locator("[data-do=begin-shop]").count() == 0
        settled(page)
        before = figures(server)
        page.locator("#part-shop summary", has_text="left as usual").first.wait_for(state="attached")
        wage.fill("32")
        wage.press("Tab")
        until(lambda: tomllib.loads(shop.read_text(encoding="utf-8"))["pay"]["by_hand"] == 32)
        assert "# an hour of work by hand" in shop.read_text(encoding="utf-8")
        until(lambda: figures(server) is not None and figures(server) != before)
        settled(page)
        page.locator("#part-costs .l-was").first.wait_for(timeout=SLOW)
        assert figures(server) == money_data(make_job(job, out=tmp_path / "made").job)
        title = line(page, "title")
        title.fill("After")
        title.press("Tab")
        written(job, "After")
        for _ in range(2):  # the title, then the wage
            page.locator("[data-do=undo]").click()
            page.wait_for_timeout(300)
        until(lambda: "20.0" in wage.input_value())
        assert 'title = "Stars"' in job.read_text(encoding="utf-8")
        assert tomllib.loads(shop.read_text(encoding="utf-8"))["pay"]["by_hand"] == 20
        until(lambda: figures(server) == before)
        # A mistake stands at its line, and the job is not cut.
        wage.fill("-3")
        wage.press("Tab")
        settled(page, "wrong")
        assert page.locator("#part-shop .l-said").count() == 1
        assert wrong == []


def figures(server: Served) -> Any:
    """The money of the newest plan; None where there is none yet."""
    plan = server.state()["plan"]
    return None if plan is None or not plan.get("proof") else plan["money"]


def test_mistakes_stay_until_they_are_corrected(star: tuple[Served, Path]) -> None:
    server, _ = star
    with page_at(server.address) as (page, _):
        settled(page)
        said = page.locator(".l-line .l-said")
        for number, (path, typed) in enumerate(
            [(("make", 0, "with", "outer"), "16 1/0"), (("machine",), "old faithful"), (("make", 0, "count"), "-3")], 1
        ):
            field = line(page, *path)
            field.fill(typed)
            field.press("Tab")
            until(lambda number=number: said.count() == number)
        assert line(page, "make", 0, "with", "outer").get_attribute("aria-invalid") == "true"


def test_what_became_of_writing_is_said_in_the_bar(star: tuple[Served, Path]) -> None:
    server, job = star
    with page_at(server.address) as (page, _):
        settled(page)
        page.locator("#bar [data-do=write]").click()
        page.locator("#bar .l-written", has_text="Written to").wait_for(timeout=SLOW)
        assert (job.parent / "out" / "stars" / "plan.json").exists()


def test_lines_of_before_stay_in_sight_while_the_text_is_no_toml(star: tuple[Served, Path]) -> None:
    server, job = star
    with page_at(server.address) as (page, _):
        settled(page)
        job.write_text(STAR.replace("count = 2", "count = "), encoding="utf-8")
        settled(page, "wrong")
        assert page.locator(".s-warnings li").first.inner_text().startswith("stars.toml:10")
        assert line(page, "make", 0, "count").input_value() == "2"
        assert page.locator("#part-make[inert]").count() == 1
        job.write_text(STAR, encoding="utf-8")
        settled(page)
        assert page.locator("#part-make[inert]").count() == 0


def test_an_invalid_file_opens_with_its_errors(tmp_path: Path) -> None:
    require_chromium()
    job = tmp_path / "broken.toml"
    job.write_text(STAR.replace("count = 2", "count = "), encoding="utf-8")
    with served(job, folder=tmp_path) as server, page_at(server.address) as (page, _):
        settled(page, "wrong")
        assert "broken.toml:10" in page.locator(".s-warnings").first.inner_text()
        page.locator("#part-text summary").click()
        text = page.locator("#text")
        text.wait_for(timeout=SLOW)
        page.wait_for_timeout(300)
        assert text.input_value() == job.read_text(encoding="utf-8")
        text.fill(STAR)
        page.locator("[data-do=put]").click()
        settled(page)
        assert job.read_text(encoding="utf-8") == STAR
