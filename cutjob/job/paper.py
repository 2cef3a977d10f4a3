"""The sizes of paper (papers.toml), and a job's keys for patterns and labels. mm."""

from __future__ import annotations

import importlib.resources
import tomllib
from collections.abc import Mapping
from functools import cache
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, WithJsonSchema, model_validator

from cutjob.files.fields import FileModel, Name, NotNegativeMm, PositiveMm, YesNo
from cutjob.files.values import Count, Length, not_known
from cutjob.units import Unit

PaperName = Literal["A4", "Letter"]


class Paper(FileModel):
    """A sheet of paper in portrait format."""

    width: PositiveMm
    height: PositiveMm


class LabelSheet(FileModel):
    """A sheet of labels: `left` and `top` are from the paper's edges to the first label, `step`
    from one to the next.
    """

    paper: PaperName
    columns: Annotated[int, Count(1)]
    rows: Annotated[int, Count(1)]
    width: PositiveMm
    height: PositiveMm
    left: NotNegativeMm
    top: NotNegativeMm
    step: tuple[PositiveMm, PositiveMm]

    @property
    def count(self) -> int:
        """How many labels are on one sheet."""
        return self.columns * self.rows


class _Sizes(FileModel):
    paper: dict[PaperName, Paper]
    labels: dict[str, LabelSheet]


@cache
def _sizes() -> _Sizes:
    text = importlib.resources.files("cutjob.job").joinpath("papers.toml").read_text(encoding="utf-8")
    return _Sizes.model_validate(tomllib.loads(text), context={"units": "mm"})


def papers() -> Mapping[PaperName, Paper]:
    """Return the sizes of paper by name."""
    return _sizes().paper


def label_sheets() -> Mapping[str, LabelSheet]:
    """Return the sheets of labels by name."""
    return _sizes().labels


def usual_paper(units: Unit) -> PaperName:
    """Return the usual paper of a shop that works in these units: Letter for inches, else A4."""
    return "Letter" if units == "in" else "A4"


def usual_labels(paper: PaperName) -> str:
    """Return the name of a common sheet of labels of this paper."""
    return {"A4": "A4 3 x 8", "Letter": "Letter 3 x 10"}[paper]


def _known_sheet(name: str) -> str:
    if name not in label_sheets():
        raise not_known(name, tuple(label_sheets()))
    return name


# The schema has the names as a fixed list, so that the file is only read where labels are wanted.
SheetName = Annotated[Name, AfterValidator(_known_sheet), WithJsonSchema({"type": "string", "minLength": 1})]


class PatternsWanted(FileModel):
    """Which paper patterns, and how they look. A job with this table gets patterns for any machine."""

    parts: YesNo = Field(default=True, description="a pattern of every shaped part; where false, layout must be true")
    layout: YesNo = Field(
        default=False, description="each board's whole layout as one long pattern, to glue on the top board of a stack"
    )
    halves: YesNo = Field(
        default=False, description="true: symmetrical parts are drawn as halves, to lay on a fold of the paper"
    )
    # Common practice, no source: rolls and mats are 12 or 24 in wide.
    plotter_width: Annotated[float, Length(50.0, 1e6)] = Field(
        default=610.0, description="width of the sheet in patterns.svg, for a cutting plotter"
    )

    @model_validator(mode="after")
    def _something(self) -> PatternsWanted:
        if not (self.parts or self.layout):
            raise ValueError("neither parts nor layout is wanted; set one of them, or leave the table out")
        return self


class LabelsWanted(FileModel):
    """A sheet of labels, one for each shaped or sawn part, for a job with this table."""

    sheet: SheetName | None = Field(
        default=None,
        description="paper, columns and rows of the sheet, as in `A4 3 x 8`; default: a common one of the job's paper",
    )
    each: YesNo = Field(
        default=False,
        description="true: a label for every single piece, with the item it is for, such as `pot stand 3 of 8`, and "
        "the board and the number it is cut under",
    )
    first: Annotated[int, Count(1, 200)] = Field(
        default=1, description="first free label of the first sheet, row by row"
    )
