"""A drawing compared with the layout: every contour and mark once, where it belongs, closed, and nothing else. mm.

A contour drawn with an offset lies everywhere that far from the part's, on the waste side: outlines outward, holes
inward. Both ways are looked at: all that is drawn belongs to a contour, and all of every contour is drawn.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutjob.job.machine import Machine
from cutjob.proof.coverage import Gaps, uncovered
from cutjob.proof.curves import Curves, Floats, Ints, from_segments, join
from cutjob.proof.drawn_lettering import without_lettering
from cutjob.proof.dxf_reader import Drawing, DrawnChain, read_drawing
from cutjob.proof.expect import ExpectedDrawing
from cutjob.proof.finding import Finding
from cutjob.proof.goals import Goals, goals_of
from cutjob.proof.layers import misplaced, operations_of
from cutjob.proof.near import near_curves
from cutjob.proof.nearness import Finder, point_distance
from cutjob.proof.stretches import reachable_stretches
from cutjob.tolerances import TOLERANCES

_MOST_TOLD = 20
_VERSIONS = {"R12": "AC1009", "R2000": "AC1015"}
_UNITS = {"mm": 4, "in": 1}


@dataclass(frozen=True, slots=True)
class _Drawn:
    """The chains of a drawing as one set of curves; `chain` says which each row belongs to, `goal` what it draws."""

    chains: tuple[DrawnChain, ...]
    curves: Curves
    chain: Ints
    goal: Ints  # by chain; -1 for none


def judge_drawing(data: bytes, expected: ExpectedDrawing, machine: Machine) -> list[Finding]:
    """Return findings about one DXF file."""
    drawing = read_drawing(data, name=expected.file, unit=machine.drawing.units)
    found = [
        Finding(
            check="drawing",
            severity="error",
            message=problem.message,
            file=expected.file,
            line=problem.location.line if problem.location else None,
        )
        for problem in drawing.problems
    ]
    if found:
        return found[:_MOST_TOLD]
    found = _header(drawing, expected, machine)
    goals = goals_of(expected.board)
    chains, board_findings = _without_board(drawing, expected, machine)
    chains, lettering_findings = without_lettering(chains, expected, machine)
    drawn = _assigned(chains, goals, expected.offset)
    found += board_findings + lettering_findings + _strangers(drawn, goals, expected)
    found += _unequal(drawn, goals, expected) + _not_drawn(drawn, goals, expected) + _sides(drawn, goals, expected)
    return found + _layers(drawn, goals, expected, machine)


def _finding(expected: ExpectedDrawing, message: str, chain: DrawnChain | None = None) -> Finding:
    at = None
    if chain is not None and chain.segments:
        at = chain.segments[0].start
    return Finding(
        check="drawing",
        severity="error",
        message=message,
        file=expected.file,
        line=None if chain is None else chain.line,
        at=at,
    )


def _header(drawing: Drawing, expected: ExpectedDrawing, machine: Machine) -> list[Finding]:
    found = []
    wanted = _VERSIONS[machine.drawing.version]
    if drawing.version != wanted:
        found.append(_finding(expected, f"the drawing is {drawing.version}; the profile asks for {wanted}"))
    unit = machine.drawing.units
    if wanted == "AC1009":  # R12 has no variable for it
        if not any(unit in comment.split() for comment in drawing.comments):
            found.append(_finding(expected, f"the drawing doesn't say that it is in {unit}"))
    elif drawing.units != _UNITS[unit]:
        found.append(_finding(expected, f"$INSUNITS is {drawing.units}; for {unit} it is {_UNITS[unit]}"))
    return found


def _without_board(
    drawing: Drawing, expected: ExpectedDrawing, machine: Machine
) -> tuple[tuple[DrawnChain, ...], list[Finding]]:
    """Return the chains but for the board's own outline, and findings about that."""
    outline = from_segments(expected.board.board.outline.segments)
    bounds = expected.board.board.outline.bounds
    kept, boards = [], []
    for chain in drawing.chains:
        curves = from_segments(chain.segments)
        if chain.closed and len(curves) and _box_near(curves, bounds) and _same(curves, outline):
            boards.append(chain)
        else:
            kept.append(chain)
    found = []
    if machine.drawing.board and not boards:
        found.append(_finding(expected, "the board's outline is not drawn"))
    for chain in boards:
        wanted = misplaced(chain, ("board",), machine)
        if wanted is not None:
            found.append(_finding(expected, f"the board's outline is on layer {chain.layer!r}, not on {wanted}", chain))
    if len(boards) > int(machine.drawing.board):
        found.append(_finding(expected, f"the board's outline is drawn {len(boards)} times", boards[-1]))
    return tuple(kept), found


