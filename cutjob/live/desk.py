"""What the page is about: an open job with its look, its newest plan and proven files, and what is asked of it.

The server calls it from several threads. The look of a text is worked out here, at once; plans and files come from the
worker.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, get_args

from cutjob.designs.catalogue import CATALOGUE, DESIGNS
from cutjob.designs.design import Design
from cutjob.errors import CutjobError, InputError, Problem
from cutjob.files.fields import KeyPath
from cutjob.files.file_bytes import real_path
from cutjob.files.source import Source, parse_source
from cutjob.job.read_shop import SHOP_FILE, usual_text
from cutjob.live.edits import Change, Kind, typed_value
from cutjob.live.lines import SHOP
from cutjob.live.look import Look, ReadText, look_at, look_data, read_text
from cutjob.live.open_job import OpenJob, OverlappedError, Text
from cutjob.live.worker import Asked, Said, Worker
from cutjob.making import default_folder
from cutjob.output.one_file import change_file
from cutjob.stages import Effort, StoppedError

_MOST_CHANGES = 200  # of one edit
_MOST_STEPS = 500  # back
_AT_REST = 0.3  # s without a drag before handles are looked for
_MOST_JOBS = 200  # of a folder, offered to be opened


class Desk:
    """One open job, or none yet: then the page offers designs, and the jobs in the folder."""

    def __init__(
        self,
        path: Path | None,
        *,
        folder: Path,
        out: Path | None = None,
        effort: Effort = "normal",
        say: Callable[[str, object], None] = lambda event, data: None,
        worker: Worker | None = None,
    ) -> None:
        """Open the job at `path`, if there is one. `say` is called with every event for the pages.

        Raises InputError where the file can't be read.
        """
        self.run = f"{time.time_ns():x}"  # a page that hears of another run takes up again
        self._say, self._lock = say, threading.RLock()
        self._folder, self._out = folder, out
        self._effort, self._seed = effort, 0
        self._job: OpenJob | None = None if path is None else OpenJob(path)
        self._shop: OpenJob | None = None
        # Whose changes there were, the newest last: so that a step back is of the file that was changed last.
        self._back: list[OpenJob] = []
        self._forth: list[OpenJob] = []
        self._read: tuple[int, ReadText, Look] | None = None
        self._last_good: Look | None = None
        self._told = 0  # changes of what is shown of a version: of two states the one with more is the newer
        self._asked = self._asked_before = 0  # numbers: of the newest, and of the last of another job
        self._more: tuple[int, tuple[Problem, ...]] | None = None  # mistakes that only the whole work shows
        self._plan: dict[str, Any] | None = None
        self._before: dict[str, Any] | None = None
        self._files: tuple[int, dict[str, bytes]] | None = None
        self._doing: dict[str, Any] | None = None
        self._failed: dict[str, Any] | None = None
        self._write: tuple[int, Path | None] | None = None
        self._booked: int | None = None  # the version whose offcuts went to stock
        self._written: dict[str, Any] | None = None
        self._asked_at = 0.0
        self._to_draw, self._closed = threading.Event(), False
        threading.Thread(target=self._draw, daemon=True).start()
        self._worker = Worker(self._heard) if worker is None else worker
        self._worker.start()
        self._ask()
        if self._job is not None:
            self._looked(self._job.now())  # to be shown where the first change is a mistake

    @property
    def folder(self) -> Path:
        """The folder of the job, or the one in which jobs are looked for."""
        return self._folder if self._job is None else self._job.path.parent.absolute()

    @property
    def folders(self) -> frozenset[Path]:
        """The folders in which something may change that matters: the job's, and those of the files it names."""
        if self._job is None:
            return frozenset()
        return frozenset(folder for folder in (self.folder, *self._job.named_folders()) if folder.is_dir())

    def close(self) -> None:
        """End the worker."""
        self._closed = True
        self._to_draw.set()
        self._worker.close()

    def text(self) -> tuple[str, int]:
        """The text of the job and its version; empty and 0 where none is open."""
        if self._job is None:
            return "", 0
        now = self._job.now()
        return now.text, now.version

    def state(self) -> dict[str, Any]:
        """Return everything that the page shows."""
        with self._lock:
            base: dict[str, Any] = {"run": self.run, "effort": self._effort, "efforts": list(get_args(Effort))}
            if self._job is None:
                return {**base, "job": None, "folder": self._folder.name, "jobs": self._jobs()}
            now = self._job.now()
            look = self._looked(now)
            shown = look
            if not look.items and self._last_good is not None:
                shown = replace(look, items=self._last_good.items, boards=self._last_good.boards)
            lines_before = not look.sections and self._last_good is not None  # the text is no TOML
            if lines_before and self._last_good is not None:
                shown = replace(shown, sections=self._last_good.sections)
            return {
                **base,
                "job": self._job.path.name,
                "version": now.version,
                "told": self._told,
                "undo": bool(self._back),
                "redo": bool(self._forth),
                "shop": None if self._shop is None else self._shop.path.name,
                "shop_version": None if self._shop is None else self._shop.now().version,
                "look": look_data(shown),
                "of_before": shown is not look,
                "lines_before": lines_before,
                "seed": self._seed,
                "plan": self._plan,
                "before": self._before,
                "doing": self._doing,
                "failed": self._failed,
                "writing": self._write is not None,
                "written": self._written,
                "to_folder": str(self._to_folder(self._job.path)),
                "files": sorted(self._files[1]) if self._files and self._files[0] == now.version else [],
                "command": self._command(self._job.path),
            }

    def put(self, text: str, *, version: int | None = None) -> dict[str, Any]:
        """Write a whole new text. Raises OverlappedError and InputError."""
        return self._made(self._open(), lambda job: job.put(text, version=version))

    def edit(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Make the changes that are asked for, and write them: in the job, or in its shop file."""
        changes = _changes(asked)
        if all(one.path[0] != SHOP for one in changes):
            return self._made(self._open(), lambda job: job.edit(changes, version=_version(asked)))
        shop = self._shop
        if shop is None or any(one.path[0] != SHOP or len(one.path) < 2 for one in changes):
            raise _wrong("the job has no shop file for this change", "use the page")
        inner = [Change(path=one.path[1:], value=one.value) for one in changes]
        return self._made(shop, lambda file: file.edit(inner, version=_version(asked, "shop_version")))

    def begin_shop(self) -> dict[str, Any]:
        """Write a shop file with usual figures beside the job, which then has it."""
        path = self._open().path.parent / SHOP_FILE

        def only_new(old: bytes) -> bytes:
            if old:
                raise _wrong(f"{path.name} is there already", "name it as shop in the job, or move it away")
            return usual_text().encode("utf-8")

        change_file(path, only_new)
        self._look_again(shop=True)
        return self.state()

    def tried(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Return how the job would look with changes that are not written: what follows a dragged handle."""
        self._asked_at = time.monotonic()
        job = self._open()
        read = self._as_read(job.tried(_changes(asked)))
        return look_data(look_at(read, job.path, handles=False, lines=False))

    def undo(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Go one step back, in the file that was changed last."""
        return self._stepped(self._back, self._forth, OpenJob.undo, asked)

    def redo(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Go one step forth."""
        return self._stepped(self._forth, self._back, OpenJob.redo, asked)

    def _stepped(
        self,
        source: list[OpenJob],
        target: list[OpenJob],
        step: Callable[..., Text],
        asked: Mapping[str, Any],
    ) -> dict[str, Any]:
        with self._lock:
            if not source:
                return self.state()
            file = source[-1]
        name = "version" if file is self._job else "shop_version"

        def stepped(one: OpenJob) -> Text:
            now = step(one, version=_version(asked, name))
            with self._lock:
                target.append(source.pop())
            return now

        return self._made(file, stepped, is_step=True)

    def look_at_disk(self) -> None:
        """Take in what changed in the folder: the job itself, or a file that it names."""
        if self._job is None:
            return
        shop = self._shop is not None and self._shop.look_at_disk()
        if shop and self._shop is not None:
            self._note(self._shop)
        if self._job.look_at_disk():
            self._note(self._job)
            self._changed(self._job.now())
        else:
            self._look_again(shop=shop)

    def search(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Search with another effort or seed."""
        effort, seed = asked.get("effort", self._effort), asked.get("seed", self._seed)
        if effort not in get_args(Effort):
            raise _wrong(f"the effort {effort!r} is not known", f"take one of {', '.join(get_args(Effort))}")
        if isinstance(seed, bool) or not isinstance(seed, int) or not 0 <= seed < 2**32:
            raise _wrong("the seed is not a whole number", "take one from 0 up")
        with self._lock:
            self._effort, self._seed = effort, seed
        self._ask()
        self._say("again", {"version": self._open().now().version})
        return self.state()

    def enough(self) -> dict[str, Any]:
        """End the search, and keep the best layout so far."""
        self._worker.enough(self._open().now().version)
        return {}

    def write(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Write the folder once everything is proven: as `make` does with the same effort and seed."""
        job = self._open()
        offcuts = asked.get("offcuts")
        keep: Path | None = None
        if offcuts is not None:
            if offcuts not in [one["file"] for one in self.wood()["stocks"]]:
                raise _wrong(f"{offcuts!r} is no file of stock of this job", "name it as stock in the job")
            keep = job.path.parent / str(offcuts)
        now = job.now()
        with self._lock:
            if not self._looked(now).valid:
                raise _wrong("the job has mistakes", "correct them first")
            if keep is not None and self._booked == now.version:
                raise _wrong("the offcuts of this job are booked already", "change the job to cut it once more")
            self._write, self._written = (now.version, keep), None
            ready = self._plan is not None and self._plan.get("last") and self._plan["version"] == now.version
        if ready or keep is not None:
            self._ask(write=True)
        return self.state()

    def file(self, name: str) -> bytes | None:
        """Return a file of the job as it is now; None where there is none, or it is not proven."""
        with self._lock:
            if self._job is None or self._files is None or self._files[0] != self._job.now().version:
                return None
            return self._files[1].get(name)

    def designs(self) -> list[dict[str, Any]]:
        """Return every design with its pictures at its sizes."""
        return _designs_shown()

    def new(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Write a first job for a design at a size, in the folder, and open it."""
        from cutjob.designs.new_job import new_job

        design = CATALOGUE.get(str(asked.get("design")))
        size, unit = asked.get("size"), asked.get("units")
        if design is None or size not in design.sizes or unit not in ("in", "mm"):
            raise _wrong("there is no such design, size or unit", "choose one of those shown")
        text = new_job(design, unit=unit)
        text = text.replace('size = "medium"', f'size = "{size}"', 1)
        path = self._free_name(f"{design.name}-{size}")

        def only_new(old: bytes) -> bytes:
            if old:
                raise _wrong(f"{path.name} is there already", "try again")
            return text.encode("utf-8")

        change_file(path, only_new)
        return self._opened(path)

    def open(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Open a job of the folder."""
        name = asked.get("name")
        if name not in self._jobs():
            raise _wrong("there is no such job in this folder", "choose one of those shown")
        return self._opened(self._folder / str(name))

    def dates(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """Return what is ready by which day, as `cutjob dates` says it."""
        from cutjob.days.make_dates import dates_of_jobs
        from cutjob.days.words import opening_lines, order_rows, refused_rows, week_lines

        job = self._open()
        try:
            start = date.fromisoformat(str(asked.get("from") or date.today().isoformat()))
        except ValueError:
            raise _wrong(f"{asked.get('from')!r} is not a day", "write one such as 2027-02-01") from None
        found = dates_of_jobs([job.path], start=start)
        return {
            "from": start.isoformat(),
            "opening": list(opening_lines(found)),
            "make": _table(order_rows(found.plan)),
            "refuse": _table(refused_rows(found.plan)),
            "weeks": list(week_lines(found.plan)),
        }

    def wood(self) -> dict[str, Any]:
        """Return what lies in the files of stock in the job's folder: their boards, with pictures."""
        from cutjob.job.read_stock import read_stock
        from cutjob.live.look import board_drawing

        job = self._open()
        data = self._looked_source(job)
        named = _texts(data.get("stock"))
        left = _texts(data.get("left_in_stock"))
        stocks = []
        for name in dict.fromkeys([*named, *_stock_names(job.path)]):
            if not job.may_name(name):
                continue  # said as a mistake, or a link to a file elsewhere
            try:
                stock = read_stock(job.path.parent / name)
            except CutjobError as error:
                stocks.append({"file": name, "taken": name in named, "said": [str(one) for one in error.problems],
                               "boards": []})  # fmt: skip
                continue
            boards = [
                {
                    "name": entry.board.name,
                    "taken": name in named and entry.board.name not in left,
                    "count": entry.stock.count,
                    "used": sum(one.count for one in entry.stock.taken),
                    "material": entry.board.material,
                    "svg": board_drawing(entry.board, path=()).svg,
                }
                for entry in stock.boards
            ]
            stocks.append({"file": name, "taken": name in named, "said": [], "boards": boards})
        return {"stocks": stocks}

    def _open(self) -> OpenJob:
        if self._job is None:
            raise _wrong("no job is open", "open one, or begin a new one")
        return self._job

    def _opened(self, path: Path) -> dict[str, Any]:
        with self._lock:
            # No version of another job is one of this.
            self._job = OpenJob(path, version=1 if self._job is None else self._job.now().version + 1)
            self._asked_before = self._asked
            self._read = self._last_good = self._more = self._plan = self._before = self._files = None
            self._doing = self._failed = self._write = self._written = self._booked = self._shop = None
            self._back, self._forth = [], []
        self._ask()
        self._say("changed", {"version": self._job.now().version})
        return self.state()

    def _made(self, file: OpenJob, change: Callable[[OpenJob], Text], *, is_step: bool = False) -> dict[str, Any]:
        """Make a change in the job or its shop file. What was written by hand meanwhile is taken in, and the change
        refused.
        """
        before = file.now().text
        try:
            now = change(file)
        except OverlappedError:
            if file.now().text != before:
                self._note(file)
                self._follow(file)
            raise
        if now.text != before and not is_step:
            self._note(file)
        return self._follow(file)

    def _follow(self, file: OpenJob) -> dict[str, Any]:
        """Work out what follows from a file's new text."""
        if file is self._job:
            return self._changed(file.now())
        self._look_again(shop=True)
        return self.state()

    def _note(self, file: OpenJob) -> None:
        """A file has a new text: a step back is one of it, and no step forth is left."""
        with self._lock:
            self._back = [*self._back[-_MOST_STEPS:], file]
            self._forth = []

    def _changed(self, now: Text) -> dict[str, Any]:
        with self._lock:
            self._failed = None
            if self._plan is not None and self._plan.get("proof") is not None:
                self._before = _figures(self._plan)
            self._write = None
        self._ask()
        self._say("changed", {"version": now.version})
        return self.state()

    def _look_again(self, *, shop: bool = False) -> None:
        """A file beside the job changed: what it says may matter. The lines of a changed `shop` file are shown anew."""
        job = self._open()
        now = job.now()
        with self._lock:
            if self._read is None or self._read[0] != now.version:
                return
            old = self._read[1]
        read = self._as_read(now.text)
        same = read.problems == old.problems and (read.order is None or old.order == read.order)
        if same and not shop:
            return
        with self._lock:
            self._read = None
            self._told += 1
            if not same:
                self._more = self._failed = None
                self._forget_plan()
        if not same:
            self._ask()
        self._say("again", {"version": now.version})

    def _forget_plan(self) -> None:
        """Of the plan only its figures are kept, to compare with; nothing of it is handed out or written any more."""
        if self._plan is not None and self._plan.get("proof") is not None:
            self._before = _figures(self._plan)
        self._plan = self._files = self._write = None

    def _as_read(self, text: str) -> ReadText:
        return read_text(text, self._open().path, outside=self._outside(text))

    def _outside(self, text: str) -> tuple[Problem, ...]:
        job = self._open()
        try:
            return job.outside(parse_source(text.encode("utf-8"), name=str(job.path)))
        except InputError:
            return ()

    def _looked(self, now: Text) -> Look:
        with self._lock:
            job = self._open()
            if self._read is None or self._read[0] != now.version:
                read = self._as_read(now.text)
                if self._more is not None and self._more[0] == now.version and read.order is not None:
                    read = replace(read, problems=self._more[1])
                self._read = (now.version, read, look_at(read, job.path, shop=self._shop_source(read), handles=False))
                if self._read[2].items:
                    self._last_good = self._read[2]
                    self._to_draw.set()
            return self._read[2]

    def _shop_source(self, read: ReadText) -> Source | None:
        """The shop file of a text as it is now, opened for changes; None where it has none in its folder that can be
        read.
        """
        job = self._open()
        named = None if read.source is None else read.source.data.get("shop")
        path = job.path.parent / (named if isinstance(named, str) else SHOP_FILE)
        with self._lock:
            inside = real_path(path).is_relative_to(real_path(job.path.parent))
            if self._shop is None or self._shop.path != path:
                try:
                    self._shop = OpenJob(path) if inside and path.is_file() else None
                except InputError:
                    self._shop = None
            if self._shop is None:
                return None
            try:
                return parse_source(self._shop.now().text.encode("utf-8"), name=str(path))
            except InputError:
                return None

    def _draw(self) -> None:
        """Find the handles of the newest drawings, beside everything else: this takes many builds of an item."""
        while True:
            self._to_draw.wait()
            self._to_draw.clear()
            with self._lock:
                job, found = self._job, self._read
            if self._closed:
                return
            if job is None or found is None or found[1].order is None:
                continue
            while time.monotonic() - self._asked_at < _AT_REST:
                time.sleep(_AT_REST / 4)
            version, read, _ = found
            try:
                shop = self._shop_source(read)
                look = look_at(read, job.path, shop=shop, stop=lambda: self._read is not found or self._closed)  # noqa: B023
            except StoppedError:
                continue
            with self._lock:
                if self._read is not found:
                    continue
                self._read = (version, read, look)
                self._last_good = look
            items = look_data(look)["items"]
            self._say("drawings", {"version": version, "items": items})

    def _looked_source(self, job: OpenJob) -> Mapping[str, Any]:
        source = self._as_read(job.now().text).source
        return {} if source is None else source.data

    def _ask(self, *, write: bool = False) -> None:
        """Have the worker do what is to be done for the newest text."""
        if self._job is None:
            return
        with self._lock:
            now = self._job.now()
            wanted = self._write if write and self._write is not None and self._write[0] == now.version else None
            self._doing = None
            self._asked += 1
            self._told += 1
            asked = Asked(
                number=self._asked, version=now.version, text=now.text, path=self._job.path,
                outside=self._outside(now.text), effort=self._effort, seed=self._seed,
                folder=self._to_folder(self._job.path), write=wanted is not None,
                keep_offcuts=None if wanted is None else wanted[1],
            )  # fmt: skip
            self._worker.ask(asked)

    def _heard(self, said: Said) -> None:
        """Take in what the worker says."""
        with self._lock:
            newest = said.number == self._asked or (said.kind == "written" and said.number > self._asked_before)
            if self._job is None or not newest or said.version != self._job.now().version:
                return
            self._told += 1
            data = {**said.data, "version": said.version, "told": self._told}
            if said.kind == "stage":
                self._doing = data
            elif said.kind == "mistakes":
                self._more = (said.version, tuple(said.problems))
                self._read = self._doing = self._write = self._files = None
            elif said.kind == "failed":
                self._failed, self._doing, self._write = data, None, None
            elif said.kind == "written":
                self._written, self._write, self._doing = data, None, None
                if data.get("passed") and data.get("offcuts") is not None:
                    self._booked = said.version
            else:
                if said.kind == "plan" and self._plan is not None and self._plan["version"] == said.version:
                    return  # a better one is there
                self._plan, self._failed = data, None
                self._doing = None if data.get("last") else {"version": said.version, "stage": "layout"}
                self._files = None if said.files is None else (said.version, said.files)
            write = said.kind in ("proven", "refused") and data.get("last") and self._write is not None
        if said.kind == "mistakes":
            self._say("again", {"version": said.version})
        else:
            self._say(said.kind, data)
        if write:
            self._ask(write=True)

    def _to_folder(self, path: Path) -> Path:
        return self._out if self._out is not None else default_folder(path)

    def _command(self, path: Path) -> str:
        effort = "" if self._effort == "normal" else f" --effort {self._effort}"
        return f"cutjob make {path.name}{effort}" + (f" --seed {self._seed}" if self._seed else "")

    def _jobs(self) -> list[str]:
        try:
            names = sorted(one.name for one in self._folder.glob("*.toml") if one.is_file())
        except OSError:
            return []
        return [name for name in names if _is_job(self._folder / name)][:_MOST_JOBS]

    def _free_name(self, stem: str) -> Path:
        numbers = ["", *(f"-{number}" for number in range(2, 1000))]
        return next(path for path in (self._folder / f"{stem}{number}.toml" for number in numbers) if not path.exists())


def _wrong(message: str, advice: str) -> InputError:
    return InputError(Problem(message=message, advice=advice))


def _version(asked: Mapping[str, Any], name: str = "version") -> int | None:
    version = asked.get(name)
    if version is not None and (isinstance(version, bool) or not isinstance(version, int)):
        raise OverlappedError  # no version of this text
    return version


def _changes(asked: Mapping[str, Any]) -> list[Change]:
    """The changes of a request: at a path, what was `typed` for a key of a `kind`, or a `value`, or neither: remove."""
    raw = asked.get("changes")
    if not isinstance(raw, list) or not 0 < len(raw) <= _MOST_CHANGES:
        raise _wrong("the request names no changes", "use the page")
    changes = []
    for one in raw:
        path = one.get("path") if isinstance(one, dict) else None
        if (
            not isinstance(path, list)
            or not path
            or not all(
                isinstance(key, str) or (isinstance(key, int) and not isinstance(key, bool) and key >= 0)
                for key in path
            )
        ):
            raise _wrong("a change has no place", "use the page")
        value = one.get("value")
        if "typed" in one:
            kind = one.get("kind")
            if kind not in get_args(Kind) or not isinstance(one["typed"], str):
                raise _wrong("a change has no kind", "use the page")
            value = typed_value(kind, one["typed"])
        where: KeyPath = tuple(path)
        changes.append(Change(path=where, value=value))
    return changes


def _texts(value: object) -> list[str]:
    """The texts that a key holds: one, or a list of them; what is none of them is a mistake, and said elsewhere."""
    return [one for one in (value if isinstance(value, list) else [value]) if isinstance(one, str)]


def _figures(plan: Mapping[str, Any]) -> dict[str, Any]:
    """The figures of a plan that later ones are compared with."""
    return {key: plan[key] for key in ("costs", "prices", "summary", "version")}


def _table(rows: tuple[Sequence[str], Sequence[Sequence[str]]]) -> dict[str, Any]:
    return {"heads": list(rows[0]), "rows": [list(row) for row in rows[1]]}


def _is_job(path: Path) -> bool:
    """Whether a file is a job, by a look at its first keys."""
    try:
        text = path.read_bytes()[:200_000].decode("utf-8", errors="replace")
    except OSError:
        return False
    return "[[make]]" in text


def _stock_names(job: Path) -> list[str]:
    """Files of stock beside the job, and one folder down."""
    found = []
    for path in sorted([*job.parent.glob("*.toml"), *job.parent.glob("*/*.toml")])[:500]:
        try:
            text = path.read_bytes()[:200_000].decode("utf-8", errors="replace")
        except OSError:
            continue
        if "[[board]]" in text and "[[make]]" not in text and "machine" not in text.split("[[", 1)[0]:
            found.append(path.relative_to(job.parent).as_posix())
    return found


@cache
def _designs_shown() -> list[dict[str, Any]]:
    shown = [_design_shown(design) for design in DESIGNS if design.sizes]
    return [one for one in shown if one["sizes"]]


def _design_shown(design: Design) -> dict[str, Any]:
    from cutjob.designs.evaluate import evaluate
    from cutjob.job.model import Make
    from cutjob.output.picture.finished import front_drawing, item_size, svg_of
    from cutjob.reports.assembly import as_measured

    sizes = []
    for size in design.sizes:
        try:
            item = evaluate(
                Make(name=design.name, design=design.name, size=size),
                unit=design.unit, location=None, key_locations={}, folder=Path(), thickness=16.0,
            )  # fmt: skip
        except CutjobError:
            continue  # it needs something of the user's, such as a drawing
        measured = item_size(item.build)
        words = "" if measured is None else " x ".join(as_measured(one, design.unit) for one in measured)
        drawing = front_drawing(item.build)
        picture = None if drawing is None else svg_of(drawing, title=f"{design.name}, {size}")
        sizes.append({"size": size, "picture": picture, "words": words})
    return {"name": design.name, "summary": design.summary, "units": design.unit, "sizes": sizes}
