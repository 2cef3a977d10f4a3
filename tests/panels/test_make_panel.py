"""A panel from its file to its folder."""

from __future__ import annotations

import json
import re
import tomllib
import xml.etree.ElementTree as ElementTree
from pathlib import Path
from typing import Any

import pytest
import shapely
from click.testing import CliRunner
from shapely import Point, Polygon

from cutjob.cli.commands import main
from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_folder
from cutjob.panels.make_panel import make_panel
from cutjob.panels.panel_file import PanelFile, read_panel
from tests.panels.test_fill import faults

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


def test_the_samples(tmp_path: Path) -> None:
    for name, inner in (("porch-wall", 45 * 45), ("letter-wall", 32 * 26)):
        folder = shipped_folder("samples") / "panels"
        out = tmp_path / name
        result = make_panel(folder / f"{name}.toml", out=out)
        assert faults(result.filling) == []
        assert result.filling.to_find == ()
        assert filled_area(json.loads((out / "plan.json").read_text(encoding="utf-8"))) == pytest.approx(
            inner * 25.4**2, abs=1.0
        )
        lists = (out / "panel-lists.txt").read_text(encoding="utf-8")
        assert "Caution: " in lists
        picture = ElementTree.parse(out / "panel.svg").getroot()
        numbers = [text.text for text in picture.iter("{http://www.w3.org/2000/svg}text")]
        assert numbers == [str(number) for number in range(1, len(result.filling.laid) + 1)]
        assert (folder / f"{name}.svg").read_bytes() == (out / "panel.svg").read_bytes()
    assert "Backing board: 46 in x 46 in" in (tmp_path / "porch-wall" / "panel-lists.txt").read_text(encoding="utf-8")


def filled_area(plan: dict[str, Any]) -> float:
    """The area of pieces, gaps and openings, by shapely from the plan alone: pieces overlap neither each other nor an
    opening, every one comes out of the inventory, and none is cut away wholly.
    """
    pieces = []
    openings = [box_of(one) for one in plan["openings"]]
    gap = plan["gap_mm"]
    for one in plan["laid"]:
        wood = box_of(one)
        for cut in one["cut_out"]:
            hole = Point(cut["at_mm"]).buffer(cut["diameter_mm"] / 2) if "diameter_mm" in cut else box_of(cut)
            wood = wood.difference(hole)
        assert wood.area > 0
        pieces.append(wood)
    for index, one in enumerate(pieces):
        assert all(one.intersection(other).area < 1e-6 for other in pieces[:index])
    square = [area for area, one in zip(openings, plan["openings"], strict=True) if not one["round"]]
    whole = shapely.union_all(pieces)
    assert whole.intersection(shapely.union_all(square)).area < 1e-6
    wide, high = plan["field_mm"]
    # With the gaps closed nothing is bare but the openings.
    spread = [box_of(one).buffer(gap / 2 + 1e-6, join_style="mitre") for one in plan["laid"]]
    field = shapely.box(0, 0, wide, high)
    covered = shapely.union_all([*spread, *(area.buffer(gap + 1e-6, join_style="mitre") for area in square)])
    return float(field.intersection(covered).area)


def box_of(one: dict[str, Any]) -> Polygon:
    (x, y), (wide, high) = one["at_mm"], one["size_mm"]
    return shapely.box(x, y, x + wide, y + high)


def test_what_is_taken_and_what_is_left(tmp_path: Path) -> None:
    result = make_panel(written(tmp_path), out=tmp_path / "out", seed=3)
    plan = result.plan
    taken = {one["piece"]: one["count"] for one in plan["taken"]}
    assert sum(taken.values()) + sum(one["offcut_of"] is not None for one in plan["laid"]) == len(plan["laid"])
    assert all(count <= 30 for count in taken.values())
    for one in plan["laid"]:
        if one["offcut_of"] is not None:
            source = plan["laid"][one["offcut_of"] - 1]
            assert (source["piece"], source["offcut_of"]) == (one["piece"], None)
    # Wood in is wood out: pieces taken = pieces laid + left over + sawdust and what is too small to keep.
    sizes = {"ash": 120 * 40, "oak": 90 * 55}
    wood = sum(sizes[name] * count for name, count in taken.items())
    laid = sum(one["size_mm"][0] * one["size_mm"][1] for one in plan["laid"])
    left = sum(one["length_mm"] * one["width_mm"] * one["count"] for one in plan["left_over"])
    assert laid == pytest.approx(400 * 300, abs=0.1)
    assert left <= wood - laid
    assert plan["trimmed"] == pytest.approx((wood - laid) / laid, abs=1e-3)


