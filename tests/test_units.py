"""Lengths as people write them. Outside source: the international inch is exactly 25.4 mm (agreement of 1959)."""

from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from cutjob.units import (
    RULE,
    TAPE,
    Unit,
    area,
    at_most,
    each_spelled,
    format_length,
    length,
    length_by,
    parse_length,
    rounded_down,
    rounded_up,
    spelled,
)

# One conversion from an exact fraction to the nearest float: equality needs no tolerance.
wholes = st.integers(0, 2000)
denominators = st.sampled_from([2, 3, 4, 8, 10, 16, 32, 64])


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("16", Fraction(16)),
        ("16 in", Fraction(16)),
        ("1 1/8", Fraction(9, 8)),
        ("1-1/8 in", Fraction(9, 8)),
        ('5/8"', Fraction(5, 8)),
        ("5/8”", Fraction(5, 8)),
        ("6 ft", Fraction(72)),
        ("5 ft 6 in", Fraction(66)),
        ("5' 6 1/2\"", Fraction(133, 2)),
        ("-5 ft 6 in", Fraction(-66)),
        (".5", Fraction(1, 2)),
        ("2.", Fraction(2)),
        ("+3", Fraction(3)),
        (7, Fraction(7)),
        (0.25, Fraction(1, 4)),
        ("25.4 mm", Fraction(1)),
        ("2.54 cm", Fraction(1)),
        ("0.0254 m", Fraction(1)),
        ("1 INCH", Fraction(1)),
    ],
)
def test_lengths_of_a_file_in_inches(text: str | float, inches: Fraction) -> None:
    assert parse_length(text, unit="in") == float(inches * Fraction(254, 10))


@pytest.mark.parametrize(
    "text",
    ["", " ", "abc", "1/0", "1 / 0 in", "nan", "inf", "1e308", "1 2 3", "5 6/8/2", "--1", "1 in 2 in", "6 fx", "5 ft 6",
     "6 in 5 ft", "1,5", "x" * 1000, "9" * 39, "1 ft -2 in", "٣", float("nan"), float("inf"), 1e308, True],
)  # fmt: skip
def test_what_is_no_length_is_refused_in_words(text: str | float) -> None:
    with pytest.raises(ValueError, match=r"length|not known|zero|board") as caught:
        parse_length(text, unit="mm")
    assert len(str(caught.value)) < 200


@given(wholes, st.integers(0, 63), denominators)
def test_a_mixed_number_is_the_sum_of_its_halves(whole: int, numerator: int, denominator: int) -> None:
    exact = (whole + Fraction(numerator, denominator)) * Fraction(254, 10)
    for joint in (" ", "-", " - "):
        assert parse_length(f"{whole}{joint}{numerator}/{denominator}", unit="in") == float(exact)


def test_numbers_take_no_exponent_on_the_way() -> None:
    assert parse_length(1e-05, unit="mm") == 1e-05
    assert parse_length(100_000_000, unit="mm") == 1e8
    with pytest.raises(ValueError, match="longer than any board"):
        parse_length(10**5000, unit="mm")


@given(st.decimals(0, 3000, places=3))
def test_inches_and_mm_say_the_same(inches: object) -> None:
    in_mm = Fraction(str(inches)) * Fraction(254, 10)
    assert parse_length(str(inches), unit="in") == parse_length(f"{inches} in", unit="mm") == float(in_mm)


@given(wholes, st.integers(0, 63))
def test_a_fraction_of_a_64th_survives_writing_and_reading(whole: int, part: int) -> None:
    mm = float((whole + Fraction(part, 64)) * Fraction(254, 10))
    assert parse_length(format_length(mm, unit="in"), unit="mm") == mm


@given(st.floats(-1e6, 1e6))
def test_what_is_written_reads_back_within_its_last_decimal(mm: float) -> None:
    # Three decimals of a millimetre: half of the last one. In inches a fraction within 0.001 in may stand for it.
    assert abs(parse_length(format_length(mm, unit="mm"), unit="mm") - mm) <= 0.0005 + 1e-9
    assert abs(parse_length(format_length(mm, unit="in"), unit="mm") - mm) <= 0.0254 + 1e-9


@given(st.text(max_size=60))
def test_any_text_is_a_length_or_a_plain_refusal(text: str) -> None:
    said, length = "", 0.0
    try:
        length = parse_length(text, unit="in")
    except ValueError as error:
        said = str(error)
    assert abs(length) <= 1e8
    assert "\n" not in said


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [
        (15.875, "in", "5/8 in"),
        (323.85, "in", "12 3/4 in"),
        (0.0, "in", "0 in"),
        (-0.0, "mm", "0 mm"),
        (-15.875, "in", "-5/8 in"),
        (34.5, "mm", "34.5 mm"),
        (1000 / 3, "mm", "333.333 mm"),
        (2.0, "in", "5/64 in"),
        (1.2, "in", "3/64 in"),
        (1.5, "in", "0.0591 in"),
    ],
)
def test_lengths_for_reading(mm: float, unit: str, text: str) -> None:
    assert format_length(mm, unit="in" if unit == "in" else "mm") == text


