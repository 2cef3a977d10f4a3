"""Pockets, counterbores and what overlaps them: a good program passes, and each way of spoiling it is told."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.contour import Contour, Region, circle, polyline, rectangle
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import Counterbore, Hole, Pocket, ShapedPart
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove
from tests.proof import sill
from tests.proof import workshop as ws
from tests.proof.spoil import Lines, Spoil, checks, drop, swap

# Paths are exact but for 4 written decimals, so nothing real may be measured, mm.
EXACT = 2e-4


def machine(pocket_finish: float = sill.LEFT, finish: float = 0.0) -> Machine:
    cutting = ws.router().model_dump()["cutting"]
    return ws.router(cutting={**cutting, "pocket_finish": pocket_finish, "finish": finish})


def judge(lines: Lines, layout: BoardLayout | None = None, router: Machine | None = None) -> ProofReport:
    program = ws.expected(layout or sill.layout(), tabs=())
    return prove({program.file: ws.text(lines)}, programs=[program], drawings=[], machine=router or machine())


def said(report: ProofReport) -> list[str]:
    return [str(finding) for finding in report.findings]


def test_a_sill_with_pockets_passes() -> None:
    report = judge(sill.program())
    assert said(report) == []
    assert max(report.worst_gouge, report.worst_left) <= EXACT


@pytest.mark.parametrize("turn", [90.0, 37.0, 180.0])
def test_pockets_turned_and_mirrored_with_their_part(turn: float) -> None:
    """The part's own frame may be turned or mirrored: what counts is where the placement puts its pockets."""
    own = Transform(degrees=turn, mirrored=True)
    part = sill.sill()
    moved = replace(
        part,
        region=own.region(part.region),
        holes=tuple(replace(hole, at=own.point(hole.at)) for hole in part.holes),
        pockets=tuple(replace(pocket, region=own.region(pocket.region)) for pocket in part.pockets),
    )
    # A turned and mirrored frame, turned by as much and mirrored again, is the first one.
    placement = Placement(
        part=moved, item="porch", unit=1, transform=Transform(degrees=turn, mirrored=True, x=30.0, y=30.0)
    )
    assert said(judge(sill.program(), replace(sill.layout(), placements=(placement,)))) == []


def section(name: str, new: Callable[[], Lines]) -> Spoil:
    """Another section in the place of one."""

    def spoil(lines: Lines) -> Lines:
        begin = lines.index(f"({name})")
        end = next(number for number in range(begin + 1, len(lines)) if lines[number].startswith(("(", "M")))
        return [*lines[:begin], *new(), *lines[end:]]

    return spoil


def last(name: str) -> Spoil:
    """A section behind everything else."""

    def spoil(lines: Lines) -> Lines:
        begin = lines.index(f"({name})")
        end = next(number for number in range(begin + 1, len(lines)) if lines[number].startswith(("(", "M")))
        rest, tail = lines[:begin] + lines[end:], len(ws.tail())
        return rest[:-tail] + lines[begin:end] + rest[-tail:]

    return spoil


def shifted(box: sill.Box, dx: float) -> sill.Box:
    return box[0] + dx, box[1], box[2] + dx, box[3]


