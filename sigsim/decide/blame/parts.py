"""What a state of a board is made of, each thing with its ideal in place of it.

A suspect is one thing that can cost treble: a piece of cable, the switch and wiring of a stage
that is off, an input. Made ideal, a cable has no length and no plugs, what is off is a perfect
wire, a tap or the other way at a split is absent and an input is open, so that nothing loads what
drives it.
"""

from __future__ import annotations

import dataclasses
import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.items.cable import Cable
from sigsim.items.split import Branch
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap
from sigsim.states.path import Met, in_reference, path

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.items.base import Item
    from sigsim.metrics import Reference

CABLES: Final = "cables"
BYPASS: Final = "bypass wiring"
BUFFERS: Final = "buffers of stages that are off"
TAPS: Final = "taps"
SPLITS: Final = "splits"
INPUTS: Final = "loading by inputs"
PASSIVE: Final = "passive stages that are on"
LEAD: Final = "instrument's lead"
DESTINATION: Final = "destination"
GROUPS: Final = (CABLES, BYPASS, INPUTS, DESTINATION, BUFFERS, TAPS, SPLITS, PASSIVE, LEAD)


@dataclass(frozen=True)
class Suspect:
    """One thing to blame.

    Attributes
    ----------
    name : what a person calls it
    group : what it belongs to, one of `GROUPS`
    in_reference : whether the reference has it too, so that the loss does not count it
    real : the item in the chain; None for the destination
    ideal : what takes its place, None for nothing at all
    on : whether the item is on
    cable : for a piece of cable its name under `[cables]`, else empty
    """

    name: str
    group: str
    in_reference: bool
    real: Item | None
    ideal: Item | None
    on: bool
    cable: str = ""


def suspects(board: Board, on: On, reference: Reference) -> tuple[Suspect, ...]:
    """Return everything the signal meets in a state, in order, the destination last."""
    way = [part for met in path(board.chain, on) for part in _parts(met)]
    found = [_suspect(met, _place(board, way, number), reference) for number, met in enumerate(way)]
    found.append(Suspect(board.end.name, DESTINATION, True, None, None, True))
    return _told_apart(found)


def _told_apart(found: Sequence[Suspect]) -> tuple[Suspect, ...]:
    """Number the suspects that would have the same name, such as two cables at a loop's end."""
    total, seen = Counter(suspect.name for suspect in found), Counter[str]()
    named = []
    for suspect in found:
        seen[suspect.name] += 1
        number = f" ({seen[suspect.name]})" if total[suspect.name] > 1 else ""
        named.append(dataclasses.replace(suspect, name=suspect.name + number))
    return tuple(named)


def _parts(met: Met) -> Iterator[Met]:
    """Yield what is met, a hardwired stage that is off as its input and then its switch."""
    item, on = met
    if isinstance(item, ActiveStage) and not on and item.bypass == "hardwire":
        yield Met(dataclasses.replace(item, contact_resistance=0.0, wiring_capacitance=0.0), False)
        yield Met(dataclasses.replace(item, bypass="true"), False)
    else:
        yield met


def _place(board: Board, way: Sequence[Met], number: int) -> str:
    """Return between which two things a piece of cable lies."""
    before = next(_anchors(reversed(way[:number])), "instrument")
    after = next(_anchors(way[number + 1 :]), board.end.name)
    return f"{before} → {after}"


def _anchors(way: Iterable[Met]) -> Iterator[str]:
    for item, _ in way:
        if not isinstance(item, Cable | Tap | Branch):
            yield item.label


def _suspect(met: Met, place: str, reference: Reference) -> Suspect:
    item, on = met
    if isinstance(item, Cable):
        group = LEAD if item.is_lead else CABLES
        kept = in_reference(item, on, reference)
        return Suspect(f"{item.cable}: {place}", group, kept, item, None, on, item.cable)
    if isinstance(item, Tap):
        return Suspect(f"{item.tap} (tap)", TAPS, False, item, None, on)
    if isinstance(item, Branch):
        name = item.split if item.turned else f"{item.split} (split)"
        return Suspect(name, SPLITS, False, item, None, on)
    kept = in_reference(item, on, reference)
    if isinstance(item, ActiveStage):
        return _stage(item, on, kept)
    if on:
        return Suspect(f"{item.label} (on)", PASSIVE, kept, item, None, on)
    return Suspect(f"{item.label} (off)", BYPASS, False, item, None, on)


def _stage(item: ActiveStage, on: bool, kept: bool) -> Suspect:
    if on:
        return Suspect(f"{item.stage}: its input", INPUTS, kept, item, _unloading(item), on)
    if item.bypass == "hardwire":
        return Suspect(f"{item.stage} (off): its input", INPUTS, False, item, None, on)
    if item.bypass == "buffered":
        return Suspect(f"{item.stage} (off): its buffer", BUFFERS, False, item, None, on)
    return Suspect(f"{item.stage} (off)", BYPASS, False, item, None, on)


def _unloading(stage: ActiveStage) -> ActiveStage:
    """Return a stage whose input loads nothing; gain, own corners and output stay."""
    return dataclasses.replace(
        stage,
        input_resistance=math.inf,
        input_capacitance=0.0,
        input_series_resistance=0.0,
        input_capacitor=None,
    )
