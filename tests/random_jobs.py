"""Whole small jobs made from a seed: designs, changes, boards, machines and drawings, some of them impossible."""

from __future__ import annotations

import json
import math
import random
from pathlib import Path
from typing import Any

import ezdxf

from cutjob.job.shipped import shipped_files

MACHINES = ("bench-router", "long-bed-router", "bench-laser", "laser-service", "bandsaw")


def write_random_job(folder: Path, seed: int) -> Path:
    """Write the job of a seed with all the files it names to a folder, and return its path."""
    chance = random.Random(seed)
    folder.mkdir(parents=True, exist_ok=True)
    job = _Job(chance, folder)
    path = folder / f"job-{seed}.toml"
    path.write_text(job.text(), encoding="utf-8")
    return path


class _Job:
    def __init__(self, chance: random.Random, folder: Path) -> None:
        self.chance, self.folder = chance, folder
        self.units = chance.choice(["mm", "mm", "in"])
        self.machine = chance.choice(MACHINES)
        self.thin = self.machine.startswith(("bench-laser", "laser"))
        # Now and then a job asks for what can't be had, so that the refusals are met as well.
        self.rash = chance.random() < 0.15
        self.stack = chance.randint(1, 3) if chance.random() < 0.5 and (self.rash or not self.thin) else 1
        self.cutter = chance.randint(1, self._cutters()) if chance.random() < 0.5 else None
        self.thickness = chance.choice(self._thicknesses())

    def _cutters(self) -> int:
        """How many cutters the profile has; a rash job may ask for one more."""
        return {"bench-router": 3, "long-bed-router": 4}.get(self.machine, 1) + self.rash

    def _thicknesses(self) -> list[float]:
        if self.thin:
            return [2, 2.5, 3, 3, *([6.5] if self.rash else [])]
        deepest = {2: 11.5, 1: 24.5, 4: 31.5}.get(self.cutter or 3, 37.5) / self.stack
        fitting = [thick for thick in (3, 5, 6, 9, 11, 12, 15.9, 16, 19) if self.rash or thick <= deepest]
        return fitting[-4:]

    def length(self, low: float, high: float) -> float:
        """A length in the job's units between two in mm: whole or half mm, or sixteenths of an inch."""
        mm = self.chance.uniform(low, high)
        return round(mm * 2) / 2 if self.units == "mm" else round(mm / 25.4 * 16) / 16

    def exactly(self, mm: float) -> float:
        return mm if self.units == "mm" else round(mm / 25.4, 4)

    def text(self) -> str:
        chance = self.chance
        top: dict[str, Any] = {"title": "Random garden goods", "units": self.units, "machine": self._machine()}
        if self.cutter is not None:
            top["cutter"] = self.cutter
        if self.stack > 1 or chance.random() < 0.1:
            top["stack"] = self.stack
        if chance.random() < 0.2:
            top["gap"] = self.length(4 if self.rash else 10, 16)
        if chance.random() < 0.2:
            top["edge_margin"] = self.length(0, 6)
        makes = [self._make(number) for number in range(chance.randint(1, 3))]
        boards = [self._board(number) for number in range(chance.randint(1, 3))]
        lines = [f"{key} = {_toml(value)}" for key, value in top.items()]
        for table, entries in (("make", makes), ("board", boards)):
            for entry in entries:
                lines += ["", f"[[{table}]]", *(f"{key} = {_toml(value)}" for key, value in entry.items())]
        return "\n".join(lines) + "\n"

    def _machine(self) -> str:
        """A shipped profile, or a copy of one with other habits beside the job."""
        chance = self.chance
        if chance.random() < 0.6:
            return self.machine
        text = shipped_files("machines")[self.machine].read_text(encoding="utf-8")
        changes = {
            'z_zero = "stock top"': 'z_zero = "spoilboard"',
            'turns = "clockwise"': 'turns = "counter-clockwise"',
            'direction = "climb"': 'direction = "conventional"',
            'controller]\nunits = "mm"': 'controller]\nunits = "in"',
            "arcs = true": "arcs = false",
            "helices = true": "helices = false",
            "decimals = 4": f"decimals = {chance.choice([3, 5])}",
            'comments = "brackets"': 'comments = "none"',
            'program_end = "M2"': 'program_end = "M30"',
            "lead = 2": f"lead = {chance.choice([0, 0.5, 6])}",
            "lead = 3": f"lead = {chance.choice([0, 1, 8])}",
            "lead = 1": "lead = 0",
            "longest_line = 70": "longest_line = 40",
            "overcut = 0.3": "overcut = 0",
            "safe_height = 6": "safe_height = 1",
            "width = 6\nheight = 3": "width = 4\nheight = 1.5",
            "every = 250": "every = 80",
            'version = "R12"': 'version = "R2000"\noutlines = "offset"',
        }
        for old, new in changes.items():
            if chance.random() < 0.35 and not ("outlines" in new and 'outlines = "as drawn"' in text):
                text = text.replace(old, new)
        if 'controller]\nunits = "in"' in text and not self.rash:
            text = text.replace("decimals = 3", "decimals = 4")
        (self.folder / "own-machine.toml").write_text(text, encoding="utf-8")
        return "own-machine.toml"

    def _board(self, number: int) -> dict[str, Any]:
        chance = self.chance
        board: dict[str, Any] = {"name": f"board {number + 1}"}
        longest, widest = (580, 390) if self.thin else (880, 300)
        length, width = self.length(150 if self.rash else 320, longest), self.length(90, widest)
        if chance.random() < 0.3:
            cut = self.exactly(20) + self.length(0, 60)
            board["outline"] = chance.choice(
                [
                    [[0, 0], [length, 0], [length - cut, width], [0, width]],
                    [[0, 0], [length, 0], [length, width / 2], [length - cut, width], [0, width]],
                    [[cut, 0], [length, 0], [length - cut / 2, width], [0, width * 0.75]],
                    [[0, 0], [length, 0], [length, width], [length - cut, width / 2], [0, width]],
                ]
            )
        else:
            board |= {"length": length, "width": width}
            if chance.random() < 0.4:
                board["corners"] = {
                    "style": "dog-ear",
                    "size": self.length(5, 35),
                    "end": chance.choice(["left", "right", "both"]),
                }
        board["thickness"] = self.exactly(self.thickness)
        board["grain"] = chance.choice(["length", "none"])
        board["material"] = chance.choice(["softwood", "softwood", "hardwood", "plywood", "mdf"])
        board["count"] = chance.randint(1, 3) if self.rash else chance.randint(3, 30)
        board["price"] = chance.choice([0, 0, 2.5, 4])
        if chance.random() < 0.4:
            board["keep_out"] = [self._keep_out(length, width) for _ in range(chance.randint(1, 3))]
        return board

    def _keep_out(self, length: float, width: float) -> dict[str, Any]:
        chance = self.chance
        x, y = length * chance.uniform(0, 0.98), width * chance.uniform(0, 0.98)
        if chance.random() < 0.6:
            return {"at": [x, y], "radius": self.length(4, 20)}
        a, b = self.length(5, 30), self.length(5, 30)
        return {"outline": [[x, y], [x + a, y], [x + a / 2, y + b]]}

    def _make(self, number: int) -> dict[str, Any]:
        design = self.chance.choice(["graded-stack", "round", "star", "outline", "graded-stack", "outline"])
        changes = {
            "graded-stack": self._graded_stack,
            "round": self._round,
            "star": self._star,
            "outline": lambda: self._outline(number),
        }[design]()
        return {
            "name": f"{design} {number + 1}",
            "design": design,
            "size": self.chance.choice(["small", "small", "medium", "large"]),
            "count": self.chance.choice([1, 1, 2, 3, 5, 12]),
            "with": changes,
        }

    def _hole(self, greatest: float) -> float:
        """A hole the cutter goes into; often exactly its own size, or hardly wider."""
        if self.rash:
            return self.length(1, 12)
        own = 1.0 if "router" not in self.machine else {2: 3.175, 4: 9.525}.get(self.cutter or 1, 6.35)
        return self.exactly(own + self.chance.choice([0, 0.02, 0.5, *([self.chance.uniform(0, greatest - own)] * 4)]))

    def _graded_stack(self) -> dict[str, Any]:
        chance = self.chance
        longest, tallest = self.length(70, 260), self.length(28, 60)
        values: dict[str, Any] = {
            "tiers": chance.randint(1, 5),
            "longest": longest,
            "shortest": max(self.exactly(45), round(longest * chance.uniform(0.4, 1.0), 3)),
            "tallest": tallest,
            "least_height": max(self.exactly(25), round(tallest * chance.uniform(0.5, 1.0), 3)),
            "topper": chance.choice(["none", "round", "star"]),
            "base": [self.length(40, 150) for _ in range(chance.randint(0, 2))] if chance.random() < 0.4 else [],
        }
        if chance.random() < 0.6:
            values["stands"] = "flat"
            values["bore"] = self._hole(14)
            values["socket"] = self.exactly(max(3.2, self.thickness - chance.choice([4, 5, 6])))
        else:
            values["bore"] = self.exactly(max(2.5, self.thickness - 7))
            values["centre_mark"] = chance.random() < 0.5
        if values["topper"] != "none":
            values["topper_diameter"] = self.length(40, 90)
            values["topper_points"] = chance.randint(4, 8)
        if chance.random() < 0.5:
            values["bottom"] = chance.choice(
                [[[0, 0], [1, 0]], [[0, 0], [0.5, 0.05], [1, 0.3]], [[0, 0.1], [0.4, 0], [0.8, 0.2], [1, 0.1]]]
            )
            values["top"] = chance.choice(
                [[[0, 1], [1, 1]], [[0, 1], [0.5, 0.7], [1, 0.6]], [[0, 0.9], [0.3, 1], [0.7, 0.6], [1, 0.8]]]
            )
        return values

    def _round(self) -> dict[str, Any]:
        chance = self.chance
        diameter = self.length(40, 150)
        values: dict[str, Any] = {"diameter": diameter, "grain": chance.choice(["length", "none"])}
        values["hole"] = min(diameter / 4, self._hole(30))
        if chance.random() < 0.4:
            values["ring_holes"] = chance.randint(1, 6)
            values["ring_diameter"] = diameter * chance.uniform(0.6, 0.7)
            values["ring_hole"] = self._hole(10)
        return values

    def _star(self) -> dict[str, Any]:
        chance = self.chance
        outer = self.length(60, 150)
        values: dict[str, Any] = {"points": chance.randint(3, 9), "outer": outer}
        if chance.random() < 0.7:
            values["ratio"] = round(chance.uniform(0.4, 0.7), 3)
        if chance.random() < 0.8:
            values["hole"] = self._hole(13)
        return values

    def _outline(self, number: int) -> dict[str, Any]:
        chance = self.chance
        name = f"drawing-{number}{chance.choice(['', '-with-marks'])}"
        size = chance.uniform(20, 60)
        if chance.random() < 0.5:
            file = _write_svg(self.folder / f"{name}.svg", chance, size)
        else:
            file = _write_dxf(self.folder / f"{name}.dxf", chance, size)
        values: dict[str, Any] = {"file": file, "mirror": chance.random() < 0.5}
        if "marks" in file:
            values["marks"] = "marks"
            if chance.random() < 0.5:
                values["mark_depth"] = self.length(1, 2)
        values["grain"] = chance.choice(["length", "none"])
        if chance.random() < 0.3:
            values[chance.choice(["width", "height"])] = self.length(40, 200)
        return values


