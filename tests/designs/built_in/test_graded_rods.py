import itertools
import math

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from cutjob.designs.built_in.drilling_cradle import notch_depth
from cutjob.geometry.polygons import to_polygon
from cutjob.parts.part import Build

from ..order import EXACT, INCH, PICKET, assert_sound, item, only_problem

RULED = INCH / 32  # lengths of rods are rounded to a sixteenth of an inch


def build(**rest) -> Build:
    return item("graded-rods", **rest).build


def lengths(built: Build) -> list[float]:
    return [rod.length for rod in built.rods if rod.name.startswith("rod ")]


@pytest.mark.parametrize(("size", "count"), [("small", 9), ("medium", 12), ("large", 15)])
def test_sets_of_9_12_and_15(size, count):
    # Common practice, no source: as many rods as inches of width, 3/4 in rods on a 3/8 in rod.
    built = build(size=size)
    assert len(lengths(built)) == count
    assert lengths(built)[0] == pytest.approx(count * INCH, abs=EXACT)
    assert {rod.diameter for rod in built.rods if rod.name != "centre rod"} == {19.05}
    assert built.rods[0].diameter == 9.525
    last = lengths(built)[-1]
    equal = np.linspace(count * INCH, last, count)
    assert lengths(built) == pytest.approx(equal, abs=RULED)
    marks = np.array(lengths(built)) / INCH * 64
    assert marks == pytest.approx(np.round(marks), abs=EXACT)


def test_a_step_of_1_1_8_runs_out_at_the_ninth():
    # Common practice, no source; 9 - 8 x 1 1/8 = 0.
    problem = only_problem("graded-rods", size="small", step="1 1/8")
    assert "runs out at level 9 of 9" in problem.message
    assert "at most 8 tiers" in problem.advice
    assert len(lengths(build(size="small", step="1 1/8", tiers=8))) == 8
    # Nine rods down to 1/2 in, the least round a 3/8 in bore: 8 1/2 / 8 = 1.0625 in.
    assert "a step of at most 1 1/16 in" in problem.advice
    assert lengths(build(size="small", step="1 1/16"))[-1] == pytest.approx(0.5 * INCH, abs=EXACT)


def test_lengths_follow_a_strip_round_pins():
    pins = [[0, 1], [0.5, 0.72], [1, 0.2]]
    spline = CubicSpline(*zip(*pins, strict=True), bc_type="natural")
    found = lengths(build(curve=pins))
    assert found == pytest.approx([12 * INCH * float(spline(step / 11)) for step in range(12)], abs=RULED)
    assert found == pytest.approx([round(length / INCH * 16) / 16 * INCH for length in found], abs=EXACT)


def test_the_centre_rod_goes_through_everything():
    # Base 5/8, foot 1/2, nine rods of 3/4, eight beads of 3/4 between and one on top.
    built = build(size="small", neck="1/4")
    assert built.rods[0].length == pytest.approx((0.625 + 0.5 + 9 * 0.75 + 8 * 0.75 + 0.25 + 0.75) * INCH, abs=EXACT)
    assert dict(built.facts)["stand height"] == pytest.approx(17 * 0.75 * INCH, abs=EXACT)
    assert [(part.name, part.count) for part in built.bought] == [("wooden bead, 3/4 in across", 9)]
    in_socket = build(size="small", neck="1/4", base_socket="3/8")
    assert in_socket.rods[0].length == pytest.approx(built.rods[0].length - 0.25 * INCH, abs=EXACT)


def test_every_rod_is_bored_in_its_middle_and_beads_are_opened():
    built = build(size="small")
    rods = [hole for hole in built.hand_holes if hole.part.startswith("rod ")]
    assert [hole.part for hole in rods] == [f"rod {n}" for n in range(1, 10)]
    assert "its centre 4 1/2 in from either end" in rods[0].note
    beads = built.hand_holes[len(rods) :]
    assert len(beads) == 9
    assert "from 3/16 in to 3/8 in" in beads[0].note
    assert len(build(size="small", bead_bore="3/8").hand_holes) == 9


def test_the_base_has_a_bore_and_a_ring_of_sockets():
    (base,) = build(base_sockets=8, base_socket="3/8").shaped
    assert base.holes[0].depth == 9.525
    assert len(base.holes) == 9
    assert all(math.hypot(*hole.at) == pytest.approx(1.75 * INCH, abs=EXACT) for hole in base.holes[1:])
    assert_sound(base)


