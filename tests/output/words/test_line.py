"""A line's label and its lengths and places in words."""

from __future__ import annotations

import pytest

from cutjob.output.words.line import Length, Line, Places


@pytest.mark.parametrize(
    ("number", "of", "name"), [(None, None, "Cutter"), (2, None, "Cutter 2"), (2, 3, "Cutter 2 of 3")]
)
def test_a_label_is_numbered_where_there_are_several(number: int | None, of: int | None, name: str) -> None:
    assert Line("Cutter", ("7, drill bit",), number, of).name == name
    assert Line(None, ("The cutters come in this order: 7, 5",)).name == ""


def test_lengths_and_places_in_the_units_of_whoever_reads_them() -> None:
    line = Line(
        "Clamp", ("at ", Places(((25.4, 12.7), (0.0, -0.001))), ", ", Length(6.35), ", ", Length(50.8, both=False))
    )
    assert line.words("mm") == "at X 25.4 Y 12.7 mm and X 0 Y 0 mm, 6.35 mm = 1/4 in, 50.8 mm"
    assert line.words("in") == "at X 1 Y 0.5 in and X 0 Y 0 in, 6.35 mm = 1/4 in, 2 in"


def test_what_a_user_writes_is_no_template() -> None:
    assert Line("Note", ("turn {0} and {wait}: 5 %s",)).words("in") == "turn {0} and {wait}: 5 %s"
