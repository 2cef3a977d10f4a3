"""Shops for the tests: the figures given, and none of the usual ones that would cost anything."""

from __future__ import annotations

from typing import Any

from cutjob.files.source import Source
from cutjob.job.read_shop import Shop, shop_of, usual_data

PLAIN: dict[str, Any] = {
    "currency": "EUR",
    "endings": [],
    "pay": {"by_hand": 20.0, "machine": 0, "attended": 0},
    "overhead": {"monthly": 0, "hours": 100.0, "spoilage": 0},
    "material": {"tax": 0, "offcut_value": 0},
    "minutes": dict.fromkeys(usual_data()["minutes"], 0),
    "paint": {"coats": 0, "drying": 0},
    "supply": [],
    "wanted": {"margin": 40, "wage": 20.0, "discount": 10},
    "channel": [{"name": "stall"}],
}


def shop(**tables: Any) -> Shop:
    """A shop; a table given changes only its own keys, anything else is replaced."""
    data = dict(PLAIN)
    for name, value in tables.items():
        data[name] = {**data.get(name, {}), **value} if isinstance(value, dict) else value
    return shop_of(Source(name="shop.toml", data=data, places={}))
