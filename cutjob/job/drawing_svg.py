"""An SVG file to the shapes drawn in it: groups and uses put in their places, the y axis turned up, mm."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from xml.parsers import expat

from cutjob.errors import CutjobError
from cutjob.geometry.affine import Affine
from cutjob.geometry.segment import Line, Point
from cutjob.job.drawing import DEEPEST, Findings, Shape, Units
from cutjob.job.svg_frame import MM_PER_PX, Viewport, fitted_view, has_unit, length, numbers, transform
from cutjob.job.svg_path import Pen, Subpath, read_path
from cutjob.job.svg_xml import EntityError, Node, Styles, all_nodes, parse_xml
from cutjob.tolerances import TOLERANCES

# What draws nothing where it stands (SVG 2, 5.1 and 5.6): looked at only through a use, or never.
_SILENT = frozenset(
    (
        *("defs", "symbol", "clipPath", "mask", "pattern", "marker", "filter", "linearGradient", "radialGradient"),
        *("style", "title", "desc", "metadata", "view", "cursor", "font", "color-profile"),
    )
)
_GROUPS = frozenset(("g", "a", "switch"))
_GEOMETRY = frozenset(("x", "y", "width", "height", "r", "rx", "ry", "cx", "cy"))
_CUT_DOWN = ("clip-path", "mask")


def read_svg(path: Path, *, units: Units | None) -> Findings:
    """Return the shapes of an SVG file in mm, and its problems. `units`, when given, is what one user unit means."""
    found = Findings(file=str(path))
    try:
        root = parse_xml(path.read_bytes())
    except EntityError:
        found.problem("defines entities of its own, which are not read", "export it again as plain SVG")
        return found
    except expat.ExpatError as error:
        words = expat.ErrorString(error.code)
        found.problem(f"is damaged or no SVG file: {words}", "export it again as plain SVG", line=error.lineno)
        return found
    except (OSError, ValueError, LookupError) as error:
        found.problem(f"can't be read: {error}", "export it again as plain SVG")
        return found
    if root.name != "svg":
        found.problem(f"is XML, but its outermost element is {root.name[:40]!r}", "export it as SVG")
        return found
    try:
        page = _page(root, units, found)
    except (ValueError, ArithmeticError) as error:
        found.problem(str(error), "mend the size of the page", place="svg", line=root.line)
        return found
    if page is not None:
        walk = _Walk(root, found)
        walk.children(root, page)
    return found


@dataclass(frozen=True, slots=True)
class _Place:
    matrix: Affine
    port: Viewport
    layer: str
    hidden: bool
    uses: tuple[str, ...]
    depth: int


def _page(root: Node, units: Units | None, found: Findings) -> _Place | None:
    """Return the frame of the outermost element: user units to mm, y up, origin at the page's lower left."""
    attributes = root.attributes
    box = numbers(attributes["viewBox"]) if "viewBox" in attributes else None
    if box is not None and (len(box) != 4 or not (box[2] > 0 and box[3] > 0)):
        raise ValueError("viewBox needs four numbers, the last two positive")
    width, height = attributes.get("width"), attributes.get("height")
    if units is not None:
        size = 25.4 if units == "in" else 1.0
        x, y, w, h = box or [0.0, 0.0, _plain(width), _plain(height)]
        matrix = Affine(size, 0.0, 0.0, -size, -x * size, (y + h) * size)
        port = Viewport(w, h)
        found.set_units(units, size, _inverse(matrix))
    else:
        if not (has_unit(width) or has_unit(height)):
            found.problem(
                "does not say how large it is: width and height have no unit",
                'give the page a size such as width="200mm", or state units = "in" or units = "mm" with the drawing',
                line=root.line,
            )
            return None
        port = _port(width, height, box)
        if not (port.width > 0 and port.height > 0):
            raise ValueError("the page has no size")
        view = fitted_view(box, port, attributes.get("preserveAspectRatio", "")) if box else Affine()
        matrix = Affine(MM_PER_PX, 0.0, 0.0, -MM_PER_PX, 0.0, port.height * MM_PER_PX) @ view
        port = Viewport(box[2], box[3]) if box else port
        found.set_units("units" if box else "px", math.sqrt(abs(matrix.a * matrix.d)), _inverse(matrix))
    if attributes.get("transform"):
        matrix = matrix @ transform(attributes["transform"])
    return _Place(matrix, port, "drawing", False, (), 0)


def _plain(text: str | None) -> float:
    return length(text, whole=0.0) if text else 0.0


def _port(width: str | None, height: str | None, box: list[float] | None) -> Viewport:
    """Return the page in px; a side without a size of its own follows from the viewBox."""
    ratio = box[3] / box[2] if box else 1.0
    wide = length(width, whole=0.0) if width else 0.0
    high = length(height, whole=0.0) if height else 0.0
    return Viewport(wide or high / ratio, high or wide * ratio)


def _inverse(matrix: Affine) -> Affine:
    return Affine(1 / matrix.a, 0.0, 0.0, 1 / matrix.d, -matrix.e / matrix.a, -matrix.f / matrix.d)


