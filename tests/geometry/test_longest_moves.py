"""Fewer and longer moves: within the tolerance both ways, as few as can be, and the same path where nothing joins."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.batten import Batten, natural_spline
from cutjob.geometry.biarc import distances
from cutjob.geometry.contour import Contour, circle, closed, polyline, rectangle
from cutjob.geometry.longest_moves import longest_moves
from cutjob.geometry.offset import offset
from cutjob.geometry.segment import Arc, Line, Point, Segment
from tests.strategies import star_shaped

TOLERANCE = 0.003
CHORD = 1e-4  # mm, of the polylines compared
ROUNDING = 1e-9  # mm: distances are worked out exactly, so that only the last digits may differ
CORNER = 5.0  # degrees: what turns more has to stay
KINK = 1.0  # degrees that a path may turn more at a node than before


def line(segments: Sequence[Segment]) -> shapely.LineString:
    return shapely.LineString([segments[0].start, *(p for s in segments for p in s.chords(CHORD))])


def batten(pins: Sequence[Point], deviation: float) -> tuple[Segment, ...]:
    return natural_spline(pins).segments(pins[0][0], pins[-1][0], deviation=deviation)


def turn(before: Segment, after: Segment) -> float:
    (ax, ay), (bx, by) = before.direction_at(1.0), after.direction_at(0.0)
    return abs(math.degrees(math.atan2(ax * by - ay * bx, ax * bx + ay * by)))


def runs(old: Sequence[Segment], new: Sequence[Segment]) -> list[tuple[Segment, tuple[Segment, ...]]]:
    """Each new move and the old segments it stands for: every node of the new path must be one of the old, in order."""
    found, at = [], 0
    for move in new:
        first = at
        assert move.start == old[first].start
        while old[at].end != move.end:
            at += 1
        at += 1
        found.append((move, tuple(old[first:at])))
    assert at == len(old)
    return found


def check(old: Sequence[Segment], new: Sequence[Segment], tolerance: float = TOLERANCE) -> None:
    """No run strays from its move nor the move from it, corners stay, kinks are slight, and nothing is cut short."""
    assert len(new) <= len(old)
    before: tuple[Segment, Segment] | None = None  # the last move and the last old segment
    for move, run in runs(old, new):
        if before is not None and turn(before[1], run[0]) <= CORNER:
            assert turn(before[0], move) <= turn(before[1], run[0]) + KINK + 1e-6
        before = move, run[-1]
        if len(run) == 1:
            assert move == run[0]
            continue
        assert all(turn(a, b) <= CORNER for a, b in pairwise(run))
        assert isinstance(move, Line) or (abs(move.sweep) <= math.pi + 1e-6 and move.radius <= 1.001e5)
        shares = [k / 24 for k in range(25)]
        there = distances(np.array([s.point_at(share) for s in run for share in shares]), move)
        back = np.array([move.point_at(k / 96) for k in range(97)])
        assert float(there.max()) <= tolerance + ROUNDING
        assert float(np.min([distances(back, s) for s in run], axis=0).max()) <= tolerance + ROUNDING
        # Going there and back or once more round would be far longer.
        assert sum(s.length for s in run) <= 1.1 * move.length + 4 * tolerance
    if new:
        assert line(new).hausdorff_distance(line(old)) <= tolerance + 2 * CHORD


def check_closed(old: Contour, new: Sequence[Segment], tolerance: float = TOLERANCE) -> None:
    first = [s.start for s in old.segments].index(new[0].start)
    check((*old.segments[first:], *old.segments[:first]), new, tolerance)
    assert math.dist(new[0].start, new[-1].end) <= 1e-6
    if turn(old.segments[first - 1], old.segments[first]) <= CORNER:
        assert turn(new[-1], new[0]) <= turn(old.segments[first - 1], old.segments[first]) + KINK + 1e-6
    assert math.copysign(1, Contour(tuple(new)).signed_area) == math.copysign(1, old.signed_area)


def test_what_can_not_join_stays_as_it_is() -> None:
    for contour in (rectangle(80, 50), circle((5, 5), 30), offset(rectangle(80, 50), 6.0)[0]):
        assert longest_moves(contour.segments, tolerance=TOLERANCE, closed=True) == contour.segments
    assert longest_moves((), tolerance=TOLERANCE) == ()
    assert longest_moves(rectangle(8, 5).segments[:1], tolerance=TOLERANCE, closed=True) == rectangle(8, 5).segments[:1]
    with pytest.raises(ValueError, match="negative"):
        longest_moves(rectangle(8, 5).segments, tolerance=-1.0)


def test_pieces_of_one_line_or_arc_are_one_again() -> None:
    pieces = [Line((x, 2.0 * x), (x + 1.0, 2.0 * x + 2.0)) for x in range(9)]
    assert longest_moves(pieces, tolerance=TOLERANCE) == (Line((0, 0), (9.0, 18.0)),)
    whole = Arc((50, 0), (-50, 0), (0, 0), False)
    cut = [whole.point_at(share) for share in (0, 0.1, 0.35, 0.5, 0.9)] + [whole.end]
    arcs = [Arc(a, b, (0, 0), False) for a, b in pairwise(cut)]
    for chain in (arcs, [s.reversed() for s in reversed(arcs)]):
        (joined,) = longest_moves(chain, tolerance=TOLERANCE)
        assert isinstance(joined, Arc)
        assert joined.clockwise == (chain is not arcs)
        assert joined.centre == pytest.approx((0, 0), abs=TOLERANCE)
        assert (joined.start, joined.end) == (chain[0].start, chain[-1].end)


def test_an_arc_among_others_is_found_again_by_its_directions() -> None:
    """Between two lines it leaves tangentially an arc in pieces has the centre it had."""
    pieces: list[Segment] = [
        Line((-40, -10), (0, -10)),
        *(Arc(_at(10, a), _at(10, a + 15), (0, 0), False) for a in range(-90, 0, 15)),
    ]
    pieces.append(Line((10, 0), (10, 40)))
    new = longest_moves(pieces, tolerance=TOLERANCE)
    check(pieces, new)
    assert [type(move) for move in new] == [Line, Arc, Line]
    assert isinstance(new[1], Arc)
    assert new[1].centre == pytest.approx((0, 0), abs=1e-6)


def _at(radius: float, degrees: float) -> Point:
    return radius * math.cos(math.radians(degrees)), radius * math.sin(math.radians(degrees))


def test_chords_of_a_circle_become_two_arcs() -> None:
    """Chords a degree apart at a radius of 10 bulge 0.0004 mm [sagitta r (1 - cos(t/2))]."""
    path = polyline([_at(10, d) for d in range(360)])
    new = longest_moves(path.segments, tolerance=TOLERANCE, closed=True)
    check_closed(path, new)
    assert len(new) == 2
    assert all(isinstance(move, Arc) for move in new)


@pytest.mark.parametrize(("step", "joins"), [(4.5, True), (7.5, False)])
def test_a_corner_of_more_than_five_degrees_is_meant(step: float, joins: bool) -> None:
    """Even where the sagitta, 0.0008 and 0.0021 mm at a radius of 1, would let it go."""
    chords = [Line(_at(1, k * step), _at(1, (k + 1) * step)) for k in range(16)]
    new = longest_moves(chords, tolerance=TOLERANCE)
    check(chords, new)
    assert (len(new) < len(chords)) == joins


def test_what_is_to_be_kept_stays_a_node() -> None:
    pieces = [Line((x, 0.0), (x + 1.0, 0.0)) for x in range(9)]
    assert longest_moves(pieces, tolerance=TOLERANCE, keep=[3, 5]) == (
        Line((0, 0.0), (3, 0.0)),
        Line((3, 0.0), (5, 0.0)),
        Line((5, 0.0), (9.0, 0.0)),
    )
    ring = polyline([_at(10, d) for d in range(0, 360, 2)])
    kept = {17, 60, 111}
    new = longest_moves(ring.segments, tolerance=TOLERANCE, closed=True, keep=kept)
    assert {ring.segments[number].start for number in kept} <= {move.start for move in new}
    assert new[0].start == ring.segments[17].start
    assert len(new) == 3
    check_closed(ring, new)


def test_an_edge_with_a_node_in_its_middle_is_whole_again_if_closed() -> None:
    path = polyline([(30, 0), (80, 0), (80, 50), (0, 50), (0, 0)])
    assert longest_moves(path.segments, tolerance=TOLERANCE) == path.segments
    new = longest_moves(path.segments, tolerance=TOLERANCE, closed=True)
    assert {frozenset((move.start, move.end)) for move in new} >= {frozenset(((0, 0), (80, 0)))}
    assert len(new) == 4


@pytest.mark.parametrize("angles", [[*range(10), *range(10, 411, 40)], [0, 21, 59, 112, 131, 222, 265, 282, 341, 377]])
def test_arcs_going_round_and_round_are_not_cut_short(angles: list[int]) -> None:
    """A little more than once round: a start and an end that one short arc joins, and all of it lies on its circle."""
    arcs = [Arc(_at(30, a), _at(30, b), (0, 0), False) for a, b in pairwise(angles)]
    new = longest_moves(arcs, tolerance=TOLERANCE)
    check(arcs, new)
    assert sum(move.length for move in new) == pytest.approx(math.radians(angles[-1]) * 30, rel=1e-3)


@pytest.mark.parametrize(("step", "back_to"), [(5, 0), (50, 20), (25, 44)])
def test_a_hairpin_narrower_than_the_tolerance_stays(step: int, back_to: int) -> None:
    there = [Line((x, 0.0), (x + step, 0.0)) for x in range(0, 50, step)]
    back = [Line((x, 0.002), (max(x - step, back_to), 0.002)) for x in range(50, back_to, -step)]
    chain: list[Segment] = [*there, Arc((50.0, 0.0), (50, 0.002), (50, 0.001), False), *back]
    new = longest_moves(chain, tolerance=TOLERANCE)
    assert 2 <= len(new) <= 3
    assert sum(move.length for move in new) == pytest.approx(100 - back_to, abs=2 * TOLERANCE)


def test_a_closed_path_has_no_sharper_kink_where_it_begins() -> None:
    radii = [20 * (1 + 0.15 * math.sin(4 * math.radians(d))) for d in range(360)]
    path = polyline([_at(radius, d) for d, radius in enumerate(radii)])
    new = longest_moves(path.segments, tolerance=0.05, closed=True)
    assert len(new) < 40
    check_closed(path, new, 0.05)


def test_flatter_than_a_radius_of_100_m_is_lines() -> None:
    centre = (0.0, 2e5)
    nodes = [(x, 2e5 - math.sqrt(4e10 - x * x)) for x in np.linspace(-500, 500, 201).tolist()]
    arcs = [Arc(a, b, centre, False) for a, b in pairwise(nodes)]
    new = longest_moves(arcs, tolerance=TOLERANCE)
    check(arcs, new)
    # Sagitta c^2 / 8 r: 0.003 mm over 69 mm.
    assert all(isinstance(move, Line) for move in new)
    assert len(new) == math.ceil(1000 / 65)


PINS = st.lists(st.tuples(st.floats(15, 90), st.floats(-25, 25)), min_size=2, max_size=6)


@given(PINS, st.floats(0.5, 12))
@settings(max_examples=20, deadline=None)
def test_within_the_tolerance_both_ways(steps: list[tuple[float, float]], radius: float) -> None:
    pins, x = [(0.0, 0.0)], 0.0
    for step, y in steps:
        x += step
        pins.append((x, y))
    curve = batten(pins, 0.002)
    check(curve, longest_moves(curve, tolerance=TOLERANCE))
    low = min(y for _, y in pins) - 60
    contour = Contour((*curve, Line(pins[-1], (x, low)), Line((x, low), (0.0, low)), Line((0.0, low), (0.0, 0.0))))
    for path in offset(contour.turned(counter_clockwise=True), radius):
        check_closed(path, longest_moves(path.segments, tolerance=TOLERANCE, closed=True))


@given(star_shaped(), st.floats(0.0005, 0.05), st.floats(0.5, 8))
@settings(max_examples=20, deadline=None)
def test_any_path(path: Contour, tolerance: float, radius: float) -> None:
    for old in (path, *offset(path, radius)):
        new = longest_moves(old.segments, tolerance=tolerance, closed=True)
        check_closed(old, new, tolerance)
        assert len(longest_moves(new, tolerance=tolerance, closed=True)) <= len(new)


@st.composite
def wild_chains(draw: st.DrawFn) -> list[Segment]:
    """Lines and arcs of lengths from 0.01 to 30 mm and radii of 1 mm to 10 m, tangent to each other or almost."""
    count = draw(st.integers(2, 40))
    kinks = st.sampled_from([0.0, 0.0, 0.0, 0.2, -0.2, 1.0, -3.0, 40.0])
    curvatures = st.sampled_from([0.0, 0.0001, -0.0001, 0.003, 0.003, -0.01, 0.05, -0.05, 1.0])
    lengths = st.floats(-2, 1.5)
    here, heading, chain = (0.0, 0.0), 0.0, list[Segment]()
    for length, curvature, kink in draw(
        st.lists(st.tuples(lengths, curvatures, kinks), min_size=count, max_size=count)
    ):
        heading += math.radians(kink)
        along = 10**length if curvature == 0 else min(10**length, 3 / abs(curvature))
        if curvature == 0:
            after = (here[0] + along * math.cos(heading), here[1] + along * math.sin(heading))
            chain.append(Line(here, after))
        else:
            centre = (here[0] - math.sin(heading) / curvature, here[1] + math.cos(heading) / curvature)
            heading += curvature * along
            after = (centre[0] + math.sin(heading) / curvature, centre[1] - math.cos(heading) / curvature)
            chain.append(Arc(here, after, centre, curvature < 0))
        here = after
    return chain


@given(wild_chains(), st.floats(-4, -1.3), st.sets(st.integers(0, 40), max_size=2))
@settings(max_examples=60, deadline=None)
def test_any_chain(chain: list[Segment], tolerance: float, keep: set[int]) -> None:
    kept = {number for number in keep if number < len(chain)}
    new = longest_moves(chain, tolerance=10**tolerance, keep=kept)
    check(chain, new, 10**tolerance)
    assert {chain[number].start for number in kept} <= {move.start for move in new}


def reaches(chain: Sequence[Segment], first: int, last: int, tolerance: float) -> bool:
    """Whether any line or arc through the ends of a run stays within the tolerance: a search over all arcs.

    Heights of the middle over the chord are tried all over and then closer and closer about the best.
    """
    if any(turn(a, b) > CORNER for a, b in pairwise(chain[first:last])):
        return False
    start, end = np.array(chain[first].start), np.array(chain[last - 1].end)
    chord = end - start
    half = float(np.hypot(*chord)) / 2
    if half < 1e-9:
        return False
    u = chord / (2 * half)
    places = np.array([s.point_at(k / 12) for s in chain[first:last] for k in range(13)]) - (start + end) / 2
    x, y = places @ u, places @ np.array([-u[1], u[0]])
    low, high = -half, half
    worst = math.inf
    for _ in range(4):
        s = np.linspace(low, high, 100)[:, None]  # an even number of them, so that none is 0
        middle = (s * s - half * half) / (2 * s)
        far = np.abs(np.hypot(x, y - middle) - np.abs(s - middle)).max(axis=1)
        best = int(far.argmin())
        worst = float(far[best])
        if worst <= tolerance:
            return True
        low, high = float(s[max(0, best - 1), 0]), float(s[min(99, best + 1), 0])
    return float(np.abs(y).max()) <= tolerance


def fewest(chain: Sequence[Segment], tolerance: float) -> int:
    """The least number of moves between the chain's own nodes, by dynamic programming over every pair of them."""
    best = [0] + [10**6] * len(chain)
    for last in range(1, len(chain) + 1):
        for first in range(last):
            if best[first] + 1 < best[last] and (last - first == 1 or reaches(chain, first, last, tolerance)):
                best[last] = best[first] + 1
    return best[-1]


