"""Where a run whose proof failed puts its pictures: a folder beside the output folder, without any cutting file.

The output folder itself stays as it was. The next run replaces the pictures, or removes them when its proof passes.
"""

from __future__ import annotations

import contextlib
import json
import shutil
from collections.abc import Mapping
from pathlib import Path

from cutjob.output.folder import replace_folder

_PLAN = "plan.json"


def refused_folder(folder: Path) -> Path:
    """Return the place of the pictures of a run that was to fill `folder`: beside it, `-not-proven` after its name."""
    place = folder.resolve()
    return place.with_name(f"{place.name}-not-proven") if place.name else place / "not-proven"


def write_refused(folder: Path, files: Mapping[str, bytes]) -> Path:
    """Write pictures and the plan of a run that was to fill `folder` beside it, and return where.

    Raises InputError where `replace_folder` does.
    """
    place = refused_folder(folder)
    replace_folder(place, files)
    return place


def remove_refused(folder: Path) -> None:
    """Remove what `write_refused` left for `folder`, if it holds nothing else. What can't be removed stays."""
    place = refused_folder(folder)
    with contextlib.suppress(OSError):
        if place.is_dir() and not place.is_symlink() and _only_refused(place):
            shutil.rmtree(place)


def _only_refused(place: Path) -> bool:
    """Whether a folder holds a plan that was not proven, and nothing but the files it names."""
    try:
        plan = json.loads((place / _PLAN).read_bytes())
        named = {_PLAN, *plan["files"]}
        refused = plan["proof"]["passed"] is False and str(plan["schema"]).startswith("cutjob-plan/")
    except (OSError, ValueError, RecursionError, KeyError, TypeError):
        return False
    return refused and all(found.name in named and found.is_file() for found in place.iterdir())
