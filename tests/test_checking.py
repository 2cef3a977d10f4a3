"""`cutjob check` as a user runs it: programs from elsewhere, files that are none, plans of other jobs, pictures."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result

from cutjob.cli.commands import main
from tests.proof import workshop as ws
from tests.proof.openings import opened
from tests.proof.test_check import plan as latch_plan

SVG = "{http://www.w3.org/2000/svg}"

# As a drawing program writes it: percent signs, a number, the machine's home, leading blanks, no G94 but its own order.
DRAWN = """%
O0012 (GARDEN SIGN)
N10 G17 G21 G40 G49 G80 G90 G94
N20 G28 G91 Z0.
N30 G90
N40 M3 S12000
N50 G4 P5.
N60 G0 X10. Y10.
N70 Z6.
N80 G1 Z-2. F500.
N90 X60. F2000.
N100 G2 X70. Y20. I0. J10.
N110 G1 Y40.
N120 G0 Z6.
N130 M5
N140 G28 G91 Z0.
N150 G28 X0. Y0.
N160 M30
%
"""
# As a hand writes it: lower case, inches, arcs by their radius, a row of holes by a cycle.
BY_HAND = """(bird table, by hand)
g20 g17 g90 g94 g40 g49 g80
g0 z.25
s12000 m3
g4 p5
g0x1y1
g1 z-.1 f20
x3 f60
g2 x3.5 y1.5 r.5
g1 y3
g3x3y3.5i-.5j0
g0 z.25
(holes)
g81 g98 x1.5 y1.5 z-.2 r.1 f20
x2.5
y2.5
g80
m5
m2
"""
NO_BLANKS = (
    "G21G17G90G94\r\nG0Z6\r\nM3S12000\r\nG4P5\r\nG0X10Y10\r\nZ1\r\nG1Z-3F800\r\nX100F2800\r\nY50\r\nG0Z6\r\n"
    "M5\r\nM2\r\n"
)


def check(path: Path, *words: str, machine: str = "bench-router") -> Result:
    return CliRunner().invoke(main, ["check", str(path), "--machine", machine, *words])


def written(folder: Path, text: str | bytes, name: str = "sign.nc") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def errors(result: Result) -> list[str]:
    """Line and check of each error."""
    found = re.findall(r"^error: [^:]*(?::(\d+))?: ([a-z ]+): ", result.stdout, re.MULTILINE)
    return [f"{line} {check}".strip() for line, check in found]


@pytest.mark.parametrize("text", [DRAWN, BY_HAND, NO_BLANKS])
def test_good_programs_from_elsewhere_pass(tmp_path: Path, text: str) -> None:
    result = check(written(tmp_path, text))
    assert errors(result) == []
    assert result.exit_code == 0
    assert "not judged: what the file cuts (with --plan); how far it goes below the stock" in result.stdout


def test_size_depth_and_time_come_first(tmp_path: Path) -> None:
    """From X10 Y10 to X100 Y50, 3 mm deep. 90 mm at 2800 and 40 mm at 2800 mm/min take 2.8 s, the plunge 0.3 s; the
    rest is air and speeding up.
    """
    path = written(tmp_path, NO_BLANKS)
    first, *_ = check(path).stdout.splitlines()
    start = f"{path}: cuts 90 mm x 40 mm (x 10 mm to 100 mm, y 10 mm to 50 mm), 3 mm deep, about "
    assert first == start + "0.1 min"
    [cuts] = json.loads(check(path, "--json").stdout)["cuts"]
    assert (cuts["box"], cuts["depth"]) == ([10.0, 10.0, 100.0, 50.0], 3.0)
    assert 3.1 < cuts["seconds"] < 10.0
    assert check(written(tmp_path, "G21 G17 G90 G94\nG0 Z6\nM2\n")).stdout.splitlines()[0].endswith(": cuts nothing")


def test_ways_of_writing_are_no_errors(tmp_path: Path) -> None:
    """No G17 or G94, which controllers start in, and comments behind a semicolon."""
    text = "; a sign\n" + NO_BLANKS.replace("G21G17G90G94", "G21G90")
    result = check(written(tmp_path, text))
    assert errors(result) == []
    for words in ("its plane (G17)", "its feed mode (G94)", "comments in semicolon style"):
        assert words in result.stdout


def test_one_kind_of_fault_is_printed_once_with_how_many(tmp_path: Path) -> None:
    text = NO_BLANKS.replace("X100F2800", "X100F9000\r\nX90F9100\r\nX95F9200")
    path = written(tmp_path, text)
    [line] = [line for line in check(path).stdout.splitlines() if line.startswith("error: ") and ": feed: " in line]
    assert line.endswith("; and 2 more like it")
    found = json.loads(check(path, "--json").stdout)["findings"]
    assert len([one for one in found if one["check"] == "feed"]) == 3


def test_a_picture_of_a_file_without_a_plan(tmp_path: Path) -> None:
    path, picture = written(tmp_path, NO_BLANKS.replace("X100F2800", "X100F9000")), tmp_path / "found.svg"
    result = check(path, "--picture", str(picture))
    assert f"picture: {picture}" in result.stdout
    root = ElementTree.fromstring(picture.read_bytes())
    [rings] = [one for one in root.iter("{http://www.w3.org/2000/svg}g") if one.get("class") == "found"]
    assert len(rings) >= 1
    nothing = check(written(tmp_path, "G21 G17 G90 G94\nG0 Z6\nM2\n"), "--picture", str(tmp_path / "no.svg"))
    assert f"{tmp_path / 'no.svg'}, as the file cuts nothing that could be drawn" in nothing.stdout
    assert not (tmp_path / "no.svg").exists()


# Each spoils a good program in one way that a maker would pay for; the line and the check it must be told with.
SPOILED = [
    (NO_BLANKS, "X100F2800", "X1200F2800", "8 travel"),
    (NO_BLANKS, "X100F2800", "X100F9000", "8 feed"),
    (NO_BLANKS, "Z-3F800", "Z-3F1300", "7 plunge"),
    (NO_BLANKS, "G0X10Y10", "G0X10Y10Z-1", "5 rapid"),
    (NO_BLANKS, "Y50\r\nG0Z6", "G0Y50\r\nZ6", "9 rapid"),
    (NO_BLANKS, "M3S12000", "S12000", "7 spindle"),
    (NO_BLANKS, "M3S12000", "M4S12000", "7 spindle"),
    (NO_BLANKS, "G4P5\r\n", "", "6 dwell"),
    (NO_BLANKS, "G4P5", "G4P0.5", "7 dwell"),
    (NO_BLANKS, "G0Z6\r\nM5", "M5\r\nG0Z6", "10 spindle stop"),
    (NO_BLANKS, "G0Z6\r\nM3", "M3", "4 rapid"),
    (NO_BLANKS, "G21G17", "G17", "2 modes"),
    (NO_BLANKS, "G90G94", "G94", "2 modes"),
    (NO_BLANKS, "G21G17G90G94", "G21G17G91G94", "2 rapid"),
    (NO_BLANKS, "M5\r\nM2", "M5", "program end"),
    (NO_BLANKS, "M2\r\n", "M2\r\nG0X0\r\n", "13 program end"),
    (NO_BLANKS, "Z1\r\n", "Z1\r\nG43H2\r\n", "7 tool length"),
    (NO_BLANKS, "Z1\r\n", "Z1\r\nT2M6\r\n", "7 controller"),
    (NO_BLANKS, "Z-3", "Z-40", "7 depth"),
    (NO_BLANKS, "G0X10Y10\r\n", "", "5 rapid"),
    (DRAWN, "J10.", "J10.01", "12 language"),
    (DRAWN, "N120 G0 Z6.\nN130 M5\nN140 G28 G91 Z0.\n", "N130 M5\n", "15 rapid"),
    (DRAWN, "N90 X60.", "/N90 X60.", "11 controller"),
    (BY_HAND, "r.5", "r-.5", None),
    (BY_HAND, "x3.5 y1.5 r.5", "x4 y1 r.5", "9 controller"),
    (BY_HAND, "r.1", "r-.1", "14 rapid"),
]


@pytest.mark.parametrize(("text", "old", "new", "found"), SPOILED)
def test_spoiled_programs_from_elsewhere(tmp_path: Path, text: str, old: str, new: str, found: str | None) -> None:
    assert old in text
    result = check(written(tmp_path, text.replace(old, new, 1)))
    assert "Traceback" not in result.output
    if found is None:
        assert result.exit_code == 0
    else:
        assert result.exit_code == 1
        assert found in errors(result), result.stdout


def test_a_file_whose_zero_lies_far_from_its_work(tmp_path: Path) -> None:
    """Where zero is set is not in the file: only how far apart its places are counts against the travel of 900 mm."""
    far = re.sub(r"X(\d+)", lambda found: f"X{int(found.group(1)) + 850}", NO_BLANKS)
    assert check(written(tmp_path, far)).exit_code == 0
    assert errors(check(written(tmp_path, far.replace("X950", "X1770")))) == ["8 travel"]


CHANGING = """%
G21 G17 G90 G94
T2 M6
G43 H2
G0 Z8
G0 X10 Y10
S16000 M3
G4 P6
G0 Z1
G1 Z-3 F600
X60 F1500
G0 Z8
M5
T4 M6
G43 H4
G0 Z8
G0 X10 Y30
S12000 M3
G4 P6
G0 Z1
G1 Z-3 F600
X60 F1500
G0 Z8
M5
M30
%
"""


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("(nothing)", "", None),
        ("G43 H4", "G43 H2", "15 tool length"),
        ("G43 H2", "G43 H4", "4 tool length"),
        ("T2 M6\nG43 H2", "G43 H2\nT2 M6", "3 tool length"),
        ("G43 H4\n", "", "15 tool length"),
        ("T4 M6", "T77 M6", "14 tool"),
        ("G43 H4\nG0 Z8\nG0 X10 Y30", "G43 H4\nG0 X10 Y30\nG0 Z8", "16 rapid"),
        ("T4 M6\nG43 H4\nG0 Z8\nG0 X10 Y30", "T4 M6\nG43 H4\nG0 Z8", "19 rapid"),
        ("S12000 M3\nG4 P6\nG0 Z1", "S12000 M3\nG0 Z1\nG4 P1", "21 dwell"),
        ("M5\nT4", "T4", None),
        ("G0 Z8\nM5\nT4", "M5\nT4", "13 spindle stop"),
        ("M30", "M2", None),
    ],
)
def test_programs_with_changes_of_cutter(tmp_path: Path, old: str, new: str, found: str | None) -> None:
    result = check(written(tmp_path, CHANGING.replace(old, new, 1)), machine="long-bed-router")
    assert "Traceback" not in result.output
    assert (errors(result) == []) is (found is None), result.stdout
    assert found is None or found in errors(result), result.stdout


BURNED = """G21 G17 G90 G94
M5
G0 X10 Y10
S0 M4
G1 X60 S1000 F300
G2 X70 Y20 I0 J10
M5
G0 X10 Y30
S0 M4
G1 X60 S300 F3000
M5
M2
"""


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("(nothing)", "", None),
        ("S300 F3000", "S1200 F3000", "10 beam"),
        ("S300", "S700", "10 beam"),
        ("S1000 F300", "S1000 F1200", "5 feed"),
        ("S1000 F300", "S1000 F100", "5 feed"),
        ("S1000 F300", "S1000 F9000", "5 feed"),
        ("M5\nG0 X10 Y30", "G0 X10 Y30", "7 beam"),
        ("S0 M4\nG1 X60 S1000", "S1000 M4\nG4 P1\nG1 X60", "5 beam"),
        ("S0 M4\nG1 X60 S1000", "S0 M3\nG1 X60 S1000", "5 beam"),
        ("S300 F3000\nM5", "S300 F3000", "9 beam"),
        ("X70 Y20 I0 J10", "X70 Y20 Z-1 I0 J10", "6 height"),
        ("X70 Y20 I0 J10", "X70 Y20 I0 J10.1", "6 language"),
        ("G1 X60 S300", "G1 X660 S300", "10 travel"),
        ("M5\nG0 X10 Y10\nS0 M4\nG1 X60", "M5\nS0 M4\nG1 X60", "4 beam"),
    ],
)
def test_programs_for_a_laser(tmp_path: Path, old: str, new: str, found: str | None) -> None:
    assert old in BURNED or found is None
    result = check(written(tmp_path, BURNED.replace(old, new, 1)), "--material", "plywood", machine="bench-laser")
    assert (errors(result) == []) is (found is None), result.stdout
    assert found is None or found in errors(result), result.stdout


def test_a_beam_of_which_nothing_is_said_at_first(tmp_path: Path) -> None:
    result = check(written(tmp_path, BURNED.replace("M5\n", "", 1)), machine="bench-laser")
    assert "warning" in result.stdout
    assert "2: beam: the file moves before it has switched the beam off (M5)" in result.stdout


def test_what_the_user_says_of_a_file_is_judged_too(tmp_path: Path) -> None:
    path = written(tmp_path, BY_HAND)
    fits = check(path, "--thickness", "1/4 in", "--cutter", "1", "--material", "softwood")
    assert fits.exit_code == 0, fits.stdout
    assert "not judged: what the file cuts (with --plan)\n" in fits.stdout
    assert errors(check(path, "--thickness", "3")) == ["14 depth"]  # a bare number is in the profile's unit
    # 1/8 in of the cutter goes 1524 mm/min in its own feed table; 60 in a minute are 1524.
    assert "8 feed" in errors(check(path, "--cutter", "2", "--material", "hardwood"))
    deep = written(tmp_path, NO_BLANKS.replace("Z-3", "Z-3.5"))
    assert errors(check(deep, "--cutter", "1", "--material", "softwood")) == ["8 depth per pass"]  # 3.1 in its table
    twice = NO_BLANKS.replace("Y50\r\n", "Y50\r\nG1 Z-6F800\r\nX10F2800\r\n")
    assert errors(check(written(tmp_path, twice), "--cutter", "1", "--material", "softwood")) == []
    for words, said in (
        (["--thickness", "thin"], "--thickness: 'thin' is not a length"),
        (["--thickness", "5/8"], "--thickness: '5/8' has no unit, and the profile is in mm; write \"5/8 in\""),
        (["--thickness", "-3"], "--thickness: '-3' is no thickness"),
        (["--material", "gold"], '--material: "gold" has no feeds in the profile; it has softwood'),
        (["--cutter", "9"], "--cutter: the profile has no cutter 9; it has 1, 2"),
    ):
        result = check(path, *words)
        assert result.exit_code == 2
        assert len(result.stderr.splitlines()) == 1
        assert result.stderr.startswith(said), result.stderr


def test_zero_on_the_spoilboard_needs_the_thickness(tmp_path: Path) -> None:
    profile = Path("machines/bench-router.toml").read_text(encoding="utf-8")
    machine = written(tmp_path, profile.replace('"stock top"', '"spoilboard"'), "own.toml")
    lifted = NO_BLANKS.replace("Z6", "Z22").replace("Z1\r", "Z17\r").replace("Z-3", "Z-0.5")
    path = written(tmp_path, lifted)
    without = check(path, machine=str(machine))
    assert without.exit_code == 2
    assert without.stderr.startswith("--thickness: the profile has zero on the spoilboard")
    assert check(path, "--thickness", "16", machine=str(machine)).exit_code == 0
    assert "2 rapid" in errors(check(path, "--thickness", "17", machine=str(machine)))
    deep = written(tmp_path, lifted.replace("Z-0.5", "Z-1.5"))
    assert errors(check(deep, "--thickness", "16", machine=str(machine))) == ["7 depth"]


NOT_PROGRAMS = {
    "text": (b"Dear customer,\nthe signs will be ready on Friday.\nYours\n", "can't be split into words"),
    "a picture": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "a picture (PNG)"),
    "a drawing": (b"  0\nSECTION\n  2\nHEADER\n  9\n$ACADVER\n", "a drawing (DXF)"),
    "a page": (b'\xef\xbb\xbf<?xml version="1.0"?><svg/>', "a page or a drawing"),
    "data": (b'{"schema": "cutjob-plan/1"}', "data (JSON)"),
    "a job": (b'title = "Spring"\nunits = "in"\n[[make]]\n', "can't be split into words"),
    "nothing": (b"", "the file is empty"),
    "blanks": (b" \r\n\n\t\n", "the file is empty"),
    "comments": (b"(nothing)\n; at all\n", "nothing but comments"),
    "wide letters": ("G21\nG90\n".encode("utf-16"), "UTF-16"),
    "wide letters without a mark": ("G21\nG90\n".encode("utf-16-le"), "UTF-16"),
    "bytes": (bytes(range(256)) * 20, "bytes that aren't text"),
    "an archive": (b"PK\x03\x04\x14\0\0\0", "ZIP"),
    "a document": (b"%PDF-1.7\n", "PDF"),
}


@pytest.mark.parametrize("kind", NOT_PROGRAMS)
def test_a_file_that_is_no_program_is_one_line(tmp_path: Path, kind: str) -> None:
    data, said = NOT_PROGRAMS[kind]
    path = written(tmp_path, data)
    result = check(path)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert len(result.stderr.splitlines()) == 1
    assert result.stderr.startswith(f"{path}: ")
    assert said in result.stderr


def test_a_program_with_a_few_faulty_lines_is_one(tmp_path: Path) -> None:
    result = check(written(tmp_path, NO_BLANKS.replace("Y50", "Y5O\r\nX")))
    assert (result.exit_code, errors(result)) == (1, ["9 language", "10 language"])
    assert "not judged: anything from line 9 on" in result.stdout
    marked = check(written(tmp_path, "\ufeff" + NO_BLANKS))
    assert marked.exit_code == 1
    assert "byte order mark" in marked.stdout


def opening(lines: list[str]) -> bytes:
    """The latch's program with the comments that its plan asks for."""
    return opened({"board-01.nc": lines}, latch_plan(), ws.router())["board-01.nc"]


