"""The reader of DXF and the comparison with the layout: drawings written by hand, by ezdxf, and spoiled."""

from __future__ import annotations

import io
from collections.abc import Sequence

import ezdxf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutjob.geometry.contour import Contour, Region, circle, polyline
from cutjob.geometry.segment import Arc, Line, Segment, bulge_of
from cutjob.geometry.transform import Transform
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout, Placement
from cutjob.output.drawing import layer_names
from cutjob.parts.part import Hole, Mark, ShapedPart
from cutjob.proof.drawing.drawing import judge_drawing
from cutjob.proof.drawing.dxf_reader import DrawnChain, read_drawing
from cutjob.proof.drawing.layers import misplaced
from cutjob.proof.expect import ExpectedDrawing
from tests.proof import workshop as ws

Group = tuple[int, object]


def machine(
    version: str = "R2000", units: str = "mm", board: bool = True, layers: dict[str, str] | None = None
) -> Machine:
    drawing = {"version": version, "units": units, "board": board, "layers": layers or {}}
    return ws.router(drawing=drawing)


def layout(turn: float = 0.0, mirrored: bool = False) -> BoardLayout:
    window = polyline([(60, 20), (60, 40), (84, 40), (84, 20)])
    part = ShapedPart(
        name="gate latch",
        region=Region(ws.rounded_rectangle(0, 0, 100, 60, 10).outline, (window,)),
        holes=(Hole(at=(20.0, 20.0), diameter=12.0),),
        marks=(Mark(path=(Line((30.0, 50.0), (70.0, 50.0)), Line((70.0, 50.0), (80.0, 46.0)))),),
    )
    transform = Transform(x=100.0, y=60.0, degrees=turn, mirrored=mirrored)
    return BoardLayout(
        id="board-01", board=ws.board(), placements=(Placement(part=part, item="gate", unit=1, transform=transform),)
    )


def lwpolyline(layer: str, segments: Sequence[Segment], *, closed: bool, scale: float = 1.0) -> list[Group]:
    points = [(segment.start, bulge_of(segment)) for segment in segments]
    if not closed:
        points.append((segments[-1].end, 0.0))
    groups: list[Group] = [(0, "LWPOLYLINE"), (8, layer), (90, len(points)), (70, int(closed))]
    for (x, y), bulge in points:
        groups += [(10, x * scale), (20, y * scale), (42, bulge)]
    return groups


def old_polyline(layer: str, segments: Sequence[Segment], *, closed: bool) -> list[Group]:
    points = [(segment.start, bulge_of(segment)) for segment in segments]
    if not closed:
        points.append((segments[-1].end, 0.0))
    groups: list[Group] = [(0, "POLYLINE"), (8, layer), (66, 1), (70, int(closed))]
    for (x, y), bulge in points:
        groups += [(0, "VERTEX"), (8, layer), (10, x), (20, y), (42, bulge)]
    return [*groups, (0, "SEQEND"), (8, layer)]


def round_entity(layer: str, x: float, y: float, radius: float) -> list[Group]:
    return [(0, "CIRCLE"), (8, layer), (10, x), (20, y), (40, radius)]


AS_DRAWN = "Outlines are drawn at their finished size"
MOVED = "Outlines are moved by half the kerf of 0.2 mm"


