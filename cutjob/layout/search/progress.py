"""What a search for a layout tells of itself while it runs, and how it hears that it is to stop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

SEARCH_STAGE = "layout"  # what the stage is called in which the search runs


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchProgress:
    """How far a search is: `boards` used by the best whole layout so far (0: none yet), the share `yield_` of those
    boards' area that is parts, the share `done` of the budget that is used (both 0 to 1), and what is being tried.
    """

    boards: int
    yield_: float
    done: float
    what: str = ""


class Watch(Protocol):
    """Whoever looks on. Both may be called many times a second, and always from the thread that called `lay_out`."""

    def tell(self, progress: SearchProgress) -> None:
        """Take note of how far the search is; called at the start, with every better layout and now and then."""

    @property
    def stop(self) -> bool:
        """Whether the search is to end now with the best layout so far, or with the first one when there is none."""


class Quiet:
    """Looks on, says nothing and never stops the search."""

    def tell(self, progress: SearchProgress) -> None:
        """Say nothing."""

    @property
    def stop(self) -> bool:
        """Never."""
        return False


class Remembering:
    """Passes on what goes by, and remembers whether the search was told to stop."""

    def __init__(self, watch: Watch | None) -> None:
        """Look on for `watch`; None stands for `Quiet`."""
        self._watch: Watch = Quiet() if watch is None else watch
        self.stopped = False

    def tell(self, progress: SearchProgress) -> None:
        """Pass it on."""
        self._watch.tell(progress)

    @property
    def stop(self) -> bool:
        """What the watch behind says; once it said yes it stays so."""
        self.stopped = self.stopped or self._watch.stop
        return self.stopped
