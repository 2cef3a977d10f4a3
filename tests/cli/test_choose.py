"""`cutjob choose`: the table, the job with plain counts, and what it refuses."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cutjob.cli.commands import main
from tests.choosing.jobs import job_in


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(one) for one in arguments])


def test_the_table_the_plain_job_and_its_files(tmp_path: Path) -> None:
    job = job_in(tmp_path)
    plain = tmp_path / "plain.toml"
    result = run("choose", job, "--effort", "quick", "-o", plain)
    assert result.exit_code == 0, result.output
    lines, words = result.output.splitlines(), " ".join(result.output.split())
    assert lines[0] == "make, in EUR"
    heads = "item, count, sold at, by, leaves each, leaves all, by hand, machine, boards"
    assert re.split(r"\s{2,}", lines[1]) == heads.split(", ")
    assert "no plan from this wood can leave more than" in words
    assert "boards used: 1 of 1 short board" in words
    assert "usual figures without a source" in words
    counts = [one["count"] for one in tomllib.loads(plain.read_text(encoding="utf-8"))["make"]]
    assert all(isinstance(count, int) for count in counts)
    assert {path.name for path in tmp_path.iterdir()} == {"job.toml", "plain.toml", "shop.toml"}
    data = json.loads(run("choose", job, "--effort", "quick", "--json").output)
    assert [one["count"] for one in data["items"]] == counts
    assert data["leaves"] == pytest.approx(
        sum(one["count"] * one["leaves"] for one in data["items"] if one["leaves"] is not None), abs=0.01 * sum(counts)
    )
    assert data["leaves"] <= data["no_more_than"]
    made = run("make", plain, "--effort", "quick", "-o", tmp_path / "a")
    assert made.exit_code == 0
    straight = run("make", job, "--effort", "quick", "-o", tmp_path / "b")
    assert straight.exit_code == 0
    assert "chosen   leaves" in straight.output
    assert len(straight.output.splitlines()) <= 15
    for one in (tmp_path / "a").glob("*.nc"):
        assert one.read_bytes() == (tmp_path / "b" / one.name).read_bytes()
    assert "no plan from this wood" in (tmp_path / "b" / "job-sheet.html").read_text(encoding="utf-8")


def test_another_shop_gives_another_choice(tmp_path: Path) -> None:
    job = job_in(tmp_path)
    shop = tmp_path / "dear.toml"
    text = (tmp_path / "shop.toml").read_text(encoding="utf-8")
    shop.write_text(text.replace("by_hand = 20.0", "by_hand = 26.0"), encoding="utf-8")
    dear = json.loads(run("choose", job, "--effort", "quick", "--json", "--shop", shop).output)
    usual = json.loads(run("choose", job, "--effort", "quick", "--json").output)
    assert dear["leaves"] < usual["leaves"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"disc": "2", "plate": "3"}, "job.toml:8: make: no count is left open; write count = "),
        ({"disc": '"many"'}, 'count: "many" is not a count; write a whole number, "as many as fit"'),
        ({"length": "90"}, 'item "disc": part "round" is 110 mm x 110 mm and fits no board'),
    ],
)
def test_a_mistake_is_one_line_and_nothing_is_written(tmp_path: Path, changes: dict[str, str], words: str) -> None:
    job = job_in(tmp_path, **changes)
    before = {path.name for path in tmp_path.iterdir()}
    result = run("choose", job, "--effort", "quick", "-o", tmp_path / "plain.toml")
    assert result.exit_code == 2
    assert words in result.stderr
    assert "Traceback" not in result.output
    assert {path.name for path in tmp_path.iterdir()} == before


def test_the_job_itself_is_not_overwritten(tmp_path: Path) -> None:
    job = job_in(tmp_path)
    before = job.read_bytes()
    result = run("choose", job, "--effort", "quick", "-o", job)
    assert result.exit_code == 2
    assert "this is the job itself" in result.stderr
    assert job.read_bytes() == before


def test_a_job_is_written_where_its_files_are_found(tmp_path: Path) -> None:
    job = job_in(tmp_path)
    job.write_text(
        job.read_text(encoding="utf-8").replace('"tape"\n', '"tape"\nshop = "shop.toml"\n'), encoding="utf-8"
    )
    (tmp_path / "other").mkdir()
    result = run("choose", job, "--effort", "quick", "-o", tmp_path / "other" / "plain.toml")
    assert result.exit_code == 2
    assert "from there the job's files are not found" in result.stderr
    assert "write it beside the job" in result.stderr
    assert not (tmp_path / "other" / "plain.toml").exists()
