"""Serves the page's modules and styles to a browser: no file may import one from the disk."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import sigsim

PAGE = Path(sigsim.__file__).parent / "show" / "page"
EMPTY = b"<!doctype html><html lang=en><meta charset=utf-8><title>empty</title><body></body></html>"


class _Handler(SimpleHTTPRequestHandler):
    """Gives what is in the folder of the page, an empty page, and what a test adds."""

    def __init__(self, *arguments: Any, added: dict[str, bytes], **more: Any) -> None:
        self.added = added
        super().__init__(*arguments, directory=str(PAGE), **more)

    def do_GET(self) -> None:
        path = self.path.partition("?")[0]
        if path in self.added:
            self._send(self.added[path], self.guess_type(path))
        elif path in ("/", "/favicon.ico"):
            self._send(EMPTY, "text/html; charset=utf-8")
        else:
            super().do_GET()

    def _send(self, body: bytes, kind: str) -> None:
        self.send_response(200)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *arguments: Any) -> None:
        """Say nothing."""


@contextmanager
def page_server(added: dict[str, bytes] | None = None) -> Iterator[str]:
    """Give the address of a server, which has `/js/NAME.js`, `/css/NAME.css` and an empty `/`.

    Parameters
    ----------
    added : more of it by path, such as `{"/board.json": b"…", "/harness.html": b"…"}`
    """
    handler: Any = partial(_Handler, added={} if added is None else added)
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}"
        finally:
            server.shutdown()
            thread.join()
