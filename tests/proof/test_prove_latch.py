"""A good program passes; each way of spoiling it is rejected, and by the check that should."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from cutjob.geometry.contour import circle
from cutjob.job.machine import Machine
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove
from tests.layout.makers import kept_out
from tests.proof import workshop as ws

Lines = list[str]

# The latch's paths are exact but for 4 written decimals, so nothing real may be measured on it, mm.
EXACT = 2e-4


def judge(lines: Lines | bytes, program: ExpectedProgram | None = None, machine: Machine | None = None) -> ProofReport:
    data = lines if isinstance(lines, bytes) else ws.text(lines)
    program = program or ws.expected()
    return prove({program.file: data}, programs=[program], drawings=[], machine=machine or ws.router())


def checks(report: ProofReport) -> set[str]:
    return {finding.check for finding in report.findings if finding.severity == "error"}


def swap(pattern: str, by: str, *, count: int = 0, at: int | None = None) -> Callable[[Lines], Lines]:
    """Replace a pattern that must be there: everywhere, or on the one matching line numbered `at`."""

    def spoil(lines: Lines) -> Lines:
        hits = [number for number, line in enumerate(lines) if re.search(pattern, line)]
        assert hits, f"{pattern} is on no line"
        chosen = hits if at is None else [hits[at]]
        return [re.sub(pattern, by, line) if number in chosen else line for number, line in enumerate(lines)]

    return spoil


def drop(pattern: str, at: int = 0, many: int = 1) -> Callable[[Lines], Lines]:
    def spoil(lines: Lines) -> Lines:
        hits = [number for number, line in enumerate(lines) if re.search(pattern, line)]
        assert hits, f"{pattern} is on no line"
        return lines[: hits[at]] + lines[hits[at] + many :]

    return spoil


def insert(after: str, new: Lines, at: int = 0) -> Callable[[Lines], Lines]:
    def spoil(lines: Lines) -> Lines:
        hits = [number for number, line in enumerate(lines) if re.search(after, line)]
        assert hits, f"{after} is on no line"
        return [*lines[: hits[at] + 1], *new, *lines[hits[at] + 1 :]]

    return spoil


def section(lines: Lines, name: str) -> tuple[int, int]:
    begin = lines.index(f"({name})")
    end = next((n for n in range(begin + 1, len(lines)) if lines[n].startswith("(")), len(lines) - len(ws.tail()))
    return begin, end


def without(name: str) -> Callable[[Lines], Lines]:
    def spoil(lines: Lines) -> Lines:
        begin, end = section(lines, name)
        return lines[:begin] + lines[end:]

    return spoil


def last(name: str) -> Callable[[Lines], Lines]:
    """Move a section behind everything else."""

    def spoil(lines: Lines) -> Lines:
        begin, end = section(lines, name)
        rest, tail = lines[:begin] + lines[end:], len(ws.tail())
        return rest[:-tail] + lines[begin:end] + rest[-tail:]

    return spoil


def test_the_good_program_passes() -> None:
    report = judge(ws.latch_program())
    assert [str(finding) for finding in report.findings] == []
    assert report.passed
    assert report.worst_gouge <= EXACT
    assert report.worst_left <= EXACT


SPOILED: list[tuple[str, Callable[[Lines], Lines], str]] = [
    ("a straight cut shifted into the part by 0.05", swap(r"^G1 X133 Y40$", "G1 X132.95 Y40", at=-1), "gouge"),
    ("a corner of the window shifted by 0.05", swap(r"^G1 X111 Y67", "G1 X111.05 Y67"), "gouge"),
    ("the window too small by 0.05", swap(r"^G1 X(\d+) Y67$", r"G1 X\1 Y66.95"), "wood left"),
    ("a line of the last pass dropped", drop(r"^G1 X111 Y67", at=-1), "wood left"),
    ("an arc run the other way", swap(r"^G2 X40 Y93 ", "G3 X40 Y93 ", at=-1), "gouge"),
    ("inches for mm", swap("^G21$", "G20"), "modes"),
    ("units not stated", drop("^G21$"), "modes"),
    ("incremental for absolute", swap("^G90$", "G91"), "language"),
    ("a rapid through the stock", insert(r"^\(window\)$", ["G0 Z-2", "G0 X102 Y53", "G0 Z5"]), "rapid"),
    ("air moves at 1 mm", swap(r"^G0 Z5$", "G0 Z1"), "rapid"),
    ("sideways before the first lift", lambda lines: drop("^G0 Z5$")(drop("^G0 Z5$")(lines)), "rapid"),
    ("sideways while it is raised first", swap(r"^G0 Z5$", "G0 X10 Y10 Z5", at=0), "rapid"),
    ("sideways to zero while it is raised first", swap(r"^G0 Z5$", "G0 X0 Y0 Z5", at=0), "rapid"),
    ("raised first to less than safe height", swap(r"^G0 Z5$", "G0 Z2", at=0), "rapid"),
    ("tabs cut through", swap(r"^G1 Z-9$", "G1 Z-12.3"), "tab"),
    ("one tab cut through", swap(r"^G1 Z-9$", "G1 Z-12.3", at=-1), "tab"),
    ("tabs only half as high", swap(r"^G1 Z-9$", "G1 Z-10.5"), "tab"),
    ("a tab too narrow", swap(r"^G1 X86 Y93$", "G1 X84 Y93"), "tab"),
    ("outline on the line", lambda lines: on_the_line(lines), "gouge"),
    ("a hole bored twice as wide", swap(r"I(-?)3 J0$", r"I\g<1>3.5 J0"), "language"),
    ("a missing hole", without("drilled hole"), "missing"),
    ("a missing blind hole", without("blind hole"), "missing"),
    ("a missing mark", without("mark"), "missing"),
    ("a missing window", without("window"), "missing"),
    ("no outline", without("outline"), "missing"),
    ("a blind hole too deep", swap(r" Z-5 ", " Z-5.5 "), "gouge"),
    ("a blind hole too shallow", swap(r" Z-5 ", " Z-4.5 "), "missing"),
    ("a mark too deep", swap(r"^G1 Z-1 F300$", "G1 Z-1.5 F300"), "gouge"),
    ("a mark too shallow", swap(r"^G1 Z-1 F300$", "G1 Z-0.5 F300"), "missing"),
    ("a mark in the wrong place", swap(r"^G1 X100 Y80$", "G1 X100 Y80.05"), "gouge"),
    ("window after the outline", last("window"), "order"),
    ("mark after the outline", last("mark"), "order"),
    ("drilled after the outline", last("drilled hole"), "order"),
    ("blind hole after the outline", last("blind hole"), "order"),
    ("spindle never on", swap(r"^S12000 M3$", "S12000"), "spindle"),
    ("spindle the wrong way", swap(r"M3$", "M4"), "spindle"),
    ("spindle stopped just above the stock", lambda lines: [*lines[:-4], "G0 Z1", *lines[-2:]], "spindle stop"),
    ("ended just above the stock", lambda lines: [*lines[:-2], "G0 Z4", lines[-1]], "spindle stop"),
    ("stopped just above the stock", insert(r"^\(window\)$", ["G0 Z2", "M0", "G0 Z5"]), "spindle stop"),
    ("another speed than the table's", swap(r"S12000", "S14000"), "speed"),
    ("ten times the feed", swap(r"^F1200$", "F12000"), "feed"),
    ("more feed than the table says", swap(r"^F1200$", "F1300"), "feed"),
    ("no feed", swap(r"^F1200$", "F0"), "feed"),
    ("plunging too fast", swap(r"F300$", "F600"), "plunge"),
    ("almost straight down at the feed of a cut", swap(r"^G1 Z-1 F300$", "G1 X60.05 Z-1 F1200"), "plunge"),
    ("a helix sinking too fast", swap(r"^(G3 X47 Y50) Z-2 ", r"\1 Z-6 "), "plunge"),
    ("a ramp sinking too fast", swap(r"^(G1 X111 Y53) Z-2$", r"\1 Z-4"), "plunge"),
    ("too deep for the profile", swap(r"-12\.3\b", "-13"), "depth"),
    ("deeper than planned", swap(r"-12\.3\b", "-12.4"), "depth"),
    ("not through", swap(r"-12\.3\b", "-11.9"), "missing"),
    ("one pass for two", swap(r"Z-4\b", "Z-8"), "depth per pass"),
    ("cut through, but not to the planned depth", swap(r"-12\.3\b", "-12.1"), "depth"),
    ("one hole drilled short of the planned depth", swap(r"^G1 Z-12\.3 F300$", "G1 Z-12.1 F300", at=0), "depth"),
    ("the last pass rising below the stock", swap(r"^(G1 X133 Y40)$", r"\1 Z-12.1", at=-1), "depth"),
    ("a plunge of two passes", swap(r"^G1 Z0 F300$", "G1 Z-8 F300", at=-1), "depth per pass"),
    ("a plunge of two passes in the waste", ws.plunge_at(200, 105, -8), "depth per pass"),
    ("a steep ramp of two passes", ws.plunge_at(200, 105, -8, aside=10), "depth per pass"),
    ("a plunge half beside a slot", ws.plunge_at(102, 54.5, -12), "depth per pass"),
    ("a plunge beside the board", ws.plunge_at(-12, 60, -2), "board"),
    ("a cut running off the board", ws.plunge_at(210, 105, -2, aside=22), "board"),
    ("no dwell", drop(r"^G4"), "dwell"),
    ("too short a dwell", swap(r"^G4 P3$", "G4 P0.5"), "dwell"),
    ("a nested comment", swap(r"^\(mark\)$", "(mark (one))"), "language"),
    ("a comment left open", swap(r"^\(mark\)$", "(mark"), "language"),
    ("a comment in another alphabet", swap(r"^\(mark\)$", "(märk)"), "language"),
    ("radii of an arc that differ", swap(r"I13 J0$", "I13.01 J0", at=-1), "language"),
    ("no end", drop(r"^M2$"), "program end"),
    ("the other end", swap(r"^M2$", "M30"), "program end"),
    ("a cut across the part", insert(r"^\(outline\)$", [*ws.over(50, 55), "G1 Z-2 F300", "G1 X90", "G0 Z5"]), "gouge"),
    ("a plunge into the part", insert(r"^\(outline\)$", [*ws.over(100, 43), "G1 Z-2 F300", "G0 Z5"]), "gouge"),
    ("a speed beyond the spindle", swap(r"S12000", "S30000"), "speed"),
    ("a line too long", swap(r"^\(mark\)$", f"({'m' * 75})"), "controller"),
    ("too many decimals", swap(r"^G1 X100 Y80$", "G1 X100.00001 Y80"), "controller"),
    ("semicolon comments", swap(r"^\(mark\)$", "; mark"), "controller"),
    ("block delete", swap(r"^G1 X100 Y80$", "/G1 X100 Y80"), "controller"),
    ("an exponent", swap(r"^G1 X100 Y80$", "G1 X1e2 Y80"), "language"),
]  # fmt: skip


def on_the_line(lines: Lines) -> Lines:
    """The outline cut on the part's edge, as if the cutter had no width."""
    begin, end = section(lines, "outline")
    return lines[:begin] + [line.replace("X133", "X130") for line in lines[begin:end] if "G2" not in line] + lines[end:]