class _Walk:
    def __init__(self, root: Node, found: Findings) -> None:
        self.found = found
        self.styles = Styles()
        self.by_id: dict[str, Node] = {}
        for node in all_nodes(root):
            if node.name == "style":
                self.styles.read(node.text)
            if "id" in node.attributes:
                self.by_id.setdefault(node.attributes["id"], node)

    def children(self, node: Node, place: _Place) -> None:
        for child in node.children:
            if not self.found.visit():
                return
            self.element(child, place)

    def element(self, node: Node, place: _Place) -> None:
        if node.name in _SILENT or node.name.startswith("{"):
            return
        words = _words(node)
        if place.depth >= DEEPEST:
            self.found.problem(
                f"lies in more than {DEEPEST} groups", "ungroup the drawing", place=words, line=node.line
            )
            return
        style = self.styles.of(node)
        if style.get("display", node.attributes.get("display", "")) == "none":
            self.found.ignored[f"{node.name} that is not displayed"] += 1
            return
        visibility = style.get("visibility", node.attributes.get("visibility", "inherit"))
        hidden = place.hidden if visibility == "inherit" else visibility in ("hidden", "collapse")
        try:
            self.placed(node, style, replace(place, hidden=hidden, depth=place.depth + 1))
        except CutjobError as error:
            for problem in error.problems:
                self.found.problem(problem.message, problem.advice, place=words, line=node.line)
        except (ValueError, ArithmeticError) as error:
            self.found.problem(str(error), "draw it again", place=words, line=node.line)

    def placed(self, node: Node, style: dict[str, str], place: _Place) -> None:
        if style.get("transform", "none") != "none":
            raise ValueError("is moved by a style, which is not read; write it as a transform attribute")
        for name in _CUT_DOWN:
            if style.get(name, node.attributes.get(name, "none")) != "none":
                self.found.ignored[f"{name} of a {node.name}"] += 1
        if node.attributes.get("transform"):
            place = replace(place, matrix=place.matrix @ transform(node.attributes["transform"]))
        attributes = {**node.attributes, **{k: v for k, v in style.items() if k in _GEOMETRY}}
        if node.name in _GROUPS:
            self.children(node, replace(place, layer=_layer(node) or place.layer))
        elif node.name == "svg":
            self.children(node, _nested(attributes, place))
        elif node.name == "use":
            self.use(node, attributes, place)
        elif node.name in _SHAPES:
            if place.hidden:
                self.found.ignored[f"{node.name} that is hidden"] += 1
            else:
                self.shape(node, attributes, place)
        else:
            self.found.ignored[node.name[:40]] += 1

    def use(self, node: Node, attributes: dict[str, str], place: _Place) -> None:
        link = attributes.get("href", "").strip()
        target = self.by_id.get(link[1:])
        if not link.startswith("#") or target is None:
            raise ValueError(f"uses {link[:60]!r}, which is not in this file")
        if link[1:] in place.uses or target is node:
            raise ValueError(f"uses {link[:60]!r}, which contains itself")
        x, y = (length(attributes.get(k, "0"), whole=w) for k, w in (("x", place.port.width), ("y", place.port.height)))
        place = replace(place, matrix=place.matrix @ Affine(e=x, f=y), uses=(*place.uses, link[1:]))
        if target.name in ("symbol", "svg"):
            size = {k: v for k, v in attributes.items() if k in ("width", "height")}
            inner = _nested({**target.attributes, **size}, replace(place, layer=_layer(target) or place.layer))
            self.children(target, inner)
        else:
            self.element(target, place)

    def shape(self, node: Node, attributes: dict[str, str], place: _Place) -> None:
        for subpath in _SHAPES[node.name](attributes, place):
            self.found.add(
                Shape(
                    layer=place.layer,
                    segments=tuple(subpath.segments),
                    closed=subpath.closed,
                    deviation=0.0 if subpath.exact else TOLERANCES.curve,
                    place=_words(node),
                    line=node.line,
                )
            )


def _words(node: Node) -> str:
    return f'{node.name[:40]} "{node.attributes["id"][:60]}"' if "id" in node.attributes else node.name[:40]


def _layer(node: Node) -> str:
    for child in node.children:
        if child.name == "title" and child.text.strip():
            return child.text.strip()[:60]
    return node.attributes.get("id", "")[:60]


def _nested(attributes: dict[str, str], place: _Place) -> _Place:
    """Return the frame within an svg or a symbol that stands inside the drawing."""
    port = place.port
    x, y = length(attributes.get("x", "0"), whole=port.width), length(attributes.get("y", "0"), whole=port.height)
    inner = Viewport(
        length(_sized(attributes, "width"), whole=port.width),
        length(_sized(attributes, "height"), whole=port.height),
    )
    matrix = place.matrix @ Affine(e=x, f=y)
    if "viewBox" in attributes:
        box = numbers(attributes["viewBox"])
        matrix = matrix @ fitted_view(box, inner, attributes.get("preserveAspectRatio", ""))
        inner = Viewport(box[2], box[3])
    return replace(place, matrix=matrix, port=inner)


