"""A job file: what to make, from which boards, rods and strips, on which machine; and a file of stock. mm once read."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Field, PlainValidator, WithJsonSchema, model_validator
from pydantic.json_schema import SkipJsonSchema

from cutjob.files.fields import (
    EACH_ONCE,
    FileModel,
    MistakesError,
    Name,
    NotNegative,
    NotNegativeMm,
    OneOrSeveral,
    PointMm,
    Positive,
    PositiveMm,
    Sentence,
    YesNo,
)
from cutjob.files.values import BadValue, Count, Number, Text, nearest, shown
from cutjob.job.finish import FinishWanted
from cutjob.job.paper import LabelsWanted, PaperName, PatternsWanted

UNTITLED = "untitled job"
MOST_KINDS = 1000  # of boards, rods or items in one file; more are a slip, and would take minutes to check
MOST_STOCKS = 50  # files named by one job
MOST_CORNERS = 2000  # of a board or a keep-out; nobody measures that many

# Long enough for a title and a file's name.
Mark = Annotated[str, Text(400)]
Paths = Annotated[tuple[Name, ...], Field(min_length=1, max_length=MOST_STOCKS), OneOrSeveral()]
# One number, or several with the one for the outlines first.
CutterNumbers = Annotated[tuple[Annotated[int, Count(1, 99)], ...], Field(min_length=1), EACH_ONCE, OneOrSeveral()]
MOST_OF_ONE = 100_000  # of one line of a job or a file of stock
Quantity = Annotated[int, Count(1, MOST_OF_ONE)]
Stack = Annotated[int, Count(1, 50)]
AS_MANY_AS_FIT = "as many as fit"
_HOURS = re.compile(r"(\d+(?:\.\d+)?) weeks?")

Preference = Literal["cost", "leftover", "cut"]
PREFERENCES: tuple[Preference, ...] = get_args(Preference)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenCount:
    """A count that is left open: at least `least`, and at most `most`, or as many as fit."""

    least: int = 0
    most: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkLimit:
    """The most work for a job: so many hours, or so many of the shop's `weeks`."""

    number: float
    weeks: bool = False

    def hours(self, week: float) -> float:
        """The hours, where the shop's week has so many."""
        return self.number * week if self.weeks else self.number


_COUNTS = f'write a whole number, "{AS_MANY_AS_FIT}", or {{ least = 4, most = 12 }}'


def _count(raw: Any) -> int | OpenCount:
    """A number of items, or the limits of one that is left open."""
    if isinstance(raw, OpenCount):
        return raw
    if isinstance(raw, str):
        if raw.strip() != AS_MANY_AS_FIT:
            raise BadValue(f"{shown(raw)} is not a count", _COUNTS)
        return OpenCount()
    if not isinstance(raw, Mapping):
        return Count(0, MOST_OF_ONE).read(raw, unit="mm")
    limits: dict[str, int] = {}
    mistakes: list[tuple[tuple[str, ...], str]] = []
    for key, value in raw.items():
        kind = {"least": Count(0, MOST_OF_ONE), "most": Count(1, MOST_OF_ONE)}.get(key)
        if kind is None:
            mistakes.append(((key,), f"{shown(key)} is not a key of this table; {nearest(key, ('least', 'most'))}"))
            continue
        try:
            limits[key] = kind.read(value, unit="mm")
        except BadValue as bad:
            mistakes.append(((key,), str(bad)))
    if not raw:
        raise BadValue("the count has no limit", _COUNTS)
    open_ = OpenCount(least=limits.get("least", 0), most=limits.get("most"))
    if not mistakes and open_.most is not None and open_.least > open_.most:
        mistakes.append(((), f"at least {open_.least} is more than at most {open_.most}; give most a larger number"))
    if mistakes:
        raise MistakesError(mistakes)
    return open_


def _work_limit(raw: Any) -> WorkLimit:
    """Hours, or weeks of the shop."""
    if isinstance(raw, WorkLimit):
        return raw
    weeks = _HOURS.fullmatch(raw.strip()) if isinstance(raw, str) else None
    if isinstance(raw, str) and weeks is None:
        raise BadValue(f"{shown(raw)} is no time for work", 'write hours as a number, such as 12.5, or "2 weeks"')
    number = float(weeks[1]) if weeks is not None else raw
    return WorkLimit(number=Number(0.01, 100_000).read(number, unit="mm"), weeks=weeks is not None)


