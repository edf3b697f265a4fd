"""The server from its start to its end."""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import uvicorn

from sigsim import stopping
from sigsim.errors import SigsimError
from sigsim.live.asking import Asking
from sigsim.live.events import Events
from sigsim.live.security import Keys
from sigsim.live.server import application
from sigsim.live.session import Session

if TYPE_CHECKING:
    from sigsim.live.desk import Desk

HOST: Final = "127.0.0.1"
# The page may be loaded again, or the machine be slow, before it is taken for closed [s].
PATIENCE: Final = 60.0
_BEAT: Final = 0.1
_WATCHED: Final = 10  # beats from one look at the file to the next
_KEPT: Final = 5

Ended = Literal["keyboard", "closed"]


@dataclass(frozen=True)
class Hooks:
    """What whoever starts a server wants to hear of.

    Attributes
    ----------
    started : the address, when the page can be opened
    renewed : another address, when somebody comes with the one that was used
    """

    started: Callable[[str], None]
    renewed: Callable[[str], None]


class _Server(uvicorn.Server):
    """A server that leaves signals to the program."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Capture none."""
        yield


def bound(port: int = 0) -> socket.socket:
    """Return a socket of this machine that only this machine reaches.

    Parameters
    ----------
    port : its number, 0 for any that is free

    Raises
    ------
    SigsimError : it is taken, or not to be had
    """
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name == "posix":  # elsewhere it would share the port with whoever has it
            found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.bind((HOST, port))
        found.listen(128)
    except OSError as error:
        found.close()
        raise SigsimError(
            f"this port cannot be had: {error.strerror or error}",
            where="--port",
            found=str(port),
            accepted="another number, or no --port for any that is free",
        ) from None
    return found


def run(session: Session, desk: Desk, place: socket.socket, hooks: Hooks) -> Ended:
    """Serve a session until the keyboard or the last window ends it.

    Parameters
    ----------
    session : that is served
    desk : who knows of boards
    place : where it listens
    hooks : who hears of what

    Returns
    -------
    what ended it
    """
    with stopping.patient():
        return asyncio.run(_served(session, desk, place, hooks))


async def _served(session: Session, desk: Desk, place: socket.socket, hooks: Hooks) -> Ended:
    port: int = place.getsockname()[1]
    address = f"http://{HOST}:{port}/"
    keys = Keys(port, lambda token: hooks.renewed(f"{address}?token={token}"))
    events, asking = Events(), Asking(session, desk)
    session.told = events.tell
    server = _Server(_config(application(session, asking, events, keys)))
    serving = asyncio.create_task(server.serve([place]))
    while not server.started and not serving.done():
        await asyncio.sleep(0.005)
    hooks.started(f"{address}?token={keys.token}")
    try:
        return await _until_the_end(session, events, serving)
    finally:
        asking.close()
        events.close()
        server.should_exit = True
        await serving


def _config(app: object) -> uvicorn.Config:
    return uvicorn.Config(
        app,  # type: ignore[arg-type]  # an application of one kind, told by two names
        http="h11",
        ws="none",
        lifespan="off",
        log_config=None,
        log_level="critical",
        access_log=False,
        server_header=False,
        date_header=False,
        timeout_keep_alive=30,
        timeout_graceful_shutdown=1,
    )


async def _until_the_end(session: Session, events: Events, serving: asyncio.Task[None]) -> Ended:
    """Keep what is unsaved and watch the file meanwhile."""
    beat = 0
    while not serving.done():
        if stopping.was_noted():
            return "keyboard"
        # What cannot be kept beside the file is kept here.
        if events.alone() > PATIENCE and not (session.unsaved and session.beside.unkept):
            return "closed"
        beat += 1
        if beat % _KEPT == 0:
            await asyncio.to_thread(session.tick, watch=beat % _WATCHED == 0)
        await asyncio.sleep(_BEAT)
    return "closed"
