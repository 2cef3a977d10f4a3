"""A file of notes on what was made and what was sold: read, added to by a command, and added up.

It is plain text, a `[[made]]` or `[[sold]]` for each note, that can be written by hand as well.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Annotated

from pydantic import Field

from cutjob.days.orders import OpenOrder, Order
from cutjob.errors import Problem
from cutjob.files.fields import CalendarDay, FileModel, Name, NotNegative
from cutjob.files.read_toml import problem_at, read_model, required
from cutjob.files.source import Source, parse_source, read_source
from cutjob.files.values import Count, Text, nearest, shown
from cutjob.output.leftovers import toml_value
from cutjob.output.one_file import change_file

NOTES_FILE = "notes.toml"
_HEAD = "# What was made and what was sold, for cutjob dates. Add by hand, or with cutjob note.\n"

Amount = Annotated[int, Count(1, 100_000)]


class Made(FileModel):
    """Items that were made and are sound."""

    day: CalendarDay = Field(description="the day, such as 2027-03-05")
    item: Name = Field(description="an item of the jobs")
    count: Amount = Field(description="how many")


class Sold(FileModel):
    """Items that were sold and handed over."""

    day: CalendarDay = Field(description="the day, such as 2027-03-05")
    item: Name = Field(description="an item of the jobs")
    count: Amount = Field(description="how many")
    price: NotNegative = Field(description="what was paid for one")
    channel: Name = Field(description="the way of selling, as the shop file names it")
    order: Annotated[str, Text(40)] | None = Field(
        default=None, description="the mark of the order that they were for; without it they went to somebody else"
    )


class NotesFile(FileModel):
    """A file of notes."""

    made: tuple[Made, ...] = Field(default=(), max_length=10_000)
    sold: tuple[Sold, ...] = Field(default=(), max_length=10_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Notes:
    """Notes in the order of their file; `source` is None where there is no file."""

    made: tuple[Made, ...] = ()
    sold: tuple[Sold, ...] = ()
    source: Source | None = None

    def until(self, day: date) -> Notes:
        """The notes up to a day, that day included."""
        return Notes(
            made=tuple(one for one in self.made if one.day <= day),
            sold=tuple(one for one in self.sold if one.day <= day),
            source=self.source,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """What was made of an item, or sold of it in one way: `money` is None for what was made."""

    item: str
    channel: str = ""
    count: int
    money: Decimal | None = None


def read_notes(path: Path) -> Notes:
    """Read a file of notes. Raises InputError with every mistake in it."""
    return notes_of(read_source(path))


def notes_of(source: Source) -> Notes:
    """Return the notes of a file already read. Raises InputError as `read_notes` does."""
    file = required(read_model(source, NotesFile))
    return Notes(made=file.made, sold=file.sold, source=source)


def mistakes(notes: Notes, items: Sequence[str], marks: Sequence[str], channels: Sequence[str]) -> list[Problem]:
    """Return a problem for each note that names an item, an order or a way of selling that is not there, and for each
    item of which more was sold than made.
    """
    source = notes.source
    if source is None:
        return []
    found: list[Problem] = []

    def known(table: str, place: int, key: str, word: str | None, words: Sequence[str], what: str) -> None:
        if word is not None and word not in words:
            message = f"{shown(word)} is not {what}"
            found.append(problem_at(source, (table, place, key), message, advice=nearest(word, words)))

    for place, made in enumerate(notes.made):
        known("made", place, "item", made.item, items, "an item of the jobs")
    for place, sold in enumerate(notes.sold):
        known("sold", place, "item", sold.item, items, "an item of the jobs")
        known("sold", place, "order", sold.order, marks, "the mark of an order")
        known("sold", place, "channel", sold.channel, channels, "a way of selling of the shop file")
    if not found:
        for item, count in stock_of(notes).items():
            if count < 0:
                message = f"{-count} more of {shown(item)} are noted as sold than as made"
                place = max(place for place, sold in enumerate(notes.sold) if sold.item == item)
                found.append(problem_at(source, ("sold", place), message, advice="note what was made too"))
    return found


def stock_of(notes: Notes) -> dict[str, int]:
    """Return how many of each item are there: made and not sold."""
    there: Counter[str] = Counter()
    for made in notes.made:
        there[made.item] += made.count
    for sold in notes.sold:
        there[sold.item] -= sold.count
    return dict(there)


def open_orders(orders: Sequence[Order], notes: Notes) -> tuple[OpenOrder, ...]:
    """Return the orders that are not wholly handed over, in their order, with what is still to be made of each.

    What is there goes to the order that is due first.
    """
    handed: Counter[tuple[str | None, str]] = Counter()
    for sold in notes.sold:
        handed[sold.order, sold.item] += sold.count
    there = stock_of(notes)
    found: dict[str, OpenOrder] = {}
    for order in sorted(orders, key=lambda one: one.due):
        left = {item: count - handed[order.mark, item] for item, count in order.items.items()}
        left = {item: count for item, count in left.items() if count > 0}
        to_make: dict[str, int] = {}
        for item, count in left.items():
            taken = min(count, there.get(item, 0))
            there[item] = there.get(item, 0) - taken
            if count > taken:
                to_make[item] = count - taken
        if left:
            found[order.mark] = OpenOrder(order=order, to_hand_over=left, to_make=to_make)
    return tuple(found[order.mark] for order in orders if order.mark in found)


def totals(notes: Notes) -> tuple[Total, ...]:
    """Return what was made of each item, then what was sold of each in each way, by name."""
    made: Counter[str] = Counter()
    for one in notes.made:
        made[one.item] += one.count
    sold: Counter[tuple[str, str]] = Counter()
    money: dict[tuple[str, str], Decimal] = {}
    for sale in notes.sold:
        key = sale.item, sale.channel
        sold[key] += sale.count
        money[key] = money.get(key, Decimal(0)) + sale.count * Decimal(repr(sale.price))
    return (
        *(Total(item=item, count=count) for item, count in sorted(made.items())),
        *(
            Total(item=item, channel=channel, count=count, money=money[item, channel])
            for (item, channel), count in sorted(sold.items())
        ),
    )


def note_text(kind: str, values: Mapping[str, date | str | int | float | None]) -> str:
    """Return a note as lines of TOML, without the keys that are None."""
    lines = [f"{key} = {toml_value(value)}" for key, value in values.items() if value is not None]
    return "\n".join([f"[[{kind}]]", *lines]) + "\n"


def added(data: bytes, text: str, *, name: str) -> bytes:
    """Return a file of notes with another note at its end; without data it begins one. Raises InputError with every
    mistake in the file, before and after.
    """
    if data:
        notes_of(parse_source(data, name=name))
    old = data or _HEAD.encode()
    new = old + (b"" if old.endswith(b"\n") else b"\n") + b"\n" + text.encode()
    notes_of(parse_source(new, name=name))
    return new


def add_note(path: Path, text: str) -> None:
    """Add a note to a file, or begin one. Raises InputError, with the file as it was, for mistakes in it."""
    change_file(path, lambda old: added(old, text, name=str(path)))
