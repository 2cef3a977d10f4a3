"""Boards finished on several processes come out as they do on one."""

from __future__ import annotations

import multiprocessing
import pickle
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import pytest

from cutjob.cuts.board_cuts import cut_layouts
from cutjob.cuts.cutter_choice import Cutters
from cutjob.errors import InputError, Location, Problem
from cutjob.finishing import FilesWanted, Finished, drawn_parts, finish_boards
from cutjob.geometry.contour import Region, circle, rectangle
from cutjob.geometry.segment import Arc, Line
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.job.read_machine import read_machine
from cutjob.layout.holding import Holding
from cutjob.parts.part import Hole, Pocket, ShapedPart
from cutjob.program.moves import Move
from tests.benchmarks.scale import sheets
from tests.cuts.makers import layout_of

UNEVEN = 105  # parts of more than one chunk, on a full sheet and the rest


@pytest.fixture(scope="module")
def machine() -> Machine:
    return read_machine("long-bed-router", beside=None)


def written(finished: Finished) -> tuple[object, ...]:
    return (
        dict(sorted(finished.files.items())),
        finished.programs,
        finished.drawings,
        finished.proof,
    )


def test_processes_change_nothing(machine: Machine) -> None:
    first, second = sheets(UNEVEN), sheets(12, seed=2)
    # The smaller board comes first and is started last.
    layouts = [replace(layout, holding=Holding(by="tape")) for layout in (*second, *first)]
    cutter = machine.cutter[0]
    only = Cutters(outline=cutter, usable=(cutter,), changer=True)
    options = {"cutters": only, "machine": machine, "gap": 8.0, "locations": {}}
    order = FilesWanted(
        title="stall", units="mm", machine=machine, boards=len(layouts), only=frozenset({"gcode", "dxf"})
    )
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        shared, told = cut_layouts(layouts, executor=pool, **options)
        from_pool = finish_boards(shared, order, executor=pool)
    alone, told_alone = cut_layouts(layouts, **options)
    assert told == told_alone
    assert [board.parts for board in shared] == [board.parts for board in alone]
    assert [written(board) for board in from_pool] == [written(board) for board in finish_boards(alone, order)]
    assert all(board.proof.passed for board in from_pool)


@pytest.mark.parametrize(
    "value",
    [
        Line((0.0, 0.0), (1.0, 2.0)),
        Arc((1.0, 0.0), (0.0, 1.0), (0.0, 0.0), True),
        Move("cut", 1.0, 2.0, -3.0, 900.0, (0.5, 0.5), True, 10.0),
    ],
)
def test_values_come_back_from_another_process(value: object) -> None:
    assert pickle.loads(pickle.dumps(value)) == value


def test_errors_come_back_with_their_problems() -> None:
    problem = Problem(message="too wide", advice="saw it", place="board", location=Location(file="job.toml", line=3))
    error = pickle.loads(pickle.dumps(InputError([problem, problem])))
    assert isinstance(error, InputError)
    assert error.problems == (problem, problem)
    assert str(error) == str(InputError([problem, problem]))


@pytest.mark.parametrize(
    ("part", "lost"),
    [
        (ShapedPart(name="foot", region=Region(rectangle(60, 60)), holes=(Hole(at=(30, 30), diameter=6.35),)), "round"),
        (ShapedPart(name="foot", region=Region(rectangle(60, 60), (circle((30, 30), 3.0),))), "an opening"),
        (
            ShapedPart(
                name="foot",
                region=Region(rectangle(60, 60)),
                pockets=(Pocket(region=Region(circle((30, 30), 3.1)), depth=2),),
            ),
            "a pocket",
        ),
    ],
)
def test_details_too_narrow_for_a_drawing_with_an_offset_are_told(
    machine: Machine, part: ShapedPart, lost: str
) -> None:
    """With several cutters a hole may be narrower than the one for the outlines, by half of which all is moved."""
    layout = layout_of((part, Transform(x=20, y=20)), (part, Transform(x=120, y=20)))
    offset = machine.model_copy(update={"drawing": machine.drawing.model_copy(update={"outlines": "offset"})})
    with pytest.raises(InputError, match=f'{lost}.* is too narrow for .* the 6.35 mm cutter 1.*"as drawn"') as told:
        drawn_parts(layout, offset, machine.cutter[0])
    assert len(told.value.problems) == 1
    assert drawn_parts(layout, machine, machine.cutter[0])[1] == 0.0
