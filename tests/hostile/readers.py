"""Every reader of the program as one function of bytes: it returns, or raises InputError, and nothing else."""

from __future__ import annotations

import functools
import json
from collections.abc import Callable
from pathlib import Path

from cutjob.checking import check_files
from cutjob.drawings.outlines import read_outlines, regions
from cutjob.files.file_bytes import shipped_folder
from cutjob.files.source import parse_source
from cutjob.job.machine import Machine
from cutjob.job.read_machine import read_machine
from cutjob.job.read_shop import shop_of
from cutjob.job.read_stock import stock_of
from cutjob.panels.panel_file import read_panel
from cutjob.proof.check import examine_program
from cutjob.resolved import read_order
from tests.hostile.bases import DESIGN_JOB, INVENTORY, PANEL
from tests.hostile.mutate import made_files

_BESIDE = ("porch-shelf.dxf", "shell-label.svg", "hook-board.svg", "stock/shed.toml", "designs/fan.toml",
           "shop/garden-workshop.toml")  # fmt: skip


@functools.cache
def _router() -> Machine:
    return read_machine("bench-router", beside=None)


def _job(data: bytes, folder: Path) -> None:
    for name in _BESIDE:
        there = folder / name
        if not there.exists():
            there.parent.mkdir(exist_ok=True)
            there.write_bytes((shipped_folder("samples") / name).read_bytes())
    (folder / "job.toml").write_bytes(data)
    read_order(folder / "job.toml")


def _profile(data: bytes, folder: Path) -> None:
    (folder / "mine.toml").write_bytes(data)
    read_machine("mine.toml", beside=folder)


def _stock(data: bytes, folder: Path) -> None:
    del folder
    stock_of(parse_source(data, name="shed.toml"))


def _shop(data: bytes, folder: Path) -> None:
    del folder
    shop_of(parse_source(data, name="shop.toml"))


def _drawing(data: bytes, folder: Path, *, ending: str) -> None:
    (folder / f"shape.{ending}").write_bytes(data)
    regions(read_outlines(folder / f"shape.{ending}", units="mm"))


def _program(data: bytes, folder: Path) -> None:
    del folder
    examine_program(data, name="board-01.nc", machine=_router(), plan=None)


def _planned(data: bytes, folder: Path) -> None:
    del folder
    examine_program(data, name="board-01.nc", machine=_router(), plan=json.loads(made_files()[1]))


def _plan(data: bytes, folder: Path) -> None:
    (folder / "board-01.nc").write_bytes(made_files()[0])
    (folder / "plan.json").write_bytes(data)
    check_files([folder / "board-01.nc"], machine="bench-router", plan=folder / "plan.json")


def _design(data: bytes, folder: Path) -> None:
    (folder / "own.toml").write_bytes(data)
    (folder / "job.toml").write_text(DESIGN_JOB, encoding="utf-8")
    read_order(folder / "job.toml")


def _panel(data: bytes, folder: Path) -> None:
    (folder / "panel.toml").write_bytes(data)
    for name in ("ends.toml", "end-cuts.toml"):
        (folder / name).write_text(INVENTORY, encoding="utf-8")
    read_panel(folder / "panel.toml")


def _inventory(data: bytes, folder: Path) -> None:
    (folder / "ends.toml").write_bytes(data)
    (folder / "panel.toml").write_text(PANEL, encoding="utf-8")
    read_panel(folder / "panel.toml")


READERS: dict[str, Callable[[bytes, Path], None]] = {
    "job": _job,
    "profile": _profile,
    "stock": _stock,
    "shop": _shop,
    "design": _design,
    "panel": _panel,
    "inventory": _inventory,
    "svg": functools.partial(_drawing, ending="svg"),
    "dxf": functools.partial(_drawing, ending="dxf"),
    "program": _program,
    "planned": _planned,
    "plan": _plan,
}
