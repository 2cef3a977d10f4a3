"""Problems and errors as values."""

import pickle

import pytest

from cutjob.errors import CutjobError, InputError, Location, Problem, ProofError, closest, errors_in
from cutjob.units import length

MARKED = Problem(message=f"{length(12.7)} is thick", advice=f"take {length(6.35)}", location=Location(file="a.toml"))


def test_a_location_says_only_what_is_known() -> None:
    assert str(Location(file="a.toml")) == "a.toml"
    assert str(Location(file="a.toml", line=3)) == "a.toml:3"
    assert str(Location(file="a.toml", line=3, column=7)) == "a.toml:3:7"


def test_a_problem_reads_as_file_line_place_message_advice() -> None:
    problem = Problem(
        message="5/8 in thick is more than the 12 mm cutting length of cutter 2",
        advice="take a longer cutter",
        place='board "cedar picket": thickness',
        location=Location(file="spring.toml", line=14),
    )
    assert str(problem) == (
        'spring.toml:14: board "cedar picket": thickness: '
        "5/8 in thick is more than the 12 mm cutting length of cutter 2; take a longer cutter"
    )
    assert str(Problem(message="bare")) == "bare"


def test_an_error_carries_every_problem_on_a_line_of_its_own() -> None:
    error = InputError([Problem(message="one"), Problem(message="two")])
    assert str(error) == "one\ntwo"
    assert InputError(Problem(message="one")).problems == (Problem(message="one"),)


def test_exit_codes() -> None:
    assert (CutjobError.exit_code, InputError.exit_code, ProofError.exit_code) == (2, 2, 1)


def test_an_error_without_a_problem_is_a_mistake_of_the_program() -> None:
    with pytest.raises(ValueError, match="at least one"):
        InputError([])


def test_lengths_read_in_mm_until_they_are_spelled() -> None:
    assert str(MARKED) == str(InputError(MARKED)) == "a.toml: 12.7 mm is thick; take 6.35 mm"
    assert str(MARKED.spelled("in")) == "a.toml: 1/2 in is thick; take 1/4 in"
    assert str(pickle.loads(pickle.dumps(InputError(MARKED))).spelled("in")) == str(MARKED.spelled("in"))


def test_errors_leave_a_block_in_its_unit() -> None:
    alike = Problem(message=f"{length(12.701)} is thick", advice=f"take {length(6.35)}", location=MARKED.location)
    with pytest.raises(InputError) as caught, errors_in("in"):
        raise InputError([MARKED, alike])
    assert caught.value.problems == (MARKED.spelled("in"),)
    # The first block that knows a unit spells for all around it.
    with pytest.raises(InputError) as caught, errors_in("mm"), errors_in("in"):
        raise InputError(MARKED)
    assert caught.value.problems == (MARKED.spelled("in"),)


def test_the_closest_word_is_the_one_a_slip_stands_for() -> None:
    assert closest("lenth", ["width", "length"]) == "length"
    assert closest("Tiers", ["tiers"]) == "tiers"
    assert closest("q", ["width", "length"]) is None
    assert closest("q", []) is None
