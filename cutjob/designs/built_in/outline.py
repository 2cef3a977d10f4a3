"""Parts from a drawing: every closed outline of a DXF or SVG file is a part, with its holes, pockets and marks.

The job says what each layer, or each colour of line, stands for. Round openings become holes, which the machine bores.
Lines of marks are cut shallow and need not be closed. Areas on layers of pockets are cleared to the layer's depth. mm.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from shapely import LineString, STRtree

from cutjob.designs.design import BuildContext, Design
from cutjob.designs.drawn_parts import Layers, depth_problems, drawn_part, layers_of
from cutjob.designs.parameter import Parameter, Values
from cutjob.drawings.drawing import Drawing, Units
from cutjob.drawings.outlines import drawn_lines, read_outlines, regions
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Segment
from cutjob.parts.part import Build, ShapedPart
from cutjob.tolerances import TOLERANCES

_Box = tuple[float, ...]
_Read = TypeVar("_Read")


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnFile:
    """The parts of a drawing, chains of marks and floors of pockets with their depths, and notes.

    `layer_of` and `deviations` are keyed by the box of a through-cut contour.
    """

    regions: tuple[Region, ...]
    mark_paths: tuple[tuple[tuple[Segment, ...], float | None], ...]
    floors: tuple[tuple[Region, float], ...]
    notes: tuple[str, ...]
    holes: tuple[str, ...]
    layer_of: Mapping[_Box, str]
    deviations: Mapping[_Box, float]

    def deviation(self, region: Region) -> float:
        """How far a part's contours may be from the drawn curves, mm."""
        # A repaired contour is taken as what the user meant, so only the fit of a curve counts here.
        found = (self.deviations.get(_box(contour), TOLERANCES.curve) for contour in region.contours)
        return min(max(found), TOLERANCES.curve)

    def is_bored(self, contour: Contour) -> bool:
        """Whether a contour is on a layer of holes."""
        return self.layer_of.get(_box(contour), "") in self.holes


def read_drawn(values: Values, context: BuildContext, *, scale: float = 1.0) -> DrawnFile:
    """Return the contents of the drawing named in `values`, `scale` times as large as drawn. Raises InputError with the
    mistakes in it, or in the job's layers.
    """
    path = context.folder / values.word("file")
    units: Units | None = None
    if values.has("units"):
        units = "in" if values.word("units") == "in" else "px" if values.word("units") == "px" else "mm"
    # Where the job gives the size of the whole drawing, its unit doesn't matter.
    unstated: Units | None = "px" if values.has("width") or values.has("height") else None
    lines = (
        ()
        if _is_plain(values)
        else _at_the_job(lambda: drawn_lines(path, units=units, unstated=unstated), path, context)
    )
    layers = _at_the_job(lambda: layers_of(values, context, lines), path, context)
    return _at_the_job(lambda: _read(path, units, unstated, layers, scale, context), path, context)


def _is_plain(values: Values) -> bool:
    return not any(values.has(key) for key in ("layers", "marks", "pockets")) or (
        values.has("layer") and not values.has("layers")
    )


def _at_the_job(read: Callable[[], _Read], path: Path, context: BuildContext) -> _Read:
    """The drawing as read; its problems get the place of the parameter in the job that asks for it."""
    try:
        return read()
    except InputError as error:
        raise InputError([_placed(problem, path, context) for problem in error.problems]) from None


def _read(
    path: Path, units: Units | None, unstated: Units | None, layers: Layers, scale: float, context: BuildContext
) -> DrawnFile:
    def of(names: tuple[str, ...] | None, *, open_too: bool = False) -> Drawing:
        return read_outlines(
            path,
            units=units,
            unstated=unstated,
            layers=names,
            open_layers=names or () if open_too else (),
            colours=layers.colours,
            scale=scale,
        )

    marks: list[tuple[tuple[Segment, ...], float | None]] = []
    notes: list[str] = []
    for name, depth in layers.marks:
        lines = of((name,), open_too=True)
        marks += [(drawn.segments, depth) for drawn in lines.open_paths]
        marks += [(drawn.contour.segments, depth) for drawn in lines.contours]
        notes += lines.notes
    floors = [(region, name, depth) for name, depth in layers.floors for region in regions(of((name,)))]
    through = of(layers.through)
    used = tuple(f'on layer "{name}"' for name in layers.not_through)
    left_out = [words for words in through.ignored if not words.endswith(used)]
    whole = [*through.notes, *notes, *map(_left_out, left_out)]
    layer_of = {_box(drawn.contour): drawn.layer for drawn in through.contours}
    deviations: dict[_Box, float] = {}
    for drawn in through.contours:
        box = _box(drawn.contour)
        deviations[box] = max(drawn.deviation, deviations.get(box, 0.0))
    parts = regions(through)
    problems = [*_not_inside(parts, layers, layer_of, context), *_not_round(parts, floors, layers, layer_of, context)]
    if problems:
        raise InputError(problems)
    return DrawnFile(
        regions=parts,
        mark_paths=tuple(marks),
        floors=tuple((region, depth) for region, _, depth in floors),
        notes=tuple(f"{path.name}: {note}" for note in whole),
        holes=layers.holes,
        layer_of=layer_of,
        deviations=deviations,
    )


