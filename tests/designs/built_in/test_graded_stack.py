import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline
from shapely import LineString

from cutjob.designs.built_in.graded_base import Edges, piece_region
from cutjob.errors import InputError
from cutjob.geometry.transform import Transform
from cutjob.parts.part import Build
from cutjob.tolerances import TOLERANCES
from cutjob.units import parse_length

from ..order import EXACT, INCH, PICKET, assert_sound, item, off_outline, only_problem, problems, wood

BOTTOM = ((0.0, 0.0), (0.55, 0.1), (1.0, 0.34))
TOP = ((0.0, 1.0), (0.5, 0.82), (1.0, 0.62))


CENTRE_LINE = LineString([(0, -1000), (0, 1000)])


def build(**rest) -> Build:
    return item("graded-stack", **rest).build


def pieces(built: Build):
    return [part for part in built.shaped if part.name.startswith("piece ")]


# The measures.


def test_a_known_stack_stands_27_and_7_eighths_high():
    # Common practice, no source: eleven pieces, 20 down to 4 1/4 long, 2 1/4 down to 1 high, 1 apart.
    # Heights come to 11 x (2 1/4 + 1) / 2 = 17 7/8, gaps to 10.
    built = build(tiers=11, longest="20", shortest="4 1/4", tallest="2 1/4", least_height="1", gap="1", base=[])
    facts = dict(built.facts)
    assert facts["stand height"] == pytest.approx(27.875 * INCH, abs=EXACT)
    boxes = [part.region.bounds for part in pieces(built)]
    assert len(boxes) == 11
    assert boxes[0][2] - boxes[0][0] == pytest.approx(20 * INCH, abs=EXACT)
    assert boxes[-1][2] - boxes[-1][0] == pytest.approx(4.25 * INCH, abs=EXACT)
    lengths = [box[2] - box[0] for box in boxes]
    assert np.diff(lengths) == pytest.approx([-1.575 * INCH] * 10, abs=EXACT)
    assert [hole.depth for hole in built.hand_holes][:11] == pytest.approx(
        [(2.25 - 0.125 * level) * INCH for level in range(11)], abs=EXACT
    )


def test_the_rod_is_as_long_as_all_it_goes_through():
    built = build(
        tiers=3, tallest=2, least_height=1, gap=1, foot="3/4", neck="1/2", base=["8", "6"], socket="5/8", topper="round"
    )
    # Heights 2 + 1 1/2 + 1 and two gaps; two boards of 5/8; foot, neck and socket.
    assert dict(built.facts)["stand height"] == pytest.approx(6.5 * INCH, abs=EXACT)
    (rod,) = built.rods
    assert rod.length == pytest.approx((6.5 + 1.25 + 0.75 + 0.5 + 0.625) * INCH, abs=EXACT)
    assert dict(built.facts)["rod length"] == rod.length
    assert [part.name for part in built.sawn] == ["base 1", "base 2"]
    assert [part.length for part in built.sawn] == pytest.approx([8 * INCH, 6 * INCH], abs=EXACT)
    (drilled,) = [hole for hole in built.hand_holes if hole.part == "base"]
    assert (drilled.diameter, drilled.depth) == (pytest.approx(3 / 8 * INCH, abs=EXACT), None)


def test_flat_pieces_count_the_boards_and_are_bored_by_the_machine():
    built = build(stands="flat", tiers=4, gap=1, topper="none", base=[], foot=0, neck=0)
    assert dict(built.facts)["stand height"] == pytest.approx(4 * PICKET + 3 * INCH, abs=EXACT)
    assert built.hand_holes == ()
    assert built.rods[0].length == dict(built.facts)["stand height"]
    for part in pieces(built):
        (hole,) = part.holes
        (_, low, _, _) = part.region.bounds
        high = wood(part).intersection(CENTRE_LINE).bounds[3]
        assert hole.at == pytest.approx((0.0, (low + high) / 2), abs=2 * TOLERANCES.curve)
        assert hole.depth is None
        assert hole.diameter == pytest.approx(0.375 * INCH, abs=EXACT)
        assert_sound(part)


