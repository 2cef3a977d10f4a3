"""What is painted with what: each item's finishes, with the surfaces, their area, the coats and how long they dry."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from cutjob.costs.work import PartSizes, part_sizes
from cutjob.layout.layout import Layout
from cutjob.parts.finish import SURFACES, Coat, Surface
from cutjob.parts.part import Item
from cutjob.parts.surfaces import surface_areas


@dataclass(frozen=True, slots=True, kw_only=True)
class PaintedSurface:
    """A surface of one part, and its area, m2."""

    part: str
    surface: Surface
    area: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Painted:
    """What one of an item gets painted with a coat (None: paint or oil that the job does not name), how often, and how
    long each coat dries, hours.
    """

    item: str
    count: int
    coat: Coat | None
    surfaces: tuple[PaintedSurface, ...]
    coats: int
    drying: float

    @property
    def area(self) -> float:
        """The area of its surfaces, once, m2."""
        return sum(one.area for one in self.surfaces)


def finishes_of(
    items: Sequence[Item], layout: Layout, *, coats: Mapping[str, int], drying: float
) -> tuple[Painted, ...]:
    """Return the finishes of each item, in the order in which its parts first get them; none for items without coats.

    `coats` has how often each item is painted, by name. An item that names no finish is painted on all surfaces.
    """
    sizes = part_sizes(layout)
    found: list[Painted] = []
    for item in items:
        by_coat: dict[Coat | None, list[PaintedSurface]] = {}
        for coat, surface in _surfaces(item, sizes) if coats.get(item.name, 0) else ():
            by_coat.setdefault(coat, []).append(surface)
        found += [
            Painted(
                item=item.name,
                count=item.count,
                coat=coat,
                surfaces=tuple(surfaces),
                coats=coats[item.name],
                drying=drying,
            )
            for coat, surfaces in by_coat.items()
        ]
    return tuple(found)


def _surfaces(item: Item, sizes: PartSizes) -> Iterator[tuple[Coat | None, PaintedSurface]]:
    finish = dict(item.finish)
    for part in (*item.build.from_boards, *item.build.sticks):
        thick, wide = sizes.get((item.name, part.name), (0.0, 0.0))
        areas = surface_areas(part, thick=thick, wide=wide)
        for surface in SURFACES:
            own = finish[part.name].on(surface) if part.name in finish else None
            if surface in areas and (own is not None or not item.finish):
                yield own, PaintedSurface(part=part.name, surface=surface, area=areas[surface])
