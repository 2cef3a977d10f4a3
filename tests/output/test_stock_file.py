"""A file of stock after a job: what is added, marked and replaced, and that all else stays byte for byte."""

import contextlib
import os
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import cutjob.output.stock_file
from cutjob.errors import InputError
from cutjob.files.source import parse_source
from cutjob.geometry.contour import rectangle
from cutjob.job.read_stock import stock_of
from cutjob.layout.leftovers import Leftover
from cutjob.output.stock_file import Kept, changed, check_stock_file, keep_in_stock
from tests.layout.makers import board

SHED = b"""\
# What stands in the shed.
units = "in"

[[board]]  # by the door
name = "cedar picket"
length = "6 ft"
width = "5 1/2"   # planed
thickness = "5/8"
count = 10
  [[board.keep_out]]
  at = ["31", "2"]
  radius = "3/4"

# on the rack
[[board]]
thickness = "5/8"
name = "wide cedar"
outline = [
  ["0", "0"],
  # a corner is missing
  ["30", "0"], ["20", "9"], ["0", "9"],
]

[[rod]]
name = "dowel"
diameter = "3/8"
length = 48
"""
MINE, OTHER = "Gulls (gull.toml)", "Reeds (reed.toml)"


def left(length, number=1, **more):
    on = board(outline=rectangle(length, 139.7), thickness=15.875, price=0.0, count=1, **more)
    return Leftover(board=on, side="right end", layout=f"board-{number:02d}")


def kept(*leftovers, mark=MINE, units="mm", **taken):
    names = {name.replace("_", " "): count for name, count in taken.items()}
    return Kept(leftovers=leftovers, taken=names, mark=mark, title=mark.partition(" ")[0], units=units)


def change(data, *leftovers, **options):
    return changed(data, kept(*leftovers, **options), name="shed.toml")


def entries(data):
    return tomllib.loads(data.decode("utf-8-sig"))["board"]


def lines_added(old, new):
    """The new lines, when all old ones are there in their order."""
    rest = iter(new.split(b"\n"))
    added = []
    for line in old.split(b"\n"):
        for found in rest:
            if found == line:
                break
            added.append(found)
        else:
            raise AssertionError(f"{line!r} is gone")
    return [line for line in [*added, *rest] if line]


def test_leftovers_follow_what_is_there_in_its_units():
    new = change(SHED, left(400.05), left(203.2, 2))
    assert new.startswith(SHED)
    assert new[len(SHED) :].decode() == (
        '\n[[board]]\nname = "offcut of cedar picket, Gulls board-01"\nlength = 15.75\nwidth = 5.5\nthickness = 0.625\n'
        'material = "softwood"\nprice = 0\nfrom = "Gulls (gull.toml), board-01"\n'
        '\n[[board]]\nname = "offcut of cedar picket, Gulls board-02"\nlength = 8\nwidth = 5.5\nthickness = 0.625\n'
        'material = "softwood"\nprice = 0\nfrom = "Gulls (gull.toml), board-02"\n'
    )


def test_boards_taken_are_marked_and_nothing_else_changes():
    new = change(SHED, cedar_picket=3, wide_cedar=1)
    assert lines_added(SHED, new) == [b'taken = [{ by = "Gulls (gull.toml)", count = 3 }]',
                                      b'taken = [{ by = "Gulls (gull.toml)", count = 1 }]']  # fmt: skip
    [picket, wide] = entries(new)
    assert (picket["count"], picket["taken"]) == (10, [{"by": MINE, "count": 3}])
    assert wide["taken"] == [{"by": MINE, "count": 1}]
    both = change(new, mark=OTHER, cedar_picket=7)
    assert entries(both)[0]["taken"] == [{"by": MINE, "count": 3}, {"by": OTHER, "count": 7}]


def test_the_same_job_again_changes_nothing_and_other_wishes_replace_its_own():
    first = change(SHED, left(400), left(200, 2), cedar_picket=3)
    assert change(first, left(400), left(200, 2), cedar_picket=3) == first
    other = change(first, left(300), mark=OTHER, cedar_picket=2)
    again = change(other, left(200, 2), left(250), cedar_picket=1)
    assert [(one["name"], one.get("length")) for one in entries(again)] == [
        ("cedar picket", "6 ft"),
        ("wide cedar", None),
        ("offcut of cedar picket, Gulls board-02", 7.874),
        ("offcut of cedar picket, Reeds board-01", 11.811),
        ("offcut of cedar picket, Gulls board-01", 9.8425),
    ]
    assert entries(again)[0]["taken"] == [{"by": OTHER, "count": 2}, {"by": MINE, "count": 1}]
    # With nothing left and nothing taken, only the other job's lines remain beside the user's.
    assert change(again) == change(SHED, left(300), mark=OTHER, cedar_picket=2)


