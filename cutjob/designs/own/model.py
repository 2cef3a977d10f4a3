"""A design file as it is written: parameters, sums, checks, and what an item is made of."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainValidator, WithJsonSchema, model_validator

from cutjob.designs.own.scope import Wording, read_wording
from cutjob.designs.own.spelling import NAME, UNIT_WORDS, Sum, read_sum
from cutjob.files.fields import FileModel, MistakesError, Name, Sentence, YesNo

MOST_OF_A_KIND = 200  # parameters, values, parts, features of a part
MOST_STEPS_OF_A_PATH = 500
MOST_PINS = 50


def _schema(what: str) -> WithJsonSchema:
    return WithJsonSchema({"anyOf": [{"type": "number"}, {"type": "string"}], "description": what})


_read_sum = PlainValidator(read_sum)
Length = Annotated[Sum, _read_sum, _schema("a sum that comes to a length; a bare number is in the file's units")]
Number = Annotated[Sum, _read_sum, _schema("a sum that comes to a plain number; degrees for angles")]
Count = Annotated[Sum, _read_sum, _schema("a sum that comes to a whole number")]
YesOrNo = Annotated[
    Sum,
    _read_sum,
    WithJsonSchema({"anyOf": [{"type": "boolean"}, {"type": "string"}], "description": "a comparison, or true, false"}),
]
AnySum = Annotated[Sum, _read_sum, _schema("a sum")]
Text = Annotated[
    Wording,
    PlainValidator(read_wording),
    WithJsonSchema({"type": "string", "description": "text; sums in { } are worked out: {width}"}),
]
At = tuple[Length, Length]

# Words that mean something in every sum.
RESERVED = frozenset({*UNIT_WORDS, "i", "n", "k", "and", "or", "not", "pi", "yes", "no", "thickness"})


def _known_words(value: Any) -> Any:
    from cutjob.designs.own.scope import FUNCTIONS, SPECIAL

    if not isinstance(value, dict):
        return value
    wrong: list[tuple[tuple[str | int, ...], str]] = []
    for key in value:
        if not isinstance(key, str) or not NAME.match(key):
            wrong.append(((key,), "this can't be a name in sums; use small letters, digits and _, a letter first"))
        elif key in RESERVED or key in FUNCTIONS or key in SPECIAL:
            wrong.append(((key,), f"{key} means something else in sums; take another name"))
    if wrong:
        raise MistakesError(wrong)
    return value


Named = BeforeValidator(_known_words)


class ParameterEntry(FileModel):
    """A thing the job may set."""

    kind: Literal["length", "number", "count", "choice", "yes or no", "lengths"]
    help: Sentence = Field(description="what it is")
    least: Annotated[Any, _schema("the least it may be")] = None
    greatest: Annotated[Any, _schema("the most it may be")] = None
    choices: tuple[Name, ...] = Field(default=(), max_length=50, description="of a choice: the words to choose from")
    default: Any = Field(default=None, description="taken where neither the job nor its size says anything")


class SeriesEntry(FileModel):
    """A sum worked out once for each of `count` steps; in it i runs from 0 to n - 1."""

    count: Count = Field(description="how many")
    each: AnySum = Field(
        description="the sum, with i for the step, n for how many, graded(first, last) for equal steps"
    )


class CurveEntry(FileModel):
    """A batten curve: the line a thin strip takes round pins, called like a function: its height over a place."""

    pins: tuple[tuple[AnySum, AnySum], ...] = Field(min_length=2, max_length=MOST_PINS, description="[place, height]")


class CheckEntry(FileModel):
    """What must hold for an item to be made."""

    require: YesOrNo = Field(description="what must hold, such as longest > shortest")
    message: Text = Field(description="what is wrong where it does not hold")
    advice: Text | None = Field(default=None, description="what to do about it")
    parameter: Name | None = Field(default=None, description="the parameter to point to in the job")


class Rectangle(FileModel):
    """A rectangle, from its lower left corner or about its middle."""

    length: Length = Field(description="along x, the grain")
    width: Length = Field(description="along y")
    corner: At | None = Field(default=None, alias="from", description="lower left corner; default [0, 0]")
    at: At | None = Field(default=None, description="middle, instead of from")
    round: Length | None = Field(default=None, description="radius of its corners")

    @model_validator(mode="after")
    def _one_place(self) -> Rectangle:
        if self.corner is not None and self.at is not None:
            raise ValueError("its place is told twice; give either from or at")
        return self


class Circle(FileModel):
    """A circle."""

    diameter: Length
    at: At | None = Field(default=None, description="middle; default [0, 0]")


class Slot(FileModel):
    """A slot with round ends."""

    length: Length = Field(description="over all")
    width: Length
    at: At | None = Field(default=None, description="middle; default [0, 0]")
    angle: Number | None = Field(default=None, description="degrees, counter-clockwise")


class RegularPolygon(FileModel):
    """A polygon of equal sides, the lowest of them level."""

    sides: Count
    across_corners: Length | None = Field(default=None, description="diameter of the circle through the corners")
    across_flats: Length | None = Field(default=None, description="diameter of the circle within the sides")
    at: At | None = Field(default=None, description="middle; default [0, 0]")
    angle: Number | None = Field(default=None, description="degrees, counter-clockwise")

    @model_validator(mode="after")
    def _one_size(self) -> RegularPolygon:
        if (self.across_corners is None) == (self.across_flats is None):
            raise ValueError("its size is not told, or told twice; give either across_corners or across_flats")
        return self


def _as_step(value: Any) -> Any:
    return {"to": value} if isinstance(value, (list, tuple)) else value


class Step(FileModel):
    """A step of a path: a straight line to a point, an arc, a batten curve, or several steps repeated."""

    to: At | None = Field(default=None, description="where the step ends: [x, y]")
    through: At | None = Field(default=None, description="of an arc: a point on it")
    radius: Length | None = Field(default=None, description="of an arc: its radius, with turn")
    turn: Literal["left", "right"] | None = Field(default=None, description="of an arc: which way it bends")
    long: YesNo = Field(default=False, description="of an arc with a radius: the longer one of the two")
    pins: tuple[At, ...] | None = Field(
        default=None, min_length=1, max_length=MOST_PINS, description="of a batten curve: its pins after the last point"
    )
    round: Length | None = Field(default=None, description="radius the corner at the step's end is rounded with")
    repeat: Count | None = Field(default=None, description="how many times `steps` are drawn, k from 0")
    steps: tuple[Annotated[Step, BeforeValidator(_as_step)], ...] = Field(
        default=(), max_length=MOST_STEPS_OF_A_PATH, description="the steps repeated"
    )

    @model_validator(mode="after")
    def _one_kind(self) -> Step:
        kinds = [self.to is not None, self.pins is not None, self.repeat is not None]
        if sum(kinds) != 1:
            raise ValueError("a step is one thing; give to, or pins, or repeat and steps")
        if (self.repeat is not None) != bool(self.steps):
            raise ValueError("repeat and steps belong together; give both")
        if any(step.repeat is not None for step in self.steps):
            raise ValueError("a repeat can't stand in a repeat; write its steps one by one")
        if (self.radius is None) != (self.turn is None):
            raise ValueError('radius and turn belong together; an arc is { to, radius, turn = "left" }')
        if self.radius is not None and self.through is not None:
            raise ValueError("an arc is told twice; give either through, or radius and turn")
        if self.to is None and (self.radius is not None or self.through is not None):
            raise ValueError("an arc needs its end; give to")
        if self.repeat is not None and self.round is not None:
            raise ValueError("a repeat has no corner of its own; give round to the steps in it")
        return self


Path = Annotated[
    tuple[Annotated[Step, BeforeValidator(_as_step)], ...],
    Field(min_length=2, max_length=MOST_STEPS_OF_A_PATH),
]


class MirrorLine(FileModel):
    """The line a half is mirrored in: upright at x, or level at y."""

    x: Length | None = None
    y: Length | None = None

    @model_validator(mode="after")
    def _one_line(self) -> MirrorLine:
        if (self.x is None) == (self.y is None):
            raise ValueError("a mirror line is upright or level; give either x or y")
        return self


SHAPES = ("rectangle", "circle", "slot", "polygon", "path")


class Shape(FileModel):
    """One outline: a basic shape or a path."""

    rectangle: Rectangle | None = None
    circle: Circle | None = None
    slot: Slot | None = None
    polygon: RegularPolygon | None = None
    path: Path | None = Field(default=None, description="an outline step by step; it closes by a straight line")
    mirror: MirrorLine | None = Field(default=None, description="of a path: its other half is the mirror image")

    @model_validator(mode="after")
    def _one_shape(self) -> Shape:
        if sum(getattr(self, key) is not None for key in SHAPES) != 1:
            raise ValueError(f"its shape is not told, or told twice; give one of {', '.join(SHAPES)}")
        if self.mirror is not None and self.path is None:
            raise ValueError("only a path can be mirrored; draw half of it as a path")
        return self


class Repeat(FileModel):
    """A thing drawn `count` times: in equal steps along a line, or round a point; k counts them from 0."""

    count: Count
    along: At | None = Field(default=None, description="from each to the next: [x, y]")
    about: At | None = Field(default=None, description="the point they go round: [x, y]")
    angle: Number | None = Field(default=None, description="degrees from each to the next; default: evenly all round")

    @model_validator(mode="after")
    def _one_way(self) -> Repeat:
        if self.along is not None and self.about is not None:
            raise ValueError("it is repeated in two ways; give either along or about")
        if self.angle is not None and self.about is None:
            raise ValueError("an angle needs a point to go round; give about")
        return self


class CounterboreEntry(FileModel):
    """The wide upper end of a hole."""

    diameter: Length
    depth: Length


class HoleEntry(FileModel):
    """A round hole, right through unless it has a depth."""

    at: At
    diameter: Length
    depth: Length | None = None
    counterbore: CounterboreEntry | None = None
    repeat: Repeat | None = None
    when: YesOrNo | None = Field(default=None, description="made only where this holds")


class Opening(Shape):
    """An opening right through."""

    repeat: Repeat | None = None
    when: YesOrNo | None = Field(default=None, description="made only where this holds")


class PocketEntry(Opening):
    """An area cleared to a depth; past the part's edge it runs out there, as a dado does."""

    depth: Length


