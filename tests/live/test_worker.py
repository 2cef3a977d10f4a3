"""The worker: the newest text only, the same bytes as make, and a new one where it is killed."""

from __future__ import annotations

import os
import queue
import signal
import threading
import time
from collections.abc import Iterator
from multiprocessing import Pipe
from multiprocessing.connection import Connection
from pathlib import Path

import pytest

from cutjob.live.worker import Asked, Said, Worker
from cutjob.making import make_job
from tests.live.jobs import STARS as JOB

PATIENCE = 240.0


class Heard:
    def __init__(self) -> None:
        self.all: queue.Queue[Said] = queue.Queue()
        self.worker = Worker(self.all.put)
        self.worker.start()

    def until(self, version: int, *kinds: str) -> list[Said]:
        """All that is said up to the last word of this version of one of the kinds."""
        found: list[Said] = []
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            said = self.all.get(timeout=PATIENCE)
            found.append(said)
            if said.version == version and said.kind in kinds and said.data.get("last", True):
                return found
        raise AssertionError([one.kind for one in found])


@pytest.fixture(scope="module")
def heard() -> Iterator[Heard]:
    found = Heard()
    yield found
    found.worker.close()


def asked(folder: Path, text: str, version: int, **more: object) -> Asked:
    return Asked(
        number=version,
        version=version,
        text=text,
        path=folder / "job.toml",
        effort="quick",
        seed=0,
        folder=folder / "out",
        **more,
    )  # type: ignore[arg-type]


