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


def wired(
    items: Sequence[Item], wiring: Cable | None, *, bare: bool = False, ends_bare: bool = False
) -> tuple[Item, ...]:
    """Return items with the wiring cable wherever two neighbours have none between them.

    Parameters
    ----------
    items : as listed in the file
    wiring : the cable to put in, None for a direct connection
    bare : whether it is wanted before the first of them
    ends_bare : whether it is wanted behind the last of them

    Returns
    -------
    the items; what is in a loop is wired as well, and at both of its ends, what is in a split at
    its beginning only
    """
    out: list[Item] = []
    for item, at_bare in zip(items, points(items, bare=bare), strict=False):
        if at_bare and wiring is not None and not isinstance(item, Cable | Tap | Split):
            out.append(wiring)
        if isinstance(item, Loop):
            inside = wired(item.inside, wiring, bare=True, ends_bare=True)
            item = replace(item, inside=inside)
        elif isinstance(item, Split):
            item = replace(item, inside=wired(item.inside, wiring, bare=True))
        out.append(item)
    if ends_bare and wiring is not None and list(points(items, bare=bare))[-1]:
        out.append(wiring)
    return tuple(out)


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
