"""Judges whether a board holds together while it is cut: layout, programs and swept areas in, findings out. mm.

At the level of the bridges each part and each larger piece of waste must be joined to wood that clamps or screws hold.
Wood only ever gets less, so a piece that is joined at the end of a window, by the holds of that window, was joined all
the while. A board on tape or on a vacuum table is held from below. Pins locate a board but don't hold it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from cutjob.counting import counted
from cutjob.geometry.polygons import to_polygon
from cutjob.geometry.segment import Point
from cutjob.layout.holding import Hold, Holding
from cutjob.proof import limits
from cutjob.proof.board.areas import Shapes
from cutjob.proof.board.board_case import MOST_FINDINGS, BoardCase
from cutjob.proof.board.curves import Floats
from cutjob.proof.board.distances import point_geometries
from cutjob.proof.board.required_edges import RequiredEdges
from cutjob.proof.finding import Finding
from cutjob.proof.sweep.joined import (
    Ground,
    Pieces,
    Ways,
    bridge_level,
    each_polygon,
    ground_of,
    pieces_of,
    swept_by,
    ways_to,
)
from cutjob.proof.sweep.keep_out import deepest_hits
from cutjob.tolerances import TOLERANCES

_MOST_NAMED = 3
_MOST_SEARCHED = 6  # loose pieces for which the line that frees them is searched for
_WORDS = {"clamps": "clamp", "screws": "screw"}


def judge_held(case: BoardCase) -> list[Finding]:
    """Return findings about how a board is held.

    If only one of a board's files is given, only its own cuts are known: they must leave all pieces joined, but the
    number of bridges is not judged. A layout that doesn't say how it is held is passed over, or is a finding where this
    is required of a router.
    """
    layout, holding = case.layout, case.layout.holding
    if holding is None:
        if case.holding_required and case.machine.has_spindle:
            return [case.error("held", "the plan doesn't say how the board is held while it is cut")]
        return []
    if holding.by not in _WORDS:
        return []
    found = [case.error("held", message, at=at) for message, at in _misplaced(case.edges, holding)]
    found += _run_into(case, holding)
    windows = _windows(case)
    for window in windows:
        if not holding.holds_in(window):
            where = "" if window is None else f" while window {window + 1} is cut"
            found.append(case.error("held", f"no {_WORDS[holding.by]} holds the board{where}"))
    if case.skin > 0 or not windows:
        return found
    board = _Board(case, holding)
    to_hold = [0] * len(layout.placements)
    for state in board.states(windows):
        found += board.loose(state)
        if not case.one_of_several:
            found += [*board.severed(state), *board.single(state), *board.chains(state), *board.spread(state)]
            for node, index in enumerate(state.ground.placements.tolist()):
                to_hold[index] = max(to_hold[index], state.ways.far[node])
    if not case.one_of_several and not found:
        found += _otherwise_planned(case, holding, to_hold)
    return found[:MOST_FINDINGS]


def _windows(case: BoardCase) -> list[int | None]:
    """The windows in which something is cut, in order; [None] for a board without windows, None for wrong ones."""
    count = len(case.layout.windows)
    cut = [case.programs[index].window for index in np.unique(case.tracks.program).tolist()]
    if count == 0:
        return [None] if cut else []
    return sorted({window for window in cut if window is not None and 0 <= window < count})


def _misplaced(edges: RequiredEdges, holding: Holding) -> list[tuple[str, Point]]:
    """Holds that don't press on the board's waste, or whose window the board doesn't have."""
    layout = edges.layout
    wood, material = to_polygon(layout.board.outline), edges.material
    found = []
    for number, hold in enumerate(holding.holds):
        area = to_polygon(hold.area)
        name = f"{_WORDS[holding.by]} {number + 1}"
        at = _middle(area)
        if shapely.intersection(area, wood).area < limits.HELD_SHARE * area.area:
            found.append((f"{name} is not on the board", at))
        for index in np.flatnonzero(shapely.intersects(material, area)).tolist():
            if shapely.intersection(material[index], area).area > limits.HOLD_ON_PART:
                found.append((f"{name} is on {edges.part_name(index)}", at))
        if hold.window is not None and not 0 <= hold.window < len(layout.windows):
            found.append((f"{name} is for window {hold.window + 1}, which the board doesn't have", at))
    return found


