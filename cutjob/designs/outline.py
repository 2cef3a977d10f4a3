"""Parts drawn elsewhere: every closed outline of a DXF or SVG file is a part, with its holes, pockets and marks.

Round holes become holes of the machine's own making; what lies on the layer of marks is cut shallow and may stay open,
what lies on layers of pockets is cleared to their depth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from shapely import LineString, STRtree

from cutjob.designs.design import BuildContext, Design
from cutjob.designs.drawn_parts import drawn_part
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Segment
from cutjob.job.drawing import Drawing, Units
from cutjob.job.drawing_dxf import read_dxf
from cutjob.job.drawing_svg import read_svg
from cutjob.job.outlines import read_outlines, regions
from cutjob.parts.part import Build, ShapedPart
from cutjob.tolerances import TOLERANCES

_LEAST_SCALE, _GREATEST_SCALE = 0.001, 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    outlines: Drawing
    regions: tuple[Region, ...]
    mark_paths: tuple[tuple[Segment, ...], ...]
    floors: tuple[tuple[Region, float], ...]
    notes: tuple[str, ...]


def build_outline(values: Values, context: BuildContext) -> Build:
    """Return the parts of the drawing. Raises InputError with all that is wrong in it, or with what is asked of it."""
    mark_depth = values.number("mark_depth") if values.has("mark_depth") else None
    problems = []
    if mark_depth is not None and not values.has("marks"):
        problems.append(context.problem("mark_depth", "is given without marks", "say on which layer with marks"))
    elif mark_depth is not None and mark_depth >= context.thickness:
        message = f"{context.length(mark_depth)} goes through boards {context.length(context.thickness)} thick"
        problems.append(context.problem("mark_depth", message, "a mark is shallow"))
    problems += [
        context.problem(
            "pockets",
            f'layer "{layer}": {context.length(depth)} goes through boards {context.length(context.thickness)} thick',
            "leave wood under it, or draw it as an opening",
        )
        for layer, depth in values.depths("pockets")
        if depth >= context.thickness
    ]
    if problems:
        raise InputError(problems)
    drawn = _read(values, context)
    scale = _scale(values, drawn, context)
    if scale > 1:
        # Curves fitted at the drawn size would lie off by as many times more.
        drawn, scale = _read(values, context, scale=scale), 1.0
    owners = _owners(drawn.mark_paths, drawn.regions)
    lost = [path for path, owner in zip(drawn.mark_paths, owners, strict=True) if owner is None]
    if lost:
        x, y = lost[0][0].start
        count = "a mark lies" if len(lost) == 1 else f"{len(lost)} marks lie"
        message = f"{count} on no part, or leave it; the first starts at x {context.length(x)}, y {context.length(y)}"
        raise InputError(context.problem("marks", message, "draw marks wholly within a part"))
    hosts = _hosts([floor for floor, _ in drawn.floors], drawn.regions)
    loose = [floor for (floor, _), host in zip(drawn.floors, hosts, strict=True) if host is None]
    if loose:
        x, y, _, _ = loose[0].bounds
        message = f"one at x {context.length(x)}, y {context.length(y)} lies on no part"
        raise InputError(context.problem("pockets", message, "draw pockets on the part they are cut into"))
    marks_on, floors_on = _by_part(drawn.mark_paths, owners), _by_part(drawn.floors, hosts)
    deviations = _deviations(drawn.outlines)
    parts = []
    for index, region in enumerate(drawn.regions):
        part = drawn_part(
            region,
            scale=scale,
            # What was mended is taken as meant, so it counts no more than the fit of a curve does.
            deviation=min(
                max(deviations.get(_box(contour), TOLERANCES.curve) for contour in region.contours), TOLERANCES.curve
            ),
            mark_paths=marks_on.get(index, []),
            mark_depth=mark_depth,
            floors=floors_on.get(index, []),
        )
        parts.append(
            ShapedPart(
                name=f"outline {index + 1}",
                region=part.region,
                holes=part.holes,
                pockets=part.pockets,
                marks=part.marks,
                grain="none" if values.word("grain") == "none" else "length",
                may_mirror=values.yes("mirror"),
                deviation=part.deviation,
            )
        )
    return Build(shaped=tuple(parts), warnings=drawn.notes)


def _read(values: Values, context: BuildContext, *, scale: float = 1.0) -> _Drawn:
    path = context.folder / values.word("file")
    units: Units | None = None
    if values.has("units"):
        units = "in" if values.word("units") == "in" else "mm"
    layer, marks = (values.word(key) if values.has(key) else None for key in ("layer", "marks"))
    floors = values.depths("pockets")
    double = [name for name, _ in floors if name in (layer, marks)]
    if double:
        raise InputError(context.problem("pockets", f'layer "{double[0]}" can\'t hold both', "part them"))
    if marks is not None and marks == layer:
        raise InputError(context.problem("marks", f'layer "{marks}" can\'t hold both outlines and marks', "part them"))
    try:
        lines = (
            None
            if marks is None
            else read_outlines(path, units=units, layers=[marks], open_layers=[marks], scale=scale)
        )
        sunk = [
            (region, depth)
            for name, depth in floors
            for region in regions(read_outlines(path, units=units, layers=[name], scale=scale))
        ]
        layers = [layer] if layer is not None else None
        if (lines is not None or floors) and layers is None:
            others = {marks, *(name for name, _ in floors)}
            layers = [name for name in _layers(path, units) if name not in others]
            if not layers:
                raise InputError(Problem(message="holds no outlines, only layers of marks or pockets"))
        outlines = read_outlines(path, units=units, layers=layers, scale=scale)
    except InputError as error:
        raise InputError([_placed(problem, path, context) for problem in error.problems]) from None
    used = [f'on layer "{name}"' for name in (marks, *(name for name, _ in floors)) if name is not None]
    left_out = [words for words in outlines.ignored if not words.endswith(tuple(used))]
    notes = [*outlines.notes, *(lines.notes if lines else ()), *(f"{words} was left out" for words in left_out)]
    paths = [drawn.segments for drawn in lines.open_paths] if lines else []
    paths += [drawn.contour.segments for drawn in lines.contours] if lines else []
    return _Drawn(
        outlines=outlines,
        regions=regions(outlines),
        mark_paths=tuple(paths),
        floors=tuple(sunk),
        notes=tuple(f"{path.name}: {note}" for note in notes),
    )


def _deviations(drawing: Drawing) -> dict[tuple[float, ...], float]:
    """How far the contours may lie from the curves drawn, by their boxes: the larger where these are alike."""
    found: dict[tuple[float, ...], float] = {}
    for each in drawing.contours:
        box = _box(each.contour)
        found[box] = max(each.deviation, found.get(box, 0.0))
    return found


def _box(contour: Contour) -> tuple[float, ...]:
    # To a thousandth of a micrometre, as a contour turned round may differ in its last digits.
    return tuple(round(value, 6) for value in contour.bounds)


def _owners(paths: Sequence[Sequence[Segment]], parts: Sequence[Region]) -> list[int | None]:
    """For each chain the first of the parts it lies in with its whole length, if any."""
    lines = [
        LineString([path[0].start, *(point for segment in path for point in segment.chords(TOLERANCES.chord))])
        for path in paths
    ]
    tree = STRtree([to_polygon(part).buffer(TOLERANCES.chord) for part in parts])
    found: list[int | None] = [None] * len(lines)
    if not lines:
        return found
    for line, part in sorted(zip(*tree.query(lines, predicate="within").tolist(), strict=True)):
        if found[line] is None:
            found[line] = part
    return found


def _hosts(floors: Sequence[Region], parts: Sequence[Region]) -> list[int | None]:
    """For each floor the part that most of it lies on, if any."""
    areas, wholes = ([to_polygon(region.outline) for region in each] for each in (floors, parts))
    found: list[int | None] = [None] * len(areas)
    most = [0.0] * len(areas)
    if not areas:
        return found
    for floor, part in sorted(zip(*STRtree(wholes).query(areas).tolist(), strict=True)):
        share = wholes[part].intersection(areas[floor]).area
        if share > most[floor]:
            found[floor], most[floor] = part, share
    return found


T = TypeVar("T")


def _by_part(things: Sequence[T], parts: Sequence[int | None]) -> dict[int, list[T]]:
    found: dict[int, list[T]] = {}
    for thing, part in zip(things, parts, strict=True):
        if part is not None:
            found.setdefault(part, []).append(thing)
    return found


def _layers(path: Path, units: Units | None) -> list[str]:
    """The layers with lines, in the order of the file, which has been read once without a mistake."""
    found = read_dxf(path, units=units) if path.suffix.lower() == ".dxf" else read_svg(path, units=units)
    return list(dict.fromkeys(shape.layer for shape in found.shapes))


def _placed(problem: Problem, path: Path, context: BuildContext) -> Problem:
    """A problem of the drawing, told at its own line, or where the drawing is asked for when it has none."""
    asked = context.problem("file", problem.message, problem.advice)
    own_line = problem.location is not None and problem.location.line is not None
    name = "" if own_line else path.name  # the location names it
    place = ": ".join(word for word in (asked.place, name, problem.place) if word)
    return replace(problem, place=place, location=problem.location if own_line else asked.location)


def _scale(values: Values, drawn: _Drawn, context: BuildContext) -> float:
    if values.has("scale"):
        return values.number("scale")
    key = "width" if values.has("width") else "height" if values.has("height") else ""
    if not key:
        return 1.0
    boxes = [region.bounds for region in drawn.regions]
    axis = 0 if key == "width" else 1
    extent = max(box[axis + 2] for box in boxes) - min(box[axis] for box in boxes)
    scale = values.number(key) / extent
    if not _LEAST_SCALE <= scale <= _GREATEST_SCALE:
        message = (
            f"{context.length(values.number(key))} is {scale:.4g} times the drawing's {key}, {context.length(extent)}"
        )
        advice = f"between {_LEAST_SCALE:g} and {_GREATEST_SCALE:g} times; check the drawing's units"
        raise InputError(context.problem(key, message, advice))
    return scale


OUTLINE = Design(
    name="outline",
    summary="parts from the closed outlines of a DXF or SVG file",
    parameters=(
        Parameter(name="file", kind="text", help="path of the drawing, from the folder of the job file", required=True),
        Parameter(
            name="units",
            kind="choice",
            help="what one unit of the drawing is; default: what the file says",
            choices=("in", "mm"),
        ),
        Parameter(
            name="scale", kind="number", help="times the drawn size", least=_LEAST_SCALE, greatest=_GREATEST_SCALE
        ),
        Parameter(
            name="width", kind="length", help="wanted width of all the drawing holds", least=1.0, greatest=10000.0
        ),
        Parameter(
            name="height", kind="length", help="wanted height of all the drawing holds", least=1.0, greatest=10000.0
        ),
        Parameter(name="layer", kind="text", help="layer of the outlines; default: all but those of marks and pockets"),
        Parameter(
            name="pockets",
            kind="depths",
            help="layers of pockets, each with its depth: areas, dadoes that may reach past the edge, counterbores",
            least=0.05,
            greatest=200.0,
        ),
        Parameter(name="marks", kind="text", help="layer of lines that are cut shallow and may stay open"),
        Parameter(
            name="mark_depth", kind="length", help="depth of the marks; default: the machine's", least=0.05, greatest=50
        ),
        Parameter(name="mirror", kind="yes_no", help="true: parts may be cut with the other face up", default=False),
        Parameter(
            name="grain",
            kind="choice",
            help="length: the drawing's x lies along the grain; none: any way",
            choices=("length", "none"),
            default="length",
        ),
    ),
    # Three quarters of the drawn size, the drawn size, and half as large again.
    sizes={"small": {"scale": 0.75}, "medium": {"scale": 1.0}, "large": {"scale": 1.5}},
    build=build_outline,
    either=(("scale", "width", "height"),),
)
