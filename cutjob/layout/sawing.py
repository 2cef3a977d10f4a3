"""Takes sawn parts off the ends of boards before anything is laid out; the results are pieces and shorter boards. mm.

Pieces are sawn from a board's square end on; each takes its length and a kerf. Pieces narrower than the board are
ripped from a blank of their length, as many as its width holds. Pieces come from stretches of full width between ends
and keep-outs: a piece is before a knot or beyond it, and the skipped wood is lost.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import shapely
from shapely import Polygon

from cutjob.errors import InputError, Location, Problem
from cutjob.geometry.contour import Contour
from cutjob.geometry.polygons import from_polygon, polygons_of, to_polygon
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.layout import SawnPiece
from cutjob.layout.rules import may_lie_on
from cutjob.layout.saw_order import SawnBoard, Taken, saw_order
from cutjob.parts.part import Item, SawnPart
from cutjob.tolerances import TOLERANCES
from cutjob.units import length

_SAME = TOLERANCES.same_point


@dataclass(slots=True)
class Stretch:
    """Clear wood of full width, measured from the square end; the next piece starts at `used`."""

    start: float
    end: float
    square: bool  # the far end is the board's own square end, which needs no cut
    used: float
    past_keep_out: bool  # a keep-out is right before it

    def end_of(self, length: float, kerf: float) -> float | None:
        """The end of the kerf after a piece of that length, or None where it does not fit."""
        end = self.used + length + kerf
        if end <= self.end + _SAME:
            return end
        return self.end if self.square and self.used + length <= self.end + _SAME else None


def stretches_of(board: Board, kerf: float) -> list[Stretch]:
    """The clear stretches of a board, from its square end on."""
    start, end, square = _full_width(board)
    trimmed, past = start > _SAME, False
    stretches = []
    for low, high in [*_along(board), (end, end)]:
        first = start + kerf if trimmed else start
        if min(low, end) - first > _SAME:
            at_end = low >= end - _SAME
            stretches.append(Stretch(first, min(low, end), square and at_end, first, past))
        if high > start:
            start, trimmed, past = high, True, True
    return stretches


def _full_width(board: Board) -> tuple[float, float, bool]:
    """The start and end of the board's full width, from the square end, and whether it ends at the board's end."""
    points = [segment.start for segment in board.outline.segments]
    x0, y0, x1, y1 = board.outline.bounds
    low = [x for x, y in points if y <= y0 + _SAME]
    high = [x for x, y in points if y >= y1 - _SAME]
    left, right = max(min(low), min(high)), min(max(low), max(high))
    left, right = (left - x0, right - x0) if board.square_end == "left" else (x1 - right, x1 - left)
    return left, right, right >= x1 - x0 - _SAME


def _along(board: Board) -> list[tuple[float, float]]:
    """Extents of the keep-outs along the board, from the square end, sorted."""
    x0, _, x1, _ = board.outline.bounds
    spans = []
    for one in board.keep_outs:
        low, _, high, _ = one.area.bounds
        spans.append((low - x0, high - x0) if board.square_end == "left" else (x1 - high, x1 - low))
    return sorted(span for span in spans if span[1] > 0 and span[0] < x1 - x0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sawing:
    """The result of sawing: the boards left for the layout, the pieces, the number of boards of each kind that were
    sawn, and the cuts of each in order.
    """

    boards: tuple[Board, ...]
    pieces: tuple[SawnPiece, ...]
    sawn_from: tuple[tuple[str, int], ...]
    order: tuple[SawnBoard, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    item: str
    part: SawnPart
    location: Location | None
    board: str | None  # None: any


@dataclass(slots=True)
class _Sawn:
    """A board being sawn: its stretches, and the length used from the square end."""

    kind: int
    stretches: list[Stretch]
    reach: float
    pieces: list[Taken] = field(default_factory=list)


@dataclass(slots=True)
class _Blank:
    """A piece of a board's whole width from which narrower ones are ripped, and its remaining width."""

    kind: int
    entry: Taken
    left: float


