"""The file behind the page: every change is written at once, and nothing is overwritten that was changed elsewhere."""

from __future__ import annotations

import codecs
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
    monkeypatch.setattr(job, "_take_in", lambda: False)
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


MARKS = {"utf-8": (b"", codecs.BOM_UTF8), "utf-16-le": (codecs.BOM_UTF16_LE,), "utf-16-be": (codecs.BOM_UTF16_BE,)}


@pytest.mark.parametrize(("codec", "mark"), [(codec, mark) for codec, marks in MARKS.items() for mark in marks])
def test_a_file_keeps_its_encoding(tmp_path: Path, codec: str, mark: bytes) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(mark + TEXT.encode(codec))
    job = OpenJob(path)
    job.edit([Change(path=("title",), value="zwölf")])
    assert path.read_bytes() == mark + TEXT.replace("one", "zwölf").encode(codec)


def test_a_file_saved_anew_with_another_encoding_may_still_be_changed(job: OpenJob) -> None:
    """The text is the same, and no step of its own."""
    job.path.write_bytes(codecs.BOM_UTF8 + TEXT.encode())
    now = job.edit([Change(path=("title",), value="two")], version=1)
    assert now.version == 2
    assert job.path.read_bytes() == codecs.BOM_UTF8 + TEXT.replace("one", "two").encode()


def test_half_a_letter_is_refused(job: OpenJob) -> None:
    """No encoding of a file has it: the file could not be read again."""
    for change in (lambda: job.put("title = '\ud800'\n"), lambda: job.edit([Change(path=("title",), value="\ud800")])):
        with pytest.raises(InputError):
            change()
    assert job.path.read_text(encoding="utf-8") == TEXT


def test_a_file_that_is_no_text_any_more_is_said_and_left(job: OpenJob) -> None:
    """A change that is refused as if the file could be seen on the page would be refused for ever."""
    job.path.write_bytes("title = 'zwölf'\n".encode("latin-1"))
    with pytest.raises(InputError, match="not UTF-8"):
        job.edit([Change(path=("title",), value="two")], version=1)
    job.path.unlink()
    job.path.mkdir()
    with pytest.raises(InputError, match="folder"):
        job.put("x = 1\n")
    job.path.rmdir()
    job.path.write_text(TEXT, encoding="utf-8")
    assert job.edit([Change(path=("title",), value="two")], version=1).version == 2


def test_a_file_that_is_gone_is_said_and_not_written_again(job: OpenJob) -> None:
    job.path.unlink()
    assert not job.look_at_disk()
    with pytest.raises(InputError, match="no such file"):
        job.put("x = 1\n", version=1)
    assert not job.path.exists()
    job.path.write_text(TEXT, encoding="utf-8")
    assert job.put("x = 1\n", version=1).version == 2


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
    assert len(outside('[[make]]\nname = "a"\ndesign = "../x"\n')) == 1
    assert len(outside('[[make]]\nname = "a"\ndesign = "../X.TOML"\n')) == 1
    assert outside('stock = "a\\u0000b"\n') == []  # a mistake, said by the reading of the job
    assert len(outside('stock = ["a.toml", "/etc/passwd"]\nmachine = "/etc/shadow"\n')) == 2
    assert len(outside('[[make]]\nname = "a"\ndesign = "../x.toml"\nwith = { file = "/etc/hosts" }\n')) == 2
    (tmp_path / "in" / "link.toml").symlink_to("/etc/passwd")
    assert len(outside('stock = "link.toml"\n')) == 1


def test_an_older_version_undoes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(TEXT, encoding="utf-8")
    job = OpenJob(path)
    first = job.now().version
    job.put(TEXT.replace("one", "two"), version=first)
    with pytest.raises(OverlappedError):
        job.undo(version=first)
    assert job.undo(version=job.now().version).text == TEXT
