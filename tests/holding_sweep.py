"""A second judge of how boards are held, for trials by hand: `python -m tests.holding_sweep OUT_FOLDER...`.

It reads a folder's plan.json and its G-code with a small reader of its own, sweeps the cutters with shapely chain by
chain, and prints for each board how many parts and larger pieces of waste are not joined to what holds the board, cuts
made in loose wood, parts badly spread, chains of more than three bridges, and parts on a single bridge. It shares no
code with the package, and finds what hangs on what by trying: each bridge is taken out in turn. mm.
"""

from __future__ import annotations

import json
import math
import re
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPoint, Point, Polygon
from shapely.ops import unary_union

GROW = 0.3  # mm by which cutters are swept wider: wood under twice that joins nothing
SLOT = 0.1  # mm more than a cutter's width, round parts
CHORD = 0.05
LEAST_WASTE = 400.0
LEAST_NODE = 25.0
FARTHEST = 3
WORD = re.compile(r"([A-Z])\s*([-+]?\d*\.?\d+)")
Place = tuple[float, float, float]


@dataclass
class Chain:
    """Places a cutter runs through without lifting out of the wood, its number, and the line it begins on."""

    tool: int | None
    line: int
    places: list[Place] = field(default_factory=list)


def read(text: str) -> Iterator[tuple[int, int | None, Place, list[Place]]]:
    """Each motion of a program: its line, cutter, start, and the places it goes through, in the program's own zero."""
    here: list[float] = [0.0, 0.0, 0.0]
    motion, scale, tool, absolute = 0, 1.0, None, True
    for number, raw in enumerate(text.splitlines(), start=1):
        line = re.sub(r"\([^)]*\)|;.*", "", raw).upper()
        words = [(letter, float(value)) for letter, value in WORD.findall(line)]
        if any(letter == "T" for letter, _ in words):
            tool = int(dict(words)["T"])
        codes = {value for letter, value in words if letter == "G"}
        scale = 25.4 if 20 in codes else 1.0 if 21 in codes else scale
        absolute = True if 90 in codes else False if 91 in codes else absolute
        for code in codes & {0.0, 1.0, 2.0, 3.0, 80.0, 81.0, 82.0, 83.0}:
            motion = int(code)
        if codes & {4.0, 10.0, 28.0, 30.0, 43.0, 53.0, 92.0}:
            continue
        given = {letter: value * scale for letter, value in words}
        if not given.keys() & set("XYZ") or motion == 80:
            continue
        begin: Place = (here[0], here[1], here[2])
        end = [given.get(axis, 0.0 if not absolute else here[index]) for index, axis in enumerate("XYZ")]
        if not absolute:
            end = [a + b for a, b in zip(here, end, strict=True)]
        if motion in (81, 82, 83):  # down and back up
            yield (
                number,
                tool,
                begin,
                [(end[0], end[1], begin[2]), (end[0], end[1], end[2]), (end[0], end[1], begin[2])],
            )
            here[:2] = end[:2]
            continue
        target: Place = (end[0], end[1], end[2])
        yield number, tool, begin, arc(begin, target, given, motion) if motion in (2, 3) else [target]
        here = end


def arc(begin: Place, end: Place, given: dict[str, float], motion: int) -> list[Place]:
    cx, cy = begin[0] + given.get("I", 0.0), begin[1] + given.get("J", 0.0)
    radius = math.hypot(begin[0] - cx, begin[1] - cy)
    first, last = math.atan2(begin[1] - cy, begin[0] - cx), math.atan2(end[1] - cy, end[0] - cx)
    turn = (last - first) % (2 * math.pi) if motion == 3 else -((first - last) % (2 * math.pi))
    if abs(turn) < 1e-9:
        turn = 2 * math.pi if motion == 3 else -2 * math.pi
    step = 2 * math.acos(max(0.0, 1 - CHORD / max(radius, CHORD)))
    count = max(3, math.ceil(abs(turn) / step))
    shares = [k / count for k in range(1, count)]
    found = [
        (cx + radius * math.cos(first + turn * s), cy + radius * math.sin(first + turn * s),
         begin[2] + (end[2] - begin[2]) * s)
        for s in shares
    ]  # fmt: skip
    return [*found, end]


def chains(text: str, level: float) -> list[Chain]:
    """What a program runs through at or below a height, in order."""
    found: list[Chain] = []
    current: Chain | None = None
    for line, tool, begin, places in read(text):
        before = begin
        for place in places:
            piece = below(before, place, level)
            if piece is None:
                current = None
            else:
                if current is None or current.tool != tool or math.dist(current.places[-1], piece[0]) > 1e-6:
                    current = Chain(tool, line, [piece[0]])
                    found.append(current)
                current.places.append(piece[1])
            before = place
    return found


