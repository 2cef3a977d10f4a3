"""Whole jobs made by the real pipeline, and each of their boards as a case to be spoiled. mm."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from cutjob.files.file_bytes import shipped_files, shipped_folder
from cutjob.finishing import expected_program
from cutjob.job.machine import Machine
from cutjob.layout.layout import BoardLayout
from cutjob.layout.search.plan_search import POSITIONS
from cutjob.making import make_job
from cutjob.proof.expect import ExpectedProgram
from cutjob.proof.finding import ProofReport
from cutjob.proof.prove import prove

SHORT_SEARCH = 60_000  # positions looked at: how full boards get is no matter here


@dataclass(frozen=True, kw_only=True)
class Case:
    """One board of a job: its layout, what its files are claimed to do, and their lines, by name in the order run."""

    job: str
    layout: BoardLayout
    programs: tuple[ExpectedProgram, ...]
    machine: Machine
    files: dict[str, list[str]]

    def with_lines(self, file: str, lines: list[str]) -> Case:
        """The same with other lines in one file."""
        return replace(self, files=self.files | {file: lines})

    def proof(self) -> ProofReport:
        """What the proof says of it."""
        data = {name: "".join(f"{line}\n" for line in lines).encode("utf-8") for name, lines in self.files.items()}
        return prove(data, programs=self.programs, drawings=(), machine=self.machine)


def all_cases(folder: Path, *, jobs: tuple[str, ...] = ()) -> list[Case]:
    """Make the jobs named (all of them where none is) and return the boards, those of each job together."""
    shutil.copytree(shipped_folder("samples"), folder / "samples", dirs_exist_ok=True)
    found: list[Case] = []
    for name in jobs or tuple(JOBS):
        own = folder / name
        own.mkdir(exist_ok=True)
        found += _made(name, JOBS[name](own, folder / "samples"), own / "out")
    return found


def _made(name: str, job: Path, out: Path) -> list[Case]:
    before, POSITIONS["quick"] = POSITIONS["quick"], SHORT_SEARCH
    try:
        result = make_job(job, out=out, effort="quick")
    finally:
        POSITIONS["quick"] = before
    assert result.proof.passed, [str(finding) for finding in result.proof.findings]
    machine = result.job.machine  # as it holds the parts
    cases = []
    for layout in result.layout.boards:
        own = [program for program in result.programs if program.board == layout.id]
        files = {one.file: result.files[one.file].decode("utf-8").splitlines() for one in own}
        expected = tuple(expected_program(one, layout, machine) for one in own)
        cases.append(Case(job=name, layout=layout, programs=expected, machine=machine, files=files))
    return cases


def _sample(name: str, **changes: str) -> Callable[[Path, Path], Path]:
    """A shipped sample, with lines of it replaced."""

    def write(folder: Path, samples: Path) -> Path:
        text = (samples / f"{name}.toml").read_text(encoding="utf-8")
        for old, new in changes.items():
            before = _LINES[old]
            assert before in text, before
            text = text.replace(before, new)
        path = samples / f"{folder.name}.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


_LINES = {
    "machine": 'machine = "laser-service"',
    "count": "count = 24",
    "batch": "count = 12\nwith = { diameter = 110, hole = 8 }\n\n[[make]]",
    "stars": "count = 10\nwith",
    "longbed": 'machine = "long-bed-router"',
}


def _own(job: str, *, profile: str = "", **changes: str) -> Callable[[Path, Path], Path]:
    """A job of its own, on a shipped profile with some of its text replaced."""

    def write(folder: Path, samples: Path) -> Path:
        if profile:
            text = shipped_files("machines")[profile].read_text(encoding="utf-8")
            for old, new in changes.items():
                before = _HABITS[old]
                assert before in text, before
                text = text.replace(before, new)
            (folder / "own-machine.toml").write_text(text, encoding="utf-8")
        for drawing in ("porch-shelf.dxf", "shell-label.svg"):
            shutil.copy(samples / drawing, folder / drawing)
        path = folder / "job.toml"
        path.write_text(job, encoding="utf-8")
        return path

    return write


_HABITS = {
    "units": '[controller]\nunits = "mm"',
    "zero": 'z_zero = "stock top"',
    "lead": "lead = 2",
    "finish": "pocket_finish = 0.3",
    "tabs": "width = 6\nheight = 3",
    "travel": "x = 900",
    "pins": 'located_by = "stop"',
    "direction": 'direction = "climb"',
    "screws": "open_ends = true",
    "arcs": "arcs = true",
}

_INCHES = """
title = "Tea-light rounds"
units = "in"
machine = "own-machine.toml"
[[make]]
name = "tea-light round"
design = "round"
count = 3
with = { diameter = "4", hole = "1", ring_holes = 4, ring_diameter = "2 3/4", ring_hole = "3/8" }
[[make]]
name = "plot star"
design = "star"
count = 1
with = { outer = "3 1/2", hole = "1/4" }
[[board]]
name = "cedar picket"
length = "24"
width = "5 1/2"
thickness = "5/8"
material = "softwood"
count = 1
"""

# Screws, windows onto pins, ramped tabs, a last pass round everything, several cutters changed by hand, numbers.
_EVERYTHING = """
title = "Porch shelves, fixed every way"
units = "mm"
machine = "own-machine.toml"
cutter = [1, 2]
board_held_by = "screws"
numbers = "part"
[[make]]
name = "plant shelf"
design = "outline"
count = 2
[make.with]
file = "porch-shelf.dxf"
pockets = { dado = 5, recess = 4, counterbore = 4 }
[[make]]
name = "pot foot"
design = "round"
count = 2
with = { diameter = 90, hole = 20 }
[[board]]
name = "oiled ash board"
length = 1500
width = 190
thickness = 11.5
material = "hardwood"
count = 1
"""

_SKIN = """
title = "Rounds on a skin"
units = "mm"
machine = "own-machine.toml"
parts_held_by = "skin"
[[make]]
name = "pot foot"
design = "round"
count = 3
with = { diameter = 80, hole = 20, ring_holes = 3, ring_diameter = 55, ring_hole = 8 }
[[make]]
name = "bean-row star"
design = "star"
count = 2
with = { outer = 90, hole = 0 }
[[board]]
name = "larch picket"
length = 500
width = 140
thickness = 12
material = "softwood"
count = 1
keep_out = [{ at = [250, 70], radius = 12, why = "nail" }]
"""

_CHORDS = """
title = "Rounds in chords"
units = "mm"
machine = "own-machine.toml"
[[make]]
name = "pot foot"
design = "round"
count = 2
with = { diameter = 60, hole = 14 }
[[board]]
name = "larch picket"
length = 250
width = 90
thickness = 9
material = "softwood"
count = 1
"""

_MARKED = """
title = "Rounds and stars on the laser"
units = "mm"
machine = "bench-laser"
numbers = "part"
number_height = 6
[[make]]
name = "tea-light round"
design = "round"
count = 2
with = { diameter = 70, hole = 8, ring_holes = 3, ring_diameter = 45, ring_hole = 5 }
[[make]]
name = "bean-row star"
design = "star"
count = 2
with = { outer = 70, hole = 4 }
[[board]]
name = "birch plywood"
length = 300
width = 160
thickness = 3
grain = "none"
material = "plywood"
count = 1
keep_out = [{ at = [20, 140], radius = 8, why = "knot" }]
"""

JOBS: dict[str, Callable[[Path, Path], Path]] = {
    "porch-spinner": _sample("porch-spinner"),
    "garden-batch": _sample(
        "garden-batch", batch="count = 2\nwith = { diameter = 110, hole = 8 }\n\n[[make]]", stars="count = 2\nwith"
    ),
    "shell-labels": _sample("shell-labels", machine='machine = "bench-laser"', count="count = 3"),
    "gate-stars": _sample("gate-stars"),
    "porch-shelf": _sample("porch-shelf"),
    "spinner-by-hand": _sample("porch-spinner", longbed='machine = "bench-router"'),
    "inches": _own(
        _INCHES,
        profile="long-bed-router",
        units='[controller]\nunits = "in"',
        zero='z_zero = "spoilboard"',
        direction='direction = "conventional"',
    ),
    "everything": _own(
        _EVERYTHING,
        profile="bench-router",
        tabs="width = 6\nheight = 3\nramp_degrees = 20",
        finish="pocket_finish = 0.3\nfinish = 0.3",
        travel="x = 700",
        pins='located_by = "pins"',
    ),
    "skin": _own(_SKIN, profile="bench-router"),
    "chords": _own(_CHORDS, profile="bench-router", arcs="arcs = false", lead="lead = 0"),
    "marked": _own(_MARKED),
}
