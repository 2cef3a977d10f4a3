"""Openings while a panel is filled: what ends at them, what lies over them and costs for it, what is left open."""

from __future__ import annotations

from collections.abc import Iterator

from cutjob.layout.panel.field import Field, Laid, Opening

# What lying over an opening costs, in shares of a typical piece's area: the wood cut out, each notch, wood left beside
# it that is narrower than anything laid, and a round hole that a joint runs through. Chosen by looking at panels.
_OVER, _NOTCH, _SLIVER, _CROSSED = 6.0, 1.0, 1.5, 1.0


class OpenPlaces:
    """The openings of a field; rectangles are kept clear of pieces, round ones only of joints where that can be."""

    def __init__(self, field: Field) -> None:
        """Take the field's openings."""
        self.gap, self.least = field.gap, field.least
        self.square = [one for one in field.openings if not one.round]
        self.round = [one for one in field.openings if one.round]

    def within(self, x: int, y: int, width: int, least: int) -> Iterator[Laid]:
        """Yield what may be left open above the level `y` from `x` on, `width` wide: shares of openings, with either
        nothing or at least `least` beside them.
        """
        end, gap = x + width, self.gap
        for one in self.square:
            if not one.y <= y < one.y + one.height:
                continue
            left, right = max(x, one.x), min(end, one.x + one.width + gap)
            if right - left > gap and all(rest == 0 or rest >= least for rest in (left - x, end - right)):
                yield Laid(kind=None, x=left, y=y, width=right - left - gap, height=one.y + one.height - y)

    def holds(self, one: Laid) -> bool:
        """Whether a laid piece, or what was left open, lies wholly in an opening."""
        return any(_in_square(one, opening) for opening in self.square) or any(
            _in_round(one, opening) for opening in self.round
        )

    def ends(self, x: int, y: int, width: int, near: int) -> list[int]:
        """How wide a cell from either side of a hollow is that ends at an opening beside it, or soon above it."""
        found = []
        for one in self.square:
            if one.y - near < y < one.y + one.height:
                found += [one.x - x, x + width - (one.x + one.width + self.gap)]
        return found

    def tops(self, x: int, width: int) -> list[int]:
        """The levels at which a cell ends at the lower or upper edge of an opening over a hollow."""
        over = [one for one in self.square if x < one.x + one.width and one.x < x + width]
        return [level for one in over for level in (one.y, one.y + one.height + self.gap)]

    def cost(self, one: Laid, area: int) -> float:
        """What it costs that a piece lies over openings."""
        cost = 0.0
        for opening in self.square:
            under = opening.y - one.y - one.height - self.gap
            if 0 < under < self.least and one.x < opening.x + opening.width and opening.x < one.x + one.width:
                cost += _SLIVER  # what comes between would be no more than that after its share is cut out
        for opening in (*self.square, *self.round):
            left, low = max(one.x, opening.x), max(one.y, opening.y)
            right = min(one.x + one.width, opening.x + opening.width)
            high = min(one.y + one.height, opening.y + opening.height)
            if left >= right or low >= high:
                continue
            beside = _beside(one, opening)
            if not opening.round:
                cost += _NOTCH + _OVER * (right - left) * (high - low) / area
                cost += _SLIVER * sum(0 < wood < self.least for wood in beside)
            elif min(beside) >= 0:
                cost += _SLIVER * sum(wood < self.least for wood in beside) / 4
            else:
                cost += _CROSSED
        return cost


def _in_square(one: Laid, opening: Opening) -> bool:
    return max(_beside(one, opening)) <= 0


def _in_round(one: Laid, opening: Opening) -> bool:
    """Whether all corners of a piece lie in a round opening. Doubled lengths keep its middle whole."""
    across = opening.width
    middle = 2 * opening.x + across, 2 * opening.y + across
    return all(
        (2 * x - middle[0]) ** 2 + (2 * y - middle[1]) ** 2 <= across**2
        for x in (one.x, one.x + one.width)
        for y in (one.y, one.y + one.height)
    )


def _beside(one: Laid, opening: Opening) -> tuple[int, int, int, int]:
    """The wood left of, right of, below and above an opening in a piece over it."""
    return (
        opening.x - one.x,
        one.x + one.width - opening.x - opening.width,
        opening.y - one.y,
        one.y + one.height - opening.y - opening.height,
    )
