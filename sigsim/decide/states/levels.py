"""Between which levels all states lie."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sigsim.metrics import LEVEL_HZ
from sigsim.states.measure import Measure
from sigsim.states.search import ranked

if TYPE_CHECKING:
    from sigsim.decide.states.question import StatesQuestion


def levels(question: StatesQuestion) -> tuple[float, float]:
    """Return the lowest and the highest level at 100 Hz [dB] of all states that give sound."""
    measure = Measure(np.array([LEVEL_HZ]), None)
    lowest, highest = (
        ranked(question.board, measure, largest=largest, fixed=question.fixed)[0].value
        for largest in (False, True)
    )
    return lowest, highest
