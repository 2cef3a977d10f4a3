"""`cutjob dates` and `cutjob note` from the outside, on the sample season."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cutjob.cli.commands import main
from cutjob.files.file_bytes import shipped_folder

SHOP = shipped_folder("samples") / "shop"
JOB = shipped_folder("samples") / "garden-batch.toml"
SEASON = ["--orders", str(SHOP / "spring-orders.toml"), "--notes", str(SHOP / "spring-notes.toml")]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, list(arguments))


def test_the_sample_season_is_planned_and_the_same_day_gives_the_same_bytes(tmp_path: Path) -> None:
    arguments = ["dates", str(JOB), *SEASON, "--from", "2027-03-01"]
    first = run(*arguments)
    assert first.exit_code == 0, first.output
    lines = first.stdout.splitlines()
    assert lines[0] == "by the day, from the morning of Mon 1 March 2027"
    assert lines[1].startswith("latest day to start: Sat 6 March 2027.")
    assert "1 order can't be ready in time: refuse it" in first.stdout
    data = json.loads(run(*arguments, "--json").stdout)
    assert run(*arguments).stdout == first.stdout
    assert (len(data["make"]), [one["order"] for one in data["refuse"]]) == (11, ["hotel"])
    assert data["latest_start"] == "2027-03-06"
    assert not list(tmp_path.iterdir())


def test_a_calendar_is_written_where_it_is_asked_for(tmp_path: Path) -> None:
    pytest.importorskip("icalendar", reason="needs icalendar, which writes calendars")
    file = tmp_path / "season.ics"
    result = run("dates", str(JOB), *SEASON, "--from", "2027-03-01", "--ics", str(file))
    assert result.exit_code == 0, result.output
    assert result.stdout.splitlines()[-1] == f"calendar: {file}"
    assert file.read_bytes().count(b"BEGIN:VEVENT") == 33
    assert [one.name for one in tmp_path.iterdir()] == ["season.ics"]


def test_a_from_that_is_no_day_and_a_past_order_end_with_two_and_one_line() -> None:
    wrong = run("dates", str(JOB), *SEASON, "--from", "1.3.2027")
    assert (wrong.exit_code, "write year, month and day: 2027-04-02" in wrong.stderr) == (2, True)
    past = run("dates", str(JOB), *SEASON, "--from", "2027-03-10")
    assert past.exit_code == 2
    (line,) = past.stderr.splitlines()
    assert 'order "harbour-1": due: Tue 9 March 2027 is past on Wed 10 March 2027' in line


def test_notes_are_written_and_read(tmp_path: Path) -> None:
    file = tmp_path / "notes.toml"
    made = run("note", "made", "pot foot", "12", "--on", "2027-02-20", "--notes", str(file))
    assert (made.exit_code, made.stdout) == (0, f"{file}: made on 2027-02-20: 12 x pot foot\n")
    sale = ["--price", "9.90", "--channel", "spring market", "--order", "dune-2"]
    sold = run("note", "sold", "pot foot", "5", "--on", "2027-02-21", *sale, "--notes", str(file))
    assert sold.exit_code == 0, sold.output
    assert file.read_text(encoding="utf-8").endswith(
        '[[sold]]\nday = 2027-02-21\nitem = "pot foot"\ncount = 5\nprice = 9.9\nchannel = "spring market"\n'
        'order = "dune-2"\n'
    )


def test_a_note_without_a_day_is_of_today(tmp_path: Path) -> None:
    file = tmp_path / "notes.toml"
    before = date.today()
    assert run("note", "made", "gate", "1", "--notes", str(file)).exit_code == 0
    text = file.read_text(encoding="utf-8")
    assert any(f"day = {day.isoformat()}\n" in text for day in (before, date.today()))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["sold", "gate", "1"], "what was sold has a --price for one and a --channel"),
        (["sold", "gate", "1", "--price", "3"], "what was sold has a --price for one and a --channel"),
        (["made", "gate", "1", "--price", "3"], "are for what was sold: leave them out"),
        (["made", "gate", "0"], "0 is not in the range"),
        (["made", "gate", "1", "--on", "2027-13-01"], '"2027-13-01" is not in the calendar'),
        (["made", "", "1"], "the text is empty; write at least one letter"),
    ],
)
def test_a_note_that_says_too_little_or_too_much_is_refused(tmp_path: Path, arguments: list[str], said: str) -> None:
    file = tmp_path / "notes.toml"
    result = run("note", *arguments, "--notes", str(file))
    assert (result.exit_code, said in result.stderr) == (2, True), result.stderr
    assert not file.exists()


def test_a_first_file_of_orders_is_right(tmp_path: Path) -> None:
    from cutjob.days.orders import read_orders

    file = tmp_path / "orders.toml"
    file.write_text(run("new", "orders").stdout, encoding="utf-8")
    (order,) = read_orders(file).orders
    assert order.items == {"wind stack": 2}