def _run_into(case: BoardCase, holding: Holding) -> Iterator[Finding]:
    """Motions that come into a hold that is neither a keep-out nor a hold-down: other judges look at those."""
    for number, hold in enumerate(holding.holds):
        if _looked_at(hold, case.edges):
            continue
        own = [hold.window is None or program.window == hold.window for program in case.programs]
        during = case.motions.take(np.array(own, dtype=bool)[case.motions.program])
        for hit, what in deepest_hits(case, during, hold.area, hold.height):
            name = f"{_WORDS[holding.by]} {number + 1}"
            message = f"the {what} comes {hit.depth:.2f} mm into {name}, which is {hold.height:.1f} mm high"
            yield hit.finding(case, "held", message)


def _looked_at(hold: Hold, edges: RequiredEdges) -> bool:
    area, layout = to_polygon(hold.area), edges.layout
    within = TOLERANCES.acceptance
    for one in layout.board.keep_outs:
        if one.height >= hold.height - within and to_polygon(one.area).buffer(within).contains(area):
            return True
    return any(
        down.height >= hold.height - within
        and down.window in (None, hold.window)
        and shapely.Point(down.at).buffer(down.head + 2 * within, quad_segs=64).contains(area)
        for down in layout.hold_downs
    )


@dataclass(frozen=True, slots=True)
class _State:
    """A board at the end of one of its windows, and how its pieces hang on the holds at that time."""

    window: int | None
    first: int  # the first track of the window
    last: int  # the first track of the next window
    holds: tuple[shapely.Polygon, ...]
    ground: Ground
    pieces: Pieces
    ways: Ways