SPOILED: list[tuple[str, Spoil, str, str]] = [
    ("a tray shifted into its wall by 0.02", section("tray", lambda: sill.tray(shifted(sill.TRAY, 0.02))), "gouge",
     "cuts 0.020 mm into"),
    ("an island cut 0.02 too small", section("tray", lambda: sill.tray(island=sill.inset(sill.ISLAND, 0.02))),
     "gouge", "cuts 0.020 mm into"),
    ("an island left 0.02 too large", section("tray", lambda: sill.tray(island=sill.inset(sill.ISLAND, -0.02))),
     "wood left", "up to 0.020 mm beyond"),
    ("a tray too deep by 0.02", section("tray", lambda: sill.tray(levels=(-3.0, -6.02))), "gouge",
     "0.020 mm below the floor"),
    ("a tray too shallow by 0.02", section("tray", lambda: sill.tray(levels=(-3.0, -5.98))), "missing", "pocket 1"),
    ("a tray in one pass", section("tray", lambda: sill.tray(levels=(-6.0,))), "depth per pass", "6.00 mm"),
    ("a recess too narrow by 0.02", section("recess", lambda: sill.recess((36.0, 60.0, 59.98, 84.0))), "wood left",
     "wall of the pocket 2"),
    ("a recess too wide by 0.02", section("recess", lambda: sill.recess((36.0, 60.0, 60.02, 84.0))), "gouge", "0.020"),
    ("a recess deeper than stated, where the tray is not", section("recess", lambda: sill.recess(z=-3.5)), "gouge",
     "0.500 mm below the floor"),
    ("a dado stopped short of the edge", section("dado", lambda: sill.dado(past=-1.0)), "wood left", "pocket 3"),
    ("a dado without its wall passes", drop("^G1 Y93.1"), "wood left", "wall of the pocket 3"),
    ("a dado as deep as the mortise in it", section("dado", lambda: sill.dado(levels=(-4.0, -8.0))), "gouge",
     "below the floor"),
    ("a mortise no deeper than the dado", section("mortise", lambda: sill.mortise(levels=(-2.5, -5.0))), "missing",
     "pocket 4"),
    ("no tray", section("tray", list), "missing", "pocket 1"),
    ("no dado", section("dado", list), "missing", "pocket 3"),
    ("no counterbore", section("counterbore", list), "missing", "blind hole 2"),
    ("a counterbore too deep", lambda lines: swap("Z-4 ", "Z-4.1 ")(lines), "gouge", "below the floor"),
    ("no screw hole", section("screw hole", list), "missing", "hole 3"),
    ("no hole in the tray", section("hole", list), "missing", "hole 1"),
    ("a hole beside its place", section("hole", lambda: ws.bore(68.05, 51.0, 1.0, ws.DEPTHS[-1], pitch=1.0)), "gouge",
     "0.050"),
    ("a rapid through an island", lambda lines: [*lines[:-3], *ws.over(45, 51), "G1 Z-6 F300", "G1 X61 F1200",
     *lines[-3:]], "gouge", "into"),
    ("tray after the outline", last("tray"), "order", "pocket 1"),
    ("dado after the outline", last("dado"), "order", "pocket 3"),
    ("counterbore after the outline", last("counterbore"), "order", "blind hole 2"),
]  # fmt: skip


@pytest.mark.parametrize(("spoil", "check", "says"), [case[1:] for case in SPOILED], ids=[case[0] for case in SPOILED])
def test_a_spoiled_program_is_rejected(spoil: Spoil, check: str, says: str) -> None:
    good = sill.program()
    bad = spoil(good)
    assert bad != good
    report = judge(bad)
    assert not report.passed
    found = [str(finding) for finding in report.findings if finding.check == check and finding.severity == "error"]
    assert any(says in message for message in found), said(report)


def test_a_recess_is_told_by_its_place_and_height_where_wood_stands_on_its_floor() -> None:
    rows = sill.rows(sill.inset(sill.RECESS, sill.R + sill.LEFT), (-3.0,))
    # Five rows in the middle are left out: 14.4 mm between the two beside them, of which the cutter takes 6.
    y0, y1 = sill.RECESS[1] + 3.3, sill.RECESS[3] - 3.3
    kept = rows[: 6 * 2] + rows[6 * 7 :]
    lines = ["(recess)", *kept, *sill.wall(sill.inset(sill.RECESS, 3.0), -3.0)]
    report = judge(section("recess", lambda: lines)(sill.program()))
    (finding,) = report.findings
    assert finding.check == "wood left"
    assert finding.measured == pytest.approx(3.0)
    assert finding.at is not None
    step = (y1 - y0) / 8
    # From a radius above the second row to a radius below the eighth, between what the wall passes take.
    assert 36 + 6 < finding.at[0] < 60 - 6
    low, high = y0 + step + 3, y0 + 7 * step - 3
    assert low < finding.at[1] < high
    area = float(finding.message.split(" mm2")[0])
    # The wall passes are 0.3 mm apart from the rough ones, and both sweep to 6 mm off the walls or a little more.
    assert area == pytest.approx((24 - 2 * 6.3) * (high - low), rel=0.02)


