"""An inventory and a field to a complete filling: laid from below, the best of many tries, the same for one seed.

Each try lays piece on piece into the lowest hollow of what is laid. Among all pieces, turns, sides and trimmings that
keep the rules the one is taken that costs least: wood cut off, cuts, what the rest of the hollow will cost (against
all sums of up to three sizes of the inventory), equal neighbours; a little chance gives every seed its own look. Where
no piece fits, one is laid that must still be found. Pieces end at openings where they can, and nothing is laid within
one. The best try has the least to find, then the least cost.

Corners and straight joints while pieces are laid one by one.

Every edge inside the field becomes a joint once its other side is filled, so edges that touch end to end on one line
are one straight joint already. Where three corners meet, a fourth must follow: so a third is never allowed.

Openings while a panel is filled: what ends at them, what lies over them and costs for it, what is left open.
"""

from __future__ import annotations

import bisect
import random
from collections.abc import Iterator
from dataclasses import dataclass

from cutjob.panels.field import Field, Filling, Laid, Opening, Piece
from cutjob.panels.offcuts import reused

Spans = list[tuple[int, int]]


class Joints:
    """The corners and edges laid so far, in cells: pieces with the gap beyond their upper and right edges."""

    def __init__(self, field: Field) -> None:
        """Start with an empty field."""
        self.width, self.height = field.width + field.gap, field.height + field.gap
        self.longest, self.gap = field.longest_joint, field.gap
        self._corners: dict[tuple[int, int], int] = {}
        self._upright: dict[int, Spans] = {}
        self._level: dict[int, Spans] = {}

    def longest_with(self, x: int, y: int, width: int, height: int) -> int | None:
        """Return the longest straight joint a cell there is part of; None: it runs too far, or four corners meet."""
        if any(self._corners.get(corner, 0) > 1 for corner in self._inner_corners(x, y, width, height)):
            return None
        edges = self._edges(x, y, width, height)
        run = max((_run(lines.get(at, ()), span) for lines, at, span in edges), default=0) - self.gap
        return run if run <= self.longest else None

    def lay(self, x: int, y: int, width: int, height: int) -> None:
        """Take note of a cell."""
        for corner in self._inner_corners(x, y, width, height):
            self._corners[corner] = self._corners.get(corner, 0) + 1
        for lines, at, span in self._edges(x, y, width, height):
            spans = lines.setdefault(at, [])
            touching = [one for one in spans if one[0] <= span[1] and one[1] >= span[0]]
            lines[at] = [one for one in spans if one not in touching]
            lines[at].append((min(a for a, _ in [*touching, span]), max(b for _, b in [*touching, span])))

    def _inner_corners(self, x: int, y: int, width: int, height: int) -> list[tuple[int, int]]:
        across = [at for at in (x, x + width) if 0 < at < self.width]
        up = [at for at in (y, y + height) if 0 < at < self.height]
        return [(one, other) for one in across for other in up]

    def _edges(self, x: int, y: int, width: int, height: int) -> list[tuple[dict[int, Spans], int, tuple[int, int]]]:
        sides = [(self._upright, at, (y, y + height)) for at in (x, x + width) if 0 < at < self.width]
        return sides + [(self._level, at, (x, x + width)) for at in (y, y + height) if 0 < at < self.height]


def _run(spans: Spans | tuple[()], span: tuple[int, int]) -> int:
    """Length of the straight joint that a new edge becomes a part of."""
    first, last = span
    for a, b in spans:
        if a <= span[1] and b >= span[0]:
            first, last = min(first, a), max(last, b)
    return last - first


# What lying over an opening, or ending a little beside its side, costs, in shares of a typical piece's area: the wood
# cut out, each notch, wood left beside it that is narrower than anything laid, and a round hole that a joint runs
# through. Chosen by looking at panels.
_OVER, _NOTCH, _SLIVER, _CROSSED, _BESIDE = 6.0, 1.0, 1.5, 1.0, 0.8


