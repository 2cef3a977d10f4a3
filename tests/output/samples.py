"""Small layouts, machines and programs of a seaside-garden workshop, for the tests of the writers."""

from dataclasses import replace

from cutjob.cuts.cut import Feature
from cutjob.geometry.contour import Region, circle, closed, rectangle
from cutjob.geometry.segment import Arc, Line
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.job.model import BoardStock
from cutjob.job.stock import KeepOut, board_of
from cutjob.layout.holding import Bridge, Hold, Holding
from cutjob.layout.layout import BoardLayout, HoldDown, Layout, Lettering, Placement, SawnPiece, Window
from cutjob.parts.part import (
    BoughtPart,
    Build,
    Counterbore,
    HandHole,
    Hole,
    Item,
    Mark,
    Pocket,
    RodPart,
    SawnPart,
    ShapedPart,
)
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


def rail(name="key rack", *, depths=(6.35, 3.0)):
    """A rail with a pocket round an island, a round pocket, a counterbored hole, a plain hole and a mark."""
    tray = Region(rectangle(70.0, 50.0), (circle((35.0, 25.0), 8.0).reversed(),))
    move = Transform(x=20.0, y=15.0)
    return ShapedPart(
        name=name,
        region=Region(rectangle(300.0, 80.0)),
        holes=(
            Hole(at=(130.0, 40.0), diameter=4.0, counterbore=Counterbore(diameter=10.0, depth=5.0)),
            Hole(at=(285.0, 40.0), diameter=6.35),
        ),
        pockets=(
            Pocket(region=move.region(tray), depth=depths[0]),
            Pocket(region=Region(circle((180.0, 40.0), 20.0)), depth=depths[1]),
        ),
        marks=(Mark(path=(Line((220.0, 20.0), (260.0, 20.0)),), depth=1.0),),
    )


def _eleven(x, y):
    """An L and a stroke beside it, 16 mm high."""
    return (Line((x, y + 16), (x, y)), Line((x, y), (x + 8, y))), (Line((x + 14, y), (x + 14, y + 16)),)


def long_layout(*, pins=False):
    """A board cut in three windows, held by screws, with clamps and a knot, letters, and rails and a tag on it."""
    keep_out = [
        {"outline": [[0, 0], [40, 0], [40, 30], [0, 30]], "why": "clamp", "height": 30},
        {"at": [800, 40], "radius": 12, "why": "knot"},
    ]
    board = picket(length=2400, width=160, corners=None, keep_out=keep_out)
    mirrored = Transform(x=1160.0, y=40.0, mirrored=True)
    moves = (Transform(x=60.0, y=40.0), Transform(x=430.0, y=40.0), mirrored, Transform(x=1900.0, y=40.0))
    rails = tuple(
        Placement(part=rail(), item="key rack", unit=unit, transform=move) for unit, move in enumerate(moves, 1)
    )
    tags = (Placement(part=tag(), item="porch name tag", unit=1, transform=Transform(x=1500.0, y=80.0)),)
    beside, on = (_eleven(1400.0, 60.0), _eleven(2130.0, 95.0))
    places = ((780.0, 80.0), (1200.0, 30.0)) if pins else ()
    windows = (
        Window(first=0.0, last=1000.0, placements=(0, 1), holes=places),
        Window(first=700.0, last=1700.0, placements=(2, 4), pins=places),
        Window(first=1400.0, last=2400.0, placements=(3,)),
    )
    downs = tuple(
        HoldDown(at=at, diameter=4.5, head=6.0, height=3.5, window=window)
        for at, window in (((400.0, 20.0), 0), ((760.0, 140.0), 0), ((1200.0, 140.0), 1), ((2300.0, 20.0), 2))
    )
    return BoardLayout(
        id="board-01",
        board=board,
        placements=rails + tags,
        windows=windows,
        hold_downs=downs,
        lettering=(Lettering(placement=4, paths=beside, depth=0.4), Lettering(placement=3, paths=on, depth=0.4)),
    )


def whole_layout(**options):
    piece = SawnPiece(
        item="planter", part="leg", length=200.0, width=139.7, thickness=15.875, count=2, board="cedar picket"
    )
    made_from = (("cedar picket", 1),)
    return Layout(boards=(layout(**options),), sawn=(piece,), gap=5.0, edge_margin=3.0, seed=11, sawn_from=made_from)


def machine(*, kind="router", cutters=None, **parts):
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
            "cutter": cutters or [{"number": 2, "name": "straight bit", "diameter": 3.175, "feed": [feed]}],
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
        Step(op="inside cut", placement=0, feature=Feature(kind="opening"), moves=opening_moves(power=power)),
        Step(op="outside cut", placement=0, feature=Feature(kind="outline"), moves=outside_moves(power=power)),
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


def changer(**parts):
    """A long machine whose changer holds a straight bit, a small one and a drill bit."""
    feed = {
        "material": "western cedar",
        "source": "test",
        "feed": 1500,
        "rpm": 16000,
        "plunge": 400,
        "depth_per_pass": 3,
    }
    cutters = [
        {"number": 2, "name": "straight bit", "diameter": 6.35, "feed": [feed]},
        {"number": 5, "name": "small bit", "diameter": 3.175, "feed": [feed | {"rpm": 18000}]},
        {"number": 7, "name": "drill bit", "diameter": 4.5, "only_down": True, "feed": [feed | {"rpm": 9000}]},
    ]
    travel = {"x": 1000, "y": 1000, "z": 80, "open_ends": True, "pin": 6.35}
    return machine(**({"cutters": cutters, "travel": travel, "controller": {"tool_change": "changer"}} | parts))


