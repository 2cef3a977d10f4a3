"""Counts left open, chosen and made: against every choice of a small job, within hours and sticks; and as plain."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import product
from pathlib import Path
from types import SimpleNamespace

import pytest

from cutjob.choosing.bound import relaxed
from cutjob.choosing.choose import Question, choose, question_of
from cutjob.choosing.programme import best_mix
from cutjob.costs.chosen import Chosen, ChosenItem, hours_of, sale_of
from cutjob.costs.prices import Sale
from cutjob.errors import InputError, Problem
from cutjob.making import WorkedOut, make_job, work_out
from cutjob.resolved import ResolvedJob, read_order, resolve, with_counts
from tests.choosing.jobs import SHOP, job_in

_GCODE = frozenset({"gcode"})
_CENT = 0.01

TWO = {"length": "330", "disc_price": "7.60", "plate_price": "3.50"}
DOWELS = """
[[rod]]
name = "8 mm dowel"
diameter = 8
length = 100
count = {count}
price = 0.20
"""


def resolved_in(folder: Path, **changes: str) -> ResolvedJob:
    return resolve(*read_order(job_in(folder, **changes)))


def worked(resolved: ResolvedJob) -> WorkedOut:
    return work_out(resolved, effort="quick", only=_GCODE)


def chosen_of(made: WorkedOut) -> Chosen:
    assert made.proof.passed
    assert made.job.chosen is not None
    return made.job.chosen


def counts(chosen: Chosen) -> dict[str, int]:
    return {one.name: one.count for one in chosen.items}


def best_of_all(resolved: ResolvedJob, chosen: Chosen, most: tuple[int, int]) -> tuple[float, dict[str, int]]:
    """What leaves most of all counts that the search can lay out, each made and costed as a job of its own."""
    offers = {one.name: one.offer for one in chosen.items}
    limit = resolved.job.file.hours
    best: tuple[float, dict[str, int]] = (0.0, {})
    refused: list[tuple[int, int]] = []
    for pair in product(range(most[0] + 1), range(most[1] + 1)):
        if pair == (0, 0) or any(a <= pair[0] and b <= pair[1] for a, b in refused):
            continue
        some = dict(zip(("disc", "plate"), pair, strict=True))
        try:
            made = worked(with_counts(resolved, some))
        except InputError:
            refused.append(pair)
            continue
        account = made.job.account
        assert account is not None
        if limit is not None and max(hours_of(account)) > limit.hours(0):
            continue
        sales = [(item.count, sale_of(account, item.name, offers[item.name])) for item in made.job.items]
        leaves = sum(count * float(sale.leaves) for count, sale in sales if sale is not None)
        best = max(best, (leaves, some), key=lambda one: one[0])
    return best


@pytest.mark.parametrize("changes", [{}, TWO, {**TWO, "top": "hours = 0.4"}, {"length": "250", "disc_price": "9"}])
def test_it_is_the_best_of_every_choice(tmp_path: Path, changes: dict[str, str]) -> None:
    resolved = resolved_in(tmp_path, **changes)
    chosen = chosen_of(worked(resolved))
    leaves, _ = best_of_all(resolved, chosen, (3, 8))
    assert float(chosen.leaves) == pytest.approx(leaves, abs=_CENT)
    assert chosen.bound >= leaves


def test_hours_limit_it(tmp_path: Path) -> None:
    free = chosen_of(worked(resolved_in(tmp_path, boards="3")))
    limit = float(free.by_hand) / 2
    chosen = chosen_of(worked(resolved_in(tmp_path, boards="3", top=f"hours = {limit}")))
    assert max(chosen.by_hand, chosen.machine) <= limit + 1e-6
    assert 0 < chosen.leaves < free.leaves
    assert chosen.bound < free.bound


def test_weeks_are_those_of_the_shop(tmp_path: Path) -> None:
    chosen = chosen_of(worked(resolved_in(tmp_path, top='hours = "0.01 weeks"')))
    assert chosen.limit == pytest.approx(0.3)  # five days of six hours, the usual ones


def test_limits_of_counts_are_kept(tmp_path: Path) -> None:
    chosen = chosen_of(worked(resolved_in(tmp_path, disc="{ least = 1 }", plate="{ most = 2 }")))
    assert counts(chosen)["disc"] >= 1
    assert counts(chosen)["plate"] <= 2


def test_plain_counts_stay_and_take_their_wood(tmp_path: Path) -> None:
    chosen = chosen_of(worked(resolved_in(tmp_path, disc="1")))
    alone = chosen_of(worked(resolved_in(tmp_path, disc="0")))
    assert counts(chosen)["disc"] == 1
    assert [one.open for one in chosen.items] == [False, True]
    assert counts(chosen)["plate"] < counts(alone)["plate"]


def test_what_is_left_out_is_not_made(tmp_path: Path) -> None:
    made = worked(resolved_in(tmp_path, disc="{ least = 0 }", disc_price="0.10"))
    assert counts(chosen_of(made))["disc"] == 0
    assert [item.name for item in made.job.items] == ["plate"]


LARGE_JOB = """
title = "Wind stacks"
units = "in"
machine = "bench-router"
board_held_by = "tape"

