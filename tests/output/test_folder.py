import errno
import json
import multiprocessing
import os
import threading
from pathlib import Path

import pytest

from cutjob.errors import InputError
from cutjob.output import folder
from cutjob.output import folder as exchange_module
from cutjob.output.folder import exchange, replace_folder
from cutjob.reports.plan.plan import SCHEMA

FILES = [f"board-{number:02}.nc" for number in range(12)]
PLAN = json.dumps({"schema": SCHEMA, "files": [*FILES, "pictures/board-01.svg"]}).encode()
OLD = {"plan.json": PLAN, "board-01.nc": b"old\n"}
NEW = {"plan.json": PLAN, "board-01.nc": b"new\n", "pictures/board-01.svg": b"<svg/>\n"}


def content(place):
    return {path.relative_to(place).as_posix(): path.read_bytes() for path in place.rglob("*") if path.is_file()}


def beside(place):
    """What lies beside the target, hidden names too."""
    return sorted(path.name for path in place.parent.iterdir() if path != place)


@pytest.fixture
def target(tmp_path):
    (tmp_path / "market").mkdir()
    return tmp_path / "market" / "out"


def test_a_new_folder_and_missing_parents(tmp_path):
    place = tmp_path / "out" / "spring" / "first"
    replace_folder(place, NEW)
    assert content(place) == NEW
    assert beside(place) == []


def test_replaced_as_a_whole(target):
    replace_folder(target, OLD)
    replace_folder(target, NEW)
    assert content(target) == NEW
    assert beside(target) == []


def test_an_empty_folder_may_be_used(target):
    target.mkdir()
    replace_folder(target, NEW)
    assert content(target) == NEW


@pytest.mark.parametrize(
    "files",
    [
        {"letters.txt": b"mine"},
        {"plan.json": b"not json", "a": b""},
        {"plan.json": b'{"schema": "garden-plan/1"}'},
        {"plan.json": b'["cutjob-plan/1"]'},
        {"plan.json": b"[" * 100_000},
        {"deep/plan.json": PLAN},
    ],
)
def test_a_folder_of_someone_elses_is_refused_and_untouched(target, files):
    for name, data in files.items():
        (target / name).parent.mkdir(parents=True, exist_ok=True)
        (target / name).write_bytes(data)
    with pytest.raises(InputError, match="did not write"):
        replace_folder(target, NEW)
    assert content(target) == files
    assert beside(target) == []


def test_a_file_in_the_place_is_refused(target):
    target.write_text("a list")
    with pytest.raises(InputError, match="not a folder"):
        replace_folder(target, NEW)
    assert target.read_text() == "a list"


@pytest.mark.parametrize(
    "name",
    [
        "../x",
        "/x",
        "a/../../x",
        "",
        ".",
        "a//b",
        "a/",
        "..\\x",
        "C:x",
        "x\0",
        "x\n",
        "a:b",
        "nul",
        "COM1.nc",
        "x.",
        "x ",
    ],
)
def test_names_that_leave_the_folder_or_are_no_names(target, name):
    replace_folder(target, OLD)
    with pytest.raises(InputError, match="file of the output folder"):
        replace_folder(target, OLD | {name: b""})
    assert content(target) == OLD


def test_names_that_are_one_on_some_disks(target):
    with pytest.raises(InputError, match="different names"):
        replace_folder(target, {"Board.nc": b"", "board.nc": b""})


def test_the_top_of_a_disk_and_the_folder_one_is_in(target, monkeypatch):
    with pytest.raises(InputError, match="top of a disk"):
        replace_folder(Path(target.anchor), NEW)
    replace_folder(target, OLD)
    (target / "inside").mkdir()
    monkeypatch.chdir(target / "inside")
    for place in (Path(), Path("..")):
        with pytest.raises(InputError, match="you are in"):
            replace_folder(place, NEW)


@pytest.fixture
def two_renames(monkeypatch):
    """As on a system where folders can't change places at one stroke."""
    monkeypatch.setattr(folder, "exchange", lambda one, two: False)


def failing(real, at):
    """`real`, but its call number `at` (from 1) fails as a full disk does."""
    calls = {"count": 0}

    def call(*args, **options):
        calls["count"] += 1
        if calls["count"] == at:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(args[0]))
        return real(*args, **options)

    return call, calls


def refusal_of(target):
    """The message of a run that was refused, or nothing."""
    try:
        replace_folder(target, NEW)
    except InputError as error:
        return str(error)
    return ""


