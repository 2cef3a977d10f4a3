"""An ordinary file to its bytes, or to one clear message: a pipe would never answer, a device never end."""

from __future__ import annotations

import stat
from pathlib import Path

from cutjob.errors import InputError, Location, Problem


def bytes_of(path: Path, *, most: int, advice: str) -> bytes:
    """Return what is in a file of at most `most` bytes; `advice` is for larger ones.

    Raises InputError for anything else, with the path as its location.
    """
    where = Location(file=str(path))
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise InputError(Problem(message="this is a folder", advice="name a file in it", location=where))
        if not stat.S_ISREG(mode):
            message = f"this is {_kind(mode)}, not a file"
            raise InputError(Problem(message=message, advice="name an ordinary file", location=where))
        with path.open("rb") as file:
            data = file.read(most + 1)
    except FileNotFoundError:
        raise InputError(
            Problem(message="there is no such file", advice="check the name and the folder", location=where)
        ) from None
    except ValueError:
        raise InputError(Problem(message="no file has such a name", advice="check it", location=where)) from None
    except OSError as error:
        reason = error.strerror or "the system gives no reason"
        raise InputError(
            Problem(message=f"the file can't be read: {reason}", advice="check its name and rights", location=where)
        ) from None
    if len(data) > most:
        message = f"the file is larger than {_size(most)}"
        raise InputError(Problem(message=message, advice=advice, location=where))
    return data


def is_there(path: Path) -> bool:
    """Whether the path names anything: a name no system can hold names nothing."""
    try:
        path.lstat()
    except (OSError, ValueError):
        return False
    return True


def real_path(path: Path) -> Path:
    """Return the path with links followed, as far as they lead anywhere."""
    try:
        return path.resolve()
    except (OSError, RuntimeError):  # links that lead round in a circle
        return path.absolute()


def _kind(mode: int) -> str:
    if stat.S_ISFIFO(mode):
        return "a pipe"
    return "a socket" if stat.S_ISSOCK(mode) else "a device"


def _size(count: int) -> str:
    return f"{count // 1_000_000} MB" if count >= 1_000_000 else f"{count // 1000} kB"
