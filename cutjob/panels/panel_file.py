"""The files of a filled panel: the panel itself, and the inventory of cut ends it is filled from. Lengths mm."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from cutjob.errors import Location, Problem
from cutjob.files.fields import FileModel, Mm, Name, NotNegativeMm, PositiveMm, Sentence, YesNo
from cutjob.files.read_toml import read_model, required
from cutjob.files.source import Source, read_source
from cutjob.files.values import Count
from cutjob.units import Unit

_MOST_KINDS = 300


class EndCut(FileModel):
    """Equal cut ends; `length` runs along the grain, `tone` from 0, dark, to 9, light."""

    name: Name
    length: PositiveMm = Field(description="along the grain")
    width: PositiveMm = Field(description="across the grain")
    count: Annotated[int, Count(1, 1000)] = 1
    tone: Annotated[int, Count(0, 9)] = Field(
        default=5, description="0 dark to 9 light; equal tones are kept apart as far as they can be"
    )


class Inventory(FileModel):
    """A file of cut ends."""

    units: Unit = Field(description="of bare numbers; text may carry its own unit")
    piece: Annotated[list[EndCut], Field(min_length=1, max_length=_MOST_KINDS)]


class Frame(FileModel):
    """Strips round the field, `width` wide, and the backing board, which reaches `lap` under them on all sides."""

    width: PositiveMm = Field(description="of the strips")
    joint: Literal["butt", "mitre"] = Field(default="butt", description="of the frame's corners")
    lap: NotNegativeMm = Field(default=12.7, description="how far the backing board reaches behind the frame")


class PanelOpening(FileModel):
    """A place left open: a hole round `at` with a `diameter`, or a rectangle of a `size` from its lower left corner."""

    at: tuple[Mm, Mm] = Field(description="middle of a round one, lower left corner of the other; in the field")
    diameter: PositiveMm | None = None
    size: tuple[PositiveMm, PositiveMm] | None = Field(default=None, description="length and height")


class PanelFile(FileModel):
    """A panel: `length` and `width` over all, with the frame."""

    title: Sentence = "Panel"
    units: Unit = Field(description="of bare numbers; text may carry its own unit")
    length: PositiveMm = Field(description="over all, from left to right")
    width: PositiveMm = Field(description="over all, from below upward")
    inventory: Name = Field(description="path of the file of end cuts, from the panel's folder")
    frame: Frame
    gap: NotNegativeMm = Field(default=0.0, description="left open between pieces")
    least: PositiveMm = Field(default=19.05, description="nothing narrower is laid")
    trim: PositiveMm = Field(default=152.4, description="most that comes off a piece's length or width")
    longest_joint: PositiveMm | None = Field(
        default=None, description="no joint runs straight on for more; default: half the field's shorter side"
    )
    turn: YesNo = Field(default=True, description="false: all grain runs level")
    kerf: NotNegativeMm = Field(default=3.175, description="of the saw: what is cut off a piece is used for others")
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
