"""Finds, before any search, parts, groups and boards that don't fit, and says why and what would help. mm.

It also lists the turns in which to try a single part on a board: quarter turns first, then those of its own shape.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from cutjob.counting import counted
from cutjob.errors import Problem
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.clear_space import clear_area, largest_clear_rectangle, padded_area, room_area
from cutjob.layout.rules import Clearance, may_lie_on
from cutjob.layout.search.batches import Demand
from cutjob.layout.search.feasible import fits_alone, is_plain
from cutjob.parts.part import Item, ShapedPart
from cutjob.tolerances import TOLERANCES
from cutjob.units import RULE, Unit, area, at_most, length, rounded_down, rounded_up

_CHORD = TOLERANCES.gap / 4
_LONGEST_EDGES = 6
_STEP = 5.0  # degrees
_APART = 1.0  # degrees
_SAME_TURN = 1e-7  # degrees: less than a ten thousandth of a mm over 10 m

Floats: TypeAlias = NDArray[np.float64]


def turns_to_try(part: ShapedPart, board: Board, *, edge_margin: float = 0.0) -> Iterator[tuple[float, bool]]:
    """Yield turns (degrees counter-clockwise, mirrored first) for `fits_alone`, the likely ones first.

    None where the board is of another wood. Where part and board both have grain: 0 and 180. Else quarter turns; then
    every turn at which the part's box is exactly as long or as wide as the board's, less `edge_margin` (mm) at both
    ends; turns with one of its longest hull edges or its least width along the board or its diagonals; and steps of 5
    degrees. All turns are given only if the box fits. On a rectangular board without keep-outs a part that fits in any
    turn fits in one of these. On other boards, where each turn costs more, the turns are a degree or more apart.
    """
    if not may_lie_on(part, board):
        return
    mirrors = (False, True) if part.may_mirror else (False,)
    with_grain = part.grain == "length" and board.grain == "length"
    for mirrored in mirrors:
        for degrees in (0.0, 180.0) if with_grain else (0.0, 90.0, 180.0, 270.0):
            yield degrees, mirrored
    if with_grain:
        return
    space = (board.length - 2 * edge_margin, board.width - 2 * edge_margin)
    for mirrored in mirrors:
        turns = _odd_turns(_hull(part, mirrored), space)
        for degrees in turns if is_plain(board) else _apart(turns):
            yield float(degrees), mirrored


def _hull(part: ShapedPart, mirrored: bool) -> Floats:
    contour = Transform(mirrored=mirrored).contour(part.region.outline)
    hull = shapely.convex_hull(to_polygon(contour, deviation=_CHORD))
    return shapely.get_coordinates(hull)[:-1]


def _odd_turns(hull: Floats, space: tuple[float, float]) -> Floats:
    """Turns other than quarters in which the hull's box fits the space, the most likely first."""
    length, width = space
    along = np.roll(hull, -1, axis=0) - hull
    breaks = np.unique((90.0 - np.degrees(np.arctan2(along[:, 1], along[:, 0]))) % 180.0)
    just = _just_as_long(hull, breaks, length)
    just = np.concatenate([just, _just_as_long(hull, breaks, width) + 90.0])
    sizes = np.hypot(along[:, 0], along[:, 1])
    longest = along[np.argsort(-sizes, kind="stable")[:_LONGEST_EDGES]]
    least = breaks[np.argmin(_extents(hull, breaks))]
    lying = np.concatenate([-np.degrees(np.arctan2(longest[:, 1], longest[:, 0])), [least, least + 90.0]])
    diagonal = math.degrees(math.atan2(width, length))
    towards = (lying[:, None] + np.array([diagonal, -diagonal, 0.0, 90.0])).ravel()
    turns = np.concatenate([just, towards, np.arange(_STEP, 180.0, _STEP)]) % 180.0
    fitting = (_extents(hull, turns) <= length + TOLERANCES.gap) & (
        _extents(hull, turns - 90.0) <= width + TOLERANCES.gap
    )
    odd = np.abs(turns - 90.0 * np.rint(turns / 90.0)) > _SAME_TURN
    kept = turns[fitting & odd]
    _, first = np.unique(np.rint(kept / _SAME_TURN), return_index=True)
    ordered = kept[np.sort(first)]
    return np.concatenate([ordered, ordered + 180.0])


