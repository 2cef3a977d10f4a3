"""Machine time and costs of the items in words, from plan.json's content: for the summary and the job sheet."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

_SHARES = ("boards", "sticks", "bought", "machine")


def item_table(plan: dict[str, Any]) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return heads and rows of a table with a row for each item, for its whole count but where it says `each`.

    Columns of which nothing is known are left out; there are no rows where nothing is known at all.
    """
    items = plan.get("items", ())
    timed = any(item.get("machine_seconds") is not None for item in items)
    priced = [item for item in items if item.get("costs") is not None]
    shares = [share for share in _SHARES if any(item["costs"][share] for item in priced)]
    heads = ("item", "count", *(("minutes each",) if timed else ()))
    if not timed and not priced:
        return heads, []
    if priced:
        heads = (*heads, *shares, *(("in all",) if len(shares) > 1 else ()), "cost each")
    return heads, [tuple(_cells(item, timed=timed, shares=shares, priced=bool(priced))) for item in items]


def _cells(item: dict[str, Any], *, timed: bool, shares: list[str], priced: bool) -> Iterator[str]:
    yield str(item["name"])
    yield str(item["count"])
    if timed:
        seconds = item["machine_seconds"]
        yield "" if seconds is None else f"{seconds / item['count'] / 60:.1f}"
    if priced:
        costs = item["costs"] or {}
        for key in (*shares, *(("in_all",) if len(shares) > 1 else ()), "each"):
            value = costs.get(key)
            yield "" if value is None else f"{value:.2f}"


def cost_note(plan: dict[str, Any]) -> str | None:
    """Return a line with what the costs are without, or None where everything is counted or nothing has a price."""
    priced = [item["costs"] for item in plan.get("items", ()) if item.get("costs") is not None]
    names = list(dict.fromkeys(name for costs in priced for name in costs["not_counted"]))
    if not names:
        return None
    shown = f"{'; '.join(names[:6])} and {len(names) - 6} more" if len(names) > 7 else "; ".join(names)
    return f"without {shown}: no price is stated"
