"""A block of states with all its numbers, from two halves of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sigsim.states.shape import Shapes

if TYPE_CHECKING:
    from typing import TypeAlias

    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray
    from sigsim.states.forms import Half, Scratch
    from sigsim.states.refined import Refiner

    Bits: TypeAlias = NDArray[np.uint64]


@dataclass(frozen=True)
class StateBlock:
    """Some states with all their numbers; not a number stands for none.

    Corner and resonance of every state that the board names are refined on the exact model, those
    of the others interpolated on its grid, within 0.2 %.

    Attributes
    ----------
    on : what is on as bits, in the order of the board's switches, shape (states,)
    measures : [dB] in the order of the measures asked for, shape (measures, states)
    corner, resonance : [Hz], shape (states,)
    resonance_height : [dB], shape (states,)
    """

    on: Bits
    measures: FloatArray
    corner: FloatArray
    resonance: FloatArray
    resonance_height: FloatArray


def solve_block(
    on: Bits,
    measured: tuple[FloatArray, NDArray[np.bool_]],
    left: Half,
    right: Half,
    refiner: Refiner,
    scratch: Scratch,
) -> StateBlock:
    """Return the states that are every row of `left` with every one of `right`.

    Parameters
    ----------
    on : what is on as bits, shape (states,), the right rows fastest
    measured : the measures, shape (measures, states), and which states are silent
    left, right : the halves
    refiner : finds on the exact model what these do not tell well enough
    scratch : memory of the thread
    """
    found, silent = measured
    with np.errstate(all="ignore"):
        shapes = Shapes(left, right, scratch)
        corner, bent = shapes.corners()
        resonance, height, rough = shapes.resonances()
    for row in refiner.rows(on, ~silent, np.concatenate((bent, rough))):
        corner[row], resonance[row], height[row] = refiner.numbers(int(on[row]))
    return StateBlock(on, found, corner, resonance, height)
