"""Chooses the counts that a job leaves open: what brings most from its wood and its hours, and can really be made.

1. what one of each item brings and costs by itself (`worth.py`), and how many at most there can be;
2. ways to lay out single boards, each real and held (`boards.py`), and the mix of them that leaves most
   (`programme.py`); a bound on any choice (`bound.py`);
3. the job with the chosen counts is laid out, held and cut as a whole. Where it does not fit, or takes more hours than
   there are, these counts and all larger ones are refused and the next best are tried; from the third time on the parts
   must take less and less of the wood. What was made is then improved: by its own boards as further columns, and by a
   little more than the columns hold, as the search of the whole job often finds room for it. The number of tries is
   fixed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from cutjob.choosing.boards import Bench, Kind, first_columns, grown, kinds_of, sets_of
from cutjob.choosing.bound import cutting_cost, rates_of, relaxed
from cutjob.choosing.pieces import Piece, given_by, items_with, least_seconds, pieces_of
from cutjob.choosing.programme import Column, Line, Mix, Programme, Stick, best_mix
from cutjob.choosing.worth import Spent, board_cost, brings, own_costs, stated_offers, unpriced, wished_offer
from cutjob.costs.account import Account
from cutjob.costs.chosen import HOURS_NOISE, Chosen, ChosenItem, Offer, hours_of, sale_of
from cutjob.designs.evaluate import MOST_PARTS
from cutjob.errors import InputError, Problem
from cutjob.files.read_toml import problem_at
from cutjob.job.job import Job
from cutjob.job.model import MOST_OF_ONE, OpenCount, RodStock, StripStock
from cutjob.layout.layout import BoardLayout
from cutjob.parts.part import Item, Section
from cutjob.resolved import ResolvedJob, ResolvedWood, with_counts
from cutjob.result import JobResult
from cutjob.stages import Effort, Stop
from cutjob.sticks.lists import as_known, same_section, stick_lists

_TRIES: dict[Effort, int] = {"quick": 9, "normal": 12, "best": 20}
# Tries that may fail once a choice is made. They take longest: many ways to hold are tried before one is given up.
_MISSES: dict[Effort, int] = {"quick": 1, "normal": 3, "best": 6}
_LEAST_BETTER = 0.005  # share by which a mix must leave more than what is made, for another try
_MORE = 0.05  # share of room more, where a choice is improved
_LEAST_MORE = 0.02  # where less would be asked for, the same room is filled with another mix
_AS_FULL = 2  # tries with the parts as close as the mix has them
_LESS = (0.97, 0.94, 0.9, 0.85, 0.78, 0.7, 0.6, 0.5, 0.4, 0.3)  # shares of the first mix's area, one try each
_MOST_SHORT = 200  # mixes that need more sticks than there are
_PLENTY = 1_000_000  # sticks of which nobody says how many there are


class Worked(Protocol):
    """A job worked out."""

    @property
    def job(self) -> JobResult:
        """Its results."""


W = TypeVar("W", bound=Worked)
# Works a job with plain counts out; its result gets what the function makes of its account.
Work = Callable[[ResolvedJob, Callable[[Account], Chosen]], W]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What a choice is made from: the woods that have boards, the programme with its columns, its pieces and kinds of
    board, how the items are sold, the bound, and the room that one of each item takes, mm2.
    """

    resolved: ResolvedJob
    woods: tuple[ResolvedWood, ...]
    pieces: tuple[Piece, ...]
    kinds: tuple[Kind, ...]
    programme: Programme
    offers: Mapping[str, Offer]
    bound: float
    areas: tuple[float, ...]
    limit: float | None

    def counts_of(self, mix: Mix) -> dict[str, int]:
        """A mix by the names of the items."""
        return {line.name: count for line, count in zip(self.programme.lines, mix.counts, strict=True)}


