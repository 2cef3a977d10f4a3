"""A last pass at full depth after rough ones, a skin under parts, and the order of cuts with both and with windows."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutjob.geometry.contour import Region, circle, polyline, rectangle
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout, Placement, Window
from cutjob.parts.part import Hole, ShapedPart
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove
from tests.proof import sill
from tests.proof import workshop as ws
from tests.proof.spoil import Lines, checks

ROUGH = (-4.0, -8.0, -11.8)
FULL = ws.DEPTHS[-1]
HELD = (-4.0, -8.0, -11.6)  # down to a skin of 0.4


def machine(finish: float = 0.3) -> Machine:
    cutting = {**ws.router().model_dump()["cutting"], "finish": finish, "pocket_finish": sill.LEFT}
    return ws.router(cutting=cutting, controller={"decimals": 4})


def judge(*sections: Lines, finish: float = 0.3, **changes: object) -> ProofReport:
    program = ws.expected(sill.layout(), **{"tabs": (), **changes})
    data = ws.text(sill.program(*sections))
    return prove({program.file: data}, programs=[program], drawings=[], machine=machine(finish))


def said(report: ProofReport) -> list[str]:
    return [str(finding) for finding in report.findings]


def rough(levels: tuple[float, ...] = ROUGH, off: float = 0.3) -> Lines:
    return sill.outline(levels, off=off, name="rough")


def last() -> Lines:
    return sill.outline((FULL,), name="last pass")


def test_a_last_pass_at_full_depth_takes_what_rough_passes_left() -> None:
    assert said(judge(sill.inner(), rough(), last())) == []
    assert checks(judge(sill.inner(), rough(), last(), finish=0.0)) == {"depth per pass"}


@pytest.mark.parametrize(
    ("sections", "passed"),
    [
        ((rough(off=0.305), last()), True),  # within the acceptance
        ((rough(off=0.32), last()), False),
        ((rough((-4.0, -8.0)), last()), True),  # what stays under the rough passes is no more than a pass
        ((rough((-4.0, -7.8)), last()), False),
        ((rough((-4.0,)), last()), False),
        ((last(),), False),
        ((rough((-8.0, -11.8)), last()), False),  # a rough pass too deep
        ((last(), rough()), False),  # the wrong way round
    ],
)
def test_how_far_and_how_deep_rough_passes_run(sections: tuple[Lines, ...], passed: bool) -> None:
    report = judge(sill.inner(), *sections)
    assert report.passed is passed, said(report)
    assert passed or "depth per pass" in checks(report)


def test_a_rough_pass_on_three_sides_only() -> None:
    """On the side that was not run before, the last pass is as deep as the board is thick."""
    sides, inside = ["(rough)", *ws.over(26.7, 45), "G1 Z0 F300", "F1200"], f"F{ws.inside_feed(3.3)}"
    for depth in ROUGH:
        sides += [f"G1 Y75 Z{ws.num(depth)}", "G1 Y45", "G1 Y90", "G2 X30 Y93.3 I3.3 J0", "G1 X130"]
        sides += ["G1 X30", f"G3 X26.7 Y90 I0 J-3.3 {inside}", "G1 Y30 F1200"]
        sides += [f"G3 X30 Y26.7 I3.3 J0 {inside}", "G1 X130 F1200", "G1 X30"]
        sides += ["G2 X26.7 Y30 I0 J3.3", "G1 Y45"]
    # The right side, at x 133.3, is never run by these.
    report = judge(sill.inner(), [*sides, "G0 Z5"], last())
    assert checks(report) == {"depth per pass", "direction"}


def test_a_rough_pass_that_goes_through_frees_the_part() -> None:
    through = rough((-4.0, -8.0, FULL))
    assert said(judge(sill.inner(), through, last())) == []
    inner, hole = sill.inner(), sill.hole()
    begin = inner.index("(hole)")
    rest = inner[:begin] + inner[begin + len(hole) :]
    assert said(judge(rest, rough(), hole, last())) == []  # the rough passes hold it still
    assert checks(judge(rest, through, hole, last())) == {"order"}
    assert checks(judge(rest, rough(), last(), hole)) == {"order"}


def test_a_skin_holds_the_parts() -> None:
    report = judge(sill.inner(), sill.outline(HELD), skin=0.4)
    assert said(report) == []
    assert max(report.worst_gouge, report.worst_left) < 2e-4


@pytest.mark.parametrize(
    ("lowest", "check", "says"),
    [
        (-11.62, "skin", "leaves 0.380 mm"),
        (-12.0, "skin", "cut through"),
        (FULL, "skin", "cut through"),
        (-11.58, "missing", "outline"),
        (-8.3, "missing", "outline"),
    ],
)
def test_a_skin_of_another_thickness(lowest: float, check: str, says: str) -> None:
    report = judge(sill.inner(), sill.outline((-4.0, -8.0, lowest)), skin=0.4)
    assert not report.passed
    assert any(says in finding.message for finding in report.findings if finding.check == check), said(report)


def test_a_skin_too_thin_at_one_place_only() -> None:
    lines = [*ws.over(150, 100), "G1 Z-4 F300", "G1 Z-8", "G1 Z-12", "G0 Z5"]  # in the waste
    assert checks(judge(sill.inner(), lines, sill.outline(HELD), skin=0.4)) == {"skin", "waste"}


def test_holes_go_through_all_the_same() -> None:
    inner = [line.replace(ws.num(FULL), "-11.6") for line in sill.inner()]
    assert "depth" in checks(judge(inner, sill.outline(HELD), skin=0.4))


def test_tabs_are_not_wanted_where_a_skin_stays() -> None:
    report = judge(sill.inner(), sill.outline(HELD), skin=0.4, tabs=ws.tabs())
    assert "skin" in checks(report)


def test_without_a_skin_the_same_program_is_not_through() -> None:
    assert "missing" in checks(judge(sill.inner(), sill.outline(HELD)))


def test_an_opening_over_a_skin() -> None:
    part = ShapedPart(name="frame", region=Region(rectangle(100.0, 60.0), (circle((50.0, 30.0), 15.0),)))
    layout = replace(
        sill.layout(), placements=(Placement(part=part, item="p", unit=1, transform=Transform(x=30, y=30)),)
    )
    deeper = [line.replace(ws.num(FULL), "-11.6") for line in ws.round_cut(80, 60, 12.0, inside=True)]
    program = ws.expected(layout, tabs=(), skin=0.4)
    for cut, passed in ((deeper, True), (ws.round_cut(80, 60, 12.0, inside=True), False)):
        data = ws.text(sill.program(cut, sill.outline(HELD)))
        report = prove({program.file: data}, programs=[program], drawings=[], machine=machine())
        assert report.passed is passed, said(report)


def two_discs() -> BoardLayout:
    """Two discs of 20 so near to each other that one slot runs along both; the right one has a hole."""
    left = ShapedPart(name="lid", region=Region(circle((0.0, 0.0), 20.0)))
    right = ShapedPart(
        name="base", region=Region(circle((0.0, 0.0), 20.0)), holes=(Hole(at=(0.0, 0.0), diameter=12.0),)
    )
    return BoardLayout(
        id="board-01",
        board=replace(ws.board(), outline=polyline([(0, 0), (220, 0), (220, 120), (0, 120)])),
        placements=(
            Placement(part=left, item="jar", unit=1, transform=Transform(x=60.0, y=60.0)),
            Placement(part=right, item="jar", unit=1, transform=Transform(x=106.0, y=60.0)),
        ),
        windows=(
            Window(first=0.0, last=90.0, placements=(0,)),
            Window(first=80.0, last=220.0, placements=(1,)),
        ),
    )


def prove_discs(first: Lines, second: Lines, *, windows: bool) -> ProofReport:
    layout = two_discs() if windows else replace(two_discs(), windows=())
    programs: list[ExpectedProgram] = []
    files = {}
    for number, lines in enumerate((first, second)):
        origin = (80.0 if windows and number else 0.0, 0.0)
        program = ws.expected(
            layout, file=f"board-01-{number + 1}.nc", tabs=(), origin=origin, window=number if windows else None
        )
        programs.append(program)
        files[program.file] = ws.text([*ws.head(), *lines, *ws.tail()])
    return prove(files, programs=programs, drawings=[], machine=machine(0.0))


def test_a_neighbours_slot_in_an_earlier_window_frees_nothing() -> None:
    lid = ws.round_cut(60, 60, 23.0)
    for windows, x in ((True, 26.0), (False, 106.0)):
        hole, base = ws.bore(x, 60, 3.0, FULL), ws.round_cut(x, 60, 23.0)
        report = prove_discs(lid, [*hole, *base], windows=windows)
        # The two halves of the right disc's outline both begin where the slot of the left one runs by.
        assert said(report) == [] if windows else checks(report) == {"order"}
        assert "order" in checks(prove_discs(lid, [*base, *hole], windows=windows))
