"""Boards longer than the bed: each file must stay within its window, and each part be cut in its own window. mm.

Pins locate the board for the next window: their holes are drilled before the board is slid on, as wide as the pins.

Also cuts that stray from the board, where clamps and fences may be.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point
from cutjob.layout.layout import BoardLayout, Window
from cutjob.proof import limits
from cutjob.proof.board.board_case import MOST_FINDINGS, BoardCase
from cutjob.proof.board.coverage import uncovered
from cutjob.proof.board.curves import Floats, Ints
from cutjob.proof.board.required_edges import RequiredEdges
from cutjob.proof.board.round_holes import made_at, nearest_edge, within
from cutjob.proof.board.track_edge_pairs import TrackEdgePairs, cutting_reach, deep_pairs, pairs_within
from cutjob.proof.board.tracks import Tracks
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES

_HAIR = 1e-3  # mm
_LOOKS = 65  # places tried along a motion that may stray


def judge_strays(case: BoardCase) -> Iterator[Finding]:
    """Yield a finding for each program and cutter that moves below the stock's top too far from the board's outline."""
    tracks, board = case.tracks, to_polygon(case.layout.board.outline)
    low_x, low_y, high_x, high_y = tracks.curves.boxes()
    turns = [(number, cutter) for number, program in enumerate(case.programs) for cutter in program.cutters]
    for number, cutter in turns:
        allowed = limits.off_board(cutter.diameter, case.machine.cutting.lead)
        own = np.flatnonzero((tracks.program == number) & (tracks.cutter == cutter.number))
        room = shapely.buffer(board, allowed)
        shapely.prepare(room)
        # A box without area, as that of a way straight down, would be empty.
        boxes = shapely.box(low_x[own] - _HAIR, low_y[own] - _HAIR, high_x[own] + _HAIR, high_y[own] + _HAIR)
        suspects = own[~shapely.covers(room, boxes)]
        if not len(suspects):
            continue
        some = tracks.curves.take(np.repeat(suspects, _LOOKS))
        x, y = some.at(np.tile(np.linspace(0.0, 1.0, _LOOKS), len(suspects)))
        off = np.asarray(shapely.distance(board, shapely.points(x, y)), dtype=float)
        worst = int(np.argmax(off))
        if off[worst] > allowed:
            track, at, far = int(suspects[worst // _LOOKS]), (float(x[worst]), float(y[worst])), float(off[worst])
            message = f"a move at the stock's height {far:.2f} mm off the board, where clamps may be; "
            yield case.error("board", f"{message}at most {allowed:.2f} mm", track, at=at, measured=far, limit=allowed)


def judge_windows(case: BoardCase) -> list[Finding]:
    """Return findings about the windows of a board."""
    programs, count = case.programs, len(case.layout.windows)
    if not count:
        return [
            case.error("window", f"window {program.window + 1} of a board that has none", file=program.file)
            for program in programs
            if program.window is not None
        ]
    wrong = [program for program in programs if program.window is None or program.window >= count]
    if wrong:
        message = "the file doesn't say which window of its board is on the bed"
        return [case.error("window", message, file=program.file) for program in wrong]
    messages = (*_split(case.edges), *_pins_agree(case.layout), *_pins_clear(case))
    found = [case.error("window", message) for message in messages]
    for number, program in enumerate(programs):
        found += [case.error("window", message, file=program.file) for message in _origin(case, program)]
        found += _outside(case, number, program)
    return [*found, *_cut_elsewhere(case), *_pin_holes(case)]


def _split(edges: RequiredEdges) -> Iterator[str]:
    """Parts in no window, in several windows, or not wholly in their own."""
    layout = edges.layout
    for number, placement in enumerate(layout.placements):
        own = [window for window in layout.windows if number in window.placements]
        name = edges.part_name(number)
        if len(own) != 1:
            yield f"{name} is cut in {len(own) or 'no'} windows of the board"
            continue
        low, _, high, _ = placement.region.bounds
        if low < own[0].first - TOLERANCES.acceptance or high > own[0].last + TOLERANCES.acceptance:
            yield f"{name} is not wholly in its window"


def _origin(case: BoardCase, program: ExpectedProgram) -> Iterator[str]:
    """What is wrong with the start and the length of a file's window."""
    window, zero, travel = _window(case, program), program.origin[0], case.machine.travel
    if abs(zero - window.first) > TOLERANCES.output:
        yield f"the file's zero is at {zero:.2f} along the board; its window begins at {window.first:.2f}"
    reach = travel.x if travel is not None else 0.0
    length = window.last - window.first
    if length > reach + TOLERANCES.acceptance:
        yield f"the window is {length:.2f} mm long; the machine's travel is {reach:.2f} mm"


def _outside(case: BoardCase, number: int, program: ExpectedProgram) -> Iterator[Finding]:
    """Motions farther off the window than a cut round a part at its end needs: the bed may end there too."""
    window, motions = _window(case, program), case.motions
    run = max(limits.off_board(cutter.diameter, case.machine.cutting.lead) for cutter in program.cutters)
    own = np.flatnonzero(motions.program == number)
    low, _, high, _ = motions.curves.take(own).boxes()
    beyond = np.maximum(window.first - run - low, high - window.last - run)
    if not len(own) or beyond.max() <= TOLERANCES.acceptance:
        return
    worst, far = int(own[np.argmax(beyond)]), float(beyond.max() + run)
    message = f"a motion {far:.2f} mm outside its window; at most {run:.2f} mm"
    yield case.error("window", message, worst, of=motions, measured=far, limit=run)


