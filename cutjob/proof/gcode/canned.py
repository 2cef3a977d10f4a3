"""The canned cycles G81, G82, G83, G85, G86 and G89 as plain motions: NISTIR 6556, section 3.5.16. mm."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeAlias

from cutjob.proof.gcode.reading import Place

CYCLES = frozenset({"81", "82", "83", "85", "86", "89"})
NEEDED_WORDS = {"81": "ZR", "82": "ZRP", "83": "ZRQ", "85": "ZR", "86": "ZRP", "89": "ZRP"}
_MOST_MOTIONS = 10_000  # repeats, or pecks of one hole: more is a typing error
_DWELLING = frozenset({"82", "86", "89"})  # cycles that wait at the bottom
_FED_OUT = frozenset({"85", "89"})  # cycles that come up as slowly as they went down


class CycleError(ValueError):
    """A cycle that breaks a rule of the standard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleWords:
    """A cycle as written: `bottom` and `clear` are the Z and R words, counted from each other and the old height when
    `relative`; `step` is how far each repeat moves on; `back_off` how far above its last bottom a peck starts again.
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


class CycleMove(NamedTuple):
    """A rapid or a feed to a place."""

    kind: Literal["rapid", "feed"]
    end: Place


class CyclePause(NamedTuple):
    """A wait of this many units of P, or the spindle stopped or started again in its old direction."""

    kind: Literal["dwell", "spindle off", "spindle on"]
    value: float = 0.0


CycleStep: TypeAlias = CycleMove | CyclePause


def drill_cycle(words: CycleWords, old: Place) -> Iterator[CycleStep]:
    """Yield each motion and pause of the cycle. Raises CycleError."""
    clear = words.clear + old[2] if words.relative else words.clear
    bottom = clear + words.bottom if words.relative else words.bottom
    _check(words, clear, bottom)
    height = old[2]
    if height < clear:
        height = clear
        yield CycleMove("rapid", (old[0], old[1], height))
    x, y = words.first
    back = height if words.return_to_old else clear
    for repeat in range(words.repeats):
        if repeat:
            x, y = x + words.step[0], y + words.step[1]
        yield CycleMove("rapid", (x, y, height))
        if height != clear:
            yield CycleMove("rapid", (x, y, clear))
        yield from _down(words, x, y, clear, bottom)
        yield from _up(words, x, y, clear, back)
        height = back


def _check(words: CycleWords, clear: float, bottom: float) -> None:
    if words.repeats < 1:
        raise CycleError("L, the number of repeats, must be at least 1")
    if words.repeats > _MOST_MOTIONS:
        raise CycleError(f"L asks for {words.repeats} repeats; at most {_MOST_MOTIONS} are read")
    if bottom > clear:
        raise CycleError("the bottom of the cycle (Z) is above its start (R)")
    if words.dwell < 0:
        raise CycleError("P, the time to wait at the bottom, can't be negative")
    if words.kind == "83" and words.peck <= 0:
        raise CycleError("Q, the depth of a peck, must be greater than 0")
    if words.kind == "83" and (clear - bottom) / words.peck > _MOST_MOTIONS:
        raise CycleError("Q, the depth of a peck, is far too small for the hole")


def _down(words: CycleWords, x: float, y: float, clear: float, bottom: float) -> Iterator[CycleStep]:
    depth = clear
    while words.kind == "83" and depth - words.peck > bottom:
        depth -= words.peck
        yield CycleMove("feed", (x, y, depth))
        yield CycleMove("rapid", (x, y, clear))
        yield CycleMove("rapid", (x, y, min(clear, depth + words.back_off)))
    yield CycleMove("feed", (x, y, bottom))
    if words.kind in _DWELLING and words.dwell:
        yield CyclePause("dwell", words.dwell)


def _up(words: CycleWords, x: float, y: float, clear: float, back: float) -> Iterator[CycleStep]:
    if words.kind in _FED_OUT:
        yield CycleMove("feed", (x, y, back))
        return
    if words.kind == "86":
        yield CyclePause("spindle off")
    yield CycleMove("rapid", (x, y, back))
    if words.kind == "86":
        yield CyclePause("spindle on")
