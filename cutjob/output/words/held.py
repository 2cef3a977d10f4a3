"""Words on how a board is held: for the opening of its files, its picture and its sheet. Lengths mm."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

import shapely

from cutjob.counting import counted
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point
from cutjob.job.machine import Machine
from cutjob.job.stock import Board
from cutjob.layout.holding import Bridge, Hold, Holding
from cutjob.layout.layout import BoardLayout, HoldDown
from cutjob.output.words.line import Length, Line, Places
from cutjob.program.moves import Program
from cutjob.tolerances import TOLERANCES

DRIVE_SCREWS = "drive the screws into the holes just drilled, and take the tools off the board"
_AT_EDGE = 1.0  # mm: a clamp this near to the board's edge is at it


def held_lines(
    program: Program, *, layout: BoardLayout, machine: Machine, programs: Sequence[Program]
) -> Iterator[Line]:
    """Yield the lines on how a board is held, where that is settled; `programs` are all files of the board."""
    holding = layout.holding
    if holding is None:
        return
    match holding.by:
        case "clamps":
            yield from _clamp_lines(holding, program, layout, programs)
        case "screws":
            yield from screw_lines(program, layout=layout, machine=machine, programs=programs)
        case "tape" | "vacuum":
            runs = ". Leave the pump on until the spindle has stopped" if holding.by == "vacuum" else ""
            yield Line("Held by", (f"{holding.by} under the whole board, no tabs{runs}",))
    if holding.between_boards == "tape" and layout.stack > 1:
        yield Line("Between the boards", ("tape over their whole faces, in every layer of the stack",))
    yield from _bridge_lines(holding.bridges, layout)


def held_shortly(layout: BoardLayout) -> str:
    """Return how a board is held in a few words, such as `2 clamps`; empty where that is not settled."""
    holding = layout.holding
    if holding is None:
        return ""
    if holding.by in ("tape", "vacuum"):
        return f"{holding.by} under the whole board, no tabs"
    count = len(layout.hold_downs) if holding.by == "screws" else len(holding.holds)
    return counted(count, holding.by.removesuffix("s"))


def hold_areas(layout: BoardLayout) -> tuple[Hold, ...]:
    """Return the areas that press on a board; for one held from below the whole board, without a height."""
    holding = layout.holding
    if holding is None:
        return ()
    if holding.by in ("tape", "vacuum"):
        return (Hold(area=layout.board.outline, height=0.0),)
    return holding.holds


def other_keep_outs(layout: BoardLayout) -> Board:
    """Return the board without the keep-outs that are the clamps that hold it."""
    board, holding = layout.board, layout.holding
    clamps = [hold.area for hold in holding.holds] if holding is not None and holding.by == "clamps" else []
    return replace(board, keep_outs=tuple(one for one in board.keep_outs if one.area not in clamps))


def is_full(bridge: Bridge, layout: BoardLayout) -> bool:
    """Whether a bridge is left over the whole height of what is cut at once."""
    return bridge.height >= layout.height - TOLERANCES.acceptance


def _clamp_lines(
    holding: Holding, program: Program, layout: BoardLayout, programs: Sequence[Program]
) -> Iterator[Line]:
    clamps = holding.holds_in(program.window)
    if not clamps:
        return
    before = programs[program.number - 2] if program.number > 1 else None
    after = programs[program.number] if program.number < len(programs) else None
    moved = any(clamp.window is not None for clamp in clamps)
    them, these = ("it", "this place") if len(clamps) == 1 else ("them", "these places")
    if before is not None and before.window != program.window and moved:
        when = f"Move {them} to {these} once the board is slid"
    elif before is not None:
        when = f"Leave {them} in place"
    else:
        when = f"Set {them} before the start"
    edge = shapely.boundary(to_polygon(layout.board.outline))
    at_edge = all(shapely.distance(to_polygon(clamp.area), edge) <= _AT_EDGE for clamp in clamps)
    where = "on the waste at the board's edge" if at_edge else "on the waste"
    high = (
        f"{counted(len(clamps), 'clamp')} {where}, at most ",
        Length(max(clamp.height for clamp in clamps)),
        f" high. {when}, clear of every move",
    )
    air = (f". Air moves over {them} go no higher than ", Length(program.clear_z), " above the stock")
    yield Line("Held by", (*high, *air))
    for number, clamp in enumerate(clamps, start=1):
        x0, y0, x1, y1 = clamp.area.bounds
        middle = program_places([((x0 + x1) / 2, (y0 + y1) / 2)], program)
        along, across = Length(x1 - x0, both=False), Length(y1 - y0, both=False)
        yield Line("Clamp", ("middle at ", middle, ", ", along, " along the board and ", across, " across"), number)
    if moved and after is not None and after.window != program.window:
        yield Line(None, ("After this file take the clamps off, then slide the board as the next file says",))


def screw_lines(
    program: Program, *, layout: BoardLayout, machine: Machine, programs: Sequence[Program]
) -> Iterator[Line]:
    """Yield the lines on the screws in the waste; they hold the board, where that is settled."""
    own = [down for down in layout.hold_downs if down.window is None or down.window == program.window]
    if not own:
        return
    length = None
    if machine.screws is not None:
        length = machine.screws.length_for(layout.height, spoilboard=machine.cutting.spoilboard)
    long = () if length is None else (", ", Length(length), " long")
    heads = (", heads at most ", Length(2 * _widest(own)), " wide and ", Length(_tallest(own)), " high")
    if layout.holding is not None:
        yield Line("Held by", (f"{counted(len(own), 'screw')} through the waste", *long, *heads))
    else:
        yield Line("Screws", (f"{len(own)} through the waste", *long, *heads))
    drilled = any(step.feature.kind == "screw hole" for step in program.steps)
    later = programs[program.number :]
    if any(section.screws_first for section in program.sections[1:]):
        yield Line(None, ("Their holes are drilled first, then the program halts for you to drive the screws",))
    elif drilled and later:
        yield Line(None, (f"This file drills their holes. Drive the screws before file {program.number + 1}",))
    elif not program.sections[0].screws_first:
        yield Line(None, ("They were driven before this file. Leave them in",))
    if own[0].window is not None and later and later[0].window != program.window:
        yield Line(None, ("After this file take them out, then slide the board as the next file says",))


def _widest(downs: Sequence[HoldDown]) -> float:
    return max(down.head for down in downs)


def _tallest(downs: Sequence[HoldDown]) -> float:
    return max(down.height for down in downs)


def program_places(points: Sequence[Point], program: Program) -> Places:
    """Return places of the board in the program's own coordinates."""
    return Places(tuple((x - program.origin[0], y - program.origin[1]) for x, y in points))


