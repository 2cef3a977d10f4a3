"""How a random job ends. What is neither a proven folder nor a clear refusal is a `Failed` with its reason."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cutjob.errors import InputError, Problem
from cutjob.layout.search.plan_search import POSITIONS
from cutjob.making import MakeResult, make_job
from cutjob.tolerances import TOLERANCES
from tests.random_jobs.job import RandomJob, write_random_job

# A sixtieth of the quick search: how full boards get is tested with the layouts.
_SHORT = 40_000


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """`made`, or why it was refused (`messages`), or what went wrong (`failure`)."""

    seed: int
    made: bool
    seconds: float
    messages: tuple[str, ...] = ()
    failure: str = ""

    @property
    def reasons(self) -> tuple[str, ...]:
        """The kinds of the messages: without places, names and numbers."""
        return tuple(sorted({reason_of(message) for message in self.messages}))


class UnclearError(AssertionError):
    """What no run may end in."""


@contextmanager
def short_search() -> Iterator[None]:
    """Let a layout be searched for only briefly."""
    before = POSITIONS["quick"]
    POSITIONS["quick"] = _SHORT
    try:
        yield
    finally:
        POSITIONS["quick"] = before


def outcome_of(folder: Path, seed: int) -> Outcome:
    """Write the job of a seed, make it, and judge how it ended."""
    start = time.perf_counter()
    made, messages, failure = False, (), ""
    try:
        messages = _made(write_random_job(folder, seed), folder / "out")
        made = not messages
    except UnclearError as error:
        failure = str(error)
    except Exception as error:
        failure = f"{type(error).__name__}: {error}"
    return Outcome(seed=seed, made=made, seconds=time.perf_counter() - start, messages=tuple(messages), failure=failure)


def _made(job: RandomJob, out: Path) -> tuple[str, ...]:
    """Make a job; returns the messages of a refusal, or none. Raises UnclearError for any other end."""
    stock = job.keep_offcuts
    before = stock.read_bytes() if stock is not None and stock.exists() else None
    try:
        result = make_job(
            job.path, out=out, effort="quick", seed=job.seed, only=job.only, keep_offcuts=job.keep_offcuts
        )
    except InputError as error:
        _expect(not out.exists(), "refused, but the output folder is there")
        _expect((stock.read_bytes() if stock and stock.exists() else None) == before, "refused, but the stock changed")
        _expect(len(set(error.problems)) == len(error.problems), f"one mistake told twice: {error}")
        for problem in error.problems:
            _judge_message(problem)
        return tuple(str(problem) for problem in error.problems)
    findings = "\n".join(str(finding) for finding in result.proof.findings)
    _expect(result.proof.passed, f"proof failed: {findings}")
    _judge_folder(result, out)
    litter = [path.name for path in out.parent.iterdir() if ".cutjob-" in path.name]
    _expect(not litter, f"litter: {litter}")
    if stock is not None:
        kept = stock.read_bytes()
        make_job(job.path, out=out, effort="quick", seed=job.seed, only=job.only, keep_offcuts=stock)
        _expect(stock.read_bytes() == kept, "made again, the file of stock changed")
        _judge_folder(result, out)
    return ()


def _judge_message(problem: Problem) -> None:
    text = str(problem)
    _expect(bool(problem.message.strip()), "an empty message")
    _expect(problem.advice.strip() != "", f"says not what to do: {text}")
    _expect(text.isprintable(), f"not printable: {text!r}")
    unclear = re.search(r"Traceback|\bNone\b|\bnan\b|\binf\b|Error\b|\be[-+]\d\d\b|\[\]|<[a-z]+ object", text)
    _expect(unclear is None, f"not in plain words: {text}")


def _judge_folder(result: MakeResult, out: Path) -> None:
    _expect(result.proof.worst_gouge <= TOLERANCES.acceptance, f"gouge {result.proof.worst_gouge}")
    _expect(result.proof.worst_left <= TOLERANCES.acceptance, f"left {result.proof.worst_left}")
    there = {path.relative_to(out).as_posix(): path.read_bytes() for path in out.rglob("*") if path.is_file()}
    _expect(there == result.files, "the folder holds something else than the run returned")
    plan = json.loads(there["plan.json"])
    _expect(plan["proof"]["passed"] is True, "the plan says that the proof failed")
    _expect({*plan["files"], "plan.json"} == set(there), "the plan names other files than there are")
    made = sum(len(board["placements"]) * board["stack"] * board["copies"] for board in plan["boards"])
    wanted = sum(item.count * len(item.build.shaped) for item in result.items)
    _expect(made == wanted, f"{made} parts for {wanted}")
    judge_money(plan["money"])


_COSTS = ("material", "labour", "machine", "overhead", "spoilage")
_CENT = 0.0051  # half a cent, and what plan.json rounds


def judge_money(money: dict[str, Any]) -> None:
    """Every sum closes: material and hours of their parts, costs of their shares, the batch of its items."""
    for one in money["items"]:
        name = one["name"]
        for whole, parts in (("material", "of_material"), ("hands_hours", "of_hours")):
            _expect(abs(sum(one[parts].values()) - one[whole]) < 1e-4, f"{whole} of {name} is not its parts")
        _expect(abs(sum(one[share] for share in _COSTS) - one["cost"]) < 1e-4, f"the cost of {name} is not its sum")
        _expect(all(one[share] >= -1e-6 for share in (*_COSTS, "hands_hours")), f"{name} has a cost below nothing")
        for channel in one["prices"].values():
            _expect(channel["price"] >= channel["exact"] - 1e-6, "a price below the one that was worked out")
            _expect(channel["margin"] is None or channel["margin"] > -1e-3, "a price that makes a loss")
    cent = {"JPY": 0.51, "KWD": 0.0006}.get(money["currency"], _CENT)
    for name, whole in money["batch"].items():
        each = sum(one["count"] * one[name] for one in money["items"])
        most = cent + 1e-5 * sum(one["count"] for one in money["items"])
        _expect(abs(each - whole) < most, f"the batch's {name} is {whole}, its items' {each}")


def _expect(true: bool, otherwise: str) -> None:
    if not true:
        raise UnclearError(otherwise)


def reason_of(message: str) -> str:
    """A message without the place, the names and the numbers in it."""
    text = re.sub(r"^\S*\.(toml|svg|dxf)(:\d+)*: ", "", message)
    text = re.sub(r'"[^"]*"', '"…"', text)
    text = re.sub(r"\d+( \d+/\d+|/\d+)?(\.\d+)?", "0", text)
    return re.sub(r"(0, )+0", "0", text)
