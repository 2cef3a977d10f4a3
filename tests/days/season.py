"""Accounts, orders and notes for the tests of dates."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from cutjob.costs.account import Account, ItemAccount
from cutjob.costs.figure import entered
from cutjob.days.notes import Notes, notes_of
from cutjob.days.orders import Orders, orders_of
from cutjob.files.source import parse_source
from tests.costs.shops import shop

START = date(2027, 3, 1)  # a Monday
WEEK: dict[str, Any] = {
    **dict.fromkeys(("monday", "tuesday", "wednesday", "thursday", "friday"), 4),
    **dict.fromkeys(("saturday", "sunday"), 0),
}


def item(name: str, minutes: int, *, machine: int = 0, drying: int = 0) -> ItemAccount:
    """An item of so many minutes by hand and on the machine, without spoilage."""
    nothing = entered("nothing", Decimal(0), "money", "")
    return ItemAccount(
        name=name,
        count=1,
        material=nothing,
        hands_hours=entered("by hand", Decimal(minutes) / 60, "hours", ""),
        machine_hours=entered("machine", Decimal(machine) / 60, "hours", ""),
        attended_hours=entered("attended", Decimal(0), "hours", ""),
        labour=nothing,
        machine=nothing,
        overhead=nothing,
        spoilage=nothing,
        cost=nothing,
        drying_hours=Decimal(drying),
    )


def account(*items: ItemAccount, room: int | None = None, **week: Any) -> Account:
    channel = [{"name": "stall"}, {"name": "post", "postage": 5, "postage_days": 3}]
    paint = {} if room is None else {"room": room}
    return Account(shop=shop(week={**WEEK, **week}, channel=channel, paint=paint), items=items)


def orders(text: str) -> Orders:
    """Orders of lines such as `A gate=2,star=1 2027-03-05 post`; the way of selling may be missing."""
    tables = []
    for line in text.strip().splitlines():
        mark, items, due, *channel = line.split()
        inner = ", ".join(f'"{one.split("=")[0]}" = {one.split("=")[1]}' for one in items.split(","))
        sold = f'channel = "{channel[0]}"\n' if channel else ""
        tables.append(f'[[order]]\nmark = "{mark}"\nitems = {{ {inner} }}\ndue = {due}\n{sold}')
    return orders_of(parse_source("\n".join(tables).encode(), name="orders.toml"))


def notes(text: str) -> Notes:
    return notes_of(parse_source(text.encode(), name="notes.toml"))