def _apart(turns: Floats) -> list[float]:
    """The turns without those less than a degree from an earlier one."""
    kept: list[float] = []
    for turn in turns:
        if all(abs((turn - other + 180.0) % 360.0 - 180.0) >= _APART for other in kept):
            kept.append(float(turn))
    return kept


def _extents(hull: Floats, turns: Floats) -> Floats:
    """The hull's extent along the board's x when turned, for each angle in degrees."""
    angles = np.radians(turns)
    reach = hull[:, :1] * np.cos(angles) - hull[:, 1:] * np.sin(angles)
    extents: Floats = reach.max(axis=0) - reach.min(axis=0)
    return extents


def _just_as_long(hull: Floats, breaks: Floats, target: float) -> Floats:
    """Turns at which the extent along x is the target. Between two breaks the same two corners are outermost; with v
    from one to the other, the extent is |v| cos(turn + angle of v).
    """
    ends = np.append(breaks[1:], breaks[0] + 180.0)
    middles = np.radians((breaks + ends) / 2)
    reach = hull[:, :1] * np.cos(middles) - hull[:, 1:] * np.sin(middles)
    apart = hull[reach.argmax(axis=0)] - hull[reach.argmin(axis=0)]
    size, angle = np.hypot(apart[:, 0], apart[:, 1]), np.degrees(np.arctan2(apart[:, 1], apart[:, 0]))
    open_ = np.degrees(np.arccos(np.clip(target / size, -1.0, 1.0)))
    found = []
    for turns in (open_ - angle, -open_ - angle):
        from_break = (turns - breaks) % 360.0
        inside = (size >= target) & ((from_break <= ends - breaks + _SAME_TURN) | (from_break >= 360.0 - _SAME_TURN))
        found.append(turns[inside])
    return np.concatenate(found)


_WELL_FILLED = 0.65  # usual share of a board's area that is parts
_MANY = (
    200  # parts; for stars of which half don't fit, a layout takes 3 s for 200, 5 s for 400, half a minute for 1,600
)
_ROUNDING = 1e-6  # mm


def fits_board(part: ShapedPart, board: Board, *, clearance: Clearance) -> bool:
    """Whether the part fits the empty board in any turn that it may have there."""
    angles = turns_to_try(part, board, edge_margin=clearance.edge_margin)
    return fits_alone(part, board, clearance=clearance, angles=angles) is not None


def no_board(boards: Sequence[Board]) -> Problem | None:
    """The problem of a job without boards; None where there is one."""
    if any(board.count > 0 for board in boards):
        return None
    return Problem(message="there is no board to cut parts from", advice="add a board")


def unusable_boards(boards: Iterable[Board], *, clearance: Clearance) -> list[Problem]:
    """A problem for each board of which the edge margin or keep-outs leave nothing, except boards
    shortened by sawing.
    """
    problems = []
    for board in boards:
        clear = clear_area(board, gap=clearance.gap, edge_margin=clearance.edge_margin)
        if board.sawn_off or shapely.area(clear) > 0:
            continue
        size = _size(board.length, board.width)
        with np.errstate(all="ignore"):  # GEOS divides by nothing at times, and copes
            widest = shapely.length(shapely.maximum_inscribed_circle(to_polygon(board.outline)))
        if widest > clearance.edge_margin:
            message, advice = (
                f"its keep-outs leave nothing of the {size}",
                "leave the board out or correct its keep-outs",
            )
        else:
            message = f"an edge margin of {length(clearance.edge_margin)} leaves nothing of the {size}"
            advice = f"make the edge margin less than {rounded_down(float(widest))}, or leave the board out"
        problems.append(Problem(place=f'board "{board.name}"', message=message, advice=advice, location=board.location))
    return problems