def _corners(chance: random.Random, size: float) -> list[tuple[float, float]]:
    """Corners seen whole from the middle, `size` to twice `size` mm from it."""
    count = chance.randint(3, 10)
    turn = chance.random()
    return [
        (radius * math.cos(angle), radius * math.sin(angle))
        for step in range(count)
        for radius in (size * chance.uniform(0.5, 1.0),)
        for angle in (2 * math.pi * (step + turn) / count,)
    ]


def _opening(chance: random.Random, size: float) -> list[tuple[float, float]]:
    """A rectangle that stays inside the corners' hub; large ones may hold other parts."""
    # The hub of a triangle with corners at half the size reaches a quarter of it from the middle.
    half = size * 0.25 / math.sqrt(2) * chance.uniform(0.3, 0.9)
    return [(-half, -half), (half, -half), (half, half), (-half, half)]


def _write_svg(path: Path, chance: random.Random, size: float) -> str:
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
    marks, holes = [], []
    kind = 1.0 if "marks" in path.name else chance.uniform(0, 0.8)
    if kind < 0.3:
        holes.append(f'<circle cx="0" cy="0" r="{size * 0.2 * chance.uniform(0.2, 1)}"/>')
    elif kind < 0.6:
        (x, y), (x1, y1) = _opening(chance, size)[0], _opening(chance, size)[2]
        rounding = chance.choice([0, 2, 4])
        holes.append(f'<rect x="{x}" y="{y}" width="{x1 - x}" height="{y1 - y}" rx="{rounding}"/>')
    elif kind == 1:
        reach = size * 0.12
        marks.append(f'<path d="M {-reach} 0 L {reach} {reach / 3} M 0 {-reach} A {reach} {reach} 0 0 1 {reach} 0"/>')
    full = 2.4 * size
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{full}mm" height="{full}mm" '
        f'viewBox="{-full / 2} {-full / 2} {full} {full}">\n'
        f'<g id="shapes" fill="none"><path d="M {corners[0][0]} {corners[0][1]} {" ".join(steps[:])} Z"/>'
        f'{"".join(holes)}</g>\n<g id="marks" fill="none">{"".join(marks)}</g>\n</svg>\n',
        encoding="utf-8",
    )
    return path.name


def _write_dxf(path: Path, chance: random.Random, size: float) -> str:
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    model = document.modelspace()
    bulges = [0.0, 0.0, 0.1, 0.25, -0.1]
    for number in range(chance.randint(1, 2)):
        dx = number * 3 * size
        model.add_lwpolyline(
            [(x + dx, y, chance.choice(bulges)) for x, y in _corners(chance, size)], format="xyb", close=True
        )
        kind = chance.random()
        if "marks" not in path.name:
            if kind < 0.4:
                model.add_lwpolyline([(x + dx, y) for x, y in _opening(chance, size)], close=True)
            elif kind < 0.8:
                model.add_circle((dx, 0), size * 0.2 * chance.uniform(0.2, 1))
        else:
            attributes = {"layer": "marks"}
            model.add_line((dx - size * 0.1, 0), (dx + size * 0.1, size * 0.05), dxfattribs=attributes)
            model.add_circle((dx, 0), size * 0.12, dxfattribs=attributes)
    document.saveas(path)
    return path.name


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_toml(one) for one in value) + "]"
    if isinstance(value, float):
        return repr(round(value, 6))
    return json.dumps(value)
