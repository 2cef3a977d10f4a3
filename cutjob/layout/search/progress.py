"""How a search for a layout reports its progress, and how it is stopped."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

SEARCH_STAGE = "layout"  # name of the stage in which the search runs


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchProgress:
    """The progress of a search: `boards` used by the best complete layout so far (0: none yet), the share `yield_` of
    those boards' area that is parts, the share `done` of the budget that is used (both 0 to 1), and `what` is being
    tried.
    """

    boards: int
    yield_: float
    done: float
    what: str = ""


class Watch(Protocol):
    """An observer. Both methods may be called many times a second, always from the thread that called `lay_out`."""

    def tell(self, progress: SearchProgress) -> None:
        """Receive the progress; called at the start, with every better layout and now and then."""

    @property
    def stop(self) -> bool:
        """Whether the search must end now with the best layout so far, or with the first one where
        there is none yet.
        """


class Quiet:
    """An observer that does nothing and never stops the search."""

    def tell(self, progress: SearchProgress) -> None:
        """Do nothing."""

    @property
    def stop(self) -> bool:
        """Never."""
        return False


class Remembering:
    """Passes progress on, and remembers whether the search was stopped."""

    def __init__(self, watch: Watch | None) -> None:
        """Observe for `watch`; None means `Quiet`."""
        self._watch: Watch = Quiet() if watch is None else watch
        self.stopped = False

    def tell(self, progress: SearchProgress) -> None:
        """Pass it on."""
        self._watch.tell(progress)

    @property
    def stop(self) -> bool:
        """The answer of the watch behind; once True it stays True."""
        self.stopped = self.stopped or self._watch.stop
        return self.stopped