def test_comments_around_what_is_taken_out_stay():
    first = change(SHED, left(400))
    noted = first + b"# behind the door\n\n# the end\n"
    assert change(noted) == SHED + b"# behind the door\n\n# the end\n"


@pytest.mark.parametrize("tail", [b"", b"\n", b"\n\n", b"# end", b"   "])
@pytest.mark.parametrize("newline", [b"\n", b"\r\n"])
@pytest.mark.parametrize("start", [b"", b"\xef\xbb\xbf"])
def test_any_end_of_file_and_of_lines(tail, newline, start):
    old = start + (SHED + tail).replace(b"\n", newline)
    new = change(old, left(400), cedar_picket=2)
    assert new.replace(b'taken = [{ by = "Gulls (gull.toml)", count = 2 }]' + newline, b"").startswith(old)
    assert new.count(b"\n") == new.count(newline)
    assert change(new, left(400), cedar_picket=2) == new
    assert [one["name"] for one in entries(new)][2] == "offcut of cedar picket, Gulls board-01"


def test_utf_16_stays_utf_16():
    old = SHED.decode().encode("utf-16")
    new = change(old, left(400), cedar_picket=2)
    assert new.decode("utf-16") == change(SHED, left(400), cedar_picket=2).decode()


def test_a_new_file_has_the_job_s_units():
    new = change(b"", left(400), units="in")
    assert new.startswith(b"# Boards and rods in stock.")
    assert tomllib.loads(new.decode())["units"] == "in"
    assert entries(new)[0]["length"] == 15.748
    assert stock_of(parse_source(new, name="x")).boards[0].board.length == pytest.approx(400, abs=0.01)


def test_names_in_use_get_a_number():
    one = change(SHED, left(400))
    same_title = replace(kept(left(300), mark="Gulls (copy.toml)"))
    two = changed(one, same_title, name="shed.toml")
    assert [entry["name"] for entry in entries(two)][2:] == [
        "offcut of cedar picket, Gulls board-01",
        "offcut of cedar picket, Gulls board-01 (2)",
    ]
    assert changed(two, same_title, name="shed.toml") == two


def test_more_taken_than_are_left_is_refused():
    other = change(SHED, mark=OTHER, cedar_picket=9)
    with pytest.raises(InputError, match=r'shed\.toml:4: the job takes 2 of "cedar picket" and 1 are left; run the'):
        change(other, cedar_picket=2)
    with pytest.raises(InputError, match=r'shed\.toml: the job takes 1 of "oak" and 0 are left'):
        change(other, oak=1)


def test_a_leftover_another_job_took_is_kept_or_the_run_refused():
    first = change(SHED, left(400), cedar_picket=1)
    taken = change(first, mark=OTHER, **{"offcut_of_cedar_picket,_Gulls_board-01": 1})
    assert change(taken, left(400), cedar_picket=1) == taken
    with pytest.raises(InputError, match=r'shed\.toml:\d+: "Reeds \(reed\.toml\)" took what this job left here'):
        change(taken, left(390), cedar_picket=1)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b'units = "mm"\n[[board]]\nname = "x"\n', "shed.toml:2: "),
        (b'units = "mm"\nboard = [{ name = "x", length = 9, width = 9, thickness = 9 }]\n', "shed.toml:2: board: the"),
        (b'units = "mm"\nboard = []\n', "shed.toml:2: board: the boards are in one list"),
        (b'units = "mm"\nwood = 3\n', "shed.toml:2: "),
        (b"units = mm\n", "shed.toml:1:"),
        (b'[[board]]\nname = "x"\nlength = 9\nwidth = 9\nthickness = 9\n', "shed.toml:1: units: is missing"),
    ],
)
def test_faulty_files_are_refused_with_their_line(text, said, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("shed.toml").write_bytes(text)
    for attempt in (lambda: check_stock_file(Path("shed.toml")), lambda: change(text, left(400))):
        with pytest.raises(InputError) as caught:
            attempt()
        assert str(caught.value.problems[0]).startswith(said)
    assert Path("shed.toml").read_bytes() == text


def test_marks_written_some_other_way_are_refused_rather_than_spoiled():
    spread = SHED.replace(b"count = 10", b'taken = [\n  { by = "Gulls (gull.toml)", count = 1 },\n]\ncount = 10')
    with pytest.raises(InputError, match="can't be changed safely; write each board under"):
        change(spread, cedar_picket=2)
    assert change(spread, cedar_picket=1) == spread


_name = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]), min_size=1, max_size=12)


