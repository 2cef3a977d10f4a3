"""A random shop: rates, rules and ways of selling; keys are left out at random."""

from __future__ import annotations

import random

from cutjob.job.read_shop import usual_data

_ENDINGS = ["[]", '[".95"]', '[".00", ".50"]', '["9.00", "4.90"]']
_FEES = {"percentage": 30, "fixed_fee": 3, "listing_fee": 1, "postage": 9, "season_costs": 200}
_CURRENCIES = ["EUR", "USD", "GBP", "JPY", "KWD", "SEK"]


def shop_text(chance: random.Random) -> str:
    """A shop file in which a margin is always possible."""
    lines = [f'currency = "{chance.choice(_CURRENCIES)}"']
    if chance.random() < 0.5:
        lines.append(f"endings = {chance.choice(_ENDINGS)}")
    for table, least, most in (("pay", 0.5, 60.0), ("overhead", 0.5, 90.0), ("material", 0.0, 60.0)):
        lines.append(f"[{table}]")
        for key in usual_data()[table]:
            if chance.random() < 0.7:
                lines.append(f"{key} = {round(chance.uniform(least, most), chance.randint(0, 2))}")
    lines.append("[minutes]")
    lines += [f"{key} = {round(chance.uniform(0, 9), 2)}" for key in usual_data()["minutes"] if chance.random() < 0.5]
    lines += ["[paint]", f"coats = {chance.randint(0, 3)}"]
    lines += ["[wanted]", f"margin = {round(chance.uniform(0, 55), 1)}", f"wage = {round(chance.uniform(5, 60), 2)}"]
    for number in range(chance.randint(1, 3)):
        lines += ["[[channel]]", f'name = "channel {number + 1}"']
        for key, most in (
            ("percentage", 30),
            ("fixed_fee", 3),
            ("listing_fee", 1),
            ("postage", 9),
            ("season_costs", 200),
        ):
            if chance.random() < 0.5:
                lines.append(f"{key} = {round(chance.uniform(0, most), 2)}")
        if chance.random() < 0.5:
            lines += [f"tax = {chance.choice([7, 19, 8.25])}", f"tax_in_price = {chance.choice(['true', 'false'])}"]
    if chance.random() < 0.5:
        lines += ["[[supply]]", 'name = "paint"', "price = 12.5", "covers = 7", 'of = "coated square metre"']
    return "\n".join(lines) + "\n"
