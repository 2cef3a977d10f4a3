"""The sample's design is a design at every size."""

from pathlib import Path

import pytest

from cutjob.designs.new_job import new_job
from cutjob.designs.own.find_design import find_design
from cutjob.files.file_bytes import shipped_folder
from cutjob.job.read_job import read_job

from ..order import assert_sound, item

FOLDER = shipped_folder("samples")
FAN = "designs/fan.toml"


@pytest.mark.parametrize("size", ["small", "medium", "large"])
def test_the_fan_is_sound_at_every_size(size):
    built = item(FAN, size=size, folder=FOLDER).build
    assert len(built.shaped) == len(built.rods) + 1
    for part in built.shaped:
        assert_sound(part)
    slats = [part.region.bounds[2] for part in built.shaped[:-1]]
    assert slats == pytest.approx(slats[::-1])
    assert max(slats) == slats[len(slats) // 2]


def test_a_first_job_for_a_design_file(tmp_path: Path):
    text = new_job(find_design(FAN, folder=FOLDER))
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    assert read_job(tmp_path / "job.toml").file.make[0].design == FAN
    for name in ("slats", "tallest", "ends"):
        assert f"# {name} = " in text
