"""Small layouts, machines and programs of a seaside-garden workshop, for the tests of the writers."""

from dataclasses import replace

from cutjob.geometry.contour import Region, circle, closed
from cutjob.geometry.segment import Arc, Line
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.job.model import BoardStock
from cutjob.job.stock import board_of
from cutjob.layout.layout import BoardLayout, Layout, Placement, SawnPiece
from cutjob.parts.part import BoughtPart, Build, HandHole, Hole, Item, Mark, RodPart, SawnPart, ShapedPart
from cutjob.program.moves import Move, PlannedTab, Program, Section, Step


def slot(length: float, radius: float):
    """A straight slot with round ends, counter-clockwise, its left centre at the origin."""
    right, top, bottom = length, radius, -radius
    return closed(
        [
            Line((0, bottom), (right, bottom)),
            Arc((right, bottom), (right, top), (right, 0), False),
            Line((right, top), (0, top)),
            Arc((0, top), (0, bottom), (0, 0), False),
        ]
    )


def tag(name="name tag"):
    """A tag with round ends, a round opening, two holes and a mark."""
    return ShapedPart(
        name=name,
        region=Region(slot(120.0, 30.0), (circle((0.0, 0.0), 10.0),)),
        holes=(Hole(at=(60.0, 0.0), diameter=3.175), Hole(at=(110.0, 5.0), diameter=8.0, depth=6.0)),
        marks=(Mark(path=(Line((30.0, -10.0), (45.0, -10.0)), Arc((45.0, -10.0), (50.0, -5.0), (45.0, -5.0), False))),),
    )


def picket(**changes):
    stock = {
        "name": "cedar picket",
        "length": "6 ft",
        "width": "5 1/2 in",
        "thickness": "5/8 in",
        "corners": {"size": "1 1/4 in", "end": "right"},
        "material": "western cedar",
        "count": 4,
        "price": 3.4,
        "keep_out": [{"at": ["31 in", "2 in"], "radius": "3/4 in"}],
    }
    return board_of(BoardStock.model_validate(stock | changes))


def layout(*, stack=1, copies=1, board=None):
    placements = tuple(
        Placement(
            part=tag(),
            item="porch name tag",
            unit=number + 1,
            transform=Transform(x=60.0 + 200.0 * number + 120.0 * (number % 2), y=60.0, degrees=180.0 * (number % 2)),
        )
        for number in range(3)
    )
    turned = Transform(x=1200.0, y=70.0, degrees=17.0, mirrored=True)
    placements += (Placement(part=tag("gull wing"), item="gull spinner", unit=1, transform=turned),)
    return BoardLayout(id="board-01", board=board or picket(), placements=placements, stack=stack, copies=copies)


def whole_layout(**options):
    piece = SawnPiece(
        item="planter", part="leg", length=200.0, width=139.7, thickness=15.875, count=2, board="cedar picket"
    )
    made_from = (("cedar picket", 1),)
    return Layout(boards=(layout(**options),), sawn=(piece,), gap=5.0, edge_margin=3.0, seed=11, sawn_from=made_from)


def machine(*, kind="router", cutter=None, **parts):
    """A profile; `parts` are its tables, such as controller={"decimals": 3}."""
    feed = {"material": "western cedar", "source": "test", "feed": 1500, "power": 600}
    if kind == "router":
        feed |= {"rpm": 16000, "plunge": 400, "depth_per_pass": 3}
    return Machine.model_validate(
        {
            "name": "garden shed machine",
            "summary": "for tests",
            "kind": kind,
            "writes": ["gcode", "dxf"],
            "travel": {"x": 2000, "y": 1000, "z": 80},
            "cutter": [cutter or {"number": 2, "name": "straight bit", "diameter": 3.175, "feed": [feed]}],
        }
        | parts
    )


def opening_moves(*, power=0.0, feed=1500.0):
    """Round the first tag's opening: down a helix of two half turns, one round at depth, up again."""
    right, left, centre = (68.0, 60.0), (52.0, 60.0), (60.0, 60.0)
    return (
        Move("rapid", *right, 5.0),
        Move("rapid", *right, 1.0),
        Move("plunge", *right, 0.0, 400.0),
        Move("cut", *left, -1.5, feed, centre, False, power),
        Move("cut", *right, -3.0, feed, centre, False, power),
        Move("cut", *left, -3.0, feed, centre, False, power),
        Move("cut", *right, -3.0, feed, centre, False, power),
        Move("rapid", *right, 5.0),
    )


def outside_moves(*, power=0.0, feed=1500.0):
    return (
        Move("rapid", 60.0, 28.4125, 5.0),
        Move("plunge", 60.0, 28.4125, -16.0, 400.0),
        Move("cut", 180.0, 28.4125, -16.0, feed, None, False, power),
        Move("cut", 180.0, 91.5875, -16.0, feed, (180.0, 60.0), False, power),
        Move("cut", 60.0, 91.5875, -16.0, feed / 2, None, False, power),
        Move("cut", 60.0, 28.4125, -16.0, feed / 2, (60.0, 60.0), False, power),
        Move("rapid", 60.0, 28.4125, 5.0),
    )


def program(*, profile=None, origin=(0.0, 0.0), steps=None, power=0.0, **changes):
    profile = profile or machine()
    steps = steps or (
        Step(op="inside cut", placement=0, moves=opening_moves(power=power)),
        Step(op="outside cut", placement=0, moves=outside_moves(power=power)),
    )
    rpm = None if profile.kind == "laser" else 16000.0
    made = Program(
        file="board-01.nc",
        board="board-01",
        sections=(Section(cutter=profile.cutter[0], rpm=rpm, steps=steps),),
        origin=origin,
        safe_z=5.0,
        depth=16.0,
        tabs=(
            PlannedTab(placement=0, at=(120.0, 30.0), width=6.0, height=3.0),
            PlannedTab(placement=0, at=(210.0, 60.0), width=6.0, height=3.0),
        ),
        seconds=41.25,
        cut_mm=700.125,
        air_mm=120.5,
    )
    return replace(made, **changes)


def items():
    build = Build(
        shaped=(tag(),),
        sawn=(SawnPart(name="leg", length=200.0),),
        rods=(RodPart(name="post", diameter=9.525, length=300.0),),
        bought=(BoughtPart(name="cup hook", count=2),),
        hand_holes=(HandHole(part="leg", diameter=9.525, depth=20.0, note="middle of the end"),),
        facts=(("height", 180.0),),
    )
    return (
        Item(name="porch name tag", design="name-tag", size="medium", count=3, build=build),
        Item(
            name="gull spinner",
            design="gull",
            size="small",
            count=1,
            build=Build(bought=(BoughtPart(name="cup hook"),)),
        ),
    )
