"""Design files with mistakes: each told once, at its line, with what to do; and files made to do harm."""

import contextlib
import time

import pytest

from cutjob.errors import InputError

from .files import HEAD, build, problems

GOOD = """
[parameter.width]
kind = "length"
help = "width of the plate"
least = 20
greatest = 500
default = 100

[value]
half = "width / 2"

[[check]]
require = "width > 30 mm"
message = "{width} is too narrow to hold"
advice = "at least 31 mm"
parameter = "width"

[[part]]
name = "plate"
rectangle = { length = "2 * width", width = "width" }
hole = [{ at = ["width", "half"], diameter = 8 }]
"""
FILE = HEAD + GOOD


def test_the_good_one_is_good(tmp_path):
    assert len(build(GOOD, tmp_path).shaped) == 1


def line_of(text):
    return FILE[: FILE.index(text)].count("\n") + 1


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('half = "width / 2"', 'half = "widht / 2"', 'did you mean "width"?'),
        ('half = "width / 2"', 'half = "width / "', "can't be understood"),
        ('half = "width / 2"', 'half = "half / 2"', "it needs its own result"),
        ('half = "width / 2"', 'half = "i * width"', "only where there is a count"),
        ('half = "width / 2"', 'half = "width(2)"', "is one value, not a function"),
        ('half = "width / 2"', 'half = "sine(width)"', "no function"),
        ('half = "width / 2"', 'half = "graded(width, width)"', "needs a count"),
        ('half = "width / 2"', 'half = "width + 2"', "give the number a unit"),
        ('half = "width / 2"', 'half = "width / 0"', "divides by zero"),
        ('half = "width / 2"', "half = [1]", "is not a formula"),
        ('half = "width / 2"', 'half = "1"\nwidth = "2"', "already"),
        ('half = "width / 2"', 'sqrt = "width / 2"', "has another meaning"),
        ('half = "width / 2"', '"Half width" = "width / 2"', "can't be a name"),
        ('kind = "length"', 'kind = "lenght"', 'did you mean "length"?'),
        ("least = 20", 'least = "20 furlongs"', "unit"),
        ("greatest = 500", "greatest = 10", "less than least"),
        ("default = 100", "default = 10", "10 is too small; it must be at least 20 mm"),
        ("default = 100", 'default = "wide"', "not a length"),
        ('require = "width > 30 mm"', 'require = "width"', "yes"),
        ('require = "width > 30 mm"', 'require = "width > 30"', "give the number a unit"),
        ('require = "width > 30 mm"', 'requires = "width > 30 mm"', 'did you mean "require"?'),
        ('message = "{width} is too narrow to hold"', 'message = "{width is too narrow"', "has no partner"),
        ('parameter = "width"', 'parameter = "widht"', 'did you mean "width"?'),
        ('name = "plate"', 'name = "plate"\ncolour = "red"', "not a key"),
        ('rectangle = { length = "2 * width", width = "width" }', "", "its shape is missing"),
        ('width = "width" }', 'width = "width" }\ncircle = { diameter = 5 }', "given twice"),
        ('rectangle = { length = "2 * width"', 'rectangle = { length = "2"', "is not wholly on the part"),
        ('rectangle = { length = "2 * width"', 'rectangle = { length = "width * width"', "an area"),
        ('rectangle = { length = "2 * width"', 'rectangle = { length = "0 * width"', "more than 0"),
        ('rectangle = { length = "2 * width"', 'rectangle = { length = "width * 1000"', "longer than any board"),
        ("diameter = 8", "diameter = 8, depth = 16", "make it shallower, or leave depth out and cut right through"),
        ("diameter = 8", "diameter = 8, counterbore = { diameter = 12, depth = 16 }", "make it shallower"),
        ("diameter = 8", "diameter = 0", "more than 0"),
        ("diameter = 8", "diameter = 300", "is not wholly on the part"),
        ("diameter = 8", "diameter = 8, counterbore = { diameter = 6, depth = 3 }", "no wider"),
        ("diameter = 8", "diameter = 8, repeat = { count = 2 }", "runs into"),
        ("diameter = 8", 'diameter = 8, repeat = { count = "1000000000" }', "from 0 to 500"),
        ("diameter = 8", 'diameter = 8, repeat = { count = "1/2" }', "whole number"),
        ("diameter = 8", "diameter = 8, repeat = { count = 2, along = [1, 1], about = [0, 0] }", "two ways"),
        ("diameter = 8", 'diameter = "k * 2 mm"', "only in a repeat"),
        ('name = "plate"', 'name = "plate"\ncount = 1000000000', "from 0 to 300"),
        ('name = "plate"', 'name = "plate {1}"\ncount = 2', 'two pieces have the name "plate 1"'),
        ('name = "plate"', 'name = "plate"\nwhen = "no"', "makes nothing"),
    ],
)
def test_each_mistake_is_told_once_with_its_line(tmp_path, old, new, said):
    assert FILE.count(old) == 1
    found = problems(GOOD.replace(old, new), tmp_path)
    assert len(found) == 1, [str(one) for one in found]
    (problem,) = found
    assert said in f"{problem.message}; {problem.advice}"
    assert problem.advice
    assert problem.location.file == str(tmp_path / "thing.toml")
    if "two pieces" not in said and "makes nothing" not in said:
        first = line_of(old)
        assert first - 2 <= problem.location.line <= first + max(new.count("\n"), 1)


