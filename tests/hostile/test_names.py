"""Names with letters that mean something to a controller, a drawing or a terminal: they reach the files harmlessly.

What no one can see is refused (`jobs`). All else may stand in a name, and is written as each kind of file allows:
NISTIR 6556, 3.3.3 (comments hold no brackets of their own), XML 1.0, DXF's lines, JSON, TOML.
"""

from __future__ import annotations

import contextlib
import json
import tomllib
import xml.etree.ElementTree as ET
from pathlib import Path

import ezdxf
import pytest
from click.testing import CliRunner

from cutjob.cli.commands import main
from tests.hostile.bases import CIRCLE, JOB, profile, svg

NASTY = (
    "a (b) c)",
    "100 % done",
    "x; G0 Z-50",
    "$H ~ ! ?",
    "\"quoted\" 'twice'",
    "<b>&amp; ]]> --> <!--",
    "back\\slash {0} %s",
    "[red]bold[/red]",
    "Stühle 日本 🪑",
    "../../etc/passwd",
    "C:\\nul",
    "שלום",
    "- # = [[board]]",
    "0\tTAB".replace("\t", " "),
    "M2",
    "(",
)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _job(name: str, machine: str) -> str:
    return (
        JOB.replace('"Spring market"', _quoted(name))
        .replace('"coaster"', _quoted(name))
        .replace('"birch"', _quoted(name))
        .replace('"bench-router"', _quoted(machine))
        .replace('design = "round"', 'design = "outline"\nwith = { file = "shape.svg" }')
        + f"keep_out = [{{ at = [280, 180], radius = 3, why = {_quoted(name)} }}]\n"
    )


def _profile(name: str, comments: str) -> str:
    text = profile().replace('name = "bench router"', f"name = {_quoted(name)}", 1)
    return text.replace('comments = "brackets"', f'comments = "{comments}"')


@pytest.mark.parametrize("comments", ["brackets", "semicolon"])
@pytest.mark.parametrize("name", NASTY)
def test_it_reaches_every_file_harmlessly(name: str, comments: str, tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(_job(name, "mine.toml"), encoding="utf-8")
    (tmp_path / "mine.toml").write_text(_profile(name, comments), encoding="utf-8")
    escaped = name.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")
    (tmp_path / "shape.svg").write_bytes(svg(f"<g><title>{escaped}</title>{CIRCLE}</g>"))
    with contextlib.chdir(tmp_path):
        result = CliRunner().invoke(main, ["make", "job.toml", "--effort", "quick"])
    assert result.exit_code == 0, result.output
    assert all(line.isprintable() for line in result.stdout.splitlines())
    out = tmp_path / "out" / "job"
    assert {path.name for path in out.iterdir()} >= {"plan.json", "board-01.nc", "board-01.dxf", "board-01.svg"}
    _plain_program((out / "board-01.nc").read_bytes(), comments)
    plan = json.loads((out / "plan.json").read_bytes())
    assert plan["boards"][0]["stock"] == name
    for path in out.glob("*.svg"):
        assert ET.parse(path).getroot().tag.endswith("svg")
    assert not ezdxf.readfile(out / "board-01.dxf").audit().errors
    for path in out.glob("*.toml"):
        kept = tomllib.loads(path.read_text(encoding="utf-8"))["board"][0]
        assert any(name in str(value) for value in kept.values())


def _plain_program(data: bytes, comments: str) -> None:
    """Every line is a comment without anything a controller acts on, or words of letters and numbers."""
    for line in data.decode("ascii").split("\n"):
        if comments == "brackets" and line.startswith("("):
            assert line.endswith(")")
            inside = line[1:-1]
        elif comments == "semicolon" and line.startswith(";"):
            inside = line[1:]
        else:
            assert not set(line) - set("GMTSFXYZIJPRHLN0123456789.- "), line
            continue
        assert not set(inside) & set("()%;~!?$\\<>[]{}#@^`|\"'") - set("\"'"), line


@pytest.mark.parametrize("name", ["a (b); 100 %", "שלום", "🪑", "back\\slash", "-o", "a\u202eb", "$(true)"])
def test_the_name_of_the_job_s_file_may_be_anything(name: str, tmp_path: Path) -> None:
    (tmp_path / f"{name}.toml").write_text(JOB, encoding="utf-8")
    with contextlib.chdir(tmp_path):
        result = CliRunner().invoke(main, ["make", "--effort", "quick", "--", f"{name}.toml"])
    assert result.exit_code == 0, result.output
    assert (tmp_path / "out" / name / "plan.json").is_file()
    assert all(line.isprintable() for line in result.stdout.splitlines())
