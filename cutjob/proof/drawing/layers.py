"""Judges the layers of a drawing: everything is on the layer of its operation, pockets on that of their depth, and
there is nothing that a laser can't make. mm.

Layer names are spelled as the version allows. R12 names have at most 31 letters, digits, `$`, `-` and `_`; R2000 names
have at most 255 characters and lack a few signs. A forbidden sign is written as a hyphen. Case doesn't count.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cutjob.job.machine import Machine, Operation
from cutjob.parts.part import LINE_OPERATIONS
from cutjob.proof.board.coverage import uncovered
from cutjob.proof.board.curves import Curves, Ints
from cutjob.proof.board.required_edges import RequiredEdge, RequiredEdges
from cutjob.proof.board.track_edge_pairs import curves_within
from cutjob.proof.drawing.dxf_reader import DrawnChain
from cutjob.proof.expect import ExpectedDrawing
from cutjob.proof.finding import Finding
from cutjob.tolerances import TOLERANCES

_LONGEST = {"R12": 31, "R2000": 255}
_FORBIDDEN = {"R12": r"[^a-z0-9$_-]", "R2000": r'[\x00-\x1f\x7f<>/\\":;?*|=`,]'}
_LEGAL = {"R12": re.compile(r"[a-z0-9$_-]{1,31}"), "R2000": re.compile(r'[^\x00-\x1f\x7f<>/\\":;?*|=`,]{1,255}')}
_ESCAPED = re.compile(r"\\[Uu]\+([0-9A-Fa-f]{4})")
_NO_NAME = "layer"  # written for a name without any allowed character
_ALL: tuple[Operation, ...] = ("outside cut", "inside cut", "pocket", "bore", "drill", *LINE_OPERATIONS, "board")


def operations_of(edge: RequiredEdge, machine: Machine) -> tuple[Operation, ...]:
    """Return the operations that may make an edge: one, or for a round hole those the profile's cutters allow."""
    match edge.kind:
        case "outline":
            return ("outside cut",)
        case "hole":
            return ("inside cut",)
        case "pocket":
            return ("pocket",)
        case "mark":
            return (edge.line,)
        case "through" | "blind" if machine.has_beam:
            return ("inside cut",)
        case "through" | "blind":
            own = [abs(2 * edge.radius - cutter.diameter) <= TOLERANCES.same_point for cutter in machine.cutter]
            return (*(("bore",) if not all(own) else ()), *(("drill",) if any(own) else ()))


def misplaced(chain: DrawnChain, operations: Sequence[Operation], machine: Machine) -> str | None:
    """Return the name of the layer a chain should be on, or None if it is on the right one."""
    if any(_spells(chain.layer, operation, machine) for operation in operations):
        return None
    return " or ".join(sorted({repr(_wished(operation, machine)) for operation in operations}))


def _wished(operation: Operation, machine: Machine) -> str:
    return machine.drawing.layers.get(operation, operation)


def _spells(written: str, operation: Operation, machine: Machine) -> bool:
    version, wished = machine.drawing.version, _wished(operation, machine)
    name = _ESCAPED.sub(lambda found: chr(int(found[1], 16)), written).casefold()
    if not _LEGAL[version].fullmatch(name):
        return False
    longest = _LONGEST[version]
    if _matches(name, wished, version, longest):
        return True
    # A number distinguishes names that only the version's spelling makes equal.
    number = re.search(r"-[2-9]$", name)
    if number is None:
        return False
    base = name[: number.start()]
    others = {_wished(other, machine) for other in _ALL} - {wished}
    return _matches(base, wished, version, longest - 2) and any(
        _matches(base, other, version, longest - 2) for other in others
    )


def _matches(name: str, wished: str, version: str, longest: int) -> bool:
    """Whether a name spells the wanted one, or its beginning if the name has the greatest length."""
    letters = wished.casefold()
    if version == "R12":
        plain = (letter for letter in unicodedata.normalize("NFKD", wished) if not unicodedata.combining(letter))
        letters = "".join(letter.lower() if letter.isascii() else letter for letter in plain)
        if not letters.isascii() or "$" in letters:
            return _in_order(name, letters, longest)
    spelled = re.sub(_FORBIDDEN[version], "-", letters).strip(" -") or _NO_NAME
    core = re.sub("-+", "-", name).strip(" -")
    spelled = re.sub("-+", "-", spelled)
    return core == spelled or (len(name) >= longest and bool(core) and spelled.startswith(core))


def _in_order(name: str, letters: str, longest: int) -> bool:
    """Whether a name has the letters and digits that R12 knows, in order; the signs for other letters are not
    judged.
    """
    known = [letter for letter in letters if letter.isascii() and letter.isalnum()]
    if not known and name == _NO_NAME:
        return True
    following = iter(name)
    return len(name) >= longest or all(letter in following for letter in known)


MOST_FINDINGS = 20


@dataclass(frozen=True, slots=True)
class Drawn:
    """The chains of a drawing as one set of curves; `chain` is the chain of each row, `edge` the edge that a
    chain draws.
    """

    chains: tuple[DrawnChain, ...]
    curves: Curves
    chain: Ints
    edge: Ints  # by chain; -1 for none


