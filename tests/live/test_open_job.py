"""The file behind the page: every change is written at once, and nothing is overwritten that was changed elsewhere."""

from __future__ import annotations

import os
import threading
from pathlib import Path
from typing import Any

import pytest

from cutjob.errors import InputError
from cutjob.files.source import GREATEST_BYTES, parse_source
from cutjob.live.edits import Change
from cutjob.live.open_job import OpenJob, OverlappedError

TEXT = 'title = "one"  # a comment\nunits = "mm"\n'


@pytest.fixture
def job(tmp_path: Path) -> OpenJob:
    path = tmp_path / "job.toml"
    path.write_text(TEXT, encoding="utf-8")
    return OpenJob(path)


def test_a_change_is_in_the_file_at_once(job: OpenJob) -> None:
    now = job.edit([Change(path=("title",), value="two")], version=1)
    assert (now.version, now.undo, now.redo) == (2, True, False)
    assert job.path.read_text(encoding="utf-8") == TEXT.replace("one", "two") == now.text


def test_back_and_forth(job: OpenJob) -> None:
    job.edit([Change(path=("title",), value="two")])
    job.edit([Change(path=("title",), value="three")])
    assert job.undo().text == TEXT.replace("one", "two")
    assert job.undo().text == TEXT
    assert job.path.read_text(encoding="utf-8") == TEXT
    assert not job.undo().undo
    assert job.redo().text == TEXT.replace("one", "two")
    job.edit([Change(path=("title",), value="four")])
    assert not job.now().redo


def test_a_change_to_an_older_version_is_refused(job: OpenJob) -> None:
    job.edit([Change(path=("title",), value="two")], version=1)
    with pytest.raises(OverlappedError):
        job.edit([Change(path=("title",), value="three")], version=1)
    assert 'title = "two"' in job.path.read_text(encoding="utf-8")


def test_what_was_written_by_hand_is_never_overwritten(job: OpenJob) -> None:
    job.path.write_text(TEXT + "stack = 2\n", encoding="utf-8")
    with pytest.raises(OverlappedError):
        job.edit([Change(path=("title",), value="two")], version=1)
    assert job.path.read_text(encoding="utf-8") == TEXT + "stack = 2\n" == job.now().text
    job.edit([Change(path=("title",), value="two")], version=job.now().version)
    assert job.path.read_text(encoding="utf-8") == TEXT.replace("one", "two") + "stack = 2\n"
    job.undo()
    assert job.undo().text == TEXT  # a change by hand is a step like any other


def test_a_change_by_hand_between_the_look_and_the_writing_is_seen(
    job: OpenJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file's bytes are compared at the last moment, under the lock of the file."""
    monkeypatch.setattr(job, "look_at_disk", lambda: False)
    job.path.write_text(TEXT + "stack = 3\n", encoding="utf-8")
    with pytest.raises(OverlappedError):
        job.put("title = 'x'\n", version=1)
    assert job.path.read_text(encoding="utf-8") == TEXT + "stack = 3\n"


def test_a_full_disk_loses_nothing(job: OpenJob, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as spoiled:
        spoiled.setattr(os, "fsync", full)
        with pytest.raises(InputError, match="No space left"):
            job.edit([Change(path=("title",), value="two")], version=1)
    assert job.path.read_text(encoding="utf-8") == TEXT == job.now().text
    assert job.now().version == 1
    assert [one.name for one in job.path.parent.iterdir() if "new" in one.name] == []
    job.edit([Change(path=("title",), value="two")], version=1)


def test_a_text_of_more_than_a_job_is_refused(job: OpenJob) -> None:
    with pytest.raises(InputError, match="larger than"):
        job.put("#" * (GREATEST_BYTES + 1))
    assert job.path.read_text(encoding="utf-8") == TEXT


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_a_file_keeps_its_encoding(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(TEXT.encode(encoding))
    job = OpenJob(path)
    job.edit([Change(path=("title",), value="zwölf")])
    assert path.read_bytes() == TEXT.replace("one", "zwölf").encode(encoding)


def test_a_file_that_is_gone_is_written_again_only_when_asked(job: OpenJob) -> None:
    job.path.unlink()
    assert not job.look_at_disk()
    with pytest.raises(OverlappedError):
        job.put("x = 1\n", version=1)


def test_many_at_once_lose_nothing(job: OpenJob) -> None:
    """Of changes made at the same time to the same version one is taken, and the others hear of it."""
    done: list[str] = []

    def change(name: str) -> None:
        try:
            job.edit([Change(path=("title",), value=name)], version=1)
            done.append(name)
        except OverlappedError:
            pass

    threads = [threading.Thread(target=change, args=(f"t{number}",)) for number in range(8)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(done) == 1
    assert f'title = "{done[0]}"' in job.path.read_text(encoding="utf-8")


def test_a_page_names_no_file_outside_the_folder(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    path = tmp_path / "in" / "job.toml"
    path.write_text('shop = "../shop.toml"\n', encoding="utf-8")
    job = OpenJob(path)

    def outside(text: str) -> list[str]:
        return [one.message for one in job.outside(parse_source(text.encode(), name="job.toml"))]

    assert outside('shop = "../shop.toml"\n') == []  # written there by an editor
    assert outside('stock = "wood/shed.toml"\n') == []
    assert len(outside('stock = "../../etc/passwd"\n')) == 1
    assert len(outside('stock = ["a.toml", "/etc/passwd"]\nmachine = "/etc/shadow"\n')) == 2
    assert len(outside('[[make]]\nname = "a"\ndesign = "../x.toml"\nwith = { file = "/etc/hosts" }\n')) == 2
    (tmp_path / "in" / "link.toml").symlink_to("/etc/passwd")
    assert len(outside('stock = "link.toml"\n')) == 1
