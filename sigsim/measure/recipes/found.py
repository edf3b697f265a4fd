"""What all recipes hand back, put together once."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sigsim.errors import SigsimError
from sigsim.measure.problem import MIDDLE
from sigsim.measure.result import Curve, Measured
from sigsim.physics.source import angular

if TYPE_CHECKING:
    from sigsim.measure.result import Assumed, Figure
    from sigsim.measure.solving import Solved

# What is left of the level from which on the circuit is in doubt, and from which it is another
# one [dB].
_DOUBTFUL, _ABSURD = 0.5, 3.0
# Less is worth a word too where it is this many times what noise leaves, and this much [dB].
_TIMES, _SEEN = 5.0, 0.05


def found(
    recipe: str,
    solved: Solved,
    figures: Mapping[str, Figure],
    *,
    point: Mapping[str, Figure] | None = None,
    assumed: Mapping[str, Assumed] | None = None,
    pairs: tuple[tuple[str, str], ...] = (),
    notes: Sequence[str] = (),
) -> Measured:
    """Return what a recipe found, with the curves it rests on.

    Raises
    ------
    SigsimError : the circuit of the recipe is not what was recorded
    """
    left = solved.residual_db
    if left > _ABSURD:
        raise SigsimError(
            f"these recordings do not fit the circuit of this recipe by {left:.1f} dB: see that "
            f"each was made as its option says, and nothing was moved but what had to be",
            where=f"measure {recipe}",
        )
    said = [*solved.doubts, *notes]
    if left > _DOUBTFUL or left > max(_SEEN, _TIMES * solved.noise_db):
        said.append(
            f"The circuit of this recipe leaves {left:.2g} dB unexplained: take the figures with "
            f"care, and look at the plot (--plot)."
        )
    sure, at_point = _all_told(figures), _all_told(point or {})
    return Measured(
        recipe, {}, sure, at_point, assumed or {}, pairs, left, notes=tuple(said),
        curves=curves(solved),
    )  # fmt: skip


def _all_told(figures: Mapping[str, Figure]) -> dict[str, Figure]:
    return {key: _told(figure) for key, figure in figures.items()}


def _told(figure: Figure) -> Figure:
    """Return a figure without ends that are nowhere, and without a value that may be anything."""
    low, high = (
        None if end is None or not math.isfinite(end) else end for end in (figure.low, figure.high)
    )
    if isinstance(figure.value, str) or high == figure.high:
        return replace(figure, low=low, high=high)
    return replace(figure, value=None, low=low or None, high=None)


def curves(solved: Solved) -> tuple[Curve, ...]:
    """Return each ratio as it was measured, its delay out, and as the circuit has it."""
    made = []
    for i, o in enumerate(solved.observed):
        ratio = o.ratio
        drift = _own(solved, f"drift {i}") * np.log(ratio.frequency / MIDDLE)
        late = o.delay + _own(solved, f"delay {i}") + drift
        straight = ratio.T * np.exp(2j * np.pi * ratio.frequency * late)
        fitted = o.predict(solved.values, angular(ratio.frequency))[0]
        made.append(Curve(replace(ratio, T=straight), fitted))
    return tuple(made)


def _own(solved: Solved, name: str) -> float:
    return solved.value(name) if any(u.name == name for u in solved.unknowns) else 0.0