def _bridge_lines(bridges: Sequence[Bridge], layout: BoardLayout) -> Iterator[Line]:
    full = [bridge for bridge in bridges if is_full(bridge, layout)]
    low = [bridge for bridge in bridges if not is_full(bridge, layout)]
    if full:
        over = "the whole height of the stack" if layout.stack > 1 else "the board's whole thickness"
        yield Line("Bridges", (f"{len(full)} on the board, over {over}. Saw them through afterwards",))
    if low:
        wide, high = (_all_or_most([getattr(bridge, side) for bridge in low]) for side in ("width", "height"))
        yield Line("Tabs", (f"{len(low)} on the board, ", *wide, " wide and ", *high, " high"))


def _all_or_most(lengths: Sequence[float]) -> tuple[str, Length]:
    return "" if max(lengths) - min(lengths) <= TOLERANCES.acceptance else "at most ", Length(max(lengths))


def hanging_rows(layout: BoardLayout, *, most: int) -> list[tuple[str, str, str]]:
    """Return how the parts of a board hang together once all is cut, in rows of like parts: how many bridges are
    between them and a hold, their numbers, and what they hang on. If that makes more than `most` rows, the last is left
    out.
    """
    holding = layout.holding
    if holding is None or not holding.bridges:
        return []
    parts = range(len(layout.placements))
    to_hold = [holding.to_hold[part] if part < len(holding.to_hold) else 0 for part in parts]
    described = sorted((to_hold[part], _hangs_on(part, holding, len(layout.placements)), part) for part in parts)
    rows = _grouped([(str(count), on, part) for count, on, part in described])
    if len(rows) <= most:
        return rows
    return _grouped([(str(count), "", part) for count, part in sorted(zip(to_hold, parts, strict=True))])


def _grouped(described: Sequence[tuple[str, str, int]]) -> list[tuple[str, str, str]]:
    rows = []
    for (count, on), alike in groupby(described, key=lambda one: one[:2]):
        rows.append((count, number_ranges([part + 1 for _, _, part in alike]), on))
    return rows


def _hangs_on(part: int, holding: Holding, parts: int) -> str:
    """`the waste by 3 bridges, part 7 by 1`, the waste first."""
    waste = 0
    others: dict[int, int] = {}
    for bridge in holding.bridges:
        if part not in bridge.joins:
            continue
        other = bridge.joins[1] if bridge.joins[0] == part else bridge.joins[0]
        if other >= parts:
            waste += 1
        else:
            others[other] = others.get(other, 0) + 1
    found = [("the waste", waste)] if waste else []
    found += [(f"part {other + 1}", others[other]) for other in sorted(others)]
    words = [
        f"{what} by {counted(count, 'bridge') if place == 0 else count}" for place, (what, count) in enumerate(found)
    ]
    return ", ".join(words)


def number_ranges(numbers: Sequence[int]) -> str:
    """Return `1-3, 7` for rising numbers."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(first) if first == last else f"{first}-{last}" for first, last in runs)
