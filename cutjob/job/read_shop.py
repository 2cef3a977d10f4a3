"""Reads a shop file into a `Shop`; what the file leaves out is taken from `shop_usual.toml`, and marked as usual."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from cutjob.errors import InputError, Problem
from cutjob.files.read_toml import read_model, required
from cutjob.files.source import Source, read_source
from cutjob.job.boards import same_names
from cutjob.job.shop import ShopFile
from cutjob.remembered import remembered

USUAL = "usual figure, no source"
SHOP_FILE = "shop.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """A shop's figures, and where each comes from. `source` is its file, None where it has none."""

    file: ShopFile
    source: Source | None = None

    def said(self, *path: str | int) -> str:
        """Where a figure comes from: `shop.toml:12`, or that it is a usual one."""
        if self.source is None or path not in self.source.places:
            return USUAL
        where = self.source.at(path)
        return f"{Path(where.file).name}:{where.line}"

    @property
    def usual(self) -> tuple[str, ...]:
        """The keys of hours, minutes and wages that the file leaves out, as `pay.by_hand`; all of them where all are as
        they were printed, and nobody has timed anything.
        """
        timed = {one.work for one in self.file.timed}
        keys = [(table, key) for table in ("pay", "overhead", "minutes") for key in usual_data()[table]]
        own = self.file.model_dump()
        printed = all(own[table][key] == usual_data()[table][key] for table, key in keys)
        return tuple(
            f"{table}.{key}"
            for table, key in keys
            if (printed or self.said(table, key) == USUAL) and not (table == "minutes" and key in timed)
        )

    @property
    def usual_channels(self) -> bool:
        """Whether a shop file names no way of selling."""
        return self.source is not None and "channel" not in self.source.data


def usual_text() -> str:
    """Return the text of the shop file with the usual figures."""
    return files("cutjob.job").joinpath("shop_usual.toml").read_text(encoding="utf-8")


@cache
def usual_data() -> Mapping[str, Any]:
    """Return the usual figures as data."""
    return tomllib.loads(usual_text())


def usual_shop() -> Shop:
    """Return a shop without a file."""
    return Shop(file=ShopFile.model_validate(usual_data()))


def read_shop(path: Path) -> Shop:
    """Read a shop file. Raises InputError with every mistake in it."""
    return shop_of(read_source(path))


@remembered(most=32)
def shop_of(source: Source) -> Shop:
    """Return the shop of a file already read. Raises InputError as `read_shop` does."""
    whole = replace(source, data=_filled(source.data, usual_data()))
    twice = list(same_names(source, ("channel", "supply", "bought")))
    if twice:
        raise InputError(twice)
    shop = Shop(file=required(read_model(whole, ShopFile)), source=source)
    problems = list(_impossible(shop))
    if problems:
        raise InputError(problems)
    return shop


def _filled(given: Mapping[str, Any], usual: Mapping[str, Any]) -> dict[str, Any]:
    """The given values, with the usual ones where a key is missing; lists are never mixed."""
    filled: dict[str, Any] = {key: value for key, value in usual.items() if key not in given}
    for key, value in given.items():
        other = usual.get(key)
        both = isinstance(value, Mapping) and isinstance(other, Mapping)
        filled[key] = _filled(value, other) if both and other is not None and isinstance(value, Mapping) else value
    return filled


def _impossible(shop: Shop) -> Iterator[Problem]:
    """A problem for every channel whose fees and the wanted margin leave nothing for the costs."""
    margin = Decimal(repr(shop.file.wanted.margin))
    for index, channel in enumerate(shop.file.channel):
        if channel.share + margin / 100 < 1:
            continue
        fees = f"{Decimal(repr(channel.percentage)).normalize():f} %"
        if channel.share * 100 != Decimal(repr(channel.percentage)):
            fees += f" of the price with its {Decimal(repr(channel.tax)).normalize():f} % of tax"
        yield Problem(
            location=None if shop.source is None else shop.source.at(("channel", index, "percentage")),
            place=f'channel "{channel.name}"',
            message=f"fees of {fees} and a margin of {margin.normalize():f} % leave nothing for the costs",
            advice="lower the wanted margin, or leave this channel out",
        )
