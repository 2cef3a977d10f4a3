"""Ctrl-C during a search: once asks, twice ends, and afterwards it does what it did."""

from __future__ import annotations

import signal
import threading

import pytest

from cutjob.cli.progress import StopKey


def press() -> None:
    """Ctrl-C, as the terminal sends it; Python runs the handler before the next step."""
    signal.raise_signal(signal.SIGINT)


@pytest.fixture
def heard() -> list[str]:
    return []


@pytest.fixture
def key(heard: list[str]) -> StopKey:
    return StopKey(lambda: heard.append("once"))


def test_the_first_press_asks_and_the_second_ends(key: StopKey, heard: list[str]) -> None:
    before = signal.getsignal(signal.SIGINT)
    key.begin()
    try:
        assert not key.asked
        press()
        assert key.asked
        with pytest.raises(KeyboardInterrupt):
            press()
        assert heard == ["once"]
    finally:
        key.end()
    assert signal.getsignal(signal.SIGINT) == before


def test_outside_the_search_the_first_press_ends(key: StopKey) -> None:
    with pytest.raises(KeyboardInterrupt):
        press()
    key.begin()
    key.begin()  # twice is once
    key.end()
    with pytest.raises(KeyboardInterrupt):
        press()
    key.end()
    assert not key.asked


def test_another_programs_handler_is_given_back(key: StopKey) -> None:
    got: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _: got.append(number))
    try:
        key.begin()
        press()
        assert got == []
        key.end()
        press()
        assert got == [signal.SIGINT]
    finally:
        signal.signal(signal.SIGINT, before)
    assert key.asked


def test_a_program_that_ignores_it_goes_on_ignoring_it(key: StopKey) -> None:
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        key.begin()
        assert signal.getsignal(signal.SIGINT) == signal.SIG_IGN
        key.end()
    finally:
        signal.signal(signal.SIGINT, before)


def test_another_thread_changes_nothing(key: StopKey) -> None:
    before = signal.getsignal(signal.SIGINT)
    seen: list[object] = []

    def run() -> None:
        key.begin()
        seen.append(signal.getsignal(signal.SIGINT))
        key.end()

    thread = threading.Thread(target=run)
    thread.start()
    thread.join()
    assert seen == [before]
