"""Compiles functions for this machine's processor with numba, and keeps them for the next run where possible.

A cache that can't be kept must never stop a run. On a full disk, in an account without a folder it may write to, or
with a spoiled file in the cache, the functions are compiled again, which takes some 10 s.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numba import njit
from numba.core.caching import FunctionCache
from numba.core.options import DefaultOptions

from cutjob import compiling

_Function = TypeVar("_Function", bound=Callable[..., Any])


class _Kept(FunctionCache):  # type: ignore[misc, unused-ignore]
    """Numba's own cache of one function, except that it raises no error where the cache can't be used."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """The compiled function, or None where the cache has none or can't be read."""
        cache: Any = super()
        found = None
        try:
            found = cache.load_overload(sig, target_context)
        except Exception:  # a spoiled file may raise anything
            with contextlib.suppress(Exception):
                cache.flush()  # start an empty cache, so that the function can be saved again
        if found is None:
            compiling.begin()
        return found

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep a compiled function, if there is room."""
        compiling.end()
        cache: Any = super()
        with contextlib.suppress(OSError):
            cache.save_overload(sig, data)


_KEEP: Any = _Kept
_INSIDE: dict[str, Any] = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
if hasattr(DefaultOptions, "_nrt"):  # it has no public name; without it the functions are only slower
    _INSIDE["_nrt"] = False


def compiled(**options: Any) -> Callable[[_Function], _Function]:
    """Return a decorator that compiles a function, with numba's options for it."""

    def decorate(function: _Function) -> _Function:
        made = njit(**options)(function)
        # Without a folder to keep it in numba raises RuntimeError.
        with contextlib.suppress(RuntimeError, OSError):
            made._cache = _KEEP(function)
        return made  # type: ignore[no-any-return, unused-ignore]

    return decorate


def whole(number: int) -> int:
    """Return a whole number of the type that compiled functions work with.

    A literal 0, given to a compiled function, has a version of its own compiled; this has not.
    """
    return np.int64(number)  # type: ignore[return-value]


def is_kept(function: Callable[..., Any]) -> bool:
    """Whether a file of the cache, of an earlier run, has something of a compiled function."""
    files = getattr(getattr(function, "_cache", None), "_cache_file", None)
    return Path(getattr(files, "_index_path", "")).is_file()


def compiled_inside(**options: Any) -> Callable[[_Function], _Function]:
    """Return a decorator for a function that only compiled ones call, and that makes no arrays nor slices of them.

    It has no entry from Python, and is kept as part of its callers. It doesn't count who uses its arguments, which
    takes time, most where threads share them.
    """

    def decorate(function: _Function) -> _Function:
        made = njit(**_INSIDE, **options)(function)
        return made  # type: ignore[no-any-return, unused-ignore]

    return decorate
