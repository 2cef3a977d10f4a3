"""Remembers the last results of a pure function that is called again with the very same values, as when a job is laid
out and cut again with more room.

Large values count as the same only where they are the same object: that takes no time to see, and never takes a value
for another that is equal but written differently (0.0 and -0.0). They are kept with the result, so that their numbers
stay theirs.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from functools import wraps
from threading import Lock
from typing import Any, ParamSpec, TypeVar

_P = ParamSpec("_P")
_R = TypeVar("_R")
_PLAIN = (str, int, float, tuple)


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
