"""cutjob: from parametric designs of small wooden goods to proven cutting files.

import cutjob
result = cutjob.make("samples/porch-spinner.toml", out="out/spinner")
result.proof.passed, result.layout, result.programs, result.plan
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from cutjob.pipeline import MakeResult

__version__ = "0.1.0"
__all__ = ["make"]


def make(
    job: str | Path,
    *,
    out: str | Path | None = None,
    seed: int = 0,
    effort: Literal["quick", "normal", "best"] = "normal",
    only: frozenset[str] | None = None,
) -> MakeResult:
    """Make all files of a job file, prove them and put them in the folder `out` (default `out/<job's name>`).

    Returns the values of every stage. Raises `cutjob.errors.InputError` with everything wrong in the job; whether the
    proof passed is in the result, and nothing is written when it did not.
    """
    from cutjob.pipeline import make_job

    return make_job(Path(job), out=None if out is None else Path(out), seed=seed, effort=effort, only=only)
