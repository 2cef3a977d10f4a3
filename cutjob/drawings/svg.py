"""Reads an SVG file into its shapes: groups and uses in their places, the y axis turned up, mm.

The file's XML is read to plain nodes, with the display rules of its styles, but without outside files or entities.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from xml.parsers import expat

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from cutjob.drawings.drawing import DEEPEST, MM_PER_UNIT, MOST_SEGMENTS, Findings, Shape, TooManyError, Units, colour_of
from cutjob.drawings.svg_path import Subpath
from cutjob.drawings.svg_shapes import (
    MM_PER_PX,
    SHAPES,
    Frame,
    Viewport,
    fitted_view,
    has_size,
    has_unit,
    length,
    numbers,
    transform,
)
from cutjob.errors import CutjobError
from cutjob.geometry.affine import Affine
from cutjob.geometry.segment import Point, Segment
from cutjob.tolerances import TOLERANCES

SVG = "http://www.w3.org/2000/svg"
_LINK = "http://www.w3.org/1999/xlink"
_COMMENT = re.compile(
    r"/\*.*?(?:\*/|\Z)", re.DOTALL
)  # a comment that is not closed goes to the end (CSS Syntax 3, 4.3.2)
_BRACE = re.compile(r"[{}]")


@dataclass(slots=True)
class Node:
    """An element: its name without the SVG namespace, its attributes, children and text, and its line in the file."""

    name: str
    attributes: dict[str, str]
    line: int
    children: list[Node] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """The text directly in the element."""
        return "".join(self.texts)


class EntityError(ValueError):
    """The file defines entities, which can name other files or grow without limit."""


def parse_xml(data: bytes) -> Node:
    """Return the root element. Raises EntityError and xml.parsers.expat.ExpatError (with a line) for bad files."""
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    top = Node("", {}, 0)
    stack = [top]

    def start(name: str, attributes: dict[str, str]) -> None:
        node = Node(_local(name), {_local(key): value for key, value in attributes.items()}, parser.CurrentLineNumber)
        stack[-1].children.append(node)
        stack.append(node)

    def end(name: str) -> None:
        stack.pop()

    def text(data: str) -> None:
        stack[-1].texts.append(data)

    def entity(*_: object) -> int:
        raise EntityError("entities are refused")

    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.CharacterDataHandler = text
    parser.EntityDeclHandler = entity
    parser.ExternalEntityRefHandler = entity
    parser.Parse(data, True)
    return top.children[0]


def _local(name: str) -> str:
    """Return a name without its namespace where that is SVG's or that of links, else with it."""
    space, _, local = name.rpartition(" ")
    return local if space in ("", SVG, _LINK) else f"{{{space}}}{local}"


def declarations(text: str) -> dict[str, str]:
    """Return the properties of a style attribute or of a rule's body."""
    found: dict[str, str] = {}
    for item in _COMMENT.sub("", text).split(";"):
        key, colon, value = item.partition(":")
        if colon:
            found[key.strip().lower()] = value.replace("!important", "").strip()
    return found


@dataclass(slots=True)
class Styles:
    """The rules of the file's style sheets with these selectors: a name, a class, an id, a name
    with a class, or all.
    """

    rules: dict[str, dict[str, str]] = field(default_factory=dict)

    def read(self, text: str) -> None:
        """Add the rules of one style element."""
        for selectors, body in _rules(_COMMENT.sub("", text)):
            found = declarations(body)
            for selector in selectors.split(","):
                self.rules.setdefault(selector.strip(), {}).update(found)

    def of(self, node: Node) -> dict[str, str]:
        """Return the properties of an element; a more specific selector wins, and its own style over all."""
        name, classes = node.name, node.attributes.get("class", "").split()
        selectors = ["*", name, *(f".{c}" for c in classes), *(f"{name}.{c}" for c in classes)]
        if "id" in node.attributes:
            selectors.append(f"#{node.attributes['id']}")
        found: dict[str, str] = {}
        for selector in selectors:
            found.update(self.rules.get(selector, {}))
        found.update(declarations(node.attributes.get("style", "")))
        return found


def _rules(text: str) -> Iterator[tuple[str, str]]:
    """Yield the text before and the text in every innermost pair of braces."""
    before, start, opened = "", 0, False
    for brace in _BRACE.finditer(text):
        between = text[start : brace.start()]
        if brace[0] == "{":
            before, opened = between, True
        else:
            if opened and before.strip():
                yield before, between
            opened = False
        start = brace.end()


