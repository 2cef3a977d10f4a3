"""Paths that lead elsewhere, links, pipes and devices, and output folders that can't be one."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.hostile.bases import CIRCLE, JOB, PROFILE_JOB, STOCK_JOB, SVG_JOB, svg
from tests.hostile.case import MAKE, Case


def _pipe(name: str) -> Callable[[Path], None]:
    return lambda folder: os.mkfifo(folder / name)


def _link(name: str, target: str) -> Callable[[Path], None]:
    return lambda folder: (folder / name).symlink_to(target)


def _socket(folder: Path) -> None:
    there = Path.cwd()
    os.chdir(folder)  # the name of a socket may not be long
    try:
        with socket.socket(socket.AF_UNIX) as made:
            made.bind("job.toml")
    finally:
        os.chdir(there)


def _folder(name: str) -> Callable[[Path], None]:
    return lambda folder: (folder / name).mkdir()


def _of_another(folder: Path) -> None:
    other = folder / "mine"
    other.mkdir()
    (other / "accounts.txt").write_text("do not lose\n", encoding="utf-8")


def _linked_to_another(folder: Path) -> None:
    _of_another(folder)
    (folder / "link").symlink_to("mine")


def cases() -> Iterator[Case]:
    """Yield the cases."""
    good = JOB.encode()
    for name, set_up, says in (
        ("a pipe", _pipe("job.toml"), "a pipe"),
        ("a socket", _socket, "a socket"),
        ("a folder", _folder("job.toml"), "a folder"),
        ("a link to itself", _link("job.toml", "job.toml"), "can't be read"),
        ("a link to nothing", _link("job.toml", "nothing.toml"), "no such file"),
        ("a link to a device", _link("job.toml", "/dev/zero"), "a device"),
        ("a link to a folder", _link("job.toml", "."), "a folder"),
    ):
        yield Case(name=f"job: {name}", files={}, set_up=set_up, at="job.toml: ", says=(says,))
    for name, path, says in (
        ("not there", "nothing.toml", "no such file"),
        ("of control characters", "a\x1b[31m\x07.toml", "no such file"),
        ("of a line end", "a\nb.toml", "no such file"),
        ("turned round", "a\u202eb.toml", "no such file"),
        ("of a name too long", "a" * 300 + ".toml", "can't be read"),
        ("of no letters", "", "folder"),
        ("in a file", "job.toml/job.toml", "can't be read"),
        ("a device", "/dev/null", "a device"),
        ("a device without end", "/dev/zero", "a device"),
    ):
        yield Case(name=f"job: {name}", files={"job.toml": good}, args=("make", path), says=(says,))
    for name, text, files, set_up, says in (
        ("drawing: a pipe", SVG_JOB, {}, _pipe("shape.svg"), "a pipe"),
        ("drawing: a link to a device", SVG_JOB, {}, _link("shape.svg", "/dev/zero"), "a device"),
        ("drawing: a link to itself", SVG_JOB, {}, _link("shape.svg", "shape.svg"), "can't be read"),
        ("drawing: a folder", SVG_JOB, {}, _folder("shape.svg"), "a folder"),
        ("profile: a pipe", PROFILE_JOB, {}, _pipe("mine.toml"), "a pipe"),
        ("profile: a link to a device", PROFILE_JOB, {}, _link("mine.toml", "/dev/zero"), "a device"),
        ("stock: a pipe", STOCK_JOB, {}, _pipe("shed.toml"), "a pipe"),
        ("stock: a folder", STOCK_JOB, {}, _folder("shed.toml"), "a folder"),
    ):
        yield Case(name=name, files={"job.toml": text.encode(), **files}, set_up=set_up, says=(says,))
    linked = {"job.toml": SVG_JOB.encode(), "elsewhere/shape.svg": svg(CIRCLE)}
    there = _link("shape.svg", "elsewhere/shape.svg")
    yield Case(name="drawing: a link to a drawing", files=linked, set_up=there, codes=(0,))
    check = ("check", "a.nc", "--machine", "bench-router")
    yield Case(name="program: a pipe", files={}, set_up=_pipe("a.nc"), args=check, says=("a pipe",))
    yield from _outputs()


def _outputs() -> Iterator[Case]:
    for name, out, set_up, says in (
        ("a file", "job.toml", None, "is a file"),
        ("a device", "/dev/null", None, "is a file"),
        ("the folder above", "..", None, "the folder you are in"),
        ("this folder", ".", None, "the folder you are in"),
        ("the top of the disk", "/", None, "top of a disk"),
        ("no name", "", None, "the folder you are in"),
        ("a folder of others", "mine", _of_another, "did not write"),
        (
            "a link to a folder of others",
            "link",
            lambda folder: (_of_another(folder), _link("link", "mine")(folder)),
            "did not",
        ),
        ("a link to nothing", "link", _link("link", "nothing"), "leads nowhere"),
        ("a link to itself", "link", _link("link", "link"), ""),
        ("a pipe", "pipe", _pipe("pipe"), "is a file"),
        ("a name too long", "a" * 300, None, "could not be written"),
        ("in a file", "job.toml/out", None, "could not be written"),
        ("of others, by way of ours", "out/job/../../mine", _of_another, "did not write"),
    ):
        args = (*MAKE, "-o", out)
        yield Case(name=f"output: {name}", files={"job.toml": JOB.encode()}, args=args, set_up=set_up, says=(says,))
    for name, offcuts, says in (
        ("a device", "/dev/zero", "a device"),
        ("a folder", ".", "a folder"),
        ("in no folder", "no/such/shed.toml", "no such folder"),
        ("the job", "job.toml", "not a key"),
    ):
        args = (*MAKE, "--keep-offcuts", offcuts)
        yield Case(name=f"offcuts: {name}", files={"job.toml": JOB.encode()}, args=args, says=(says,), lines=None)