@dataclass(frozen=True, slots=True, order=True)
class _Choice:
    """A place for a piece. The smallest is best, compared by: width where that comes first, price and area of what
    leaves the board, a board already begun, more of it used, wood left, width, order.
    """

    first: float
    price: float
    area: float
    begins: bool
    grows: bool
    left: float
    width: float
    kind: int
    sawn: int  # index of the board being sawn, past the last for a new one
    stretch: int


def saw_off(items: Sequence[Item], boards: Sequence[Board], *, saw_kerf: float) -> Sawing:
    """Take every item's sawn parts off the boards, long pieces first, each off the board its item names, or off the
    one wide and long enough of which the cheapest wood goes, then the least of it; wood lost before a knot counts too.

    Where some pieces then have no board, because narrow pieces used the wide boards, narrow boards are preferred, and
    at last the widest pieces are sawn first. Lengths mm. Boards left over keep their kind; a sawn board is a board of
    its own with `sawn_off` set, and equal ones are counted together. Raises InputError that names every piece without a
    place.
    """
    pieces = _pieces(items)
    least: _Sawyer | None = None
    for way in _WAYS:
        sawyer = _Sawyer(boards, saw_kerf, way).sawn_off(pieces)
        if least is None or len(sawyer.left_out) < len(least.left_out):
            least = sawyer
        if not least.left_out:
            break
    assert least is not None
    if least.left_out:
        problems = {(piece.item, piece.part.name): least.problem(piece) for piece in reversed(least.left_out)}
        raise InputError(reversed(problems.values()))
    return _sawing(least, boards, saw_kerf)