def test_walls_may_be_left_to_a_last_pass_only_by_as_much_as_the_profile_says() -> None:
    assert judge(sill.program(), router=machine(0.3)).passed
    assert judge(sill.program(), router=machine(0.295)).passed  # within the acceptance
    for allowed in (0.0, 0.28):
        assert checks(judge(sill.program(), router=machine(allowed))) == {"depth per pass"}


def test_a_drill_bit_in_a_tray_does_not_ask_for_its_own_corners() -> None:
    """A thinner cutter that stops at the depth of a pocket, over a hole in its floor, is no cutter of that pocket."""
    profile = ws.router().model_dump()
    thin = {**profile["cutter"][0], "number": 2, "name": "thin cutter 3", "diameter": 3.0}
    router = ws.router(cutter=[*profile["cutter"], thin], controller={"tool_change": "changer", "tool_length": "table"})
    router = Machine.model_validate({**router.model_dump(), "cutting": machine().model_dump()["cutting"]})
    part = replace(sill.sill(), holes=(*sill.sill().holes, Hole(at=(18.0, 14.0), diameter=3.0)))
    drilled = [*ws.over(48.0, 44.0)]
    for depth in (-3.0, -6.0, -9.0, ws.DEPTHS[-1]):
        drilled += [f"G1 Z{ws.num(depth)} F300", "G0 Z1"]
    change = ["G0 Z5", "M5", "T2 M6", "G43 H2", "G0 Z5", "S12000 M3", "G4 P3"]
    first = ["G21", "G17", "G90", "G94", "T1 M6", "G43 H1", "G0 Z5", "S12000 M3", "G4 P3", "F1200"]
    back = ["G0 Z5", "M5", "T1 M6", "G43 H1", "G0 Z5", "S12000 M3", "G4 P3"]
    lines = [*first, *sill.inner(), *change, *drilled, *back, *sill.outline(), *ws.tail()]
    program = ws.expected(sill.layout(part), tabs=(), cutters=router.cutter)
    report = prove({program.file: ws.text(lines)}, programs=[program], drawings=[], machine=router)
    assert said(report) == []


def placed(part: ShapedPart) -> BoardLayout:
    placement = Placement(part=part, item="porch", unit=1, transform=Transform(x=30.0, y=30.0))
    return replace(sill.layout(), placements=(placement,))


def one_pocket(pocket: Pocket) -> BoardLayout:
    return placed(ShapedPart(name="block", region=Region(rectangle(100.0, 60.0)), pockets=(pocket,)))


def test_a_part_cut_on_the_inside_of_its_outline() -> None:
    """A cutter's radius inside, and straight down there: as near to the edge as the right way is, but in the part."""
    layout = placed(ShapedPart(name="block", region=Region(rectangle(100.0, 60.0))))
    lines = [*ws.over(33, 60)]
    for depth in ws.DEPTHS:
        lines += [f"G1 Z{ws.num(depth)} F300", "G1 Y87 F1200", "G1 X127", "G1 Y33", "G1 X33", "G1 Y60"]
    report = judge(sill.program([*lines, "G0 Z5"]), layout)
    assert "gouge" in checks(report)
    assert report.worst_gouge == pytest.approx(6.0, abs=0.02)  # all of the cutter's width


