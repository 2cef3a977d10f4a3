"""Reads an ordinary file's bytes, or says in one message why it can't. Pipes and devices are refused: they may never
end.

It also finds the machine profiles and samples that come with cutjob: in an installed package, or beside it in a
checkout.
"""

from __future__ import annotations

import importlib.resources
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Literal

from cutjob.errors import InputError, Location, Problem

Kind = Literal["machines", "samples"]


def shipped_folder(kind: Kind) -> Path:
    """Return the folder of shipped profiles or samples."""
    package = Path(str(importlib.resources.files("cutjob")))
    installed = package / "shipped" / kind
    return installed if installed.is_dir() else package.parent / kind


def shipped_files(kind: Kind) -> dict[str, Path]:
    """Return the shipped TOML files by name, without the ending, in the order of their names.

    A name is looked up in this mapping and never opened directly, so that letter case matters on every system.
    """
    folder = shipped_folder(kind)
    if not folder.is_dir():
        return {}
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}


def bytes_of(path: Path, *, most: int, advice: str) -> bytes:
    """Return the bytes of a file; one of more than `most` bytes is refused with `advice`.

    Raises InputError for anything else, with the path as its location.
    """
    with opened(path) as file:
        data = file.read(most + 1)
        if len(data) > most:
            raise too_large(path, most=most, advice=advice)
    return data


@contextmanager
def opened(path: Path) -> Iterator[BinaryIO]:
    """Open an ordinary file to read its bytes. Raises InputError with the path as location, also while it is read."""
    where = Location(file=str(path))
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise InputError(Problem(message="this is a folder", advice="name a file in it", location=where))
        if not stat.S_ISREG(mode):
            message = f"this is {_kind(mode)}, not a file"
            raise InputError(Problem(message=message, advice="name an ordinary file", location=where))
        file = path.open("rb")
    except ValueError:
        raise InputError(Problem(message="no file has such a name", advice="check it", location=where)) from None
    except OSError as error:
        raise _unread(error, where) from None
    with file:
        try:
            yield file
        except OSError as error:
            raise _unread(error, where) from None


def too_large(path: Path, *, most: int, advice: str) -> InputError:
    """The error to raise for a file of more than `most` bytes."""
    message = f"the file is larger than {_size(most)}"
    return InputError(Problem(message=message, advice=advice, location=Location(file=str(path))))


NO_SUCH_FILE = "there is no such file"


def _unread(error: OSError, where: Location) -> InputError:
    if isinstance(error, FileNotFoundError):
        return InputError(Problem(message=NO_SUCH_FILE, advice="check the name and the folder", location=where))
    reason = error.strerror or "the system gives no reason"
    return InputError(
        Problem(message=f"the file can't be read: {reason}", advice="check its name and rights", location=where)
    )


def is_there(path: Path) -> bool:
    """Whether there is anything at the path; False too where the system allows no such name."""
    try:
        path.lstat()
    except (OSError, ValueError):
        return False
    return True


def real_path(path: Path) -> Path:
    """Return the path with its links followed.

    A path whose links lead in a circle, or that no file can have, is only made absolute.
    """
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError):  # links that lead round in a circle; a name with a zero byte
        return path.absolute()


def _kind(mode: int) -> str:
    if stat.S_ISFIFO(mode):
        return "a pipe"
    return "a socket" if stat.S_ISSOCK(mode) else "a device"


def _size(count: int) -> str:
    return f"{count // 1_000_000} MB" if count >= 1_000_000 else f"{count // 1000} kB"
