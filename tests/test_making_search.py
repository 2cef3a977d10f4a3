"""Whoever looks on while a job is made sees the search, and the plan says how it was searched for."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import cutjob
import cutjob.making
from cutjob.files.file_bytes import shipped_folder
from cutjob.laying_out import HeldLayout
from cutjob.layout.bounds import LeastBoards
from cutjob.layout.layout import Layout
from cutjob.layout.search.progress import Quiet, SearchProgress, Watch
from cutjob.making import work_out
from cutjob.reports.words import may_save_boards
from cutjob.resolved import ResolvedWood
from tests.test_making import write


class Onlooker:
    """Notes what it is told, and says stop at the first layout if it is to."""

    def __init__(self, *, stops: bool = False) -> None:
        self.told: list[SearchProgress] = []
        self.stops = stops

    def tell(self, standing: SearchProgress) -> None:
        self.told.append(standing)

    @property
    def stop(self) -> bool:
        return self.stops and bool(self.told)


@pytest.fixture
def _patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search in a hundred steps, each of which asks whether to stop, before the real one."""
    plain = cutjob.making.lay_out_wood

    def lay_out_wood(*given: object, watch: Watch, **options: object) -> Layout:
        for step in range(100):
            if watch.stop:
                break
            watch.tell(SearchProgress(boards=2, yield_=0.5, done=step / 100))
        return plain(*given, watch=Quiet(), **(options | {"seconds": None}))  # type: ignore[arg-type]

    monkeypatch.setattr(cutjob.making, "lay_out_wood", lay_out_wood)


def searched(folder: Path, watch: Watch | None, seconds: float | None = None) -> object:
    result = cutjob.make(write(folder), out=folder / "out", effort="quick", seconds=seconds, watch=watch)
    assert result.proof.passed
    return result.plan["search"]


@pytest.mark.usefixtures("_patient")
def test_an_onlooker_is_told_and_may_stop(tmp_path: Path) -> None:
    patient, hasty = Onlooker(), Onlooker(stops=True)
    assert searched(tmp_path, patient) == {
        "seed": 0, "effort": "quick", "stopped": False, "clock_decided": False, "unfinished": False
    }  # fmt: skip
    # Once for every hundredth of each layout it takes until one is held.
    assert len(patient.told) % 100 == 0
    assert len(patient.told) >= 100
    assert searched(tmp_path, hasty) == {
        "seed": 0, "effort": "quick", "stopped": True, "clock_decided": True, "unfinished": False
    }  # fmt: skip
    assert len(hasty.told) == 1


@pytest.mark.usefixtures("_patient")
def test_the_clock_is_told_of(tmp_path: Path) -> None:
    assert searched(tmp_path, None, 0.5) == {
        "seed": 0, "seconds": 0.5, "stopped": False, "clock_decided": True, "unfinished": False
    }  # fmt: skip


def test_the_real_search_tells_how_far_it_is(tmp_path: Path) -> None:
    onlooker = Onlooker()
    searched(tmp_path, onlooker)
    assert onlooker.told
    for standing in onlooker.told:
        assert standing.boards >= 0
        assert 0.0 <= standing.yield_ <= 1.0
        assert 0.0 <= standing.done <= 1.0


@pytest.mark.parametrize("seconds", [0.0, -1.0, float("inf"), float("nan")])
def test_seconds_that_are_none(tmp_path: Path, seconds: float) -> None:
    with pytest.raises(ValueError, match="more than 0"):
        cutjob.make(write(tmp_path), seconds=seconds)


def test_every_layout_is_seen_as_soon_as_it_is_found(tmp_path: Path) -> None:
    seen: list[Layout] = []
    made = work_out(cutjob.read(write(tmp_path)), effort="quick", seen=seen.append)
    assert made.job.layout.boards
    placed = [[board.placements for board in layout.boards] for layout in seen]
    assert [board.placements for board in made.job.layout.boards] in placed


@pytest.mark.parametrize("least_of_the_unfinished", [True, False])
def test_a_longer_search_is_offered_only_for_wood_that_may_take_fewer_boards(
    monkeypatch: pytest.MonkeyPatch, least_of_the_unfinished: bool
) -> None:
    """Of three woods one was not searched to its end; by the bounds the boards of another, or its own, may be fewer."""
    plain = cutjob.making.lay_out_wood
    resolved = cutjob.read(shipped_folder("samples") / "three-woods.toml")
    first, *others = resolved.woods
    may_be_fewer = first if least_of_the_unfinished else others[0]

    def lay_out_wood(wood: ResolvedWood, **options: object) -> Layout:
        return replace(plain(wood, **options), unfinished=wood is first)  # type: ignore[arg-type]

    def least(wood: ResolvedWood, held: HeldLayout) -> LeastBoards:
        return LeastBoards(count=1, by="area", cheaper=wood is may_be_fewer)

    monkeypatch.setattr(cutjob.making, "lay_out_wood", lay_out_wood)
    monkeypatch.setattr(cutjob.making, "_least", least)
    result = work_out(resolved, effort="quick", only=frozenset({"gcode"})).job
    assert result.search is not None
    assert result.search.unfinished is least_of_the_unfinished
    assert may_save_boards(result) is least_of_the_unfinished
