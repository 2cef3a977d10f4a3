"""The check of a filled panel finds what is spoiled, and nothing in sound ones."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutjob.panels.check import panel_faults
from cutjob.panels.field import Field, Filling, Laid, Opening, Piece
from cutjob.panels.fill import fill
from tests.panels.test_fill import ENDS, faults, field

# A pinwheel: five pieces in a square of 300, no four corners, no joint of more than 200.
PIECES = (Piece(name="a", length=200, width=100, count=4), Piece(name="b", length=100, width=100, count=1))
PINWHEEL = (
    Laid(kind=0, x=0, y=0, width=200, height=100),
    Laid(kind=0, x=200, y=0, width=100, height=200, across=True),
    Laid(kind=0, x=0, y=100, width=100, height=200, across=True),
    Laid(kind=1, x=100, y=100, width=100, height=100),
    Laid(kind=0, x=100, y=200, width=200, height=100),
)
RULES = Field(width=300, height=300, least=50, longest_joint=200, trim=50)
SOUND = Filling(field=RULES, pieces=PIECES, laid=PINWHEEL)


def spoiled(index: int, **change: object) -> Filling:
    laid = list(PINWHEEL)
    laid[index] = replace(laid[index], **change)  # type: ignore[arg-type]
    return replace(SOUND, laid=tuple(laid))


def test_a_pinwheel_is_sound() -> None:
    assert panel_faults(SOUND) == ()
    opening = replace(RULES, openings=(Opening(x=100, y=100, width=100, height=100),))
    assert panel_faults(replace(SOUND, field=opening, laid=(*PINWHEEL[:3], PINWHEEL[4]))) == ()


@pytest.mark.parametrize(
    ("filling", "told"),
    [
        (replace(SOUND, laid=PINWHEEL[:4]), "left open"),
        (spoiled(3, width=99), "left open"),
        (spoiled(3, width=101), "overlap"),
        (spoiled(3, x=400), "out of the field"),
        (replace(SOUND, field=replace(RULES, longest_joint=199)), "too long"),
        (replace(SOUND, field=replace(RULES, least=101)), "narrower"),
        (replace(SOUND, field=replace(RULES, turn=False)), "turned"),
        (replace(SOUND, pieces=(replace(PIECES[0], count=3), PIECES[1])), "more pieces"),
        (replace(SOUND, pieces=(replace(PIECES[0], length=199), PIECES[1])), "does not come out"),
        (replace(SOUND, pieces=(replace(PIECES[0], width=99), PIECES[1])), "does not come out"),
        (spoiled(3, offcut_of=0), "not there"),
        (
            replace(SOUND, field=replace(RULES, openings=(Opening(x=90, y=90, width=120, height=120),))),
            "wholly in an opening",
        ),
        (
            Filling(
                field=replace(RULES, width=200, height=200),
                pieces=(replace(PIECES[1], count=4),),
                laid=tuple(Laid(kind=0, x=x, y=y, width=100, height=100) for x in (0, 100) for y in (0, 100)),
            ),
            "four corners",
        ),
    ],
)
def test_what_is_spoiled_is_found(filling: Filling, told: str) -> None:
    assert any(told in fault for fault in panel_faults(filling))


def test_an_offcut_must_be_what_the_saw_leaves() -> None:
    long = (Piece(name="a", length=200, width=205, count=4), PIECES[1])
    rules = replace(RULES, kerf=5)
    laid = (PINWHEEL[0], PINWHEEL[1], PINWHEEL[2], PINWHEEL[3], replace(PINWHEEL[4], offcut_of=0))
    assert panel_faults(Filling(field=rules, pieces=long, laid=laid)) == ()
    assert panel_faults(Filling(field=replace(rules, kerf=6), pieces=long, laid=laid))
    # A strip is no end.
    assert panel_faults(Filling(field=rules, pieces=long, laid=(*laid[:4], replace(laid[4], from_end=True))))


def test_both_checkers_agree_on_filled_panels() -> None:
    opening = Opening(x=300, y=300, width=300, height=200)
    for seed in range(3):
        filling = fill(field(1000, 800, gap=seed, kerf=8, openings=(opening,)), ENDS, seed=seed)
        assert filling is not None
        assert panel_faults(filling) == ()
        assert faults(filling) == []
