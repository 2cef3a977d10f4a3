"""The machine profiles and samples that come with cutjob: in an installed package, or beside it in a checkout."""

from __future__ import annotations

import importlib.resources
from pathlib import Path
from typing import Literal

Kind = Literal["machines", "samples"]


def shipped_folder(kind: Kind) -> Path:
    """Return the folder of shipped profiles or samples."""
    package = Path(str(importlib.resources.files("cutjob")))
    installed = package / "shipped" / kind
    return installed if installed.is_dir() else package.parent / kind


def shipped_files(kind: Kind) -> dict[str, Path]:
    """Return the shipped TOML files by name without ending, sorted by name.

    Names are looked up in this mapping, never opened by guess, so that letter case counts on every system alike.
    """
    folder = shipped_folder(kind)
    if not folder.is_dir():
        return {}
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}
