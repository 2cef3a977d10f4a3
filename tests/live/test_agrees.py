"""File, page and make agree after every edit; and nothing is lost where the server is killed."""

from __future__ import annotations

import contextlib
import random
import threading
import time
import tomllib
import urllib.error
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_files
from cutjob.live.desk import Desk
from cutjob.resolved import read_order
from tests.live.serving import served
from tests.live.test_server import Idle

SAMPLES = {name: path.read_text(encoding="utf-8") for name, path in shipped_files("samples").items()}
_TYPED = st.one_of(
    st.sampled_from(["16 1/2", "260", "3/8", "6 ft", "34.5 mm", "", "0", "-3", "wide", "true", "false", "1", "2", "12",
                     "round", "star", "small", "large", "in", "mm", "flat", '["10", "6 1/2"]', "[[0, 1], [1, 0.6]]",
                     "none", "waste", "screws", "{ base = \"x\" }", "ümlaut", '"quoted"', "a # b", "1e3", "1/0"]),
    st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=12),
)  # fmt: skip


def lines_of(state: Any) -> list[Any]:
    found: list[Any] = []

    def within(group: Any) -> None:
        found.extend(group["lines"])
        for inner in group["groups"]:
            within(inner)

    for section in state["look"]["sections"]:
        within(section)
    return found


def groups_of(state: Any) -> list[Any]:
    found: list[Any] = []

    def within(group: Any) -> None:
        found.append(group)
        for inner in group["groups"]:
            within(inner)

    for section in state["look"]["sections"]:
        for group in section["groups"]:
            within(group)
    return found


def agree(state: Any, desk: Desk, path: Path) -> None:
    """The page's text is the file's; its mistakes are make's; its lines hold what the file holds."""
    text = path.read_text(encoding="utf-8")
    assert desk.text()[0] == text
    try:
        read_order(path)
        said = []
    except InputError as error:
        said = [str(problem) for problem in error.problems]
    assert [one["said"] for one in state["look"]["mistakes"]] == said
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        assert said
        return
    for line in lines_of(state):
        value: Any = data
        for key in line["path"]:
            try:
                value = value[key]
            except (KeyError, IndexError, TypeError):
                value = None
                break
        assert (line["typed"] is None) == (value is None), line
        if isinstance(value, str):
            assert line["typed"] == value


@pytest.mark.slow
@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(name=st.sampled_from(sorted(SAMPLES)), data=st.data())
def test_file_page_and_make_agree_after_random_edits(
    tmp_path_factory: pytest.TempPathFactory, name: str, data: st.DataObject
) -> None:
    """25 jobs with 8 edits each: 200 in all."""
    folder = tmp_path_factory.mktemp("job")
    for kind in ("shop", "designs", "stock"):
        (folder / kind).symlink_to(shipped_files("samples")[name].parent / kind)
    for drawing in shipped_files("samples")[name].parent.glob("*.svg"):
        (folder / drawing.name).write_bytes(drawing.read_bytes())
    for drawing in shipped_files("samples")[name].parent.glob("*.dxf"):
        (folder / drawing.name).write_bytes(drawing.read_bytes())
    path = folder / "job.toml"
    text = SAMPLES[name]
    if 'stock = "' in text:
        text = text.replace('stock = "', 'stock = "')
    path.write_text(text, encoding="utf-8")
    desk = Desk(path, folder=folder, worker=Idle())  # type: ignore[arg-type]
    try:
        state = desk.state()
        agree(state, desk, path)
        for _ in range(8):
            what = data.draw(st.sampled_from(["type", "type", "type", "add", "remove", "undo", "redo", "hand"]))
            before = path.read_text(encoding="utf-8")
            try:
                if what == "type" and lines_of(state):
                    line = data.draw(st.sampled_from(lines_of(state)))
                    typed = data.draw(_TYPED)
                    change = {"path": line["path"], "kind": line["kind"], "typed": typed}
                    state = desk.edit({"version": state["version"], "changes": [change]})
                elif what in ("add", "remove"):
                    groups = [one for one in groups_of(state) if (one["added"] if what == "add" else one["removable"])]
                    if not groups:
                        continue
                    group = data.draw(st.sampled_from(groups))
                    change = {"path": group["path"], "value": group["added"]}
                    state = desk.edit({"version": state["version"], "changes": [change]})
                elif what == "undo":
                    state = desk.undo({})
                elif what == "redo":
                    state = desk.redo({})
                else:
                    path.write_text(before.replace("count = 1", "count = 2", 1), encoding="utf-8")
                    desk.look_at_disk()
                    state = desk.state()
            except InputError:
                assert path.read_text(encoding="utf-8") == before  # refused, and nothing is spoiled
                state = desk.state()
            agree(state, desk, path)
    finally:
        desk.close()


@pytest.mark.slow
def test_a_server_killed_at_any_moment_loses_nothing(tmp_path: Path) -> None:
    """Fifty times killed during edits: the file is always a whole text, with every change that was answered."""
    path = tmp_path / "job.toml"
    path.write_text(SAMPLES["gate-stars"], encoding="utf-8")
    rng = random.Random(20)
    number = 0
    answered = 0
    for _ in range(50):
        with served(path, folder=tmp_path) as server:
            stop = threading.Event()

            def edits(server: Any = server, stop: threading.Event = stop) -> None:
                nonlocal number, answered
                while not stop.is_set():
                    number += 1
                    change = {"path": ["title"], "kind": "text", "typed": f"change {number}"}
                    try:
                        server.ask("edit", {"changes": [change]})
                    except (OSError, urllib.error.URLError, ValueError):
                        return
                    answered = number

            thread = threading.Thread(target=edits)
            thread.start()
            time.sleep(rng.uniform(0.02, 0.5))
            server.kill()
            stop.set()
            thread.join(60)
            text = path.read_text(encoding="utf-8")
            title = tomllib.loads(text)["title"]
            if answered:  # a change may be in the file whose answer was not heard any more
                assert answered <= int(title.removeprefix("change ")) <= number
            assert (
                text == SAMPLES["gate-stars"].replace(tomllib.loads(SAMPLES["gate-stars"])["title"], title)
                or title == tomllib.loads(SAMPLES["gate-stars"])["title"]
            )
    assert answered > 50
    with contextlib.suppress(FileNotFoundError):
        assert not [one for one in tmp_path.iterdir() if one.name.endswith(".cutjob-new") and one.stat().st_size == 0]
