"""One case of bad input: the files, the command, and what the answer must say."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

MAKE = ("make", "job.toml", "--effort", "quick")


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A spoiled input. `files` are written into an empty folder, `set_up` may add links and devices.

    `says` are words the messages hold, `at` is how the first one begins, `lines` how many there are (None: any number).
    Codes other than 2 are allowed by `codes`; 0 means that the files may be right after all.
    """

    name: str
    files: Mapping[str, bytes]
    args: tuple[str, ...] = MAKE
    says: tuple[str, ...] = ()
    at: str = ""
    lines: int | None = 1
    codes: tuple[int, ...] = (2,)
    set_up: Callable[[Path], None] | None = field(default=None, compare=False)

    def write(self, folder: Path) -> None:
        """Put the files into a folder."""
        for name, data in self.files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        if self.set_up is not None:
            self.set_up(folder)


def swapped(text: str, *pairs: tuple[str, str]) -> str:
    """The text with each first thing replaced by the second; fails when it is not there, as the case would be none."""
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    return text