def drawing_finding(expected: ExpectedDrawing, message: str, chain: DrawnChain | None = None) -> Finding:
    """Return a finding in a drawing, at a chain where there is one."""
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


_MM = {"mm": 1.0, "in": 25.4}
_DEPTH_DECIMALS = {"mm": 2, "in": 4}  # of depths in the names of layers


def judge_layers(drawn: Drawn, edges: RequiredEdges, expected: ExpectedDrawing, machine: Machine) -> list[Finding]:
    """Return findings for contours on another layer than their operation's, and for contours that a laser can't
    make.
    """
    found = []
    kinds: dict[str, dict[str, DrawnChain]] = {}
    for number, chain in enumerate(drawn.chains):
        index = int(drawn.edge[number])
        if index < 0:
            continue
        edge, name = edges.every[index], edges.name(index)
        if edge.kind in ("blind", "pocket") and machine.has_beam:
            message = f"the {name} is drawn, but a laser can't stop at its depth and would cut it through"
            found.append(drawing_finding(expected, message, chain))
        wanted = _elsewhere(chain, edge, machine)
        if wanted is not None:
            twin = _right_for_a_twin(drawn, number, edges, expected, machine)
            if twin is None:
                message = f"the {name} is drawn on layer {chain.layer!r}, not on {wanted}"
                found.append(drawing_finding(expected, message, chain))
            else:
                edge = twin
        kinds.setdefault(chain.layer.casefold(), {})[_purposes(edge, machine)] = chain
    mixed = [
        drawing_finding(
            expected, f"layer {layer!r} holds {' and '.join(sorted(several))}", next(iter(several.values()))
        )
        for layer, several in sorted(kinds.items())
        if len(several) > 1 and not set.intersection(*(set(names.split(" or ")) for names in several))
    ]
    return [*found[:MOST_FINDINGS], *mixed]


def judge_colours(colours: Mapping[str, str], expected: ExpectedDrawing, machine: Machine) -> list[Finding]:
    """Return findings for layers whose colour, `#rrggbb`, is not the profile's for their operation."""
    found = []
    for name, colour in colours.items():
        chain = DrawnChain(name, (), False, None, 0)
        own = [op for op in _ALL if op in machine.drawing.colours and misplaced(chain, (op,), machine) is None]
        wanted = {machine.drawing.colours[op].lower() for op in own}
        if wanted and colour not in wanted:
            says = " or ".join(sorted(wanted))
            found.append(drawing_finding(expected, f"layer {name!r} is drawn in {colour}, not in {says}"))
    return found


def _elsewhere(chain: DrawnChain, edge: RequiredEdge, machine: Machine) -> str | None:
    """The layer a chain should be on to make an edge; None if it is on the right one."""
    several = [misplaced(chain, operations_of(edge, one), one) for one in _profiles(edge, machine)]
    return None if None in several else several[0]


def _purposes(edge: RequiredEdge, machine: Machine) -> str:
    one = _profiles(edge, machine)[0]
    names = {one.drawing.layers.get(operation, operation) for operation in operations_of(edge, one)}
    return " or ".join(sorted(names))


def _profiles(edge: RequiredEdge, machine: Machine) -> list[Machine]:
    """The profile with the layer of a pocket's depth named in it; the depth rounded up and down where it is
    between steps.
    """
    drawing = machine.drawing
    if edge.kind != "pocket" or "pocket" in drawing.layers:
        return [machine]
    unit = drawing.units
    steps = (edge.depth or 0.0) / _MM[unit] * 10 ** _DEPTH_DECIMALS[unit]
    found = []
    for whole in sorted({math.floor(steps + 0.5 - 1e-6), math.floor(steps + 0.5 + 1e-6)}):
        size = f"{whole / 10 ** _DEPTH_DECIMALS[unit]:.{_DEPTH_DECIMALS[unit]}f}".rstrip("0").rstrip(".")
        layers = {**drawing.layers, "pocket": f"pocket {size} {unit}"}
        found.append(machine.model_copy(update={"drawing": drawing.model_copy(update={"layers": layers})}))
    return found


def _right_for_a_twin(
    drawn: Drawn, number: int, edges: RequiredEdges, expected: ExpectedDrawing, machine: Machine
) -> RequiredEdge | None:
    """Another edge with the same contour, for which a chain is on the right layer: lines that coincide are
    drawn once.
    """
    chain, own = drawn.chains[number], int(drawn.edge[number])
    curves = drawn.curves.take(np.flatnonzero(drawn.chain == number))
    reach = abs(expected.offset) + TOLERANCES.acceptance
    for index, edge in enumerate(edges.every):
        rows = edges.curves.take(slice(edge.first, edge.last))
        if index != own and _elsewhere(chain, edge, machine) is None and _covers(rows, curves, reach):
            return edge
    return None


def _covers(one: Curves, other: Curves, reach: float) -> bool:
    """Whether each of two contours is within reach of the other all along."""
    for targets, cuts in ((one, other), (other, one)):
        limit = np.full(len(cuts), reach)
        cut, target, _ = curves_within(cuts, targets, limit)
        if len(uncovered(targets, cuts, limit, target=target, cut=cut)):
            return False
    return True
