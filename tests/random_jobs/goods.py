"""Random parameters of goods that stand or hang - sticks, plates, boards with feet - and of plain shapes with holes."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from tests.random_jobs.scene import Scene

_FLOOR = 2.2  # mm of wood under what ends in a board


def ring(scene: Scene) -> dict[str, Any]:
    outer = scene.length(50, 150)
    values: dict[str, Any] = {"outer": outer, "grain": scene.chance.choice(["length", "none"])}
    if scene.some(0.5):
        values["rim"] = round(outer * scene.chance.uniform(0.1, 0.35), 3)
    else:
        values["inner"] = round(outer * scene.chance.uniform(0.3, 0.75), 3)
    if scene.some(0.4):
        values |= {"holes": scene.chance.randint(1, 8), "hole": scene.hole(8)}
    return values


def rosette(scene: Scene) -> dict[str, Any]:
    lobes = scene.chance.randint(3, 10)
    half = math.pi / lobes
    least = 0.0 if scene.rash else 1 / (math.cos(half) + math.sin(half)) + 0.01
    values: dict[str, Any] = {
        "lobes": lobes,
        "outer": scene.length(50, 150),
        "ratio": round(scene.chance.uniform(max(0.3, least), 0.97), 3),
    }
    if scene.some(0.7):
        values["hole"] = scene.hole(14)
    if scene.some(0.3):
        values["lobe_hole"] = scene.hole(8)
    return values


def plate(scene: Scene) -> dict[str, Any]:
    length, width = scene.length(50, 300), scene.length(25, 100)
    values: dict[str, Any] = {
        "length": length,
        "width": width,
        "corner_radius": round(min(length, width) * scene.chance.choice([0, 0.1, 0.3, 0.5]), 3),
        "row_holes": scene.chance.randint(0, 4),
        "row_hole": scene.hole(10),
        "grain": scene.chance.choice(["length", "none"]),
    }
    if scene.some(0.4):
        values |= {"corner_hole": scene.hole(6), "corner_inset": scene.length(8, 14)}
    return values


def bundle(scene: Scene) -> dict[str, Any]:
    chance, longest = scene.chance, scene.length(120, 320)
    values: dict[str, Any] = {
        "of": chance.choice(["laths", "laths", "sticks", "strips"]),
        "tiers": chance.randint(1, 7),
        "longest": longest,
        "shortest": round(longest * chance.uniform(0.5, 1.0), 3),
        "width": scene.length(18, 40),
        "stick": scene.length(14, 25),
        "strip": scene.length(6, 20),
        "rounding": scene.length(0, 9),
        "gap": scene.length(20, 60),
        "hole": scene.hole(8),
        "star_tips": chance.choice([0, 0, 5, 7]),
        "star_stick": scene.length(90, 160),
    }
    values |= (
        {"holes_share": round(chance.uniform(0.5, 0.85), 3)}
        if scene.some(0.7)
        else {"holes_apart": scene.length(30, 50)}
    )
    if scene.some(0.3):
        values["top_gap"] = scene.exactly(15.0)
    return values


def footed_board(scene: Scene) -> dict[str, Any]:
    chance = scene.chance
    values: dict[str, Any] = {
        "feet_in": scene.length(15, 40),
        "screws": chance.randint(0, 2),
        "screw": scene.hole(6),
        "counterbore": scene.exactly(16.0),
        "counterbore_depth": scene.exactly(1.5),
    }
    if scene.some(0.3):
        values |= {"end_cut_length": scene.length(170, 300), "end_cut_width": scene.length(100, 140)}
    else:
        values |= {"length": scene.length(150, 320), "width": scene.length(60, 120)}
    deepest = max(1.1, scene.thickness - _FLOOR - 2)
    dado = scene.exactly(round(chance.uniform(1.1, deepest), 2))
    given = {"dado": dado, "foot": scene.length(25, 45)}
    given["height"] = round(scene.exactly(scene.thickness) + given["foot"] - dado, 4)
    for key in chance.sample(sorted(given), chance.choice([1, 2, 2, 3] if scene.rash else [1, 2, 2])):
        values[key] = given[key]
    return values


def graded_rods(scene: Scene) -> dict[str, Any]:
    chance, longest = scene.chance, scene.length(90, 300)
    values: dict[str, Any] = {
        "tiers": chance.randint(1, 12),
        "longest": longest,
        "rod": scene.length(15, 25),
        "centre_rod": scene.hole(9),
        "bead": scene.length(15, 22),
        "beads": chance.randint(0, 2),
        "top_bead": scene.some(0.5),
        "base": scene.length(60, 130),
        "base_round": scene.exactly(chance.choice([0, 2, min(4.0, scene.thickness / 2)])),
    }
    way = chance.choice(["shortest", "step", "curve"])
    if way == "curve":
        values["curve"] = [[0, 1], [0.5, 0.75], [1, 0.45]]
    elif way == "step":
        values["step"] = round(longest / (values["tiers"] + 4), 3)
    else:
        values["shortest"] = round(longest * chance.uniform(0.45, 1.0), 3)
    if scene.some(0.3) and (scene.thickness > 6 or scene.rash):
        values["base_socket"] = scene.exactly(max(2.0, scene.thickness - 4))
    return values


def drilling_cradle(scene: Scene) -> dict[str, Any]:
    thick = scene.exactly(scene.thickness)
    return {
        "rod": scene.length(10, 20),
        "hole": scene.hole(8),
        "length": scene.length(110, 180),
        "width": scene.length(60, 90),
        "height": scene.length(36, 60),
        "apart": scene.length(20, 40),
        "dado": max(scene.exactly(1.1), round(thick * scene.chance.uniform(0.15, 0.5), 3)),
        "play": scene.exactly(scene.chance.choice([0.0, 0.1, 0.3])),
    }


GOODS: Mapping[str, Callable[[Scene], dict[str, Any]]] = {
    "ring": ring,
    "rosette": rosette,
    "plate": plate,
    "bundle": bundle,
    "footed-board": footed_board,
    "graded-rods": graded_rods,
    "drilling-cradle": drilling_cradle,
}


def strips(scene: Scene) -> list[dict[str, Any]]:
    """Battens, sometimes."""
    if not scene.some(0.3):
        return []
    return [
        {
            "name": f"batten {number + 1}",
            "width": scene.length(18, 40),
            "thickness": scene.length(6, 20),
            "length": scene.length(300, 2400),
            "count": scene.chance.randint(1, 9),
            "price": scene.chance.choice([0, 1.20, 2.35]),
        }
        for number in range(scene.chance.randint(1, 2))
    ]
