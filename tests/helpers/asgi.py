"""Requests straight to an application, with nothing of them put right on the way."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any
from urllib.parse import unquote_to_bytes


class Answered:
    """An answer, whole."""

    def __init__(self, status: int, headers: list[tuple[bytes, bytes]], content: bytes) -> None:
        self.status_code, self.content = status, content
        self.headers = {name.decode(): value.decode() for name, value in headers}

    @property
    def text(self) -> str:
        """The content as text."""
        return self.content.decode()

    def json(self) -> Any:
        """The content as JSON."""
        return json.loads(self.content)


class Asker:
    """Asks as a browser would: with its cookie, and with headers that stay.

    Parameters
    ----------
    app : the application
    host : that is asked
    """

    def __init__(self, app: Any, host: str) -> None:
        self.app = app
        self.headers = {"host": host}
        self.cookie = ""

    def request(
        self,
        method: str,
        path: str,
        content: bytes | str | Iterable[bytes] = b"",
        headers: Mapping[str, str] | None = None,
    ) -> Answered:
        """Ask; a header that is given as two lines stands twice."""
        raw, _, query = path.partition("?")
        cookie = {"cookie": self.cookie} if self.cookie else {}
        lines = [
            (name.encode(), line.encode())
            for name, value in {**cookie, **self.headers, **(headers or {})}.items()
            for line in value.split("\n")
        ]
        scope = {
            "type": "http", "asgi": {"version": "3.0", "spec_version": "2.3"},
            "http_version": "1.1", "method": method, "scheme": "http", "root_path": "",
            "path": unquote_to_bytes(raw).decode("utf-8", "replace"), "raw_path": raw.encode(),
            "query_string": query.encode(), "headers": lines,
        }  # fmt: skip
        parts = [content.encode()] if isinstance(content, str) else content
        return asyncio.run(self._asked(scope, iter([parts] if isinstance(parts, bytes) else parts)))

    def get(self, path: str, **more: Any) -> Answered:
        """Get something."""
        return self.request("GET", path, **more)

    def post(self, path: str, what: object = None, **headers: str) -> Answered:
        """Send JSON from the page."""
        kind = {"content-type": "application/json"}
        return self.request("POST", path, json.dumps(what or {}), {**kind, **headers})

    async def _asked(self, scope: dict[str, Any], parts: Iterator[bytes]) -> Answered:
        sent: list[Any] = []

        async def receive() -> dict[str, Any]:
            part = next(parts, None)
            more = part is not None
            return {"type": "http.request", "body": part or b"", "more_body": more}

        async def send(message: Any) -> None:
            sent.append(message)

        try:
            await self.app(scope, receive, send)
        except Exception:  # the server has answered, and raises it again for whoever runs it
            if not sent:
                raise
        content = b"".join(message.get("body", b"") for message in sent[1:])
        answer = Answered(sent[0]["status"], sent[0]["headers"], content)
        if "set-cookie" in answer.headers:
            self.cookie = answer.headers["set-cookie"].partition(";")[0]
        return answer
