"""The kinds of value: what each takes, and the same words for a mistake in a job's key and a design's parameter."""

from typing import Annotated, Any

import pytest

from cutjob.designs.parameter import Parameter
from cutjob.files.fields import FileModel
from cutjob.files.read_toml import read_model
from cutjob.files.source import parse_source
from cutjob.files.values import BadValue, Choice, Count, Kind, Length, Number, Text, TrueFalse, did_you_mean, nearest

KINDS: dict[str, Kind[Any]] = {
    "length": Length(25.4, 254.0),
    "count": Count(1, 12),
    "number": Number(0.1, 0.9),
    "yes_no": TrueFalse(),
    "text": Text(300),
}


class Keys(FileModel):
    length: Annotated[float, KINDS["length"]] = 25.4
    count: Annotated[int, KINDS["count"]] = 1
    number: Annotated[float, KINDS["number"]] = 0.5
    yes_no: Annotated[bool, KINDS["yes_no"]] = False
    text: Annotated[str, KINDS["text"]] = "x"


def refused(kind: Kind[Any], raw: object, unit: Any = "in") -> str:
    with pytest.raises(BadValue) as caught:
        kind.read(raw, unit=unit)
    assert (caught.value.message, caught.value.advice) == tuple(str(caught.value).split("; ", 1))
    return str(caught.value)


@pytest.mark.parametrize(
    ("kind", "toml", "said"),
    [
        ("length", '"3/4"', '"3/4" is too small; it must be at least 1 in'),
        ("length", "11", "11 is too large; it must be at most 10 in"),
        ("length", "true", 'true is not a length; write a length like 16, 1 1/8, 5/8", 6 ft or 34.5 mm'),
        (
            "length",
            "1e-7",
            '1e-07 is too small to measure; write a length like 16, 1 1/8, 5/8", 6 ft or 34.5 mm',
        ),
        ("length", '"2 km"', "'2 km': unit 'km' is not known; use in, ft, mm, cm or m"),
        ("count", "13", "13 is too large; it must be at most 12"),
        ("count", "2.0", "2.0 is not a whole number; write a number without quotes and without a point"),
        ("number", "0", "0 is too small; it must be at least 0.1"),
        ("number", '"0.5"', '"0.5" is not a number; write a number such as 0.5, without quotes'),
        ("number", "nan", "nan is not a number; write a number such as 0.5, without quotes"),
        ("yes_no", '"yes"', '"yes" is neither true nor false; write true or false, without quotes'),
        ("text", "5", "5 is not text; put it in quotes"),
        ("text", '"  "', "the text is empty; write at least one letter"),
        ("text", f'"{"x" * 301}"', "the text is too long; write at most 300 letters"),
        ("text", '"a\\nb"', '"a?b" goes over several lines; write it on one line'),
    ],
)
def test_a_key_and_a_parameter_say_the_same(kind: Any, toml: str, said: str) -> None:
    source = parse_source(f"{kind} = {toml}\n".encode(), name="x.toml")
    source = type(source)(name="x.toml", data={"units": "in", **source.data}, places=source.places)

    class WithUnits(Keys):
        units: str

    (problem,) = read_model(source, WithUnits).problems
    assert str(problem) == f"x.toml:1: {kind}: {said}"
    limits = {key: getattr(KINDS[kind], key, None) for key in ("least", "greatest")}
    parameter = Parameter(name="x", kind=kind, help="", **limits)
    with pytest.raises(BadValue) as caught:
        parameter.read(source.data[kind], unit="in")
    assert str(caught.value) == said


def test_a_word_of_a_choice_is_named_or_all_are() -> None:
    choice = Choice(("on edge", "flat"))
    assert choice.read(" flat ", unit="in") == "flat"
    assert refused(choice, "flatt") == '"flatt" is not known; did you mean "flat"?'
    assert refused(choice, 5) == "5 is not known; take one of on edge, flat"
    assert choice.expects(unit="in") == 'one of "on edge" or "flat"'


def test_limits_are_those_of_the_unit_and_0_may_be_out() -> None:
    assert refused(Length(None, 1e6, positive=True), 0) == "0 is too small; it must be more than 0"
    assert refused(Length(50.0), 1) == "1 is too small; it must be at least 2 in"
    assert refused(Length(50.0), 1, "mm") == "1 is too small; it must be at least 50 mm"
    assert refused(Number(0, 1, tiny=1e-3), 1e-4) == "0.0001 is too small to mean anything; write 0, or at least 0.001"
    assert Number(0, 1, tiny=1e-3).read(0, unit="in") == 0.0


def test_the_nearest_word_is_offered_else_all() -> None:
    assert nearest("teirs", ["tiers", "gap"]) == did_you_mean("teirs", ["tiers", "gap"]) == 'did you mean "tiers"?'
    assert nearest("quux", ["tiers", "gap"]) == "take one of tiers, gap"
    assert nearest("quux", ["gap"]) == "take gap"
    assert nearest("quux", []) == did_you_mean("quux", ["gap"]) == ""