def test_an_inventory_too_small_says_what_must_be_found(tmp_path: Path) -> None:
    path = written(tmp_path)
    (tmp_path / "ends.toml").write_text(INVENTORY.replace("count = 30", "count = 5"), encoding="utf-8")
    result = make_panel(path, out=tmp_path / "out", seed=0)  # one look is enough
    missing = [(*one["size_mm"], one["count"]) for one in result.plan["to_find"]]
    short = 400 * 300 - 5 * (120 * 40 + 90 * 55)
    assert sum(wide * high * count for wide, high, count in missing) >= short
    assert any("must still be found" in line for line in result.summary)
    lists = (tmp_path / "out" / "panel-lists.txt").read_text(encoding="utf-8")
    assert "Still to find (length along the grain x width)" in lists
    # With what is listed added to the shelf nothing is missing.
    found = "".join(
        f'[[piece]]\nname = "found {number}"\nlength = {wide}\nwidth = {high}\ncount = {count}\n'
        for number, (wide, high, count) in enumerate(missing)
    )
    (tmp_path / "ends.toml").write_text(
        INVENTORY.replace("count = 30", "count = 5").replace("[[piece]]", found + "[[piece]]", 1), encoding="utf-8"
    )
    again = make_panel(path, out=tmp_path / "again", seed=0)
    assert sum(one.width * one.height for one in again.filling.to_find) < sum(
        one.width * one.height for one in result.filling.to_find
    )


def test_as_data(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["panel", str(written(tmp_path)), "-o", str(tmp_path / "out"), "--json"])
    assert done.exit_code == 0, done.output
    data = json.loads(done.output)
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    assert {key: data[key] for key in plan} == plan
    assert data["folder"] == str(tmp_path / "out")


def test_of_several_looks_the_best_is_shown_and_the_others_are_offered(tmp_path: Path) -> None:
    path = written(tmp_path, "[[opening]]\nat = [50, 60]\nsize = [80, 60]\n")
    result = make_panel(path, out=tmp_path / "out")
    looks = result.plan["looks"]
    assert isinstance(looks, list)
    assert sorted(look["seed"] for look in looks) == [0, 1, 2, 3, 4, 5]
    alone = {look["seed"]: make_panel(path, out=tmp_path / "alone", seed=look["seed"]) for look in looks}
    for look in looks:
        one = alone[look["seed"]]
        assert (one.plan["trimmed"], one.filling.cuts) == (look["trimmed"], look["cuts"])
        assert [other["seed"] for other in one.plan["looks"]] == [look["seed"]]  # type: ignore[attr-defined]
    # The one shown has the least trimmed off, half of what gathers in one quarter of the height counted on top.
    figures = {seed: one.filling.trimmed + one.filling.gathered // 2 for seed, one in alone.items()}
    assert figures[result.seed] == min(figures.values())
    assert result.filling == alone[result.seed].filling
    assert any(f"seed {result.seed} is shown" in line for line in result.summary)
    (others,) = [line for line in result.summary if line.startswith("the other looks: ")]
    assert all((f"--seed {seed}:" in others) == (seed != result.seed) for seed in alone)


LONG = """units = "in"
[[piece]]
name = "long"
length = 18
width = "2 1/2"
count = 40
[[piece]]
name = "middle"
length = 15
width = "2 1/2"
count = 40
[[piece]]
name = "short"
length = 12
width = "2 1/2"
count = 40
"""


def test_where_joints_may_not_be_as_long_as_three_sizes_want_the_length_that_would_do_is_named(tmp_path: Path) -> None:
    path = written(
        tmp_path, "", 'units = "in"\nlength = 36\nwidth = 24\ninventory = "ends.toml"\n[frame]\nwidth = "1 1/2"\n'
    )
    (tmp_path / "ends.toml").write_text(LONG, encoding="utf-8")
    text = path.read_text(encoding="utf-8").replace("[frame]", "trim = 3\n[frame]")
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="no joint longer than 10 1/2 in") as caught:
        make_panel(path, out=tmp_path / "out")
    named = re.search(r'longest_joint = "([^"]+)" would do, with (\d+)% of the field trimmed off', str(caught.value))
    assert named is not None
    path.write_text(text.replace("[frame]", f'longest_joint = "{named[1]}"\n[frame]'), encoding="utf-8")
    result = make_panel(path, out=tmp_path / "out", seed=0)
    assert result.plan["trimmed"] == pytest.approx(int(named[2]) / 100, abs=0.0051)
    assert result.filling.to_find == ()


