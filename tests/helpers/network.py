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
        self._inputs: dict[str, tuple[int, int]] = {}

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

    def input(self, name: str, line: int) -> int:
        """Return the node behind a place, at an input, where noise of its own may come in."""
        behind = self.node()
        self._inputs[name] = line, len(self._branches)
        ends = {behind: 1.0, line: -1.0}
        self._branches.append(_Branch(ends, ends, 0.0, 0.0))
        return behind

    def amplifier(self, control: int, out: int, gain: float) -> None:
        """Let the voltage of `out` be `gain` times that of `control`, which gives no current."""
        self._branches.append(_Branch({out: 1.0}, {out: 1.0, control: -gain}, 0.0, 0.0))

    def transformer(self, primary: int, secondary: int, ratio: float) -> None:
        """Put an ideal transformer of `ratio`:1 between two nodes and ground."""
        ends = {primary: 1.0, secondary: -ratio}
        self._branches.append(_Branch(ends, ends, 0.0, 0.0))

    def voltage(self, node: int) -> Complex:
        """Solve the network and return the voltage [V] of a node."""
        place, first = self._places()
        if place[node] < 0:
            return np.zeros_like(self.jw)
        matrix = self._matrix(place, first)
        known = np.zeros((*matrix.shape[:2], 1), dtype=complex)
        known[:, first:, 0] = [branch.emf for branch in self._branches]
        solved: Complex = np.linalg.solve(matrix, known)[:, place[node], 0]
        return solved

    def noise(
        self, node: int, temperature: float
    ) -> tuple[Complex, dict[str, tuple[Complex, ...]]]:
        """Return what all passive parts make at a node, and what comes there from each input.

        Independent currents of 4kT·Re(Y) across the admittances of a passive network make its noise
        (R. Q. Twiss, "Nyquist's and Thevenin's theorems generalized for nonreciprocal linear
        networks", J. Applied Physics 26 (1955), from memory), also where several stand for a line.

        Parameters
        ----------
        node : the node
        temperature : [K]

        Returns
        -------
        the density [V²/Hz]; by input the voltage for 1 A into the line there [Ω] and for 1 V in
        series with it [-]
        """
        place, first = self._places()
        if place[node] < 0:
            nothing = np.zeros_like(self.jw)
            return nothing, dict.fromkeys(self._inputs, (nothing, nothing))
        # What any source makes at one node is one column of the inverse's transpose.
        wanted = np.zeros((self.jw.size, first + len(self._branches), 1), dtype=complex)
        wanted[:, place[node], 0] = 1.0
        matrix = self._matrix(place, first)
        to: Complex = np.linalg.solve(np.swapaxes(matrix, 1, 2), wanted)[:, :, 0]
        of = [to[:, p] if p >= 0 else np.zeros_like(self.jw) for p in place]
        four_kt = 4 * 1.380649e-23 * temperature
        made = np.zeros_like(self.jw)
        for a, b, Y in self._shunts:
            made += four_kt * np.abs(of[a] - of[b]) ** 2 * np.real(Y) * KILO
        for row, branch in enumerate(self._branches, first):
            made += four_kt * np.abs(to[:, row]) ** 2 * np.real(branch.impedance) * KILO
        inputs = {
            name: (of[line] * KILO, to[:, first + row])
            for name, (line, row) in self._inputs.items()
        }
        return made, inputs

    def _places(self) -> tuple[list[int], int]:
        """Return the row of each node, -1 of ground, and the row of the first branch."""
        roots = [self._root(n) for n in range(len(self._joined))]
        index = {root: i for i, root in enumerate(sorted(set(roots) - {GROUND}))}
        return [index.get(root, -1) for root in roots], len(index)

    def _matrix(self, place: list[int], first: int) -> Complex:
        size = first + len(self._branches)
        matrix: Complex = np.zeros((self.jw.size, size, size), dtype=complex)
        for a, b, Y in self._shunts:
            for row, column, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
                if place[row] >= 0 and place[column] >= 0:
                    matrix[:, place[row], place[column]] += sign * Y
        for row, branch in enumerate(self._branches, first):
            for end, share in branch.current.items():
                if place[end] >= 0:
                    matrix[:, place[end], row] += share
            for end, share in branch.voltage.items():
                if place[end] >= 0:
                    matrix[:, row, place[end]] += share
            matrix[:, row, row] -= branch.impedance
        return matrix

    def _root(self, node: int) -> int:
        while self._joined[node] != node:
            node = self._joined[node]
        return node
