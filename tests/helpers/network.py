"""Modified nodal analysis of a linear network on a grid of frequencies.

Kirchhoff's laws for every node, solved all at once (Ho, Ruehli and Brennan, "The modified nodal
approach to network analysis", IEEE Trans. Circuits and Systems 22 (1975), from memory).

Two choices keep a double's digits over values from milliohms to megohms: what is in series is a
branch with a current of its own, never a large admittance; and a wire joins two nodes into one.
Inside, voltages are in volts, currents in milliamperes, impedances in kilohms.
"""

from __future__ import annotations

from typing import Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

Complex: TypeAlias = NDArray[np.complexfloating[Any, Any]]
Number: TypeAlias = float | complex | Complex

GROUND = 0
KILO = 1e3


class _Branch(NamedTuple):
    """One current unknown: where it leaves and enters, and the equation of its voltage."""

    current: dict[int, float]
    voltage: dict[int, float]
    impedance: Number
    emf: float


class Network:
    """A linear network on a grid of frequencies [Hz]."""

    def __init__(self, frequency: NDArray[np.float64]) -> None:
        self.jw: Complex = 2j * np.pi * frequency
        self._joined = [GROUND]
        self._shunts: list[tuple[int, int, Number]] = []
        self._branches: list[_Branch] = []

    def node(self) -> int:
        """Return a new node."""
        self._joined.append(len(self._joined))
        return len(self._joined) - 1

    def wire(self, a: int, b: int) -> None:
        """Make two nodes one; ground stays ground."""
        low, high = sorted((self._root(a), self._root(b)))
        self._joined[high] = low

    def admittance(self, a: int, Y: Number, b: int = GROUND) -> None:
        """Put an admittance [S] between two nodes."""
        self._shunts.append((a, b, Y * KILO))

    def impedance(self, a: int, b: int, Z: Number) -> None:
        """Put an impedance [Ω] between two nodes; 0 is a wire."""
        if np.any(Z):
            self._branches.append(_Branch({a: 1.0, b: -1.0}, {a: 1.0, b: -1.0}, Z / KILO, 0.0))
        else:
            self.wire(a, b)

    def emf(self, a: int, b: int) -> None:
        """Put a source of 1 V between two nodes, `a` positive."""
        self._branches.append(_Branch({a: 1.0, b: -1.0}, {a: 1.0, b: -1.0}, 0.0, 1.0))

    def amplifier(self, control: int, out: int, gain: float) -> None:
        """Let the voltage of `out` be `gain` times that of `control`, which gives no current."""
        self._branches.append(_Branch({out: 1.0}, {out: 1.0, control: -gain}, 0.0, 0.0))

    def transformer(self, primary: int, secondary: int, ratio: float) -> None:
        """Put an ideal transformer of `ratio`:1 between two nodes and ground."""
        ends = {primary: 1.0, secondary: -ratio}
        self._branches.append(_Branch(ends, ends, 0.0, 0.0))

    def voltage(self, node: int) -> Complex:
        """Solve the network and return the voltage [V] of a node."""
        roots = [self._root(n) for n in range(len(self._joined))]
        index = {root: i for i, root in enumerate(sorted(set(roots) - {GROUND}))}
        place = [index.get(root, -1) for root in roots]
        size = len(index) + len(self._branches)
        matrix: Complex = np.zeros((self.jw.size, size, size), dtype=complex)
        known = np.zeros((self.jw.size, size, 1), dtype=complex)
        for a, b, Y in self._shunts:
            for row, column, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
                if place[row] >= 0 and place[column] >= 0:
                    matrix[:, place[row], place[column]] += sign * Y
        for row, branch in enumerate(self._branches, len(index)):
            for end, share in branch.current.items():
                if place[end] >= 0:
                    matrix[:, place[end], row] += share
            for end, share in branch.voltage.items():
                if place[end] >= 0:
                    matrix[:, row, place[end]] += share
            matrix[:, row, row] -= branch.impedance
            known[:, row, 0] = branch.emf
        if place[node] < 0:
            return np.zeros_like(self.jw)
        solved: Complex = np.linalg.solve(matrix, known)[:, place[node], 0]
        return solved

    def _root(self, node: int) -> int:
        while self._joined[node] != node:
            node = self._joined[node]
        return node
