"""Pockets and counterbores in a drawing: every wall drawn, on the layer of its depth, moved to its waste side."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutjob.geometry.contour import Contour, Region, polyline, rectangle
from cutjob.geometry.segment import Arc, Line
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.parts.part import Counterbore, Hole, Pocket, ShapedPart
from tests.proof import workshop as ws
from tests.proof.test_drawings import Group, file, lwpolyline, messages, round_entity

DEEP, SHALLOW = 6.35, 3.0


def box(x0: float, y0: float, x1: float, y1: float) -> Contour:
    return polyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


OUTLINE, RECESS, ISLAND, STEP = box(20, 20, 120, 80), box(30, 30, 70, 60), box(40, 40, 50, 50), box(80, 30, 110, 60)
INNER = box(85, 35, 105, 55)


def layout() -> BoardLayout:
    """A recess with an island, and a step: a shallow pocket round a deep one, with a wall of the deep one in common."""
    part = ShapedPart(
        name="sill",
        region=Region(Transform(x=20, y=20).contour(rectangle(100.0, 60.0))),
        holes=(Hole(at=(30.0, 70.0), diameter=8.0, counterbore=Counterbore(diameter=14.0, depth=5.0)),),
        pockets=(
            Pocket(region=Region(RECESS, (ISLAND,)), depth=DEEP),
            Pocket(region=Region(STEP, (INNER,)), depth=SHALLOW),
            Pocket(region=Region(INNER), depth=DEEP),
        ),
    )
    placement = Placement(part=part, item="porch", unit=1, transform=Transform())
    return BoardLayout(id="board-01", board=ws.board(), placements=(placement,))


def machine(version: str = "R2000", units: str = "mm", layers: dict[str, str] | None = None) -> Machine:
    return ws.router(drawing={"version": version, "units": units, "board": False, "layers": layers or {}})


def walls(deep: str = "pocket 6.35 mm", shallow: str = "pocket 3 mm") -> dict[str, tuple[str, Contour]]:
    return {"recess": (deep, RECESS), "island": (deep, ISLAND), "step": (shallow, STEP), "inner": (shallow, INNER)}


def drawn(own: dict[str, tuple[str, Contour]], *, scale: float = 1.0) -> list[list[Group]]:
    groups = [lwpolyline("outside cut", OUTLINE.segments, closed=True, scale=scale)]
    groups += [lwpolyline(layer, wall.segments, closed=True, scale=scale) for layer, wall in own.values()]
    groups += [round_entity("bore", 30.0 * scale, 70.0 * scale, radius * scale) for radius in (4.0, 7.0)]
    return groups


def told(own: dict[str, tuple[str, Contour]], profile: Machine | None = None) -> list[str]:
    return messages(file(drawn(own)), board=layout(), profile=profile or machine())


@pytest.mark.parametrize("common", ["pocket 3 mm", "pocket 6.35 mm"])
def test_a_good_drawing_passes(common: str) -> None:
    """The wall that two pockets have in common is drawn once, on the layer of either."""
    assert told(walls() | {"inner": (common, INNER)}) == []


def test_in_inches_and_with_a_name_of_the_profile() -> None:
    deep, shallow = "pocket 0.25 in", "pocket 0.1181 in"
    data = file(drawn(walls(deep, shallow), scale=1 / 25.4), units=1)
    assert messages(data, board=layout(), profile=machine(units="in")) == []
    assert told(walls("floors", "floors"), machine(layers={"pocket": "floors"})) == []
    assert told(walls(), machine(layers={"pocket": "floors"}))


def test_a_depth_that_lies_between_two_names() -> None:
    part = layout().placements[0].part
    between = replace(part, pockets=(Pocket(region=Region(RECESS), depth=3.175),))
    board = replace(layout(), placements=(replace(layout().placements[0], part=between),))
    for depth, right in (("3.17", True), ("3.18", True), ("3.16", False), ("3.2", False)):
        data = file(drawn({"recess": (f"pocket {depth} mm", RECESS)}))
        assert (messages(data, board=board, profile=machine()) == []) is right


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"recess": ("pocket 3 mm", RECESS)}, "pocket 1 of part"),
        ({"recess": ("pocket", RECESS)}, "not on 'pocket 6.35 mm'"),
        ({"island": ("inside cut", ISLAND)}, "not on 'pocket 6.35 mm'"),
        ({"island": ("pocket 6.35 mm", box(40, 40, 50, 50.05))}, "not drawn in its place"),
        ({"inner": ("outside cut", INNER)}, "is drawn on layer 'outside cut'"),
        ({"again": ("pocket 6.35 mm", RECESS)}, "drawn twice"),
        ({"again": ("pocket 6.35 mm", INNER)}, "drawn twice"),
    ],
)
def test_spoiled_pockets_are_refused(change: dict[str, tuple[str, Contour]], says: str) -> None:
    assert any(says in message for message in told(walls() | change)), told(walls() | change)


@pytest.mark.parametrize("left_out", ["recess", "island", "step", "inner"])
def test_a_wall_left_out(left_out: str) -> None:
    own = {name: wall for name, wall in walls().items() if name != left_out}
    assert any("not drawn" in message for message in told(own))


OFFSET = 0.5


def moved_by(offset: float) -> str:
    return f"Outlines are moved by half the cutter's width of {2 * offset:.4f} mm"


def moved(wall: Contour, by: float) -> Contour:
    x0, y0, x1, y1 = wall.bounds
    return box(x0 - by, y0 - by, x1 + by, y1 + by)


def offset_walls(island: float = OFFSET, recess: float = -OFFSET) -> dict[str, tuple[str, Contour]]:
    return {
        "recess": ("pocket 6.35 mm", moved(RECESS, recess)), "island": ("pocket 6.35 mm", moved(ISLAND, island)),
        "step": ("pocket 3 mm", moved(STEP, -OFFSET)), "outer": ("pocket 3 mm", moved(INNER, OFFSET)),
        "inner": ("pocket 6.35 mm", moved(INNER, -OFFSET)),
    }  # fmt: skip


def offset_told(own: dict[str, tuple[str, Contour]]) -> list[str]:
    rounded = ws.rounded_rectangle(20 - OFFSET, 20 - OFFSET, 120 + OFFSET, 80 + OFFSET, OFFSET).outline
    groups = [lwpolyline("outside cut", rounded.segments, closed=True)]
    groups += [lwpolyline(layer, wall.segments, closed=True) for layer, wall in own.values()]
    groups += [round_entity("bore", 30.0, 70.0, radius - OFFSET) for radius in (4.0, 7.0)]
    return messages(file(groups, comment=moved_by(OFFSET)), board=layout(), profile=machine(), offset=OFFSET)


def rounded_islands() -> dict[str, tuple[str, Contour]]:
    own = offset_walls()
    for name, wall in (("island", ISLAND), ("outer", INNER)):
        x0, y0, x1, y1 = moved(wall, OFFSET).bounds
        own[name] = (own[name][0], ws.rounded_rectangle(x0, y0, x1, y1, OFFSET).outline)
    return own


def test_pockets_moved_to_their_waste_side() -> None:
    assert offset_told(rounded_islands()) == []


def test_pockets_moved_to_the_wrong_side() -> None:
    own = rounded_islands()
    for name, wall, by in (("recess", RECESS, OFFSET), ("island", ISLAND, -OFFSET)):
        wrong = own | {name: (own[name][0], moved(wall, by))}
        assert any("wrong side" in message or "where it belongs" in message for message in offset_told(wrong)), name


def test_a_pocket_for_a_laser() -> None:
    laser = Machine.model_validate(machine().model_dump() | {"kind": "laser", "writes": ["dxf"]})
    assert any("pocket 1 of" in message and "a laser can't stop" in message for message in told(walls(), laser))


def test_a_counterbore_hardly_wider_than_its_hole_drawn_with_an_offset() -> None:
    """Moved inward by half the kerf, the wide circle comes to lie nearer to the narrow hole than to its own wall."""
    hole = Hole(at=(60.0, 40.0), diameter=9.525, counterbore=Counterbore(diameter=12.525, depth=4.0))
    part = ShapedPart(name="round", region=Region(Transform(x=20, y=20).contour(rectangle(80.0, 40.0))), holes=(hole,))
    placement = Placement(part=part, item="porch", unit=1, transform=Transform())
    board = BoardLayout(id="board-01", board=ws.board(), placements=(placement,))
    half = 3.175
    corner = [(20 - half, 20), (20, 20 - half), (100, 20 - half), (100 + half, 20), (100 + half, 60), (100, 60 + half)]
    corner += [(20, 60 + half), (20 - half, 60)]
    segments = []
    for number, (start, end) in enumerate(zip(corner, corner[1:] + corner[:1], strict=True)):
        centre = ((20, 20), None, (100, 20), None, (100, 60), None, (20, 60), None)[number]
        segments.append(Line(start, end) if centre is None else Arc(start, end, centre, clockwise=False))
    profile = ws.router(drawing={"version": "R2000", "board": False, "outlines": "offset"})
    radii = (9.525 / 2 - half, 12.525 / 2 - half)
    for drawn_radii, right in ((radii, True), ((radii[0], radii[1] + 0.05), False), ((radii[0], radii[0]), False)):
        circles = [round_entity("bore", 60.0, 40.0, radius) for radius in drawn_radii]
        groups = [lwpolyline("outside cut", tuple(segments), closed=True), *circles]
        said = messages(file(groups, comment=moved_by(half)), board=board, profile=profile, offset=half)
        assert (said == []) is right, said
