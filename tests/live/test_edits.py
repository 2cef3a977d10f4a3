"""Changes of single lines: what is meant is in the file, and everything else stays as it was."""

from __future__ import annotations

import difflib
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_files
from cutjob.live.edits import Change, changed, typed_value, written

SAMPLES = {name: path.read_text(encoding="utf-8") for name, path in shipped_files("samples").items()}
TEXT = """# first
title = "Gate"   # the title's comment
units = "mm"

machine = "bench-router"

[[make]]
name = "star"
design = "star"   # five points
with = { outer = 90, hole = "8 mm" }

# the wood
[[board]]
name = "larch"
length = 900
width = 140
thickness = 16
"""


def others(before: str, after: str) -> tuple[list[str], list[str]]:
    """The lines taken out, and those put in."""
    lines = list(difflib.ndiff(before.splitlines(), after.splitlines()))
    return [one[2:] for one in lines if one[0] == "-"], [one[2:] for one in lines if one[0] == "+"]


def test_one_line_is_changed_and_its_comment_stays() -> None:
    after = changed(TEXT, [Change(path=("title",), value="Porch")])
    assert others(TEXT, after) == (
        ['title = "Gate"   # the title\'s comment'],
        ['title = "Porch"   # the title\'s comment'],
    )


@pytest.mark.parametrize(
    ("path", "value", "taken", "put"),
    [
        (("make", 0, "count"), 4, [], ["count = 4"]),
        (("make", 0, "with", "outer"), "3 1/2 in", ['with = { outer = 90, hole = "8 mm" }'],
         ['with = { outer = "3 1/2 in", hole = "8 mm" }']),
        (("make", 0, "with", "hole"), None, ['with = { outer = 90, hole = "8 mm" }'], ["with = { outer = 90  }"]),
        (("gap",), 5.5, [], ["gap = 5.5"]),
        (("board", 0, "keep_out", 0), {"at": [300, 50], "radius": 12}, [],
         ["keep_out = [{at = [300, 50], radius = 12}]"]),
        (("patterns", "halves"), True, [], ["patterns = {halves = true}"]),
    ],
)  # fmt: skip
def test_only_that_line(path: tuple[str | int, ...], value: Any, taken: list[str], put: list[str]) -> None:
    assert others(TEXT, changed(TEXT, [Change(path=path, value=value)])) == (taken, put)


def test_an_entry_is_added_after_the_others_with_a_free_line_round_it() -> None:
    after = changed(TEXT, [Change(path=("make", 1), value={"name": "disc", "design": "round"})])
    assert '\n\n[[make]]\nname = "disc"\ndesign = "round"\n\n' in after
    assert [one["name"] for one in tomllib.loads(after)["make"]] == ["star", "disc"]
    last = changed(TEXT, [Change(path=("rod", 0), value={"name": "dowel", "diameter": 10, "length": 1000})])
    assert last.endswith('\n\n[[rod]]\nname = "dowel"\ndiameter = 10\nlength = 1000\n')


def test_the_last_entry_of_a_list_takes_the_list_with_it() -> None:
    assert "board" not in tomllib.loads(changed(TEXT, [Change(path=("board", 0), value=None)]))


@pytest.mark.parametrize("path", [("make", 7, "count"), ("make", "count"), ("title", "x"), ("board", 0, "length", 3)])
def test_a_path_that_leads_nowhere_is_refused(path: tuple[str | int, ...]) -> None:
    with pytest.raises(InputError):
        changed(TEXT, [Change(path=path, value=1)])


def test_a_text_that_is_not_toml_is_refused_and_not_spoiled() -> None:
    with pytest.raises(InputError, match="not TOML"):
        changed("title = \n", [Change(path=("title",), value="x")])


def test_line_ends_of_windows_stay() -> None:
    text = TEXT.replace("\n", "\r\n")
    after = changed(text, [Change(path=("make", 0, "count"), value=3), Change(path=("title",), value="x")])
    assert "\n" not in after.replace("\r\n", "")