@pytest.mark.parametrize("name", ["replace", "fsync", "mkdir", "open"])
@pytest.mark.parametrize("first", [True, False])
@pytest.mark.parametrize("stroke", [True, False])
def test_old_content_is_kept_wherever_it_fails(target, monkeypatch, name, first, stroke):
    """Fail the first call, then the second, and so on, until a run gets through."""
    if stroke and not first and not can_exchange(target.parent):
        pytest.skip("folders can't change places at one stroke here")
    if not stroke:
        monkeypatch.setattr(folder, "exchange", lambda one, two: False)
    outcomes = []
    for at in range(1, 30):
        before = {}
        if not first:
            replace_folder(target, OLD)
            before = OLD
        elif target.exists():
            folder._remove(target)
        call, calls = failing(getattr(os, name), at)
        with monkeypatch.context() as patch:
            patch.setattr(os, name, call)
            said = refusal_of(target)
        outcomes.append("failed" if said else "done")
        if said:
            assert "No space left" in said
            assert (content(target) if target.exists() else {}) == before
        else:
            assert content(target) == NEW
        if calls["count"] < at:
            break
    else:
        pytest.fail("never got through")
    assert outcomes[-1] == "done"
    # At one stroke nothing else is renamed but what is thrown away, which may wait for the next run.
    assert "failed" in outcomes or (name == "replace" and stroke and not first)
    # Whatever was left by a failure is gone after the next run.
    replace_folder(target, NEW)
    assert beside(target) == []


