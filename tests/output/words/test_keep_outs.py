"""What stands on a board is told wherever the head or the cutter may pass over it."""

from itertools import zip_longest

import pytest

from cutjob.job.model import BoardStock
from cutjob.job.stock import board_of
from cutjob.layout.layout import Layout
from cutjob.making import make_job
from cutjob.output.words.cautions import keep_out_warnings
from tests.output.samples import layout, machine


def stock(*reasons, name="cedar picket", heights=()):
    areas = [{"at": [100 + 50 * number, 20], "radius": 9} for number in range(len(reasons))]
    areas = [area | ({"why": why} if why else {}) for area, why in zip(areas, reasons, strict=True)]
    areas = [area | ({"height": height} if height else {}) for area, height in zip_longest(areas, heights)]
    return BoardStock.model_validate({"name": name, "length": 700, "width": 140, "thickness": 16, "keep_out": areas})


def warnings(*kinds, profile=None, used=None, unit="mm"):
    laid = tuple(layout(board=board_of(kind)) for kind in kinds) if used is None else used
    whole = Layout(boards=laid, gap=5, edge_margin=3, seed=0)
    return keep_out_warnings(kinds, layout=whole, machine=profile or machine(), unit=unit)


def test_clamps_screws_and_nails_are_warned_of_once_for_a_kind_of_board():
    assert warnings(stock("clamp", "Two Screws", None, "knot", "clamp")) == (
        'board "cedar picket": keep-out (clamp, Two Screws): air moves pass over it 5 mm above the stock '
        "(safe_height), so it must be lower; or state its height",
    )
    [first, second] = warnings(stock("nail"), stock("hold-down clamps", name="end cut"), unit="in")
    assert "keep-out (nail): air moves pass over it 0.1969 in above the stock" in first
    assert first.startswith('board "cedar picket"')
    assert second.startswith('board "end cut": keep-out (hold-down clamps)')


@pytest.mark.parametrize("reasons", [(), (None,), ("knot",), ("resin pocket", "snail hole")])
def test_knots_are_no_such_thing(reasons):
    assert warnings(stock(*reasons)) == ()


def test_boards_that_stay_on_the_pile_are_not_told_of():
    assert warnings(stock("clamp"), used=()) == ()
    # Only the part of the board that was sawn off held the nail.
    bare = layout(board=board_of(stock()))
    assert warnings(stock("nail"), used=(bare,)) == ()


def test_other_machines():
    [laser] = warnings(stock("clamp"), profile=machine(kind="laser"))
    assert "the head passes over it between cuts" in laser
    assert warnings(stock("clamp"), profile=machine(kind="laser", writes=["dxf"])) == ()


def test_what_has_a_height_is_cleared_and_not_warned_of():
    assert warnings(stock("clamp", "clamp", heights=(30, 20))) == ()
    [one] = warnings(stock("clamp", "screw", "nail", heights=(30, 0, 2)))
    assert "keep-out (screw)" in one
    # A beam's head doesn't rise between cuts.
    [laser] = warnings(stock("clamp", heights=(30,)), profile=machine(kind="laser"))
    assert "must not stand in the head's way" in laser


def test_a_job_with_a_clamp_says_so_in_its_plan_and_its_file(tmp_path):
    job = tmp_path / "spring.toml"
    job.write_text(
        'units = "mm"\nmachine = "long-bed-router"\n[[make]]\nname = "pot foot"\ndesign = "round"\n'
        "with = { diameter = 60, hole = 8, ring_holes = 0 }\n"
        '[[board]]\nname = "end cut"\nlength = 200\nwidth = 120\nthickness = 12\n'
        'keep_out = [{ at = [185, 60], radius = 12, why = "clamp" }]\n',
        encoding="utf-8",
    )
    made = make_job(job, out=tmp_path / "out", effort="quick")
    assert made.proof.passed
    [warning] = [warning for warning in made.plan["warnings"] if "clamp" in warning]
    assert warning.startswith('board "end cut": keep-out (clamp): air moves pass over it 8 mm above the stock')
    assert "Held by: 1 clamp on the waste" in made.files["board-01.nc"].decode("ascii")
