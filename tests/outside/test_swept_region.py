"""The region a cutter sweeps, against closed formulas and a polygon clipper that is not the one the proof uses.

- Steiner's formula (J. Steiner, 1840; in any text on convex geometry): a disc of radius r moved all round a convex
  figure of area A and perimeter P covers A + P r + pi r^2; along a way of length L that keeps clear of itself,
  2 r L + pi r^2.
- Pappus's theorem for a circular way: a ring of mean radius R and width 2 r has the area 2 pi R 2 r.
- Clipper 1 (Angus Johnson's library, through `pyclipper`) grows random paths as round lines: a second opinion of the
  area and of what is covered. GEOS alone would not do: it fills in what lies between arcs in very fine chords.
"""

from __future__ import annotations

import math
import random

import numpy as np
import pyclipper
import pytest
import shapely

from cutjob.proof.board.areas import swept, vertices
from cutjob.proof.board.coverage import uncovered
from cutjob.proof.board.curves import Curves, circles, from_columns, join

CHORD = 1e-4  # mm; of what is swept here
UNIT = 1e-6  # mm; of Clipper's whole numbers


def path(points: list[tuple[float, float]]) -> Curves:
    """Straight lines from point to point."""
    at = np.array(points, dtype=float)
    count = len(at) - 1
    return from_columns(at[:-1], at[1:], np.zeros((count, 2)), np.zeros(count))


