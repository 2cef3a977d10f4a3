"""What a job's maker reads is in the unit of the job, in refusals and warnings alike, and never as the mark it was."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest
from click.testing import CliRunner

import cutjob
from cutjob.cli.commands import main
from cutjob.errors import InputError
from cutjob.layout.search.plan_search import POSITIONS
from cutjob.units import Unit, spelled, unmarked
from tests.test_making import contents

# Every length is written with its unit, so that `units` says only how they are read back.
JOB = """\
title = "Spring market"
units = "{units}"
machine = "{machine}"
{head}

[[make]]
name = "pot foot"
design = "{design}"
with = {{ {with_} }}
{make}

[[board]]
name = "larch picket"
length = "24 in"
width = "{width}"
thickness = "{thickness}"
{board}
"""
USUAL = {
    "machine": "bench-router",
    "design": "round",
    "with_": 'diameter = "2 in"',
    "thickness": "1/2 in",
    "width": "5 1/2 in",
}
# A foot with an opening whose corners stay round, a hole near its edge and a mark too near to it.
DESIGN = """\
summary = "a foot"
units = "mm"
[[part]]
name = "foot"
rectangle = { length = "4 in", width = "2 in" }
opening = [{ rectangle = { from = ["1/2 in", "1/2 in"], length = "1 in", width = "1 in" } }]
hole = [{ at = ["3 in", "5/32 in"], diameter = "1/4 in" }]
mark = [{ slot = { at = ["3 in", "1 7/8 in"], length = "1 in", width = "1/8 in" } }]
"""
CROSSED = DESIGN.replace("hole = [", 'hole = [{ at = ["3 in", "1/4 in"], diameter = "1/4 in" }, ')


@pytest.fixture(autouse=True)
def _short_search(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(POSITIONS, "quick", 20_000)


def job(folder: Path, units: str, **changes: str) -> Path:
    path = folder / "spring.toml"
    text = JOB.format(units=units, **{"head": "", "make": "", "board": "", **USUAL, **changes})
    path.write_text(text, encoding="utf-8")
    (folder / "foot.toml").write_text(DESIGN, encoding="utf-8")
    (folder / "crossed.toml").write_text(CROSSED, encoding="utf-8")
    return path


BOW = '[["1 in", "1 in"], ["3 in", "3 in"], ["3 in", "1 in"], ["1 in", "3 in"]]'
REFUSED = [
    pytest.param({"thickness": "3 in"}, ("3 in thick", "76.2 mm thick"), id="reading: too thick"),
    pytest.param(
        {"board": f"keep_out = [{{ outline = {BOW} }}]"},
        ("at x 2 in, y 2 in", "at x 50.8 mm, y 50.8 mm"),
        id="reading: crossed",
    ),
    pytest.param(
        {"design": "crossed.toml", "with_": ""}, ("x 3 in, y 5/32 in", "x 76.2 mm, y 3.969 mm"), id="an own design"
    ),
    pytest.param({"head": 'gap = "1/16 in"'}, ("1/16 in is too narrow", "1.587 mm is too narrow"), id="resolving"),
    pytest.param({"with_": 'diameter = "6 in"'}, ("is 6 in x 6 in", "is 152.4 mm x 152.4 mm"), id="too large"),
    pytest.param(
        {"with_": 'diameter = "5 1/4 in"', "head": 'edge_margin = "1/4 in"'},
        ("the edge margin smaller, at most 1/8 in", "the edge margin smaller, at most 3.1 mm"),
        id="too large for the margin",
    ),
    pytest.param({"make": "count = 90"}, ("(24 in x 5 1/2 in)", "(609.6 mm x 139.7 mm)"), id="boards run out"),
    pytest.param(
        {"design": "foot.toml", "with_": "", "make": 'inside_corners = "exact"'},
        ("most at x 1/2 in, y 1/2 in of the part, and", "most at x 12.7 mm, y 12.7 mm of the part, and"),
        id="cutting",
    ),
    pytest.param(
        {"head": 'numbers = "part"\nnumber_height = "1/8 in"'},
        ("numbers 1/8 in high", "numbers 3.175 mm high"),
        id="numbers",
    ),
    pytest.param(
        {"head": 'board_held_by = "screws"', "width": "2 3/8 in", "make": "count = 9"},
        ("a clear circle of 0.8661 in", "a clear circle of 22 mm"),
        id="holding",
    ),
]


@pytest.mark.parametrize(("changes", "says"), REFUSED)
@pytest.mark.parametrize("units", ["in", "mm"])
def test_a_refused_job_speaks_in_its_own_unit(
    tmp_path: Path, changes: dict[str, str], says: tuple[str, str], units: Unit
) -> None:
    path = job(tmp_path, units, **changes)
    own, other = says if units == "in" else says[::-1]
    with pytest.raises(InputError) as caught:
        cutjob.make(path, out=tmp_path / "out", effort="quick")
    said = str(caught.value)
    assert said == unmarked(said)
    assert all(problem == problem.spelled(units) for problem in caught.value.problems)
    assert own in said
    assert other not in said
    result = CliRunner().invoke(main, ["make", str(path), "-o", str(tmp_path / "out"), "--effort", "quick"])
    assert result.exit_code == 2
    assert own in result.stderr
    assert result.output == unmarked(result.output)
    assert not (tmp_path / "out").exists()


WARNED = {
    "in": (
        'item "pot foot": foot: the hole leaves only 1/32 in of wood at the edge',
        "4 inside corners tighter than the cutter; up to ",
        "a mark cut 1/4 in wide by cutter 1 runs over the part's edge, at x 3 in, y 2 in of the part; keep "
        "marks at least 1/8 in off",
    ),
    "mm": (
        'item "pot foot": foot: the hole leaves only 0.794 mm of wood at the edge',
        "4 inside corners tighter than the cutter; up to ",
        "a mark cut 6.35 mm wide by cutter 1 runs over the part's edge, at x 76.2 mm, y 50.8 mm of the part; keep "
        "marks at least 3.2 mm off",
    ),
}


@pytest.mark.parametrize("units", ["in", "mm"])
def test_warnings_and_files_speak_in_the_unit_of_the_job(tmp_path: Path, units: Unit) -> None:
    (tmp_path / "stock.toml").write_text(
        'units = "mm"\n[[board]]\nname = "shelf"\nlength = 300\nwidth = 90\nthickness = "3/4 in"\n', encoding="utf-8"
    )
    path = job(tmp_path, units, design="foot.toml", with_="", head='stock = "stock.toml"')
    result = cutjob.make(path, out=tmp_path / "out", effort="quick")
    told = "\n".join(result.job.warnings)
    for words in WARNED[units]:
        assert told.count(words) == 1
    (aside,) = result.job.left_aside
    assert aside.why == ("3/4 in thick" if units == "in" else "19.05 mm thick")
    (program,) = result.programs
    assert WARNED[units][2] in "\n".join(program.warnings)
    assert told + "".join(program.warnings) == unmarked(told + "".join(program.warnings))
    assert result.plan["warnings"] == list(result.job.warnings)
    files = {name: data.decode() for name, data in contents(tmp_path / "out").items()}
    assert all(text == unmarked(text) for text in files.values())
    assert ("a mark cut 1/4 in wide" if units == "in" else "a mark cut 6.35 mm wide") in files[program.file]


# What `length` puts in a message, written by a user.
FORGED = "\x02length 25.4 25.4 64\x03"


def test_no_text_of_a_job_passes_for_a_mark(tmp_path: Path) -> None:
    assert spelled(FORGED, "in") == "1 in"
    escaped = FORGED.replace("\x02", "\\u0002").replace("\x03", "\\u0003")
    for changes in ({"with_": f'"{escaped}" = 1'}, {"make": f'size = "{escaped}"'}, {"head": f'stock = "{escaped}"'}):
        with pytest.raises(InputError, match=r"\?length 25\.4 25\.4 64\?.* has an invisible character"):
            cutjob.read(job(tmp_path, "in", **changes))


@pytest.mark.parametrize("binary", [False, True])
def test_no_text_of_a_drawing_passes_for_a_mark(tmp_path: Path, binary: bool) -> None:
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    square = [(0, 0), (50, 0), (50, 50), (0, 50)]
    document.modelspace().add_lwpolyline(square, close=True, dxfattribs={"layer": "Z" * len(FORGED)})
    document.saveas(tmp_path / "tag.dxf", fmt="bin" if binary else "asc")
    data = (tmp_path / "tag.dxf").read_bytes()
    (tmp_path / "tag.dxf").write_bytes(data.replace(b"Z" * len(FORGED), FORGED.encode()))
    with pytest.raises(InputError, match=r'the layers with lines are: "\?length 25\.4 25\.4 64\?"'):
        cutjob.read(job(tmp_path, "in", design="outline", with_='file = "tag.dxf", layer = "parts"'))
