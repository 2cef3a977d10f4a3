"""The files of a filled panel: the panel itself, and the inventory of cut ends it is filled from. Lengths mm."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from cutjob.errors import Location, Problem
from cutjob.job.fields import FileModel, Mm, Name, NotNegativeMm, PositiveMm, Sentence, Whole, YesNo
from cutjob.job.read_toml import read_model, required
from cutjob.job.source import Source, read_source
from cutjob.units import Unit

_MOST_KINDS = 300


class EndCut(FileModel):
    """Equal cut ends; `length` runs along the grain, `tone` from 0, dark, to 9, light."""

    name: Name
    length: PositiveMm
    width: PositiveMm
    count: Whole = Field(default=1, ge=1, le=1000)
    tone: Whole = Field(default=5, ge=0, le=9)


class Inventory(FileModel):
    """A file of cut ends."""

    units: Unit
    piece: Annotated[list[EndCut], Field(min_length=1, max_length=_MOST_KINDS)]


class Frame(FileModel):
    """Strips round the field, `width` wide, and the backing board, which reaches `lap` under them on all sides."""

    width: PositiveMm
    joint: Literal["butt", "mitre"] = "butt"
    lap: NotNegativeMm = 12.7


class PanelOpening(FileModel):
    """A place left open: a hole round `at` with a `diameter`, or a rectangle of a `size` from its lower left corner."""

    at: tuple[Mm, Mm]
    diameter: PositiveMm | None = None
    size: tuple[PositiveMm, PositiveMm] | None = None


class PanelFile(FileModel):
    """A panel: `length` and `width` over all, with the frame."""

    title: Sentence = "Panel"
    units: Unit
    length: PositiveMm
    width: PositiveMm
    inventory: Name
    frame: Frame
    gap: NotNegativeMm = 0.0
    least: PositiveMm = 19.05
    trim: PositiveMm = 152.4
    longest_joint: PositiveMm | None = None
    turn: YesNo = True
    opening: Annotated[list[PanelOpening], Field(max_length=50, default_factory=list)]


def read_panel(path: Path) -> tuple[PanelFile, Inventory, Source]:
    """Return a panel's file and its inventory, whose path is taken from the panel's folder. Raises InputError."""
    source = read_source(path)
    panel = required(read_model(source, PanelFile))
    inventory = required(read_model(read_source(path.parent / panel.inventory), Inventory))
    return panel, inventory, source


def panel_problem(source: Source, message: str, advice: str) -> Problem:
    """Return a problem of the panel as a whole."""
    return Problem(message=message, advice=advice, location=Location(file=source.name))
