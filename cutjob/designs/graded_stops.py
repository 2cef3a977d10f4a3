"""Stops of a graded stack: holes for tacks in the rod, one under each piece, at measured heights. mm."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from cutjob.designs.design import LEAST_WALL, BuildContext, clear
from cutjob.designs.parameter import Values
from cutjob.errors import Problem
from cutjob.parts.part import HandHole, RodPart


def stop_problems(values: Values, context: BuildContext, *, gaps: Sequence[float], rod: float) -> list[Problem]:
    """Return what is wrong with closing gaps, with where pieces turn flat beneath, and with the tacks."""
    problems = []
    gap, tiers, stop = values.number("gap"), values.count("tiers"), values.number("stop")
    if values.has("top_gap") and values.number("top_gap") > gap:
        message = f"{context.length(values.number('top_gap'))} is more than the lowest gap, {context.length(gap)}"
        problems.append(context.problem("top_gap", message, f"gaps close upwards: at most {context.length(gap)}"))
    if values.has("flat_from") and values.count("flat_from") > tiers:
        message = f"there is no piece {values.count('flat_from')}"
        problems.append(context.problem("flat_from", message, f"at most {tiers}, the top piece"))
    if not values.yes("stops"):
        return problems
    if gaps and not clear(stop, min(gaps)):
        message = f"a tack of {context.length(stop)} has no room in a gap of {context.length(min(gaps))}"
        problems.append(context.problem("stop", message, f"at most {context.at_most(min(gaps))}, or wider gaps"))
    if not clear(stop + 2 * LEAST_WALL, rod):
        message = f"a hole of {context.length(stop)} splits a rod of {context.length(rod)}"
        thinner = rod - 2 * LEAST_WALL
        fits = f"at most {context.at_most(thinner)}, or " if thinner >= 0.5 else ""
        problems.append(context.problem("stop", message, f"{fits}a thicker rod"))
    return problems


def stop_holes(
    values: Values,
    context: BuildContext,
    *,
    rod: RodPart,
    first: float,
    on_rod: Sequence[float],
    gaps: Sequence[float],
) -> list[HandHole]:
    """Return a hole for a tack under each piece: `first` is the height of the lowest one's underside on the rod.

    A piece that lies on the base, or nearly, needs none.
    """
    stop = values.number("stop")
    starts = itertools.accumulate((covered + gap for covered, gap in zip(on_rod, gaps, strict=False)), initial=first)
    return [
        HandHole(
            part=rod.name,
            diameter=stop,
            depth=rod.diameter / 2,
            note=f"for the tack under piece {place}: its centre {context.measured(height - stop / 2)} from the lower "
            "end",
        )
        for place, height in enumerate(starts, start=1)
        if place > 1 or values.number("foot") >= stop
    ]