def choose(question: Question, work: Work[W], *, effort: Effort) -> W:
    """Return the job with the counts that bring most, worked out. Raises InputError where nothing can be made, or where
    nothing brings more than it costs.
    """
    refused: list[tuple[int, ...]] = []
    done: list[tuple[int, ...]] = []
    best: W | None = None
    last: InputError | None = None
    full, misses, hours, more = 0.0, 0, question.programme.hours, _MORE
    beyond = 0  # misses once something was made
    for tried in range(1, _TRIES[effort] + 1):
        programme = replace(question.programme, hours=hours)
        mix = _next_mix(question, programme, refused, _less_area(question, misses, full))
        further = best is not None and (mix is None or mix.counts in done or not _is_better(mix, best))
        if further and best is not None:
            mix = _a_little_more(question, best, refused, more)
        if mix is None or mix.counts in done:
            break
        if not any(mix.counts):
            if last is None and not refused:
                raise InputError(_nothing_pays(question))
            break
        full = full or sum(area * count for area, count in zip(question.areas, mix.counts, strict=True))
        try:
            made = _made(question, work, question.counts_of(mix), tried=tried)
        except InputError as error:
            refused.append(mix.counts)
            last, misses, beyond = error, misses + (best is None), beyond + (best is not None)
            if beyond >= _MISSES[effort]:
                break
            if further:
                more = more / 2 if more > _LEAST_MORE else 0.0
            continue
        over = _over(made.job, question.limit)
        if over > 1:
            refused.append(mix.counts)
            hours /= over
            continue
        done.append(mix.counts)
        if best is None or _leaves(made) > _leaves(best):
            best = made
        search = made.job.search
        if search is not None and search.stopped:
            break
        question = _with_made(question, made.job)
    return best if best is not None else _the_least(question, work, last)


def _a_little_more(question: Question, made: Worked, refused: Sequence[tuple[int, ...]], share: float) -> Mix | None:
    """The mix that leaves most where parts may take a share more room than those made, whatever boards they lie on;
    None where it leaves no more. A layout of all boards together often holds more than boards laid out one by one.
    """
    chosen = made.job.chosen
    assert chosen is not None
    counts = [one.count for one in chosen.items]
    room = sum(area * count for area, count in zip(question.areas, counts, strict=True))
    if not room:
        return None
    own = sum(line.leaves * count for line, count in zip(question.programme.lines, counts, strict=True))
    hands = sum(line.by_hand * count for line, count in zip(question.programme.lines, counts, strict=True))
    # What boards and sticks cost and take, spread over the room of the parts.
    cost, hours = max(0.0, own - _leaves(made)) / room, max(0.0, float(chosen.by_hand) - hands) / room
    lines = [
        replace(line, leaves=line.leaves - cost * area, by_hand=line.by_hand + hours * area, needs=())
        for line, area in zip(question.programme.lines, question.areas, strict=True)
    ]
    loose = replace(question.programme, lines=tuple(lines), boards=(), columns=())
    mix = _next_mix(question, loose, list(refused), (question.areas, room * (1 + share)))
    return mix if mix is not None and _is_better(mix, made) else None


def _leaves(made: Worked) -> float:
    assert made.job.chosen is not None
    return float(made.job.chosen.leaves)


def _is_better(mix: Mix, made: Worked) -> bool:
    return mix.leaves > _leaves(made) + _LEAST_BETTER * abs(_leaves(made))


def _with_made(question: Question, job: JobResult) -> Question:
    """The question with the boards of a job that was made as further columns: where they hold more than those so far,
    there is wood for more.
    """
    found = [column for board in job.layout.boards for column in _columns_of(question, board, job)]
    return replace(question, programme=question.programme.with_columns(found))