def test_all_mistakes_at_once(tmp_path):
    text = (
        GOOD.replace('"width / 2"', '"widht / 2"')
        .replace('"2 * width"', '"2 * wide"')
        .replace("default = 100", "default = 1")
    )
    found = problems(text, tmp_path)
    assert [problem.location.line for problem in found] == sorted(problem.location.line for problem in found)
    assert len(found) == 3


def test_what_follows_from_a_mistake_is_not_told_again(tmp_path):
    found = problems(GOOD.replace('"width / 2"', '"width + 1"'), tmp_path)
    assert len(found) == 1


def test_a_check_that_does_not_hold_points_to_the_job(tmp_path):
    (problem,) = problems(GOOD, tmp_path, width=25)
    assert str(problem) == 'spring.toml:20: make "porch thing": width: 25 mm is too narrow to hold; at least 31 mm'
    assert len(build(GOOD, tmp_path, width="1 1/2 in").shaped) == 1


def test_values_of_the_job_are_judged_like_those_of_any_design(tmp_path):
    (problem,) = problems(GOOD, tmp_path, width=600)
    assert "600 is too large; it must be at most 500 mm" in str(problem)
    (problem,) = problems(GOOD, tmp_path, widht=60)
    assert 'did you mean "width"?' in str(problem)
    (problem,) = problems(GOOD, tmp_path, size="large")
    assert 'no size "large"' in str(problem)


def test_the_step_of_a_series_is_named(tmp_path):
    text = GOOD.replace('name = "plate"', 'name = "plate"\ncount = 5').replace(
        'width = "width" }', 'width = "width - i * 30 mm" }'
    )
    (problem,) = problems(text.replace("hole", "opening") if False else text, tmp_path)
    assert "where i is" in problem.message


PATHS = [
    ("[[0, 0], [10, 0], [0, 10], [10, 10]]", "crosses or touches itself"),
    ("[[0, 0], [0, 0]]", "all points of the path are the same"),
    ("[[0, 0], [10, 0]]", "touches itself|encloses"),
    ("[[0, 0], [50, 0], [50, 0.00001]]", "encloses"),
    ("[{ pins = [[1, 1]] }, [0, 0]]", "starts at a point"),
    ("[[0, 0], { pins = [[50, 10], [30, 20], [60, 5]] }]", "back and forth"),
    ("[[0, 0], [50, 0], { to = [0, 50], radius = 5, turn = 'left' }]", "does not reach its end"),
    ("[[0, 0], [50, 0], { to = [0, 50], radius = 5 }]", "belong together"),
    ("[[0, 0], [50, 0], { to = [0, 50], through = [50, 0] }]", "an end of the arc"),
    ("[[0, 0], [50, 0], { to = [0, 50], through = [100, -50] }]", "not between them"),
    ("[[0, 0], { to = [50, 0], round = 200 }, [0, 50]]", "too short"),
    ("[[0, 0], { to = [50, 0], round = -1 }, [0, 50]]", "below 0"),
    ("[[0, 0], { to = [50, 0], round = 1 }, [10, 0], [0, 50]]", "turns right back"),
    ("[[0, 0], [50, 0], [0, 1e300]]", "too large"),
    ("[[0, 0], [50, 0], [0, '1e300']]", "needs a number|known|understood"),
    ("[[0, 0], [50, 0], [0, 99999]]", "longer than"),
    ("[[0, 0], { repeat = 3, steps = [[1, 2], { repeat = 3, steps = [[1, 2]] }] }]", "can't be inside a repeat"),
    ("[[0, 0], { repeat = 9999999, steps = [['k * 1 mm', 2]] }]", "from 0 to"),
    ("[[0, 0], { repeat = 3 }]", "give both"),
    ("[[0, 0], { }]", "a line or arc"),
    ("[[0, 0], [1, 2, 3]]", "two numbers"),
    ("[[0, 0], 7]", "not a table"),
    ("[[0, 0]]", "too few"),
    ("7", "not a list"),
    ("[[0, 0], { pins = [[0.0000001, 9000], [0.0000002, -9000], [0.0000003, 9000]] }, [50, 0]]", "back and forth"),
]