def below(a: Place, b: Place, level: float) -> tuple[Place, Place] | None:
    if a[2] > level and b[2] > level:
        return None
    if a[2] <= level and b[2] <= level:
        return a, b
    share = (level - a[2]) / (b[2] - a[2])
    cross = tuple(p + (q - p) * share for p, q in zip(a, b, strict=True))
    crossing: Place = (cross[0], cross[1], level)
    return (crossing, b) if a[2] > level else (a, crossing)


def swept(chain: Chain, radius: float, origin: Sequence[float]) -> Any:
    points = [(x + origin[0], y + origin[1]) for x, y, _ in chain.places]
    kept = [points[0], *(b for a, b in pairwise(points) if math.dist(a, b) > 1e-6)]
    return (LineString(kept) if len(kept) > 1 else Point(kept[0])).buffer(radius, quad_segs=8)


def polygons(shape: Any) -> list[Polygon]:
    return [one for one in getattr(shape, "geoms", [shape]) if isinstance(one, Polygon) and not one.is_empty]


@dataclass
class Found:
    """What is wrong with a board, by kind."""

    loose: list[str] = field(default_factory=list)
    cut_loose: list[str] = field(default_factory=list)
    spread: list[str] = field(default_factory=list)
    far: list[str] = field(default_factory=list)
    single: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        kinds = ("not joined", self.loose), ("cut loose", self.cut_loose), ("badly spread", self.spread)
        every = (*kinds, ("chains over 3", self.far), ("single bridges", self.single))
        head = ", ".join(f"{name} {len(set(own))}" for name, own in every)
        return "\n".join([head, *(f"      {name}: {one}" for name, own in every for one in dict.fromkeys(own))])


