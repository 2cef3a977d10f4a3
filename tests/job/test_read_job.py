"""Job files read, and everything that can be wrong with them, with the line."""

import contextlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cutjob.errors import InputError
from cutjob.job.boards import check_boards, through_cutters
from cutjob.job.machine import Cutter
from cutjob.job.read_job import read_job

GOOD = """\
title = "Spring market, first batch"
units = "in"
machine = "bench-router"
stack = 2

[[make]]
name = "reed spinner"
design = "graded-stack"
count = 8
with = { tiers = 9, longest = "16" }

[[board]]
name = "cedar picket"
length = "34"
width = "5 1/2"
thickness = "5/8"
corners = { style = "dog-ear", size = "1 1/4", end = "right" }
count = 10
price = 3.40
keep_out = [ { at = ["31", "2"], radius = "3/4" } ]

[[board]]
name = "offcut 7"
outline = [ ["0","0"], ["17 1/2","0"], ["14","5 1/2"], ["0","5 1/2"] ]
thickness = "5/8"

[[rod]]
name = "3/8 dowel"
diameter = "3/8"
length = "48"
"""


def _write(folder: Path, text: str) -> Path:
    path = folder / "spring.toml"
    path.write_bytes(text.encode())
    return path


def _said(folder: Path, text: str) -> list[str]:
    path = _write(folder, text)
    with pytest.raises(InputError) as caught:
        read_job(path)
    return [str(problem).replace(str(path), "spring.toml") for problem in caught.value.problems]


def test_a_job_with_its_boards_machine_and_lines(tmp_path: Path) -> None:
    job = read_job(_write(tmp_path, GOOD))
    assert job.file.title == "Spring market, first batch"
    assert job.machine.name == "bench router"
    picket, offcut = job.boards
    assert (picket.length, picket.width, picket.thickness) == pytest.approx((863.6, 139.7, 15.875), abs=1e-9)
    assert offcut.grain == "length"
    assert picket.location is not None
    assert picket.location.line == 12
    assert job.source.at(("make", 0)).line == 6
    assert [job.source.at(("make", 0, "with", key)).line for key in ("tiers", "longest")] == [10, 10]
    assert job.source.at(("rod", 0)).line == 27
    place = job.board_location(offcut, "thickness")
    assert place is not None
    assert place.line == 25
    assert job.folder == tmp_path
    # 2 x 5/8 in and 0.3 mm of overcut: only the 38 mm long cutter reaches.
    (cutter,) = through_cutters(job.boards, job.machine, numbers=(), stack=2)
    assert isinstance(cutter, Cutter)
    assert cutter.number == 3
    assert check_boards(job.boards, job.machine, cutter, 2) == []


def test_a_job_in_inches_equals_the_job_in_mm(tmp_path: Path) -> None:
    in_mm = """\
units = "mm"
machine = "bench-router"
[[make]]
name = "a"
design = "star"
[[board]]
name = "b"
length = 863.6
width = 139.7
thickness = 15.875
"""
    in_inches = in_mm.replace('"mm"', '"in"').replace("863.6", "34").replace("139.7", '"5 1/2"')
    in_inches = in_inches.replace("15.875", '"5/8"')
    first = read_job(_write(tmp_path, in_mm)).boards[0]
    second = read_job(_write(tmp_path, in_inches)).boards[0]
    assert first.outline == second.outline
    assert first.thickness == second.thickness


