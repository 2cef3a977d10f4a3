"""A small job with open counts: discs and plates from short boards on tape, which needs no bridges."""

from __future__ import annotations

from pathlib import Path

SHOP = """
currency = "EUR"
endings = []
[pay]
by_hand = 20.0
machine = 5.0
attended = 50
[overhead]
monthly = 0
hours = 60
spoilage = 3
[material]
tax = 10
offcut_value = 30
[wanted]
margin = 30
wage = 20.0
discount = 10
[[channel]]
name = "stall"
"""

JOB = """
title = "A few discs and plates"
units = "mm"
machine = "bench-router"
board_held_by = "tape"
{top}

[[make]]
name = "disc"
design = "round"
count = {disc}
price = {disc_price}
with = {{ diameter = 110, hole = 8 }}

[[make]]
name = "plate"
design = "plate"
count = {plate}
price = {plate_price}
with = {{ length = 90, width = 40, corner_radius = 5, corner_hole = 0 }}

[[board]]
name = "short board"
length = {length}
width = 130
thickness = 16
count = {boards}
price = 1.50
{more}
"""

USUAL = {
    "top": "",
    "disc": '"as many as fit"',
    "plate": '"as many as fit"',
    "disc_price": "6.00",
    "plate_price": "3.50",
    "length": "330",
    "boards": "1",
    "more": "",
}


def job_in(folder: Path, *, shop: bool = True, **changes: str) -> Path:
    """Write the job, with a shop beside it, and return its path."""
    path = folder / "job.toml"
    path.write_text(JOB.format(**(USUAL | changes)), encoding="utf-8")
    if shop:
        (folder / "shop.toml").write_text(SHOP, encoding="utf-8")
    return path
