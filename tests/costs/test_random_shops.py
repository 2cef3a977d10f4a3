"""Three hundred random shops price whole jobs: every sum closes, and no price makes a loss."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

import cutjob
import cutjob.making
from cutjob.costs.prices import prices_of
from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_folder
from cutjob.files.source import parse_source
from cutjob.job.read_shop import shop_of
from cutjob.making import work_out
from cutjob.reports.money import money_data
from cutjob.result import JobResult
from tests.random_jobs.outcome import judge_money
from tests.random_jobs.shop import shop_text

_SHOPS = 100  # for each job


@cache
def worked(name: str) -> tuple[JobResult, tuple[Any, ...]]:
    """A sample worked out, and what its account was made from."""
    taken: list[tuple[Any, ...]] = []
    plain = cutjob.making._account

    def account(*given: Any) -> Any:
        taken.append(given)
        return plain(*given)

    patch = pytest.MonkeyPatch()
    patch.setattr(cutjob.making, "_account", account)
    result = work_out(cutjob.read(shipped_folder("samples") / f"{name}.toml"), effort="quick").job
    patch.undo()
    return result, taken[-1]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["garden-batch", "three-woods", "porch-rods"])
def test_every_sum_closes_in_any_shop(name: str) -> None:
    result, (resolved, *others) = worked(name)
    priced = 0
    for seed in range(2 * _SHOPS):
        if priced == _SHOPS:
            break
        try:
            shop = shop_of(parse_source(shop_text(random.Random(f"{name} {seed}")).encode(), name="shop.toml"))
        except InputError:
            continue  # fees that leave no room for the margin, or endings that its currency does not have
        own = replace(resolved, job=replace(resolved.job, shop=shop))
        account = cutjob.making._account(own, *others)
        asked = {make.name: make.price for make in own.job.file.make}
        made = replace(result, account=account, priced=prices_of(account, asked=asked))
        data = money_data(made)
        assert data is not None
        judge_money(data)
        priced += 1
    assert priced == _SHOPS
