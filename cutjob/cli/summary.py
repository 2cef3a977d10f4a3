"""What a run came to, as data and as rows of text: the summary the commands print."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

from cutjob.output.costs import cost_note, item_table
from cutjob.output.numbers import size_at_least
from cutjob.output.words.sawing import saw_lines, stick_lines
from cutjob.proof.finding import ProofReport
from cutjob.units import Unit, format_length

__all__ = ["HEAD", "cost_lines", "hand_work", "item_table", "layout_lines", "leftover_lines", "part_of_plan",
           "summary_rows", "verdict"]  # fmt: skip
HEAD = ("layout", "board", "boards", "parts", "file", "cutter", "minutes")


def verdict(report: ProofReport) -> str:
    """Return the outcome of a proof in a few words."""
    errors = sum(finding.severity == "error" for finding in report.findings)
    return "passed" if report.passed else f"failed, {errors} {'error' if errors == 1 else 'errors'}"


def part_of_plan(plan: dict[str, Any]) -> dict[str, Any]:
    """Return the summary's share of plan.json: everything but outlines."""
    boards = [
        {
            key: value
            for key, value in board.items()
            if key in ("id", "stock", "material", "stack", "copies", "windows", "hold_downs", "held_by", "programs")
        }
        | {"parts": len(board.get("placements", ()))}
        for board in plan.get("boards", ())
    ]
    kept = (
        "search",
        "items",
        "sawn",
        "saw_order",
        "rods",
        "strips",
        "sticks",
        "bought",
        "hand_holes",
        "boards_used",
        "yield",
        "cost",
        "warnings",
        "cautions",
    )
    rest: dict[str, Any] = {key: plan[key] for key in kept if key in plan}
    rest["leftovers"] = [
        {key: value for key, value in leftover.items() if key != "outline"} for leftover in plan.get("leftovers", ())
    ]
    counts = {"layouts": len(boards), "runs": _runs(plan)}
    together = [{"item": name, "units": where} for name, where in _together(plan).items()]
    return {"boards": boards, **counts, "together": together, **rest}


def summary_rows(plan: dict[str, Any]) -> Iterator[tuple[str, ...]]:
    """Yield a row for each program of a plan: layout, board, boards, parts, file, cutter, minutes.

    Of a program that cuts one window of its board the parts are those of the window, whose number stands with the file;
    several cutters stand in the order they come. A board without programs has a row with its drawing.
    """
    for board in plan.get("boards", ()):
        sheets = board.get("copies", 1) * board.get("stack", 1)
        head = (str(board.get("id", "")), str(board.get("stock", "")), str(sheets))
        parts = str(len(board.get("placements", ())))
        programs = board.get("programs", ())
        for program in programs:
            cutters = program.get("cutters") or [program.get("cutter", {})]
            numbers = ", ".join(str(each.get("number", "")) for each in cutters)
            minutes = f"{program.get('seconds', 0) / 60:.1f}"
            file, window = str(program.get("file", "")), program.get("window")
            if window is None:
                yield (*head, parts, file, numbers, minutes)
            else:
                own = str(len(board["windows"][window]["placements"]))
                yield (*head, own, f"{file}, window {window + 1}", numbers, minutes)
        if not programs:
            drawings = ", ".join(str(drawing["file"]) for drawing in board.get("drawings", ()))
            yield (*head, parts, drawings, "", "")


