"""A whole random job in a folder: the job file and every file it names."""

from __future__ import annotations

import random
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.random_jobs.boards import board, rods, stock_file, thicknesses
from tests.random_jobs.goods import strips
from tests.random_jobs.orders import make
from tests.random_jobs.profile import MACHINES, changed_profile, profile_text, shipped
from tests.random_jobs.scene import Scene, document
from tests.random_jobs.shop import shop_text

_RASH = 0.15


@dataclass(frozen=True, kw_only=True)
class RandomJob:
    """A job file and how it is to be made."""

    path: Path
    seed: int
    only: frozenset[str] | None
    keep_offcuts: Path | None


def write_random_job(folder: Path, seed: int) -> RandomJob:
    """Write the job of a seed with all the files it names to a folder."""
    chance = random.Random(seed)
    folder.mkdir(parents=True, exist_ok=True)
    scene = _scene(chance, folder)
    text, stocked = _text(scene, random.Random(f"woods {seed}"))
    shop = random.Random(f"shop {seed}")
    if shop.random() < 0.6:
        (folder / "shop.toml").write_text(shop_text(shop), encoding="utf-8")
    path = folder / f"job-{seed}.toml"
    path.write_text(text, encoding="utf-8")
    only = frozenset(chance.sample(["gcode", "dxf", "picture"], chance.randint(1, 2))) if scene.some(0.1) else None
    keep = folder / chance.choice(["shed.toml", "new-shed.toml"]) if scene.some(0.5 if stocked else 0.1) else None
    return RandomJob(path=path, seed=chance.choice([0, 0, 7]), only=only, keep_offcuts=keep)


def _scene(chance: random.Random, folder: Path) -> Scene:
    machine = chance.choice(MACHINES)
    rash = chance.random() < _RASH
    profile = shipped(machine)
    if chance.random() < 0.5:
        profile = changed_profile(chance, profile, rash=rash)
        (folder / "own-machine.toml").write_text(profile_text(profile), encoding="utf-8")
        machine = "own-machine.toml"
    units = chance.choice(["mm", "mm", "in"])
    scene = Scene(chance=chance, folder=folder, units=units, machine=machine, profile=profile, rash=rash)
    if scene.some(0.4) and (rash or not scene.thin):
        scene.stack = chance.randint(1, 3)
    scene.cutters = _cutters(scene)
    scene.thickness = chance.choice(thicknesses(scene))
    return scene


def _cutters(scene: Scene) -> list[int]:
    """None, one, or a list with the one for outlines first; a rash job may ask for one that isn't there."""
    chance, numbers = scene.chance, [one["number"] for one in scene.profile["cutter"]]
    if scene.some(0.55):
        return []
    if scene.rash and scene.some(0.3):
        return [max(numbers) + 1]
    round_parts = [one["number"] for one in scene.profile["cutter"] if not one.get("only_down")]
    first = chance.choice(numbers if scene.rash else round_parts)
    others = [number for number in numbers if number != first]
    return [first, *chance.sample(others, chance.randint(0, len(others)))] if scene.some(0.6) else [first]


def _text(scene: Scene, woods: random.Random) -> tuple[str, bool]:
    """The job file, and whether it names a file of stock. `woods` are chances of their own, so that the other choices
    of a seed stay what they are.
    """
    chance = scene.chance
    top: dict[str, Any] = {"title": chance.choice(["Random garden goods", 'Gate (north) %1; 2" wide', "Ü"])}
    top |= {"units": scene.units, "machine": scene.machine, **_choices(scene)}
    from_below = top.get("board_held_by") in ("tape", "vacuum")
    tabs = "gcode" in scene.profile["writes"] and "tabs" in scene.profile
    scene.tabbed = scene.rash or (tabs and not from_below and top.get("parts_held_by") != "skin")
    makes = [make(scene, number) for number in range(chance.randint(1, 3))]
    boards = [board(scene, f"board {number + 1}") for number in range(chance.randint(1, 3))]
    stocked = scene.some(0.25)
    if stocked:
        (scene.folder / "shed.toml").write_text(stock_file(scene), encoding="utf-8")
        top["stock"] = chance.choice(["shed.toml", ["shed.toml"]])
        if scene.some(0.4):
            boards = []
        if not boards or scene.some(0.3):
            top["thickness"] = scene.exactly(scene.thickness)
        if scene.some(0.2 if boards else 0.9):
            top["material"] = chance.choice(["softwood", "softwood", "plywood"])
    if woods.random() < 0.25:
        _other_wood(scene, woods, top, makes, boards)
    return document(top, {"make": makes, "board": boards, "rod": rods(scene), "strip": strips(scene)}), stocked


