"""Drawings of random parts as SVG and DXF: outlines, openings, holes, marks, pockets with islands, dados past edges,
counterbores.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from pathlib import Path

import ezdxf

from tests.random_jobs.scene import Scene

Points = list[tuple[float, float]]


@dataclass(frozen=True)
class Drawn:
    """A drawing's file name, whether it has marks, and its layers of pockets."""

    file: str
    marks: bool
    pockets: tuple[str, ...]


@dataclass(frozen=True)
class _Shape:
    """A closed shape on a layer: a circle about a point, or corners, with bulges where it has any."""

    layer: str
    centre: tuple[float, float] = (0.0, 0.0)
    radius: float = 0.0
    corners: tuple[tuple[float, float], ...] = ()


def drawing(scene: Scene, number: int) -> Drawn:
    """Write a drawing beside the job."""
    chance = scene.chance
    size = chance.uniform(20, 60)
    with_marks = scene.some(0.4)
    shapes = _inside(chance, size, marks=with_marks)
    pockets = _pockets(chance, size) if scene.kind == "router" or scene.rash else []
    if pockets:
        shapes = [shape for shape in shapes if shape.radius] if any(s.layer == "counterbore" for s in pockets) else []
        with_marks = False
    name = f"drawing-{number}"
    layers = tuple(dict.fromkeys(shape.layer for shape in pockets))
    if scene.some(0.5):
        path = scene.folder / f"{name}.svg"
        _write_svg(path, chance, size, [*shapes, *pockets], marks=with_marks)
    else:
        path = scene.folder / f"{name}.dxf"
        _write_dxf(path, chance, size, [*shapes, *pockets], marks=with_marks)
    return Drawn(path.name, with_marks, layers)


def _corners(chance: random.Random, size: float) -> Points:
    """Corners seen whole from the middle, half of `size` to `size` mm from it."""
    count = chance.randint(3, 10)
    turn = chance.random()
    return [
        (radius * math.cos(angle), radius * math.sin(angle))
        for step in range(count)
        for radius in (size * chance.uniform(0.5, 1.0),)
        for angle in (2 * math.pi * (step + turn) / count,)
    ]


def _box(x: float, y: float, half: float, tall: float) -> tuple[tuple[float, float], ...]:
    return ((x - half, y - tall), (x + half, y - tall), (x + half, y + tall), (x - half, y + tall))


def _hub(size: float) -> float:
    """The half side of a square that lies inside the corners of any outline."""
    # The hub of a triangle with corners at half the size reaches a quarter of it from the middle.
    return size * 0.25 / math.sqrt(2)


def _inside(chance: random.Random, size: float, *, marks: bool) -> list[_Shape]:
    """An opening or a hole in the middle, where marks leave room for it."""
    kind = 1.0 if marks else chance.random()
    if kind < 0.35:
        return [_Shape("shapes", radius=size * 0.2 * chance.uniform(0.2, 1))]
    if kind < 0.7:
        half = _hub(size) * chance.uniform(0.3, 0.9)
        return [_Shape("shapes", corners=_box(0, 0, half, half * chance.uniform(0.4, 1.0)))]
    return []


def _pockets(chance: random.Random, size: float) -> list[_Shape]:
    """Layers of pockets: a recess, one with an island, a dado over both edges, a step in a corner, a counterbore."""
    hub = _hub(size)
    kind = chance.random()
    if kind < 0.15:
        half = hub * chance.uniform(0.5, 1.4)
        return [_Shape("recess", corners=_box(0, 0, half, half * chance.uniform(0.5, 1)))]
    if kind < 0.25:
        island = hub * chance.uniform(0.1, 0.3)
        return [_Shape("recess", radius=hub), _Shape("recess", corners=_box(0, 0, island, island))]
    if kind < 0.35:
        wide = max(4.0, hub * chance.uniform(0.3, 0.8))
        return [_Shape("dado", corners=_box(0, chance.uniform(-hub, hub), 1.2 * size, wide))]
    if kind < 0.42:
        reach = chance.uniform(0.3, 0.6) * size
        return [_Shape("step", corners=_box(size, chance.uniform(-hub, hub), size * 0.9, reach))]
    if kind < 0.5:
        return [_Shape("counterbore", radius=size * 0.2 * chance.uniform(1.02, 1.6))]
    if kind < 0.55:
        low, wide = -hub, max(3.5, hub * 0.5)
        deep = _Shape("deep", radius=max(2.5, hub * 0.4), centre=(0, hub * 0.6))
        return [_Shape("dado", corners=_box(0, low, 1.2 * size, wide)), deep]
    return []


