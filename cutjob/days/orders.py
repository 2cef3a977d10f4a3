"""A file of orders: who gets how many of what by which day. A customer has a mark, not a name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from importlib.resources import files
from pathlib import Path
from typing import Annotated

from pydantic import Field, model_validator

from cutjob.files.fields import CalendarDay, FileModel, MistakesError, Name
from cutjob.files.read_toml import read_model, required
from cutjob.files.source import Source, read_source
from cutjob.files.values import Count, Text, shown

ORDERS_FILE = "orders.toml"

Amount = Annotated[int, Count(1, 100_000)]


class Order(FileModel):
    """What one customer gets on one day."""

    mark: Annotated[str, Text(40)] = Field(description="a short mark for customer and order, such as H-01: no names")
    items: dict[str, Amount] = Field(description='how many of which item or set: { "wind stack" = 4 }')
    due: CalendarDay = Field(description="the day the customer is to have it, such as 2027-04-02")
    channel: Name | None = Field(default=None, description="a way of selling of the shop file: its post takes time")

    @model_validator(mode="after")
    def _something(self) -> Order:
        if not self.items:
            raise MistakesError([(("items",), 'the order is for nothing; write { "wind stack" = 4 }, or delete it')])
        return self


class OrdersFile(FileModel):
    """A file of orders."""

    order: tuple[Order, ...] = Field(min_length=1, max_length=1000)

    @model_validator(mode="after")
    def _marks(self) -> OrdersFile:
        marks = [one.mark for one in self.order]
        again = [place for place, mark in enumerate(marks) if mark in marks[:place]]
        if again:
            what = "is the mark of an order above too; give each order its own"
            raise MistakesError([(("order", place, "mark"), f"{shown(marks[place])} {what}") for place in again])
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class Orders:
    """Orders in the order of their file, with the lines of everything in it."""

    orders: tuple[Order, ...]
    source: Source


def read_orders(path: Path) -> Orders:
    """Read a file of orders. Raises InputError with every mistake in it."""
    return orders_of(read_source(path))


def orders_of(source: Source) -> Orders:
    """Return the orders of a file already read. Raises InputError as `read_orders` does."""
    return Orders(orders=required(read_model(source, OrdersFile)).order, source=source)


def first_orders() -> str:
    """Return the text of a first file of orders, with comments."""
    return files("cutjob.days").joinpath("orders_first.toml").read_text(encoding="utf-8")


def with_items(order: Order, sets: Mapping[str, Sequence[str]]) -> Order:
    """Return an order with the items of each set that it names in place of the set; `sets` has them by name."""
    items: dict[str, int] = {}
    for name, count in order.items.items():
        for item in sets.get(name, (name,)):
            items[item] = items.get(item, 0) + count
    return order.model_copy(update={"items": items})


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenOrder:
    """An order with what of it is still to be handed over, and of that what is still to be made, by item."""

    order: Order
    to_hand_over: Mapping[str, int]
    to_make: Mapping[str, int]

    @property
    def mark(self) -> str:
        """The order's mark."""
        return self.order.mark

    @property
    def due(self) -> date:
        """The day the customer is to have it."""
        return self.order.due
