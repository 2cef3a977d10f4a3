"""TOML files to data and lines. Outside source: the TOML 1.0.0 specification, and the standard library's reader."""

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutjob.errors import InputError, Problem
from cutjob.files.fields import KeyPath
from cutjob.files.source import GREATEST_BYTES, key_places, parse_source, read_source

EVERY_KIND = '''# a comment with = and [brackets]
title = "a # in text"
"quoted key" = 'x = [1]'
a.b.c = 1
"dotted.in.quotes" = 2

list = [ 1, 2,
  3,  # three
  [ 4,
    5 ] ]
inline = { x = 1, y = { z = [ 1, 2 ] } }
long = """
k = "no key"
[no.header]
""""
raw = \'\'\'
[[no]]
it''s
\'\'\'
when = 1979-05-27 07:32:00
last.a = 1
last.b = 2

[ table . "sub table" ]
k = 1

[[board]]
name = "one"
[[board.keep_out]]
at = [1, 2]
[[board.keep_out]]
at = [
  1,
  2,
]
[board.corners]
size = 3

[[board]]
name = "two"
keep_out = [ { at = [1, 2] },
             { at = [3, 4] } ]
"tab\\tbed" = 1
'''


def _paths(value: Any, path: KeyPath = ()) -> list[KeyPath]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [*([path] if path else []), *(found for key, one in inner for found in _paths(one, (*path, key)))]


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 2),
        (("quoted key",), 3),
        (("a",), 4),
        (("a", "b", "c"), 4),
        (("dotted.in.quotes",), 5),
        (("list",), 7),
        (("list", 1), 7),
        (("list", 2), 8),
        (("list", 3), 9),
        (("list", 3, 1), 10),
        (("inline", "y", "z", 1), 11),
        (("long",), 12),
        (("raw",), 16),
        (("when",), 20),
        (("last", "a"), 21),
        (("last", "b"), 22),
        (("table", "sub table"), 24),
        (("table", "sub table", "k"), 25),
        (("board",), 27),
        (("board", 0), 27),
        (("board", 0, "name"), 28),
        (("board", 0, "keep_out", 0), 29),
        (("board", 0, "keep_out", 1, "at"), 32),
        (("board", 0, "keep_out", 1, "at", 1), 34),
        (("board", 0, "corners"), 36),
        (("board", 0, "corners", "size"), 37),
        (("board", 1), 39),
        (("board", 1, "name"), 40),
        (("board", 1, "keep_out", 1, "at", 0), 42),
        (("board", 1, "tab\tbed"), 43),
    ],
)
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_the_line_of_every_kind_of_key(path: KeyPath, line: int, ending: str) -> None:
    source = parse_source(EVERY_KIND.replace("\n", ending).encode(), name="a.toml")
    assert source.at(path).line == line


def test_every_path_of_the_data_has_a_place() -> None:
    places = key_places(EVERY_KIND)
    assert set(_paths(tomllib.loads(EVERY_KIND))) == set(places) - {()}


def test_what_is_not_in_the_file_takes_the_line_of_what_is_around_it() -> None:
    source = parse_source(EVERY_KIND.encode(), name="a.toml")
    assert source.at(("board", 1, "thickness")).line == 39
    assert source.at(("no", "such")).line == 1
    assert source.value(("board", 1, "keep_out", 1, "at")) == [3, 4]
    assert source.value(("board", 9, "name")) is None


_scalars = st.one_of(
    st.integers(-(2**63), 2**63 - 1), st.booleans(), st.text(st.characters(codec="utf-8", exclude_categories=["C"]))
)
_values = st.recursive(
    _scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text("abc. #=]\"'", max_size=4), inner, max_size=3),
    max_leaves=8,
)


def _written(value: Any, breaks: str) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(key)} = {_written(one, '')}" for key, one in value.items()) + " }"
    if isinstance(value, list):
        return f"[{breaks}" + f",{breaks}".join(_written(one, breaks) for one in value) + f"{breaks}]"
    return json.dumps(value, ensure_ascii=False)


@given(
    st.dictionaries(st.text("xyz-. \"'#[]=", max_size=5), _values, max_size=5),
    st.sampled_from(["", "\n", " # ] , = note\n"]),
    st.integers(0, 3),
)
def test_any_file_has_the_line_of_every_key(data: dict[str, Any], breaks: str, blank: int) -> None:
    text, lines = "", {}
    for key, value in data.items():
        text += "\n" * blank
        lines[key] = text.count("\n") + 1
        text += f"{json.dumps(key)} = {_written(value, breaks)}\n"
    source = parse_source(text.encode(), name="a.toml")
    assert source.data == data
    assert {key: source.at((key,)).line for key in data} == lines
    for path in _paths(data):
        assert path in source.places


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused_in_one_line_each(data: bytes) -> None:
    problems: tuple[Problem, ...] = ()
    try:
        parse_source(data, name="a.toml")
    except InputError as error:
        problems = error.problems
    lines = "\n".join(str(problem) for problem in problems).splitlines()
    assert len(lines) == len(problems)
    assert all(line.startswith("a.toml") for line in lines)


