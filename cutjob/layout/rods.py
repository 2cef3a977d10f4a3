"""Rod pieces against the rods of a job: whether every piece comes off a stick, and how many sticks it takes. mm."""

from __future__ import annotations

from collections.abc import Sequence

from cutjob.job.model import RodStock
from cutjob.parts.part import Item
from cutjob.tolerances import TOLERANCES
from cutjob.units import Unit, format_length


def rod_warnings(items: Sequence[Item], rods: Sequence[RodStock], *, saw_kerf: float, unit: Unit) -> tuple[str, ...]:
    """Return what is missing among the rods: a diameter, length for a piece, or sticks. Longest piece first."""
    pieces: dict[float, list[float]] = {}
    for item in items:
        for rod in item.build.rods:
            pieces.setdefault(rod.diameter, []).extend([rod.length] * item.count)
    warnings = []
    for diameter, lengths in pieces.items():
        size = format_length(diameter, unit=unit)
        stock = [rod for rod in rods if abs(rod.diameter - diameter) <= TOLERANCES.acceptance]
        longest = max((rod.length for rod in stock), default=0.0)
        if not stock:
            total = format_length(sum(lengths), unit=unit)
            warnings.append(f"rods: {len(lengths)} pieces of {size} rod, {total} in all, are not in the job's stock")
        elif max(lengths) > longest:
            piece, stick = format_length(max(lengths), unit=unit), format_length(longest, unit=unit)
            warnings.append(f"rods: a {size} piece of {piece} is longer than the longest stick, {stick}")
        else:
            missing = _missing(lengths, stock, saw_kerf)
            if missing:
                warnings.append(f"rods: {missing} of {len(lengths)} pieces of {size} rod are left over; add sticks")
    return tuple(warnings)


def _missing(lengths: Sequence[float], stock: Sequence[RodStock], kerf: float) -> int:
    """Pieces that find no room when each, longest first, goes on the shortest rest that holds it."""
    rests = [rod.length for rod in stock for _ in range(min(rod.count, len(lengths)))]
    missing = 0
    for length in sorted(lengths, reverse=True):
        fitting = [index for index, rest in enumerate(rests) if rest >= length]
        if not fitting:
            missing += 1
            continue
        index = min(fitting, key=lambda index: rests[index])
        rests[index] -= length + kerf
    return missing
