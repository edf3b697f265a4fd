"""Signals that end the program: the usual status, no traceback, no temporary file left.

Loaded before anything else, so it imports next to nothing: `signal` itself needs `enum`.
"""

from __future__ import annotations

import _signal  # type: ignore[import-not-found]
import os
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import FrameType
    from typing import Any

STOPPED = "sigsim: stopped; nothing more was written\n"
_NAMES = ("SIGINT", "SIGTERM", "SIGHUP")
_WAIT = 0.02  # seconds until it is looked again whether an import has ended
_PATIENCE = 5.0  # seconds in which the exception must have ended the program
_IMPORT = "<frozen importlib._bootstrap>"


class Stopped(KeyboardInterrupt):
    """A signal asked the program to end.

    Parameters
    ----------
    number : of the signal
    """

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.number = number


class _Situation:
    """What a signal meets.

    Attributes
    ----------
    raising : whether there is something that wants to hear of it before the end
    shields : how many stretches that must not be cut in two are being run
    asked : the signal that came, 0 for none
    told : whether it has become an exception
    patient : whether the first one from the keyboard is only noted
    noted : that one, 0 for none
    temporary : files to be removed where there is no time for more
    """

    def __init__(self) -> None:
        self.raising = False
        self.shields = 0
        self.asked = 0
        self.told = False
        self.patient = False
        self.noted = 0
        self.temporary: set[str] = set()


_now = _Situation()


def install() -> None:
    """Take over the signals that end a program, except those that are being ignored."""
    for name in _NAMES:
        number = getattr(_signal, name, None)
        if number is not None and _signal.getsignal(number) != _signal.SIG_IGN:
            _signal.signal(number, _came)
    if hasattr(_signal, "setitimer"):
        _signal.signal(_signal.SIGALRM, _again)
    sys.unraisablehook = _unraisable


def status(error: BaseException | None = None) -> int:
    """Return the exit status of a program that was stopped."""
    return 128 + (getattr(error, "number", 0) or _now.asked or _now.noted or _signal.SIGINT)


def was_asked() -> bool:
    """Whether a signal has asked the program to end."""
    return bool(_now.asked)


def clean() -> None:
    """Remove the temporary files that are left."""
    for name in list(_now.temporary):
        try:  # noqa: SIM105  contextlib would have to be loaded
            os.unlink(name)
        except OSError:
            pass
        _now.temporary.discard(name)


def leave(error: BaseException | None = None) -> None:
    """End the program at once; only temporary files are removed."""
    clean()
    try:  # noqa: SIM105
        os.write(2, STOPPED.encode())
    except OSError:
        pass
    os._exit(status(error))


def keep(name: str) -> None:
    """Note a temporary file."""
    _now.temporary.add(name)


def forget(name: str) -> None:
    """Forget a temporary file that is gone."""
    _now.temporary.discard(name)


class unwinding:
    """Within it a signal is an exception; outside it ends the program at once."""

    def __enter__(self) -> None:
        _now.raising = True

    def __exit__(self, *_: object) -> None:
        _now.raising = False


class patient:
    """Within it the first signal from the keyboard is only noted; the second does not wait."""

    def __enter__(self) -> None:
        _now.patient = True

    def __exit__(self, *_: object) -> None:
        _now.patient = False


def was_noted() -> bool:
    """Whether a signal came that was only noted."""
    return bool(_now.noted)


class shielded:
    """Within it a signal waits until the end."""

    def __enter__(self) -> None:
        _now.shields += 1

    def __exit__(self, *_: object) -> None:
        _now.shields -= 1
        if _now.asked and not _now.shields:
            _end(sys._getframe())


def _came(number: int, frame: FrameType | None) -> None:
    """Meet a signal; the second one does not wait for anything but a shield."""
    again = bool(_now.asked or _now.noted)
    if _now.patient and not again and number == _signal.SIGINT:
        _now.noted = number
        return
    _now.asked = _now.asked or number
    if _now.shields:
        return
    if again or not _now.raising:
        leave()
    _end(frame)


def _again(_number: int, frame: FrameType | None) -> None:
    if not _now.asked or _now.shields:
        return
    if _now.told:  # something on the way has swallowed the exception
        leave()
    _end(frame)


def _end(frame: FrameType | None) -> None:
    """Raise once, but not out of an import: a module half loaded fails in a way of its own."""
    if _now.told:
        return
    if not _now.raising:
        leave()
    if hasattr(_signal, "setitimer") and any(f.f_code.co_filename == _IMPORT for f in _up(frame)):
        _signal.setitimer(_signal.ITIMER_REAL, _WAIT)
        return
    _now.told = True
    if hasattr(_signal, "setitimer"):
        _signal.setitimer(_signal.ITIMER_REAL, _PATIENCE)
    raise Stopped(_now.asked)


def _up(frame: FrameType | None) -> Iterator[FrameType]:
    while frame is not None:
        yield frame
        frame = frame.f_back


def _unraisable(args: Any) -> None:
    """See to an exception where none can be raised, as in a finalizer."""
    if isinstance(args.exc_value, KeyboardInterrupt):
        leave(args.exc_value)
    sys.__unraisablehook__(args)
