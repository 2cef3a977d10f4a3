"""A board longer than the bed: two windows, a disc in each, two pins between them; each file with its own zero."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout, HoldDown, Placement, Window
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove
from tests.proof import workshop as ws
from tests.proof.spoil import Lines, checks

PINS = ((150.0, 20.0), (150.0, 100.0))
SECOND = 140.0  # where the second window begins
FILES = ("board-01-1.nc", "board-01-2.nc")


def machine(**travel: object) -> Machine:
    return ws.router(travel={"x": 165, "y": 140, "open_ends": True, "located_by": "pins", "pin": 6.0} | travel)


def layout() -> BoardLayout:
    discs = [
        Placement(part=ws.disc(20.0), item="porch lamp", unit=unit, transform=Transform(x=x, y=60.0))
        for unit, x in ((1, 50.0), (2, 250.0))
    ]
    windows = (
        Window(first=0.0, last=160.0, placements=(0,), holes=PINS),
        Window(first=SECOND, last=300.0, placements=(1,), pins=PINS),
    )
    return BoardLayout(id="board-01", board=ws.board(length=300.0), placements=tuple(discs), windows=windows)


def drilled(x: float, y: float) -> Lines:
    lines = ws.over(x, y)
    for depth in ws.DEPTHS:
        lines += [f"G1 Z{ws.num(depth)} F300", "G0 Z1"]
    return [*lines, "F1200", "G0 Z5"]


def pin_holes() -> Lines:
    return [line for at in PINS for line in drilled(*at)]


def first(cuts: Lines | None = None) -> Lines:
    return [*ws.head(), *ws.round_cut(50, 60, 23), *(pin_holes() if cuts is None else cuts), *ws.tail()]


def second(cuts: Lines | None = None) -> Lines:
    return [*ws.head(), *(ws.round_cut(250 - SECOND, 60, 23) if cuts is None else cuts), *ws.tail()]


def programs(board: BoardLayout) -> list[ExpectedProgram]:
    return [
        ws.expected(board, file=file, window=number, origin=(board.windows[number].first, 0.0), tabs=())
        for number, file in enumerate(FILES)
    ]


def judge(
    one: Lines | None = None,
    two: Lines | None = None,
    *,
    board: BoardLayout | None = None,
    own: Machine | None = None,
    told: list[ExpectedProgram] | None = None,
) -> ProofReport:
    board = board or layout()
    files = {FILES[0]: ws.text(one or first()), FILES[1]: ws.text(two or second())}
    return prove(files, programs=told or programs(board), drawings=[], machine=own or machine())


def windows(one: dict[str, object] | None = None, two: dict[str, object] | None = None) -> BoardLayout:
    plain = layout()
    before, after = plain.windows
    return replace(plain, windows=(replace(before, **(one or {})), replace(after, **(two or {}))))  # type: ignore[arg-type]


def test_a_board_in_two_windows_passes() -> None:
    report = judge()
    assert [str(finding) for finding in report.findings] == []
    assert max(report.worst_gouge, report.worst_left) < 2e-4  # four decimals


def test_files_that_are_not_told_their_window_or_a_wrong_zero() -> None:
    told = programs(layout())
    assert "window" in checks(judge(told=[told[0], replace(told[1], window=None)]))
    assert "window" in checks(judge(told=[told[0], replace(told[1], window=5)]))
    assert "window" in checks(judge(told=[told[0], replace(told[1], origin=(141.0, 0.0))]))
    plain = replace(layout(), windows=())
    assert "window" in checks(judge(told=[replace(one, board=plain) for one in told], board=plain))


def test_the_reach_of_a_window() -> None:
    assert "window" in checks(judge(own=machine(x=150)))
    # A way 20 mm beyond the window: within the travel, but where the bed may be at its end.
    beyond = [*ws.round_cut(50, 60, 23), *pin_holes()]
    assert "window" in checks(judge([*ws.head(), *beyond, *ws.over(180, 60), *ws.tail()], own=machine(x=200)))
    assert "window" in checks(judge(None, second([*ws.round_cut(110, 60, 23), *ws.over(-30, 60)]), own=machine(x=200)))
    assert "travel" in checks(judge([*ws.head(), *beyond, *ws.over(180, 60), *ws.tail()]))
    # Within the cutter's run beside a part at the end: its width, two leads and a millimetre.
    assert judge([*ws.head(), *beyond, *ws.over(165, 60), *ws.tail()]).passed


def test_a_part_cut_in_the_other_window() -> None:
    """Both discs would be within reach of one window of this bed; the second is listed in the other."""
    wide = machine(x=320)
    board = windows({"last": 300.0})
    both = [*ws.round_cut(50, 60, 23), *ws.round_cut(250, 60, 23), *pin_holes()]
    assert "window" in checks(judge([*ws.head(), *both, *ws.tail()], second(ws.over(20, 60)), board=board, own=wide))
    one, two = board.windows
    moved = replace(board, windows=(replace(one, placements=(0, 1)), replace(two, placements=())))
    good = judge([*ws.head(), *both, *ws.tail()], second(ws.over(20, 60)), board=moved, own=wide)
    assert [str(finding) for finding in good.findings] == []
    # The last pass alone in another window is enough.
    split = ws.round_cut(250, 60, 23)
    deep = next(number for number, line in enumerate(split) if "Z-12.3" in line)
    rough = [*ws.round_cut(50, 60, 23), *split[: deep - 1], "G0 Z5", *pin_holes()]
    half = judge([*ws.head(), *rough, *ws.tail()], board=moved, own=wide)
    assert checks(half) == {"window"}


@pytest.mark.parametrize(
    ("board", "says"),
    [
        (windows({"placements": ()}), "in no windows"),
        (windows({"placements": (0, 1)}), "in 2 windows"),
        (windows({"last": 60.0}), "is not wholly in its window"),
        (windows({"first": 35.0}), "is not wholly in its window"),
        (windows(None, {"pins": ((151.0, 20.0), PINS[1])}), "has no hole drilled in the window before"),
        (windows({"last": 145.0}), "is outside window 1"),
        (windows({"holes": ((50.0, 60.0), *PINS)}), "is in part"),
    ],
)
def test_windows_that_make_no_sense(board: BoardLayout, says: str) -> None:
    report = judge(board=board, told=programs(board))
    assert any(finding.check == "window" and says in finding.message for finding in report.findings)


def test_holes_for_pins() -> None:
    assert checks(judge(first(drilled(*PINS[0])))) == {"missing"}
    off = [*drilled(*PINS[0]), *drilled(150.05, 100)]
    assert checks(judge(first(off))) == {"missing", "window", "waste"}
    shallow = [line.replace("-12.3", "-11.5") for line in pin_holes()]
    assert checks(judge(first(shallow))) == {"missing"}
    # A hole of 6 for a pin of 8 is none, and bored to 8 it is one.
    assert "missing" in checks(judge(own=machine(pin=8.0)))
    bored = [line for at in PINS for line in ws.bore(*at, 1.0, ws.DEPTHS[-1], pitch=1.0)]
    assert judge(first(bored), own=machine(pin=8.0)).passed
    assert checks(judge(first(bored))) == {"window", "waste"}
    # A circle that begins and ends in the middle of the hole, and bulges out of it.
    x, y = PINS[1]
    bulging = [*bored[:-1], f"G3 X{x:g} Y{y:g} I1.5 J0 F{ws.inside_feed(1.5)}", "G0 Z5"]
    assert checks(judge(first(bulging), own=machine(pin=8.0))) == {"window", "waste", "depth per pass"}
    # Drilled only once the board has been slid on.
    late = [*ws.round_cut(110, 60, 23), *[line for x, y in PINS for line in drilled(x - SECOND, y)]]
    assert {"missing", "window"} <= checks(judge(first([]), second(late)))


def test_a_window_without_a_file() -> None:
    """What its files should do is missed in them all."""
    board = replace(layout(), windows=(replace(layout().windows[0], placements=()), layout().windows[1]))
    told = programs(board)[1:]
    report = prove({FILES[1]: ws.text(second())}, programs=told, drawings=[], machine=machine())
    holes = [finding for finding in report.findings if "for the pin" in finding.message]
    assert [finding.check for finding in holes] == ["missing", "missing"]
    down = HoldDown(at=(40.0, 60.0), diameter=6.0, head=7.0, height=3.0, window=0)
    screwed = replace(board, hold_downs=(down,))
    told = programs(screwed)[1:]
    report = prove({FILES[1]: ws.text(second())}, programs=told, drawings=[], machine=machine())
    assert any("hold-down 1" in finding.message and finding.check == "missing" for finding in report.findings)


def test_nothing_is_cut_where_a_pin_stands() -> None:
    beside = [*ws.round_cut(110, 60, 23), *ws.over(16.2, 20), "G1 Z-2 F300", "F1200", "G0 Z5"]
    assert checks(judge(None, second(beside))) == {"waste"}
    into = [line.replace("X16.2", "X15.5") for line in beside]
    assert checks(judge(None, second(into))) == {"waste", "window"}


def test_screws_of_a_window_bind_its_files_only() -> None:
    """A screw through the waste in the second window, where the first window's files may still pass."""
    down = HoldDown(at=(160.0, 60.0), diameter=6.0, head=7.0, height=3.0, window=1)
    board = replace(layout(), hold_downs=(down,))
    cuts = [*drilled(20, 60), "M5", "M0", "S12000 M3", "G4 P3", *ws.round_cut(110, 60, 23)]
    low = [*pin_holes(), *ws.over(152, 60), "G1 Z-2 F300", "F1200", "G0 Z5"]
    assert checks(judge(first(low), second(cuts), board=board)) == {"waste"}
    assert checks(judge(None, second(), board=board)) == {"missing"}
    late = [*ws.round_cut(110, 60, 23), *drilled(20, 60)]
    assert checks(judge(None, second(late), board=board)) == {"hold-down"}
    elsewhere = replace(board, hold_downs=(replace(down, at=(50.0, 110.0)),))
    assert "hold-down" in checks(judge(None, second(cuts), board=elsewhere))
