"""A shop file: what work and wood cost there, how long work takes, and how things are sold. Money is in its currency.

`shop_usual.toml` has the figures of a shop without a file; a shop file changes single ones of them.
"""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Annotated, Any, Literal, TypeAlias, get_args

from pydantic import BeforeValidator, Field, PlainValidator, WithJsonSchema, model_validator

from cutjob.files.fields import (
    EACH_ONCE,
    CalendarDay,
    FileModel,
    KeyPath,
    MistakesError,
    Name,
    NotNegative,
    Positive,
    YesNo,
)
from cutjob.files.values import BadValue, Count, Day, Number, Text, not_a_list, shown, too_many

Work: TypeAlias = Literal[
    "program",
    "board",
    "cutter_change",
    "window",
    "saw_cut",
    "stick_cut",
    "hole",
    "bridge",
    "pattern",
    "saw_outline",
    "sand_edge",
    "sand_face",
    "glue",
    "assemble",
    "fit",
    "coat",
    "pack",
]
WORKS: tuple[Work, ...] = get_args(Work)
Covered: TypeAlias = Literal[
    "glued part", "sanded square metre", "coated square metre", "metre of edge", "part", "item"
]

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

Percent = Annotated[float, Number(0, 100)]
Below100 = Annotated[float, Number(0, 99.99)]
Minutes = Annotated[float, Number(0, 100_000)]
DayHours = Annotated[float, Number(0, 24)]
Amount = Annotated[int, Count(1, 1_000_000)]


def _currency(raw: Any) -> Any:
    """A code of ISO 4217, as the library of locales knows them."""
    if not isinstance(raw, str):
        raise BadValue(f"{shown(raw)} is not text", "put it in quotes")
    from babel.core import get_global  # the tables alone: a locale takes a tenth of a second

    code = raw.strip().upper()
    if code not in get_global("all_currencies"):
        advice = 'write its three letters of ISO 4217, such as "EUR" or "USD"'
        raise BadValue(f"{shown(raw)} is not a currency", advice)
    return code


class Pay(FileModel):
    """What an hour costs."""

    by_hand: Positive = Field(description="an hour of work by hand")
    machine: NotNegative = Field(description="an hour of the machine: power, cutters, wear")
    attended: Percent = Field(
        description="percent of the machine's time in which you do nothing else; it is paid like work by hand"
    )


class Overhead(FileModel):
    """What the shop costs without making anything, and what goes wrong."""

    monthly: NotNegative = Field(description="rent, insurance, heating, tools: for a month")
    hours: Positive = Field(description="hours of work in a month, which pay for it")
    spoilage: Below100 = Field(description="percent of the pieces that go wrong")


class Material(FileModel):
    """What counts beside the prices of wood and things bought."""

    tax: Percent = Field(description="percent on top of the prices of boards, sticks and things bought")
    offcut_value: Percent = Field(
        description="percent of a board's price, by area, that an offcut worth keeping is worth"
    )


class MinutesOfWork(FileModel):
    """Minutes of work by hand, each for one."""

    program: Minutes = Field(description="load a file and set its zero")
    board: Minutes = Field(description="lay a board down, hold it, take it off")
    cutter_change: Minutes = Field(description="change a cutter by hand")
    window: Minutes = Field(description="slide a long board on and hold it again")
    saw_cut: Minutes = Field(description="a crosscut or rip off a board")
    stick_cut: Minutes = Field(description="a piece off a rod or strip")
    hole: Minutes = Field(description="a hole drilled by hand")
    bridge: Minutes = Field(description="saw a bridge through and trim it")
    pattern: Minutes = Field(description="fix a paper pattern to the wood, or trace it")
    saw_outline: Minutes = Field(description="saw a metre of outline by hand")
    sand_edge: Minutes = Field(description="sand a metre of edge")
    sand_face: Minutes = Field(description="sand a square metre of face")
    glue: Minutes = Field(description="glue a part")
    assemble: Minutes = Field(description="put a part in its place")
    fit: Minutes = Field(description="put in a screw, a bead, a hook")
    coat: Minutes = Field(description="paint a square metre once")
    pack: Minutes = Field(description="label and pack an item")


class Timed(FileModel):
    """Work that was timed: its minutes replace those in `[minutes]`; several timings of one kind are added up."""

    work: Work = Field(description="the key of [minutes]")
    count: Positive = Field(description="how many were done: holes, parts, or metres and square metres")
    minutes: Positive = Field(description="how long they took together")
    note: Annotated[str, Text(200)] | None = None


