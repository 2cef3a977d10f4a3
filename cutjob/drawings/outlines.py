"""Reads a DXF or SVG file into closed contours in mm, repaired where that is safe, and into regions.

1. `dxf` or `svg` reads the lines in mm, and fits curves by lines and arcs.
2. `chains` joins loose lines into loops.
3. `repair` cuts off tiny loops; this module finds contours that cross each other.
4. A fault that can't be repaired is an error that names the place. All problems of a file are reported together.

Outermost contours are parts, contours in them are holes, and contours in holes are parts again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

import shapely
from shapely.geometry.base import BaseGeometry

from cutjob.counting import counted
from cutjob.drawings.chains import Joined, Loop, join
from cutjob.drawings.drawing import (
    LARGEST_FILE,
    MOST_OUTLINES,
    Drawing,
    DrawnContour,
    DrawnPath,
    Findings,
    Shape,
    Units,
)
from cutjob.drawings.near_pairs import TangledError, near_pairs, near_points
from cutjob.drawings.repair import Crossing, mended
from cutjob.errors import InputError, Location, Problem
from cutjob.files.file_bytes import bytes_of
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.crossing import meetings
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import distance
from cutjob.tolerances import TOLERANCES

_LOOK = 1000  # areas that are checked first, spread over all
_MOST_LEVELS = 200  # boxes round a point, on average; a drawing of parts in parts has less than a tenth of this


@dataclass(frozen=True, slots=True)
class Nesting:
    """For each contour the number of contours round it, and the smallest of these (None for an outermost one)."""

    depths: tuple[int, ...]
    parents: tuple[int | None, ...]

    def is_hole(self, index: int) -> bool:
        """True for the contour of a hole."""
        return self.depths[index] % 2 == 1


def polygons(contours: Sequence[Contour]) -> list[BaseGeometry]:
    """Return the area of each contour, repaired where the chords of a sliver cross although its arcs don't."""
    return [_area(contour) for contour in contours]


@lru_cache(
    maxsize=MOST_OUTLINES
)  # cached, as contours are compared when a drawing is read and again when parts are made of them
def _area(contour: Contour) -> BaseGeometry:
    area = to_polygon(contour)
    return area if area.is_valid else shapely.make_valid(area)