def test_a_slot_exactly_as_wide_as_the_cutter() -> None:
    layout = one_pocket(Pocket(region=Region(polyline([(20, 20), (60, 20), (60, 26), (20, 26)])), depth=4.0))
    slot = [*ws.over(53, 53), "G1 Z0 F300", "G1 X87 Z-4", "G1 X53 F1200", "G0 Z5"]
    assert said(judge(sill.program(slot, sill.outline()), layout)) == []
    half = [*ws.over(53, 53), "G1 Z0 F300", "G1 X70 Z-4", "G1 X53 F1200", "G0 Z5"]
    assert checks(judge(sill.program(half, sill.outline()), layout)) == {"wood left"}
    aside = [*ws.over(53, 53.02), "G1 Z0 F300", "G1 X87 Z-4", "G1 X53 F1200", "G0 Z5"]
    assert {"gouge", "wood left"} <= checks(judge(sill.program(aside, sill.outline()), layout))


def test_a_branch_too_narrow_for_the_cutter_is_no_inside_corner() -> None:
    """A pocket of 20 x 20 with an arm 4 mm wide, which a cutter of 6 doesn't get into."""
    shape = [(20, 20), (40, 20), (40, 28), (60, 28), (60, 32), (40, 32), (40, 40), (20, 40)]
    layout = one_pocket(Pocket(region=Region(polyline([(float(x), float(y)) for x, y in shape])), depth=4.0))
    box = (50.0, 50.0, 70.0, 70.0)
    lines = [*sill.rows(sill.inset(box, 3.3), (-4.0,)), *sill.wall(sill.inset(box, 3.0), -4.0)]
    # Into the mouth of the arm as far as its corners let the cutter: 3 mm round each.
    lines += [*ws.over(67.0, 58.0), "G1 Z-4 F300", "G2 X67.7639 Y60 I3 J0 F1200", "G2 X67 Y62 I2.2361 J2", "G0 Z5"]
    report = judge(sill.program(lines, sill.outline()), layout)
    assert checks(report) == {"wood left"}
    (finding,) = report.findings
    assert "doesn't get in" in finding.message
    assert finding.at is not None
    assert 70 < finding.at[0] < 90
    # The arm is 20 x 4, less what the cutter bulges into its mouth: at most 3 - sqrt(9 - 4) mm.
    assert 80 - 4 * (3 - math.sqrt(5)) < float(finding.message.split(" mm2")[0]) < 80


def test_a_wide_hole_under_a_counterbore_leaves_no_floor_in_the_middle() -> None:
    """A ring 3 mm wide is the whole floor; the plug in the hole is never cut, and drops out."""
    bored = Hole(at=(50.0, 30.0), diameter=30.0, counterbore=Counterbore(diameter=36.0, depth=4.0))
    part = ShapedPart(name="block", region=Region(rectangle(100.0, 60.0)), holes=(bored,))
    layout = placed(part)
    wide = ring(80, 60, 15.0, 0.0, -4.0)
    levels = (0.0, -4.2, -8.3, ws.DEPTHS[-1])
    through = [line for low, high in pairwise(levels) for line in ring(80, 60, 12.0, low, high)]
    assert said(judge(sill.program(wide, through, sill.outline()), layout)) == []
    narrow = ring(80, 60, 14.9, 0.0, -4.0)
    assert checks(judge(sill.program(narrow, through, sill.outline()), layout)) == {"wood left"}
    assert "missing" in checks(judge(sill.program(through, sill.outline()), layout))


def ring(x: float, y: float, radius: float, top: float, bottom: float) -> Lines:
    """Once round on a helix, and once more at its depth."""
    lines = [*ws.over(x + radius, y), f"G1 Z{ws.num(top)} F300"]
    lines += [f"G3 X{ws.num(x + radius)} Y{ws.num(y)} Z{ws.num(bottom)} I{ws.num(-radius)} J0"]
    return [*lines, f"G3 X{ws.num(x + radius)} Y{ws.num(y)} I{ws.num(-radius)} J0 F{ws.inside_feed(radius)}", "G0 Z5"]