def arc(cx: float, cy: float, radius: float, start: float, sweep: float) -> Curves:
    ends = [(cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in (start, start + sweep)]
    return from_columns(np.array(ends[:1]), np.array(ends[1:]), np.array([(cx, cy)]), np.array([sweep]))


@pytest.mark.parametrize("radius", [0.1, 1.5875, 3.175, 6.35])
@pytest.mark.parametrize("length", [0.5, 40.0, 300.0])
def test_a_straight_cut(radius: float, length: float) -> None:
    area = swept(path([(3.0, 4.0), (3.0 + length * 0.6, 4.0 + length * 0.8)]), radius, CHORD).area
    # Chords take off at most their error all round.
    assert area == pytest.approx(2 * radius * length + math.pi * radius**2, abs=2 * math.pi * radius * CHORD)


@pytest.mark.parametrize("corners", [3, 4, 7, 24])
def test_round_a_convex_figure_after_steiner(corners: int) -> None:
    """The cutter's way round and the figure in it."""
    radius, size = 3.175, 40.0
    turn = [2 * math.pi * number / corners for number in range(corners + 1)]
    at = [(size * math.cos(angle), size * math.sin(angle)) for angle in turn]
    figure = shapely.Polygon(at)
    whole = shapely.union(swept(path(at), radius, CHORD), figure)
    expected = figure.area + figure.length * radius + math.pi * radius**2
    assert whole.area == pytest.approx(expected, abs=2 * math.pi * radius * CHORD)
    # And what lies in the way's inner edge is the figure less as much, while its corners are no nearer than that.
    inner = shapely.difference(figure, swept(path(at), radius, CHORD))
    side = 2 * size * math.sin(math.pi / corners)
    apothem = size * math.cos(math.pi / corners)
    assert inner.area == pytest.approx(figure.area * ((apothem - radius) / apothem) ** 2, abs=side * corners * CHORD)


@pytest.mark.parametrize(("mean", "radius"), [(20.0, 3.0), (5.0, 4.9), (300.0, 0.1)])
def test_a_ring_after_pappus(mean: float, radius: float) -> None:
    one = np.array([1.0])
    area = swept(circles(one, one, one * mean), radius, CHORD).area
    assert area == pytest.approx(4 * math.pi * mean * radius, abs=4 * math.pi * mean * CHORD)


def test_half_a_ring_with_round_ends() -> None:
    area = swept(arc(0, 0, 20.0, 0.3, math.pi), 3.0, CHORD).area
    assert area == pytest.approx(2 * 3.0 * math.pi * 20.0 + math.pi * 9.0, abs=4 * math.pi * 20 * CHORD)


def test_a_way_straight_down() -> None:
    assert swept(path([(5.0, 5.0), (5.0, 5.0)]), 3.0, CHORD).area == pytest.approx(9 * math.pi, abs=6 * math.pi * CHORD)
    assert swept(path([(5.0, 5.0)]), 3.0, CHORD).is_empty


def test_arcs_tighter_than_the_cutter_in_fine_chords() -> None:
    """Where GEOS 3.14, asked to grow the whole path at once, covers 24 mm2 that no cutter came near."""
    curves, radius = random_path(random.Random(209)), 3.175
    other = sum(pyclipper.Area(ring) for ring in clipped(curves, radius)) * UNIT**2
    assert swept(curves, radius, CHORD).area == pytest.approx(other, abs=0.1)


def random_path(chance: random.Random) -> Curves:
    """Lines and arcs that cross themselves and turn sharply."""
    pieces: list[Curves] = []
    x, y = chance.uniform(-30, 30), chance.uniform(-30, 30)
    for _ in range(chance.randint(1, 12)):
        if chance.random() < 0.5:
            end = (chance.uniform(-30, 30), chance.uniform(-30, 30))
            pieces.append(path([(x, y), end]))
        else:
            radius, angle = chance.uniform(0.5, 25), chance.uniform(0, 2 * math.pi)
            centre = (x - radius * math.cos(angle), y - radius * math.sin(angle))
            pieces.append(arc(*centre, radius, angle, chance.choice((-1, 1)) * chance.uniform(0.1, 6.0)))
            end = (float(pieces[-1].x1[0]), float(pieces[-1].y1[0]))
        x, y = end
    return join(pieces)


def clipped(curves: Curves, radius: float) -> list[list[tuple[int, int]]]:
    """What is swept, by the other library: its arcs within CHORD too."""
    grower = pyclipper.PyclipperOffset(arc_tolerance=CHORD / UNIT)
    owner, points_of = vertices(curves, CHORD)
    for index in range(len(curves)):
        line = np.concatenate([points_of[owner == index], [[curves.x1[index], curves.y1[index]]]])
        points = np.round(line / UNIT).astype(np.int64).tolist()
        grower.AddPath(points, pyclipper.JT_ROUND, pyclipper.ET_OPENROUND)
    return list(grower.Execute(radius / UNIT))


@pytest.mark.parametrize("seed", range(40))
def test_the_swept_area_of_random_paths_by_another_library(seed: int) -> None:
    chance = random.Random(seed)
    curves, radius = random_path(chance), chance.choice((0.1, 1.5875, 3.175, 4.7625))
    mine = swept(curves, radius, CHORD)
    other = clipped(curves, radius)
    area = sum(pyclipper.Area(ring) for ring in other) * UNIT**2
    # Either may lie a chord's rise inside or outside the true edge, which is no longer than both sides of the path.
    edge = float(2 * curves.length.sum() + 2 * math.pi * radius * (len(curves) + 1))
    assert mine.area == pytest.approx(area, abs=2 * CHORD * edge + 1e-6)


@pytest.mark.parametrize("seed", range(40))
def test_what_is_covered_by_another_library(seed: int) -> None:
    """A line across a random path: the stretches out of reach that the proof works out exactly, and those that lie
    outside what the other library swept.
    """
    chance = random.Random(1000 + seed)
    curves, radius = random_path(chance), chance.choice((0.5, 1.5875, 3.175))
    target = path([(-40.0, chance.uniform(-20, 20)), (40.0, chance.uniform(-20, 20))])
    every = np.arange(len(curves), dtype=np.int64)
    gaps = uncovered(target, curves, np.full(len(curves), radius), target=np.zeros_like(every), cut=every)
    length = float(target.length[0])
    mine = float((gaps.last - gaps.first).sum()) * length
    cutter = pyclipper.Pyclipper()
    ends = [(int(target.x0[0] / UNIT), int(target.y0[0] / UNIT)), (int(target.x1[0] / UNIT), int(target.y1[0] / UNIT))]
    cutter.AddPath(ends, pyclipper.PT_SUBJECT, False)
    cutter.AddPaths(clipped(curves, radius), pyclipper.PT_CLIP, True)
    tree = cutter.Execute2(pyclipper.CT_DIFFERENCE, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO)
    theirs = sum(math.dist(*line) for line in pyclipper.OpenPathsFromPolyTree(tree)) * UNIT
    # Where the line grazes an edge, a chord's rise h moves a crossing by up to sqrt(2 r h); few cross so.
    crossings = 2 * (len(gaps) + 1)
    assert mine == pytest.approx(theirs, abs=crossings * math.sqrt(2 * (radius + 25) * CHORD))
