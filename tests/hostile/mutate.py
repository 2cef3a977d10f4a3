"""Good files spoiled by chance: the same seed spoils the same file in the same way."""

from __future__ import annotations

import functools
import random
import re
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from cutjob.files.file_bytes import shipped_folder
from cutjob.making import make_job
from tests.hostile.bases import DESIGN, JOB, PROGRAM, dxf, dxf_circle, dxf_line, entity, ring, svg

_NUMBER = re.compile(rb"[-+]?\d+(?:\.\d+)?")
_WORD = re.compile(rb"[A-Za-z_]{2,}")
_NUMBERS = (
    b"0", b"-0", b"-1", b"nan", b"inf", b"-inf", b"1e308", b"-1e308", b"1e-308", b"1e400", b"999999999999", b"0.1e",
    b"1_000", b"0x7fffffff", b"9" * 400, b"1/3", b"1e-9", b"NaN", b"\xd9\xa3", b"--1", b"1.2.3", b"",
)  # fmt: skip
_BYTES = (
    b"\0", b"\xff", b"\xef\xbb\xbf", b"\r", b"\n", b"\r\n", b"\t", b"\x1b[31m", b"\xe2\x80\xae", b"\xe2\x80\xa8",
    b"\xc2\x85",
    b"(", b")", b"%", b";", b'"', b"'", b"[", b"]", b"{", b"}", b"[[", b"]]", b"<", b">", b"&", b"#", b"=", b"\\", b",",
    b"../", b"/dev/zero", b"true", b"9" * 5000, b"[" * 2000, b"<g>" * 2000, b"&lt;", b"\xed\xa0\x80",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Good:
    """A file to be spoiled: what reads it, a name, its bytes."""

    kind: str
    name: str
    data: bytes


def good_files() -> list[Good]:
    """Return the shipped samples and profiles, and small files of every other kind."""
    samples, machines = shipped_folder("samples"), shipped_folder("machines")
    found = [Good(kind="job", name=path.stem, data=path.read_bytes()) for path in sorted(samples.glob("*.toml"))]
    found += [
        Good(kind="stock", name=path.stem, data=path.read_bytes()) for path in sorted(samples.glob("stock/*.toml"))
    ]
    garden = samples / "shop" / "garden-workshop.toml"
    found.append(Good(kind="shop", name="garden-workshop", data=garden.read_bytes()))
    found += [Good(kind="profile", name=path.stem, data=path.read_bytes()) for path in sorted(machines.glob("*.toml"))]
    found += [Good(kind="svg", name=path.stem, data=path.read_bytes()) for path in sorted(samples.glob("*label.svg"))]
    found += [
        Good(kind="design", name=path.stem, data=path.read_bytes()) for path in sorted(samples.glob("designs/*.toml"))
    ]
    found += [
        Good(kind="inventory" if b"[[piece]]" in data else "panel", name=path.stem, data=data)
        for path in sorted(samples.glob("panels/*.toml"))
        for data in (path.read_bytes(),)
    ]
    found.append(Good(kind="design", name="by hand", data=DESIGN.encode()))
    body = (
        '<style>.a{fill:none} #b{display:inline}</style><defs><g id="u"><circle cx="5" cy="5" r="3"/></g></defs>'
        '<g transform="rotate(30) translate(9 9)"><title>seat</title><rect class="a" width="9" height="9" rx="2"/></g>'
        '<path id="b" d="M60 20c1 2 3 4 5 6a3 3 0 0 1 4 4l-9 0z"/><use href="#u" x="20"/>'
        '<ellipse cx="80" cy="80" rx="9" ry="5"/>'
    )
    found.append(Good(kind="svg", name="every shape", data=svg(body)))
    points = [tag for x, y in ring(6, middle=150.0) for tag in ((10, x), (20, y))]
    square = ring(4, radius=45)
    every = (
        dxf_circle(),
        *(dxf_line(*first, *second) for first, second in zip(square, [*square[1:], square[0]], strict=True)),
        entity("LWPOLYLINE", (100, "AcDbEntity"), (100, "AcDbPolyline"), (90, 6), (70, 1), *points, (42, 0.3)),
        entity("ELLIPSE", (100, "AcDbEntity"), (100, "AcDbEllipse"), (10, 300), (20, 0), (30, 0), (11, 40), (21, 0),
               (31, 0), (40, 0.5), (41, 0), (42, 6.283185307179586)),
    )  # fmt: skip
    found.append(Good(kind="dxf", name="every entity", data=dxf(*every)))
    found.append(Good(kind="program", name="by hand", data=PROGRAM.encode()))
    program, plan = made_files()
    found.append(Good(kind="program", name="made", data=program))
    found.append(Good(kind="planned", name="made", data=program))
    found.append(Good(kind="plan", name="made", data=plan))
    return found


@functools.cache
def made_files() -> tuple[bytes, bytes]:
    """Return the program and the plan of a small job with a ring of holes, as cutjob makes them."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        text = JOB.replace("count = 1", "count = 2\nwith = { ring_holes = 5, ring_diameter = 60, ring_hole = 9 }")
        path.write_text(text, encoding="utf-8")
        made = make_job(path, out=Path(folder) / "out", effort="quick")
    assert made.proof.passed
    return made.files["board-01.nc"], made.files["plan.json"]


def spoiled(data: bytes, seed: int) -> bytes:
    """Return the data spoiled in one to four places."""
    chance = random.Random(seed)
    for _ in range(chance.choice((1, 1, 1, 2, 2, 4))):
        data = chance.choice(_WAYS)(data, chance)
    return data


def _place(data: bytes, chance: random.Random) -> int:
    return chance.randrange(len(data) + 1)


def _cut_short(data: bytes, chance: random.Random) -> bytes:
    return data[: _place(data, chance)]


def _one_byte(data: bytes, chance: random.Random) -> bytes:
    at = _place(data, chance)
    return data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :]


def _put_in(data: bytes, chance: random.Random) -> bytes:
    at = _place(data, chance)
    return data[:at] + chance.choice(_BYTES) + data[at:]


def _taken_out(data: bytes, chance: random.Random) -> bytes:
    at = _place(data, chance)
    return data[:at] + data[at + chance.randrange(1, 30) :]


def _another_number(data: bytes, chance: random.Random) -> bytes:
    return _swapped(data, _NUMBER, chance.choice(_NUMBERS), chance)


def _another_word(data: bytes, chance: random.Random) -> bytes:
    words = _WORD.findall(data)
    return _swapped(data, _WORD, chance.choice(words), chance) if words else data


def _swapped(data: bytes, what: re.Pattern[bytes], new: bytes, chance: random.Random) -> bytes:
    found = list(what.finditer(data))
    if not found:
        return data
    one = chance.choice(found)
    return data[: one.start()] + new + data[one.end() :]


def _line_twice(data: bytes, chance: random.Random) -> bytes:
    lines = data.split(b"\n")
    at = chance.randrange(len(lines))
    return b"\n".join([*lines[:at], lines[at], *lines[at:]])


def _line_gone(data: bytes, chance: random.Random) -> bytes:
    lines = data.split(b"\n")
    del lines[chance.randrange(len(lines))]
    return b"\n".join(lines)


def _lines_swapped(data: bytes, chance: random.Random) -> bytes:
    lines = data.split(b"\n")
    a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[a], lines[b] = lines[b], lines[a]
    return b"\n".join(lines)


def _encoded(data: bytes, chance: random.Random) -> bytes:
    return data.decode("utf-8", errors="replace").encode(chance.choice(("utf-16", "utf-16-be", "utf-8-sig", "utf-32")))


_WAYS: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    _cut_short, _one_byte, _one_byte, _put_in, _put_in, _put_in, _taken_out, _taken_out, _another_number,
    _another_number, _another_number, _another_number, _another_word, _another_word, _line_twice, _line_gone,
    _lines_swapped, _encoded,
)  # fmt: skip
