"""Folders and files that may not be written to."""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.jobs import ended, hashes, litter, made, start, write_job

pytestmark = pytest.mark.skipif(not hasattr(os, "geteuid"), reason="rights are others there")
_DROP_FROM_BOUNDS, _ABOVE_RIGHTS, _READ_ABOVE_RIGHTS = (
    24,
    1,
    2,
)  # PR_CAPBSET_DROP, CAP_DAC_*: linux/prctl.h, capability.h


def like_any_user() -> None:
    """In a new process, before its program starts: even root keeps to the rights of files then."""
    if os.geteuid() == 0:
        library = ctypes.CDLL(None)
        for capability in (_ABOVE_RIGHTS, _READ_ABOVE_RIGHTS):
            library.prctl(_DROP_FROM_BOUNDS, capability, 0, 0, 0)


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Path]:
    """A folder with the output and the stock of an older run, and a job; writable again afterwards."""
    folder = tmp_path / "market"
    made(folder, "winter", count=3)
    write_job(folder, "job", count=5)
    script = f"import os; os.open({str(folder / 'job.toml')!r}, os.O_RDWR)"
    (folder / "job.toml").chmod(0o444)
    probe = subprocess.run([sys.executable, "-c", script], preexec_fn=like_any_user, capture_output=True)
    if probe.returncode == 0:
        pytest.skip("nothing is write-protected for this user")
    yield folder
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o755)


@pytest.mark.parametrize(
    ("protected", "told"),
    [
        (".", "shed.toml: the file can't be written: Permission denied"),
        ("out", "out: it is write-protected; choose another folder"),
        ("shed.toml", "shed.toml: the file is write-protected; allow yourself to write to it"),
    ],
)
def test_what_is_protected_is_left_alone(place: Path, protected: str, told: str) -> None:
    before, shed = hashes(place / "out"), (place / "shed.toml").read_bytes()
    path = place / protected
    path.chmod(0o555 if path.is_dir() else 0o444)
    process = start(
        place / "job.toml", place / "out", "--keep-offcuts", str(place / "shed.toml"), preexec_fn=like_any_user
    )
    code, said = ended(process)
    assert (code, told in said, len(said.splitlines())) == (2, True, 1), said
    assert hashes(place / "out") == before
    assert (place / "shed.toml").read_bytes() == shed
    assert litter(place) == []


def test_a_protected_folder_around_a_new_one(place: Path) -> None:
    (place / "shelf").mkdir(mode=0o555)
    code, said = ended(start(place / "job.toml", place / "shelf" / "out", preexec_fn=like_any_user))
    assert (code, "Permission denied" in said, len(said.splitlines())) == (2, True, 1), said
    assert list((place / "shelf").iterdir()) == []


@pytest.mark.slow
def test_protected_files_in_a_folder_that_is_not(place: Path) -> None:
    """The folder is replaced as a whole: what its old files' rights were is no matter, as with any rename."""
    for path in (place / "out").iterdir():
        path.chmod(0o444)
    before = hashes(place / "out")
    assert ended(start(place / "job.toml", place / "out", preexec_fn=like_any_user)) == (0, "")
    assert hashes(place / "out") != before
    assert litter(place) == []
