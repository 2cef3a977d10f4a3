"""Fillings judged by a checker of their own, which sees the plan only, in whole units."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.panels.field import Field, Filling, Laid, Opening, Piece
from cutjob.panels.fill import fill
from cutjob.panels.offcuts import cut_from, left_over, offcuts_of, reused

ENDS = tuple(
    Piece(name=f"end {number}", length=length, width=width, count=6, tone=number % 5)
    for number, (length, width) in enumerate(
        (length, width) for width in (96, 160, 224, 288) for length in (200, 288, 344, 416, 520, 608)
    )
)


def faults(filling: Filling) -> list[str]:
    """Return everything wrong with a filling."""
    field, laid, found = filling.field, filling.laid, []
    gap = field.gap
    width, height = field.width + gap, field.height + gap
    cells = [(one.x, one.y, one.x + one.width + gap, one.y + one.height + gap) for one in laid]
    if any(a < 0 or b < 0 or c > width or d > height for a, b, c, d in cells):
        found.append("out of the field")
    for number, (a, b, c, d) in enumerate(cells):
        for e, f, g, h in cells[:number]:
            if min(c, g) > max(a, e) and min(d, h) > max(b, f):
                found.append("overlap")
    bare = shapely.box(0, 0, width, height).difference(shapely.union_all([shapely.box(*cell) for cell in cells]))
    square = [one for one in field.openings if not one.round]
    # An opening's own gap may lie open above it and to its right.
    places = [shapely.box(o.x, o.y, o.x + o.width + gap, o.y + o.height + gap) for o in square]
    # A thousandth wider, so that the polygon holds the circle: its chords lie within r (1 - cos(pi / 256)), 8e-5 r.
    places += [
        shapely.Point(o.x + o.width / 2, o.y + o.width / 2).buffer(o.width * 0.5005, quad_segs=64)
        for o in field.openings
        if o.round
    ]
    if bare.difference(shapely.union_all(places)).area > 0:
        found.append("area")
    boxes = [shapely.box(o.x, o.y, o.x + o.width, o.y + o.height) for o in square]
    if any(box.contains(shapely.box(a, b, c - gap, d - gap)) for box in boxes for a, b, c, d in cells):
        found.append("nothing left of it")
    corners = Counter(corner for a, b, c, d in cells for corner in {(a, b), (a, d), (c, b), (c, d)})
    if any(count > 2 for (x, y), count in corners.items() if 0 < x < width and 0 < y < height):
        found.append("four corners")
    if longest_joint(cells, width, height) - gap > field.longest_joint:
        found.append("joint too long")
    used = Counter(one.kind for one in laid if one.kind is not None and one.offcut_of is None)
    if any(count > filling.pieces[kind].count for kind, count in used.items()):
        found.append("more than there are")
    for one in laid:
        if min(one.width, one.height) < field.least:
            found.append("too narrow")
        if one.kind is not None:
            piece = filling.pieces[one.kind]
            off = piece.length - one.along_grain, piece.width - one.across_grain
            if min(off) < 0 or (max(off) > field.trim and one.offcut_of is None):
                found.append("not out of its piece")
            if one.across and not field.turn:
                found.append("turned")
    found += offcut_faults(filling)
    return found


def offcut_faults(filling: Filling) -> list[str]:
    """Return what can't be sawn out of one piece by two cuts through what is left, each taking a kerf."""
    found, kerf = [], filling.field.kerf or 0
    for number, one in enumerate(filling.laid):
        mine = [other for other in filling.laid if other.offcut_of == number]
        if not mine:
            continue
        if one.offcut_of is not None or one.kind is None or any(other.kind != one.kind for other in mine):
            found.append("an offcut of what is none")
            continue
        piece = filling.pieces[one.kind]
        ends = [other for other in mine if other.from_end]
        strips = [other for other in mine if not other.from_end]
        end = max((other.along_grain + kerf for other in ends), default=0)
        strip = max((other.across_grain + kerf for other in strips), default=0)
        short = one.along_grain + end > piece.length or one.across_grain + strip > piece.width
        # Ripped first, as the lists have it: the end is as wide as the piece laid.
        ripped = all(other.across_grain <= one.across_grain for other in ends)
        if short or len(ends) > 1 or len(strips) > 1 or not ripped:
            found.append("offcut")
    return found


def longest_joint(cells: list[tuple[int, int, int, int]], width: int, height: int) -> int:
    """Return the longest straight line of edges inside the field, whose edges they may be."""
    longest = 0
    for low, along, end in ((0, 1, width), (1, 0, height)):
        lines: dict[int, list[tuple[int, int]]] = {}
        for cell in cells:
            for at in (cell[low], cell[low + 2]):
                if 0 < at < end:
                    lines.setdefault(at, []).append((cell[along], cell[along + 2]))
        for spans in lines.values():
            first, last = None, 0
            for a, b in sorted(spans):
                if first is None or a > last:
                    first, last = a, b
                last = max(last, b)
                longest = max(longest, last - first)
    return longest


