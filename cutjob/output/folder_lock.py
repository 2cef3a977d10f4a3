"""One run at a time on one output folder: a lock file beside it that the system frees when its holder ends, however."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from cutjob.errors import InputError, Problem


@contextmanager
def only_run(path: Path, *, patience: float) -> Iterator[None]:
    """Hold the lock file `path` while the block runs; wait up to `patience` seconds for another run to end.

    Raises InputError when the other run takes longer, and OSError when the file can't be made.
    """
    path.parent.stat()  # a folder that is gone is an error here; the library would make it
    # Only a lock that the system itself frees; a disk that has none is an error.
    lock = FileLock(path, fallback_to_soft=False)
    try:
        held = lock.acquire(timeout=patience)
    except Timeout:
        message = f"another run is still writing beside {path}"
        raise InputError(Problem(message=message, advice="wait for it to end, then run again")) from None
    with held:
        try:
            yield
        finally:
            # Taken away while still held: whoever waits for it sees that the file is gone and makes a new one. Windows
            # lets nobody take an open file away; there the library does it once it has let go.
            if sys.platform != "win32":
                with contextlib.suppress(OSError):
                    path.unlink()