def _no_longer_parts(value: Any) -> Any:
    if value in ("tape", "vacuum"):
        raise ValueError(f'"{value}" holds a board with its parts; write board_held_by = "{value}" instead')
    return value


def _wood(value: Any) -> Any:
    """The name of a board, or of several by kind of part."""
    names = list(value.values()) if isinstance(value, dict) else [value]
    if not names or not all(isinstance(name, str) and name.strip() for name in names):
        raise ValueError(
            'it is neither the name of a board nor a table of names; write wood = "plank" or wood = { base = "plank" }'
        )
    return {part: name.strip() for part, name in value.items()} if isinstance(value, dict) else value.strip()


def _booklet(value: Any) -> Any:
    names = value if isinstance(value, list) else [value]
    if isinstance(value, bool) or (names and all(isinstance(name, str) and name.strip() for name in names)):
        return value
    raise ValueError(
        f'{shown(value)} is no item; write booklet = true for all, or the name of one: booklet = "gate star"'
    )


def _moved_to_the_shop(value: Any) -> Any:
    raise ValueError(f"it is in the shop file now; write [pay] and machine = {value} in shop.toml instead")


class Corners(FileModel):
    """Corners cut off a rectangular board; a dog-ear is cut at 45 degrees."""

    style: Literal["dog-ear"] = "dog-ear"
    size: PositiveMm = Field(description="length cut off along each edge")
    end: Literal["left", "right", "both"] = "right"


class StatedKeepOut(FileModel):
    """A place that no part and no cut may touch: a knot, a nail, a clamp. It is round, or has an outline."""

    at: PointMm | None = Field(default=None, description="middle [x, y] of a round place, in the board's frame")
    radius: PositiveMm | None = Field(default=None, description="of a round place")
    outline: tuple[PointMm, ...] | None = Field(
        default=None, min_length=3, max_length=MOST_CORNERS, description="corners [x, y] of a place that is not round"
    )
    why: Sentence | None = Field(default=None, description="what it is: a knot, a clamp")
    height: NotNegativeMm = Field(default=0.0, description="how far it stands above the board: a clamp, a screw's head")

    @model_validator(mode="after")
    def _one_shape(self) -> StatedKeepOut:
        round_one = self.at is not None and self.radius is not None
        if round_one == (self.outline is not None) or (self.at is None) != (self.radius is None):
            raise ValueError("its shape is missing or given twice; give either at and radius, or outline")
        return self


class Taken(FileModel):
    """Boards of a stock file that a job has used; other jobs can't use them."""

    by: Mark = Field(description="title and file name of the job")
    count: Quantity = Field(description="how many boards the job took")


class BoardStock(FileModel):
    """Boards of one kind: a rectangle of length and width, or a free outline. The board's frame has x along its length
    and the origin at the lower left of its bounding box.
    """

    name: Name
    length: PositiveMm | None = Field(default=None, description="of a rectangular board, along its grain")
    width: PositiveMm | None = Field(default=None, description="of a rectangular board, across its length")
    outline: tuple[PointMm, ...] | None = Field(
        default=None,
        min_length=3,
        max_length=MOST_CORNERS,
        description="corners [x, y] of a board that is no rectangle, in order round it",
    )
    thickness: PositiveMm = Field(description="as measured: real boards differ from their nominal size")
    corners: Corners | None = Field(default=None, description="corners cut off a rectangular board")
    grain: Literal["length", "none"] = Field(
        default="length",
        description='direction of the grain, along which parts with grain are laid; "none" for sheet goods without '
        "grain",
    )
    material: Name = Field(default="softwood", description="its name in the feed tables of the machine's cutters")
    treated: YesNo | None = Field(
        default=None, description="whether it holds preservative; default: judged by its material and name"
    )
    count: Quantity = Field(default=1, description="how many there are")
    price: NotNegative | None = Field(
        default=None, description="of one board; 0 if it costs nothing; default: not stated, and left out of the costs"
    )
    keep_out: tuple[StatedKeepOut, ...] = Field(default=(), max_length=200, description="knots, nails and clamps")
    came_from: Mark | None = Field(
        default=None, alias="from", description="the job and layout that this offcut comes from"
    )
    taken: tuple[Taken, ...] = Field(
        default=(), max_length=1000, description="the boards that jobs run with --keep-offcuts took"
    )

    @model_validator(mode="after")
    def _one_shape(self) -> BoardStock:
        if self.outline is not None:
            if self.length is not None or self.width is not None or self.corners is not None:
                raise ValueError(
                    "a board with an outline takes no length, width or corners; leave these out, or the outline"
                )
        elif self.length is None or self.width is None:
            raise ValueError("its size is missing; give length and width, or outline")
        elif self.corners is not None:
            ends = 2 if self.corners.end == "both" else 1
            if self.corners.size * 2 >= self.width or self.corners.size * ends >= self.length:
                raise MistakesError(
                    [(("corners", "size"), "the cut-off corners leave no board; make the size smaller")]
                )
        return self


