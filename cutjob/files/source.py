"""Reads a TOML file to its data, and to the line and column of every key and list element.

The standard library's reader gives values without places. So this scan runs after it, on text that it has accepted.
The scan follows the TOML 1.0 specification, but leaves out the checks.
"""

from __future__ import annotations

import codecs
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cutjob.errors import InputError, Location, Problem
from cutjob.files.fields import KeyPath
from cutjob.files.file_bytes import bytes_of
from cutjob.files.values import shown
from cutjob.remembered import remembered
from cutjob.units import Unit, unmarked

Place = tuple[int, int]  # line and column, from 1

MOST_PLACES = 60_000  # keys and list entries; a stock of a thousand boards has some ten thousand

_BLANK = re.compile(r"[ \t]*")
_BETWEEN = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPE = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|(.))", re.DOTALL)
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}
# A long string may end in up to two quotes of its own before the three that close it.
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"""(?:"{0,2})' + r"|'''.*?'''(?:'{0,2})" + r'|"(?:[^"\\\n]|\\.)*"' + r"|'[^'\n]*'",
    re.DOTALL,
)
_PLAIN_VALUE = re.compile(r"[^,\]}#\n]*")


class TooMuchError(ValueError):
    """The file is valid TOML, but too long or too deeply nested for a job; `line` is where it passes the limit."""

    def __init__(self, message: str, line: int) -> None:
        """Keep the line."""
        super().__init__(message)
        self.line = line


@dataclass(slots=True)
class _Scan:
    """Where the scan is, and the places found so far."""

    text: str
    at: int = 0
    line: int = 1
    line_start: int = 0
    counted: int = 0
    places: dict[KeyPath, Place] = field(default_factory=dict)
    # The number of tables so far in each array of tables.
    tables: dict[KeyPath, int] = field(default_factory=dict)

    def place(self) -> Place:
        """Line and column of the next character; counts only the lines since the last call."""
        lines = self.text.count("\n", self.counted, self.at)
        if lines:
            self.line += lines
            self.line_start = self.text.rfind("\n", self.counted, self.at) + 1
        self.counted = self.at
        return self.line, self.at - self.line_start + 1

    def skip(self, what: re.Pattern[str]) -> str:
        found = what.match(self.text, self.at)
        if found is None:
            return ""
        self.at = found.end()
        return found[0]

    def take(self, text: str) -> bool:
        if self.text.startswith(text, self.at):
            self.at += len(text)
            return True
        return False


def key_places(text: str) -> dict[KeyPath, Place]:
    """Return the place of every key path in `text`, which must be valid TOML; `()` is the first line.

    List elements have integer keys. Raises RecursionError for lists nested deeper than Python's own stack, and
    TooMuchError for more than `MOST_PLACES` keys.
    """
    scan = _Scan(text.replace("\r\n", "\n"))
    scan.places[()] = (1, 1)
    table: KeyPath = ()
    while True:
        scan.skip(_BETWEEN)
        if scan.at >= len(scan.text):
            return scan.places
        start, place = scan.at, scan.place()
        _refuse_many(scan, place)
        if scan.take("["):
            table = _header(scan, place)
        else:
            _assignment(scan, table, place)
        if scan.at == start:
            raise ValueError(f"line {place[0]} can't be followed")  # never for valid TOML; stops an endless loop


def _refuse_many(scan: _Scan, place: Place) -> None:
    if len(scan.places) > MOST_PLACES:
        raise TooMuchError(f"the file holds more than {MOST_PLACES} keys and entries of lists", place[0])


def _header(scan: _Scan, place: Place) -> KeyPath:
    several = scan.take("[")
    keys = _dotted(scan)
    scan.take("]]" if several else "]")
    path = _through_arrays(scan, keys if not several else keys[:-1])
    for length in range(1, len(path) + 1):
        scan.places.setdefault(path[:length], place)
    if not several:
        scan.places[path] = place
        return path
    array = (*path, keys[-1])
    index = scan.tables.get(array, 0)
    scan.tables[array] = index + 1
    scan.places.setdefault(array, place)
    scan.places[(*array, index)] = place
    return (*array, index)


def _through_arrays(scan: _Scan, keys: tuple[str, ...]) -> KeyPath:
    """A header's keys as a path; a key that names an array of tables means its last table."""
    path: KeyPath = ()
    for key in keys:
        path = (*path, key)
        if path in scan.tables:
            path = (*path, scan.tables[path] - 1)
    return path


