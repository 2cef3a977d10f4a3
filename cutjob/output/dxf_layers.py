"""Names and colours of a drawing's layers: one per operation, one per depth of pockets, as each DXF version can."""

from __future__ import annotations

import re
from collections.abc import Iterable

from ezdxf import colors

from cutjob.job.machine import Machine, Operation
from cutjob.output.comments import plain_ascii
from cutjob.output.numbers import fixed
from cutjob.output.operations import OPERATIONS, Rgb
from cutjob.units import MM_PER

# Symbol names (DXF reference): R12 takes letters, digits, $ - _, at most 31; R2000 nearly anything but these.
_IN_NAMES = "&_*"  # of a name; what R12 forbids of it is spelled with a dash
_R12_FORBIDDEN = re.compile(r"[^A-Za-z0-9$_-]+")
_R2000_FORBIDDEN = re.compile(r'[\x00-\x1f\x7f<>/\\":;?*|=`,]+')
_LONGEST_NAME = {"R12": 31, "R2000": 255}
_CONTRAST_ACI = 7  # black on white paper, white on a dark screen
# Of depths in the names of layers: a hundredth of a mm, about.
_DEPTH_DECIMALS = {"mm": 2, "in": 4}


def layer_names(machine: Machine) -> dict[Operation, str]:
    """Return the layer of each operation: plain English, or the service's own; in R12 `outside-cut` for `outside cut`.

    Two names that only the version's rules make equal are told apart by a number. That of `pocket` is only used where
    the profile gives it; for others see `pocket_layers`.
    """
    drawing = machine.drawing
    wished = {op: str(drawing.layers.get(op, op)) for op in OPERATIONS}
    given: dict[str, str] = {}  # wished name: written name
    for name in wished.values():
        if name not in given:
            given[name] = _free_name(_allowed(name, drawing.version), drawing.version, given.values())
    return {op: given[name] for op, name in wished.items()}


def pocket_layers(machine: Machine, depths: Iterable[float]) -> dict[float, str]:
    """Return the layers of pockets by their depths, mm: `pocket 6.35 mm`, in R12 `pocket-6-35-mm`.

    Depths are written in the drawing's unit. All pockets of a profile that names their layer lie on that.
    """
    drawing = machine.drawing
    names = layer_names(machine)
    if "pocket" in drawing.layers:
        return dict.fromkeys(depths, names["pocket"])
    others = [name for op, name in names.items() if op != "pocket"]
    given: dict[str, str] = {}  # by the depth as it is written
    found: dict[float, str] = {}
    for depth in depths:
        size = fixed(depth / MM_PER[drawing.units], _DEPTH_DECIMALS[drawing.units])
        if size not in given:
            name = _allowed(f"pocket {size} {drawing.units}", drawing.version)
            given[size] = _free_name(name, drawing.version, [*others, *given.values()])
        found[depth] = given[size]
    return found


def _allowed(name: str, version: str) -> str:
    name = (
        _R12_FORBIDDEN.sub("-", plain_ascii(name, also=_IN_NAMES))
        if version == "R12"
        else _R2000_FORBIDDEN.sub("-", name)
    )
    return name.strip(" -")[: _LONGEST_NAME[version]] or "layer"


def _free_name(name: str, version: str, taken: Iterable[str]) -> str:
    # Layer names are compared without regard to case.
    used = {other.casefold() for other in taken}
    free, number = name, 2
    while free.casefold() in used:
        tail = f"-{number}"
        free, number = name[: _LONGEST_NAME[version] - len(tail)] + tail, number + 1
    return free


def nearest_aci(colour: Rgb) -> int:
    """Return the number, of the 255 colours every DXF version has, nearest to `colour` in RGB; black is 7.

    R12 and R2000 know no true colour (the DXF reference has group 420 from R2004 on).
    """
    if colour == (0, 0, 0):
        return _CONTRAST_ACI

    def apart(number: int) -> int:
        other = colors.aci2rgb(number)
        return sum((int(a) - int(b)) ** 2 for a, b in zip(colour, other, strict=True))

    return min((number for number in range(1, 256) if number != _CONTRAST_ACI), key=apart)
