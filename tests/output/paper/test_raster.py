"""Pages rasterised at 600 dpi by poppler and measured as a ruler would: true to 0.1 mm."""

import shutil
import subprocess

import numpy as np
import pytest

from cutjob.job.paper import papers
from cutjob.output.paper.book import BARS
from cutjob.output.paper.packing import INSET, tiling
from cutjob.output.paper.picture import LOOKS
from tests.output.paper.samples import book_of, disc, item, plank

DPI = 600
PIXEL = 25.4 / DPI
TRUE = 0.1  # mm, what is asked for; a pixel is 0.042 mm
LINE = LOOKS["outline"].width
A4 = tiling(papers()["A4"])

pytestmark = pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler's pdftoppm is not installed")


def grey(data, folder, page):
    """A page in grey, row 0 at the bottom: 0 is black, 255 white."""
    file, out = folder / "patterns.pdf", folder / f"page-{page}"
    file.write_bytes(data)
    numbers = ["-f", str(page), "-l", str(page)]
    command = ["pdftoppm", "-r", str(DPI), *numbers, "-gray", "-singlefile", str(file), str(out)]
    subprocess.run(command, check=True, timeout=120)
    raw = out.with_suffix(".pgm").read_bytes()
    kind, size, most, dots = raw.split(b"\n", 3)
    assert (kind, most) == (b"P5", b"255")
    width, height = map(int, size.split())
    return np.frombuffer(dots, dtype=np.uint8).reshape(height, width)[::-1]


def dark(image):
    """Blue and black lines, printed in grey; not the light frame."""
    return image < 128


def band(image, x0, y0, x1, y1):
    return image[round(y0 / PIXEL) : round(y1 / PIXEL), round(x0 / PIXEL) : round(x1 / PIXEL)]


def extent(dots, axis):
    """From the outer side of the first dark dot to that of the last, mm."""
    places = np.flatnonzero(dots.any(axis=1 - axis))
    return (places[-1] + 1 - places[0]) * PIXEL


def first(dots, axis):
    return np.flatnonzero(dots.any(axis=1 - axis))[0] * PIXEL


def longest_run(row):
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return int((edges[1::2] - edges[::2]).max()) if edges.size else 0


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_bars_and_a_disc_measure_what_they_say(tmp_path, paper):
    layout = tiling(papers()[paper])
    image = dark(grey(book_of([item(disc(150.0, bore=0.0))], paper=paper), tmp_path, 2))
    size = image.shape[1] * PIXEL, image.shape[0] * PIXEL
    assert size == pytest.approx((papers()[paper].width, papers()[paper].height), abs=TRUE)
    # Of each row of dots the longest run that is dark: the two bars, with half a line's width at both ends.
    lengths = {longest_run(row) * PIXEL for row in band(image, 0, 0, 150, 25)}
    for length, _, _ in BARS:
        assert any(abs(found - length - 0.2) <= TRUE for found in lengths)
    # Beside the centre lines, which reach farther; there the disc is 0.01 mm narrower.
    x, y = (corner + INSET for corner in layout.corner)
    across = band(image, x - 1, y + 75.8, x + 160, y + 79)
    upright = band(image, x + 75.8, y - 1, x + 79, y + 160)
    assert extent(across, 1) - LINE == pytest.approx(150.0, abs=TRUE)
    assert extent(upright, 0) - LINE == pytest.approx(150.0, abs=TRUE)


def test_glued_pages_measure_what_the_part_measures_and_crosses_meet(tmp_path):
    """A plank over two pages: laid on each other at the seam, it is as long as the part."""
    data = book_of([item(plank(420.0, 50.0, grain="none"))], paper="A4")
    upper, lower = (dark(grey(data, tmp_path, page)) for page in (2, 3))
    x, y = A4.corner
    part, beside_centre = (x + 1, x + 54), (x + 5, x + 20)
    top = first(band(upper, beside_centre[0], y + 8, beside_centre[1], y + A4.window[1] - 1)[::-1], 0)
    bottom = first(band(lower, beside_centre[0], y + 1, beside_centre[1], y + 100), 0)
    # Seen from the sheet: the upper page lies one step higher.
    length = (A4.step[1] + A4.window[1] - 1 - top) - (1 + bottom)
    assert length - LINE == pytest.approx(420.0, abs=TRUE)
    # In the strip that both show, the long edges are in the same places.
    shown = [
        band(page, part[0], y + low + 7, part[1], y + low + 10) for page, low in ((upper, 0.0), (lower, A4.step[1]))
    ]
    assert extent(shown[0], 1) - LINE == pytest.approx(50.0, abs=TRUE)
    assert first(shown[0], 1) == pytest.approx(first(shown[1], 1), abs=TRUE)
    # The crosses on the seam: the column and the row with most dark dots.
    middle = x + 0.8 * A4.window[0]
    for page, seam in ((upper, y), (lower, y + A4.step[1])):
        cross = band(page, middle - 4, seam - 4, middle + 4, seam + 4)
        assert cross.sum(axis=0).argmax() * PIXEL == pytest.approx(4.0, abs=TRUE)


def test_every_line_is_legible_printed_in_grey():
    # Luma of ITU-R BT.601, white 255; and no two kinds of line that lie beside each other look the same.
    for style in ("outline", "opening", "hole", "pocket", "mark", "centre", "fold", "grain", "bore"):
        assert np.dot(LOOKS[style].stroke, [0.299, 0.587, 0.114]) < 170, style
    ways = [LOOKS[style].dashes for style in ("outline", "pocket", "mark", "centre", "fold", "bore")]
    assert len(set(ways)) == len(ways)
