"""A machine profile: the abilities of a kind of machine, and its cutters. Lengths mm, feeds mm/min, times s, speeds
rpm.
"""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from cutjob.files.fields import (
    LEAST_NUMBER,
    FileModel,
    KeyPath,
    MistakesError,
    Mm,
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
from cutjob.files.values import Count, Number, Text
from cutjob.parts.part import LineOperation
from cutjob.tolerances import TOLERANCES

Operation = Literal["outside cut", "inside cut", "pocket", "bore", "drill", LineOperation, "board"]
MachineKind = Literal["router", "laser", "pattern"]


# A line of the profile's own in a program: NISTIR 6556, 3.3, has plain ASCII and at most 256 characters.
Line = Annotated[str, Text(256, r"^[\x20-\x7e]+$")]
Colour = Annotated[str, Text(7, r"^#[0-9A-Fa-f]{6}$")]
Slope = Annotated[float, Number(LEAST_NUMBER, 60)]  # degrees
_COMMENT = re.compile(r"\([^)]*\)|;.*")
# Codes for settings that the program relies on (NISTIR 6556, table 5): distances, planes, feeds, offsets, program end.
_UPSETS = re.compile(r"(?<![A-Z])(?:G0*(?:10|1[89]|4[12]|5[12]|68|91|92|93|95)|M0*(?:2|30|98|99))(?![0-9])|%")


def _without_default(schema: dict[str, Any]) -> None:
    """Leave the default of 0, which means no feed, out of the schema, where a feed must be more than 0."""
    del schema["default"]


class Feed(FileModel):
    """How one cutter cuts one material. A router needs rpm, feed or chip load, plunge and depth_per_pass; a laser
    power, feed and passes; a machine that only takes drawings needs none of them.

    With a chip load, feed = rpm x flutes x chip load is worked out when the cutter is read; 0 means no feed is given.
    """

    material: Name
    source: Sentence = Field(description="where the figures come from")
    feed: Positive = Field(
        default=0.0, description="mm/min along the cut; or give chip_load", json_schema_extra=_without_default
    )
    chip_load: PositiveMm | None = Field(default=None, description="thickness one tooth takes off in one turn")
    rpm: Positive | None = Field(default=None, description="spindle speed")
    plunge: Positive | None = Field(default=None, description="mm/min straight down")
    depth_per_pass: PositiveMm | None = Field(default=None, description="greatest depth of one pass")
    ramp_degrees: Slope = Field(default=5.0, description="greatest slope of a ramp")
    stepover: Annotated[float, Number(LEAST_NUMBER, 0.5)] = Field(
        default=0.4, description="distance between passes side by side on a pocket's floor, as a share of the diameter"
    )
    power: NotNegative | None = Field(default=None, description="laser: the S word of a cut")
    passes: Annotated[int, Count(1, 100)] = Field(
        default=1, description="laser: how many times it cuts along each line"
    )
    greatest_thickness: PositiveMm | None = Field(default=None, description="laser: thicker stock is refused")
    mark_feed: Positive | None = Field(default=None, description="laser: mm/min of a mark")
    mark_power: NotNegative | None = Field(default=None, description="laser: the S word of a mark")

    @model_validator(mode="after")
    def _one_feed(self) -> Feed:
        if self.chip_load is not None and self.feed:
            raise ValueError("feed and chip_load are both given; leave one of them out")
        if self.chip_load is not None and self.rpm is None:
            raise ValueError("chip_load needs rpm beside it; add rpm, or give feed instead")
        return self


class Cutter(FileModel):
    """A router bit, a saw blade or a laser beam; for a beam or a blade the diameter is the kerf."""

    number: Annotated[int, Count(1, 99)] = Field(description="tool number in programs")
    name: Name
    diameter: PositiveMm
    cutting_length: PositiveMm = Field(default=1000.0, description="greatest depth it can cut")
    stickout: PositiveMm | None = Field(
        default=None, description="from the spindle's nut to the cutter's tip, as it is clamped"
    )
    flutes: Annotated[int, Count(1, 12)] = 2
    least_radius: PositiveMm | None = Field(
        default=None, description="of a saw's blade: radius of the tightest curve it follows; default: not checked"
    )
    only_down: YesNo = Field(default=False, description="true: a drill bit, which doesn't cut sideways")
    feed: tuple[Feed, ...] = Field(default=(), max_length=100)

    @field_validator("feed")
    @classmethod
    def _feed_from_chip_load(cls, rows: tuple[Feed, ...], info: ValidationInfo) -> tuple[Feed, ...]:
        flutes = info.data.get("flutes")
        if flutes is None:  # flutes is wrong, which is reported
            return rows
        return tuple(
            row.model_copy(update={"feed": row.rpm * flutes * row.chip_load})
            if row.chip_load is not None and row.rpm is not None
            else row
            for row in rows
        )

    @property
    def radius(self) -> float:
        """Half the diameter, mm."""
        return self.diameter / 2

    def feed_for(self, material: str) -> Feed | None:
        """The row of the feed table for a material, or None."""
        return next((row for row in self.feed if row.material == material), None)


class Travel(FileModel):
    """The machine's travel: x along the board's length, y across it, z up and down."""

    x: PositiveMm
    y: PositiveMm
    z: NotNegativeMm = 0.0
    open_ends: YesNo = Field(
        default=False, description="true: boards may stick out along x at both ends, and are cut window by window"
    )
    located_by: Literal["stop", "pins"] = Field(
        default="stop",
        description="how a long board is placed for its next window: slid along a stop, or onto two pins",
    )
    pin: PositiveMm = Field(default=6.0, description="diameter of the pins")


class Motion(FileModel):
    """How the machine moves."""

    rapid: Positive = Field(default=3000.0, description="mm/min of a rapid in x and y")
    rapid_z: Positive = Field(default=1000.0, description="mm/min of a rapid in z")
    acceleration: Positive = Field(default=300.0, description="mm/s2")
    greatest_feed: Positive = Field(default=3000.0, description="mm/min the controller accepts in a cut")
    greatest_plunge: Positive = Field(default=1000.0, description="mm/min the controller accepts straight down")
    safe_height: NotNegativeMm = Field(default=5.0, description="z of air moves above the stock's top")
    approach: PositiveMm = Field(default=1.0, description="height above the stock where rapids down end")
    z_zero: Literal["stock top", "spoilboard"] = "stock top"
    park: PointMm | None = Field(
        default=None,
        description="x and y, in a program's own coordinates, where the cutter stays at the end; default: over the "
        "corner of the board farthest from the program's zero",
    )
    corner_deviation: PositiveMm = Field(default=0.01, description="mm the controller may round a corner by")


class Spindle(FileModel):
    """The spindle, seen from above."""

    turns: Literal["clockwise", "counter-clockwise"] = "clockwise"
    least_rpm: Positive = 5000.0
    greatest_rpm: Positive = 24000.0
    seconds_to_speed: NotNegative = Field(default=3.0, description="dwell between spindle on and the first plunge")
    nose_diameter: PositiveMm | None = Field(
        default=None, description="widest part of the nut and the nose above it, kept clear of clamps and screws"
    )
    speed_word: YesNo = Field(default=True, description="false: the speed is set by a dial and no S is written")


class Controller(FileModel):
    """What the controller can read, and how its programs are written."""

    units: Literal["mm", "in"] = "mm"
    extension: Annotated[str, Text(8, r"^[A-Za-z0-9]+$")] = "nc"
    decimals: Annotated[int, Count(2, 6)] = Field(default=4, description="decimals of written coordinates")
    arcs: YesNo = Field(default=True, description="false: arcs are written as chords")
    helices: YesNo = Field(default=True, description="true: an arc may move in Z too")
    comments: Literal["brackets", "semicolon", "none"] = "brackets"
    longest_line: Annotated[int, Count(20, 256)] = Field(
        default=70, description="characters; the standard's limit is 256"
    )
    dwell: Literal["seconds", "milliseconds", "none"] = "seconds"
    percent_lines: YesNo = Field(default=False, description="open and close the file with a percent sign")
    tool_change: Literal["by hand", "changer"] = "by hand"
    tool_length: Literal["none", "table"] = Field(
        default="none", description="table: after a change G43 takes the cutter's length from the controller's table"
    )
    seconds_to_change: NotNegative = Field(default=0.0, description="how long the changer takes")
    after_change: tuple[Line, ...] = Field(
        default=(), max_length=50, description="lines after a change of cutter by the changer"
    )
    work_offset: Literal["G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"] | None = Field(
        default=None, description="the work offset of programs, stated at their start; default: not stated"
    )
    unknown_codes: tuple[Literal["G40", "G49", "G80"], ...] = Field(
        default=(),
        max_length=3,
        description="codes of a safe start to leave out because the controller doesn't know them: G40 cutter "
        "compensation off, G49 tool length off, G80 cycles off",
    )
    halts: YesNo | None = Field(
        default=None,
        description="whether a program stops (M0) at its start, so that a router with a dial can be switched on; "
        "default: where cutters are changed by hand",
    )
    start: tuple[Line, ...] = Field(default=(), max_length=50, description="lines after the units and modes")
    end: tuple[Line, ...] = Field(default=(), max_length=50, description="lines before the end of the program")
    program_end: Literal["M2", "M30"] = "M2"
    beam: Literal["constant", "follows speed"] = Field(
        default="constant", description="laser: M3 constant power, or M4 scaled with actual speed"
    )
    greatest_power: Positive = Field(default=1000.0, description="laser: the S word of full power")
    # NISTIR 6556, table 7: M7 mist coolant on, M8 flood coolant on, M9 both off.
    air_assist: dict[Literal["cut", "mark"], Literal["M7", "M8"]] = Field(
        default={},
        description="laser: the code that switches air assist on for cuts, for marks, or both, as the machine's manual "
        "says; M9 switches it off; default: the program does not switch it",
    )

    @model_validator(mode="after")
    def _upsetting_lines(self) -> Controller:
        other = re.compile(r"(?<![A-Z])G0*2[01](?![0-9])")
        own = "0" if self.units == "in" else "1"
        mistakes: list[tuple[KeyPath, str]] = []
        for key, lines in (("start", self.start), ("after_change", self.after_change), ("end", self.end)):
            for index, line in enumerate(lines):
                plain = _COMMENT.sub("", line.upper().replace(" ", ""))
                found = _UPSETS.search(plain) or next(
                    (word for word in other.finditer(plain) if not word[0].endswith(own)), None
                )
                if found is not None:
                    message = f"{found[0]} changes settings that the program relies on; leave it out"
                    mistakes.append(((key, index), message))
        if mistakes:
            raise MistakesError(mistakes)
        return self

    @model_validator(mode="after")
    def _dwells(self) -> Controller:
        if self.dwell != "none":
            return self
        dwell = re.compile(r"(?<![A-Z])G0*4(?![0-9])")
        mistakes: list[tuple[KeyPath, str]] = [
            (
                (key, index),
                'a dwell (G4), but dwell = "none" says that the controller has no dwell; leave one of them out',
            )
            for key, lines in (("start", self.start), ("after_change", self.after_change), ("end", self.end))
            for index, line in enumerate(lines)
            if dwell.search(_COMMENT.sub("", line.upper().replace(" ", "")))
        ]
        if mistakes:
            raise MistakesError(mistakes)
        return self

    @model_validator(mode="after")
    def _for_a_changer(self) -> Controller:
        given: dict[str, bool] = {"tool_length": self.tool_length != "none", "after_change": bool(self.after_change)}
        if self.tool_change != "changer" and any(given.values()):
            message = 'only a changer changes cutters in a program; set tool_change = "changer", or leave this out'
            raise MistakesError([((key,), message) for key, is_given in given.items() if is_given])
        return self


class Cutting(FileModel):
    """The shop's habits on this machine."""

    direction: Literal["climb", "conventional"] = "climb"
    overcut: NotNegativeMm = Field(default=0.0, description="depth a through cut goes into the spoilboard")
    deepest_below_stock: NotNegativeMm = Field(
        default=1.0, description="no cut goes deeper than this below the stock; the proof checks it"
    )
    web: NotNegativeMm = Field(default=1.0, description="wood left between two cuts side by side")
    edge_margin: NotNegativeMm = Field(default=1.0, description="wood between a part and the board's edge")
    least_web: PositiveMm | None = Field(
        default=None,
        description="the thinnest wood that holds within a part, between holes and openings and from them to its edge; "
        "a warning names thinner wood; default: not checked",
    )
    least_hole: PositiveMm | None = Field(
        default=None,
        description="the narrowest hole or opening that is cut; narrower ones are refused; default: not checked",
    )
    lead: NotNegativeMm = Field(default=2.0, description="greatest radius of a lead-in or lead-out arc")
    mark_depth: NotNegativeMm = Field(
        default=0.5, description="depth of marks that state none; a mark is as wide as its cutter"
    )
    pockets: Literal["outward", "along grain"] = Field(
        default="outward", description="how a pocket's floor is cleared: rings from the middle outward, or lines"
    )
    pocket_finish: NotNegativeMm = Field(
        default=0.3, description="wood left on a pocket's walls for one last pass at full depth; 0 for none"
    )
    finish: NotNegativeMm = Field(
        default=0.0, description="wood left round parts and openings for one last pass at full depth; 0 for none"
    )
    last_pass: PositiveMm | None = Field(
        default=None,
        description="depth of the last pass round a part with tabs, small so that it comes free gently: at most half "
        "of the other passes'; default: a third of the cutter's depth_per_pass",
    )
    skin: NotNegativeMm = Field(
        default=0.0, description="wood left under parts where a job asks for a skin instead of tabs"
    )
    # Common practice, no source; enough for a board of 0.692 in entered as 0.75 in.
    thickness_error: NotNegativeMm = Field(
        default=1.5, description="how much thicker or thinner than stated a board may be"
    )
    spoilboard: PositiveMm | None = Field(
        default=None, description="thickness of the spoilboard, which no screw goes through; default: not stated"
    )
    far_end_first: YesNo = Field(
        default=False, description="true: parts are cut free from the board's far end towards x 0, the fixed end"
    )


class Tabs(FileModel):
    """Bridges that hold a part in the board; the sizes are those of the wood left."""

    width: PositiveMm
    height: PositiveMm = Field(description="greatest height; never above half the board's thickness")
    every: PositiveMm = Field(default=250.0, description="about one tab per this length of outline")
    gentle_radius: PositiveMm = Field(default=40.0, description="no tab where an outline curves tighter, if possible")
    least: Annotated[int, Count(1, 50)] = Field(default=2, description="at least this many on a part")
    most: Annotated[int, Count(1, 50)] = Field(default=8, description="at most this many on a part")
    grams_each: Positive = Field(default=400.0, description="at least one tab for every this many grams of a part")
    ramp_degrees: Slope | None = Field(
        default=None, description="slope by which the cutter rises onto a tab and leaves it; none: straight up"
    )

    @model_validator(mode="before")
    @classmethod
    def _no_part_left_loose(cls, table: Any) -> Any:
        if isinstance(table, dict) and "smallest_part" in table:
            message = "small parts get tabs too, as they would come loose; leave this out"
            raise MistakesError([(("smallest_part",), message)])
        return table

    @model_validator(mode="after")
    def _ordered(self) -> Tabs:
        if self.least > self.most:
            raise ValueError(f"least {self.least} is more than most {self.most}; lower least, or raise most")
        return self


class Clamps(FileModel):
    """Clamps at the edge of a board. Sizes and spacing: common practice, no source."""

    length: PositiveMm = Field(default=40.0, description="clear waste a clamp takes along the board's edge")
    depth: PositiveMm = Field(default=25.0, description="clear waste a clamp takes from the edge inward")
    height: NotNegativeMm = Field(default=20.0, description="how far it stands above the board")
    margin: NotNegativeMm = Field(default=3.0, description="clearance between a clamp and every move of the cutter")


class Screws(FileModel):
    """Screws or pins that hold a board down through its waste; the holes for them are drilled first."""

    hole: PositiveMm = Field(description="diameter of the hole drilled for a screw; the machine needs a cutter for it")
    head: PositiveMm = Field(description="diameter of its head")
    height: NotNegativeMm = Field(description="how far its head stands above the board")
    margin: NotNegativeMm = Field(description="wood between the head and every move of the cutter")
    every: PositiveMm = Field(description="at least one within this length of the board")
    length: Annotated[tuple[PositiveMm, ...], Field(min_length=1, max_length=50), OneOrSeveral()] | None = Field(
        default=None,
        description="length of the screws at hand, from under the head to the tip: one length, or a list from which "
        "the shortest that holds is taken; default: not checked",
    )
    # Common practice, no source.
    least_bite: PositiveMm = Field(default=10.0, description="how far a screw must go into the spoilboard")

    def length_for(self, height: float, *, spoilboard: float | None) -> float | None:
        """The length of the shortest screw that holds boards `height` mm high without going through the spoilboard, mm;
        None where no screw does, or no length is stated.
        """
        fit = [
            length
            for length in self.length or ()
            if length - height >= self.least_bite - TOLERANCES.same_point
            and (spoilboard is None or length - height <= spoilboard + TOLERANCES.same_point)
        ]
        return min(fit, default=None)


class Drawing(FileModel):
    """How DXF files are written for this machine or service."""

    version: Literal["R12", "R2000"] = "R2000"
    units: Literal["mm", "in"] = "mm"
    outlines: Literal["as drawn", "offset"] = Field(
        default="as drawn", description="offset: moved by half the kerf, outward outside and inward in holes"
    )
    board: YesNo = Field(default=True, description="draw the board's own outline on its layer")
    layers: dict[Operation, Name] = Field(default={}, description="layer names of a service, by operation")
    colours: dict[Operation, Colour] = Field(
        default={}, description="colours of a service, by operation, as #rrggbb; DXF takes the nearest it has"
    )

    def rgb(self, operation: Operation) -> tuple[int, int, int] | None:
        """The colour stated for an operation, 0 to 255; None where none is."""
        text = self.colours.get(operation)
        return None if text is None else (int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16))


