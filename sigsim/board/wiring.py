"""The cable that is put between neighbours that name none."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sigsim.items.cable import Cable
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.items.base import Item


def wired(items: Sequence[Item], wiring: Cable | None, *, inside: bool) -> tuple[Item, ...]:
    """Return the items with the wiring cable wherever two neighbours have none between them.

    Parameters
    ----------
    items : as listed in the file
    wiring : the cable to put in, None for a direct connection
    inside : whether the items are a loop's, whose ends are wired as well
    """
    if wiring is None:
        return tuple(items)
    out: list[Item] = []
    bare = inside  # whether the point reached so far has no cable to the next stage
    for item in items:
        if isinstance(item, Cable):
            bare = False
        elif not isinstance(item, Tap):
            if bare:
                out.append(wiring)
            bare = True
        out.append(item)
    if inside and bare:
        out.append(wiring)
    return tuple(out)


def unwired(items: Sequence[Item], wiring: Cable | None) -> tuple[Item, ...]:
    """Return the items as the file lists them, without the cables that `wired` put in."""
    return tuple(item for item in items if item is not wiring)
