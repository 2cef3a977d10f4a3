"""Boards that clamps hold: joined to the last cut, on two bridges at least, in short chains and well spread."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from cutjob.geometry.contour import circle
from cutjob.layout.holding import Hold, Holding
from cutjob.layout.layout import BoardLayout
from cutjob.proof.finding import Finding, ProofReport
from cutjob.proof.prove import prove
from cutjob.proof.sweep.joined import Pieces, ways_to
from tests.proof import held_boards as hb
from tests.proof import test_prove_windows as windows
from tests.proof import workshop as ws
from tests.proof.held_boards import Piece
from tests.proof.spoil import Lines, checks

SLAT = Piece((60.0, 40.0, 160.0, 80.0), (("left", 60.0), ("right", 60.0)))


def judge(
    pieces: Sequence[Piece], lines: Lines | None = None, *, board: BoardLayout | None = None,
    height: float = ws.TAB_HEIGHT,
) -> ProofReport:  # fmt: skip
    told = hb.expected(board or hb.layout(pieces), pieces, height=height)
    files = {told.file: ws.text(lines or hb.program(pieces))}
    return prove(files, programs=[told], drawings=[], machine=ws.router())


def held(report: ProofReport) -> list[Finding]:
    return [finding for finding in report.findings if finding.check == "held"]


def says(report: ProofReport, words: str) -> list[Finding]:
    found = [finding for finding in held(report) if words in finding.message]
    assert found, [str(finding) for finding in report.findings]
    return found


def line_of(lines: Lines, finding: Finding) -> str:
    assert finding.line is not None
    return lines[finding.line - 1]


def section_of(lines: Lines, finding: Finding) -> str:
    """The comment above the finding's line."""
    assert finding.line is not None
    return next(line for line in lines[finding.line - 1 :: -1] if line.startswith("("))


def test_a_part_between_two_tabs_on_a_clamped_board_passes() -> None:
    assert [str(finding) for finding in judge([SLAT]).findings] == []


def test_nothing_is_judged_where_nothing_says_how_the_board_is_held() -> None:
    loose = replace(SLAT, tabs=())
    board = hb.layout([loose])
    assert checks(judge([loose], board=board)) == {"held"}
    assert judge([loose], board=replace(board, holding=None)).passed


@pytest.mark.parametrize("by", ["tape", "vacuum"])
def test_tape_and_vacuum_hold_everything_from_below(by: str) -> None:
    loose = replace(SLAT, tabs=())
    board = replace(hb.layout([loose], holds=()), holding=Holding(by=by))  # type: ignore[arg-type]
    assert judge([loose], board=board).passed


def test_a_tab_cut_away_leaves_a_part_on_one_bridge() -> None:
    report = judge([SLAT], hb.program([replace(SLAT, tabs=SLAT.tabs[:1])]))
    assert checks(report) == {"tab", "held"}
    (few,) = says(report, "has 1 bridge on its outline, but needs 2")
    assert (few.measured, few.limit) == (1.0, 2.0)
    says(report, "one bridge alone holds")


def test_the_line_that_frees_a_part_is_named() -> None:
    lines = hb.program([replace(SLAT, tabs=())])
    (free,) = says(judge([SLAT], lines), 'part "slat 1" (porch 1) is no longer joined to the wood that the clamps hold')
    # Down to the full depth and once round: the bottom side comes last.
    assert line_of(lines, free) == "G1 X57 Y37"
    assert free.at == pytest.approx((110.0, 60.0))


@pytest.mark.parametrize(
    ("tabs", "off"),
    [((("bottom", 80.0), ("bottom", 140.0)), 20.0), ((("left", 55.0), ("left", 70.0)), 50.0)],
)
def test_tabs_on_one_edge_are_a_hinge(tabs: hb.Tabs, off: float) -> None:
    report = judge([replace(SLAT, tabs=tabs)])
    assert checks(report) == {"held"}
    (hinge,) = held(report)
    assert "all to one side" in hinge.message
    assert hinge.measured == pytest.approx(off, abs=0.1)
    assert hinge.limit == pytest.approx(4.0, abs=0.01)  # a tenth of 40