@pytest.mark.parametrize(("spoil", "check"), [case[1:] for case in SPOILED], ids=[case[0] for case in SPOILED])
def test_a_spoiled_program_is_rejected(spoil: Callable[[Lines], Lines], check: str) -> None:
    good = ws.latch_program()
    bad = spoil(good)
    assert bad != good
    data = "".join(f"{line}\n" for line in bad).encode("utf-8")
    report = judge(data)
    assert not report.passed
    assert check in checks(report), [str(finding) for finding in report.findings]


@pytest.mark.parametrize(
    "harmless",
    [
        ws.plunge_at(102, 53, -12.3),  # down a slot that is there
        ws.plunge_at(72, 52, -5),  # on a floor that was cleared round about
    ],
)
def test_ways_down_that_harm_nothing(harmless: Callable[[Lines], Lines]) -> None:
    assert [str(finding) for finding in judge(harmless(ws.latch_program())).findings] == []


@pytest.mark.parametrize("astray", [ws.plunge_at(200, 105, -4.4), ws.plunge_at(-10, 60, -2)])
def test_ways_down_in_the_waste_are_not_too_deep_but_make_nothing(astray: Callable[[Lines], Lines]) -> None:
    assert checks(judge(astray(ws.latch_program()))) == {"waste"}


def test_the_edge_shifted_inward_by_a_twentieth() -> None:
    shifted = [line.replace("X133 ", "X132.95 ") for line in ws.latch_program() if "G2" not in line]
    assert "gouge" in checks(judge(shifted))