@pytest.mark.parametrize("inch", ["in", "inch", "inches", "IN", '"', "″", "”"])
@pytest.mark.parametrize("foot", ["ft", "foot", "feet", "Feet", "'", "′", "’"])
def test_every_way_to_write_feet_and_inches(foot: str, inch: str) -> None:
    """A foot is 12 inches of 25.4 mm: exactly 304.8 mm."""
    assert parse_length(f"1 {inch}", unit="mm") == 25.4
    assert parse_length(f"10 {foot}", unit="mm") == 3048.0
    assert parse_length(f"5 {foot} 6 {inch}", unit="mm") == 1676.4


def test_the_longest_text_and_the_longest_length() -> None:
    assert parse_length("1".rjust(40, "0"), unit="mm") == 1.0
    with pytest.raises(ValueError, match="too long for a length"):
        parse_length("1".rjust(41, "0"), unit="mm")
    assert parse_length(1e8, unit="mm") == parse_length("100000 m", unit="mm") == 1e8
    for text in (1.001e8, "100001 m"):
        with pytest.raises(ValueError, match="longer than any board"):
            parse_length(text, unit="mm")
    for text in (float("inf"), float("-inf"), float("nan")):
        with pytest.raises(ValueError, match="is not a length"):
            parse_length(text, unit="mm")


def test_the_longest_length_there_is() -> None:
    """100 km, in figures and in words."""
    assert parse_length(1e8, unit="mm") == 1e8
    assert parse_length("100000 m", unit="in") == 1e8
    for more in (1e8 + 0.5, "100000.0005 m"):
        with pytest.raises(ValueError, match="longer than any board"):
            parse_length(more, unit="mm")


def test_the_unit_is_always_named() -> None:
    with pytest.raises(TypeError):
        parse_length("5", "in")  # type: ignore[misc]


units = st.sampled_from(["mm", "in"])
lengths = st.floats(-1e9, 1e9)


@given(lengths, st.sampled_from([8, 32, 64, 128]), units)
@example(5e-324, 64, "in")
@example(-0.0, 64, "mm")
@example(1e9 / 3, 8, "in")
@example(0.00012345678901234567, 64, "mm")  # of the most decimals a float has without an exponent
def test_a_mark_is_spelled_as_its_length_is_worded(mm: float, finest: int, unit: Unit) -> None:
    assert spelled(length(mm, finest=finest), unit) == format_length(mm, unit=unit, finest=finest)


@given(st.lists(lengths, max_size=4), st.text(), units)
def test_marks_are_spelled_where_they_stand_and_all_else_stays(values: list[float], text: str, unit: Unit) -> None:
    words = [format_length(mm, unit=unit) for mm in values]
    assert spelled(text.join(map(length, values)), unit) == text.join(words)
    assert spelled(spelled(text, unit), unit) == text


@given(st.floats(0, 1e5), units, st.sampled_from([RULE, TAPE]))
def test_a_rounded_length_is_the_nearest_whole_number_of_steps_on_its_side(
    mm: float, unit: Unit, steps: dict[Unit, float]
) -> None:
    step = steps[unit]
    # Half a step of the last decimal that is shown, and a millionth of a step, by which a length may be off a step.
    slack = (0.0005 if unit == "mm" else 0.001 * 25.4) + 1e-6 * step
    up, down = (
        parse_length(spelled(mark, unit), unit=unit) for mark in (rounded_up(mm, steps), rounded_down(mm, steps))
    )
    assert mm - slack <= up < mm + step + slack
    assert mm - step - slack < down <= mm + slack
    assert (
        spelled(rounded_up(up, steps), unit) == spelled(rounded_down(up, steps), unit) == format_length(up, unit=unit)
    )


def test_a_length_may_depend_on_the_unit() -> None:
    mark = length_by(lambda unit: 12.7 if unit == "in" else 13)
    assert (spelled(mark, "in"), spelled(mark, "mm")) == ("1/2 in", "13 mm")


@pytest.mark.parametrize(
    ("mm", "inches", "in_mm", "in_inches"),
    [
        (6.0, 5.953125, "at most 6 mm", "at most 15/64 in"),
        (0.3, 0.0, "at most 0.3 mm", "none at all"),
        (0, 0, "none at all", "none at all"),
    ],
)
def test_a_limit_of_nought_is_none_at_all(mm: float, inches: float, in_mm: str, in_inches: str) -> None:
    mark = at_most({"mm": mm, "in": inches})
    assert (spelled(mark, "mm"), spelled(mark, "in")) == (in_mm, in_inches)


def test_areas_are_spelled_in_the_units_of_sheets() -> None:
    assert spelled(area(94028.6), "mm") == "940 cm2"
    assert spelled(area(94028.6), "in") == "146 sq in"


def test_messages_that_read_alike_are_told_once() -> None:
    # A thousandth of an inch apart, which no one measures, but not a thousandth of a mm.
    texts = [f"only {length(mm)} left" for mm in (12.7, 12.71, 12.7)]
    assert each_spelled(texts, "in") == ("only 1/2 in left",)
    assert each_spelled(texts, "mm") == ("only 12.7 mm left", "only 12.71 mm left")
