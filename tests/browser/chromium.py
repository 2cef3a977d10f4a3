"""A headless Chromium of the system, driven by Playwright; tests are skipped where one of them is missing."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

SIZES = {"desktop": (1280, 900), "tablet": (820, 1180), "phone": (390, 844)}
PHONES = {"small": (360, 740), "usual": (390, 844), "large": (430, 932)}
_NAMES = ("chromium", "chromium-browser", "google-chrome")


def require_chromium() -> str:
    """The path of the browser."""
    pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    found = next((path for path in map(shutil.which, _NAMES) if path), None)
    if found is None:
        pytest.skip("no Chromium here")
    return found


@contextmanager
def opened(path: Path, *, size: str = "desktop", script: bool = True) -> Iterator[tuple[Any, list[str]]]:
    """A page open in the browser, and a list that takes every error and every request beyond the file itself."""
    executable = require_chromium()
    from playwright.sync_api import sync_playwright

    width, height = (SIZES | PHONES)[size]
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=executable, args=["--no-sandbox"])
        try:
            page = browser.new_context(
                viewport={"width": width, "height": height}, java_script_enabled=script
            ).new_page()
            wrong: list[str] = []
            page.on("pageerror", lambda error: wrong.append(str(error)))
            page.on("console", lambda said: wrong.append(said.text) if said.type in ("error", "warning") else None)
            page.on("request", lambda asked: None if asked.url == path.as_uri() else wrong.append(asked.url))
            page.goto(path.as_uri())
            yield page, wrong
        finally:
            browser.close()


@contextmanager
def page_at(
    address: str, *, size: tuple[int, int] = (1600, 1000), touch: bool = False
) -> Iterator[tuple[Any, list[str]]]:
    """A page of a local server, and a list that takes every error and every request to another place."""
    executable = require_chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=executable, args=["--no-sandbox"])
        try:
            context = browser.new_context(
                viewport={"width": size[0], "height": size[1]}, has_touch=touch, accept_downloads=True
            )
            page = context.new_page()
            wrong: list[str] = []
            page.on("pageerror", lambda error: wrong.append(str(error)))
            page.on(
                "request", lambda asked: None if asked.url.startswith((address, "data:")) else wrong.append(asked.url)
            )
            page.goto(address)
            yield page, wrong
        finally:
            browser.close()


def require_axe(folder: Path) -> str:
    """The script of axe-core, fetched by npm."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("npm is not here to fetch axe-core")
    done = subprocess.run(
        [npm, "install", "--silent", "--no-audit", "--no-fund", "axe-core@4"],
        cwd=folder, capture_output=True, timeout=120, check=False,
    )  # fmt: skip
    script = folder / "node_modules" / "axe-core" / "axe.min.js"
    if done.returncode or not script.is_file():
        pytest.skip("npm could not fetch axe-core")
    return script.read_text(encoding="utf-8")
