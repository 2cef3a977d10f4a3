"""Pictures of the designs: each at its sizes, side by side at one scale, seen from the front; to SVG.

Run: python -m cutjob.output.picture.gallery FOLDER
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from xml.etree import ElementTree

from cutjob.designs.catalogue import CATALOGUE
from cutjob.designs.design import Design
from cutjob.designs.evaluate import evaluate
from cutjob.job.model import Make
from cutjob.output.picture.finished import front_drawing, item_size, svg_of
from cutjob.parts.part import Build
from cutjob.units import format_length, to_tape

_SPACE = 0.08  # between two sizes, of the widest
_BOARD = 25.4 * 5 / 8  # thickness the pictures are drawn for, mm
_LINE = 0.003  # width of a line, of the largest view's longer side
_TEXT, _LETTER, _LINES = 0.035, 0.6, 3.2  # height of letters, of the same; a letter's width and the room for two lines
_SVG = "http://www.w3.org/2000/svg"


def design_picture(design: Design) -> str:
    """Return a design at all its sizes, on one floor and at one scale, each with its name and measures, as SVG. Raises
    InputError if it needs data that only a job has.
    """
    builds = [_build(design, size) for size in design.sizes]
    extents = [max(_box(_view(design, size, build, None))) for size, build in zip(design.sizes, builds, strict=True)]
    line = _LINE * max(extents)
    views = [_view(design, size, build, line) for size, build in zip(design.sizes, builds, strict=True)]
    labels = [(size, _measures(build)) for size, build in zip(design.sizes, builds, strict=True)]
    boxes = [_box(view) for view in views]
    height = max(high for _, high in boxes)
    text = _TEXT * max(height, max(wide for wide, _ in boxes))
    slots = [max(wide, _LETTER * text * max(map(len, label))) for (wide, _), label in zip(boxes, labels, strict=True)]
    space = _SPACE * max(slots)
    size = sum(slots) + space * (len(slots) - 1), height + _LINES * text
    ElementTree.register_namespace("", _SVG)
    whole = ElementTree.Element(f"{{{_SVG}}}svg", {"viewBox": f"0 0 {size[0]:.3f} {size[1]:.3f}", "role": "img"})
    ElementTree.SubElement(whole, f"{{{_SVG}}}title").text = f"{design.name}: {', '.join(design.sizes)}"
    ElementTree.SubElement(whole, f"{{{_SVG}}}rect", {"width": "100%", "height": "100%", "fill": "#ffffff"})
    at = 0.0
    for view, (wide, high), slot, label in zip(views, boxes, slots, labels, strict=True):
        view.attrib |= {
            "x": f"{at + (slot - wide) / 2:.3f}",
            "y": f"{height - high:.3f}",
            "width": f"{wide:.3f}",
            "height": f"{high:.3f}",
        }
        whole.append(view)
        for place, words in enumerate(label, start=1):
            look = {"font-size": f"{text:.3f}", "font-family": "sans-serif", "text-anchor": "middle", "fill": "#222222"}
            where = {"x": f"{at + slot / 2:.3f}", "y": f"{height + (1.25 * place + 0.25) * text:.3f}"}
            ElementTree.SubElement(whole, f"{{{_SVG}}}text", where | look).text = words
        at += slot + space
    return ElementTree.tostring(whole, encoding="unicode")


def write_gallery(folder: Path) -> tuple[Path, ...]:
    """Write a picture of every design that can be built without the user's own files; return the files."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for design in CATALOGUE.values():
        if any(parameter.required for parameter in design.parameters):
            continue
        path = folder / f"{design.name}.svg"
        path.write_text(design_picture(design), encoding="utf-8")
        written.append(path)
    return tuple(written)


def _build(design: Design, size: str) -> Build:
    item = evaluate(
        Make(name=design.name, design=design.name, size=size),
        unit="in",
        location=None,
        key_locations={},
        folder=Path(),
        thickness=_BOARD,
        designs={design.name: design},
    )
    return item.build


def _view(design: Design, size: str, build: Build, line: float | None) -> ElementTree.Element:
    drawing = front_drawing(build)
    assert drawing is not None, design.name
    return ElementTree.fromstring(svg_of(drawing, title=f"{design.name}, {size}", line=line))


def _box(view: ElementTree.Element) -> tuple[float, float]:
    _, _, wide, high = (float(word) for word in view.get("viewBox", "0 0 1 1").split())
    return wide, high


def _measures(build: Build) -> str:
    """The width and height of the standing item, or of its one part."""
    size = item_size(build)
    if size is None:
        x0, y0, x1, y1 = build.shaped[0].region.bounds
        size = x1 - x0, y1 - y0
    wide, high = (format_length(to_tape(value, "in"), unit="in") for value in size)
    return f"{wide} wide, {high} high" if build.stands else f"{wide} x {high}"


def main(arguments: Sequence[str]) -> None:
    """Write the pictures to the folder named."""
    write_gallery(Path(arguments[0] if arguments else "."))


if __name__ == "__main__":
    main(sys.argv[1:])