def _cut_elsewhere(case: BoardCase) -> list[Finding]:
    """Contours, edges of floors and marks that only programs of other windows cut, wholly or in part."""
    tracks, edges = case.tracks, case.edges
    own, of_program = _windows_of(edges.layout), _windows_run(case)
    there = np.isin(own, of_program)
    pairs = pairs_within(tracks, edges, *sorted({edge.kind for edge in edges.every}), within=cutting_reach(tracks))
    pairs = pairs.take(there[edges.placement[pairs.row]])
    theirs = of_program[tracks.program[pairs.track]] == own[edges.placement[pairs.row]]
    through = -edges.layout.height + case.skin + TOLERANCES.output
    levels = [through if edge.depth is None else -edge.depth + TOLERANCES.acceptance for edge in edges.every]
    level = np.array(levels)[edges.edge] if levels else np.zeros(0)
    more = _open(tracks, edges, pairs.take(theirs), level) - _open(tracks, edges, pairs, level)
    words = "are cut in another window than the part's"
    return [
        case.error("window", f"{more[edge]:.2f} mm of the {edges.name(edge)} {words}", at=edges.begin(edge))
        for edge in np.flatnonzero(more > limits.SHORTEST_LEFT).tolist()
    ][:MOST_FINDINGS]


def _open(tracks: Tracks, edges: RequiredEdges, pairs: TrackEdgePairs, level: Floats) -> Floats:
    """Return by edge the length that no paired track comes to at the row's level."""
    kept, curves = deep_pairs(tracks, pairs, level[pairs.row])
    gaps = uncovered(
        edges.curves,
        curves,
        cutting_reach(tracks)[pairs.track[kept]],
        target=pairs.row[kept],
        cut=np.arange(len(kept), dtype=np.int64),
    )
    length = (gaps.last - gaps.first) * edges.curves.length[gaps.target]
    return np.asarray(np.bincount(edges.edge[gaps.target], weights=length, minlength=len(edges.every)), dtype=float)


def _windows_of(layout: BoardLayout) -> Ints:
    own = np.full(len(layout.placements), -1, dtype=np.int64)
    for number, window in enumerate(layout.windows):
        for placement in window.placements:
            if 0 <= placement < len(own):
                own[placement] = number
    return own


def _pins_agree(layout: BoardLayout) -> Iterator[str]:
    """Pins where the window before has no hole, and holes or pins outside their window."""
    before: Sequence[Point] = ()
    for number, window in enumerate(layout.windows):
        for pin in window.pins:
            if not any(np.hypot(pin[0] - x, pin[1] - y) <= TOLERANCES.acceptance for x, y in before):
                yield f"a pin of window {number + 1} at {_place(pin)} has no hole drilled in the window before"
        for at in (*window.holes, *window.pins):
            if not window.first <= at[0] <= window.last:
                yield f"a pin or its hole at {_place(at)} is outside window {number + 1}"
        before = window.holes


def _pins_clear(case: BoardCase) -> Iterator[str]:
    material = case.edges.material
    for at in dict.fromkeys(at for window in case.layout.windows for at in window.holes):
        apart = shapely.distance(material, shapely.Point(at))
        for placement in np.flatnonzero(apart < case.pin / 2 - TOLERANCES.acceptance - limits.PART_CHORD).tolist():
            yield f"the hole for a pin at {_place(at)} is in {case.edges.part_name(placement)}"


def _pin_holes(case: BoardCase) -> Iterator[Finding]:
    """Holes not drilled in the window that lists them, or holes or pins that another cut runs into."""
    diameter, height = case.pin, case.layout.height
    of_track = _windows_run(case)[case.tracks.program]
    for number, window in enumerate(case.layout.windows):
        own = case.tracks.take(np.flatnonzero(of_track == number))
        files = ", ".join(dict.fromkeys(program.file for program in case.programs if program.window == number))
        for at in window.holes:
            if made_at(own, at, diameter, height=height, narrower=False) is None:
                message = f"no hole of {diameter:.2f} mm is made right through for the pin at {_place(at)}"
                yield case.error("missing", message, file=files or case.files, at=at)
        for at in dict.fromkeys((*window.holes, *window.pins)):
            mine = within(own, at, diameter) if at in window.holes else np.zeros(len(own), dtype=bool)
            depth = np.where(mine, 0.0, diameter / 2 - nearest_edge(own, at))
            if len(depth) and depth.max() > TOLERANCES.acceptance:
                what = "the hole for the pin" if at in window.holes else "the pin"
                message = f"cuts {depth.max():.2f} mm into {what} at {_place(at)}"
                yield case.error("window", message, int(np.argmax(depth)), of=own, at=at)


def _windows_run(case: BoardCase) -> Ints:
    """The window of each program."""
    return np.array([-1 if program.window is None else program.window for program in case.programs], dtype=np.int64)


def _window(case: BoardCase, program: ExpectedProgram) -> Window:
    assert program.window is not None  # other files aren't judged here
    return case.layout.windows[program.window]


def _place(at: Point) -> str:
    return f"{at[0]:.2f}, {at[1]:.2f}"
