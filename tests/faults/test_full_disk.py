"""A disk that is full, in earnest: one in memory where the system lets us make one, and files that can't grow."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.jobs import ended, hashes, litter, made, start, write_job

resource = pytest.importorskip("resource", reason="this system has no limits to set for a process")


@pytest.fixture(scope="module")
def winter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the output and the stock of an older run."""
    folder = tmp_path_factory.mktemp("winter")
    made(folder, "winter", count=3)
    return folder


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk in memory."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = shutil.which("mount")
    done = mount and subprocess.run([mount, "-t", "tmpfs", "-o", "size=16m", "tmpfs", str(place)], capture_output=True)
    if not done or done.returncode:
        pytest.skip("no right to mount a disk in memory here")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


@pytest.mark.parametrize("free", [0, *(pytest.param(free, marks=pytest.mark.slow) for free in (1, 5, 9))])
def test_a_full_disk_keeps_the_old_files(winter: Path, small_disk: Path, free: int) -> None:
    """So many blocks of 4096 bytes are left, which is too few for the new files beside the old ones."""
    place = small_disk / "market"
    shutil.copytree(winter, place)
    before, shed = hashes(place / "out"), (place / "shed.toml").read_bytes()
    job = write_job(place, "job", count=12)
    filling = small_disk / "filling"
    with filling.open("wb", buffering=0) as stream:
        filled = False
        while not filled:
            try:
                filled = stream.write(bytes(4096)) < 4096
            except OSError:
                filled = True
        stream.truncate(max(stream.tell() // 4096 - free, 0) * 4096)
    code, said = ended(start(job, place / "out", "--keep-offcuts", str(place / "shed.toml")))
    assert (code, "No space left on device" in said, len(said.splitlines())) == (2, True, 1), said
    assert hashes(place / "out") == before
    assert (place / "shed.toml").read_bytes() == shed
    assert litter(place) == []
    filling.unlink()
    code, said = ended(start(job, place / "out", "--keep-offcuts", str(place / "shed.toml")))
    assert (code, said) == (0, "")
    assert hashes(place / "out") != before
    assert litter(place) == []


# The file of stock is first written beside the old one, so it is what doesn't fit when hardly anything does.
@pytest.mark.skipif(sys.platform == "win32", reason="no such limit there")
@pytest.mark.parametrize("bytes_", [3_000, *(pytest.param(few, marks=pytest.mark.slow) for few in (0, 300, 6_000))])
def test_files_that_can_not_grow(winter: Path, tmp_path: Path, bytes_: int) -> None:
    """As with a quota: every file may have so many bytes, fewer than the largest needs."""
    place = tmp_path / "market"
    shutil.copytree(winter, place)
    before, shed = hashes(place / "out"), (place / "shed.toml").read_bytes()
    job = write_job(place, "job", count=12)

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (bytes_, bytes_))

    process = start(job, place / "out", "--keep-offcuts", str(place / "shed.toml"), preexec_fn=limit)
    code, said = ended(process)
    assert (code, "File too large" in said, len(said.splitlines())) == (2, True, 1), said
    assert hashes(place / "out") == before
    assert (place / "shed.toml").read_bytes() == shed
    assert litter(place) == []