def nesting(areas: Sequence[BaseGeometry]) -> Nesting:
    """Return the nesting of areas that don't cross; they may touch, or overlap by a hair.

    Raises TangledError where hundreds are in each other.
    """
    if not areas:
        return Nesting((), ())
    sizes = [area.area for area in areas]
    tree = shapely.STRtree(list(areas))
    # A point well inside decides, so that a shared edge or a hair of overlap does not matter.
    inside = shapely.point_on_surface(list(areas))
    some = inside[:: max(1, len(inside) // _LOOK)]
    if tree.query(some).shape[1] > _MOST_LEVELS * len(some):
        raise TangledError
    within: list[list[int]] = [[] for _ in areas]
    for child, parent in zip(*tree.query(inside, predicate="within"), strict=True):
        if child != parent and sizes[parent] > sizes[child]:
            within[child].append(int(parent))
    parents = tuple(min(around, key=lambda index: (sizes[index], index)) if around else None for around in within)
    return Nesting(tuple(len(around) for around in within), parents)


_MOST_REPORTED = 25  # problems of one kind of mistake in one file
_REPORTED_GAP = 0.01  # mm; smaller gaps come from rounding in the file and need no note
_MOST_PLACES = 3  # crossings named in one message


def read_outlines(
    path: Path,
    *,
    units: Units | None = None,
    unstated: Units | None = None,
    layers: Collection[str] | None = None,
    open_layers: Collection[str] = (),
    colours: Mapping[str, str] = MappingProxyType({}),
    scale: float = 1.0,
) -> Drawing:
    """Return the contours of a DXF or SVG file, in mm with y up, `scale` times as large; curves are fitted at that
    size.

    `units` overrides the file's own: one unit of the drawing is then an inch, a millimetre or a CSS pixel. `unstated`
    is used where the file names no units; without it such a file is a mistake. Where `layers` are given, only these are
    read; in SVG a layer is the title or the id of the innermost group that has one, else `drawing`. Lines on
    `open_layers` (marks) need not be closed; an open line on another layer is a mistake. A line in one of `colours` (as
    `colour_of` spells them) counts as drawn on the layer named there. Raises InputError with all problems.
    """
    found = _read(path, units, unstated, scale)
    if found.problems:
        raise InputError(_shortened(found))
    found.shapes = [replace(shape, layer=colours.get(shape.colour, shape.layer)) for shape in found.shapes]
    shapes = _chosen(found, layers)
    builder = _Builder(found, open_layers)
    by_layer: dict[str, list[Shape]] = defaultdict(list)
    for shape in shapes:
        by_layer[shape.layer].append(shape)
    for layer, drawn in by_layer.items():
        builder.layer(layer, drawn)
    builder.across()
    if not builder.contours and not builder.open_paths and not found.problems:
        left_out = f"; left out: {', '.join(_counted(found))}" if found.ignored else ""
        found.problem(f"has no closed contour{left_out}", "draw the outlines of the parts as closed lines")
    if found.problems:
        raise InputError(_shortened(found))
    return Drawing(
        source=path,
        units=found.units,
        mm_per_unit=found.mm_per_unit,
        contours=tuple(builder.contours),
        open_paths=tuple(builder.open_paths),
        ignored=tuple(_counted(found)),
        notes=tuple(builder.notes),
    )


def drawn_lines(
    path: Path, *, units: Units | None = None, unstated: Units | None = None
) -> tuple[tuple[str, str], ...]:
    """Return the layers and colours of the lines of a drawing: each pair once, in the order of the file. Raises
    InputError where the file can't be read. `units` and `unstated` are as in `read_outlines`.
    """
    found = _read(path, units, unstated, 1.0)
    if found.problems:
        raise InputError(_shortened(found))
    return tuple(dict.fromkeys((shape.layer, shape.colour) for shape in found.shapes))


def regions(drawing: Drawing) -> tuple[Region, ...]:
    """Return the parts of a drawing: outermost contours with their holes; a contour in a hole is a part again.

    The parts are ordered by the lower left corner of the bounding box, from left to right, then from bottom to top, the
    larger first.
    """
    contours = [drawn.contour for drawn in drawing.contours]
    order = nesting(polygons(contours))
    holes: dict[int | None, list[Contour]] = defaultdict(list)
    for index, contour in enumerate(contours):
        if order.is_hole(index):
            holes[order.parents[index]].append(contour)
    found = [
        Region(contour, tuple(sorted(holes[index], key=_from_lower_left)))
        for index, contour in enumerate(contours)
        if not order.is_hole(index)
    ]
    return tuple(sorted(found, key=lambda region: _from_lower_left(region.outline)))


def _from_lower_left(contour: Contour) -> tuple[float, float, float]:
    x, y, _, _ = contour.bounds
    # Rounded, so that the order does not depend on the last digits.
    return round(x, 3), round(y, 3), -round(abs(contour.signed_area), 3)


def _read(path: Path, units: Units | None, unstated: Units | None, scale: float) -> Findings:
    found = Findings(file=str(path))
    kind = path.suffix.lower()
    if kind not in (".dxf", ".svg"):
        found.problem("is neither a .dxf nor a .svg file by its name", "export the drawing as DXF or as plain SVG")
        return found
    try:
        size = len(bytes_of(path, most=LARGEST_FILE, advice="delete lines that are not to be cut"))
    except InputError as error:
        found.problems.extend(error.problems)
        return found
    if size == 0:
        found.problem("is empty", "export the drawing again")
    elif kind == ".dxf":
        from cutjob.drawings.dxf import read_dxf

        found = read_dxf(path, units=units, unstated=unstated, scale=scale)
    else:
        from cutjob.drawings.svg import read_svg

        found = read_svg(path, units=units, unstated=unstated, scale=scale)
    return found


def _chosen(found: Findings, layers: Collection[str] | None) -> list[Shape]:
    if layers is None:
        return found.shapes
    present = list(dict.fromkeys(shape.layer for shape in found.shapes))
    for layer in layers:
        if layer not in present:
            words = ", ".join(f'"{name}"' for name in present[:20]) or "none"
            found.problem(f'has nothing on a layer "{layer}"', f"the layers with lines are: {words}")
    for shape in found.shapes:
        if shape.layer not in layers:
            found.ignored[f'everything on layer "{shape.layer}"'] += 1
    return [shape for shape in found.shapes if shape.layer in layers]


def _counted(found: Findings) -> list[str]:
    return [f"{count} x {words}" if count > 1 else words for words, count in sorted(found.ignored.items())]


def _shortened(found: Findings) -> list[Problem]:
    problems = list(dict.fromkeys(found.problems))  # a mistake in a shape used twice is reported once
    if len(problems) <= _MOST_REPORTED:
        return problems
    more = Problem(
        message=f"and {counted(len(problems) - _MOST_REPORTED, 'more problem')}", location=Location(file=found.file)
    )
    return [*problems[:_MOST_REPORTED], more]


class _Builder:
    """Collects contours layer by layer, then compares them with each other."""

    def __init__(self, found: Findings, open_layers: Collection[str]) -> None:
        self.found, self.open_layers = found, open_layers
        self.contours: list[DrawnContour] = []
        self.places: list[tuple[str, int | None]] = []
        self.open_paths: list[DrawnPath] = []
        self.notes: list[str] = []

    def layer(self, layer: str, shapes: Sequence[Shape]) -> None:
        loops = [Loop(s.segments, s.deviation, s.place, s.line) for s in shapes if s.closed]
        try:
            joined = join([shape for shape in shapes if not shape.closed])
        except TangledError:
            self.tangled(f'layer "{layer}"', None)
            return
        self.tell(layer, joined)
        for loop in [*loops, *joined.loops]:
            self.loop(layer, loop)
        for chain in joined.open_chains:
            self.open_chain(layer, chain)

    def tell(self, layer: str, joined: Joined) -> None:
        if joined.doubled:
            self.notes.append(f'layer "{layer}": {counted(joined.doubled, "line")} drawn twice, taken once')
        if joined.widest_gap > _REPORTED_GAP:
            self.notes.append(f'layer "{layer}": gaps up to {joined.widest_gap:.3f} mm between ends were closed')
        if joined.shared:
            self.notes.append(f'layer "{layer}": {counted(joined.shared, "line")} shared by two outlines')

    def loop(self, layer: str, loop: Loop) -> None:
        try:
            result = mended(loop.segments)
        except TangledError:
            self.tangled(loop.place, loop.line)
            return
        if result.contour is None:
            self.notes.append(f"{loop.place}: encloses nothing and was left out")
            return
        if result.crossings:
            self.crossed(loop.place, loop.line, "itself", result.crossings)
            return
        if result.cuts:
            cut_off = counted(result.cuts, "tiny loop")
            self.notes.append(f"{loop.place}: {cut_off} up to {result.moved:.3f} mm cut off")
        deviation = loop.deviation + result.moved
        self.contours.append(DrawnContour(layer=layer, contour=result.contour, deviation=deviation))
        self.places.append((loop.place, loop.line))

    def open_chain(self, layer: str, chain: Loop) -> None:
        segments = tuple(segment for segment in chain.segments if segment.length > TOLERANCES.same_point)
        if not segments:
            return
        if layer in self.open_layers:
            self.open_paths.append(DrawnPath(layer=layer, segments=segments, deviation=chain.deviation))
            return
        if sum(segment.length for segment in segments) <= TOLERANCES.repair:
            self.notes.append(f"{chain.place}: a line no longer than {TOLERANCES.repair} mm was left out")
            return
        start, end = segments[0].start, segments[-1].end
        gap = distance(start, end)
        self.found.problem(
            f"is not closed: it runs from {self.found.where(start)} to {self.found.where(end)}, {gap:.3f} mm apart",
            "join its ends, leave it out, or put it on a layer for marks",
            place=chain.place,
            line=chain.line,
        )

    def crossed(self, place: str, line: int | None, other: str, crossings: Sequence[Crossing]) -> None:
        crossings = sorted(crossings, key=lambda crossing: crossing.point)
        verb = "runs along" if all(crossing.along for crossing in crossings) else "crosses or touches"
        shown = " and at ".join(self.found.where(crossing.point) for crossing in crossings[:_MOST_PLACES])
        more = len(crossings) - _MOST_PLACES
        elsewhere = f" and in {counted(more, 'more place')}" if more > 0 else ""
        self.found.problem(
            f"{verb} {other} at {shown}{elsewhere}",
            "trim or move it so that the lines stay apart",
            place=place,
            line=line,
        )

    def tangled(self, place: str, line: int | None) -> None:
        self.found.problem(
            "its lines meet, or coincide, in more places than can be listed",
            "draw each outline once, so that it crosses neither itself nor another",
            place=place,
            line=line,
        )

    def across(self) -> None:
        """Compare contours that meet: drop those drawn twice, allow parts side by side, and report all others."""
        if len(self.contours) < 2:
            return
        if len(self.contours) > MOST_OUTLINES:
            message = f"has {len(self.contours)} closed outlines; a drawing can have {MOST_OUTLINES}"
            self.found.problem(message, "delete lines that are not to be cut, or draw a part once and give its count")
            return
        try:
            meeting = self.meeting_pairs()
            areas = polygons([drawn.contour for drawn in self.contours])
            twice = self.drawn_twice(areas)
            order = nesting([area for index, area in enumerate(areas) if index not in twice])
        except TangledError:
            self.tangled("", None)
            return
        kept = [index for index in range(len(areas)) if index not in twice]
        at = {index: place for place, index in enumerate(kept)}
        for (i, j), crossings in meeting.items():
            if i in twice or j in twice:
                continue
            place, line = self.places[j]
            if not _is_thin(areas[i], areas[j]):
                self.crossed(place, line, self.places[i][0], crossings)
            elif order.parents[at[i]] == order.parents[at[j]] and order.is_hole(at[i]):
                self.crossed(place, line, f"another hole, {self.places[i][0]},", crossings)
            elif order.parents[at[j]] == at[i] and order.is_hole(at[j]):
                self.crossed(place, line, f"the outline it is a hole in, {self.places[i][0]},", crossings)
            elif order.parents[at[i]] == at[j] and order.is_hole(at[i]):
                self.crossed(place, line, f"a hole in it, {self.places[i][0]},", crossings)
        if twice:
            self.notes.append(f"{counted(len(twice), 'contour')} drawn twice, taken once")
            self.contours = [self.contours[index] for index in kept]
            self.places = [self.places[index] for index in kept]

    def meeting_pairs(self) -> dict[tuple[int, int], list[Crossing]]:
        segments = [segment for drawn in self.contours for segment in drawn.contour.segments]
        owners = [index for index, drawn in enumerate(self.contours) for _ in drawn.contour.segments]
        pairs: dict[tuple[int, int], list[Crossing]] = defaultdict(list)
        for a, b in near_pairs(segments):
            i, j = owners[a], owners[b]
            if i == j:
                continue
            for meeting in meetings(segments[a], segments[b]):
                known = pairs[i, j]
                if all(distance(meeting.point, other.point) > TOLERANCES.repair for other in known):
                    known.append(Crossing(meeting.point, meeting.along))
        return {pair: crossings for pair, crossings in pairs.items() if crossings}

    def drawn_twice(self, areas: Sequence[BaseGeometry]) -> set[int]:
        """Return the contours that coincide with an earlier one all round."""
        corners = [drawn.contour.bounds[:2] for drawn in self.contours]
        twice: set[int] = set()
        for i, j in near_points(corners, 2 * TOLERANCES.repair):
            if i not in twice and j not in twice and _alike(areas[i], areas[j]):
                twice.add(j)
        return twice


def _alike(first: BaseGeometry, second: BaseGeometry) -> bool:
    """True where two outlines are within the repair limit of each other all round."""
    limit = TOLERANCES.repair
    if any(abs(a - b) > limit for a, b in zip(first.bounds, second.bounds, strict=True)):
        return False
    return bool(
        shapely.buffer(first, limit).covers(shapely.boundary(second))
        and shapely.buffer(second, limit).covers(shapely.boundary(first))
        and _thin(first.symmetric_difference(second))
    )


def _is_thin(first: BaseGeometry, second: BaseGeometry) -> bool:
    """True where two areas overlap, or one sticks out of the other, by no more than the repair limit."""
    return _thin(first.intersection(second)) or _thin(first.difference(second)) or _thin(second.difference(first))


def _thin(area: BaseGeometry) -> bool:
    return bool(shapely.buffer(area, -TOLERANCES.repair / 2).is_empty)
