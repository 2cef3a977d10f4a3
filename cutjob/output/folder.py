"""Files to the user's output folder, replaced as a whole or not at all.

The new content is written into a folder beside the target, flushed to disk, and changes places with the target at one
stroke; where the system has no such stroke, two renames do it. A folder that cutjob did not write is never replaced.
Names of what may be left by a run that was cut short, beside a target `out`: `.out.cutjob-new` (unfinished or replaced,
thrown away by the next run), `.out.cutjob-old` (what was in the folder, after the first of two renames; put back by the
next run if the folder is gone), `.out.cutjob-trash` and `.out.cutjob-lock`.

Where a run whose proof failed puts its pictures: a folder beside the output folder, without any cutting file.

The output folder itself stays as it was. The next run replaces the pictures, or removes them when its proof passes.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import json
import os
import shutil
import sys
from collections.abc import Callable, Mapping
from pathlib import Path, PureWindowsPath

from cutjob.errors import InputError, Problem
from cutjob.output.folder_lock import only_run

_HERE = -100  # AT_FDCWD of Linux: paths are as they are given
_RENAME_EXCHANGE = 2  # linux/fs.h; RENAME_SWAP of macOS, sys/stdio.h, is the same
# What a system, a kind of disk or a kind of container answers that can't do this.
_CANNOT = frozenset({errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP, errno.EPERM})


def exchange(one: Path, two: Path) -> bool:
    """Exchange two folders on one disk; False, with nothing done, where that can't be done at one stroke.

    Raises OSError where it could be but is refused.
    """
    rename = _rename()
    if rename is None:
        return False
    failed = rename(os.fsencode(one), os.fsencode(two))
    if failed == 0:
        return True
    if failed in _CANNOT:
        return False
    raise OSError(failed, os.strerror(failed), str(one))


def _rename() -> Callable[[bytes, bytes], int] | None:
    """The system's own call, which returns 0 or what went wrong; None where there is none."""
    if sys.platform == "win32":
        return None
    try:
        library = ctypes.CDLL(None, use_errno=True)
        linux = library.renameat2 if sys.platform.startswith("linux") else None
        mac = library.renamex_np if sys.platform == "darwin" else None
    except (OSError, AttributeError):
        return None

    def call(one: bytes, two: bytes) -> int:
        if linux is not None:
            result = linux(_HERE, one, _HERE, two, ctypes.c_uint(_RENAME_EXCHANGE))
        elif mac is not None:
            result = mac(one, two, ctypes.c_uint(_RENAME_EXCHANGE))
        else:
            return errno.ENOSYS
        return 0 if result == 0 else ctypes.get_errno()

    return call


_PLAN = "plan.json"
_SCHEMA_START = "cutjob-plan/"
_PATIENCE = 60.0  # seconds to wait for another run on the same folder
_FORBIDDEN = frozenset('<>:"|?*\\')
# Names Windows keeps for devices, whatever their extension.
_DEVICES = frozenset(
    ["con", "prn", "aux", "nul", *(f"com{number}" for number in range(10)), *(f"lpt{number}" for number in range(10))]
)


def replace_folder(target: Path, files: Mapping[str, bytes]) -> None:
    """Make the folder `target` hold exactly `files` (names, with `/` for folders inside, to content).

    Missing parents are made. A target that is a link to a folder stays a link; the folder it leads to is replaced.
    Raises InputError, with the old content in place, for a target that is not a folder cutjob wrote (empty ones may be
    used), for names that lead out of the folder, and for whatever the system refuses.
    """
    _check_names(files)
    try:
        place = _real_place(target)
        place.parent.mkdir(parents=True, exist_ok=True)
        with only_run(_beside(place, "lock"), patience=_PATIENCE):
            _recover(place)
            _check_target(place, target)
            _replace(place, files)
    except OSError as error:
        raise _refusal(target, error) from error


def _beside(place: Path, what: str) -> Path:
    return place.with_name(f".{place.name}.cutjob-{what}")


