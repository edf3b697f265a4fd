"""What a file says that a player will not hear as they may think: cautions, none of it wrong."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from sigsim.decide.check.caution import Caution
from sigsim.items.base import Stage
from sigsim.items.instrument import PassiveInstrument
from sigsim.items.loop import Loop
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from sigsim.board.model import Board


def source_cautions(board: Board) -> Iterator[Caution]:
    """Look at an instrument without a coil, and at a tone control without a pot."""
    instrument = board.instrument
    if not isinstance(instrument, PassiveInstrument):
        return
    if not instrument.pickups and not np.any(instrument.inductance):
        resistance = scalar(instrument.resistance)
        yield Caution("resistive-source", "the instrument", {"resistance": resistance})
    if np.any(instrument.tone_capacitor) and not np.any(instrument.tone_track):
        yield Caution("tone-without-pot", "the instrument's tone capacitor")


def unused_cautions(board: Board) -> Iterator[Caution]:
    """Look for cables that lie nowhere, and for wiring that is put nowhere."""
    laid = {piece.cable for piece in board.pieces()}
    wiring = board.wiring
    if wiring is not None and wiring.cable not in laid:
        # With one box, wiring waits for the next.
        if sum(isinstance(item, Stage | Loop) for item in board.items()) > 1:
            yield Caution("unused-wiring", wiring.cable)
        laid.add(wiring.cable)
    for name in board.cables:
        if name not in laid:
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