@pytest.mark.parametrize(
    ("kind", "typed", "value"),
    [
        ("length", "16 1/2", "16 1/2"), ("length", "260", 260), ("length", "34.5", 34.5), ("length", "6 ft", "6 ft"),
        ("count", "4", 4), ("count", "four", "four"), ("number", "0.5", 0.5), ("text", "12", "12"),
        ("yes_no", "true", True), ("yes_no", "maybe", "maybe"), ("choice", "flat", "flat"), ("length", "  ", None),
        ("list", '["10", "6 1/2"]', ["10", "6 1/2"]), ("list", "[[0, 1], [1, 0.62]]", [[0, 1], [1, 0.62]]),
        ("list", "10, 6 1/2", [10, "6 1/2"]), ("list", '"10", "6"', ["10", "6"]), ("list", "shed.toml", "shed.toml"),
        ("table", "{ base = \"plank\" }", {"base": "plank"}), ("table", "plank", "plank"), ("list", "2", 2),
    ],
)  # fmt: skip
def test_what_is_typed(kind: Any, typed: str, value: Any) -> None:
    found = typed_value(kind, typed)
    assert found == value
    assert type(found) is type(value)


_PLAIN = st.one_of(
    st.integers(-(2**31), 2**31),
    st.floats(-1e6, 1e6, allow_nan=False).map(lambda one: round(one, 4)),
    st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=20),
    st.booleans(),
)
_VALUES = st.recursive(
    _PLAIN,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("abc d", max_size=4), inner, max_size=3),
    max_leaves=8,
)  # fmt: skip


@given(name=st.sampled_from(sorted(SAMPLES)), data=st.data(), value=_VALUES)
def test_every_change_of_every_sample_reads_back_and_leaves_the_other_lines(
    name: str, data: st.DataObject, value: Any
) -> None:
    """Other lines are the same letter for letter; at most the lines of the key itself are taken out."""
    text = SAMPLES[name]
    before = tomllib.loads(text)
    last = len(before["make"]) - 1
    keys = [("title",), ("gap",), ("stack",), ("numbers",), ("make", 0, "count"), ("make", 0, "price"),
            ("make", 0, "with", "gap"), ("make", 0, "with", "new one"), ("make", last, "wood")]  # fmt: skip
    path = data.draw(st.sampled_from(keys))
    after = changed(text, [Change(path=path, value=value)])
    read: Any = tomllib.loads(after)
    for key in path:
        read = read[key]
    assert read == value
    taken, _ = others(text, after)
    held: Any = before
    for key in path[:-1]:
        held = held.get(key, {}) if isinstance(held, dict) else held[key]
    there = path[-1] in held or (len(path) == 4 and any(line.lstrip().startswith("with") for line in taken))
    assert len(taken) <= (1 if there else 0) or any("with = {" in line for line in taken)
    assert [one for one in before if one != path[0]] == [
        one for one in tomllib.loads(after) if one in before and one != path[0]
    ]


@given(value=_VALUES)
def test_what_is_written_is_typed_again_as_the_same(value: Any) -> None:
    text = written(value)
    if isinstance(value, (list, dict)) and value:
        assert typed_value("list", text) == value
    elif isinstance(value, str):
        assert text == value


def test_a_file_that_the_library_would_not_write_the_same_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A text that comes out otherwise where nothing was changed is left alone."""
    import tomlkit

    class Other:
        def as_string(self) -> str:
            return "other"

    monkeypatch.setattr(tomlkit, "parse", lambda _: Other())
    with pytest.raises(InputError, match="can't be changed by itself"):
        changed(TEXT, [Change(path=("title",), value="x")])


def test_samples_are_there() -> None:
    assert len(SAMPLES) > 5
    assert all(Path(path).is_file() for path in shipped_files("samples").values())


def test_half_a_letter_and_what_is_too_deep_are_refused() -> None:
    deep: Any = 1
    for _ in range(900):
        deep = [deep]
    for value in ("\ud800", deep):
        with pytest.raises(InputError, match="can't be changed"):
            changed(TEXT, [Change(path=("title",), value=value)])


COMMENTED = """# the shop's gate
units = "mm"

