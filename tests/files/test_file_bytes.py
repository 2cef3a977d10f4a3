"""Ordinary files to bytes; whatever is none is told in one line and never waited for."""

import os
import sys
from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.files.file_bytes import bytes_of, is_there, real_path

unix = pytest.mark.skipif(sys.platform == "win32", reason="pipes and devices have names on Unix only")


def _told(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        bytes_of(path, most=2000, advice="check the name")
    (problem,) = caught.value.problems
    assert problem.advice
    assert problem.location is not None
    assert problem.location.file == str(path)
    return problem.message


def test_a_file_up_to_its_limit(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"a" * 2000)
    assert bytes_of(path, most=2000, advice="") == b"a" * 2000
    path.write_bytes(b"a" * 2001)
    assert _told(path) == "the file is larger than 2 kB"


def test_what_is_no_file(tmp_path: Path) -> None:
    assert _told(tmp_path) == "this is a folder"
    assert _told(tmp_path / "b") == "there is no such file"
    assert _told(tmp_path / "a\0b") == "no file has such a name"
    assert "can't be read" in _told(tmp_path / ("a" * 300))


@unix
def test_pipes_and_devices(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert _told(tmp_path / "pipe") == "this is a pipe, not a file"
    assert _told(Path("/dev/null")) == "this is a device, not a file"


@unix
def test_links(tmp_path: Path) -> None:
    (tmp_path / "round").symlink_to("round")
    assert "can't be read" in _told(tmp_path / "round")
    assert is_there(tmp_path / "round")
    assert real_path(tmp_path / "round") == tmp_path / "round"
    assert not is_there(tmp_path / "nothing")
    assert not is_there(tmp_path / "a\0b")
