"""Writes the text of a first job file for a design: with comments, valid, and with every parameter named.

Without stock the job takes boards that are common where its unit is used; with a file of stock, boards from it.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cutjob.designs.design import Design
from cutjob.designs.evaluate import evaluate
from cutjob.designs.parameter import Parameter
from cutjob.errors import CutjobError, InputError, Problem
from cutjob.job.boards import BoardEntry
from cutjob.job.model import Make
from cutjob.job.read_machine import read_machine
from cutjob.job.read_stock import Stock, taken_by_others
from cutjob.parts.part import Build, RodPart
from cutjob.units import MM_PER, Unit, format_length

_ITEMS = 4
# Wood round the parts for the cutter and the profile's margins, mm.
_MARGIN = 20.0
# The count of boards allows for a poor layout, so that a first job doesn't fail for lack of wood.
_WASTE = 2.5
_ROD_MM: dict[Unit, float] = {"in": 48 * 25.4, "mm": 1000.0}
_KNOT = {"in": '["12 in", "2 in"], radius = "3/4 in"', "mm": "[300, 50], radius = 20"}
_SMALL_MACHINE, _LARGE_MACHINE = "bench-router", "long-bed-router"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wood:
    """Boards of one kind for a first job: size in mm, the number in stock (None: to be bought), the price."""

    name: str
    length: float
    width: float
    thickness: float
    material: str
    grain: str
    count: int | None = None
    price: float = 0.0


def _bought(name: str, length: float, width: float, thickness: float, material: str, grain: str, price: float) -> _Wood:
    return _Wood(
        name=name, length=length, width=width, thickness=thickness, material=material, grain=grain, price=price
    )


# Common sizes of the trade, no source; the prices are examples.
_IN = 25.4
_USUAL: dict[Unit, tuple[_Wood, ...]] = {
    "in": (
        _bought("half a cedar picket", 35 * _IN, 5.5 * _IN, 0.625 * _IN, "softwood", "length", 1.7),
        _bought("birch plywood", 34 * _IN, 23 * _IN, 0.5 * _IN, "plywood", "none", 14.5),
        _bought("plywood sheet", 94 * _IN, 47 * _IN, 0.5 * _IN, "plywood", "none", 52.0),
    ),
    "mm": (
        _bought("larch picket", 890.0, 140.0, 16.0, "softwood", "length", 2.9),
        _bought("birch plywood", 850.0, 580.0, 12.0, "plywood", "none", 13.5),
        _bought("plywood sheet", 2390.0, 1190.0, 12.0, "plywood", "none", 48.0),
    ),
}


def new_job(design: Design, *, unit: Unit | None = None, stock: Stock | None = None, stock_path: str = "") -> str:
    """Return the text of a job that makes a few items of a design at its middle size.

    `unit` is the job's; by default the stock's, else the design's. With `stock`, which was read from `stock_path`, the
    items are made from it, at the largest size up to the middle one that fits. Raises InputError where no size fits.
    """
    unit = unit or (stock.unit if stock else design.unit)
    if stock is None:
        size = _middle(design)
        wood, build = _usual(design, size, unit)
        count = _ITEMS
    else:
        size, wood, build = _in_stock(design, stock, unit, stock_path)
        count = _as_many(wood, build)
    lines = [
        f"# A first job for the design {design.name}: {design.summary}.",
        "# Change what you like, save it, then run: cutjob make job.toml",
        'title = "Spring market"',
        f'units = "{unit}"  # unit of bare numbers, in or mm; text may carry its own: "34.5 mm"',
        f'machine = "{_machine(wood)}"  # a shipped profile (cutjob list machines), or the path of your own',
        "stack = 1  # boards cut at once, one on top of the other",
        *(_stock_lines(wood, unit, stock_path) if stock else ()),
        "",
        "[[make]]",
        f"name = {_quoted(f'{Path(design.name).stem} for the porch')}",
        f"design = {_quoted(design.name)}",
        f'size = "{size}"  # {", ".join(design.sizes) or "the design has no sizes"}',
        f"count = {count}",
        "",
        "# The values of the size and the defaults. To change one, delete the # in front of its line.",
        "[make.with]",
        *(_parameter_line(parameter, design, size, unit) for parameter in design.parameters),
        *(() if stock else _board_lines(wood, build, unit)),
        *_rod_lines(build, unit, stock),
    ]
    return "\n".join(lines) + "\n"


def _middle(design: Design) -> str:
    return "medium" if "medium" in design.sizes else next(iter(design.sizes), "medium")


def _usual(design: Design, size: str, unit: Unit) -> tuple[_Wood, Build]:
    """The first kind of usual board that holds the design's parts; the first kind where nothing can be built yet."""
    woods = _USUAL[unit]
    for wood in woods:
        build = _built(design, size, wood, unit)
        if build is not None and _holds(wood, build):
            return wood, build
    return woods[0], _built(design, size, woods[0], unit) or Build()