def _real_place(target: Path) -> Path:
    """The folder's own place, with links followed; refuses places that can't be swapped."""
    try:
        place = target.resolve()
    except RuntimeError:
        raise _problem(target, "is a link that leads round in a circle", "remove the link") from None
    if target.is_symlink() and not place.exists():
        raise _problem(target, "is a link that leads nowhere", "remove the link, or make the folder it leads to")
    if place == place.parent:
        raise _problem(target, "is the top of a disk", "choose a folder of its own for the output")
    here = Path.cwd().resolve()
    if here == place or place in here.parents:
        raise _problem(
            target, "is the folder you are in, or one around it", "choose a folder of its own for the output"
        )
    return place


def _check_names(files: Mapping[str, bytes]) -> None:
    seen: set[str] = set()
    problems = []
    for name in files:
        parts = name.split("/")
        unfit = (
            not name.isprintable()
            or PureWindowsPath(name).drive != ""
            or any(
                part in ("", ".", "..")
                or not _FORBIDDEN.isdisjoint(part)
                or part[-1] in ". "
                or part.split(".")[0].casefold() in _DEVICES
                for part in parts
            )
        )
        if unfit:
            problems.append(
                Problem(message=f"{name!r} can't be a file of the output folder", advice="use a plain file name")
            )
        elif name.casefold() in seen:
            problems.append(
                Problem(message=f"two files of the output are called {name!r}", advice="give them different names")
            )
        seen.add(name.casefold())
    if problems:
        raise InputError(problems)


def _check_target(place: Path, target: Path) -> None:
    if not place.exists():
        return
    if not place.is_dir():
        raise _problem(target, "is a file, not a folder", "choose another place for the output")
    if not _ours(place):
        raise _problem(
            target,
            "holds files that cutjob did not write",
            "choose an empty or a new folder, so that nothing of yours is lost",
        )
    strange = _strangers(place)
    if strange:
        more = f" and {len(strange) - 1} more" if len(strange) > 1 else ""
        raise _problem(
            target,
            f"holds {strange[0]}{more}, which cutjob did not write",
            "move what is yours out of it, or choose another folder",
        )
    folders = [place, *(found for found in place.rglob("*") if found.is_dir() and not found.is_symlink())]
    if not all(os.access(folder, os.W_OK | os.X_OK) for folder in folders):
        raise _problem(target, "is write-protected", "choose another folder, or allow yourself to write to it")


def _strangers(place: Path) -> list[str]:
    """Files and folders in a folder of ours that its plan does not name: the user's own."""
    try:
        named = json.loads((place / _PLAN).read_bytes()).get("files")
    except (OSError, ValueError, RecursionError, AttributeError):
        named = None
    ours = {_PLAN, *(named if isinstance(named, list) else [])}
    return sorted(
        found.relative_to(place).as_posix()
        for found in place.rglob("*")
        if not found.is_dir() and found.relative_to(place).as_posix() not in ours
    )


def _ours(place: Path) -> bool:
    """Whether a folder is empty or was written by cutjob: has a plan.json of one of its schemas."""
    if not any(place.iterdir()):
        return True
    plan = place / _PLAN
    if plan.is_symlink() or not plan.is_file():
        return False
    try:
        data = json.loads(plan.read_bytes())
    except (ValueError, RecursionError):
        return False
    schema = data.get("schema") if isinstance(data, dict) else None
    return isinstance(schema, str) and schema.startswith(_SCHEMA_START)


def _recover(place: Path) -> None:
    """Set right what an earlier run left that was cut short."""
    _remove(_beside(place, "new"))
    _remove(_beside(place, "trash"))
    old = _beside(place, "old")
    if old.is_symlink() or not old.is_dir() or not _ours(old):
        return  # not from us: in the way perhaps, but never touched
    if place.exists():
        _throw_away(place, old)
    else:
        # Cut short between the two renames: what was there comes back.
        os.replace(old, place)  # noqa: PTH105 - the one call tests make fail


