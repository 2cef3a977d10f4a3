"""What the first run on a computer compiles: whether that is under way just now, and a second process that helps.

The words are for a progress line. Nothing here is needed for a result: a helper that can't start or fails only leaves
its work to this process.
"""

from __future__ import annotations

import atexit
import contextlib
import subprocess
import sys
from threading import Lock

_LONGEST = 120.0  # seconds to wait for a helper, which takes some seconds

_lock = Lock()
_under_way = 0
_helper: subprocess.Popen[bytes] | None = None


def begin() -> None:
    """Take note that a function is being compiled."""
    global _under_way
    with _lock:
        _under_way += 1


def end() -> None:
    """Take note that a function is ready."""
    global _under_way
    with _lock:
        _under_way = max(0, _under_way - 1)


def under_way() -> bool:
    """Whether something is being compiled, here or by the helper that is waited for."""
    return _under_way > 0


def help_with(module: str) -> None:
    """Start a process that runs a module, which compiles functions and keeps them; it ends with this process."""
    global _helper
    with contextlib.suppress(OSError, ValueError):
        nothing = subprocess.DEVNULL
        # -P: a file of the same name in the user's folder must not be taken for ours.
        _helper = subprocess.Popen([sys.executable, "-P", "-m", module], stdin=nothing, stdout=nothing, stderr=nothing)
        atexit.register(_helper.kill)


def wait_for_help() -> None:
    """Wait until the helper, if there is one, is done."""
    global _helper
    helper, _helper = _helper, None
    if helper is not None and helper.poll() is None:
        begin()
        with contextlib.suppress(subprocess.TimeoutExpired):
            helper.wait(_LONGEST)
        end()