def layout_lines(plan: dict[str, Any]) -> Iterator[str]:
    """Yield a line each for the layouts and their runs, how boards are run where that is not by one file, what holds
    them, the boards used, the yield, items kept together, the search.
    """
    if plan.get("boards"):
        by_machine = any(board.get("programs") or board.get("drawings") for board in plan["boards"])
        runs = f", cut in {_counted(_runs(plan), 'run')} of the machine" if by_machine else ""
        yield f"layouts: {len(plan['boards'])}{runs}"
    yield from _handling(plan)
    yield from _held(plan)
    used = plan.get("boards_used", ())
    if used:
        kinds = [f"{kind['count']} of {kind['board']} {_price(kind['price'])}" for kind in used]
        whole = f"; {plan['cost']:.2f} in all" if len(used) > 1 or used[0]["count"] > 1 else ""
        yield f"boards: {', '.join(kinds)}{whole if plan.get('cost') else ''}"
    share = plan.get("yield")
    if isinstance(share, float):
        yield f"wood used: {share:.0%} of the boards"
    for name, where in _together(plan).items():
        counts = ", ".join(f"{count} on {board}" for board, count in where.items())
        yield f"together: {name}, each on one board: {counts}"
    search = plan.get("search") or {}
    if search.get("stopped"):
        yield "search: stopped by hand with the best layout so far; another run may give another"
    elif search.get("clock_decided"):
        yield f"search: {search['seconds']:g} seconds by the clock; another run may give another layout"


def _runs(plan: dict[str, Any]) -> int:
    """How often the machine runs: every file of a stack of boards, or one drawing, once for each copy."""
    return sum(board.get("copies", 1) * max(1, len(board.get("programs", ()))) for board in plan.get("boards", ()))


def _handling(plan: dict[str, Any]) -> Iterator[str]:
    """A line for the boards that are handled alike: files in order, windows and slides, screws, a skin."""
    unit: Unit = "in" if plan.get("units") == "in" else "mm"
    alike: dict[str, list[str]] = {}
    for board in plan.get("boards", ()):
        words = "; ".join(_ways(board, unit))
        if words:
            alike.setdefault(words, []).append(str(board.get("id", "")))
    for words, ids in alike.items():
        yield f"{_named(ids)}: {words}"


def _held(plan: dict[str, Any]) -> Iterator[str]:
    """A line with what holds the boards, but for screws: how they are handled says that."""
    alike: dict[str, list[str]] = {}
    for board in plan.get("boards", ()):
        words = _holds(board)
        if words:
            alike.setdefault(words, []).append(str(board.get("id", "")))
    if alike:
        yield f"held: {'; '.join(f'{_named(ids)} by {words}' for words, ids in alike.items())}"


def _named(ids: Sequence[str]) -> str:
    return f"{', '.join(ids[:4])} and {len(ids) - 4} more" if len(ids) > 5 else ", ".join(ids)


def _holds(board: dict[str, Any]) -> str:
    """`2 clamps, 14 bridges, at most 2 between a part and the clamps`."""
    by = board.get("held_by")
    if by in ("tape", "vacuum"):
        return f"{by} under the whole board"
    if by != "clamps":
        return ""
    words, bridges = [_counted(len(board.get("holds", ())), "clamp")], len(board.get("bridges", ()))
    if bridges:
        words.append(_counted(bridges, "bridge"))
        most = max((one.get("bridges_to_hold") or 0 for one in board.get("placements", ())), default=0)
        words.append(f"at most {most} between a part and the clamps")
    return ", ".join(words)


def _ways(board: dict[str, Any], unit: Unit) -> Iterator[str]:
    programs, windows = board.get("programs", ()), board.get("windows", ())
    if len(programs) > 1:
        yield f"{len(programs)} files, run in the order of their numbers"
    if len(windows) > 1:
        slides = [after["first"] - before["first"] for before, after in pairwise(windows)]
        yield f"{len(windows)} windows, slid by {', then '.join(format_length(slide, unit=unit) for slide in slides)}"
    screws = len(board.get("hold_downs", ()))
    if screws:
        yield f"{_counted(screws, 'screw')} in the waste, holes drilled first"
    skin = max((program.get("skin", 0.0) for program in programs), default=0.0)
    if skin > 0:
        yield f"a skin of {format_length(skin, unit=unit)} left under the parts"


def _price(price: float) -> str:
    return f"at {price:.2f}" if price else "at no cost"


