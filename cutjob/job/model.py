"""A job file: what to make, from which boards and rods, on which machine. Lengths are mm once read."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, model_validator

from cutjob.job.fields import FileModel, Name, NotNegative, NotNegativeMm, PointMm, PositiveMm


class Corners(FileModel):
    """Corners cut off a rectangular board; a dog-ear is cut at 45 degrees."""

    style: Literal["dog-ear"] = "dog-ear"
    size: PositiveMm = Field(description="length cut off along each edge")
    end: Literal["left", "right", "both"] = "right"


class KeepOut(FileModel):
    """A place no part and no cut may touch: a knot, a nail, a clamp. A round one has a radius, others an outline."""

    at: PointMm | None = None
    radius: PositiveMm | None = None
    outline: tuple[PointMm, ...] | None = Field(default=None, min_length=3)
    why: Name | None = None

    @model_validator(mode="after")
    def _one_shape(self) -> KeepOut:
        round_one = self.at is not None and self.radius is not None
        if round_one == (self.outline is not None) or (self.at is None) != (self.radius is None):
            raise ValueError("give either at and radius, or outline")
        return self


class BoardStock(FileModel):
    """Boards of one kind: a rectangle of length and width, or a free outline. The board's frame has x along its length
    and the origin at the lower left of its bounding box.
    """

    name: Name
    length: PositiveMm | None = None
    width: PositiveMm | None = None
    outline: tuple[PointMm, ...] | None = Field(default=None, min_length=3)
    thickness: PositiveMm
    corners: Corners | None = None
    grain: Literal["length", "none"] = "length"
    material: Name = "softwood"
    count: int = Field(default=1, ge=1, le=100_000)
    price: NotNegative = 0.0
    keep_out: tuple[KeepOut, ...] = ()

    @model_validator(mode="after")
    def _one_shape(self) -> BoardStock:
        if self.outline is not None:
            if self.length is not None or self.width is not None or self.corners is not None:
                raise ValueError("a board with an outline takes no length, width or corners")
        elif self.length is None or self.width is None:
            raise ValueError("give length and width, or outline")
        elif self.corners is not None:
            ends = 2 if self.corners.end == "both" else 1
            if self.corners.size * 2 >= self.width or self.corners.size * ends >= self.length:
                raise ValueError("corners: size is too large for the board")
        return self


class RodStock(FileModel):
    """Rods or dowels of one kind."""

    name: Name
    diameter: PositiveMm
    length: PositiveMm
    count: int = Field(default=1, ge=1, le=100_000)
    price: NotNegative = 0.0


class Make(FileModel):
    """One line of the order: `count` items of a design at a size. `with` changes single parameters; each design
    checks its own.
    """

    name: Name
    design: Name
    size: Name = "medium"
    count: int = Field(default=1, ge=1, le=100_000)
    changes: dict[str, Any] = Field(default={}, alias="with", description="parameters of the design")


class JobFile(FileModel):
    """A job file."""

    title: Name = "untitled job"
    units: Literal["in", "mm"] = Field(description="unit of bare numbers in this file")
    machine: Name = Field(description="name of a shipped profile, or path of a profile file")
    cutter: int | None = Field(default=None, ge=1, le=99, description="number of the cutter; default: the first fit")
    stack: int = Field(default=1, ge=1, le=50, description="boards cut at once")
    gap: NotNegativeMm | None = Field(default=None, description="least wood between parts; default: diameter + web")
    edge_margin: NotNegativeMm | None = Field(default=None, description="default: the profile's")
    currency: Name = ""
    make: tuple[Make, ...] = Field(min_length=1)
    board: tuple[BoardStock, ...] = Field(min_length=1)
    rod: tuple[RodStock, ...] = ()