def _in_stock(design: Design, stock: Stock, unit: Unit, path: str) -> tuple[str, _Wood, Build]:
    """The largest size up to the middle one that fits, and the boards in stock that hold it, those with most wood
    first.
    """
    woods = sorted(_woods(stock.boards), key=lambda wood: -wood.length * wood.width * (wood.count or 1))
    names = list(design.sizes) or [_middle(design)]
    for size in reversed(names[: names.index(_middle(design)) + 1]):
        for wood in woods:
            build = _built(design, size, wood, unit)
            if build is not None and _holds(wood, build):
                return size, wood, build
    if not woods:
        raise InputError(Problem(message=f"{path}: no boards are left in stock", advice="add a [[board]] to it"))
    needs = [build for wood in woods if (build := _built(design, names[0], wood, unit)) is not None]
    if not needs:  # it needs something from the user, such as a drawing
        return _middle(design), woods[0], Build()
    part, most = _size(*_largest(needs[0]), unit), woods[0]
    raise InputError(
        Problem(
            message=f"no board in {path} holds a {names[0]} {design.name}, whose largest part is {part}; "
            f"the largest board is {most.name}, {_size(most.length, most.width, unit)}",
            advice="add a larger [[board]] to it, or leave --stock out and shorten the parts in the job",
        )
    )


def _woods(entries: Sequence[BoardEntry]) -> Iterator[_Wood]:
    for entry in entries:
        left = entry.stock.count - taken_by_others(entry.stock.taken, "")
        if left > 0:
            board = entry.board
            yield _Wood(
                name=board.name,
                length=board.length,
                width=board.width,
                thickness=board.thickness,
                material=board.material,
                grain=board.grain,
                count=left,
            )


def _as_many(wood: _Wood, build: Build) -> int:
    area = sum(part.region.area for part in build.shaped) * _WASTE
    area += sum(piece.length * wood.width for piece in build.sawn)
    there = wood.length * wood.width * (wood.count or 1)
    return max(1, min(_ITEMS, math.floor(there / area))) if area else 1


def _machine(wood: _Wood) -> str:
    travel = read_machine(_SMALL_MACHINE, beside=None).travel
    fits = travel is not None and wood.length <= travel.x and wood.width <= travel.y
    return _SMALL_MACHINE if fits else _LARGE_MACHINE


def _built(design: Design, size: str, wood: _Wood, unit: Unit) -> Build | None:
    try:
        item = evaluate(
            Make(name=design.name, design=design.name, size=size),
            unit=unit,
            location=None,
            key_locations={},
            folder=Path(),
            thickness=wood.thickness,
            designs={design.name: design},
        )
    except CutjobError:  # it needs something from the user, such as a drawing
        return None
    return item.build


