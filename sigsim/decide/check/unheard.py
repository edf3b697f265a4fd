"""What a file says that a player will not hear as they may think: cautions, none of it wrong."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.board.inside import boards_inside
from sigsim.decide.check.caution import Caution
from sigsim.items.base import Stage
from sigsim.items.instrument import PassiveInstrument, joined
from sigsim.items.loop import Loop
from sigsim.metrics import LEVEL_HZ
from sigsim.physics.arrays import scalar
from sigsim.physics.source import angular

# Two pickups out of phase sound thin; when so much is gone they hardly sound. Common practice, no
# source.
THIN_DB: Final = 12.0

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.controls import ToneControl


def source_cautions(board: Board) -> Iterator[Caution]:
    """Look at an instrument without a coil, tone controls without a pot, and polarities."""
    instrument = board.instrument
    if not isinstance(instrument, PassiveInstrument):
        return
    if not instrument.pickups and not np.any(instrument.inductance):
        resistance = scalar(instrument.resistance)
        yield Caution("resistive-source", "the instrument", {"resistance": resistance})
    owners: list[tuple[str, ToneControl]] = [("the instrument's", instrument)]
    owners += [(f"pickup '{pickup.name}':", pickup) for pickup in instrument.pickups]
    for whose, owner in owners:
        if np.any(owner.tone_capacitor) and not np.any(owner.tone_track):
            yield Caution("tone-without-pot", f"{whose} tone capacitor")
    yield from _polarity(instrument)


def _polarity(instrument: PassiveInstrument) -> Iterator[Caution]:
    """Look for a polarity that nobody hears, and for pickups of which nothing is left."""
    reversed_ = [pickup.name for pickup in instrument.pickups if pickup.polarity == "reversed"]
    if reversed_ and len(reversed_) == len(instrument.pickups):
        yield Caution("polarity-unheard", reversed_[0], {"names": tuple(reversed_)})
    elif reversed_:
        names = tuple(reversed_)
        softer = _softer(instrument)
        if softer == np.inf:
            yield Caution("pickups-cancel", "the pickups", {"names": names})
        elif softer >= THIN_DB:
            yield Caution("pickups-oppose", "the pickups", {"names": names, "softer": softer})


def cancelled(instrument: object) -> bool:
    """Return whether an instrument's pickups leave nothing of one another."""
    if not isinstance(instrument, PassiveInstrument):
        return False
    polarities = {pickup.polarity for pickup in instrument.pickups}
    return len(polarities) > 1 and _softer(instrument) == np.inf


def _softer(instrument: PassiveInstrument) -> float:
    """Return how much softer reversed pickups make it at 100 Hz than if none was reversed [dB]."""
    sources = instrument.sources(angular(np.array([LEVEL_HZ])))
    heard = [source for source in sources if np.any(source.E)]
    if len(heard) < 2:
        return 0.0
    same_way = [source._replace(E=np.abs(source.E)) for source in heard]
    found = (joined(each, instrument.pickups_wiring).E for each in (heard, same_way))
    left, whole = (float(np.abs(np.ravel(np.asarray(E))[0])) for E in found)
    return float(20 * np.log10(whole / left)) if left else float("inf")


def ends_of_one_name(board: Board) -> Iterator[Caution]:
    """Look for ends that no list can tell apart: their destinations have one name."""
    names = [board.destination.name, *(split.destination.name for split in board.splits())]
    for name in dict.fromkeys(names):
        if names.count(name) > 1:
            yield Caution("ends-alike", name, {"count": names.count(name)})


def unused_cautions(board: Board) -> Iterator[Caution]:
    """Look for cables that lie nowhere, and for wiring that is put nowhere.

    Of a board inside only its own file is asked: leads there and back take the place of its ends.
    """
    others = tuple(held.cables for held in boards_inside(board.listed))
    laid = {piece.cable for piece in board.pieces()}
    wiring = board.wiring
    if wiring is not None and wiring.cable not in laid:
        # With one box, wiring waits for the next.
        if sum(isinstance(item, Stage | Loop) for item in board.items()) > 1:
            yield Caution("unused-wiring", wiring.cable)
        laid.add(wiring.cable)
    for name in board.cables:
        if name not in laid and not name.startswith(others):
            yield Caution("unused-cable", name)


def always_on_in_scenes(board: Board) -> Iterator[Caution]:
    """Look for a stage without a switch that some scenes name and others do not.

    Whoever writes that thinks it is off in the others. Named in all of them it is just true.
    """
    fixed = [i.label for i in board.items() if isinstance(i, Stage) and i.switch is None]
    for stage in fixed:
        missing = tuple(name for name, on in board.scenes.items() if stage not in on)
        if missing and len(missing) < len(board.scenes):
            yield Caution("always-on-in-scenes", stage, {"scenes": missing})
