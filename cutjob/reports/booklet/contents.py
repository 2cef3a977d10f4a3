"""A job's result to what the booklet says of one item: its sizes, wood, things to buy, parts and steps. No prices."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from cutjob.costs.finishes import Painted
from cutjob.costs.wood_used import board_shares, boards_used
from cutjob.costs.work import part_sizes
from cutjob.counting import counted
from cutjob.job.stock import Board
from cutjob.output.paper.pattern import Pattern
from cutjob.output.picture.finished import Drawing, Looks, Views, front_drawing, item_size, turned_drawing
from cutjob.parts.part import HandHole, Item, RodPart, StripPart, with_hand_holes
from cutjob.reports.assembly import AssemblyStep, as_measured, assembly
from cutjob.reports.words import finish_name, several, surfaces_words
from cutjob.result import JobResult
from cutjob.sticks.lists import section_words, sticks_of
from cutjob.units import Unit, area, format_length, spelled

_MOST_PICTURES = 10  # of steps of assembly; with more of them several steps share one
_WHOLE = 1e-9  # a share of a board that is only rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step: its heading, sentences, and a picture."""

    head: str
    words: tuple[str, ...]
    drawing: Drawing | None = None


@dataclass(frozen=True, slots=True)
class Contents:
    """What the booklet says of one item of a result; `patterns` are the templates of its parts."""

    result: JobResult
    item: Item
    views: Views
    patterns: tuple[Pattern, ...]

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        """The finished item, from the front and from the side."""
        return self.views.drawings

    @property
    def sizes(self) -> list[tuple[str, str]]:
        """Measures of the whole, each with its name."""
        unit, size = self.result.units, item_size(self.item.build)
        rows = [(name, as_measured(value, unit)) for name, value in self.item.build.facts]
        if size is None and len(self.item.build.shaped) == 1:
            x0, y0, x1, y1 = self.item.build.shaped[0].region.bounds
            size = x1 - x0, y1 - y0
        if size is not None:
            wide, high = (as_measured(value, unit) for value in size)
            rows.insert(0, ("over all", f"{high} high, {wide} wide"))
        return rows

    @property
    def to_get(self) -> list[tuple[str, str, str]]:
        """Wood and things to buy: what, for one, and for all of the batch."""
        return [*self._boards(), *self._sticks(), *self._bought(), *self._finishes(), *self._supplies()]

    def _boards(self) -> Iterator[tuple[str, str, str]]:
        """Boards by their wood: for all those that the batch takes, for one only the largest kind."""
        unit, layout = self.result.units, self.result.layout
        shares, used = board_shares(layout), boards_used(layout)
        woods: dict[tuple[float, str], list[tuple[float, Board, float]]] = {}
        for board in self.result.stock:
            share = shares.get(board.name, {}).get(self.item.name, 0.0) * used.get(board.name, 0)
            if share:
                size = abs(board.outline.signed_area)
                woods.setdefault((board.thickness, board.material), []).append((size, board, share))
        for kinds in woods.values():
            kinds.sort(key=lambda one: -one[0])
            wanted = sum(size * share for size, _, share in kinds)
            for place, (size, board, share) in enumerate(kinds):
                sides = (board.length, board.width, board.thickness)
                across = " x ".join(format_length(value, unit=unit) for value in sides)
                each, _ = self._whole(wanted / size)
                yield (
                    f"board: {board.name}, {board.material}, {across}",
                    each if place == 0 else "",
                    str(used[board.name]) if len(shares[board.name]) == 1 else self._whole(share)[1],
                )

    def _whole(self, share: float) -> tuple[str, str]:
        """Whole boards or sticks for one item and for all."""
        each = math.ceil(share / self.item.count - _WHOLE)
        return str(max(1, each)), str(max(1, math.ceil(share - _WHOLE)))

    def _sticks(self) -> Iterator[tuple[str, str, str]]:
        unit = self.result.units
        for one in self.result.sticks:
            lengths = Counter[str]()
            for setting in one.settings:
                for part in setting.parts:
                    lengths[part.item] += round(part.length * part.count * 1000)
            if not lengths[self.item.name]:
                continue
            kind = f"{section_words(one.section, unit)} {sticks_of(one.section)}"
            stocks = Counter({stick.stock: 0 for stick in one.sticks})
            for stick in one.sticks:
                stocks[stick.stock] += stick.times
            share = lengths[self.item.name] / sum(lengths.values())
            for stock, count in stocks.items():
                length = next(stick.length for stick in one.sticks if stick.stock == stock)
                what = f"{sticks_of(one.section)}: {stock}, {format_length(length, unit=unit)} long"
                yield what, *self._whole(count * share)
            if not stocks:
                whole = lengths[self.item.name] / 1000
                each = f"{format_length(whole / self.item.count, unit=unit)} in all"
                yield kind, each, f"{format_length(whole, unit=unit)} in all"

    def _bought(self) -> Iterator[tuple[str, str, str]]:
        for thing in self.item.build.bought:
            yield thing.name, str(thing.count), str(thing.count * self.item.count)

    def _finishes(self) -> Iterator[tuple[str, str, str]]:
        for one in self._painted:
            often = counted(one.coats, "coat")
            each, whole = (
                f"{spelled(area(value * 1e6), self.result.units)}, {often}"
                for value in (one.area, one.area * one.count)
            )
            yield f"finish: {finish_name(one)}", each, whole

    def _supplies(self) -> Iterator[tuple[str, str, str]]:
        build = self.item.build
        if len(build.from_boards) + len(build.sticks) > 1:
            yield "wood glue", "a little", ""
        if build.from_boards:
            yield "sandpaper", "a sheet or two, coarse and fine", ""

    @property
    def _painted(self) -> list[Painted]:
        return [one for one in self.result.finishes if one.item == self.item.name]

    @property
    def parts(self) -> list[tuple[str, str, str, str]]:
        """The parts of one item: how many, which, their size, and how they are made."""
        unit = self.result.units
        thick = part_sizes(self.result.layout)
        numbers = {pattern.part.name: pattern.number for pattern in self.patterns if pattern.item == self.item.name}
        rows: Counter[tuple[str, str, str]] = Counter()
        for part in self.item.build.shaped:
            x0, y0, x1, y1 = part.region.bounds
            sides = [x1 - x0, y1 - y0, thick.get((self.item.name, part.name), (0.0, 0.0))[0]]
            how = f"template {numbers[part.name]}" if part.name in numbers else "cut out"
            rows[part.name, _size(sides, unit), how] += 1
        for piece in self.item.build.sawn:
            deep, wide = thick.get((self.item.name, piece.name), (0.0, 0.0))
            rows[piece.name, _size([piece.length, wide, deep], unit), "sawn square off a board"] += 1
        for stick in self.item.build.sticks:
            size = f"{section_words(stick.section, unit)}, {as_measured(stick.length, unit)} long"
            rows[stick.name, size, f"sawn off a {sticks_of(stick.section)}"] += 1
        return [(str(count), name, size, how) for (name, size, how), count in rows.items()]

    @property
    def steps(self) -> list[Step]:
        """What to do, in order."""
        whole = self._whole_drawing()
        steps = [*self._sawing(), *self._cutting(), *self._drilling(), *self._sanding(), *self._assembling()]
        return [*steps, *self._painting(whole)]

    def _whole_drawing(self) -> Drawing | None:
        views = self.drawings
        return views[-1] if views else None

    def _sawing(self) -> Iterator[Step]:
        unit, sizes = self.result.units, part_sizes(self.result.layout)
        build = self.item.build
        words = []
        for piece in build.sawn:
            deep, wide = sizes.get((self.item.name, piece.name), (0.0, 0.0))
            words.append(f"{piece.name}: {_size([piece.length, wide, deep], unit)}.")
        for stick in build.sticks:
            words.append(f"{stick.name}: {as_measured(stick.length, unit)} of {_stick(stick, unit)}.")
        notes = dict.fromkeys(one.note for one in (*build.sawn, *build.sticks) if one.note)
        if words:
            more = [f"Then {'; '.join(notes)}."] if notes else []
            measure = "Square an end first, and measure each piece from the last cut, so that no kerf is forgotten."
            yield Step(head="Saw the straight pieces", words=(measure, *_shortened(words), *more))

    def _cutting(self) -> Iterator[Step]:
        build = self.item.build
        if not build.shaped:
            return
        words = [
            "Print the templates at the end of this booklet at 100 % and measure their bars. Glue pages that belong "
            "together, and stick each template on the wood with its arrow along the grain.",
            "Drill holes and openings first. Saw beside the line, in the waste, then work up to the line.",
        ]
        deep = sorted({pocket.depth for part in build.shaped for pocket in part.pockets})
        if deep:
            depths = " and ".join(format_length(one, unit=self.result.units) for one in deep)
            words.append(f"Rout or chisel out the pockets {depths} deep, where the templates show them.")
        if any(part.marks for part in build.shaped):
            words.append("Draw or score the marks.")
        names = several([part.name for part in build.shaped])
        yield Step(head=f"Cut out {names}", words=tuple(words), drawing=self._flat(len(build.shaped)))

    def _flat(self, count: int) -> Drawing | None:
        """The shaped parts side by side, if there are more than one."""
        if count < 2:
            return None
        alone = replace(self.item.build, stands=(), shaped=tuple(dict.fromkeys(self.item.build.shaped)))
        return front_drawing(alone, Looks(tones=self.views.looks.tones, plain=self.views.looks.plain))

    def _drilling(self) -> Iterator[Step]:
        [item] = with_hand_holes([self.item], every=True)
        unit = self.result.units
        kinds: dict[tuple[float, str], list[HandHole]] = {}
        for hole in item.build.hand_holes:
            kinds.setdefault((hole.diameter, hole.note), []).append(hole)
        words = []
        for (diameter, note), holes in kinds.items():
            by_depth: dict[str, list[str]] = {}
            for hole in holes:
                by_depth.setdefault(_deep(hole, unit), []).append(hole.part)
            where = "; ".join(f"{several(names)}, {deep}" for deep, names in by_depth.items())
            count = f" ({len(holes)} holes)" if len(holes) > 1 else ""
            words.append(f"{format_length(diameter, unit=unit)} across{count}: {where}. {_sentence(note)}")
        if words:
            yield Step(head="Drill", words=tuple(words))

    def _sanding(self) -> Iterator[Step]:
        if self.item.build.from_boards:
            yield Step(
                head="Sand",
                words=(
                    "Sand faces along the grain and all edges, coarse first, then fine, and take the sharpness off the "
                    "corners. Keep joints and bores as they are, so that they still fit. Try everything together dry.",
                ),
            )

    def _assembling(self) -> Iterator[Step]:
        build, unit = self.item.build, self.result.units
        steps = list(assembly(self.item, unit))
        pieces = len(build.from_boards) + len(build.sticks)
        if not steps:
            if pieces > 1:
                bought = [f"{thing.count} x {thing.name}" for thing in build.bought]
                more = f" It takes {', '.join(bought)}." if bought else ""
                words = f"Glue its {pieces} pieces together as the picture on the first page and the marks show.{more}"
                yield Step(head="Put it together", words=(words,))
            return
        shown: list[int] = [number for number, stand in enumerate(build.stands) if stand.look == "cord"]
        for number, several_steps in enumerate(_grouped(steps)):
            named = [step.words.partition(": ")[::2] for step in several_steps]
            shown += [stand for step in several_steps for stand in step.stands]
            if len(named) == 1:
                name, said = named[0][0], [_sentence(named[0][1])] if named[0][1] else []
            else:
                name, said = (
                    f"{named[0][0]} to {named[-1][0]}",
                    [_sentence(": ".join(filter(None, one))) for one in named],
                )
            if pieces > 1 and number == 0:
                said.append("Glue what does not turn; keep glue off all that turns, and off the rod there.")
            drawing = turned_drawing(build, self.views.looks, parts=shown) or front_drawing(
                build, self.views.looks, parts=shown
            )
            yield Step(head=f"Put in place: {name}", words=tuple(said), drawing=drawing)

    def _painting(self, whole: Drawing | None) -> Iterator[Step]:
        words = []
        for one in self._painted:
            dry = f", {one.drying:g} h to dry after each" if one.drying else ""
            words.append(f"{finish_name(one)}: {surfaces_words(one)}; {counted(one.coats, 'coat')}{dry}.")
        if words:
            last = "Parts that are hard to reach are painted before they are put together; leave glued places bare."
            yield Step(head="Paint and finish", words=(*words, last), drawing=whole)


