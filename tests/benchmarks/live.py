"""How soon the live sheet follows, as seen in the browser: `python -m tests.benchmarks.live [SAMPLE ...]`.

For each sample, medians and nine-tenths of N changes: from a dragged value to the finished piece's picture, and from a
typed value to a first layout with boards, time and costs, and to the proof.
"""

from __future__ import annotations

import argparse
import json
import shutil
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from cutjob.files.file_bytes import shipped_folder
from tests.browser.chromium import page_at
from tests.live.serving import served

# A length of each sample that may be a little longer: its place in the file, and values in the job's unit.
LENGTHS: dict[str, tuple[list[str | int], list[str]]] = {
    "porch-spinner": (["make", 0, "with", "longest"], [f"15 {n}/16" for n in range(1, 16)]),
    "garden-batch": (["make", 0, "with", "longest"], [str(240 + n) for n in range(15)]),
    "tide-fan": (["make", 0, "with", "shortest"], [f"3 {n}/16" for n in range(1, 16)]),
}


# Notes when the sheet first shows a plan of a version, and when that is proven.
_NOTING = """() => {
  window.noted = {};
  new MutationObserver(() => {
    const sheet = document.getElementById('sheet').dataset;
    window.noted[`planned ${sheet.planned}`] ??= performance.now();
    if (sheet.state === 'proven') { window.noted[`proven ${sheet.version}`] ??= performance.now(); }
  }).observe(document.getElementById('sheet'), {attributes: true});
}"""


def _quantiles(values: list[float]) -> str:
    ordered = sorted(values)
    most = ordered[int(0.9 * (len(ordered) - 1))]
    return f"median {statistics.median(ordered):6.0f} ms, nine in ten within {most:6.0f} ms"


def _followed(page: Any, path: str, changes: int) -> list[float]:
    """ms from each of so many moves of a value to the picture."""
    grip = page.locator(f"[data-grip='{path}']")
    grip.scroll_into_view_if_needed()
    box = grip.bounding_box()
    x, y = box["x"] + 10, box["y"] + 10
    page.mouse.move(x, y)
    page.mouse.down()
    found = []
    for number in range(changes):
        page.evaluate("document.getElementById('sheet').dataset.followed = ''")
        page.mouse.move(x - 6 - 4 * (number % 6), y + number % 2)
        page.wait_for_selector("#sheet:not([data-followed=''])", timeout=60_000)
        found.append(float(page.locator("#sheet").get_attribute("data-followed")))
        time.sleep(0.1)
    page.keyboard.press("Escape")
    page.mouse.up()
    return found


def _planned(page: Any, path: str, values: list[str], changes: int) -> tuple[list[float], list[float]]:
    """ms from each of so many typed values to the first plan, and to the proof."""
    first, proven = [], []
    page.evaluate(_NOTING)  # in the page: a look from outside comes late
    field = page.locator(f"[data-path='{path}']")
    for number in range(changes):
        version = int(page.locator("#sheet").get_attribute("data-version")) + 1
        field.fill(values[number % len(values)])
        page.evaluate("window.noted = {start: performance.now()}")
        field.press("Enter")
        page.wait_for_selector(f"#sheet[data-version='{version}'][data-state=proven]", timeout=120_000)
        noted = page.evaluate("window.noted")
        first.append(noted[f"planned {version}"] - noted["start"])
        proven.append(noted[f"proven {version}"] - noted["start"])
    return first, proven


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("samples", nargs="*", default=list(LENGTHS))
    parser.add_argument("--changes", type=int, default=30)
    asked = parser.parse_args()
    for name in asked.samples:
        keys, values = LENGTHS[name]
        path = json.dumps(keys, separators=(",", ":"))
        with tempfile.TemporaryDirectory() as folder:
            shutil.copytree(shipped_folder("samples"), folder, dirs_exist_ok=True)
            with served(Path(folder) / f"{name}.toml", folder=Path(folder)) as server, page_at(server.address) as seen:
                page = seen[0]
                page.wait_for_selector("#sheet[data-state=proven]", timeout=240_000)
                time.sleep(1)
                print(f"{name}: a dragged value to the piece:   {_quantiles(_followed(page, path, asked.changes))}")
                first, proven = _planned(page, path, values, asked.changes)
                print(f"{name}: a typed value to a first layout: {_quantiles(first)}")
                print(f"{name}: a typed value to the proof:      {_quantiles(proven)}", flush=True)


if __name__ == "__main__":
    main()
