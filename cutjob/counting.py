"""Counts in words, such as `2 boards`, for every message and page."""

from __future__ import annotations


def counted(count: int, thing: str, things: str | None = None) -> str:
    """Return `1 board`, `2 boards`, `0 boards`; give `things` where the plural is not `thing` with an s."""
    return f"{count} {thing}" if count == 1 else f"{count} {things or f'{thing}s'}"
