"""Problems and errors as values."""

import pytest

from cutjob.errors import CutjobError, InputError, Location, Problem, ProofError, closest


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


def test_the_closest_word_is_the_one_a_slip_stands_for() -> None:
    assert closest("lenth", ["width", "length"]) == "length"
    assert closest("Tiers", ["tiers"]) == "tiers"
    assert closest("q", ["width", "length"]) is None
    assert closest("q", []) is None