def test_standing_pieces_are_drilled_by_hand_through_their_height():
    built = build(topper="star", socket="1/2")
    assert [hole.part for hole in built.hand_holes] == [f"piece {n}" for n in range(1, 8)] + ["topper", "base"]
    for part, hole in zip(pieces(built), built.hand_holes, strict=False):
        low, high = wood(part).intersection(CENTRE_LINE).bounds[1::2]
        assert part.holes == ()
        assert hole.depth == pytest.approx(high - low, abs=2 * TOLERANCES.curve)
        assert "clamp the piece on edge" in hole.note
    assert built.hand_holes[-2].depth == 0.5 * INCH


def test_the_bore_may_be_wider_than_the_rod():
    built = build(bore="7/16", rod="3/8", topper="star")
    assert built.rods[0].diameter == pytest.approx(0.375 * INCH, abs=EXACT)
    assert built.hand_holes[0].diameter == pytest.approx(0.4375 * INCH, abs=EXACT)
    assert built.hand_holes[-1].diameter == built.rods[0].diameter


def test_flat_toppers_have_a_blind_hole():
    built = build(stands="flat", topper="round", topper_diameter=3, socket="1/2")
    (hole,) = built.shaped[-1].holes
    assert (built.shaped[-1].name, hole.depth) == ("topper", 0.5 * INCH)
    problem = only_problem("graded-stack", stands="flat", topper="round", socket="5/8")
    assert "goes through boards 5/8 in thick" in problem.message
    assert "thicker boards" in problem.advice


def test_one_piece_is_the_longest():
    built = build(tiers=1, longest=12)
    assert pieces(built)[0].region.bounds[2] == pytest.approx(6 * INCH, abs=EXACT)
    assert dict(built.facts)["stand height"] == pytest.approx(2 * INCH, abs=EXACT)


def test_a_centre_mark_lies_on_the_centre_line_within_the_piece():
    built = build(centre_mark=True)
    for part in pieces(built):
        ((line,),) = [mark.path for mark in part.marks]
        assert (line.start[0], line.end[0]) == (0.0, 0.0)
        low, high = wood(part).intersection(CENTRE_LINE).bounds[1::2]
        # A cutter of 3/8 in that runs along it leaves the edge whole.
        assert low + 3 / 16 * INCH < line.start[1] < line.end[1] < (low + high) / 2
    assert all(part.marks == () for part in build().shaped)
    assert "centre_mark" in only_problem("graded-stack", stands="flat", centre_mark=True).place


# The curves.


@pytest.mark.parametrize(("length", "height"), [(508.0, 57.15), (101.6, 25.4)])
def test_the_edges_pass_their_pins_and_follow_the_natural_spline(length, height):
    region = piece_region(Edges(bottom=BOTTOM, top=TOP), length=length, height=height, deviation=TOLERANCES.curve)
    for pins in (BOTTOM, TOP):
        x = [along * length / 2 for along, _ in pins]
        y = [share * height for _, share in pins]
        mirrored_x, mirrored_y = [-one for one in x[:0:-1]] + x, y[:0:-1] + y
        # SciPy's natural cubic spline, a general-purpose reference.
        spline = CubicSpline(mirrored_x, mirrored_y, bc_type="natural")
        for at in (*mirrored_x, *np.linspace(-length / 2, length / 2, 101)):
            assert off_outline(region, (float(at), float(spline(at)))) <= TOLERANCES.curve + EXACT


def test_pieces_are_the_same_on_both_sides():
    for part in pieces(build()):
        points = {(round(x, 9) + 0.0, round(y, 9) + 0.0) for x, y in part.region.outline.points(0.01)}
        ends = {segment.start for segment in part.region.outline.segments}
        assert {(round(-x, 9) + 0.0, round(y, 9) + 0.0) for x, y in ends} <= points
        assert part.region.bounds[0] == -part.region.bounds[2]