def field(width: int, height: int, **more: int | bool) -> Field:
    return replace(Field(width=width, height=height, least=48, longest_joint=16 * 64, trim=320), **more)


@pytest.mark.parametrize("gap", [0, 4])
@pytest.mark.parametrize("turn", [True, False])
def test_a_field_is_filled_exactly_and_by_the_rules(gap: int, turn: bool) -> None:
    filling = fill(field(24 * 64, 20 * 64, gap=gap, turn=turn), ENDS, seed=3)
    assert filling is not None
    assert faults(filling) == []
    assert filling.to_find == ()


@pytest.mark.parametrize(("width", "height"), [(55, 102), (48, 48)])
def test_a_panel_at_both_sizes(width: int, height: int) -> None:
    """55 x 102 scaled to 48 x 48 in, common practice, no source."""
    stock = tuple(replace(piece, count=30) for piece in ENDS)
    filling = fill(field(width * 64, height * 64, longest_joint=24 * 64), stock, seed=1)
    assert filling is not None
    assert faults(filling) == []
    assert filling.to_find == ()
    # Less comes off than a third of what is laid: the sizes are chosen, not cut to fit.
    assert filling.trimmed < width * height * 64 * 64 / 3


@settings(max_examples=15, deadline=None)
@given(
    sizes=st.lists(
        st.tuples(st.integers(60, 400), st.integers(60, 300), st.integers(1, 9), st.integers(0, 9)),
        min_size=1,
        max_size=12,
    ),
    width=st.integers(300, 1200),
    height=st.integers(300, 1200),
    gap=st.integers(0, 6),
    turn=st.booleans(),
)
def test_any_inventory_gives_a_sound_filling_or_none(
    sizes: list[tuple[int, int, int, int]], width: int, height: int, gap: int, turn: bool
) -> None:
    pieces = tuple(
        Piece(name=str(number), length=length, width=across, count=count, tone=tone)
        for number, (length, across, count, tone) in enumerate(sizes)
    )
    filling = fill(field(width, height, gap=gap, turn=turn, longest_joint=900), pieces, seed=0)
    if filling is not None:
        assert faults(filling) == []


def test_same_seed_same_panel_and_another_seed_another() -> None:
    one, again, other = (fill(field(1200, 900), ENDS, seed=seed) for seed in (4, 4, 5))
    assert one == again
    assert one != other


def test_what_is_short_must_be_found() -> None:
    filling = fill(field(1200, 900), ENDS[:2], seed=0)
    assert filling is not None
    assert faults(filling) == []
    missing = sum(one.width * one.height for one in filling.to_find)
    # Twelve pieces of 200 x 96 and 288 x 96 can't cover more than their own area.
    assert missing >= 1200 * 900 - 6 * 96 * (200 + 288)


@pytest.mark.parametrize("gap", [0, 3])
@pytest.mark.parametrize(
    "opening",
    [
        Opening(x=500, y=300, width=400, height=300),
        Opening(x=0, y=0, width=300, height=260),
        Opening(x=1100, y=700, width=436, height=580),
        Opening(x=700, y=600, width=64, height=64, round=True),
    ],
)
def test_pieces_end_at_openings(opening: Opening, gap: int) -> None:
    # The third one reaches into the upper right corner of the field.
    filling = fill(field(24 * 64, 20 * 64, gap=gap, openings=(opening,), kerf=8), ENDS, seed=1)
    assert filling is not None
    assert faults(filling) == []
    assert filling.to_find == ()
    over = [
        max(0, min(one.x + one.width, opening.x + opening.width) - max(one.x, opening.x))
        * max(0, min(one.y + one.height, opening.y + opening.height) - max(one.y, opening.y))
        for one in filling.laid
    ]
    if opening.round:
        # It goes through one piece, not through a joint.
        assert max(over) == opening.width * opening.height
    else:
        assert sum(over) < opening.width * opening.height / 2


@pytest.mark.parametrize("gap", [0, 2])
@pytest.mark.parametrize("edge", ["upper", "lower", "left", "right"])
@pytest.mark.parametrize("strip", [10, 32])
def test_nothing_narrower_than_the_least_is_laid_where_an_opening_is_near_an_edge(
    gap: int, edge: str, strip: int
) -> None:
    """Less than the least is left between opening and edge: a piece over the opening reaches there."""
    x = {"left": strip, "right": 1536 - strip - 200}.get(edge, 700)
    y = {"lower": strip, "upper": 1280 - strip - 100}.get(edge, 500)
    panel = field(1536, 1280, gap=gap, openings=(Opening(x=x, y=y, width=200, height=100),), kerf=8)
    for seed in range(4):
        filling = fill(panel, ENDS, seed=seed)
        assert filling is not None
        assert faults(filling) == []
        assert filling.to_find == ()


