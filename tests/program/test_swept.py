"""The box round what a program's cutter takes, against what its moves come to seen from above."""

import pytest

from cutjob.cuts.cut import Feature
from cutjob.program.moves import Move, Step
from cutjob.program.time import swept_box
from tests.output.samples import program


def test_the_box_is_a_cutter_s_radius_round_all_that_is_cut():
    # The outside cut runs round the slot from (60, 60) to (180, 60) 31.5875 beside its middle line: half circles at its
    # ends. The air moves in between and the opening inside add nothing.
    made = program()
    reach = 31.5875 + made.cutters[0].radius
    assert swept_box(made) == pytest.approx((60 - reach, 60 - reach, 180 + reach, 60 + reach), abs=1e-9)


def test_air_moves_take_no_wood_but_a_plunge_does():
    air = Step(
        op="outside cut",
        placement=0,
        feature=Feature(kind="outline"),
        moves=(Move("rapid", -50.0, 900.0, 5.0), Move("rapid", 3.0, 4.0, 5.0)),
    )
    assert swept_box(program(steps=(air,))) is None
    plunge = Step(
        op="drill", placement=0, feature=Feature(kind="hole"), moves=(*air.moves, Move("plunge", 3.0, 4.0, -2.0, 400.0))
    )
    radius = program().cutters[0].radius
    assert swept_box(program(steps=(plunge,))) == (3 - radius, 4 - radius, 3 + radius, 4 + radius)