@pytest.mark.parametrize("change", [lambda text: "\ufeff" + text, lambda text: text.replace("\n", "\r\n")])
def test_byte_order_mark_and_other_line_ends(tmp_path: Path, change: object) -> None:
    assert callable(change)
    job = read_job(_write(tmp_path, change(GOOD)))
    assert job.source.at(("make", 0)).line == 6


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('title =', 'titel =', 'spring.toml:1: "titel" is not a key of this table; did you mean "title"?'),
        ('units = "in"\n', "\n", "spring.toml:1: units: is missing; add it: unit of bare numbers in this file"),
        ('units = "in"', 'units = "inch"', 'spring.toml:2: units: "inch" is not known; did you mean "in"?'),
        (
            "bench-router",
            "bench-ruter",
            'spring.toml:3: machine: there is no machine profile named "bench-ruter"; did you mean "bench-router"?',
        ),
        ("stack = 2", "stack = 0", "spring.toml:4: stack: 0 is too small; it must be at least 1"),
        ("stack = 2", 'stack = "2"', 'spring.toml:4: stack: "2" is not a whole number; write a number without quotes'),
        ("count = 8", "count = 8.5", 'spring.toml:9: make "reed spinner": count: 8.5 is not a whole number'),
        ("count = 8", "count = 100001", 'spring.toml:9: make "reed spinner": count: 100001 is too large; it '
         "must be at most 100000"),
        ("count = 8", "count = 8\nsise = 1", 'spring.toml:10: make "reed spinner": "sise" is not a key of this table; '
         'did you mean "size"?'),
        ('length = "34"', 'length = "34 fx"', 'spring.toml:14: board "cedar picket": length: \'34 fx\': unit'),
        ('length = "34"', 'length = "-34"', 'spring.toml:14: board "cedar picket": length: "-34" is too small; it '
         "must be more than 0"),
        ('length = "34"', "length = nan", 'spring.toml:14: board "cedar picket": length: nan is not a length'),
        ('length = "34"', "length = 1e308", 'spring.toml:14: board "cedar picket": length: the number is longer'),
        ('length = "34"\n', "\n", 'spring.toml:12: board "cedar picket": its size is missing; give length and width'),
        ('thickness = "5/8"\ncorn', "corn", 'spring.toml:12: board "cedar picket": thickness: is missing'),
        ('"dog-ear"', '"dogear"', 'spring.toml:17: board "cedar picket": corners: style: "dogear" is not known; did '
         'you mean "dog-ear"?'),
        ('size = "1 1/4"', 'size = "3"', 'spring.toml:17: board "cedar picket": corners: size: the cut-off corners'),
        ("price = 3.40", "price = nan", 'spring.toml:19: board "cedar picket": price: nan is not a number'),
        ("price = 3.40", "price = -1", 'spring.toml:19: board "cedar picket": price: -1 is too small; it must be at '
         "least 0"),
        ('at = ["31", "2"]', 'at = ["31"]', 'spring.toml:20: board "cedar picket": keep_out no. 1: at: y: a point has '
         "two numbers; write it as [x, y]"),
        ('at = ["31", "2"]', 'at = ["31", "x"]', 'spring.toml:20: board "cedar picket": keep_out no. 1: at: y: '
         "'x' is not a length"),
        ('at = ["31", "2"]', 'at = ["36", "2"]', 'spring.toml:20: board "cedar picket": keep_out no. 1: is outside'),
        ('["17 1/2","0"]', '["17 1/2","0","1"]', 'spring.toml:24: board "offcut 7": outline: point 2: a point has two '
         "numbers, not 3"),
        ('["0","0"], ["17 1/2","0"]', '["17 1/2","0"], ["0","0"]', 'spring.toml:24: board "offcut 7": outline: the '
         "outline crosses or touches itself at x 7.7778 in, y 3.0556 in"),
        ('["14","5 1/2"], ["0","5 1/2"]', '["14","0"], ["1","0"]', 'spring.toml:24: board "offcut 7": outline: the '
         "points enclose no area"),
        ('name = "offcut 7"', 'name = "cedar picket"', 'spring.toml:23: board "cedar picket": name: line 13 has the '
         "same name; give them different names"),
        ("[[rod]]", "[rod]", "spring.toml:27: rod: is a single table here; write it in double brackets: [[rod]]"),
        ('diameter = "3/8"\n', "", 'spring.toml:27: rod "3/8 dowel": diameter: is missing'),
        ("stack = 2", "cutter = 9", 'spring.toml:4: cutter: "bench router" has no cutter 9; it has cutter 1'),
        ("stack = 2", "stack = 3", 'spring.toml:16: board "cedar picket": thickness: a stack of '
         "3 boards of 5/8 in, 1 7/8 in high is more than any cutter of bench router cuts through in softwood; "
         "at most 1 15/32 in, with cutter 3 (1/4 in two-flute, long); cut 2 at once, or take thinner boards"),
        ('thickness = "5/8"\n', "thickness = 16\n", 'spring.toml:16: board "cedar picket": thickness: '
         "16 in thick is more than any cutter of bench router cuts through in softwood; "
         'at most 1 15/32 in, with cutter 3 (1/4 in two-flute, long); if you mean 16 mm, write thickness = "16 mm"'),
        ("count = 10", 'material = "ceder"', 'spring.toml:18: board "cedar picket": material: no cutter of "bench '
         'router" has a feed for "ceder"; take one of softwood, hardwood, plywood, mdf'),
        ("count = 10", 'material = "hardwod"', 'spring.toml:18: board "cedar picket": material: no cutter of "bench '
         'router" has a feed for "hardwod"; did you mean "hardwood"?'),
    ],
)  # fmt: skip
def test_every_mistake_has_its_line_and_its_advice(tmp_path: Path, old: str, new: str, said: str) -> None:
    assert old in GOOD
    lines = _said(tmp_path, GOOD.replace(old, new, 1))
    assert lines[0].startswith(said), lines
    assert len(lines) == 1, lines


