"""What may be wrong with where a pocket and its islands lie on a part."""

from __future__ import annotations

import shapely

from cutjob.geometry.contour import Region
from cutjob.geometry.polygons import to_polygon
from cutjob.parts.part import Pocket

_SPECK = 1e-3  # mm2: what is smaller is rounding


def pocket_problems(pocket: Pocket, part: Region) -> list[str]:
    """Return what is wrong with where a pocket and its islands lie, in plain words; empty when nothing is.

    A pocket may reach over the part's edge and over the edges of openings, and hold openings whole: there is air there,
    and its floor ends at their edges. An island may hold an opening or reach into one. Wrong is a pocket or an island
    with no wood under it, an island that isn't whole inside the pocket's outline, islands that overlap, and an outline
    that crosses itself.
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
        found.append("it lies wholly outside the part")
    elif outside.difference(shapely.union_all(islands)).intersection(wood).area < _SPECK:
        found.append("it lies wholly in an opening of the part, where no wood is")
    for number, island in enumerate(islands, start=1):
        if outside.intersection(island).area < _SPECK:
            found.append(f"island {number} lies outside the pocket")
        elif island.difference(outside).area > _SPECK:
            found.append(f"island {number} lies partly outside the pocket")
        elif not found and island.intersection(wood).area < _SPECK:
            found.append(f"island {number} lies where no wood is: in an opening of the part or beyond its edge")
    for i, island in enumerate(islands):
        for j, other in enumerate(islands[i + 1 :], start=i + 2):
            if island.intersection(other).area > _SPECK:
                found.append(f"islands {i + 1} and {j} overlap")
    return found