def _sized(attributes: dict[str, str], name: str) -> str:
    value = attributes.get(name, "100%")
    return "100%" if value == "auto" else value


def _read_path(attributes: dict[str, str], place: _Place) -> list[Subpath]:
    return read_path(attributes.get("d", ""), place.matrix)


def _read_rect(attributes: dict[str, str], place: _Place) -> list[Subpath]:
    wide, high = place.port.width, place.port.height
    x, y = length(attributes.get("x", "0"), whole=wide), length(attributes.get("y", "0"), whole=high)
    w, h = length(attributes.get("width", "0"), whole=wide), length(attributes.get("height", "0"), whole=high)
    if w < 0 or h < 0:
        raise ValueError("has a negative width or height")
    if w == 0 or h == 0:
        return []
    rx, ry = _corner(attributes, "rx", wide), _corner(attributes, "ry", high)
    rx, ry = ry if rx is None else rx, rx if ry is None else ry
    rx, ry = min(rx or 0.0, w / 2), min(ry or 0.0, h / 2)
    if not rx or not ry:
        rx = ry = 0.0
    pen, path = Pen(place.matrix), Subpath(closed=True)
    path.exact = not rx or pen.is_exact((rx, 0.0), (0.0, ry))
    # The corners in the order drawn; each runs from its first point to its second.
    corners = [
        ((x + w - rx, y), (x + w, y + ry)),
        ((x + w, y + h - ry), (x + w - rx, y + h)),
        ((x + rx, y + h), (x, y + h - ry)),
        ((x, y + ry), (x + rx, y)),
    ]
    before = corners[-1][1]
    for first, second in corners:
        path.segments += pen.line(before, first)
        path.segments += pen.arc(first, second, (rx, ry), 0.0, False, True)
        before = second
    return [path]


def _corner(attributes: dict[str, str], name: str, whole: float) -> float | None:
    text = attributes.get(name, "auto")
    if text == "auto":
        return None
    value = length(text, whole=whole)
    if value < 0:
        raise ValueError("has a negative corner radius")
    return value


def _read_circle(attributes: dict[str, str], place: _Place) -> list[Subpath]:
    radius = length(attributes.get("r", "0"), whole=place.port.diagonal)
    return _round(attributes, place, radius, radius)


def _read_ellipse(attributes: dict[str, str], place: _Place) -> list[Subpath]:
    rx, ry = _corner(attributes, "rx", place.port.width), _corner(attributes, "ry", place.port.height)
    rx, ry = ry if rx is None else rx, rx if ry is None else ry
    return _round(attributes, place, rx or 0.0, ry or 0.0)


def _round(attributes: dict[str, str], place: _Place, rx: float, ry: float) -> list[Subpath]:
    if rx < 0 or ry < 0:
        raise ValueError("has a negative radius")
    if rx == 0 or ry == 0:
        return []
    cx = length(attributes.get("cx", "0"), whole=place.port.width)
    cy = length(attributes.get("cy", "0"), whole=place.port.height)
    pen = Pen(place.matrix)
    segments = pen.ellipse((cx, cy), (rx, 0.0), (0.0, ry), 0.0, 2 * math.pi)
    return [Subpath(segments, True, pen.is_exact((rx, 0.0), (0.0, ry)))]


def _read_line(attributes: dict[str, str], place: _Place) -> list[Subpath]:
    wide, high = place.port.width, place.port.height
    (x1, x2), (y1, y2) = (
        (length(attributes.get(f"{axis}1", "0"), whole=whole), length(attributes.get(f"{axis}2", "0"), whole=whole))
        for axis, whole in (("x", wide), ("y", high))
    )
    return _chain(place, [(x1, y1), (x2, y2)], closed=False)


def _read_polyline(attributes: dict[str, str], place: _Place) -> list[Subpath]:
    return _chain(place, _points(attributes), closed=False)


def _read_polygon(attributes: dict[str, str], place: _Place) -> list[Subpath]:
    return _chain(place, _points(attributes), closed=True)


def _points(attributes: dict[str, str]) -> list[Point]:
    values = numbers(attributes.get("points", ""))
    if len(values) % 2:
        raise ValueError("has an odd number of coordinates")
    return list(zip(values[::2], values[1::2], strict=True))


def _chain(place: _Place, points: list[Point], *, closed: bool) -> list[Subpath]:
    placed = [place.matrix.point(point) for point in points]
    ends = placed[1:] + placed[:1] if closed else placed[1:]
    segments = [Line(a, b) for a, b in zip(placed, ends, strict=False) if a != b]
    return [Subpath(list(segments), closed)] if segments else []


_SHAPES: dict[str, Callable[[dict[str, str], _Place], list[Subpath]]] = {
    "path": _read_path,
    "rect": _read_rect,
    "circle": _read_circle,
    "ellipse": _read_ellipse,
    "line": _read_line,
    "polyline": _read_polyline,
    "polygon": _read_polygon,
}
