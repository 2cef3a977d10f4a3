"""Turns regions and marks of a drawing into parts: scaled, each moved to its own origin, round cutouts made holes.

It also works out what to cut for the lines of each layer, or colour, as the job says in `layers`, or in `layer`,
`marks` and `pockets`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from cutjob.designs.design import BuildContext
from cutjob.designs.parameter import Depth, LayerUse, Values
from cutjob.drawings.drawing import colour_of
from cutjob.errors import InputError, Problem
from cutjob.files.values import did_you_mean
from cutjob.geometry.contour import Contour, Region, closed
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance
from cutjob.parts.part import Counterbore, Hole, Mark, Pocket
from cutjob.tolerances import TOLERANCES

ColouredLine = tuple[str, str]  # the layer and the colour of a line
_MOST_NAMED = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """The layers of each use. `outlines` is None for a drawing of outlines only; depths are in mm, None for the
    profile's.

    A line in one of `colours` counts as drawn on the layer named there. A contour on `openings` or `holes` must be in a
    part, and a contour on `holes` or `sockets` (floors) must be round.
    """

    outlines: tuple[str, ...] | None
    openings: tuple[str, ...] = ()
    holes: tuple[str, ...] = ()
    marks: tuple[tuple[str, float | None], ...] = ()
    floors: tuple[Depth, ...] = ()
    sockets: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()
    colours: Mapping[str, str] = field(default_factory=dict)

    @property
    def through(self) -> tuple[str, ...] | None:
        """The layers of contours cut through; None for all layers."""
        return None if self.outlines is None else (*self.outlines, *self.openings, *self.holes)

    @property
    def not_through(self) -> tuple[str, ...]:
        """The layers that the job says are not cut through."""
        return (*(name for name, _ in self.marks), *(name for name, _ in self.floors), *self.ignored)


def depth_problems(values: Values, context: BuildContext) -> list[Problem]:
    """The problems with the job's depths, before the drawing is read."""
    thick = context.thickness
    mark_depth = values.number("mark_depth") if values.has("mark_depth") else None
    problems = []
    has_marks = values.has("marks") or any(one.use == "mark" for one in values.layers("layers"))
    if mark_depth is not None and not has_marks:
        problems.append(context.problem("mark_depth", "is given without marks", "name their layer in marks"))
    elif mark_depth is not None and mark_depth >= thick:
        message = f"{context.length(mark_depth)} goes through boards {context.length(thick)} thick"
        problems.append(context.problem("mark_depth", message, "make it shallower"))
    asked = [("pockets", layer, depth) for layer, depth in values.depths("pockets")]
    asked += [("layers", one.layer, one.depth) for one in values.layers("layers") if one.depth is not None]
    problems += [
        context.problem(
            key,
            f'layer "{layer}": {context.length(depth)} goes through boards {context.length(thick)} thick',
            "make it shallower, or draw it as an opening",
        )
        for key, layer, depth in asked
        if depth >= thick
    ]
    return problems


def layers_of(values: Values, context: BuildContext, lines: Sequence[ColouredLine]) -> Layers:
    """Return the use of each layer of a drawing with these `lines`. Raises InputError for names that match no lines,
    for lines that match no name, and for layers with two uses.
    """
    if values.has("layers"):
        return _by_use(values, context, lines)
    layer, marks = (values.word(key) if values.has(key) else None for key in ("layer", "marks"))
    floors = values.depths("pockets")
    double = [name for name, _ in floors if name in (layer, marks)]
    if double:
        raise InputError(context.problem("pockets", f'layer "{double[0]}" can\'t hold both', "draw them on two layers"))
    if marks is not None and marks == layer:
        raise InputError(
            context.problem("marks", f'layer "{marks}" can\'t hold both outlines and marks', "use two layers")
        )
    outlines: tuple[str, ...] | None = (layer,) if layer is not None else None
    if outlines is None and (marks is not None or floors):
        others = {marks, *(name for name, _ in floors)}
        outlines = tuple(name for name in dict.fromkeys(name for name, _ in lines) if name not in others)
        if not outlines:
            raise InputError(Problem(message="has no outlines, only marks or pockets"))
    mark_depth = values.number("mark_depth") if values.has("mark_depth") else None
    return Layers(outlines=outlines, marks=() if marks is None else ((marks, mark_depth),), floors=floors)