@pytest.mark.parametrize(("path", "said"), PATHS)
def test_paths_that_can_not_be_drawn(tmp_path, path, said):
    start = time.perf_counter()
    found = problems(f'[[part]]\nname = "thing"\npath = {path}\n', tmp_path)
    assert time.perf_counter() - start < 5
    assert len(found) == 1, [str(one) for one in found]
    words = f"{found[0].message}; {found[0].advice}"
    assert any(one in words for one in said.split("|")), words
    assert found[0].location.line == 5 or "its shape" in words


def test_a_half_that_is_off_its_mirror_line(tmp_path):
    (problem,) = problems('[[part]]\nname = "a"\npath = [[1, 0], [9, 0], [0, 9]]\nmirror = { x = 0 }\n', tmp_path)
    assert "starts and ends on its mirror line" in problem.message


@pytest.mark.parametrize(
    "text",
    [
        "x = " + "[" * 5000,
        "[value]\n" + "".join(f'a{i + 1} = "a{i} * a{i}"\n' for i in range(199)) + 'a0 = "3"\n',
        "[value]\n" + "".join(f'a{i} = "1"\n' for i in range(5000)),
        "".join(
            f'[series.s{i}]\ncount = 500\neach = "sum(s{i - 1}) + i"\n'
            if i
            else '[series.s0]\ncount = 500\neach = "i"\n'
            for i in range(150)
        ),
        '[[part]]\nname = "a"\ncount = 300\ncircle = { diameter = 900 }\nhole = ['
        + '{ at = ["k * 8 mm", 0], diameter = 4, repeat = { count = 500, along = [0, 0] } },' * 100
        + "]\n",
        "\x00",
        "a = 1\na = 2",
        "units = 3",
    ],
)
def test_files_made_to_hang_are_refused_in_time(tmp_path, text):
    start = time.perf_counter()
    more = '\n[[rod]]\nname = "r"\ndiameter = 8\nlength = 100\n'
    with contextlib.suppress(InputError):
        build(text + more, tmp_path)
    assert time.perf_counter() - start < 5


def test_a_path_to_no_file_is_told_in_the_job(tmp_path):
    build(GOOD, tmp_path)
    (tmp_path / "thing.toml").unlink()
    from cutjob.designs.own.find_design import find_design
    from cutjob.errors import Location

    where = Location(file="spring.toml", line=7)
    for name, said in (("thing.toml", "no such file"), (".", ""), ("/dev/zero", "device"), ("../", "folder")):
        with pytest.raises(InputError) as caught:
            find_design(name, folder=tmp_path, place="design", location=where)
        assert caught.value.problems[0].location == where
        assert said in str(caught.value)


def test_a_job_is_no_design(tmp_path):
    (problem,) = problems('[[make]]\nname = "a"\n[[board]]\nname = "b"\n', tmp_path)
    assert "a job, not a design" in problem.message


@pytest.mark.slow
def test_curves_without_end_are_refused(tmp_path):
    pins = "[[80, 30], [70, 20], [60, 31], [40, 20], [0, 9]]"
    (problem,) = problems(
        f'[[part]]\nname = "a"\ncount = 300\npath = [[0, 0], [90, 0], [90, 20], {{ pins = {pins} }}]', tmp_path
    )
    assert "more steps than any item needs" in problem.message
