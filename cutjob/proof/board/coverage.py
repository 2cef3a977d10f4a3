"""Finds the stretches of a curve that are farther than a reach from every cut: the exact test for wood left. mm.

The places within a reach of a line or an arc form a band with round ends. A curve enters and leaves that band only
where it crosses the band's edges, which are lines and circles. These crossings are worked out, one point decides each
stretch between them, and the stretches that no band covers are left. Nothing between samples can be missed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutjob.proof.board.curves import Curves, Floats, Ints
from cutjob.proof.board.distances import point_distance

_TURN = 2 * np.pi
_HAIR = 1e-7  # mm; a shorter gap between two bands is only arithmetic
_AT_A_TIME = 200_000


@dataclass(frozen=True, slots=True)
class Gaps:
    """Uncovered stretches: the target, and the first and last place as shares of its length; sorted by both."""

    target: Ints
    first: Floats
    last: Floats

    def __len__(self) -> int:
        return len(self.target)


def uncovered(targets: Curves, cuts: Curves, reach: Floats, *, target: Ints, cut: Ints) -> Gaps:
    """Return the stretches of `targets` farther than the cut's `reach` from every cut paired with them.

    `target` and `cut` are the pairs that may be near, by index; pairs left out count as far. `reach` goes by cut.
    """
    starts: list[Floats] = []
    ends: list[Floats] = []
    owners: list[Ints] = []
    for begin in range(0, len(target), _AT_A_TIME):
        t, c = target[begin : begin + _AT_A_TIME], cut[begin : begin + _AT_A_TIME]
        pair, first, last = _covered(targets.take(t), cuts.take(c), reach[c])
        owners.append(t[pair])
        starts.append(first)
        ends.append(last)
    owner = np.concatenate([*owners, np.zeros(0, dtype=np.int64)])
    return _complement(
        len(targets),
        targets.length,
        owner,
        np.concatenate([*starts, np.zeros(0)]),
        np.concatenate([*ends, np.zeros(0)]),
    )


def _covered(a: Curves, b: Curves, reach: Floats) -> tuple[Ints, Floats, Floats]:
    """Return stretches of `a` within `reach` of the same `b`, as index of the pair and two shares."""
    whole = _wholly(a, b, reach)
    rest = np.flatnonzero(~whole)
    a, b, reach = a.take(rest), b.take(rest), reach[rest]
    at = np.stack([np.zeros(len(rest)), *_crossings(a, b, reach), np.ones(len(rest))], axis=1)
    at = np.sort(np.clip(np.nan_to_num(at, nan=0.0, posinf=1.0, neginf=0.0), 0.0, 1.0), axis=1)
    first, last = at[:, :-1], at[:, 1:]
    row, column = np.nonzero(last > first)
    lo, hi = first[row, column], last[row, column]
    some = a.take(row)
    x, y = some.at((lo + hi) / 2)
    near = point_distance(x, y, b.take(row))[0] <= reach[row]
    full = np.flatnonzero(whole)
    return (
        np.concatenate([full, rest[row[near]]]),
        np.concatenate([np.zeros(len(full)), lo[near]]),
        np.concatenate([np.ones(len(full)), hi[near]]),
    )


def _wholly(a: Curves, b: Curves, reach: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Return which `a` are certainly within reach of `b` all along: both ends are in a line's band, which is convex, or
    the middle is so near that the curve is too short to get out.
    """
    start, end = point_distance(a.x0, a.y0, b)[0], point_distance(a.x1, a.y1, b)[0]
    lines = ~a.is_arc & ~b.is_arc & (start <= reach) & (end <= reach)
    x, y = a.at(np.full(len(a), 0.5))
    return np.asarray(lines | (point_distance(x, y, b)[0] + a.length / 2 <= reach))


def _crossings(a: Curves, b: Curves, reach: Floats) -> list[Floats]:
    """Return the shares of `a` where it crosses the edges of the band about `b`; NaN where there is none."""
    found = [
        *with_circle(a, b.x0, b.y0, reach),
        *with_circle(a, b.x1, b.y1, reach),
    ]
    arc = b.is_arc
    nothing = np.full(len(a), np.nan)
    outer = with_circle(a, b.cx, b.cy, np.where(arc, b.r + reach, np.nan))
    inner = with_circle(a, b.cx, b.cy, np.where(arc & (b.r > reach), b.r - reach, np.nan))
    dx, dy = b.x1 - b.x0, b.y1 - b.y0
    length = np.hypot(dx, dy)
    straight = ~arc & (length > 0)
    nx, ny = (
        np.where(straight, -dy, nothing) / length.clip(1e-300),
        np.where(straight, dx, nothing) / length.clip(1e-300),
    )
    left = with_line(a, b.x0, b.y0, nx, ny, reach)
    right = with_line(a, b.x0, b.y0, nx, ny, -reach)
    # A band has either two straight edges or two round ones.
    edges = [np.where(arc, one, two) for one, two in zip((*outer, *inner), (*left, *right), strict=True)]
    return found + edges


