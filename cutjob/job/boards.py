"""Reads the boards of a job or stock file, and finds mistakes in their shapes and names.

It also checks boards against a machine and its cutters: whether they can be cut, and by which cutter.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely import Polygon

from cutjob.errors import Location, Problem
from cutjob.files.fields import KeyPath, PointMm
from cutjob.files.read_toml import problem_at, read_part
from cutjob.files.source import Source
from cutjob.files.values import nearest
from cutjob.geometry.polygons import to_polygon
from cutjob.job.hazards import laser_hazard
from cutjob.job.machine import Cutter, Machine
from cutjob.job.model import BoardStock
from cutjob.job.stock import Board, board_of
from cutjob.parts.part import alike
from cutjob.tolerances import TOLERANCES
from cutjob.units import TAPE, length, rounded_down

Where = Callable[[Board, str], Location | None]


def _board_itself(board: Board, key: str) -> Location | None:
    return board.location


def _nowhere(key: str) -> Location | None:
    return None


def check_boards(
    boards: Sequence[Board],
    machine: Machine,
    cutter: Cutter,
    stack: int,
    *,
    where: Where = _board_itself,
) -> list[Problem]:
    """Return the reasons why boards, `stack` at a time, can't be cut on a machine with a cutter; empty where they can.

    `where` gives the place of a board's key, by default the board's own.
    """
    problems: list[Problem] = []
    for board in boards:
        problems += _material_problems(board, cutter, machine, where)
        problems += _thickness_problems(board, machine, cutter, stack, where)
        problems += _reach_problems(board, machine, stack, where)
    return problems


def through_cutters(
    boards: Sequence[Board],
    machine: Machine,
    *,
    numbers: Sequence[int],
    stack: int,
    where: Where = _board_itself,
    at: Callable[[str], Location | None] = _nowhere,
) -> tuple[Cutter, ...] | list[Problem]:
    """Return the cutters that may go round the parts on all boards, or the problems where there is none.

    Without `numbers` these are all cutters with a feed for every material and a cutting length of at least the stack
    and the overcut. With `numbers` it is the first one named, fit or not: `check_boards` says what is wrong with it.
    `where` gives the place of a board's key, `at` of a key of the job.
    """
    if numbers:
        return _named_cutters(machine, numbers, at)
    fit = [
        cutter
        for cutter in machine.cutter
        if not cutter.only_down
        and not any(
            (
                *_material_problems(board, cutter, machine, where),
                *_thickness_problems(board, machine, cutter, stack, where),
            )
            for board in boards
        )
    ]
    if fit:
        return tuple(fit)
    problems = _unknown_materials(boards, machine, where) or _too_thick(boards, machine, stack, where)
    if problems:
        return problems
    reasons = "; ".join(_why_not(cutter, boards, machine, stack) for cutter in machine.cutter)
    return [
        Problem(
            message=f'no cutter of "{machine.name}" fits every board ({reasons})',
            advice="cut fewer boards at once, take thinner ones, or choose another machine",
            place="machine",
            location=at("machine"),
        )
    ]


def highest_stack(boards: Sequence[Board], machine: Machine, *, numbers: Sequence[int], stack: int) -> int:
    """Return how many of the boards, at most `stack`, some cutter of the job cuts at once; 1 where even one is too
    thick. `numbers` is as in `through_cutters`.
    """
    for high in range(stack, 1, -1):
        through = through_cutters(boards, machine, numbers=numbers, stack=high)
        if not isinstance(through, list) and not check_boards(
            boards, machine.model_copy(update={"travel": None}), through[0], high
        ):
            return high
    return 1


def thickness_slips(boards: Sequence[Board], machine: Machine, *, where: Where = _board_itself) -> list[Problem]:
    """Return a problem for every board that no cutter goes through, but one would if its thickness were in mm."""
    deepest = max((cutter.cutting_length for cutter in machine.cutter if not cutter.only_down), default=0.0)
    return [
        problem
        for board in boards
        if _mm_meant("thickness", board.thickness, deepest)
        for problem in _too_thick([board], machine, 1, where)
    ]


def alike_thick(boards: Sequence[Board]) -> list[list[Board]]:
    """Return the boards in groups of one thickness, in the order of the first of each."""
    groups: list[list[Board]] = []
    for board in boards:
        group = next((one for one in groups if alike(one[0].thickness, board.thickness)), None)
        if group is None:
            groups.append([board])
        else:
            group.append(board)
    return groups


def _named_cutters(
    machine: Machine, numbers: Sequence[int], at: Callable[[str], Location | None]
) -> tuple[Cutter, ...] | list[Problem]:
    there = {cutter.number: cutter for cutter in machine.cutter}
    known = ", ".join(_named(cutter) for cutter in machine.cutter)
    problems = [
        Problem(
            message=f'"{machine.name}" has no cutter {number}',
            advice=f"it has {known}",
            place="cutter",
            location=at("cutter"),
        )
        for number in numbers
        if number not in there
    ]
    if problems:
        return problems
    first = there[numbers[0]]
    if first.only_down:
        message, advice = f"{_named(first)} only goes straight down", "name the cutter for the outlines first"
        return [Problem(message=message, advice=advice, place="cutter", location=at("cutter"))]
    return (first,)


def _unknown_materials(boards: Sequence[Board], machine: Machine, where: Where) -> list[Problem]:
    problems: list[Problem] = []
    for board in boards:
        hazards = list(_hazard_problems(board, machine, where))
        problems += hazards
        if not hazards and board.material not in machine.materials:
            message = f'no cutter of "{machine.name}" has a feed for "{board.material}"'
            problems.append(_problem(board, "material", message, nearest(board.material, machine.materials), where))
    return problems


def _too_thick(boards: Sequence[Board], machine: Machine, stack: int, where: Where) -> list[Problem]:
    """A problem for every board that is too thick for all cutters; of boards too thick in a stack only the thickest."""
    alone: list[Problem] = []
    stacked: list[tuple[float, Problem]] = []
    for board in boards:
        deepest = {
            cutter: min(cutter.cutting_length - machine.overcut, row.greatest_thickness or math.inf)
            for cutter in machine.cutter
            if not cutter.only_down and (row := cutter.feed_for(board.material)) is not None
        }
        if not deepest:
            continue
        most = max(deepest.values())
        if stack * board.thickness > most + TOLERANCES.same_point:
            best = next(cutter for cutter, depth in deepest.items() if depth == most)
            message = (
                f"{_thick(board, stack)} is more than any cutter of {machine.name} cuts through in {board.material}"
            )
            least = f"at most {rounded_down(most)}, with {_named(best)}"
            advice = f"{least}; {_thinner(board, most, stack)}"
            problem = _problem(board, "thickness", message, advice, where)
            if stack > 1 and board.thickness <= most:
                stacked.append((board.thickness, problem))
            else:
                alone.append(problem)
    return alone or [problem for _, problem in sorted(stacked, key=lambda one: -one[0])[:1]]


_INCH = 25.4
_LEAST_MM = 3  # mm, the thinnest likely board


def _mm_meant(key: str, size: float, most: float) -> str:
    """The advice where a size in inches would do in mm: most likely mm were meant. Empty elsewhere."""
    inches = size / _INCH
    if _LEAST_MM <= inches <= most and math.isclose(2 * inches, round(2 * inches), abs_tol=1e-6):
        return f'if you mean {inches:g} mm, write {key} = "{inches:g} mm"'
    return ""


def _thinner(board: Board, most: float, stack: int) -> str:
    """The advice for a board or a stack that is thicker than `most` mm, the deepest possible cut."""
    meant = _mm_meant("thickness", board.thickness, most / stack)
    if meant:
        return meant
    fit = int(most / board.thickness + TOLERANCES.same_point)
    if fit:
        return f"cut {fit} at once, or take thinner boards" if fit > 1 else "cut one at a time, or take thinner boards"
    return "take thinner boards, or another machine"


def _why_not(cutter: Cutter, boards: Sequence[Board], machine: Machine, stack: int) -> str:
    """Why a cutter does not fit, for the first board that it does not fit."""
    for board in boards:
        row = cutter.feed_for(board.material)
        if cutter.only_down:
            return f"{_named(cutter)} only goes straight down"
        if row is None:
            return f'{_named(cutter)} has no feed for "{board.material}"'
        deepest = min(cutter.cutting_length, row.greatest_thickness or cutter.cutting_length)
        if any(_thickness_problems(board, machine, cutter, stack, _board_itself)):
            return f'{_named(cutter)} cuts {rounded_down(deepest)} deep, and "{board.name}" is {_thick(board, stack)}'
    return f"{_named(cutter)} fits"


def _named(cutter: Cutter) -> str:
    return f"cutter {cutter.number} ({cutter.name})"


def _problem(board: Board, key: str, message: str, advice: str, where: Where) -> Problem:
    place = f'board "{board.name}": {key}'
    return Problem(message=message, advice=advice, place=place, location=where(board, key))


def _hazard_problems(board: Board, machine: Machine, where: Where) -> Iterator[Problem]:
    hazard = laser_hazard(board.hazards) if machine.has_beam else ""
    if hazard:
        message = f"{board.material} must never go into a laser: {hazard}"
        yield _problem(board, "material", message, "take other stock, or cut it with a router", where)


def _material_problems(board: Board, cutter: Cutter, machine: Machine, where: Where) -> Iterator[Problem]:
    hazards = list(_hazard_problems(board, machine, where))
    yield from hazards
    if not hazards and cutter.feed_for(board.material) is None:
        known = [row.material for row in cutter.feed]
        message = f'{_named(cutter)} has no feed for "{board.material}"'
        yield _problem(board, "material", message, nearest(board.material, known) or "choose another cutter", where)


def _thickness_problems(board: Board, machine: Machine, cutter: Cutter, stack: int, where: Where) -> Iterator[Problem]:
    height = stack * board.thickness
    overcut = machine.overcut
    thick = _thick(board, stack)
    if height + overcut > cutter.cutting_length + TOLERANCES.same_point:
        if height <= cutter.cutting_length:
            thick += f" and {length(overcut)} into the spoilboard"
        longest = rounded_down(cutter.cutting_length)
        message = f"{thick} is more than the {longest} cutting length of {_named(cutter)}"
        advice = "cut fewer at once, or take a longer cutter" if stack > 1 else "take a longer cutter or thinner boards"
        yield _problem(board, "thickness", message, advice, where)
    row = cutter.feed_for(board.material)
    if row is not None and row.greatest_thickness is not None:
        greatest = row.greatest_thickness
        if height > greatest + TOLERANCES.same_point:
            message = f"{thick} is more than the {rounded_down(greatest)} {_named(cutter)} cuts in {row.material}"
            yield _problem(board, "thickness", message, "take thinner boards, or another machine", where)


def _thick(board: Board, stack: int) -> str:
    one = length(board.thickness)
    if stack == 1:
        return f"{one} thick"
    return f"a stack of {stack} boards of {one}, {length(stack * board.thickness)} high"


def _reach_problems(board: Board, machine: Machine, stack: int, where: Where) -> Iterator[Problem]:
    if machine.travel is None:
        return
    for key, size, reach, axis in (
        ("length", board.length, machine.travel.x, "x"),
        ("width", board.width, machine.travel.y, "y"),
    ):
        if size > reach + TOLERANCES.same_point and not (axis == "x" and machine.travel.open_ends):
            message = (
                f'{length(size)} is more than the {rounded_down(reach, TAPE)} "{machine.name}" reaches along {axis}'
            )
            advice = "saw the board shorter, or choose a larger machine"
            if key == "width":
                meant = _mm_meant(key, size, reach)
                advice = meant or "saw the board narrower or choose a larger machine"
            yield _problem(board, key, message, advice, where)
    needed = stack * board.thickness + machine.motion.safe_height + machine.cutting.overcut
    if machine.has_spindle and 0 < machine.travel.z < needed:
        message = (
            f"{_thick(board, stack)} with {length(machine.motion.safe_height)} of air above it "
            f"is more than the {rounded_down(machine.travel.z)} the machine moves up and down"
        )
        yield _problem(board, "thickness", message, "cut fewer at once, or take thinner boards", where)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardEntry:
    """A `[[board]]` of a file: its values, the board made from them, and its place in the file."""

    stock: BoardStock
    board: Board
    source: Source
    index: int

    def at(self, key: str) -> Location:
        """The line of a key of the entry, or of the entry."""
        return self.source.at(("board", self.index, key))


def read_boards(source: Source) -> tuple[list[BoardEntry], list[Problem]]:
    """Return the boards without mistakes, and the problems with the shapes of the others.

    Entries with other mistakes are skipped: reading the whole file reports them.
    """
    entries: list[BoardEntry] = []
    problems: list[Problem] = []
    tables = source.data.get("board")
    for index in range(len(tables) if isinstance(tables, list) else 0):
        path: KeyPath = ("board", index)
        stock = read_part(source, path, BoardStock)
        if stock is None:
            continue
        found = list(_outline_problems(stock, path, source))
        if not found:
            board = board_of(stock, location=source.at(path))
            found = list(_outside_keep_outs(board, path, source))
            entries.append(BoardEntry(stock=stock, board=board, source=source, index=index))
        problems += found
    return entries, problems


def same_names(source: Source, tables: Sequence[str]) -> Iterator[Problem]:
    """Yield a problem for every entry of a table that has the name of an earlier entry."""
    for table in tables:
        entries = source.data.get(table)
        seen: dict[str, KeyPath] = {}
        for index, entry in enumerate(entries if isinstance(entries, list) else []):
            name = entry.get("name") if isinstance(entry, dict) else None
            if not isinstance(name, str):
                continue
            path = (table, index, "name")
            if name.strip() in seen:
                first = source.at(seen[name.strip()]).line
                yield problem_at(source, path, f"line {first} has the same name", advice="give them different names")
            seen.setdefault(name.strip(), path)


def _outline_problems(stock: BoardStock, path: KeyPath, source: Source) -> Iterator[Problem]:
    outlines: list[tuple[KeyPath, tuple[PointMm, ...] | None]] = [((*path, "outline"), stock.outline)]
    outlines += [((*path, "keep_out", index, "outline"), area.outline) for index, area in enumerate(stock.keep_out)]
    for place, points in outlines:
        if points is None:
            continue
        message = _fault_of(points)
        if message:
            advice = "give the corners in order, once round the edge"
            yield problem_at(source, place, message, advice=advice)


def _fault_of(points: Sequence[tuple[float, float]]) -> str:
    """Why points can't be the corners of an area, or an empty text."""
    polygon = Polygon(points)
    # An area below a square micrometre is a slip, not a board.
    if len(set(points)) < 3 or shapely.convex_hull(polygon).area < 1e-6:
        return "the points enclose no area"
    if polygon.is_valid:
        return ""
    place = shapely.is_valid_reason(polygon).partition("[")[2].rstrip("]").split()
    if len(place) != 2:
        return "the outline crosses or touches itself"
    x, y = (length(float(word)) for word in place)
    return f"the outline crosses or touches itself at x {x}, y {y}"


def _outside_keep_outs(board: Board, path: KeyPath, source: Source) -> Iterator[Problem]:
    whole = to_polygon(board.outline)
    for index, one in enumerate(board.keep_outs):
        if not to_polygon(one.area).intersects(whole):
            message = "is outside the board"
            advice = "its x is measured along the board's length, y across it, from the same zero as the outline"
            yield problem_at(source, (*path, "keep_out", index), message, advice=advice)
