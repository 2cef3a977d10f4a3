"""Fillings judged by a checker of their own, which sees the plan only, in whole units."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.layout.panel.field import Field, Filling, Laid, Piece
from cutjob.layout.panel.fill import fill

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
    if sum((c - a) * (d - b) for a, b, c, d in cells) != width * height:
        found.append("area")
    corners = Counter(corner for a, b, c, d in cells for corner in {(a, b), (a, d), (c, b), (c, d)})
    if any(count > 2 for (x, y), count in corners.items() if 0 < x < width and 0 < y < height):
        found.append("four corners")
    if longest_joint(cells, width, height) - gap > field.longest_joint:
        found.append("joint too long")
    used = Counter(one.kind for one in laid if one.kind is not None)
    if any(count > filling.pieces[kind].count for kind, count in used.items()):
        found.append("more than there are")
    for one in laid:
        if min(one.width, one.height) < field.least:
            found.append("too narrow")
        if one.kind is not None:
            piece = filling.pieces[one.kind]
            off = piece.length - one.along_grain, piece.width - one.across_grain
            if min(off) < 0 or max(off) > field.trim:
                found.append("not out of its piece")
            if one.across and not field.turn:
                found.append("turned")
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
    large = replace(quarters[0], width=120)
    assert "not out of its piece" in faults(Filling(field=small, pieces=pieces, laid=(large,)))
