"""A pattern to its picture: strokes by style, and words. mm, in the frame of the part.

A folded pattern shows only the lower or left side of its mirror line. Lines have the colours of the pictures
(Okabe-Ito), and dashes and widths for grey prints.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeAlias

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from cutjob.geometry.contour import Contour, circle
from cutjob.geometry.segment import Arc, Bounds, Line, Point, Segment, distance
from cutjob.geometry.transform import Transform
from cutjob.output.operations import BLACK, BLUE, BLUISH_GREEN, REDDISH_PURPLE, SKY_BLUE, VERMILLION
from cutjob.output.paper.pattern import LOOK, Axis, Pattern, looked_at
from cutjob.output.paper.pdf import Look
from cutjob.output.paper.wording import ARROW_HEIGHT, Arrow, Block, Wording, wording
from cutjob.output.picture.key import hatch
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit

# Ends of clipped pieces meet within this.
MEET = 10 * TOLERANCES.same_point


def half_of(chain: Sequence[Segment], axis: Axis) -> tuple[tuple[Segment, ...], ...]:
    """Return the runs of a chain on the near side of a line (x or y no greater than its place), cut off on it."""
    runs: list[list[Segment]] = []
    open_run = False
    for segment in chain:
        for piece in _split(segment, axis):
            near = _place(piece.point_at(0.5), axis) <= TOLERANCES.same_point
            if near and open_run:
                runs[-1].append(piece)
            elif near:
                runs.append([piece])
            open_run = near
    # A closed chain that begins on the near side goes on at its start.
    if len(runs) > 1 and distance(runs[-1][-1].end, runs[0][0].start) <= MEET:
        runs[0] = runs.pop() + runs[0]
    return tuple(tuple(run) for run in runs)


def _place(point: Point, axis: Axis) -> float:
    return (point[0] if axis.way == "upright" else point[1]) - axis.at


def _split(segment: Segment, axis: Axis) -> list[Segment]:
    shares = [0.0, *(share for share in sorted(_crossings(segment, axis)) if 0 < share < 1), 1.0]
    # Compared by shares: an arc of no length could pass for a full turn.
    least = TOLERANCES.same_point / segment.length
    return [segment.part(first, last) for first, last in pairwise(shares) if last - first > least]


def _crossings(segment: Segment, axis: Axis) -> list[float]:
    """Shares of the segment's length at which it meets the line."""
    if isinstance(segment, Line):
        first, last = _place(segment.start, axis), _place(segment.end, axis)
        return [] if first == last else [first / (first - last)]
    return _arc_crossings(segment, axis)


def _arc_crossings(arc: Arc, axis: Axis) -> list[float]:
    off = -_place(arc.centre, axis)
    if abs(off) >= arc.radius:
        return []
    half = math.acos(off / arc.radius)
    middle = 0.0 if axis.way == "upright" else math.pi / 2
    found = []
    for angle in (middle + half, middle - half):
        turned = (angle - arc.start_angle) % (2 * math.pi)
        if arc.sweep < 0:
            turned -= 2 * math.pi
        found.append(turned / arc.sweep)
    return found


DARK = (70, 70, 70)
LIGHT = (150, 150, 150)

LOOKS: dict[str, Look] = {
    "board": Look(stroke=DARK, width=0.25),
    "grain-line": Look(stroke=LIGHT, width=0.1),
    "waste": Look(stroke=LIGHT, width=0.1),
    "keep-out": Look(stroke=DARK, width=0.2),
    "pocket": Look(stroke=SKY_BLUE, width=0.35, dashes=(3.0, 0.8)),
    "outline": Look(stroke=BLUE, width=0.3),
    "opening": Look(stroke=VERMILLION, width=0.3),
    "hole": Look(stroke=BLUISH_GREEN, width=0.3),
    "mark": Look(stroke=REDDISH_PURPLE, width=0.3, dashes=(3.0, 0.8, 0.8, 0.8)),
    "bore": Look(stroke=DARK, width=0.2, dashes=(1.6, 1.0)),
    "centre": Look(stroke=DARK, width=0.12, dashes=(6.0, 1.0, 1.0, 1.0)),
    "fold": Look(stroke=BLACK, width=0.5, dashes=(6.0, 2.5)),
    "grain": Look(stroke=BLACK, width=0.3),
}
NAMES = {
    "outline": "saw here",
    "opening": "opening, hatched: comes out",
    "hole": "hole, with a cross at its centre",
    "pocket": "pocket, cleared to its depth",
    "mark": "mark",
    "bore": "bore across, drilled by hand",
    "centre": "centre line",
    "fold": "fold",
    "grain": "grain",
    "board": "edge of the board",
    "keep-out": "keep clear: knot, nail, clamp",
}
# Lines that are sawn, bored or drawn on the wood: no words may cover them.
EDGES = ("pocket", "outline", "opening", "hole", "mark")
UNDER_WORDS = tuple(style for style in LOOKS if style not in EDGES)
# In the order in which they are drawn, later ones on top; the words' white comes between the two.
ORDER = (*UNDER_WORDS, *EDGES)