def with_circle(a: Curves, x: Floats, y: Floats, radius: Floats) -> tuple[Floats, Floats]:
    """Return the shares of each curve's length, in or out of 0 to 1, where it meets a circle; NaN where it doesn't."""
    with np.errstate(invalid="ignore", divide="ignore"):
        dx, dy = a.x1 - a.x0, a.y1 - a.y0
        square = dx * dx + dy * dy
        foot = ((x - a.x0) * dx + (y - a.y0) * dy) / square
        off2 = (a.x0 + foot * dx - x) ** 2 + (a.y0 + foot * dy - y) ** 2
        half = np.sqrt((radius * radius - off2) / square)
        apart = np.hypot(x - a.cx, y - a.cy)
        opening = np.arccos((a.r * a.r + apart * apart - radius * radius) / (2 * a.r * apart))
        towards = np.arctan2(y - a.cy, x - a.cx)
        one, two = _share(a, towards - opening), _share(a, towards + opening)
    arc = a.is_arc
    return np.where(arc, one, foot - half), np.where(arc, two, foot + half)


def deepest_within(x: Floats, y: Floats, curves: Curves, radius: Floats) -> Floats:
    """Return the lowest height of each curve within `radius` of its point; 0 where it stays outside."""
    one, two = with_circle(curves, x, y, radius)
    lowest = np.zeros(len(x))
    for share in (one, two, np.zeros(len(x)), np.ones(len(x))):
        known = np.nan_to_num(np.clip(share, 0.0, 1.0), nan=0.0)
        px, py = curves.at(known)
        inside = np.hypot(px - x, py - y) <= radius + 1e-6
        lowest = np.where(inside, np.minimum(lowest, curves.height(known)), lowest)
    return lowest


def with_line(a: Curves, x: Floats, y: Floats, nx: Floats, ny: Floats, offset: Floats) -> tuple[Floats, Floats]:
    """Return where `a` meets the line through (x, y) + offset n, whose unit normal is n."""
    with np.errstate(invalid="ignore", divide="ignore"):
        straight = (offset - nx * (a.x0 - x) - ny * (a.y0 - y)) / (nx * (a.x1 - a.x0) + ny * (a.y1 - a.y0))
        opening = np.arccos((offset - nx * (a.cx - x) - ny * (a.cy - y)) / a.r)
        facing = np.arctan2(ny, nx)
        one, two = _share(a, facing - opening), _share(a, facing + opening)
    arc = a.is_arc
    return np.where(arc, one, straight), np.where(arc, two, np.nan)


def _share(a: Curves, angle: Floats) -> Floats:
    return np.asarray(np.mod(np.sign(a.sweep) * (angle - a.a0), _TURN) / np.abs(a.sweep))


def _complement(count: int, length: Floats, owner: Ints, first: Floats, last: Floats) -> Gaps:
    """Return the stretches of each of `count` curves that are not covered."""
    # With a stretch of no length at each end, an open beginning or ending is a gap like any other.
    every = np.arange(count, dtype=np.int64)
    owner = np.concatenate([every, owner, every])
    first = np.concatenate([np.zeros(count), first, np.ones(count)])
    last = np.concatenate([np.zeros(count), last, np.ones(count)])
    order = np.lexsort((last, first, owner))
    owner, first, last = owner[order], first[order], last[order]
    # Curves are set apart by 2 so that one running maximum serves them all.
    reached = np.maximum.accumulate(last + 2.0 * owner) - 2.0 * owner
    hair = _HAIR / np.maximum(length, _HAIR)
    same = owner[1:] == owner[:-1]
    open_here = np.flatnonzero(same & (first[1:] > reached[:-1] + np.minimum(hair[owner[1:]], 0.5)))
    return Gaps(owner[open_here], reached[open_here], first[open_here + 1])
