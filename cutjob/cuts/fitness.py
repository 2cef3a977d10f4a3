"""What a machine can't do to some parts at all, whatever the cutter's path: reported before anything is cut.

Also mistakes in the places of a pocket and its islands on a part.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import shapely

from cutjob.cuts.reach import thin_places
from cutjob.errors import Location, Problem
from cutjob.geometry.contour import Region
from cutjob.geometry.polygons import polygons_of, to_polygon
from cutjob.geometry.segment import Point
from cutjob.job.machine import Cutter, Machine
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import Pocket, ShapedPart
from cutjob.tolerances import TOLERANCES
from cutjob.units import length

_FINE = 128  # chords of a quarter of a hole
_SPECK = 1e-3  # mm2: what is smaller is rounding


def pocket_problems(pocket: Pocket, part: Region) -> list[str]:
    """Return what is wrong with the places of a pocket and its islands, in plain words; empty when nothing is.

    A pocket may reach over the part's edge and over the edges of openings, and hold whole openings: there is air there,
    and its floor ends at their edges. An island may hold an opening or reach into one. Mistakes are: a pocket or an
    island with no wood under it, an island that isn't whole inside the pocket's outline, islands that overlap, and an
    outline that crosses itself.
    """
    region = pocket.region
    names = ["its outline", *(f"the outline of island {number}" for number in range(1, len(region.holes) + 1))]
    shapes = [to_polygon(contour) for contour in region.contours]
    crossed = [name for name, shape in zip(names, shapes, strict=True) if not shape.is_valid]
    if crossed:
        return [f"{name} crosses itself" for name in crossed]
    found = []
    outside, *islands = shapes
    wood = to_polygon(part)
    if outside.intersection(to_polygon(part.outline)).area < _SPECK:
        found.append("it is wholly outside the part")
    elif outside.difference(shapely.union_all(islands)).intersection(wood).area < _SPECK:
        found.append("it is wholly in an opening of the part, where there is no wood")
    for number, island in enumerate(islands, start=1):
        if outside.intersection(island).area < _SPECK:
            found.append(f"island {number} is outside the pocket")
        elif island.difference(outside).area > _SPECK:
            found.append(f"island {number} is partly outside the pocket")
        elif not found and island.intersection(wood).area < _SPECK:
            found.append(f"island {number} has no wood under it: it is in an opening of the part or beyond its edge")
    for i, island in enumerate(islands):
        for j, other in enumerate(islands[i + 1 :], start=i + 2):
            if island.intersection(other).area > _SPECK:
                found.append(f"islands {i + 1} and {j} overlap")
    return found


def unfit_parts(
    layouts: Sequence[BoardLayout],
    *,
    cutter: Cutter,
    machine: Machine,
    locations: Mapping[str, Location | None],
) -> tuple[Problem, ...]:
    """Return a problem for each part that the machine can't make: holes that stop partway, marks, tiny holes.

    `locations` gives the line of each item of the job.
    """
    found: dict[Problem, None] = {}
    seen: set[tuple[int, int, str]] = set()
    for layout in layouts:
        for placement in layout.placements:
            key = (id(placement.part), layout.stack, layout.board.material)
            if key in seen:
                continue
            seen.add(key)
            for message, advice in _faults(layout, placement, cutter, machine):
                problem = Problem(
                    location=locations.get(placement.item),
                    place=f'item "{placement.item}": part "{placement.part.name}"',
                    message=message,
                    advice=advice,
                )
                found[problem] = None
    return tuple(found)


_HALVINGS = 12  # of a width, which is then known to a four-thousandth of it


def thin_wood_warnings(layouts: Sequence[BoardLayout], machine: Machine) -> tuple[str, ...]:
    """Return a warning for each part with wood thinner than the profile's least web, with where and how thin it is."""
    least = machine.cutting.least_web
    if least is None:
        return ()
    found: dict[str, None] = {}
    parts = {id(one.part): one for layout in layouts for one in layout.placements}
    for placement in parts.values():
        thinnest = min(_thin_wood(placement.part, least), default=None)
        if thinnest is not None:
            width, (x, y) = thinnest
            message = (
                f"wood only {length(width, finest=64)} wide at x {length(x)}, y {length(y)} of the part, less than "
            )
            message += f"the profile's least_web of {length(least)}; widen it, or it may break or char"
            found[f'item "{placement.item}": part "{placement.part.name}": {message}'] = None
    return tuple(found)


