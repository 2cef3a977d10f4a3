"""Compiles what the search for short ways needs, and keeps it: `python -m cutjob.program.prepare`.

On the first run on a computer this goes on beside the reading of the job and the search for its layout.
"""

from __future__ import annotations

from cutjob.compiled import is_kept
from cutjob.program.tour import Start, sequence
from cutjob.program.tour_search import improve

_TASKS = 40  # more than are ordered without compiled code


def is_prepared() -> bool:
    """Whether the search was compiled by an earlier run."""
    return is_kept(improve)


def prepare() -> None:
    """Order a few tasks, so that everything the search needs is compiled."""
    starts = [[Start(0.0, (float(i * i % 7), float(i)), (float(i), 0.0))] for i in range(_TASKS)]
    sequence([()] * _TASKS, starts, home=(0.0, 0.0), moves=1)


if __name__ == "__main__":
    prepare()
