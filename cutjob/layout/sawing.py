"""Sawn parts taken off the ends of boards before anything is laid out: pieces and shorter boards come out.

A board gives pieces from its square end on, each its length and a kerf. Pieces narrower than the board are ripped out
of a blank of their length, as many as its width holds. A stretch between two keep-outs is never sawn
into: a piece comes from before a knot or from beyond it, and what is skipped is lost.
"""

from __future__ import annotations

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
from cutjob.layout.saw_order import SawnBoard, Taken, saw_order
from cutjob.parts.part import Item, SawnPart
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, format_length

_SAME = TOLERANCES.same_point


@dataclass(frozen=True, slots=True, kw_only=True)
class Sawing:
    """What sawing comes to: the boards left for the layout, the pieces, how many boards of a kind were sawn, and the
    cuts of each in their order.
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


@dataclass(slots=True)
class _Stretch:
    """Clear wood of full width, measured from the square end; `used` is where the next piece starts."""

    start: float
    end: float
    square: bool  # the far end is the board's own square end and needs no cut
    used: float

    def end_of(self, length: float, kerf: float) -> float | None:
        """Where the kerf after a piece of that length ends, or None when it does not fit."""
        end = self.used + length + kerf
        if end <= self.end + _SAME:
            return end
        return self.end if self.square and self.used + length <= self.end + _SAME else None


@dataclass(slots=True)
class _Sawn:
    """A board being sawn: its stretches and how far from the square end it is used up."""

    kind: int
    stretches: list[_Stretch]
    reach: float
    pieces: list[Taken] = field(default_factory=list)


@dataclass(slots=True)
class _Blank:
    """A piece of a board's whole width that narrower ones are ripped out of, and the width it still has."""

    kind: int
    entry: Taken
    left: float


@dataclass(frozen=True, slots=True, order=True)
class _Choice:
    """Where a piece could come from; the least: wood lost, a board begun, more of it used, wood left, order."""

    loss: float
    begins: bool
    grows: bool
    left: float
    kind: int
    sawn: int  # index of the board being sawn, past the last for a new one
    stretch: int


def saw_off(items: Sequence[Item], boards: Sequence[Board], *, saw_kerf: float, unit: Unit = "mm") -> Sawing:
    """Take every item's sawn parts off the boards, long pieces first, each where the least wood is lost.

    Lengths mm; `unit` is for messages. Boards left over keep their kind; a sawn board is a board of its own with
    `sawn_off` set, equal ones counted together. Raises InputError naming every piece that fits nowhere.
    """
    pieces = [
        _Piece(item=item.name, part=part, location=item.location)
        for item in items
        for part in item.build.sawn
        for _ in range(item.count)
    ]
    pieces.sort(key=lambda piece: (-piece.part.length, -(piece.part.width or 0.0)))
    sawn: list[_Sawn] = []
    taken: list[tuple[_Piece, int]] = []
    problems: dict[tuple[str, str], Problem] = {}
    blanks: list[_Blank] = []
    for piece in pieces:
        blank = _ripped(piece, blanks, saw_kerf)
        if blank is not None:
            taken.append((piece, blank.kind))
            continue
        least = piece.part.width or 0.0
        choices = [
            choice
            for choice in _choices(piece.part.length, boards, sawn, saw_kerf)
            if boards[choice.kind].width >= least - _SAME
        ]
        if choices:
            choice = min(choices)
            entry = _take(choice, piece, boards, sawn, saw_kerf)
            taken.append((piece, choice.kind))
            if piece.part.width is not None:
                blanks.append(_Blank(choice.kind, entry, boards[choice.kind].width))
                _ripped(piece, blanks[-1:], saw_kerf)
        else:
            problem = _no_board(piece, boards, sawn, saw_kerf, unit)
            problems.setdefault((piece.item, piece.part.name), problem)
    if problems:
        raise InputError(problems.values())
    counts = [sum(1 for board in sawn if board.kind == kind) for kind in range(len(boards))]
    return Sawing(
        boards=_left(boards, sawn, counts),
        pieces=_counted(taken, boards),
        sawn_from=tuple((board.name, count) for board, count in zip(boards, counts, strict=True) if count),
        order=saw_order(
            ((boards[there.kind].name, boards[there.kind].square_end or "left", there.pieces) for there in sawn),
            kerf=saw_kerf,
        ),
    )


def _choices(length: float, boards: Sequence[Board], sawn: list[_Sawn], kerf: float) -> Iterable[_Choice]:
    for number, there in enumerate(sawn):
        yield from _on_board(length, there, number, boards[there.kind].length, kerf, begins=False)
    for kind, board in enumerate(boards):
        begun = sum(1 for there in sawn if there.kind == kind)
        if board.square_end is not None and begun < board.count:
            new = _Sawn(kind, _stretches(board, kerf), 0.0)
            yield from _on_board(length, new, len(sawn), board.length, kerf, begins=True)