class RodStock(FileModel):
    """Rods of one kind, such as dowels."""

    name: Name
    diameter: PositiveMm
    length: PositiveMm
    count: Quantity = 1
    price: NotNegative | None = Field(default=None, description="of one; default: not stated")

    @property
    def section(self) -> tuple[float, ...]:
        """Its diameter, mm."""
        return (self.diameter,)


class StripStock(FileModel):
    """Strips of one kind: sticks of rectangular section, such as battens and laths."""

    name: Name
    width: PositiveMm
    thickness: PositiveMm
    length: PositiveMm
    count: Quantity = 1
    price: NotNegative | None = Field(default=None, description="of one; default: not stated")

    @property
    def section(self) -> tuple[float, ...]:
        """Its width and thickness, mm, the greater first."""
        return (max(self.width, self.thickness), min(self.width, self.thickness))


class BoughtStock(FileModel):
    """A thing that is bought: the price of what designs ask for by this name, or a thing of the job's own with its
    `count`, for each item of a line of the order or for the whole batch.
    """

    name: Name
    price: NotNegative | None = Field(default=None, description="of a pack; default: as the shop file has it")
    pack: Annotated[int, Count(1, 1_000_000)] = Field(default=1, description="how many are in a pack")
    count: Quantity | None = Field(
        default=None, description="how many are needed beside what designs ask for: for each item, or for the batch"
    )
    item: Name | None = Field(
        default=None, description="the [[make]] whose items need it; default: the batch as a whole"
    )


class SetEntry(FileModel):
    """Things sold together at one price."""

    name: Name
    items: tuple[Name, ...] = Field(min_length=2, max_length=50, description="names of [[make]]; one may come twice")
    price: Positive | None = Field(default=None, description="a price asked for it")


class FixedCost(FileModel):
    """A cost that is paid once, however many are sold: a template, a jig."""

    name: Name
    price: NotNegative


class Make(FileModel):
    """One entry of the order: `count` items of a design at a size. `with` changes single parameters; each design
    checks its own.
    """

    name: Name
    design: Name = Field(description="the name of a built-in design, or the path of a design file")
    size: Name = Field(default="medium", description="one of the design's sizes")
    count: Annotated[
        int | OpenCount,
        PlainValidator(_count),
        WithJsonSchema(
            {
                "anyOf": [
                    {"type": "integer", "minimum": 0, "maximum": MOST_OF_ONE},
                    {"const": AS_MANY_AS_FIT},
                    {
                        "type": "object",
                        "additionalProperties": False,
                        "minProperties": 1,
                        "properties": {
                            "least": {"type": "integer", "minimum": 0, "maximum": MOST_OF_ONE},
                            "most": {"type": "integer", "minimum": 1, "maximum": MOST_OF_ONE},
                        },
                    },
                ]
            }
        ),
    ] = Field(
        default=1,
        description=f'how many items; 0: none this time; "{AS_MANY_AS_FIT}" or {{ least = 4, most = 12 }}: what '
        "brings most from the job's wood and hours",
    )
    together: YesNo = Field(default=False, description="true: all parts of one item lie on one board")
    wood: Annotated[str | dict[str, str] | None, BeforeValidator(_wood)] = Field(
        default=None,
        description="what its parts are cut from: the name of a board, for all boards of its thickness and material; "
        'for some parts only, { base = "plank" }, with the name of the part but not its number; default: the '
        "design's wood, else the job's",
    )
    sawn_from: Name | None = Field(
        default=None,
        description="name of the board its sawn parts come off; default: the cheapest that is wide and long enough",
    )
    relief: Literal["none", "side", "diagonal"] = Field(
        default="none",
        description="round reliefs in inside corners, so that square corners fit in: along the longer side, or "
        "diagonally",
    )
    inside_corners: Literal["rounded", "exact"] = Field(
        default="rounded",
        description="rounded: wood that the cutter can't reach in inside corners is left, with a warning; exact: a "
        "part with such a corner is refused",
    )
    tabs: dict[str, Annotated[tuple[PointMm, ...], Field(max_length=200)]] = Field(
        default={},
        description="tabs placed by hand: the part's name, and points [x, y] near its outline, in its frame",
    )
    price: Positive | None = Field(default=None, description="a price asked for one, to see what it leaves")
    coats: Annotated[int, Count(0, 20)] | None = Field(
        default=None, description="coats of paint or oil; default: the shop's"
    )
    finish: FinishWanted = None
    changes: dict[str, object] = Field(default={}, alias="with", description="parameters of the design")

    @model_validator(mode="after")
    def _some_coats(self) -> Make:
        if self.finish is not None and self.coats == 0:
            raise MistakesError([(("coats",), "a finish needs at least one coat; leave coats out, or the finish")])
        return self

    @property
    def number(self) -> int:
        """How many items; 1 while that is open."""
        return 1 if isinstance(self.count, OpenCount) else self.count

    @property
    def boards_named(self) -> tuple[str, ...]:
        """The boards that `wood` names."""
        return (self.wood,) if isinstance(self.wood, str) else tuple((self.wood or {}).values())