@pytest.fixture
def latch(tmp_path: Path) -> tuple[Path, Path, Path]:
    """The latch's program, its plan, and a profile of the test router."""
    data = latch_plan()
    data["units"], data["machine"] = "in", "test router"
    machine = ws.router().model_dump(mode="json", exclude_none=True, exclude_defaults=True)
    return (
        written(tmp_path, opening(ws.latch_program()), "board-01.nc"),
        written(tmp_path, json.dumps(data), "plan.json"),
        written(tmp_path, toml_of(machine), "test-router.toml"),
    )


def toml_of(profile: dict[str, object]) -> str:
    """A profile as TOML: values, then tables, then lists of tables."""

    def lines(table: dict[str, object], path: str) -> list[str]:
        plain = [f"{key} = {json.dumps(value)}" for key, value in table.items() if not _nested(value)]
        for key, value in table.items():
            name = f"{path}.{key}" if path else key
            if isinstance(value, dict):
                plain += [f"[{name}]", *lines(value, name)]
            elif _nested(value) and isinstance(value, list):
                for one in value:
                    plain += [f"[[{name}]]", *lines(one, name)]
        return plain

    return "\n".join(lines(profile, "")) + "\n"


def _nested(value: object) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))


def test_places_are_told_in_the_units_of_the_job(latch: tuple[Path, Path, Path]) -> None:
    program, plan, machine = latch
    good = check(program, "--plan", str(plan), machine=str(machine))
    assert good.exit_code == 0
    size, passed = good.stdout.splitlines()
    assert (size.startswith(f"{program}: cuts 4 1/4 in x "), passed) == (True, f"{program}: passed")
    program.write_bytes(opening([line.replace("G0 Z1", "G0 Z-2.54") for line in ws.latch_program()]))
    result = check(program, "--plan", str(plan), machine=str(machine))
    # The first rapid down is over (60, 80) mm.
    line = next(line for line in result.stdout.splitlines() if "rapid 2.540 mm below" in line)
    assert "at x 2.3622 y 3.1496 z -0.1000 in" in line


