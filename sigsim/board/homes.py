"""Where a key belongs that was written into a table that has no such key."""

from __future__ import annotations

from collections.abc import Iterator

from sigsim.items.base import STAGE_KINDS
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.destination import Destination
from sigsim.items.fields import specs
from sigsim.items.instrument import ActiveInstrument, PassiveInstrument, Pickup
from sigsim.items.layout import BoxTable, LayoutTable
from sigsim.items.loop import BOARD_SPECS, Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap


def belongs(key: object) -> str:
    """Return the words that say which tables have a key, to put behind a sentence, or none."""
    homes = list(_homes(key)) if isinstance(key, str) else []
    return f"; it belongs to {' or '.join(homes)}" if homes else ""


def _homes(key: str) -> Iterator[str]:
    if key in specs(PassiveInstrument) or key == "pickups":
        yield "a passive [instrument]"
    if key in specs(Pickup):
        yield "[[instrument.pickups]]"
    if key in specs(ActiveInstrument):
        yield '[instrument] with type = "active"'
    if key in specs(Destination):
        yield "[destination]"
    if key in specs(CableSpec):
        yield "[cables.NAME]"
    if key in specs(Cable):
        yield "[wiring], a cable in [[chain]]"
    if key in specs(LayoutTable):
        yield "[layout]"
    if key in specs(BoxTable):
        yield "[boxes.NAME]"
    kinds = [kind for kind, stage in STAGE_KINDS.items() if key in specs(stage)]
    if kinds and len(kinds) == len(STAGE_KINDS):
        yield "a stage"
    else:
        yield from (f'a stage with kind = "{kind}"' for kind in kinds)
    if key in specs(Loop) or key == "inside" or key in BOARD_SPECS:
        yield "a loop"
    if key in specs(Split) or key in ("inside", "destination"):
        yield "a split"
    if key in specs(Tap):
        yield "a tap"
