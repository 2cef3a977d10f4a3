"""A judgement of strip layouts by plain Shapely distances, the same for whoever made the layout."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import shapely
from shapely import Polygon, affinity

from tests.benchmarks.instances import Instance

Placed = tuple[int, float, float, float]  # part index, degrees, x, y: turned about its own origin, then shifted

# How deep parts may overlap, as a share of the strip's width: a tenth of the 0.01 % by which strips of whole numbers
# are widened, so it buys no visible density, and ten times the rounding of coordinates held in 32 bits.
SLACK = 1e-5
# Undercut of the gap allowed, mm, where the instance's unit is known: TOLERANCES.gap.
_GAP_SLACK_MM = 0.001
_TURN_SLACK = 1e-4  # degrees; turns held in 32-bit radians


def polygons_of(instance: Instance, placements: Sequence[Placed]) -> list[Polygon]:
    """The parts as they lie."""
    return [
        affinity.translate(affinity.rotate(instance.items[index].polygon, degrees, origin=(0, 0)), x, y)
        for index, degrees, x, y in placements
    ]


def length_of(polygons: Sequence[Polygon]) -> float:
    """Extent of all parts along the strip."""
    bounds = shapely.total_bounds(polygons)
    return float(bounds[2] - bounds[0])


def faults(instance: Instance, placements: Sequence[Placed], *, gap: float = 0.0) -> list[str]:
    """Everything wrong with a layout: parts missing, turned, overlapping, too close, or outside the strip.

    Only the extents count for the strip: a layout may lie anywhere along and across, as it can be shifted as a whole.
    """
    slack = instance.width * SLACK
    found = _wrong_parts(instance, placements)
    polygons = polygons_of(instance, placements)
    if not polygons:
        return [*found, "nothing laid"]
    low, high = shapely.total_bounds(polygons)[[1, 3]]
    if high - low > instance.strip_width + slack:
        found.append(f"{high - low - instance.strip_width:.3g} wider than the strip")
    keep = slack if instance.unit_mm is None else min(slack, _GAP_SLACK_MM / instance.unit_mm)
    tree = shapely.STRtree(polygons)
    ones, others = tree.query(polygons, predicate="dwithin", distance=gap)
    for one, other in zip(ones.tolist(), others.tolist(), strict=True):
        if one >= other:
            continue
        depth = overlap_depth(polygons[one], polygons[other], at_least=slack)
        distance = polygons[one].distance(polygons[other])
        if depth:
            found.append(f"parts {one} and {other} overlap by more than {slack:.3g}")
        elif gap > 0 and distance < gap - keep:
            found.append(f"parts {one} and {other} are {distance:.6g} apart, not {gap:g}")
    return found


def overlap_depth(one: Polygon, other: Polygon, *, at_least: float) -> bool:
    """Whether the other reaches deeper into the one than `at_least`, measured from the one's edge."""
    return bool(one.intersects(other) and one.buffer(-at_least, join_style="mitre").intersects(other))


def _wrong_parts(instance: Instance, placements: Sequence[Placed]) -> list[str]:
    laid = Counter(index for index, *_ in placements)
    found = [
        f"{laid[index]} of {item.count} of part {item.name} laid"
        for index, item in enumerate(instance.items)
        if laid[index] != item.count
    ]
    for index, degrees, _, _ in placements:
        turns = instance.items[index].rotations
        if turns and all(abs(math.remainder(degrees - turn, 360)) > _TURN_SLACK for turn in turns):
            found.append(f"part {instance.items[index].name} turned by {degrees:g}")
    return found
