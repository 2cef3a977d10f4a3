"""Parts drawn elsewhere: every closed outline of a DXF or SVG file is a part, with its holes, pockets and marks.

Round holes become holes of the machine's own making; what lies on the layer of marks is cut shallow and may stay open,
what lies on layers of pockets is cleared to their depth. What each layer, or each colour of line, stands for is told by
the job.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from shapely import LineString, STRtree

from cutjob.designs.design import BuildContext, Design
from cutjob.designs.drawing_layers import depth_problems
from cutjob.designs.drawn_file import DrawnFile, read_drawn
from cutjob.designs.drawn_parts import drawn_part
from cutjob.designs.parameter import Parameter, Values
from cutjob.errors import InputError
from cutjob.geometry.contour import Region
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Segment
from cutjob.parts.part import Build, ShapedPart
from cutjob.tolerances import TOLERANCES

_LEAST_SCALE, _GREATEST_SCALE = 0.001, 1000.0


def build_outline(values: Values, context: BuildContext) -> Build:
    """Return the parts of the drawing. Raises InputError with all that is wrong in it, or with what is asked of it."""
    problems = depth_problems(values, context)
    if problems:
        raise InputError(problems)
    drawn = read_drawn(values, context)
    scale = _scale(values, drawn, context)
    if scale > 1:
        # Curves fitted at the drawn size would lie off by as many times more.
        drawn, scale = read_drawn(values, context, scale=scale), 1.0
    owners = _owners([path for path, _ in drawn.mark_paths], drawn.regions)
    lost = [path for (path, _), owner in zip(drawn.mark_paths, owners, strict=True) if owner is None]
    if lost:
        x, y = lost[0][0].start
        count = "a mark lies" if len(lost) == 1 else f"{len(lost)} marks lie"
        message = f"{count} on no part, or leave it; the first starts at x {context.length(x)}, y {context.length(y)}"
        raise InputError(context.problem(_key("marks", values), message, "draw marks wholly within a part"))
    hosts = _hosts([floor for floor, _ in drawn.floors], drawn.regions)
    loose = [floor for (floor, _), host in zip(drawn.floors, hosts, strict=True) if host is None]
    if loose:
        x, y, _, _ = loose[0].bounds
        message = f"one at x {context.length(x)}, y {context.length(y)} lies on no part"
        advice = "draw pockets on the part they are cut into"
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
    """For each chain the first of the parts it lies in with its whole length, if any."""
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
    """For each floor the part that most of it lies on, if any."""
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
        Parameter(
            name="layers",
            kind="layers",
            help="what the lines of each layer, or colour, are: outline, opening, hole, mark, pocket or ignore, the "
            "pockets, and holes and marks if wanted, with their depth",
            least=0.05,
            greatest=200.0,
        ),
        Parameter(name="layer", kind="text", help="layer of the outlines; default: all but those of marks and pockets"),
        Parameter(
            name="pockets",
            kind="depths",
            help="layers of pockets, each with its depth: areas, dados that may reach past the edge, counterbores",
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
    either=(("scale", "width", "height"), ("layers", "layer"), ("layers", "marks"), ("layers", "pockets")),
)
