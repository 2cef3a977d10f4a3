"""Whole small jobs made from a seed, and how each ends: in a proven folder or in a clear refusal, never otherwise.

`python -m tests.random_jobs 5000 --from 0` makes so many and prints the counts.
"""

from __future__ import annotations

from tests.random_jobs.job import RandomJob, write_random_job

__all__ = ["RandomJob", "write_random_job"]
