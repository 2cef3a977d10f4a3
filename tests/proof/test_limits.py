"""What bounds the cutter's edge adds up to the hundredth of a millimetre promised, and leaves no room for more."""

from __future__ import annotations

import pytest

from cutjob.proof import limits
from cutjob.tolerances import TOLERANCES

PROMISED = 0.01  # mm between the cutter's edge and the exact outline
FINEST = 0.001  # mm; limits of the edge are stated to this
# Each is a way from what is meant to what the proof lets pass, with all that may add up along it.
WAYS = {
    "a cut as it is made": {
        "a curve fitted with lines and arcs": TOLERANCES.curve,
        "its path moved out as much": TOLERANCES.curve,
        "the offset path": TOLERANCES.path,
        "its moves joined to longer ones": TOLERANCES.join,
        "a coordinate written": TOLERANCES.output,
    },
    "a wall that a cutter must reach": {
        "its middle nearer than its radius": limits.NEARER_TO_WALLS,
        "chords that hold it off": limits.HELD_OFF_BY_CHORDS,
        "a coordinate written": TOLERANCES.output,
    },
    "a slot that a cutter must get into": {
        "its disc over the walls": limits.DISC_OVERLAP_AT_FLOORS,
        "a coordinate written": TOLERANCES.output,
    },
    "a floor that counts as swept": {
        "the cutter taken wider": limits.SWEPT_WIDER,
    },
}
TERMS = [(way, term) for way, terms in WAYS.items() for term in terms]


def total(terms: dict[str, float]) -> float:
    return round(sum(terms.values()), 6)


def test_the_proof_accepts_what_is_promised() -> None:
    assert TOLERANCES.acceptance == PROMISED


@pytest.mark.parametrize("way", WAYS)
def test_what_adds_up_stays_within_what_is_promised(way: str) -> None:
    assert total(WAYS[way]) < PROMISED


@pytest.mark.parametrize(("way", "term"), TERMS)
def test_no_term_can_be_larger(way: str, term: str) -> None:
    assert total({**WAYS[way], term: WAYS[way][term] + FINEST}) >= PROMISED


def test_chords_are_never_against_the_file() -> None:
    assert limits.SWEPT_WIDER > limits.SWEPT_CHORD + limits.POCKET_CHORD
    assert limits.INTO_WOOD > 2 * limits.POCKET_CHORD
    assert limits.INTO_PART > 2 * limits.PART_CHORD
    assert limits.BESIDE_POCKET > limits.PART_CHORD + limits.POCKET_CHORD


def test_a_cutter_gets_into_the_same_slots_by_discs_and_by_polygons() -> None:
    reached = limits.NEARER_TO_WALLS + limits.HELD_OFF_BY_CHORDS
    assert reached == pytest.approx(limits.DISC_OVERLAP_AT_FLOORS, abs=1e-9)


def test_rounding_never_keeps_a_cutter_out_of_a_corner() -> None:
    assert TOLERANCES.output < limits.DISC_OVERLAP


def test_what_lies_beyond_a_round_end_is_out_of_its_reach() -> None:
    # Of a cutter of 25 the round end goes on so far within the acceptance.
    runs_on = (2 * 12.5 * TOLERANCES.acceptance) ** 0.5
    assert runs_on < limits.ROUND_END < limits.BEYOND_ROUND_END
