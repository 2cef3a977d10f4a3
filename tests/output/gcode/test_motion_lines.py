"""Motion lines one by one: what the controller remembers is left out, and what has changed never is."""

from __future__ import annotations

import math
import re

import pytest

from cutjob.job.machine import Controller
from cutjob.output.gcode.write import MotionLines
from cutjob.program.moves import Move

PLAIN = Controller(units="mm", decimals=3)


def lines_of(*moves: Move, laser: bool = False, lift: float | None = None) -> list[str]:
    """The lines of moves; after the first, the cutter is lifted if that is asked."""
    made = MotionLines(controller=PLAIN, origin=(0.0, 0.0), raised=0.0, laser=laser)
    for number, move in enumerate(moves):
        made.move(move)
        if number == 0 and lift is not None:
            made.lift(lift)
    return made.lines


def to(x: float, y: float, z: float = 5.0) -> Move:
    return Move("rapid", x, y, z)


def cut(x: float, y: float, z: float = -1.0, *, feed: float = 1200.0, power: float = 0.0) -> Move:
    return Move("cut", x, y, z, feed=feed, power=power)


def test_every_other_power_is_written_higher_or_lower() -> None:
    """S is modal: a power that is left out would burn a mark through at the power of a cut."""
    moves = [cut(10.0 * n, 0.0, power=power) for n, power in enumerate((800.0, 300.0, 300.0, 90.0, 1000.0, 800.0), 1)]
    lines = lines_of(to(0.0, 0.0), *moves, laser=True)
    written = [re.findall(r"S([\d.]+)", line) for line in lines if line.startswith(("G1", "X"))]
    assert written == [["800"], ["300"], [], ["90"], ["1000"], ["800"]]


def test_feeds_that_are_written_alike_are_written_once() -> None:
    feeds = (1200.0, 1200.00001, 1200.04, 1199.9, 1200.0)
    lines = lines_of(to(0.0, 0.0, 1.0), *(cut(10.0 * n, 0.0, feed=feed) for n, feed in enumerate(feeds, 1)))
    assert [re.findall(r"F([\d.]+)", line) for line in lines[2:]] == [["1200"], [], [], ["1199.9"], ["1200"]]


@pytest.mark.parametrize("clockwise", [False, True])
def test_an_arc_after_a_lift_starts_where_the_cutter_stands(clockwise: bool) -> None:
    """A quarter or three quarters of a circle about (30, 40) from (50, 40) to (30, 60), 2 mm high."""
    arc = Move("cut", 30.0, 60.0, 2.0, feed=600.0, centre=(30.0, 40.0), clockwise=clockwise)
    lines = lines_of(to(50.0, 40.0), arc, lift=2.0)
    word = "G2" if clockwise else "G3"
    arcs = [line for line in lines if line.startswith(word)]
    assert arcs == [f"{word} X30 Y60 I-20 J0 F600"]


def test_an_arc_after_a_lift_written_as_chords_stays_on_its_circle() -> None:
    made = MotionLines(controller=PLAIN.model_copy(update={"arcs": False}), origin=(0.0, 0.0), raised=0.0, laser=False)
    made.move(to(50.0, 40.0))
    made.lift(2.0)
    made.move(Move("cut", 30.0, 60.0, 2.0, feed=600.0, centre=(30.0, 40.0)))
    x, y, places = 50.0, 40.0, []
    for line in made.lines[made.lines.index("Z2") + 1 :]:
        words = dict(re.findall(r"([XYZ])(-?[\d.]+)", line))
        assert "Z" not in words
        x, y = float(words.get("X", x)), float(words.get("Y", y))
        places.append((x, y))
    assert len(places) > 5
    assert all(abs(math.hypot(x - 30.0, y - 40.0) - 20.0) < 0.001 for x, y in places)  # three decimals
    assert places[-1] == (30.0, 60.0)
    assert all(x >= 30.0 and y >= 40.0 for x, y in places)  # the quarter meant


def test_moves_and_chords_under_a_hundredth_are_joined_to_the_next() -> None:
    """Nothing shorter than 0.01 mm is written, whatever is asked for, and the ends stay within that."""
    centre = (0.0, 1.0)
    moves = [
        Move("rapid", 0.0, 0.0, 5.0),
        Move("plunge", 0.0, 0.0, -1.0, 300.0),
        Move("cut", 0.004, 0.0, -1.0, 900.0),
        *(Move("cut", math.sin(a), 1 - math.cos(a), -1.0, 900.0, centre) for a in (0.005, 0.008, 0.1, 0.1015)),
        Move("cut", 2.0, 0.2, -1.004, 900.0),
        Move("cut", 2.003, 0.2, -1.004, 900.0),
        Move("rapid", 2.003, 0.2, 5.0),
    ]
    for controller in ({}, {"arcs": False}, {"units": "in", "decimals": 5}):
        lines = MotionLines(controller=Controller(**controller), origin=(0.0, 0.0), raised=0.0, laser=False)
        for move in moves:
            lines.move(move)
        scale = 25.4 if controller.get("units") == "in" else 1.0
        here, lengths = {"X": 0.0, "Y": 0.0, "Z": 5.0}, []
        for line in lines.lines[1:]:
            there = here | {word[0]: float(word[1:]) * scale for word in line.split() if word[0] in "XYZ"}
            if there != here:
                lengths.append(math.dist(tuple(here.values()), tuple(there.values())))
            here = there
        assert len(lengths) >= 4
        assert min(lengths) >= 0.01
        assert math.dist((here["X"], here["Y"]), (2.003, 0.2)) < 0.01