[[make]]
name = "wind stack"
design = "graded-stack"
size = "medium"
count = "as many as fit"
with = { base = [] }

[[board]]
name = "half a picket"
length = "35"
width = "5 1/2"
thickness = "5/8"
material = "softwood"
count = 3
price = 1.70
"""


def test_an_item_that_no_single_board_holds_is_made_of_several(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(LARGE_JOB, encoding="utf-8")
    (tmp_path / "shop.toml").write_text(SHOP, encoding="utf-8")
    resolved = resolve(*read_order(job))
    question = question_of(resolved, seed=0, effort="quick")
    assert all(any(column.gives[piece] for column in question.programme.columns) for piece in range(8))
    made = worked(resolved)
    count = counts(chosen_of(made))["wind stack"]
    assert count >= 1
    assert chosen_of(made).leaves > 0
    with pytest.raises(InputError):
        worked(with_counts(resolved, {"wind stack": count + 1}))


ROD_JOB = """
title = "Rods"
units = "mm"
machine = "bench-router"

[[make]]
name = "hanger"
design = "bundle"
size = "small"
count = "as many as fit"
price = 20
with = {{ of = "strips", star_tips = 0, width = 20, strip = 8 }}

[[strip]]
name = "batten"
width = 20
thickness = 8
length = 2000
{count}
price = 1.10
"""


def test_sticks_limit_it_where_their_count_is_given(tmp_path: Path) -> None:
    job = tmp_path / "rods.toml"
    job.write_text(ROD_JOB.format(count="count = 2"), encoding="utf-8")
    made = worked(resolve(*read_order(job)))
    number = chosen_of(made).items[0].count
    assert number > 0
    assert not any("more of batten needed" in warning for warning in made.job.warnings)
    more = worked(resolve(*read_order(_plain(job, number + 1))))
    assert any("more of batten needed" in warning for warning in more.job.warnings)


def _plain(job: Path, count: int) -> Path:
    path = job.with_name("plain.toml")
    path.write_text(job.read_text(encoding="utf-8").replace('"as many as fit"', str(count)), encoding="utf-8")
    return path


def test_something_must_limit_it(tmp_path: Path) -> None:
    job = tmp_path / "rods.toml"
    job.write_text(ROD_JOB.format(count=""), encoding="utf-8")
    with pytest.raises(InputError, match=r'rods.toml:10: make "hanger": count: nothing limits how many.*most = 12'):
        worked(resolve(*read_order(job)))


def test_the_plain_job_gives_the_same_files(tmp_path: Path) -> None:
    (tmp_path / "open").mkdir()
    (tmp_path / "plain").mkdir()
    made = make_job(job_in(tmp_path / "open", **TWO), out=tmp_path / "a", effort="quick")
    assert made.job.chosen is not None
    decided = {name: str(count) for name, count in counts(made.job.chosen).items()}
    plain = make_job(job_in(tmp_path / "plain", **(TWO | decided)), out=tmp_path / "b", effort="quick")
    assert made.plan["chosen"]
    assert "chosen" not in plain.plan
    assert [(one["name"], one["count"]) for one in made.plan["items"]] == [
        (name, count) for name, count in counts(made.job.chosen).items() if count
    ]
    own = {"plan.json", "job-sheet.html"}
    assert made.files.keys() == plain.files.keys()
    assert all(made.files[name] == plain.files[name] for name in made.files.keys() - own)


def test_the_same_job_gives_the_same_bytes(tmp_path: Path) -> None:
    job = job_in(tmp_path, **TWO)
    first, second = (make_job(job, out=tmp_path / "out", effort="quick").files for _ in range(2))
    assert first == second


def test_columns_are_real_and_cost_what_the_account_says(tmp_path: Path) -> None:
    """One board laid out in one way, made as a job: the mix leaves what the account of the job does."""
    resolved = resolved_in(tmp_path, **TWO)
    question = question_of(resolved, seed=0, effort="quick")
    mix = best_mix(question.programme)
    made = chosen_of(worked(resolved))
    assert mix is not None
    assert counts(made) == question.counts_of(mix)
    # The search of the whole job may lay the board out in another way, with other moves of the cutter.
    assert mix.leaves == pytest.approx(float(made.leaves), rel=0.03)


def test_no_column_passes_the_bound(tmp_path: Path) -> None:
    """Each column is within a whole board's area and length, and costs no less than the bound has it."""
    resolved = resolved_in(tmp_path, **TWO, boards="2")
    question = question_of(resolved, seed=0, effort="quick")
    woods, shop = resolved.woods, resolved.job.shop
    outer = relaxed(question.programme, woods, question.pieces, question.kinds, shop)
    best = best_mix(outer)
    assert best is not None
    for column in question.programme.columns:
        lines = [replace(line, least=0, most=int(sum(column.gives))) for line in question.programme.lines]
        one = replace(question.programme, lines=tuple(lines), columns=(column,), boards=(1,))
        inner = best_mix(one)
        above = best_mix(
            replace(
                outer,
                lines=tuple(
                    replace(line, least=0, most=most.most) for line, most in zip(outer.lines, lines, strict=True)
                ),
                boards=(1,),
            )
        )
        assert inner is not None
        assert above is not None
        assert above.leaves >= inner.leaves - _CENT


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            {"plate_price": "3.50", "disc": "{ least = 40 }"},
            r"job.toml:1\d: make \"disc\": count: 40 of it can't be made: ",
        ),
        ({"disc_price": "0.50", "plate_price": "0.40"}, r"nothing is worth making: at these prices"),
        ({"top": "hours = 0.01", "disc": "{ least = 1 }"}, r"the wood and the hours are enough for 0 at most"),
        ({"disc": "0", "plate": "0"}, r"nothing is made: every count is 0; give one a count"),
    ],
)
def test_what_can_not_be_chosen_is_one_clear_error(tmp_path: Path, changes: dict[str, str], words: str) -> None:
    with pytest.raises(InputError, match=words) as raised:
        make_job(job_in(tmp_path, **changes), out=tmp_path / "out", effort="quick")
    assert len(raised.value.problems) == 1
    assert not (tmp_path / "out").exists()


