"""Fits lines and arcs to smooth curves within a stated deviation; a curve is given by its position and direction.

1. The curve is split at known corners and sampled until its chords deviate by a small share of the deviation.
2. From each sample the longest span is sought that one biarc fits; straight spans become lines.
3. Spans with equal errors are preferred to a short last one.
4. Every span is measured again at new points, curve to segments and segments to curve. A fit that can't be proven
   raises `CurveFitError`; there is no "best effort".
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from cutjob.errors import CutjobError, Problem
from cutjob.geometry.biarc import Floats, biarc, distances, merged
from cutjob.geometry.segment import Line, Point, Segment, distance

Curve = Callable[[float], Point]
Curves = Callable[[Floats], tuple[Floats, Floats]]  # from many parameters to the x and the y of their points

# Shares of the deviation to aim for, one after the other, as the proof measures more closely than the search.
_AIMS = (1.0, 0.95, 0.8)
_SEARCH = 0.9  # share of the deviation allowed at the samples; the remainder is for the curve between them
_COARSE = 1 / 8  # share of the deviation by which a chord may differ before it is halved
_FIRST_INTERVALS = 8
_MOST_SAMPLES = 200_000
_DEEPEST = 44  # halvings of the parameter; what is left then is a jump
_STEEPEST = 0.25  # radians between a chord and the tangents at its ends
_EVENER = (0.4, 0.55, 0.7, 0.85)  # shares of the search's limit tried for the same number of spans
_INSIDE = 1e-6  # share of a span, from its end, at which the direction is taken where it vanishes at the end
_PROOF_POINTS = 48  # per segment
_NEWTON_STEPS = 4
_CLOSE = 1e-4  # mm along the curve; changes the distance across it by far less


class CurveFitError(CutjobError):
    """No lines and arcs were found within the given deviation."""


@dataclass(frozen=True, slots=True)
class FittedSpan:
    """The segments that replace the curve between two parameters."""

    first: float
    last: float
    segments: tuple[Segment, ...]


_Samples = Floats  # a row each: parameter, point, unit tangent


@dataclass(frozen=True, slots=True)
class _Parametric:
    """The curve, evaluated at many points at once; at a corner each side has its own direction."""

    position: Curve | Curves
    direction: Curve | Curves
    arrays: bool
    nudged: tuple[tuple[float, float], ...] = ()  # parameters of corners, and those at which the direction is taken

    def points(self, at: Floats) -> Floats:
        return self._rows(self.position, at)

    def rates(self, at: Floats) -> Floats:
        for corner, inside in self.nudged:
            at = np.where(at == corner, inside, at)
        return self._rows(self.direction, at)

    def _rows(self, curve: Curve | Curves, at: Floats) -> Floats:
        if self.arrays:
            return np.column_stack(cast("Curves", curve)(at))
        return np.array([cast("Curve", curve)(t) for t in at.tolist()], dtype=np.float64)


def fit_curve(
    position: Curve | Curves,
    direction: Curve | Curves,
    first: float,
    last: float,
    *,
    deviation: float,
    breaks: Sequence[float] = (),
    arrays: bool = False,
) -> tuple[Segment, ...]:
    """Return lines and arcs within `deviation` mm of the curve, both ways, from its exact start to its exact end.

    `direction` is the derivative or any positive multiple of it. `breaks` are the parameters of corners and cusps,
    where the result may have a corner too; elsewhere it is tangent-continuous. A curve that is a single point gives no
    segments. `arrays` says that both functions take an array of parameters and return all x and all y, which is faster.
    Raises CurveFitError where the bound can't be met, ValueError for an invalid deviation or range.
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
            inwards = _INSIDE * (high - low)
            nudged = [(low, low + inwards)] if low != first else []
            nudged += [(high, high - inwards)] if high != last else []
            curve = _Parametric(position, direction, arrays, tuple(nudged))
            spans.extend(_fit_smooth(curve, low, high, aim * deviation))
        if not spans:
            return ()
        worst = worst_deviation(position, spans, arrays=arrays)
        if worst <= deviation:
            return tuple(merged([segment for span in spans for segment in span.segments]))
    raise CurveFitError(
        Problem(message=f"a curve was only fitted within {worst:.6f} mm, not {deviation:g} mm", advice="simplify it")
    )