def _not_inside(
    parts: tuple[Region, ...], layers: Layers, layer_of: Mapping[_Box, str], context: BuildContext
) -> list[Problem]:
    """A problem for an opening or a hole outside every part, which would be cut out as a part."""
    problems = []
    for part in parts:
        name = layer_of.get(_box(part.outline), "")
        if name in (*layers.openings, *layers.holes):
            x, y, _, _ = part.bounds
            message = f'the shape on "{name}" at x {context.length(x)}, y {context.length(y)} is in no part'
            advice = 'draw it within an outline, or name it an outline with = "outline"'
            problems.append(context.problem("layers", message, advice))
    return problems


def _not_round(
    parts: tuple[Region, ...],
    floors: list[tuple[Region, str, float]],
    layers: Layers,
    layer_of: Mapping[_Box, str],
    context: BuildContext,
) -> list[Problem]:
    asked = [(layer_of.get(_box(contour), ""), contour) for part in parts for contour in part.holes]
    bored = [(name, contour) for name, contour in asked if name in layers.holes]
    bored += [(name, contour) for floor, name, _ in floors if name in layers.sockets for contour in floor.contours]
    problems = []
    for name, contour in bored:
        if contour.circle() is None:
            x, y, _, _ = contour.bounds
            message = f'the shape on "{name}" at x {context.length(x)}, y {context.length(y)} is not round'
            advice = 'draw holes as circles, or name it an "opening" or a pocket'
            problems.append(context.problem("layers", message, advice))
    return problems


def _left_out(words: str) -> str:
    advice = "; turn it into paths in the drawing program to have it cut" if "text" in words.split() else ""
    return f"{words} was left out{advice}"


def _box(contour: Contour) -> _Box:
    # To a thousandth of a micrometre, as a reversed contour may differ in its last digits.
    return tuple(round(value, 6) for value in contour.bounds)


def _placed(problem: Problem, path: Path, context: BuildContext) -> Problem:
    """A problem of the drawing, at its own line, or without one at the line of the job that names the drawing."""
    if problem.place.startswith(f'make "{context.name}"'):
        return problem
    asked = context.problem("file", problem.message, problem.advice)
    own_line = problem.location is not None and problem.location.line is not None
    name = "" if own_line else path.name  # the location names it
    place = ": ".join(word for word in (asked.place, name, problem.place) if word)
    return replace(problem, place=place, location=problem.location if own_line else asked.location)


_LEAST_SCALE, _GREATEST_SCALE = 0.001, 1000.0


