"""One of a thing, and several."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import cutjob
from cutjob.counting import counted


@pytest.mark.parametrize(
    ("count", "thing", "things", "words"),
    [
        (1, "contour", None, "1 contour"),
        (0, "contour", None, "0 contours"),
        (2, "more contour", None, "2 more contours"),
        (1, "entry", "entries", "1 entry"),
        (3, "entry", "entries", "3 entries"),
    ],
)
def test_one_and_several(count: int, thing: str, things: str | None, words: str) -> None:
    assert counted(count, thing, things) == words


# What there are always several of where it is said, or none: lists far too long, more cutters than one, and the like.
_SEVERAL = {
    "always several": ("cutters", "files", "windows"),
    "far too many": ("characters", "knots", "letters"),
    "for programmers": ("entries", "placements"),
    "not once": ("times",),
}


def test_no_message_counts_a_list_without_it() -> None:
    """A message that writes a list's length before a plural is wrong for a list of one."""
    several = {word for words in _SEVERAL.values() for word in words}
    left = []
    for path in sorted(Path(cutjob.__file__).parent.rglob("*.py")):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            found = re.search(r"""f['"].*\{len\([^}]*\} (?:more |other )?([a-z]+s)\b""", line)
            if found and found[1] not in several and "if len(" not in line:
                left.append(f"{path.name}:{number}: {line.strip()}")
    assert left == []
