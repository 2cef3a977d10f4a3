"""How much a part weighs, near enough for the number of its tabs."""

from __future__ import annotations

import importlib.resources
import tomllib
from functools import cache


def part_grams(*, area: float, thickness: float, material: str) -> float:
    """Return the weight in grams of a part of `area` mm2, `thickness` mm thick; woods.toml holds the densities."""
    densities = _densities()
    return area * thickness * densities.get(material, densities["other"]) * 1e-6


@cache
def _densities() -> dict[str, float]:
    text = importlib.resources.files("cutjob.cuts").joinpath("woods.toml").read_text(encoding="utf-8")
    return {name: float(value) for name, value in tomllib.loads(text).items()}