@pytest.mark.parametrize(
    ("text", "place", "word"),
    [
        ('a = 1\nwidth = 5 1/2"\n', "a.toml:2:11", "quotes"),
        ("thickness = 5/8\n", "a.toml:1:14", "quotes"),
        ('thickness = "5/8""\n', "a.toml:1:18", "inch mark"),
        ("material = softwood\n", "a.toml:1:12", "quotes"),
        ("a = 1\na = 2\n", "a.toml:2:6", "leave one"),
        ("[a]\n[a]\n", "a.toml:2:3", "[[board]]"),
        ("a = [1, 2\nb = 3\n", "a.toml:2:1", "comma"),
        ("a = { b = 1\n", "a.toml:1:12", "comma"),
        ("a = 'x\n", "a.toml:1:7", "quote"),
        ('p = "C:\\work"\n', "a.toml:1:10", "single quotes"),
        ("just words\n", "a.toml:1:6", "key = value"),
        ("[board\nx = 1\n", "a.toml:1:7", "[motion]"),
        ("a = \n", "a.toml:1:5", "quotes"),
        ("\n\n!\n", "a.toml:3:1", "key = value"),
        ('a = """x\n', "a.toml:1:9", "quote"),
        ("a = 2021-02-31\n", "a.toml:1:5", "quotes"),
        ("price = 2,90\n", "a.toml:1:10", "2,90 has a comma; write a point: 2.90"),
        ("a = “x”\n", "a.toml:1:5", "there is a curly quote here, “"),
        ('a = "x”\n', "a.toml:1:8", "there is a curly quote here, ”"),
    ],
)
def test_mistakes_of_syntax_say_where_and_what_to_do(text: str, place: str, word: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_source(text.encode(), name="a.toml")
    said = str(caught.value)
    assert said.startswith(place + ": "), said
    assert word in said
    assert ";" in said


def test_a_byte_order_mark_changes_nothing() -> None:
    source = parse_source("\ufeffa = 1\nb = 2\n".encode(), name="a.toml")
    assert source.data == {"a": 1, "b": 2}
    assert source.at(("b",)).line == 2


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_what_a_shell_writes_as_utf_16_is_read(encoding: str) -> None:
    """Some shells write `cutjob new round > job.toml` in UTF-16 with a byte order mark and CR LF at line ends."""
    text = "\ufeff# Stühle 🪑\r\na = 'é'\r\n\r\nb = 2\r\n"
    source = parse_source(text.encode(encoding), name="a.toml")
    assert source.data == {"a": "é", "b": 2}
    assert source.at(("b",)).line == 4
    with pytest.raises(InputError) as caught:
        parse_source("\ufeffa = 1\nb = x\n".encode(encoding), name="a.toml")
    assert str(caught.value).startswith("a.toml:2:5: ")


@pytest.mark.parametrize(
    ("data", "line"),
    [
        ("a = 'é'\n".encode("utf-16-le"), 1),  # without a mark
        ("a = 1\n".encode("utf-32"), 1),
        ("\ufeffa = 1\n".encode("utf-16-le")[:-1], 1),
        (b"\xfe\xff\xd8\x00\x00a", 1),  # half of a pair
        (b"a = 1\nb = '\xe9'\n", 2),
        (b"\x7fELF\x02\x80", 1),
    ],
)
def test_another_encoding_is_named(data: bytes, line: int) -> None:
    with pytest.raises(InputError, match="UTF-8") as caught:
        parse_source(data, name="a.toml")
    assert caught.value.problems[0].location is not None
    assert caught.value.problems[0].location.line == line


@pytest.mark.parametrize("text", ["a = " + "[" * 20_000 + "]" * 20_000, "a = " + "{b=" * 5000 + "1" + "}" * 5000])
def test_deep_nesting_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="too deep"):
        parse_source(text.encode(), name="a.toml")


def test_whole_numbers_beyond_64_bits_are_refused_with_their_lines() -> None:
    # TOML 1.0.0: "Arbitrary 64-bit signed integers (from -2^63 to 2^63-1) should be accepted and handled losslessly."
    fine = parse_source(f"a = {2**63 - 1}\nb = {-(2**63)}\n".encode(), name="a.toml")
    assert fine.data == {"a": 2**63 - 1, "b": -(2**63)}
    with pytest.raises(InputError) as caught:
        parse_source(f"a = 1\nb = [1, {2**63}]\n[c]\nd = 0x{'f' * 9000}\n".encode(), name="a.toml")
    assert sorted(str(problem).split(": ")[0] for problem in caught.value.problems) == ["a.toml:2", "a.toml:4"]
    with pytest.raises(InputError, match="thousands of digits"):
        parse_source(b"a = " + b"9" * 9000, name="a.toml")


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_source(tmp_path / "none.toml")
    with pytest.raises(InputError, match="folder"):
        read_source(tmp_path)
    with pytest.raises(InputError, match="no file has such a name"):
        read_source(tmp_path / "a\0b")
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * (GREATEST_BYTES + 1))
    with pytest.raises(InputError, match="larger than 1 MB"):
        read_source(large)


def test_the_location_names_the_file_as_given(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text("a = 1\n", encoding="utf-8")
    assert read_source(path).at(("a",)).file == str(path)


def test_a_file_of_the_greatest_size_is_scanned_in_reasonable_time() -> None:
    line = 'k{} = [ "a", {{ b = 1 }}, [2, 3] ]\n'
    text = "".join(line.format(number) for number in range(8000))
    assert len(key_places(text)) == 1 + 8000 * 7
