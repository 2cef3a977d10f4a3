"""Runs mutants: spoils cases, asks the oracle and the proof, and counts by kind."""

from __future__ import annotations

import random
import zlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from tests.proof.mutants import kinds_of_harm, kinds_of_machine, kinds_of_sections, kinds_of_tabs, kinds_of_words
from tests.proof.mutants.cases import Case
from tests.proof.mutants.kinds import KINDS, Kind, Setting
from tests.proof.mutants.oracle import Oracle

_TABLES = (
    kinds_of_harm,
    kinds_of_words,
    kinds_of_machine,
    kinds_of_sections,
    kinds_of_tabs,
)  # they enter their kinds into KINDS
_TRIES = 12  # cases tried until a kind finds a place


@dataclass
class Count:
    """What became of the mutants of one kind: spoiled, mattered, caught of these, and refused though the oracle saw no
    difference; and the escapes, as text.
    """

    spoiled: int = 0
    mattered: int = 0
    caught: int = 0
    harmless_refused: int = 0
    jobs: set[str] = field(default_factory=set)
    escapes: list[str] = field(default_factory=list)


def run_kinds(
    cases: Sequence[Case],
    *,
    per_kind: int,
    seed: int,
    kinds: Iterable[Kind] = tuple(KINDS),
    told: Callable[[str], None] | None = None,
) -> dict[str, Count]:
    """Spoil cases `per_kind` times by each kind, and return what became of them, by the kind's name."""
    oracles: dict[int, Oracle] = {}
    counts = {}
    for kind in kinds:
        counts[kind.name] = count = Count()
        for number in range(per_kind):
            chance = random.Random(zlib.crc32(f"{seed} {kind.name} {number}".encode()))
            found = _spoiled(kind, cases, chance)
            if found is None:
                continue
            index, mutant = found
            if index not in oracles:
                oracles[index] = Oracle(cases[index])
            _judge(kind, cases[index], mutant, oracles[index], count, number)
        if told is not None:
            told(row(kind.name, count))
    return counts


def _spoiled(kind: Kind, cases: Sequence[Case], chance: random.Random) -> tuple[int, Case] | None:
    for _ in range(_TRIES):
        index = chance.randrange(len(cases))
        case = cases[index]
        others = tuple(one for one in cases if one.job == case.job and one is not case)
        mutant = kind.spoil(Setting(case, others, chance))
        if mutant is not None and mutant.files != case.files:
            return index, mutant
    # Few cases may have what a kind needs: they are looked through in turn.
    for index in chance.sample(range(len(cases)), len(cases)):
        case = cases[index]
        others = tuple(one for one in cases if one.job == case.job and one is not case)
        mutant = kind.spoil(Setting(case, others, chance))
        if mutant is not None and mutant.files != case.files:
            return index, mutant
    return None


def _judge(kind: Kind, case: Case, mutant: Case, oracle: Oracle, count: Count, number: int) -> None:
    count.spoiled += 1
    count.jobs.add(case.job)
    why = kind.name if kind.matters == "always" else oracle.why(mutant)
    refused = not mutant.proof().passed
    count.mattered += bool(why)
    count.caught += bool(why) and refused
    count.harmless_refused += not why and refused
    if why and not refused:
        count.escapes.append(f"{kind.name} {number}, {case.job} {case.layout.id}: {why}\n{changes(case, mutant)}")


def changes(case: Case, mutant: Case, *, most: int = 12) -> str:
    """The lines a mutant differs in, file by file."""
    told = []
    for name, lines in mutant.files.items():
        before = case.files[name]
        if lines == before:
            continue
        first = next(
            (row for row, (a, b) in enumerate(zip(before, lines, strict=False)) if a != b), min(len(before), len(lines))
        )
        back = 0
        while back < min(len(before), len(lines)) - first and before[-1 - back] == lines[-1 - back]:
            back += 1
        told.append(f"  {name}:{first + 1}")
        told += [f"    - {line}" for line in before[first : len(before) - back][:most]]
        told += [f"    + {line}" for line in lines[first : len(lines) - back][:most]]
    return "\n".join(told)


def row(name: str, count: Count) -> str:
    """A kind's line of the table."""
    share = f"{count.caught / count.mattered:7.1%}" if count.mattered else "      -"
    return (
        f"{name:<52} {count.spoiled:>7} {count.mattered:>8} {count.caught:>7} {share} {count.harmless_refused:>9}"
        f" {len(count.jobs):>5}"
    )


HEAD = f"{'kind':<52} {'spoiled':>7} {'mattered':>8} {'caught':>7} {'share':>7} {'harmless*':>9} {'jobs':>5}"


def totals(counts: dict[str, Count]) -> Count:
    """All kinds together."""
    every = Count()
    for count in counts.values():
        every.spoiled += count.spoiled
        every.mattered += count.mattered
        every.caught += count.caught
        every.harmless_refused += count.harmless_refused
        every.jobs |= count.jobs
        every.escapes += count.escapes
    return every