class MarkEntry(Opening):
    """A shallow line, as wide as the cutter that runs along it: a shape, or a path that stays open."""

    depth: Length | None = Field(default=None, description="default: the profile's")
    closed: YesNo = Field(default=False, description="whether a path is closed")


class SeveralEntry(FileModel):
    """What every kind of piece has."""

    name: Text = Field(description="of the piece; with a count the number is added, or put in by {i + 1}")
    count: Count | None = Field(default=None, description="a piece for each step of a count; i runs from 0 to n - 1")
    when: YesOrNo | None = Field(default=None, description="made only where this holds")


class PartEntry(SeveralEntry, Shape):
    """A part cut out on the machine, in its own frame: x along the grain."""

    grain: Literal["length", "none"] = "length"
    may_mirror: YesNo = Field(default=False, description="whether it may be cut upside down")
    hole: tuple[HoleEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    opening: tuple[Opening, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    pocket: tuple[PocketEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    mark: tuple[MarkEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)


class SawnEntry(SeveralEntry):
    """A piece crosscut square off a board's end, as wide as the board or ripped to a `width` of its own."""

    length: Length
    width: Length | None = None
    note: Text | None = None


class RodEntry(SeveralEntry):
    """A piece of round stock."""

    diameter: Length
    length: Length
    note: Text | None = None


class StripEntry(SeveralEntry):
    """A piece crosscut from a strip: a stick of rectangular section."""

    width: Length
    thickness: Length
    length: Length
    note: Text | None = None


class BoughtEntry(FileModel):
    """A thing to buy, and how many an item takes."""

    name: Text
    count: Count | None = None
    when: YesOrNo | None = None


class HandHoleEntry(SeveralEntry):
    """A hole drilled by hand in a part, where no face cutter reaches; `name` is the part's."""

    diameter: Length
    depth: Length | None = None
    note: Text


_Some: Any = Field(default={}, max_length=MOST_OF_A_KIND)


class DesignFile(FileModel):
    """A design file."""

    units: Literal["in", "mm"] = Field(description="unit of bare numbers in this file")
    summary: Sentence = Field(description="a line of what it makes")
    parameter: Annotated[dict[str, ParameterEntry], Named] = _Some
    size: dict[Name, dict[str, object]] = Field(default={}, max_length=50, description="named sets of parameters")
    value: Annotated[dict[str, AnySum], Named] = _Some
    series: Annotated[dict[str, SeriesEntry], Named] = _Some
    curve: Annotated[dict[str, CurveEntry], Named] = _Some
    check: tuple[CheckEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    part: tuple[PartEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    sawn: tuple[SawnEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    rod: tuple[RodEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    strip: tuple[StripEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    bought: tuple[BoughtEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    hand_hole: tuple[HandHoleEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    fact: dict[Name, Length] = Field(default={}, max_length=50, description="measures worth telling, by name")
    warning: tuple[CheckEntry, ...] = Field(
        default=(), max_length=MOST_OF_A_KIND, description="told where require does not hold; the item is made"
    )

    @model_validator(mode="after")
    def _makes_something(self) -> DesignFile:
        if not (self.part or self.sawn or self.rod or self.strip or self.bought):
            raise ValueError("it makes nothing; add a [[part]], [[sawn]], [[rod]], [[strip]] or [[bought]]")
        return self
