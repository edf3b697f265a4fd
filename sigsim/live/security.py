"""Who may ask: whoever was given the address, from our own page, and nobody else.

Any page in any tab can send requests to this machine, and any name can be made to lead to it. So
every request must have the cookie that only the address with the token gives, name this place and
no other as its host, and, where it comes from a page, come from ours.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING, Final
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "media-src 'self' blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
_HEADERS: Final = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "cache-control": "no-store",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "x-frame-options": "DENY",
}
_USED: Final = (
    "This address has been used: each opens the page in one browser. The terminal in which "
    '"sigsim edit" runs has just printed another one.'
)
_NOBODY: Final = 'Open the address that "sigsim edit" printed in its terminal.'


class Keys:
    """The token that an address carries once, and the cookie that it is changed for.

    Parameters
    ----------
    port : of the server, by which cookies of two editors are told apart
    renewed : is called with a new token when somebody comes with the one that was used
    """

    def __init__(self, port: int, renewed: Callable[[str], None] = lambda _: None) -> None:
        self.port = port
        self.name = f"sigsim-{port}"
        self.cookie = secrets.token_urlsafe(32)
        self.token = secrets.token_urlsafe(32)
        self._used = self._given = ""
        self._renewed = renewed

    def enter(self, token: str) -> bool:
        """Whether a token opens the page; it does so once."""
        if _same(token, self.token):
            self._used, self.token = self.token, secrets.token_urlsafe(32)
            return True
        return False

    def was_used(self, token: str) -> bool:
        """Whether a token is the one used last; a new one is given out then."""
        if not self._used or not _same(token, self._used):
            return False
        if self._given != self.token:
            self._given = self.token
            self._renewed(self.token)
        return True

    def known(self, headers: Headers) -> bool:
        """Whether a request has the cookie."""
        for line in headers.getlist("cookie"):
            try:
                found = SimpleCookie(line).get(self.name)
            except CookieError:
                continue
            if found is not None and _same(found.value, self.cookie):
                return True
        return False


class Guard:
    """Stands before the application and lets in who may ask.

    Parameters
    ----------
    app : the application
    keys : its token and cookie
    """

    def __init__(self, app: ASGIApp, keys: Keys) -> None:
        self._app, self._keys = app, keys
        here = f"127.0.0.1:{keys.port}"
        self._hosts = {here, "127.0.0.1"} if keys.port == 80 else {here}
        self._origins = {f"http://{host}" for host in self._hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or let the application answer it."""
        if scope["type"] != "http":
            if scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": 1008})
            return

        async def sealed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        answer = self._met(scope)
        await (answer or self._app)(scope, receive, sealed)

    def _met(self, scope: Scope) -> Response | None:
        """Return the answer to a request that goes no further; None where it does."""
        headers = Headers(scope=scope)
        if not self._from_here(scope, headers):
            return PlainTextResponse("This request is not from the page.", 403)
        if scope["path"] == "/" and scope["method"] == "GET" and scope["query_string"]:
            return self._entered(scope, headers)
        if not self._keys.known(headers):
            return PlainTextResponse(_NOBODY, 403)
        return None

    def _from_here(self, scope: Scope, headers: Headers) -> bool:
        hosts, origins = headers.getlist("host"), headers.getlist("origin")
        if len(hosts) != 1 or hosts[0] not in self._hosts:
            return False
        if len(origins) > 1 or any(origin not in self._origins for origin in origins):
            return False
        if scope["method"] not in ("GET", "HEAD") and not origins:
            return False
        site = headers.get("sec-fetch-site", "same-origin")
        return site in ("same-origin", "none") or scope["path"] == "/"

    def _entered(self, scope: Scope, headers: Headers) -> Response:
        token = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[0]
        answer = RedirectResponse("/", 303)
        if self._keys.known(headers):  # a bookmark, or the address opened once more
            return answer
        if self._keys.enter(token):
            answer.set_cookie(
                self._keys.name, self._keys.cookie, httponly=True, samesite="strict", path="/"
            )
            return answer
        return PlainTextResponse(_USED if self._keys.was_used(token) else _NOBODY, 403)


def _same(one: str, other: str) -> bool:
    return hmac.compare_digest(one.encode("utf-8", "replace"), other.encode())
