"""The canned cycles G81, G82 and G83 as plain motions: NISTIR 6556, section 3.5.16. mm."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from cutjob.proof.reading import Place

_MOST_MOTIONS = 10_000  # repeats, or pecks of one hole: more is a slip of the pen


class CycleError(ValueError):
    """A cycle that breaks a rule of the standard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleWords:
    """A cycle as written: `bottom` and `clear` are the Z and R words, counted from each other and the old height when
    `relative`; `step` is what each repeat moves on by; `back_off` how far above its last bottom a peck starts again.
    """

    kind: str
    step: tuple[float, float]
    first: tuple[float, float]
    bottom: float
    clear: float
    relative: bool
    repeats: int
    dwell: float
    peck: float
    return_to_old: bool
    back_off: float


def drill_cycle(words: CycleWords, old: Place) -> Iterator[tuple[Literal["rapid", "feed"], Place, float]]:
    """Yield each motion of the cycle as kind and end, or a dwell as its seconds. Raises CycleError."""
    clear = words.clear + old[2] if words.relative else words.clear
    bottom = clear + words.bottom if words.relative else words.bottom
    if words.repeats < 1:
        raise CycleError("L, the number of repeats, must be at least 1")
    if words.repeats > _MOST_MOTIONS:
        raise CycleError(f"L asks for {words.repeats} repeats; at most {_MOST_MOTIONS} are read")
    if bottom > clear:
        raise CycleError("the bottom of the cycle (Z) lies above where it starts (R)")
    if words.kind == "83" and words.peck <= 0:
        raise CycleError("Q, the depth of a peck, must be greater than 0")
    if words.kind == "83" and (clear - bottom) / words.peck > _MOST_MOTIONS:
        raise CycleError("Q, the depth of a peck, is far too small for the hole")
    height = old[2]
    if height < clear:
        height = clear
        yield "rapid", (old[0], old[1], height), 0.0
    x, y = words.first
    back = height if words.return_to_old else clear
    for repeat in range(words.repeats):
        if repeat:
            x, y = x + words.step[0], y + words.step[1]
        yield "rapid", (x, y, height), 0.0
        if height != clear:
            yield "rapid", (x, y, clear), 0.0
        yield from _down(words, x, y, clear, bottom)
        yield "rapid", (x, y, back), 0.0
        height = back


def _down(
    words: CycleWords, x: float, y: float, clear: float, bottom: float
) -> Iterator[tuple[Literal["rapid", "feed"], Place, float]]:
    if words.kind != "83":
        yield "feed", (x, y, bottom), 0.0
        if words.kind == "82" and words.dwell:
            yield "feed", (x, y, bottom), words.dwell
        return
    depth = clear
    while depth - words.peck > bottom:
        depth -= words.peck
        yield "feed", (x, y, depth), 0.0
        yield "rapid", (x, y, clear), 0.0
        yield "rapid", (x, y, min(clear, depth + words.back_off)), 0.0
    yield "feed", (x, y, bottom), 0.0