def test_straight_edges_stay_straight_and_exact():
    part = build(bottom=[[0, 0], [1, 0]], top=[[0, 1], [1, 1]]).shaped[0]
    assert len(part.region.outline.segments) == 4
    assert part.region.area == pytest.approx(14 * 2 * INCH**2, rel=1e-12)
    assert part.deviation == 0.0
    assert build().shaped[0].deviation == TOLERANCES.curve


def test_edges_may_meet_in_a_point():
    built = build(bottom=[[0, 0], [1, 0.5]], top=[[0, 1], [1, 0.5]])
    for part in pieces(built):
        assert_sound(part)
        tips = [segment.start for segment in part.region.outline.segments if segment.start[0] == part.region.bounds[2]]
        assert tips == [pytest.approx((part.region.bounds[2], part.region.bounds[3] / 2), abs=TOLERANCES.curve)]


@pytest.mark.parametrize(
    ("bottom", "top", "told"),
    [
        ([[0, 0], [1, 0]], [[0, 1], [0.5, 0.02], [1, 0.5]], "falls below"),
        ([[0, 0.5], [1, 0]], [[0, 0.5], [1, 1]], "meets the bottom edge 0 in from the centre"),
        ([[0, 0], [1, 0.6]], [[0, 1], [1, 0.5]], "falls below the bottom edge 7 in from the centre of piece 1"),
        ([[0, 0], [0.8, 0.5], [1, 0.5]], [[0, 1], [0.8, 0.51], [1, 0.51]], "the bottom edge"),
    ],
)
def test_edges_that_leave_no_wood_are_refused_with_the_place(bottom, top, told):
    problem = only_problem("graded-stack", bottom=bottom, top=top)
    assert told in problem.message
    assert problem.place.endswith(": top")


def test_pieces_that_run_into_each_other_are_warned_of():
    drooping = {"bottom": [[0, 0.6], [1, 0]], "top": [[0, 1], [1, 0.4]]}
    assert build(gap=2, **drooping).warnings == ()
    upswept = {"bottom": [[0, 0], [1, 0]], "top": [[0, 0.4], [1, 1]]}
    (warning,) = build(gap="1/4", tiers=3, topper="none", **upswept).warnings
    assert warning.startswith("piece 2 hits piece 1")
    wider = warning.partition("a gap of at least ")[2].partition(" keeps")[0]
    assert build(gap=wider, tiers=3, topper="none", **upswept).warnings == ()


def test_a_star_that_reaches_into_the_top_piece_is_warned_of():
    star = {"topper": "star", "topper_diameter": 4, "tiers": 2}
    (warning,) = build(neck=0, **star).warnings
    assert warning.startswith("the topper hits piece 2")
    enough = warning.partition("a neck of at least ")[2].partition(" keeps")[0]
    assert build(neck=enough, **star).warnings == ()
    # The points of a star of five hang below the notch by R cos 36 - r, here 2 (0.809 - 0.5) in.
    straight = {"bottom": [[0, 0], [1, 0]], "top": [[0, 1], [1, 1]]}
    assert build(neck="0.619", **star, **straight).warnings == ()
    assert build(neck="0.617", **star, **straight).warnings != ()


# What can't be built.


def test_a_step_that_runs_out_says_the_level_and_what_would_work():
    # 9 - 8 x 1 1/8 = 0.
    problem = only_problem("graded-stack", tiers=9, longest="9", step="1 1/8")
    assert problem.place.endswith(": step")
    assert problem.message == (
        "a fixed step of 1 1/8 in from 9 in runs out at level 9 of 9 (9 in - 8 x 1 1/8 in = 0 in)"
    )
    assert problem.advice == ("take at most 8 tiers, a step of at most 1 1/16 in, or a longest of at least 9 1/2 in")
    for change in ({"tiers": 8}, {"step": "1 1/16"}, {"longest": "9 1/2"}):
        built = build(**{"tiers": 9, "longest": "9", "step": "1 1/8", **change})
        assert all(part.region.bounds[2] > 0 for part in built.shaped)
    for change in ({"tiers": 9}, {"step": "1 5/64"}, {"longest": "9 31/64"}):
        assert problems("graded-stack", **{"tiers": 9, "longest": "9", "step": "1 1/8", **change})


