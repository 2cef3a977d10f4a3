"""What was chosen to be made, as data, as a table and in words. Money is in the shop's currency."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_CEILING, Decimal

from cutjob.costs.chosen import Chosen
from cutjob.costs.money import cent_of, to_cents
from cutjob.costs.wood_used import board_shares
from cutjob.counting import counted
from cutjob.reports.money import Rows, hours_words, sum_words
from cutjob.result import JobResult


def chosen_data(result: JobResult) -> dict[str, object] | None:
    """Return what was chosen as data, money to the cent; None where no count was left open."""
    chosen, account = result.chosen, result.account
    if chosen is None or account is None:
        return None
    boards = _boards(result)
    return {
        "items": [
            {
                "name": one.name,
                "count": one.count,
                "open": one.open,
                "price": float(one.offer.price),
                "channel": one.offer.channel,
                "price_stated": one.offer.asked,
                "leaves": None if one.sale is None else float(to_cents(one.sale.leaves, account.currency)),
                "boards": boards.get(one.name, 0.0),
            }
            for one in chosen.items
        ],
        "leaves": float(to_cents(chosen.leaves, account.currency)),
        "no_more_than": float(_bound(chosen, account.currency)),
        "hours_by_hand": float(chosen.by_hand),
        "hours_machine": float(chosen.machine),
        "hours_limit": chosen.limit,
        "board_layouts": chosen.laid_out,
        "tried": chosen.tried,
    }


def chosen_words(result: JobResult) -> str:
    """Return in short what the chosen counts leave, and what none can pass; empty where no count was left open."""
    chosen, account = result.chosen, result.account
    if chosen is None or account is None:
        return ""
    shop = account.shop.file
    bound = sum_words(_bound(chosen, account.currency), shop)
    limit = "" if chosen.limit is None else f" of {hours_words(Decimal(repr(chosen.limit)))}"
    return (
        f"leaves {sum_words(chosen.leaves, shop)} {account.currency} (no plan from this wood more than {bound}), in "
        f"{hours_words(max(chosen.by_hand, chosen.machine))}{limit}"
    )


def chosen_rows(result: JobResult) -> Rows:
    """Return a row for each item: how many, at what price, what they leave, their hours, their share of boards."""
    heads = ("item", "count", "sold at", "by", "leaves each", "leaves all", "by hand", "machine", "boards")
    chosen, account = result.chosen, result.account
    if chosen is None or account is None:
        return heads, []
    shop, boards = account.shop.file, _boards(result)
    costs = {one.name: one for one in account.items}
    rows: list[tuple[str, ...]] = []
    for one in chosen.items:
        made = costs.get(one.name)
        price = sum_words(one.offer.price, shop) + ("" if one.offer.asked else " (by margin)")
        if made is None or one.sale is None:
            rows.append((one.name, "0", price, one.offer.channel, "-", "-", "-", "-", "-"))
            continue
        rows.append(
            (
                one.name,
                str(one.count) if one.open else f"{one.count} (given)",
                price,
                one.offer.channel,
                sum_words(one.sale.leaves, shop),
                sum_words(one.count * one.sale.leaves, shop),
                hours_words(one.count * made.hours),
                hours_words(one.count * made.machine_hours.value * made.made_for_one),
                f"{boards.get(one.name, 0.0):.1f}",
            )
        )
    return heads, rows


def chosen_lines(result: JobResult) -> Iterator[str]:
    """Yield what the choice comes to, why no other is much better, and what it does not count."""
    chosen, account = result.chosen, result.account
    if chosen is None or account is None:
        return
    shop = account.shop.file
    yield (
        f"all together: leaves {sum_words(chosen.leaves, shop)} {account.currency} after costs and fees when all is "
        f"sold, {_hours(chosen)}; no plan from this wood can leave more than "
        f"{sum_words(_bound(chosen, account.currency), shop)}"
    )
    used = ", ".join(f"{one.count} of {one.board.count} {one.board.name}" for one in result.boards_used)
    yield f"boards used: {used}" if used else "no boards are used"
    nth = "at the first try" if chosen.tried == 1 else f"at try {chosen.tried}"
    yield (
        f"chosen from {counted(chosen.laid_out, 'layout')} of single boards, and laid out as a whole {nth}; that no "
        "plan can leave more follows from the area and the length of the parts, which real layouts don't reach"
    )
    if any(not one.offer.asked for one in chosen.items):
        yield '"by margin": the price that the shop file\'s wanted margin gives; write price = ... to say your own'
    used_ways = {one.offer.channel for one in chosen.items if one.count}
    once = sum((Decimal(repr(one.price)) for one in result.fixed), Decimal(0))
    once += sum((Decimal(repr(one.season_costs)) for one in shop.channel if one.name in used_ways), Decimal(0))
    if once:
        yield f"not taken off: {sum_words(once, shop)} paid once, whatever is sold (a stall, templates)"


def _hours(chosen: Chosen) -> str:
    hands, machine = hours_words(chosen.by_hand), hours_words(chosen.machine)
    limit = "" if chosen.limit is None else f", of at most {hours_words(Decimal(repr(chosen.limit)))} each"
    return f"with {hands} by hand and {machine} of the machine{limit}"


def _bound(chosen: Chosen, currency: str) -> Decimal:
    """The bound, rounded up to the cent."""
    return Decimal(repr(chosen.bound)).quantize(cent_of(currency), ROUND_CEILING)


def _boards(result: JobResult) -> dict[str, float]:
    """Each item's share of the boards used, in boards."""
    used = {one.board.name: one.count for one in result.boards_used}
    found: dict[str, float] = {}
    for kind, shares in board_shares(result.layout).items():
        for item, share in shares.items():
            found[item] = found.get(item, 0.0) + share * used[kind]
    return found