def test_a_round_pocket_with_an_opening_in_it_and_one_across_its_wall() -> None:
    """The floor ends where an opening is; its wall is none there."""
    part = ShapedPart(
        name="block",
        region=Region(rectangle(100.0, 60.0), (circle((50.0, 30.0), 6.0), circle((66.0, 30.0), 5.0))),
        pockets=(Pocket(region=Region(circle((50.0, 30.0), 16.0)), depth=4.0),),
    )
    layout = placed(part)
    pocket = [line for radius in (10.5, 13.0) for line in ring(80, 60, radius, 0.0, -4.0)]
    middle = [line for radius in (2.5, 5.0, 7.5) for line in ring(80, 60, radius, 0.0, -4.0)]
    openings: Lines = []
    for x, radius in ((80, 3.0), (96, 2.0)):
        for low, high in ((0.0, -4.0), (-4.0, -8.0), (-8.0, ws.DEPTHS[-1])):
            openings += ring(x, 60, radius, low, high)
    assert said(judge(sill.program(pocket, middle, openings, sill.outline()), layout)) == []
    # What the openings' cuts take at the pocket's depth is taken too: only the floor between must be cleared as such.
    assert said(judge(sill.program(pocket, middle[-6:], openings, sill.outline()), layout)) == []
    assert checks(judge(sill.program(pocket[-6:], openings, sill.outline()), layout)) == {"wood left"}


@given(
    x=st.floats(14, 26), y=st.floats(14, 26), degrees=st.floats(0, 90), off=st.sampled_from([0.0, 0.02, -0.02]),
    side=st.sampled_from(["wall", "depth"]),
)  # fmt: skip
@settings(max_examples=20, deadline=None)
def test_a_pocket_anywhere_is_judged_to_a_hundredth(x: float, y: float, degrees: float, off: float, side: str) -> None:
    """A turned square of 20, rough ways as rings 2.4 apart; walls or floor off by a fiftieth, or not."""
    middle = (x + 24.0, y + 10.0)
    part = ShapedPart(
        name="block", region=Region(rectangle(100.0, 60.0)),
        pockets=(Pocket(region=Region(square(middle, 10.0, degrees)), depth=4.0),),
    )  # fmt: skip
    layout = placed(part)
    at = (middle[0] + 30, middle[1] + 30)
    z = -4.0 - (off if side == "depth" else 0.0)
    lines: Lines = []
    for number, half in enumerate((2.0, 4.4, 7.0 + (off if side == "wall" else 0.0))):
        corners = [segment.start for segment in square(at, half, degrees).segments]
        lines += ws.over(*corners[0]) if number == 0 else []
        lines += ["G1 Z0 F300", *(go(corner, -2.0 * step) for step, corner in enumerate(corners[1:3], start=1))]
        lines[-2:] = [go(corners[1], z / 2), go(corners[0], z)] if number == 0 else []
        if number > 0:
            lines[-1:] = []
        lines += [f"{go(corners[0], z)} F1200", *(go(corner, z) for corner in (*corners[1:], corners[0]))]
    found = judge(sill.program([*lines, "G0 Z5"], sill.outline()), layout)
    if off == 0:
        assert said(found) == []
    else:
        assert not found.passed
        assert checks(found) <= {"gouge", "wood left", "missing"}, said(found)
        assert ("gouge" in checks(found)) == (off > 0)


def go(point: tuple[float, float], z: float) -> str:
    return f"G1 X{point[0]:.4f} Y{point[1]:.4f} Z{z:.4f}"


def square(middle: tuple[float, float], half: float, degrees: float) -> Contour:
    turned = [ws.turned((half * a, half * b), degrees) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    return polyline([(middle[0] + px, middle[1] + py) for px, py in turned])