def test_a_longer_joint_is_named_where_something_must_be_found_only_for_a_short_one(tmp_path: Path) -> None:
    path = written(tmp_path, "", PANEL.replace("[frame]", "longest_joint = 130\ntrim = 40\n[frame]"))
    result = make_panel(path, out=tmp_path / "out")
    (told,) = [line for line in result.summary if line.startswith("longest_joint = ")]
    named = re.search(r'"(\d+) mm" would do better: (\d+)% trimmed off and nothing to find, not (\d+) to find', told)
    assert named is not None
    assert len(result.filling.to_find) == int(named[3]) > 0
    path = written(tmp_path, "", PANEL.replace("[frame]", f"longest_joint = {named[1]}\ntrim = 40\n[frame]"))
    longer = make_panel(path, out=tmp_path / "out", seed=0)
    assert longer.filling.to_find == ()
    assert longer.plan["trimmed"] == pytest.approx(int(named[2]) / 100, abs=0.0051)


def test_a_first_panel_file(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["new", "panel"])
    assert done.exit_code == 0
    text = done.output
    data = tomllib.loads(text)
    # Taken out of their comments, the other keys are valid too, and every key is there.
    more = [line[2:] for line in text.splitlines() if line.startswith("# ") and " = " in line]
    keys = [line.split(" = ")[0].strip() for line in more]
    assert {*data, *keys} >= {name for name in PanelFile.model_fields if name != "opening"}
    assert "# [[opening]]" in text
    (tmp_path / "panel.toml").write_text(text, encoding="utf-8")
    (tmp_path / "end-cuts.toml").write_text(INVENTORY.replace("30", "400"), encoding="utf-8")
    panel, _, _ = read_panel(tmp_path / "panel.toml")
    head, tail = text.split("\n[frame]")
    full = "\n".join(line[2:] if " = " in line and line.startswith("# ") else line for line in head.splitlines())
    (tmp_path / "panel.toml").write_text(f"{full}\n[frame]{tail}", encoding="utf-8")
    whole, _, _ = read_panel(tmp_path / "panel.toml")
    # Those with a default say it; the longest joint has none.
    assert whole.model_copy(update={"longest_joint": None}) == panel
    assert whole.longest_joint == pytest.approx(12 * 25.4)


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


@pytest.mark.parametrize(("joint", "across"), [("mitre", 20.0), ("butt", 0.0)])
def test_the_picture_shows_how_the_frames_strips_meet(tmp_path: Path, joint: str, across: float) -> None:
    path = written(tmp_path, f'joint = "{joint}"')
    make_panel(path, out=tmp_path / "out")
    root = ElementTree.parse(tmp_path / "out" / "panel.svg").getroot()
    (run,) = [d for one in root.iter("{http://www.w3.org/2000/svg}path") if (d := one.get("d", "")).count("l") == 4]
    lines = [[[float(word) for word in place.split()] for place in line.split("l")] for line in run[1:].split("M")]
    assert sorted(line[0] for line in lines) == [[0, 0], [0, 300], [400, 0], [400, 300]]
    for (x, y), (over, up) in lines:
        # Outwards, to the frame's corner or straight across the upright's inner edge.
        assert abs(up) == 20
        assert (up > 0) == (y > 0)
        assert abs(over) == across
        assert across == 0 or (over > 0) == (x > 0)
