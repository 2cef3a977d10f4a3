"""Trade checks: common practice, no source. Made end to end, from a job file to proven files."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.making import MakeResult, make_job

PICKET = """
[[board]]
name = "picket"
length = "6 ft"
width = "5 1/2"
thickness = "5/8"
material = "softwood"
count = 1
"""
STACK = """
title = "Porch stack"
units = "in"
machine = "long-bed-router"
cutter = 1
[[make]]
name = "stack"
design = "graded-stack"
count = 1
[make.with]
tiers = 11
longest = 20
shortest = "4 1/4"
tallest = "2 1/4"
least_height = 1
gap = 1
foot = 0
neck = 0
bore = "3/8"
topper = "star"
base = [12, 8]
"""
RUNS_OUT = """
units = "in"
machine = "long-bed-router"
[[make]]
name = "stack"
design = "graded-stack"
with = { tiers = 9, longest = 9, step = "1 1/8" }
"""
INCH = 25.4


@pytest.fixture(scope="module")
def stack(tmp_path_factory: pytest.TempPathFactory) -> MakeResult:
    """Eleven pieces and a star on one picket, with a quarter-inch cutter."""
    folder = tmp_path_factory.mktemp("stack")
    job = folder / "stack.toml"
    job.write_text(STACK + PICKET, encoding="utf-8")
    return make_job(job, out=folder / "out", effort="quick")


def test_stand_height(stack: MakeResult) -> None:
    """Eleven heights from 2 1/4 down to 1 in, 1 in apart, make 27 7/8 in."""
    assert dict(stack.items[0].build.facts)["stand height"] == pytest.approx(27.875 * INCH, abs=1e-9)


def test_lengths_and_heights_of_the_pieces(stack: MakeResult) -> None:
    boxes = [part.region.bounds for part in stack.items[0].build.shaped if part.name.startswith("piece")]
    lengths = [(box[2] - box[0]) / INCH for box in boxes]
    assert len(boxes) == 11
    assert lengths == pytest.approx([20 - 1.575 * step for step in range(11)], abs=1e-9)


def test_all_of_it_comes_out_of_one_picket(stack: MakeResult) -> None:
    assert stack.proof.passed
    (board,) = stack.layout.boards
    assert board.stack == board.copies == 1
    assert len(board.placements) == 12
    assert stack.programs[0].cutters[0].diameter == pytest.approx(INCH / 4)
    assert sorted(piece.length / INCH for piece in stack.layout.sawn) == pytest.approx([8, 12])
    # Two pieces and two kerfs of 1/8 in are off the board before anything is laid on it.
    assert board.board.length == pytest.approx((72 - 20 - 2 / 8) * INCH)


def test_fixed_step_that_runs_out_is_told_with_its_level(tmp_path: Path) -> None:
    """9 - 8 x 1 1/8 = 0: the ninth piece would have no length."""
    job = tmp_path / "stack.toml"
    job.write_text(RUNS_OUT + PICKET, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        make_job(job, out=tmp_path / "out")
    text = str(caught.value)
    assert "9" in text
    assert "at most 8" in text
    assert "stack.toml:7" in text
    assert not (tmp_path / "out").exists()