WAVES = [
    [(0, 0), (100, 20), (200, 0)],
    [(0, 0), (60, 18), (140, -6), (220, 10)],
    [(0, 0), (50, 8), (120, 30), (200, 34), (260, 0)],
    [(0, 0), (90, 3), (180, 0)],
]


def within_a_tenth(chain: Sequence[Segment], tolerance: float) -> None:
    new = longest_moves(chain, tolerance=tolerance)
    least = fewest(chain, tolerance)
    assert least <= len(new) <= math.ceil(1.1 * least)


@pytest.mark.parametrize("pins", WAVES)
def test_within_a_tenth_of_the_fewest_possible(pins: list[Point]) -> None:
    curve = batten(pins, 0.002)
    within_a_tenth(curve, TOLERANCE)
    # Fewer than the biarcs as coarse as the tolerance allows.
    assert len(longest_moves(curve, tolerance=TOLERANCE)) < len(batten(pins, TOLERANCE))


@pytest.mark.parametrize("radius", [3.0, -3.0, 8.0])
def test_offsets_within_a_tenth_of_the_fewest_possible(radius: float) -> None:
    curve = batten(WAVES[1], 0.002)
    (path,) = offset(
        closed([*curve, Line((220, 10), (220, -70)), Line((220, -70), (0, -70)), Line((0, -70), (0, 0))]).turned(
            counter_clockwise=True
        ),
        radius,
    )
    within_a_tenth(path.segments, TOLERANCE)


