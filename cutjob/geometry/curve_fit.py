"""Smooth curves to lines and arcs within a stated deviation: in goes a position and a direction, out come segments.

1. The curve is sampled until its chords stand off by a small share of the deviation, reported corners splitting it.
2. From each sample the longest span is sought that one biarc meets; straight spans become lines.
3. Spans of even error are preferred to a short rest at the end.
4. Every span is measured again at fresh points, curve to segments and segments to curve. A fit that can't be proven
   raises `CurveFitError`; there is no "best effort".
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from cutjob.errors import CutjobError, Problem
from cutjob.geometry.biarc import Floats, biarc, distances, distances_to_chain, merged
from cutjob.geometry.segment import Arc, Line, Point, Segment, distance

Curve = Callable[[float], Point]

# Shares of the deviation aimed at, one after the other: the proof looks closer than the search does.
_AIMS = (1.0, 0.95, 0.8)
_SEARCH = 0.9  # share of the deviation allowed at the samples; the rest covers the curve between them
_COARSE = 1 / 8  # share of the deviation that a chord may stand off before it is halved once more
_FIRST_INTERVALS = 8
_MOST_SAMPLES = 200_000
_DEEPEST = 44  # halvings of the parameter: below that only a jump is left
_STEEPEST = 0.25  # radians between a chord and the tangents at its ends
_EVENER = (0.4, 0.55, 0.7, 0.85)  # shares of the search's limit tried for the same number of spans
_INSIDE = 1e-6  # share of the way into a span at which the direction is read where it vanishes at the end
_PROOF_POINTS = 48  # per segment
_SEARCH_POINTS = 8  # per segment
_NEWTON_STEPS = 4
_CLOSE = 1e-4  # mm along the curve; moves the distance across it by far less


class CurveFitError(CutjobError):
    """No lines and arcs were found that keep within the deviation asked for."""


@dataclass(frozen=True, slots=True)
class FittedSpan:
    """The segments that stand for the curve between two parameters."""

    first: float
    last: float
    segments: tuple[Segment, ...]


@dataclass(frozen=True, slots=True)
class _Samples:
    at: list[float]
    points: list[Point]
    directions: list[Point]
    array: Floats


def fit_curve(
    position: Curve,
    direction: Curve,
    first: float,
    last: float,
    *,
    deviation: float,
    breaks: Sequence[float] = (),
) -> tuple[Segment, ...]:
    """Return lines and arcs within `deviation` mm of the curve, both ways, from its exact start to its exact end.

    `direction` is the derivative or any positive multiple of it; `breaks` are the parameters of corners and cusps,
    where the result may have a corner too. Elsewhere it is tangent-continuous. A curve that is one point gives no
    segments. Raises CurveFitError where the bound can't be met, ValueError for a deviation or range without sense.
    """
    if not (deviation > 0 and math.isfinite(deviation)):
        raise ValueError(f"deviation must be a positive length, got {deviation}")
    if not (math.isfinite(first) and math.isfinite(last) and first < last):
        raise ValueError(f"the parameters must increase, got {first} to {last}")
    cuts = [first, *sorted({at for at in breaks if first < at < last}), last]
    worst = math.inf
    for aim in _AIMS:
        spans: list[FittedSpan] = []
        for low, high in itertools.pairwise(cuts):
            nudged = (low != first, high != last)  # at a corner each side has its own direction
            spans.extend(_fit_smooth(position, _inside(direction, low, high, nudged), low, high, aim * deviation))
        if not spans:
            return ()
        worst = worst_deviation(position, spans)
        if worst <= deviation:
            return tuple(merged([segment for span in spans for segment in span.segments]))
    raise CurveFitError(
        Problem(message=f"a curve was fitted within {worst:.6f} mm only, not {deviation:g} mm", advice="simplify it")
    )


def worst_deviation(position: Curve, spans: Sequence[FittedSpan]) -> float:
    """Return the greatest distance in mm between the curve and the segments of its spans, measured both ways.

    Also counts gaps between neighbours and at the ends, so that a chain that misses a point is never within bounds.
    """
    worst, before = 0.0, None
    for span in spans:
        at = np.linspace(span.first, span.last, _PROOF_POINTS * len(span.segments) + 1)
        curve = np.array([position(float(t)) for t in at], dtype=np.float64)
        worst = max(worst, distance(tuple(curve[0]), span.segments[0].start))
        worst = max(worst, distance(tuple(curve[-1]), span.segments[-1].end))
        for here, after in itertools.pairwise(span.segments):
            worst = max(worst, distance(here.end, after.start))
        if before is not None:
            worst = max(worst, distance(before, span.segments[0].start))
        before = span.segments[-1].end
        # `max` drops a NaN that stands second; a curve that is nowhere is never near.
        measured = _to_segments(curve, span.segments)
        if math.isnan(measured):
            return math.inf
        worst = max(worst, measured, _to_curve(position, at, curve, span.segments))
    return worst


def _to_segments(curve: Floats, segments: tuple[Segment, ...]) -> float:
    nearest = distances(curve, segments[0])
    for segment in segments[1:]:
        nearest = np.minimum(nearest, distances(curve, segment))
    return float(np.max(nearest))


def _to_curve(position: Curve, at: Floats, curve: Floats, segments: tuple[Segment, ...]) -> float:
    """Return the greatest distance from points on the segments to points of the curve, each sought by Newton's steps.

    Every candidate is a point of the curve, so the result may be too large but never too small.
    """
    worst = 0.0
    for x, y in _points_on(segments, _PROOF_POINTS // 3):
        nearest = int(np.argmin((curve[:, 0] - x) ** 2 + (curve[:, 1] - y) ** 2))
        low, high = max(0, nearest - 1), min(len(at) - 1, nearest + 1)
        rate_x, rate_y = ((curve[high] - curve[low]) / (at[high] - at[low])).tolist()
        square = max(rate_x * rate_x + rate_y * rate_y, 1e-300)
        t, best = float(at[nearest]), math.inf
        for _ in range(_NEWTON_STEPS):
            px, py = position(t)
            best = min(best, math.hypot(px - x, py - y))
            step = ((x - px) * rate_x + (y - py) * rate_y) / square
            if abs(step) * math.sqrt(square) < _CLOSE:
                break
            t = min(max(t + step, float(at[low])), float(at[high]))
        worst = max(worst, best)
    return worst


def _points_on(segments: tuple[Segment, ...], count: int) -> list[Point]:
    points = [s.point_at(i / count) for s in segments for i in range(1, count)]
    points.extend(s.start for s in segments[1:])
    return points


def _inside(direction: Curve, low: float, high: float, nudged: tuple[bool, bool]) -> Curve:
    """Return `direction`, read a little way inside at the ends that are corners."""
    ends = {low: low + _INSIDE * (high - low)} if nudged[0] else {}
    if nudged[1]:
        ends[high] = high - _INSIDE * (high - low)
    return lambda at: direction(ends.get(at, at))


def _fit_smooth(position: Curve, direction: Curve, first: float, last: float, deviation: float) -> list[FittedSpan]:
    marks = [first + (last - first) * i / _FIRST_INTERVALS for i in range(_FIRST_INTERVALS)]
    if len({position(at) for at in (*marks, last)}) == 1:
        return []  # a single point, which has no direction
    samples = _sample(position, direction, first, last, deviation)
    limit = _SEARCH * deviation
    spans = _longest_spans(samples, limit, deviation)
    if len(spans) > 1:
        for share in _EVENER:
            even = _longest_spans(samples, share * limit, deviation, most=len(spans))
            if even and len(even) == len(spans):
                return even
    return spans


def _longest_spans(samples: _Samples, limit: float, deviation: float, most: int | None = None) -> list[FittedSpan]:
    """Return spans each as long as one biarc allows; nothing where more than `most` would be needed."""
    spans: list[FittedSpan] = []
    end, here, length = len(samples.at) - 1, 0, len(samples.at) - 1
    while here < end:
        if most is not None and len(spans) == most:
            return []
        there, segments = _longest(samples, here, min(end, here + length), limit, deviation)
        spans.append(FittedSpan(samples.at[here], samples.at[there], segments))
        here, length = there, there - here
    return spans


def _longest(
    samples: _Samples, here: int, guess: int, limit: float, deviation: float
) -> tuple[int, tuple[Segment, ...]]:
    """Return the furthest sample that one biarc from `here` reaches within `limit`, and the biarc."""
    end = len(samples.at) - 1
    low, best = here, _fitted(samples, here, guess, limit)
    high = end + 1
    if best is None:
        high = guess
    else:
        low, step = guess, max(1, guess - here)
        while low < end:
            ahead = min(end, low + step)
            found = _fitted(samples, here, ahead, limit)
            if found is None:
                high = ahead
                break
            low, best, step = ahead, found, 2 * step
        else:
            return low, best
    while high - low > 1:
        middle = (low + high) // 2
        found = _fitted(samples, here, middle, limit)
        if found is None:
            high = middle
        else:
            low, best = middle, found
    if best is not None:
        return low, best
    # Neighbouring samples that no biarc joins: a corner nobody reported, or a cusp, smaller than the deviation.
    if distance(samples.points[here], samples.points[here + 1]) <= deviation:
        return here + 1, (Line(samples.points[here], samples.points[here + 1]),)
    raise CurveFitError(
        Problem(message=f"a curve turns too sharply near {_text(samples.points[here])} mm", advice="simplify it")
    )


def _fitted(samples: _Samples, here: int, there: int, limit: float) -> tuple[Segment, ...] | None:
    segments = biarc(samples.points[here], samples.directions[here], samples.points[there], samples.directions[there])
    if segments is None:
        return None
    if any(isinstance(s, Arc) and abs(s.sweep) > math.pi for s in segments):
        return None
    curve = samples.array[here : there + 1]
    if there - here > 1 and _to_segments(curve[1:-1], segments) > limit:
        return None
    # The chords stand off by a share of the deviation themselves; the proof at the end measures to the curve.
    back = distances_to_chain(np.array(_points_on(segments, _SEARCH_POINTS)), curve)
    return segments if float(np.max(back)) <= limit * 1.08 else None


def _sample(position: Curve, direction: Curve, first: float, last: float, deviation: float) -> _Samples:
    """Return parameters, points and unit tangents, dense enough that chords stand off by a share of the deviation."""

    def look(at: float, inwards: float) -> tuple[float, Point, Point]:
        point = position(at)
        if not (math.isfinite(point[0]) and math.isfinite(point[1])):
            raise CurveFitError(Problem(message=f"a curve has no position at parameter {at:g}", advice="draw it again"))
        return at, (float(point[0]), float(point[1])), _unit(direction, at, inwards)

    step = (last - first) / _FIRST_INTERVALS
    marks = [first, *(first + step * i for i in range(1, _FIRST_INTERVALS)), last]
    looks = [look(at, marks[-2] if i == _FIRST_INTERVALS else marks[i + 1]) for i, at in enumerate(marks)]
    found = [looks[0]]
    waiting = [(looks[i], looks[i + 1], 0) for i in reversed(range(_FIRST_INTERVALS))]
    while waiting:
        start, end, depth = waiting.pop()
        middle = look((start[0] + end[0]) / 2, end[0])
        if _flat(start, middle, end, deviation * _COARSE):
            found.extend((middle, end))
        elif depth >= _DEEPEST or not start[0] < middle[0] < end[0]:
            if distance(start[1], end[1]) > deviation:
                raise CurveFitError(Problem(message=f"a curve jumps near {_text(start[1])} mm", advice="draw it again"))
            found.append(end)
        else:
            waiting.append((middle, end, depth + 1))
            waiting.append((start, middle, depth + 1))
        if len(found) + len(waiting) > _MOST_SAMPLES:
            raise CurveFitError(
                Problem(message=f"a curve near {_text(start[1])} mm is too long or too rough", advice="simplify it")
            )
    at, points, directions = zip(*_apart(found), strict=True)
    return _Samples(list(at), list(points), list(directions), np.array(points, dtype=np.float64))


_Look = tuple[float, Point, Point]


def _flat(start: _Look, middle: _Look, end: _Look, sagitta: float) -> bool:
    (_, p0, d0), (_, pm, dm), (_, p1, d1) = start, middle, end
    cx, cy = p1[0] - p0[0], p1[1] - p0[1]
    chord = math.hypot(cx, cy)
    if chord <= sagitta:
        return distance(p0, pm) <= sagitta
    off = abs(cx * (pm[1] - p0[1]) - cy * (pm[0] - p0[0])) / chord
    angles = [abs(math.atan2(cx * d[1] - cy * d[0], cx * d[0] + cy * d[1])) for d in (d0, dm, d1)]
    # An arc that leaves its chord at the angle a stands off by about chord * a / 4.
    return max(angles) <= _STEEPEST and off <= sagitta and chord * max(angles) / 4 <= sagitta


def _unit(direction: Curve, at: float, inwards: float) -> Point:
    """Return the unit tangent at `at`; where it vanishes, the one a little way towards `inwards`."""
    for share in (0.0, _INSIDE, 1e3 * _INSIDE):
        x, y = direction(at + share * (inwards - at))
        size = math.hypot(x, y)
        if size > 0 and math.isfinite(size):
            return x / size, y / size
    raise CurveFitError(Problem(message=f"a curve has no direction at parameter {at:g}", advice="draw it again"))


def _apart(found: list[_Look]) -> list[_Look]:
    """Drop samples that fall on their neighbour, never the first or the last."""
    kept = [found[0]]
    for sample in found[1:-1]:
        if sample[1] != kept[-1][1]:
            kept.append(sample)
    if len(kept) > 1 and kept[-1][1] == found[-1][1]:
        kept.pop()
    return [*kept, found[-1]]


def _text(point: Point) -> str:
    return f"({point[0]:.3f}, {point[1]:.3f})"