def _together(plan: dict[str, Any]) -> dict[str, dict[str, int]]:
    """How many units of each item that is kept together lie on the boards of each layout, all its runs together."""
    items = [item["name"] for item in plan.get("items", ()) if item.get("together")]
    found: dict[str, dict[str, int]] = {name: {} for name in items}
    for board in plan.get("boards", ()):
        units = {(one.get("item"), one.get("unit")) for one in board.get("placements", ())}
        for name, where in found.items():
            count = sum(item == name for item, _ in units)
            if count:
                where[board["id"]] = count * board.get("stack", 1) * board.get("copies", 1)
    return {name: where for name, where in found.items() if where}


def cost_lines(plan: dict[str, Any]) -> Iterator[str]:
    """Yield a line with what the costs of the items are without, where something has no price."""
    note = cost_note(plan)
    if note is not None:
        yield f"costs: {note}"


def hand_work(plan: dict[str, Any]) -> Iterator[str]:
    """Yield a line for each kind of work and wood the machine does not do: saw cuts, sticks, holes, things to buy.

    Lengths are in the plan's own units. Holes of an item that differ only in depth are one kind.
    """
    unit: Unit = "in" if plan.get("units") == "in" else "mm"
    ripped = {
        (rip["item"], rip["part"]) for one in plan.get("saw_order", ()) for cut in one["cuts"] for rip in cut["rips"]
    }
    for piece in plan.get("sawn", ()):
        what = f"{_counted(piece['count'], 'piece')} {format_length(piece['length'], unit=unit)} long"
        if (piece["item"], piece["part"]) in ripped:
            what += f", {format_length(piece['width'], unit=unit)} wide,"
        note = f"; {piece['note']}" if piece["note"] else ""
        yield f"saw first: {what} off {piece['board']} ({piece['part']}, {piece['item']}){note}"
    yield from saw_lines(plan)
    yield from stick_lines(plan)
    holes: dict[tuple[str, float], list[dict[str, Any]]] = {}
    for hole in plan.get("hand_holes", ()):
        holes.setdefault((hole["item"], hole["diameter"]), []).append(hole)
    for (item, diameter), alike in holes.items():
        what = f"{_counted(sum(hole['count'] for hole in alike), 'hole')} {format_length(diameter, unit=unit)} wide"
        yield f"drill by hand: {what}, {_depths([hole['depth'] for hole in alike], unit)} ({item})"
    for bought in plan.get("bought", ()):
        price = bought.get("price")
        yield f"buy: {bought['count']} of {bought['name']}{'' if price is None else f' {_price(price)}'}"


def leftover_lines(plan: dict[str, Any]) -> Iterator[str]:
    """Yield a line for each leftover worth keeping, and one for the boards in stock that are not for this job."""
    unit: Unit = "in" if plan.get("units") == "in" else "mm"
    for left in plan.get("leftovers", ()):
        across, high = (max(point[axis] for point in left["outline"]) for axis in (0, 1))
        size = size_at_least(across, high, unit=unit)
        yield f"keep: {_counted(left['count'], 'piece')} {size}, {left['name']}"
    aside = [f"{one['board']} ({one['why']})" for one in plan.get("left_aside", ())]
    if aside:
        more = f" and {len(aside) - 4} more" if len(aside) > 4 else ""
        yield f"left aside in stock: {', '.join(aside[:4])}{more}"


def _counted(count: int, thing: str) -> str:
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def _depths(depths: Sequence[float | None], unit: Unit) -> str:
    """`1 in to 2 in deep`, `1 in deep or through`, `through`."""
    stated = [depth for depth in depths if depth is not None]
    least, most = (format_length(find(stated, default=0.0), unit=unit) for find in (min, max))
    deep = [f"{least} deep" if least == most else f"{least} to {most} deep"] if stated else []
    return " or ".join(deep + ["through"] * (len(stated) < len(depths)))