def build_outline(values: Values, context: BuildContext) -> Build:
    """Return the parts of the drawing. Raises InputError with all mistakes in it, and in the job's
    parameters for it.
    """
    problems = depth_problems(values, context)
    if problems:
        raise InputError(problems)
    drawn = read_drawn(values, context)
    scale = _scale(values, drawn, context)
    if scale > 1:
        # The error of curves fitted at the drawn size would be multiplied by the scale.
        drawn, scale = read_drawn(values, context, scale=scale), 1.0
    owners = _owners([path for path, _ in drawn.mark_paths], drawn.regions)
    lost = [path for (path, _), owner in zip(drawn.mark_paths, owners, strict=True) if owner is None]
    if lost:
        x, y = lost[0][0].start
        count = "a mark is" if len(lost) == 1 else f"{len(lost)} marks are"
        message = f"{count} not wholly on a part; the first starts at x {context.length(x)}, y {context.length(y)}"
        raise InputError(context.problem(_key("marks", values), message, "draw marks within a part, from end to end"))
    hosts = _hosts([floor for floor, _ in drawn.floors], drawn.regions)
    loose = [floor for (floor, _), host in zip(drawn.floors, hosts, strict=True) if host is None]
    if loose:
        x, y, _, _ = loose[0].bounds
        message = f"a pocket at x {context.length(x)}, y {context.length(y)} is on no part"
        advice = "draw pockets on the part they belong to"
        raise InputError(context.problem(_key("pockets", values), message, advice))
    marks_on, floors_on = _by_part(drawn.mark_paths, owners), _by_part(drawn.floors, hosts)
    parts = []
    for index, region in enumerate(drawn.regions):
        part = drawn_part(
            region,
            scale=scale,
            deviation=drawn.deviation(region),
            mark_paths=marks_on.get(index, []),
            floors=floors_on.get(index, []),
            bored=[contour for contour in region.holes if drawn.is_bored(contour)],
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


def _key(name: str, values: Values) -> str:
    return "layers" if values.has("layers") else name


def _owners(paths: Sequence[Sequence[Segment]], parts: Sequence[Region]) -> list[int | None]:
    """For each chain the first part that contains its whole length, if any."""
    lines = [
        LineString([path[0].start, *(point for segment in path for point in segment.chords(TOLERANCES.chord))])
        for path in paths
    ]
    found: list[int | None] = [None] * len(lines)
    if not lines:
        return found
    tree = STRtree([to_polygon(part).buffer(TOLERANCES.chord) for part in parts])
    for line, part in sorted(zip(*tree.query(lines, predicate="within").tolist(), strict=True)):
        if found[line] is None:
            found[line] = part
    return found


def _hosts(floors: Sequence[Region], parts: Sequence[Region]) -> list[int | None]:
    """For each floor the part that contains most of it, if any."""
    found: list[int | None] = [None] * len(floors)
    most = [0.0] * len(floors)
    if not floors:
        return found
    areas, wholes = ([to_polygon(region.outline) for region in each] for each in (floors, parts))
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


def _scale(values: Values, drawn: DrawnFile, context: BuildContext) -> float:
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
            help="unit of the drawing; px is 1/96 of an inch; default: the unit that the file names",
            choices=("in", "mm", "px"),
        ),
        Parameter(
            name="scale",
            kind="number",
            help="size of the parts, as a multiple of the drawn size",
            least=_LEAST_SCALE,
            greatest=_GREATEST_SCALE,
        ),
        Parameter(name="width", kind="length", help="wanted width of the whole drawing", least=1.0, greatest=10000.0),
        Parameter(name="height", kind="length", help="wanted height of the whole drawing", least=1.0, greatest=10000.0),
        Parameter(
            name="layers",
            kind="layers",
            help="meaning of the lines of each layer, or colour: outline, opening, hole, mark, pocket or ignore; "
            "pockets "
            "need a depth, holes and marks may have one",
            least=0.05,
            greatest=200.0,
        ),
        Parameter(
            name="layer", kind="text", help="layer of the outlines; default: all layers but those of marks and pockets"
        ),
        Parameter(
            name="pockets",
            kind="depths",
            help="layers of pockets, each with its depth: areas, dados that may run past the edge, counterbores",
            least=0.05,
            greatest=200.0,
        ),
        Parameter(name="marks", kind="text", help="layer of lines that are cut shallow and need not be closed"),
        Parameter(
            name="mark_depth", kind="length", help="depth of the marks; default: the machine's", least=0.05, greatest=50
        ),
        Parameter(name="mirror", kind="yes_no", help="true: parts may be cut with the other face up", default=False),
        Parameter(
            name="grain",
            kind="choice",
            help="length: the drawing's x is along the grain; none: the parts may be turned any way",
            choices=("length", "none"),
            default="length",
        ),
    ),
    # Three quarters of the drawn size, the drawn size, and half as large again.
    sizes={"small": {"scale": 0.75}, "medium": {"scale": 1.0}, "large": {"scale": 1.5}},
    build=build_outline,
    either=(("scale", "width", "height"), ("layers", "layer"), ("layers", "marks"), ("layers", "pockets")),
    unit="in",
    takes_round_mm=True,
)
