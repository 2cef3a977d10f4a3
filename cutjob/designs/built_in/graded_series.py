"""Lengths and heights of graded pieces in equal steps, and the problems where the steps run out."""

from __future__ import annotations

from cutjob.designs.design import BuildContext, clear
from cutjob.designs.parameter import Values
from cutjob.errors import Problem
from cutjob.units import RULE, Unit, to_tape

_ON_THE_LINE = 1e-6  # of a step of the ruler, for rounding errors


def graded(first: float, last: float, count: int) -> tuple[float, ...]:
    """Return `count` values in equal steps from `first` to `last`, both exact; a single value is `first`."""
    if count == 1:
        return (first,)
    inner = (first + (last - first) * step / (count - 1) for step in range(1, count - 1))
    return (first, *inner, last)


def stepped(first: float, step: float, count: int) -> tuple[float, ...]:
    """Return `count` values, each `step` less than the one before."""
    return tuple(first - step * level for level in range(count))


def ruled(length: float, unit: Unit) -> float:
    """Return a length, mm, to which a rod can be measured and sawn. A length that a fine ruler shows (64ths of an inch,
    half millimetres) is kept; any other is rounded to a 16th of an inch or a whole millimetre.
    """
    exact = length / (RULE["in"] if unit == "in" else 0.5)
    return length if abs(exact - round(exact)) < _ON_THE_LINE else to_tape(length, unit)


def lengths_of(values: Values) -> tuple[float, ...]:
    """Return the lengths of the pieces from the lowest up, mm: in equal steps to `shortest`, or by a fixed `step`."""
    tiers, longest = values.count("tiers"), values.number("longest")
    if values.has("step"):
        return stepped(longest, values.number("step"), tiers)
    return graded(longest, values.number("shortest"), tiers)


def heights_of(values: Values) -> tuple[float, ...]:
    """Return the heights of the pieces from the lowest up, mm."""
    return graded(values.number("tallest"), values.number("least_height"), values.count("tiers"))


def gaps_of(values: Values) -> tuple[float, ...]:
    """Return the gaps between the pieces from the lowest up, mm: equal, or closing in equal steps to `top_gap`."""
    count, gap = values.count("tiers") - 1, values.number("gap")
    return graded(gap, values.number_or("top_gap", gap), count) if count else ()


def series_problems(values: Values, context: BuildContext, *, least: float) -> list[Problem]:
    """Return the problems with the series where no piece may be shorter than `least` mm."""
    problems = []
    longest, tallest, tiers = values.number("longest"), values.number("tallest"), values.count("tiers")
    if tiers > 1 and values.number("least_height") > tallest:
        problems.append(
            context.problem(
                "least_height",
                f"{context.length(values.number('least_height'))} is more than the tallest, {context.length(tallest)}",
                f"at most {context.length(tallest)}",
            )
        )
    if not clear(least, longest):
        problems.append(
            context.problem(
                "longest",
                f"{context.length(longest)} leaves no wood beside the bore",
                f"at least {context.at_least(least)}",
            )
        )
    elif values.has("step"):
        problems += runs_out(values, context, least=least)
    elif tiers > 1:
        problems += _shortest(values, context, least=least)
    return problems


def _shortest(values: Values, context: BuildContext, *, least: float) -> list[Problem]:
    longest, shortest = values.number("longest"), values.number("shortest")
    if shortest > longest:
        message = f"{context.length(shortest)} is more than the longest, {context.length(longest)}"
        return [context.problem("shortest", message, f"at most {context.length(longest)}")]
    if not clear(least, shortest):
        message = f"{context.length(shortest)} leaves no wood beside the bore"
        return [context.problem("shortest", message, f"at least {context.at_least(least)}")]
    return []


def runs_out(values: Values, context: BuildContext, *, least: float) -> list[Problem]:
    """Return the problem where a fixed step makes a piece shorter than `least` mm: the level, and values that work."""
    tiers, longest, step = values.count("tiers"), values.number("longest"), values.number("step")
    lengths = stepped(longest, step, tiers)
    level = next((index for index, length in enumerate(lengths) if not clear(least, length)), None)
    if level is None:
        return []
    # The advised values are for pieces that still hold their bore, so that following one of them is enough.
    enough = level  # the levels before the first that fails
    ends_at = lengths[level]
    ended = "runs out" if ends_at < 1e-6 else "leaves no wood beside the bore"
    formula = f"{context.length(longest)} - {level} x {context.length(step)} = {context.length(ends_at)}"
    smaller = context.at_most((longest - least) / (tiers - 1))
    longer = context.at_least(least + step * (tiers - 1))
    return [
        context.problem(
            "step",
            f"a fixed step of {context.length(step)} from {context.length(longest)} {ended} at level {level + 1} "
            f"of {tiers} ({formula})",
            f"take at most {enough} tiers, a step of at most {smaller}, or a longest of at least {longer}",
        )
    ]