def test_a_picture_with_the_places_ringed(latch: tuple[Path, Path, Path], tmp_path: Path) -> None:
    program, plan, machine = latch
    program.write_bytes(opening(ws.latch_program(30.4)))
    picture = tmp_path / "found.svg"
    result = check(program, "--plan", str(plan), "--picture", str(picture), machine=str(machine))
    assert result.exit_code == 1
    assert f"picture: {picture}" in result.stdout
    told = sorted({int(number) for number in re.findall(r"\(ring (\d+)\)", result.stdout)})
    assert told == list(range(1, len(told) + 1))
    root = ElementTree.fromstring(picture.read_bytes())
    rings = [one for one in root.iter(f"{SVG}g") if one.get("class") == "found"]
    assert len(rings) == 1
    assert 0 < len(rings[0]) <= len(told)
    words = " ".join(one.text or "" for one in root.iter(f"{SVG}text"))
    assert all(f"ring {number}: " in words for number in told)
    assert "wood stands up to 0.400 mm" in words
    refused = check(program, "--plan", str(plan), "--picture", str(tmp_path / "no" / "a.svg"), machine=str(machine))
    assert refused.exit_code == 2
    assert "the picture can't be written" in refused.stderr


def test_the_plan_of_another_job_is_one_line(latch: tuple[Path, Path, Path], tmp_path: Path) -> None:
    program, plan, machine = latch

    def said(**changes: object) -> str:
        other = written(tmp_path, json.dumps({**json.loads(plan.read_bytes()), **changes}), "other.json")
        result = check(program, "--plan", str(other), machine=str(machine))
        assert (result.exit_code, result.stdout) == (2, "")
        assert len(result.stderr.splitlines()) == 1
        return result.stderr.replace(str(other), "other.json").replace(str(program), "board-01.nc")

    assert said(machine="long-bed router").startswith(
        'other.json: plan.machine: was made for machine "long-bed router", not for "test router"'
    )
    board = json.loads(plan.read_bytes())["boards"][0]
    renamed = {**board, "programs": [{**board["programs"][0], "file": "board-07.nc"}]}
    assert "doesn't name the file board-01.nc; it names board-07.nc" in said(boards=[renamed])
    disc = {
        "part": "lid", "outline": [[150.0, 90.0], [180.0, 90.0], [180.0, 110.0], [150.0, 110.0]], "holes": [],
        "features": [],
    }  # fmt: skip
    another = {**board, "placements": [disc], "programs": [{**board["programs"][0], "tabs": []}]}
    assert said(boards=[another]).startswith(
        "board-01.nc: the file cuts nothing at the places where the plan has parts"
    )


def test_a_file_a_little_out_of_place_is_no_other_job(latch: tuple[Path, Path, Path]) -> None:
    program, plan, machine = latch
    program.write_bytes(opening(ws.latch_program(30.9)))
    result = check(program, "--plan", str(plan), machine=str(machine))
    assert result.exit_code == 1
    assert any(one.endswith("gouge") for one in errors(result))
