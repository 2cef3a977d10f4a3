import itertools
import math

import pytest

from cutjob.designs.built_in.bundle import star_of_sticks
from cutjob.geometry.polygons import to_polygon
from cutjob.parts.part import Build
from cutjob.units import parse_length

from ..order import EXACT, INCH, PICKET, assert_sound, item, only_problem


def build(**rest) -> Build:
    return item("bundle", **rest).build


def test_laths_have_two_holes_at_a_share_of_their_length():
    built = build(size="small")
    assert [part.name for part in built.shaped] == [f"lath {n}" for n in range(1, 6)]
    for part in built.shaped:
        x0, _, x1, y1 = part.region.bounds
        first, second = part.holes
        assert second.at[0] - first.at[0] == pytest.approx(0.75 * (x1 - x0), abs=EXACT)
        assert first.at[0] == pytest.approx(x1 - second.at[0], abs=EXACT)
        assert first.at[1] == pytest.approx(y1 / 2, abs=EXACT)
        assert dict(built.facts)[f"holes of {part.name}: from either end"] == pytest.approx(first.at[0], abs=EXACT)
        assert_sound(part)


def test_upright_cords_are_as_long_as_what_hangs_on_them():
    built = build(size="small", holes_apart="3", gap="1 1/2")
    hangs = 5 * PICKET + 4 * 1.5 * INCH
    assert dict(built.facts)["hangs from the lowest piece to the highest"] == pytest.approx(hangs, abs=EXACT)
    assert dict(built.facts)["cord, each of two with 6 knots"] == pytest.approx(hangs + (6 + 8) * INCH, abs=EXACT)


def test_leaning_cords_are_longer_by_pythagoras():
    built = build(size="small", holes_share=0.75, gap="1 1/2")
    # Lengths fall by (9 - 4) / 4 = 1 1/4, so each side draws in by half of 0.75 x 1 1/4.
    slant = math.sqrt(1.5**2 + (0.75 * 1.25 / 2) ** 2)
    cord = 5 * PICKET + 4 * slant * INCH + (6 + 8) * INCH
    assert dict(built.facts)["cord, each of two with 6 knots"] == pytest.approx(cord, abs=EXACT)


def test_gaps_close_towards_the_top():
    built = build(gap="2", top_gap="1", star_tips=0)
    feet = [stand.foot for stand in built.stands if stand.part.startswith("lath")]
    gaps = [high - low - PICKET for low, high in itertools.pairwise(feet)]
    # Six gaps from 2 to 1 in steps of 1/5.
    assert gaps == pytest.approx([(2 - 0.2 * step) * INCH for step in range(6)], abs=EXACT)


def test_round_sticks_are_sawn_and_drilled_by_hand():
    built = build(of="sticks", size="small", stick="1/2")
    assert built.shaped == ()
    assert [rod.length for rod in built.rods] == pytest.approx([(9 - 1.25 * n) * INCH for n in range(5)], abs=EXACT)
    assert len(built.hand_holes) == 10
    assert "its centre 1 1/8 in from one end" in built.hand_holes[0].note


@pytest.mark.parametrize(
    ("tips", "skip", "angle"), [(5, 2, 36.0), (6, 2, 60.0), (7, 2, 180 * 3 / 7), (7, 3, 180 / 7), (8, 3, 45.0)]
)
def test_the_joints_of_a_star_of_sticks(tips, skip, angle):
    # Measured on the points themselves, and by the law of cosines.
    across, found = star_of_sticks(tips=tips, skip=skip, stick=100.0)
    at = [
        (across / 2 * math.cos(2 * math.pi * n / tips), across / 2 * math.sin(2 * math.pi * n / tips))
        for n in range(tips)
    ]
    one, two = at[skip], at[-skip]
    assert math.dist(at[0], one) == pytest.approx(100.0, abs=EXACT)
    far = math.dist(one, two)
    measured = math.degrees(math.acos((100.0**2 + 100.0**2 - far**2) / (2 * 100.0 * 100.0)))
    assert found == pytest.approx(measured, abs=1e-6)
    assert found == pytest.approx(angle)


def test_the_star_comes_with_its_angle():
    built = build(star_tips=5, star_stick="6")
    assert sum(part.name.startswith("star lath") for part in built.shaped) == 5
    joint = next(value for key, value in built.facts if "meet at 36 degrees" in key)
    # 5 1/4 in between the joints is a chord of 144 degrees.
    assert joint == pytest.approx(5.25 * INCH / math.sin(math.radians(72)), abs=1e-6)


