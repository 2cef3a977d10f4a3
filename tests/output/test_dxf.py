import io
import math
import re
from dataclasses import replace

import ezdxf
import numpy as np
import pyogrio.raw
import pytest
import shapely
from ezdxf.audit import Auditor

from cutjob.drawings.dxf import read_dxf
from cutjob.geometry.contour import Region, circle
from cutjob.geometry.segment import Line
from cutjob.job.machine import Drawing
from cutjob.job.read_machine import read_machine
from cutjob.output.drawing import (
    DrawnCircle,
    DrawnLine,
    DrawnPart,
    as_drawn,
    draw_board,
    layer_names,
    moved_into_waste,
    pocket_layers,
)
from cutjob.output.dxf import nearest_aci, write_dxf
from cutjob.output.operations import COLOURS, OPERATIONS
from cutjob.parts.part import Mark
from cutjob.proof.drawing.dxf_reader import read_drawing
from tests.output.samples import changer, layout, long_layout, machine, tag

VERSIONS = ["R12", "R2000"]
SAYS = "Outlines are drawn at their finished size."
UNITS = {"mm": 1.0, "in": 25.4}


def drawing(version="R2000", units="mm", board=None, drawn=None, **changes):
    board = board or layout()
    profile = machine(drawing={"version": version, "units": units} | changes)
    drawn = as_drawn(board, cutter_diameter=3.175) if drawn is None else drawn
    return write_dxf(draw_board(board, machine=profile, drawn=drawn), machine=profile, says=SAYS)


def by_gdal(data, tmp_path):
    """Layers and geometries as GDAL's DXF driver reads them."""
    path = tmp_path / "board.dxf"
    path.write_bytes(data)
    meta, _, geometry, fields = pyogrio.raw.read(path, columns=["Layer"])
    assert list(meta["fields"]) == ["Layer"]
    return list(fields[0]), shapely.from_wkb(geometry)


def entities(data):
    document = ezdxf.read(io.StringIO(data.decode("cp1252")))
    return document, list(document.modelspace())


def name_of(op, version):
    return op.replace(" ", "-") if version == "R12" else op


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("units", UNITS)
def test_gdal_reads_closed_rings_of_the_right_area(version, units, tmp_path):
    board = layout()
    layers, shapes = by_gdal(drawing(version, units, board), tmp_path)
    outlines = [shape for name, shape in zip(layers, shapes, strict=True) if name == name_of("outside cut", version)]
    expected = [placement.region.outline for placement in board.placements]
    assert len(outlines) == len(expected)
    for ring, contour in zip(outlines, expected, strict=True):
        points = np.array(ring.exterior.coords if ring.geom_type == "Polygon" else ring.coords)[:, :2]
        assert tuple(points[0]) == pytest.approx(tuple(points[-1]), abs=1e-9)
        area = shapely.Polygon(points).area * UNITS[units] ** 2
        # GDAL draws chords at 4 degrees: of each sector r^2 t / 2 they leave out t^2 / 6 at most, on two half turns.
        left_out = math.pi * 30.0**2 * math.radians(4) ** 2 / 6
        assert contour.signed_area * (1 - 1e-6) - left_out <= area <= contour.signed_area * (1 + 1e-6)
    corners = [placement.region.bounds for placement in board.placements]
    for ring, bounds in zip(outlines, corners, strict=True):
        # Chords stay within r t^2 / 8 of the arc; 1e-6 for the decimals of the file.
        sagitta = 30 * math.radians(4) ** 2 / 8 + 1e-6 * UNITS[units]
        assert [value * UNITS[units] for value in ring.bounds] == pytest.approx(bounds, abs=sagitta)


@pytest.mark.parametrize("version", VERSIONS)
def test_exact_area_from_the_bulges(version):
    board = layout()
    _, drawn = entities(drawing(version, "in", board))
    outlines = [entity for entity in drawn if entity.dxf.layer == name_of("outside cut", version)]
    for entity, placement in zip(outlines, board.placements, strict=True):
        assert entity.is_closed if version == "R12" else entity.closed
        points = entity.get_points("xyb") if version != "R12" else list(vertices(entity))
        assert bulged_area(points) * 25.4**2 == pytest.approx(placement.region.outline.signed_area, rel=1e-6)


def vertices(polyline):
    for vertex in polyline.vertices:
        yield vertex.dxf.location.x, vertex.dxf.location.y, vertex.dxf.get("bulge", 0.0)