class _Board:
    """The judgement of one board that clamps or screws hold, with its tracks at the level of its bridges."""

    def __init__(self, case: BoardCase, holding: Holding) -> None:
        self._case, self._holding, self._whole = case, holding, ground_of(case)
        self._low = case.tracks.below(bridge_level(case) - case.layout.height)[1]

    def states(self, windows: Sequence[int | None]) -> list[_State]:
        """The state at the end of each window that is cut."""
        found = []
        swept: shapely.Geometry = shapely.Polygon()
        first = 0
        for window in windows:
            last, placements = len(self._low), list(range(len(self._case.layout.placements)))
            if window is not None:
                programs = [index for index, one in enumerate(self._case.programs) if one.window == window]
                last = int(np.searchsorted(self._low.program, max(programs), side="right"))
                before = self._case.layout.windows[: window + 1]
                placements = [placement for one in before for placement in one.placements]
            ground = self._whole.of(placements)
            now = swept_by(self._low.take(np.arange(first, last)), ground)
            swept = now if shapely.is_empty(swept) else shapely.union(swept, now)
            pieces = pieces_of(ground, swept)
            # The margin taken off wood beside a cut is held too.
            holds = tuple(to_polygon(hold.area).buffer(ground.margin) for hold in self._holding.holds_in(window))
            held = _held(pieces.nodes, holds)
            found.append(_State(window, first, last, holds, ground, pieces, ways_to(pieces, held)))
            first = last
        return found

    def loose(self, state: _State) -> list[Finding]:
        """Parts and waste no longer joined to a hold, the lines that free them, and later cuts in them."""
        if not state.holds:
            return []
        found = []
        for number, group in enumerate(_loose_groups(state)):
            shape = state.pieces.nodes[group[0]]
            index, piece = None, None
            if number < _MOST_SEARCHED:
                index, piece = self._freed(state, shape.representative_point())
            parts = [node for node in group if node < state.pieces.parts]
            for node in parts or group[:1]:
                found.append(self._loose(state, node, index))
            if index is not None and piece is not None:
                found += self._cut_loose(state, index, piece)
        return found

    def _loose(self, state: _State, node: int, index: int | None) -> Finding:
        shape = state.pieces.nodes[node]
        what, measured = f"a piece of waste of {shape.area / 100:.1f} cm2", float(shape.area)
        if node < state.pieces.parts:
            what = self._part(state, node)
        during = "" if state.window is None else f" while window {state.window + 1} is cut"
        by = f"the wood that the {self._holding.by} hold{during}"
        message = f"{what} is not joined to {by}"
        if index is not None:
            message = f"{what} is no longer joined to {by} once this is cut"
        limit = None if node < state.pieces.parts else TOLERANCES.loose_plug
        return self._found(message, _middle(shape), index, measured=None if limit is None else measured, limit=limit)

    def _freed(self, state: _State, inside: shapely.Point) -> tuple[int | None, shapely.Polygon | None]:
        """The track that frees the piece at a point, and the piece then; None where it is loose from the first."""
        low, high = state.first, state.last
        if self._loose_at(state, low, inside) is not None:
            return None, None
        while high - low > 1:
            middle = (low + high) // 2
            if self._loose_at(state, middle, inside) is None:
                low = middle
            else:
                high = middle
        return low, self._loose_at(state, high, inside)

    def _loose_at(self, state: _State, count: int, inside: shapely.Point) -> shapely.Polygon | None:
        """The piece at a point after `count` tracks, if it is loose then."""
        swept = swept_by(self._low.take(np.arange(count)), state.ground)
        wood = shapely.difference(state.ground.board, swept)
        pieces = each_polygon(shapely.union_all([wood, *state.ground.parts]))
        own = pieces[shapely.dwithin(pieces, inside, limits.TOUCHING)]
        return None if not len(own) or _held(own[:1], state.holds) else own[0]

    def _cut_loose(self, state: _State, index: int, piece: shapely.Polygon) -> list[Finding]:
        """The first cut in a piece after the track `index` freed it."""
        later = self._low.take(np.arange(index + 1, state.last))
        x, y = later.curves.at(np.full(len(later), 0.5))
        shapely.prepare(piece)
        inside = np.flatnonzero(shapely.contains_xy(piece, x, y))
        if not len(inside):
            return []
        at = (float(x[inside[0]]), float(y[inside[0]]))
        beside = ""
        if state.pieces.parts:
            apart = shapely.distance(state.ground.parts, shapely.Point(at))
            beside = f", beside {self._part(state, int(np.argmin(apart)))}"
        message = f"cuts in wood that is loose already{beside}"
        return [self._found(message, at, index + 1 + int(inside[0]))]

    def severed(self, state: _State) -> list[Finding]:
        """Planned tabs that lead to nothing beyond their part, and bridges between waste that are cut away."""
        found = []
        placed = {index: node for node, index in enumerate(state.ground.placements.tolist())}
        every = [tab for program in self._case.programs for tab in program.tabs]
        tabs = [tab for tab in every if tab.placement is None or tab.placement in placed]
        if not tabs:
            return []
        points = point_geometries(*np.array([tab.at for tab in tabs], dtype=float).T)
        standing, stubs = _near(points, state.pieces.bridges), _near(points, state.pieces.stubs)
        for number, tab in enumerate(tabs):
            if number in standing:
                continue
            if tab.placement is None and state.last == len(self._low):
                found.append(self._found("a bridge planned between pieces of waste is cut away", tab.at))
            elif tab.placement is not None and number in stubs:
                name = self._part(state, placed[tab.placement])
                message = f"a tab of {name} holds nothing: the wood at its other end is cut away"
                found.append(self._found(message, tab.at))
        return found

    def single(self, state: _State) -> list[Finding]:
        """Bridges that free some parts if they snap."""
        found: list[Finding] = []
        named: set[int] = set()
        for bridge, freed in sorted(state.ways.single, key=lambda one: -len(one[1])):
            parts = [node for node in freed if node < state.pieces.parts]
            if named.issuperset(parts):
                continue  # in a row of single bridges only the one nearest to the hold is reported
            named.update(parts)
            names = [self._part(state, node) for node in parts[:_MOST_NAMED]]
            more = f" and {len(parts) - len(names)} more" if len(parts) > len(names) else ""
            message = f"one bridge alone holds {', '.join(names)}{more}; each part needs a second way to the hold"
            found.append(self._found(message, _middle(state.pieces.bridges[bridge]), measured=1.0, limit=2.0))
        return found

    def chains(self, state: _State) -> list[Finding]:
        """Parts that hang on a hold over too many bridges one after another."""
        return [
            self._found(
                f"there are {far} bridges in a row between {self._part(state, node)} and the nearest hold",
                _middle(state.pieces.nodes[node]),
                measured=float(far),
                limit=float(limits.MOST_BRIDGES),
            )
            for node, far in enumerate(state.ways.far[: state.pieces.parts])
            if far > limits.MOST_BRIDGES
        ]

    def spread(self, state: _State) -> list[Finding]:
        """Parts with too few bridges on their outline, or all of them to one side."""
        pieces, parts, found = state.pieces, state.ground.parts, []
        contacts = _contacts(pieces, parts)
        for node in range(pieces.parts):
            if state.ways.far[node] <= 0:
                continue
            own = [points for bridge, points in contacts[node] if bridge not in state.ways.idle[node]]
            name, middle = self._part(state, node), _middle(parts[node])
            if len(own) < limits.LEAST_BRIDGES:
                message = f"{name} has {counted(len(own), 'bridge')} on its outline, but needs {limits.LEAST_BRIDGES}"
                found.append(self._found(message, middle, measured=float(len(own)), limit=float(limits.LEAST_BRIDGES)))
                continue
            limit = limits.SPREAD * _width(parts[node])
            off = float(shapely.convex_hull(shapely.MultiPoint(np.concatenate(own))).distance(shapely.Point(middle)))
            if off > limit + limits.SPREAD_SPARE:
                message = f"the middle of {name} is {off:.1f} mm outside its bridges: they are all to one side of it"
                found.append(self._found(message, middle, measured=off, limit=limit))
        return found

    def _part(self, state: _State, node: int) -> str:
        return self._case.edges.part_name(int(state.ground.placements[node]))

    def _found(
        self, message: str, at: Point, index: int | None = None, *, measured: float | None = None,
        limit: float | None = None,
    ) -> Finding:  # fmt: skip
        return self._case.error("held", message, index, of=self._low, at=at, measured=measured, limit=limit)


