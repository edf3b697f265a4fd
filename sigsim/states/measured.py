"""Measures of many states from the forms of their halves, with few logarithms."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.rows import NEPER_DB

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.forms import Scratch
    from sigsim.states.halves import Table

    Forms = Callable[[ComplexArray, ComplexArray], FloatArray]

# Decibels of a factor of two.
_BIT_DB: Final = NEPER_DB * float(np.log(2))
# So many powers are multiplied before a logarithm is taken of them.
_FACTORS: Final = 7
# Where a sum of products is less than this share of them, it is taken from complex numbers.
_CANCELS: Final = 1e-6
_LEAST: Final = 1e-40


class Measured:
    """Rows or columns in the columns of a graph in which measures are taken.

    Parameters
    ----------
    table : the rows
    forms : of their side
    start : the first of these columns
    """

    def __init__(self, table: Table, forms: Forms, start: int) -> None:
        self.p, self.q = table.p[:, start:], table.q[:, start:]
        self.scale = table.scale[:, start:].astype(float)
        self.forms = np.ascontiguousarray(forms(self.p, self.q).transpose(2, 0, 1))


class Sums:
    """How measures follow from |H|².

    Parameters
    ----------
    weights : of the logarithm of 1/|H| in each column [dB], shape (columns, measures)
    offsets : what is added to each measure [dB], shape (measures,)
    """

    def __init__(self, weights: FloatArray, offsets: FloatArray) -> None:
        self.weights, self.offsets = weights, offsets
        # Columns whose weights are the same, but for the sign, share a logarithm.
        signs = np.sign(weights[np.arange(len(weights)), np.abs(weights).argmax(axis=1)])
        same, group = np.unique(weights * signs[:, None], axis=0, return_inverse=True)
        self.groups = []
        for number, weight in enumerate(same):
            columns = np.flatnonzero(group.ravel() == number)
            if not weight.any():
                continue
            parts = (columns[i : i + _FACTORS] for i in range(0, columns.size, _FACTORS))
            self.groups += [(weight, [(c, signs[c] > 0) for c in part.tolist()]) for part in parts]

    def of(self, rows: Measured, columns: Measured, scratch: Scratch) -> FloatArray:
        """Return the measures of each row with each column.

        Parameters
        ----------
        rows, columns : the halves
        scratch : memory, which holds what is returned

        Returns
        -------
        shape (measures, rows, columns) [dB]
        """
        shape = len(rows.p), len(columns.p)
        found: FloatArray = scratch.room("sums", (len(self.offsets), *shape), float)
        left, right = rows.scale @ self.weights, columns.scale @ self.weights
        left, right = _BIT_DB / NEPER_DB * left + self.offsets, _BIT_DB / NEPER_DB * right
        np.add(left.T[:, :, None], right.T[:, None], out=found)
        product = scratch.room("product", shape, float)
        taken = scratch.room("taken", shape, float)
        for weight, members in self.groups:
            product.fill(1.0)
            for column, above in members:
                self._power(rows, columns, column, scratch)
                power = scratch.room("power", shape, float)
                (np.multiply if above else np.divide)(product, power, out=product)
            np.log(product, out=product)
            for number in np.flatnonzero(weight).tolist():
                np.multiply(product, weight[number] / 2, out=taken)
                found[number] += taken
        return found

    @staticmethod
    def _power(rows: Measured, columns: Measured, column: int, scratch: Scratch) -> None:
        """Put |H|² of each row with each column of one frequency into the room for it."""
        shape = len(rows.p), len(columns.p)
        power, terms = scratch.room("power", shape, float), scratch.room("terms", shape, float)
        left, right = rows.forms[column], columns.forms[column]
        np.matmul(left, right.T, out=power)
        np.matmul(left[:, :2], right[:, :2].T, out=terms)
        terms *= _CANCELS
        lost = power < terms
        if lost.any():
            row, other = lost.nonzero()
            p, q = rows.p[row, column], rows.q[row, column]
            H = p * columns.p[other, column] + q * columns.q[other, column]
            power[row, other] = H.real**2 + H.imag**2
        np.maximum(power, _LEAST, out=power)