class Board:
    """A board of a plan and the texts of its programs."""

    def __init__(self, entry: dict[str, Any], folder: Path) -> None:
        self.entry = entry
        self.programs = [(one, (folder / one["file"]).read_text(encoding="utf-8")) for one in entry["programs"]]
        self.outline = Polygon(entry["outline"])
        self.thickness, self.height = entry["thickness"], entry["thickness"] * entry["stack"]
        self.names = [f"{one['part']} ({one['item']} {one['unit']})" for one in entry["placements"]]
        self.solid = [Polygon(one["outline"]).buffer(0) for one in entry["placements"]]
        rounds = [
            [Point(f["at"]).buffer(f["diameter"] / 2) for f in one["features"] if f["depth"] is None]
            for one in entry["placements"]
        ]
        self.holes = [
            [*(Polygon(hole).buffer(0) for hole in one["holes"]), *more]
            for one, more in zip(entry["placements"], rounds, strict=True)
        ]
        self.wood = [
            solid.difference(unary_union(holes)) if holes else solid
            for solid, holes in zip(self.solid, self.holes, strict=True)
        ]

    def levels(self) -> list[float]:
        """Heights above the underside at which bridges are looked at: every board's middle where they go right up."""
        heights = [tab["height"] for one, _ in self.programs for tab in one["tabs"]]
        if not heights:
            return [0.01]
        if min(heights) > self.height - 0.05:
            return [self.thickness * (k + 0.5) for k in range(self.entry["stack"])]
        return [min(heights) / 2]

    def holds(self, window: int | None) -> list[Polygon]:
        return [Polygon(one["area"]) for one in self.entry["holds"] if one["window"] in (None, window)]

    def diameter(self, program: dict[str, Any], tool: int | None) -> float:
        known = {one["number"]: one["diameter"] for one in program["cutters"]}
        return float(known.get(tool, program["cutters"][0]["diameter"]))

    def judge(self) -> str:
        by = self.entry.get("held_by")
        if not self.programs:
            return "no programs"
        if by in ("tape", "vacuum"):
            return f"held from below by {by}"
        if by is None:
            return "NOTHING SAYS HOW IT IS HELD"
        windows = list(dict.fromkeys(one["window"] for one, _ in self.programs))
        bare = [window for window in windows if not self.holds(window)]
        if bare:
            return f"NO HOLD in window {bare}"
        if any(one["skin"] for one, _ in self.programs):
            return "a skin stays, and the board has holds"
        found = Found()
        for level in self.levels():
            self.at(level, found)
        return f"by {by}, {len(self.names)} parts: {found}"

    def at(self, level: float, found: Found) -> None:
        left: Any = self.outline
        slots = [0.0] * len(self.names)
        openings = [[0.0] * len(holes) for holes in self.holes]
        cut: set[int] = set()
        for number, (program, text) in enumerate(self.programs):
            window = program["window"]
            holds = self.holds(window)
            top = self.height if program["z_zero"] == "spoilboard" else 0.0
            for chain in chains(text, top - self.height + level):
                wide = self.diameter(program, chain.tool)
                area = swept(chain, wide / 2 + GROW, program["origin"])
                near = {k for k, solid in enumerate(self.solid) if solid.exterior.distance(area) <= 0.0}
                for k in near:
                    piece = max(polygons(left), key=lambda one, k=k: one.intersection(self.wood[k]).area)
                    if not held(piece, holds) and piece.intersection(self.wood[k]).area > 1.0:
                        found.cut_loose.append(f"{program['file']}:{chain.line} {self.names[k]}")
                    slots[k] = min(slots[k] or wide, wide)
                for k, holes in enumerate(self.holes):
                    for m, hole in enumerate(holes):
                        if hole.exterior.distance(area) <= 0.0:
                            openings[k][m] = min(openings[k][m] or wide, wide)
                left = left.difference(area)
            cut |= self.cut_in(window)
            later = [one["window"] for one, _ in self.programs[number + 1 :]]
            if window not in later:
                self.state(left, slots, openings, sorted(k for k in cut if slots[k]), holds, found)

    def cut_in(self, window: int | None) -> set[int]:
        if window is None:
            return set(range(len(self.names)))
        return set(self.entry["windows"][window]["placements"])

    def state(
        self, left: Any, slots: list[float], openings: list[list[float]], parts: list[int], holds: list[Polygon],
        found: Found,
    ) -> None:  # fmt: skip
        solid, around = {}, []
        for k in parts:
            through = [hole for hole, wide in zip(self.holes[k], openings[k], strict=True) if wide]
            solid[k] = self.solid[k].difference(unary_union(through)) if through else self.solid[k]
            around.append(self.solid[k].buffer(slots[k] + SLOT).difference(self.solid[k]))
            cores = [
                hole.difference(hole.buffer(-wide - SLOT))
                for hole, wide in zip(self.holes[k], openings[k], strict=True)
                if wide
            ]
            around += cores
        ring = unary_union(around)
        goods = unary_union(list(solid.values()))
        waste = [one for one in polygons(left.difference(ring).difference(goods)) if one.area > LEAST_NODE]
        nodes = [*solid.values(), *waste]
        links = []
        for wood in polygons(left.difference(unary_union(nodes))):
            own = {number for number, node in enumerate(nodes) if node.distance(wood) < 0.05}
            if len(own) > 1:
                links.append((wood, own))
        first = [number for number, node in enumerate(nodes) if held(node, holds)]
        graph = [own for _, own in links]
        far = reach(graph, first)
        for number, node in enumerate(nodes):
            if number not in far and (number < len(parts) or node.buffer(GROW).area > LEAST_WASTE):
                name = self.names[parts[number]] if number < len(parts) else f"waste {node.area / 100:.1f} cm2"
                found.loose.append(f"{name} at {node.centroid.x:.0f}, {node.centroid.y:.0f}")
        for number in range(len(links)):
            without = reach([*graph[:number], *graph[number + 1 :]], first)
            for lost in far.keys() - without.keys():
                if lost < len(parts):
                    found.single.append(self.names[parts[lost]])
        for number, k in enumerate(parts):
            if far.get(number, 0) > FARTHEST:
                found.far.append(f"{self.names[k]}: {far[number]}")
            if far.get(number, 0) > 0:
                self.spread(number, k, nodes, links, graph, first, found)

    def spread(
        self, number: int, k: int, nodes: list[Any], links: list[tuple[Any, set[int]]], graph: list[set[int]],
        first: list[int], found: Found,
    ) -> None:  # fmt: skip
        outline = self.solid[k].exterior
        others = reach([own - {number} for own in graph], [one for one in first if one != number])
        touching = [
            shapely.intersection(wood.buffer(0.06), outline)
            for wood, own in links
            if number in own and wood.distance(outline) < 0.05 and own & others.keys()
        ]
        corners = np.array(nodes[number].minimum_rotated_rectangle.exterior.coords)
        width = float(np.hypot(*np.diff(corners[:3], axis=0).T).min())
        points = MultiPoint(np.concatenate([shapely.get_coordinates(one) for one in touching])) if touching else None
        off = points.convex_hull.distance(nodes[number].centroid) if points is not None else math.inf
        if len(touching) < 2 or off > width / 10 + 0.2:
            found.spread.append(f"{self.names[k]}: {len(touching)} bridges, middle {off:.1f} mm outside")


def held(piece: Any, holds: Sequence[Polygon]) -> bool:
    return any(piece.intersection(hold.buffer(GROW)).area >= 0.1 * hold.area for hold in holds)


def reach(links: Sequence[set[int]], first: Sequence[int]) -> dict[int, int]:
    """How many links lie between each node and the first ones; those not reached are left out."""
    far = dict.fromkeys(first, 0)
    edge = set(first)
    while edge:
        new = {node for own in links if own & edge for node in own if node not in far}
        far.update(dict.fromkeys(new, max(far.values()) + 1))
        edge = new
    return far


def main(folders: Sequence[str]) -> int:
    """Judge every board of some folders."""
    if not folders:
        print(__doc__)
        return 2
    for name in folders:
        folder = Path(name)
        plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        print(f"{folder.name} ({plan['machine']})")
        for entry in plan["boards"]:
            print(f"   {entry['id']}: {Board(entry, folder).judge()}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
