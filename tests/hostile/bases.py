"""Good files that are spoiled: a small job, one with a drawing, a profile, a file of stock, a program."""

from __future__ import annotations

import functools
import io
import math

import ezdxf

from cutjob.files.file_bytes import shipped_files

JOB = """\
title = "Spring market"
units = "mm"
machine = "bench-router"

[[make]]
name = "coaster"
design = "round"
count = 1

[[board]]
name = "birch"
length = 300
width = 200
thickness = 12
grain = "none"
material = "plywood"
"""
STACK_JOB = """\
title = "Spinner"
units = "in"
machine = "long-bed-router"

[[make]]
name = "spinner"
design = "graded-stack"
with = { tiers = 5, longest = "16 1/2", base = ["10", "6 1/2"], topper = "star" }

[[board]]
name = "picket"
length = "6 ft"
width = "5 1/2"
thickness = "5/8"
corners = { style = "dog-ear", size = "1 1/4", end = "right" }
keep_out = [{ at = ["31", "2"], radius = "3/4" }]
count = 3
"""
STOCK = """\
units = "mm"

[[board]]
name = "shed birch"
length = 300
width = 200
thickness = 12
grain = "none"
material = "plywood"

[[rod]]
name = "dowel"
diameter = 9
length = 900
"""
STOCK_JOB = JOB.partition("[[board]]")[0].replace("machine =", 'stock = "shed.toml"\nmachine =')
PROFILE_JOB = JOB.replace('"bench-router"', '"mine.toml"')
SVG_JOB = JOB.replace('design = "round"', 'design = "outline"\nwith = { file = "shape.svg" }')
DXF_JOB = SVG_JOB.replace("shape.svg", "shape.dxf")
DESIGN_JOB = JOB.replace('design = "round"', 'design = "own.toml"')
DESIGN = """\
units = "mm"
summary = "a tag with a step in its edge"

[parameter.tall]
kind = "length"
help = "how tall"
least = 5
greatest = 90
default = 30

[value]
width = "2 * 30 mm"

[series.step]
count = 5
each = "i * 3 mm"

[[check]]
require = "tall > 5 mm"
message = "{tall} is low"

[[part]]
name = "tag {i + 1}"
count = 2
path = [[0, 0], ["width", 0], ["width", "tall"], [0, "tall"]]

[[part.hole]]
at = [20, 15]
diameter = 9

[[part.mark]]
path = [["step(1)", 3], ["step(4)", 3]]
"""
PANEL = """\
title = "Wall"
units = "mm"
length = 600
width = 400
inventory = "ends.toml"
gap = 2
least = 20
longest_joint = 200

[frame]
width = 40
joint = "mitre"
lap = 10

[[opening]]
at = [200, 150]
diameter = 30
"""
INVENTORY = """\
units = "mm"

[[piece]]
name = "end"
length = 120
width = 60
count = 90
tone = 3

[[piece]]
name = "short end"
length = 70
width = 45
count = 90
tone = 7
"""
PAGE = 'width="100mm" height="100mm" viewBox="0 0 100 100"'
CIRCLE = '<circle cx="50" cy="50" r="30"/>'


def svg(body: str, *, head: str = PAGE, before: str = "") -> bytes:
    """An SVG file of 100 by 100 mm."""
    return f'{before}<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>'.encode()


@functools.cache
def profile(name: str = "bench-router") -> str:
    """A shipped profile."""
    return shipped_files("machines")[name].read_text(encoding="utf-8")


@functools.cache
def _frame() -> tuple[str, str]:
    document = ezdxf.new("R2000")
    document.units = 4
    stream = io.StringIO()
    document.write(stream)
    head, mark, rest = stream.getvalue().replace("\r\n", "\n").partition("ENTITIES\n")
    return head + mark, rest


def dxf(*entities: str) -> bytes:
    """A DXF file in mm with these entities, each a run of lines `code value`."""
    head, rest = _frame()
    return (head + "".join(entities) + rest).encode()


def entity(kind: str, *tags: tuple[int, object]) -> str:
    """One DXF entity on layer 0."""
    return "".join(f"{code}\n{value}\n" for code, value in [(0, kind), (8, "0"), *tags])


def dxf_circle(x: object = 50, y: object = 50, r: object = 30) -> str:
    """A DXF circle."""
    return entity("CIRCLE", (10, x), (20, y), (30, 0), (40, r))


def dxf_line(x0: object, y0: object, x1: object, y1: object) -> str:
    """A DXF line."""
    return entity("LINE", (10, x0), (20, y0), (30, 0), (11, x1), (21, y1), (31, 0))


def ring(count: int, *, radius: float = 40.0, middle: float = 50.0) -> list[tuple[float, float]]:
    """Points round a circle."""
    turn = 2 * math.pi / count
    return [(middle + radius * math.cos(i * turn), middle + radius * math.sin(i * turn)) for i in range(count)]


def tangle(count: int) -> list[tuple[float, float]]:
    """Points in no order at all, whose joining lines cross nearly everywhere."""
    return [((i * 7919 % 1000) / 10, (i * 104729 % 1009) / 10) for i in range(count)]


PROGRAM = """\
G21 G90 G17 G94
T1 M6
S18000 M3
G4 P3
G0 Z5
G0 X20 Y20
G1 Z-3 F200
G1 X60 F900
G2 X60 Y40 I0 J10
G1 X20
G0 Z5
M5
M2
"""
