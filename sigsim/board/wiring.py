"""From the items that a file lists to the chain as it is wired."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.items.base import Item


def wired(items: Sequence[Item], wiring: Cable | None, *, bare: bool = False) -> tuple[Item, ...]:
    """Return items with the wiring cable wherever two neighbours have none between them.

    Parameters
    ----------
    items : as listed in the file
    wiring : the cable to put in, None for a direct connection
    bare : whether it is wanted before the first of them

    Returns
    -------
    the items; what is in a loop is wired as well, and at both of its ends, what is in a split at
    its beginning only
    """
    return tuple(_wired(items, wiring, wiring, bare=bare))


def _wired(
    items: Sequence[Item], wiring: Cable | None, first: Cable | None, *, bare: bool
) -> Iterator[Item]:
    """Yield wired items; before the first that is no side way stands a cable of its own."""
    for item, at_bare in zip(items, points(items, bare=bare), strict=False):
        if not isinstance(item, Tap | Split):
            if at_bare and first is not None and not isinstance(item, Cable):
                yield first
            first = wiring
        if isinstance(item, Loop):
            item = replace(item, inside=_loop_wired(item, wiring))
        elif isinstance(item, Split):
            item = replace(item, inside=wired(item.inside, wiring, bare=True))
        yield item


def _loop_wired(loop: Loop, wiring: Cable | None) -> tuple[Item, ...]:
    """Return what is in a loop with its wiring: a board inside has its own, but for its ends."""
    own = loop.wiring if loop.board else wiring
    inside = tuple(_wired(loop.inside, own, wiring, bare=True))
    *_, ends_bare = points(loop.inside, bare=True)
    return inside if wiring is None or not ends_bare else (*inside, wiring)


def points(items: Sequence[Item], *, bare: bool = False) -> Iterator[bool]:
    """Yield for the point before each item, and behind all, whether no cable follows a stage there.

    Parameters
    ----------
    items : as listed in the file
    bare : whether a stage comes right before them
    """
    for item in items:
        yield bare
        if not isinstance(item, Tap | Split):
            bare = not isinstance(item, Cable)
    yield bare
