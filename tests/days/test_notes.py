"""Notes: added by the command's text, read back, added up, and given to orders."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutjob.days.notes import Total, add_note, note_text, open_orders, read_notes, stock_of, totals
from cutjob.errors import InputError
from tests.days.season import notes, orders

DAY = date(2027, 3, 5)
SOLD = {"day": DAY, "item": 'gate "tall"', "count": 2, "price": 38.5, "channel": "spring market", "order": None}


def test_a_note_is_added_at_the_end_and_what_was_there_stays(tmp_path: Path) -> None:
    path = tmp_path / "notes.toml"
    add_note(path, note_text("made", {"day": DAY, "item": 'gate "tall"', "count": 3}))
    before = path.read_text(encoding="utf-8") + "# by hand, without a line's end"
    path.write_text(before, encoding="utf-8")
    add_note(path, note_text("sold", SOLD))
    assert path.read_text(encoding="utf-8").startswith(before + "\n")
    read = read_notes(path)
    assert [(one.day, one.item, one.count) for one in read.made] == [(DAY, 'gate "tall"', 3)]
    assert [(one.price, one.channel, one.order) for one in read.sold] == [(38.5, "spring market", None)]
    assert [one.name for one in tmp_path.iterdir()] == ["notes.toml"]


def test_a_file_with_a_mistake_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "notes.toml"
    path.write_text("[[made]]\nday = 2027-03-05\nitem = 3\ncount = 1\n", encoding="utf-8")
    before = path.read_bytes()
    with pytest.raises(InputError, match=r"notes.toml:3: made no. 1: item: 3 is not text"):
        add_note(path, note_text("sold", SOLD))
    assert path.read_bytes() == before


def test_totals_by_item_and_way_of_selling() -> None:
    read = notes("""
made = [{ day = 2027-03-01, item = "gate", count = 4 }, { day = 2027-03-02, item = "gate", count = 3 }]
sold = [
  { day = 2027-03-02, item = "gate", count = 2, price = 9.1, channel = "stall" },
  { day = 2027-03-03, item = "gate", count = 1, price = 9.2, channel = "stall" },
  { day = 2027-03-03, item = "gate", count = 1, price = 12, channel = "post" },
]
""")
    assert totals(read) == (
        Total(item="gate", count=7),
        Total(item="gate", channel="post", count=1, money=Decimal(12)),
        Total(item="gate", channel="stall", count=3, money=Decimal("27.4")),
    )
    assert stock_of(read) == {"gate": 3}
    assert stock_of(read.until(date(2027, 3, 2))) == {"gate": 5}


@given(st.lists(st.integers(1, 5), min_size=1, max_size=5), st.integers(0, 20), st.data())
def test_what_is_to_make_is_what_is_owed_less_what_is_there(counts: list[int], made: int, data: st.DataObject) -> None:
    days = [data.draw(st.integers(1, 28)) for _ in counts]
    text = "\n".join(
        f"O{i} gate={count} 2027-03-{day:02}" for i, (count, day) in enumerate(zip(counts, days, strict=True))
    )
    handed = data.draw(st.integers(0, min(counts[0], made)))
    noted = f'made = [{{ day = 2027-02-20, item = "gate", count = {made} }}]\n' if made else ""
    if handed:
        sold = f'day = 2027-02-21, item = "gate", count = {handed}, price = 1, channel = "stall", order = "O0"'
        noted += f"sold = [{{ {sold} }}]"
    left = open_orders(orders(text).orders, notes(noted))
    assert sum(one.to_hand_over["gate"] for one in left) == sum(counts) - handed
    assert sum(one.to_make.get("gate", 0) for one in left) == max(sum(counts) - made, 0)
    # Nobody waits for what somebody with a later day gets from what is there.
    served = sorted((one.due, one.to_make.get("gate", 0) > 0) for one in left)
    partly = [one for one in left if 0 < one.to_make.get("gate", 0) < one.to_hand_over["gate"]]
    assert len(partly) <= 1
    for due, waits in served:
        assert not (waits and any(later > due and not other for later, other in served))
