"""A design file as written: parameters, formulas, checks, and the pieces of an item."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainValidator, WithJsonSchema, model_validator

from cutjob.designs.own.scope import Wording, read_wording
from cutjob.designs.own.spelling import NAME, UNIT_WORDS, Formula, read_formula
from cutjob.files.fields import FileModel, MistakesError, Name, Sentence, YesNo

MOST_OF_A_KIND = 200  # parameters, values, parts, features of a part
MOST_STEPS_OF_A_PATH = 500
MOST_PINS = 50


def _schema(what: str) -> WithJsonSchema:
    return WithJsonSchema({"anyOf": [{"type": "number"}, {"type": "string"}], "description": what})


_read_formula = PlainValidator(read_formula)
Length = Annotated[Formula, _read_formula, _schema("a formula for a length; a bare number is in the file's units")]
Number = Annotated[Formula, _read_formula, _schema("a formula for a plain number; degrees for angles")]
Count = Annotated[Formula, _read_formula, _schema("a formula for a whole number")]
YesOrNo = Annotated[
    Formula,
    _read_formula,
    WithJsonSchema({"anyOf": [{"type": "boolean"}, {"type": "string"}], "description": "a comparison, or true, false"}),
]
AnyFormula = Annotated[Formula, _read_formula, _schema("a formula")]
Text = Annotated[
    Wording,
    PlainValidator(read_wording),
    WithJsonSchema({"type": "string", "description": "text; formulas in { } are worked out: {width}"}),
]
At = tuple[Length, Length]

# Words with a meaning in every formula.
RESERVED = frozenset({*UNIT_WORDS, "i", "n", "k", "and", "or", "not", "pi", "yes", "no", "thickness"})


def _known_words(value: Any) -> Any:
    from cutjob.designs.own.scope import FUNCTIONS, SPECIAL

    if not isinstance(value, dict):
        return value
    wrong: list[tuple[tuple[str | int, ...], str]] = []
    for key in value:
        if not isinstance(key, str) or not NAME.match(key):
            wrong.append(((key,), "this can't be a name in formulas; use small letters, digits and _, a letter first"))
        elif key in RESERVED or key in FUNCTIONS or key in SPECIAL:
            wrong.append(((key,), f"{key} has another meaning in formulas; take another name"))
    if wrong:
        raise MistakesError(wrong)
    return value


Named = BeforeValidator(_known_words)


class ParameterEntry(FileModel):
    """A parameter that the job may set."""

    kind: Literal["length", "number", "count", "choice", "yes or no", "lengths"]
    help: Sentence = Field(description="its meaning, in a few words")
    least: Annotated[Any, _schema("smallest value allowed")] = None
    greatest: Annotated[Any, _schema("largest value allowed")] = None
    choices: tuple[Name, ...] = Field(default=(), max_length=50, description="for a choice: the words to choose from")
    default: Any = Field(default=None, description="value where neither the job nor its size sets one")


class SeriesEntry(FileModel):
    """A formula worked out once for each of `count` steps; in it i runs from 0 to n - 1."""

    count: Count = Field(description="number of steps")
    each: AnyFormula = Field(
        description="the formula, with i for the step, n for their number, graded(first, last) for equal steps"
    )


class CurveEntry(FileModel):
    """A batten curve: the line of a thin strip bent round pins. Called like a function, it gives
    the height at a place.
    """

    pins: tuple[tuple[AnyFormula, AnyFormula], ...] = Field(
        min_length=2, max_length=MOST_PINS, description="[place, height]"
    )


class CheckEntry(FileModel):
    """A condition that an item must meet."""

    require: YesOrNo = Field(description="the condition, such as longest > shortest")
    message: Text = Field(description="what is wrong where the condition is not met")
    advice: Text | None = Field(default=None, description="what to do about it")
    parameter: Name | None = Field(default=None, description="the parameter that the message names in the job")


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
            raise ValueError("its place is given twice; give either from or at")
        return self


class Circle(FileModel):
    """A circle."""

    diameter: Length
    at: At | None = Field(default=None, description="middle; default [0, 0]")


class Slot(FileModel):
    """A slot with round ends."""

    length: Length = Field(description="overall length")
    width: Length
    at: At | None = Field(default=None, description="middle; default [0, 0]")
    angle: Number | None = Field(default=None, description="degrees, counter-clockwise")


class RegularPolygon(FileModel):
    """A polygon of equal sides, with the lowest side level."""

    sides: Count
    across_corners: Length | None = Field(default=None, description="diameter of the circle through the corners")
    across_flats: Length | None = Field(default=None, description="diameter of the circle inside the sides")
    at: At | None = Field(default=None, description="middle; default [0, 0]")
    angle: Number | None = Field(default=None, description="degrees, counter-clockwise")

    @model_validator(mode="after")
    def _one_size(self) -> RegularPolygon:
        if (self.across_corners is None) == (self.across_flats is None):
            raise ValueError("its size is missing or given twice; give either across_corners or across_flats")
        return self


def _as_step(value: Any) -> Any:
    return {"to": value} if isinstance(value, (list, tuple)) else value


class Step(FileModel):
    """A step of a path: a straight line to a point, an arc, a batten curve, or several steps repeated."""

    to: At | None = Field(default=None, description="end of the step: [x, y]")
    through: At | None = Field(default=None, description="of an arc: a point on it")
    radius: Length | None = Field(default=None, description="of an arc: its radius, with turn")
    turn: Literal["left", "right"] | None = Field(default=None, description="of an arc: the side it bends to")
    long: YesNo = Field(default=False, description="of an arc with a radius: the longer one of the two")
    pins: tuple[At, ...] | None = Field(
        default=None, min_length=1, max_length=MOST_PINS, description="of a batten curve: its pins after the last point"
    )
    round: Length | None = Field(default=None, description="radius of the rounded corner at the step's end")
    repeat: Count | None = Field(default=None, description="how many times `steps` are drawn, k from 0")
    steps: tuple[Annotated[Step, BeforeValidator(_as_step)], ...] = Field(
        default=(), max_length=MOST_STEPS_OF_A_PATH, description="the steps repeated"
    )

    @model_validator(mode="after")
    def _one_kind(self) -> Step:
        kinds = [self.to is not None, self.pins is not None, self.repeat is not None]
        if sum(kinds) != 1:
            raise ValueError("a step is a line or arc, a curve, or a repeat; give to, or pins, or repeat and steps")
        if (self.repeat is not None) != bool(self.steps):
            raise ValueError("repeat and steps belong together; give both")
        if any(step.repeat is not None for step in self.steps):
            raise ValueError("a repeat can't be inside a repeat; write its steps one by one")
        if (self.radius is None) != (self.turn is None):
            raise ValueError('radius and turn belong together; an arc is { to, radius, turn = "left" }')
        if self.radius is not None and self.through is not None:
            raise ValueError("an arc is given twice; give either through, or radius and turn")
        if self.to is None and (self.radius is not None or self.through is not None):
            raise ValueError("an arc needs its end; add to = [x, y]")
        if self.repeat is not None and self.round is not None:
            raise ValueError("a repeat has no corner of its own; give round to the steps in it")
        return self


Path = Annotated[
    tuple[Annotated[Step, BeforeValidator(_as_step)], ...],
    Field(min_length=2, max_length=MOST_STEPS_OF_A_PATH),
]


class MirrorLine(FileModel):
    """The line in which a half is mirrored: vertical at x, or level at y."""

    x: Length | None = None
    y: Length | None = None

    @model_validator(mode="after")
    def _one_line(self) -> MirrorLine:
        if (self.x is None) == (self.y is None):
            raise ValueError("a mirror line is vertical or level; give either x or y")
        return self


SHAPES = ("rectangle", "circle", "slot", "polygon", "path")


class Shape(FileModel):
    """One outline: a basic shape or a path."""

    rectangle: Rectangle | None = None
    circle: Circle | None = None
    slot: Slot | None = None
    polygon: RegularPolygon | None = None
    path: Path | None = Field(default=None, description="an outline step by step; a straight line closes it")
    mirror: MirrorLine | None = Field(default=None, description="of a path: its other half is the mirror image")

    @model_validator(mode="after")
    def _one_shape(self) -> Shape:
        if sum(getattr(self, key) is not None for key in SHAPES) != 1:
            raise ValueError(f"its shape is missing or given twice; give one of {', '.join(SHAPES)}")
        if self.mirror is not None and self.path is None:
            raise ValueError("only a path can be mirrored; draw half of it as a path")
        return self


class Repeat(FileModel):
    """A shape drawn `count` times: in equal steps along a line, or round a point; k counts them from 0."""

    count: Count
    along: At | None = Field(default=None, description="step from each to the next: [x, y]")
    about: At | None = Field(default=None, description="the point in the middle: [x, y]")
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
    """A round hole; with a depth it is a socket, else right through."""

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
    """An area cleared to a depth. It may reach past the part's edge and run out there, as a dado does."""

    depth: Length


