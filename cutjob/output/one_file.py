"""Changes one file of the user's as a whole: it is as it was, or as it shall be; one run at a time."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from cutjob.errors import InputError, Location, Problem
from cutjob.output.folder_lock import only_run

_PATIENCE = 60.0  # seconds to wait for another run on the same file


def change_file(path: Path, change: Callable[[bytes], bytes], *, before: Callable[[], None] | None = None) -> None:
    """Replace a file by `change` of its bytes, which are empty where there is none.

    `before` is called when all is ready and only the file's own writing is left. What `change` raises comes through,
    with nothing written and `before` not called. Raises InputError where the file can't be written.
    """
    place = path.resolve()
    try:
        with only_run(place.with_name(f".{place.name}.cutjob-lock"), patience=_PATIENCE):
            old = place.read_bytes() if place.exists() else b""
            new = change(old)
            with _beside(place, new) as written:
                if before is not None:
                    before()
                if new != old:
                    os.replace(written, place)  # noqa: PTH105 - the one call tests make fail
    except OSError as error:
        reason = error.strerror or str(error)
        message, advice = f"the file can't be written: {reason}", "check its name and rights; it was not changed"
        raise InputError(Problem(message=message, advice=advice, location=Location(file=str(path)))) from error


@contextmanager
def _beside(place: Path, data: bytes) -> Iterator[Path]:
    """The new content in a file beside the old one, flushed to disk, for a rename; taken away if there is none."""
    new = place.with_name(f".{place.name}.cutjob-new")
    try:
        # What a run that was cut short left there, or a link someone put there, is not written through.
        new.unlink(missing_ok=True)
        with new.open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        if place.exists():
            new.chmod(place.stat().st_mode & 0o777)
        yield new
    finally:
        with contextlib.suppress(OSError):
            new.unlink()