def file(
    entities: Sequence[Sequence[Group]], *, version: str = "AC1015", units: int | None = 4, comment: str = AS_DRAWN
) -> bytes:
    groups: list[Group] = [(999, comment)] if comment else []
    groups += [(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, version)]
    if units is not None:
        groups += [(9, "$INSUNITS"), (70, units), (9, "$MEASUREMENT"), (70, int(units == 4))]
    groups += [(0, "ENDSEC"), (0, "SECTION"), (2, "TABLES"), (0, "TABLE"), (2, "LAYER"), (70, 1)]
    for layer in dict.fromkeys(str(value) for entity in entities for code, value in entity if code == 8):
        groups += [(0, "LAYER"), (2, layer), (70, 0)]
    groups += [(0, "ENDTAB"), (0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES")]
    for entity in entities:
        groups += entity
    groups += [(0, "ENDSEC"), (0, "EOF")]
    return "".join(f"{code:3d}\n{value}\n" for code, value in groups).encode()


def entities(board: BoardLayout, scale: float = 1.0) -> list[list[Group]]:
    (placement,) = board.placements
    region = placement.region
    hole = placement.transform.point((20.0, 20.0))
    mark = [placement.transform.segment(segment) for segment in placement.part.marks[0].path]
    return [
        lwpolyline("board", board.board.outline.segments, closed=True, scale=scale),
        lwpolyline("outside cut", region.outline.segments, closed=True, scale=scale),
        lwpolyline("inside cut", region.holes[0].segments, closed=True, scale=scale),
        round_entity("bore", hole[0] * scale, hole[1] * scale, 6.0 * scale),
        lwpolyline("mark", mark, closed=False, scale=scale),
    ]


def messages(data: bytes, *, board: BoardLayout, profile: Machine | None = None, offset: float = 0.0) -> list[str]:
    expected = ExpectedDrawing(file="board-01.dxf", board=board, offset=offset)
    return [str(finding) for finding in judge_drawing(data, expected, profile or machine())]


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("turn", [0.0, 90.0, 33.0])
def test_a_good_drawing_passes(turn: float, mirrored: bool) -> None:
    board = layout(turn, mirrored)
    assert messages(file(entities(board)), board=board) == []


def test_a_drawing_in_inches_passes_as_such_only() -> None:
    data = file(entities(layout(), 1 / 25.4), units=1)
    assert messages(data, board=layout(), profile=machine(units="in")) == []
    assert messages(data, board=layout())
    assert messages(file(entities(layout()), units=1), board=layout(), profile=machine(units="in"))


def test_an_old_drawing_states_its_unit_in_a_comment() -> None:
    (placement,) = layout().placements
    region = placement.region
    mark = [placement.transform.segment(segment) for segment in placement.part.marks[0].path]
    drawn = [
        old_polyline("board", layout().board.outline.segments, closed=True),
        old_polyline("outside-cut", region.outline.segments, closed=True),
        old_polyline("inside-cut", region.holes[0].segments, closed=True),
        round_entity("bore", 120.0, 80.0, 6.0),
        old_polyline("mark", mark, closed=False),
    ]
    profile = machine(version="R12")
    data = file(drawn, version="AC1009", units=None, comment=f"coordinates in mm {AS_DRAWN}")
    assert messages(data, board=layout(), profile=profile) == []
    unsaid = messages(file(drawn, version="AC1009", units=None), board=layout(), profile=profile)
    assert len(unsaid) == 1
    assert "in mm" in unsaid[0]


def shifted(contour: Contour, by: float) -> Contour:
    return Transform(x=by).contour(contour)


def test_spoiled_drawings_are_rejected() -> None:
    board = layout()
    good = entities(board)
    region = board.placements[0].region
    strange = lwpolyline("outside cut", circle((200.0, 20.0), 3.0).segments, closed=True)
    aside = lwpolyline("outside cut", shifted(region.outline, 0.05).segments, closed=True)
    spoiled = {
        ("outline missing", "is not drawn, or"): [good[0], *good[2:]],
        ("window missing", "inside contour 1"): [*good[:2], *good[3:]],
        ("hole missing", "hole 1"): [*good[:3], *good[4:]],
        ("mark missing", "mark 1"): good[:4],
        ("board missing", "outline is not drawn"): good[1:],
        ("outline twice", "drawn twice"): [*good, good[1]],
        ("hole twice", "drawn twice"): [*good, good[3]],
        ("board twice", "2 times"): [good[0], *good],
        ("something more", "isn't a contour"): [*good, strange],
        ("outline shifted", "is not drawn, or"): [good[0], aside, *good[2:]],
        ("hole wider", "hole 1"): [*good[:3], round_entity("bore", 120.0, 80.0, 6.02), good[4]],
        ("outline open", "open"): [
            good[0],
            lwpolyline("outside cut", region.outline.segments, closed=False),
            *good[2:],
        ],
        ("one layer for both", "holds inside cut and outside cut"): [
            *good[:2],
            lwpolyline("outside cut", region.holes[0].segments, closed=True),
            *good[3:],
        ],
        ("text", "TEXT"): [*good, [(0, "TEXT"), (8, "mark"), (10, 5), (20, 5), (40, 3), (1, "note")]],
        ("bulges lost", "is not drawn, or"): [good[0], [group for group in good[1] if group[0] != 42], *good[2:]],
    }
    for (name, word), drawn in spoiled.items():
        said = messages(file(drawn), board=board)
        assert any(word in message for message in said), (name, said)
    assert messages(file(good, units=None), board=board)
    assert messages(file(good, version="AC1009"), board=board)
    assert messages(file(good)[:-12], board=board)
    assert messages(b"", board=board)
    assert messages(file(good).replace(b"LWPOLYLINE\n", b"LWPOLYLINE\n 10\nx\n", 1), board=board)


def test_a_profile_may_put_two_operations_on_one_layer() -> None:
    board = layout()
    region = board.placements[0].region
    good = entities(board)
    cuts = [lwpolyline("EDGE", contour.segments, closed=True) for contour in (region.outline, region.holes[0])]
    profile = machine(layers={"outside cut": "EDGE", "inside cut": "EDGE"})
    assert messages(file([good[0], *cuts, *good[3:]]), board=board, profile=profile) == []
    assert messages(file(good), board=board, profile=profile)


def renamed(entity: list[Group], layer: str) -> list[Group]:
    return [(code, layer if code == 8 else value) for code, value in entity]


def test_swapped_and_renamed_layers_are_refused() -> None:
    board, good = layout(), entities(layout())
    layers = ["board", "outside cut", "inside cut", "bore", "mark"]
    for one, own in enumerate(layers):
        for layer in (*layers, "drill", "outside-cut", "cut", "0", ""):
            drawn = [*good[:one], renamed(good[one], layer), *good[one + 1 :]]
            assert bool(messages(file(drawn), board=board)) is (layer != own), (own, layer)
    for one, two in ((0, 1), (1, 2), (1, 4), (2, 3), (3, 4)):
        drawn = list(good)
        drawn[one], drawn[two] = renamed(good[one], layers[two]), renamed(good[two], layers[one])
        said = messages(file(drawn), board=board)
        assert len(said) == 2
        assert all("layer" in message for message in said)


def test_a_hole_of_the_cutters_size_is_drilled_and_no_other() -> None:
    part = ShapedPart(name="bar", region=ws.rounded_rectangle(0, 0, 60, 20, 5), holes=(Hole(at=(30, 10), diameter=6),))
    placement = Placement(part=part, item="gate", unit=1, transform=Transform(x=20, y=20))
    board = BoardLayout(id="board-01", board=ws.board(), placements=(placement,))
    for layer, right in (("drill", True), ("bore", False)):
        drawn = [
            lwpolyline("board", ws.board().outline.segments, closed=True),
            lwpolyline("outside cut", placement.region.outline.segments, closed=True),
            round_entity(layer, 50, 30, 3),
        ]
        assert (messages(file(drawn), board=board) == []) is right


def test_a_laser_makes_no_blind_holes() -> None:
    part = ShapedPart(
        name="bar", region=ws.rounded_rectangle(0, 0, 60, 20, 5), holes=(Hole(at=(30, 10), diameter=8, depth=4),)
    )
    placement = Placement(part=part, item="gate", unit=1, transform=Transform(x=20, y=20))
    board = BoardLayout(id="board-01", board=ws.board(), placements=(placement,))
    drawn = [
        lwpolyline("board", ws.board().outline.segments, closed=True),
        lwpolyline("outside cut", placement.region.outline.segments, closed=True),
        round_entity("bore", 50, 30, 4),
    ]
    assert messages(file(drawn), board=board) == []
    beam = [{"number": 1, "name": "beam", "diameter": 0.2}]
    drawn[2] = round_entity("inside cut", 50, 30, 4)
    said = messages(file(drawn), board=board, profile=ws.router(kind="laser", writes=["dxf"], cutter=beam))
    assert len(said) == 1
    assert "can't stop at its depth" in said[0]


NAMES = st.one_of(
    st.sampled_from(
        ["edge", "EDGE 1", "edge-1", "edge_1", "Surfacé", "Außen", "线", "a" * 80, "(inner) cut", "-x-", "***"]
    ),
    st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), min_size=1, max_size=40).filter(str.strip),
)


