"""A board's picture as PNG, for places that show no SVG: the same picture, in true proportions.

resvg draws it with faces that come with Python packages, never the system's, so that the same picture gives the same
bytes. resvg is an extra: `pip install "cutjob[png]"`.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import as_file, files
from importlib.util import find_spec
from pathlib import Path
from xml.etree import ElementTree

from cutjob.errors import InputError, Problem

# Pixels for one of the SVG's: letters are then 28 pixels high, and a board is sharp on A4 at 300 dots per inch.
_PIXELS = 2.0
# A picture with thousands of parts in its key gets fewer pixels: most programs would not open more.
_MOST_PIXELS = 40_000_000
# The first face that has a letter draws it; only the first family has a bold face.
_FAMILY = "Bitstream Vera Sans"


def check_png() -> None:
    """Raise InputError where the package that draws PNG is not installed."""
    if find_spec("resvg_py") is None:
        raise InputError(
            [
                Problem(
                    place="--png",
                    message="pictures as PNG need the package resvg-py, which is not installed",
                    advice='install it with pip install "cutjob[png]", or leave --png out for pictures as SVG',
                )
            ]
        )


def write_png(svg: bytes) -> bytes:
    """Return an SVG picture, UTF-8 with a width and a height, as PNG on white. Raises InputError as `check_png`."""
    check_png()
    import resvg_py

    root = ElementTree.fromstring(svg)
    width, height = float(root.attrib["width"]), float(root.attrib["height"])
    zoom = min(_PIXELS, (_MOST_PIXELS / (width * height)) ** 0.5)
    drawn = resvg_py.svg_to_bytes(
        svg_string=svg.decode("utf-8"),
        width=max(1, round(width * zoom)),
        height=max(1, round(height * zoom)),
        background="#ffffff",
        skip_system_fonts=True,
        font_files=list(_faces()),
        font_family=_FAMILY,
        sans_serif_family=_FAMILY,
    )
    return bytes(drawn)


@cache
def _faces() -> tuple[str, ...]:
    """The paths of the faces: a regular and a bold one, and one with the letters these lack."""
    near = Path(str(files("reportlab").joinpath("fonts")))
    with as_file(files("cutjob.output.paper").joinpath("fonts").joinpath("DejaVuSans.ttf")) as wide:
        return (str(near / "Vera.ttf"), str(near / "VeraBd.ttf"), str(wide))
