"""A panel from its file to its folder."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest
from click.testing import CliRunner

from cutjob.cli import main
from cutjob.errors import InputError
from cutjob.job.shipped import shipped_folder
from cutjob.panel_job import make_panel
from tests.layout.panel.test_fill import faults

INVENTORY = """units = "mm"
[[piece]]
name = "ash"
length = 120
width = 40
count = 30
tone = 7
[[piece]]
name = "oak"
length = 90
width = 55
count = 30
tone = 3
"""
PANEL = """units = "mm"
length = 440
width = 340
inventory = "ends.toml"
[frame]
width = 20
"""


def written(folder: Path, more: str = "", panel: str = PANEL) -> Path:
    (folder / "ends.toml").write_text(INVENTORY, encoding="utf-8")
    (folder / "panel.toml").write_text(panel + more, encoding="utf-8")
    return folder / "panel.toml"


def test_the_sample(tmp_path: Path) -> None:
    result = make_panel(shipped_folder("samples") / "panels" / "porch-wall.toml", out=tmp_path / "out", seed=1)
    assert faults(result.filling) == []
    assert result.filling.to_find == ()
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    # 48 in over all less two strips of 1 1/2 in.
    assert sum(one["size_mm"][0] * one["size_mm"][1] for one in plan["laid"]) == pytest.approx(
        (45 * 25.4) ** 2, abs=1.0
    )
    lists = (tmp_path / "out" / "panel-lists.txt").read_text(encoding="utf-8")
    assert "Backing board: 46 in x 46 in" in lists
    assert "Caution: " in lists
    picture = ElementTree.parse(tmp_path / "out" / "panel.svg").getroot()
    numbers = [text.text for text in picture.iter("{http://www.w3.org/2000/svg}text")]
    assert numbers == [str(number) for number in range(1, len(result.filling.laid) + 1)]


def test_the_command(tmp_path: Path) -> None:
    path = written(tmp_path)
    done = CliRunner().invoke(main, ["panel", str(path), "-o", str(tmp_path / "out"), "--seed", "2"])
    assert done.exit_code == 0, done.output
    assert "field 400 mm x 300 mm" in done.output
    again = CliRunner().invoke(main, ["panel", str(path), "-o", str(tmp_path / "out"), "--seed", "2"])
    assert again.output == done.output
    names = {"panel.svg", "panel-plain.svg", "panel-lists.txt", "plan.json"}
    assert {found.name for found in (tmp_path / "out").iterdir()} == names


@pytest.mark.parametrize(
    ("more", "panel", "message"),
    [
        ("", PANEL.replace("width = 20", "width = 160"), "the frame leaves no field"),
        ("lap = 25", PANEL, "the backing would stick out"),
        ("[[opening]]\nat = [5, 5]\ndiameter = 20", PANEL, "an opening reaches out of the field"),
        ("[[opening]]\nat = [50, 50]", PANEL, "an opening needs a diameter or a size"),
        ("", "longest_joint = 1\n" + PANEL, "no way was found to fill the panel"),
        ("", PANEL.replace("440", "44000").replace("340", "34000"), "more than 1,500 pieces"),
        ("", PANEL.replace("ends.toml", "none.toml"), "none.toml"),
    ],
)
def test_what_can_not_be_is_said(tmp_path: Path, more: str, panel: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        make_panel(written(tmp_path, more, panel), out=tmp_path / "out")
    assert not (tmp_path / "out").exists()