def _held(nodes: Shapes, holds: Sequence[shapely.Polygon]) -> list[int]:
    """Which of some pieces a hold presses down."""
    held: set[int] = set()
    for hold in holds:
        area = shapely.area(shapely.intersection(nodes, hold))
        held.update(np.flatnonzero(area >= limits.HELD_SHARE * hold.area).tolist())
    return sorted(held)


def _loose_groups(state: _State) -> list[list[int]]:
    """Groups of loose nodes that hang together, parts first, larger waste before smaller; only nodes that must
    be held.
    """
    group = {node: [node] for node, far in enumerate(state.ways.far) if far < 0}
    for joins in state.pieces.joins:
        own = [group[node] for node in joins if node in group]
        for other in own[1:]:
            if other is not own[0]:
                own[0].extend(other)
                group.update(dict.fromkeys(other, own[0]))
    found = []
    for nodes in {id(one): one for one in group.values()}.values():
        area = {node: _with_margin(state.pieces.nodes[node], state.ground.margin) for node in nodes}
        kept = [node for node in nodes if node < state.pieces.parts or area[node] > TOLERANCES.loose_plug]
        if kept:
            found.append(sorted(kept, key=lambda node: (node >= state.pieces.parts, -area[node])))
    return found


def _with_margin(shape: shapely.Polygon, margin: float) -> float:
    """The area of a piece of waste, with the margin that was taken off beside the cuts."""
    return float(shape.buffer(margin).area)


def _near(points: Shapes, shapes: Shapes) -> set[int]:
    found = shapely.STRtree(shapes).query(points, predicate="dwithin", distance=limits.TAB_TO_WOOD)
    return set(found[0].tolist())


def _contacts(pieces: Pieces, parts: Shapes) -> list[list[tuple[int, Floats]]]:
    """For each part the bridges on its outline, with the points where they touch it."""
    outlines = [shapely.Polygon(part.exterior).exterior for part in parts]
    found: list[list[tuple[int, Floats]]] = [[] for _ in parts]
    for bridge, nodes in enumerate(pieces.joins):
        points = shapely.get_coordinates(pieces.bridges[bridge])
        places = shapely.points(points)
        for node in nodes:
            if node < len(parts):
                own = shapely.dwithin(outlines[node], places, limits.TOUCHING)
                if own.any():
                    found[node].append((bridge, points[own]))
    return found


def _width(part: shapely.Polygon) -> float:
    """The shorter side of the smallest box about a part, in any turn."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(part))
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    return float(sides.min())


def _otherwise_planned(case: BoardCase, holding: Holding, to_hold: Sequence[int]) -> list[Finding]:
    """Warnings where the plan has another number of bridges between a part and a hold."""
    if len(holding.to_hold) != len(to_hold):
        return []
    return [
        case.error(
            "held",
            f"{counted(found, 'bridge')} between {case.edges.part_name(index)} and the hold; the plan says {planned}",
            at=_middle(case.layout.placements[index].polygon),
            measured=float(found),
            limit=float(planned),
            severity="warning",
        )
        for index, (found, planned) in enumerate(zip(to_hold, holding.to_hold, strict=True))
        if found != planned
    ]


def _middle(shape: shapely.Polygon) -> Point:
    if shape.is_empty:
        return 0.0, 0.0
    return float(shape.centroid.x), float(shape.centroid.y)
