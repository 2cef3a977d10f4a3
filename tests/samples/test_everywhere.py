"""Every sample on every router profile, one board at a time and three in a stack: proven."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from cutjob.files.file_bytes import shipped_files, shipped_folder
from cutjob.job.read_machine import read_machine
from cutjob.making import make_job

SAMPLES = shipped_files("samples")
ROUTERS = [name for name in shipped_files("machines") if read_machine(name, beside=None).kind == "router"]


def changed(name: str, machine: str, stack: int, folder: Path) -> Path:
    """A copy of a sample and all beside it, for another machine and stack; for a stack with as many more boards and
    items, and a profile whose long cutter reaches through it.
    """
    shutil.copytree(shipped_folder("samples"), folder / "samples")
    for path in (folder / "samples").rglob("*.toml"):
        text = path.read_text(encoding="utf-8")
        text = re.sub(r"^count(\s*)=\s*(\d+)", lambda m: f"count = {stack * int(m[2])}", text, flags=re.MULTILINE)
        if path.stem == "shell-labels" and stack > 1:
            # So many as a beam cuts from a sheet leave a router's bridges no wood: one run of sheets more.
            text = text.replace(f"count = {stack}\n", f"count = {2 * stack}\n")
        if path.stem == name:
            text = re.sub(r"^(machine|stack|cutter)\s*=.*\n", "", text, flags=re.MULTILINE)
            profile = "./long-reach.toml" if stack > 1 else machine
            text = f'machine = "{profile}"\nstack = {stack}\n{text}'
        path.write_text(text, encoding="utf-8")
    profile = shipped_files("machines")[machine].read_text(encoding="utf-8")
    profile = profile.replace("cutting_length = 38", "cutting_length = 60").replace("\nz = 90", "\nz = 150")
    (folder / "samples" / "long-reach.toml").write_text(profile, encoding="utf-8")
    return folder / "samples" / f"{name}.toml"


@pytest.mark.slow
@pytest.mark.usefixtures("whole_search")
@pytest.mark.parametrize("stack", [1, 3])
@pytest.mark.parametrize("machine", ROUTERS)
@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_it_is_proven_everywhere(name: str, machine: str, stack: int, tmp_path: Path) -> None:
    job = changed(name, machine, stack, tmp_path)
    result = make_job(job, out=tmp_path / "out", effort="quick")
    assert result.proof.passed, [str(finding) for finding in result.proof.findings]
    assert result.programs
    if name == "porch-shelf":  # a counterbore reaches only the top board of a stack: each board is cut by itself
        assert all(board.stack == 1 for board in result.layout.boards)
    if name in ("garden-batch", "shell-labels"):  # of the others' boards no three alike are needed
        assert max(board.stack for board in result.layout.boards) == stack
