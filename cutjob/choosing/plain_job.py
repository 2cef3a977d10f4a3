"""Writes chosen counts into a job file: the values of open counts are replaced, all else stays byte for byte."""

from __future__ import annotations

import re
from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from cutjob.errors import InputError, Location, Problem
from cutjob.files.source import Source, parse_source

_MARKS = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
# A count that is left open, from its key on: text, or a table on one line.
_OPEN = re.compile(r"""((?:count|"count"|'count')[ \t]*=[ \t]*)("[^"\n]*"|'[^'\n]*'|\{[^}\n]*\})""")


def plain_job(data: bytes, counts: Mapping[str, int], *, name: str) -> bytes:
    """Return the bytes of a job file with these counts in place of the open ones, by the items' names.

    The text is changed line by line and then read again. Raises InputError where that does not give what was meant, for
    counts that are written over several lines.
    """
    source = parse_source(data, name=name)
    encoding = _MARKS.get(data[:2], "utf-8")
    lines = data.decode(encoding).split("\n")
    meant: dict[str, Any] = deepcopy(dict(source.data))
    # The last ones first, so that the places of those before them on a line stay.
    for index, make in reversed(list(enumerate(meant["make"]))):
        count = counts.get(str(make["name"]).strip())
        if count is None or isinstance(make.get("count", 1), int):
            continue
        make["count"] = count
        place = source.places.get(("make", index, "count"))
        if place is not None:
            row, column = place[0] - 1, place[1] - 1 + (place[0] == 1 and lines[0].startswith("\ufeff"))
            lines[row] = lines[row][:column] + _OPEN.sub(rf"\g<1>{count}", lines[row][column:], count=1)
    text = "\n".join(lines)
    if not _means(text, meant, name):
        where = _first_open(source)
        raise InputError(
            Problem(
                message="the counts are written in a way that can't be changed safely",
                advice='write each on one line, such as count = "as many as fit" or count = { least = 4, most = 12 }',
                location=where,
            )
        )
    return text.encode(encoding)


def _means(text: str, meant: Mapping[str, Any], name: str) -> bool:
    try:
        return parse_source(text.removeprefix("\ufeff").encode(), name=name).data == meant
    except InputError:
        return False


def _first_open(source: Source) -> Location:
    makes: Any = source.data["make"]
    index = next(place for place, make in enumerate(makes) if not isinstance(make.get("count", 1), int))
    return source.at(("make", index, "count"))
