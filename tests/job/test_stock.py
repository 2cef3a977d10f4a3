"""Which keep-outs of a board are clamps that the job names."""

from __future__ import annotations

import pytest

from cutjob.geometry.contour import circle
from cutjob.job.stock import named_clamps
from tests.layout.makers import board, kept_out

SPOT = circle((20.0, 20.0), 9.0)


@pytest.mark.parametrize(
    ("why", "height", "clamp"),
    [
        ("clamp", 30.0, True),
        ("Clamps at the end", 30.0, True),
        ("toggle clamp on a screw", 30.0, True),
        ("clamp", 0.0, True),  # one whose height nobody measured holds too
        (None, 30.0, True),
        ("cam at the stop end of the bench", 30.0, False),
        ("hold-down", 12.0, True),
        ("screw", 5.0, False),
        ("two nails", 3.0, False),
        ("KNOT, proud", 2.0, False),
        ("fence staples", 2.0, False),
        ("a pine wedge", 12.0, True),
        (None, 0.0, False),
        ("knot", 0.0, False),
        ("soft place", 0.0, False),
    ],
)
def test_a_clamp_by_its_height_and_by_what_the_job_says(why: str | None, height: float, clamp: bool) -> None:
    one = board(keep_outs=kept_out((SPOT,), heights=(height,), whys=(why,)))
    assert named_clamps(one) == ((0,) if clamp else ())


def test_their_places_among_the_keep_outs() -> None:
    assert named_clamps(board()) == ()
    three = board(keep_outs=kept_out((SPOT, SPOT, SPOT), heights=(0.0, 25.0), whys=("knot",)))
    assert named_clamps(three) == (1,)
    assert named_clamps(
        board(keep_outs=kept_out((SPOT, SPOT, SPOT), heights=(8.0,), whys=(None, "knot", "clamp")))
    ) == (0, 2)
