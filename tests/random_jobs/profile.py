"""A machine of a random job: a shipped profile, or a copy with other habits, cutters and limits beside the job."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Callable
from copy import deepcopy
from typing import Any

from cutjob.files.file_bytes import shipped_files
from tests.random_jobs.scene import document

MACHINES = (
    "bench-router",
    "bench-router",
    "long-bed-router",
    "long-bed-router",
    "bench-laser",
    "laser-service",
    "bandsaw",
)
# Keys of a profile that hold lengths; the copies in inches write all of them with their unit.
_LENGTHS = {
    "x",
    "y",
    "z",
    "pin",
    "safe_height",
    "approach",
    "corner_deviation",
    "overcut",
    "deepest_below_stock",
    "web",
}
_LENGTHS |= {"edge_margin", "lead", "mark_depth", "pocket_finish", "finish", "skin", "width", "height", "every", "hole"}
_LENGTHS |= {"gentle_radius", "head", "margin", "saw_kerf", "diameter", "cutting_length"}
_LENGTHS |= {"depth_per_pass", "greatest_thickness", "chip_load", "thickness_error", "spoilboard"}
_LENGTHS |= {"length", "depth", "least_bite"}


def shipped(name: str) -> dict[str, Any]:
    """The data of a shipped profile."""
    return tomllib.loads(shipped_files("machines")[name].read_text(encoding="utf-8"))


def changed_profile(chance: random.Random, profile: dict[str, Any], *, rash: bool) -> dict[str, Any]:
    """A copy with about a third of its habits changed to others that a shop may have."""
    own = deepcopy(profile)
    own["name"] = "own " + own["name"]
    kind = own["kind"]
    changes = [*_EVERY, *(_ROUTER if kind == "router" else ()), *(_LASER if kind == "laser" else ())]
    for change in changes:
        if chance.random() < 0.3:
            change(own, chance)
    controller = own.get("controller", {})
    if controller.get("dwell") == "none":
        controller.pop("after_change", None)
    if controller.get("units") == "in" and not rash:
        controller["decimals"] = max(controller.get("decimals", 4), 4)
    if rash and chance.random() < 0.3:
        own.get("motion", {})["z_zero"] = "spoilboard"
        own.setdefault("cutting", {})["deepest_below_stock"] = 0.1
    if chance.random() < 0.15:
        own = _in_inches(own)
    return own


def profile_text(profile: dict[str, Any]) -> str:
    """The profile as a file."""
    cutters = profile["cutter"]
    return document({key: value for key, value in profile.items() if key != "cutter"}, {"cutter": cutters})


def _in_inches(value: Any, key: str = "") -> Any:
    if isinstance(value, dict):
        made = {name: _in_inches(one, name) for name, one in value.items()}
        return {**made, "units": "in"} if "cutter" in value else made
    if isinstance(value, list):
        return [_in_inches(one, key) for one in value]
    if key in _LENGTHS and isinstance(value, (int, float)) and not isinstance(value, bool):
        return f"{value} mm"
    return value


def _one_of(table: str, key: str, *values: Any) -> Callable[[dict[str, Any], random.Random], None]:
    def change(own: dict[str, Any], chance: random.Random) -> None:
        own.setdefault(table, {})[key] = chance.choice(values)

    return change


def _no_tabs(own: dict[str, Any], chance: random.Random) -> None:
    if chance.random() < 0.2:
        own.pop("tabs", None)


def _tab(key: str, *values: Any) -> Callable[[dict[str, Any], random.Random], None]:
    def change(own: dict[str, Any], chance: random.Random) -> None:
        if "tabs" in own:
            own["tabs"][key] = chance.choice(values)

    return change


def _changer(own: dict[str, Any], chance: random.Random) -> None:
    controller = own["controller"]
    controller["tool_change"] = chance.choice(["by hand", "changer"])
    if controller["tool_change"] == "by hand":
        for key in ("tool_length", "after_change", "seconds_to_change"):
            controller.pop(key, None)
    else:
        controller["tool_length"] = chance.choice(["none", "table"])
        controller["after_change"] = chance.choice([[], ["G4 P2"]])


def _small_bed(own: dict[str, Any], chance: random.Random) -> None:
    """A bed that long boards stick out of."""
    own["travel"] |= {"x": chance.choice([300, 420, 600]), "open_ends": chance.random() < 0.9}
    own["travel"] |= {"located_by": chance.choice(["stop", "pins"]), "pin": chance.choice([6.35, 8, 3.175])}


def _more_cutters(own: dict[str, Any], chance: random.Random) -> None:
    """A drill bit, a thin cutter or a thick one beside those that are there."""
    number = max(cutter["number"] for cutter in own["cutter"]) + 1
    rows = own["cutter"][min(1, len(own["cutter"]) - 1)]["feed"]
    feed = [{key: value for key, value in row.items() if key != "chip_load"} | {"feed": 1200} for row in rows]
    kinds = [
        {"name": "5 mm drill bit", "diameter": 5, "cutting_length": 55, "flutes": 2, "only_down": True},
        {"name": "2 mm two-flute", "diameter": 2, "cutting_length": 10, "flutes": 2},
        {"name": "12 mm two-flute", "diameter": 12, "cutting_length": 40, "flutes": 2},
        {"name": "6 mm long", "diameter": 6, "cutting_length": 60, "flutes": 1},
    ]
    for cutter in chance.sample(kinds, chance.randint(1, 3)):
        least = [{**row, "depth_per_pass": min(row["depth_per_pass"], cutter["diameter"] / 2)} for row in feed]
        own["cutter"].append({"number": number, **cutter, "feed": least})
        number += 1


def _feed_rows(own: dict[str, Any], chance: random.Random) -> None:
    stepover, slope, share = chance.choice([0.25, 0.45, 0.5]), chance.choice([2, 10, 30]), chance.choice([0.5, 1])
    for cutter in own["cutter"]:
        for row in cutter["feed"]:
            row |= {"stepover": stepover, "ramp_degrees": slope, "depth_per_pass": row["depth_per_pass"] * share}


def _layers(own: dict[str, Any], chance: random.Random) -> None:
    names = {
        "outside cut": "EDGE",
        "inside cut": "EDGE INSIDE",
        "mark": "Surface",
        "pocket": "Recess",
        "board": "sheet",
    }
    kept = chance.sample(sorted(names), chance.randint(1, len(names)))
    own.setdefault("drawing", {})["layers"] = {name: names[name] for name in kept}


def _screws(own: dict[str, Any], chance: random.Random) -> None:
    own["screws"] = {
        "hole": chance.choice([3.175, 6.35, 6.35, 7, 8]),
        "head": chance.choice([8, 12, 16]),
        "height": chance.choice([0, 3, 8]),
        "margin": chance.choice([1, 3]),
        "every": chance.choice([150, 250, 500]),
    }
    if chance.random() < 0.3:
        own["screws"]["length"] = chance.choice([30, [25, 30, 35, 40], [20, 25, 30, 35, 40, 45, 50]])
    if chance.random() < 0.1:
        del own["screws"]


_EVERY = (
    _one_of("drawing", "version", "R12", "R2000"),
    _one_of("drawing", "units", "mm", "in"),
    _one_of("drawing", "outlines", "as drawn", "offset"),
    _one_of("drawing", "board", True, False),
    _layers,
    _one_of("cutting", "web", 0.5, 1.5, 4),
    _one_of("cutting", "edge_margin", 0, 1, 5),
)
_GCODE = (
    _one_of("controller", "units", "mm", "in"),
    _one_of("controller", "decimals", 3, 4, 5),
    _one_of("controller", "arcs", True, False),
    _one_of("controller", "helices", True, False),
    _one_of("controller", "comments", "brackets", "semicolon", "none"),
    _one_of("controller", "longest_line", 40, 70, 256),
    _one_of("controller", "dwell", "seconds", "milliseconds", "none"),
    _one_of("controller", "percent_lines", True, False),
    _one_of("controller", "program_end", "M2", "M30"),
    _one_of("controller", "extension", "ngc", "tap", "nc"),
    _one_of("motion", "z_zero", "stock top", "spoilboard"),
    _one_of("motion", "safe_height", 2, 5, 12),
    _one_of("motion", "approach", 0.5, 1, 1.5),
    _one_of("motion", "corner_deviation", 0.002, 0.05),
    _one_of("motion", "acceleration", 50, 400, 3000),
    _one_of("cutting", "direction", "climb", "conventional"),
    _one_of("cutting", "lead", 0, 0.5, 2, 6, 8),
    _one_of("cutting", "far_end_first", True, False),
    _one_of("cutting", "mark_depth", 0.3, 1),
)
_ROUTER = (
    *_GCODE,
    _one_of("cutting", "overcut", 0, 0.3, 0.8),
    _one_of("cutting", "pockets", "outward", "along grain"),
    _one_of("cutting", "pocket_finish", 0, 0.2, 0.5),
    _one_of("cutting", "finish", 0, 0.2, 0.4),
    _one_of("cutting", "skin", 0, 0.3, 0.6),
    _one_of("cutting", "thickness_error", 0, 0.5, 2),
    _one_of("cutting", "spoilboard", 12, 18, 25),
    _one_of("clamps", "length", 25, 40, 60),
    _one_of("spindle", "turns", "clockwise", "counter-clockwise"),
    _one_of("spindle", "speed_word", True, False),
    _changer,
    _small_bed,
    _more_cutters,
    _feed_rows,
    _screws,
    _no_tabs,
    _tab("width", 4, 6, 10),
    _tab("height", 1, 1.5, 3),
    _tab("every", 80, 150, 300),
    _tab("gentle_radius", 10, 40, 200),
    _tab("least", 1, 2, 3),
    _tab("grams_each", 20, 100, 400),
    _tab("ramp_degrees", 15, 30, 60),
)
_LASER = (*_GCODE, _one_of("controller", "beam", "constant", "follows speed"))