def test_the_middle_may_lie_a_tenth_of_the_width_outside() -> None:
    # A tab 6 wide spreads between round ends of cuts 6 apart from it: 12 at the outline, of which a cutter half a
    # millimetre wider takes sqrt(3.5^2 - 3^2) at each end. A tenth of 40 from the slat's middle at 60, and a hair.
    foot = 6 - math.sqrt(3.5**2 - 3**2)
    for spare, passed in ((-0.3, True), (0.3, False)):
        along = 60 + 4.1 + foot + spare
        assert judge([replace(SLAT, tabs=(("left", along), ("right", along)))]).passed is passed


def row(count: int, *, ends: bool) -> list[Piece]:
    """Slats 30 wide in a row, one cutter's width apart, each tied to its neighbours by two tabs."""
    both: list[tuple[hb.Side, float]] = [("left", 50.0), ("left", 70.0), ("right", 50.0), ("right", 70.0)]
    found = []
    for number in range(count):
        x = 20.0 + 36.0 * number
        last = number == count - 1 and not ends
        found.append(Piece((x, 30.0, x + 30.0, 90.0), tuple(both[:2] if last else both)))
    return found


def test_a_chain_of_four_bridges_is_too_long() -> None:
    report = judge(row(4, ends=False))
    (far,) = says(report, "4 bridges in a row")
    assert 'part "slat 4"' in far.message
    assert (far.measured, far.limit) == (4.0, 3.0)
    # Tied at both ends, none is farther than two.
    assert [str(finding) for finding in judge(row(4, ends=True)).findings] == []
    board = hb.layout(row(4, ends=True), to_hold=(1, 2, 2, 1))
    assert judge(row(4, ends=True), board=board).findings == ()


def test_another_count_of_bridges_in_the_plan_is_reported() -> None:
    report = judge(row(4, ends=True), board=hb.layout(row(4, ends=True), to_hold=(1, 2, 3, 1)))
    assert report.passed
    (other,) = says(report, '2 bridges between part "slat 3" (porch 1) and the hold; the plan says 3')
    assert other.severity == "warning"


def saw(tabs: hb.Tabs) -> Piece:
    """A slat whose slots run off the board above and below."""
    return Piece((80.0, 5.0, 120.0, 115.0), tabs)


BOTH: hb.Tabs = (("left", 40.0), ("left", 80.0), ("right", 40.0), ("right", 80.0))


def test_a_board_sawn_in_two_is_held_on_both_sides_or_joined() -> None:
    left = (hb.hold(hb.LEFT_CLAMP),)
    assert judge([saw(BOTH)]).passed
    # Joined by the slat; but what hangs on the slat alone does not hold it.
    report = judge([saw(BOTH)], board=hb.layout([saw(BOTH)], holds=left))
    assert ["all to one side" in finding.message for finding in held(report)] == [True]
    across: hb.Tabs = (("left", 40.0), ("left", 80.0))
    lines = hb.program([saw(across)])
    report = judge([saw(across)], lines, board=hb.layout([saw(across)], holds=left))
    (half,) = says(report, "a piece of waste of 112.")
    assert (half.limit, half.at) == (400.0, pytest.approx((173.2, 60.0), abs=0.1))
    assert section_of(lines, half) == "(slat 1)"
    # With the other clamp only the hinge is left.
    report = judge([saw(across)], lines)
    assert [finding for finding in held(report) if "waste" in finding.message] == []


