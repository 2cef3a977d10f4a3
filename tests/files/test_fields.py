"""The kinds of value: lengths in the file's units, strict numbers, names."""

from typing import Annotated

import pytest
from pydantic import ValidationError

from cutjob.files.fields import FileModel, Mm, Name, NotNegative, PointMm, Positive, PositiveMm, Sentence, YesNo
from cutjob.files.values import Count
from cutjob.job.machine import Cutter, Machine
from cutjob.job.model import BoardStock, JobFile, StatedKeepOut


class Sample(FileModel):
    length: Mm = 0.0
    size: PositiveMm = 1.0
    speed: Positive = 1.0
    price: NotNegative = 0.0
    number: Annotated[int, Count()] = 0
    on: YesNo = False
    name: Name = "x"
    note: Sentence = "x"
    at: PointMm = (0.0, 0.0)


def _read(units: str | None = "in", **values: object) -> Sample:
    return Sample.model_validate(values, context={"units": units} if units else None)


def test_a_bare_length_takes_the_units_of_the_file() -> None:
    assert _read("in", length=2, size="1/2").length == 50.8
    assert _read("mm", length=2).length == 2.0
    assert _read(None, length=2).length == 2.0
    assert _read("in", at=["1", "2 mm"]).at == (25.4, 2.0)


@pytest.mark.parametrize(
    "values",
    [
        {"length": True},
        {"length": [1]},
        {"length": float("nan")},
        {"length": float("inf")},
        {"length": 1e308},
        {"length": "2 km"},
        {"length": "1001 m"},
        {"size": 0},
        {"size": "-1"},
        {"speed": "5"},
        {"speed": True},
        {"speed": float("nan")},
        {"speed": 0},
        {"price": -0.01},
        {"number": 2.0},
        {"number": "2"},
        {"number": True},
        {"on": 1},
        {"on": "yes"},
        {"name": ""},
        {"name": "   "},
        {"name": "two\nlines"},
        {"name": "x" * 81},
        {"name": 5},
        {"note": "x" * 201},
        {"at": [1]},
        {"at": [1, 2, 3]},
        {"unknown": 1},
    ],
)
def test_what_is_out_of_bounds_is_refused(values: dict[str, object]) -> None:
    with pytest.raises(ValidationError):
        _read(**values)


def test_whole_numbers_pass_for_decimal_ones() -> None:
    assert _read("mm", speed=5, price=0).speed == 5.0


def test_models_are_frozen() -> None:
    with pytest.raises(ValidationError):
        _read().number = 5  # type: ignore[misc]


def test_a_keep_out_has_one_shape() -> None:
    for values in ({}, {"at": [1, 2]}, {"radius": 1}, {"at": [1, 2], "outline": [[0, 0], [1, 0], [0, 1]]}):
        with pytest.raises(ValidationError, match="either at and radius, or outline"):
            StatedKeepOut.model_validate(values)
    assert StatedKeepOut.model_validate({"at": [1, 2], "radius": 1}).radius == 1.0


def test_a_board_has_one_shape() -> None:
    outline = [[0, 0], [9, 0], [0, 9]]
    for values in ({}, {"length": 9}, {"length": 9, "width": 2, "outline": outline}):
        with pytest.raises(ValidationError, match=r"length and width, or outline|takes no length"):
            BoardStock.model_validate({"name": "b", "thickness": 1, **values})
    with pytest.raises(ValidationError, match="leave no board"):
        BoardStock.model_validate(
            {"name": "b", "thickness": 1, "length": 9, "width": 4, "corners": {"size": 2, "end": "left"}}
        )


def test_a_job_without_items_or_boards_is_none() -> None:
    with pytest.raises(ValidationError):
        JobFile.model_validate({"units": "in", "machine": "m", "make": [], "board": []})


def test_feed_from_chip_load_is_rpm_times_flutes_times_chip_load() -> None:
    # reference figure: 18000 x 2 x 0.1 mm = 3600 mm/min
    row = {"material": "softwood", "source": "s", "rpm": 18000, "chip_load": 0.1}
    cutter = Cutter.model_validate({"number": 1, "name": "c", "diameter": 6, "flutes": 2, "feed": [row]})
    assert cutter.feed[0].feed == pytest.approx(3600, abs=1e-9)  # the rounding of one product
    for wrong in ({"rpm": None}, {"feed": 100}):
        with pytest.raises(ValidationError, match="chip_load"):
            Cutter.model_validate({"number": 1, "name": "c", "diameter": 6, "feed": [{**row, **wrong}]})


def test_a_machine_says_all_that_is_missing() -> None:
    row = {"material": "softwood", "source": "s", "feed": 100}
    with pytest.raises(ValidationError) as caught:
        Machine.model_validate(
            {
                "name": "m",
                "summary": "s",
                "kind": "router",
                "writes": ["gcode"],
                "cutter": [
                    {"number": 1, "name": "a", "diameter": 6, "feed": [row, row]},
                    {"number": 1, "name": "b", "diameter": 3},
                ],
            }
        )
    for words in ("travel", "another cutter", "a row already", "is missing; a router needs it"):
        assert words in str(caught.value)
