"""Places of a chain at which no cable connects two neighbours: probably forgotten."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from sigsim.board.ends import ends
from sigsim.board.relaid import layings
from sigsim.decide.check.caution import Caution
from sigsim.items.cable import Cable
from sigsim.items.instrument import PassiveInstrument
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.items.destination import Destination


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
    several = tuple({*box.loops} for one in layings(board) for box in one.layout.boxes.values())
    joints = list(_joints(board.listed, board.wiring, several=several))
    bare = joints.count(True)
    if bare:
        yield Caution("no-patch-cable", "", {"bare": bare, "joints": len(joints)})
    if through and not isinstance(through[-1], Cable):
        yield _no_cable(through[-1].label, board.destination)
    for split in ends(board.listed):
        yield from _last_of_split(split)


def hangs_open(split: Split) -> bool:
    """Return whether a cable leads from a split to nothing."""
    through = list(_through(split.inside))
    return split.destination.open and bool(through) and isinstance(through[-1], Cable)


def _last_of_split(split: Split) -> Iterator[Caution]:
    """Look for the cable to the destination of a split, unless it has none."""
    through = list(_through(split.inside))
    last = through[-1] if through else split
    if not isinstance(last, Cable) and not split.destination.open:
        yield _no_cable(last.label, split.destination, split.split)


def _no_cable(name: str, end: Destination, split: str = "") -> Caution:
    return Caution("no-amp-cable", name, {"destination": end.name, "split": split})


def _through(items: Sequence[Item]) -> Iterator[Item]:
    """Yield what the signal always passes: no side way, no loop that only adds a cable."""
    for item in items:
        if isinstance(item, Loop) and all(isinstance(i, Cable | Tap | Split) for i in item.inside):
            continue
        if not isinstance(item, Tap | Split):
            yield item


def _joints(
    items: Sequence[Item],
    wiring: Cable | None,
    ends: tuple[Cable | None, Cable | None] = (None, None),
    *,
    begin: bool = False,
    end: bool = False,
    several: tuple[set[str], ...] = (),
) -> Iterator[bool]:
    """Yield for each joint of two boxes whether no cable is in it.

    Parameters
    ----------
    items : of the chain, of a loop or of a split
    wiring : that is put between them
    ends : that is put at their beginning and at their end
    begin, end : whether their beginning and their end count as boxes: both in a loop, in a split
        the beginning
    several : the loops of each box that joins its own
    """
    boxed, bare, boxes, put = begin, True, False, ends[0] if begin else wiring
    before = ""
    for item in _through(items):
        if isinstance(item, Cable):
            bare = False
            continue
        if boxed and not any({before, item.label} <= loops for loops in several):
            yield bare and put is None
        before = item.label
        boxed, bare, boxes, put = True, True, True, wiring
        if isinstance(item, Loop):
            own = item.wiring if item.board else wiring
            both = (wiring, wiring)
            yield from _joints(item.inside, own, both, begin=True, end=True, several=several)
    if end and boxes:
        yield bare and ends[1] is None
    for item in items:
        if isinstance(item, Split):
            yield from _joints(item.inside, wiring, (wiring, None), begin=True, several=several)
