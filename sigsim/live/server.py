"""What is answered at which address."""

from __future__ import annotations

import json
import re
import sys
import traceback
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect
from starlette.responses import HTMLResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route

from sigsim.errors import SigsimError, quote
from sigsim.live.asking import CancelledError
from sigsim.live.bodies import MOST_RECORDED, TooLargeError, body, given
from sigsim.live.disk import ChangedError
from sigsim.live.faults import faults_of
from sigsim.live.pages import editor, served
from sigsim.live.security import Guard
from sigsim.live.session import StaleError
from sigsim.show.render.markup import policy

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.types import ASGIApp

    from sigsim.live.asking import Asking
    from sigsim.live.events import Events
    from sigsim.live.security import Keys
    from sigsim.live.session import Session

# From what a request brings to what it is answered, in a thread of its own.
Work = Callable[[dict[str, Any]], Any]
Handler = Callable[["Request"], Awaitable[Response]]

_STATUS: dict[type[SigsimError], int] = {
    StaleError: 409,
    ChangedError: 409,
    CancelledError: 409,
    TooLargeError: 413,
}
_STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)


def application(session: Session, asking: Asking, events: Events, keys: Keys) -> ASGIApp:
    """Return the application, with its guard before it.

    Parameters
    ----------
    session, asking : what is asked
    events : what all windows hear
    keys : who may ask
    """

    def got(path: str, work: Work) -> Route:
        return Route(path, _answering(session, _path, work), methods=["GET"])

    def posted(path: str, work: Work) -> Route:
        return Route(path, _answering(session, given, work), methods=["POST"])

    app = Starlette(
        routes=[
            Route("/", _editor),
            Route("/page/{name}", _file),
            Route("/events", _listening(session, events)),
            got("/document", lambda _: session.now()),
            got("/text", lambda _: session.text()),
            got("/difference", lambda _: {"lines": session.difference()}),
            got("/parts", lambda _: asking.parts()),
            got("/panel/{name}", lambda g: asking.panel(g["name"])),
            got("/sheet", lambda _: _sheet(asking.sheet())),
            posted("/edit", lambda g: session.edit(_edit(g), _revision(g), keep=True)),
            posted("/try", lambda g: session.edit(_edit(g), _revision(g), keep=False)),
            posted("/undo", lambda g: session.step("undo", g.get("revision"))),
            posted("/redo", lambda g: session.step("redo", g.get("revision"))),
            posted("/save", lambda g: session.save(overwrite=g.get("overwrite") is True)),
            posted("/disk", lambda g: _disk(session, g.get("choice"))),
            posted("/draft", lambda g: _draft(session, g.get("choice"))),
            posted("/new", asking.create),
            posted("/included", asking.open_included),
            posted("/worth", asking.worth),
            posted("/gaps", asking.gaps),
            posted("/details", asking.details),
            posted("/listen", lambda g: Response(asking.listen(g), media_type="audio/wav")),
            Route(
                "/recording",
                _answering(session, _recording, lambda g: asking.record(g["raw"])),
                methods=["POST"],
            ),
        ],
        exception_handlers={500: _failed},
    )
    app.router.redirect_slashes = False
    return Guard(app, keys)


def _answering(
    session: Session, read: Callable[[Request], Awaitable[dict[str, Any]]], work: Work
) -> Handler:
    """Return what answers a request: its faults are answers too."""

    def answered(brought: dict[str, Any]) -> Response:
        found = work(brought)
        return found if isinstance(found, Response) else _json(found)

    async def handler(request: Request) -> Response:
        try:
            return await run_in_threadpool(answered, await read(request))
        except ClientDisconnect:
            return Response(status_code=400)
        except SigsimError as error:
            faults = faults_of(error, session.path)
            said = {"fault": faults[0], "faults": faults, "revision": session.revision}
            if isinstance(error, ChangedError):
                said["disk"] = "changed"
            return _json(said, _STATUS.get(type(error), 422))

    return handler


def _json(found: object, status: int = 200) -> Response:
    text = json.dumps(found, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return Response(text.encode("utf-8", "replace"), status, media_type="application/json")


async def _path(request: Request) -> dict[str, Any]:
    return dict(request.path_params)


async def _recording(request: Request) -> dict[str, Any]:
    return {"raw": await body(request, MOST_RECORDED)}


async def _editor(_: Request) -> Response:
    return HTMLResponse(await run_in_threadpool(editor))


async def _file(request: Request) -> Response:
    found = served().get(request.path_params["name"])
    if found is None:
        return PlainTextResponse("There is no such file.", 404)
    file, kind = found
    return Response(await run_in_threadpool(file.read_bytes), media_type=kind)


def _listening(session: Session, events: Events) -> Handler:
    async def handler(_: Request) -> Response:
        return StreamingResponse(events.stream(session.greeting()), media_type="text/event-stream")

    return handler


def _sheet(page: str) -> Response:
    """Return a page that brings its own style, which is let in by its hash."""
    styles = _STYLE.findall(page)
    return HTMLResponse(page, headers={"content-security-policy": policy(styles)})


def _edit(given: dict[str, Any]) -> dict[str, Any]:
    edit = given.get("edit")
    if not isinstance(edit, dict):
        raise SigsimError("an edit is wanted", where="edit", found=quote(edit))
    return edit


def _revision(given: dict[str, Any]) -> int:
    revision = given.get("revision")
    if not isinstance(revision, int):
        raise SigsimError("the revision is missing that this is meant for", where="revision")
    return revision


def _disk(session: Session, choice: object) -> dict[str, Any]:
    if choice == "keep":
        return session.save(overwrite=True)
    if choice == "take":
        return session.take_theirs()
    raise SigsimError("this is no choice", found=quote(choice), accepted="keep, take")


def _draft(session: Session, choice: object) -> dict[str, Any]:
    if choice == "take" or choice == "drop":
        return session.take_up("take" if choice == "take" else "drop")
    raise SigsimError("this is no choice", found=quote(choice), accepted="take, drop")


async def _failed(_: Request, error: Exception) -> Response:
    """Answer where the program itself is at fault, and say so where it was started."""
    traceback.print_exception(error, file=sys.stderr)
    said = f"the program has failed here: {type(error).__name__}"
    return _json({"fault": {"text": said, "what": said}, "faults": []}, 500)