def bulged_area(points):
    """Area by the published meaning of a bulge: tan of a quarter of the included angle (DXF reference)."""
    area = 0.0
    for (x0, y0, bulge), (x1, y1, _) in zip(points, points[1:] + points[:1], strict=True):
        area += (x0 * y1 - x1 * y0) / 2
        if bulge:
            angle = 4 * math.atan(bulge)
            radius = math.dist((x0, y0), (x1, y1)) * (1 + bulge**2) / (4 * abs(bulge))
            area += radius**2 * (angle - math.sin(angle)) / 2
    return area


@pytest.mark.parametrize("version", VERSIONS)
def test_layers_circles_and_marks(version):
    document, drawn = entities(drawing(version))
    count = 4
    kinds = {
        op: sorted({entity.dxftype() for entity in drawn if entity.dxf.layer == name_of(op, version)})
        for op in OPERATIONS
    }
    line = "POLYLINE" if version == "R12" else "LWPOLYLINE"
    assert kinds == {
        "outside cut": [line],
        "inside cut": ["CIRCLE"],
        "bore": ["CIRCLE"],
        "drill": ["CIRCLE"],
        "mark": [line],
        "board": [line],
        "pocket": [],
    }
    assert len(drawn) == 5 * count + 1
    assert all(entity.is_closed if version == "R12" else entity.closed for entity in drawn
               if entity.dxftype() == line and entity.dxf.layer != "mark")  # fmt: skip
    names = {layer.dxf.name for layer in document.layers}
    assert {name_of(op, version) for op in OPERATIONS if op != "pocket"} <= names
    assert not [name for name in names if name.startswith("pocket")]
    radii = {entity.dxf.radius for entity in drawn if entity.dxf.layer == "drill"}
    assert radii == {3.175 / 2}


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize(("units", "code", "measurement"), [("mm", 4, 1), ("in", 1, 0)])
def test_units_are_stated(version, units, code, measurement):
    # $INSUNITS 1 inch, 4 mm (DXF reference); it came after R12, where a comment states the unit.
    data = drawing(version, units)
    if version == "R12":
        assert data.startswith(b"999\ncoordinates in " + units.encode() + b"\n")
        assert b"$INSUNITS" not in data
    else:
        assert re.search(rb"\$INSUNITS\n 70\n" + str(code).encode() + rb"\n", data)
        assert re.search(rb"\$MEASUREMENT\n 70\n" + str(measurement).encode() + rb"\n", data)
    length = layout().board.length / UNITS[units]
    extents = re.search(rb"\$EXTMAX\n 10\n([\d.]+)\n", data)
    assert extents is not None
    assert float(extents[1]) == pytest.approx(length, abs=1e-6)


@pytest.mark.parametrize("version", VERSIONS)
def test_audit_is_clean_and_version_right(version, caplog):
    data = drawing(version)
    assert not caplog.records
    document, _ = entities(data)
    auditor = document.audit()
    assert isinstance(auditor, Auditor)
    assert not auditor.has_errors
    assert not auditor.has_fixes
    assert document.dxfversion == {"R12": "AC1009", "R2000": "AC1015"}[version]


@pytest.mark.parametrize("version", VERSIONS)
def test_the_same_bytes_twice_and_the_switch_put_back(version):
    before = ezdxf.options.write_fixed_meta_data_for_testing
    assert drawing(version) == drawing(version)
    assert ezdxf.options.write_fixed_meta_data_for_testing is before
    nowhere = DrawnPart(outline=circle((0, 0), 5), circles=(DrawnCircle(op="bore", at=(math.nan, 0), diameter=1),))
    with pytest.raises(ValueError, match="can't be written"):
        drawing(version, drawn=[nowhere])
    assert ezdxf.options.write_fixed_meta_data_for_testing is before


@pytest.mark.parametrize("version", VERSIONS)
def test_nothing_is_drawn_twice(version):
    hole = circle((50.0, 20.0), 4.0)
    square = Region(circle((40.0, 40.0), 39.0)).outline
    rotated = replace(square, segments=square.segments[1:] + square.segments[:1]).reversed()
    part = DrawnPart(
        outline=square,
        holes=(hole, hole.reversed()),
        circles=(DrawnCircle(op="bore", at=(50.0, 20.0), diameter=8.0),),
        lines=(DrawnLine("mark", (Line((1, 1), (2, 2)),)), DrawnLine("mark", (Line((2, 2), (1, 1)),))),
    )
    again = replace(part, outline=rotated)
    _, drawn = entities(drawing(version, drawn=[part, again], board=layout()))
    assert len(drawn) == 4  # board, outline, one hole, one mark