def all_nodes(root: Node) -> list[Node]:
    """Return the element and everything in it, in the file's order, without recursion."""
    found, waiting = [], [root]
    while waiting:
        node = waiting.pop()
        found.append(node)
        waiting.extend(reversed(node.children))
    return found


# Elements that draw nothing in their own place (SVG 2, 5.1 and 5.6): read only through a use, or never.
_SILENT = frozenset(
    (
        *("defs", "symbol", "clipPath", "mask", "pattern", "marker", "filter", "linearGradient", "radialGradient"),
        *("style", "title", "desc", "metadata", "view", "cursor", "font", "color-profile"),
    )
)
_GROUPS = frozenset(("g", "a", "switch"))
_GEOMETRY = frozenset(("x", "y", "width", "height", "r", "rx", "ry", "cx", "cy"))
_CLIPPED = re.compile(r"""url\(\s*["']?#([^"')]+)["']?\s*\)""")
_AT_A_CLIP = 0.01  # mm that a shape may reach over the edge of its clip path, for rounding in the file
_CHORDS = 16  # of a line or an arc, when a shape is compared with its clip path


def read_svg(path: Path, *, units: Units | None, unstated: Units | None = None, scale: float = 1.0) -> Findings:
    """Return the shapes of an SVG file in mm, `scale` times as large as drawn, and its problems.

    `units`, where given, is the unit of the drawing; `unstated` is used where the page has no size with a unit.
    """
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
        page = _page(root, units, unstated, found)
    except (ValueError, ArithmeticError) as error:
        found.problem(str(error), "fix the size of the page", place="svg", line=root.line)
        return found
    if page is not None:
        found.enlarge(scale)
        page = replace(page, matrix=Affine(scale, 0.0, 0.0, scale, 0.0, 0.0) @ page.matrix)
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
    colour: str = ""
    clips: tuple[BaseGeometry, ...] = ()


