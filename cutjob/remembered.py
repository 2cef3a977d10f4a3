"""Remembers the last results of a pure function that is called again with the very same values: as when a job is laid
out and cut again with more room, or when it is made again in the same process with one figure changed.

Large values count as the same only where they are the same object: that takes no time to see, and never takes a value
for another that is equal but written differently (0.0 and -0.0). They are kept with the result, so that their numbers
stay theirs. Values that are made anew in every run (parts, boards, the machine) go through `same`, which gives the
object from before where all that is in it is the same, digit by digit.
"""

from __future__ import annotations

import hashlib
import pickle
from collections import OrderedDict
from collections.abc import Callable
from functools import wraps
from threading import Lock
from typing import Any, ParamSpec, TypeVar

_P = ParamSpec("_P")
_R = TypeVar("_R")
_Value = TypeVar("_Value")
_PLAIN = (str, int, float, tuple)
_MOST_SAME = 4096  # values, of some kilobytes each

_same: OrderedDict[bytes, object] = OrderedDict()
_same_lock = Lock()


def same(value: _Value) -> _Value:
    """Return the value, or the one from before that is written in the very same bytes. It must be immutable."""
    key = hashlib.blake2b(pickle.dumps(value, pickle.HIGHEST_PROTOCOL), digest_size=32).digest()
    with _same_lock:
        found: Any = _same.setdefault(key, value)
        _same.move_to_end(key)
        while len(_same) > _MOST_SAME:
            _same.popitem(last=False)
    return found  # type: ignore[no-any-return]


def remembered(*, most: int, by_value: tuple[type, ...] = ()) -> Callable[[Callable[_P, _R]], Callable[_P, _R]]:
    """Return a decorator that keeps the last `most` results of a function of immutable arguments.

    Texts, numbers, tuples of these and the types named in `by_value` are compared by value, all else by identity.
    """
    plain = (*_PLAIN, *by_value)

    def decorate(function: Callable[_P, _R]) -> Callable[_P, _R]:
        kept: OrderedDict[tuple[object, ...], tuple[object, _R]] = OrderedDict()
        lock = Lock()

        def key_of(value: object) -> object:
            return value if isinstance(value, plain) else id(value)

        @wraps(function)
        def call(*args: _P.args, **options: _P.kwargs) -> _R:
            key: tuple[Any, ...] = (*map(key_of, args), *((name, key_of(options[name])) for name in sorted(options)))
            with lock:
                found = kept.get(key)
                if found is not None:
                    kept.move_to_end(key)
                    return found[1]
            result = function(*args, **options)
            with lock:
                kept[key] = ((args, options), result)
                while len(kept) > most:
                    kept.popitem(last=False)
            return result

        return call

    return decorate
