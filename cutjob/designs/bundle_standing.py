"""How a bundle hangs: its cords with their knots, and the star of equal laths below. mm.

Heights are those above the underside of the lowest piece.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from shapely import LineString

from cutjob.geometry.contour import Region, circle, polyline
from cutjob.geometry.segment import Point
from cutjob.geometry.transform import Transform
from cutjob.parts.part import ShapedPart, Stand

_KNOT = 3.5  # across a knot, of the cord's thickness: wider than the hole. Common practice, no source
_MOST_MITRE = 2.0


def star_of_sticks(*, tips: int, skip: int, stick: float) -> tuple[float, float]:
    """Return the diameter of the circle through the tips, mm, and the angle between the two sticks of a tip, degrees.

    Each stick of length `stick` runs from a tip to the one `skip` further round: by the law of cosines
    stick^2 = 2 R^2 (1 - cos(2 pi skip / tips)), and two that meet see an arc of 2 pi (tips - 2 skip) / tips, of which
    the angle at the tip is half.
    """
    turn = 2 * math.pi * skip / tips
    return 2 * stick / math.sqrt(2 * (1 - math.cos(turn))), 180.0 * (tips - 2 * skip) / tips


def cord_stands(
    apart: Sequence[float], *, thick: float, gaps: Sequence[float], cord: float, knot: float, hanger: float
) -> tuple[Stand, ...]:
    """Return both cords, `cord` thick, through the holes `apart` of each piece, with a knot under each piece and their
    upper ends, `hanger` long above the top piece, brought together where they reach.
    """
    feet = [place * thick + sum(gaps[:place]) for place in range(len(apart))]
    stands = []
    for side in (-1, 1):
        way: list[Point] = [(side * apart[0] / 2, -_KNOT * cord)]
        for wide, foot in zip(apart, feet, strict=True):
            way += [(side * wide / 2, foot), (side * wide / 2, foot + thick)]
        free, half, top = hanger - knot, apart[-1] / 2, feet[-1] + thick
        if free > half:
            way.append((0.0, top + math.sqrt(free**2 - half**2)))
        elif free > 0:
            way.append((side * half, top + free))
        stands.append(_line(way, cord))
        if knot > 0:
            places = [(side * wide / 2, foot) for wide, foot in zip(apart, feet, strict=True)]
            stands += [_ball(x, y - _KNOT * cord / 2, _KNOT * cord) for x, y in places]
    return tuple(stands)


def star_stands(
    laths: Sequence[ShapedPart], *, tips: int, skip: int, top: float, thick: float, cord: float
) -> tuple[Stand, ...]:
    """Return the star's laths as they lie over one another, the uppermost joint `top` above the floor, and its cord."""
    if not laths:
        return ()
    _, _, stick, width = laths[0].region.bounds
    across, _ = star_of_sticks(tips=tips, skip=skip, stick=stick - width)
    # The upper edge of the tip's two laths must clear the joint by half a lath.
    middle = top - across / 2 - width / 2
    stands = []
    for place, lath in enumerate(laths):
        first, second = (math.pi / 2 + 2 * math.pi * tip / tips for tip in (place, place + skip))
        x0, y0 = across / 2 * math.cos(first), across / 2 * math.sin(first)
        x1, y1 = across / 2 * math.cos(second), across / 2 * math.sin(second)
        turn = Transform(degrees=math.degrees(math.atan2(y1 - y0, x1 - x0)))
        moved = turn.point((stick / 2, width / 2))
        at = Transform(degrees=turn.degrees, x=(x0 + x1) / 2 - moved[0], y=(y0 + y1) / 2 - moved[1])
        stands.append(Stand(part=lath.name, outline=at.region(lath.region), seen="face", foot=middle, thick=thick))
    return (_line([(0.0, 0.0), (0.0, top - width / 2)], cord), *stands)


def lifted(stands: Sequence[Stand]) -> tuple[Stand, ...]:
    """Return the stands moved up so that the lowest wood is at the floor."""
    feet = [
        stand.foot + (stand.outline.bounds[1] if stand.seen == "face" else 0.0)
        for stand in stands
        if stand.look != "cord"
    ]
    return tuple(replace(stand, foot=stand.foot - min(feet)) for stand in stands)


def _line(way: Sequence[Point], wide: float) -> Stand:
    area = LineString(way).buffer(wide / 2, cap_style="flat", join_style="mitre", mitre_limit=_MOST_MITRE)
    outline = Region(polyline([(x, y) for x, y in area.exterior.coords]).turned(counter_clockwise=True))
    return Stand(part="cord", outline=outline, seen="face", foot=0.0, thick=wide, look="cord")


def _ball(x: float, y: float, across: float) -> Stand:
    ball = Region(circle((x, y), across / 2))
    return Stand(part="knot", outline=ball, seen="face", foot=0.0, thick=across, look="cord")
