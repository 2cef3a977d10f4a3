"""More room for what holds a board: a job's boards go in, boards and distances for another layout come out. mm.

Where parts lie so close that no clamp finds a place, or slots run off the board's edge and leave nothing to hang on to,
the layout is made again with places for clamps kept free, with a rail of wood left round the board's edge, and with
wider gaps between the parts; whichever takes the least wood.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from cutjob.job.stock import Board
from cutjob.layout.room import Room


@dataclass(frozen=True, slots=True, kw_only=True)
class MoreRoom:
    """What a layout leaves beside what it leaves anyhow: places for so many `clamps` on a board, a `rail` so wide
    between the board's edge and the slots beside it, and so much more `gap` between parts, mm; with a
    `screw_margin`, the wood between a screw's head and the cutter, places for screws.
    """

    clamps: int = 0
    rail: float = 0.0
    gap: float = 0.0
    screw_margin: float | None = None


def ways_to_make_room(
    *, width: float, lead: float, apart: float, clamps: bool, screw_margin: float | None
) -> Iterator[MoreRoom]:
    """Yield ways to lay a job out again, the one that takes the least wood first.

    `width` is that of a bridge, `lead` how far a way in goes beyond a slot, `apart` how much wider gaps must be for
    waste to stay between all slots. With `clamps` places for these are kept free, with a `screw_margin` some for
    screws.
    """
    rail = width + lead
    more = partial(MoreRoom, screw_margin=screw_margin)
    two, three = (2, 3) if clamps else (0, 0)
    if clamps or screw_margin is not None:
        yield more(clamps=two)
    yield more(clamps=two, rail=rail)
    yield more(clamps=two, gap=width)
    yield more(clamps=two, rail=rail, gap=width / 2)
    yield more(clamps=three, gap=width / 2)
    yield more(clamps=two, rail=rail, gap=max(0.0, apart - 2 * lead))
    yield more(clamps=two, rail=rail, gap=apart)


def beside_clamps(room: Room | None, clamped: Callable[[Board], Board]) -> Room:
    """Return room in which clamps find their places, beside the `room` there is to be for the spindle's nose; `clamped`
    gives a board with these places kept free.
    """
    return Room(
        beside=clamped if room is None else (lambda board: room.beside(clamped(board))),
        taken_by="the place for clamps" if room is None else f"the place for clamps and {room.taken_by}",
        advice='hold the board with board_held_by = "tape"' + ("" if room is None else f", or {room.advice}"),
    )
