"""Machine profiles read, by name and by path, and what can be wrong with them."""

import re
from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_files
from cutjob.job.read_machine import read_machine

BENCH = shipped_files("machines")["bench-router"].read_text(encoding="utf-8")


def _said(folder: Path, text: str) -> list[str]:
    path = folder / "own.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_machine(str(path), beside=None)
    return [str(problem).replace(str(path), "own.toml") for problem in caught.value.problems]


def _line_of(text: str, start: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), 1) if line.startswith(start))


def test_by_name_and_by_path(tmp_path: Path) -> None:
    by_name = read_machine("bench-router", beside=None)
    (tmp_path / "own.toml").write_text(BENCH, encoding="utf-8")
    assert read_machine("own.toml", beside=tmp_path) == by_name
    assert read_machine("./own.toml", beside=tmp_path) == by_name
    assert read_machine(str(tmp_path / "own.toml"), beside=Path("elsewhere")) == by_name


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("bench-rooter", 'did you mean "bench-router"?'),
        ("Bench-Router", 'did you mean "bench-router"?'),
        ("zzz", "take one of bandsaw, bench-laser, bench-router, laser-service, long-bed-router"),
        ("", "take one of"),
        ("../machines/none.toml", "check the path"),
        ("a\0b.toml", "check the path"),
        ("x" * 5000 + ".toml", "check the path"),
    ],
)
def test_a_profile_that_is_not_there(name: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        read_machine(name, beside=None)
    assert said in str(caught.value)
    assert caught.value.problems[0].location is None


@pytest.mark.parametrize(
    ("old", "new", "start", "said"),
    [
        ("rpm = 16000", "rpm = 40000", "rpm", 'cutter 1: feed "softwood": rpm: speed 40000 is more than the machine'),
        ("rpm = 16000", "rpm = 900", "rpm", 'cutter 1: feed "softwood": rpm: speed 900 is less than the machine'),
        ('chip_load = "0.0035 in"', 'chip_load = "0.01 in"', "chip_load", "feed 8128 is more than the machine's 4000"),
        ('chip_load = "0.0035 in"', "feed = 4001", "feed =", "feed 4001 is more than the machine's 4000"),
        (
            'chip_load = "0.0035 in"',
            "",
            "[[cutter.feed]]",
            'cutter 1: feed "softwood": feed: is missing',
        ),
        ("plunge = 850", "plunge = 2000", "plunge", "plunge 2000 is more than the machine's 1200"),
        ("number = 2", "number = 1", "nowhere", "another cutter has the number 1 too"),
        ("kind =", "knd =", "knd", '"knd" is not a key of this table; did you mean "kind"?'),
        ("longest_line = 70", "longest_line = 300", "longest_line", "it must be at most 256"),
        ("least = 2", "least = 20", "[tabs]", "least 20 is more than most 8"),
        ("[travel]", "[travels]", "[travels]", 'did you mean "travel"?'),
        ("z = 90", "z = -1", "z = -1", "travel: z: -1 is too small; it must be at least 0 mm"),
        ("safe_height = 6", "safe_height = 0", "safe_height", "at 0 mm the cutter would scrape over boards"),
        ("decimals = 4", "decimals = 2", "decimals", "controller: decimals: 2 decimals in mm are too coarse"),
        ("overcut = 0.3", "overcut = 1.5", "overcut", "1.5 mm is more than deepest_below_stock, 1 mm"),
        ("speed_word = false", "speed_word = 0", "speed_word", "0 is neither true nor false"),
        ("width = 6\n", "width = 6\nsmallest_part = 60\n", "smallest_part", "tabs: smallest_part: small parts get"),
        (
            "length = [20, 25",
            "length = [20, 0",
            "length = [20, 0",
            "screws: length no. 2: 0 is too small; it must be more than 0",
        ),
        ("length = [20, 25, 30, 35, 40, 45, 50]", "length = []", "length = []", "0 entries are too few"),
        ("least_bite = 10", "least_bite = 0", "least_bite", "screws: least_bite: 0 is too small"),
        ("spoilboard = 18", "spoilboard = 0", "spoilboard", "cutting: spoilboard: 0 is too small"),
        (
            "thickness_error = 1.5",
            "thickness_error = -1",
            "thickness_error",
            "cutting: thickness_error: -1 is too small",
        ),
    ],
)
def test_mistakes_with_their_lines(tmp_path: Path, old: str, new: str, start: str, said: str) -> None:
    assert old in BENCH
    text = BENCH.replace(old, new, 1)
    lines = _said(tmp_path, text)
    found = [line for line in lines if said in line]
    assert found, lines
    if start != "nowhere":
        assert found[0].startswith(f"own.toml:{_line_of(text, start)}:"), found


def test_a_laser_row_for_treated_lumber_is_refused(tmp_path: Path) -> None:
    text = shipped_files("machines")["bench-laser"].read_text(encoding="utf-8").replace('"softwood"', '"treated pine"')
    (line,) = _said(tmp_path, text)
    assert "treated pine must never go into a laser" in line


def test_a_laser_stronger_than_itself_is_refused(tmp_path: Path) -> None:
    text = (
        shipped_files("machines")["bench-laser"]
        .read_text(encoding="utf-8")
        .replace("\npower = 1000", "\npower = 1200", 1)
    )
    assert any("power 1200 is more than the machine's 1000" in line for line in _said(tmp_path, text))


@pytest.mark.parametrize("power", [1000, 1001])
def test_marks_at_the_power_of_a_cut_are_refused(tmp_path: Path, power: int) -> None:
    """They would go through. 1000 is the power of the shipped profile's cuts, and its greatest."""
    text = shipped_files("machines")["bench-laser"].read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("mark_power"))
    lines = _said(tmp_path, text.replace(line, f"mark_power = {power}", 1))
    said = f"mark_power: the power of marks, {power}, is not below that of cuts, 1000; lower it"
    assert [one.partition(":")[2].partition(":")[0] for one in lines if said in one] == [
        str(_line_of(text, "mark_power"))
    ]