def test_a_step_may_leave_too_little_before_it_runs_out():
    problem = only_problem("graded-stack", tiers=9, longest="9 3/8", step="1 1/8")
    assert "leaves no wood beside the bore at level 9 of 9 (9 3/8 in - 8 x 1 1/8 in = 3/8 in)" in problem.message


@given(tiers=st.integers(2, 30), longest=st.integers(15, 600), step=st.integers(0, 100), bore=st.integers(2, 14))
@settings(max_examples=50, deadline=None)
def test_advice_on_a_step_is_advice_that_works(tiers, longest, step, bore):
    values = {"unit": "mm", "tiers": tiers, "longest": longest, "step": step, "bore": bore, "topper": "none"}
    straight = {"base": [], "bottom": [[0, 0], [1, 0]], "top": [[0, 1], [1, 1]]}
    try:
        built = build(**values, **straight)
    except InputError as error:
        (problem,) = error.problems
    else:
        assert len(built.shaped) == tiers
        assert all(2 * part.region.bounds[2] >= bore + INCH / 8 - 1e-5 for part in built.shaped)
        return
    if "step" not in problem.place:
        assert longest < bore + INCH / 8
        return
    words = problem.advice
    fewer = int(words.partition("at most ")[2].partition(" tiers")[0])
    smaller = parse_length(words.partition("a step of at most ")[2].partition(",")[0], unit="mm")
    longer = parse_length(words.partition("a longest of at least ")[2], unit="mm")
    for change in ({"tiers": fewer}, {"step": smaller}, {"longest": longer}):
        if change.get("longest", 0) <= 3000:
            assert build(**{**values, **change}, **straight).shaped
    assert problems("graded-stack", **{**values, "tiers": fewer + 1}, **straight)


@pytest.mark.parametrize(
    ("changes", "key", "told"),
    [
        ({"bore": "5/8", "rod": "3/8"}, "bore", "a bore of at most 1/2 in, thicker boards"),
        ({"rod": "1/2"}, "rod", "a rod of at most 3/8 in"),
        ({"shortest": "15"}, "shortest", "more than the longest, 14 in"),
        ({"shortest": "7/16"}, "shortest", "at least 1/2 in"),
        ({"least_height": "3"}, "least_height", "more than the tallest, 2 in"),
        ({"longest": "5/8", "step": 0, "bore": "9/16"}, "longest", "at least 11/16 in"),
        ({"base": ["8", "7/16"]}, "base", "piece 2, 7/16 in, leaves no wood"),
        ({"base_width": "7/16"}, "base_width", "7/16 in leaves no wood beside the rod"),
        ({"base": [], "base_width": "7"}, "base_width", "there is no base"),
        ({"stands": "flat", "bore": "1 1/2", "topper": "none"}, "bore", "piece 7 at its centre, 1 1/4 in high"),
        (
            {"topper": "round", "topper_diameter": "1", "socket": "31/32", "bore": "1/4"},
            "socket",
            "goes through the wood above it",
        ),
        (
            {"topper": "star", "topper_diameter": "1", "topper_ratio": 0.3, "socket": "1/8"},
            "topper_diameter",
            "notches",
        ),
        ({"topper": "star", "topper_ratio": 0.9}, "topper_ratio", "a ratio of at most 0.792, or more topper_points"),
    ],
)
def test_what_cannot_be_built_is_refused_with_what_would_work(changes, key, told):
    problem = only_problem("graded-stack", **changes)
    assert problem.place.endswith(f": {key}")
    assert told in f"{problem.message}; {problem.advice}"


