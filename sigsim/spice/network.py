"""A circuit while it is being written down: nodes, elements, and what a simulator needs besides.

Three properties of SPICE shape this.

A wire joins two nodes into one. As a tiny resistor it would be a huge admittance beside which the
matrix loses the picofarads: 1 nΩ was seen to cost 0.3 dB. For the same reason a resistance under
a milliohm is written as a current-controlled voltage, which the matrix holds as an equation.

An operating point comes before the AC analysis. It fails where a node has no path to ground for
direct current, and where inductors and sources form a loop without resistance. The first is mended
by an inductor so large that no analysis notices it, the second by a nanoohm in the loop.

Two sources side by side between the same nodes are one too many, and a source that is shorted is
left out.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from sigsim.spice.text import number, slug

if TYPE_CHECKING:
    from sigsim.physics.arrays import Value

GROUND: Final = 0
OUT: Final = "out"

# Beside 1 mΩ (1000 S) a double still holds a picofarad's current at 20 Hz to 1e-3, which moves
# the voltage behind 1 MΩ by 1e-7.
LEAST_RESISTOR: Final = 1e-3
# The equation makes no noise, so that in a noise analysis smaller resistors stay what they are;
# there 1e-5 in the level is nothing.
LEAST_NOISY: Final = 1e-5
# Above this a resistor is no path for direct current beside a milliohm.
MOST_PATH: Final = 1e10
# 1.3e15 Ω at 20 Hz.
PATH_INDUCTANCE: Final = 1e13
LOOP_RESISTANCE: Final = 1e-9


@dataclass(frozen=True)
class Entry:
    """One line of the netlist, or a comment.

    Attributes
    ----------
    name : with the letter that says what it is; a comment's whole text
    ends : node numbers in order
    tail : what follows the nodes
    path : "short" or "resistive" where direct current passes between the first two ends
    inductance : [H] of an inductor
    """

    name: str
    ends: tuple[int, ...] = ()
    tail: str = ""
    path: str = ""
    inductance: float = 0.0


@dataclass
class Groups:
    """Nodes that are connected, by whatever counts as a connection."""

    joined: dict[int, int] = field(default_factory=dict)

    def root(self, node: int) -> int:
        """Return the node that stands for all that are joined with this one: the earliest."""
        while (up := self.joined.get(node, node)) != node:
            self.joined[node] = self.joined.get(up, up)
            node = self.joined[node]
        return node

    def join(self, a: int, b: int) -> bool:
        """Join two nodes; return whether they were joined before."""
        low, high = sorted((self.root(a), self.root(b)))
        self.joined[high] = low
        return low == high


@dataclass
class Network:
    """A circuit in the making.

    Attributes
    ----------
    noise : whether resistors that stand for no physical part must be silent
    entries : elements and comments in the order they were added
    models : the lines of `.model`, by what they hold
    left_out : what a netlist cannot say, in plain sentences
    approximated : what it says by parts that come near, in plain sentences
    sources : the names of the signal's sources
    """

    noise: bool = False
    entries: list[Entry] = field(default_factory=list)
    models: dict[str, str] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)
    approximated: list[str] = field(default_factory=list)
    sources: list[str] = field(default_factory=list)
    names: list[str] = field(default_factory=lambda: ["0"])
    _wired: Groups = field(default_factory=Groups)
    _number: str = "00"
    _prefix: str = "n00"

    def item(self, number: str, label: str, otherwise: str) -> None:
        """Name what follows after one item of the chain."""
        self._number = number
        self._prefix = f"n{number}_{slug(label, otherwise)}"

    def node(self, role: str) -> int:
        """Return a new node of the current item."""
        return self.named(f"{self._prefix}_{role}")

    def named(self, name: str) -> int:
        """Return a new node with a name of its own."""
        self.names.append(name)
        return len(self.names) - 1

    def root(self, node: int) -> int:
        """Return the node that stands for all that wires make one with this one."""
        return self._wired.root(node)

    def comment(self, text: str) -> None:
        """Add a comment; `text` must be safe."""
        self.entries.append(Entry(text))

    def wire(self, a: int, b: int) -> None:
        """Join two nodes; of the two the earlier one keeps its name, and ground stays ground."""
        self._wired.join(a, b)

    def resistor(self, role: str, a: int, b: int, R: Value) -> None:
        """Put a resistance [Ω] between two nodes; 0 is a wire."""
        if float(R) == 0:
            self.wire(a, b)
        elif float(R) < (LEAST_NOISY if self.noise else LEAST_RESISTOR):
            between = self.node(f"{role}_i")
            meter = self.ammeter(f"{role}_i", a, between)
            self._add("H", role, (between, b), f"{meter} {number(R)}", "resistive")
        else:
            path = "resistive" if float(R) <= MOST_PATH else ""
            self._add("R", role, (a, b), number(R), path)

    def silent_resistor(self, role: str, a: int, b: int, R: Value) -> None:
        """Put a resistance [Ω] that stands for no physical part and so must not make noise."""
        if self.noise:
            self._add("G", role, (a, b, a, b), number(1 / float(R)), "resistive")
        else:
            self.resistor(role, a, b, R)

    def capacitor(self, role: str, a: int, b: int, C: Value) -> None:
        """Put a capacitance [F] between two nodes; 0 is nothing."""
        if float(C) > 0:
            self._add("C", role, (a, b), number(C), "")

    def inductor(self, role: str, a: int, b: int, L: Value) -> None:
        """Put an inductance [H] between two nodes; 0 is a wire."""
        if float(L) == 0:
            self.wire(a, b)
        else:
            name = f"L{self._number}_{role}"
            self.entries.append(Entry(name, (a, b), number(L), "short", float(L)))

    def source(self, role: str, a: int, b: int) -> None:
        """Put the signal, 1 V, between two nodes."""
        self.sources.append(self._add("V", role, (a, b), "DC 0 AC 1", "short"))

    def amplifier(self, role: str, control: int, out: int, gain: float, base: int = GROUND) -> None:
        """Let `out` be `gain` times the voltage of `control` above `base`."""
        self._add("E", role, (out, base, control, GROUND), number(gain), "short")

    def ammeter(self, role: str, a: int, b: int) -> str:
        """Put a source of 0 V, which measures the current from `a` to `b`, and return its name."""
        return self._add("V", role, (a, b), "DC 0", "short")

    def current(self, role: str, a: int, b: int, meter: str, gain: float) -> None:
        """Let `gain` times the current of `meter` flow from `a` to `b` through this source."""
        self._add("F", role, (a, b), f"{meter} {number(gain)}", "")

    def line(self, role: str, a: int, b: int, model: str, lossless: bool) -> None:
        """Put a distributed line of a model between two nodes and ground."""
        path = "short" if lossless else "resistive"
        self._add("O", role, (a, GROUND, b, GROUND), model, path)

    def model(self, holds: str) -> str:
        """Return the name of the line model with these parameters."""
        if holds not in self.models:
            self.models[holds] = f"line{len(self.models) + 1}"
        return self.models[holds]

    def cannot(self, sentence: str) -> None:
        """Note what this netlist does not say; `sentence` must be safe."""
        if sentence not in self.left_out:
            self.left_out.append(sentence)

    def comes_near(self, sentence: str) -> None:
        """Note what this netlist says by other parts that come near; `sentence` must be safe."""
        if sentence not in self.approximated:
            self.approximated.append(sentence)

    def _add(self, letter: str, role: str, ends: tuple[int, ...], tail: str, path: str) -> str:
        name = f"{letter}{self._number}_{role}"
        self.entries.append(Entry(name, ends, tail, path))
        return name
