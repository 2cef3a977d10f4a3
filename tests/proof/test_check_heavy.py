"""Files of very many motions through parts and through the waste: refused soon and in little room."""

from __future__ import annotations

import tracemalloc

import pytest

from cutjob.proof.check import examine_program
from tests.proof import workshop as ws
from tests.proof.test_check import plan

_MOVES = 30_000
_MOST = 150e6  # bytes; 100,000 motions may take 500 MB with all that Python itself takes


def through_the_part(number: int) -> str:
    """Up and down through the latch, from waste to waste."""
    return f"G1 X{45 + number % 700 / 10:.1f} Y{(10, 110)[number % 2]}"


def in_the_part(number: int) -> str:
    return f"G1 X{55 + number % 13:.1f} Y{62 + number % 7:.1f}"


def in_the_waste(number: int) -> str:
    return f"G1 X{150 + number % 611 / 10:.1f} Y{3 + number % 1130 / 10:.1f}"


def spoiled(move: object) -> list[str]:
    whole = ws.latch_program()
    begin = whole.index("M5")
    wild = ["G0 X150 Y10", "G0 Z1", "G1 Z-2 F300", "F1200", *(move(number) for number in range(_MOVES)), "G0 Z5"]  # type: ignore[operator]
    return [*whole[:begin], *wild, *whole[begin:]]


@pytest.mark.parametrize(
    ("move", "check", "says"),
    [
        (through_the_part, "gouge", "motions run into parts; nothing else of the board was judged"),
        (in_the_part, "gouge", "motions run into parts; nothing else of the board was judged"),
        (in_the_waste, "waste", "unexplained cut"),
    ],
)
def test_so_many_motions_take_little_room(move: object, check: str, says: str) -> None:
    data = ws.text(spoiled(move))
    tracemalloc.start()
    try:
        report = examine_program(data, name="board-01.nc", machine=ws.router(), plan=plan()).report
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most < _MOST
    assert any(finding.check == check and says in finding.message for finding in report.findings)