def worst_deviation(position: Curve | Curves, spans: Sequence[FittedSpan], *, arrays: bool = False) -> float:
    """Return the greatest distance in mm between the curve and the segments of its spans, measured both ways.

    Also counts gaps between neighbours and at the ends, so that a chain that misses a point is never within bounds.
    """
    if not spans:
        return 0.0
    whole = _Parametric(position, position, arrays)
    ats = [np.linspace(span.first, span.last, _PROOF_POINTS * len(span.segments) + 1) for span in spans]
    curves = np.split(whole.points(np.concatenate(ats)), np.cumsum([len(at) for at in ats])[:-1])
    worst, before = 0.0, None
    for span, curve in zip(spans, curves, strict=True):
        worst = max(worst, distance(tuple(curve[0]), span.segments[0].start))
        worst = max(worst, distance(tuple(curve[-1]), span.segments[-1].end))
        for here, after in itertools.pairwise(span.segments):
            worst = max(worst, distance(here.end, after.start))
        if before is not None:
            worst = max(worst, distance(before, span.segments[0].start))
        before = span.segments[-1].end
        # `max` drops a NaN in second place; a curve without a position is never near.
        measured = _to_segments(curve, span.segments)
        if math.isnan(measured):
            return math.inf
        worst = max(worst, measured)
    return max(worst, _to_curve(whole, [_nearest(*one) for one in zip(spans, ats, curves, strict=True)]))


def _to_segments(curve: Floats, segments: tuple[Segment, ...]) -> float:
    nearest = distances(curve, segments[0])
    for segment in segments[1:]:
        nearest = np.minimum(nearest, distances(curve, segment))
    return float(np.max(nearest))