def test_boards_thicker_than_the_cutter_the_job_names(tmp_path: Path) -> None:
    lines = _said(tmp_path, GOOD.replace("stack = 2", "cutter = 2"))
    thick = (
        "5/8 in thick is more than the 15/32 in cutting length of cutter 2 (1/8 in two-flute); take a longer cutter or "
    )
    assert lines == [
        f'spring.toml:16: board "cedar picket": thickness: {thick}thinner boards',
        f'spring.toml:25: board "offcut 7": thickness: {thick}thinner boards',
    ]


def test_a_stack_and_the_overcut_count_as_depth(tmp_path: Path) -> None:
    # 3 boards of 1/2 in are 38.1 mm, over the 38 mm of cutter 3; 3 of 12.6 mm fit but for the 0.3 mm of overcut.
    (line, _) = _said(tmp_path, GOOD.replace('"5/8"', '"1/2"').replace("stack = 2", "stack = 3\ncutter = 3"))
    assert "a stack of 3 boards of 1/2 in, 1 1/2 in high is more than the 1 31/64 in cutting length of cutter 3" in line
    (line, _) = _said(tmp_path, GOOD.replace('"5/8"', '"12.6 mm"').replace("stack = 2", "stack = 3\ncutter = 3"))
    assert "high and 0.0118 in into the spoilboard is more than the 1 31/64 in cutting length" in line
    fits = GOOD.replace('"5/8"', '"12.5 mm"').replace("stack = 2", "stack = 3")
    assert read_job(_write(tmp_path, fits)).file.stack == 3


def test_all_mistakes_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    text = GOOD.replace("title", "titel").replace("count = 8", 'count = "8"').replace('"34"', '"34 fx"')
    text = text.replace("bench-router", "bench-ruter").replace('["0","0"], ["17 1/2","0"]', '["17 1/2","0"], ["0","0"]')
    text = text.replace('diameter = "3/8"', "diameter = 0")
    lines = _said(tmp_path, text)
    assert [line.split(": ")[0] for line in lines] == [f"spring.toml:{n}" for n in (1, 3, 9, 14, 24, 29)]


def test_no_message_speaks_of_the_reader_inside(tmp_path: Path) -> None:
    broken = [
        GOOD.replace(part, wrong)
        for part in ("8\n", '"34"', "3.40", '"in"', '{ at = ["31", "2"], radius = "3/4" }', '"reed spinner"', "10\n")
        for wrong in ("true\n", "[1]\n", "{ a = 1 }\n", "1979-05-27\n", '""\n', "-inf\n", "[[[]]]\n")
    ]
    said: list[str] = []
    for text in broken:
        path = _write(tmp_path, text)
        with contextlib.suppress(InputError):
            read_job(path)
            continue
        said += _said(tmp_path, text)
    assert len(said) > 40
    for word in ("Input should", "Value error", "pydantic", "validation", "instance of", "Tuple", "dict"):
        assert word not in "\n".join(said)