def test_an_interrupt_leaves_the_old_content_and_no_litter(target, monkeypatch):
    replace_folder(target, OLD)

    def interrupted(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", interrupted)
        with pytest.raises(KeyboardInterrupt):
            replace_folder(target, NEW)
    assert content(target) == OLD
    assert beside(target) == []


def can_exchange(place):
    one, two = place / "one", place / "two"
    for made in (one, two):
        made.mkdir()
    try:
        return exchange(one, two)
    finally:
        for made in (one, two):
            made.rmdir()


def killed_at(target, name, number):
    """In another process: the run ends at a call without any clean-up, as when the power fails."""
    folder.exchange = lambda one, two: False
    real, calls = getattr(os, name), {"count": 0}

    def call(*args, **options):
        calls["count"] += 1
        if calls["count"] == number:
            os._exit(9)
        return real(*args, **options)

    setattr(os, name, call)
    replace_folder(target, NEW)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
@pytest.mark.parametrize(
    ("name", "number"), [("fsync", 1), ("fsync", 3), ("replace", 1), ("replace", 2), ("replace", 3)]
)
def test_the_next_run_mends_what_a_killed_one_left(target, name, number):
    replace_folder(target, OLD)
    process = multiprocessing.get_context("spawn").Process(target=killed_at, args=(target, name, number))
    process.start()
    process.join(30)
    assert process.exitcode == 9
    assert beside(target) != []
    # A run that then fails brings back the old content even from between the two renames.
    call, _ = failing(os.fsync, 1)
    real = os.fsync
    os.fsync = call
    try:
        with pytest.raises(InputError):
            replace_folder(target, NEW)
    finally:
        os.fsync = real
    assert content(target) == (NEW if (name, number) == ("replace", 3) else OLD)
    assert beside(target) == []
    replace_folder(target, NEW)
    assert content(target) == NEW


@pytest.mark.usefixtures("two_renames")
def test_only_litter_of_this_target_is_removed(target):
    others = [".out2.cutjob-new", ".other.cutjob-old", "out.cutjob-new", ".out.cutjob-newer"]
    for name in others:
        (target.parent / name).mkdir()
        (target.parent / name / "x").write_text("x")
    mine = target.parent / ".out.cutjob-old"
    mine.mkdir()
    (mine / "letters.txt").write_text("not from cutjob")
    (target.parent / ".out.cutjob-new").mkdir()
    replace_folder(target, NEW)
    assert beside(target) == sorted([*others, ".out.cutjob-old"])
    with pytest.raises(InputError, match="could not be written"):
        replace_folder(target, OLD)
    assert content(target) == NEW
    assert content(mine) == {"letters.txt": b"not from cutjob"}


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_links_are_followed_at_the_target_and_never_elsewhere(target):
    far = target.parent / "far"
    replace_folder(far, OLD)
    target.symlink_to(far)
    replace_folder(target, NEW)
    assert target.is_symlink()
    assert content(far) == NEW
    precious = target.parent / "precious"
    precious.mkdir()
    (precious / "letter.txt").write_text("dear")
    (far / "link").symlink_to(precious)
    (far.parent / ".far.cutjob-new").symlink_to(precious)
    (far.parent / ".far.cutjob-trash").symlink_to(precious)
    replace_folder(target, OLD)
    assert content(far) == OLD
    assert (precious / "letter.txt").read_text() == "dear"


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_links_that_lead_nowhere_or_to_a_stranger_are_refused(target):
    target.symlink_to(target.parent / "gone")
    with pytest.raises(InputError, match="leads nowhere"):
        replace_folder(target, NEW)
    stranger = target.parent / "stranger"
    stranger.mkdir()
    (stranger / "plan.json").symlink_to(target.parent / "real.json")
    (target.parent / "real.json").write_bytes(PLAN)
    with pytest.raises(InputError, match="did not write"):
        replace_folder(stranger, NEW)


def test_a_parent_that_refuses_writing_is_told(target, monkeypatch):
    def refuse(path, *_args, **_options):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(InputError, match=r"Permission denied.*choose a folder you may write to"):
        replace_folder(target, NEW)
    monkeypatch.undo()
    assert beside(target) == []


def test_a_write_protected_folder_is_left_alone(target, monkeypatch):
    replace_folder(target, OLD)
    monkeypatch.setattr(os, "access", lambda place, mode: False)
    with pytest.raises(InputError, match="write-protected; choose another folder"):
        replace_folder(target, NEW)
    assert content(target) == OLD
    assert beside(target) == []


@pytest.mark.parametrize("error", [errno.ENOSYS, errno.EINVAL])
def test_where_the_system_can_not_exchange_two_renames_do_it(target, monkeypatch, error):
    monkeypatch.setattr(exchange_module, "_rename", lambda: lambda one, two: error)
    replace_folder(target, OLD)
    replace_folder(target, NEW)
    assert content(target) == NEW
    assert beside(target) == []


def test_an_exchange_that_is_refused_leaves_the_old_content(target, monkeypatch):
    replace_folder(target, OLD)
    monkeypatch.setattr(exchange_module, "_rename", lambda: lambda one, two: errno.EACCES)
    with pytest.raises(InputError, match="Permission denied"):
        replace_folder(target, NEW)
    assert content(target) == OLD
    assert beside(target) == []


def test_folders_change_places(tmp_path):
    one, two = tmp_path / "one", tmp_path / "two"
    for made in (one, two):
        made.mkdir()
        (made / made.name).touch()
    if not exchange(one, two):
        pytest.skip("folders can't change places at one stroke here")
    assert [path.name for path in one.iterdir()] == ["two"]
    assert [path.name for path in two.iterdir()] == ["one"]
    with pytest.raises(FileNotFoundError):
        exchange(one, tmp_path / "three")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_really_read_only_parent(target):
    target.parent.chmod(0o555)
    try:
        with pytest.raises(InputError, match="Permission denied"):
            replace_folder(target, NEW)
    finally:
        target.parent.chmod(0o755)


def test_many_runs_at_once_end_in_one_complete_folder(target):
    versions = [
        {"plan.json": PLAN, **{f"board-{number:02}.nc": f"{run}\n".encode() for number in range(12)}}
        for run in range(6)
    ]
    failures = []

    def run(files):
        try:
            replace_folder(target, files)
        except Exception as error:
            failures.append(error)

    threads = [threading.Thread(target=run, args=(files,)) for files in versions]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert failures == []
    assert content(target) in versions
    assert beside(target) == []


def test_a_run_that_never_ends_is_told_of(target, monkeypatch):
    monkeypatch.setattr(folder, "_PATIENCE", 0.2)
    replace_folder(target, OLD)
    with (
        folder.only_run(target.parent / ".out.cutjob-lock", patience=0),
        pytest.raises(InputError, match="another run"),
    ):
        replace_folder(target, NEW)
    assert content(target) == OLD
    replace_folder(target, NEW)


def test_a_lock_file_that_nobody_holds_is_no_hindrance(target):
    lock = target.parent / ".out.cutjob-lock"
    lock.touch()
    with folder.only_run(lock, patience=0):
        pass
    assert not lock.exists()


def test_no_folder_is_made_for_a_lock(target):
    with pytest.raises(FileNotFoundError), folder.only_run(target / ".shed.cutjob-lock", patience=0):
        pass
    assert not target.exists()


@pytest.mark.parametrize("name", ["my-notes.txt", "job.toml", "sub/deep.txt"])
def test_files_of_the_users_own_are_never_lost(tmp_path, name):
    target = tmp_path / "out"
    replace_folder(target, OLD)
    mine = target / name
    mine.parent.mkdir(exist_ok=True)
    mine.write_text("keep me")
    with pytest.raises(InputError, match=name):
        replace_folder(target, NEW)
    assert mine.read_text() == "keep me"
    assert (target / "board-01.nc").read_bytes() == OLD["board-01.nc"]