def too_large(demand: Demand, boards: Sequence[Board], *, clearance: Clearance) -> Problem:
    """The problem of a part that fits no board left after the sawn parts are off, with the largest clear space on any
    of them and advice that was tested.
    """
    x0, y0, x1, y1 = demand.part.region.bounds
    boards = [board for board in boards if may_lie_on(demand.part, board)]
    place = f'item "{demand.item}"'
    size = f'part "{demand.part.name}" is {_size(x1 - x0, y1 - y0)}'
    if not boards:
        return Problem(
            place=place,
            message=f"{size}, but the sawn parts use up all boards, so none is left to cut it from",
            advice="add a board",
            location=demand.location,
        )
    spaces = [largest_clear_rectangle(board, gap=clearance.gap, edge_margin=clearance.edge_margin) for board in boards]
    (along, across), board = max(zip(spaces, boards, strict=True), key=lambda pair: pair[0][0] * pair[0][1])
    space = f"{rounded_down(along)} x {rounded_down(across)}"
    away = " clear of its keep-outs" if board.keep_outs else ""
    if board.sawn_off:
        away += f", of which sawn parts take {length(board.sawn_off)}"
    if clearance.longest < board.length:
        away += f", of which {rounded_down(clearance.longest)} lie on the machine's bed at one time"
    return Problem(
        place=place,
        message=f'{size} and fits no board; the largest space is {space} on board "{board.name}"{away}',
        advice="; or ".join(_what_helps(demand.part, boards, clearance)),
        location=demand.location,
    )


def _what_helps(part: ShapedPart, boards: Sequence[Board], clearance: Clearance) -> Iterable[str]:
    """Each change that was tried and lets the part fit, and the size of a board that is large enough in any case."""
    yield from _other_turns(part, boards, clearance)
    knotty = [board for board in boards if board.keep_outs]
    if clearance.gap > 0:
        gap = _greatest(part, knotty, lambda gap: replace(clearance, gap=gap), clearance.gap)
        if gap is not None:
            yield f"make the gap smaller, {at_most(gap)}"
    if clearance.edge_margin > 0:
        margin = _greatest(part, boards, lambda margin: replace(clearance, edge_margin=margin), clearance.edge_margin)
        if margin is not None:
            yield f"make the edge margin smaller, {at_most(margin)}"
    clear = next((b for b in knotty if fits_board(part, replace(b, keep_outs=()), clearance=clearance)), None)
    if clear is not None:
        yield f'take a board like "{clear.name}", but without keep-outs there'
    yield f"add a board of at least {_least_board(part, boards, clearance)}, or make the part smaller"


def _other_turns(part: ShapedPart, boards: Sequence[Board], clearance: Clearance) -> Iterable[str]:
    flipped = replace(part, may_mirror=True)
    if not part.may_mirror and any(fits_board(flipped, board, clearance=clearance) for board in boards):
        yield "allow it to be mirrored"
    if part.grain != "length":
        return
    free = replace(part, grain="none")
    for board in boards:
        angles = turns_to_try(free, board, edge_margin=clearance.edge_margin)
        found = fits_alone(part, board, clearance=clearance, angles=angles)
        if found is not None:
            quarter = found.degrees % 180 == 90
            yield "allow it to lie across the grain" if quarter else "allow it to lie at an angle to the grain"
            return


def _greatest(
    part: ShapedPart, boards: Sequence[Board], with_value: Callable[[float], Clearance], limit: float
) -> dict[Unit, float] | None:
    """The greatest value below the limit, in steps of a rule of either unit, with which the part fits a board; None
    where it doesn't fit even with 0.
    """
    able = [board for board in boards if fits_board(part, board, clearance=with_value(0.0))]
    if not able:
        return None
    found: dict[Unit, float] = {}
    for unit, step in RULE.items():
        low, high = 0, math.ceil(limit / step - _ROUNDING)
        while high - low > 1:
            middle = (low + high) // 2
            clearance = with_value(middle * step)
            if any(fits_board(part, board, clearance=clearance) for board in able):
                low = middle
            else:
                high = middle
        found[unit] = low * step
    return found


def _least_board(part: ShapedPart, boards: Sequence[Board], clearance: Clearance) -> str:
    """The size of a rectangular board that takes the part in a quarter turn, as near as possible to
    one of the boards.
    """
    x0, y0, x1, y1 = part.region.bounds
    sides = (x1 - x0 + 2 * clearance.edge_margin, y1 - y0 + 2 * clearance.edge_margin)
    along = part.grain == "length" and all(board.grain == "length" for board in boards)

    def growth(size: tuple[float, float]) -> float:
        return min(max(0.0, size[0] - board.length) + max(0.0, size[1] - board.width) for board in boards)

    length, width = min([sides] if along else [sides, sides[::-1]], key=growth)
    return f"{rounded_up(length)} x {rounded_up(width)}"