def _holds(wood: _Wood, build: Build) -> bool:
    length, width = wood.length - _MARGIN, wood.width - _MARGIN
    for part in build.shaped:
        x0, y0, x1, y1 = part.region.bounds
        along, across = x1 - x0, y1 - y0
        lies = along <= length and across <= width
        turned = "none" in (part.grain, wood.grain) and across <= length and along <= width
        if not lies and not turned:
            return False
    return all(piece.length <= length for piece in build.sawn)


def _largest(build: Build) -> tuple[float, float]:
    sizes = [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in (part.region.bounds for part in build.shaped)]
    return max(sizes, key=max, default=(0.0, 0.0))


def _size(length: float, width: float, unit: Unit) -> str:
    return f"{format_length(length, unit=unit)} x {format_length(width, unit=unit)}"


def _parameter_line(parameter: Parameter, design: Design, size: str, unit: Unit) -> str:
    meaning = f"{parameter.help}; {parameter.expects(unit=unit)}"
    raw = design.written(parameter, size, unit=unit)
    if raw is None and parameter.required:
        return f'{parameter.name} = ""  # to be filled in: {meaning}'
    if raw is None:
        return f"# {parameter.name}, not set: {meaning}"
    return f"# {parameter.name} = {_quoted(raw)}  # {meaning}"


def _quoted(raw: Any) -> str:
    """A value as TOML; texts, numbers, lists, true and false look the same in JSON."""
    return json.dumps(raw, ensure_ascii=False)


def _stock_lines(wood: _Wood, unit: Unit, path: str) -> Iterator[str]:
    yield f"stock = {_quoted(path)}  # boards and rods are taken from this file"
    yield f'thickness = "{format_length(wood.thickness, unit=unit)}"  # thickness of the boards to take'
    yield f"material = {_quoted(wood.material)}"


def _board_lines(wood: _Wood, build: Build, unit: Unit) -> Iterator[str]:
    area = sum(part.region.area for part in build.shaped) * _ITEMS * _WASTE / (wood.length * wood.width)
    sawn = sum(piece.length for piece in build.sawn) * _ITEMS / (wood.length - _MARGIN)
    yield from (
        "",
        "[[board]]",
        f"name = {_quoted(wood.name)}",
        f'length = "{format_length(wood.length, unit=unit)}"',
        f'width = "{format_length(wood.width, unit=unit)}"',
        f'thickness = "{format_length(wood.thickness, unit=unit)}"  # as measured',
        f'grain = "{wood.grain}"  # direction of the grain, along which parts are laid; none for sheet goods',
        f'material = "{wood.material}"  # cutjob list materials',
        f"count = {max(2, math.ceil(area) + math.ceil(sawn))}",
        f"price = {wood.price}",
        f'# keep_out = [{{ at = {_KNOT[unit]}, why = "knot" }}]',
    )


def _rod_lines(build: Build, unit: Unit, stock: Stock | None) -> Iterator[str]:
    """Rods of every diameter that the item needs and the stock lacks."""
    there = [rod.diameter for rod in stock.rods] if stock else []
    for diameter in sorted({rod.diameter for rod in build.rods}):
        if not any(math.isclose(diameter, one, abs_tol=1e-6) for one in there):
            yield from _rod([rod for rod in build.rods if rod.diameter == diameter], unit)


def _rod(pieces: Sequence[RodPart], unit: Unit) -> Iterator[str]:
    longest = max(rod.length for rod in pieces) + _MARGIN
    # Where the usual rods are too short, a rod a little longer than the longest piece.
    length = max(_ROD_MM[unit], math.ceil(longest / MM_PER[unit]) * MM_PER[unit])
    word = format_length(pieces[0].diameter, unit=unit)
    yield from (
        "",
        "[[rod]]",
        f'name = "{word} dowel"',
        f'diameter = "{word}"',
        f'length = "{format_length(length, unit=unit)}"',
        f"count = {math.ceil(len(pieces) * _ITEMS / math.floor(length / longest)) + 1}",
        "price = 1.20",
    )
