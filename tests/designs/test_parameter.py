import math
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutjob.designs.catalogue import CATALOGUE
from cutjob.designs.own.find_design import design_lines
from cutjob.designs.parameter import Parameter
from cutjob.files.values import BadValue
from cutjob.units import parse_length

LENGTH = Parameter(name="longest", kind="length", help="", least=25.4, greatest=254.0)
COUNT = Parameter(name="tiers", kind="count", help="", least=1, greatest=12)
PINS = Parameter(name="top", kind="pins", help="", least=0, greatest=1)


def refused(parameter: Parameter, raw: object, unit: str = "in") -> str:
    with pytest.raises(BadValue) as caught:
        parameter.read(raw, unit=unit)
    return f"{caught.value.message}; {caught.value.advice}"


@pytest.mark.parametrize(
    ("raw", "mm"),
    [(4, 101.6), ("4", 101.6), ("1 1/8", 28.575), ("34.5 mm", 34.5), (1, 25.4), (10, 254.0)],
)
def test_lengths_are_read_in_the_jobs_unit(raw, mm):
    assert LENGTH.read(raw, unit="in") == pytest.approx(mm, abs=1e-12)


def test_limits_are_said_in_the_jobs_unit():
    assert refused(LENGTH, "3/4") == '"3/4" is too small; it must be at least 1 in'
    assert refused(LENGTH, 300, "mm") == "300 is too large; it must be at most 254 mm"


def test_limits_in_inches_are_fractions_that_are_allowed():
    # 10 mm is 25.2/64 in, 500 mm is 1259.8/64 in.
    width = Parameter(name="width", kind="length", help="", least=10.0, greatest=500.0)
    assert width.expects(unit="in") == "a length, 7/16 in to 19 in"
    assert width.read("13/32", unit="in") < width.read("19 43/64", unit="in")
    # A limit that a rule shows stays as it is.
    ruled = Parameter(name="width", kind="length", help="", least=25.4 + 25.4 / 64, greatest=50.0)
    assert ruled.expects(unit="in") == "a length, 1 1/64 in to 1 15/16 in"
    assert refused(width, "25/64") == '"25/64" is too small; it must be at least 7/16 in'


@pytest.mark.parametrize("raw", [True, None, [4], {"x": 1}, "four", "", "1/0", math.nan, math.inf])
def test_what_is_no_length_is_refused(raw):
    assert refused(LENGTH, raw)


@pytest.mark.parametrize("raw", [9.0, "9", True, None, 0, 13])
def test_counts_are_whole_numbers_within_limits(raw):
    assert refused(COUNT, raw).endswith(("without a point", "at least 1", "at most 12"))


def test_numbers_words_and_yes_or_no():
    number = Parameter(name="ratio", kind="number", help="", least=0.1, greatest=0.9)
    assert number.read(0.5, unit="in") == 0.5
    assert "it must be at most 0.9" in refused(number, 1)
    assert "not a number" in refused(number, math.nan)
    choice = Parameter(name="stands", kind="choice", help="", choices=("on edge", "flat"))
    assert choice.read(" flat ", unit="in") == "flat"
    assert refused(choice, "flatt") == '"flatt" is not known; did you mean "flat"?'
    yes_no = Parameter(name="mark", kind="yes_no", help="")
    assert yes_no.read(False, unit="in") is False
    assert "true or false" in refused(yes_no, "yes")


def test_lists_of_lengths():
    base = Parameter(name="base", kind="lengths", help="", least=25.4)
    assert base.read(["8", 6], unit="in") == pytest.approx((203.2, 152.4))
    assert base.read([], unit="in") == ()
    assert "not a list" in refused(base, "8")
    assert "too small" in refused(base, ["8", "1/2"])
    assert "51 entries are too many; write at most 50" in refused(base, ["8"] * 51)


def test_pins_reach_from_the_centre_to_the_tip():
    assert PINS.read([[0, 1], [0.5, 0.8], [1, 0.25]], unit="in") == ((0.0, 1.0), (0.5, 0.8), (1.0, 0.25))
    for raw, told in [
        ([[0, 1]], "two pins"),
        ([[0, 1], [0.9, 0.5]], "reach from 0 to 0.9"),
        ([[0.1, 1], [1, 0.5]], "reach from 0.1 to 1"),
        ([[0, 1], [0.6, 0.5], [0.5, 0.5], [1, 0]], "outwards"),
        ([[0, 1], [0, 0.5], [1, 0]], "outwards"),
        ([[0, 1, 2], [1, 0]], "not a pin"),
        ([[0, "1"], [1, 0]], "not a number"),
        ([[0, math.inf], [1, 0]], "not a number"),
        ([[0, 1.2], [1, 0]], "1.2 is too large; it must be at most 1"),
        ("straight", "not a list"),
    ]:
        assert told in refused(PINS, raw)


@given(st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(), st.lists(st.lists(st.floats()))))
def test_whatever_is_written_is_read_or_refused(raw):
    for kind in ("length", "count", "number", "choice", "yes_no", "text", "lengths", "pins"):
        parameter = Parameter(name="x", kind=kind, help="", choices=("flat",) if kind == "choice" else ())
        try:
            value = parameter.read(raw, unit="mm")
        except BadValue:
            continue
        assert value is not None


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [(0.2, "in", "0.2 mm"), (3.175, "in", "1/8 in"), (0.2, "mm", "0.2 mm"), (12.7, "in", "1/2 in")],
)
def test_a_default_no_rule_shows_in_inches_is_written_in_mm(mm, unit, text):
    parameter = Parameter(name="play", kind="length", help="", default=mm)
    loose = replace(CATALOGUE["round"], parameters=(parameter,))
    assert loose.written(parameter, None, unit=unit) == text
    # What is written is what is meant.
    assert parse_length(text, unit=unit) == pytest.approx(mm, abs=1e-12)


def test_no_default_of_a_design_is_shown_in_decimals_of_an_inch():
    told = [line for design in CATALOGUE.values() for line in design_lines(design)]
    assert any("default 0.2 mm" in line for line in told)
    assert not any(re.search(r"\d\.\d+ in\b", line) for line in told)