@given(version=st.sampled_from(["R12", "R2000"]), outside=NAMES, inside=NAMES, mark=NAMES)
@settings(max_examples=100, deadline=None)
def test_whatever_a_service_calls_its_layers(version: str, outside: str, inside: str, mark: str) -> None:
    """Names the writer makes of a profile's are taken for what they are, and swapped names for wrong."""
    profile = machine(version=version, layers={"outside cut": outside, "inside cut": inside, "mark": mark})
    written = layer_names(profile)
    for own, layer in written.items():
        chain = DrawnChain(layer=layer, segments=(), closed=True, point=None, line=1)
        assert misplaced(chain, (own,), profile) is None, (own, layer)
    plain = all(name.isascii() and name.isalnum() and len(name) < 20 for name in (outside, inside, mark))
    if plain and outside.casefold() != inside.casefold():
        chain = DrawnChain(layer=written["inside cut"], segments=(), closed=True, point=None, line=1)
        assert misplaced(chain, ("outside cut",), profile) is not None


def grown(offset: float) -> list[list[Group]]:
    """The drawing of `layout()` with outlines moved outward and openings inward, worked out by hand."""
    outline = Transform(x=100.0, y=60.0).contour(
        ws.rounded_rectangle(-offset, -offset, 100 + offset, 60 + offset, 10 + offset).outline
    )
    window = polyline(
        [
            (160 + offset, 80 + offset),
            (160 + offset, 100 - offset),
            (184 - offset, 100 - offset),
            (184 - offset, 80 + offset),
        ]
    )
    good = entities(layout())
    return [
        good[0],
        lwpolyline("outside cut", outline.segments, closed=True),
        lwpolyline("inside cut", window.segments, closed=True),
        round_entity("bore", 120.0, 80.0, 6.0 - offset),
        good[4],
    ]


