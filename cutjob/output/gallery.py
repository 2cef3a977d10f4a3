"""Pictures of the designs: each at its sizes, side by side at one scale, seen from the front; to SVG.

Run: python -m cutjob.output.gallery FOLDER
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
from cutjob.output.job_sheet.finished import front_view

_SPACE = 0.08  # between two sizes, of the widest
_BOARD = 25.4 * 5 / 8  # thickness the pictures are drawn for, mm
_SVG = "http://www.w3.org/2000/svg"


def design_picture(design: Design) -> str:
    """Return a design at all its sizes, on one floor and at one scale, as SVG. Raises InputError where it needs what
    only a job has.
    """
    views = [_view(design, size) for size in design.sizes]
    boxes = [[float(word) for word in view.get("viewBox", "0 0 1 1").split()] for view in views]
    space = _SPACE * max(box[2] for box in boxes)
    width = sum(box[2] for box in boxes) + space * (len(boxes) - 1)
    height = max(box[3] for box in boxes)
    ElementTree.register_namespace("", _SVG)
    whole = ElementTree.Element(f"{{{_SVG}}}svg", {"viewBox": f"0 0 {width:.3f} {height:.3f}", "role": "img"})
    ElementTree.SubElement(whole, f"{{{_SVG}}}title").text = f"{design.name}: {', '.join(design.sizes)}"
    at = 0.0
    for view, box in zip(views, boxes, strict=True):
        view.attrib |= {
            "x": f"{at:.3f}",
            "y": f"{height - box[3]:.3f}",
            "width": f"{box[2]:.3f}",
            "height": f"{box[3]:.3f}",
        }
        whole.append(view)
        at += box[2] + space
    return ElementTree.tostring(whole, encoding="unicode")


def write_gallery(folder: Path) -> tuple[Path, ...]:
    """Write a picture of every design that can be built without files of the user's own; return the files."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for design in CATALOGUE.values():
        if any(parameter.required for parameter in design.parameters):
            continue
        path = folder / f"{design.name}.svg"
        path.write_text(design_picture(design), encoding="utf-8")
        written.append(path)
    return tuple(written)


def _view(design: Design, size: str) -> ElementTree.Element:
    item = evaluate(
        Make(name=design.name, design=design.name, size=size),
        unit="in",
        location=None,
        key_locations={},
        folder=Path(),
        thickness=_BOARD,
        designs={design.name: design},
    )
    drawn = front_view(item.build, title=f"{design.name}, {size}")
    assert drawn is not None, design.name
    return ElementTree.fromstring(drawn)


def main(arguments: Sequence[str]) -> None:
    """Write the pictures to the folder named."""
    write_gallery(Path(arguments[0] if arguments else "."))


if __name__ == "__main__":
    main(sys.argv[1:])