def _grouped(steps: Sequence[AssemblyStep]) -> Iterator[Sequence[AssemblyStep]]:
    """Steps one by one, or where they are many those of pieces that turn a few at a time."""
    at_once = 1 if len(steps) <= _MOST_PICTURES else math.ceil(len(steps) / _MOST_PICTURES)
    for turns, run in groupby(steps, key=lambda step: step.turns):
        alike = list(run)
        for first in range(0, len(alike), at_once if turns else 1):
            yield alike[first : first + (at_once if turns else 1)]


def _shortened(words: Sequence[str]) -> list[str]:
    """Sentences, equal ones once with their number."""
    return [f"{count} x {one}" if count > 1 else one for one, count in Counter(words).items()]


def _sentence(note: str) -> str:
    return f"{note[:1].upper()}{note[1:]}." if note else ""


def _deep(hole: HandHole, unit: Unit) -> str:
    return "through" if hole.depth is None else f"{format_length(hole.depth, unit=unit)} deep"


def _size(sides: Sequence[float], unit: Unit) -> str:
    return " x ".join(as_measured(side, unit) for side in sides if side > 0)


def _stick(stick: RodPart | StripPart, unit: Unit) -> str:
    return f"{section_words(stick.section, unit)} {sticks_of(stick.section)}"
