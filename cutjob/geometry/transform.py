"""Moving, turning and mirroring without change of size: arcs stay arcs and areas stay the same."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from cutjob.geometry.contour import Contour, Region
from cutjob.geometry.segment import Arc, Line, Point, Segment


@dataclass(frozen=True, slots=True, kw_only=True)
class Transform:
    """First mirror (x to -x) if asked, then turn counter-clockwise by `degrees`, then shift by `x`, `y` mm."""

    x: float = 0.0
    y: float = 0.0
    degrees: float = 0.0
    mirrored: bool = False

    def _matrix(self) -> tuple[float, float, float, float]:
        quarter, remainder = divmod(self.degrees, 90)
        if remainder == 0:  # exact for the turns that grain allows
            cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
        else:
            cos, sin = math.cos(math.radians(self.degrees)), math.sin(math.radians(self.degrees))
        flip = -1.0 if self.mirrored else 1.0
        return cos * flip, -sin, sin * flip, cos

    def inverse(self) -> Transform:
        """The transform that moves everything back to its place, within rounding."""
        back = Transform(degrees=self.degrees if self.mirrored else -self.degrees, mirrored=self.mirrored)
        x, y = back.point((self.x, self.y))
        return Transform(x=-x, y=-y, degrees=back.degrees, mirrored=back.mirrored)

    def point(self, point: Point) -> Point:
        """The point moved."""
        a, b, c, d = self._matrix()
        return a * point[0] + b * point[1] + self.x, c * point[0] + d * point[1] + self.y

    def segment(self, segment: Segment) -> Segment:
        """The segment moved; mirroring turns clockwise into counter-clockwise."""
        return self._segments((segment,))[0]

    def _segments(self, segments: Iterable[Segment]) -> list[Segment]:
        a, b, c, d = self._matrix()
        x, y, mirrored = self.x, self.y, self.mirrored
        moved: list[Segment] = []
        for segment in segments:
            (px, py), (qx, qy) = segment.start, segment.end
            start = (a * px + b * py + x, c * px + d * py + y)
            end = (a * qx + b * qy + x, c * qx + d * qy + y)
            if isinstance(segment, Line):
                moved.append(Line(start, end))
            else:
                cx, cy = segment.centre
                centre = (a * cx + b * cy + x, c * cx + d * cy + y)
                moved.append(Arc(start, end, centre, segment.clockwise != mirrored))
        return moved

    def contour(self, contour: Contour) -> Contour:
        """The contour moved, in its old direction (so a hole stays clockwise)."""
        moved = Contour(tuple(self._segments(contour.segments)))
        return moved.reversed() if self.mirrored else moved

    def region(self, region: Region) -> Region:
        """The region moved."""
        return Region(self.contour(region.outline), tuple(self.contour(hole) for hole in region.holes))