@pytest.mark.parametrize(("radius", "steps"), [(8.0, 120), (22.0, 180), (41.0, 240)])
def test_drawn_polylines_within_a_tenth_of_the_fewest_possible(radius: float, steps: int) -> None:
    turned = [2 * math.pi * step / steps for step in range(37)]
    points = [_at(radius * (1 + 0.1 * math.sin(3 * angle)), math.degrees(angle)) for angle in turned]
    within_a_tenth([Line(a, b) for a, b in pairwise(points)], TOLERANCE)


@pytest.mark.parametrize("pins", WAVES)
def test_as_many_arcs_as_the_curve_asks_for(pins: list[Point]) -> None:
    """An arc of length h strays by k' h^3 / 124.7 where curvature grows by k' a mm: arcs number the integral of the
    cube root of k' / 124.7 t along the curve, with the tolerance t, and a rest in each span between pins.
    """
    curve: Batten = natural_spline(pins)
    x = np.linspace(pins[0][0], pins[-1][0], 20001)
    slope = np.array([curve.slope(float(at)) for at in x])
    bending = np.array([curve.second_derivative(float(at)) for at in x])
    curvature = bending / (1 + slope**2) ** 1.5
    lengths = np.diff(x) * np.hypot(1, (slope[:-1] + slope[1:]) / 2)
    asked = float((np.cbrt(np.abs(np.diff(curvature)) / lengths / (124.7 * TOLERANCE)) * lengths).sum())
    # Chords of 0.13 mm stand off by less than 0.0001 mm, and an arc may end wherever it would.
    fine = [Line(a, b) for a, b in pairwise((float(at), curve.y(float(at))) for at in x[::10])]
    new = longest_moves(fine, tolerance=TOLERANCE)
    check(fine, new)
    assert 0.9 * asked - 1 <= len(new) <= 1.1 * asked + len(pins) - 1


def test_the_mirrored_path_has_as_many_moves() -> None:
    curve = batten(WAVES[2], 0.002)
    mirrored = [
        Line(_mirrored(s.start), _mirrored(s.end))
        if isinstance(s, Line)
        else Arc(_mirrored(s.start), _mirrored(s.end), _mirrored(s.centre), not s.clockwise)
        for s in curve
    ]
    there = longest_moves(curve, tolerance=TOLERANCE)
    back = longest_moves(mirrored, tolerance=TOLERANCE)
    assert [_mirrored(move.end) for move in there] == [move.end for move in back]


def _mirrored(point: Point) -> Point:
    return point[0], -point[1]
