from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.benchmarks.instances import DATA, Instance, read_instance, read_instances
from tests.benchmarks.library_boards import longest_run
from tests.benchmarks.strip_check import Placed, faults, length_of, polygons_of

SQUARE = {"id": "tile", "count": 2, "rotations": [0, 90], "outline": [[0, 0], [4, 0], [4, 4], [0, 4]]}


def read(tmp_path: Path, **more: object) -> Instance:
    path = tmp_path / "tiles.json"
    path.write_text(json.dumps({"strip_width": 8, "parts": [SQUARE], **more}))
    return read_instance(path)


def test_a_plain_instance(tmp_path: Path) -> None:
    instance = read(tmp_path)
    assert (instance.name, instance.count, instance.area, instance.best, instance.optimum) == (
        "tiles",
        2,
        32,
        None,
        None,
    )
    assert instance.items[0].rotations == (0.0, 90.0)
    assert instance.integer
    assert instance.strip_width == pytest.approx(8.0008)
    assert instance.density(4.0) == 1.0
    assert instance.gaps == (0.0,)


@pytest.mark.parametrize(
    ("published", "best", "mean"),
    [
        (86.5, 0.865, None),
        (0.865, 0.865, None),
        ({"best_known": 86.5, "best_before": 85, "mean_of_runs": 84, "source": "a paper of 2025"}, 0.865, 0.84),
        ({"method a": {"best": 80.0, "mean": 79.0}, "method b": {"best": 81.5}}, 0.815, 0.79),
    ],
)
def test_published_densities_in_all_wordings(
    tmp_path: Path, published: object, best: float, mean: float | None
) -> None:
    instance = read(tmp_path, published_density_percent=published)
    assert instance.best == pytest.approx(best)
    assert instance.mean == (None if mean is None else pytest.approx(mean))


@pytest.mark.parametrize(
    "known",
    [
        {"known_optimum_length": 4},
        {"known_optimum": "a perfect packing of 8 x 4 exists"},
        {"known_optimum": {"length": 4.0, "year": 1980}},
    ],
)
def test_known_optima_in_all_wordings(tmp_path: Path, known: dict[str, object]) -> None:
    assert read(tmp_path, **known).optimum == 4


def test_lengths_by_gap(tmp_path: Path) -> None:
    instance = read(tmp_path, length_needed_by_x_in={"gap 0, 10 s": 5, "gap 0.125, 30 s": 6.5}, source="ours, inches")
    assert instance.needed == ((0.0, 10.0, 5.0), (0.125, 30.0, 6.5))
    assert instance.gaps == (0.0, 0.125)
    assert instance.unit_mm == 25.4


def test_fractions_are_not_widened(tmp_path: Path) -> None:
    assert read(tmp_path, strip_width=8.5).strip_width == 8.5


@pytest.mark.skipif(not DATA.is_dir(), reason="the open data is not beside the repository")
def test_the_open_data_is_read_in_full() -> None:
    instances = read_instances(DATA)
    assert len(instances) >= 17
    for instance in instances:
        path = DATA / f"{instance.name}.json"
        text = path.read_text()
        assert instance.count == sum(entry["count"] for entry in json.loads(text)["parts"])
        assert (instance.best is not None) == ("density" in text)
        assert (instance.optimum is not None) == ("optimum" in text)
        # No one may claim more than a full strip: areas and widths are read in the same unit.
        assert instance.optimum is None or instance.density(instance.optimum) <= 1 + 1e-9
        if instance.name.startswith("ht_"):  # perfect packings (Hopper and Turton 2001)
            assert instance.density(instance.optimum or 0) == pytest.approx(1)


GOOD: tuple[Placed, ...] = ((0, 0.0, 0.0, 0.0), (0, 90.0, 4.0, 4.0))


def test_a_sound_layout_has_no_faults(tmp_path: Path) -> None:
    instance = read(tmp_path)
    assert faults(instance, GOOD) == []
    assert length_of(polygons_of(instance, GOOD)) == pytest.approx(4)


@pytest.mark.parametrize(
    ("placements", "gap", "wrong"),
    [
        (GOOD[:1], 0.0, "1 of 2 of part tile laid"),
        ((), 0.0, "nothing laid"),
        ((GOOD[0], (0, 0.0, 0.0, 4.01)), 0.0, "wider than the strip"),
        ((GOOD[0], (0, 0.0, 3.999, 0.0)), 0.0, "overlap"),
        ((GOOD[0], (0, 0.0, 1.0, 1.0)), 0.0, "overlap"),
        ((GOOD[0], GOOD[0]), 0.0, "overlap"),
        ((GOOD[0], (0, 0.0, 4.2, 0.0)), 0.25, "0.2 apart"),
        ((GOOD[0], (0, 45.0, 9.0, 0.0)), 0.0, "turned by 45"),
        ((GOOD[0], (0, 90.1, 9.0, 0.0)), 0.0, "turned by 90.1"),
    ],
)
def test_spoiled_layouts_have_faults(tmp_path: Path, placements: tuple[Placed, ...], gap: float, wrong: str) -> None:
    assert any(wrong in fault for fault in faults(read(tmp_path), placements, gap=gap))


def test_a_full_turn_is_no_turn(tmp_path: Path) -> None:
    assert faults(read(tmp_path), (GOOD[0], (0, -270.0, 9.0, 0.0))) == []


@given(st.integers(1, 40), st.integers(0, 40), st.integers(0, 45))
def test_the_longest_run_is_found_from_any_guess(count: int, most: int, guess: int) -> None:
    asked: list[int] = []

    def holds(run: object) -> bool:
        asked.append(len(run))  # type: ignore[arg-type]
        return asked[-1] <= most

    assert len(longest_run(list(range(count)), holds, guess=guess)) == min(count, most)
    assert len(asked) == len(set(asked)) <= 14  # never the same question twice, and few
