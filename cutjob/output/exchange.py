"""Two folders change places at one stroke, where the system can do that: at no moment is one of them missing."""

from __future__ import annotations

import ctypes
import errno
import os
import sys
from collections.abc import Callable
from pathlib import Path

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
