"""Every key that a file may have has its line, with what it holds and what is wrong with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from cutjob.designs.catalogue import CATALOGUE
from cutjob.errors import InputError
from cutjob.files.fields import plain_schema
from cutjob.files.file_bytes import shipped_files
from cutjob.files.source import parse_source, read_source
from cutjob.job.model import JobFile
from cutjob.live.lines import SECTIONS, Group, Line, Section, lost_problems, sections_of
from cutjob.live.look import read_text
from cutjob.resolved import read_order

SAMPLES = shipped_files("samples")


def all_lines(sections: tuple[Section, ...]) -> Iterator[Line]:
    def within(group: Group) -> Iterator[Line]:
        yield from group.lines
        for inner in group.groups:
            yield from within(inner)

    for section in sections:
        yield from section.lines
        for group in section.groups:
            yield from within(group)


def sections(text: str, folder: Path = Path()) -> tuple[Section, ...]:
    read = read_text(text, folder / "job.toml")
    assert read.source is not None
    return sections_of(read.source, folder=folder, problems=read.problems)


def line(text: str, *path: str | int) -> Line:
    return next(one for one in all_lines(sections(text)) if one.path == path)


def test_every_key_of_a_job_is_in_one_section() -> None:
    keys = Counter(key for _, _, names in SECTIONS for key in names)
    assert keys == Counter(list(plain_schema(JobFile)["properties"]))


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_every_value_of_a_sample_stands_at_its_line(name: str) -> None:
    """Each key of the file that holds no table is on a line that says it is given."""
    source = read_source(SAMPLES[name])
    shown = {one.path for one in all_lines(sections_of(source, folder=SAMPLES[name].parent)) if one.typed is not None}
    held = {
        path for path in source.places
        if path and isinstance(path[-1], str) and not isinstance(source.value(path), dict)
        and not (isinstance(source.value(path), list) and path[-1] in ("make", "board", "rod", "strip", "bought", "set",
                                                                       "fixed", "keep_out", "taken"))
    }  # fmt: skip
    # What is within a list or a table of a value (a layer's depth, a tab's place) is part of that value's line.
    missing = {path for path in held if not any(path[:length] in shown for length in range(1, len(path) + 1))}
    assert not missing


def test_every_parameter_of_a_design_has_its_line_with_the_value_of_the_size() -> None:
    text = 'units = "in"\nmachine = "bench-router"\n[[make]]\nname = "a"\ndesign = "graded-stack"\nsize = "small"\n'
    found = {one.name: one for one in all_lines(sections(text)) if "with" in one.path}
    assert set(found) == {one.name for one in CATALOGUE["graded-stack"].parameters}
    assert found["longest"].usual == "9 1/2 in"
    assert found["longest"].typed is None
    assert found["longest"].amount == pytest.approx(9.5 * 25.4)
    assert found["tiers"].amount == 5
    assert found["stands"].choices == ("on edge", "flat")


JOB = """title = "t"
units = "in"
machine = "bench-router"
[[make]]
name = "c"
design = "round"
count = -1
[[make]]
name = "a"
design = "star"
with = { outer = "wide", points = 5 }
[[board]]
name = "b"
length = "36"
width = 5.5
thickness = "5/8 x"
"""


def test_a_mistake_stands_at_its_line_in_the_words_of_the_command() -> None:
    read = read_text(JOB, Path("job.toml"))
    assert line(JOB, "make", 0, "count").problems
    assert line(JOB, "board", 0, "thickness").problems
    assert line(JOB, "make", 1, "with", "outer").problems
    assert not line(JOB, "make", 1, "with", "points").problems
    said = [str(problem) for problem in read.problems]
    shown = [words for one in all_lines(sections(JOB)) for words in one.problems]
    assert len(shown) == len(said)
    assert all(any(words in one for one in said) for words in shown)


def test_the_problems_of_a_text_are_those_of_the_file(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    with pytest.raises(InputError) as found:
        read_order(path)
    assert list(map(str, read_text(JOB, path).problems)) == list(map(str, found.value.problems))


def test_a_problem_of_another_file_is_not_lost() -> None:
    text = JOB.replace("bench-router", "no-such-machine.toml")
    read = read_text(text, Path("job.toml"))
    assert read.source is not None
    at_lines = [words for one in all_lines(sections(text)) for words in one.problems]
    assert len(lost_problems(read.source, read.problems)) + len(at_lines) == len(read.problems)


def test_an_unknown_key_of_with_has_a_line_too() -> None:
    found = line(JOB.replace("points = 5", "sides = 5"), "make", 1, "with", "sides")
    assert found.typed == "5"
    assert found.problems


def test_a_text_that_is_not_toml_has_its_problem() -> None:
    read = read_text("title = \n", Path("job.toml"))
    assert read.source is None
    assert "job.toml:1" in str(read.problems[0])


def test_a_new_entry_of_each_list_is_valid_by_itself() -> None:
    """What the page adds needs no second step before the job can be laid out."""
    for unit in ("in", "mm"):
        base = f'units = "{unit}"\nmachine = "long-bed-router"\n[[make]]\nname = "a"\ndesign = "round"\n'
        base += '[[board]]\nname = "b"\nlength = "36 in"\nwidth = "9 in"\nthickness = "5/8 in"\n'
        source = parse_source(base.encode(), name="job.toml")
        adds = [group for one in sections_of(source, folder=Path()) for group in one.groups if group.added]
        assert {str(group.path[0]) for group in adds} == {"make", "board", "rod", "strip", "bought", "fixed", "keep"}
        from cutjob.live.edits import Change, changed

        text = base
        for group in adds:
            if group.path[0] in ("board", "keep"):
                continue  # another board waits for a part that is cut from it; a kept part is named next
            text = changed(text, [Change(path=group.path, value=group.added)])
        assert not read_text(text, Path("job.toml")).problems