def test_drawings_moved_by_half_the_kerf() -> None:
    assert messages(file(grown(0.1), comment=MOVED), board=layout(), offset=0.1) == []
    assert messages(file(grown(0.0), comment=MOVED), board=layout(), offset=0.1)
    assert messages(file(grown(0.1), comment=MOVED), board=layout())
    wrong = messages(file(grown(-0.1), comment=MOVED), board=layout(), offset=0.1)
    assert any("wrong side" in message for message in wrong)


def test_a_drawing_by_another_library_reads_the_same() -> None:
    """ezdxf, a general-purpose library for DXF, writes; this reader reads."""
    for version in ("R12", "R2000"):
        document = ezdxf.new(version)
        document.header["$INSUNITS"] = 4
        space = document.modelspace()
        points = [(0, 0, 0, 0, 0.414213562), (10, 10, 0, 0, 0), (0, 10, 0, 0, -1)]
        if version == "R12":
            space.add_polyline2d([(x, y, b) for x, y, _, _, b in points], format="xyb", close=True)
        else:
            space.add_lwpolyline(points, close=True)
        space.add_circle((5, 5), 2)
        space.add_line((1, 2), (3, 4))
        space.add_arc((0, 0), 5, 30, 120)
        space.add_point((7, 8))
        stream = io.StringIO()
        document.write(stream)
        drawing = read_drawing(stream.getvalue().encode(), name="a.dxf")
        assert not drawing.problems
        polygon, ring, line, arc, point = drawing.chains
        assert polygon.closed
        assert [type(segment) for segment in polygon.segments] == [Arc, Line, Arc]
        quarter = polygon.segments[0]
        assert isinstance(quarter, Arc)
        # Bulge 0.4142 is a quarter turn (DXF reference): about (0, 10), radius 10.
        assert quarter.centre == pytest.approx((0.0, 10.0), abs=1e-6)
        assert not quarter.clockwise
        assert Contour(ring.segments).circle() == (pytest.approx((5.0, 5.0)), pytest.approx(2.0))
        assert (line.segments[0].start, line.segments[0].end) == ((1.0, 2.0), (3.0, 4.0))
        assert arc.segments[0].end == pytest.approx((-2.5, 4.330127), abs=1e-6)
        assert point.point == (7.0, 8.0)


def test_the_system_of_measures_is_the_units() -> None:
    data = file(entities(layout()))
    assert messages(data, board=layout(), profile=machine()) == []
    for stated, says in ((b"70\n0\n", "is 0;"), (b"", "is not stated;")):
        spoiled = data.replace(b"  9\n$MEASUREMENT\n 70\n1\n", b"  9\n$MEASUREMENT\n " + stated if stated else b"")
        (said,) = messages(spoiled, board=layout(), profile=machine())
        assert f"$MEASUREMENT {says} for mm it is 1" in said
