"""Layers of a drawing: each drawn thing lies on the layer of its operation, spelled as the version can.

R12 names have letters, digits, `$`, `-` and `_` only, 31 at most; R2000 names lack a few signs and have 255 at most.
What a name may not hold stands as a hyphen in it. Case doesn't count.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

from cutjob.job.machine import Machine, Operation
from cutjob.proof.dxf_reader import DrawnChain
from cutjob.proof.goal import Goal
from cutjob.tolerances import TOLERANCES

_LONGEST = {"R12": 31, "R2000": 255}
_FORBIDDEN = {"R12": r"[^a-z0-9$_-]", "R2000": r'[\x00-\x1f\x7f<>/\\":;?*|=`,]'}
_LEGAL = {"R12": re.compile(r"[a-z0-9$_-]{1,31}"), "R2000": re.compile(r'[^\x00-\x1f\x7f<>/\\":;?*|=`,]{1,255}')}
_ESCAPED = re.compile(r"\\[Uu]\+([0-9A-Fa-f]{4})")
_NO_NAME = "layer"  # what is written where a name holds nothing that may stand
_ALL: tuple[Operation, ...] = ("outside cut", "inside cut", "pocket", "bore", "drill", "mark", "board")


def operations_of(goal: Goal, machine: Machine) -> tuple[Operation, ...]:
    """Return the operations that may make a goal: one, or for a round hole those the profile's cutters allow."""
    match goal.kind:
        case "outline":
            return ("outside cut",)
        case "hole":
            return ("inside cut",)
        case "pocket":
            return ("pocket",)
        case "mark":
            return ("mark",)
        case "through" | "blind":
            own = [abs(2 * goal.radius - cutter.diameter) <= TOLERANCES.same_point for cutter in machine.cutter]
            return (*(("bore",) if not all(own) else ()), *(("drill",) if any(own) else ()))


def misplaced(chain: DrawnChain, operations: Sequence[Operation], machine: Machine) -> str | None:
    """Return the name of the layer a chain should lie on, or None where it lies right."""
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
    # Names that only the version's spelling makes equal are told apart by a number.
    number = re.search(r"-[2-9]$", name)
    if number is None:
        return False
    base = name[: number.start()]
    others = {_wished(other, machine) for other in _ALL} - {wished}
    return _matches(base, wished, version, longest - 2) and any(
        _matches(base, other, version, longest - 2) for other in others
    )


def _matches(name: str, wished: str, version: str, longest: int) -> bool:
    """Whether a name spells the one wished for, or its beginning where it is as long as may be."""
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
    """Whether a name has the letters and digits that R12 knows, in order; what stands for the others is not judged."""
    known = [letter for letter in letters if letter.isascii() and letter.isalnum()]
    if not known and name == _NO_NAME:
        return True
    rest = iter(name)
    return len(name) >= longest or all(letter in rest for letter in known)