def _nearest(span: FittedSpan, at: Floats, curve: Floats) -> Floats:
    """Return a row for each of some points on the segments: the point, the parameter of the nearest point of `curve`,
    the parameters of its neighbours, and the curve's speed between them.
    """
    points = np.array(_points_on(span.segments, _PROOF_POINTS // 3))
    squares = (curve[:, 0, None] - points[:, 0]) ** 2 + (curve[:, 1, None] - points[:, 1]) ** 2
    nearest = np.argmin(squares, axis=0)
    low, high = np.maximum(nearest - 1, 0), np.minimum(nearest + 1, len(at) - 1)
    rates = (curve[high] - curve[low]) / (at[high] - at[low])[:, None]
    return np.column_stack([points, at[nearest], at[low], at[high], rates])


def _to_curve(whole: _Parametric, looked: list[Floats]) -> float:
    """Return the greatest distance from points on the segments to points of the curve, each sought by Newton's steps.

    Every candidate is a point of the curve, so the result may be too large but never too small.
    """
    x, y, t, low, high, rate_x, rate_y = np.concatenate(looked).T
    square = np.maximum(rate_x**2 + rate_y**2, 1e-300)
    best = np.full(len(t), math.inf)
    for _ in range(_NEWTON_STEPS):
        off_x, off_y = np.array([x, y]) - whole.points(t).T
        best = np.fmin(best, np.hypot(off_x, off_y))
        step = (off_x * rate_x + off_y * rate_y) / square
        if (np.abs(step) * np.sqrt(square) < _CLOSE).all():
            break
        t = np.clip(t + step, low, high)
    return float(best.max())


def _points_on(segments: tuple[Segment, ...], count: int) -> list[Point]:
    points = [s.point_at(i / count) for s in segments for i in range(1, count)]
    points.extend(s.start for s in segments[1:])
    return points


def _fit_smooth(curve: _Parametric, first: float, last: float, deviation: float) -> list[FittedSpan]:
    from cutjob.geometry.longest_spans import longest_spans  # imported here, as its compiler takes a while to load

    marks = np.append(first + (last - first) / _FIRST_INTERVALS * np.arange(_FIRST_INTERVALS), last)
    if len(np.unique(curve.points(marks), axis=0)) == 1:
        return []  # a single point, which has no direction
    samples = _sample(curve, first, last, deviation)
    points, directions = samples[:, 1:3].copy(), samples[:, 3:].copy()
    limit = _SEARCH * deviation
    ends = longest_spans(points, directions, limit, len(points))
    for share in _EVENER if len(ends) > 1 else ():
        even = longest_spans(points, directions, share * limit, len(ends))
        if len(even):
            ends = even
            break
    marked = [0, *np.abs(ends).tolist()]
    return [
        _span(samples[here].tolist(), samples[there].tolist(), end > 0, deviation)
        for (here, there), end in zip(itertools.pairwise(marked), ends.tolist(), strict=True)
    ]


def _span(here: list[float], there: list[float], meets: bool, deviation: float) -> FittedSpan:
    """Return the span between two samples; `meets` says whether a biarc joins them."""
    first, x0, y0, ux, uy = here
    last, x1, y1, wx, wy = there
    segments = biarc((x0, y0), (ux, uy), (x1, y1), (wx, wy)) if meets else None
    if segments is None:
        # Neighbouring samples: an unknown corner, or a cusp, smaller than the deviation.
        if math.hypot(x1 - x0, y1 - y0) > deviation:
            message = f"a curve turns too sharply near {_text((x0, y0))} mm"
            raise CurveFitError(Problem(message=message, advice="simplify it"))
        segments = (Line((x0, y0), (x1, y1)),)
    return FittedSpan(first, last, segments)


def _sample(curve: _Parametric, first: float, last: float, deviation: float) -> _Samples:
    """Return parameters, points and unit tangents, so dense that chords deviate by at most a share of the deviation."""
    marks = np.append(first + (last - first) / _FIRST_INTERVALS * np.arange(_FIRST_INTERVALS), last)
    looks = _look(curve, marks, np.append(marks[1:], marks[-2]))
    starts, ends = looks[:-1], looks[1:]
    found = [looks[:1]]
    for depth in itertools.count():
        middles = _look(curve, (starts[:, 0] + ends[:, 0]) / 2, ends[:, 0])
        flat = _flat(starts, middles, ends, deviation * _COARSE)
        found += [middles[flat], ends[flat]]
        lost = ~flat & ((middles[:, 0] <= starts[:, 0]) | (middles[:, 0] >= ends[:, 0]) | (depth >= _DEEPEST))
        apart = np.hypot(ends[lost, 1] - starts[lost, 1], ends[lost, 2] - starts[lost, 2]) > deviation
        if apart.any():
            place = _text(tuple(starts[lost][apart][0, 1:3]))
            raise CurveFitError(Problem(message=f"a curve jumps near {place} mm", advice="draw it again"))
        found.append(ends[lost])
        again = ~flat & ~lost
        if not again.any():
            break
        if sum(map(len, found)) + 2 * again.sum() > _MOST_SAMPLES:
            place = _text(tuple(starts[again][0, 1:3]))
            raise CurveFitError(
                Problem(message=f"a curve near {place} mm is too long or too rough", advice="simplify it")
            )
        starts, ends = (
            np.concatenate([starts[again], middles[again]]),
            np.concatenate([middles[again], ends[again]]),
        )
    samples = np.concatenate(found)
    return _apart(samples[np.argsort(samples[:, 0], kind="stable")])


def _look(curve: _Parametric, at: Floats, inwards: Floats) -> _Samples:
    """Return a row for each parameter: the parameter, the point, the unit tangent; where that vanishes, the one
    `inwards`.
    """
    points, rates = curve.points(at), curve.rates(at)
    if not np.isfinite(points).all():
        where = at[~np.isfinite(points).all(axis=1)][0]
        raise CurveFitError(Problem(message=f"a curve has no position at parameter {where:g}", advice="draw it again"))
    sizes = np.sqrt(rates[:, 0] ** 2 + rates[:, 1] ** 2)
    for row in np.flatnonzero(~((sizes > 0) & np.isfinite(sizes))).tolist():
        rates[row], sizes[row] = _direction_near(curve, float(at[row]), float(inwards[row])), 1.0
    return np.column_stack([at, points, rates / sizes[:, None]])


def _direction_near(curve: _Parametric, at: float, inwards: float) -> Point:
    """Return the unit tangent at `at`; where it vanishes, the one a little way towards `inwards`."""
    for share in (0.0, _INSIDE, 1e3 * _INSIDE):
        x, y = curve.rates(np.array([at + share * (inwards - at)]))[0].tolist()
        size = math.hypot(x, y)
        if size > 0 and math.isfinite(size):
            return x / size, y / size
    raise CurveFitError(Problem(message=f"a curve has no direction at parameter {at:g}", advice="draw it again"))


def _flat(starts: _Samples, middles: _Samples, ends: _Samples, sagitta: float) -> NDArray[np.bool_]:
    """The intervals that need no more samples than their middle."""
    chords = ends[:, 1:3] - starts[:, 1:3]
    lengths = np.sqrt(chords[:, 0] ** 2 + chords[:, 1] ** 2)
    halves = middles[:, 1:3] - starts[:, 1:3]
    short = (lengths <= sagitta) & (np.hypot(halves[:, 0], halves[:, 1]) <= sagitta)
    # An arc that leaves its chord at the angle a is about chord * a / 4 high.
    most = np.minimum(4 * sagitta, lengths * _STEEPEST)
    flat = np.abs(_cross(chords, halves)) <= sagitta * lengths
    for looks in (starts, middles, ends):
        directions = looks[:, 3:]
        flat &= (np.abs(_cross(chords, directions)) <= most) & (np.einsum("ij,ij->i", chords, directions) > 0)
    result: NDArray[np.bool_] = np.where(lengths <= sagitta, short, flat)
    return result


def _cross(first: Floats, second: Floats) -> Floats:
    product: Floats = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    return product


def _apart(samples: _Samples) -> _Samples:
    """Drop samples that coincide with a neighbour, but never the first or the last."""
    new = np.append(True, (samples[1:-1, 1:3] != samples[:-2, 1:3]).any(axis=1))
    kept = samples[:-1][new]
    if len(kept) > 1 and (kept[-1, 1:3] == samples[-1, 1:3]).all():
        kept = kept[:-1]
    return np.concatenate([kept, samples[-1:]])


def _text(point: Point) -> str:
    return f"({point[0]:.3f}, {point[1]:.3f})"
