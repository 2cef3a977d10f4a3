"""The designs by name. A new design is one module with a `Design` value and one line in `DESIGNS`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from cutjob.designs.built_in.bundle import BUNDLE
from cutjob.designs.built_in.drilling_cradle import DRILLING_CRADLE
from cutjob.designs.built_in.footed_board import FOOTED_BOARD
from cutjob.designs.built_in.graded_rods import GRADED_RODS
from cutjob.designs.built_in.graded_stack import GRADED_STACK
from cutjob.designs.built_in.outline import OUTLINE
from cutjob.designs.built_in.plate import PLATE
from cutjob.designs.built_in.ring import RING
from cutjob.designs.built_in.rosette import ROSETTE
from cutjob.designs.built_in.round import ROUND
from cutjob.designs.built_in.star import STAR
from cutjob.designs.design import Design
from cutjob.errors import InputError, Location, Problem
from cutjob.files.values import nearest


def catalogue(designs: Iterable[Design]) -> Mapping[str, Design]:
    """Return a read-only catalogue. Raises ValueError where two designs have the same name."""
    by_name: dict[str, Design] = {}
    for design in designs:
        if design.name in by_name:
            raise ValueError(f"two designs have the name {design.name!r}")
        by_name[design.name] = design
    return MappingProxyType(by_name)


DESIGNS: tuple[Design, ...] = (
    GRADED_STACK,
    GRADED_RODS,
    DRILLING_CRADLE,
    FOOTED_BOARD,
    BUNDLE,
    ROUND,
    RING,
    ROSETTE,
    STAR,
    PLATE,
    OUTLINE,
)
CATALOGUE = catalogue(DESIGNS)


def find(
    name: str, *, designs: Mapping[str, Design] = CATALOGUE, place: str = "", location: Location | None = None
) -> Design:
    """Return the design of that name. Raises InputError with the nearest name or the list of all."""
    if name in designs:
        return designs[name]
    raise InputError(
        Problem(
            message=f'there is no design "{name}"',
            advice=nearest(name, designs),
            place=place,
            location=location,
        )
    )