Chain: TypeAlias = tuple[Segment, ...]

_OVER = 2.5  # how far centre lines reach beyond the wood
_FOLD_STRIP = 5.0  # room beside a fold, for its name
_CROSS_OVER = 2.0  # how far the cross in a hole reaches beyond the hole
_HATCH = 4.0
_CLEAR = 1.0  # between words and an edge, and between the lines of one pattern and another
# Straight lines that lead beyond a pattern's wood, or across its openings.
_MAY_END = ("centre", "fold", "waste")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """Chains of one style; closed ones are outlines."""

    style: str
    chains: tuple[Chain, ...]
    closed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """Strokes in the order of drawing, and blocks of words."""

    strokes: tuple[Stroke, ...] = ()
    blocks: tuple[Block, ...] = ()

    def moved(self, transform: Transform) -> Picture:
        """The picture moved and turned (not mirrored: words can't be)."""
        return Picture(
            strokes=tuple(
                replace(
                    stroke,
                    chains=tuple(tuple(transform.segment(segment) for segment in chain) for chain in stroke.chains),
                )
                for stroke in self.strokes
            ),
            blocks=tuple(
                replace(block, at=transform.point(block.at), degrees=block.degrees + transform.degrees)
                for block in self.blocks
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A pattern ready to be laid on paper: its lines, and the paper it takes."""

    pattern: Pattern
    lines: Picture
    wood: BaseGeometry  # the drawn side of the part
    area: BaseGeometry  # of the wood, where words may be
    centre_lines: BaseGeometry
    words: Wording  # their places on a page of their own
    paper: BaseGeometry


def drawn(pattern: Pattern, *, unit: Unit, page: Point) -> Drawn:
    """Return a pattern as drawn. If a folded pattern's other half fits on a `page` (width, height) too, paper is kept
    for it, so that the page itself is folded.
    """
    wood: BaseGeometry = pattern.wood
    strokes = [*_cuts(pattern), *_bores(pattern, wood)]
    lines = list(_centre_lines(pattern))
    if pattern.fold is not None:
        strokes = [half for stroke in strokes for half in _halved(stroke, pattern.fold)]
        wood = wood.intersection(_side(wood.bounds, pattern.fold))
    strokes.append(Stroke(style="waste", chains=tuple(_waste(pattern, wood))))
    centres = [line for line in lines if line.style != "fold"]
    area = _room_for_words(pattern, wood)
    centre_lines = shapely.MultiLineString(
        [[chain[0].start, chain[-1].end] for line in centres for chain in line.chains]
    )
    found = wording(pattern, wood, area, centre_lines, unit=unit)
    paper = wood if found.beside is None else shapely.union(wood, shapely.box(*found.beside))
    whole = pattern.wood if found.beside is None else shapely.union(pattern.wood, shapely.box(*found.beside))
    if pattern.fold is not None:
        paper = whole if _fits(whole.bounds, page) else shapely.union(paper, _fold_strip(wood.bounds, pattern.fold))
    picture = Picture(strokes=tuple(stroke for stroke in (*strokes, *lines) if stroke.chains))
    return Drawn(
        pattern=pattern, lines=picture, wood=wood, area=area, centre_lines=centre_lines, words=found, paper=paper
    )


def with_words(one: Drawn, *, unit: Unit, seams: BaseGeometry | None = None) -> Picture:
    """Return the whole picture: lines, words and the grain arrow, clear of `seams` (in the part's frame)."""
    found = one.words
    if seams is not None:
        found = wording(one.pattern, one.wood, one.area, one.centre_lines, unit=unit, seams=seams)
    arrow = () if found.arrow is None else (Stroke(style="grain", chains=arrow_chains(found.arrow)),)
    return Picture(strokes=(*one.lines.strokes, *arrow), blocks=(found.block, *_fold_words(one)))


def _fits(bounds: Bounds, page: Point) -> bool:
    width, height = bounds[2] - bounds[0], bounds[3] - bounds[1]
    return (width <= page[0] and height <= page[1]) or (height <= page[0] and width <= page[1])


def _cuts(pattern: Pattern) -> Iterator[Stroke]:
    part = pattern.part
    yield Stroke(
        style="pocket", chains=tuple(_contours(c for p in part.pockets for c in p.region.contours)), closed=True
    )
    yield Stroke(style="outline", chains=(part.region.outline.segments,), closed=True)
    yield Stroke(style="opening", chains=tuple(_contours(part.region.holes)), closed=True)
    yield Stroke(
        style="hole",
        chains=tuple(circle(hole.at, hole.diameter / 2).segments for hole in part.round_holes),
        closed=True,
    )
    yield Stroke(style="mark", chains=tuple(mark.path for mark in part.marks))
    crossed = [cross for hole in part.holes for cross in _cross(hole.at, hole.diameter / 2 + _CROSS_OVER)]
    yield Stroke(style="centre", chains=tuple(crossed))


def _contours(contours: Iterable[Contour]) -> Iterator[Chain]:
    return (contour.segments for contour in contours)


def _cross(at: Point, reach: float) -> Iterator[Chain]:
    x, y = at
    yield (Line((x - reach, y), (x + reach, y)),)
    yield (Line((x, y - reach), (x, y + reach)),)


def _bores(pattern: Pattern, wood: BaseGeometry) -> Iterator[Stroke]:
    """The bores across a part that stands on edge, seen through it: on its upright middle, from its lower edge up."""
    x0, y0, x1, y1 = pattern.part.region.bounds
    middle = (x0 + x1) / 2
    for bore in pattern.bores:
        spine = wood.intersection(LineString([(middle, y0 - 1), (middle, y1 + 1)]))
        if spine.is_empty:
            continue
        low = spine.bounds[1]
        top = spine.bounds[3] if bore.depth is None else min(spine.bounds[3], low + bore.depth)
        band = wood.intersection(shapely.box(x0, y0 - 1, x1, top))
        chains: list[Chain] = []
        for side in (middle - bore.diameter / 2, middle + bore.diameter / 2):
            chains += _runs(band.intersection(LineString([(side, y0 - 1), (side, y1 + 1)])))
        if top < spine.bounds[3] - 0.5:
            chains.append((Line((middle - bore.diameter / 2, top), (middle + bore.diameter / 2, top)),))
        yield Stroke(style="bore", chains=tuple(chains))


def _runs(lines: BaseGeometry) -> list[Chain]:
    return [
        (Line((float(a), float(b)), (float(c), float(d))),)
        for one in shapely.get_parts(lines)
        if isinstance(one, LineString) and not one.is_empty
        for (a, b), (c, d) in [(one.coords[0], one.coords[-1])]
        if (a, b) != (c, d)
    ]


def _centre_lines(pattern: Pattern) -> Iterator[Stroke]:
    """The mirror lines of the part; if it has none, the middles of its box. The fold has a style of its own."""
    x0, y0, x1, y1 = pattern.part.region.bounds
    middles = (Axis("upright", (x0 + x1) / 2), Axis("level", (y0 + y1) / 2))
    for axis in pattern.axes or middles:
        ends = ((axis.at, y0 - _OVER), (axis.at, y1 + _OVER))
        if axis.way == "level":
            # A half has the other middle line only on its own side.
            right = x1 + _OVER if pattern.fold is None or pattern.fold.way == "level" else pattern.fold.at
            ends = ((x0 - _OVER, axis.at), (right, axis.at))
        elif pattern.fold is not None and pattern.fold.way == "level":
            ends = (ends[0], (axis.at, pattern.fold.at))
        yield Stroke(style="fold" if axis == pattern.fold else "centre", chains=((Line(*ends),),))


def _halved(stroke: Stroke, axis: Axis) -> Iterator[Stroke]:
    """A stroke's near side. Outlines wholly on that side stay closed."""
    whole: list[Chain] = []
    open_runs: list[Chain] = []
    for chain in stroke.chains:
        runs = half_of(chain, axis)
        closed = stroke.closed and len(runs) == 1 and distance(runs[0][0].start, runs[0][-1].end) <= MEET
        (whole if closed else open_runs).extend(runs)
    yield Stroke(style=stroke.style, chains=tuple(whole), closed=stroke.closed)
    yield Stroke(style=stroke.style, chains=tuple(open_runs))


def _side(bounds: Bounds, axis: Axis) -> BaseGeometry:
    x0, y0, x1, y1 = bounds
    return shapely.box(x0, y0, axis.at, y1) if axis.way == "upright" else shapely.box(x0, y0, x1, axis.at)


def _fold_strip(bounds: Bounds, axis: Axis) -> BaseGeometry:
    x0, y0, x1, y1 = bounds
    if axis.way == "upright":
        return shapely.box(axis.at, y0, axis.at + _FOLD_STRIP, y1)
    return shapely.box(x0, axis.at, x1, axis.at + _FOLD_STRIP)


def _waste(pattern: Pattern, wood: BaseGeometry) -> Iterator[Chain]:
    """Light hatching of the openings."""
    for hole in pattern.part.region.holes:
        area = looked_at(hole)
        if pattern.fold is not None:
            area = area.intersection(_side(pattern.part.region.bounds, pattern.fold))
        yield from hatched(area)


def hatched(area: BaseGeometry) -> Iterator[Chain]:
    """Slanting lines across an area."""
    for polygon in shapely.get_parts(area):
        if polygon.geom_type == "Polygon" and not polygon.is_empty:
            for run in hatch(polygon, _HATCH):
                yield tuple(Line(a, b) for a, b in pairwise(run) if a != b)


def _room_for_words(pattern: Pattern, wood: BaseGeometry) -> BaseGeometry:
    part = pattern.part
    taken: list[BaseGeometry] = [
        shapely.Point(hole.at).buffer(max(step.diameter for step in hole.steps) / 2 + _CROSS_OVER + 0.5)
        for hole in part.holes
    ]
    for mark in part.marks:
        points = [mark.path[0].start, *(point for segment in mark.path for point in segment.chords(LOOK))]
        taken.append(LineString(points).buffer(_CLEAR))
    for pocket in part.pockets:
        taken += [looked_at(c).boundary.buffer(_CLEAR) for c in pocket.region.contours]
    for stroke in _bores(pattern, wood):
        taken += [LineString([chain[0].start, chain[-1].end]).buffer(_CLEAR) for chain in stroke.chains]
    room = wood.buffer(-_CLEAR, quad_segs=4)
    return room.difference(shapely.union_all(np.array(taken, dtype=object))) if taken else room


def arrow_chains(arrow: Arrow) -> tuple[Chain, ...]:
    """Return the lines of a grain arrow: a shaft with a head at both ends."""
    x, y = arrow.at
    left, right = x - arrow.length / 2, x + arrow.length / 2
    head, half = min(3.5, arrow.length / 3), ARROW_HEIGHT / 2 * 0.8
    return (
        (Line((left, y), (right, y)),),
        *(
            (Line((tip, y), (tip + way * head, y + side)),)
            for tip, way in ((left, 1), (right, -1))
            for side in (half, -half)
        ),
    )


def _fold_words(one: Drawn) -> Iterator[Block]:
    axis = one.pattern.fold
    if axis is None:
        return
    size = 2.6
    cut = one.wood.bounds
    if axis.way == "upright":
        yield Block(lines=("FOLD",), at=(axis.at + size, (cut[1] + cut[3]) / 2), size=size, degrees=90.0)
    else:
        yield Block(lines=("FOLD",), at=((cut[0] + cut[2]) / 2, axis.at + size), size=size)


def clear_of(picture: Picture, taken: BaseGeometry) -> Picture:
    """Return a picture without the pieces of centre lines, folds and hatches that would run through other patterns."""
    if taken.is_empty:
        return picture
    wide = taken.buffer(_CLEAR)
    return replace(
        picture,
        strokes=tuple(
            replace(stroke, chains=tuple(_clear_runs(stroke.chains, wide))) if stroke.style in _MAY_END else stroke
            for stroke in picture.strokes
        ),
    )


def _clear_runs(chains: Sequence[Chain], taken: BaseGeometry) -> Iterator[Chain]:
    """The pieces of straight chains outside an area."""
    for chain in chains:
        line = LineString([chain[0].start, *(segment.end for segment in chain)])
        if shapely.intersects(line, taken):
            yield from _runs(shapely.difference(line, taken))
        else:
            yield chain


def joined(pictures: Sequence[Picture]) -> Picture:
    """Return several pictures as one."""
    return Picture(
        strokes=tuple(stroke for picture in pictures for stroke in picture.strokes),
        blocks=tuple(block for picture in pictures for block in picture.blocks),
    )