class OpenPlaces:
    """The openings of a field; rectangles are kept clear of pieces, round ones only of joints where that can be."""

    def __init__(self, field: Field, near: int) -> None:
        """Take the field's openings; what lies `near` below one has to do with it."""
        self.near = near
        self.gap, self.least, self.height = field.gap, field.least, field.height
        self.square = [one for one in field.openings if not one.round]
        self.round = [one for one in field.openings if one.round]

    def within(self, x: int, y: int, width: int, least: int) -> Iterator[Laid]:
        """Yield what may be left open above the level `y` from `x` on, `width` wide: shares of openings at least
        `least` wide, with either nothing or as much beside and above them.
        """
        end, gap = x + width, self.gap
        for one in self.square:
            if not one.y <= y < one.y + one.height:
                continue
            left, right = max(x, one.x), min(end, one.x + one.width + gap)
            over = self.height - one.y - one.height
            # Nothing as narrow as less than the least could be laid beside it, above it, or on what lies beside it.
            if right - left >= least and all(rest == 0 or rest >= least for rest in (left - x, end - right, over)):
                yield Laid(kind=None, x=left, y=y, width=right - left - gap, height=one.y + one.height - y)

    def holds(self, one: Laid) -> bool:
        """Whether a laid piece, or what was left open, lies wholly in an opening."""
        return any(_in_square(one, opening) for opening in self.square) or any(
            _in_round(one, opening) for opening in self.round
        )

    def ends(self, x: int, y: int, width: int) -> list[int]:
        """How wide a cell from either side of a hollow is that ends at an opening beside it, or soon above it."""
        found = []
        for one in self.square:
            if one.y - self.near < y < one.y + one.height:
                found += [one.x - x, x + width - (one.x + one.width + self.gap)]
        return found

    def tops(self, x: int, width: int) -> list[int]:
        """The levels at which a cell ends at the lower or upper edge of an opening over a hollow."""
        over = [one for one in self.square if x < one.x + one.width and one.x < x + width]
        return [level for one in over for level in (one.y, one.y + one.height + self.gap)]

    def cost(self, one: Laid, area: int) -> float:
        """What it costs that a piece lies over openings, or leaves too little between it and one."""
        cost = 0.0
        for opening in self.square:
            right = opening.x + opening.width + self.gap
            under = opening.y - one.y - one.height - self.gap
            if 0 < under < self.least and one.x < opening.x + opening.width and opening.x < one.x + one.width:
                cost += _SLIVER  # what comes between would be no more than that after its share is cut out
            if -opening.height < under < self.near and one.y < opening.y + opening.height:
                for side in (one.x, one.x + one.width + self.gap):
                    # What is laid beside it next would reach over the opening by as little as that, or stop short.
                    cost += _BESIDE * (0 < min(abs(side - opening.x), abs(side - right)) < self.least)
        for opening in (*self.square, *self.round):
            left, low = max(one.x, opening.x), max(one.y, opening.y)
            right = min(one.x + one.width, opening.x + opening.width)
            high = min(one.y + one.height, opening.y + opening.height)
            if left >= right or low >= high:
                continue
            beside = _beside(one, opening)
            if not opening.round:
                cost += _NOTCH + _OVER * (right - left) * (high - low) / area
                cost += _SLIVER * (min(right - left, high - low) < self.least)  # a notch that hardly takes anything
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