def test_a_part_cut_in_wood_that_is_loose_already() -> None:
    across: hb.Tabs = (("left", 40.0), ("left", 80.0))
    pieces = [saw(across), Piece((140.0, 40.0, 200.0, 80.0), (("left", 60.0), ("right", 60.0)))]
    lines = hb.program(pieces)
    left = (hb.hold(hb.LEFT_CLAMP),)
    report = judge(pieces, lines, board=hb.layout(pieces, holds=left))
    (loose,) = says(report, "cuts in wood that is loose already")
    assert section_of(lines, loose) == "(slat 2)"
    (part,) = says(report, 'part "slat 2" (porch 1) is no longer joined')
    assert section_of(lines, part) == "(slat 1)"
    # The other way round nothing is cut in loose wood, though it comes loose all the same.
    lines = [*hb.begin(), *hb.loop(pieces[1].box, pieces[1].tabs), "(slat 1)", *hb.loop(pieces[0].box, across)]
    report = judge(pieces, [*lines, *hb.finish()], board=hb.layout(pieces, holds=left))
    says(report, 'part "slat 2" (porch 1) is no longer joined')
    assert [finding for finding in held(report) if "loose already" in finding.message] == []


def frame(inner: hb.Tabs, width: float = 40.0) -> Piece:
    return replace(SLAT, box=(60.0, 30.0, 160.0, 90.0), opening=(90.0, 45.0, 90.0 + width, 75.0), inner=inner)


def test_a_plug_over_4_cm2_hangs_on_tabs_in_its_opening() -> None:
    lines = hb.program([frame(())])
    report = judge([frame(())], lines)
    assert checks(report) == {"held"}
    # 28 x 18, less half a millimetre all round.
    (plug,) = says(report, "a piece of waste of 4.6 cm2")
    assert section_of(lines, plug) == "(opening)"
    one: hb.Tabs = (("top", 110.0),)
    assert [str(finding) for finding in judge([frame(one)]).findings] == []
    # One of 3.8 cm2 may fall.
    assert judge([frame((), 33.0)]).passed
    # A tab on the opening's edge that is cut away, or one nobody planned.
    assert checks(judge([frame(one)], hb.program([frame(())]))) == {"tab", "held"}
    assert "wood left" in checks(judge([frame(())], hb.program([frame(one)])))


@pytest.mark.parametrize(("spoil", "check"), [(("G1 Z-9", "G1 Z-9.4"), "tab"), (("X116", "X113"), "tab")])
def test_tabs_in_an_opening_are_measured(spoil: tuple[str, str], check: str) -> None:
    """Inside the slot is the shorter of the two: a tab at a straight edge is as wide as the wood."""
    one: hb.Tabs = (("bottom", 110.0),)
    pieces = [frame(one)]
    lines = hb.program(pieces)
    begin, end = lines.index("(opening)"), lines.index("(slat 1)")
    spoiled = [line.replace(*spoil) if begin < number < end else line for number, line in enumerate(lines)]
    assert spoiled != lines
    assert check in checks(judge(pieces, spoiled))


def test_a_plug_does_not_hold_the_part_it_hangs_on() -> None:
    piece = replace(frame((("top", 110.0), ("bottom", 110.0))), tabs=(("left", 60.0),))
    says(judge([piece]), "has 1 bridge on its outline, but needs 2")


def test_a_tab_whose_far_end_is_cut_away() -> None:
    """A neighbour's slot takes the wood behind the tab; what stands between them, 0.6 thick, bears nothing."""
    first = Piece((30.0, 40.0, 90.0, 80.0), (("left", 60.0), ("right", 60.0), ("top", 60.0), ("bottom", 60.0)))
    second = Piece((102.6, 40.0, 162.6, 80.0), (("top", 132.0), ("bottom", 132.0)))
    report = judge([first, second])
    assert checks(report) == {"held"}
    (severed,) = held(report)
    assert "holds nothing" in severed.message
    assert severed.at == (90.0, 60.0)
    tied = replace(second, tabs=(("left", 60.0), *second.tabs))
    assert judge([first, tied]).passed


