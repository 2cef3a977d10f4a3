"""Reads what plan.json says about patterns.pdf and booklet.pdf: their pages, and the parts and boards they show. mm."""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import replace
from typing import Literal

from cutjob.errors import InputError
from cutjob.geometry.segment import Bounds
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout, Layout
from cutjob.parts.part import ShapedPart
from cutjob.proof.expect import LINE_KINDS, ExpectedLine, ExpectedPage, ExpectedPattern, ExpectedPatterns, ExpectedSheet
from cutjob.proof.plan.data import PlanData, shown
from cutjob.proof.plan.faults import plan_faults
from cutjob.proof.plan.layout import planned_layout
from cutjob.proof.plan.reader import not_named, planned_root


def planned_patterns(plan: Mapping[str, object], file: str, machine: Machine) -> ExpectedPatterns:
    """Return the patterns as the plan has them. Raises InputError with the place in the plan, and for a plan that was
    made for another machine or doesn't name the file.
    """
    root = planned_root(plan, machine)
    entries = [entry for entry in (root.get("patterns"), root.get("booklet")) if entry is not None]
    entry = next((one for one in entries if one["file"].text() == file), None)
    if entry is None:
        raise not_named(root, file, [one["file"].text() for one in entries])
    boards = root["boards"].each()
    layouts = tuple(planned_layout(board) for board in boards)
    faults = [
        fault
        for board, layout in zip(boards, layouts, strict=True)
        for fault in plan_faults(root, board, layout, machine)
    ]
    if faults:
        raise InputError(faults)
    reader = _Reader(dict(zip((layout.id for layout in layouts), zip(boards, layouts, strict=True), strict=True)))
    width, height = entry["paper"].point()
    sheets = tuple(reader.sheet(sheet) for sheet in entry["sheets"].each())
    named = entry.get("items")
    if named is not None:  # a booklet shows these only
        layouts = tuple(_of_items(layout, {name.text() for name in named.each()}) for layout in layouts)
    return ExpectedPatterns(
        file=file,
        paper=(width, height),
        sheets=sheets,
        layout=Layout(boards=layouts, gap=0.0, edge_margin=0.0, seed=0),
        parts=_flag(entry["parts"]),
        boards=_flag(entry["layout"]),
        lines={kind: _line(entry["lines"][kind]) for kind in LINE_KINDS},
    )


def _of_items(layout: BoardLayout, names: Set[str]) -> BoardLayout:
    return replace(layout, placements=tuple(one for one in layout.placements if one.item in names))


class _Reader:
    """Sheets read with the boards they name at hand."""

    def __init__(self, boards: Mapping[str, tuple[PlanData, BoardLayout]]) -> None:
        self._boards = boards

    def sheet(self, entry: PlanData) -> ExpectedSheet:
        board, move = entry.get("board"), entry.get("move")
        return ExpectedSheet(
            pages=tuple(_page(page) for page in entry["pages"].each()),
            patterns=tuple(self._pattern(one) for one in entry.several("patterns")),
            board=None if board is None else self._board(board)[1],
            move=None if move is None else _move(move),
        )

    def _board(self, name: PlanData) -> tuple[PlanData, BoardLayout]:
        if name.text() not in self._boards:
            raise name.fail(f"board {shown(name.data)} is not in the plan")
        return self._boards[name.text()]

    def _pattern(self, entry: PlanData) -> ExpectedPattern:
        board, layout = self._board(entry["board"])
        number = entry["placement"].index(len(layout.placements), "placement")
        placement = layout.placements[number]
        lies = board["placements"].each()[number]
        fold = entry.get("fold")
        return ExpectedPattern(
            item=placement.item,
            part=_in_own_frame(placement.part, _move(lies)),
            move=_move(entry["move"]),
            fold=None if fold is None else (_way(fold["way"]), fold["at"].number()),
        )


def _in_own_frame(part: ShapedPart, lies: Transform) -> ShapedPart:
    """The part in its own frame, before it is laid on a board."""
    back = lies.inverse()
    return replace(
        part,
        region=back.region(part.region),
        holes=tuple(replace(hole, at=back.point(hole.at)) for hole in part.holes),
        pockets=tuple(replace(pocket, region=back.region(pocket.region)) for pocket in part.pockets),
        marks=tuple(replace(mark, path=tuple(back.segment(one) for one in mark.path)) for mark in part.marks),
    )


def _way(entry: PlanData) -> Literal["upright", "level"]:
    match entry.text():
        case "upright":
            return "upright"
        case "level":
            return "level"
    raise entry.fail(f"should be upright or level, not {shown(entry.data)}")


def _page(entry: PlanData) -> ExpectedPage:
    sides = [side.number() for side in entry["window"].each()]
    if len(sides) != 4:
        raise entry["window"].fail("should be [least x, least y, greatest x, greatest y]")
    window: Bounds = (sides[0], sides[1], sides[2], sides[3])
    return ExpectedPage(number=entry["page"].whole(), window=window, shift=entry["shift"].point())


def _move(entry: PlanData) -> Transform:
    x, y = entry["at"].point()
    return Transform(x=x, y=y, degrees=entry["rotation"].number(), mirrored=_flag(entry["mirrored"]))


def _line(entry: PlanData) -> ExpectedLine:
    colour = [value.count() for value in entry["colour"].each()]
    if len(colour) != 3:
        raise entry["colour"].fail("should be three numbers, red, green and blue")
    dashes = tuple(dash.not_negative() for dash in entry.several("dashes"))
    return ExpectedLine(colour=(colour[0], colour[1], colour[2]), width=entry["width"].positive(), dashes=dashes)


def _flag(entry: PlanData) -> bool:
    if not isinstance(entry.data, bool):
        raise entry.fail(f"should be true or false, not {shown(entry.data)}")
    return entry.data
