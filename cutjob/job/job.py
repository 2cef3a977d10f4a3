"""A job as read: the file's values, its boards, its machine, and the line of everything in it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from cutjob.errors import Location
from cutjob.job.machine import Machine
from cutjob.job.model import JobFile
from cutjob.job.source import Source
from cutjob.job.stock import Board


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A job that can be worked on. `boards` are in the order of the file, mm."""

    path: Path
    file: JobFile
    boards: tuple[Board, ...]
    machine: Machine
    source: Source

    @property
    def folder(self) -> Path:
        """The folder paths in the job are taken from."""
        return self.path.parent

    def make_location(self, index: int) -> Location:
        """The line of a `make` entry, counted from 0."""
        return self.source.at(("make", index))

    def change_location(self, index: int, key: str) -> Location:
        """The line of a key in the `with` of a `make` entry, or of the nearest thing around it."""
        return self.source.at(("make", index, "with", key))

    def change_locations(self, index: int) -> dict[str, Location]:
        """The lines of all keys in the `with` of a `make` entry, by key."""
        return {key: self.change_location(index, key) for key in self.file.make[index].changes}

    def rod_location(self, index: int) -> Location:
        """The line of a `rod` entry, counted from 0."""
        return self.source.at(("rod", index))

    def board_location(self, board: Board, key: str) -> Location | None:
        """The line of a key of a board, or of the board; boards sawn shorter keep their name and so their lines."""
        for index, stock in enumerate(self.file.board):
            if stock.name == board.name:
                return self.source.at(("board", index, key))
        return board.location