def saw_alike(items: Sequence[Item], boards: Sequence[Board], *, saw_kerf: float, stack: int) -> Sawing | None:
    """Take the sawn parts off `stack` boards of a kind at a time, each giving the same pieces, so that what is left of
    them can be stacked; those that are not so many come off as `saw_off` has it. None where that can't be done.
    """
    counts: Counter[_Piece] = Counter(_pieces(items))
    shares = [piece for piece, count in counts.items() for _ in range(count // stack)]
    singles = [piece for piece, count in counts.items() for _ in range(count % stack)]
    heaps = [replace(board, count=board.count // stack) for board in boards]
    share = _Sawyer(heaps, saw_kerf, _WAYS[0]).sawn_off(shares)
    whole = _Sawyer(boards, saw_kerf, _WAYS[0])
    whole.sawn = [_copy(there) for there in share.sawn for _ in range(stack)]
    whole.taken = [taken for taken in share.taken for _ in range(stack)]
    if not shares or share.left_out or whole.sawn_off(singles).left_out:
        return None
    return _sawing(whole, boards, saw_kerf)


def _copy(there: _Sawn) -> _Sawn:
    return replace(there, stretches=[replace(one) for one in there.stretches], pieces=list(there.pieces))


def _pieces(items: Sequence[Item]) -> list[_Piece]:
    return [
        _Piece(item=item.name, part=part, location=item.location, board=item.sawn_from)
        for item in items
        for part in item.build.sawn
        for _ in range(item.count)
    ]


def _sawing(sawyer: _Sawyer, boards: Sequence[Board], saw_kerf: float) -> Sawing:
    sawn = sawyer.sawn
    counts = [sum(1 for board in sawn if board.kind == kind) for kind in range(len(boards))]
    return Sawing(
        boards=_left(boards, sawn, counts),
        pieces=_counted(sawyer.taken, boards),
        sawn_from=tuple((board.name, count) for board, count in zip(boards, counts, strict=True) if count),
        order=saw_order(
            ((boards[there.kind].name, boards[there.kind].square_end or "left", there.pieces) for there in sawn),
            kerf=saw_kerf,
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """The order of last resort: the widest pieces first, each from the narrowest board that is wide enough."""

    widest_first: bool = False
    narrow_boards: bool = False


_WAYS = (
    _Way(),
    _Way(narrow_boards=True),
    _Way(widest_first=True),
    _Way(widest_first=True, narrow_boards=True),
)


class _Sawyer:
    """Boards being sawn in one order: those begun, the kind of board of each piece, and the pieces without a board."""

    def __init__(self, boards: Sequence[Board], kerf: float, way: _Way) -> None:
        self._boards, self._kerf, self._way = boards, kerf, way
        self.sawn: list[_Sawn] = []
        self.taken: list[tuple[_Piece, int]] = []
        self.left_out: list[_Piece] = []
        self._blanks: list[_Blank] = []

    def sawn_off(self, pieces: Iterable[_Piece]) -> _Sawyer:
        """Take the pieces in the chosen order."""
        for piece in sorted(pieces, key=self._order):
            blank = _ripped(piece, [one for one in self._blanks if self._gives(one, piece)], self._kerf)
            choice = None if blank is not None else min(self._choices(piece), default=None)
            if blank is not None:
                self.taken.append((piece, blank.kind))
            elif choice is not None:
                self._take(choice, piece)
            else:
                self.left_out.append(piece)
        return self

    def _gives(self, blank: _Blank, piece: _Piece) -> bool:
        return _may_give(piece, self._boards[blank.kind])

    def _order(self, piece: _Piece) -> tuple[float, float]:
        long, wide = -piece.part.length, -(piece.part.width or 0.0)
        return (wide, long) if self._way.widest_first else (long, wide)

    def _choices(self, piece: _Piece) -> Iterable[_Choice]:
        for number, there in enumerate(self.sawn):
            yield from self._on_board(piece, there, number)
        for kind, board in enumerate(self._boards):
            if board.square_end is not None and self._begun(kind) < board.count:
                new = _Sawn(kind, stretches_of(board, self._kerf), 0.0)
                yield from self._on_board(piece, new, len(self.sawn))

    def _begun(self, kind: int) -> int:
        return sum(1 for there in self.sawn if there.kind == kind)

    def _on_board(self, piece: _Piece, there: _Sawn, number: int) -> Iterable[_Choice]:
        board = self._boards[there.kind]
        if not _may_give(piece, board):
            return
        for index, stretch in enumerate(there.stretches):
            end = stretch.end_of(piece.part.length, self._kerf)
            if end is not None:
                reach = max(there.reach, end)
                gone = reach - there.reach
                yield _Choice(
                    first=board.width if self._way.narrow_boards else 0.0,
                    price=round(board.price * gone / board.length, 6),
                    area=round(gone * board.width, 6),
                    begins=number == len(self.sawn),
                    grows=reach > there.reach + _SAME,
                    left=round(board.length - reach, 6),
                    width=board.width,
                    kind=there.kind,
                    sawn=number,
                    stretch=index,
                )

    def _take(self, choice: _Choice, piece: _Piece) -> None:
        board = self._boards[choice.kind]
        if choice.sawn == len(self.sawn):
            self.sawn.append(_Sawn(choice.kind, stretches_of(board, self._kerf), 0.0))
        there = self.sawn[choice.sawn]
        stretch = there.stretches[choice.stretch]
        end = stretch.end_of(piece.part.length, self._kerf)
        assert end is not None
        first = stretch.past_keep_out and stretch.used == stretch.start
        entry = Taken(stretch.used, piece.item, piece.part.name, piece.part.length, past_keep_out=first)
        there.pieces.append(entry)
        stretch.used = end
        there.reach = max(there.reach, end)
        self.taken.append((piece, choice.kind))
        if piece.part.width is not None:
            self._blanks.append(_Blank(choice.kind, entry, board.width))
            _ripped(piece, self._blanks[-1:], self._kerf)

    def problem(self, piece: _Piece) -> Problem:
        """The problem of a piece that fits nowhere: the longest clear stretch, and advice."""
        square = [
            kind
            for kind, board in enumerate(self._boards)
            if board.square_end is not None and may_lie_on(piece.part, board)
        ]
        if piece.board is not None:
            square = [kind for kind in square if self._boards[kind].name == piece.board]
        wide = [kind for kind in square if _wide_enough(piece.part, self._boards[kind])]
        stretches = [stretch for there in self.sawn if there.kind in wide for stretch in there.stretches]
        for board in (self._boards[kind] for kind in wide if self._begun(kind) < self._boards[kind].count):
            stretches += stretches_of(board, self._kerf)
        longest = max((s.end - s.used - (0.0 if s.square else self._kerf) for s in stretches), default=0.0)
        width = None if piece.part.width is None else length(piece.part.width)
        off = "" if piece.board is None else f' off "{piece.board}", as its item names it'
        if not square:
            found = "no board has a square end" if piece.board is None else "that board has no square end"
        elif not wide:
            found = f"no board with a square end is {width} wide, the width it is ripped to"
        else:
            size = "" if width is None else f" {width} wide"
            found = f"the longest piece{size} left clear of keep-outs is {length(max(longest, 0.0))}"
        need = length(piece.part.length + self._kerf)
        wider = "" if width is None else f", {width} wide or wider"
        return Problem(
            place=f'item "{piece.item}"',
            message=f'part "{piece.part.name}" is sawn {length(piece.part.length)} long{off}, but {found}',
            advice=f"add a straight board with at least {need} (length and saw kerf) clear from its square end{wider}",
            location=piece.location,
        )


def _may_give(piece: _Piece, board: Board) -> bool:
    return piece.board in (None, board.name) and may_lie_on(piece.part, board) and _wide_enough(piece.part, board)


def _wide_enough(part: SawnPart, board: Board) -> bool:
    return part.width is None or board.width >= part.width - _SAME


def _ripped(piece: _Piece, blanks: Sequence[_Blank], kerf: float) -> _Blank | None:
    """Rip a piece from the first blank of its length with enough width left; None where there is none, or where the
    piece is as wide as its board.
    """
    width = piece.part.width
    if width is None:
        return None
    for blank in blanks:
        if abs(blank.entry.length - piece.part.length) <= _SAME and width <= blank.left + _SAME:
            blank.entry.rips.append((piece.item, piece.part.name, width))
            blank.left -= width + kerf
            return blank
    return None


def _left(boards: Sequence[Board], sawn: list[_Sawn], counts: list[int]) -> tuple[Board, ...]:
    """The whole boards left, and after each kind its sawn ones; equal boards are counted together."""
    result: list[Board] = []
    for kind, board in enumerate(boards):
        if board.count > counts[kind]:
            result.append(replace(board, count=board.count - counts[kind]) if counts[kind] else board)
        rests: dict[Board, int] = {}
        for there in sawn:
            if there.kind == kind:
                rest = shortened(board, there.reach)
                if rest is not None:
                    rests[rest] = rests.get(rest, 0) + 1
        result += [replace(rest, count=count) for rest, count in rests.items()]
    return tuple(result)


def shortened(board: Board, length: float) -> Board | None:
    """Return one such board with `length` mm sawn off its square end, in its own frame; None where nothing is left."""
    x0, y0, x1, y1 = board.outline.bounds
    if length >= x1 - x0 - _SAME:
        return None
    shift = length if board.square_end == "left" else 0.0
    keep = shapely.box(x0 + shift, y0, x1 - (length - shift), y1)
    pieces = polygons_of(shapely.intersection(to_polygon(board.outline), keep))
    if not pieces:
        return None
    outline = from_polygon(Polygon(max(pieces, key=lambda piece: piece.area).exterior)).outline
    least_x, least_y, _, _ = outline.bounds
    move = Transform(x=-least_x, y=-least_y)
    return replace(
        board,
        outline=move.contour(outline),
        keep_outs=tuple(one.moved(move) for one in board.keep_outs if _touches(one.area, keep)),
        count=1,
        sawn_off=board.sawn_off + length,
        ear=0.0,
    )


def _touches(knot: Contour, area: Polygon) -> bool:
    return bool(shapely.intersects(to_polygon(knot), area))


def _counted(taken: list[tuple[_Piece, int]], boards: Sequence[Board]) -> tuple[SawnPiece, ...]:
    counts: dict[tuple[str, SawnPart, int], int] = {}
    for piece, kind in taken:
        key = (piece.item, piece.part, kind)
        counts[key] = counts.get(key, 0) + 1
    return tuple(
        SawnPiece(
            item=item,
            part=part.name,
            length=part.length,
            width=boards[kind].width if part.width is None else part.width,
            thickness=boards[kind].thickness,
            count=count,
            board=boards[kind].name,
            note=part.note,
        )
        for (item, part, kind), count in counts.items()
    )
