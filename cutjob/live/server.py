"""The page's server: one job, on this computer only, unless it is shared for reading in the home network.

    GET  /            the page              GET  /state       everything it shows, as data
    GET  /events      what changes, as it does (server-sent events, HTML standard 9.2)
    GET  /job         the text of the job   PUT  /job         a new text: every other edit comes down to this
    POST /edit        changes of lines      POST /try         the same, only looked at
    POST /undo /redo  one step              POST /search      effort and seed; /enough: end the search
    POST /write       the folder, as make writes it           GET  /files/NAME  one proven file
    GET  /sheet       the job sheet         GET  /designs     pictures of the designs at their sizes
    POST /new /open   a new job, or one in the folder         POST /dates /choose  asked and answered
    GET  /wood        what lies in the files of stock         POST /shop  a shop file, begun beside the job

A request is answered if its host is this server, and it comes from the page itself. Bodies are bounded.
"""

from __future__ import annotations

import asyncio
import ipaddress
import json
import re
import secrets
import threading
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeAlias

from anyio import to_thread
from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send
from watchfiles import awatch

from cutjob.errors import CutjobError, InputError
from cutjob.files.source import GREATEST_BYTES
from cutjob.live.desk import Desk
from cutjob.live.open_job import OverlappedError

_MOST_BODY = GREATEST_BYTES + 100_000  # bytes; a text as JSON is a little longer than the text
_LOOKED_FOR = 1.0  # s between two looks whether the job names other folders
_MOST_PAGES = 50  # pages open at a time
_BEAT = 15.0  # s between two signs of life to a page
_TYPES = {
    ".nc": "text/plain; charset=utf-8", ".json": "application/json", ".svg": "image/svg+xml",
    ".html": "text/html; charset=utf-8", ".pdf": "application/pdf", ".dxf": "image/vnd.dxf",
    ".csv": "text/csv; charset=utf-8", ".toml": "text/plain; charset=utf-8", ".txt": "text/plain; charset=utf-8",
    ".png": "image/png",
}  # fmt: skip
_STATIC = {
    "live.css": ("cutjob.live.page", "text/css; charset=utf-8"),
    "live.js": ("cutjob.live.page", "text/javascript; charset=utf-8"),
    "draw.js": ("cutjob.live.page", "text/javascript; charset=utf-8"),
    "page.css": ("cutjob.reports.sheet", "text/css; charset=utf-8"),
    "player.js": ("cutjob.reports.sheet", "text/javascript; charset=utf-8"),
}
_POLICY = (
    "default-src 'none'; style-src 'self' 'unsafe-inline'; script-src 'self'; connect-src 'self'; "
    "img-src 'self' data:; form-action 'none'; frame-ancestors 'none'; base-uri 'none'"
)
_ALWAYS = {
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
}
_VERSION = re.compile(r"[0-9]{1,15}")
Handler: TypeAlias = Callable[[Request], Awaitable[Response]]


@dataclass(slots=True)
class Listeners:
    """The open pages: what is said is put into a queue of each."""

    loop: asyncio.AbstractEventLoop | None = None
    queues: set[asyncio.Queue[str | None]] = field(default_factory=set)

    def say(self, event: str, data: object) -> None:
        """Say something to all pages; from any thread."""
        text = f"event: {event}\ndata: {json.dumps(data, separators=(',', ':'))}\n\n"
        if self.loop is not None and not self.loop.is_closed():
            self.loop.call_soon_threadsafe(self._put, text)

    def _put(self, text: str) -> None:
        for queue in list(self.queues):
            if queue.qsize() < 200:
                queue.put_nowait(text)
            else:  # a page that does not listen now: its stream ends, and it takes up again when it listens
                self.queues.discard(queue)
                while not queue.empty():
                    queue.get_nowait()
                queue.put_nowait(None)