@given(
    st.lists(st.tuples(st.sampled_from([MINE, OTHER]), st.integers(1, 3), st.floats(160, 900)), max_size=6),
    st.sampled_from([b"\n", b"\r\n"]),
    _name.filter(lambda name: name.strip()),
)
@settings(max_examples=40)
def test_after_any_runs_the_file_says_what_the_last_run_of_each_job_said(runs, newline, name):
    data = SHED.replace(b"\n", newline)
    last = {}
    for mark, count, length in runs:
        data = changed(data, kept(left(length, name=name.strip()), mark=mark, cedar_picket=count), name="shed.toml")
        last[mark] = count, length
    stock = stock_of(parse_source(data, name="shed.toml"))
    assert {one.by: one.count for one in stock.boards[0].stock.taken} == {
        mark: count for mark, (count, _) in last.items()
    }
    found = {entry.stock.came_from: entry.board.length for entry in stock.boards[2:]}
    assert set(found) == {f"{mark}, board-01" for mark in last}
    for mark, (_, length) in last.items():
        # A ten thousandth of an inch, rounded down.
        assert length - 0.00255 <= found[f"{mark}, board-01"] <= length + 1e-6
    for mark in last:
        data = changed(data, kept(mark=mark), name="shed.toml")
    assert data == SHED.replace(b"\n", newline)


def test_the_file_is_made_and_its_rights_are_kept(tmp_path):
    path = tmp_path / "shed.toml"
    keep_in_stock(path, kept(left(400)))
    assert entries(path.read_bytes())[0]["length"] == 400
    path.chmod(0o640)
    keep_in_stock(path, kept(left(300)))
    assert entries(path.read_bytes())[0]["length"] == 300
    if os.name == "posix":
        assert path.stat().st_mode & 0o777 == 0o640
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_stays_a_link(tmp_path):
    (tmp_path / "real").mkdir()
    path, real = tmp_path / "shed.toml", tmp_path / "real" / "stock.toml"
    real.write_bytes(SHED)
    with contextlib.suppress(OSError):
        path.symlink_to(real)
    if not path.is_symlink():
        pytest.skip("no links can be made here")
    keep_in_stock(path, kept(left(400)))
    assert path.is_symlink()
    assert real.read_bytes() == change(SHED, left(400))


def test_nothing_is_written_when_the_output_is_refused_or_a_rename_fails(tmp_path, monkeypatch):
    path = tmp_path / "shed.toml"
    path.write_bytes(SHED)

    def refuse():
        raise InputError(cutjob.output.stock_file.Problem(message="the folder is in use"))

    with pytest.raises(InputError, match="in use"):
        keep_in_stock(path, kept(left(400)), before=refuse)
    called = []
    with pytest.raises(InputError, match="0 are left"):
        keep_in_stock(path, kept(oak=1), before=lambda: called.append(1))
    assert called == []

    def fail(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(cutjob.output.one_file.os, "replace", fail)
    with pytest.raises(InputError, match="can't be written: Permission denied"):
        keep_in_stock(path, kept(left(400)))
    assert path.read_bytes() == SHED
    assert list(tmp_path.iterdir()) == [path]


def test_a_place_that_can_hold_no_file(tmp_path):
    check_stock_file(tmp_path / "shed.toml")
    with pytest.raises(InputError, match="there is no such folder"):
        check_stock_file(tmp_path / "away" / "shed.toml")
    with pytest.raises(InputError, match="this is a folder"):
        check_stock_file(tmp_path)
    (tmp_path / "empty.toml").write_bytes(b"\n")
    check_stock_file(tmp_path / "empty.toml")
