"""Opens the page: takes a port, starts the server, and shows the address in the browser."""

from __future__ import annotations

import contextlib
import secrets
import socket
import sys
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from cutjob.errors import InputError, Location, Problem
from cutjob.live.desk import Desk
from cutjob.live.server import Listeners, serve
from cutjob.stages import Effort

FIRST_PORT = 8730  # of our own choice; the next ones are tried where it is taken
_TRIED = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Addresses:
    """Where the page is: on this computer, and in the home network where it is shared."""

    here: str
    shared: str | None = None


def open_page(
    job: Path | None,
    *,
    port: int | None = None,
    browser: bool = True,
    share: bool = False,
    out: Path | None = None,
    effort: Effort = "normal",
    opened: Callable[[Addresses], None],
) -> None:
    """Serve the page of a job, or of the current folder where none is named, until the user ends it.

    `opened` is called with the addresses. Raises InputError where the job can't be read or the port is taken.
    """
    listeners = Listeners()
    sockets = [_taken("127.0.0.1", port)]
    token = secrets.token_urlsafe(16) if share else None
    addresses = Addresses(here=f"http://127.0.0.1:{sockets[0].getsockname()[1]}/")
    if token is not None:
        sockets.append(_taken("0.0.0.0", None))
        host = _own_address()
        addresses = Addresses(here=addresses.here, shared=f"http://{host}:{sockets[1].getsockname()[1]}/?token={token}")
    try:
        desk = Desk(job, folder=Path.cwd(), out=out, effort=effort, say=listeners.say)
    except InputError:
        for one in sockets:
            one.close()
        raise

    def ready() -> None:
        opened(addresses)
        if browser:
            with contextlib.suppress(Exception):  # no browser: the address is printed
                webbrowser.open(addresses.here)

    try:
        serve(desk, listeners, sockets, token=token, ready=ready)
    finally:
        desk.close()


def _taken(host: str, port: int | None) -> socket.socket:
    """A socket that listens on the port, or on the first free one."""
    ports = range(FIRST_PORT, FIRST_PORT + _TRIED) if port is None else [port]
    error: OSError | None = None
    for one in ports:
        made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if sys.platform != "win32":  # a server that was ended a moment ago leaves its port to the next
            made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            made.bind((host, one))
            made.listen(128)
        except OSError as failed:
            made.close()
            error = failed
            continue
        return made
    words = "in use" if error is None or error.strerror is None else error.strerror
    raise InputError(
        Problem(
            message=f"port {port if port is not None else FIRST_PORT} can't be used: {words}",
            advice="name another with --port",
            location=Location(file="cutjob open"),
        )
    )


def _own_address() -> str:
    """The computer's own address in the home network; nothing is sent for it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked, contextlib.suppress(OSError):
        asked.connect(("192.0.2.1", 9))  # an address for documentation, RFC 5737
        return str(asked.getsockname()[0])
    return socket.gethostname()