class Guard:
    """Lets a request through that comes from the page itself, or in the home network with the token, to be read."""

    def __init__(self, app: ASGIApp, *, ports: Sequence[int], token: str | None) -> None:
        """`ports` are those the server listens on; `token` is None where it is not shared."""
        self._app, self._token = app, token
        self._hosts = {
            host if port == 80 else f"{host}:{port}" for port in ports for host in ("127.0.0.1", "localhost", "[::1]")
        }

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Judge a request."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        request = Request(scope)
        wrong = self._wrong(request)
        if wrong is not None:
            await PlainTextResponse(f"{wrong}\n", status_code=403, headers=_ALWAYS)(scope, receive, send)
            return
        await self._app(scope, receive, send)

    def _wrong(self, request: Request) -> str | None:
        client = request.client.host if request.client is not None else ""
        here = _is_loopback(client)
        request.scope["shared"] = not here
        host = request.headers.get("host", "").lower()
        origin = request.headers.get("origin")
        site = request.headers.get("sec-fetch-site", "none")
        if here:
            if host not in self._hosts:
                return "this page is only for this computer: open it by its own address"
        elif self._token is None:
            return "this page is only for the computer it runs on"
        elif request.method == "GET" and request.url.path.removeprefix("/") in _STATIC:
            pass  # the page's own style and scripts say nothing of the job
        elif not secrets.compare_digest(request.query_params.get("token", "").encode(), self._token.encode()):
            return "the token in the address is missing or wrong"
        elif request.method not in ("GET", "HEAD"):
            return "this page is shared for reading only"
        if origin is not None and origin.lower() != f"http://{host}":
            return "a page of another site can't use this one"
        opened = request.url.path == "/" and request.headers.get("sec-fetch-mode") == "navigate"
        if site not in ("same-origin", "none") and not opened:
            return "a page of another site can't use this one"
        return None


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host.partition("%")[0]).is_loopback
    except ValueError:
        return False


class TooLargeError(Exception):
    """A request's body is larger than any job."""


async def body_of(request: Request) -> bytes:
    """Return a request's body. Raises TooLargeError before it is all read."""
    stated = request.headers.get("content-length", "0")
    if not stated.isdigit() or int(stated) > _MOST_BODY:
        raise TooLargeError
    data = bytearray()
    async for chunk in request.stream():
        data += chunk
        if len(data) > _MOST_BODY:
            raise TooLargeError
    return bytes(data)


async def _data_of(request: Request) -> dict[str, Any]:
    """The JSON object of a request. Raises InputError for anything else."""
    from cutjob.errors import Problem

    if not request.headers.get("content-type", "").startswith("application/json"):
        raise InputError(Problem(message="the request is not JSON", advice="use the page"))
    try:
        data = json.loads(await body_of(request) or b"{}")
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict):
        raise InputError(Problem(message="the request is not a JSON object", advice="use the page"))
    return data


