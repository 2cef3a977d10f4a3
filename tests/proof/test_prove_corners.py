"""What the proof lets pass of inside corners: those left round, however sharp, and nothing a cutter never got into."""

from __future__ import annotations

import pytest

from cutjob.geometry.contour import Contour, Region, polyline, rectangle
from cutjob.geometry.offset import offset
from cutjob.geometry.segment import Arc
from cutjob.geometry.transform import Transform
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import Hole, ShapedPart
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import Finding
from cutjob.proof.prove import prove
from tests.layout.makers import star
from tests.proof.test_prove_laser import HALF, laser


def found(outline: Contour, *holes: Hole) -> list[Finding]:
    """What is wrong but for the start, when a laser runs once round what its kerf makes of an outline, and leaves the
    bays that close up.
    """
    part = ShapedPart(name="leaf", region=Region(outline), holes=holes)
    board = Board(
        name="ply", outline=rectangle(200.0, 200.0), keep_outs=(), thickness=3.0, grain="none", material="plywood",
        count=1, price=0.0,
    )  # fmt: skip
    placement = Placement(part=part, item="sign", unit=1, transform=Transform(x=100.0, y=100.0))
    layout = BoardLayout(id="board-01", board=board, placements=(placement,))
    machine = laser(passes=1)
    path = max(offset(placement.region.outline, HALF), key=lambda one: one.signed_area).reversed()
    start = path.segments[0].start
    lines = ["G21", "G17", "G90", "G94", "M5", f"G0 X{start[0]:.4f} Y{start[1]:.4f}", "S0 M3", "S900 F400"]
    for segment in path.segments:
        x, y = segment.end
        if isinstance(segment, Arc):
            i, j = segment.centre[0] - segment.start[0], segment.centre[1] - segment.start[1]
            lines.append(f"G{2 if segment.clockwise else 3} X{x:.4f} Y{y:.4f} I{i:.4f} J{j:.4f} S900 F400")
        else:
            lines.append(f"G1 X{x:.4f} Y{y:.4f} S900 F400")
    text = "\n".join([*lines, "M5", "M2", ""])
    expected = ExpectedProgram(
        file="a.nc",
        board=layout,
        cutters=(machine.cutter[0],),
        origin=(0.0, 0.0),
        stock_top_z=0.0,
        overcut=0.0,
        safe_z=0.0,
    )
    report = prove({"a.nc": text.encode()}, programs=[expected], drawings=[], machine=machine)
    return [finding for finding in report.findings if finding.check not in ("beam", "pierce")]


def notched(width: float, *, pointed: bool) -> Contour:
    """A square of 60 with a notch 20 deep from above."""
    low = [(30.0, 40.0)] if pointed else [(30 + width / 2, 40.0), (30 - width / 2, 40.0)]
    return polyline([(0, 0), (60, 0), (60, 60), (30 + width / 2, 60), *low, (30 - width / 2, 60), (0, 60)])


@pytest.mark.parametrize("points", [12, 24, 40])
def test_the_corners_of_a_star_may_stay_round(points: int) -> None:
    assert found(star(points, 60, 40)) == []


@pytest.mark.parametrize("width", [0.5, 2.0, 10.0])
def test_a_pointed_notch_may_keep_its_tip(width: float) -> None:
    assert found(notched(width, pointed=True)) == []


@pytest.mark.parametrize(("width", "pointed"), [(0.08, True), (0.15, True), (0.05, False), (0.1, False), (0.17, False)])
def test_a_notch_the_beam_never_got_into_is_refused(width: float, pointed: bool) -> None:
    (finding,) = found(notched(width, pointed=pointed))
    assert "never gets into a slot or notch of the outline" in finding.message


def test_a_passage_the_beam_never_got_into_is_refused() -> None:
    """A bay of 20 behind a mouth 0.1 wide and 10 long."""
    bay = polyline([(0, 0), (60, 0), (60, 60), (30.05, 60), (30.05, 50), (40, 50), (40, 30), (20, 30), (20, 50),
                    (29.95, 50), (29.95, 60), (0, 60)])  # fmt: skip
    assert any("never gets into a slot or notch" in one.message for one in found(bay))


def test_a_hole_to_drill_by_hand_is_not_looked_for_and_any_other_is() -> None:
    hole = Hole(at=(30.0, 20.0), diameter=0.15)
    assert "hole" in found(rectangle(60, 40), hole)[0].message
    assert found(rectangle(60, 40), Hole(at=hole.at, diameter=hole.diameter, by_hand=True)) == []
