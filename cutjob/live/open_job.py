"""The job file that a page is open on: its text, its versions, and the way back.

The file is the truth. Every change is written to it at once, as a whole; a change made by hand is taken in. A change
that was made to an older version, or while the file was changed by hand, is refused: the page asks, and nothing is
overwritten.
"""

from __future__ import annotations

import codecs
import threading
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cutjob.errors import InputError, Location, Problem
from cutjob.files.file_bytes import bytes_of, real_path, shipped_files
from cutjob.files.read_toml import problem_at
from cutjob.files.source import GREATEST_BYTES, Source, parse_source
from cutjob.live.edits import Change, changed
from cutjob.output.one_file import change_file

_ENCODINGS = (
    (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"), (codecs.BOM_UTF8, "utf-8"), (b"", "utf-8"),
)  # fmt: skip
_MOST_STEPS = 500  # back


class OverlappedError(Exception):
    """The text has changed since the version that a change was made to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A text of the job, its version, and whether there is a step back and forth from it."""

    text: str
    version: int
    undo: bool
    redo: bool


class OpenJob:
    """One job file. All methods may be called from several threads."""

    def __init__(self, path: Path, *, version: int = 1) -> None:
        """Read the file; its text is the first `version`.

        Raises InputError where the file can't be read, but not for mistakes in it.
        """
        self.path = path
        self._lock = threading.RLock()
        self._back: list[str] = []
        self._forth: list[str] = []
        self._encoding, self._disk, self._text = self._read()
        self._version = version
        self._trusted = set(_named_files(self._text))

    def now(self) -> Text:
        """The text as it is."""
        with self._lock:
            return Text(text=self._text, version=self._version, undo=bool(self._back), redo=bool(self._forth))

    def put(self, text: str, *, version: int | None = None) -> Text:
        """Write a whole new text to the file. Raises OverlappedError where `version` is not the text's any more or the
        file was changed by hand, and InputError where it can't be written.
        """
        try:
            size = max(len(text.encode("utf-8")), len(text.encode(self._encoding[1])))
        except UnicodeEncodeError:
            raise _refused(self.path, "the text has half a letter that no file can hold", "type it again") from None
        if size > GREATEST_BYTES:
            raise _refused(
                self.path, f"the text is larger than {GREATEST_BYTES // 1_000_000} MB", "keep what is needed"
            )
        with self._lock:
            self._refuse_older(version)
            before = self._text
            self._write(text)
            if text != before:
                self._back = [*self._back[-_MOST_STEPS:], before]
                self._forth = []
            return self.now()

    def edit(self, changes: Sequence[Change], *, version: int | None = None) -> Text:
        """Make changes to lines of the text, and write it. Raises as `put` and `changed` do."""
        with self._lock:
            self._refuse_older(version)
            return self.put(self.tried(changes), version=version)

    def tried(self, changes: Sequence[Change]) -> str:
        """The text with changes, not written."""
        with self._lock:
            return changed(self._text, changes, name=str(self.path))

    def undo(self, *, version: int | None = None) -> Text:
        """Go one step back, from a version where one is given."""
        return self._step(self._back, self._forth, version)

    def redo(self, *, version: int | None = None) -> Text:
        """Go one step forth, likewise."""
        return self._step(self._forth, self._back, version)

    def _step(self, source: list[str], target: list[str], version: int | None) -> Text:
        with self._lock:
            if not source:
                return self.now()
            before = self._text
            self._refuse_older(version)
            self._write(source[-1])
            source.pop()
            target.append(before)
            return self.now()

    def look_at_disk(self) -> bool:
        """Take in what was written to the file by hand; whether there was something. A file that is gone is left."""
        try:
            return self._take_in()
        except InputError:
            return False

    def _take_in(self) -> bool:
        """As `look_at_disk`; raises InputError where the file can't be read."""
        with self._lock:
            encoding, data, text = self._read()
            self._encoding, self._disk = encoding, data
            if text == self._text:
                return False
            self._back = [*self._back[-_MOST_STEPS:], self._text]
            self._forth = []
            self._text = text
            self._version += 1
            self._trusted |= set(_named_files(text))
            return True

    def outside(self, source: Source) -> tuple[Problem, ...]:
        """The problems with files that the text names outside the job's folder. Those that an editor wrote there are
        the user's own; a page may not name others.
        """
        problems = []
        for path, name in _files_in(source.data):
            if not self.may_name(name):
                message = f'"{name}" is outside the folder of the job'
                problems.append(problem_at(source, path, message, advice="name it in the file itself, with an editor"))
        return tuple(problems)

    def may_name(self, name: str) -> bool:
        """Whether a page may name this file: it is in the job's folder, or an editor wrote it in the text."""
        with self._lock:
            if name in self._trusted:
                return True
        return real_path(self.path.parent / name).is_relative_to(real_path(self.path.parent))

    def named_folders(self) -> tuple[Path, ...]:
        """The folders of the files that the text names."""
        folder = self.path.parent.absolute()
        named = [name for name in _named_files(self.now().text) if self.may_name(name)]
        return tuple(dict.fromkeys((folder / name).parent for name in named))

    def _refuse_older(self, version: int | None) -> None:
        if version is not None and version != self._version:
            raise OverlappedError
        if self._take_in():
            raise OverlappedError

    def _write(self, text: str) -> None:
        mark, codec = self._encoding
        data = mark + text.encode(codec)

        def replaced(old: bytes) -> bytes:
            if old != self._disk:
                raise OverlappedError
            return data

        change_file(self.path, replaced)
        self._disk, self._text = data, text
        self._version += 1

    def _read(self) -> tuple[tuple[bytes, str], bytes, str]:
        """The file's mark and encoding, its bytes and its text."""
        data = bytes_of(self.path, most=GREATEST_BYTES, advice="a job is some kB of text; check the name")
        mark, codec = next(one for one in _ENCODINGS if data.startswith(one[0]))
        try:
            return (mark, codec), data, data[len(mark) :].decode(codec)
        except UnicodeDecodeError:
            raise _refused(self.path, "the file is not UTF-8 text", "save it as plain text, UTF-8") from None


def _refused(path: Path, message: str, advice: str) -> InputError:
    return InputError(Problem(message=message, advice=advice, location=Location(file=str(path))))


def _named_files(text: str) -> Iterator[str]:
    try:
        source = parse_source(text.encode("utf-8"), name="job")
    except InputError:
        return
    yield from (name for _, name in _files_in(source.data))


def _files_in(data: Mapping[str, Any]) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """Every file that a job names, with its key."""
    from cutjob.designs.own.find_design import is_path  # the models of own designs take a while to build

    stock = data.get("stock")
    for index, name in enumerate(stock if isinstance(stock, list) else [stock]):
        if isinstance(name, str):
            yield (("stock", index) if isinstance(stock, list) else ("stock",)), name
    if isinstance(data.get("shop"), str):
        yield ("shop",), data["shop"]
    machine = data.get("machine")
    if isinstance(machine, str) and machine not in shipped_files("machines"):
        yield ("machine",), machine
    makes = data.get("make")
    for index, make in enumerate(makes if isinstance(makes, list) else []):
        if not isinstance(make, Mapping):
            continue
        design = make.get("design")
        if isinstance(design, str) and is_path(design):
            yield ("make", index, "design"), design
        given = make.get("with")
        if isinstance(given, Mapping) and isinstance(given.get("file"), str):
            yield ("make", index, "with", "file"), given["file"]
