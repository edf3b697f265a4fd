"""Cables whose length follows from a layout that is known only when all of a file is read."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from sigsim.board.laying import Laying
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.layout.model import Layout

if TYPE_CHECKING:
    from sigsim.items.base import Item

# Stands for the layout of a file until its chain is read.
AWAITED: Final = Laying(Layout("", (0.0, 0.0), ()))


def with_layout(items: tuple[Item, ...], laying: Laying) -> tuple[Item, ...]:
    """Return the items of a file in which every cable without a length knows the layout.

    Parameters
    ----------
    items : as read; those of a board inside it have the layout of that file already
    laying : of the file itself
    """
    return tuple(_with_layout(item, laying) for item in items)


def _with_layout(item: Item, laying: Laying) -> Item:
    if isinstance(item, Loop | Split):
        return replace(item, inside=with_layout(item.inside, laying))
    return cable_with_layout(item, laying) if isinstance(item, Cable) else item


def cable_with_layout(cable: Cable, laying: Laying) -> Cable:
    """Return one cable of a file, with the layout if it awaits one."""
    return replace(cable, lays=laying) if cable.lays is AWAITED else cable
