"""How many of a thing, in words: every message and page that counts takes its words from here."""

from __future__ import annotations


def counted(count: int, thing: str, things: str | None = None) -> str:
    """Return `1 board`, `2 boards`, `0 boards`; `things` are several where that is not `thing` with an s."""
    return f"{count} {thing}" if count == 1 else f"{count} {things or f'{thing}s'}"
