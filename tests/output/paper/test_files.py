"""Which files on paper a job has, and where it says so."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from cutjob.cli.commands import main, spread_only
from cutjob.errors import InputError
from cutjob.job.model import JobFile
from cutjob.job.read_job import read_job
from cutjob.job.read_machine import read_machine
from cutjob.output.paper.files import paper_files
from cutjob.parts.part import Build, Item, SawnPart
from tests.output.paper.reading import page_sizes
from tests.output.paper.samples import disc, item, layout_of

JOB = """
title = "Spring market"
units = "{units}"
machine = "{machine}"
{top}
[[make]]
name = "pot foot"
design = "round"
count = 2
[[board]]
name = "picket"
length = "900 mm"
width = "140 mm"
thickness = "16 mm"
{more}
"""


def files_of(*, machine="bandsaw", only=None, units="mm", items=None, **changes):
    data = {
        "units": units,
        "machine": machine,
        "make": [{"name": "porch set", "design": "round"}],
        "board": [{"name": "b", "length": 100, "width": 100, "thickness": 16}],
        **changes,
    }
    file = JobFile.model_validate(data, context={"units": units})
    made = items or [item(disc())]
    return paper_files(
        layout_of(made), made, file=file, machine=read_machine(machine, beside=None), only=only and frozenset(only)
    )


def names(*args, **kwargs):
    return sorted(files_of(*args, **kwargs).files)


def test_a_saw_has_patterns_and_a_router_only_where_asked():
    assert names() == ["patterns.pdf", "patterns.svg"]
    assert names(machine="bench-router") == []
    assert names(machine="bench-router", patterns={}) == ["patterns.pdf", "patterns.svg"]
    assert names(machine="bench-router", only=["pattern"]) == ["patterns.pdf", "patterns.svg"]
    assert names(only=["dxf"]) == []
    assert names(only=["label"]) == ["labels.pdf"]
    assert names(labels={}) == ["labels.pdf", "patterns.pdf", "patterns.svg"]
    assert names(labels={}, only=["pattern"]) == ["patterns.pdf", "patterns.svg"]


def test_layouts_as_patterns():
    board = layout_of([item(disc())]).boards[0].board
    assert board.length == 20000
    with pytest.raises(InputError, match="its pattern would take"):
        files_of(patterns={"parts": False, "layout": True})


def test_paper_follows_the_units_unless_the_job_says_otherwise():
    letter, a4 = (215.9, 279.4), (210.0, 297.0)
    for changes, size in (({}, a4), ({"units": "in"}, letter), ({"units": "in", "paper": "A4"}, a4)):
        files = files_of(labels={}, **changes).files
        for name in ("patterns.pdf", "labels.pdf"):
            assert page_sizes(files[name])[0] == pytest.approx(size, abs=0.01)


def test_letters_that_can_not_be_drawn_are_told():
    warnings = files_of(items=[item(disc(name="棚"))]).warnings
    assert len(warnings) == 1
    assert "棚 as [U+68DA]" in warnings[0]
    assert files_of().warnings == ()
    (warning,) = files_of(items=[item(disc(name="שחף"))]).warnings
    assert "from left to right" in warning


def test_a_job_with_nothing_but_sawn_pieces_has_no_patterns():
    made = [Item(name="kit", design="own", size="m", count=1, build=Build(sawn=(SawnPart(name="leg", length=90.0),)))]
    assert names(items=made, labels={}) == ["labels.pdf"]


@pytest.mark.parametrize(
    ("top", "more", "wrong"),
    [
        ('paper = "A5"', "", "paper"),
        ("", "[patterns]\nparts = false", "neither parts nor layout is wanted"),
        ("", "[patterns]\nplotter_width = 3", "plotter_width"),
        ("", '[labels]\nsheet = "A4 3 x 80"', '"A4 3 x 80" is not known; did you mean "A4 3 x 8"?'),
        ("", "[labels]\nfirst = 0", "first"),
        ("", "[labels]\nfrist = 1", "frist"),
    ],
)
def test_mistakes_are_told_with_their_line(tmp_path, top, more, wrong):
    path = tmp_path / "spring.toml"
    path.write_text(JOB.format(units="mm", machine="bandsaw", top=top, more=more), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_job(path)
    (problem,) = caught.value.problems
    assert wrong in str(problem)
    assert problem.location is not None
    assert problem.location.line is not None


def test_make_writes_them_beside_the_rest(tmp_path):
    path, out = tmp_path / "spring.toml", tmp_path / "out"
    more = "[patterns]\nlayout = true\nhalves = true\n[labels]\nfirst = 3"
    path.write_text(JOB.format(units="mm", machine="bandsaw", top="", more=more), encoding="utf-8")
    result = CliRunner().invoke(main, ["make", str(path), "-o", str(out), "--effort", "quick", "--json"])
    assert result.exit_code == 0, result.output
    written = {file.name for file in out.iterdir()}
    assert {"patterns.pdf", "patterns.svg", "board-01-pattern.svg", "labels.pdf", "board-01.dxf"} <= written
    assert set(json.loads((out / "plan.json").read_text(encoding="utf-8"))["files"]) == written - {"plan.json"}
    proof = json.loads((out / "plan.json").read_text(encoding="utf-8"))["proof"]
    assert 0 < proof["worst_pattern_mm"] < 0.01
    first = {name: (out / name).read_bytes() for name in written}
    CliRunner().invoke(main, ["make", str(path), "-o", str(out), "--effort", "quick"])
    assert {file.name: file.read_bytes() for file in Path(out).iterdir()} == first


def test_patterns_that_are_not_true_are_not_written(tmp_path, monkeypatch):
    """The writer gone wrong: all it draws is a hundredth too large."""
    monkeypatch.setattr("cutjob.output.paper.pdf.POINTS_PER_MM", 1.01 * 72 / 25.4)
    path, out = tmp_path / "spring.toml", tmp_path / "out"
    path.write_text(JOB.format(units="mm", machine="bandsaw", top="", more=""), encoding="utf-8")
    result = CliRunner().invoke(main, ["make", str(path), "-o", str(out), "--effort", "quick"])
    assert result.exit_code == 1
    assert "error: patterns.pdf: true size: page 2: part" in result.stderr
    assert not out.exists()


def test_only_takes_the_new_kinds():
    assert spread_only(["--only", "pattern,label"]) == ["--only", "pattern", "--only", "label"]
    assert spread_only(["make", "--only", "pattern", "label"]) == ["make", "--only", "pattern", "--only", "label"]
