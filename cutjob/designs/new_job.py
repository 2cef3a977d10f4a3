"""A design to the text of a first job file: commented, valid, with every parameter named."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cutjob.designs.design import Design
from cutjob.designs.evaluate import evaluate
from cutjob.designs.parameter import Parameter, default_text
from cutjob.errors import CutjobError
from cutjob.job.model import Make
from cutjob.parts.part import Build
from cutjob.units import format_length, parse_length

_ITEMS = 4
# Wood round the parts that the cutter and the profile's margins take, mm.
_MARGIN = 20.0
# Boards are counted for parts that fill them badly: a first job should not fail for want of wood.
_WASTE = 2.5
_ROD_INCHES = 48


@dataclass(frozen=True, slots=True)
class _Stock:
    """A kind of board the first job may be made of, and a shipped machine that takes it; inches."""

    machine: str
    name: str
    length: float
    width: float
    thickness: str
    material: str
    grain: str
    price: float


_STOCK = (
    _Stock("bench-router", "half a cedar picket", 35, 5.5, "5/8", "softwood", "length", 1.7),
    _Stock("bench-router", "birch plywood", 35, 23, "1/2", "plywood", "none", 14.5),
    _Stock("long-bed-router", "plywood sheet", 94, 47, "1/2", "plywood", "none", 52.0),
)


def new_job(design: Design) -> str:
    """Return the text of a job that makes a few items of a design at its middle size."""
    size = "medium" if "medium" in design.sizes else next(iter(design.sizes), "medium")
    stock, build = _fitting(design, size)
    lines = [
        f"# A first job for the design {design.name}: {design.summary}.",
        "# Change what you like, save it, then run: cutjob make job.toml",
        'title = "Spring market"',
        'units = "in"  # unit of bare numbers, in or mm; text may carry its own: "34.5 mm"',
        f'machine = "{stock.machine}"  # a shipped profile (cutjob list machines), or the path of your own',
        "stack = 1  # boards cut at once, one on top of the other",
        "",
        "[[make]]",
        f"name = {json.dumps(f'{Path(design.name).stem} for the porch', ensure_ascii=False)}",
        f"design = {json.dumps(design.name, ensure_ascii=False)}",
        f'size = "{size}"  # {", ".join(design.sizes) or "the design has no sizes"}',
        f"count = {_ITEMS}",
        "",
        "# What the size and the defaults come to; take the # away in front of a line to change it.",
        "[make.with]",
        *(_parameter_line(parameter, design, size) for parameter in design.parameters),
        "",
        *_board_lines(stock, build),
        *_rod_lines(build),
    ]
    return "\n".join(lines) + "\n"


def _fitting(design: Design, size: str) -> tuple[_Stock, Build]:
    """The first kind of stock that holds the design's parts; the first of all when nothing can be built as it is."""
    for stock in _STOCK:
        build = _built(design, size, stock)
        if build is not None and _holds(stock, build):
            return stock, build
    return _STOCK[0], _built(design, size, _STOCK[0]) or Build()


def _built(design: Design, size: str, stock: _Stock) -> Build | None:
    try:
        item = evaluate(
            Make(name=design.name, design=design.name, size=size),
            unit="in",
            location=None,
            key_locations={},
            folder=Path(),
            thickness=parse_length(stock.thickness, unit="in"),
            designs={design.name: design},
        )
    except CutjobError:  # it needs what only the user has, such as a drawing
        return None
    return item.build


def _holds(stock: _Stock, build: Build) -> bool:
    length, width = stock.length * 25.4 - _MARGIN, stock.width * 25.4 - _MARGIN
    for part in build.shaped:
        x0, y0, x1, y1 = part.region.bounds
        along, across = x1 - x0, y1 - y0
        lies = along <= length and across <= width
        turned = "none" in (part.grain, stock.grain) and across <= length and along <= width
        if not lies and not turned:
            return False
    return all(piece.length <= length for piece in build.sawn)


def _parameter_line(parameter: Parameter, design: Design, size: str) -> str:
    meaning = f"{parameter.help}; {parameter.expects(unit='in')}"
    raw = design.sizes.get(size, {}).get(parameter.name, parameter.default)
    if raw is None and parameter.required:
        return f'{parameter.name} = ""  # to be filled in: {meaning}'
    if raw is None:
        return f"# {parameter.name}, not set: {meaning}"
    return f"# {parameter.name} = {_written(raw, parameter)}  # {meaning}"


def _written(raw: Any, parameter: Parameter) -> str:
    """A raw value as TOML; raw lengths without a unit are mm, and the file's unit is the inch."""
    if isinstance(raw, (list, tuple)):
        return f"[{', '.join(_written(one, parameter) for one in raw)}]"
    if parameter.kind in ("length", "lengths") and isinstance(raw, (int, float)):
        return json.dumps(default_text(raw, "in"))
    # Texts, numbers, true and false look the same in JSON and in TOML.
    return json.dumps(raw, ensure_ascii=False)


def _board_lines(stock: _Stock, build: Build) -> list[str]:
    area = sum(part.region.area for part in build.shaped) * _ITEMS * _WASTE / (stock.length * stock.width * 25.4**2)
    sawn = sum(piece.length for piece in build.sawn) * _ITEMS / (stock.length * 25.4 - _MARGIN)
    return [
        "[[board]]",
        f'name = "{stock.name}"',
        f'length = "{stock.length:g} in"',
        f'width = "{stock.width:g} in"',
        f'thickness = "{stock.thickness} in"  # as measured',
        f'grain = "{stock.grain}"  # parts with grain lie along it; none for sheet goods',
        f'material = "{stock.material}"  # cutjob list materials',
        f"count = {max(2, math.ceil(area) + math.ceil(sawn))}",
        f"price = {stock.price}",
        '# keep_out = [{ at = ["12 in", "2 in"], radius = "3/4 in", why = "knot" }]',
    ]


def _rod_lines(build: Build) -> Iterator[str]:
    for diameter in sorted({rod.diameter for rod in build.rods}):
        pieces = [rod.length for rod in build.rods if rod.diameter == diameter]
        # A rod a little longer than the longest piece, where the usual ones are too short.
        inches = max(_ROD_INCHES, math.ceil((max(pieces) + _MARGIN) / 25.4))
        from_one = math.floor(inches * 25.4 / (max(pieces) + _MARGIN))
        word = format_length(diameter, unit="in")
        yield from (
            "",
            "[[rod]]",
            f'name = "{word} dowel"',
            f'diameter = "{word}"',
            f'length = "{inches} in"',
            f"count = {math.ceil(len(pieces) * _ITEMS / from_one) + 1}",
            "price = 1.20",
        )
