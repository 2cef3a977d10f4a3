"""What plan.json says about one file, as values the sweep takes: parts as polygons, tabs, zero, cutter. mm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import shapely

from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Contour, Region, circle, polyline
from cutjob.geometry.segment import Line, Point, distance
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Cutter, Machine
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import Hole, Mark, ShapedPart
from cutjob.proof.expect import ExpectedProgram, ExpectedTab
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class PlannedProgram:
    """A file as planned, and whether its board takes other files too."""

    program: ExpectedProgram
    one_of_several: bool


_FARTHEST = 1e6  # mm; beyond it numbers are slips of the pen


def _shown(data: Any) -> str:
    """What is there instead, not at any length."""
    text = "a list" if isinstance(data, list) else "a table" if isinstance(data, Mapping) else repr(data)[:40]
    return "nothing" if data is None else text


class _Plan:
    """A plan's data, read with the path of every key, so that a message can name what is wrong."""

    def __init__(self, data: Any, path: str = "plan") -> None:
        self.data, self.path = data, path

    def fail(self, message: str) -> InputError:
        return InputError(Problem(place=self.path, message=message, advice="write the plan anew with cutjob make"))

    def __getitem__(self, key: str) -> _Plan:
        if not isinstance(self.data, Mapping) or key not in self.data:
            raise self.fail(f'has no "{key}"')
        return _Plan(self.data[key], f"{self.path}.{key}")

    def get(self, key: str) -> _Plan | None:
        value = self.data.get(key) if isinstance(self.data, Mapping) else None
        return None if value is None else _Plan(value, f"{self.path}.{key}")

    def each(self) -> list[_Plan]:
        if not isinstance(self.data, Sequence) or isinstance(self.data, str):
            raise self.fail("should be a list")
        return [_Plan(value, f"{self.path}[{number}]") for number, value in enumerate(self.data)]

    def several(self, key: str) -> list[_Plan]:
        found = self.get(key)
        return [] if found is None else found.each()

    def number(self) -> float:
        # Compared before it is converted: a whole number may be too long to be one with a point.
        if isinstance(self.data, bool) or not isinstance(self.data, (int, float)) or not abs(self.data) < _FARTHEST:
            raise self.fail(f"should be a number, not {_shown(self.data)}")
        return float(self.data)

    def positive(self) -> float:
        value = self.number()
        if value <= TOLERANCES.same_point:
            raise self.fail(f"should be more than 0, not {value:g}")
        return value

    def whole(self) -> int:
        value = self.number()
        if value != int(value) or value < 1:
            raise self.fail(f"should be a whole number from 1, not {value:g}")
        return int(value)

    def text(self) -> str:
        if not isinstance(self.data, str):
            raise self.fail(f"should be text, not {_shown(self.data)}")
        return self.data

    def point(self) -> Point:
        pair = self.each()
        if len(pair) != 2:
            raise self.fail("should be a point, [x, y]")
        return pair[0].number(), pair[1].number()

    def contour(self) -> Contour:
        points = [point.point() for point in self.each()]
        try:
            contour = polyline(points)
        except ValueError as error:
            raise self.fail(str(error)) from None
        ring = shapely.Polygon([segment.start for segment in contour.segments])
        if not ring.is_valid:
            raise self.fail("crosses or touches itself")
        if ring.area <= TOLERANCES.same_point:
            raise self.fail("encloses nothing")
        return contour


def planned_program(plan: Mapping[str, Any], file: str, machine: Machine) -> PlannedProgram:
    """Return what the plan says about `file`. Raises InputError with the place in the plan."""
    root = _Plan(plan)
    for board in root["boards"].each():
        programs = board.several("programs")
        for program in programs:
            if program["file"].text() == file:
                # A board cut in several windows or with several cutters has several files.
                return PlannedProgram(_program(program, _layout(board), file, machine), len(programs) > 1)
    raise root.fail(f"doesn't name the file {file}")


