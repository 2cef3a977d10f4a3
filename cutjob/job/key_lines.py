"""The text of a TOML file to the line and column of every key and list element in it.

The standard library's reader gives values without places, so this scan runs beside it, on text that reader has already
accepted. Every rule here is the TOML 1.0 specification's, minus the checks.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from cutjob.job.fields import KeyPath

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
    """The file is right as TOML, but holds more, or deeper, than any job; `line` is where it becomes too much."""

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
    # How many tables of each array of tables there are so far.
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
            raise ValueError(f"line {place[0]} can't be followed")  # never for valid TOML; better than running on


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
    """A header's keys as a path: a key that names an array of tables stands for its last table."""
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
