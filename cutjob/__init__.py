"""cutjob: from parametric designs of small wooden goods to proven cutting files.

import cutjob
result = cutjob.make("samples/porch-spinner.toml", out="out/spinner")
result.proof.passed, result.layout, result.programs, result.plan
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from cutjob.layout.watch import Watch
    from cutjob.pipeline import MakeResult

__version__ = "0.1.0"
__all__ = ["make"]


def make(
    job: str | Path,
    *,
    out: str | Path | None = None,
    seed: int = 0,
    effort: Literal["quick", "normal", "best"] = "normal",
    seconds: float | None = None,
    only: frozenset[str] | None = None,
    png: bool = False,
    cores: int = 1,
    keep_offcuts: str | Path | None = None,
    watch: Watch | None = None,
) -> MakeResult:
    """Make all files of a job file, prove them and put them in the folder `out` (default `out/<job's name>`).

    With `seconds` the layout is searched for so long instead of with an `effort`: the clock decides then. `watch` sees
    how far the search is and may stop it (`cutjob.layout.watch`). `png` adds the boards' pictures as PNG. `cores` above
    1 shares a job of many parts among new processes; a script that asks for them must be guarded by
    `if __name__ == "__main__"`. `keep_offcuts` is a file of stock to put what is left of the boards in. Returns the
    values of every stage. Raises `cutjob.errors.InputError` with everything wrong in the job; whether the proof passed
    is in the result, and nothing is written when it did not.
    """
    from cutjob.pipeline import make_job

    folder = None if out is None else Path(out)
    stock = None if keep_offcuts is None else Path(keep_offcuts)
    return make_job(
        Path(job),
        out=folder,
        seed=seed,
        effort=effort,
        seconds=seconds,
        only=only,
        png=png,
        cores=cores,
        keep_offcuts=stock,
        watch=watch,
    )