def test_without_a_shop_file_an_item_needs_a_price(tmp_path: Path) -> None:
    job = job_in(tmp_path, shop=False)
    job.write_text(job.read_text(encoding="utf-8").replace("price = 6.00\n", ""), encoding="utf-8")
    with pytest.raises(InputError, match=r'job.toml:\d+: make "disc": count: what it sells for is not known.*price = '):
        worked(resolve(*read_order(job)))


def test_with_a_shop_file_its_margin_makes_the_price(tmp_path: Path) -> None:
    job = job_in(tmp_path)
    job.write_text(job.read_text(encoding="utf-8").replace("price = 6.00\n", ""), encoding="utf-8")
    chosen = chosen_of(worked(resolve(*read_order(job))))
    assert [one.offer.asked for one in chosen.items] == [False, True]
    assert chosen.items[0].offer.price > 0


def test_hours_of_a_plain_job_are_a_warning(tmp_path: Path) -> None:
    made = worked(resolved_in(tmp_path, disc="1", plate="1", top="hours = 0.1"))
    assert any("hours by hand, more than the 0.1 it gives" in warning for warning in made.job.warnings)
    assert not any("it gives" in warning for warning in worked(resolved_in(tmp_path, disc="1", plate="1")).job.warnings)


def made_of(question: Question, leaves: float = 5.0) -> WorkedOut:
    """A stand-in for a job that was laid out: only what `choose` reads of it."""
    sale = Sale(
        price=Decimal(6), revenue=Decimal(6), fees=Decimal(0), leaves=Decimal(leaves), margin=None, markup=None,
        per_hour=None,
    )  # fmt: skip
    items = tuple(
        ChosenItem(name=line.name, count=1, open=True, offer=question.offers[line.name], sale=sale)
        for line in question.programme.lines
    )
    chosen = Chosen(items=items, bound=9.0, by_hand=Decimal(0), machine=Decimal(0))
    layout = SimpleNamespace(boards=())
    job = SimpleNamespace(chosen=chosen, account=None, search=None, layout=layout)
    made: WorkedOut = SimpleNamespace(job=job)
    return made


@pytest.mark.parametrize("fits_from", [1, 2, 4, 6])
def test_it_steps_back_until_the_whole_fits(tmp_path: Path, fits_from: int) -> None:
    """Whatever the whole layout refuses, smaller choices follow, each with a lower count of something."""
    question = question_of(resolved_in(tmp_path, boards="3"), seed=0, effort="quick")
    tried: list[dict[str, int]] = []

    def work(plain: ResolvedJob, _: object) -> WorkedOut:
        tried.append({item.name: item.count for item in plain.items})
        if len(tried) < fits_from:
            raise InputError(Problem(message="all boards are full"))
        return made_of(question, leaves=1000.0)

    assert choose(question, work, effort="quick").job.chosen is not None
    assert len(tried) == fits_from
    for place, some in enumerate(tried):
        for before in tried[:place]:
            assert any(some.get(name, 0) < count for name, count in before.items())


def test_where_nothing_fits_the_tries_end_with_one_error(tmp_path: Path) -> None:
    question = question_of(resolved_in(tmp_path), seed=0, effort="quick")
    tries = 0

    def work(plain: ResolvedJob, _: object) -> WorkedOut:
        nonlocal tries
        tries += 1
        raise InputError(Problem(message="all boards are full"))

    with pytest.raises(InputError, match=r"no choice was found that can be made as a whole.*all boards are full"):
        choose(question, work, effort="quick")
    assert 1 <= tries <= 9
