"""Places of a chain at which no cable connects two neighbours: probably forgotten."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from sigsim.decide.check.caution import Caution
from sigsim.items.cable import Cable
from sigsim.items.instrument import PassiveInstrument
from sigsim.items.loop import Loop
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item


def joint_cautions(board: Board) -> Iterator[Caution]:
    """Look for a lead, cables between boxes and a cable to the destination that are not there.

    Without a lead only a passive instrument is asked about: a receiver or an active output has
    none, or drives an ordinary one without loss.
    """
    through = list(_through(board.listed))
    first = through[0].label if through else board.destination.name
    no_lead = not through or not isinstance(through[0], Cable)
    if no_lead and isinstance(board.instrument, PassiveInstrument):
        yield Caution("no-lead", first)
    joints = list(_joints(board.listed, inside=False))
    bare = joints.count(True)
    if bare and board.wiring is None:
        yield Caution("no-patch-cable", "", {"bare": bare, "joints": len(joints)})
    if through and not isinstance(through[-1], Cable):
        yield Caution("no-amp-cable", through[-1].label, {"destination": board.destination.name})


def _through(items: Sequence[Item]) -> Iterator[Item]:
    """Yield what the signal always passes: no side cable, no loop that only adds a cable."""
    for item in items:
        if isinstance(item, Loop) and all(isinstance(i, Cable | Tap) for i in item.inside):
            continue
        if not isinstance(item, Tap):
            yield item


def _joints(items: Sequence[Item], *, inside: bool) -> Iterator[bool]:
    """Yield for each joint of two boxes whether no cable is in it.

    Inside a loop its two ends count as boxes.
    """
    boxed, bare, boxes = inside, True, False
    for item in _through(items):
        if isinstance(item, Cable):
            bare = False
            continue
        if boxed:
            yield bare
        boxed, bare, boxes = True, True, True
        if isinstance(item, Loop):
            yield from _joints(item.inside, inside=True)
    if inside and boxes:
        yield bare
