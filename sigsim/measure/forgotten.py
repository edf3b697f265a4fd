"""Whether a plan fits when it is driven, or compared, otherwise than was said."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.measure.predicted import WITHOUT, Prediction, Without, as_measured

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.measure.known import Across
    from sigsim.measure.predicted import Layout
    from sigsim.physics.arrays import FloatArray

# The resistor of the measuring box [Ω].
_USUAL: Final = 100e3
# What leaves no more than this part of the difference was most likely forgotten.
_EXPLAINS: Final = 0.35
# A figure that explains about as much is the likelier mistake.
_BETTER: Final = 0.5


def forgotten(
    board: Board,
    driven_by: float | None,
    interface: Across | None,
    means: Without,
    layout: Layout,
    measured: FloatArray,
    unexplained: float,
) -> str | None:
    """Return a sentence on the option that was most likely forgotten, None for none.

    Parameters
    ----------
    board : the plan
    driven_by : as it was said [Ω], None for the instrument
    interface : what reads it, None for the destination
    means : what the recording without the board went through, as it was taken
    layout : where to compare
    measured : the loss there [dB]
    unexplained : what the best single figure leaves of the difference, 0 to 1
    """

    def left(source: float | None, through: Without) -> float:
        plan = Prediction(as_measured(board, source, interface), through)
        difference = measured - layout.loss(plan)[0]
        size = float(np.sqrt(np.mean(difference**2)))
        return size if np.isfinite(size) else np.inf

    before = left(driven_by, means)
    tried = [(left(source, through), said) for source, through, said in _others(driven_by, means)]
    least, said = min(tried)
    if not least <= min(_EXPLAINS, _BETTER * unexplained) * before:
        return None
    return f"with {said} the plan fits far better: was that forgotten?"


def _others(driven_by: float | None, means: Without) -> Iterator[tuple[float | None, Without, str]]:
    """Yield what else may drive the board and stand for it, and how that is said."""
    if driven_by is None:
        yield _USUAL, "bare", '--driven-by "100 kΩ" (or what the resistor is)'
    else:
        yield None, "direct", "--driven-by instrument"
    for other in WITHOUT:
        if other != means:
            yield driven_by, other, f"--without-means {other}"