_TRIES = 2
_MORE_TRIES = 12  # times as many where none has come to an end
_MOST_STEPS = 20_000  # of all tries together: large panels get fewer of them
# A filled field is laid anew from these shares of its height on, so often each, and the better one kept: what is laid
# first leaves what comes last, at the upper edge, little choice.
_AGAIN = ((0.5, 2), (0.7, 3), (0.85, 2))
# What things cost, in shares of a typical piece's area. Chosen by looking at panels, no source.
_CUT, _REST, _SAME_TONE, _SAME_SIZE, _CHANCE, _FIND, _NEAR_CORNER, _LONG = 0.12, 1.0, 0.5, 0.1, 0.25, 0.5, 0.15, 0.8
_TRIM, _UNEVEN, _OFF_TAPE, _GATHERED = 2.0, 0.3, 0.2, 1.0
_LOOKED_AT = 16
_MOST_KINDS = 80  # looked at for one hollow: of more, that many by chance
_MOST_STUCK = 40  # times a try may step back
_MOST_SUMS = 60  # sizes that sums are made of


@dataclass(frozen=True, slots=True)
class _Hollow:
    """The lowest stretch of the upper edge: `left` and `right` are the tops beside it (the field's edge: None)."""

    x: int
    y: int
    width: int
    left: int | None
    right: int | None


