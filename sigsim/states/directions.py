"""Rows that are alike but for their size: those behind one isolator, whatever came before it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.halves import OHMS

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Index
    from sigsim.states.halves import Table

# So many rows of one direction are worth a table of columns of their own.
_WORTH: Final = 16
# Directions [rad] that differ by less are one, which is far more than rounding and changes nothing.
_SAME: Final = 1e-11
# In which steps they are sorted, and at how many columns.
_STEP, _LOOKED_AT = 1e-6, 5


def directions(rows: Table) -> tuple[list[Index], Index]:
    """Return groups of rows that are alike but for their size, and the rows that are in none.

    Parameters
    ----------
    rows : of one node, scaled
    """
    count, columns = rows.p.shape
    looked_at = np.linspace(0, columns - 1, _LOOKED_AT).astype(int)
    x, y = rows.p[:, looked_at], rows.q[:, looked_at] / OHMS
    # Their place on the sphere of all directions, wherever on it.
    size = np.abs(x) ** 2 + np.abs(y) ** 2
    across = 2 * x * y.conj() / size
    places = np.concatenate(
        (across.real, across.imag, (np.abs(x) ** 2 - np.abs(y) ** 2) / size), axis=1
    )
    keys = np.rint(np.nan_to_num(places) / _STEP).astype(np.int64)
    _, group, sizes = np.unique(keys, axis=0, return_inverse=True, return_counts=True)
    found, alone = [], np.ones(count, bool)
    for number in np.flatnonzero(sizes >= _WORTH):
        members = np.flatnonzero(group.ravel() == number)
        members = members[_apart(rows, int(members[0]), members) < _SAME]
        if members.size >= _WORTH:
            found.append(members)
            alone[members] = False
    return found, np.flatnonzero(alone)


def sizes(p: ComplexArray, q: ComplexArray) -> FloatArray:
    """Return the size of rows: that of p and q/ohms together."""
    found: FloatArray = np.hypot(np.abs(p), np.abs(q) / OHMS)
    return found


def _apart(rows: Table, one: int, others: Index) -> FloatArray:
    """Return how far the directions of rows are from that of one, at most over all columns."""
    p, q = rows.p[others], rows.q[others]
    across = np.abs(p * rows.q[one] - q * rows.p[one]) / OHMS
    found: FloatArray = (across / (sizes(p, q) * sizes(rows.p[one], rows.q[one]))).max(axis=1)
    return np.where(np.isnan(found), np.inf, found)