class MarkEntry(Opening):
    """A shallow line, as wide as its cutter: a shape, or a path that stays open."""

    depth: Length | None = Field(default=None, description="default: the profile's")
    closed: YesNo = Field(default=False, description="whether a path is closed")


class SeveralEntry(FileModel):
    """The keys that every kind of piece has."""

    name: Text = Field(description="name of the piece; with a count its number is added, or put in by {i + 1}")
    count: Count | None = Field(default=None, description="number of pieces; i runs from 0 to n - 1")
    when: YesOrNo | None = Field(default=None, description="made only where this holds")


class PartEntry(SeveralEntry, Shape):
    """A part cut out on the machine, in its own frame: x along the grain."""

    thickness: Length | None = Field(
        default=None, description="thickness of the boards it is cut from; default: that of the job's wood"
    )
    material: Name | None = Field(
        default=None, description="material of the boards it is cut from; default: that of the job's wood"
    )
    grain: Literal["length", "none"] = "length"
    may_mirror: YesNo = Field(default=False, description="true: it may be cut upside down")
    hole: tuple[HoleEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    opening: tuple[Opening, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    pocket: tuple[PocketEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    mark: tuple[MarkEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)


class SawnEntry(SeveralEntry):
    """A piece crosscut square off a board's end, as wide as the board or ripped to a `width` of its own."""

    length: Length
    width: Length | None = None
    thickness: Length | None = Field(
        default=None, description="thickness of the boards it is sawn off; default: that of the job's wood"
    )
    material: Name | None = Field(
        default=None, description="material of the boards it is sawn off; default: that of the job's wood"
    )
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
    """A thing to buy, and the number that an item needs."""

    name: Text
    count: Count | None = None
    when: YesOrNo | None = None


class HandHoleEntry(SeveralEntry):
    """A hole drilled by hand in a part, where the machine can't reach; `name` is the part's."""

    diameter: Length
    depth: Length | None = None
    note: Text


_Some: Any = Field(default={}, max_length=MOST_OF_A_KIND)


class DesignFile(FileModel):
    """A design file."""

    units: Literal["in", "mm"] = Field(description="unit of bare numbers in this file")
    summary: Sentence = Field(description="the thing it makes, in one line")
    parameter: Annotated[dict[str, ParameterEntry], Named] = _Some
    size: dict[Name, dict[str, object]] = Field(default={}, max_length=50, description="named sets of parameters")
    value: Annotated[dict[str, AnyFormula], Named] = _Some
    series: Annotated[dict[str, SeriesEntry], Named] = _Some
    curve: Annotated[dict[str, CurveEntry], Named] = _Some
    check: tuple[CheckEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    part: tuple[PartEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    sawn: tuple[SawnEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    rod: tuple[RodEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    strip: tuple[StripEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    bought: tuple[BoughtEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    hand_hole: tuple[HandHoleEntry, ...] = Field(default=(), max_length=MOST_OF_A_KIND)
    fact: dict[Name, Length] = Field(default={}, max_length=50, description="measures worth knowing, by name")
    warning: tuple[CheckEntry, ...] = Field(
        default=(),
        max_length=MOST_OF_A_KIND,
        description="a warning where its condition is not met; the item is still made",
    )

    @model_validator(mode="after")
    def _makes_something(self) -> DesignFile:
        if not (self.part or self.sawn or self.rod or self.strip or self.bought):
            raise ValueError("it makes nothing; add a [[part]], [[sawn]], [[rod]], [[strip]] or [[bought]]")
        return self
