"""A job as read: the file's values, its boards, its machine, and the line of everything in it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from cutjob.errors import Location
from cutjob.files.source import Source
from cutjob.job.boards import BoardEntry
from cutjob.job.machine import Machine
from cutjob.job.model import JobFile, RodStock, StripStock
from cutjob.job.read_shop import Shop
from cutjob.job.read_stock import LeftAside
from cutjob.job.stock import Board, wood_of
from cutjob.parts.part import Wood


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A job without mistakes. `entries` are its boards, first its own in the order of the file, then those in stock;
    `rods` and `strips` likewise. `mark` is its name in files of stock. `wood` is what its parts are cut from where
    neither they nor the order say otherwise, `spare` are boards in stock that are neither of that wood nor named, and
    `shop` has the wages, times
    and ways of selling, and `unused` has a warning for every board of its own that no part is cut from.
    """

    path: Path
    file: JobFile
    entries: tuple[BoardEntry, ...]
    machine: Machine
    source: Source
    shop: Shop
    rods: tuple[RodStock, ...] = ()
    strips: tuple[StripStock, ...] = ()
    left_aside: tuple[LeftAside, ...] = ()
    mark: str = ""
    wood: Wood | None = None
    spare: tuple[BoardEntry, ...] = ()
    unused: tuple[str, ...] = ()

    @property
    def boards(self) -> tuple[Board, ...]:
        """The boards to lay parts on, mm."""
        return tuple(entry.board for entry in self.entries)

    @property
    def woods(self) -> dict[str, Wood]:
        """The wood of each board by its name, those in stock that were not chosen too."""
        return {one.board.name: wood_of(one.board) for one in (*self.spare, *self.entries)}

    @property
    def folder(self) -> Path:
        """The folder from which the job's paths are taken."""
        return self.path.parent

    def board_location(self, board: Board, key: str) -> Location | None:
        """The line of a key of a board, or of the board. Boards sawn shorter keep their name, and so their lines."""
        for entry in self.entries:
            if entry.board.name == board.name:
                return entry.at(key)
        return board.location
