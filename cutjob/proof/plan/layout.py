"""Reads what plan.json says about one board: its parts as polygons, how it is held, and the windows it is cut
in. mm.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

from cutjob.counting import counted
from cutjob.geometry.contour import Contour, Region, circle
from cutjob.geometry.transform import Transform
from cutjob.job.hazards import HAZARDS, Hazard
from cutjob.job.stock import Board, KeepOut
from cutjob.layout.holding import Bridge, HeldBy, Hold, Holding
from cutjob.layout.layout import BoardLayout, HoldDown, Lettering, Placement, Window
from cutjob.parts.part import LINE_OPERATIONS, Hole, Mark, Pocket, ShapedPart
from cutjob.proof.plan.data import PlanData, shown
from cutjob.tolerances import TOLERANCES

_HELD_BY: tuple[HeldBy, ...] = get_args(HeldBy)


def planned_layout(entry: PlanData) -> BoardLayout:
    """Return the board layout of an entry of `boards`. Raises InputError with the place in the plan."""
    placements = tuple(_placement(placement) for placement in entry["placements"].each())
    windows = tuple(_window(window, len(placements)) for window in entry.several("windows"))
    stack, copies = entry.get("stack"), entry.get("copies")
    board = _board(entry)
    return BoardLayout(
        id=board.name,
        board=board,
        placements=placements,
        stack=stack.whole() if stack else 1,
        copies=copies.whole() if copies else 1,
        windows=windows,
        hold_downs=tuple(_hold_down(down, len(windows)) for down in entry.several("hold_downs")),
        lettering=tuple(_lettering(strokes, len(placements)) for strokes in entry.several("lettering")),
        holding=_holding(entry, len(windows)),
    )


def _holding(entry: PlanData, windows: int) -> Holding | None:
    """How the board is held; None where the plan says null, as for a machine that moves no cutter through it."""
    by = entry.get("held_by")
    if by is None:
        return None
    held_by = next((word for word in _HELD_BY if word == by.text()), None)
    if held_by is None:
        raise by.fail(f"should be {', '.join(_HELD_BY)} or null, not {shown(by.data)}")
    counts = [one.get("bridges_to_hold") for one in entry["placements"].each()]
    return Holding(
        by=held_by,
        holds=tuple(_hold(hold, windows) for hold in entry.several("holds")),
        bridges=tuple(_bridge(bridge, len(counts)) for bridge in entry.several("bridges")),
        to_hold=tuple(count.count() for count in counts if count is not None),
    )


def _bridge(entry: PlanData, placements: int) -> Bridge:
    first, second = _pair(entry["ends"])
    one, other = (_node(node, placements) for node in _pair(entry["joins"]))
    return Bridge(
        joins=(one, other),
        ends=(first.point(), second.point()),
        width=entry["width"].positive(),
        height=entry["height"].positive(),
    )


def _pair(entry: PlanData) -> tuple[PlanData, PlanData]:
    both = entry.each()
    if len(both) != 2:
        raise entry.fail("should be two")
    return both[0], both[1]


def _node(entry: PlanData, placements: int) -> int:
    placement = entry.get("placement")
    return placement.index(placements, "placement") if placement else placements + entry["chunk"].count()


def _hold(entry: PlanData, windows: int) -> Hold:
    window = entry.get("window")
    return Hold(
        area=entry["area"].contour(),
        height=entry["height"].not_negative(),
        window=window.index(windows, "window") if window else None,
    )


def _board(entry: PlanData) -> Board:
    material, sawn_off = entry.get("material"), entry.get("sawn_off")
    areas = [_keep_out(area) for area in entry.several("keep_out")]
    heights = tuple(0.0 if one.data is None else one.not_negative() for one in entry.several("keep_out_heights"))
    if len(heights) > len(areas):
        raise entry["keep_out_heights"].fail(
            f"has {counted(len(heights), 'height')} for {counted(len(areas), 'keep-out')}"
        )
    heights += (0.0,) * (len(areas) - len(heights))
    return Board(
        name=entry["id"].text(),
        outline=entry["outline"].contour().turned(counter_clockwise=True),
        keep_outs=tuple(map(KeepOut, areas, heights)),
        thickness=entry["thickness"].positive(),
        grain="none",
        material=material.text() if material else "",
        hazards=frozenset(_hazard(one) for one in entry.several("hazards")),
        count=1,
        price=0.0,
        sawn_off=sawn_off.not_negative() if sawn_off else 0.0,
    )


def _hazard(entry: PlanData) -> Hazard:
    hazard = next((word for word in HAZARDS if word == entry.text()), None)
    if hazard is None:
        raise entry.fail(f"should be {', '.join(HAZARDS)}, not {shown(entry.data)}")
    return hazard


def _keep_out(entry: PlanData) -> Contour:
    if isinstance(entry.data, Mapping):
        radius = entry.get("radius")
        return circle(entry["at"].point(), radius.positive()) if radius else entry["outline"].contour()
    return entry.contour()


def _window(entry: PlanData, placements: int) -> Window:
    first, last = entry["first"].number(), entry["last"].number()
    if last <= first:
        raise entry.fail(f"ends at {last:g}, before it begins")
    return Window(
        first=first,
        last=last,
        placements=tuple(one.index(placements, "placement") for one in entry["placements"].each()),
        holes=tuple(hole.point() for hole in entry.several("holes")),
        pins=tuple(pin.point() for pin in entry.several("pins")),
    )


def _hold_down(entry: PlanData, windows: int) -> HoldDown:
    window = entry.get("window")
    return HoldDown(
        at=entry["at"].point(),
        diameter=entry["diameter"].positive(),
        head=entry["head"].positive(),
        height=entry["height"].not_negative(),
        window=window.index(windows, "window") if window else None,
    )


def _lettering(entry: PlanData, placements: int) -> Lettering:
    return Lettering(
        placement=entry["placement"].index(placements, "placement"),
        paths=tuple(path.path() for path in entry["paths"].each()),
        depth=entry["depth"].positive(),
    )


def _placement(entry: PlanData) -> Placement:
    holes: list[Hole] = []
    pockets: list[Pocket] = []
    marks: list[Mark] = []
    for feature in entry.several("features"):
        depth = feature.get("depth")
        deep = depth.positive() if depth else None
        # The plan has a counterbored hole as two, the wide one first.
        match feature["op"].text():
            case "bore" | "drill":
                hand = feature.get("by_hand")
                diameter, by_hand = feature["diameter"].positive(), hand is not None and hand.data is True
                holes.append(Hole(at=feature["at"].point(), diameter=diameter, depth=deep, by_hand=by_hand))
            case "pocket":
                pockets.append(_pocket(feature))
            case other:
                line = next((op for op in LINE_OPERATIONS if op == other), None)
                if line is None:
                    raise feature.fail(f"operation {other!r} is not judged")
                marks.append(Mark(path=feature["path"].path(), depth=deep, operation=line))
    part = ShapedPart(
        name=entry["part"].text(),
        region=Region(entry["outline"].contour(), tuple(hole.contour() for hole in entry.several("holes"))),
        holes=tuple(holes),
        pockets=tuple(pockets),
        marks=tuple(marks),
        # The plan's polygons stand for curves; the cutter kept off these by as much as the polygons may deviate.
        deviation=TOLERANCES.curve + TOLERANCES.chord,
    )
    unit, item = entry.get("unit"), entry.get("item")
    return Placement(
        part=part,
        item=item.text() if item else "",
        unit=unit.whole() if unit else 1,
        transform=Transform(),
    )


def _pocket(entry: PlanData) -> Pocket:
    islands = tuple(island.contour() for island in entry.several("islands"))
    return Pocket(region=Region(entry["outline"].contour(), islands), depth=entry["depth"].positive())
