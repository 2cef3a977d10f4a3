"""Asks an ASGI application as a browser or another program would, without a network."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import unquote

from starlette.types import ASGIApp


@dataclass(frozen=True, slots=True)
class Answer:
    status_code: int
    headers: dict[str, str]
    content: bytes

    @property
    def text(self) -> str:
        return self.content.decode("utf-8")

    def json(self) -> Any:
        return json.loads(self.content)


@dataclass(frozen=True, slots=True)
class Client:
    """A program at the address `client` that asks for the host `base`."""

    app: ASGIApp
    base: str
    client: str = "127.0.0.1"
    default: dict[str, str] = field(default_factory=dict)

    def get(self, path: str, *, headers: dict[str, str] | None = None) -> Answer:
        return self._ask("GET", path, headers or {}, b"")

    def put(self, path: str, *, content: bytes | Iterable[bytes], headers: dict[str, str] | None = None) -> Answer:
        return self._ask("PUT", path, headers or {}, content)

    def post(
        self, path: str, *, json_: object = None, content: bytes | None = None, headers: dict[str, str] | None = None
    ) -> Answer:
        own = {"Content-Type": "application/json", **(headers or {})}
        return self._ask("POST", path, own, json.dumps(json_).encode() if content is None else content)

    def _ask(self, method: str, path: str, headers: dict[str, str], body: bytes | Iterable[bytes]) -> Answer:
        place, _, query = path.partition("?")
        given = {"host": self.base.removeprefix("http://"), **{name.lower(): one for name, one in headers.items()}}
        if isinstance(body, bytes):
            given.setdefault("content-length", str(len(body)))
        parts = iter([body] if isinstance(body, bytes) else body)
        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method, "scheme": "http",
            "path": unquote(place), "raw_path": place.encode(), "query_string": query.encode(), "root_path": "",
            "headers": [(name.encode(), one.encode()) for name, one in given.items()],
            "client": (self.client, 50000), "server": ("127.0.0.1", 8730),
        }  # fmt: skip
        status, told, content = 0, dict[str, str](), bytearray()

        async def receive() -> dict[str, Any]:
            chunk = next(parts, None)
            return {"type": "http.request", "body": chunk or b"", "more_body": chunk is not None}

        async def send(message: Any) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                told.update({name.decode().lower(): one.decode() for name, one in message["headers"]})
            else:
                content.extend(message.get("body", b""))

        asyncio.run(asyncio.wait_for(self.app(scope, receive, send), 60))
        return Answer(status, told, bytes(content))
