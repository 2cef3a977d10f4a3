"""What of parts that a saw cuts out is left to the hands: a saw makes outlines and openings only."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from cutjob.parts.part import HandHole, Item, ShapedPart
from cutjob.units import Unit, format_length

_NOTE = "where the pattern shows it"


def with_hand_holes(items: Sequence[Item]) -> tuple[Item, ...]:
    """Return the items with the holes of their shaped parts among those drilled by hand; wide ends of counterbored
    holes are holes of their own.
    """
    return tuple(
        replace(
            item,
            build=replace(
                item.build,
                hand_holes=(*item.build.hand_holes, *(hole for part in item.build.shaped for hole in _holes(part))),
            ),
        )
        for item in items
    )


def pockets_left(items: Sequence[Item], unit: Unit) -> Iterator[str]:
    """Yield a warning for every part with pockets, which are for a router or a chisel."""
    for item in items:
        for part in item.build.shaped:
            depths = sorted({pocket.depth for pocket in part.pockets})
            if depths:
                deep = " and ".join(format_length(depth, unit=unit) for depth in depths)
                what = "pocket" if len(part.pockets) == 1 else f"{len(part.pockets)} pockets"
                yield (
                    f'item "{item.name}": part "{part.name}": {what} {deep} deep, not for a saw; rout or chisel it out '
                    f"{_NOTE}"
                )


def _holes(part: ShapedPart) -> Iterator[HandHole]:
    for hole in part.round_holes:
        yield HandHole(part=part.name, diameter=hole.diameter, depth=hole.depth, note=_NOTE)
