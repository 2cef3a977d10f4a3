"""Drawings, design files and plans that took tens of seconds or gigabytes once: texts and bytes of files."""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable, Iterator

from tests.hostile.bases import dxf, entity

_TOO_MANY = "20000"


def svg_bodies() -> Iterator[tuple[str, Callable[[], str], str]]:
    """Yield a name, what makes the body of an SVG file, and words of the message."""
    yield "rough curves", lambda: _rough(2000, 100), _TOO_MANY
    yield "rough curves of a kilometre", lambda: _rough(1000, 1e6), _TOO_MANY
    yield "a chain of rough curves", lambda: _chain(140), "in more places than can be listed"
    yield "4,000 tiny curves", lambda: '<path d="M50 50' + "c.1 .2 .1 .2 .01 .05" * 4900 + 'z"/>', _TOO_MANY
    yield (
        "ellipses of half a kilometre",
        lambda: "".join(f'<ellipse cx="5" cy="5" rx="{5e5 + n * 99}" ry="{2e5 + n * 77}"/>' for n in range(300)),
        _TOO_MANY,
    )
    yield (
        "16 stacks of squares 190 deep",
        lambda: "".join(
            _square(stack * 110 + n * 0.2, n * 0.2, 99 - n * 0.4) for stack in range(16) for n in range(190)
        ),
        "all boards together",
    )
    yield (
        "2,000 squares in each other behind 1,000 others",
        lambda: "".join(
            [_square(n % 40 * 5, 200 + n // 40 * 5, 3) for n in range(1000)]
            + [_square(n * 0.02, n * 0.02, 99 - n * 0.04) for n in range(2000)]
        ),
        "all boards together",
    )
    yield (
        "3,000 squares",
        lambda: "".join(_square(n % 60 * 8, n // 60 * 8, 6) for n in range(3000)),
        "all boards together",
    )
    yield (
        "4,900 squares too large for any board",
        lambda: "".join(_square(n % 70 * 500, n // 70 * 500, 400 + n % 97) for n in range(4900)),
        "no board fits ",
    )
    yield "400 circles of 28 m", lambda: _circles(400, 14_000), "chords"
    yield "4,900 circles of 6 m", lambda: _circles(4900, 3000), "chords"
    yield "4,900 circles, as many as may be", lambda: _circles(4900, 34), "all boards together"
    yield (
        "arcs of a kilometre",
        lambda: (
            '<path d="M0 0' + "".join(f"A900000 900000 0 0 1 {1e5 * (n % 2)} {n * 2}" for n in range(1, 4000)) + 'z"/>'
        ),
        "chords",
    )


def dxf_files() -> Iterator[tuple[str, Callable[[], bytes], str]]:
    """Yield a name, what makes a DXF file, and words of the message."""
    yield "rough splines", lambda: dxf(*(_spline(10, 100, seed) for seed in range(100))), _TOO_MANY
    yield "rough splines of 100 m", lambda: dxf(*(_spline(10, 1e5, seed) for seed in range(100))), _TOO_MANY
    yield (
        "splines that can't be fitted",
        lambda: dxf(*(_spline(40, 9e5, seed) for seed in range(150))),
        "too long or too",
    )
    yield "a spline of the ninth degree", lambda: dxf(_spline(600, 1000, 1, degree=9)), "too long or too rough"


def designs() -> Iterator[tuple[str, Callable[[], str]]]:
    """Yield a name and what makes a design file."""
    yield "wild strips in 200 parts", lambda: "".join(_strip(n, 60, 19) for n in range(200))
    yield "wild strips of nine metres", lambda: "".join(_strip(n, 9000, 6000) for n in range(200))
    yield (
        "200 series of 500",
        lambda: "".join(
            f'[series.s{n}]\ncount = 500\neach = "sqrt(i + {n}) * sin(i * 3) + cos(i)"\n' for n in range(200)
        ),
    )
    yield (
        "200 parts of 500 steps",
        lambda: (
            '[[part]]\nname = "p"\ncount = 200\n'
            'path = [[0, 0], { repeat = 500, steps = [["k * 10 mm", "k * i * 1 mm"]] }]\n'
        ),
    )


def plans() -> Iterator[tuple[str, Callable[[], bytes], str]]:
    """Yield a name, what makes a plan.json, and words of the message."""
    for pattern in (b"[],", b"{},", b"[1e1,1e1],", b'"ab",', b'"\\"",', b"1e1,"):
        for head in (b'"boards": [', b'"x": ['):
            count = 79_000_000 // len(pattern)
            made = b'{"schema": "cutjob-plan/1", ' + head
            yield (
                f"{made[-8:].decode()} 80 MB of {pattern.decode()}",
                lambda m=made, p=pattern, n=count: (  # type: ignore[misc]
                    m + p * n + b"1]}"
                ),
                "plan",
            )
    yield "a list 70 million deep", lambda: b"[" * 70_000_000, "not a plan"
    yield "larger than 400 MB", lambda: b" " * 400_000_001, "larger than"
    for pattern in (b"[],", b"[1e1,1e1],", b'"ab",', b"\\", b" "):
        yield (
            f"400 MB of {pattern.decode()!r} in another board",
            lambda p=pattern: _other_board(p, 399_000_000),  # type: ignore[misc]
            "plan",
        )
    yield "10,000 parts of another job", _large_plan, "doesn't name the file"


def _other_board(pattern: bytes, size: int) -> bytes:
    """A board of another file that holds a pattern over and over."""
    head = b'{"schema": "cutjob-plan/1", "boards": [{"programs": [{"file": "b.nc"}], "placements": [{"outline": ['
    text = b'"' * (pattern == b"\\")
    return head + text + pattern * (size // len(pattern) // 2 * 2) + text + b"1]}]}]}"


def _large_plan() -> bytes:
    """Some 70 MB."""
    ring = [[round(50 + 40 * math.cos(k / 48), 6), round(50 + 40 * math.sin(k / 48), 6)] for k in range(300)]
    placements = [{"part": "p", "outline": ring, "features": []}] * 20
    boards = [{"id": f"b{n}", "placements": placements, "programs": [{"file": f"b{n}.nc"}]} for n in range(500)]
    return json.dumps({"schema": "cutjob-plan/1", "boards": boards}).encode()


def _square(x: float, y: float, side: float) -> str:
    return f'<rect x="{x:.4f}" y="{y:.4f}" width="{side:.4f}" height="{side:.4f}"/>'


def _circles(count: int, radius: float) -> str:
    step, across = 2.1 * radius, 70 if radius < 10_000 else 30
    return "".join(f'<circle cx="{n % across * step}" cy="{n // across * step}" r="{radius}"/>' for n in range(count))


def _rough(count: int, size: float) -> str:
    chance = random.Random(3)
    numbers = [[f"{chance.uniform(-size, size):.2f}" for _ in range(8)] for _ in range(count)]
    return "".join(f'<path d="M{row[0]} {row[1]}C{" ".join(row[2:])}"/>' for row in numbers)


def _chain(count: int) -> str:
    chance = random.Random(3)
    rows = [" ".join(f"{chance.uniform(0, 100):.2f}" for _ in range(6)) for _ in range(count)]
    return f'<path d="M50 50C{"C".join(rows)}z"/>'


def _spline(count: int, size: float, seed: int, *, degree: int = 3) -> str:
    chance = random.Random(seed)
    inner = count - degree
    knots = [0] * (degree + 1) + list(range(1, inner)) + [inner] * (degree + 1)
    head: list[tuple[int, object]] = [(100, "AcDbEntity"), (100, "AcDbSpline"), (70, 8), (71, degree)]
    head += [(72, len(knots)), (73, count), (74, 0), *((40, knot) for knot in knots)]
    points = [(code, value) for _ in range(count) for code, value in (
        (10, chance.uniform(-size, size)), (20, chance.uniform(-size, size)), (30, 0))]  # fmt: skip
    return entity("SPLINE", *head, *points)


def _strip(number: int, length: float, high: float) -> str:
    chance = random.Random(number)
    pins = ", ".join(
        f"[{length - i * length / 50:.2f}, {length / 2 + chance.uniform(0, high):.2f}]" for i in range(1, 50)
    )
    return f'[[part]]\nname = "p{number}"\npath = [[0, 0], [{length}, 0], {{ pins = [{pins}] }}]\n'
