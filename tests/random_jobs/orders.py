"""Lines of a random order: designs with changed parameters, reliefs, tabs by hand."""

from __future__ import annotations

import math
from typing import Any

from tests.random_jobs.drawings import drawing
from tests.random_jobs.goods import GOODS
from tests.random_jobs.scene import Scene

_DESIGNS = ("graded-stack", "round", "star", "outline", "graded-stack", "outline", "outline", *GOODS)

_TABBED = {
    "graded-stack": "piece 1",
    "outline": "outline 1",
    "bundle": "lath 1",
    "footed-board": "board",
    "graded-rods": "base",
    "drilling-cradle": "plate",
}


def make(scene: Scene, number: int) -> dict[str, Any]:
    """One `[[make]]` of a job."""
    chance = scene.chance
    design = chance.choice(_DESIGNS)
    changes = {
        **GOODS,
        "graded-stack": _graded_stack,
        "round": _round,
        "star": _star,
        "outline": lambda scene: _outline(scene, number),
    }[design](scene)
    made: dict[str, Any] = {
        "name": f"{design} {number + 1}",
        "design": design,
        "size": chance.choice(["small", "small", "medium", "large"]),
        "count": chance.choice([1, 1, 2, 3, 5, 12]),
    }
    if scene.some(0.15):
        made["together"] = True
    if scene.some(0.25):
        made["relief"] = chance.choice(["side", "diagonal", "none"])
    if scene.tabbed and scene.some(0.15):
        part = _TABBED.get(design, design)
        made["tabs"] = {part: [[scene.length(-60, 60), scene.length(-60, 60)] for _ in range(chance.randint(1, 3))]}
    return {**made, "with": changes}


def _graded_stack(scene: Scene) -> dict[str, Any]:
    chance = scene.chance
    longest, tallest = scene.length(70, 260), scene.length(28, 60)
    values: dict[str, Any] = {
        "tiers": chance.randint(1, 5),
        "longest": longest,
        "shortest": max(scene.exactly(45), round(longest * chance.uniform(0.4, 1.0), 3)),
        "tallest": tallest,
        "least_height": max(scene.exactly(25), round(tallest * chance.uniform(0.5, 1.0), 3)),
        "topper": chance.choice(["none", "round", "star"]),
        "base": [scene.length(40, 150) for _ in range(chance.randint(0, 2))] if scene.some(0.4) else [],
    }
    if scene.some(0.6) or (scene.thickness < 10 and not scene.rash):
        values["stands"] = "flat"
        values["bore"] = scene.hole(14)
        values["socket"] = scene.exactly(max(3.2, scene.thickness - chance.choice([4, 5, 6])))
        if scene.thickness < 5.5 and not scene.rash:
            values["topper"] = "none"  # no board so thin has a socket in its face
    else:
        values["bore"] = scene.exactly(max(2.5, scene.thickness - 7))
        values["centre_mark"] = scene.some(0.5)
    if values["topper"] != "none":
        values["topper_diameter"] = scene.length(40, 90)
        if values["topper"] == "star":
            values["topper_points"] = chance.randint(4, 8)
            if scene.some(0.3):
                values["topper_ratio"] = _ratio(scene, values["topper_points"], 0.8)
    for key in ("gap", "foot", "neck"):
        if scene.some(0.2):
            values[key] = scene.length(0, 40)
    if scene.some(0.1):
        values["rod"] = values["bore"]
    if scene.some(0.5):
        values["bottom"] = chance.choice(
            [[[0, 0], [1, 0]], [[0, 0], [0.5, 0.05], [1, 0.3]], [[0, 0.1], [0.4, 0], [0.8, 0.2], [1, 0.1]]]
        )
        values["top"] = chance.choice(
            [[[0, 1], [1, 1]], [[0, 1], [0.5, 0.7], [1, 0.6]], [[0, 0.9], [0.3, 1], [0.7, 0.6], [1, 0.8]]]
        )
    return values


def _ratio(scene: Scene, points: int, most: float) -> float:
    """Of a star's inner diameter to its outer; the notches show unless the job is rash."""
    flat = 1.0 if scene.rash else 0.97 * math.cos(math.pi / points)
    return round(scene.chance.uniform(0.35, min(most, flat)), 3)


def _round(scene: Scene) -> dict[str, Any]:
    chance = scene.chance
    diameter = scene.length(40, 150)
    values: dict[str, Any] = {"diameter": diameter, "grain": chance.choice(["length", "none"])}
    values["hole"] = min(diameter / 4, scene.hole(30))
    if scene.some(0.4):
        values["ring_holes"] = chance.randint(1, 6)
        values["ring_diameter"] = diameter * chance.uniform(0.6, 0.7)
        values["ring_hole"] = scene.hole(10)
        if scene.some(0.5) and (scene.thickness > 5 or scene.rash):
            values["ring_depth"] = scene.exactly(max(1.0, (scene.thickness - 2.2) * chance.uniform(0.2, 1.0)))
    if scene.some(0.4) and (scene.thickness > 5 or scene.rash):
        values["counterbore"] = values["hole"] + scene.exactly(chance.choice([0.4, 3, 8]))
        values["counterbore_depth"] = scene.exactly(max(0.6, (scene.thickness - 2.2) * chance.uniform(0.1, 0.9)))
    return values


def _star(scene: Scene) -> dict[str, Any]:
    chance = scene.chance
    outer = scene.length(60, 150)
    values: dict[str, Any] = {
        "points": chance.randint(3, 9),
        "outer": outer,
        "grain": chance.choice(["length", "none"]),
    }
    if scene.some(0.7):
        values["ratio"] = _ratio(scene, values["points"], 0.7)
    elif scene.some(0.5):
        values["inner"] = round(outer * _ratio(scene, values["points"], 0.7), 3)
    if scene.some(0.8):
        values["hole"] = scene.hole(13)
    return values


def _outline(scene: Scene, number: int) -> dict[str, Any]:
    chance = scene.chance
    drawn = drawing(scene, number)
    values: dict[str, Any] = {"file": drawn.file, "mirror": scene.some(0.5)}
    if drawn.marks:
        values["marks"] = "marks"
        if scene.some(0.5):
            values["mark_depth"] = max(scene.exactly(0.5), scene.length(0.5, 2))
    if drawn.pockets:
        depths = {name: scene.exactly(max(0.5, scene.thickness * chance.uniform(0.1, 0.8))) for name in drawn.pockets}
        values["pockets"] = depths
    values["grain"] = chance.choice(["length", "none"])
    if scene.some(0.25):
        values[chance.choice(["width", "height"])] = scene.length(40, 200)
    elif scene.some(0.1):
        values["scale"] = chance.choice([0.7, 1.5])
    return values
