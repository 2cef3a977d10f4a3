"""One run at a time on one output folder: a lock file beside it that the system frees when its holder ends, however."""

from __future__ import annotations

import contextlib
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cutjob.errors import InputError, Problem

_PAUSE = 0.05  # seconds between two tries

if sys.platform == "win32":
    import msvcrt

    def _try_lock(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _try_lock(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


@contextmanager
def only_run(path: Path, *, patience: float) -> Iterator[None]:
    """Hold the lock file `path` while the block runs; wait up to `patience` seconds for another run to end.

    Raises InputError when the other run takes longer, and OSError when the file can't be made.
    """
    handle = _acquire(path, time.monotonic() + patience)
    try:
        yield
    finally:
        # Taken away while still held: whoever waits for it sees that the file is gone and makes a new one. Windows
        # lets go first and refuses while another run has the file open, which then takes it away in its turn.
        if sys.platform != "win32":
            with contextlib.suppress(OSError):
                path.unlink()
        os.close(handle)
        if sys.platform == "win32":
            with contextlib.suppress(OSError):
                path.unlink()


def _acquire(path: Path, deadline: float) -> int:
    flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0)
    while True:
        handle = _open(path, flags)
        if handle is not None:
            if _try_lock(handle) and _still_there(path, handle):
                return handle
            os.close(handle)
        if time.monotonic() > deadline:
            raise InputError(
                Problem(
                    message=f"another run is still writing beside {path}",
                    advice="wait for it to end, then run again",
                )
            )
        time.sleep(_PAUSE)


def _open(path: Path, flags: int) -> int | None:
    try:
        return os.open(path, flags, 0o666)
    except PermissionError:
        # Windows, for a moment, while the file is being taken away.
        if sys.platform == "win32":
            return None
        raise


def _still_there(path: Path, handle: int) -> bool:
    try:
        return os.path.samestat(path.stat(follow_symlinks=False), os.fstat(handle))
    except FileNotFoundError:
        return False