def test_the_whole_program_shifted_by_a_twentieth() -> None:
    report = judge(ws.latch_program(30.05, 30.0))
    assert "gouge" in checks(report)
    assert any("off its marks" in finding.message for finding in report.findings)
    outline = [*ws.head(), *ws.latch_outline(30.05, 30.0), *ws.tail()]
    report = judge(outline)
    assert {"gouge", "wood left"} <= checks(report)
    # The shift shows as it is: 0.05 in, and 0.05 out on the other side.
    assert report.worst_gouge == pytest.approx(0.05, abs=EXACT)
    assert report.worst_left == pytest.approx(0.05, abs=EXACT)


@pytest.mark.parametrize(("shift", "passed"), [(0.008, True), (0.012, False)])
def test_the_limit_is_a_hundredth(shift: float, passed: bool) -> None:
    assert judge(ws.latch_program(30.0 + shift, 30.0)).passed is passed


def test_spindle_stopped_in_the_stock() -> None:
    lines = ws.latch_program()
    lines = [*lines[:-4], "M5", *lines[-4:]]
    assert lines[-5] == "M5"
    deep = [line for line in lines if line != "G0 Z5" or lines.index(line) < 8]
    assert "spindle stop" in checks(judge(deep))


def test_a_planned_tab_that_is_not_there() -> None:
    report = judge([*ws.head(), *ws.latch_inner(), *ws.latch_outline(with_tabs=False), *ws.tail()])
    assert checks(report) == {"tab"}
    assert len(report.findings) == 2


