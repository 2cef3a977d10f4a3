"""The job sheet on a phone, as a maker opens it: short, whole, nothing to be misread; and on paper all of it."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from cutjob.making import MakeResult
from tests.browser.chromium import PHONES, opened
from tests.reports.sheet.jobs import hostile, page, priced, sample, saw
from tests.reports.sheet.reading import read

_JOBS: dict[str, Callable[[], MakeResult]] = {
    "priced": priced,
    "spinner": lambda: sample("porch-spinner"),
    "rods": lambda: sample("porch-rods"),
    "saw": saw,
}
MOST_SCREENS = 8  # of the batch sample as it opens, as promised
# Words and figures that are spread over two lines, of all that is shown: lengths whole, with fraction and unit.
_BROKEN = r"""() => {
  const found = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const whole = [
    /\d+\s\d+\/\d+(\sin\b)?/, /\d[\d.\/]*\s(in|mm)\b/, /\d+-\u2060?\d+/, /[\w.\/]+/].map(one => one.source);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    if (!node.parentElement.checkVisibility() || node.parentElement.closest('svg, script')) { continue; }
    for (const one of node.data.matchAll(new RegExp(whole.join('|'), 'g'))) {
      const range = document.createRange();
      range.setStart(node, one.index); range.setEnd(node, one.index + one[0].length);
      const tops = new Set([...range.getClientRects()].map(box => Math.round(box.top)));
      if (tops.size > 1) { found.push(one[0]); }
    }
  }
  return found;
}"""
# Left and right of every line of a key, and how wide its sign is.
_KEYS = """[...document.querySelectorAll('.s-key:not(.s-parts) li')].map(one => {
  const box = one.getBoundingClientRect();
  return [box.left, box.right, one.querySelector('svg').getBoundingClientRect().width];
})"""


@pytest.fixture(params=_JOBS)
def sheet(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    return _written(_JOBS[request.param](), tmp_path)


def _written(result: MakeResult, folder: Path) -> Path:
    path = folder / "job-sheet.html"
    path.write_text(page(result), encoding="utf-8")
    return path


def test_no_figure_and_no_word_is_broken_and_every_key_is_whole(sheet: Path) -> None:
    """Pictures may pan; what their lines mean stands below them, within the page."""
    with opened(sheet, size="small") as (seen, _):
        seen.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        for width, height in PHONES.values():
            seen.set_viewport_size({"width": width, "height": height})
            assert seen.evaluate(_BROKEN) == []
            assert seen.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
            boxes = seen.evaluate(_KEYS)
            assert boxes
            assert all(0 <= left < right <= width and sign > 15 for left, right, sign in boxes)


def test_names_without_a_space_break_rather_than_push_the_page_aside(tmp_path: Path) -> None:
    long = page(hostile()).replace("ümlaut item", "umlaut" * 20)
    path = tmp_path / "job-sheet.html"
    path.write_text(long, encoding="utf-8")
    with opened(path, size="small") as (seen, _):
        assert seen.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0


def test_the_batch_opens_on_few_screens_with_all_that_warns(tmp_path: Path) -> None:
    result = sample("garden-batch")
    with opened(_written(result, tmp_path), size="phone") as (seen, _):
        assert seen.evaluate("document.documentElement.scrollHeight") / 844 <= MOST_SCREENS
        shown = " ".join(seen.inner_text("body").replace("\u2060", "").split())
        for text in (*result.plan["cautions"], *result.plan["warnings"]):
            assert " ".join(text.split()) in shown
        assert "Zero point" not in shown


def test_a_board_opens_by_a_tap_or_by_its_link(tmp_path: Path) -> None:
    with opened(_written(sample("garden-batch"), tmp_path), size="phone") as (seen, wrong):
        assert not seen.is_visible("#board-02 .s-stage")
        seen.click("nav a[href='#board-02']")
        seen.wait_for_selector("#board-02 .s-stage svg", state="visible")
        seen.wait_for_selector("#board-02 .s-controls:not([hidden])")
        assert seen.evaluate("document.querySelector('#board-02 canvas.s-swath').width") > 100
        assert not seen.is_visible("#board-03 .s-stage")
        seen.click("#board-03 summary")
        assert seen.is_visible("#board-03 .s-stage")
        assert [one for one in wrong if "#board-" not in one] == []


@pytest.mark.parametrize("script", [True, False])
def test_on_paper_every_section_is_open(script: bool, tmp_path: Path) -> None:
    pdftotext = shutil.which("pdftotext")
    if pdftotext is None:
        pytest.skip("poppler is not here")
    path = _written(sample("garden-batch"), tmp_path)
    with opened(path, script=script) as (seen, _):
        seen.pdf(path=str(tmp_path / "sheet.pdf"), format="A4")
        assert not seen.is_visible("#board-02 .s-stage")
    done = subprocess.run(
        [pdftotext, "-layout", tmp_path / "sheet.pdf", "-"], capture_output=True, check=True, timeout=60
    )
    printed = "".join(done.stdout.decode("utf-8").replace("\u2060", "").split())
    words = read(path.read_text(encoding="utf-8")).words()
    # Whatever stands on the page stands on paper, but for the player and the links of the screen.
    for text in ("Zero point", "Tool length", "Take parts out only with the spindle at rest", "free to turn", "knot"):
        assert text in words
        assert printed.count("".join(text.split())) >= words.count(text)