def _columns_of(question: Question, board: BoardLayout, job: JobResult) -> Iterator[Column]:
    """The column of a board, where all that lies on it is known and nothing was sawn off it first."""
    for number, kind in enumerate(question.kinds):
        wood = question.woods[kind.wood]
        if wood.boards[kind.place].name != board.board.name or board.board.sawn_off:
            continue
        single = replace(job.layout, boards=(replace(board, copies=1),), sawn=(), sawn_from=(), saw_order=())
        gives = [count // board.stack for count in given_by(single, question.pieces)]
        laid = sum(count * len(piece.shaped) for count, piece in zip(gives, question.pieces, strict=True))
        if laid < len(board.placements):
            continue
        items = items_with(wood, question.pieces, [count * board.stack for count in gives])
        left = [
            replace(one.leftover, board=replace(one.leftover.board, count=board.stack))
            for one in job.leftovers
            if one.leftover.layout == board.id
        ]
        spent = board_cost(wood, items, single, job.programs_of(board), left)
        yield Column(
            board=number,
            gives=tuple(map(float, gives)),
            cost=spent.money / board.stack,
            by_hand=spent.by_hand / board.stack,
            machine=spent.machine / board.stack,
        )


def _made(question: Question, work: Work[W], counts: Mapping[str, int], *, tried: int) -> W:
    def judged(account: Account) -> Chosen:
        by_hand, machine = hours_of(account)
        open_counts = question.resolved.open_counts
        return Chosen(
            items=tuple(
                ChosenItem(
                    name=name,
                    count=count,
                    open=name in open_counts,
                    offer=question.offers[name],
                    sale=sale_of(account, name, question.offers[name]),
                )
                for name, count in counts.items()
            ),
            bound=question.bound,
            by_hand=by_hand,
            machine=machine,
            limit=question.limit,
            laid_out=len(question.programme.columns),
            tried=tried,
        )

    return work(with_counts(question.resolved, counts), judged)


def _less_area(question: Question, misses: int, full: float) -> tuple[Sequence[float], float] | None:
    """The greatest area of the parts in a try, after those that did not fit."""
    if misses < _AS_FULL or not full:
        return None
    return question.areas, full * _LESS[min(misses - _AS_FULL, len(_LESS) - 1)]


def _next_mix(
    question: Question,
    programme: Programme,
    refused: list[tuple[int, ...]],
    within: tuple[Sequence[float], float] | None,
) -> Mix | None:
    """The best mix for which there are sticks enough; those that lack any are added to the `refused` ones."""
    for _ in range(_MOST_SHORT):
        mix = best_mix(programme, refused=refused, within=within)
        if mix is None or not _lacks_sticks(question, mix):
            return mix
        refused.append(mix.counts)
    return None


def _lacks_sticks(question: Question, mix: Mix) -> bool:
    counts, job = question.counts_of(mix), question.resolved.job
    items = [replace(item, count=counts[item.name]) for item in question.resolved.items if counts[item.name]]
    sticks = _sticks_of(job)
    counted = {one.name for one in sticks if "count" in one.model_fields_set}
    lists = stick_lists(items, sticks, saw_kerf=question.resolved.machine.saw_kerf, end_trim=job.file.end_trim)
    return any(name in counted for one in lists for name in one.to_add)


def _over(job: JobResult, limit: float | None) -> float:
    """How many times the limit the hours of a job are; 1 or less where they are within it."""
    if limit is None or job.account is None:
        return 1.0
    return (float(max(hours_of(job.account))) - HOURS_NOISE) / limit


def _nothing_pays(question: Question) -> Problem:
    return _of_first_open(
        question.resolved,
        "nothing is worth making: at these prices each item brings less than its work and its wood cost",
        "see cutjob price with plain counts, and raise prices, or write a plain count",
    )


def _of_first_open(resolved: ResolvedJob, message: str, advice: str) -> Problem:
    """A problem at the first count that is left open."""
    index = next(i for i, make in enumerate(resolved.job.file.make) if isinstance(make.count, OpenCount))
    return problem_at(resolved.job.source, ("make", index, "count"), message, advice=advice)


def _the_least(question: Question, work: Work[W], last: InputError | None) -> W:
    """The job with its least counts, which is all that is left to try."""
    least = {line.name: line.least for line in question.programme.lines}
    if not any(least.values()):
        why = "takes more hours than there are" if last is None else f"did not fit: {last.problems[0].message}"
        message = f"no choice was found that can be made as a whole; the last one that was tried {why}"
        raise InputError(_of_first_open(question.resolved, message, "try --effort best, or give the counts a most"))
    made = _made(question, work, least, tried=_TRIES["best"])
    over = _over(made.job, question.limit)
    if over > 1:
        resolved = question.resolved
        raise InputError(
            Problem(
                message=f"the least that the counts ask for takes {over * (question.limit or 0.0):.1f} hours, more "
                f"than the {question.limit:.1f} there are",
                advice="give more hours, or lower least",
                place="hours",
                location=resolved.job.source.at(("hours",)),
            )
        )
    return made


def question_of(resolved: ResolvedJob, *, seed: int, effort: Effort, stop: Stop | None = None) -> Question:
    """Return what the counts of a job are chosen from. Raises InputError for an open count whose item has no price, or
    fits no board, or that nothing limits.
    """
    job, woods = resolved.job, tuple(wood for wood in resolved.woods if wood.boards)
    problems = list(unpriced(job, resolved.open_counts))
    if problems:
        raise InputError(problems)
    pieces, kinds = pieces_of(woods), kinds_of(woods)
    bench = Bench(woods, pieces, kinds, seed=seed, effort=effort, stop=stop)
    bench.refuse_too_large(range(len(pieces)))
    own, offers = own_costs(resolved), dict(stated_offers(job))
    week = sum(job.shop.file.week.minutes) / 60
    limit = None if job.file.hours is None else job.file.hours.hours(week)
    sections = _sections(resolved.items)
    room = [sum(kind.room * kind.count for kind in kinds if kind.wood == index) for index in range(len(woods))]
    lines = tuple(_lines(resolved, own, pieces, sections, room=room, limit=limit))
    programme = Programme(
        lines=lines,
        boards=tuple(kind.count for kind in kinds),
        columns=(),
        sticks=tuple(_sticks(resolved, sections)),
        hours=math.inf if limit is None else limit,
    )
    sets = sets_of(programme, pieces)
    sets.sort(key=lambda one: sum(piece.padded * need for piece, need in zip(pieces, one.needs, strict=True)))
    columns, parted = first_columns(bench, sets)
    programme = programme.with_columns(columns)
    offers |= _wished(resolved, programme, own, pieces, [line for line in lines if line.name not in offers])
    programme = replace(
        programme,
        lines=tuple(
            replace(line, leaves=brings(job, offers[line.name]) - own[line.name].money) for line in programme.lines
        ),
    )
    rates = rates_of(job.shop)
    costs = [cutting_cost(least_seconds(piece, woods[piece.wood]), rates) for piece in pieces]
    programme = grown(programme, bench, parted, costs=costs)
    outer = best_mix(relaxed(programme, woods, pieces, kinds, job.shop))
    if outer is None:
        raise InputError(list(_impossible(resolved, relaxed(programme, woods, pieces, kinds, job.shop))))
    return Question(
        resolved=resolved,
        woods=woods,
        pieces=pieces,
        kinds=kinds,
        programme=programme,
        offers=offers,
        bound=outer.bound,
        areas=tuple(
            sum(bench.size_of(one.needs) for one in sets if one.line == number) for number in range(len(lines))
        ),
        limit=limit,
    )


def _lines(
    resolved: ResolvedJob,
    own: Mapping[str, Spent],
    pieces: Sequence[Piece],
    sections: Sequence[Section],
    *,
    room: Sequence[float],
    limit: float | None,
) -> Iterator[Line]:
    """A line for each item, with what it leaves still open. `room` is the area of each wood, mm2."""
    kerf, job = resolved.machine.saw_kerf, resolved.job
    long = {
        section: sum(one.length * one.count for one in _sticks_of(job) if same_section(one.section, section))
        for section in _counted(resolved, sections)
    }
    problems: list[Problem] = []
    open_counts = resolved.open_counts
    for item in resolved.items:
        needs = tuple(float(piece.per_item) if piece.item == item.name else 0.0 for piece in pieces)
        sticks = tuple(
            sum(part.length + kerf for part in item.build.sticks if as_known(part.section, sections) == section)
            for section in sections
        )
        areas = [
            sum(piece.padded * need for piece, need in zip(pieces, needs, strict=True) if piece.wood == index)
            for index in range(len(room))
        ]
        asked = open_counts.get(item.name, OpenCount(least=item.count, most=item.count))
        limits = [whole / area for whole, area in zip(room, areas, strict=True) if area]
        limits += [
            long[section] / length
            for section, length in zip(sections, sticks, strict=True)
            if length and section in long
        ]
        limits += [limit / own[item.name].by_hand] if limit is not None and own[item.name].by_hand else []
        if not limits and asked.most is None:
            problems.append(_unlimited(resolved, item))
            continue
        limits += [float(MOST_OF_ONE), MOST_PARTS / max(1, len(item.build.shaped))]
        limits += [] if asked.most is None else [float(asked.most)]
        yield Line(
            name=item.name,
            leaves=0.0,
            by_hand=own[item.name].by_hand,
            machine=own[item.name].machine,
            needs=needs,
            sticks=sticks,
            least=asked.least,
            most=max(asked.least, int(min(limits))),
        )
    if problems:
        raise InputError(problems)


def _unlimited(resolved: ResolvedJob, item: Item) -> Problem:
    index = next(i for i, make in enumerate(resolved.job.file.make) if make.name == item.name)
    return Problem(
        message="nothing limits how many: it is cut from no board, and of its rods and strips no count is given",
        advice="write { most = 12 }, or give the rods and strips their count, or the job its hours",
        place=f'make "{item.name}": count',
        location=resolved.job.source.at(("make", index, "count")),
    )


def _sticks_of(job: Job) -> list[RodStock | StripStock]:
    return [*job.rods, *job.strips]


def _sections(items: Sequence[Item]) -> list[Section]:
    """The sections of all rods and strips."""
    found: list[Section] = []
    for item in items:
        for part in item.build.sticks:
            if as_known(part.section, found) not in found:
                found.append(part.section)
    return found


def _counted(resolved: ResolvedJob, sections: Sequence[Section]) -> list[Section]:
    """The sections of which there are sticks, all with a count."""
    found = []
    for section in sections:
        there = [one for one in _sticks_of(resolved.job) if same_section(one.section, section)]
        if there and all("count" in one.model_fields_set for one in there):
            found.append(section)
    return found


def _sticks(resolved: ResolvedJob, sections: Sequence[Section]) -> Iterator[Stick]:
    """The sticks of every section; as many as needed where no count is given."""
    job, rates = resolved.job, rates_of(resolved.job.shop)
    counted = _counted(resolved, sections)
    for number, section in enumerate(sections):
        for one in _sticks_of(job):
            if same_section(one.section, section):
                yield Stick(
                    section=number,
                    length=max(0.0, one.length - job.file.end_trim) + resolved.machine.saw_kerf,
                    count=one.count if section in counted else _PLENTY,
                    cost=(one.price or 0.0) * rates.material * rates.made,
                )


def _wished(
    resolved: ResolvedJob,
    programme: Programme,
    own: Mapping[str, Spent],
    pieces: Sequence[Piece],
    lines: Sequence[Line],
) -> dict[str, Offer]:
    """The offers of items without a stated price: for their cost on boards of their own, and sticks by length."""
    rate: dict[int, float] = {}
    for column in programme.columns:
        area = sum(piece.area * count for piece, count in zip(pieces, column.gives, strict=True))
        wood = next(piece.wood for piece, count in zip(pieces, column.gives, strict=True) if count)
        rate[wood] = min(rate.get(wood, math.inf), column.cost / area)
    found = {}
    for line in lines:
        cost = own[line.name].money + sum(
            piece.area * need * rate.get(piece.wood, 0.0) for piece, need in zip(pieces, line.needs, strict=True)
        )
        cost += sum(
            length * min(one.cost / one.length for one in programme.sticks if one.section == section)
            for section, length in enumerate(line.sticks)
            if length and any(one.section == section for one in programme.sticks)
        )
        found[line.name] = wished_offer(resolved.job, cost)
    return found


def _impossible(resolved: ResolvedJob, outer: Programme) -> Iterator[Problem]:
    """The problem of least counts that the wood, the sticks or the hours can't give, with how many they could."""
    places = {make.name: index for index, make in enumerate(resolved.job.file.make)}
    of = "the wood and the hours are" if math.isfinite(outer.hours) else "the wood is"
    several = []
    for line in outer.lines:
        if not line.least:
            continue
        alone = [replace(one, least=0, most=line.least if one is line else 0, leaves=1.0) for one in outer.lines]
        mix = best_mix(
            replace(outer, lines=tuple(alone), columns=tuple(replace(one, cost=0.0) for one in outer.columns))
        )
        number = 0 if mix is None else sum(mix.counts)
        several.append(line)
        if number < line.least:
            yield Problem(
                message=f"{line.least} of it can't be made: {of} enough for {number} at most",
                advice="lower it, or add boards",
                place=f'make "{line.name}": count',
                location=resolved.job.source.at(("make", places[line.name], "count")),
            )
            return
    names = ", ".join(f"{line.least} {line.name}" for line in several)
    yield Problem(
        message=f"{names} can't be made together: {of} not enough",
        advice="lower a count, or add boards",
        place="make",
        location=resolved.job.source.at(("make", places[several[-1].name], "count")),
    )
