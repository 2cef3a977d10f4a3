"""cutjob: from parametric designs of small wooden goods to proven cutting files.

import cutjob
result = cutjob.make("samples/porch-spinner.toml", out="out/spinner")
result.proof.passed, result.layout, result.programs, result.plan
cutjob.check(["out/spinner/board-01.nc"], plan="out/spinner/plan.json").report.passed

The stages one by one, in memory, each a plain function from value to value:

resolved = cutjob.read("samples/porch-spinner.toml")     items built, defaults settled; takes a path, a text or a dict
cutjob.making.work_out(resolved, effort="quick")          all the stages below: files and proof, nothing written
cutjob.laying_out.lay_out_wood, cut_wood, lay_out_held    for each of resolved.woods: a layout; its cuts; both, repeated
                                                          until the boards hold
cutjob.laying_out.held_job                                all woods in one value
cutjob.finishing.finish_boards                            programs, files and their proof, board by board
cutjob.making.job_result                                  the finished job, for plan, sheet and summary
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from cutjob.checking import CheckResult
    from cutjob.layout.search.progress import Watch
    from cutjob.making import MakeResult
    from cutjob.panels.make_panel import PanelResult
    from cutjob.resolved import ResolvedJob

__version__ = "0.1.0"
__all__ = ["check", "make", "panel", "read"]


def read(job: str | Path | Mapping[str, object], *, folder: str | Path | None = None) -> ResolvedJob:
    """Read a job with the profile, stock and drawings it names, build its items, and fill in the defaults.

    Nothing is written.
    `job` is a file's path, its text (with a line break in it), or its data as read from TOML. The files it names are
    looked for from its own folder; for a text or data, from `folder` (default: the current one). Raises
    `cutjob.errors.InputError` with every mistake in these files.
    """
    from cutjob.files.source import source_of
    from cutjob.resolved import order_of, resolve

    return resolve(*order_of(source_of(job), _path_of(job, folder)))


def _is_path(job: str | Path | Mapping[str, object]) -> bool:
    return isinstance(job, Path) or (isinstance(job, str) and "\n" not in job)


def _path_of(job: str | Path | Mapping[str, object], folder: str | Path | None) -> Path:
    """The file of a job; for a text or data, the name that messages use in its place."""
    return Path(str(job)) if _is_path(job) else Path(folder or ".") / "job.toml"


def make(
    job: str | Path | Mapping[str, object],
    *,
    folder: str | Path | None = None,
    out: str | Path | None = None,
    seed: int = 0,
    effort: Literal["quick", "normal", "best"] = "normal",
    seconds: float | None = None,
    only: Collection[str] | None = None,
    png: bool = False,
    cores: int = 1,
    executor: Executor | None = None,
    keep_offcuts: str | Path | None = None,
    watch: Watch | None = None,
) -> MakeResult:
    """Make all files of a job, prove them and put them in the folder `out` (default `out/<job's name>`).

    `job` and `folder` are as in `read`. The search for a layout ends after `seconds` where they are given, else with
    the `effort`. `only` names the kinds of file to write: gcode, dxf, picture, pattern, label, booklet, sheet.
    `watch` sees how far the search is and may stop it (`cutjob.layout.search.progress`). `png` adds PNG pictures.
    With `cores` above 1 a job of many parts is shared among new processes; a script that asks for them must be
    guarded by `if __name__ == "__main__"`. An `executor` of `concurrent.futures` does the work instead: threads,
    processes, or many computers through Dask's `Client(ADDRESS).get_executor(pure=False)`; the bytes are the same. Use
    a cluster only in a network you trust: it runs whatever it is sent. `keep_offcuts` is a file of stock that the
    offcuts are added to. Returns the values of every stage.
    Raises ValueError for a wrong argument and `cutjob.errors.InputError` with every mistake in the job. The result
    says whether the proof passed; where it did not, nothing is written.
    """
    from cutjob.files.source import source_of
    from cutjob.making import make_job

    if isinstance(only, str):
        raise ValueError(f'only: give several kinds of file, such as ["{only}"], not one text')
    return make_job(
        _path_of(job, folder),
        source=None if _is_path(job) else source_of(job),
        out=None if out is None else Path(out),
        seed=seed,
        effort=effort,
        seconds=seconds,
        only=None if only is None else frozenset(only),
        png=png,
        cores=cores,
        executor=executor,
        keep_offcuts=None if keep_offcuts is None else Path(keep_offcuts),
        watch=watch,
    )


def check(
    files: Sequence[str | Path],
    *,
    machine: str | None = None,
    plan: str | Path | None = None,
    picture: str | Path | None = None,
    thickness: str | None = None,
    material: str | None = None,
    cutter: int | None = None,
) -> CheckResult:
    """Judge G-code files for a `machine` (a profile's name or path). With a plan.json, compare G-code files, DXF files
    and patterns in PDF with their parts.

    `picture` is the path for an SVG of the board, with a ring round every place found. `thickness`, `material` and the
    number of the `cutter` are for files without a plan. Raises ValueError where `files` is a text instead of a list,
    and `cutjob.errors.InputError` with everything wrong in the files and options.
    """
    from cutjob.checking import check_files

    if isinstance(files, (str, Path)):
        raise ValueError(f'give several files, such as ["{files}"], not one')
    return check_files(
        [Path(file) for file in files],
        machine=machine,
        plan=None if plan is None else Path(plan),
        picture=None if picture is None else Path(picture),
        thickness=thickness,
        material=material,
        cutter=cutter,
    )


def panel(file: str | Path, *, out: str | Path | None = None, seed: int | None = None) -> PanelResult:
    """Fill the framed panel of a file with end cuts and write its picture, lists and plan to `out` (default
    `out/<name>`).

    Raises `cutjob.errors.InputError` for mistakes in the files and for a panel that can't be filled, and
    `cutjob.errors.ProofError` where a check of the filled panel fails.
    """
    from cutjob.panels.make_panel import make_panel

    return make_panel(Path(file), out=None if out is None else Path(out), seed=seed)