def _assignment(scan: _Scan, table: KeyPath, place: Place) -> None:
    keys = _dotted(scan)
    for length in range(1, len(keys) + 1):
        scan.places.setdefault((*table, *keys[:length]), place)
    scan.take("=")
    scan.skip(_BLANK)
    _value(scan, (*table, *keys))


def _dotted(scan: _Scan) -> tuple[str, ...]:
    keys: list[str] = []
    while True:
        scan.skip(_BLANK)
        if scan.text[scan.at : scan.at + 1] in ('"', "'"):
            keys.append(_unquoted(scan.skip(_STRING)))
        else:
            keys.append(scan.skip(_BARE_KEY))
        scan.skip(_BLANK)
        if not scan.take("."):
            return tuple(keys)


def _unquoted(text: str) -> str:
    if text.startswith("'"):
        return text[1:-1]
    return _ESCAPE.sub(lambda found: _escaped(found[1] or found[2], found[3]), text[1:-1])


def _escaped(code: str | None, letter: str) -> str:
    return chr(int(code, 16)) if code else _ESCAPES.get(letter, letter)


def _value(scan: _Scan, path: KeyPath) -> None:
    if scan.take("["):
        _list(scan, path)
    elif scan.take("{"):
        _inline_table(scan, path)
    elif scan.text[scan.at : scan.at + 1] in ('"', "'"):
        scan.skip(_STRING)
    else:
        scan.skip(_PLAIN_VALUE)


def _list(scan: _Scan, path: KeyPath) -> None:
    index = 0
    while True:
        scan.skip(_BETWEEN)
        if scan.take("]") or scan.at >= len(scan.text):
            return
        place = scan.places[(*path, index)] = scan.place()
        _refuse_many(scan, place)
        _value(scan, (*path, index))
        index += 1
        scan.skip(_BETWEEN)
        scan.take(",")


def _inline_table(scan: _Scan, path: KeyPath) -> None:
    while True:
        # TOML 1.1 lets an inline table run over several lines.
        scan.skip(_BETWEEN)
        if scan.take("}") or scan.at >= len(scan.text):
            return
        _assignment(scan, path, scan.place())
        scan.skip(_BETWEEN)
        scan.take(",")


# A stock of a thousand boards is a fifth of this.
GREATEST_BYTES = 1_000_000
DEEPEST = 32  # keys within each other; a job needs six

