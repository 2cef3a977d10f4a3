"""An SVG file's XML to plain nodes: no outside files, no entities of its own, and the display rules of its styles."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

SVG = "http://www.w3.org/2000/svg"
_LINK = "http://www.w3.org/1999/xlink"
_COMMENT = re.compile(r"/\*.*?(?:\*/|\Z)", re.DOTALL)  # one that is not closed goes to the end (CSS Syntax 3, 4.3.2)
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
    """The file defines entities, which can stand for other files or swell without bounds."""


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
    """Return a name without the namespace when it is SVG's or the one of links, else with it."""
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
    """The rules of the file's style sheets whose selector is a name, a class, an id, a name with a class, or all."""

    rules: dict[str, dict[str, str]] = field(default_factory=dict)

    def read(self, text: str) -> None:
        """Take the rules of one style element."""
        for selectors, body in _rules(_COMMENT.sub("", text)):
            found = declarations(body)
            for selector in selectors.split(","):
                self.rules.setdefault(selector.strip(), {}).update(found)

    def of(self, node: Node) -> dict[str, str]:
        """Return the properties of an element; the more special selector and then its own style win."""
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
    """Yield what stands before and in every innermost pair of braces."""
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
