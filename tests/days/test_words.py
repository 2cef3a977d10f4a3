"""A plan in words: the latest day to start comes first, and a week is read without the table."""

from __future__ import annotations

import json
from datetime import date

from cutjob.days.make_dates import dates_of
from cutjob.days.notes import Notes
from cutjob.days.words import (
    dates_data,
    note_lines,
    opening_lines,
    order_rows,
    refused_rows,
    short_words,
    total_rows,
    week_lines,
)
from tests.days.season import START, account, item, notes, orders


def made(text: str, noted: Notes | None = None, **week):
    return dates_of(
        [account(item("gate", 60), **week)], orders(text), noted or Notes(), start=START, names=["job.toml"]
    )


TWO = "A gate=6 2027-03-03\nB gate=5 2027-03-12 post"


def test_the_latest_day_to_start_is_in_the_second_line() -> None:
    lines = list(opening_lines(made(TWO)))
    assert lines == [
        "by the day, from the morning of Mon 1 March 2027",
        "latest day to start: Tue 2 March 2027. Begun then and worked at in this order, both orders below are ready in "
        "time. Whoever starts at once has 6 h of work to spare",
    ]


def test_what_is_refused_is_said_and_offered() -> None:
    found = made("A gate=6 2027-03-03\nB gate=9 2027-03-03")
    assert list(opening_lines(found))[2] == (
        "1 order can't be ready in time: refuse it, or agree on a later day. No other choice refuses fewer. Were all "
        "made, by due date, the latest would come 3 h of work too late"
    )
    assert refused_rows(found.plan)[1] == [("B", "9 x gate", "9 h", "Wed 3 Mar", "Thu 4 Mar")]


def test_one_order_is_not_all_orders() -> None:
    assert list(opening_lines(made("A gate=6 2027-03-03")))[1] == (
        "latest day to start: Tue 2 March 2027. Begun then, it is ready in time. Whoever starts at once has 6 h of "
        "work to spare"
    )


def test_weeks_name_work_and_days() -> None:
    assert list(week_lines(made(TWO, days_off=["2027-03-04"]).plan)) == [
        "week of Mon 1 March 2027: 11 h of 16 h",
        "  Mon 1 Mar: A 4 h",
        "  Tue 2 Mar: A 2 h, B 2 h; ready: A",
        "  Wed 3 Mar: B 3 h; last day to hand over: A; ready: B",
        "  Thu 4 Mar: day off",
        "week of Mon 8 March 2027: 0 min of 20 h",
        "  Tue 9 Mar: last day to post: B",
    ]


def test_rows_say_why_an_order_must_be_ready_before_it_is_due() -> None:
    assert order_rows(made(TWO).plan)[1] == [
        ("1.", "A", "6 x gate", "6 h", "Tue 2 Mar", "Tue 2 Mar", "Wed 3 Mar", "", "Wed 3 Mar"),
        ("2.", "B", "5 x gate", "5 h", "Mon 8 Mar", "Wed 3 Mar", "Tue 9 Mar", "3 days of post", "Fri 12 Mar"),
    ]
    assert order_rows(made(TWO, season_ends="2027-03-05").plan)[1][1][6:8] == ("Fri 5 Mar", "season ends")


def test_defaults_are_named_and_later_notes_counted() -> None:
    noted = notes('made = [{ day = 2027-03-02, item = "gate", count = 1 }]')
    lines = list(note_lines(made(TWO, noted)))
    assert lines[0] == "hours of work: Mon 4 h, Tue 4 h, Wed 4 h, Thu 4 h, Fri 4 h"
    assert lines[1].startswith("usual figures without a source, not your own: hours on Monday; ")
    assert lines[-1] == "not counted: 1 note of days after Mon 1 March 2027"


def test_a_full_drying_room_is_named_with_its_days() -> None:
    """Two orders of two gates, both done on Monday, each drying for a day in a room for three."""
    gate = item("gate", 60, drying=20)
    text = orders("A gate=2 2027-03-09\nB gate=2 2027-03-09")

    def lines(room: int | None) -> list[str]:
        return list(note_lines(dates_of([account(gate, room=room)], text, Notes(), start=START, names=["job.toml"])))

    assert "coats dry after the work, in whole days; there is room for all of them" in lines(None)
    assert "coats dry after the work, in whole days; there is room for 3 items" in lines(3)
    (full,) = [line for line in lines(3) if line.startswith("too many items dry at once")]
    assert "4 on Mon 1 Mar." in full
    assert not [line for line in lines(4) if line.startswith("too many")]


def test_totals_have_the_shop_s_marks() -> None:
    noted = notes("""
made = [{ day = 2027-02-02, item = "gate", count = 2 }]
sold = [{ day = 2027-02-03, item = "gate", count = 1, price = 12.5, channel = "stall" }]
""")
    assert total_rows(made(TWO, noted)) == (
        ("item", "", "count", "taken, EUR"),
        [("gate", "made", "2", ""), ("gate", "sold, stall", "1", "12.50")],
    )


def test_the_data_are_plain_and_the_same_each_time() -> None:
    data = dates_data(made(TWO))
    assert json.loads(json.dumps(data)) == data
    assert (data["from"], data["latest_start"], data["spare_minutes"]) == ("2027-03-01", "2027-03-02", 360)
    assert data == dates_data(made(TWO))


def test_nothing_left_to_do_is_said() -> None:
    noted = notes('made = [{ day = 2027-02-02, item = "gate", count = 20 }]')
    assert (
        list(opening_lines(made(TWO, noted)))[1] == "nothing is left to make for the orders that can be ready in time"
    )


def test_days_are_english_whatever_the_system_speaks() -> None:
    assert short_words(date(2027, 10, 31)) == "Sun 31 Oct"