def _page(root: Node, units: Units | None, unstated: Units | None, found: Findings) -> _Place | None:
    """Return the frame of the outermost element: from user units to mm, y up, origin at the page's lower left."""
    attributes = root.attributes
    box = numbers(attributes["viewBox"]) if "viewBox" in attributes else None
    if box is not None and (len(box) != 4 or not (box[2] > 0 and box[3] > 0)):
        raise ValueError("viewBox needs four numbers, the last two positive")
    width, height = attributes.get("width"), attributes.get("height")
    if units is None and not (has_unit(width) or has_unit(height)):
        units = unstated
    if units in ("in", "mm"):
        size = MM_PER_UNIT[units]
        x, y, w, h = box or [0.0, 0.0, _plain(width), _plain(height)]
        matrix = Affine(size, 0.0, 0.0, -size, -x * size, (y + h) * size)
        port = Viewport(w, h)
        found.set_units(units, size, _inverse(matrix))
    else:
        if units is None and not (has_unit(width) or has_unit(height)):
            found.problem(
                "has no size: its width and height have no unit",
                'give the page a size such as width="200mm"; or in the job state its unit: units = "mm", "in", or '
                '"px" for 1/96 '
                'in; or state the width of the whole drawing: width = "8 in"',
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
    return _Place(matrix, port, "drawing", False, (), 0, colour_of(attributes.get("stroke", "")))


def _plain(text: str | None) -> float:
    return length(text, whole=0.0) if text else 0.0


def _port(width: str | None, height: str | None, box: list[float] | None) -> Viewport:
    """Return the page's size in px; a side without a size of its own follows from the viewBox."""
    ratio = box[3] / box[2] if box else 1.0
    wide = length(width, whole=0.0) if width and has_size(width) else None
    high = length(height, whole=0.0) if height and has_size(height) else None
    return Viewport((high or 0.0) / ratio if wide is None else wide, (wide or 0.0) * ratio if high is None else high)


def _inverse(matrix: Affine) -> Affine:
    return Affine(1 / matrix.a, 0.0, 0.0, 1 / matrix.d, -matrix.e / matrix.a, -matrix.f / matrix.d)


class _CutDownError(ValueError):
    """A mask or a clip path shows only a part of the shape."""


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
                f"is inside more than {DEEPEST} groups", "ungroup the drawing", place=words, line=node.line
            )
            return
        style = self.styles.of(node)
        if style.get("display", node.attributes.get("display", "")) == "none":
            self.found.ignored[f"{node.name} that is not displayed"] += 1
            return
        visibility = style.get("visibility", node.attributes.get("visibility", "inherit"))
        hidden = place.hidden if visibility == "inherit" else visibility in ("hidden", "collapse")
        stroke = style.get("stroke", node.attributes.get("stroke", "inherit"))
        colour = place.colour if stroke == "inherit" else colour_of(stroke)
        try:
            self.placed(node, style, replace(place, hidden=hidden, depth=place.depth + 1, colour=colour))
        except _CutDownError as error:
            advice = "trim the shape itself in the drawing program, then export it again"
            self.found.problem(str(error), advice, place=words, line=node.line)
        except CutjobError as error:
            self.found.unfit(error, place=words, line=node.line)
        except (ValueError, ArithmeticError) as error:
            self.found.problem(str(error), "draw it again", place=words, line=node.line)

    def placed(self, node: Node, style: dict[str, str], place: _Place) -> None:
        if style.get("transform", "none") != "none":
            raise ValueError("is moved by a style, which is not read; write it as a transform attribute")
        if style.get("mask", node.attributes.get("mask", "none")) != "none":
            raise _CutDownError("is trimmed by a mask, which is not read")
        if node.attributes.get("transform"):
            place = replace(place, matrix=place.matrix @ transform(node.attributes["transform"]))
        clip = _CLIPPED.match(style.get("clip-path", node.attributes.get("clip-path", "none")).strip())
        if clip is not None and clip[1] in self.by_id:  # SVG 2: a reference to nothing clips nothing
            place = replace(place, clips=(*place.clips, self.clip(self.by_id[clip[1]], place)))
        attributes = {**node.attributes, **{k: v for k, v in style.items() if k in _GEOMETRY}}
        if node.name in _GROUPS:
            self.children(node, replace(place, layer=_layer(node) or place.layer))
        elif node.name == "svg":
            self.children(node, _nested(attributes, place))
        elif node.name == "use":
            self.use(node, attributes, place)
        elif node.name in SHAPES:
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

    def clip(self, node: Node, place: _Place) -> BaseGeometry:
        """The area, mm, that a clipPath shows (SVG 2 masking, 7): all of its shapes together."""
        if node.attributes.get("clipPathUnits", "userSpaceOnUse") != "userSpaceOnUse":
            raise _CutDownError("is trimmed by a clip path in shares of its size, which is not read")
        matrix = (
            place.matrix @ transform(node.attributes["transform"]) if "transform" in node.attributes else place.matrix
        )
        areas = []
        for child in node.children:
            if child.name not in SHAPES:
                continue
            own = matrix @ transform(child.attributes["transform"]) if "transform" in child.attributes else matrix
            for subpath in SHAPES[child.name](child.attributes, Frame(own, place.port)):
                points = _points(subpath.segments)
                if len(points) > 3:
                    areas.append(shapely.make_valid(Polygon(points)))
        return shapely.union_all(areas)

    def shows(self, subpaths: Sequence[Subpath], place: _Place) -> bool:
        """Whether its clip path shows the whole shape; False where it shows nothing. Raises ValueError in between."""
        chords = shapely.MultiLineString([_points(one.segments) for one in subpaths if one.segments])
        for clip in place.clips:
            if clip.buffer(_AT_A_CLIP).covers(chords):
                continue
            if not clip.intersects(chords):
                return False
            raise _CutDownError("is trimmed by a clip path, which shows only a part of it")
        return True

    def shape(self, node: Node, attributes: dict[str, str], place: _Place) -> None:
        try:
            subpaths = SHAPES[node.name](attributes, Frame(place.matrix, place.port))
        except TooManyError:
            self.found.room_for(MOST_SEGMENTS + 1, place=_words(node), line=node.line)
            return
        if place.clips and not self.shows(subpaths, place):
            self.found.ignored[f"{node.name} outside its clip path"] += 1
            return
        for subpath in subpaths:
            self.found.add(
                Shape(
                    layer=place.layer,
                    segments=tuple(subpath.segments),
                    closed=subpath.closed,
                    deviation=0.0 if subpath.exact else TOLERANCES.curve,
                    place=_words(node),
                    line=node.line,
                    colour=place.colour,
                )
            )


def _points(segments: Sequence[Segment]) -> list[Point]:
    return [one.point_at(step / _CHORDS) for one in segments for step in range(_CHORDS + 1)]


def _words(node: Node) -> str:
    return f'{node.name[:40]} "{node.attributes["id"][:60]}"' if "id" in node.attributes else node.name[:40]


def _layer(node: Node) -> str:
    for child in node.children:
        if child.name == "title" and child.text.strip():
            return child.text.strip()[:60]
    return node.attributes.get("id", "")[:60]


def _nested(attributes: dict[str, str], place: _Place) -> _Place:
    """Return the frame of an svg or a symbol inside the drawing."""
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