# five points
[[make]]
name = "star"

# turned
[[make]]
name = "disc"
[make.with]
outer = 90   # measured
# the wood
[[board]]
name = "larch"
[[board.keep_out]]
at = [300, 50]   # a knot

# what is left
[[rod]]
name = "dowel"
"""


@pytest.mark.parametrize(
    ("path", "value", "above", "line"),
    [
        (("gap",), 4, 'units = "mm"', "gap = 4"),
        (("stock",), ["shed.toml"], 'units = "mm"', 'stock = ["shed.toml"]'),
        (("make", 0, "count"), 4, 'name = "star"', "count = 4"),
        (("make", 0, "with", "outer"), 80, 'name = "star"', "with = {outer = 80}"),
        (("make", 1, "with", "hole"), 8, "outer = 90   # measured", "hole = 8"),
        (("rod", 0, "diameter"), 10, 'name = "dowel"', "diameter = 10"),
    ],
)
def test_a_new_line_stands_below_its_own_table_and_not_below_the_comment_of_the_next(
    path: tuple[str | int, ...], value: Any, above: str, line: str
) -> None:
    after = changed(COMMENTED, [Change(path=path, value=value)])
    assert others(COMMENTED, after) == ([], [line])
    assert f"{above}\n{line}\n" in after


@pytest.mark.parametrize(
    ("path", "taken"),
    [
        (("make", 0), ["[[make]]", 'name = "star"']),
        (("make", 1), ["[[make]]", 'name = "disc"', "[make.with]", "outer = 90   # measured"]),
        (("board", 0), ["[[board]]", 'name = "larch"', "[[board.keep_out]]", "at = [300, 50]   # a knot"]),
        (("make", 1, "with"), ["[make.with]", "outer = 90   # measured"]),
        (("rod", 0), ["[[rod]]", 'name = "dowel"']),
    ],
)  # fmt: skip
def test_what_is_taken_out_takes_no_comment_of_what_follows(path: tuple[str | int, ...], taken: list[str]) -> None:
    after = changed(COMMENTED, [Change(path=path, value=None)])
    assert sorted(one for one in others(COMMENTED, after)[0] if one) == sorted(taken)
    assert others(COMMENTED, after)[1] == []


def test_a_second_knot_is_added_below_the_first() -> None:
    after = changed(COMMENTED, [Change(path=("board", 0, "keep_out", 1), value={"at": [9, 9], "radius": 4})])
    assert others(COMMENTED, after) == ([], ["[[board.keep_out]]", "at = [9, 9]", "radius = 4"])
    assert "# a knot\n[[board.keep_out]]\nat = [9, 9]\nradius = 4\n\n# what is left\n" in after


def test_tables_of_a_list_that_stand_apart_are_taken_out() -> None:
    text = '[[make]]\nname = "a"\n\n[[board]]\nname = "w"\n\n[[make]]\nname = "b"\n'
    assert changed(text, [Change(path=("make", 0), value=None)]) == '[[board]]\nname = "w"\n\n[[make]]\nname = "b"\n'


def test_the_last_entry_of_a_list_on_one_line_takes_the_line_with_it() -> None:
    assert changed('gap = 3\nboard = [{ name = "x" }]\n', [Change(path=("board", 0), value=None)]) == "gap = 3\n"


def test_a_string_that_looks_like_tables_and_comments_is_left() -> None:
    text = '[[make]]\nname = "a"\nnote = """\n# x\n[[board]]\n# y"""\n[[board]]\nname = "w"\n'
    for path, value in ((("make", 0, "count"), 2), (("make", 0), None), (("board", 0), None), (("gap",), 3)):
        tomllib.loads(changed(text, [Change(path=path, value=value)]))
    assert "[[board]]\n# y" in changed(text, [Change(path=("make", 0, "count"), value=2)])
