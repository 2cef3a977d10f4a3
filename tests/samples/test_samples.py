"""Every shipped sample, from its file to a proven folder, and what independent readers make of the files."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
import shapely

from cutjob.job.shipped import shipped_files
from cutjob.pipeline import MakeResult, make_job
from cutjob.tolerances import TOLERANCES

SAMPLES = shipped_files("samples")

# NISTIR 6556, table 3: the letters a word may begin with.
LETTERS = set("ABCDFGHIJKLMNPQRSTXYZ")
# The same report, 3.3: a letter, then a sign, digits and at most one point; no exponent.
WORD = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))")
COMMENT = re.compile(r"\([^()]*\)")

_made: dict[str, tuple[Path, MakeResult]] = {}


def test_there_are_samples() -> None:
    assert len(SAMPLES) >= 3


@pytest.fixture(params=sorted(SAMPLES))
def sample(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, MakeResult]:
    """The folder and the result of a sample, made once for all tests."""
    name = request.param
    if name not in _made:
        folder = tmp_path_factory.mktemp(name) / "out"
        _made[name] = folder, make_job(SAMPLES[name], out=folder, effort="quick")
    return _made[name]


def plan_in(folder: Path) -> dict[str, Any]:
    plan: dict[str, Any] = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    return plan


def test_it_is_proven(sample: tuple[Path, MakeResult]) -> None:
    folder, result = sample
    assert result.proof.passed, [str(finding) for finding in result.proof.findings]
    assert result.proof.worst_gouge <= TOLERANCES.acceptance
    assert result.proof.worst_left <= TOLERANCES.acceptance
    proof = plan_in(folder)["proof"]
    assert proof == {
        "passed": True,
        "worst_gouge_mm": pytest.approx(result.proof.worst_gouge, abs=1e-6),
        "worst_left_mm": pytest.approx(result.proof.worst_left, abs=1e-6),
        "worst_pattern_mm": None,  # on a router or laser there are no paper patterns
        "greatest_allowed_mm": TOLERANCES.acceptance,
        "findings": [],
    }


def test_every_part_of_the_order_is_on_a_board(sample: tuple[Path, MakeResult]) -> None:
    folder, result = sample
    wanted: dict[tuple[str, str], int] = {}
    for item in result.items:
        for part in item.build.shaped:
            wanted[item.name, part.name] = wanted.get((item.name, part.name), 0) + item.count
    found: dict[tuple[str, str], int] = {}
    for board in plan_in(folder)["boards"]:
        for placement in board["placements"]:
            key = placement["item"], placement["part"]
            found[key] = found.get(key, 0) + board["stack"] * board["copies"]
    assert found == wanted


def assert_same_areas(found: list[shapely.Polygon], wanted: list[shapely.Polygon]) -> None:
    """Rings in the plan are chords up to 0.002 mm inside their arcs, and GDAL steps by a quarter degree."""
    assert len(found) == len(wanted)
    pairs = zip(sorted(found, key=lambda ring: ring.area), sorted(wanted, key=lambda ring: ring.area), strict=True)
    for one, two in pairs:
        assert one.area == pytest.approx(two.area, rel=1e-5, abs=TOLERANCES.chord * two.length)


def test_gdal_reads_the_same_areas_from_every_drawing(sample: tuple[Path, MakeResult]) -> None:
    pyogrio = pytest.importorskip("pyogrio", reason="pyogrio, the reader of GDAL, is not installed")
    folder, _ = sample
    boards = {board["id"]: board for board in plan_in(folder)["boards"]}
    drawings = sorted(folder.glob("*.dxf"))
    assert {drawing.stem for drawing in drawings} == set(boards)
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": 0.25})
    for drawing in drawings:
        meta, _, geometries, fields = pyogrio.raw.read(drawing)
        layer_of = fields[list(meta["fields"]).index("Layer")]
        outside, inner = [], []
        for shape, layer in zip(shapely.from_wkb(geometries), layer_of, strict=True):
            name = re.sub(r"[^a-z]+", " ", layer.lower())
            if name in ("mark", "board"):
                continue
            ring = shape.exterior if shape.geom_type == "Polygon" else shape
            assert ring.geom_type in ("LineString", "LinearRing"), (drawing.name, shape.geom_type)
            assert ring.is_closed, f"{drawing.name}: an open line on layer {layer}"
            assert ring.is_simple
            (outside if name == "outside cut" else inner).append(shapely.Polygon(ring))
        placements = boards[drawing.stem]["placements"]
        holes = [shapely.Polygon(ring) for placement in placements for ring in placement["holes"]]
        holes += [
            shapely.Point(feature["at"]).buffer(feature["diameter"] / 2, quad_segs=512)
            for placement in placements
            for feature in placement["features"]
            if "diameter" in feature
        ]
        holes += [
            shapely.Polygon(ring)
            for placement in placements
            for feature in placement["features"]
            if feature["op"] == "pocket"
            for ring in (feature["outline"], *feature["islands"])
        ]
        assert_same_areas(outside, [shapely.Polygon(placement["outline"]) for placement in placements])
        assert_same_areas(inner, holes)


def test_every_program_keeps_to_the_standards_limits(sample: tuple[Path, MakeResult]) -> None:
    """NISTIR 6556, 3.3: lines of 256 characters, table 3's letters, each once but for G and M, at most four M words."""
    folder, result = sample
    programs = {program.file for program in result.programs}
    assert {path.name for path in folder.glob("*.nc")} == programs
    for name in programs:
        lines = (folder / name).read_text(encoding="ascii").splitlines()
        assert (lines[0] == "%") == (lines[-1] == "%")
        body = [line for line in lines if line != "%"]
        assert re.fullmatch(r"M(2|30)", body[-1])
        for line in body:
            assert len(line) <= 256
            code = re.sub(r"\s", "", COMMENT.sub("", line))
            assert "(" not in code
            assert ")" not in code
            assert WORD.sub("", code) == "", line
            letters = [letter for letter, _ in WORD.findall(code)]
            assert set(letters) <= LETTERS
            assert letters.count("M") <= 4
            assert all(letters.count(letter) <= 1 for letter in set(letters) - {"G", "M"})
