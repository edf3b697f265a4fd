"""Which state to record next, so that fewer figures can be the one that is wrong."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, islice
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.board.rebuilt import Rebuilt
from sigsim.measure.candidates import Candidate, Switched, flipped
from sigsim.measure.predicted import Layout, Prediction
from sigsim.metrics import SILENT_DB

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.measure.suspects import Fit
    from sigsim.physics.arrays import FloatArray

# So many suspects and states are looked at; more take time and say no more.
_MOST_FITS: Final = 24
_MOST_STATES: Final = 60
# A difference this large [dB, root mean square] tells two suspects apart.
_TOLD_APART_DB: Final = 0.05
# A recording is worth the trouble if so many suspects are left of ten.
_WORTH: Final = 0.85
_FREQUENCY: Final = np.geomspace(100.0, 10e3, 21)


def record_next(
    plan: Prediction, states: Sequence[On], tied: Sequence[Fit]
) -> tuple[str, ...] | None:
    """Return what is on in the state that would tell most of the suspects apart.

    Parameters
    ----------
    plan : as written
    states : what is on in the recordings that there are
    tied : the suspects that those cannot tell apart

    Returns
    -------
    names in the order of the chain, None where no state would help
    """
    looked_at = _spread_out(tied)
    if len(looked_at) < 2:
        return None
    found: tuple[float, On] | None = None
    many = _Many(plan, looked_at)
    for on in islice(_others(plan.board, states), _MOST_STATES):
        left = many.left_over(on)
        if left is not None and (found is None or left < found[0] - 1e-9):
            found = left, on
    if found is None or found[0] > _WORTH * len(looked_at):
        return None
    return plan.board.state(found[1]).on


def _spread_out(tied: Sequence[Fit]) -> list[Fit]:
    """Return suspects from all over the list, the first one included."""
    if len(tied) <= _MOST_FITS:
        return list(tied)
    at = np.unique(np.rint(np.linspace(0, len(tied) - 1, _MOST_FITS)).astype(int))
    return [tied[i] for i in at.tolist()]


def _others(board: Board, states: Sequence[On]) -> Iterator[On]:
    """Yield the states that were not recorded, those with the fewest things on first."""
    recorded = {board.heard(on) for on in states}
    for count in range(3):
        for names in combinations(board.switches(), count):
            if board.heard(names) == frozenset(names) and frozenset(names) not in recorded:
                yield frozenset(names)


class _Many:
    """The board as each of some suspects would have it, one row each."""

    def __init__(self, plan: Prediction, tied: Sequence[Fit]) -> None:
        self.plan, self.tied = plan, tied
        changes: dict[int, dict[str, Any]] = {}
        for row, fit in enumerate(tied):
            if isinstance(fit.candidate, Candidate):
                keys = changes.setdefault(id(fit.candidate.owner), {})
                column = keys.setdefault(
                    fit.candidate.key, np.full((len(tied), 1), fit.candidate.written)
                )
                column[row] = fit.value
        self.rows = Prediction(Rebuilt(changes).board(plan.board), plan.means)

    def left_over(self, on: On) -> float | None:
        """Return how many suspects a recording of a state would leave, as a mean over them.

        None where nothing comes out in that state.
        """
        layout = Layout((on,), (_FREQUENCY,))
        losses = layout.loss(self.rows, len(self.tied))
        for row, fit in enumerate(self.tied):
            switch = fit.candidate
            if isinstance(switch, Switched):
                stood = flipped(on, switch.name) if self._stands(switch, on) else on
                losses[row] = layout.loss(self.plan, built={0: stood})[0]
        if not np.all(np.abs(losses) < -SILENT_DB):
            return None
        apart = _differences(losses) > _TOLD_APART_DB
        return float(np.mean(np.sum(~apart, axis=1)))

    def _stands(self, switch: Switched, on: On) -> bool:
        """Whether a switch that stood otherwise all the time would do so in a state as well."""
        return switch.everywhere and (switch.name in on) == (switch.change < 0)


def _differences(losses: FloatArray) -> FloatArray:
    """Return the root mean square differences of rows [dB], shape (rows, rows)."""
    apart: FloatArray = np.sqrt(np.mean((losses[:, None] - losses[None]) ** 2, axis=2))
    return apart