def groups_too_large(items: Iterable[Item], boards: Sequence[Board], *, clearance: Clearance) -> list[Problem]:
    """A problem for each item kept together whose shaped parts certainly don't fit on one board.

    Either their areas, with half the gap round each part, are more than that of any board, or no board takes each part
    even alone. Items with a part that fits no board at all are left to `too_large`.
    """
    if not boards:
        return []
    rooms = [room_area(board, clearance=clearance) for board in boards]
    problems = []
    for item in items:
        parts = tuple(dict.fromkeys(item.build.shaped))
        needed = sum(padded_area(part, gap=clearance.gap) for part in item.build.shaped)
        able = [[fits_board(part, board, clearance=clearance) for board in boards] for part in parts]
        if not all(any(row) for row in able) or item.count < 1:
            continue
        if needed > max(rooms):
            most, board = max(zip(rooms, boards, strict=True), key=lambda pair: pair[0])
            message = (
                f"its parts must lie together on one board, and take at least {area(needed)} "
                f'with the gaps between them; the most any board has is {area(most)}, board "{board.name}"'
            )
        elif parts and not any(all(column) for column in zip(*able, strict=True)):
            message = "its parts must lie together on one board, but no board takes each of them even alone"
        else:
            continue
        problems.append(
            Problem(
                place=f'item "{item.name}"',
                message=message,
                advice="allow different boards (together = false), or add a larger board",
                location=item.location,
            )
        )
    return problems


def more_than_boards(wanted: Sequence[Demand], boards: Sequence[Board], *, clearance: Clearance) -> list[Problem]:
    """The problem of very many parts that certainly don't fit on all boards together, by area with half the gap round
    each.

    For fewer parts the layout says which are left over.
    """
    total = sum(entry.count for entry in wanted)
    if total <= _MANY or not boards:
        return []
    rooms = [room_area(board, clearance=clearance) for board in boards]
    room = sum(one * board.count for one, board in zip(rooms, boards, strict=True))
    needed, gaps = sum(entry.part.region.area * entry.count for entry in wanted), ""
    if needed <= room:  # the gaps take longer to work out
        alike = {part: padded_area(part, gap=clearance.gap) for part in {entry.part for entry in wanted}}
        needed, gaps = sum(alike[entry.part] * entry.count for entry in wanted), " with the gaps between them"
    if needed <= room * (1 + 1e-9):
        return []
    largest, board = max(zip(rooms, boards, strict=True), key=lambda pair: pair[0])
    more = math.ceil((needed - room) / (largest * _WELL_FILLED)) if largest > 0 else 1
    size = _size(board.length, board.width)
    return [
        Problem(
            place=f'item "{wanted[0].item}"' if len({entry.item for entry in wanted}) == 1 else "make",
            message=f"the {total} parts take at least {area(needed)}{gaps}; all boards together have {area(room)}",
            advice=f'add about {more} more of board "{board.name}" ({size}), or make fewer',
            location=wanted[0].location,
        )
    ]


def boards_ran_out(demand: Sequence[Demand], remaining: Sequence[int], boards: Sequence[Board]) -> list[Problem]:
    """The problem of parts left over: how many of each, and about how many more boards of the best kind are needed.

    `boards` are those that the parts fit, the best kind first.
    """
    left = [(entry, count) for entry, count in zip(demand, remaining, strict=True) if count]
    names = ", ".join(f'{count} of part "{entry.part.name}" of item "{entry.item}"' for entry, count in left[:6])
    more = f" and {counted(len(left) - 6, 'kind')} more" if len(left) > 6 else ""
    total = sum(count for _, count in left)
    lacking = sum(entry.part.region.area * count for entry, count in left)
    best = boards[0]
    per_board = to_polygon(best.outline).area * _WELL_FILLED
    needed = max(1, -int(-lacking // per_board))
    size = _size(best.length, best.width)
    return [
        Problem(
            place=f'item "{left[0][0].item}"',
            message=f"all boards are full and {total} part{'s are' if total > 1 else ' is'} left over: {names}{more}",
            advice=f'add about {needed} more of board "{best.name}" ({size}), or make fewer',
            location=left[0][0].location,
        )
    ]


def _size(along: float, across: float) -> str:
    return f"{length(along)} x {length(across)}"
