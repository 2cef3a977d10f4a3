"""What would save a board or a slide: hints on a finished layout, each true of the job as it stands. mm.

A board slid for a few parts: these parts lie in one window, so that on another board of the kind they are cut in one.
A board with little on it: without the items that its parts are for, the other boards stay as they are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from cutjob.counting import counted
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout, Layout, Placement
from cutjob.parts.part import Item, ShapedPart
from cutjob.tolerances import TOLERANCES
from cutjob.units import TAPE, rounded_down, rounded_up

_FEW = 2  # parts for which a board or a window is worth a hint
_LITTLE = 0.15  # of a board's wood: less is little
_NEAR = 0.1  # of the bed's length: parts that lie so little beyond are worth a hint


def plan_hints(
    layout: Layout,
    items: Sequence[Item],
    stock: Sequence[Board],
    *,
    used: Mapping[str, int],
    longest: float | None,
    runs_first: bool,
) -> Iterator[str]:
    """Yield a hint for each board that is slid for a few parts, and for each that is there for a few small ones.

    `used` has the boards taken of each kind, `longest` is the length of a part that a window holds, `runs_first` says
    whether the job prefers few runs to fewer boards already. Lengths are marks.
    """
    left = {board.name: board.count - used.get(board.name, 0) for board in stock}
    for board in layout.boards:
        if longest is not None and len(board.windows) > 1 and not runs_first:
            yield from _slid(board, longest, left.get(board.board.name, 0))
    if sum(used.values()) > 1:
        for board in layout.boards:
            yield from _lone(board, items, edge_margin=layout.edge_margin)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Beyond:
    """Parts that one window fewer would leave out, and how far they lie beyond it."""

    parts: tuple[Placement, ...]
    by: float


def _slid(board: BoardLayout, longest: float, left: int) -> Iterator[str]:
    """A hint where a window is there for few parts, or for parts that lie little beyond the others."""
    number, boards = len(board.windows), board.stack * board.copies
    spans = [(one.region.bounds[0], one.region.bounds[2]) for one in board.placements]
    mirrored = [(-last, -first) for first, last in spans]
    beyond = min(
        (_beyond(board, each, longest, number - 1) for each in (spans, mirrored)),
        key=lambda one: (len(one.parts), one.by),
    )
    if not beyond.parts or (len(beyond.parts) > _FEW and beyond.by > _NEAR * longest) or left < boards:
        return
    few = len(beyond.parts) == 1
    which = f"{counted(len(beyond.parts), 'part')} ({_names(beyond.parts)}) that {'lies' if few else 'lie'}"
    where = f"{rounded_up(beyond.by, TAPE)} beyond {'the bed' if number == 2 else f'{number - 1} windows'}"
    yield (
        f"{board.id} is cut in {number} windows for {which} {where}; with {counted(boards, 'more board')} "
        f"{'it needs' if few else 'they need'} {'no slide' if number == 2 else 'one slide less'}: "
        f'put "cut" first in prefer. A window holds parts on {rounded_down(longest, TAPE)} of a board'
    )


def _beyond(board: BoardLayout, spans: Sequence[tuple[float, float]], longest: float, windows: int) -> _Beyond:
    """The placements that do not lie in so many windows from the left."""
    end, number = -float("inf"), 0
    for first, last in sorted(spans):
        if last > end + TOLERANCES.same_point:
            if number == windows:
                break
            number, end = number + 1, first + longest
    out = [k for k, (_, last) in enumerate(spans) if last > end + TOLERANCES.same_point]
    return _Beyond(parts=tuple(board.placements[k] for k in out), by=max((spans[k][1] - end for k in out), default=0.0))


def _lone(board: BoardLayout, items: Sequence[Item], *, edge_margin: float) -> Iterator[str]:
    """A hint where a whole board is there for a few small parts, and how many fewer items would do without it."""
    wood = sum(one.part.region.area for one in board.placements)
    if len(board.placements) > _FEW or board.board.sawn_off:
        return
    if wood > _LITTLE * abs(board.board.outline.signed_area):
        return
    x0, y0, x1, y1 = zip(*(one.region.bounds for one in board.placements), strict=True)
    margin = 2 * edge_margin
    size = f"{rounded_up(max(x1) - min(x0) + margin, TAPE)} x {rounded_up(max(y1) - min(y0) + margin, TAPE)}"
    instead = f"an offcut of {size} would do instead"
    fewer = _fewer(board, items)
    if fewer is not None:
        less = " and ".join(f"{count} fewer {name}" for name, count in fewer.items())
        boards = board.stack * board.copies
        instead = f"with {less} the job takes {counted(boards, 'board')} less, or {instead}"
    parts = counted(len(board.placements), "part")
    yield f"{board.id} is there only for {parts} ({_names(board.placements)}): {instead}"


def _fewer(board: BoardLayout, items: Sequence[Item]) -> dict[str, int] | None:
    """How many fewer of which items leave nothing on a board; None where that would be all of them."""
    on: dict[str, Counter[ShapedPart]] = {}
    for one in board.placements:
        on.setdefault(one.item, Counter())[one.part] += board.stack * board.copies
    fewer: dict[str, int] = {}
    for name, parts in on.items():
        kinds = [item for item in items if item.name == name]
        each = Counter(kinds[0].build.shaped)
        if len(kinds) != 1 or any(not each[part] for part in parts):
            return None
        fewer[name] = max(-(-count // each[part]) for part, count in parts.items())
        if fewer[name] >= kinds[0].count:
            return None
    return fewer


def _names(placements: Sequence[Placement]) -> str:
    counts = Counter(one.part.name for one in placements)
    return ", ".join(f"{count} x {name}" if count > 1 else name for name, count in counts.items())
