"""All figures that are aimed at, each beside what was measured: `python -m tests.benchmarks.table [PART ...]`.

Parts: quick (starts and changes), scale (1,000 and 4,000 different parts), pickets (boards at normal), cluster, and
strips (ours beside the library's; it needs `--instances FOLDER`). Without a name all but strips. It takes minutes, on a
quiet machine.
"""

from __future__ import annotations

import argparse
import statistics
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from cutjob.files.file_bytes import shipped_folder
from tests.benchmarks import cluster, pickets, quick, scale
from tests.benchmarks.instances import read_instances
from tests.benchmarks.library_strips import INSTALLED
from tests.benchmarks.nesting import lay_ours, lay_theirs

Row = tuple[str, str, str]
_MEAN, _LOWEST = 1.0, 0.985  # of our density to the library's


def _quick() -> Iterator[Row]:
    for row in quick.rows(shipped_folder("samples") / "porch-spinner.toml", change="16 1/2"):
        yield f"{row.what}, s", f"{row.seconds:.2f}", f"{row.wanted:g}"


def _strips(folder: Path, seconds: float) -> Iterator[Row]:
    """Each instance laid by both for the same time, one after the other."""
    if not INSTALLED:
        yield "strips beside the library", "not measured: the library is not installed", ""
        return
    ratios: dict[str, float] = {}
    for instance in read_instances(folder):
        ours = lay_ours(instance, gap=0.0, seconds=seconds, seed=0, executor=None)
        theirs = lay_theirs(instance, gap=0.0, seconds=seconds, seed=0)
        if ours.density is None or theirs.density is None:
            yield f"strip {instance.name}", f"not laid: {ours.wrong or theirs.wrong}", ""
        else:
            ratios[instance.name] = ours.density / theirs.density
    if not ratios:
        yield f"strips in {folder}", "none laid", ""
        return
    worst = min(ratios, key=lambda name: ratios[name])
    yield (
        f"strips, {seconds:g} s, mean ratio to the library",
        f"{statistics.fmean(ratios.values()):.4f}",
        f"{_MEAN:.2f}",
    )
    yield f"strips, {seconds:g} s, lowest ratio ({worst})", f"{ratios[worst]:.4f}", f"{_LOWEST}"


def main() -> None:
    """Print the rows of the parts that are named."""
    parts: dict[str, Callable[[], Iterable[Row]]] = {
        "quick": _quick,
        "scale": scale.rows,
        "pickets": pickets.rows,
        "cluster": cluster.rows,
    }
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("part", nargs="*", choices=[*parts, "strips"], default=[*parts])
    parser.add_argument("--instances", type=Path, help="folder of strips, for the part strips")
    parser.add_argument("--seconds", type=float, default=20.0, help="for each strip")
    given = parser.parse_args()
    if given.instances is not None:
        parts["strips"] = lambda: _strips(given.instances, given.seconds)
    print(f"{'what':<66}{'measured':<24}wanted")
    for name in given.part:
        if name not in parts:
            parser.error("strips need --instances FOLDER")
        for what, measured, wanted in parts[name]():
            print(f"{what:<66}{measured:<24}{wanted}", flush=True)


if __name__ == "__main__":
    main()
