"""A drawing read for a design: its parts, and what is cut into them, by the layers of the job. mm."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from cutjob.designs.design import BuildContext
from cutjob.designs.drawing_layers import Layers, layers_of
from cutjob.designs.parameter import Values
from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.segment import Segment
from cutjob.job.drawing import Drawing, Units
from cutjob.job.outlines import drawn_lines, read_outlines, regions
from cutjob.tolerances import TOLERANCES

_Box = tuple[float, ...]
_Read = TypeVar("_Read")


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnFile:
    """The parts of a drawing, chains of marks and floors of pockets with their depths, and what is worth a note.

    `layer_of` and `deviations` are by the box of a contour cut through.
    """

    regions: tuple[Region, ...]
    mark_paths: tuple[tuple[tuple[Segment, ...], float | None], ...]
    floors: tuple[tuple[Region, float], ...]
    notes: tuple[str, ...]
    holes: tuple[str, ...]
    layer_of: Mapping[_Box, str]
    deviations: Mapping[_Box, float]

    def deviation(self, region: Region) -> float:
        """How far a part's contours may lie from the curves drawn, mm."""
        # What was mended is taken as meant, so it counts no more than the fit of a curve does.
        found = (self.deviations.get(_box(contour), TOLERANCES.curve) for contour in region.contours)
        return min(max(found), TOLERANCES.curve)

    def is_bored(self, contour: Contour) -> bool:
        """Whether a contour lies on a layer of holes."""
        return self.layer_of.get(_box(contour), "") in self.holes


def read_drawn(values: Values, context: BuildContext, *, scale: float = 1.0) -> DrawnFile:
    """Return what the drawing that `values` name holds, `scale` times as large as drawn. Raises InputError with what is
    wrong in it, or with the layers asked for.
    """
    path = context.folder / values.word("file")
    units: Units | None = None
    if values.has("units"):
        units = "in" if values.word("units") == "in" else "mm"
    lines = () if _is_plain(values) else _told(lambda: drawn_lines(path, units=units), path, context)
    layers = _told(lambda: layers_of(values, context, lines), path, context)
    return _told(lambda: _read(path, units, layers, scale, context), path, context)


def _is_plain(values: Values) -> bool:
    return not any(values.has(key) for key in ("layers", "marks", "pockets")) or (
        values.has("layer") and not values.has("layers")
    )


def _told(read: Callable[[], _Read], path: Path, context: BuildContext) -> _Read:
    """What is read, its problems told where the job asks for it."""
    try:
        return read()
    except InputError as error:
        raise InputError([_placed(problem, path, context) for problem in error.problems]) from None


def _read(path: Path, units: Units | None, layers: Layers, scale: float, context: BuildContext) -> DrawnFile:
    def of(names: tuple[str, ...] | None, *, open_too: bool = False) -> Drawing:
        return read_outlines(
            path,
            units=units,
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
    used = tuple(f'on layer "{name}"' for name in layers.told)
    left_out = [words for words in through.ignored if not words.endswith(used)]
    whole = [*through.notes, *notes, *(f"{words} was left out" for words in left_out)]
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
    """An opening or a hole that lies in no part would be cut out as one."""
    problems = []
    for part in parts:
        name = layer_of.get(_box(part.outline), "")
        if name in (*layers.openings, *layers.holes):
            x, y, _, _ = part.bounds
            message = f'what is drawn on "{name}" at x {context.length(x)}, y {context.length(y)} lies in no part'
            advice = 'draw it within an outline, or say that it is one, by = "outline"'
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
            message = f'what is drawn on "{name}" at x {context.length(x)}, y {context.length(y)} is not round'
            advice = 'draw holes as circles, or say that it is an "opening" or a pocket'
            problems.append(context.problem("layers", message, advice))
    return problems


def _box(contour: Contour) -> _Box:
    # To a thousandth of a micrometre, as a contour turned round may differ in its last digits.
    return tuple(round(value, 6) for value in contour.bounds)


def _placed(problem: Problem, path: Path, context: BuildContext) -> Problem:
    """A problem of the drawing, told at its own line, or where the drawing is asked for when it has none."""
    if problem.place.startswith(f'make "{context.name}"'):
        return problem
    asked = context.problem("file", problem.message, problem.advice)
    own_line = problem.location is not None and problem.location.line is not None
    name = "" if own_line else path.name  # the location names it
    place = ": ".join(word for word in (asked.place, name, problem.place) if word)
    return replace(problem, place=place, location=problem.location if own_line else asked.location)
