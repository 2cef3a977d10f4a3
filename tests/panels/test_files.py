"""What an opening takes of a piece, and the strips of a frame."""

from __future__ import annotations

from cutjob.panels.field import Field, Filling, Laid, Opening, Piece, cut_out
from cutjob.panels.files import frame_strips, panel_lists


def test_butt_and_mitred_frames() -> None:
    """48 x 36 with strips of 2: rails of 44 between uprights of 36; mitred over the long points."""
    assert [(length, count) for _, length, count in frame_strips(48, 36, 2, "butt")] == [(36, 2), (44, 2)]
    assert [(length, count) for _, length, count in frame_strips(48, 36, 2, "mitre")] == [(48, 2), (36, 2)]


def test_an_opening_takes_its_share_of_every_piece_it_lies_over() -> None:
    laid = [Laid(kind=0, x=x, y=0, width=100, height=100) for x in (0, 100)]
    opening = Opening(x=80, y=50, width=60, height=100)
    shares = [cut_out(one, opening) for one in laid]
    assert shares == [(80, 50, 20, 50), (0, 50, 40, 50)]
    assert cut_out(laid[0], Opening(x=100, y=0, width=10, height=10)) is None


def test_notches_thinner_than_the_least_piece_are_counted() -> None:
    """An opening reaches 10 units into the first piece, 50 into the second: the first notch is thinner than 16."""
    laid = tuple(Laid(kind=0, x=x, y=0, width=100, height=100) for x in (0, 100))
    pieces = (Piece(name="oak", length=100, width=100, count=2),)
    rules = {"width": 200, "height": 100, "least": 16, "longest_joint": 200, "trim": 64}
    square = Opening(x=90, y=20, width=60, height=60)
    filling = Filling(field=Field(**rules, openings=(square,)), pieces=pieces, laid=laid)
    assert filling.thin_notches == 1
    round_one = Opening(x=90, y=20, width=60, height=60, round=True)
    assert Filling(field=Field(**rules, openings=(round_one,)), pieces=pieces, laid=laid).thin_notches == 0


def test_rips_crosscuts_and_what_is_missing() -> None:
    field = Field(width=192, height=64, least=16, longest_joint=64, trim=64)
    pieces = (Piece(name="oak", length=128, width=96, count=1),)
    laid = (Laid(kind=0, x=0, y=0, width=112, height=64), Laid(kind=None, x=112, y=0, width=80, height=64))
    text = panel_lists(
        Filling(field=field, pieces=pieces, laid=laid), unit=25.4 / 64, units="in", head=["Panel"]
    ).decode()
    assert "  1 in: oak for 1" in text
    assert "  1 3/4 in: oak for 1" in text
    assert "of what these leave" not in text
    assert "is said above\n  1 more like oak, 2 in x 1 1/2 in" in text