def test_nothing_is_laid_within_a_large_round_opening() -> None:
    opening = Opening(x=300, y=200, width=900, height=900, round=True)
    filling = fill(field(24 * 64, 20 * 64, openings=(opening,), kerf=8), ENDS, seed=0)
    assert filling is not None
    assert faults(filling) == []
    for one in filling.laid:
        corners = [(x, y) for x in (one.x, one.x + one.width) for y in (one.y, one.y + one.height)]
        assert max(math.dist(corner, (750, 650)) for corner in corners) > 450
    # A square within the circle, of 450 x root 2 a side, holds more than one piece: these are not there.
    assert sum(one.width * one.height for one in filling.laid) < 24 * 64 * 20 * 64


def test_offcuts_are_used_and_none_twice() -> None:
    pieces = (
        Piece(name="long", length=1000, width=96, count=5),
        Piece(name="wide", length=400, width=300, count=5),
        Piece(name="short", length=300, width=96, count=6),
    )
    after = fill(field(900, 700, trim=700, kerf=8), pieces, seed=2)
    assert after is not None
    assert faults(after) == []
    used = [one for one in after.laid if one.offcut_of is not None]
    assert used
    assert len(after.own) + len(used) + len(after.to_find) == len(after.laid)
    # What is left over is large enough to be laid, and is not what came to be used.
    rest = left_over(after, 8)
    assert {(one.laid, one.end) for one in rest}.isdisjoint((one.offcut_of, one.from_end) for one in used)
    assert all(min(one.length, one.width) >= after.field.least for one in rest)
    for one in used:
        length, width = cut_from(after, one, 8)
        assert one.along_grain <= length
        assert one.across_grain <= width


def test_an_offcut_is_what_the_saw_leaves() -> None:
    # 200 x 100 ripped to 60, then crosscut to 120, with a kerf of 5: a strip of 200 x 35 and an end of 75 x 60.
    piece = (Piece(name="a", length=200, width=100, count=1),)
    rules = Field(width=300, height=200, least=30, longest_joint=200, trim=200, kerf=5)
    laid = (Laid(kind=0, x=0, y=0, width=120, height=60), Laid(kind=None, x=120, y=0, width=58, height=75))
    bare = Filling(field=rules, pieces=piece, laid=laid)
    assert [(one.length, one.width, one.end) for one in offcuts_of(bare, 5)] == [(75, 60, True), (200, 35, False)]
    found = reused(bare, 5)
    assert found.laid[1] == replace(laid[1], kind=0, across=True, offcut_of=0, from_end=True)
    assert [(one.length, one.width) for one in left_over(found, 5)] == [(200, 35)]
    assert found.trimmed == 200 * 100 - 120 * 60 - 58 * 75
    assert offcut_faults(found) == []
    assert reused(replace(bare, laid=(laid[0], replace(laid[1], width=58, height=76))), 5).to_find


def test_the_checker_finds_what_is_wrong() -> None:
    pieces = (Piece(name="a", length=100, width=100, count=3),)
    quarters = tuple(Laid(kind=0, x=x, y=y, width=100, height=100) for x in (0, 100) for y in (0, 100))
    small = Field(width=200, height=200, least=10, longest_joint=150, trim=0)
    assert set(faults(Filling(field=small, pieces=pieces, laid=quarters))) == {
        "four corners",
        "joint too long",
        "more than there are",
    }
    assert "area" in faults(Filling(field=small, pieces=pieces, laid=quarters[:3]))
    assert "overlap" in faults(Filling(field=small, pieces=pieces, laid=(*quarters, quarters[0])))
    own = Piece(name="b", length=100, width=220, count=3)
    cut = (quarters[0], replace(quarters[1], offcut_of=0))
    assert offcut_faults(Filling(field=small, pieces=(own,), laid=cut)) == []
    assert offcut_faults(Filling(field=replace(small, kerf=21), pieces=(own,), laid=cut)) == ["offcut"]
    corner = (Opening(x=100, y=100, width=100, height=100),)
    part = Filling(field=replace(small, openings=corner), pieces=pieces, laid=quarters[:3])
    assert "area" not in faults(part)
    assert "nothing left of it" in faults(replace(part, laid=quarters))
    large = replace(quarters[0], width=120)
    assert "not out of its piece" in faults(Filling(field=small, pieces=pieces, laid=(large,)))