class Paint(FileModel):
    """Coats, where a `[[make]]` does not say."""

    coats: Annotated[int, Count(0, 20)] = Field(description="number of coats")
    drying: Annotated[float, Number(0, 1000)] = Field(description="hours a coat dries: waiting, not work")
    room: Amount | None = Field(
        default=None, description="how many items can dry at once; left out: as many as there are"
    )


class Supply(FileModel):
    """Something that is used up by work, bought by pack."""

    name: Name
    price: NotNegative = Field(description="of a pack")
    covers: Positive = Field(description="how many of `of` a pack is enough for")
    of: Covered


class ShopBought(FileModel):
    """The price of things that are bought, for every job; what a job says comes first."""

    name: Name
    price: NotNegative = Field(description="of a pack")
    pack: Amount = Field(default=1, description="how many are in a pack")


_MOST_DAYS_OFF = 400  # entries
_LONGEST_OFF = 366  # days of one stretch; a longer one is a slip in a year


def _days_off(raw: Any) -> tuple[date, ...]:
    """The days of a list of days and stretches of days, each day once."""
    if not isinstance(raw, (list, tuple)):
        raise not_a_list(raw)
    if len(raw) > _MOST_DAYS_OFF:
        raise too_many(len(raw), _MOST_DAYS_OFF)
    found: dict[date, None] = {}
    seen: list[tuple[date, date]] = []
    mistakes: list[tuple[KeyPath, str]] = []
    for index, one in enumerate(raw):
        try:
            stretch = _stretch(one)
            if stretch in seen:
                raise BadValue(f"{shown(one)} is named twice", "leave one of them out")
        except BadValue as bad:
            mistakes.append(((index,), str(bad)))
            continue
        seen.append(stretch)
        first, last = stretch
        found |= dict.fromkeys(first + timedelta(days=day) for day in range((last - first).days + 1))
    if mistakes:
        raise MistakesError(mistakes)
    return tuple(found)


def _stretch(raw: Any) -> tuple[date, date]:
    """The first and the last day of `2027-03-26` or `2026-12-20 to 2027-01-03`."""
    words = raw.split(" to ") if isinstance(raw, str) else [raw]
    if len(words) > 2:
        raise BadValue(f"{shown(raw)} is not a stretch of days", 'write it as "2026-12-20 to 2027-01-03"')
    days = [Day().read(word, unit="mm") for word in words]
    if days[-1] < days[0]:
        raise BadValue(f"{shown(raw)} ends before it begins", "write the earlier day first")
    if (days[-1] - days[0]).days >= _LONGEST_OFF:
        raise BadValue(f"{shown(raw)} is longer than a year", "check the years")
    return days[0], days[-1]


class Week(FileModel):
    """When work is done: the hours of each day of the week, for work by hand and beside the machine."""

    monday: DayHours
    tuesday: DayHours
    wednesday: DayHours
    thursday: DayHours
    friday: DayHours
    saturday: DayHours
    sunday: DayHours
    days_off: Annotated[
        tuple[date, ...],
        PlainValidator(_days_off),
        WithJsonSchema(
            {
                "type": "array",
                "maxItems": _MOST_DAYS_OFF,
                "items": {
                    "anyOf": [
                        {"type": "string", "format": "date"},
                        {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2} to \d{4}-\d{2}-\d{2}$"},
                    ]
                },
            }
        ),
    ] = Field(
        default=(),
        description='days without work, such as [2027-03-26, "2027-12-20 to 2028-01-03"], with the first and the last '
        "day of each stretch",
    )
    season_ends: CalendarDay | None = Field(
        default=None, description="the last day of the season: nothing is finished or handed over after it"
    )

    @property
    def minutes(self) -> tuple[int, ...]:
        """Whole minutes of work on each day of the week, Monday first."""
        return tuple(round(getattr(self, name) * 60) for name in WEEKDAYS)

    @model_validator(mode="after")
    def _some_work(self) -> Week:
        if not any(self.minutes):
            raise MistakesError([((), "there are no hours of work on any day; give at least one day hours")])
        return self


