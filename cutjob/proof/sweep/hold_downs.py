"""Screws and pins through the waste: drilled first, driven at a stop, and from then on clear of every move. mm.

A hold-down concerns the programs of its own window, or all of the board's if it names none.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.geometry.polygons import to_polygon
from cutjob.layout.layout import BoardLayout, HoldDown
from cutjob.proof import limits
from cutjob.proof.board.board_case import BoardCase
from cutjob.proof.board.curves import Bools, Ints
from cutjob.proof.board.required_edges import RequiredEdges
from cutjob.proof.board.round_holes import made_at, nearest_edge, within
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.finding import Finding
from cutjob.proof.sweep.nose import noses_below
from cutjob.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True)
class _Turn:
    """The motions run with the same hold-downs: the hold-downs' numbers on the board, all motions, and the
    stops between.
    """

    numbers: tuple[int, ...]
    tracks: Tracks
    stops: Ints  # how many of the motions are before each M0


def judge_hold_downs(case: BoardCase) -> list[Finding]:
    """Return findings about all hold-downs of a board."""
    layout = case.layout
    if not layout.hold_downs:
        return []
    if not case.machine.has_spindle:
        return [case.error("hold-down", "only a router drills holes for hold-downs")]
    found = [case.error("hold-down", message) for message in _misplaced(case.edges)]
    for window in dict.fromkeys(down.window for down in layout.hold_downs):
        found += _judge(case, _turn(case, window))
    return found


def _turn(case: BoardCase, window: int | None) -> _Turn:
    numbers = tuple(number for number, down in enumerate(case.layout.hold_downs) if down.window == window)
    chosen = np.array([window is None or program.window == window for program in case.programs], dtype=bool)
    tracks = case.motions.take(np.flatnonzero(chosen[case.motions.program]))
    stops = [
        int(np.searchsorted(tracks.program, index)) + event.motions
        for index in np.flatnonzero(chosen).tolist()
        for event in case.readings[index].events
        if event.kind == "stop" and event.value == 0
    ]
    return _Turn(numbers, tracks, np.array(stops, dtype=np.int64))


def _judge(case: BoardCase, turn: _Turn) -> list[Finding]:
    layout, tracks, found = case.layout, turn.tracks, []
    drilling = np.zeros(len(tracks), dtype=bool)
    made: dict[int, int | None] = {}
    for number in turn.numbers:
        down = layout.hold_downs[number]
        drilling |= within(tracks, down.at, down.diameter)
        made[number] = made_at(tracks, down.at, down.diameter, height=layout.height, narrower=True)
    first_cut = _first(_in_stock(tracks) & ~drilling, len(tracks))
    for number, index in made.items():
        if index is None:
            down = layout.hold_downs[number]
            where = _where(number, down)
            found.append(case.error("missing", f"no hole is drilled right through for the {where}", at=down.at))
        elif index > first_cut:
            where = _where(number, layout.hold_downs[number])
            message = f"something is cut before the hole for the {where} is drilled"
            found.append(case.error("hold-down", message, first_cut, of=tracks))
    ready = [index for index in made.values() if index is not None]
    driven = first_cut
    if len(ready) == len(made) and max(ready) < first_cut:
        driven = _driven(turn, max(ready), first_cut)
        if driven == first_cut < len(tracks):
            message = "no stop (M0) to drive the screws before the first cut"
            found.append(case.error("hold-down", message, first_cut, of=tracks))
    return found + _run_into(case, turn, driven)


def _driven(turn: _Turn, ready: int, first_cut: int) -> int:
    """The motion from which on the screws are in: after a stop, or at the start of the next file; else the
    first cut.
    """
    program = turn.tracks.program
    later = int(np.searchsorted(program, program[ready], side="right"))
    stops = turn.stops[(turn.stops > ready) & (turn.stops <= first_cut)]
    return int(min([first_cut, later, *stops.tolist()]))


def _run_into(case: BoardCase, turn: _Turn, driven: int) -> list[Finding]:
    """Motions on which the cutter or the spindle's nose comes into a hold-down's head once it may be in."""
    rest = turn.tracks.take(np.arange(driven, len(turn.tracks)))
    found: list[Finding] = []
    for number in turn.numbers:
        level = case.layout.hold_downs[number].height + TOLERANCES.standing_air
        found += _head_hit(case, rest.below(level - TOLERANCES.output)[1], number, "hold-down", "cutter")
        nose = noses_below(case, rest, level)
        if nose is not None:
            found += _head_hit(case, nose, number, "nose", "spindle's nose")
    return found


def _head_hit(case: BoardCase, low: Tracks, number: int, check: str, what: str) -> Iterator[Finding]:
    down = case.layout.hold_downs[number]
    depth = down.head - nearest_edge(low, down.at)
    if len(depth) and depth.max() > TOLERANCES.acceptance:
        worst = int(np.argmax(depth))
        message = f"the {what} comes {depth[worst]:.2f} mm into the head of the {_where(number, down)}, "
        message += f"less than {down.height + TOLERANCES.standing_air:.1f} mm above the stock"
        yield case.error(check, message, worst, of=low, at=down.at, measured=float(depth[worst]), limit=0.0)


def _misplaced(edges: RequiredEdges) -> list[str]:
    """Things under the head of a hold-down, and holes that are not in the board."""
    layout = edges.layout
    wood = to_polygon(layout.board.outline)
    material = edges.material
    areas = [to_polygon(one.area) for one in layout.board.keep_outs]
    found = []
    for number, down in enumerate(layout.hold_downs):
        where, middle = _where(number, down), shapely.Point(down.at)
        least = down.head - TOLERANCES.acceptance
        if not wood.contains(middle) or wood.exterior.distance(middle) < down.diameter / 2:
            found.append(f"the hole for the {where} is not in the board")
        for placement in np.flatnonzero(shapely.distance(material, middle) < least - limits.PART_CHORD).tolist():
            found.append(f"the head of the {where} covers {edges.part_name(placement)}")
        for area, shape in enumerate(areas):
            if shape.distance(middle) < least:
                found.append(f"the head of the {where} covers keep-out {area + 1} of the board")
        if down.window is not None and not _in_window(layout, down):
            found.append(f"the {where} is not in its window")
    return found


def _in_window(layout: BoardLayout, down: HoldDown) -> bool:
    if down.window is None or not 0 <= down.window < len(layout.windows):
        return False
    window = layout.windows[down.window]
    return window.first - TOLERANCES.acceptance <= down.at[0] <= window.last + TOLERANCES.acceptance


def _in_stock(tracks: Tracks) -> Bools:
    return np.asarray(tracks.curves.lowest < -TOLERANCES.output)


def _first(mask: Bools, none: int) -> int:
    hits = np.flatnonzero(mask)
    return int(hits[0]) if len(hits) else none


def _where(number: int, down: HoldDown) -> str:
    return f"hold-down {number + 1} at {down.at[0]:.2f}, {down.at[1]:.2f}"