def test_very_many_kinds_of_pieces_are_sampled() -> None:
    pieces = tuple(
        Piece(
            name=f"end {number}",
            length=300 + 7 * (number % 61),
            width=120 + 5 * (number % 37),
            count=2,
            tone=number % 7,
        )
        for number in range(300)
    )
    field = Field(width=5000, height=4000, least=60, gap=0, longest_joint=2500, trim=400, turn=True)
    filling = fill(field, pieces, seed=3)
    assert filling is not None
    assert faults(filling) == []
    assert len({one.kind for one in filling.laid}) > 80
    assert fill(field, pieces, seed=3) == filling


def _thin(filling: Filling) -> int:
    """How many cuts take less than the least off pieces out of the inventory."""
    pairs = [(filling.pieces[one.kind], one) for one in filling.own if one.kind is not None]
    offs = [off for piece, one in pairs for off in (piece.length - one.along_grain, piece.width - one.across_grain)]
    return sum(0 < off < 4 for off in offs)


def test_no_cut_takes_off_less_than_a_saw_can() -> None:
    # Many sizes that differ by a unit or two, so that a thin cut would often fit.
    near = tuple(replace(one, length=one.length + number % 4, width=one.width + 1) for number, one in enumerate(ENDS))
    loose, kept = (
        [filling for seed in range(4) if (filling := fill(field(1440, 960, least_cut=least), near, seed=seed))]
        for least in (1, 4)
    )
    assert len(kept) == 4
    assert sum(map(_thin, loose)) > 0
    assert [_thin(one) for one in kept] == [0] * 4
    assert all(faults(one) == [] and one.to_find == () for one in kept)


def test_where_nothing_else_fits_a_thin_cut_is_better_than_a_piece_to_find() -> None:
    (piece,) = pieces = (Piece(name="ash", length=203, width=102, count=1),)
    filling = fill(field(200, 100, least_cut=4, trim=10, turn=False), pieces)
    assert filling is not None
    assert filling.to_find == ()
    assert piece.length - filling.laid[0].along_grain == 3


def _off_tape(filling: Filling, tape: int) -> int:
    """How many cuts are set to what lies between two marks of a tape."""
    pairs = [(filling.pieces[one.kind], one) for one in filling.laid if one.kind is not None]
    cuts = [
        size
        for piece, one in pairs
        for whole, size in ((piece.length, one.along_grain), (piece.width, one.across_grain))
        if size < whole
    ]
    return sum(size % tape > 0 for size in cuts)


def test_pieces_are_cut_to_the_marks_of_a_tape_where_that_goes_out() -> None:
    """With a gap of half a mark, a row of an even number of pieces always has one that is not."""
    fillings = {
        tape: [one for seed in range(4) if (one := fill(field(1440, 960, gap=2, tape=tape), ENDS, seed=seed))]
        for tape in (1, 4)
    }
    off, kept = (sum(_off_tape(one, 4) for one in fillings[tape]) for tape in (1, 4))
    assert all(faults(one) == [] for one in fillings[4])
    assert kept < 0.7 * off
    # Without a gap all of them are.
    plain = fill(field(1440, 960, tape=4), ENDS, seed=0)
    assert plain is not None
    assert _off_tape(plain, 4) == 0


def test_loose_ends_do_not_gather_at_the_upper_edge() -> None:
    """Of what is trimmed off, less than half comes off the upper quarter, on the whole."""
    upper = trimmed = 0
    for seed in range(6):
        filling = fill(field(36 * 64, 36 * 64), tuple(replace(piece, count=12) for piece in ENDS), seed=seed)
        assert filling is not None
        for one in filling.own:
            assert one.kind is not None
            piece = filling.pieces[one.kind]
            off = piece.length * piece.width - one.width * one.height
            trimmed += off
            upper += off * (2 * one.y + one.height > 2 * 27 * 64)
    assert upper < 0.45 * trimmed


def test_equal_tones_seldom_touch() -> None:
    """Of five tones by chance every fifth pair would be equal; what is left comes of places where no other fits."""
    touching = same = 0
    for seed in range(3):
        filling = fill(field(2000, 1400), ENDS, seed=seed)
        assert filling is not None
        for number, one in enumerate(filling.laid):
            for other in filling.laid[:number]:
                shared = shapely.box(one.x, one.y, one.x + one.width, one.y + one.height).intersection(
                    shapely.box(other.x, other.y, other.x + other.width, other.y + other.height)
                )
                if shared.length > 0 and one.kind is not None and other.kind is not None:
                    touching += 1
                    same += filling.pieces[one.kind].tone == filling.pieces[other.kind].tone
    assert touching > 100
    assert same < 0.05 * touching