def _program(entry: _Plan, layout: BoardLayout, file: str, machine: Machine) -> ExpectedProgram:
    z_zero = entry.get("z_zero")
    zero = z_zero.text() if z_zero else machine.motion.z_zero
    if z_zero and zero not in ("stock top", "spoilboard"):
        raise z_zero.fail(f'should be "stock top" or "spoilboard", not {_shown(zero)}')
    return ExpectedProgram(
        file=file,
        board=layout,
        cutter=_cutter(entry["cutter"], machine),
        origin=entry["origin"].point(),
        stock_top_z=layout.height if zero == "spoilboard" else 0.0,
        overcut=machine.cutting.overcut,
        tabs=tuple(_tab(tab, layout) for tab in entry.several("tabs")),
    )


def _cutter(entry: _Plan, machine: Machine) -> Cutter:
    number, diameter = entry["number"].number(), entry["diameter"].positive()
    cutter = next((cutter for cutter in machine.cutter if cutter.number == number), None)
    if cutter is None:
        raise entry.fail(f"cutter {number:g} is not in the machine profile")
    if abs(cutter.diameter - diameter) > TOLERANCES.output:
        raise entry.fail(f"diameter {diameter:g} is not the profile's, {cutter.diameter:g} mm")
    return cutter


def _tab(entry: _Plan, layout: BoardLayout) -> ExpectedTab:
    placement = entry["placement"].number()
    if placement != int(placement) or not 0 <= placement < len(layout.placements):
        raise entry.fail(f"placement {placement:g} is none of the board's")
    return ExpectedTab(
        placement=int(placement),
        at=entry["at"].point(),
        width=entry["width"].positive(),
        height=entry["height"].positive(),
    )


def _layout(entry: _Plan) -> BoardLayout:
    material, stack = entry.get("material"), entry.get("stack")
    board = Board(
        name=entry["id"].text(),
        outline=entry["outline"].contour().turned(counter_clockwise=True),
        keep_outs=tuple(_keep_out(area) for area in entry.several("keep_out")),
        thickness=entry["thickness"].positive(),
        grain="none",
        material=material.text() if material else "",
        count=1,
        price=0.0,
    )
    placements = tuple(_placement(placement) for placement in entry["placements"].each())
    return BoardLayout(id=board.name, board=board, placements=placements, stack=stack.whole() if stack else 1)


def _keep_out(entry: _Plan) -> Contour:
    if isinstance(entry.data, Mapping):
        radius = entry.get("radius")
        return circle(entry["at"].point(), radius.positive()) if radius else entry["outline"].contour()
    return entry.contour()


def _placement(entry: _Plan) -> Placement:
    holes: list[Hole] = []
    marks: list[Mark] = []
    for feature in entry.several("features"):
        depth = feature.get("depth")
        deep = depth.positive() if depth else None
        if feature["op"].text() in ("bore", "drill"):
            holes.append(Hole(at=feature["at"].point(), diameter=feature["diameter"].positive(), depth=deep))
        elif feature["op"].text() == "mark":
            marks.append(Mark(path=_path(feature["path"]), depth=deep))
        else:
            raise feature.fail(f"operation {feature['op'].text()!r} is not judged")
    part = ShapedPart(
        name=entry["part"].text(),
        region=Region(entry["outline"].contour(), tuple(hole.contour() for hole in entry.several("holes"))),
        holes=tuple(holes),
        marks=tuple(marks),
        # The plan's polygons stand for curves, which the cutter kept off by as much as they may deviate.
        deviation=TOLERANCES.curve + TOLERANCES.chord,
    )
    unit, item = entry.get("unit"), entry.get("item")
    return Placement(
        part=part,
        item=item.text() if item else "",
        unit=unit.whole() if unit else 1,
        transform=Transform(),
    )


def _path(entry: _Plan) -> tuple[Line, ...]:
    points = [point.point() for point in entry.each()]
    lines = tuple(Line(a, b) for a, b in pairwise(points) if distance(a, b) > TOLERANCES.same_point)
    if not lines:
        raise entry.fail("a mark needs two different points")
    return lines
