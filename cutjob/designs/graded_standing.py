"""How a graded stack stands: the height of every part above the floor, from the base up. mm.

The rod runs from the underside of the base into the topper, and sets every height.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from cutjob.geometry.contour import Region, rectangle
from cutjob.parts.part import RodPart, SawnPart, ShapedPart, Stand

# A base is as wide as the board it is sawn off, which a design does not know: drawn as wide as a common picket.
_BASE_WIDTH = 140.0


def stack_stands(
    pieces: Sequence[ShapedPart],
    *,
    on_rod: Sequence[float],
    seats: Sequence[float],
    gaps: Sequence[float],
    flat: bool,
    base: Sequence[SawnPart],
    foot: float,
    rod: RodPart,
    thickness: float,
    topper: tuple[ShapedPart, float, float] | None,
) -> tuple[Stand, ...]:
    """Return base, rod, pieces from below and topper as they stand.

    Each piece covers `on_rod` of the rod, with `gaps` between, and, standing on edge, meets it `seats` above its own
    y = 0; `topper` is the part, the height in its frame at which the rod enters it on edge, and how deep.
    """
    stands = [
        Stand(
            part=piece.name,
            outline=Region(rectangle(piece.length, min(piece.length, _BASE_WIDTH))),
            seen="edge",
            foot=place * thickness,
            centre=piece.length / 2,
            thick=thickness,
        )
        for place, piece in enumerate(base)
    ]
    rod_region = Region(rectangle(rod.diameter, rod.length))
    stands.append(
        Stand(part=rod.name, outline=rod_region, seen="face", foot=0.0, centre=rod.diameter / 2, thick=rod.diameter)
    )
    height = len(base) * thickness + foot
    for piece, covered, seat, gap in zip(pieces, on_rod, seats, (*gaps, 0.0), strict=True):
        foot_of = height if flat else height - seat
        stands.append(_on_rod(piece, foot=foot_of, flat=flat, thickness=thickness, turns=True))
        height += covered + gap
    if topper is not None:
        part, seat, socket = topper
        top = rod.length - socket
        foot_of = top if flat else top - seat
        stands.append(_on_rod(part, foot=foot_of, flat=flat, thickness=thickness, turns=False))
    return tuple(stands)


def _on_rod(part: ShapedPart, *, foot: float, flat: bool, thickness: float, turns: bool) -> Stand:
    seen: Literal["face", "edge"] = "edge" if flat else "face"
    return Stand(part=part.name, outline=part.region, seen=seen, foot=foot, thick=thickness, turns=turns)