def test_thin_walls_beside_the_bore_are_warned_of():
    (warning,) = build(bore="17/32", rod="3/8").warnings
    assert "only 3/64 in of wood" in warning
    (flat,) = build(stands="flat", bore="1 3/16", rod="3/8", longest=20, shortest=8, topper="none").warnings
    assert "mm of wood in piece 7" in flat


def test_mistakes_of_series_edges_and_topper_come_together():
    found = problems("graded-stack", tiers=9, longest="9", step="1 1/8", rod="1/2", topper="star", topper_ratio=0.9)
    assert [problem.place.rpartition(": ")[2] for problem in found] == ["step", "rod", "topper_ratio"]


# Whatever is asked for.


@st.composite
def edge(draw, *, low: int, high: int):
    """Pins at twentieths of the half length, at twentieths `low` to `high` of the height."""
    inner = draw(st.lists(st.integers(1, 19), max_size=4, unique=True))
    return [[along / 20, draw(st.integers(low, high)) / 20] for along in [0, *sorted(inner), 20]]


@st.composite
def wishes(draw, *, wild: bool):
    """Values that may be anything, or ones a stack can mostly be built from."""
    longest, tallest, tiers = draw(st.integers(60, 600)), draw(st.integers(25, 90)), draw(st.integers(1, 4))
    return {
        "stands": draw(st.sampled_from(["on edge", "flat"])),
        "tiers": tiers,
        "longest": longest,
        "step": draw(st.integers(0, 80) if wild else st.integers(0, (longest - 30) // 4)),
        "tallest": tallest,
        "least_height": draw(st.integers(5, 90) if wild else st.integers(25, tallest)),
        "bore": draw(st.integers(2, 20) if wild else st.integers(4, 12)),
        "bottom": draw(edge(low=0, high=20 if wild else 5)),
        "top": draw(edge(low=0 if wild else 13, high=20)),
        "topper": draw(st.sampled_from(["none", "star", "round"])),
        "topper_diameter": draw(st.integers(20, 120) if wild else st.integers(50, 120)),
        "socket": draw(st.integers(3, 30) if wild else st.integers(3, 13)),
    }


@given(st.one_of(wishes(wild=False), wishes(wild=False), wishes(wild=True)))
@settings(max_examples=30, deadline=None)
def test_every_wish_is_refused_or_gives_sound_symmetric_parts(values):
    try:
        built = build(unit="mm", **values)
    except InputError:
        return
    assert len(pieces(built)) == values["tiers"]
    for part in built.shaped:
        assert_sound(part)
        assert part.region.bounds[0] == pytest.approx(-part.region.bounds[2], abs=EXACT)
    for part in pieces(built):
        mirrored = Transform(mirrored=True).region(part.region)
        assert mirrored.area == pytest.approx(part.region.area, rel=1e-12)
        for segment in mirrored.outline.segments:
            assert off_outline(part.region, segment.point_at(0.5)) < 1e-6
    assert built.rods[0].length >= dict(built.facts)["stand height"] > 0


@given(
    tiers=st.integers(1, 5), longest=st.fractions(6, 20, max_denominator=64), gap=st.fractions(0, 3, max_denominator=64)
)
@settings(max_examples=15, deadline=None)
def test_lengths_in_inches_equal_those_in_mm(tiers, longest, gap):
    def words(value) -> str:
        whole, rest = divmod(value, 1)
        return f"{whole} {rest.numerator}/{rest.denominator}" if rest else str(whole)

    inches = build(unit="in", tiers=tiers, longest=words(longest), gap=words(gap))
    in_mm = {name: f"{float(inch * 254 / 10)} mm" for name, inch in (("longest", longest), ("gap", gap))}
    mm = build(unit="in", tiers=tiers, **in_mm)
    assert dict(inches.facts) == pytest.approx(dict(mm.facts), abs=EXACT)
    for a, b in zip(inches.shaped, mm.shaped, strict=True):
        assert a.region.bounds == pytest.approx(b.region.bounds, abs=1e-6)
        assert a.region.area == pytest.approx(b.region.area, rel=1e-6)