@pytest.mark.usefixtures("whole_search")
def test_first_a_plan_then_proven_files_and_the_folder_as_make_writes_it(heard: Heard, tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    heard.worker.ask(asked(tmp_path, JOB, 1))
    said = heard.until(1, "proven", "refused")
    kinds = [one.kind for one in said if one.kind != "stage"]
    assert kinds == ["plan", "proven"]
    plan, proven = (one for one in said if one.kind != "stage")
    assert len(plan.data["boards"]) == 1
    assert [len(one["parts"]) for one in plan.data["boards"]] == [2]
    assert plan.data["costs"]["rows"]
    assert not plan.files
    assert not (tmp_path / "out").exists()
    heard.worker.ask(asked(tmp_path, JOB, 1, write=True))
    written = heard.until(1, "written")[-1]
    assert written.data["passed"]
    made = make_job(tmp_path / "job.toml", out=tmp_path / "made", effort="quick")
    there = {one.name: one.read_bytes() for one in (tmp_path / "out").iterdir()}
    assert there == made.files == proven.files


def test_work_for_an_older_text_is_dropped(heard: Heard, tmp_path: Path) -> None:
    for version in range(10, 15):
        heard.worker.ask(asked(tmp_path, JOB.replace("count = 2", f"count = {version - 7}"), version))
        time.sleep(0.05)
    said = heard.until(14, "proven", "refused")
    assert [one.version for one in said if one.kind in ("proven", "refused")] == [14]


def test_mistakes_that_only_the_work_finds_are_told(heard: Heard, tmp_path: Path) -> None:
    heard.worker.ask(asked(tmp_path, JOB.replace("length = 600", "length = 60"), 20))
    said = heard.until(20, "mistakes")[-1]
    assert said.problems
    assert "star" in str(said.problems[0])


def test_a_search_ends_when_it_is_enough(heard: Heard, tmp_path: Path) -> None:
    text = JOB.replace("count = 2", "count = 40").replace("thickness = 16", "thickness = 16\ncount = 40")
    ask = asked(tmp_path, text, 30)
    heard.worker.ask(Asked(**{**{name: getattr(ask, name) for name in ask.__slots__}, "effort": "best"}))
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        said = heard.all.get(timeout=PATIENCE)
        if (
            said.version == 30
            and said.kind == "stage"
            and said.data.get("effort") == "best"
            and said.data.get("boards")
        ):
            break
    heard.worker.enough(30)
    last = heard.until(30, "proven", "refused")[-1]
    assert last.data["stopped"]
    assert last.data["effort"] == "best"


def test_a_worker_that_is_killed_is_followed_by_another(heard: Heard, tmp_path: Path) -> None:
    heard.worker.ask(asked(tmp_path, JOB, 40))
    os.kill(heard.worker._process.pid, signal.SIGKILL)
    said = heard.until(40, "proven")
    assert "failed" in [one.kind for one in said]
    assert said[-1].files


class Ending(Worker):
    """A worker without a process: the test holds the other end of each connection."""

    def __init__(self) -> None:
        self.said: queue.Queue[Said] = queue.Queue()
        self.ends: queue.Queue[Connection] = queue.Queue()
        super().__init__(self.said.put)

    def start(self) -> None:
        ours, theirs = Pipe()
        self._connection = ours
        threading.Thread(target=self._listen, args=(ours,), daemon=True).start()
        self.ends.put(theirs)


def test_a_worker_that_takes_over_writes_nothing_again(tmp_path: Path) -> None:
    """Offcuts would be put in stock twice."""
    worker = Ending()
    worker.start()
    worker.ask(asked(tmp_path, JOB, 1, write=True, keep_offcuts=tmp_path / "shed.toml"))
    first = worker.ends.get(timeout=30)
    assert first.recv().write
    first.close()
    again = worker.ends.get(timeout=30).recv()
    assert (again.number, again.write, again.keep_offcuts) == (1, False, None)
    assert "look whether they are there" in worker.said.get(timeout=30).data["why"]
    worker.close()


def test_a_text_that_ends_each_worker_is_not_tried_for_ever(tmp_path: Path) -> None:
    worker = Ending()
    worker.start()
    worker.ask(asked(tmp_path, JOB, 1))
    for _ in range(2):
        end = worker.ends.get(timeout=30)
        assert end.recv().number == 1
        end.close()
        assert worker.said.get(timeout=30).kind == "failed"
    with pytest.raises(queue.Empty):
        worker.ends.get(timeout=0.3)
    worker.ask(asked(tmp_path, JOB, 2))
    assert worker.ends.get(timeout=30).recv().number == 2
    worker.close()


def test_messages_of_several_threads_do_not_run_into_each_other(tmp_path: Path) -> None:
    worker = Ending()
    worker.start()
    end = worker.ends.get(timeout=30)
    text = JOB + "# " + "x" * 300_000
    threads = [threading.Thread(target=worker.ask, args=(asked(tmp_path, text, one),)) for one in range(8)]
    for one in threads:
        one.start()
    assert sorted(end.recv().number for _ in threads) == list(range(8))
    for one in threads:
        one.join()
    worker.close()


def test_a_folder_that_cannot_be_written_is_no_mistake_of_the_job(heard: Heard, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file in its place", encoding="utf-8")
    heard.worker.ask(asked(tmp_path, JOB, 50, write=True))
    said = heard.until(50, "written", "mistakes", "failed")[-1]
    assert said.kind == "written"
    assert said.data["said"]


def test_what_is_written_is_worked_out_of_the_files_as_they_are_now(heard: Heard, tmp_path: Path) -> None:
    """The text is the same as that of what was worked out last; the wood that it names is not."""
    text = 'stock = "shed.toml"\n' + JOB.partition("[[board]]")[0]
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    shed = tmp_path / "shed.toml"
    shed.write_text('units = "mm"\n[[board]]' + JOB.partition("[[board]]")[2], encoding="utf-8")
    heard.worker.ask(asked(tmp_path, text, 60))
    heard.until(60, "proven")
    shed.write_text(shed.read_text(encoding="utf-8").replace("600", "500"), encoding="utf-8")
    heard.worker.ask(asked(tmp_path, text, 60, write=True))
    heard.until(60, "written")
    made = make_job(tmp_path / "job.toml", out=tmp_path / "made", effort="quick")
    assert {one.name: one.read_bytes() for one in (tmp_path / "out").iterdir()} == made.files
