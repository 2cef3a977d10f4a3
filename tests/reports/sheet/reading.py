"""A reader of the sheet of its own: tags, texts and the player's data, by the standard library's HTML parser."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

JOINER = "\u2060"  # keeps a range of numbers on one line
VOID = {"meta", "input", "br", "link", "img"}


@dataclass
class Page(HTMLParser):
    tags: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    open: list[str] = field(default_factory=list)
    texts: list[tuple[str, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag, f"</{tag}> closes another tag"

    def handle_data(self, data: str) -> None:
        self.texts.append((self.open[-1] if self.open else "", data))

    def words(self) -> str:
        """All that is read on the page."""
        words = " ".join(text for tag, text in self.texts if tag not in ("script", "style"))
        return " ".join(words.replace(JOINER, "").split())

    def data(self) -> list[dict[str, Any]]:
        """The player's data of every board."""
        found = []
        for tag, text in self.texts:
            if tag == "script" and text.startswith("{"):
                found.append(json.loads(text))
        return found


def read(text: str) -> Page:
    page = Page()
    page.feed(text)
    page.close()
    assert page.open == []
    return page


@dataclass(frozen=True)
class Played:
    """A move as the player sees it: mm and s."""

    kind: int
    end: tuple[float, float, float]
    seconds: float
    centre: tuple[float, float] | None


def moves_of(program: dict[str, Any]) -> list[Played]:
    """The moves of a program's data."""
    x, y, z = program["start"]
    numbers = list(program["moves"])
    found, place = [], 0
    while place < len(numbers):
        kind, dx, dy, dz, ms = numbers[place : place + 5]
        place += 5
        centre = None
        if kind in (2, 3):
            centre = ((x + numbers[place]) / 100, (y + numbers[place + 1]) / 100)
            place += 2
        x, y, z = x + dx, y + dy, z + dz
        found.append(Played(kind, (x / 100, y / 100, z / 100), ms / 1000, centre))
    return found


def radius_error(move: Played, start: tuple[float, float, float]) -> float:
    """How much an arc's radius differs between its ends, mm."""
    assert move.centre is not None
    return abs(math.dist(start[:2], move.centre) - math.dist(move.end[:2], move.centre))
