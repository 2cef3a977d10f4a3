"""Laser programs: kerf, power, passes, marks and the beam off between cuts."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from cutjob.geometry.contour import Region, polyline, rectangle
from cutjob.geometry.segment import Line
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.job.stock import Board
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import Hole, Mark, ShapedPart
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove

Lines = list[str]
HALF = 0.1  # half the kerf


def laser(passes: int = 2, beam: str = "constant", mark_power: int | None = 200) -> Machine:
    feed = {"material": "plywood", "source": "made up for tests", "feed": 400, "power": 900, "passes": passes,
            "mark_feed": 1500, "mark_power": mark_power}  # fmt: skip
    return Machine.model_validate(
        {
            "name": "test laser",
            "summary": "a laser for tests",
            "kind": "laser",
            "writes": ["gcode", "dxf"],
            "travel": {"x": 300, "y": 200},
            "controller": {"beam": beam, "greatest_power": 1000, "decimals": 4, "unknown_codes": ["G40", "G80"]},
            "cutter": [{"number": 1, "name": "beam", "diameter": 2 * HALF, "feed": [feed]}],
        }
    )


def tag() -> BoardLayout:
    part = ShapedPart(
        name="plant tag",
        region=Region(rectangle(60.0, 20.0), (polyline([(40, 5), (40, 15), (50, 15), (50, 5)]),)),
        holes=(Hole(at=(8.0, 10.0), diameter=4.0),),
        marks=(Mark(path=(Line((15.0, 10.0), (35.0, 10.0)),)),),
    )
    board = Board(
        name="ply", outline=rectangle(100.0, 60.0), keep_outs=(), thickness=3.0, grain="none", material="plywood",
        count=1, price=0.0, hazards=frozenset({"glued"}),
    )  # fmt: skip
    placement = Placement(part=part, item="herb pot", unit=1, transform=Transform(x=10.0, y=10.0))
    return BoardLayout(id="board-01", board=board, placements=(placement,))


def shape(
    name: str,
    at: tuple[float, float],
    cuts: Lines,
    *,
    lead: str = "",
    times: int = 2,
    power: int = 900,
    feed: int = 400,
) -> Lines:
    """Once round, or several times: beam on, from the waste to the edge, cuts, beam off."""
    lines = [f"({name})", f"G0 X{at[0]} Y{at[1]}", "S0 M3"]
    first, *rest = [*([lead] if lead else []), *(cut for _ in range(times) for cut in cuts)]
    return [*lines, f"{first} S{power} F{feed}", *rest, "M5"]


def program(times: int = 2) -> Lines:
    lines = ["G21", "G17", "G90", "G94", "M5"]
    lines += shape("mark", (25, 20), ["G1 X45 Y20"], times=1, power=200, feed=1500)
    lines += shape("hole", (18, 20), ["G3 X19.9 Y20 I-1.9 J0"], lead="G1 X19.9 Y20", times=times)
    lines += shape("window", (52, 17), ["G1 X59.9 Y15.1", "G1 X59.9 Y24.9", "G1 X50.1 Y24.9", "G1 X50.1 Y15.1"],
                   lead="G1 X50.1 Y15.1", times=times)  # fmt: skip
    round_corners = [
        "G1 X10 Y30.1", "G1 X70 Y30.1", "G2 X70.1 Y30 I0 J-0.1", "G1 X70.1 Y10", "G2 X70 Y9.9 I-0.1 J0",
        "G1 X10 Y9.9", "G2 X9.9 Y10 I0 J0.1", "G1 X9.9 Y30", "G2 X10 Y30.1 I0.1 J0",
    ]  # fmt: skip
    lines += shape("outline", (9, 31), round_corners[1:], lead="G1 X10 Y30.1", times=times)
    return [*lines, "M5", "M2"]


def judge(lines: Lines, machine: Machine | None = None) -> ProofReport:
    machine = machine or laser()
    expected = ExpectedProgram(
        file="board-01.nc",
        board=tag(),
        cutters=machine.cutter,
        origin=(0.0, 0.0),
        stock_top_z=0.0,
        overcut=0.0,
        safe_z=0.0,
    )
    data = "".join(f"{line}\n" for line in lines).encode()
    return prove({"board-01.nc": data}, programs=[expected], drawings=[], machine=machine)


def checks(report: ProofReport) -> set[str]:
    return {finding.check for finding in report.findings if finding.severity == "error"}


def test_a_good_program_passes() -> None:
    report = judge(program())
    assert [str(finding) for finding in report.findings] == []
    # Exact paths, but for four written decimals.
    assert max(report.worst_gouge, report.worst_left) < 2e-4


def test_the_other_way_of_switching_the_beam() -> None:
    machine = laser(beam="follows speed")
    assert judge([line.replace("M3", "M4") for line in program()], machine).passed
    assert checks(judge(program(), machine)) == {"beam"}


def swap(pattern: str, by: str) -> Callable[[Lines], Lines]:
    def spoil(lines: Lines) -> Lines:
        assert any(re.search(pattern, line) for line in lines)
        return [re.sub(pattern, by, line) for line in lines]

    return spoil


def without(name: str) -> Callable[[Lines], Lines]:
    def spoil(lines: Lines) -> Lines:
        begin = lines.index(f"({name})")
        end = lines.index("M5", begin)
        return lines[:begin] + lines[end + 1 :]

    return spoil


def outline_first(lines: Lines) -> Lines:
    begin = lines.index("(outline)")
    return [*lines[:5], *lines[begin:-2], *lines[5:begin], *lines[-2:]]


@pytest.mark.parametrize(
    ("spoil", "check"),
    [
        (swap("^M5$", "(left on)"), "beam"),
        (swap("S0 M3", "(not switched on)"), "beam"),
        (swap("S900", "S1100"), "beam"),
        (swap("S900", "S800"), "beam"),
        (swap("S900", "S200"), "missing"),
        (swap("S200", "S900"), "gouge"),
        (swap(r"^G0 X25", "G0 Z5 X25"), "height"),
        (swap("X59.9", "X60.0"), "gouge"),
        (swap("X59.9", "X59.8"), "wood left"),
        (swap(r"^G1 X70 Y30.1", "G1 X60 Y30.1"), "language"),
        (swap("F400", "F4000"), "feed"),
        (swap("F400", "F1500"), "feed"),
        (swap("F400", "F420"), "feed"),
        (swap("F400", "F190"), "feed"),
        (swap("F400", "F200"), "feed"),
        (swap("F1500", "F1600"), "feed"),
        (swap("F1500", "F400"), "feed"),
        (swap("^S0 M3$", "S900 M3"), "beam"),
        (swap(r"^(G1 X45 Y20) S200", r"S200\n\1"), "beam"),
        (swap(r"^(G1 X45 Y20 .*)$", r"\1\nG4 P0.5"), "beam"),
        (swap(r"^(G1 X45 Y20 .*)$", r"\1\nM0"), "beam"),
        (swap(r"^(G1 X45 Y20 .*)$", r"G1 X25 Y20 S200 F1500\n\1"), "beam"),
        (without("mark"), "missing"),
        (without("hole"), "missing"),
        (without("window"), "missing"),
        (without("outline"), "missing"),
        (outline_first, "order"),
    ],
)
def test_a_spoiled_program_is_rejected(spoil: Callable[[Lines], Lines], check: str) -> None:
    bad = spoil(program())
    assert bad != program()
    report = judge(bad)
    assert check in checks(report), [str(finding) for finding in report.findings]


def test_once_round_is_not_twice() -> None:
    assert checks(judge(program(times=1))) == {"passes"}
    assert judge(program(times=1), laser(passes=1)).passed


def test_more_often_than_twice_burns() -> None:
    assert checks(judge(program(times=3))) == {"passes"}
    assert checks(judge(program(times=2), laser(passes=1))) == {"passes"}
    # One side of the window once more, and a start that a lead meets.
    lines = program()
    side = max(number for number, line in enumerate(lines) if line == "G1 X59.9 Y24.9")
    again = [*lines[: side + 1], "G1 X59.9 Y15.1", "G1 X59.9 Y24.9", *lines[side + 1 :]]
    assert checks(judge(again)) == {"passes"}
    assert checks(judge(program(times=3))) == {"passes"}


def test_marks_may_be_told_from_cuts_by_their_feed_alone() -> None:
    full = swap("S200", "S900")(program())
    for machine in (laser(mark_power=900), laser(mark_power=None)):
        assert [str(finding) for finding in judge(full, machine).findings] == []
        assert "missing" in checks(judge(swap("F400", "F1500")(full), machine))
        assert "gouge" in checks(judge(swap("F1500", "F400")(full), machine))


def test_piercing_on_an_edge_is_told() -> None:
    bare = "\n".join(program())
    for start, edge in (("X18 Y20", "X19.9 Y20"), ("X9 Y31", "X10 Y30.1")):
        lead = re.compile(rf"^G0 {start}\n(S0 M3)\nG1 {edge} (S900 F400)\n(.*)$", re.MULTILINE)
        assert lead.search(bare)
        bare = lead.sub(rf"G0 {edge}\n\1\n\3 \2", bare)
    report = judge(bare.split("\n"))
    assert report.passed
    (finding,) = report.findings
    assert (finding.check, finding.severity) == ("pierce", "warning")
    assert "hole 1" in finding.message
    assert "1 more" in finding.message


def test_a_cut_beside_the_board() -> None:
    astray = shape("astray", (104, 30), ["G1 X106 Y30"], times=1)
    assert "board" in checks(judge([*program()[:5], *astray, *program()[5:]]))
    near = shape("near", (100.5, 30), ["G1 X102 Y30"], times=1)
    assert checks(judge([*program()[:5], *near, *program()[5:]])) == {"waste"}
