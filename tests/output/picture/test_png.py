"""Boards' pictures as PNG: read with Pillow, and compared with what rsvg-convert draws from the same SVG."""

from __future__ import annotations

import io
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image, ImageChops

import cutjob.output.picture.png as png
from cutjob.errors import InputError
from cutjob.output.picture.picture import write_picture
from cutjob.output.picture.png import write_png
from tests.output.samples import layout

pytest.importorskip("resvg_py", reason="resvg-py, the extra that draws PNG, is not installed")

SAMPLE = Path(__file__).parents[3] / "samples" / "porch-spinner.svg"
# Share of a picture's pixels that two programs may draw more than a quarter of full light apart: their letters differ.
APART = 0.02


def picture(title: str = "Garden gate tags") -> bytes:
    return write_picture(layout(), program=None, units="in", title=title)


def opened(data: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(data))
    image.load()
    return image.convert("RGB")


def test_true_proportions_on_white() -> None:
    svg = SAMPLE.read_bytes()
    root = ElementTree.fromstring(svg)
    image = opened(write_png(svg))
    width, height = (float(root.attrib[side]) for side in ("width", "height"))
    assert image.size == pytest.approx((2 * width, 2 * height), abs=1)  # two pixels for one, to whole pixels
    _, _, across, high = map(float, root.attrib["viewBox"].split())
    assert image.width / image.height == pytest.approx(across / high, rel=1 / image.height)
    assert image.getpixel((2, 2)) == (255, 255, 255)


def test_the_board_has_its_place_and_size() -> None:
    """The frame of the board, found by its pixels: 6 ft by 5 1/2 in, within two pixels."""
    shown = replace(layout(), placements=())
    svg = write_picture(shown, program=None, units="in", title="")
    root = ElementTree.fromstring(svg)
    scale = 2 * float(root.attrib["width"]) / float(root.attrib["viewBox"].split()[2])
    dark = np.asarray(opened(write_png(svg)).convert("L")) < 100
    edges = np.flatnonzero(dark.sum(axis=1) > 0.8 * shown.board.length * scale)  # the long ones
    assert edges[-1] - edges[0] == pytest.approx(shown.board.width * scale, abs=4)
    ends = np.flatnonzero(dark[edges[0] : edges[-1]].sum(axis=0) > 0.3 * shown.board.width * scale)
    assert ends[-1] - ends[0] == pytest.approx(shown.board.length * scale, abs=4)


def test_as_another_program_draws_it(tmp_path: Path) -> None:
    convert = shutil.which("rsvg-convert")
    if convert is None:
        pytest.skip("librsvg's rsvg-convert is not here to compare with")
    ours = opened(write_png(SAMPLE.read_bytes()))
    size = ["-w", str(ours.width), "-h", str(ours.height)]
    subprocess.run([convert, *size, SAMPLE, "-o", tmp_path / "other.png"], check=True, timeout=60)
    theirs = opened((tmp_path / "other.png").read_bytes())
    apart = np.asarray(ImageChops.difference(ours.convert("L"), theirs.convert("L"))) > 64
    assert apart.mean() < APART
    # A picture drawn 1 % larger is told apart, so the limit is one.
    wrong = ours.resize((round(ours.width * 1.01), round(ours.height * 1.01))).crop((0, 0, *ours.size))
    moved = np.asarray(ImageChops.difference(wrong.convert("L"), theirs.convert("L"))) > 64
    assert moved.mean() > APART


def test_same_bytes_again_and_letters_of_any_tongue() -> None:
    assert write_png(picture()) == write_png(picture())
    images = [opened(write_png(picture(title))) for title in ("", "Ворота", "Πύλη ü é ß")]
    heads = [np.asarray(image.convert("L"))[: image.height // 9] < 100 for image in images]
    ends = [np.flatnonzero(head.any(axis=0))[-1] for head in heads]
    letters = [int(head[:, : end - ends[0]].sum()) for head, end in zip(heads, ends, strict=True)]
    assert ends[1] > ends[0] + 100
    assert ends[2] > ends[0] + 150
    assert min(letters[1:]) > 400  # what stands before the board's name is drawn, not left blank


def test_a_picture_too_large_gets_fewer_pixels(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(png, "_MOST_PIXELS", 10_000)
    image = opened(write_png(SAMPLE.read_bytes()))
    assert image.width * image.height == pytest.approx(10_000, rel=0.05)


def test_without_the_extra_it_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(png, "find_spec", lambda _: None)
    with pytest.raises(InputError) as refused:
        write_png(picture())
    assert 'pip install "cutjob[png]"' in str(refused.value.problems[0])