def test_bridges_over_the_whole_height_of_a_stack() -> None:
    tall = 2 * ws.THICK
    depths = (-4.0, -8.0, -12.0, -16.0, -20.0, -24.3)
    # Both boards within the reach of the cutter.
    machine = ws.router(
        cutter=[{**one.model_dump(exclude_none=True), "cutting_length": 26.0} for one in ws.router().cutter]
    )
    board = hb.layout([SLAT], stack=2)
    told = replace(hb.expected(board, [SLAT], height=tall), cutters=machine.cutter[:1])
    good = hb.program([SLAT], depths=depths, thick=tall, height=tall)

    def run(lines: Lines) -> ProofReport:
        return prove({told.file: ws.text(lines)}, programs=[told], drawings=[], machine=machine)

    assert [str(finding) for finding in run(good).findings] == []
    # Sawn through in the upper board only: the lower one would hold, but not the part in the upper.
    middle = [*hb.over(60.0 - 3.0, 40.0), "G1 Z-8 F300", "F1200", "G1 Y80", f"G0 Z{hb.AIR:g}"]
    report = run([*good[:-3], *middle, *good[-3:]])
    assert {"tab", "held"} <= checks(report)
    says(report, "has 1 bridge on its outline, but needs 2")


@pytest.mark.parametrize(
    ("holds", "words"),
    [
        ((), "no clamp holds the board"),
        ((hb.hold((50.0, 30.0, 90.0, 55.0)),), 'clamp 1 is on part "slat 1"'),
        ((hb.hold((300.0, 2.0, 330.0, 20.0)),), "clamp 1 is not on the board"),
        ((hb.hold(hb.LEFT_CLAMP, window=1),), "clamp 1 is for window 2, which the board doesn't have"),
    ],
)
def test_clamps_that_hold_nothing(holds: tuple[Hold, ...], words: str) -> None:
    says(judge([SLAT], board=hb.layout([SLAT], holds=holds)), words)


def test_a_clamp_that_is_no_keep_out_is_kept_clear_of_too() -> None:
    beside = hb.layout([SLAT], holds=(hb.hold((2.0, 2.0, 54.0, 20.0)), hb.CLAMPS[1]), keep=False)
    assert judge([SLAT], board=beside).passed
    under = hb.layout([SLAT], holds=(hb.hold((2.0, 2.0, 70.0, 36.0)), hb.CLAMPS[1]), keep=False)
    (hit,) = says(judge([SLAT], board=under), "comes 2.00 mm into clamp 1, which is 20.0 mm high")
    assert hit.line is not None
    # In the air over it, but not by enough.
    low = [line.replace("G0 X57", "G0 X20 Y10 Z20.5\nG0 X57") for line in hb.program([SLAT])]
    says(judge([SLAT], low, board=beside), "into clamp 1")


def test_a_part_under_a_clamp_is_held_by_it() -> None:
    """Nobody clamps goods; but it is no bridge away, and said to be covered."""
    loose = replace(SLAT, tabs=())
    report = judge(
        [loose], board=hb.layout([loose], holds=(hb.hold((70.0, 45.0, 110.0, 75.0)), *hb.CLAMPS), keep=False)
    )
    assert {finding.message.split(",")[0] for finding in held(report)} >= {'clamp 1 is on part "slat 1" (porch 1)'}
    assert [finding for finding in held(report) if "joined" in finding.message] == []


def test_a_screw_holds_what_its_head_lies_on() -> None:
    """A piece sawn off is held by a head of 7 round a hole of 5 in it."""
    across: hb.Tabs = (("left", 40.0), ("left", 80.0))
    head = Hold(area=circle((190.0, 60.0), 7.0), height=3.0)
    board = hb.layout([saw(across)], holds=(hb.hold(hb.LEFT_CLAMP), head), by="screws", keep=False)
    assert [finding for finding in held(judge([saw(across)], board=board)) if "waste" in finding.message] == []


def test_a_board_in_one_piece_needs_a_hold_all_the_same() -> None:
    """Only a mark is cut: there is nothing that could come loose."""
    latch = ws.latch_board()
    mark = [*hb.begin(), *hb.over(60, 80), "G1 Z-1 F300", "F1200", "G1 X100 Y80", "G1 X110 Y76", *hb.finish()]
    told = ws.expected(replace(latch, holding=Holding(by="clamps")), safe_z=hb.AIR)
    report = prove({told.file: ws.text(mark)}, programs=[told], drawings=[], machine=ws.router())
    assert [finding.message for finding in held(report)] == ["no clamp holds the board"]
    clamped = replace(told, board=replace(latch, holding=Holding(by="clamps", holds=hb.CLAMPS)))
    report = prove({told.file: ws.text(mark)}, programs=[clamped], drawings=[], machine=ws.router())
    assert held(report) == []


