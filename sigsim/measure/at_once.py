"""Recordings heard two at a time: their transforms leave the other processor free otherwise."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import import_module
from threading import Thread
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sigsim.measure.response import Heard

# Each takes some 100 MB of memory while it is heard.
_TOGETHER: Final = 2


def at_once(
    hear: Callable[[str, str], Heard], roles: Sequence[str], paths: Sequence[str]
) -> list[Heard]:
    """Return what recordings hold, in their order.

    Parameters
    ----------
    hear : one, from its role and its path
    roles, paths : of each

    Raises
    ------
    SigsimError : of the first with which something is wrong; those behind it may not be heard
    """
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(_TOGETHER) as pool:
        futures = [pool.submit(hear, *which) for which in zip(roles, paths, strict=True)]
        try:
            return [future.result() for future in futures]
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def starting() -> Thread:
    """Return a thread that loads what a fit needs, which takes as long as to hear a recording."""
    thread = Thread(target=import_module, args=("scipy.optimize",), daemon=True)
    thread.start()
    return thread
