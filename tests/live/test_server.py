"""Who may ask the server for what, and what it answers. No request leaves this computer."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from cutjob.live import server
from cutjob.live.desk import Desk
from cutjob.live.server import Listeners, page_app
from cutjob.live.worker import Asked, Said
from tests.live.client import Client
from tests.live.jobs import STARS as JOB

PORT = 8730
HERE = f"http://127.0.0.1:{PORT}"


class Idle:
    """A worker that only takes note."""

    def __init__(self) -> None:
        self.asked: list[Asked] = []
        self.ended: list[int] = []

    def start(self) -> None: ...

    def close(self) -> None: ...

    def ask(self, asked: Asked) -> None:
        self.asked.append(asked)

    def enough(self, version: int) -> None:
        self.ended.append(version)


class Seen:
    """A desk, its worker, and a page on this computer."""

    def __init__(self, folder: Path, *, job: bool = True, token: str | None = None) -> None:
        self.path = folder / "job.toml"
        if job:
            self.path.write_text(JOB, encoding="utf-8")
        self.worker = Idle()
        self.said: list[tuple[str, Any]] = []
        self.desk = Desk(
            self.path if job else None, folder=folder, worker=self.worker, say=lambda *what: self.said.append(what)
        )  # type: ignore[arg-type]
        self.app = page_app(self.desk, Listeners(), ports=[PORT], token=token)

    def page(self, client: str = "127.0.0.1", base: str = HERE) -> Client:
        return Client(self.app, base, client)


@pytest.fixture
def seen(tmp_path: Path) -> Iterator[Seen]:
    found = Seen(tmp_path)
    yield found
    found.desk.close()


def test_the_page_and_its_parts_are_served_and_ask_for_nothing_elsewhere(seen: Seen) -> None:
    page = seen.page()
    html = page.get("/")
    assert html.status_code == 200
    assert "default-src 'none'" in html.headers["content-security-policy"]
    for name in ("live.css", "page.css", "live.js", "draw.js", "player.js"):
        text = page.get(f"/{name}")
        assert text.status_code == 200
        outside = [one for one in ("https:", "//cdn", "@import", "url(") if one in text.text]
        assert outside == []


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", f"127.0.0.1:{PORT + 1}", f"evil.example:{PORT}", ""])
def test_another_host_in_the_address_is_refused(seen: Seen, host: str) -> None:
    """DNS rebinding: a name of another site that leads to this computer."""
    for path in ("/", "/state", "/job", "/events"):
        assert seen.page().get(path, headers={"Host": host}).status_code == 403
    assert seen.page().put("/job", content=b"title = 'x'\n", headers={"Host": host}).status_code == 403
    assert seen.path.read_text(encoding="utf-8") == JOB


@pytest.mark.parametrize("host", [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"[::1]:{PORT}"])
def test_the_names_of_this_computer_are_taken(seen: Seen, host: str) -> None:
    assert seen.page().get("/state", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://evil.example"}, {"Origin": "null"}, {"Origin": f"http://127.0.0.1:{PORT + 1}"},
        {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"},
        {"Origin": HERE, "Sec-Fetch-Site": "cross-site"},
    ],
)  # fmt: skip
def test_a_page_of_another_site_can_do_nothing(seen: Seen, headers: dict[str, str]) -> None:
    page = seen.page()
    for path in ("/state", "/job", "/events", "/sheet", "/files/board-01.nc"):
        assert page.get(path, headers=headers).status_code == 403
    assert page.put("/job", content=b"title = 'x'\n", headers=headers).status_code == 403
    for path in ("/edit", "/try", "/undo", "/write", "/new", "/open", "/search"):
        assert page.post(path, json_={}, headers=headers).status_code == 403
    assert seen.path.read_text(encoding="utf-8") == JOB


def test_a_link_from_elsewhere_opens_the_page_but_nothing_else(seen: Seen) -> None:
    headers = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}
    assert seen.page().get("/", headers=headers).status_code == 200
    assert seen.page().get("/state", headers=headers).status_code == 403


def test_a_form_of_another_kind_is_refused(seen: Seen) -> None:
    """What a plain form can send: no JSON."""
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data"):
        answer = seen.page().post("/undo", content=b"{}", headers={"Content-Type": kind})
        assert answer.status_code == 422


def test_a_body_of_ten_megabytes_is_refused_before_it_is_read(seen: Seen) -> None:
    big = b"#" * 10_000_000
    assert seen.page().put("/job", content=big).status_code == 413
    assert seen.page().post("/edit", content=big, headers={"Content-Type": "application/json"}).status_code == 413

    def without_length() -> Iterator[bytes]:
        yield from (b"#" * 100_000 for _ in range(100))

    assert seen.page().put("/job", content=without_length()).status_code == 413
    assert seen.path.read_text(encoding="utf-8") == JOB


@pytest.mark.parametrize(
    "name", ["..%2f..%2fetc%2fpasswd", "../job.toml", "%2e%2e/job.toml", "/etc/passwd", "job.toml", "..\\job.toml"]
)
def test_no_path_leads_to_a_file_that_is_not_of_the_job(seen: Seen, name: str) -> None:
    seen.desk._files = (1, {"board-01.nc": b"G21\n"})
    assert seen.page().get(f"/files/{name}").status_code in (404, 403)
    assert seen.page().get("/files/board-01.nc").content == b"G21\n"
    assert seen.page().get(f"/{name}").status_code == 404


@pytest.mark.parametrize("name", ["../job.toml", "/etc/passwd", "missing.toml", None, 3, "..\\x.toml"])
def test_only_jobs_of_the_folder_are_opened(tmp_path: Path, name: object) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    (folder / "own.toml").write_text(JOB, encoding="utf-8")
    seen = Seen(folder, job=False)
    assert seen.page().post("/open", json_={"name": name}).status_code == 422
    assert seen.page().get("/state").json()["jobs"] == ["own.toml"]
    assert seen.page().post("/open", json_={"name": "own.toml"}).json()["job"] == "own.toml"


def test_a_text_is_put_and_every_other_edit_comes_down_to_it(seen: Seen) -> None:
    page = seen.page()
    answer = page.put("/job", content=JOB.replace("count = 2", "count = 5").encode(), headers={"If-Match": '"1"'})
    assert answer.status_code == 200
    assert answer.json()["version"] == 2
    assert "count = 5" in seen.path.read_text(encoding="utf-8")
    edited = page.post(
        "/edit", json_={"version": 2, "changes": [{"path": ["make", 0, "count"], "kind": "count", "typed": "3"}]}
    )
    assert edited.json()["version"] == 3
    assert page.get("/job").text == seen.path.read_text(encoding="utf-8") == JOB.replace("count = 2", "count = 3")
    assert seen.worker.asked[-1].text == page.get("/job").text
    assert page.post("/undo", json_={}).json()["look"]["items"][0]["count"] == 5


def test_a_change_to_an_older_version_is_answered_with_the_state(seen: Seen) -> None:
    page = seen.page()
    change = {"version": 1, "changes": [{"path": ["title"], "kind": "text", "typed": "a"}]}
    assert page.post("/edit", json_=change).status_code == 200
    answer = page.post("/edit", json_=change)
    assert answer.status_code == 409
    assert answer.json()["state"]["version"] == 2
    assert page.put("/job", content=JOB.encode(), headers={"If-Match": '"1"'}).status_code == 409


def test_a_try_writes_nothing(seen: Seen) -> None:
    answer = seen.page().post(
        "/try", json_={"changes": [{"path": ["make", 0, "with", "outer"], "kind": "length", "typed": "120"}]}
    )
    assert "120" in json.dumps(answer.json()["items"][0]["measures"]) or answer.json()["items"]
    assert seen.path.read_text(encoding="utf-8") == JOB
    assert len(seen.worker.asked) == 1


@pytest.mark.parametrize(
    "changes",
    [
        None, [], "x", [1], [{"path": []}], [{"path": ["a", -1]}], [{"path": [True], "value": 1}],
        [{"path": ["title"], "kind": "spell", "typed": "x"}], [{"path": ["title"], "kind": "text", "typed": 4}],
        [{"path": ["title"], "value": "x"}] * 201,
    ],
)  # fmt: skip
def test_nonsense_is_refused_in_words(seen: Seen, changes: object) -> None:
    answer = seen.page().post("/edit", json_={"changes": changes})
    assert answer.status_code == 422
    assert answer.json()["said"]
    assert seen.path.read_text(encoding="utf-8") == JOB


def test_mistakes_are_saved_and_shown_at_their_line(seen: Seen) -> None:
    """The file may hold a mistake: it is the truth. What is shown then is what was right before."""
    state = (
        seen.page()
        .post("/edit", json_={"changes": [{"path": ["make", 0, "count"], "kind": "count", "typed": "many"}]})
        .json()
    )
    assert 'count = "many"' in seen.path.read_text(encoding="utf-8")
    assert state["of_before"]
    assert state["look"]["items"]
    assert "job.toml:10" in state["look"]["mistakes"][0]["said"]


def test_only_proven_files_of_this_version_are_handed_out(seen: Seen) -> None:
    page = seen.page()
    data = {"proof": {"passed": True}, "last": True, "step": "proven", "costs": {}, "prices": {}, "summary": []}

    def proven(board: bytes) -> None:
        number = seen.worker.asked[-1].number
        files = {"board-01.nc": board}
        seen.desk._heard(Said(number=number, version=1, kind="proven", data=dict(data), files=files))

    proven(b"G21\n")
    assert page.get("/files/board-01.nc").status_code == 200
    assert "attachment" in page.get("/files/board-01.nc").headers["content-disposition"]
    page.post("/edit", json_={"changes": [{"path": ["title"], "kind": "text", "typed": "b"}]})
    assert page.get("/files/board-01.nc").status_code == 404
    proven(b"old\n")
    assert page.get("/files/board-01.nc").status_code == 404  # what is said of an older text is dropped
    seen.desk._heard(
        Said(number=seen.worker.asked[-1].number, version=2, kind="refused", data={**data, "proof": {"passed": False}})
    )
    assert page.get("/files/board-01.nc").status_code == 404


def test_the_folder_is_written_once_all_is_proven(seen: Seen) -> None:
    page = seen.page()
    page.post("/write", json_={})
    assert not any(asked.write for asked in seen.worker.asked)
    data = {"proof": {"passed": True}, "last": True, "step": "proven", "costs": {}, "prices": {}, "summary": []}
    seen.desk._heard(Said(number=seen.worker.asked[-1].number, version=1, kind="proven", data=dict(data), files={}))
    assert seen.worker.asked[-1].write
    page.post("/edit", json_={"changes": [{"path": ["gap"], "kind": "length", "typed": "-3"}]})
    assert page.post("/write", json_={}).status_code == 422


def test_the_home_network_reads_with_the_token_and_changes_nothing(tmp_path: Path) -> None:
    seen = Seen(tmp_path, token="sesame")
    guest = seen.page(client="192.168.1.20", base=f"http://192.168.1.5:{PORT}")
    assert guest.get("/state").status_code == 403
    assert guest.get("/state?token=wrong").status_code == 403
    answer = guest.get("/state?token=sesame")
    assert answer.status_code == 200
    assert answer.json()["read_only"]
    for name in ("live.js", "draw.js", "player.js", "live.css", "page.css"):
        assert guest.get(f"/{name}").status_code == 200  # the page asks for them without the token
    assert guest.put("/job?token=sesame", content=b"title = 'x'\n").status_code == 403
    for path in ("/edit", "/undo", "/write", "/new", "/dates"):
        assert guest.post(f"{path}?token=sesame", json_={}).status_code == 403
    # An address of this computer in the header makes no one local.
    assert guest.put("/job", content=b"x", headers={"Host": f"127.0.0.1:{PORT}"}).status_code == 403
    assert seen.path.read_text(encoding="utf-8") == JOB
    assert not seen.page().get("/state").json()["read_only"]


def test_without_sharing_nobody_else_gets_anything(seen: Seen) -> None:
    for path in ("/", "/state", "/state?token=None", "/state?token=", "/live.js"):
        assert seen.page(client="192.168.1.20").get(path).status_code == 403


def test_a_new_job_begins_from_a_design_at_a_size(tmp_path: Path) -> None:
    seen = Seen(tmp_path, job=False)
    page = seen.page()
    designs = page.get("/designs").json()
    assert {"graded-stack", "star", "round"} <= {one["name"] for one in designs}
    assert all(size["picture"].startswith("<svg") for one in designs for size in one["sizes"])
    for design, size, units in (
        ("graded-stack", "small", "in"),
        ("star", "large", "mm"),
        ("graded-stack", "small", "mm"),
    ):
        state = page.post("/new", json_={"design": design, "size": size, "units": units}).json()
        assert state["look"]["mistakes"] == []
        assert f'size = "{size}"' in (tmp_path / state["job"]).read_text(encoding="utf-8")
    assert len(list(tmp_path.glob("*.toml"))) == 3
    assert page.post("/new", json_={"design": "../x", "size": "small", "units": "in"}).status_code == 422


def test_the_search_is_changed_and_ended(seen: Seen) -> None:
    page = seen.page()
    found = page.post("/search", json_={"effort": "best", "seed": 7}).json()
    assert found["command"] == "cutjob make job.toml --effort best --seed 7"
    assert (seen.worker.asked[-1].effort, seen.worker.asked[-1].seed) == ("best", 7)
    for wrong in ({"effort": "huge"}, {"seed": -1}, {"seed": 1.5}, {"seed": True}, {"seed": "x"}):
        assert page.post("/search", json_=wrong).status_code == 422
    page.post("/enough", json_={})
    assert seen.worker.ended == [1]


def test_a_change_by_hand_is_told(seen: Seen) -> None:
    seen.path.write_text(JOB.replace("count = 2", "count = 9"), encoding="utf-8")
    seen.desk.look_at_disk()
    assert ("changed", {"version": 2}) in seen.said
    assert seen.page().get("/state").json()["look"]["items"][0]["count"] == 9


def test_what_was_written_by_hand_is_worked_out_though_a_change_was_refused(seen: Seen) -> None:
    """The change that runs into it takes it in: nobody else hears of it."""
    seen.path.write_text(JOB.replace("count = 2", "count = 9"), encoding="utf-8")
    change = {"version": 1, "changes": [{"path": ["title"], "kind": "text", "typed": "a"}]}
    assert seen.page().post("/edit", json_=change).status_code == 409
    assert "count = 9" in seen.worker.asked[-1].text
    assert seen.worker.asked[-1].version == 2


def test_folders_of_named_files_are_looked_at(seen: Seen) -> None:
    (seen.path.parent / "wood").mkdir()
    seen.page().put("/job", content=JOB.replace("[[make]]", 'stock = "wood/shed.toml"\n[[make]]').encode())
    assert seen.desk.folders == {seen.path.parent, seen.path.parent / "wood"}


def test_wood_in_stock_is_shown_and_taken_in(seen: Seen) -> None:
    (seen.path.parent / "shed.toml").write_text(
        'units = "mm"\n[[board]]\nname = "offcut 3"\nlength = 300\nwidth = 140\nthickness = 16\n', encoding="utf-8"
    )
    found = seen.page().get("/wood").json()["stocks"]
    assert [(one["file"], one["taken"], one["boards"][0]["name"]) for one in found] == [
        ("shed.toml", False, "offcut 3")
    ]
    seen.page().post("/edit", json_={"changes": [{"path": ["stock"], "value": ["shed.toml"]}]})
    assert seen.page().get("/wood").json()["stocks"][0]["taken"]
    assert seen.page().post("/write", json_={"offcuts": "../elsewhere.toml"}).status_code == 422


def test_offcuts_of_one_job_are_booked_once(seen: Seen) -> None:
    shed = seen.path.parent / "shed.toml"
    shed.write_text(STOCK, encoding="utf-8")
    page = seen.page()
    page.post("/edit", json_={"changes": [{"path": ["stock"], "value": ["shed.toml"]}]})
    assert page.post("/write", json_={"offcuts": "shed.toml"}).status_code == 200
    asked = seen.worker.asked[-1]
    assert asked.keep_offcuts == shed
    data = {"folder": "out", "passed": True, "files": [], "offcuts": str(shed)}
    seen.desk._heard(Said(number=asked.number, version=asked.version, kind="written", data=data))
    again = page.post("/write", json_={"offcuts": "shed.toml"})
    assert again.status_code == 422
    assert "booked already" in again.json()["said"][0]
    page.post("/edit", json_={"changes": [{"path": ["title"], "kind": "text", "typed": "Once more"}]})
    assert page.post("/write", json_={"offcuts": "shed.toml"}).status_code == 200


STOCK = 'units = "mm"\n[[board]]\nname = "offcut"\nlength = 300\nwidth = 140\nthickness = 16\n'
PROVEN: dict[str, Any] = {
    "proof": {"passed": True}, "last": True, "step": "proven", "costs": {}, "prices": {}, "summary": [],
}  # fmt: skip


def heard(seen: Seen, kind: Any, data: dict[str, Any], *, of: Asked | None = None, **more: Any) -> None:
    """What the worker says of the newest that it was asked, or of something before."""
    asked = seen.worker.asked[-1] if of is None else of
    seen.desk._heard(Said(number=asked.number, version=asked.version, kind=kind, data=dict(data), **more))


def test_what_was_proven_with_other_wood_in_stock_is_not_handed_out(seen: Seen) -> None:
    """The text is the same, but a file that it names has changed: `make` would make something else."""
    page, shed = seen.page(), seen.path.parent / "shed.toml"
    shed.write_text(STOCK, encoding="utf-8")
    page.put("/job", content=JOB.replace("\n[[make]]", 'stock = "shed.toml"\n[[make]]', 1).encode())
    page.get("/state")
    before = seen.worker.asked[-1]
    heard(seen, "proven", PROVEN, files={"board-01.nc": b"G21\n"})
    page.post("/write", json_={})
    assert seen.worker.asked[-1].write
    shed.write_text(STOCK.replace("300", "290"), encoding="utf-8")
    seen.desk.look_at_disk()
    state = page.get("/state").json()
    assert (state["plan"], state["files"]) == (None, [])
    assert page.get("/files/board-01.nc").status_code == 404
    assert not seen.worker.asked[-1].write
    heard(seen, "proven", PROVEN, of=before, files={"board-01.nc": b"old\n"})
    assert page.get("/state").json()["plan"] is None


def test_what_is_said_of_another_job_is_dropped(tmp_path: Path) -> None:
    seen = Seen(tmp_path)
    (tmp_path / "other.toml").write_text(JOB, encoding="utf-8")
    before = seen.worker.asked[-1]
    seen.page().post("/open", json_={"name": "other.toml"})
    heard(seen, "proven", PROVEN, of=before, files={"board-01.nc": b"old\n"})
    assert seen.page().get("/files/board-01.nc").status_code == 404
    seen.desk.close()


def test_a_proof_after_a_failure_counts(seen: Seen) -> None:
    """Another worker has taken over: what it proves is proven."""
    heard(seen, "failed", {"why": "the worker ended"})
    assert seen.page().get("/state").json()["failed"]
    heard(seen, "proven", PROVEN, files={})
    assert seen.page().get("/state").json()["failed"] is None


def test_a_file_outside_the_folder_is_not_worked_with(seen: Seen, tmp_path_factory: pytest.TempPathFactory) -> None:
    seen.page().put("/job", content=JOB.replace("\n[[make]]", 'stock = "../shed.toml"\n[[make]]', 1).encode())
    assert len(seen.worker.asked[-1].outside) == 1
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    (elsewhere / "shed.toml").write_text(STOCK, encoding="utf-8")
    (seen.path.parent / "link").symlink_to(elsewhere)
    assert seen.page().get("/wood").json()["stocks"] == []


@pytest.mark.parametrize("count", ['"nan"', "inf", f'"{"9" * 400}"'])
def test_a_number_without_end_is_a_mistake_and_no_end_of_the_page(seen: Seen, count: str) -> None:
    """JSON has no such numbers."""
    answer = seen.page().put("/job", content=JOB.replace("count = 2", f"count = {count}").encode())
    assert answer.status_code == 200
    assert len(answer.json()["look"]["mistakes"]) == 1
    assert seen.page().get("/state").status_code == 200


@pytest.mark.parametrize("name", ["2027-02-01", "nan"])
def test_names_that_are_no_text_are_shown_as_mistakes(seen: Seen, name: str) -> None:
    text = JOB.replace('name = "star"', f"name = {name}").replace('name = "larch"', f"name = {name}")
    text += f'[[make]]\nname = {name}\ndesign = "star"\n'
    assert seen.page().put("/job", content=text.encode()).json()["look"]["mistakes"]


@pytest.mark.parametrize("line", ["stock = 4", "left_in_stock = 4\nstock = []", 'stock = "a\\u0000b"'])
def test_wood_is_shown_though_the_job_names_none_that_can_be(seen: Seen, line: str) -> None:
    assert seen.page().put("/job", content=f"{line}\n{JOB}".encode()).status_code == 200
    assert all(one["boards"] == [] for one in seen.page().get("/wood").json()["stocks"])


def test_a_text_is_handed_out_with_its_version(seen: Seen) -> None:
    """So that it is put back only where it is still the newest."""
    assert seen.page().get("/job").headers["etag"] == '"1"'
    assert seen.page().put("/job", content=JOB.encode(), headers={"If-Match": '"1"'}).status_code == 200


@pytest.mark.parametrize("version", ['"NaN"', '""', '"-1"', "\u00b2", "9" * 5000])
def test_a_version_that_is_none_overwrites_nothing(seen: Seen, version: str) -> None:
    answer = seen.page().put("/job", content=b"title = 'x'\n", headers={"If-Match": version})
    assert answer.status_code == 409
    assert seen.path.read_text(encoding="utf-8") == JOB


@pytest.mark.parametrize("version", ["1", True, 1.0, [1]])
def test_an_edit_of_a_version_that_is_none_changes_nothing(seen: Seen, version: object) -> None:
    change = {"version": version, "changes": [{"path": ["title"], "kind": "text", "typed": "a"}]}
    assert seen.page().post("/edit", json_=change).status_code == 409


def test_a_failure_of_cutjob_itself_is_said(seen: Seen, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails() -> None:
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr(seen.desk, "state", fails)
    answer = seen.page().get("/state")
    assert answer.status_code == 500
    assert "ZeroDivisionError: by nothing" in answer.json()["said"][0]


def test_pages_without_end_are_not_told(seen: Seen) -> None:
    listeners = Listeners(queues={asyncio.Queue() for _ in range(50)})
    client = Client(page_app(seen.desk, listeners, ports=[PORT], token=None), HERE, "127.0.0.1")
    answer = client.get("/events")
    assert answer.status_code == 503
    assert "50 pages are open already" in answer.json()["said"][0]


def test_a_page_that_slept_takes_up_again() -> None:
    """Its stream ends when too much has been said: it then asks for everything anew."""

    async def slept() -> list[str | None]:
        listeners = Listeners(loop=asyncio.get_running_loop())
        queue: asyncio.Queue[str | None] = asyncio.Queue()
        listeners.queues.add(queue)
        for number in range(500):
            listeners.say("stage", number)
        await asyncio.sleep(0)
        assert listeners.queues == set()
        return [queue.get_nowait() for _ in range(queue.qsize())]

    assert asyncio.run(slept()) == [None]


def test_the_folder_is_looked_at_again_after_a_failure(seen: Seen, monkeypatch: pytest.MonkeyPatch) -> None:
    looks: list[int] = []

    def look() -> None:
        looks.append(1)
        if len(looks) == 1:
            raise OSError("no space to watch")

    async def watched() -> None:
        watching = asyncio.create_task(server._watch(seen.desk))
        while len(looks) < 2:
            await asyncio.sleep(0.01)
        watching.cancel()

    monkeypatch.setattr(server, "_LOOKED_FOR", 0.01)
    monkeypatch.setattr(seen.desk, "look_at_disk", look)
    asyncio.run(asyncio.wait_for(watched(), 30))


def test_a_page_of_another_job_changes_nothing_in_this_one(seen: Seen) -> None:
    """Its versions go on where those of the job before ended."""
    (seen.path.parent / "other.toml").write_text(JOB, encoding="utf-8")
    assert seen.page().post("/open", json_={"name": "other.toml"}).json()["version"] == 2
    change = {"version": 1, "changes": [{"path": ["title"], "kind": "text", "typed": "a"}]}
    assert seen.page().post("/edit", json_=change).status_code == 409
    assert (seen.path.parent / "other.toml").read_text(encoding="utf-8") == JOB


def test_of_two_states_the_newer_is_known(seen: Seen) -> None:
    """An answer that was under way while the worker said something must not take it back."""
    before = seen.page().get("/state").json()
    heard(seen, "proven", PROVEN, files={})
    after = seen.page().get("/state").json()
    assert after["version"] == before["version"]
    assert after["told"] == before["told"] + 1 == dict(seen.said)["proven"]["told"]
