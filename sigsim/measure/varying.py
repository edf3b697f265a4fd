"""What the tolerances of a plan make of the losses that it predicts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.measure.predicted import Layout, Prediction
from sigsim.metrics import USUAL_BASIS, over_level
from sigsim.states.varied import at_places, places, varied

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.physics.arrays import FloatArray

# Enough for 2.5 % and 97.5 %: their own scatter then is a tenth of the interval.
DRAWS: Final = 300
_SEED: Final = 1
# So many numbers an array are solved at once, as many as fit a processor's cache.
_AT_ONCE: Final = 1 << 14


@dataclass(frozen=True, eq=False)
class Varying:
    """How the draws of a plan differ from the plan as written.

    Attributes
    ----------
    loss : of the draws less that of the plan [dB], shape (draws, size of the layout)
    treble : treble losses of the draws less those of the plan [dB], shape (draws, states)
    """

    loss: FloatArray
    treble: FloatArray


def varying(plan: Prediction, layout: Layout) -> Varying:
    """Draw boards within the tolerances of a plan, none where no figure has one.

    Parameters
    ----------
    plan : as written
    layout : where to compare them
    """
    quantities = varied(plan.board)
    rows = DRAWS if quantities else 0
    loss, treble = np.empty((rows, layout.size)), np.empty((rows, len(layout.states)))
    written = layout.loss(plan), treble_losses(plan, layout.states)
    generator = np.random.default_rng(_SEED)
    most = max(1, _AT_ONCE // max(1, layout.size // len(layout.states)))
    for start in range(0, rows, most):
        part = slice(start, min(start + most, rows))
        u = places(generator, part.stop - part.start, len(quantities), normal=False)
        drawn = _drawn(plan, at_places(plan.board, quantities, u))
        loss[part] = layout.loss(drawn, len(u)) - written[0]
        treble[part] = treble_losses(drawn, layout.states, len(u)) - written[1]
    # A draw in which nothing comes out says nothing about how much does.
    kept = np.isfinite(loss).all(axis=1) & np.isfinite(treble).all(axis=1)
    return Varying(loss[kept], treble[kept])


def _drawn(plan: Prediction, board: Board) -> Prediction:
    return Prediction(board, plan.means, beside=plan)


def treble_losses(board: Prediction, states: Sequence[On], rows: int = 1) -> FloatArray:
    """Return the treble loss of each state [dB], shape (rows, states).

    Parameters
    ----------
    board : one or many
    states : what is on in each
    rows : how many boards they are
    """
    f = USUAL_BASIS.frequency
    found = [np.broadcast_to(over_level(board.loss(on, f)), (rows,)) for on in states]
    return np.stack(found, axis=-1)
