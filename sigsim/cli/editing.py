"""`sigsim edit` from its file to its end: which file, one editor for each, what is not saved."""

from __future__ import annotations

import os
import shlex
import sys
import threading
from functools import partial
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from sigsim.cli.interview import is_terminal
from sigsim.cli.output import checked_name
from sigsim.errors import OutputError, SigsimError, shown_path

if TYPE_CHECKING:
    from sigsim.live.draft import Lock
    from sigsim.live.running import Ended
    from sigsim.live.session import Session

_NEW: Final = "my-board"
_WORDS: Final = ("save", "drop", "keep")


def edit_here(given: str | None, port: int, *, browser: bool) -> None:
    """Serve the page of a board until it is ended.

    Parameters
    ----------
    given : path of the board file, None for a new one in this folder
    port : its number, 0 for any that is free
    browser : whether to open the page in one

    Raises
    ------
    SigsimError : the file cannot be read, or is being edited already; the port cannot be had
    """
    from sigsim.live.desk import Desk
    from sigsim.live.running import Hooks, bound, run
    from sigsim.live.session import Session

    path, lock = _locked(given)
    try:
        desk = Desk()
        session = Session(path, desk)
        _refuse_too_large(session)
        place = bound(port)
        started = partial(_started, session, lock, named=given is not None, browser=browser)
        hooks = Hooks(started, _renewed)
        try:
            ended = run(session, desk, place, hooks)
        finally:
            session.tick(watch=False)
            place.close()
        _see_to_unsaved(session, ended)
    finally:
        lock.release()


def _locked(given: str | None) -> tuple[Path, Lock]:
    """Return the file, and its lock, taken."""
    from sigsim.live.draft import Lock

    if given is None:
        names = (f"{_NEW}{'' if n == 1 else f'-{n}'}.toml" for n in count(1))
        for path in map(Path, names):
            if not os.path.lexists(path) and (lock := Lock(_target(path))).take():
                return path, lock
    path = _checked(given or "")
    lock = Lock(_target(path))
    if not lock.take():
        at = lock.holder()
        raise SigsimError(
            "this board is being edited already",
            where=shown_path(path),
            accepted=f"the page at {at}" if at else "",
        )
    return path, lock


def _target(path: Path) -> Path:
    return Path(os.path.realpath(path))


def _checked(given: str) -> Path:
    """Return the path of a file that is there, or can be made."""
    if given == "-":
        what = "the page saves to the file that it opens, and standard input is none"
        raise SigsimError(what, where="-", accepted="the name of a file")
    path, where = Path(checked_name(given)), shown_path(given)
    try:
        there = path.exists()
        ordinary = path.is_file()
        home = _target(path).parent.is_dir()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise SigsimError(f"this name cannot be used: {reason}", where=where) from None
    if there and not ordinary and not path.is_dir():
        raise SigsimError("this is no ordinary file; a board file is wanted", where=where)
    if not there and not home:
        raise OutputError("there is no such folder to make a board file in", where=where)
    return path


def _refuse_too_large(session: Session) -> None:
    """Refuse a board that is too large for the page; what is none is mended there."""
    from sigsim.decide.limits import refuse_beyond
    from sigsim.live.boards import board_of

    try:
        board = board_of(session.beside.text or "", session.path)
    except SigsimError:
        return
    refuse_beyond(board, "edit")


def _started(session: Session, lock: Lock, address: str, *, named: bool, browser: bool) -> None:
    """Say where the page is, and open it."""
    name = shown_path(session.path)
    lock.say(address.partition("?")[0])
    if not session.revision:
        _say_new(session.path, named=named)
    if session.beside.offer is not None:
        click.echo(f"Unsaved work of {session.beside.offer[1]} is offered on the page.")
    click.echo(f"The page of {name}: {address}")
    click.echo("It ends with Ctrl-C here, or a minute after the page has been closed.")
    sys.stdout.flush()
    if browser and _has_windows():
        import webbrowser

        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()


def _say_new(path: Path, *, named: bool) -> None:
    """Say that the board is a new one, and which one may have been meant."""
    from sigsim.board.source import nearest_file

    name, near = shown_path(path), nearest_file(path, (".toml",))
    if named or not near:
        meant = f' (did you mean "{shown_path(near)}"?)' if near else ""
        click.echo(f"{name} is not there yet{meant}: it is made when you save.")
        return
    # Who gave no name may want the board of the last time.
    click.echo(f"A new board, {name}: it is made when you save.")
    click.echo(f"To go on with {shown_path(near)}: sigsim edit {shlex.quote(shown_path(near))}")


def _has_windows() -> bool:
    """Whether a browser would have a window, and not take this terminal."""
    ours = sys.platform in ("win32", "darwin")
    return ours or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _renewed(address: str) -> None:
    click.echo(f"For another browser: {address}")
    sys.stdout.flush()


def _see_to_unsaved(session: Session, ended: Ended) -> None:
    """Save what is not saved, drop it or keep it, as it is wanted."""
    if ended == "closed":
        click.echo("The page has been closed.")
    if not session.unsaved:
        return
    name = shown_path(session.path)
    choice = _asked(name) if ended == "keyboard" and is_terminal() else "keep"
    if choice == "save":
        session.save(overwrite=False)
        click.echo(f"Saved: {name}")
    elif choice == "drop":
        session.discard()
        click.echo(f"{name} stays as it was.")
    elif session.beside.unkept:
        raise OutputError(session.beside.unkept, where=name)
    else:
        kept = shown_path(session.beside.draft.path.name)
        click.echo(f"Not saved: it is kept in {kept} beside the board and offered the next time.")


def _asked(name: str) -> str:
    """Return what is to become of unsaved work; whatever is no answer keeps it."""
    said = f"\nThere is unsaved work in {name}: save it, drop it or keep it for the next time"
    try:
        answer = click.prompt(
            said, default="keep", prompt_suffix=" [save/drop/keep]? ", show_default=False
        )
    except click.Abort:
        return "keep"
    word = str(answer).strip().lower()
    return next((w for w in _WORDS if word and w.startswith(word)), "keep")
