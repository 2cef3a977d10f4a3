"""Reads the data of a plan.json with the path of every key, so that a message can name the place of a fault. mm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import shapely

from cutjob.errors import InputError, Problem
from cutjob.geometry.contour import Contour, polyline
from cutjob.geometry.segment import Line, Point, distance
from cutjob.tolerances import TOLERANCES

_FARTHEST = 1e6  # mm; larger numbers are typing errors


def shown(data: Any) -> str:
    """Return a short text for a value, for a message."""
    text = "a list" if isinstance(data, list) else "a table" if isinstance(data, Mapping) else repr(data)[:40]
    return "nothing" if data is None else text


class PlanData:
    """A value of a plan and its path. Every method raises InputError with that path for a value of another kind."""

    def __init__(self, data: Any, path: str = "plan") -> None:
        """Take a value as JSON gives it, and its path."""
        self.data, self.place = data, path

    def fail(self, message: str) -> InputError:
        """The error to raise about this value."""
        return InputError(Problem(place=self.place, message=message, advice="write the plan again with cutjob make"))

    def __getitem__(self, key: str) -> PlanData:
        """The value of a key that must be there."""
        if not isinstance(self.data, Mapping) or key not in self.data:
            raise self.fail(f'has no "{key}"')
        return PlanData(self.data[key], f"{self.place}.{key}")

    def get(self, key: str) -> PlanData | None:
        """The value of a key, or None where it is missing or null."""
        value = self.data.get(key) if isinstance(self.data, Mapping) else None
        return None if value is None else PlanData(value, f"{self.place}.{key}")

    def each(self) -> list[PlanData]:
        """The values of a list."""
        if not isinstance(self.data, Sequence) or isinstance(self.data, str):
            raise self.fail("should be a list")
        return [PlanData(value, f"{self.place}[{number}]") for number, value in enumerate(self.data)]

    def several(self, key: str) -> list[PlanData]:
        """The values of the list at a key; none where the key is missing or null."""
        found = self.get(key)
        return [] if found is None else found.each()

    def number(self) -> float:
        """A number of a size that makes sense."""
        # Compared before it is converted: a whole number may be too long for a float.
        if isinstance(self.data, bool) or not isinstance(self.data, (int, float)) or not abs(self.data) < _FARTHEST:
            raise self.fail(f"should be a number, not {shown(self.data)}")
        return float(self.data)

    def not_negative(self) -> float:
        """A number from 0."""
        value = self.number()
        if value < 0:
            raise self.fail(f"should not be less than 0, but is {value:g}")
        return value

    def positive(self) -> float:
        """A number more than 0."""
        value = self.number()
        if value <= TOLERANCES.same_point:
            raise self.fail(f"should be more than 0, not {value:g}")
        return value

    def index(self, count: int, what: str) -> int:
        """The index of one of `count` things; `what` names the thing, for the message."""
        value = self.number()
        if value != int(value) or not 0 <= value < count:
            raise self.fail(f"the board has no {what} {value:g}")
        return int(value)

    def whole(self) -> int:
        """A whole number from 1."""
        value = self.number()
        if value != int(value) or value < 1:
            raise self.fail(f"should be a whole number from 1, not {value:g}")
        return int(value)

    def count(self) -> int:
        """A whole number from 0."""
        value = self.not_negative()
        if value != int(value):
            raise self.fail(f"should be a whole number, not {value:g}")
        return int(value)

    def text(self) -> str:
        """A text."""
        if not isinstance(self.data, str):
            raise self.fail(f"should be text, not {shown(self.data)}")
        return self.data

    def point(self) -> Point:
        """A point."""
        quick = _quick_point(self.data)
        if quick is not None:
            return quick
        pair = self.each()
        if len(pair) != 2:
            raise self.fail("should be a point, [x, y]")
        return pair[0].number(), pair[1].number()

    def points(self) -> list[Point]:
        """The points of a list."""
        if isinstance(self.data, list):
            quick = [_quick_point(data) for data in self.data]
            found = [point for point in quick if point is not None]
            if len(found) == len(quick):
                return found
        return [point.point() for point in self.each()]

    def path(self) -> tuple[Line, ...]:
        """An open chain of at least one line."""
        points = self.points()
        lines = tuple(Line(a, b) for a, b in pairwise(points) if distance(a, b) > TOLERANCES.same_point)
        if not lines:
            raise self.fail("a mark needs two different points")
        return lines

    def contour(self) -> Contour:
        """A closed contour that encloses something and doesn't cross itself."""
        points = self.points()
        try:
            contour = polyline(points)
        except ValueError as error:
            raise self.fail(str(error)) from None
        ring = shapely.Polygon([segment.start for segment in contour.segments])
        if not ring.is_valid:
            raise self.fail("crosses or touches itself")
        if ring.area <= TOLERANCES.same_point:
            raise self.fail("encloses nothing")
        return contour


def _quick_point(data: Any) -> Point | None:
    """A point, if it has no fault: plans hold hundreds of thousands."""
    if type(data) is not list or len(data) != 2:
        return None
    x, y = data
    if type(x) is float and type(y) is float and abs(x) < _FARTHEST and abs(y) < _FARTHEST:
        return x, y
    return None