_UTF_16_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_PLACE_IN_MESSAGE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_SHARE_OUT = "keep what this job needs, and move everything else to other files"
# A dotted key. TOML's reader is slow with thousands of parts, and the places of the parts would fill the memory.
_KEY_OF_SEVERAL = re.compile(r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')[ \t]*(\.?)[ \t]*""")
# TOML 1.0.0 allows these nowhere, not even in comments: control characters other than tab and line ends.
_UNSEEN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]|\r(?!\n)")
_QUOTES = 'put text, fractions and lengths with a unit in quotes, like "5 1/2" or "6 ft"'
# The messages of Python's reader, each with our own message and advice.
_PLAINER: tuple[tuple[str, str, str], ...] = (
    ("Invalid value", "this is not a value", _QUOTES),
    (
        "Expected newline or end of document",
        "the line goes on after the value",
        f"{_QUOTES}; write an inch mark inside single quotes, like '5/8\"'",
    ),
    ("Expected '=' after a key", "a key must be followed by =", "write key = value"),
    ("Invalid statement", "this line is neither a key nor a [table]", "write key = value, or start a comment with #"),
    ("Invalid initial character for a key", "a key is missing", "write key = value"),
    ("Cannot overwrite a value", "this key has a value already", "leave one of them out"),
    ("Duplicate inline table key", "this key has a value already", "leave one of them out"),
    (
        "Cannot declare",
        "the file has this table already",
        "leave one of them out; tables that may come more than once are written in double brackets, like [[board]]",
    ),
    ("Cannot redefine namespace", "the file has this table already", "leave one of them out"),
    ("Cannot mutate immutable", "this key has a value already", "leave one of them out"),
    (
        "Unclosed array",
        "a list is not closed, or a comma is missing in it",
        "put a comma between values and ] at the end",
    ),
    (
        "Unclosed inline table",
        "a { is not closed, or a comma is missing",
        "put a comma between entries and } at the end",
    ),
    ("Unterminated string", "text is not closed", "put a quote at its end"),
    ("Expected \"'", "text is not closed", "put a quote at its end"),
    ("Illegal character", "a character is not allowed here; perhaps a closing quote is missing", _QUOTES),
    ("Found invalid character", "a character is not allowed here", "remove it, or put the text in quotes"),
    ("Unescaped '\\'", "a single backslash is not allowed in double quotes", "use single quotes, or / in paths"),
    ("Expected ']' at the end of a table", "a table's name is not closed", "write it like [motion]"),
    ("Expected ']]' at the end of an array", "a table's name is not closed", "write it like [[board]]"),
    (
        "Invalid hex value",
        "an escape after a backslash is not complete",
        "use single quotes, or write the letter itself",
    ),
    (
        "Escaped character is not",
        "a backslash is followed by a letter that means nothing there",
        "write the letter itself",
    ),
    ("Invalid date or datetime", "this is not a date", _QUOTES),
    ("Empty key", "a key is missing", "write key = value"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A file as read: its `name` as the user gave it, its `data`, and the place of every key path. There are no places
    where the data was given without a text.
    """

    name: str
    data: Mapping[str, object]
    places: Mapping[KeyPath, Place]

    def at(self, path: KeyPath) -> Location:
        """The line of a key path; where the file has no such key, the line of the nearest table or list around it."""
        for length in range(len(path), -1, -1):
            place = self.places.get(path[:length])
            if place is not None and length:
                return Location(file=self.name, line=place[0])
        return Location(file=self.name, line=1 if self.places else None)

    def value(self, path: KeyPath) -> Any:
        """The file's value at a key path, or None."""
        here: Any = self.data
        for key in path:
            if key == 0 and not isinstance(here, (list, Mapping)):
                continue  # one value in place of a list
            try:
                here = here[key]
            except (KeyError, IndexError, TypeError):
                return None
        return here


def units_of(source: Source) -> Unit:
    """Return the unit of a file's bare numbers; mm where the file names none, which reading it reports."""
    return "in" if source.data.get("units") == "in" else "mm"


def source_of(job: str | Path | Mapping[str, object], *, name: str = "job") -> Source:
    """Return the source of a file given as its path, its text (with a line break in it) or its data, as read from TOML.

    Messages name a text or data by `name`. Raises InputError as `read_source` does.
    """
    if isinstance(job, Mapping):
        return Source(name=name, data=job, places={})
    if isinstance(job, str) and "\n" in job:
        return parse_source(job.encode("utf-8"), name=name)
    return read_source(Path(job))


def read_source(path: Path) -> Source:
    """Read a TOML file. Raises InputError with its place when the file can't be read or is not TOML."""
    return parse_source(read_bytes(path), name=str(path))


def read_bytes(path: Path) -> bytes:
    """Return the bytes of a TOML file. Raises InputError where it can't be read, or is too long to be one."""
    return bytes_of(path, most=GREATEST_BYTES, advice="a job, a profile or a stock is some kB of text; check the name")


@remembered(most=32, by_value=(bytes,))
def parse_source(data: bytes, *, name: str) -> Source:
    """Read TOML from bytes. Raises InputError with its place."""
    text = _decoded(data, name)
    _refuse_unseen(text, name)
    try:
        _refuse_deep(text)
        values = tomllib.loads(text)
        places = key_places(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(_syntax_problem(error, text, name)) from None
    except TooMuchError as error:
        raise InputError(
            Problem(message=str(error), advice=_SHARE_OUT, location=Location(file=name, line=error.line))
        ) from None
    except RecursionError:
        raise InputError(
            Problem(
                message="lists or tables are nested too deeply",
                advice="write tables under [headers] of their own",
                location=Location(file=name),
            )
        ) from None
    except ValueError:  # Python itself refuses to read decimal numbers of more than 4300 digits
        raise InputError(
            Problem(message="a number has thousands of digits", advice=_QUOTES, location=Location(file=name))
        ) from None
    source = Source(name=name, data=values, places=places)
    problems = [
        Problem(
            message="a whole number is too large",
            advice="TOML has whole numbers of 64 bits, up to about 9 followed by 18 zeros",
            place=".".join(str(key) for key in path if isinstance(key, str) and key.isprintable()),
            location=source.at(path),
        )
        for path in _too_large(values)
    ]
    problems += [
        Problem(
            message=f"the key {shown(path[-1])} has an invisible character",
            advice="type the key again, with plain letters and digits",
            location=source.at(path),
        )
        for path in places
        if path and isinstance(path[-1], str) and path[-1] != unmarked(path[-1])
    ]
    if problems:
        raise InputError(problems)
    return source


def _too_large(data: Mapping[str, object]) -> list[KeyPath]:
    """Paths of the whole numbers beyond TOML 1.0's 64 bits, which Python reads but then can't work with."""
    found: list[KeyPath] = []
    waiting: list[tuple[KeyPath, Any]] = [((), data)]
    while waiting:
        path, value = waiting.pop()
        if isinstance(value, dict):
            waiting += [((*path, key), inner) for key, inner in value.items()]
        elif isinstance(value, list):
            waiting += [((*path, index), inner) for index, inner in enumerate(value)]
        elif isinstance(value, int) and not -(2**63) <= value < 2**63:
            found.append(path)
    return found


def _decoded(data: bytes, name: str) -> str:
    """The text of a file in UTF-8, as TOML asks, or in UTF-16 with a byte order mark, as some shells write it."""
    # UTF-32 with the low byte first starts with the mark of UTF-16 too.
    wide = data[:2] in _UTF_16_MARKS and data[2:4] != b"\0\0"
    try:
        return data.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        if data[:2] in _UTF_16_MARKS:
            line = 1
        raise InputError(
            Problem(
                message="the file is not UTF-8 text",
                advice="save it as plain text with the encoding UTF-8",
                location=Location(file=name, line=line),
            )
        ) from None


def _refuse_unseen(text: str, name: str) -> None:
    """Raise InputError at the first character that TOML allows on no line."""
    found = _UNSEEN.search(text)
    if found is None:
        return
    line = text.count("\n", 0, found.start()) + 1
    where = Location(file=name, line=line, column=found.start() - text.rfind("\n", 0, found.start()))
    if found[0] == "\r":
        message, advice = "a line ends in a lone carriage return", "save the file with ordinary line ends"
    elif found[0] == "\0" and text.count("\0") > len(text) // 10:
        # UTF-16 without its mark, or no text at all.
        where = Location(file=name, line=1)
        message, advice = "the file is not UTF-8 text", "save it as plain text with the encoding UTF-8"
    else:
        message = f"there is an invisible character here, U+{ord(found[0]):04X}"
        advice = "delete it, or type the line again"
    raise InputError(Problem(message=message, advice=advice, location=where))


def _refuse_deep(text: str) -> None:
    """Raise TooMuchError at a dotted key of more than `DEEPEST` parts."""
    depth, end = 0, -1
    for found in _KEY_OF_SEVERAL.finditer(text):
        depth = depth + 1 if found.start() == end else 1
        end = found.end() if found[1] else -1
        if depth > DEEPEST:
            raise TooMuchError("a key has too many dots", text.count("\n", 0, end) + 1)


_COMMA = re.compile(r"=\s*(\d+,\d+)\s*(?:#|$)")  # a decimal comma
_CURLY = "\u2018\u2019\u201a\u201c\u201d\u201e\u00ab\u00bb"  # quotes that word processors write; TOML doesn't know them


def _syntax_problem(error: tomllib.TOMLDecodeError, text: str, name: str) -> Problem:
    said = str(error)
    found = _PLACE_IN_MESSAGE.search(said)
    bare = said[: found.start()] if found else said
    if found and found[1]:
        line, column = int(found[1]), int(found[2])
    else:
        lines = text.replace("\r\n", "\n").rstrip("\n").split("\n")
        line, column = len(lines), len(lines[-1]) + 1
    message, advice = f"this is not TOML ({bare})", "compare the line with a sample"
    rows = text.replace("\r\n", "\n").split("\n")
    here = rows[line - 1][column - 1 : column] if line <= len(rows) else ""
    if here and here != "\t" and not here.isprintable():
        message = f"there is an invisible character here, U+{ord(here):04X}"
        return Problem(
            message=message,
            advice="delete it, or type the line again",
            location=Location(file=name, line=line, column=column),
        )
    row = rows[line - 1] if line <= len(rows) else ""
    curly = here if here and here in _CURLY else next((one for one in row if one in _CURLY and row.count('"') % 2), "")
    if curly:
        return Problem(
            message=f"there is a curly quote here, {curly}",
            advice='put text in straight quotes, "like this"; turn off smart quotes in the editor, or use a plain one',
            location=Location(file=name, line=line, column=column),
        )
    comma = _COMMA.search(row)
    if comma:
        return Problem(
            message=f"{comma[1]} has a comma",
            advice=f"write a point: {comma[1].replace(',', '.')}",
            location=Location(file=name, line=line, column=column),
        )
    for start, plain, what_to_do in _PLAINER:
        if bare.startswith(start):
            message, advice = plain, what_to_do
            break
    return Problem(message=message, advice=advice, location=Location(file=name, line=line, column=column))
