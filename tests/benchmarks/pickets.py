"""Picket jobs: boards our layout takes, beside lower bounds and, on plain boards, beside a strip library.

    python -m tests.benchmarks.pickets [--items 1 5 20 60] [--sets garden arches] [--boards plain knots]
                                       [--gaps 0.125 0.25] [--effort normal] [--seconds-each 10] [--library-seconds 3]

Counted are the pickets to buy; end cuts given first cost nothing. With `--seconds-each` the clock decides instead of
the effort. `--library-seconds 0` leaves the library out. Every layout is judged by plain Shapely distances.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator, Sequence
from typing import Any

from cutjob.geometry.polygons import to_polygon
from cutjob.job.stock import Board
from cutjob.layout.layout import Layout
from cutjob.layout.layout_job import lay_out
from cutjob.parts.part import Item, ShapedPart
from cutjob.stages import Effort
from tests.benchmarks import bounds
from tests.benchmarks.instances import StripItem
from tests.benchmarks.library_boards import Plain, boards_filled
from tests.benchmarks.library_strips import INSTALLED
from tests.benchmarks.picket_jobs import BOARDS, FEWEST, INCH, ITEMS, MARGIN, boards
from tests.layout.judge import assert_sound
from tests.layout.makers import areas_of


def turns(part: ShapedPart, board: Board) -> tuple[float, ...]:
    """Turns allowed in degrees; none given: any angle."""
    return (0.0, 180.0) if part.grain == board.grain == "length" else ()


def least_pickets(items: Sequence[Item], stock: Sequence[Board], *, gap: float) -> tuple[int, int]:
    """Pickets to buy at least, by area and by length. The last kind of the stock is the one that is bought."""
    *given, picket = stock
    parts = [(part, to_polygon(part.region), item.count) for item in items for part in item.build.shaped]

    def clear(board: Board) -> float:
        knots = [to_polygon(knot) for knot in areas_of(board)]
        return bounds.clear_area(to_polygon(board.outline), knots, gap=gap, margin=MARGIN)

    areas = [bounds.grown_part_area(polygon, gap) for _, polygon, count in parts for _ in range(count)]
    by_area = bounds.area_bound(areas, [clear(board) for board in given], board_area=clear(picket))
    # Just over half of what two parts beside each other may take up together.
    height = (picket.width - 2 * MARGIN - gap) / 2 * (1 + 1e-9)
    cores = [
        core
        for part, polygon, count in parts
        for core in [bounds.core_length(polygon, height, turns(part, picket))]
        for _ in range(count)
    ]
    by_length = bounds.length_bound(cores, picket.length - 2 * MARGIN, gap=gap, given=len(given))
    return by_area, by_length


def lay(
    items: Sequence[Item], stock: Sequence[Board], *, gap: float, given: argparse.Namespace
) -> tuple[Layout, float]:
    """Our layout, judged, and the seconds it took."""
    clock: dict[str, Any] = {} if given.seconds_each is None else {"seconds": given.seconds_each}
    start = time.perf_counter()
    layout = lay_out(
        items, stock, gap=gap, edge_margin=MARGIN, stack=1, saw_kerf=3.0, seed=given.seed, effort=given.effort, **clock
    )
    taken = time.perf_counter() - start
    assert_sound(layout, items)
    return layout, taken


def bought(layout: Layout) -> int:
    """Boards of the layout that have a price."""
    return sum(entry.stack * entry.copies for entry in layout.boards if entry.board.price)


def library_boards(items: Sequence[Item], picket: Board, *, gap: float, seconds: float) -> int:
    """Boards the library fills with the same parts."""
    wanted = [
        StripItem(name=part.name, polygon=to_polygon(part.region), count=item.count, rotations=turns(part, picket))
        for item in items
        for part in item.build.shaped
    ]
    plain = Plain(length=picket.length - 2 * MARGIN, width=picket.width - 2 * MARGIN, gap=gap, seconds=seconds)
    return len(boards_filled(wanted, plain))


def rows(*, effort: Effort = "normal", seed: int = 0) -> Iterator[tuple[str, str, str]]:
    """Yield what was laid out, the pickets it took, and how many it may take: the fewest that any run has found."""
    for (name, kind, gap_in, count), fewest in FEWEST.items():
        items, stock, gap = ITEMS[name](count), boards(kind), gap_in * INCH
        given = argparse.Namespace(seconds_each=None, seed=seed, effort=effort)
        layout, taken = lay(items, stock, gap=gap, given=given)
        least = max(least_pickets(items, stock, gap=gap))
        yield (
            f"{count} of set {name} on {kind} pickets, gap {gap_in:g} in, effort {effort}",
            f"{bought(layout)} pickets in {taken:.0f} s",
            f"{fewest} pickets at most, at least {least} by area or length",
        )


def main() -> None:
    """Print a row for every job."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--items", nargs="+", type=int, default=[1, 5, 20, 60])
    parser.add_argument("--sets", nargs="+", choices=list(ITEMS), default=list(ITEMS))
    parser.add_argument("--boards", nargs="+", choices=BOARDS, default=list(BOARDS))
    parser.add_argument("--gaps", nargs="+", type=float, default=[0.125, 0.25], help="inches")
    parser.add_argument("--effort", choices=["quick", "normal", "best"], default="normal")
    parser.add_argument("--seconds-each", type=float)
    parser.add_argument("--library-seconds", type=float, default=3.0)
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    library = INSTALLED and given.library_seconds > 0
    print(
        f"{'set':<9}{'boards':<12}{'gap in':>7}{'items':>6}{'parts':>6}{'bought':>8}{'given':>7}{'seconds':>9}"
        f"{'area':>6}{'length':>8}{'over':>6}{'library':>9}{'seconds':>9}"
    )
    for name in given.sets:
        for kind in given.boards:
            for gap in given.gaps:
                for count in given.items:
                    print(_line(name, kind, gap, count, given, library=library and kind == "plain"), flush=True)


def _line(name: str, kind: str, gap_in: float, count: int, given: argparse.Namespace, *, library: bool) -> str:
    items, stock, gap = ITEMS[name](count), boards(kind), gap_in * INCH
    by_area, by_length = least_pickets(items, stock, gap=gap)
    layout, taken = lay(items, stock, gap=gap, given=given)
    number, least = bought(layout), max(by_area, by_length)
    used = sum(entry.stack * entry.copies for entry in layout.boards)
    if number < least:
        raise SystemExit(f"{number} boards undercut the bound of {least}: the bound is wrong")
    parts = sum(len(item.build.shaped) * item.count for item in items)
    text = (
        f"{name:<9}{kind:<12}{gap_in:>7g}{count:>6}{parts:>6}{number:>8}{used - number:>7}{taken:>9.1f}"
        f"{by_area:>6}{by_length:>8}{number - least:>6}"
    )
    if not library:
        return f"{text}{'-':>9}{'-':>9}"
    start = time.perf_counter()
    theirs = library_boards(items, stock[-1], gap=gap, seconds=given.library_seconds)
    return f"{text}{theirs:>9}{time.perf_counter() - start:>9.1f}"


if __name__ == "__main__":
    main()
