"""Every shipped sample, from its file to a proven folder, and what independent readers make of the files."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import pytest
import shapely

from cutjob.files.file_bytes import shipped_files
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.making import MakeResult, make_job
from cutjob.program.moves import Program
from cutjob.resolved import read_order
from cutjob.tolerances import TOLERANCES
from tests.proof.mutants.edits import moves_of, sections_of
from tests.proof.mutants.machine_run import Run, run

SAMPLES = shipped_files("samples")
pytestmark = pytest.mark.usefixtures("whole_search")

# NISTIR 6556, table 3: the letters a word may begin with.
LETTERS = set("ABCDFGHIJKLMNPQRSTXYZ")
# The same report, 3.3: a letter, then a sign, digits and at most one point; no exponent.
WORD = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))")
COMMENT = re.compile(r"\([^()]*\)")

_made: dict[str, tuple[Path, MakeResult]] = {}


def test_there_are_samples() -> None:
    assert len(SAMPLES) >= 3


# Its counts are chosen first, by many layouts.
_SLOW = {"market-mix"}


@pytest.fixture(params=[pytest.param(one, marks=[pytest.mark.slow] * (one in _SLOW)) for one in sorted(SAMPLES)])
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


def run_as_made(result: MakeResult, name: str, folder: Path, machine: Machine) -> tuple[list[str], Run]:
    """A program's lines, and what a machine of the tests' own does with them."""
    program = next(one for one in result.programs if one.file == name)
    board = next(one for one in result.layout.boards if one.id == program.board)
    lines = (folder / name).read_text(encoding="ascii").splitlines()
    top = board.height if machine.motion.z_zero == "spoilboard" else 0.0
    ran = run(lines, origin=program.origin, top=top, milliseconds=machine.controller.dwell == "milliseconds")
    assert ran.broken == ""
    return lines, ran


def test_habits_a_machinist_would_sign(sample: tuple[Path, MakeResult], request: pytest.FixtureRequest) -> None:
    """Safe start, park, sections that can be run alone, arcs within the acceleration and the feed table at the wall,
    nothing shorter than 0.01 mm: common practice, no source; the formulas are v^2 / r and F (r + R) / r.
    """
    folder, result = sample
    machine = read_order(SAMPLES[request.node.callspec.params["sample"]])[0].machine
    if machine.kind != "router":
        return
    for program in result.programs:
        lines, ran = run_as_made(result, program.file, folder, machine)
        begin = next(row for row, line in enumerate(lines) if re.match(r"G0?[01]\b", line))
        unit = "G20" if machine.controller.units == "in" else "G21"
        wanted = {"G17", unit, "G90", "G94", "G40", "G49", "G80"} - set(machine.controller.unknown_codes)
        assert wanted <= set(" ".join(lines[:begin]).split())
        # Off the board and up, the spindle at rest.
        *_, last = ran.steps
        assert last.rapid
        assert last.end[2] >= machine.motion.safe_height
        at_rest = max(row for row, line in enumerate(lines) if line.startswith("M5"))
        assert any("X" in line and "Y" in line for line in lines[at_rest:])
        moves = moves_of(lines)
        for number, section in enumerate(sections_of(lines)):
            own = [one for one in moves if one.section == number]
            assert "M3" in " ".join(lines[section.first : own[0].number]), section
            for letter in "XYZ":
                first = next(one for one in own if letter in one.words)
                assert first.motion == 0, section
            fed = next(one for one in own if one.motion > 0)
            assert "F" in fed.words, section
        feeds = {
            cutter.number: cutter.feed_for(layout_of(result, program).board.material) for cutter in program.cutters
        }
        radii = {cutter.number: cutter.radius for cutter in program.cutters}
        for step in ran.steps:
            if step.arc is None:
                assert step.start != step.start or math.dist(step.start, step.end) >= 0.01 or step.rapid, step
                continue
            cx, cy, turn = step.arc
            r = math.dist(step.start[:2], (cx, cy))
            assert abs(turn) * r >= 0.01, step
            assert (step.feed / 60) ** 2 / r <= machine.motion.acceleration * 1.001, step
            tool = step.tool if step.tool in radii else program.cutters[0].number
            row = feeds[tool]
            assert row is not None
            if (turn > 0) == (machine.cutting.direction == "climb") and step.start[2] <= 0.0:
                assert step.feed * (r + radii[tool]) / r <= row.feed * 1.001, step


def layout_of(result: MakeResult, program: Program) -> BoardLayout:
    return next(one for one in result.layout.boards if one.id == program.board)
