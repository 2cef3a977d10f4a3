"""README.md and DEVELOPERS.md say what is there."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest

from cutjob.cli.commands import main

ROOT = Path(__file__).parents[1]
DOCUMENTS = ["README.md", "DEVELOPERS.md", "samples/README.md", "machines/README.md"]


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_file_named_exists(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    folder = (ROOT / name).parent
    links = re.findall(r"\]\(([^)#:]+)\)", text)
    for link in links:
        assert (folder / link).exists(), link
    for path in re.findall(r"`((?:cutjob|tests|machines|samples)/[\w./-]*)`", text):
        assert (ROOT / path).exists(), path


def test_every_module_named_in_developers_exists() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = re.findall(r"`([\w/]+\.py)`", text)
    assert named
    for path in named:
        found = any((base / path).exists() for base in (ROOT, ROOT / "cutjob")) or list((ROOT / "cutjob").rglob(path))
        assert found, path


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_module_to_be_run_exists(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    for module in re.findall(r"python3? -m ((?:cutjob|tests)[\w.]*)", text):
        assert importlib.util.find_spec(module) is not None, module


def test_every_package_of_the_code_is_described() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for entry in (ROOT / "cutjob").iterdir():
        if entry.is_dir() and (entry / "__init__.py").exists():
            assert f"cutjob/{entry.name}/" in text, entry.name


def test_commands_in_the_readme_are_the_commands_there_are() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for name, command in main.commands.items():
        assert f"cutjob {name}" in text
        for option in command.params:
            if option.param_type_name == "option":
                assert any(word in text for word in option.opts), f"{name} {option.opts}"


def test_two_commands_install_and_run() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = re.findall(r"^    (python3 -m venv .*)$", text, re.MULTILINE)
    assert len(commands) == 2
    assert "cutjob make samples/" in commands[0]
    assert "pytest" in commands[1]