@pytest.mark.parametrize(
    ("material", "machine"),
    [
        ("treated pine", "bench-laser"),
        ("pressure-treated softwood", "bench-laser"),
        ("white vinyl", "laser-service"),
        ("PVC", "bench-laser"),
    ],
)
def test_what_must_never_go_into_a_laser(tmp_path: Path, material: str, machine: str) -> None:
    text = (
        GOOD.replace("bench-router", machine).replace("stack = 2", "").replace("count = 10", f'material = "{material}"')
    )
    text = text.replace('thickness = "5/8"', 'thickness = "1/8"')
    (line,) = _said(tmp_path, text)
    assert "must never go into a laser" in line
    assert line.startswith('spring.toml:18: board "cedar picket": material')


def test_untreated_is_not_treated(tmp_path: Path) -> None:
    text = GOOD.replace("bench-router", "bench-laser").replace("count = 10", 'material = "untreated pine"')
    assert not any("never" in line for line in _said(tmp_path, text))


def test_stock_too_thick_for_the_laser(tmp_path: Path) -> None:
    lines = _said(tmp_path, GOOD.replace("bench-router", "bench-laser").replace("stack = 2", "cutter = 1"))
    assert len([line for line in lines if "is more than the 5/32 in cutter 1 (beam) cuts in softwood" in line]) == 2


def test_boards_longer_than_the_bed_pass_here_and_are_caught_when_they_are_cut(tmp_path: Path) -> None:
    job = read_job(_write(tmp_path, GOOD.replace('"34"', '"6 ft"').replace('width = "5 1/2"', 'width = "24"')))
    assert job.machine.travel is not None
    shut = job.machine.model_copy(update={"travel": job.machine.travel.model_copy(update={"open_ends": False})})
    cutter = job.machine.cutter[2]
    found = check_boards(job.boards, shut, cutter, 2, where=job.board_location)
    length, width = (str(problem.spelled("in")) for problem in found)
    assert length.partition("toml:")[2].startswith(
        '14: board "cedar picket": length: 72 in is more than the 35 3/8 in "bench router" reaches along x; saw'
    )
    assert 'board "cedar picket": width: 24 in is more than the 23 9/16 in' in width


def test_a_profile_of_ones_own_beside_the_job_and_its_mistakes(tmp_path: Path) -> None:
    profile = tmp_path / "garage.toml"
    text = GOOD.replace("bench-router", "./garage.toml")
    (line,) = _said(tmp_path, text)
    assert line.startswith('spring.toml:3: machine: there is no machine profile "./garage.toml"; paths are taken from')
    profile.write_text('name = "garage"\nkind = "ruter"\n', encoding="utf-8")
    lines = _said(tmp_path, text)
    assert any("garage.toml:2: kind" in line and 'did you mean "router"?' in line for line in lines)
    assert any("garage.toml:1: cutter: is missing" in line for line in lines)


_WORDS = st.sampled_from(
    ["[[board]]", "[[make]]", "[rod]", "name = 'x'", "length = 5", "width = '1/2'", "thickness = nan", "units = 'in'",
     "machine = 'bench-router'", "design = 'star'", "outline = [[0,0],[1,1],[2,2]]", "keep_out = [{at=[1,1],radius=1}]",
     "with = {}", "with.a = 1", "count = 3", "stack = 99", "cutter = 1", "corners = {size=1}", "a = [", "]",
     "grain = 1", "[board.x]", "name = ''", "material = 'plywood'", "board = 3", "make = [1]", "rod = [[]]"]
)  # fmt: skip


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(_WORDS, max_size=14))
def test_any_heap_of_lines_is_read_or_refused(tmp_path: Path, lines: list[str]) -> None:
    path = _write(tmp_path, "\n".join(lines))
    problems = ["none"]
    try:
        read_job(path)
    except InputError as error:
        problems = [str(problem) for problem in error.problems]
    assert all("\n" not in problem for problem in problems)