class KeptEntry(FileModel):
    """A part that stays where it is while the others are laid out: on a board, or at a place there."""

    item: Name = Field(description="name of a [[make]]")
    part: Name = Field(description="the part, with its number")
    unit: Quantity = Field(default=1, description="which of the items, counted from 1")
    board: Name = Field(description="name of the board it is kept on")
    number: Quantity = Field(
        default=1, description="which board of that name, counted from 1 as they lie on the machine, sawn ones first"
    )
    at: PointMm | None = Field(
        default=None,
        description="place [x, y] of the lower left corner of its box on the board; default: anywhere on such a board",
    )
    turned: Annotated[float, Number(-360, 360)] = Field(
        default=0.0, description="degrees counter-clockwise; 0 or 180 where part and board have grain"
    )
    mirrored: YesNo = Field(default=False, description="whether its other face is up; only where the design allows it")


class JobFile(FileModel):
    """A job file."""

    title: Name = UNTITLED
    units: Literal["in", "mm"] = Field(description="unit of bare numbers in this file")
    machine: Name = Field(
        description="name of a shipped profile (cutjob list machines names them), or path of a profile file"
    )
    cutter: CutterNumbers | None = Field(
        default=None,
        description="number of the cutter, or a list of cutters to choose from, the one for outlines first; default: "
        "the machine's largest that reaches every detail",
    )
    stack: Stack = Field(default=1, description="boards cut at once")
    gap: NotNegativeMm | None = Field(default=None, description="least wood between parts; default: diameter + web")
    edge_margin: NotNegativeMm | None = Field(default=None, description="default: the profile's")
    parts_held_by: Annotated[Literal["tabs", "skin"], BeforeValidator(_no_longer_parts)] = Field(
        default="tabs",
        description="what holds a part once it is cut round: tabs, or a thin skin of wood below it, in the profile's "
        "sizes; parts on tape or vacuum need neither",
    )
    board_held_by: Literal["clamps", "screws", "tape", "vacuum"] = Field(
        default="clamps",
        description="clamps: those the job names as keep_out with a height, or else in places found in the waste at "
        "the board's edge; screws: in places found in the waste, which are drilled first, as the profile says; tape, "
        "vacuum: board and parts are held from below over their whole area, without tabs",
    )
    between_boards: Literal["tape"] | None = Field(
        default=None,
        description="tape: the boards of a stack are taped together, so that low tabs hold the upper parts too; "
        "default: bridges as high as the whole stack are left",
    )
    numbers: Literal["none", "part", "waste"] = Field(
        default="none", description="where the number of each part is cut: on its upper face, or beside it in the waste"
    )
    number_height: PositiveMm = Field(
        default=12.0,
        description="height of these numbers, at least four times the width of the cutter; smaller where room is short",
    )
    prefer: Annotated[tuple[Preference, ...], EACH_ONCE] = Field(
        default=PREFERENCES,
        min_length=1,
        json_schema_extra={"uniqueItems": True},
        description="what matters in a layout, the most important first: a low price of the boards, a large usable "
        "leftover, few runs of the machine and few slides of a board longer than the bed; after the words named count "
        "the price, few different layouts, the leftover and the runs",
    )
    stock: Paths = Field(default=(), description="path of a file of boards and sticks in stock, or a list of paths")
    left_in_stock: Annotated[tuple[Name, ...], EACH_ONCE, OneOrSeveral()] = Field(
        default=(), max_length=MOST_KINDS, description="names of boards in stock that this job does not take"
    )
    thickness: PositiveMm | None = Field(
        default=None,
        description="thickness of the job's wood, from which all parts are cut that don't say what they are cut from; "
        "default: that of the job's own boards",
    )
    material: Name | None = Field(
        default=None, description="material of the job's wood; default: those of the job's own boards"
    )
    # Common practice, no source: about 6 by 2 in, the smallest that a hand or a clamp holds beside a cut.
    least_leftover: tuple[PositiveMm, PositiveMm] = Field(
        default=(150.0, 50.0), description="smallest [length, width] of a leftover to keep, along and across the grain"
    )
    keep: tuple[KeptEntry, ...] = Field(
        default=(), max_length=MOST_KINDS, description="parts that stay where they are while the others are laid out"
    )
    make: tuple[Make, ...] = Field(min_length=1, max_length=MOST_KINDS)
    board: tuple[BoardStock, ...] = Field(
        default=(), min_length=1, max_length=MOST_KINDS, description="own boards of the job"
    )
    rod: tuple[RodStock, ...] = Field(default=(), max_length=MOST_KINDS)
    strip: tuple[StripStock, ...] = Field(default=(), max_length=MOST_KINDS)
    end_trim: NotNegativeMm = Field(
        default=0.0, description="length sawn off one end of every rod and strip to square it, kerf included"
    )
    bought: tuple[BoughtStock, ...] = Field(
        default=(), max_length=MOST_KINDS, description="prices of things to buy, and things of the job's own"
    )
    set: tuple[SetEntry, ...] = Field(default=(), max_length=100, description="things sold together at one price")
    fixed: tuple[FixedCost, ...] = Field(
        default=(), max_length=100, description="costs paid once, for the break-even: templates, jigs"
    )
    hours: Annotated[
        WorkLimit | None,
        PlainValidator(_work_limit),
        WithJsonSchema(
            {
                "anyOf": [
                    {"type": "number", "minimum": 0.01, "maximum": 100_000},
                    {"type": "string", "pattern": f"^{_HOURS.pattern}$"},
                ]
            }
        ),
    ] = Field(
        default=None,
        description='the most hours of work for this job, or "2 weeks" of the shop\'s hours; limits counts that are '
        "left open, and a warning says where the job takes more; default: no limit",
    )
    shop: Name | None = Field(
        default=None,
        description="path of the shop file with wages, times and ways of selling; default: shop.toml beside the job, "
        "where there is one",
    )
    shop_rate: SkipJsonSchema[Annotated[None, BeforeValidator(_moved_to_the_shop)]] = None
    paper: PaperName | None = Field(
        default=None, description="paper of patterns and labels; default: Letter where the units are inches, else A4"
    )
    patterns: PatternsWanted | None = Field(
        default=None, description="paper patterns; for a pattern machine those of the parts are written anyway"
    )
    labels: LabelsWanted | None = Field(default=None, description="a sheet of labels for the parts")
    booklet: Annotated[bool | str | tuple[Name, ...], BeforeValidator(_booklet)] = Field(
        default=False,
        description="true: booklet.pdf, to make the items from, with steps, pictures and templates at true size, but "
        "no prices; the name of a [[make]], or a list of names: of these only",
    )

    @property
    def in_booklet(self) -> tuple[str, ...]:
        """The items that the booklet shows; all where it is only asked for from outside."""
        if isinstance(self.booklet, bool):
            return tuple(make.name for make in self.make)
        return (self.booklet,) if isinstance(self.booklet, str) else self.booklet


class StockFile(FileModel):
    """Boards, rods and strips in stock, for any job that names the file as its `stock`."""

    units: Literal["in", "mm"] = Field(description="unit of bare numbers in this file")
    board: tuple[BoardStock, ...] = Field(default=(), max_length=MOST_KINDS)
    rod: tuple[RodStock, ...] = Field(default=(), max_length=MOST_KINDS)
    strip: tuple[StripStock, ...] = Field(default=(), max_length=MOST_KINDS)
