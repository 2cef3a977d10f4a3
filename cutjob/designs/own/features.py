"""Draws the features of a part of a design file: holes, openings, pockets and marks, with their repeats. mm."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cutjob.designs.drawn_parts import LARGEST_HOLE
from cutjob.designs.own.model import HoleEntry, PartEntry
from cutjob.designs.own.quantity import FormulaError
from cutjob.designs.own.scope import Scope
from cutjob.designs.own.shapes import ShapeError, asked, line_of, moves, outline, point
from cutjob.designs.own.spelling import Formula
from cutjob.files.fields import KeyPath
from cutjob.geometry.contour import Contour, Region, circle
from cutjob.parts.part import Counterbore, Hole, Mark, Pocket
from cutjob.units import format_length

MOST_FEATURES = 2000  # of one part


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A feature, and the key path of its entry, from the part's table."""

    keys: KeyPath
    thing: Hole | Contour | Pocket | Mark
    fitted: bool = False


def wanted(scope: Scope, keys: KeyPath, when: Formula | None) -> bool:
    """Whether an entry is made, by its `when`. Raises ShapeError."""
    try:
        return when is None or scope.yes(when)
    except FormulaError as error:
        raise ShapeError((*keys, "when"), error) from None


def features(part: PartEntry, scope: Scope, *, thickness: float) -> list[Drawn]:
    """Return all features of a part, in the order of the file. Raises ShapeError for the first mistake."""
    found: list[Drawn] = []
    for one in _all(part, scope, thickness):
        found.append(one)
        if len(found) > MOST_FEATURES:
            raise ShapeError(
                one.keys, FormulaError(f"the part has more than {MOST_FEATURES} features; lower its repeats")
            )
    return found


def _all(part: PartEntry, scope: Scope, thickness: float) -> Iterator[Drawn]:
    for index, hole in enumerate(part.hole):
        with _under("hole", index):
            yield from _holes(hole, scope, ("hole", index), thickness)
    for index, opening in enumerate(part.opening):
        keys: KeyPath = ("opening", index)
        with _under(*keys):
            if wanted(scope, (), opening.when):
                for inner, move in moves(opening.repeat, scope):
                    drawn = outline(opening, inner)
                    contour = move.contour(drawn.contour)
                    round_one = contour.circle()
                    if round_one is not None and 2 * round_one[1] <= LARGEST_HOLE:
                        yield Drawn(keys=keys, thing=Hole(at=round_one[0], diameter=2 * round_one[1]))
                    else:
                        yield Drawn(keys=keys, thing=contour, fitted=drawn.fitted)
    for index, pocket in enumerate(part.pocket):
        keys = ("pocket", index)
        with _under(*keys):
            if wanted(scope, (), pocket.when):
                for inner, move in moves(pocket.repeat, scope):
                    drawn = outline(pocket, inner)
                    depth = _depth(inner, ("depth",), pocket.depth, thickness)
                    thing = Pocket(region=Region(move.contour(drawn.contour)), depth=depth)
                    yield Drawn(keys=keys, thing=thing, fitted=drawn.fitted)
    for index, mark in enumerate(part.mark):
        keys = ("mark", index)
        with _under(*keys):
            if wanted(scope, (), mark.when):
                for inner, move in moves(mark.repeat, scope):
                    path = line_of(mark, inner, is_closed=mark.closed)
                    mark_depth = None if mark.depth is None else _depth(inner, ("depth",), mark.depth, thickness)
                    yield Drawn(keys=keys, thing=Mark(path=tuple(move.segment(one) for one in path), depth=mark_depth))


class _under:  # noqa: N801 - reads as a word
    """Puts the feature's own keys before the keys of a mistake in it."""

    def __init__(self, *keys: str | int) -> None:
        self.keys: KeyPath = keys

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if isinstance(error, ShapeError):
            raise ShapeError((*self.keys, *error.keys), error.cause) from None


def _holes(hole: HoleEntry, scope: Scope, keys: KeyPath, thickness: float) -> Iterator[Drawn]:
    if not wanted(scope, (), hole.when):
        return
    for inner, move in moves(hole.repeat, scope):
        at = move.point(point(inner, ("at",), hole.at))
        diameter = asked(inner, ("diameter",), hole.diameter)
        depth = None if hole.depth is None else _depth(inner, ("depth",), hole.depth, thickness, hole=True)
        sunk = None
        if hole.counterbore is not None:
            wide = asked(inner, ("counterbore", "diameter"), hole.counterbore.diameter)
            deep = _depth(inner, ("counterbore", "depth"), hole.counterbore.depth, thickness)
            if wide <= diameter:
                message = "the wide end is no wider than the hole; make it wider, or leave counterbore out"
                raise ShapeError(("counterbore", "diameter"), FormulaError(message))
            if depth is not None and deep >= depth:
                message = "the wide end is as deep as the hole; make it shallower"
                raise ShapeError(("counterbore", "depth"), FormulaError(message))
            sunk = Counterbore(diameter=wide, depth=deep)
        if depth is None and sunk is None and diameter > LARGEST_HOLE:
            yield Drawn(keys=keys, thing=circle(at, diameter / 2))
        else:
            yield Drawn(keys=keys, thing=Hole(at=at, diameter=diameter, depth=depth, counterbore=sunk))


def _depth(scope: Scope, keys: KeyPath, one: Formula, thickness: float, *, hole: bool = False) -> float:
    depth = asked(scope, keys, one)
    if depth >= thickness - 1e-6:
        thick = format_length(thickness, unit=scope.unit)
        through = ", or leave depth out and cut right through" if hole else ""
        message = f"this goes through boards {thick} thick; make it shallower{through}"
        raise ShapeError(keys, FormulaError(message))
    return depth