def _box_near(curves: Curves, bounds: tuple[float, float, float, float]) -> bool:
    low_x, low_y, high_x, high_y = curves.boxes()
    box = (low_x.min(), low_y.min(), high_x.max(), high_y.max())
    return all(abs(one - two) <= TOLERANCES.acceptance for one, two in zip(box, bounds, strict=True))


def _same(a: Curves, b: Curves) -> bool:
    return all(
        not len(_gaps(one, two, np.full(len(two), TOLERANCES.acceptance)).target) for one, two in ((a, b), (b, a))
    )


def _gaps(targets: Curves, others: Curves, reach: Floats) -> Gaps:
    other, target, _ = near_curves(others, targets, reach)
    return uncovered(targets, others, reach, target=target, cut=other)


def _assigned(chains: tuple[DrawnChain, ...], goals: Goals, offset: float) -> _Drawn:
    """Return the chains with the goal each draws: the one whose contour all its corners lie nearest to the offset."""
    pieces = [from_segments(chain.segments) for chain in chains]
    curves = join(pieces)
    owner = np.repeat(np.arange(len(chains), dtype=np.int64), [len(piece) for piece in pieces])
    goal = np.full(len(chains), -1, dtype=np.int64)
    if len(curves) and len(goals.curves):
        middle_x, middle_y = curves.at(np.full(len(curves), 0.5))
        reach = np.full(len(curves), abs(offset) + TOLERANCES.acceptance)
        place, row = Finder(goals.curves).around(middle_x, middle_y, reach)
        apart = point_distance(middle_x[place], middle_y[place], goals.curves.take(row))[0]
        hit = apart <= reach[place]
        # One vote for each segment and goal.
        count = max(1, len(goals.goals))
        votes = np.unique(place[hit] * np.int64(count) + goals.goal[row[hit]])
        key, number = np.unique(owner[votes // count] * np.int64(count) + votes % count, return_counts=True)
        share = number / np.bincount(owner, minlength=len(chains))[key // count]
        # Of goals with the same share of votes the one as long as the chain.
        total = np.bincount(goals.goal, weights=goals.curves.length, minlength=count)
        own = np.bincount(owner, weights=curves.length, minlength=len(chains))
        off = np.abs(total[key % count] - own[key // count]) / np.maximum(own[key // count], 1e-9)
        for index in np.lexsort((-off, share)):
            if share[index] > 0.5:
                goal[key[index] // count] = key[index] % count
    return _Drawn(chains, curves, owner, goal)


def _strangers(drawn: _Drawn, goals: Goals, expected: ExpectedDrawing) -> list[Finding]:
    """Chains that draw nothing of the layout, open outlines, and contours drawn twice."""
    found = []
    seen: set[int] = set()
    for number, chain in enumerate(drawn.chains):
        goal = int(drawn.goal[number])
        if goal < 0:
            found.append(_finding(expected, "something is drawn that is no contour of the layout", chain))
            continue
        if not chain.closed and goals.goals[goal].kind != "mark":
            found.append(_finding(expected, f"the {goals.name(goal)} is drawn open", chain))
        if goal in seen and _twin(drawn, number):
            found.append(_finding(expected, f"the {goals.name(goal)} is drawn twice", chain))
        seen.add(goal)
    return found[:_MOST_TOLD]


def _twin(drawn: _Drawn, number: int) -> bool:
    """Whether a chain before this one draws the same line."""
    own = drawn.curves.take(np.flatnonzero(drawn.chain == number))
    for other in np.flatnonzero(drawn.goal[:number] == drawn.goal[number]):
        before = drawn.curves.take(np.flatnonzero(drawn.chain == other))
        if not len(_gaps(own, before, np.full(len(before), TOLERANCES.acceptance)).target):
            return True
    return False


def _unequal(drawn: _Drawn, goals: Goals, expected: ExpectedDrawing) -> list[Finding]:
    """Chains that leave their contour, or come nearer to it than the offset."""
    offset, limit = abs(expected.offset), TOLERANCES.acceptance
    row_goal = drawn.goal[drawn.chain]
    reach = np.where(goals.goal < 0, 0.0, offset + limit) if len(goals.goal) else np.zeros(0)
    marks = np.array([goal.kind == "mark" for goal in goals.goals], dtype=bool)
    if len(goals.goal):
        reach = np.where(marks[goals.goal], limit, reach)
    other, target, apart = near_curves(goals.curves, drawn.curves, reach)
    own = goals.goal[other] == row_goal[target]
    gaps = uncovered(drawn.curves, goals.curves, reach, target=target[own], cut=other[own])
    wrong = set(drawn.chain[gaps.target].tolist())
    close = own & (apart < offset - limit) & ~marks[goals.goal[other]]
    wrong |= set(drawn.chain[target[close]].tolist())
    return [
        _finding(
            expected,
            f"the {goals.name(int(drawn.goal[number]))} is not drawn where it belongs, to {limit} mm",
            drawn.chains[number],
        )
        for number in sorted(wrong)
        if drawn.goal[number] >= 0
    ][:_MOST_TOLD]


def _not_drawn(drawn: _Drawn, goals: Goals, expected: ExpectedDrawing) -> list[Finding]:
    """Contours with a stretch that nothing drawn lies beside; inside corners the offset rounds off are no such."""
    offset, limit = abs(expected.offset), TOLERANCES.acceptance
    reach = np.full(len(drawn.curves), offset + limit)
    other, target, apart = near_curves(drawn.curves, goals.curves, reach)
    marks = np.array([goal.kind == "mark" for goal in goals.goals], dtype=bool)
    kept = ~marks[goals.goal[target]] | (apart <= limit)
    gaps = uncovered(goals.curves, drawn.curves, reach, target=target[kept], cut=other[kept])
    if offset > 0:
        material = goals.rows("outline", "hole", "through", "blind")
        # Every segment of a goal open from end to end: not one bit of it is drawn.
        rows = np.bincount(goals.goal, minlength=len(goals.goals))
        shares = np.bincount(goals.goal[gaps.target], weights=gaps.last - gaps.first, minlength=len(goals.goals))
        whole = np.flatnonzero((shares > 0) & (shares >= rows - 1e-6)).tolist()
        finder = Finder(goals.curves.take(material))
        disc = np.full(len(goals.curves), offset)
        stretches = reachable_stretches(goals, gaps, disc, finder, material)
        open_goals = sorted({stretch.goal for stretch in stretches} | set(whole))
    else:
        open_goals = sorted(set(goals.goal[gaps.target].tolist()))
    return [_finding(expected, f"the {goals.name(goal)} is not drawn, or not all of it") for goal in open_goals][
        :_MOST_TOLD
    ]


def _sides(drawn: _Drawn, goals: Goals, expected: ExpectedDrawing) -> list[Finding]:
    """Offset contours on the wrong side: an outline must come out larger, a hole smaller."""
    if expected.offset == 0:
        return []
    drawn_area = np.abs(_areas(drawn.curves, drawn.chain, len(drawn.chains)))
    goal_area = np.abs(_areas(goals.curves, goals.goal, len(goals.goals)))
    found = []
    for number, chain in enumerate(drawn.chains):
        goal = int(drawn.goal[number])
        if goal < 0 or goals.goals[goal].kind == "mark" or (drawn.goal == goal).sum() > 1:
            continue
        larger = drawn_area[number] > goal_area[goal]
        if larger != ((goals.goals[goal].kind == "outline") == (expected.offset > 0)):
            found.append(_finding(expected, f"the {goals.name(goal)} is moved to the wrong side", chain))
    return found[:_MOST_TOLD]


def _areas(curves: Curves, owner: Ints, count: int) -> Floats:
    """Signed areas from the shoelace terms of chords and the segments above them."""
    chord = curves.x0 * curves.y1 - curves.x1 * curves.y0
    full = np.abs(curves.sweep) >= 2 * np.pi - 1e-9
    cap = np.where(full, np.sign(curves.sweep) * 2 * np.pi, curves.sweep - np.sin(curves.sweep))
    return np.asarray(np.bincount(owner, weights=(chord + curves.r**2 * cap) / 2, minlength=count), dtype=np.float64)


def _layers(drawn: _Drawn, goals: Goals, expected: ExpectedDrawing, machine: Machine) -> list[Finding]:
    """Contours on another layer than their operation's, and what a laser can't make whatever its layer."""
    found = []
    kinds: dict[str, dict[str, DrawnChain]] = {}
    for number, chain in enumerate(drawn.chains):
        if drawn.goal[number] < 0:
            continue
        goal = goals.goals[drawn.goal[number]]
        name = goals.name(int(drawn.goal[number]))
        if goal.kind == "blind" and machine.kind == "laser":
            message = f"the {name} is drawn, but a laser can't stop at its depth and would cut it through"
            found.append(_finding(expected, message, chain))
        operations = operations_of(goal, machine)
        wanted = misplaced(chain, operations, machine)
        if wanted is not None:
            found.append(_finding(expected, f"the {name} is drawn on layer {chain.layer!r}, not on {wanted}", chain))
        names = sorted({machine.drawing.layers.get(operation, operation) for operation in operations})
        kinds.setdefault(chain.layer.casefold(), {})[" or ".join(names)] = chain
    mixed = [
        _finding(expected, f"layer {layer!r} holds {' and '.join(sorted(several))}", next(iter(several.values())))
        for layer, several in sorted(kinds.items())
        if len(several) > 1 and not set.intersection(*(set(names.split(" or ")) for names in several))
    ]
    return [*found[:_MOST_TOLD], *mixed]