def test_no_exponents_even_for_the_flattest_bulge():
    flat = DrawnPart(outline=circle((1e-6, 0), 5), lines=(DrawnLine("mark", (Line((0, 0), (1e-5, 1e-5)),)),))
    text = drawing("R2000", drawn=[flat]).decode("cp1252")
    lines = text.split("\n")
    numbers = [value for code, value in zip(lines[::2], lines[1::2], strict=False)
               if code.strip().isdigit() and 10 <= int(code) <= 59]  # fmt: skip
    assert len(numbers) > 20
    assert not any(re.search("[eE]", number) for number in numbers)
    assert "0.00001" in numbers


def test_names_a_service_asks_for():
    layers = {"outside cut": "cut (outer) ä/ö", "inside cut": "cut (outer) a o", "bore": "C" * 60, "drill": "C" * 70}
    names = layer_names(machine(drawing={"version": "R12", "layers": layers}))
    assert all(re.fullmatch(r"[A-Za-z0-9$_-]{1,31}", name) for name in names.values())
    assert len(set(names.values())) == len(OPERATIONS)
    same = layer_names(machine(drawing={"layers": {"bore": "holes", "drill": "holes"}}))
    assert same["bore"] == same["drill"] == "holes"
    assert same["outside cut"] == "outside cut"
    _, drawn = entities(drawing("R2000", layers={"mark": "Ätzen; 50%"}))
    assert "Ätzen- 50%" in {entity.dxf.layer for entity in drawn}


def test_the_board_can_be_left_out(tmp_path):
    layers, _ = by_gdal(drawing(), tmp_path)
    assert "board" in layers
    profile = machine().model_copy(update={"drawing": Drawing(board=False)})
    data = write_dxf(draw_board(layout(), machine=profile, drawn=as_drawn(layout())), machine=profile, says=SAYS)
    layers, _ = by_gdal(data, tmp_path)
    assert "board" not in layers


def test_colours_stay_apart_in_the_table_of_255():
    numbers = [nearest_aci(COLOURS[op]) for op in OPERATIONS]
    assert len(set(numbers)) == len(OPERATIONS)
    assert all(1 <= number <= 255 for number in numbers)


def test_a_closed_mark_is_closed():
    part = replace(tag(), marks=(Mark(path=circle((60, -10), 5).segments),))
    board = layout()
    board = replace(board, placements=(replace(board.placements[0], part=part),))
    _, drawn = entities(drawing(board=board))
    [mark] = [entity for entity in drawn if entity.dxf.layer == "mark"]
    assert mark.closed
    assert len(mark) == 2


def long_drawing(version="R2000", units="mm", *, board=None, by=0.0, **changes):
    board = board or long_layout(pins=True)
    profile = changer(drawing={"version": version, "units": units} | changes)
    drawn = as_drawn(board, cutter_diameter=6.35)
    drawn = [moved_into_waste(part, by) if by else part for part in drawn]
    return write_dxf(draw_board(board, machine=profile, drawn=drawn), machine=profile, says=SAYS)


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize(
    ("units", "names"),
    [("mm", ("pocket 6.35 mm", "pocket 3 mm")), ("in", ("pocket 0.25 in", "pocket 0.1181 in"))],
)
def test_pockets_have_a_layer_for_each_depth(version, units, names, tmp_path):
    if version == "R12":
        names = tuple(name.replace(" ", "-").replace(".", "-") for name in names)
        # R12 layer names: letters, digits, $ - _, at most 31 (DXF reference) [M].
        assert all(re.fullmatch(r"[A-Za-z0-9$_-]{1,31}", name) for name in names)
    data = long_drawing(version, units)
    document, drawn = entities(data)
    deep, shallow = ([entity for entity in drawn if entity.dxf.layer == name] for name in names)
    line = "POLYLINE" if version == "R12" else "LWPOLYLINE"
    assert sorted(entity.dxftype() for entity in deep) == ["CIRCLE"] * 4 + [line] * 4
    assert [entity.dxftype() for entity in shallow] == ["CIRCLE"] * 4
    assert all(entity.is_closed if version == "R12" else entity.closed for entity in deep if entity.dxftype() == line)
    table = {layer.dxf.name: layer.color for layer in document.layers}
    assert {table[name] for name in names} == {nearest_aci(COLOURS["pocket"])}
    assert not document.audit().has_errors
    # GDAL, which knows nothing of this project, reads the same area: 70 x 50 less an island of radius 8.
    layers, shapes = by_gdal(data, tmp_path)
    rings = [shapely.Polygon(shape.coords if shape.geom_type != "Polygon" else shape.exterior.coords)
             for name, shape in zip(layers, shapes, strict=True) if name == names[0]]  # fmt: skip
    areas = sorted(shapely.area(shapely.force_2d(rings)) * UNITS[units] ** 2)
    assert areas[4:] == pytest.approx([3500.0] * 4, rel=1e-6)
    # Of a circle in chords at 4 degrees t^2 / 6 is left out at most.
    assert areas[:4] == pytest.approx([math.pi * 64] * 4, rel=math.radians(4) ** 2 / 6)