class Wanted(FileModel):
    """What a sale is to bring."""

    margin: Below100 = Field(description="percent of the price without tax that is left after all costs and fees")
    wage: Positive = Field(description="what an hour of your work is to bring, after all other costs and fees")
    discount: Below100 = Field(description="percent off, to see what it does")


def _ending(raw: Any) -> Any:
    import re

    # "95" would end every price in 95; whoever wants that writes "95.00".
    if not isinstance(raw, str) or not re.fullmatch(r"\d{0,3}\.\d{1,3}|\d", raw.strip()):
        raise BadValue(f"{shown(raw)} is not the end of a price", 'write it like ".95", "9.00" or "5"')
    return raw.strip()


Ending = Annotated[str, BeforeValidator(_ending)]


class Channel(FileModel):
    """A way of selling, with what it takes of a price."""

    name: Name
    percentage: Percent = Field(default=0.0, description="percent of the price: commission, payment")
    fixed_fee: NotNegative = Field(default=0.0, description="for each sale")
    listing_fee: NotNegative = Field(default=0.0, description="for each thing offered")
    postage: NotNegative = Field(default=0.0, description="postage and box, for each sale, that you pay")
    tax: Annotated[float, Number(0, 100)] = Field(default=0.0, description="percent of tax on the sale")
    tax_in_price: YesNo = Field(default=True, description="true: within the price; false: on top of it")
    fee_on_tax: YesNo = Field(default=True, description="whether the percentage is taken of the tax too")
    season_costs: NotNegative = Field(default=0.0, description="paid once, whatever is sold: a stall's fee")
    postage_days: Annotated[int, Count(0, 90)] = Field(
        default=0, description="days from handing a parcel over to the day the customer has it"
    )
    endings: tuple[Ending, ...] | None = Field(
        default=None, max_length=10, description="endings of its prices; default: the shop's"
    )

    @property
    def share(self) -> Decimal:
        """The percentage as a share of the price without tax."""
        share = Decimal(repr(self.percentage)) / 100
        return share * (1 + Decimal(repr(self.tax)) / 100) if self.fee_on_tax else share

    @model_validator(mode="after")
    def _something_left(self) -> Channel:
        if self.percentage >= 100:
            raise MistakesError([(("percentage",), "a fee of 100 % leaves nothing; give less than 100")])
        return self


class ShopFile(FileModel):
    """A shop file. Keys that are missing are those of `shop_usual.toml`."""

    currency: Annotated[str, BeforeValidator(_currency)] = Field(description="three letters of ISO 4217")
    decimal_mark: Literal[".", ","] = Field(description="between whole and part of a sum of money")
    thousands_mark: Literal["", ",", ".", " ", "'"] = Field(description="between thousands")
    endings: Annotated[tuple[Ending, ...], EACH_ONCE] = Field(
        max_length=10, description="prices are rounded up to the next one that ends so; empty: to the cent"
    )
    pay: Pay
    overhead: Overhead
    material: Material
    minutes: MinutesOfWork
    timed: tuple[Timed, ...] = Field(default=(), max_length=1000)
    paint: Paint
    supply: tuple[Supply, ...] = Field(default=(), max_length=100)
    bought: tuple[ShopBought, ...] = Field(default=(), max_length=1000)
    week: Week
    wanted: Wanted
    channel: tuple[Channel, ...] = Field(min_length=1, max_length=20)

    @model_validator(mode="after")
    def _marks(self) -> ShopFile:
        if self.decimal_mark == self.thousands_mark:
            raise MistakesError([(("thousands_mark",), "it is the decimal mark too; take another one")])
        places = currency_places(self.currency)
        lists: list[tuple[KeyPath, tuple[str, ...]]] = [(("endings",), self.endings)]
        lists += [(("channel", number, "endings"), one.endings or ()) for number, one in enumerate(self.channel)]
        wrong: list[tuple[KeyPath, str]] = [
            ((*path, number), f'"{ending}" has more than {places} decimals; prices in {self.currency} have no more')
            for path, endings in lists
            for number, ending in enumerate(endings)
            if len(ending.partition(".")[2]) > places and ending.partition(".")[2].strip("0")
        ]
        if wrong:
            raise MistakesError(wrong)
        return self


def currency_places(currency: str) -> int:
    """Return the decimals of a currency of ISO 4217: 2 for euros, 0 for yen."""
    from babel.core import get_global

    fractions = get_global("currency_fractions")
    return int(fractions.get(currency, fractions["DEFAULT"])[0])