def _thin_wood(part: ShapedPart, least: float) -> Iterator[tuple[float, Point]]:
    """How wide the thinnest wood is, and where: between two contours, and between two places of one."""
    rounds = [hole for hole in part.round_holes if hole.depth is None]
    holes = [shapely.Point(hole.at).buffer(hole.diameter / 2, quad_segs=_FINE) for hole in rounds]
    rings = [to_polygon(contour).exterior for contour in part.region.contours] + [hole.exterior for hole in holes]
    near = shapely.STRtree(rings).query(rings, predicate="dwithin", distance=least)
    for one, other in ((rings[i], rings[j]) for i, j in near.T.tolist() if i < j):
        apart = float(shapely.distance(one, other))
        if TOLERANCES.same_point < apart < least - TOLERANCES.acceptance:
            (x0, y0), (x1, y1) = shapely.shortest_line(one, other).coords
            yield apart, ((x0 + x1) / 2, (y0 + y1) / 2)
    wood = max(polygons_of(to_polygon(part.region).difference(shapely.union_all(holes))), key=lambda one: one.area)
    places = thin_places(wood, width=least - TOLERANCES.acceptance)
    if places:
        low, high = 0.0, least
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (low, middle) if thin_places(wood, width=middle) else (middle, high)
        yield low, places[0].at


def _narrow_holes(part: ShapedPart, least: float) -> Iterator[tuple[str, str]]:
    """Holes and openings narrower than the profile's least hole."""
    wide = f"the profile cuts none narrower than {length(least)} (least_hole)"
    narrow = [hole for hole in part.round_holes if not hole.by_hand and hole.diameter < least - TOLERANCES.same_point]
    if narrow:
        hole = min(narrow, key=lambda one: one.diameter)
        count = "a hole" if len(narrow) == 1 else f"{len(narrow)} holes, the smallest"
        yield f"{count} of {length(hole.diameter)}; {wide}", f"make it at least {length(least)}, or leave it out"
    for opening in part.region.holes:
        if to_polygon(opening).buffer(-least / 2 + TOLERANCES.chord).is_empty:
            x0, y0, x1, y1 = opening.bounds
            where = f"at x {length((x0 + x1) / 2)}, y {length((y0 + y1) / 2)} of the part"
            yield f"an opening {where} is too narrow; {wide}", "widen it, or leave it out"


def _faults(layout: BoardLayout, placement: Placement, cutter: Cutter, machine: Machine) -> Iterator[tuple[str, str]]:
    part = placement.part
    blind = [("hole", hole.depth) for hole in part.round_holes if hole.depth is not None]
    blind += [("pocket", pocket.depth) for pocket in part.pockets]
    reported: set[str] = set()
    for what, depth in blind:
        if what in reported:
            continue
        reported.add(what)
        deep = length(depth)
        if machine.has_beam:
            yield f"a {what} {deep} deep can't be made with a laser, which cuts right through", "make it on a router"
        elif max(each for kind, each in blind if kind == what) >= layout.board.thickness:
            deepest = max(each for kind, each in blind if kind == what)
            yield (
                f"a {what} {length(deepest)} deep goes through the board",
                "make it shallower, or let it go right through",
            )
        elif layout.stack > 1 and machine.has_spindle:
            yield (
                f"a {what} {deep} deep reaches only the top board of a stack of {layout.stack}",
                "cut these parts one board at a time: stack = 1",
            )
    for pocket in part.pockets:
        for message in pocket_problems(pocket, part.region):
            yield f"a pocket: {message}", "draw it again"
    if machine.cutting.least_hole is not None:
        yield from _narrow_holes(part, machine.cutting.least_hole)
    if machine.has_beam:
        yield from _laser_faults(layout, placement, cutter, machine)


def _laser_faults(
    layout: BoardLayout, placement: Placement, cutter: Cutter, machine: Machine
) -> Iterator[tuple[str, str]]:
    row = cutter.feed_for(layout.board.material)
    if placement.part.marks and machine.runs_gcode and row is not None:
        missing = [key for key in ("mark_power", "mark_feed") if getattr(row, key) is None]
        if missing:
            yield (
                f'the profile has no settings for marks in "{row.material}"',
                f"give its feed row {' and '.join(missing)}, or leave the marks out",
            )
    least = cutter.diameter + TOLERANCES.least_beam_play
    tiny = [hole for hole in placement.part.holes if cutter.diameter <= hole.diameter < least]
    if tiny:
        yield (
            f"a hole of {length(tiny[0].diameter)} is hardly wider than the beam's kerf of {length(cutter.diameter)}",
            f"make it at least {length(least)}",
        )