def test_a_profile_that_names_the_layer_of_pockets_gets_that_one():
    document, drawn = entities(long_drawing(layers={"pocket": "CLEAR"}))
    assert {layer.dxf.name for layer in document.layers} >= {"CLEAR"}
    assert sum(entity.dxf.layer == "CLEAR" for entity in drawn) == 12
    assert not [layer.dxf.name for layer in document.layers if layer.dxf.name.startswith("pocket")]


def test_layers_of_depths_are_told_apart_from_names_a_service_has():
    taken = changer(drawing={"layers": {"bore": "pocket 3 mm"}})
    assert pocket_layers(taken, [3.0, 3.004, 2.0]) == {3.0: "pocket 3 mm-2", 3.004: "pocket 3 mm-2", 2.0: "pocket 2 mm"}


@pytest.mark.parametrize("version", VERSIONS)
def test_counterbores_screws_pins_and_letters(version):
    board = long_layout(pins=True)
    _, drawn = entities(long_drawing(version, board=board))
    of_layer = {}
    for entity in drawn:
        of_layer.setdefault(entity.dxf.layer, []).append(entity)
    # A rail's counterbore is two circles about one middle; its 6.35 mm hole is the cutter's own.
    assert sorted(round(entity.dxf.radius, 6) for entity in of_layer["bore"]) == [
        1.5875, 2.0, 2.0, 2.0, 2.0, 4.0, 5.0, 5.0, 5.0, 5.0,
    ]  # fmt: skip
    middles = {tuple(entity.dxf.center)[:2] for entity in of_layer["bore"] if entity.dxf.radius in (2.0, 5.0)}
    assert len(middles) == 4
    drilled = {(*tuple(entity.dxf.center)[:2], entity.dxf.radius) for entity in of_layer["drill"]}
    assert drilled >= {(*down.at, 2.25) for down in board.hold_downs}
    assert drilled >= {(*at, 3.175) for at in board.windows[0].holes}
    assert len(drilled) == len(of_layer["drill"]) == 4 + 2 + 4
    # Two strokes of two letters, a mark on each of four rails and one on the tag.
    assert len(of_layer["mark"]) == 2 * 2 + 4 + 1
    assert not any(entity.is_closed if version == "R12" else entity.closed for entity in of_layer["mark"])


def test_pockets_move_into_their_waste_with_the_kerf():
    by = 0.1
    _, drawn = entities(long_drawing(by=by))
    [tray, *_] = [entity for entity in drawn if entity.dxf.layer == "pocket 6.35 mm" and entity.dxftype() != "CIRCLE"]
    [island, *_] = [entity for entity in drawn if entity.dxf.layer == "pocket 6.35 mm" and entity.dxftype() == "CIRCLE"]
    assert bulged_area(tray.get_points("xyb")) == pytest.approx((70 - 2 * by) * (50 - 2 * by), rel=1e-6)
    assert island.dxf.radius == pytest.approx(8 + by, abs=1e-6)
    radii = {round(entity.dxf.radius, 6) for entity in drawn if entity.dxf.layer == "bore"}
    assert {2.0 - by, 5.0 - by} <= radii


@pytest.mark.parametrize("profile", ["bench-router", "long-bed-router", "bench-laser", "laser-service", "bandsaw"])
def test_drawings_of_the_shipped_profiles_say_their_unit_and_are_read_back(profile, tmp_path):
    board, of_profile = layout(), read_machine(profile, beside=None)
    path = tmp_path / "board.dxf"
    drawing = draw_board(board, machine=of_profile, drawn=as_drawn(board))
    path.write_bytes(write_dxf(drawing, machine=of_profile, says=SAYS))
    document = ezdxf.readfile(path)
    assert (document.dxfversion, document.header["$INSUNITS"], document.header["$MEASUREMENT"]) == ("AC1015", 4, 1)
    assert b"Defpoints" not in path.read_bytes()
    layers = set(read_drawing(path.read_bytes(), name="board.dxf").layers)
    assert layers - {"0"} == {entity.dxf.layer for entity in document.modelspace()}
    found = read_dxf(path, units=None)
    assert found.problems == []
    assert found.mm_per_unit == 1.0
