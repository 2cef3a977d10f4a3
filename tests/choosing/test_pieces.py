"""Items as pieces, and boards of pieces as columns: nothing is lost or made up on the way."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutjob.choosing.boards import Bench, kinds_of
from cutjob.choosing.pieces import items_with, least_seconds, pieces_of
from cutjob.costs.work import machine_seconds
from cutjob.making import work_out
from cutjob.resolved import ResolvedJob, read_order, resolve

JOB = """
title = "Stacks and discs"
units = "mm"
machine = "{machine}"
{held}

[[make]]
name = "stack"
design = "graded-stack"
size = "small"
count = 1
{together}

[make.with]
tiers = 3
longest = 160
shortest = 160
tallest = 40
least_height = 40
stands = "flat"
bore = 10
topper = "none"
base = ["120 mm"]

[[make]]
name = "disc"
design = "round"
count = 1
with = {{ diameter = 60, hole = 8 }}

[[board]]
name = "plank"
length = 700
width = 140
thickness = 16
count = 2
price = 1.50

[[rod]]
name = "10 mm dowel"
diameter = 10
length = 900
"""


def resolved_in(
    folder: Path, *, together: bool = False, held: str = "tape", machine: str = "bench-router"
) -> ResolvedJob:
    path = folder / "job.toml"
    text = JOB.format(
        machine=machine,
        together="together = true" if together else "",
        held=f'board_held_by = "{held}"' if held else "",
    )
    path.write_text(text, encoding="utf-8")
    return resolve(*read_order(path))


def test_equal_parts_are_one_kind_of_piece(tmp_path: Path) -> None:
    resolved = resolved_in(tmp_path)
    pieces = pieces_of(resolved.woods)
    (stack, disc) = resolved.woods[0].items
    assert sum(piece.per_item for piece in pieces if piece.item == "stack") == len(stack.build.from_boards)
    assert [piece.per_item for piece in pieces if piece.item == "stack" and piece.shaped] == [3]  # three equal tiers
    assert sum(piece.area * piece.per_item for piece in pieces if piece.shaped) == pytest.approx(
        sum(part.region.area for item in (stack, disc) for part in item.build.shaped)
    )
    assert all(piece.padded >= piece.area for piece in pieces)


def test_parts_that_lie_on_one_board_are_one_piece(tmp_path: Path) -> None:
    pieces = pieces_of(resolved_in(tmp_path, together=True).woods)
    assert [(piece.item, piece.whole, len(piece.shaped), len(piece.sawn)) for piece in pieces] == [
        ("stack", True, 3, 1),
        ("disc", False, 1, 0),
    ]


@pytest.mark.parametrize("together", [False, True])
def test_a_board_gives_the_pieces_that_were_laid_on_it(tmp_path: Path, together: bool) -> None:
    resolved = resolved_in(tmp_path, together=together)
    pieces, kinds = pieces_of(resolved.woods), kinds_of(resolved.woods)
    bench = Bench(resolved.woods, pieces, kinds, seed=0, effort="quick")
    counts = tuple(1 if piece.whole else piece.per_item for piece in pieces)
    items = items_with(resolved.woods[0], pieces, counts)
    assert sum(item.count * len(item.build.from_boards) for item in items) == 5  # three tiers, a base, a disc
    column = bench.held(0, counts)
    assert column is not None
    assert column.gives == tuple(map(float, counts))
    assert min(column.cost, column.by_hand, column.machine) > 0


def test_more_than_fits_is_no_column(tmp_path: Path) -> None:
    resolved = resolved_in(tmp_path)
    pieces = pieces_of(resolved.woods)
    bench = Bench(resolved.woods, pieces, kinds_of(resolved.woods), seed=0, effort="quick")
    assert bench.held(0, tuple(20 for _ in pieces)) is None


def test_a_board_that_falls_apart_is_no_column(tmp_path: Path) -> None:
    """Discs close together, held by clamps: as many as lie on a board are too many to leave it in one piece."""
    tape, clamps = (resolved_in(tmp_path, held=held) for held in ("tape", "clamps"))
    counts = []
    for resolved in (tape, clamps):
        pieces = pieces_of(resolved.woods)
        bench = Bench(resolved.woods, pieces, kinds_of(resolved.woods), seed=0, effort="quick")
        need = tuple(int(piece.item == "disc") for piece in pieces)
        alone = bench.counts_alone(0, need)
        assert alone is not None
        counts.append(sum(alone))
    assert counts[0] > counts[1] > 0


def test_no_program_is_quicker_than_the_least_time(tmp_path: Path) -> None:
    for held in ("tape", "clamps"):
        resolved = resolved_in(tmp_path, held=held)
        job = work_out(resolved, effort="quick", only=frozenset({"gcode"})).job
        seconds = machine_seconds(job.layout, job.programs, job.machine)
        for name in ("stack", "disc"):
            own = [piece for piece in pieces_of(resolved.woods) if piece.item == name]
            least = sum(piece.per_item * least_seconds(piece, resolved.woods[0]) for piece in own)
            assert 0 < least <= seconds[name]


def test_a_saw_has_no_least_time(tmp_path: Path) -> None:
    resolved = resolved_in(tmp_path, held="", machine="bandsaw")
    wood = resolved.woods[0]
    assert all(least_seconds(piece, wood) == 0 for piece in pieces_of(resolved.woods))