def _write_svg(path: Path, chance: random.Random, size: float, shapes: list[_Shape], *, marks: bool) -> None:
    corners = _corners(chance, size)
    steps = []
    for before, here in zip(corners, corners[1:] + corners[:1], strict=True):
        kind = chance.random()
        if kind < 0.4:
            steps.append(f"L {here[0]} {here[1]}")
        elif kind < 0.7:
            middle = ((before[0] + here[0]) * 0.54, (before[1] + here[1]) * 0.54)
            steps.append(f"Q {middle[0]} {middle[1]} {here[0]} {here[1]}")
        else:
            radius = math.dist(before, here) * chance.uniform(0.7, 2)
            steps.append(f"A {radius} {radius} 0 0 {chance.choice([1, 1, 0])} {here[0]} {here[1]}")
    groups: dict[str, list[str]] = {
        "shapes": [f'<path d="M {corners[0][0]} {corners[0][1]} {" ".join(steps)} Z"/>'],
        "marks": [],
    }
    for shape in shapes:
        x, y = shape.centre
        drawn = f'<circle cx="{x}" cy="{y}" r="{shape.radius}"/>'
        if shape.corners:
            (x, y), (x1, y1) = shape.corners[0], shape.corners[2]
            rounding = chance.choice([0, 2, 4])
            drawn = f'<rect x="{x}" y="{y}" width="{x1 - x}" height="{y1 - y}" rx="{rounding}"/>'
        groups.setdefault(shape.layer, []).append(drawn)
    if marks:
        reach = size * 0.12
        line = f"M {-reach} 0 L {reach} {reach / 3} M 0 {-reach} A {reach} {reach} 0 0 1 {reach} 0"
        groups["marks"].append(f'<path d="{line}"/>')
    full = 2.4 * size
    body = "\n".join(f'<g id="{name}" fill="none">{"".join(drawn)}</g>' for name, drawn in groups.items())
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{full}mm" height="{full}mm" '
        f'viewBox="{-full / 2} {-full / 2} {full} {full}">\n{body}\n</svg>\n',
        encoding="utf-8",
    )


def _write_dxf(path: Path, chance: random.Random, size: float, shapes: list[_Shape], *, marks: bool) -> None:
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    model = document.modelspace()
    bulges = [0.0, 0.0, 0.1, 0.25, -0.1]
    for number in range(chance.randint(1, 2)):
        dx = number * 3 * size
        model.add_lwpolyline(
            [(x + dx, y, chance.choice(bulges)) for x, y in _corners(chance, size)], format="xyb", close=True
        )
        for shape in shapes:
            layer = {"layer": shape.layer if shape.layer != "shapes" else "0"}
            if shape.corners:
                model.add_lwpolyline([(x + dx, y) for x, y in shape.corners], close=True, dxfattribs=layer)
            else:
                model.add_circle((dx + shape.centre[0], shape.centre[1]), shape.radius, dxfattribs=layer)
        if marks:
            layer = {"layer": "marks"}
            model.add_line((dx - size * 0.1, 0), (dx + size * 0.1, size * 0.05), dxfattribs=layer)
            model.add_circle((dx, 0), size * 0.12, dxfattribs=layer)
    document.saveas(path)
