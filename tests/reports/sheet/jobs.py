"""Jobs made once for all tests of the sheet, at quick effort."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

from cutjob.making import MakeResult, make_job

SAMPLES = Path(__file__).parents[3] / "samples"
SHEET = "job-sheet.html"
HOSTILE = "<b>&amp;</script>\\\"'{{ 7 * 7 }} ümlaut"

_HOSTILE_JOB = f"""
title = "{HOSTILE} title"
units = "in"
machine = "long-bed-router"

[[make]]
name = "{HOSTILE} item"
design = "round"
count = 2

[[board]]
name = "{HOSTILE} board"
length = 30
width = 12
thickness = "5/8"
price = 4.5
"""

_LASER_JOB = """
title = "Shell labels"
units = "mm"
machine = "bench-laser"

[[make]]
name = "label"
design = "star"
size = "small"
with = { hole = 8 }

[[board]]
name = "poplar sheet"
length = 250
width = 200
thickness = 3
material = "plywood"
"""

_TWO_FILES = """
title = "Gate stars"
units = "mm"
machine = "bench-router"

[[make]]
name = "gate star"
design = "star"
with = { outer = 80, inner = 40, hole = 4 }

[[board]]
name = "larch board"
length = 300
width = 200
thickness = 6
"""


@cache
def sample(name: str) -> MakeResult:
    """A sample made."""
    return make_job(SAMPLES / f"{name}.toml", out=_folder(), effort="quick")


@cache
def priced() -> MakeResult:
    """The batch with three ways of selling: tables with as many figures in a row as there can be."""
    text = (SAMPLES / "garden-batch.toml").read_text(encoding="utf-8")
    return _written(text.replace('"shop/', f'"{SAMPLES.as_posix()}/shop/'))


@cache
def saw() -> MakeResult:
    """The spinner for a band saw, with paper patterns and every hole drilled by hand."""
    text = (SAMPLES / "porch-spinner.toml").read_text(encoding="utf-8")
    return _written(text.replace('"long-bed-router"', '"bandsaw"'))


@cache
def hostile() -> MakeResult:
    """A job whose names try to be more than names."""
    return _written(_HOSTILE_JOB)


@cache
def laser() -> MakeResult:
    """A job for a laser."""
    return _written(_LASER_JOB)


@cache
def two_files() -> MakeResult:
    """A board that is cut with two cutters, changed by hand."""
    return _written(_TWO_FILES)


def page(result: MakeResult) -> str:
    """The text of a result's sheet."""
    return result.files[SHEET].decode("utf-8")


def _written(text: str) -> MakeResult:
    folder = _folder()
    folder.mkdir()
    job = folder / "job.toml"
    job.write_text(text, encoding="utf-8")
    return make_job(job, out=folder / "out", effort="quick")


def _folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="sheet-")) / "out"