def test_what_follows_a_change_needs_a_changer(tmp_path: Path) -> None:
    own = 'tool_length = "table"\nafter_change = ["M8"]\n'
    assert 'tool_change = "by hand"' in BENCH
    lines = _said(tmp_path, BENCH.replace('tool_change = "by hand"', f'tool_change = "by hand"\n{own}', 1))
    assert [line.split(": ")[2] for line in lines] == ["tool_length", "after_change"]
    assert all("set tool_change = " in line for line in lines)
    (tmp_path / "fine.toml").write_text(
        BENCH.replace('tool_change = "by hand"', f'tool_change = "changer"\n{own}', 1), encoding="utf-8"
    )
    controller = read_machine("fine.toml", beside=tmp_path).controller
    assert (controller.tool_length, controller.after_change) == ("table", ("M8",))


def test_own_lines_dwell_only_where_the_controller_reads_a_dwell(tmp_path: Path) -> None:
    assert 'dwell = "seconds"' in BENCH
    none = BENCH.replace('dwell = "seconds"', 'dwell = "none"\nstart = ["G54", "g04 P2"]', 1)
    (line,) = _said(tmp_path, none)
    assert 'a dwell (G4), but dwell = "none"' in line
    (tmp_path / "fine.toml").write_text(none.replace("g04 P2", "G40"), encoding="utf-8")
    assert read_machine("fine.toml", beside=tmp_path).controller.start == ("G54", "G40")


def test_a_pass_deeper_than_the_cutter_is_wide_is_refused(tmp_path):
    text = shipped_files("machines")["bench-router"].read_text(encoding="utf-8")
    path = tmp_path / "garage.toml"
    deep = re.sub(r"depth_per_pass = .*", 'depth_per_pass = "30 mm"', text, count=1)
    assert deep != text
    path.write_text(deep, encoding="utf-8")
    with pytest.raises(InputError, match=r"depth_per_pass: 30 mm is more than the cutter's diameter, 6\.35 mm"):
        read_machine(str(path), beside=None)


def test_the_nose_of_the_spindle_and_what_a_cutter_sticks_out(tmp_path: Path) -> None:
    """Both may be left out, and are lengths like all others: 2 in is 50.8 mm."""
    plain = read_machine("bench-router", beside=None)
    assert plain.spindle.nose_diameter is None
    assert {cutter.stickout for cutter in plain.cutter} == {None}
    text = BENCH.replace("[spindle]\n", '[spindle]\nnose_diameter = "2 in"\n').replace(
        "[[cutter]]\n", "[[cutter]]\nstickout = 25.5\n", 1
    )
    (tmp_path / "own.toml").write_text(text, encoding="utf-8")
    machine = read_machine("own.toml", beside=tmp_path)
    assert machine.spindle.nose_diameter == 50.8
    assert machine.cutter[0].stickout == 25.5
    for old, new in (('nose_diameter = "2 in"', "nose_diameter = 0"), ("stickout = 25.5", 'stickout = "-1 mm"')):
        (said,) = _said(tmp_path, text.replace(old, new))
        assert said.startswith(f"own.toml:{_line_of(text, old)}: ")


def test_one_length_of_screws_or_several(tmp_path: Path) -> None:
    listed = "length = [20, 25, 30, 35, 40, 45, 50]"
    for written, read in ((listed, (20, 25, 30, 35, 40, 45, 50)), ('length = "1 1/4 in"', (31.75,)), ("", None)):
        (tmp_path / "own.toml").write_text(BENCH.replace(listed, written), encoding="utf-8")
        screws = read_machine("own.toml", beside=tmp_path).screws
        assert screws is not None
        assert screws.length == read


def test_the_shortest_screw_that_bites_and_stays_in_the_spoilboard() -> None:
    screws = read_machine("bench-router", beside=None).screws
    assert screws is not None
    # 10 mm at least, 18 at most: 20 mm screws reach from 2 to 10 mm of wood, 25 to 15, 50 from 32 to 40.
    reached = {
        height: screws.length_for(height, spoilboard=18.0) for height in (1.9, 2.0, 10.0, 10.1, 15.875, 40.0, 40.1)
    }
    assert reached == {1.9: None, 2.0: 20, 10.0: 20, 10.1: 25, 15.875: 30, 40.0: 50, 40.1: None}
    assert screws.length_for(1.0, spoilboard=None) == 20
    assert screws.model_copy(update={"least_bite": 15.0}).length_for(10.0, spoilboard=18.0) == 25
    assert screws.model_copy(update={"length": None}).length_for(10.0, spoilboard=18.0) is None


def test_shipped_screws_do_for_every_board_the_shipped_cutters_go_through() -> None:
    for name in ("bench-router", "long-bed-router"):
        machine = read_machine(name, beside=None)
        assert machine.screws is not None
        for tenth in range(30, round(10 * max(cutter.cutting_length for cutter in machine.cutter)) + 1):
            assert machine.screws.length_for(tenth / 10, spoilboard=machine.cutting.spoilboard) is not None
