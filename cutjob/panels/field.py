"""What a panel is filled from and with, as values: pieces, the field's rules, laid pieces. All in whole units."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """`count` equal cut ends: `length` runs along the grain. `tone` is 0 (dark) to 9 (light)."""

    name: str
    length: int
    width: int
    count: int
    tone: int = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A place left open: a rectangle from its lower left corner, or round (`width` = `height`) in that square."""

    x: int
    y: int
    width: int
    height: int
    round: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """The rectangle to fill and its rules.

    `gap` lies open between pieces; nothing narrower than `least` is laid; at most `trim` comes off a piece's length
    or width; no joint runs straight on for more than `longest_joint`; pieces lie across as well if they may `turn`.
    With a saw's `kerf` given, what comes off trimmed pieces is used for others. A cut that takes off less than
    `least_cut` is made only where nothing else fits. Pieces are cut to whole multiples of `tape`, what lies between two
    marks of a tape, wherever that goes out.
    """

    width: int
    height: int
    least: int
    longest_joint: int
    trim: int
    gap: int = 0
    turn: bool = True
    openings: tuple[Opening, ...] = ()
    kerf: int | None = None
    least_cut: int = 1
    tape: int = 1

    def sawable(self, size: int, wanted: int) -> bool:
        """True when a size is what is wanted, or enough more for a saw to take it off."""
        return size == wanted or size - wanted >= self.least_cut


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A piece as it lies: its lower left corner and its size in the panel.

    `kind` is the place of its piece in the inventory, None for one that must still be found. `across`: its grain runs
    up the panel. `offcut_of` is the place in `Filling.laid` of the piece it is cut off from, None where it has a piece
    of its own; then `from_end` says that it comes out of the end cut off there, else out of the strip ripped off.
    """

    kind: int | None
    x: int
    y: int
    width: int
    height: int
    across: bool = False
    offcut_of: int | None = None
    from_end: bool = False

    @property
    def along_grain(self) -> int:
        """Its length."""
        return self.height if self.across else self.width

    @property
    def across_grain(self) -> int:
        """Its width, across the grain."""
        return self.width if self.across else self.height


def cut_out(one: Laid, opening: Opening) -> tuple[int, int, int, int] | None:
    """Return what an opening's box takes of a laid piece, from its lower left corner: x, y, width, height; or None."""
    left, low = max(one.x, opening.x), max(one.y, opening.y)
    right = min(one.x + one.width, opening.x + opening.width)
    high = min(one.y + one.height, opening.y + opening.height)
    return (left - one.x, low - one.y, right - left, high - low) if left < right and low < high else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """A field filled: the laid pieces in the order of assembly, each resting on earlier ones, on the frame or over an
    opening. Of what lies over an opening its share is cut out; nothing lies wholly in one.
    """

    field: Field
    pieces: tuple[Piece, ...]
    laid: tuple[Laid, ...]

    @property
    def trimmed(self) -> int:
        """Area cut off the pieces used, in square units, offcuts that are used again not counted."""
        kinds = [self.pieces[one.kind] for one in self.own if one.kind is not None]
        whole = sum(piece.length * piece.width for piece in kinds)
        return whole - sum(one.width * one.height for one in self.laid if one.kind is not None)

    @property
    def gathered(self) -> int:
        """Area cut off the pieces laid in the quarter of the field's height where most is, beyond an even spread."""
        bands = [0] * 4
        for one in self.laid:
            if one.kind is not None and one.offcut_of is None:
                piece = self.pieces[one.kind]
                place = min((2 * one.y + one.height) * 2 // self.field.height, 3)
                bands[place] += piece.length * piece.width - one.width * one.height
        return max(bands) - sum(bands) // 4

    @property
    def thin_notches(self) -> int:
        """How many notches for openings take off less than the least piece: fiddly work at the saw."""
        square = [one for one in self.field.openings if not one.round]
        cuts = [cut for one in self.laid for opening in square if (cut := cut_out(one, opening)) is not None]
        return sum(min(wide, high) < self.field.least for _, _, wide, high in cuts)

    @property
    def own(self) -> tuple[Laid, ...]:
        """The laid pieces that take one out of the inventory."""
        return tuple(one for one in self.laid if one.kind is not None and one.offcut_of is None)

    @property
    def cuts(self) -> int:
        """How many rips and crosscuts the pieces take, an offcut's counted as if it came from a whole piece."""
        used = [(self.pieces[one.kind], one) for one in self.laid if one.kind is not None]
        return sum((one.along_grain < piece.length) + (one.across_grain < piece.width) for piece, one in used)

    @property
    def to_find(self) -> tuple[Laid, ...]:
        """What the inventory has no piece for."""
        return tuple(one for one in self.laid if one.kind is None)