def test_a_bridge_that_was_not_planned() -> None:
    report = judge(ws.latch_program(), ws.expected(tabs=ws.tabs()[:1]))
    # Where no bridge is planned the cutter has no reason to come straight down.
    assert checks(report) == {"wood left", "way in"}


def test_a_tab_in_the_wrong_place() -> None:
    moved = replace(ws.tabs()[0], at=(82.5, 30.0))
    assert checks(judge(ws.latch_program(), ws.expected(tabs=(moved, ws.tabs()[1])))) <= {"tab", "way in"}


def test_a_tab_off_the_outline() -> None:
    moved = replace(ws.tabs()[0], at=(80.0, 34.0))
    assert "tab" in checks(judge(ws.latch_program(), ws.expected(tabs=(moved, ws.tabs()[1]))))


def test_a_keep_out_in_the_way_and_one_beside_it() -> None:
    # The outside of the cut lies at x 136: the centre at 133, the cutter's radius 3.
    for middle, hit in ((139.5, True), (141.5, False)):
        layout = ws.latch_board(keep_outs=kept_out((circle((middle, 60.0), 5.0),)))
        report = judge(ws.latch_program(), ws.expected(layout))
        assert checks(report) == ({"keep-out"} if hit else set())


def test_a_keep_out_crossed_in_the_air_counts_only_below_safe_height() -> None:
    layout = ws.latch_board(keep_outs=kept_out((circle((180.0, 100.0), 5.0),)))
    wide = insert(r"^\(outline\)$", ["G0 Z5", "G0 X200 Y110"])(ws.latch_program())
    assert judge(wide, ws.expected(layout)).passed
    low = insert(r"^\(outline\)$", ["G0 Z5", "G0 X180 Y100", "G0 Z1", "G0 Z5"])(ws.latch_program())
    assert "keep-out" in checks(judge(low, ws.expected(layout)))


def test_travel_too_short() -> None:
    report = judge(ws.latch_program(), machine=ws.router(travel={"x": 100, "y": 400, "z": 60}))
    assert checks(report) == {"travel"}


def test_a_cutter_too_short_for_the_stock() -> None:
    machine = ws.router()
    short = machine.cutter[0].model_copy(update={"cutting_length": 10.0})
    assert checks(judge(ws.latch_program(), ws.expected(cutters=(short,)))) == {"depth"}


def test_a_cutter_of_another_diameter() -> None:
    machine = ws.router()
    wide = machine.cutter[0].model_copy(update={"diameter": 6.35})
    assert "gouge" in checks(judge(ws.latch_program(), ws.expected(cutters=(wide,))))
    thin = machine.cutter[0].model_copy(update={"diameter": 5.8})
    assert "wood left" in checks(judge(ws.latch_program(), ws.expected(cutters=(thin,))))


def test_an_inside_arc_at_the_tables_feed_is_too_fast_along_its_wall() -> None:
    """The bored hole of 12 with the cutter of 6: at r 3 the wall goes by at F (3 + 3) / 3, twice the written feed."""
    lines = ws.latch_program()
    begin = lines.index("(bored hole)")
    row = lines.index(f"F{ws.inside_feed(3)}", begin)
    for feed, passed in ((600, True), (603, False), (1200, False)):
        report = judge([*lines[:row], f"F{feed}", *lines[row + 1 :]])
        assert report.passed is passed, [str(finding) for finding in report.findings]
    (first, *_) = report.findings
    assert (first.check, first.limit) == ("feed", 1200)
    assert first.measured == pytest.approx(2400, rel=1e-3)
    assert "wall on its outer side" in first.message