def _on_board(
    length: float, board: _Sawn, number: int, whole: float, kerf: float, *, begins: bool
) -> Iterable[_Choice]:
    for index, stretch in enumerate(board.stretches):
        end = stretch.end_of(length, kerf)
        if end is not None:
            reach = max(board.reach, end)
            # Wood that leaves the board without being piece or its kerf is lost.
            loss = max(0.0, reach - board.reach - (end - stretch.used))
            yield _Choice(
                round(loss, 6), begins, reach > board.reach + _SAME, round(whole - reach, 6), board.kind, number, index
            )


def _ripped(piece: _Piece, blanks: Sequence[_Blank], kerf: float) -> _Blank | None:
    """Rip a piece out of the first blank of its length with so much width left; None where there is none, or where the
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


def _take(choice: _Choice, piece: _Piece, boards: Sequence[Board], sawn: list[_Sawn], kerf: float) -> Taken:
    if choice.sawn == len(sawn):
        sawn.append(_Sawn(choice.kind, _stretches(boards[choice.kind], kerf), 0.0))
    board = sawn[choice.sawn]
    stretch = board.stretches[choice.stretch]
    end = stretch.end_of(piece.part.length, kerf)
    assert end is not None
    board.pieces.append(Taken(stretch.used, piece.item, piece.part.name, piece.part.length))
    stretch.used = end
    board.reach = max(board.reach, end)
    return board.pieces[-1]


def _stretches(board: Board, kerf: float) -> list[_Stretch]:
    """The clear stretches of a board, from its square end on."""
    start, end, square = _full_width(board)
    trimmed = start > _SAME
    stretches = []
    for low, high in [*_along(board), (end, end)]:
        first = start + kerf if trimmed else start
        if min(low, end) - first > _SAME:
            at_end = low >= end - _SAME
            stretches.append(_Stretch(first, min(low, end), square and at_end, first))
        if high > start:
            start, trimmed = high, True
    return stretches


def _full_width(board: Board) -> tuple[float, float, bool]:
    """Where the board's full width starts and ends, from the square end, and whether it ends at the board's end."""
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
    for knot in board.keep_outs:
        low, _, high, _ = knot.bounds
        spans.append((low - x0, high - x0) if board.square_end == "left" else (x1 - high, x1 - low))
    return sorted(span for span in spans if span[1] > 0 and span[0] < x1 - x0)


def _left(boards: Sequence[Board], sawn: list[_Sawn], counts: list[int]) -> tuple[Board, ...]:
    """The whole boards that are left, and after each kind the sawn ones of it; equal ones counted together."""
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
    """Return one such board with `length` mm sawn off its square end, in a frame of its own; None: nothing is left."""
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
    kept = [index for index, knot in enumerate(board.keep_outs) if _touches(knot, keep)]
    return replace(
        board,
        outline=move.contour(outline),
        keep_outs=tuple(move.contour(board.keep_outs[index]) for index in kept),
        whys=tuple(board.whys[index] for index in kept if index < len(board.whys)),
        heights=tuple(board.heights[index] for index in kept if index < len(board.heights)),
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


def _no_board(piece: _Piece, boards: Sequence[Board], sawn: list[_Sawn], kerf: float, unit: Unit) -> Problem:
    """Say which piece fits nowhere, the longest clear stretch there is, and what would help."""
    begun = [sum(1 for there in sawn if there.kind == kind) for kind in range(len(boards))]
    stretches = [stretch for there in sawn for stretch in there.stretches] + [
        stretch
        for board, used in zip(boards, begun, strict=True)
        if board.square_end is not None and used < board.count
        for stretch in _stretches(board, kerf)
    ]
    longest = max((s.end - s.used - (0.0 if s.square else kerf) for s in stretches), default=0.0)
    length = format_length(piece.part.length, unit=unit)
    width = piece.part.width
    if width is not None and not any(board.square_end and board.width >= width - _SAME for board in boards):
        found = f"no board with a square end is {format_length(width, unit=unit)} wide, as it is to be ripped"
    elif not any(board.square_end for board in boards):
        found = "no board with a square end is given"
    else:
        found = f"the longest piece still to be had clear of keep-outs is {format_length(max(longest, 0.0), unit=unit)}"
    need = format_length(piece.part.length + kerf, unit=unit)
    return Problem(
        place=f'item "{piece.item}"',
        message=f'part "{piece.part.name}" is sawn {length} long, but {found}',
        advice=f"add a straight board with at least {need} (length and saw kerf) clear from its square end",
        location=piece.location,
    )