def windowed(*clamps: Hold) -> BoardLayout:
    """Two discs of 40 in two windows of a board, without tabs: each falls where only tape would hold it."""
    return replace(windows.layout(), holding=Holding(by="clamps", holds=clamps))


def test_each_window_that_is_cut_has_a_hold_and_holds_its_parts() -> None:
    one, two = hb.hold((2.0, 2.0, 30.0, 20.0), window=0), hb.hold((270.0, 2.0, 298.0, 20.0), window=1)
    report = windows.judge(board=windowed(one))
    says(report, "no clamp holds the board while window 2 is cut")
    report = windows.judge(board=windowed(one, two))
    first = says(report, "no longer joined to the wood that the clamps hold while window 1 is cut")
    assert ["porch lamp 1" in finding.message for finding in first] == [True]
    # The first disc is loose from the first when the second window begins.
    second = says(report, "while window 2 is cut")
    assert {finding.message.split(")")[0][-1] for finding in second} == {"1", "2"}
    assert [finding.line for finding in second if "no longer" not in finding.message] == [None]


# --- the graph alone -------------------------------------------------------------------------------------------------


def pieces(parts: int, waste: int, joins: Sequence[tuple[int, ...]]) -> Pieces:
    nothing = np.array([shapely.Point(0, 0)] * (parts + waste), dtype=object)
    return Pieces(nodes=nothing, parts=parts, bridges=nothing[:0], joins=tuple(joins), stubs=nothing[:0])


def reached(joins: Sequence[tuple[int, ...]], held_nodes: Sequence[int], *, without: int | None = None) -> set[int]:
    """Nodes joined to the held ones, by growing the set until it grows no more; a node taken out conducts nothing."""
    seen = set(held_nodes) - {without}
    while True:
        more = {node for own in joins if seen & (set(own) - {without}) for node in own if node != without} - seen
        if not more:
            return seen
        seen |= more


@given(
    st.integers(1, 9).flatmap(
        lambda count: st.tuples(
            st.just(count),
            st.lists(st.sets(st.integers(0, count - 1), min_size=min(2, count), max_size=3), max_size=14),
            st.sets(st.integers(0, count - 1), max_size=3),
        )
    )
)
def test_single_bridges_and_idle_ones_are_those_found_by_taking_each_out(
    graph: tuple[int, list[set[int]], set[int]],
) -> None:
    count, sets, held_set = graph
    joins, held_nodes = [tuple(sorted(one)) for one in sets], sorted(held_set)
    ways = ways_to(pieces(count, 0, joins), held_nodes)
    whole = reached(joins, held_nodes)
    assert {node for node, far in enumerate(ways.far) if far >= 0} == whole
    single = {bridge: set(freed) for bridge, freed in ways.single}
    for bridge in range(len(joins)):
        lost = whole - reached([*joins[:bridge], *joins[bridge + 1 :]], held_nodes)
        assert single.get(bridge, set()) == lost
    for node in whole:
        left = reached(joins, held_nodes, without=node)
        idle = {bridge for bridge, own in enumerate(joins) if node in own and not any(one in left for one in own)}
        # A bridge that joins the node alone leads nowhere, and is none.
        assert {bridge for bridge in ways.idle[node] if len(joins[bridge]) > 1} == {
            bridge for bridge in idle if len(joins[bridge]) > 1
        }


def test_a_bridge_between_three_nodes_counts_as_one() -> None:
    ways = ways_to(pieces(2, 1, [(0, 1, 2)]), [2])
    assert ways.far == (1, 1, 0)
    assert ways.single == ((0, (0, 1)),)
    # A second way for each of them.
    assert ways_to(pieces(2, 1, [(0, 1, 2), (0, 2), (0, 1)]), [2]).single == ()