def _by_use(values: Values, context: BuildContext, lines: Sequence[ColouredLine]) -> Layers:
    uses = {one.layer: one for one in values.layers("layers")}
    present = {layer for layer, _ in lines}
    drawn = [name for name in uses if name not in present and _is_drawn(colour_of(name), lines)]
    colours = {colour_of(name): name for name in reversed(drawn)}
    twice = [(colours[colour_of(name)], name) for name in drawn if name not in colours.values()]
    if twice:
        # Other mistakes with these lines depend on which of the two colours is meant.
        raise InputError(
            context.problem("layers", f'"{one}" and "{other}" are the same colour', "keep one of them")
            for one, other in twice
        )
    problems = [*_unmatched(uses, colours, lines, context), *_unnamed(uses, colours, lines, context)]
    problems += _named_twice(uses, colours, lines, context)
    if not any(one.use == "outline" for one in uses.values()):
        message, advice = "no layer holds outlines", 'name the layer of the parts with = "outline"'
        problems.append(context.problem("layers", message, advice))
    if problems:
        raise InputError(problems)
    # Where all lines of a layer are also named by colour, the colours count.
    left = {layer for layer, colour in lines if colour not in colours} | set(colours.values())
    uses = {name: one for name, one in uses.items() if name in left}
    mark_depth = values.number("mark_depth") if values.has("mark_depth") else None

    def names(use: str) -> tuple[str, ...]:
        return tuple(name for name, one in uses.items() if one.use == use and one.depth is None)

    sunk = [one for one in uses.values() if one.depth is not None and one.use != "mark"]
    return Layers(
        outlines=names("outline"),
        openings=names("opening"),
        holes=names("hole"),
        marks=tuple((one.layer, one.depth or mark_depth) for one in uses.values() if one.use == "mark"),
        floors=tuple((one.layer, one.depth) for one in sunk if one.depth is not None),
        sockets=tuple(one.layer for one in sunk if one.use == "hole"),
        ignored=names("ignore"),
        colours=colours,
    )


def _is_drawn(colour: str, lines: Iterable[ColouredLine]) -> bool:
    return colour != "" and any(colour == there for _, there in lines)


def _unmatched(
    uses: Mapping[str, LayerUse], colours: Mapping[str, str], lines: Sequence[ColouredLine], context: BuildContext
) -> list[Problem]:
    layers = dict.fromkeys(layer for layer, _ in lines)
    drawn = [colour for colour in dict.fromkeys(colour for _, colour in lines) if colour]
    if not layers:
        return [context.problem("layers", "the drawing has no lines that could be cut", "draw the parts' outlines")]
    has = f"the drawing has lines on {_listed(layers)}" + (f", in {_listed(drawn)}" if drawn else "")
    return [
        context.problem(
            "layers",
            f'no line is on a layer, or in a colour, "{name}"',
            f"{did_you_mean(name, layers)} {has}".lstrip(),
        )
        for name in uses
        if name not in layers and name not in colours.values()
    ]


def _unnamed(
    uses: Mapping[str, LayerUse], colours: Mapping[str, str], lines: Sequence[ColouredLine], context: BuildContext
) -> list[Problem]:
    left = [(layer, colour) for layer, colour in lines if layer not in uses and colour not in colours]
    if not left:
        return []
    where = dict.fromkeys(f'"{layer}"' + (f" in {colour}" if colours and colour else "") for layer, colour in left)
    message = f"the lines on {_joined(where)} have no use"
    return [context.problem("layers", message, 'name their layer or colour too; "ignore" leaves them out')]


def _named_twice(
    uses: Mapping[str, LayerUse], colours: Mapping[str, str], lines: Sequence[ColouredLine], context: BuildContext
) -> list[Problem]:
    return [
        context.problem(
            "layers",
            f'lines on layer "{layer}" in colour "{colours[colour]}" have two uses',
            "name only the layer or only the colour, or draw them on a layer of their own",
        )
        for layer, colour in lines
        if layer in uses and colour in colours and uses[layer][1:] != uses[colours[colour]][1:]
    ]


