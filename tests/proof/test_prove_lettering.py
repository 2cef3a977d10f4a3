"""Lettering on a part and in the waste: cut all along, no deeper, before the part is loose, and no gouge."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutjob.geometry.segment import Arc, Line
from cutjob.layout.layout import BoardLayout, Lettering
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove
from tests.proof import workshop as ws
from tests.proof.spoil import Lines, Spoil, checks, drop, swap

# A hook on the latch: down 8, and round a half turn of radius 3. A stroke of 10 in the waste beyond the latch.
HOOK = (Line((120.0, 70.0), (120.0, 62.0)), Arc((120.0, 62.0), (114.0, 62.0), (117.0, 62.0), True))
BAR = (Line((160.0, 40.0), (160.0, 50.0)),)


def lettered(depth: float = 0.8) -> BoardLayout:
    strokes = (Lettering(placement=0, paths=(HOOK, BAR), depth=depth),)
    part = replace(ws.latch(), holes=(), marks=(), region=replace(ws.latch().region, holes=()))
    layout = ws.latch_board()
    return replace(layout, placements=(replace(layout.placements[0], part=part),), lettering=strokes)


def program() -> Lines:
    letters = ["(letters)", *ws.over(120, 70), "G1 Z-0.8 F300", "F1200", "G1 X120 Y62", "G2 X114 Y62 I-3 J0"]
    letters += [*ws.over(160, 40), "G1 Z-0.8 F300", "F1200", "G1 X160 Y50", "G0 Z5"]
    return [*ws.head(), *letters, *ws.latch_outline(), *ws.tail()]


def judge(lines: Lines, layout: BoardLayout | None = None) -> ProofReport:
    expected = ws.expected(layout or lettered())
    return prove({expected.file: ws.text(lines)}, programs=[expected], drawings=[], machine=ws.router())


def test_lettering_is_no_gouge() -> None:
    report = judge(program())
    assert [str(finding) for finding in report.findings] == []
    assert report.worst_gouge < 2e-4  # four decimals


def test_lettering_nobody_asked_for_is_one() -> None:
    assert "gouge" in checks(judge(program(), replace(lettered(), lettering=())))


@pytest.mark.parametrize(
    ("spoil", "check"),
    [
        (swap("^G1 Z-0.8 F300$", "G1 Z-1 F300"), "gouge"),
        (swap("^G1 Z-0.8 F300$", "G1 Z-0.7 F300"), "missing"),
        (swap("^G1 X160 Y50$", "G1 X160 Y49.9"), "missing"),
        (drop("^G1 X160 Y50$"), "missing"),
        (swap("^G1 X120 Y62$", "G1 X120.05 Y62"), "language"),  # the arc's radii differ
        (swap("^G2 X114 Y62 I-3 J0$", "G3 X114 Y62 I-3 J0"), "gouge"),
        (swap("^G2 X114 Y62 I-3 J0$", "G1 X114 Y62"), "gouge"),
    ],
)
def test_spoiled_lettering_is_rejected(spoil: Spoil, check: str) -> None:
    assert check in checks(judge(spoil(program())))


def test_lettering_of_a_loose_part() -> None:
    lines = program()
    begin, end = lines.index("(letters)"), lines.index("(outline)")
    late = [*lines[:begin], *ws.latch_outline(with_tabs=False), *lines[begin:end], *ws.tail()]
    expected = ws.expected(lettered(), tabs=())
    report = prove({expected.file: ws.text(late)}, programs=[expected], drawings=[], machine=ws.router())
    assert checks(report) == {"order"}


def test_lettering_lies_on_its_own_part_only() -> None:
    layout = lettered()
    one = layout.placements[0]
    far = replace(one, transform=replace(one.transform, x=400.0))
    other = replace(layout, placements=(one, far), lettering=(replace(layout.lettering[0], placement=1),))
    assert "gouge" in checks(judge(program(), other))
