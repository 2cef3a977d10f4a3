"""Layers of what is drawn: each operation's own, pockets' by their depth, and nothing a laser can't make. mm."""

from __future__ import annotations

import math

import numpy as np

from cutjob.job.machine import Machine
from cutjob.proof.coverage import uncovered
from cutjob.proof.curves import Curves
from cutjob.proof.drawn import MOST_TOLD, Drawn, drawing_finding
from cutjob.proof.dxf_reader import DrawnChain
from cutjob.proof.expect import ExpectedDrawing
from cutjob.proof.finding import Finding
from cutjob.proof.goals import Goal, Goals
from cutjob.proof.layers import misplaced, operations_of
from cutjob.proof.near import near_curves
from cutjob.tolerances import TOLERANCES

_MM = {"mm": 1.0, "in": 25.4}
_DEPTH_DECIMALS = {"mm": 2, "in": 4}  # of depths in the names of layers


def judge_layers(drawn: Drawn, goals: Goals, expected: ExpectedDrawing, machine: Machine) -> list[Finding]:
    """Return findings for contours on another layer than their operation's, and for what a laser can't make."""
    found = []
    kinds: dict[str, dict[str, DrawnChain]] = {}
    for number, chain in enumerate(drawn.chains):
        index = int(drawn.goal[number])
        if index < 0:
            continue
        goal, name = goals.goals[index], goals.name(index)
        if goal.kind in ("blind", "pocket") and machine.kind == "laser":
            message = f"the {name} is drawn, but a laser can't stop at its depth and would cut it through"
            found.append(drawing_finding(expected, message, chain))
        wanted = _elsewhere(chain, goal, machine)
        if wanted is not None:
            twin = _right_for_a_twin(drawn, number, goals, expected, machine)
            if twin is None:
                message = f"the {name} is drawn on layer {chain.layer!r}, not on {wanted}"
                found.append(drawing_finding(expected, message, chain))
            else:
                goal = twin
        kinds.setdefault(chain.layer.casefold(), {})[_purposes(goal, machine)] = chain
    mixed = [
        drawing_finding(
            expected, f"layer {layer!r} holds {' and '.join(sorted(several))}", next(iter(several.values()))
        )
        for layer, several in sorted(kinds.items())
        if len(several) > 1 and not set.intersection(*(set(names.split(" or ")) for names in several))
    ]
    return [*found[:MOST_TOLD], *mixed]


def _elsewhere(chain: DrawnChain, goal: Goal, machine: Machine) -> str | None:
    """The layer a chain should lie on to make a goal; None where it lies right."""
    several = [misplaced(chain, operations_of(goal, one), one) for one in _profiles(goal, machine)]
    return None if None in several else several[0]


def _purposes(goal: Goal, machine: Machine) -> str:
    one = _profiles(goal, machine)[0]
    names = {one.drawing.layers.get(operation, operation) for operation in operations_of(goal, one)}
    return " or ".join(sorted(names))


def _profiles(goal: Goal, machine: Machine) -> list[Machine]:
    """The profile with the layer of a pocket's depth named in it: rounded up or down where it lies between."""
    drawing = machine.drawing
    if goal.kind != "pocket" or "pocket" in drawing.layers:
        return [machine]
    unit = drawing.units
    steps = (goal.depth or 0.0) / _MM[unit] * 10 ** _DEPTH_DECIMALS[unit]
    found = []
    for whole in sorted({math.floor(steps + 0.5 - 1e-6), math.floor(steps + 0.5 + 1e-6)}):
        size = f"{whole / 10 ** _DEPTH_DECIMALS[unit]:.{_DEPTH_DECIMALS[unit]}f}".rstrip("0").rstrip(".")
        layers = {**drawing.layers, "pocket": f"pocket {size} {unit}"}
        found.append(machine.model_copy(update={"drawing": drawing.model_copy(update={"layers": layers})}))
    return found


def _right_for_a_twin(
    drawn: Drawn, number: int, goals: Goals, expected: ExpectedDrawing, machine: Machine
) -> Goal | None:
    """Another goal of the same contour for which a chain lies on the right layer: what coincides is drawn once."""
    chain, own = drawn.chains[number], int(drawn.goal[number])
    curves = drawn.curves.take(np.flatnonzero(drawn.chain == number))
    reach = abs(expected.offset) + TOLERANCES.acceptance
    for index, goal in enumerate(goals.goals):
        rows = goals.curves.take(slice(goal.first, goal.last))
        if index != own and _elsewhere(chain, goal, machine) is None and _covers(rows, curves, reach):
            return goal
    return None


def _covers(one: Curves, other: Curves, reach: float) -> bool:
    """Whether each of two contours lies within reach of the other all along."""
    for targets, cuts in ((one, other), (other, one)):
        limit = np.full(len(cuts), reach)
        cut, target, _ = near_curves(cuts, targets, limit)
        if len(uncovered(targets, cuts, limit, target=target, cut=cut)):
            return False
    return True
