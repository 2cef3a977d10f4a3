"""Whether a change that only moves code leaves every file as it was, byte for byte.

    python -m tests.same_files write before.json     at the state before
    python -m tests.same_files compare before.json   after the change: exit 1 and the names of what differs

All samples at the quick search and `--jobs` random ones, each in a folder of its own; of a refused job its messages.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from cutjob.errors import InputError
from cutjob.files.file_bytes import shipped_files, shipped_folder
from cutjob.making import make_job
from tests.random_jobs.job import write_random_job
from tests.random_jobs.outcome import short_search

FIRST_SEED = 60_000
Made = dict[str, dict[str, str]]


def made(jobs: int, told: Callable[[str], None]) -> Made:
    """The digest of every file of every job, by job and file."""
    found: Made = {}
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        shutil.copytree(shipped_folder("samples"), work / "samples")
        for sample in sorted(shipped_files("samples")):
            out = work / "out" / sample
            make = partial(make_job, work / "samples" / f"{sample}.toml", out=out, effort="quick")
            found[sample] = _made(work, out, make)
            told(sample)
        with short_search():
            for seed in range(FIRST_SEED, FIRST_SEED + jobs):
                found[f"random {seed}"] = _random(work / str(seed), seed)
                shutil.rmtree(work / str(seed))
                told(f"random {seed}")
    return found


def _random(folder: Path, seed: int) -> dict[str, str]:
    job = write_random_job(folder, seed)
    out = folder / "out"
    return _made(
        folder,
        out,
        lambda: make_job(
            job.path, out=out, effort="quick", seed=job.seed, only=job.only, keep_offcuts=job.keep_offcuts
        ),
    )


def _made(work: Path, out: Path, make: Callable[[], object]) -> dict[str, str]:
    try:
        make()
    except InputError as error:
        return {"refused": str(error).replace(str(work), "")}
    folders = [folder for folder in (out, out.with_name(f"{out.name}-not-proven")) if folder.exists()]
    files = (path for folder in folders for path in sorted(folder.rglob("*")) if path.is_file())
    return {str(path.relative_to(out.parent)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def differences(before: Made, after: Made) -> Iterator[str]:
    """What differs, a line each."""
    for job in dict.fromkeys((*before, *after)):
        old, new = before.get(job), after.get(job)
        if old is None or new is None:
            yield f"{job}: {'not made before' if old is None else 'not made any more'}"
            continue
        for file in dict.fromkeys((*old, *new)):
            if old.get(file) != new.get(file):
                state = "is new" if file not in old else "is gone" if file not in new else "differs"
                yield f"{job}: {file} {state}"


def main() -> int:
    """Write the digests, or compare."""
    parser = argparse.ArgumentParser(prog="python -m tests.same_files")
    parser.add_argument("what", choices=["write", "compare"])
    parser.add_argument("file", type=Path)
    parser.add_argument("--jobs", type=int, default=100)
    asked = parser.parse_args()
    before: Made = json.loads(asked.file.read_text(encoding="utf-8")) if asked.what == "compare" else {}
    count = sum(job.startswith("random") for job in before) if before else asked.jobs
    after = made(count, lambda job: print(job, file=sys.stderr, flush=True))
    if asked.what == "write":
        asked.file.write_text(json.dumps(after, indent=1), encoding="utf-8")
        print(f"{len(after)} jobs, {sum(map(len, after.values()))} files: written to {asked.file}")
        return 0
    found = list(differences(before, after))
    for line in found:
        print(line)
    print(f"{len(after)} jobs: {len(found)} differences")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