# Kinds of part of designs that have more than one.
_KINDS = {
    "graded-stack": ["piece", "base", "topper"],
    "graded-rods": ["base"],
    "footed-board": ["board", "foot"],
    "drilling-cradle": ["plate", "cheek"],
}


def _other_wood(
    scene: Scene,
    woods: random.Random,
    top: dict[str, Any],
    makes: list[dict[str, Any]],
    boards: list[dict[str, Any]],
) -> None:
    """Boards of another thickness or material, and some of the order cut from them."""
    kept, scene.chance = scene.chance, woods
    thick = woods.choice([*thicknesses(scene), scene.thickness + 13])
    other = board(scene, "other wood", thickness=thick) | {"count": woods.randint(2, 20)}
    scene.chance = kept
    boards.append(other)
    if "thickness" not in top and woods.random() < 0.3:
        top["thickness"] = scene.exactly(scene.thickness)
    for one in makes:
        kinds = _KINDS.get(one["design"], [])
        if kinds and woods.random() < 0.5:
            one["wood"] = {woods.choice(kinds): "other wood"}
        elif woods.random() < 0.5:
            one["wood"] = "other wood"


def _choices(scene: Scene) -> dict[str, Any]:
    """The keys at the top that say how to cut."""
    chance = scene.chance
    top: dict[str, Any] = {}
    if scene.cutters:
        top["cutter"] = scene.cutters if len(scene.cutters) > 1 or scene.some(0.3) else scene.cutters[0]
    if scene.stack > 1 or scene.some(0.1):
        top["stack"] = scene.stack
    if scene.some(0.2):
        top["gap"] = scene.length(4 if scene.rash else max(scene.diameters()) + 1, 16)
    if scene.some(0.2):
        top["edge_margin"] = scene.length(0, 6)
    top |= _holding(scene)
    if scene.some(0.25):
        top["numbers"] = chance.choice(["part", "waste"])
        if scene.some(0.5):
            top["number_height"] = scene.length(5, 25)
    if scene.some(0.2):
        words = ["cost", "leftover", "cut"]
        top["prefer"] = chance.sample(words, chance.randint(1, 3))
    if scene.some(0.15):
        top["least_leftover"] = [scene.length(60, 300), scene.length(30, 90)]
    return top


def _holding(scene: Scene) -> dict[str, Any]:
    """What holds boards and parts: what the machine can do, or, in a rash job, anything."""
    chance, profile = scene.chance, scene.profile
    router = profile["kind"] == "router" and "gcode" in profile["writes"]
    if not router and not scene.rash:
        return {"parts_held_by": "tabs"} if "gcode" in profile["writes"] and "tabs" in profile else {}
    keys: dict[str, Any] = {}
    if scene.some(0.4):
        keys["board_held_by"] = chance.choice(["clamps", "screws", "screws", "tape", "vacuum"])
    if (scene.stack > 1 and scene.some(0.4)) or (scene.rash and scene.some(0.2)):
        keys["between_boards"] = "tape"
    from_below = keys.get("board_held_by") in ("tape", "vacuum")
    if scene.rash:
        return keys | ({"parts_held_by": chance.choice(["tabs", "skin"])} if scene.some(0.4) else {})
    if from_below and scene.stack > 1:
        keys["between_boards"] = "tape"
    skin = bool(profile.get("cutting", {}).get("skin")) and (scene.stack == 1 or "between_boards" in keys)
    if skin and scene.some(0.3):
        keys["parts_held_by"] = "skin"
    elif not from_below and "tabs" not in profile:
        keys["board_held_by"] = chance.choice(["tape", "vacuum"])
        if scene.stack > 1:
            keys["between_boards"] = "tape"
    elif not from_below and scene.some(0.2):
        keys["parts_held_by"] = "tabs"
    return keys
