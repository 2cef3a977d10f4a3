"""The wood of a bridge as an area: a loop's path and one of its tabs go in. mm, in the board's frame."""

from __future__ import annotations

import shapely

from cutjob.cuts.cut import LoopCut, TabSpan
from cutjob.geometry.ruler import Ruler
from cutjob.tolerances import TOLERANCES


def bridge_area(cut: LoopCut, tab: TabSpan, *, away: float) -> shapely.Polygon:
    """Return the wood of a bridge and what it ends in, `away` mm being from the path to the part's outline."""
    ruler = Ruler(cut.path.segments)
    middle = (tab.first + tab.last) / 2
    (x, y), (dx, dy) = ruler.place(middle)
    nx, ny = (-dy, dx) if cut.waste == "left" else (dy, -dx)
    half, far = tab.width / 2, away + TOLERANCES.anchor
    return shapely.Polygon(
        [
            (x + along * half * dx + out * nx, y + along * half * dy + out * ny)
            for along, out in ((-1, -away), (1, -away), (1, far), (-1, far))
        ]
    )
