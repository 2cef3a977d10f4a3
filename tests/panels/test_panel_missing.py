from __future__ import annotations

from collections import Counter

import pytest

from cutjob.panels.field import Field, Filling, Laid, Piece
from cutjob.panels.files import still_to_find

_UNIT = 25.4 / 64
_ASH = Piece(name="ash", length=480, width=160, count=4)  # 7 1/2 x 2 1/2 in
_OAK = Piece(name="oak", length=300, width=180, count=4)


def _words(*sizes: tuple[int, int], pieces: tuple[Piece, ...] = (_ASH, _OAK), turn: bool = True) -> tuple[str, ...]:
    field = Field(width=4000, height=4000, least=48, longest_joint=2000, trim=200, turn=turn, least_cut=4)
    laid = tuple(Laid(kind=None, x=0, y=0, width=width, height=height) for width, height in sizes)
    return still_to_find(Filling(field=field, pieces=pieces, laid=laid), unit=_UNIT, units="in")


def test_what_a_kind_gives_is_told_as_more_of_it() -> None:
    # 6 x 2 in off ash; 3 x 1 1/2 in would take more than the trim off ash, and comes off oak.
    assert _words((384, 128), (480, 160), (192, 96)) == (
        "2 more like ash, 7 1/2 in x 2 1/2 in",
        "1 more like oak, 4 11/16 in x 2 13/16 in",
    )


def test_a_piece_lies_across_only_where_pieces_may_turn() -> None:
    assert _words((160, 480)) == ("1 more like ash, 7 1/2 in x 2 1/2 in",)
    assert _words((160, 480), turn=False) == ("1 of 2 1/2 in x 7 1/2 in or larger",)


def test_other_sizes_are_rounded_up_to_quarters_and_counted_together() -> None:
    # 10 1/64 x 3 in and 10 1/8 x 2 63/64 in are both 10 1/4 x 3 in to whoever looks for them.
    assert _words((641, 192), (191, 648), (800, 200)) == (
        "1 of 12 1/2 in x 3 1/4 in or larger",
        "2 of 10 1/4 in x 3 in or larger",
    )


def test_a_kind_that_would_need_a_cut_too_thin_is_not_named() -> None:
    assert _words((478, 160)) == ("1 of 7 1/2 in x 2 1/2 in or larger",)


@pytest.mark.parametrize("turn", [True, False])
def test_every_piece_is_told_once(turn: bool) -> None:
    sizes = [(100 + 37 * n % 500, 60 + 53 * n % 300) for n in range(40)]
    told = _words(*sizes, turn=turn)
    assert sum(Counter({words: int(words.split()[0]) for words in told}).values()) == 40