def page_app(desk: Desk, listeners: Listeners, *, ports: Sequence[int], token: str | None = None) -> ASGIApp:
    """Return the server's application for a desk. `token` shares it for reading."""

    def shown(text: bytes | str, kind: str, status: int = 200) -> Response:
        return Response(text, media_type=kind, status_code=status, headers=_ALWAYS)

    def data(value: object, status: int = 200) -> Response:
        return JSONResponse(value, status_code=status, headers=_ALWAYS)

    def guarded(handler: Handler) -> Handler:
        async def answer(request: Request) -> Response:
            try:
                return await handler(request)
            except TooLargeError:
                return data({"said": [f"the request is larger than {_MOST_BODY // 1_000_000} MB"]}, 413)
            except OverlappedError:
                return data({"said": ["the job was changed elsewhere at the same time"], "state": desk.state()}, 409)
            except ClientDisconnect:
                return data({}, 499)
            except CutjobError as error:
                return data({"said": [str(problem) for problem in error.problems]}, 422)
            except Exception as error:  # the page says so, and goes on with the next change
                said = " ".join(str(error).split())[:200]
                return data({"said": [f"cutjob itself failed ({type(error).__name__}: {said})"]}, 500)

        return answer

    async def page(_: Request) -> Response:
        text = files("cutjob.live.page").joinpath("live.html").read_text(encoding="utf-8")
        return Response(text, media_type="text/html", headers={**_ALWAYS, "Content-Security-Policy": _POLICY})

    async def static(request: Request) -> Response:
        name = request.url.path.removeprefix("/")
        package, kind = _STATIC[name]
        return shown(files(package).joinpath(name).read_bytes(), kind)

    async def state(request: Request) -> Response:
        found = await to_thread.run_sync(desk.state)
        return data({**found, "read_only": bool(request.scope.get("shared"))})

    async def events(request: Request) -> Response:
        if len(listeners.queues) >= _MOST_PAGES:
            return data({"said": [f"{_MOST_PAGES} pages are open already; close some"]}, 503)
        queue: asyncio.Queue[str | None] = asyncio.Queue()

        async def told() -> AsyncIterator[str]:
            listeners.queues.add(queue)
            try:
                yield f"retry: 1000\nevent: hello\ndata: {json.dumps({'run': desk.run})}\n\n"
                while True:
                    try:
                        event = await asyncio.wait_for(queue.get(), _BEAT)
                    except TimeoutError:
                        event = ": still here\n\n"
                    if event is None:
                        return
                    yield event
            finally:
                listeners.queues.discard(queue)

        return StreamingResponse(told(), media_type="text/event-stream", headers={**_ALWAYS, "X-Accel-Buffering": "no"})

    async def text(request: Request) -> Response:
        if request.method == "GET":
            now, of = desk.text()
            response = shown(now, "text/plain; charset=utf-8")
            response.headers["ETag"] = f'"{of}"'
            return response
        raw = await body_of(request)
        try:
            new = raw.decode("utf-8")
        except UnicodeDecodeError:
            return data({"said": ["the text is not UTF-8"]}, 422)
        stated = request.headers.get("if-match", "*").strip('"')
        if stated != "*" and not _VERSION.fullmatch(stated):
            raise OverlappedError  # no version of this text
        version = None if stated == "*" else int(stated)
        return data(await to_thread.run_sync(lambda: desk.put(new, version=version)))

    def doing(do: Callable[[dict[str, Any]], object]) -> Handler:
        async def answer(request: Request) -> Response:
            asked = await _data_of(request)
            return data(await to_thread.run_sync(lambda: do(asked)))

        return answer

    async def one_file(request: Request) -> Response:
        name = request.path_params["name"]
        found = desk.file(name)
        if found is None:
            return data({"said": ["there is no such file of this job, or it is not proven"]}, 404)
        kind = _TYPES.get(Path(name).suffix, "application/octet-stream")
        response = shown(found, kind)
        response.headers["Content-Disposition"] = f'attachment; filename="{Path(name).name}"'
        response.headers["Content-Security-Policy"] = "sandbox"
        return response

    async def sheet(_: Request) -> Response:
        found = desk.file("job-sheet.html")
        if found is None:
            return data({"said": ["the job is not proven yet"]}, 404)
        response = shown(found, "text/html")
        response.headers["Content-Security-Policy"] = "sandbox"
        return response

    async def asked(request: Request) -> Response:
        found = await to_thread.run_sync(getattr(desk, request.url.path.removeprefix("/")))
        return data(found)

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        listeners.loop = asyncio.get_running_loop()
        watching = asyncio.create_task(_watch(desk))
        yield
        watching.cancel()
        desk.close()

    posts: dict[str, Callable[[dict[str, Any]], object]] = {
        "/edit": desk.edit, "/try": desk.tried, "/undo": desk.undo, "/redo": desk.redo,
        "/shop": lambda _: desk.begin_shop(),
        "/search": desk.search, "/enough": lambda _: desk.enough(), "/write": desk.write, "/new": desk.new,
        "/open": desk.open, "/dates": desk.dates,
    }  # fmt: skip
    app = Starlette(
        routes=[
            Route("/", guarded(page)),
            *(Route(f"/{name}", guarded(static)) for name in _STATIC),
            Route("/state", guarded(state)),
            Route("/events", guarded(events)),
            Route("/job", guarded(text), methods=["GET", "PUT"]),
            Route("/sheet", guarded(sheet)),
            Route("/files/{name}", guarded(one_file)),
            Route("/designs", guarded(asked)),
            Route("/wood", guarded(asked)),
            *(Route(path, guarded(doing(do)), methods=["POST"]) for path, do in posts.items()),
        ],
        lifespan=lifespan,
    )
    return Guard(app, ports=ports, token=token)


async def _watch(desk: Desk) -> None:
    """Look at the job's folder and those of the files it names, and take in what changes there, for ever."""
    while True:
        try:
            await to_thread.run_sync(desk.look_at_disk)  # what changed while nothing was watched
            if desk.folders:
                await _watch_folders(desk, desk.folders)
                continue
        except Exception:  # a folder that went away, too many watched: it is looked at again a little later
            pass
        await asyncio.sleep(_LOOKED_FOR)


async def _watch_folders(desk: Desk, folders: frozenset[Path]) -> None:
    seen = awatch(
        *sorted(folders),
        recursive=False,
        step=50,
        debounce=100,
        rust_timeout=int(1000 * _LOOKED_FOR),
        yield_on_timeout=True,
        ignore_permission_denied=True,
    )
    async for changes in seen:
        if changes:
            await to_thread.run_sync(desk.look_at_disk)
        if desk.folders != folders:
            return


def serve(
    desk: Desk, listeners: Listeners, sockets: Sequence[Any], *, token: str | None, ready: Callable[[], None]
) -> None:
    """Serve a desk on these sockets until the user ends it; `ready` is called once the page can be opened."""
    import uvicorn

    ports = [one.getsockname()[1] for one in sockets]
    app = page_app(desk, listeners, ports=ports, token=token)
    settings = uvicorn.Config(
        app, log_level="error", access_log=False, proxy_headers=False, server_header=False, date_header=False,
        timeout_graceful_shutdown=1, h11_max_incomplete_event_size=65_536, lifespan="on",
    )  # fmt: skip
    server = uvicorn.Server(settings)
    threading.Timer(0.0, ready).start()
    server.run(sockets=list(sockets))