def _replace(place: Path, files: Mapping[str, bytes]) -> None:
    new, old = _beside(place, "new"), _beside(place, "old")
    try:
        new.mkdir()
        _write_all(new, files)
        _swap(place, new, old)
    except BaseException:
        with contextlib.suppress(OSError):
            _remove(new)
        raise


def _swap(place: Path, new: Path, old: Path) -> None:
    had_one = place.exists()
    if had_one and exchange(new, place):
        _flush_folder(place.parent)
        _throw_away(place, new)
        return
    try:
        if had_one:
            os.replace(place, old)  # noqa: PTH105
        os.replace(new, place)  # noqa: PTH105
    except BaseException:
        if had_one and not place.exists():
            os.replace(old, place)  # noqa: PTH105
        raise
    _flush_folder(place.parent)
    if had_one:
        _throw_away(place, old)


def _throw_away(place: Path, old: Path) -> None:
    """Remove the old content, under a name that no run would put back. Leaves it to the next run when refused."""
    trash = _beside(place, "trash")
    with contextlib.suppress(OSError):
        os.replace(old, trash)  # noqa: PTH105
        _remove(trash)


def _write_all(folder: Path, files: Mapping[str, bytes]) -> None:
    folders = {folder}
    for name, data in files.items():
        path = folder.joinpath(*name.split("/"))
        path.parent.mkdir(parents=True, exist_ok=True)
        folders |= {parent for parent in path.parents if parent == folder or folder in parent.parents}
        with path.open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
    for made in sorted(folders):
        _flush_folder(made)


def _flush_folder(folder: Path) -> None:
    if sys.platform == "win32":
        return  # folders can't be opened there, and renames are written through
    # Some network disks can't flush a folder; the files themselves are flushed, or the run fails.
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _remove(path: Path) -> None:
    """Remove a folder, or the link or file that stands in its place, never what a link leads to."""
    if path.is_symlink() or path.is_file():
        path.unlink()
    elif path.exists():
        shutil.rmtree(path)


def _problem(target: Path, what: str, advice: str) -> InputError:
    return InputError(Problem(place=f"output folder {target}", message=f"it {what}", advice=advice))


def _refusal(target: Path, error: OSError) -> InputError:
    reason = error.strerror or str(error)
    where = f" ({error.filename})" if error.filename else ""
    if isinstance(error, PermissionError):
        advice = "choose a folder you may write to, and close programs that have its files open"
    else:
        advice = "check the disk and the path; nothing was replaced"
    return _problem(target, f"could not be written: {reason}{where}", advice)


def refused_folder(folder: Path) -> Path:
    """Return the place of the pictures of a run that was to fill `folder`: beside it, `-not-proven` after its name."""
    place = folder.resolve()
    return place.with_name(f"{place.name}-not-proven") if place.name else place / "not-proven"


def write_refused(folder: Path, files: Mapping[str, bytes]) -> Path:
    """Write pictures and the plan of a run that was to fill `folder` beside it, and return where.

    Raises InputError where `replace_folder` does.
    """
    place = refused_folder(folder)
    replace_folder(place, files)
    return place


def remove_refused(folder: Path) -> None:
    """Remove what `write_refused` left for `folder`, if it holds nothing else. What can't be removed stays."""
    place = refused_folder(folder)
    with contextlib.suppress(OSError):
        if place.is_dir() and not place.is_symlink() and _only_refused(place):
            shutil.rmtree(place)


def _only_refused(place: Path) -> bool:
    """Whether a folder holds a plan that was not proven, and nothing but the files it names."""
    try:
        plan = json.loads((place / _PLAN).read_bytes())
        named = {_PLAN, *plan["files"]}
        refused = plan["proof"]["passed"] is False and str(plan["schema"]).startswith("cutjob-plan/")
    except (OSError, ValueError, RecursionError, KeyError, TypeError):
        return False
    return refused and all(found.name in named and found.is_file() for found in place.iterdir())