class Machine(FileModel):
    """A machine profile."""

    name: Name
    summary: Sentence
    kind: MachineKind = Field(description='"pattern": a band saw or a scroll saw, worked by hand along a paper pattern')
    units: Literal["mm", "in"] = Field(default="mm", description="unit of bare numbers in this file")
    writes: tuple[Literal["gcode", "dxf", "svg"], ...] = Field(
        min_length=1, description="files it takes; svg: drawings to cut from, true size in mm, beside or instead of DXF"
    )
    travel: Travel | None = Field(
        default=None, description="left out for saws, and for services that state no bed size"
    )
    motion: Motion = Motion()
    spindle: Spindle = Spindle()
    controller: Controller = Controller()
    cutting: Cutting = Cutting()
    tabs: Tabs | None = None
    clamps: Clamps = Clamps()
    screws: Screws | None = None
    drawing: Drawing = Drawing()
    saw_kerf: PositiveMm = Field(default=3.175, description="kerf of the saw that cuts sawn parts off a board")
    cutter: tuple[Cutter, ...] = Field(min_length=1, max_length=99)
    note: tuple[Sentence, ...] = Field(
        default=(), max_length=20, description="lines of advice that are copied into files"
    )

    @model_validator(mode="after")
    def _consistent(self) -> Machine:
        mistakes = [
            *self._number_mistakes(),
            *self._feed_mistakes(),
            *self._drawing_mistakes(),
            *self._blade_mistakes(),
        ]
        if self.by_hand and self.runs_gcode:
            mistakes.append((("writes",), 'a pattern machine reads no G-code; leave "gcode" out'))
        if self.runs_gcode and self.travel is None:
            mistakes.append(((), "a machine that reads G-code needs its travel; add [travel] with x, y and z"))
        if mistakes:
            raise MistakesError(mistakes)
        return self

    def _drawing_mistakes(self) -> list[tuple[KeyPath, str]]:
        holes = ("bore", "drill") if self.has_beam else ()
        message = "does nothing here: a beam cuts round holes as inside cuts; leave it out"
        named = {"layers": self.drawing.layers, "colours": self.drawing.colours}
        if self.controller.air_assist and not self.has_beam:
            return [(("controller", "air_assist"), "only a laser has air assist; leave it out")]
        return [(("drawing", key, op), message) for key, table in named.items() for op in holes if op in table]

    def _number_mistakes(self) -> list[tuple[KeyPath, str]]:
        seen: set[int] = set()
        mistakes: list[tuple[KeyPath, str]] = []
        for index, cutter in enumerate(self.cutter):
            if cutter.number in seen:
                path = ("cutter", index, "number")
                mistakes.append(
                    (path, f"another cutter has the number {cutter.number} too; give them different numbers")
                )
            seen.add(cutter.number)
        return mistakes

    def _blade_mistakes(self) -> list[tuple[KeyPath, str]]:
        message = f"does nothing here: a {self.kind} has no saw blade; leave it out"
        return [
            (("cutter", index, "least_radius"), message)
            for index, cutter in enumerate(self.cutter)
            if cutter.least_radius is not None and not self.by_hand
        ]

    def _feed_mistakes(self) -> list[tuple[KeyPath, str]]:
        mistakes: list[tuple[KeyPath, str]] = []
        for index, cutter in enumerate(self.cutter):
            seen: set[str] = set()
            for row_index, row in enumerate(cutter.feed):
                path = ("cutter", index, "feed", row_index)
                if row.material in seen:
                    mistakes.append(((*path, "material"), f'"{row.material}" has a row already; leave one of them out'))
                seen.add(row.material)
                if not self.runs_gcode:
                    continue
                missing = [] if row.feed else ["feed"]
                missing += [key for key in _NEEDED.get(self.kind, ()) if getattr(row, key) is None]
                mistakes += [
                    ((*path, key), f"is missing; a {self.kind} needs it in every row of feeds") for key in missing
                ]
        return mistakes

    @property
    def has_beam(self) -> bool:
        """Whether it cuts with a beam, as deep as its power goes, without a turning cutter."""
        return self.kind == "laser"

    @property
    def has_spindle(self) -> bool:
        """Whether it moves a turning cutter to stated depths, so that the work must be held down."""
        return self.kind == "router"

    @property
    def by_hand(self) -> bool:
        """Whether a person guides the work along a line on paper: a saw."""
        return self.kind == "pattern"

    @property
    def runs_gcode(self) -> bool:
        """Whether it runs programs."""
        return "gcode" in self.writes

    @property
    def takes_drawings(self) -> bool:
        """Whether drawings are made for it, as DXF, SVG or both."""
        return bool({"dxf", "svg"} & set(self.writes))

    @property
    def overcut(self) -> float:
        """How far a through cut goes below the stock, mm; 0 for machines without a cutter that goes down."""
        return self.cutting.overcut if self.has_spindle else 0.0

    @property
    def finish(self) -> float:
        """The wood the last pass takes off walls, mm; 0 for machines without a turning cutter."""
        return self.cutting.finish if self.has_spindle else 0.0

    @property
    def holes_clockwise(self) -> bool:
        """The direction in which the cutter goes round a hole, seen from above, for the profile's climb or conventional
        milling. It goes round parts in the other direction.
        """
        return (self.cutting.direction == "climb") != (self.spindle.turns == "clockwise")

    def through(self, height: float, *, loop: bool = False) -> float:
        """How deep a through cut goes in wood of this height, mm: a hole into the spoilboard, a
        loop down to the skin.
        """
        return height + (-self.skin if loop and self.skin else self.overcut)

    @property
    def skin(self) -> float:
        """Wood left under parts, mm; 0 where tabs hold them."""
        return self.cutting.skin if self.tabs is None else 0.0

    @property
    def materials(self) -> tuple[str, ...]:
        """Materials any cutter has a feed for, in the order of the file."""
        return tuple(dict.fromkeys(row.material for cutter in self.cutter for row in cutter.feed))


_NEEDED: dict[str, tuple[str, ...]] = {"router": ("rpm", "plunge", "depth_per_pass"), "laser": ("power",)}
__all__ = ["Clamps", "Controller", "Cutter", "Cutting", "Drawing", "Feed", "Machine", "Mm", "Motion", "Operation",
           "Screws", "Spindle", "Tabs", "Travel"]  # fmt: skip
