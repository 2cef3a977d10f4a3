"""A floor cleared by rings from the middle outward, as few connected ways as its shape allows. mm.

The rings are the edges of the floor shrunk step by step. Each hangs from the ring inside it that it is linked with;
a ring with none inside it is a middle, where the cutter comes down. What hangs from a middle is one way: a ring is run
whole, then the rings that hang from it are, one branch after another; between branches the cutter goes back over
floor it has cleared.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from cutjob.cuts.cut import Clearing
from cutjob.cuts.insets import inset
from cutjob.cuts.loops import Loop, Room
from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Segment
from cutjob.tolerances import TOLERANCES

# A middle ring less round than a circle of this share of the cutter's radius is moved outward, to give room to come
# down in.
_ROOMY = 0.25
# Rings as near as this share of a step count as equally near.
_TIE = 0.05
_SURE = 0.01  # mm: what a largest inscribed circle is known to


class _Ring(Loop):
    """A loop and the rings that hang from it; `way_length` grows with all that hangs from its middle."""

    def __init__(self, contour: Contour) -> None:
        super().__init__(contour)
        self.outer: list[_Ring] = []
        self.middle: _Ring = self
        self.way_length = self.length

    def hang(self, other: _Ring) -> None:
        """Let `other` be run after this one."""
        self.outer.append(other)
        other.middle = self.middle
        self.middle.way_length += other.length


class _Floor:
    """A connected area at one step from the wall, and the areas inside it at the next.

    `rings` are its edges, `middles` the rings its ways begin with, the one its outline hangs from last.
    """

    def __init__(self, region: Region) -> None:
        self.region = region
        self.inner: list[_Floor] = []
        self.rings: list[_Ring] = []
        self.middles: list[_Ring] = []


def outward(rooms: Sequence[Region], *, radius: float, stepover: float, counter_clockwise: bool) -> list[Clearing]:
    """Return ways over the floor under `rooms`, where the centre may be; outlines run as told, islands the other way.

    The outermost rings run along the rooms' edges. See `clearing.clear` for why nothing is left between rings.
    """
    room = Room(rooms)
    ways: list[Clearing] = []
    for region in rooms:
        floors = _floors(region, stepover)
        for floor in reversed(floors):
            _settle(floor, radius=radius, stepover=stepover)
        for floor in reversed(_kept(floors[0])):
            _hang(floor, stepover=stepover, counter_clockwise=counter_clockwise)
        ways.extend(_ways(floors[0].middles, room, stepover))
    return ways


def _floors(region: Region, stepover: float) -> list[_Floor]:
    """All floors, each after the one it lies in."""
    floors = [_Floor(region)]
    for floor in floors:
        floor.inner = [_Floor(inner) for inner in inset(floor.region, stepover)]
        floors.extend(floor.inner)
    return floors


def _kept(outermost: _Floor) -> list[_Floor]:
    """A floor and what is still inside it, each after the one it lies in."""
    floors = [outermost]
    for floor in floors:
        floors.extend(floor.inner)
    return floors


def _settle(floor: _Floor, *, radius: float, stepover: float) -> None:
    """Drop the inmost floors that the ring round them clears already; give others that are tiny more room."""
    for inner in [one for one in floor.inner if not one.inner]:
        shape = to_polygon(inner.region, deviation=TOLERANCES.chord)
        inscribed = float(shapely.maximum_inscribed_circle(shape, tolerance=_SURE).length)
        if inscribed + _SURE < radius - stepover:
            floor.inner.remove(inner)
        elif inner.region.outline.length < 2 * math.pi * _ROOMY * radius:
            roomier = _roomier(floor, inner, by=_ROOMY * radius - inscribed, stepover=stepover)
            if roomier is not None:
                inner.region = roomier


def _roomier(floor: _Floor, inner: _Floor, *, by: float, stepover: float) -> Region | None:
    """The region of an inmost floor at a step shorter by `by`, unless others grow together with it."""
    if not 0 < by < stepover:
        return None
    for region in inset(floor.region, stepover - by):
        shape = to_polygon(region)
        points = [shapely.Point(one.region.outline.segments[0].start) for one in floor.inner]
        inside = [one for one, point in zip(floor.inner, points, strict=True) if shape.contains(point)]
        if inside == [inner]:
            return region
    return None


def _hang(floor: _Floor, *, stepover: float, counter_clockwise: bool) -> None:
    """Make a floor's rings and hang each from the nearest of those inside it or of those that already hang there.

    The nearest is linked with it by a straight way that stays on the floor, for it would meet a nearer ring before it
    left it. Of equally near ones the one on the longest way is taken, so that short ways come to their end early.
    """
    contours = floor.region.contours
    floor.rings = [_Ring(contour if counter_clockwise else contour.reversed()) for contour in contours]
    waiting = list(floor.rings)
    hung = [ring for inner in floor.inner for ring in inner.rings]
    if not hung:
        middle = max(waiting, key=lambda ring: ring.length)
        waiting.remove(middle)
        hung.append(middle)
        floor.middles = [middle]
    away = shapely.distance([[ring.line] for ring in waiting], [[ring.line for ring in hung]]) if waiting else None
    while waiting and away is not None:
        row = int(away.min(axis=1).argmin())
        least = float(away[row].min()) + _TIE * stepover
        near = [ring for ring, far in zip(hung, away[row], strict=True) if far <= least]
        ring = waiting.pop(row)
        max(near, key=lambda one: one.middle.way_length).hang(ring)
        hung.append(ring)
        column = shapely.distance([[one.line] for one in waiting], [[ring.line]]) if waiting else np.empty((0, 1))
        away = np.hstack([np.delete(away, row, axis=0), column])
    if floor.inner:
        last = floor.rings[0].middle
        inner = sorted(floor.inner, key=lambda one: last in one.middles)
        floor.middles = [middle for one in inner for middle in one.middles]


def _ways(middles: Sequence[_Ring], room: Room, stepover: float) -> list[Clearing]:
    """The way from each middle; what turns out to have no link gets a way of its own after that."""
    ways = []
    for middle in middles:
        waiting = [middle]
        for ring in waiting:
            path, _, unlinked = _walk(ring, 0.0, room, stepover)
            ways.append(Clearing(entry=ring.contour, path=tuple(path)))
            waiting.extend(unlinked)
    return ways


def _walk(ring: _Ring, at: float, room: Room, stepover: float) -> tuple[list[Segment], list[Segment], list[_Ring]]:
    """The way round a ring from `at` mm along it and round all that hangs from it; the way back from its end to where
    it began, over cleared floor; and the rings that no link leads to.
    """
    path: list[Segment] = []
    out: list[Segment] = []  # from the beginning to where the path has come to, without the rings between
    unlinked: list[_Ring] = []
    while True:
        path.extend(ring.round_from(at))
        branches = sorted(ring.outer, key=_hanging)
        if not branches:
            break
        for branch in branches[:-1]:
            link = room.link(ring, at, branch, stepover=stepover)
            if link is None:
                unlinked.append(branch)
                continue
            aside = ring.along(at, link.leave)
            further, back, more = _walk(branch, link.arrive, room, stepover)
            path.extend([*aside, *link.out, *further, *back, *link.back])
            out.extend(aside)
            unlinked.extend(more)
            at = link.leave
        link = room.link(ring, at, branches[-1], stepover=stepover)
        if link is None:
            unlinked.append(branches[-1])
            break
        there = [*ring.along(at, link.leave), *link.out]
        path.extend(there)
        out.extend(there)
        ring, at = branches[-1], link.arrive
    return path, [segment.reversed() for segment in reversed(out)], unlinked


def _hanging(ring: _Ring) -> int:
    """How many rings hang from one, directly or not."""
    found = [ring]
    for one in found:
        found.extend(one.outer)
    return len(found)