@pytest.mark.parametrize(
    ("changes", "key", "told"),
    [
        ({"rod": "3/8"}, "centre_rod", "a centre rod of at most 1/4 in, or rods of at least 1/2 in"),
        ({"bead": "7/16"}, "bead", "beads of at least 1/2 in"),
        ({"base_socket": "5/8"}, "base_socket", "goes through boards 5/8 in thick"),
        ({"base_round": "3/4"}, "base_round", "at most 5/8 in"),
        ({"base_sockets": 6, "socket_ring": "5"}, "socket_ring", "a ring of 3/4 in to 4 1/8 in"),
        ({"shortest": "1/4"}, "shortest", "at least 1/2 in"),
        ({"shortest": "13"}, "shortest", "at most 12 in"),
        ({"curve": [[0, 1], [0.9, 0.0], [1, 0.5]]}, "curve", "pins that stay above 0.042"),
    ],
)
def test_what_cannot_be_made_is_refused_with_what_would_work(changes, key, told):
    problem = only_problem("graded-rods", **changes)
    assert problem.place.endswith(f": {key}")
    assert told in str(problem)


def test_a_rod_lies_in_the_cradle_with_its_centre_level_with_the_edges():
    built = item("drilling-cradle").build
    plate, *cheeks = built.shaped
    # Closed form: two sides at 45 degrees touch a circle of radius r whose centre lies r x root 2 above the corner.
    depth = notch_depth(0.75 * INCH)
    assert depth == pytest.approx(0.375 * INCH * math.sqrt(2), abs=EXACT)
    for cheek in cheeks:
        assert cheek.region.area == pytest.approx(2.75 * 1.5 * INCH**2 - depth**2, rel=1e-12)
        centre = (2.75 * INCH / 2, 1.5 * INCH)
        sides = [
            one for one in cheek.region.outline.segments if abs(one.end[0] - one.start[0]) - depth == pytest.approx(0)
        ]
        assert len(sides) == 2
        for side in sides:
            (x0, y0), (x1, y1) = side.start, side.end
            off = abs((x1 - x0) * (centre[1] - y0) - (y1 - y0) * (centre[0] - x0)) / side.length
            assert off == pytest.approx(0.375 * INCH, abs=EXACT)
    # The dados are as wide as the board and its play, and as far apart as asked.
    first, second = (to_polygon(pocket.region).bounds for pocket in plate.pockets)
    assert first[2] - first[0] == pytest.approx(PICKET + 0.2, abs=EXACT)
    assert second[0] - first[2] == pytest.approx(1.5 * INCH, abs=EXACT)
    assert plate.holes[0].at == pytest.approx((3 * INCH, 1.375 * INCH))


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"hole": "11/16"}, "hole"),
        ({"height": "1"}, "height"),
        ({"width": "1 1/4"}, "width"),
        ({"length": "2"}, "length"),
        ({"apart": "1/4"}, "apart"),
        ({"dado": "9/16", "height": "3"}, "dado"),
    ],
)
def test_a_cradle_without_wood_is_refused(changes, key):
    assert only_problem("drilling-cradle", **changes).place.endswith(f": {key}")


@pytest.mark.parametrize("beads", [0, 1, 3])
def test_beads_fill_the_gaps_between_rods_as_it_stands(beads):
    built = build(size="small", beads=beads, bead="1/2", gap="3/8")
    balls = [stand for stand in built.stands if stand.look == "bead"]
    rods = [stand for stand in built.stands if stand.part.startswith("rod ")]
    assert len(balls) == sum(part.count for part in built.bought) == 8 * beads + 1
    for low, high in itertools.pairwise(rods):
        between = [ball for ball in balls if low.foot < ball.foot < high.foot]
        assert len(between) == beads
        edges = [low.foot + low.thick, *(ball.foot + ball.thick for ball in between)]
        assert [*(ball.foot for ball in between), *([high.foot] if beads else [])] == pytest.approx(
            edges if beads else [], abs=EXACT
        )
    # The top bead ends where the rod does.
    assert balls[-1].foot + balls[-1].thick == pytest.approx(dict(built.facts)["rod length"], abs=EXACT)