def hole_moves(x, y, *, radius=0.0, safe_z=5.0, depth=16.0):
    """A hole: straight down, or round and round from beside its middle."""
    start = (x + radius, y)
    moves = [Move("rapid", *start, safe_z), Move("rapid", *start, 1.0)]
    if radius:
        moves.append(Move("cut", *start, -depth, 400.0, (x, y), False))
    else:
        moves.append(Move("plunge", *start, -depth, 400.0))
    return (*moves, Move("rapid", *start, safe_z))


def section(cutter, *steps, rpm=None, screws_first=False):
    row = cutter.feed[0]
    return Section(cutter=cutter, rpm=row.rpm if rpm is None else rpm, steps=steps, screws_first=screws_first)


DRIVE = "drive the screws into the holes just drilled, and take the tools off the board"


def long_program(*, profile=None, window=0, number=1, count=3, pins=False, **changes):
    """The program of a window of `long_layout`: holes for its screws (and pins), a stop, a rail's holes and outline."""
    profile = profile or changer()
    wide, small, drill = profile.cutter
    board = long_layout(pins=pins)
    safe_z = 32.0
    downs = [down for down in board.hold_downs if down.window == window]
    holds = [
        Step(op="drill", placement=None, feature=Feature(kind="screw hole"), moves=hole_moves(*down.at, safe_z=safe_z))
        for down in downs
    ]
    places = [
        Step(
            op="bore",
            placement=None,
            feature=Feature(kind="pin hole"),
            moves=hole_moves(*at, radius=1.5875, safe_z=safe_z),
        )
        for at in board.windows[window].holes
    ]
    index = board.windows[window].placements[0]
    placement = board.placements[index]
    narrow, hole = (placement.transform.point(hole.at) for hole in placement.part.holes)
    x0, y0, x1, y1 = placement.region.bounds
    ring = ((x0 - 3.175, y0), (x0 - 3.175, y1), (x1 + 3.175, y1), (x1 + 3.175, y0), (x0 - 3.175, y0))
    outline = (
        Move("rapid", *ring[0], safe_z),
        Move("plunge", *ring[0], -16.0, 400.0),
        *(Move("cut", *at, -16.0, 1500.0) for at in ring[1:]),
        Move("rapid", *ring[0], safe_z),
    )
    made = Program(
        file=f"board-01-{number}.nc",
        board="board-01",
        number=number,
        count=count,
        window=window,
        sections=(
            section(drill, *holds),
            section(
                small,
                *places,
                Step(
                    op="bore",
                    placement=index,
                    feature=Feature(kind="hole", number=1),
                    moves=hole_moves(*narrow, radius=0.4125, safe_z=safe_z),
                ),
                screws_first=True,
            ),
            section(
                wide,
                Step(
                    op="drill",
                    placement=index,
                    feature=Feature(kind="hole", number=2),
                    moves=hole_moves(*hole, safe_z=safe_z),
                ),
                Step(op="outside cut", placement=index, feature=Feature(kind="outline"), moves=outline),
            ),
        ),
        origin=(board.windows[window].first, 0.0),
        safe_z=safe_z,
        depth=16.0,
        seconds=60.0,
    )
    return replace(made, **changes)


def long_programs(*, profile=None, pins=False):
    return tuple(long_program(profile=profile, window=number, number=number + 1, pins=pins) for number in range(3))


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


def held_layout(by="clamps", *, stack=1, full=False, between=None):
    """`layout` held: the tags 0 and 1 on the waste of chunk 0, which two clamps press, tag 2 on tag 1 and on chunk 1,
    and the gull wing on chunk 1, a piece of waste that hangs on a bridge to tag 2 and on one to the wing.
    """
    made = layout(stack=stack)
    clamps = tuple(Hold(area=Transform(x=x, y=0.0).contour(rectangle(40.0, 25.0)), height=20.0) for x in (5.0, 1700.0))
    tall = made.height if full else 3.0
    joins = ((0, 4), (0, 4), (1, 4), (4, 1), (1, 2), (2, 5), (3, 5))
    bridges = tuple(
        Bridge(joins=pair, ends=((100.0 * n, 30.0), (100.0 * n, 27.0)), width=6.0, height=tall)
        for n, pair in enumerate(joins, 1)
    )
    waste = (rectangle(1800.0, 24.0), Transform(x=700.0, y=100.0).contour(rectangle(500.0, 35.0)))
    pressed = by == "clamps"
    holding = Holding(
        by=by,
        holds=clamps if pressed else (),
        chunks=waste,
        bridges=bridges if pressed else (),
        to_hold=(1, 1, 2, 4) if pressed else (0, 0, 0, 0),
        between_boards=between,
    )
    board = made.board
    if pressed:
        areas = tuple(clamp.area for clamp in clamps)
        board = replace(
            board,
            keep_outs=(*board.keep_outs, *(KeepOut(area, height=20.0, why="clamp") for area in areas)),
        )
    return replace(made, board=board, holding=holding)


def held_long_layout():
    """`long_layout` without screws: a clamp of its own in each window, and bridges from every part to the waste."""
    made = long_layout()
    clamps = tuple(
        Hold(area=Transform(x=x, y=135.0).contour(rectangle(40.0, 25.0)), height=20.0, window=window)
        for window, x in enumerate((300.0, 1200.0, 2300.0))
    )
    bridges = tuple(
        Bridge(joins=(part, 5), ends=((50.0 * part, 60.0), (50.0 * part, 65.0)), width=6.0, height=3.0)
        for part in range(5)
    )
    holding = Holding(
        by="clamps", holds=clamps, chunks=(rectangle(2400.0, 160.0),), bridges=bridges, to_hold=(1, 1, 1, 1, 1)
    )
    return replace(made, hold_downs=(), holding=holding)