def fill(field: Field, pieces: tuple[Piece, ...], *, seed: int = 0) -> Filling | None:
    """Return the best filling found, or None when no try could keep the rules for joints and corners."""
    count = likely_pieces(field, pieces)
    tries = max(1, min(_TRIES, _MOST_STEPS // (count * max(min(len(pieces), _MOST_KINDS), 1))))
    best: tuple[tuple[float, float], Filling] | None = None
    for number in range(_MORE_TRIES * tries):
        if number >= tries and best is not None:
            break  # only where nothing was found yet it goes on
        filled = _Try(field, pieces, random.Random(f"{seed}/{number}")).run()
        if filled is None:
            continue
        filling, cost = filled
        if field.kerf is not None:
            filling = reused(filling, field.kerf)
        missing = float(sum(one.width * one.height for one in filling.to_find))
        if best is None or (missing, cost) < best[0]:
            best = (missing, cost), filling
    return None if best is None else best[1]


def likely_pieces(field: Field, pieces: tuple[Piece, ...]) -> int:
    """Return about how many pieces the field takes."""
    return max(1, field.width * field.height // max(_typical(pieces), field.least) ** 2)


def _typical(pieces: tuple[Piece, ...]) -> int:
    sides = sorted(side for piece in pieces for side in (piece.length, piece.width))
    return sides[len(sides) // 2] if sides else 1


class _Try:
    """One filling under way. Cells: pieces with the gap beyond their upper and right edges."""

    def __init__(self, field: Field, pieces: tuple[Piece, ...], chance: random.Random) -> None:
        """Start with an empty field and the whole stock."""
        self.field, self.pieces, self.chance = field, pieces, chance
        self.width, self.height = field.width + field.gap, field.height + field.gap
        self.least = field.least + field.gap
        self.joints: Joints
        self.stock: list[int]
        self.skyline: list[tuple[int, int, int]]  # x, width, y
        self.laid: list[Laid]
        self.costs: list[float]
        self.history: list[list[tuple[int, int, int]]]
        self._clear()
        self.stuck = 0
        self.typical = min(max(_typical(pieces) + field.gap, self.least), self.width, self.height)
        self.places = OpenPlaces(field, self.typical)
        self.sums = _sums(pieces, field.gap)
        # What must be found is no larger than so many times what such an inventory has.
        sides = [(max(piece.length, piece.width), min(piece.length, piece.width)) for piece in pieces]
        long, wide = (max(2 * self.least, field.gap + max(side)) for side in zip(*sides, strict=True))
        self.largest = (min(6 * self.typical, 2 * long), min(3 * self.typical, 2 * wide))

    def run(self) -> tuple[Filling, float] | None:
        """Lay until the field is full, and its upper shares anew while that is better; None when it stays stuck."""
        if not self._full():
            return None
        best, laid = self._worth(), self._kept()
        for share, times in _AGAIN:
            for _ in range(times):
                self._back_to(share)
                if self._full() and self._worth() < best:
                    best, laid = self._worth(), self._kept()
                else:
                    self._restore(laid)
        return self._filling(), best[1]

    def _full(self) -> bool:
        """Lay until the field is full; False when it stays stuck."""
        self.stuck = 0
        while True:
            hollow = self._lowest()
            if hollow is None:
                return True
            best = self._best(hollow)
            if best is not None:
                self._lay(best[1], best[0])
            elif not self._step_back():
                return False

    def _filling(self) -> Filling:
        wood = (one for one in self.laid if not self.places.holds(one))
        laid = tuple(sorted(wood, key=lambda one: (one.y, one.x)))
        return Filling(field=self.field, pieces=self.pieces, laid=laid)

    def _worth(self) -> tuple[float, float]:
        """What is missing, and what all that is laid costs, with loose ends that gather in one place."""
        filling = self._filling()
        missing = sum(one.width * one.height for one in filling.to_find)
        return float(missing), sum(self.costs) + _GATHERED * filling.gathered / (self.typical * self.typical)

    def _kept(self) -> list[tuple[Laid, float]]:
        return list(zip(self.laid, self.costs, strict=True))

    def _restore(self, kept: list[tuple[Laid, float]]) -> None:
        """Lay what was kept again."""
        self._clear()
        for one, cost in kept:
            self._lay(one, cost)

    def _back_to(self, share: float) -> None:
        """Take up again what was laid once all of the field below a share of its height was full."""
        level = share * self.height
        lows = (min(y for _, _, y in skyline) for skyline in self.history)
        count = next((number for number, low in enumerate(lows) if low >= level), len(self.laid))
        self._restore(self._kept()[:count])

    def _clear(self) -> None:
        self.stock = [piece.count for piece in self.pieces]
        self.skyline = [(0, self.width, 0)]
        self.laid, self.costs, self.history = [], [], []
        self.joints = Joints(self.field)

    def _step_back(self) -> bool:
        """Take the last pieces up again, more of them each time it stays stuck; False once that was done too often."""
        self.stuck += 1
        if self.stuck > _MOST_STUCK or not self.laid:
            return False
        self._restore(self._kept()[: -self.chance.randint(2, 4 + 2 * self.stuck)])
        return True

    def _lowest(self) -> _Hollow | None:
        index = min(range(len(self.skyline)), key=lambda at: (self.skyline[at][2], self.skyline[at][0]))
        x, width, y = self.skyline[index]
        if y >= self.height:
            return None
        left = self.skyline[index - 1][2] if index else None
        right = self.skyline[index + 1][2] if index + 1 < len(self.skyline) else None
        return _Hollow(x, y, width, left, right)

    def _beside(self, hollow: _Hollow) -> list[Laid]:
        """The laid pieces that a piece in the hollow can touch."""
        gap, end = self.field.gap, hollow.x + hollow.width
        return [
            one
            for one in self.laid
            if one.x + one.width + gap >= hollow.x and one.x <= end and one.y + one.height + gap >= hollow.y
        ]

    def _best(self, hollow: _Hollow) -> tuple[float, Laid] | None:
        """The cheapest piece that keeps the rules; of each kind only what is cheap by its own sizes is looked at."""
        for one in self.places.within(hollow.x, hollow.y, hollow.width, self.least):
            gap = self.field.gap
            if self.joints.longest_with(one.x, one.y, one.width + gap, one.height + gap) is not None:
                return 0.0, one
        near = self._beside(hollow)
        own = (self._own_pieces(hollow, thin=thin) for thin in (False, True))
        for options in (*own, self._to_find(hollow)):
            found: list[tuple[float, Laid]] = []
            for rough, one in sorted(((self._rough(one, hollow), one) for one in options), key=lambda pair: pair[0]):
                run = self.joints.longest_with(one.x, one.y, one.width + self.field.gap, one.height + self.field.gap)
                if run is None:
                    continue
                found.append((rough + self._looks(one, near) + _LONG * (run / self.field.longest_joint) ** 4, one))
                if len(found) == _LOOKED_AT:
                    break
            if found:
                return min(found, key=lambda pair: pair[0])
        return None

    def _own_pieces(self, hollow: _Hollow, *, thin: bool) -> Iterator[Laid]:
        """The ways to lay each piece there still is; only with `thin` those with cuts that hardly take anything off."""
        kinds = [kind for kind, count in enumerate(self.stock) if count]
        if len(kinds) > _MOST_KINDS:
            kinds = sorted(self.chance.sample(kinds, _MOST_KINDS))
        ends = self.places.ends(hollow.x, hollow.y, hollow.width)
        levels = self._levels(hollow)
        for kind in kinds:
            piece = self.pieces[kind]
            turns = [(piece.length, piece.width, False)]
            if self.field.turn and piece.length != piece.width:
                turns.append((piece.width, piece.length, True))
            for width, height, across in turns:
                for cell_width in self._sizes(width, hollow.width, ends):
                    if not thin and not self.field.sawable(width, cell_width - self.field.gap):
                        continue
                    for cell_height in self._sizes(height, self.height - hollow.y, levels):
                        if thin or self.field.sawable(height, cell_height - self.field.gap):
                            yield from self._placed(hollow, kind, cell_width, cell_height, across)

    def _levels(self, hollow: _Hollow) -> list[int]:
        """How high a piece is that ends level with a neighbour, or at an opening."""
        tops = [top for top in (hollow.left, hollow.right) if top is not None]
        return [top - hollow.y for top in (*tops, *self.places.tops(hollow.x, hollow.width))]

    def _sizes(self, size: int, room: int, levels: list[int]) -> list[int]:
        """The cell sizes a piece's side can get: as it is, trimmed to the room, to leave the least, to be level."""
        whole = size + self.field.gap
        wanted = {whole, room, self._on_tape(room - self.least), *levels}
        return sorted(
            cell
            for cell in wanted
            if self.least <= cell <= whole
            and whole - cell <= self.field.trim
            and (cell == room or cell <= room - self.least)
        )

    def _on_tape(self, cell: int) -> int:
        """The largest cell up to a size whose piece is cut to a mark of the tape."""
        return cell - (cell - self.field.gap) % self.field.tape

    def _to_find(self, hollow: _Hollow) -> Iterator[Laid]:
        """Pieces nobody has: as wide as the hollow or a typical one, level with a neighbour or as high as can be."""
        room = self.height - hollow.y
        levels = self._levels(hollow)
        ends = self.places.ends(hollow.x, hollow.y, hollow.width)
        # Uneven sizes, or their edges would run on in lines and meet in corners.
        steps = [self._on_tape(int(self.typical * self.chance.uniform(0.4, 2.0))) for _ in range(12)]
        widths = {
            w
            for w in (hollow.width, *steps, *ends)
            if w == hollow.width or self.least <= w <= hollow.width - self.least
        }
        heights = {h for h in (room, *levels, *steps) if h == room or self.least <= h <= room - self.least}
        if min(hollow.width, room) < self.least:
            return
        long, wide = self.largest
        for width in sorted(widths):
            for height in sorted(heights):
                if min(width, height) <= wide and max(width, height) <= long:
                    yield from self._placed(hollow, None, width, height, False)

    def _placed(self, hollow: _Hollow, kind: int | None, width: int, height: int, across: bool) -> Iterator[Laid]:
        gap = self.field.gap
        for x in dict.fromkeys((hollow.x, hollow.x + hollow.width - width)):
            yield Laid(kind=kind, x=x, y=hollow.y, width=width - gap, height=height - gap, across=across)

    def _rough(self, one: Laid, hollow: _Hollow) -> float:
        """What its own sizes cost: wood cut off, cuts, and the rest of the hollow."""
        area, gap = self.typical * self.typical, self.field.gap
        cost = _CHANCE * self.chance.random() + self.places.cost(one, area)
        if one.kind is None:
            # All of them together are as large as what is missing: only their shape counts, and chance.
            cost += _FIND * abs(one.width * one.height / area - 1) + self.chance.random()
            cost += _OFF_TAPE * sum(size % self.field.tape > 0 for size in (one.width, one.height))
        else:
            piece = self.pieces[one.kind]
            cost += _TRIM * (piece.length * piece.width - one.width * one.height) / area
            for whole, size in ((piece.length, one.along_grain), (piece.width, one.across_grain)):
                cost += (_CUT + _OFF_TAPE * (size % self.field.tape > 0)) * (size < whole)
        for rest in (hollow.width - one.width - gap, self.height - hollow.y - one.height - gap):
            cost += _REST * self._short(rest) / self.typical
        if hollow.left != hollow.y + one.height + gap != hollow.right:
            cost += _UNEVEN
        return cost

    def _looks(self, one: Laid, near: list[Laid]) -> float:
        """What it costs to lie beside a piece of the same tone or size, or to miss its edges by little."""
        cost, gap = 0.0, self.field.gap
        for other in near:
            if not _touch(one, other, gap):
                continue
            if other.kind is not None and one.kind is not None:
                cost += _SAME_TONE * (self.pieces[other.kind].tone == self.pieces[one.kind].tone)
            cost += _SAME_SIZE * ((one.width, one.height) == (other.width, other.height))
            cost += _NEAR_CORNER * self._near_corner(one, other)
        return cost

    def _near_corner(self, one: Laid, other: Laid) -> int:
        """How many edges of two neighbours almost line up, which looks like a slip."""
        ends = (
            (one.x, other.x),
            (one.x + one.width, other.x + other.width),
            (one.y + one.height, other.y + other.height),
        )
        return sum(0 < abs(a - b) < self.least // 2 for a, b in ends)

    def _short(self, rest: int) -> int:
        """How much is cut off where `rest` is closed with the best sum of sizes."""
        if rest <= 0 or rest >= self.sums[-1]:
            return 0
        return self.sums[bisect.bisect_left(self.sums, rest)] - rest

    def _lay(self, one: Laid, cost: float) -> None:
        gap = self.field.gap
        width, height, end = one.width + gap, one.height + gap, one.x + one.width + gap
        self.joints.lay(one.x, one.y, width, height)
        self.laid.append(one)
        self.history.append(self.skyline)
        self.costs.append(cost)
        if one.kind is not None:
            self.stock[one.kind] -= 1
        line: list[tuple[int, int, int]] = []
        for x, wide, y in self.skyline:
            if x <= one.x and end <= x + wide:
                runs = [(x, one.x - x, y), (one.x, width, one.y + height), (end, x + wide - end, y)]
            else:
                runs = [(x, wide, y)]
            for run in runs:
                if run[1] and line and line[-1][2] == run[2]:
                    line[-1] = (line[-1][0], line[-1][1] + run[1], run[2])
                elif run[1]:
                    line.append(run)
        self.skyline = line


def _touch(one: Laid, other: Laid, gap: int) -> bool:
    """True when two pieces share some of a joint."""
    across = min(one.x + one.width, other.x + other.width) - max(one.x, other.x)
    up = min(one.y + one.height, other.y + other.height) - max(one.y, other.y)
    return max(across, up) > 0 and min(across, up) >= -gap


def _sums(pieces: tuple[Piece, ...], gap: int) -> list[int]:
    sizes = sorted({side + gap for piece in pieces for side in (piece.length, piece.width)}) or [1]
    sizes = sizes[:: max(1, len(sizes) // _MOST_SUMS)]
    two = {a + b for a in sizes for b in sizes}
    return sorted({*sizes, *two, *(a + b for a in sizes[::2] for b in two)} if len(sizes) < 40 else {*sizes, *two})
