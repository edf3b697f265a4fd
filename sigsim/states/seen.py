"""How far apart what meets at a point can be, whatever of some disks it meets.

A row meets columns, and a column rows; each is one complex number a frequency here, the others
being 1. Over a disk the ratio of two of them lies within a hyperbolic distance of its value at
the centre, see `dominance`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.disks import Disks


@lru_cache
def weights(columns: int) -> FloatArray:
    """Return what the logarithm of 1/|H| counts in each column, see `options.score`."""
    half = columns // 2
    own = np.append(np.full(half - 1, 1 / (half - 1)), -1.0)
    return np.concatenate((own, -own))


class Seen(NamedTuple):
    """Values as they are seen over disks.

    Attributes
    ----------
    at : where each lies in the unit disk, shape (groups, columns, …)
    stretch : by how much distances grow there, the same shape
    lead : what each scores [nepers], shape (groups, …); minus infinity where it cannot be told
    """

    at: ComplexArray
    stretch: FloatArray
    lead: FloatArray

    @classmethod
    def over(cls, values: ComplexArray, base: FloatArray, disks: Disks) -> Seen:
        """Return values, shape (columns, …), with what they score already, as seen over disks."""
        shape = (*disks.centre.shape, *(1,) * (values.ndim - 1))
        centre, radius = disks.centre.reshape(shape), disks.radius.reshape(shape)
        met = 1.0 + values * centre
        at = radius * values / met
        inside = 1.0 - (at.real**2 + at.imag**2)
        height = np.log(met.real**2 + met.imag**2) / 2 + np.log(inside) / 2
        lead = np.tensordot(weights(len(values)), height, axes=(0, 1)) + base
        return cls(at, 1.0 / np.sqrt(inside), lead)

    def apart(self, one: tuple[Any, ...], other: tuple[Any, ...]) -> FloatArray:
        """Return how far some values are from others at most [nepers].

        Parameters
        ----------
        one, other : indices of values; what they yield has to fit together
        """
        away = np.abs(self.at[(..., *one)] - self.at[(..., *other)])
        away *= self.stretch[(..., *one)]
        away *= self.stretch[(..., *other)]
        found: FloatArray = np.tensordot(np.abs(weights(away.shape[1])), away, axes=(0, 1))
        return found