def test_arcs_faster_than_the_machine_turns() -> None:
    motion = {"greatest_feed": 2000, "greatest_plunge": 500, "safe_height": 5, "acceleration": 20}
    found = judge(ws.latch_program(), machine=ws.router(motion=motion)).findings
    assert {(one.check, one.severity) for one in found} == {("feed", "error")}
    assert all("the machine's acceleration is 20 mm/s2" in one.message or "more place" in one.message for one in found)


def test_a_planned_file_cancels_what_an_earlier_one_left_on() -> None:
    plain = ws.router(controller={"unknown_codes": []})
    messages = [one.message for one in judge(ws.latch_program(), machine=plain).findings]
    assert [message.split(";")[1].split()[0] for message in messages] == ["G40", "G49", "G80"]
    assert judge(ws.latch_program(), machine=ws.router()).passed
    named = ws.router(controller={"work_offset": "G55"})
    (finding,) = judge(ws.latch_program(), machine=named).findings
    assert (finding.check, "G55" in finding.message) == ("modes", True)


def test_a_controller_without_arcs_or_helices() -> None:
    for ability in ("arcs", "helices"):
        machine = ws.router(controller={"decimals": 4, "longest_line": 70, ability: False})
        assert checks(judge(ws.latch_program(), machine=machine)) == {"controller"}


def test_a_plug_in_a_ring_is_cut_before_the_opening_and_the_ring_last() -> None:
    layout = ws.ring_board()
    plug, opening, outline = (ws.round_cut(60, 60, r, inside=r == 27.0) for r in (23.0, 27.0, 43.0))
    program = ws.expected(layout, tabs=())
    good = [*ws.head(), *plug, *opening, *outline, *ws.tail()]
    assert judge(good, program).passed
    for order in ((opening, plug, outline), (outline, plug, opening), (plug, outline, opening)):
        bad = [*ws.head(), *[line for cut in order for line in cut], *ws.tail()]
        assert checks(judge(bad, program)) == {"order"}


def test_two_programs_of_one_board_are_complete_together() -> None:
    first = ws.expected(file="board-01-a.nc", tabs=())
    second = ws.expected(file="board-01-b.nc")
    inner = ws.text([*ws.head(), *ws.latch_inner(), *ws.tail()])
    outline = ws.text([*ws.head(), *ws.latch_outline(), *ws.tail()])
    files = {"board-01-a.nc": inner, "board-01-b.nc": outline}
    machine = ws.router()
    assert prove(files, programs=[first, second], drawings=[], machine=machine).passed
    report = prove(files, programs=[second, first], drawings=[], machine=machine)
    assert checks(report) == {"order"}
    report = prove({"board-01-a.nc": inner}, programs=[first], drawings=[], machine=machine)
    assert "missing" in checks(report)
    report = prove(files, programs=[first], drawings=[], machine=machine)
    assert {"files", "missing"} <= checks(report)
    report = prove({"board-01-b.nc": outline}, programs=[first, second], drawings=[], machine=machine)
    assert checks(report) == {"files"}


def test_zero_on_the_spoilboard() -> None:
    raised = []
    for line in ws.latch_program():
        raised.append(re.sub(r"Z(-?[\d.]+)", lambda found: f"Z{ws.num(float(found[1]) + ws.THICK)}", line))
    assert judge(raised, ws.expected(stock_top_z=ws.THICK)).passed
    assert not judge(raised).passed
    assert not judge(ws.latch_program(), ws.expected(stock_top_z=ws.THICK)).passed


def test_a_program_in_inches_is_the_same_program() -> None:
    inches = []
    for line in ws.latch_program():
        line = re.sub(r"([XYZIJF])(-?[\d.]+)", lambda found: f"{found[1]}{float(found[2]) / 25.4:.5f}", line)
        inches.append(line.replace("G21", "G20"))
    machine = ws.router(controller={"units": "in", "decimals": 5, "longest_line": 80})
    report = judge(inches, machine=machine)
    assert [str(finding) for finding in report.findings] == []
    # Five decimals of an inch are 0.00025 mm, half of it rounding in each of path and centre.
    assert max(report.worst_gouge, report.worst_left) < 1e-3