@pytest.mark.parametrize(
    ("changes", "key", "told"),
    [
        ({"hole": "3/4"}, "hole", "a hole of at most 5/8 in"),
        ({"top_gap": "3"}, "top_gap", "at most 2 in"),
        ({"holes_share": 0.97}, "holes_share", "a share of"),
        ({"holes_apart": "4 7/8"}, "holes_apart", "5/16 in to 4 5/8 in"),
        ({"shortest": "1/2"}, "shortest", "at least 11/16 in"),
        ({"shortest": "14"}, "shortest", "at most 13 in"),
        ({"step": "2 1/2"}, "step", "at level 6 of 7"),
        ({"star_tips": 4}, "star_tips", "at least 5 tips"),
        ({"star_tips": 6, "star_skip": 3}, "star_skip", "skip 2 to 2"),
        ({"star_stick": "1"}, "star_stick", "at least 1 1/2 in"),
    ],
)
def test_what_cannot_be_made_is_refused_with_what_would_work(changes, key, told):
    problem = only_problem("bundle", **changes)
    assert problem.place.endswith(f": {key}")
    assert told in str(problem)


def test_it_hangs_on_cords_with_a_knot_under_every_piece_and_the_star_below():
    built = build(size="large")
    laths = [stand for stand in built.stands if stand.part.startswith("lath")]
    knots = [stand for stand in built.stands if stand.part == "knot"]
    star = [stand for stand in built.stands if stand.part.startswith("star")]
    assert len(knots) == 2 * len(laths)
    shaped = {part.name: part for part in built.shaped}
    for lath in laths:
        holes = [hole.at[0] - lath.centre for hole in shaped[lath.part].holes]
        under = [k for k in knots if abs(k.foot + k.outline.bounds[3] - lath.foot) < EXACT]
        middles = sorted((k.outline.bounds[0] + k.outline.bounds[2]) / 2 for k in under)
        assert middles == pytest.approx(sorted(holes), abs=EXACT)
        # A knot that slips through its hole holds nothing.
        hole = shaped[lath.part].holes[0].diameter
        assert all(k.outline.bounds[2] - k.outline.bounds[0] > hole for k in under)
    assert min(stand.foot + stand.outline.bounds[1] for stand in star) == pytest.approx(0, abs=EXACT)
    top = max(stand.foot + stand.outline.bounds[3] for stand in star)
    assert laths[0].foot - top == pytest.approx(dict(built.facts)["star: cord from the lowest piece to the tip"], abs=3)


def test_the_ends_of_the_stars_laths_meet_in_its_tips():
    built = build(size="large")
    star = [stand for stand in built.stands if stand.part.startswith("star")]
    areas = [to_polygon(stand.outline) for stand in star]
    middle = [sum(area.centroid.x for area in areas) / 5, sum(area.centroid.y for area in areas) / 5]
    tips = [a.intersection(b).centroid for a, b in itertools.combinations(areas, 2)]
    far = sorted(math.dist(middle, (tip.x, tip.y)) for tip in tips)
    # The five inner crossings lie on a circle smaller than the tips' by the golden ratio squared (Euclid XIII.8).
    across = next(value for name, value in built.facts if "across the tips' joints" in name)
    golden = (1 + math.sqrt(5)) / 2
    assert far[:5] == pytest.approx([across / 2 / golden**2] * 5, rel=1e-3)
    assert far[5] > 2 * far[4]


def test_strips_are_sawn_to_length_and_drilled_by_hand():
    built = item("bundle", size="small", of="strips", width="1 in", strip="3/8", star_tips=0).build
    assert built.shaped == built.rods == ()
    assert [strip.section for strip in built.strips] == [pytest.approx((INCH, 0.375 * INCH), abs=EXACT)] * 5
    assert [strip.length for strip in built.strips] == pytest.approx(
        [(9 - 1.25 * n) * INCH for n in range(5)], abs=EXACT
    )
    assert [hole.part for hole in built.hand_holes] == [f"strip {n}" for n in range(1, 6) for _ in range(2)]
    facts = dict(built.facts)
    assert facts["hangs from the lowest piece to the highest"] == pytest.approx((5 * 0.375 + 4 * 1.5) * INCH, abs=EXACT)


def test_holes_by_hand_are_told_as_a_rule_shows_them():
    # A third of 10 in is no sixty-fourth: what is told is the nearest, and the stick stays as it is.
    built = build(of="sticks", size="small", stick="1/2", longest="10", shortest="7", holes_share=1 / 3)
    for rod, first in zip(built.rods, built.hand_holes[::2], strict=True):
        told = first.note.split("its centre ")[1].split(" from one end")[0]
        mm = parse_length(told, unit="in")
        assert "." not in told
        assert abs(mm - rod.length / 3) <= INCH / 128 + EXACT