def _listed(names: Iterable[str]) -> str:
    return _joined(f'"{name}"' for name in names)


def _joined(words: Iterable[str]) -> str:
    words = list(words)
    return ", ".join(words[:_MOST_NAMED]) + (" and more" if len(words) > _MOST_NAMED else "")


# Round openings wider than this (mm, a palm's width) have room for other parts and leave a piece of waste. So they are
# cut out along their edge instead of bored.
LARGEST_HOLE = 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPart:
    """A part of a drawing in its own frame, with the lower left of its bounding box at the origin, mm."""

    region: Region
    holes: tuple[Hole, ...]
    pockets: tuple[Pocket, ...]
    marks: tuple[Mark, ...]
    deviation: float


def drawn_part(
    region: Region,
    *,
    scale: float,
    deviation: float,
    mark_paths: Sequence[tuple[tuple[Segment, ...], float | None]],
    floors: Sequence[tuple[Region, float]] = (),
    bored: Sequence[Contour] = (),
) -> DrawnPart:
    """Return the part of a region of the drawing, `scale` times as large. Its marks are chains with their depths, mm
    (None for the profile's), its `floors` areas with their depths.

    A cutout that is exactly a circle becomes a round hole where it is narrow enough or one of those to be `bored`. A
    round floor becomes a hole of its depth: a counterbore, where a through hole has the same middle. `deviation` is
    that of the drawn contours.
    """
    x, y, _, _ = region.bounds
    holes: list[Hole] = []
    cutouts: list[Contour] = []
    for contour in region.holes:
        moved = _scaled_contour(contour, scale, (x, y))
        found = contour.circle()
        if found is None or (2 * found[1] * scale > LARGEST_HOLE and contour not in bored):
            cutouts.append(moved)
        else:
            (cx, cy), radius = found
            holes.append(Hole(at=((cx - x) * scale, (cy - y) * scale), diameter=2 * radius * scale))
    pockets: list[Pocket] = []
    for floor, depth in floors:
        found = floor.outline.circle() if not floor.holes else None
        if found is None or 2 * found[1] * scale > LARGEST_HOLE:
            contours = [_scaled_contour(contour, scale, (x, y)) for contour in floor.contours]
            pockets.append(Pocket(region=Region(contours[0], tuple(contours[1:])), depth=depth))
            continue
        (cx, cy), radius = found
        _sink(holes, ((cx - x) * scale, (cy - y) * scale), 2 * radius * scale, depth)
    return DrawnPart(
        pockets=tuple(pockets),
        region=Region(_scaled_contour(region.outline, scale, (x, y)), tuple(cutouts)),
        holes=tuple(holes),
        marks=tuple(
            Mark(path=tuple(_scaled(segment, scale, (x, y)) for segment in path), depth=depth)
            for path, depth in mark_paths
        ),
        deviation=deviation * scale,
    )


def _sink(holes: list[Hole], at: Point, diameter: float, depth: float) -> None:
    """Add a hole with a depth; where a narrower through hole has the same middle, as that hole's counterbore."""
    for index, hole in enumerate(holes):
        same = distance(hole.at, at) <= TOLERANCES.repair and hole.diameter < diameter
        if same and hole.depth is None and hole.counterbore is None:
            holes[index] = replace(hole, counterbore=Counterbore(diameter=diameter, depth=depth))
            return
    holes.append(Hole(at=at, diameter=diameter, depth=depth))


def _scaled_contour(contour: Contour, scale: float, origin: Point) -> Contour:
    return closed(_scaled(segment, scale, origin) for segment in contour.segments)


def _scaled(segment: Segment, scale: float, origin: Point) -> Segment:
    def moved(point: Point) -> Point:
        return (point[0] - origin[0]) * scale, (point[1] - origin[1]) * scale

    if isinstance(segment, Line):
        return Line(moved(segment.start), moved(segment.end))
    return Arc(moved(segment.start), moved(segment.end), moved(segment.centre), segment.clockwise)
