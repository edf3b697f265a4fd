"""The circuits of the virtual bench: what lies between an interface's output and its input.

Each is solved whole as a network. Things to be measured are tables with the keys of a board file,
as in `nodal.py`, whose pieces are used; nothing of the program is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np

from helpers import nodal
from helpers.bench import Complexes, Floats, Transfer
from helpers.network import GROUND, Network
from helpers.nodal import Table

# Puts something at a node of a network.
Put: TypeAlias = Callable[[Network, int], None]

LEAD: Table = {"capacitance": 100e-12, "loss_tangent": 0.02, "resistance": 0.1, "inductance": 3e-7}


@dataclass(frozen=True)
class Socket:
    """An interface's two impedances, and the lead to its input.

    Attributes
    ----------
    output_resistance : [Ω]; input_resistance : [Ω]; input_capacitance : [F]
    lead : a table of a cable; length : of it [m]
    """

    output_resistance: float = 150.0
    input_resistance: float = 1e6
    input_capacitance: float = 80e-12
    lead: Table = field(default_factory=lambda: LEAD)
    length: float = 2.0

    def listen(self, net: Network, node: int) -> int:
        """Put the lead and the input at a node, and return the node that is recorded."""
        end = nodal._cable(net, node, self.lead, self.length)
        net.admittance(end, 1 / self.input_resistance + net.jw * self.input_capacitance)
        return end

    def point(self, resistor: float, *things: Put) -> Transfer:
        """Drive a point through a resistor [Ω], 0 for a bridge, with things on it."""

        def transfer(frequency: Floats) -> Complexes:
            net = Network(frequency)
            source, node = net.node(), net.node()
            net.emf(source, GROUND)
            net.impedance(source, node, self.output_resistance + resistor)
            for put in things:
                put(net, node)
            return net.voltage(self.listen(net, node))

        return transfer

    def behind(self, put_source: Callable[[Network], int], *things: Put) -> Transfer:
        """Listen at a source, such as the output of a pedal, with things across it."""

        def transfer(frequency: Floats) -> Complexes:
            net = Network(frequency)
            node = put_source(net)
            for put in things:
                put(net, node)
            return net.voltage(self.listen(net, node))

        return transfer


def cable(table: Table, length: float) -> Put:
    """Return a cable, its far end free."""

    def put(net: Network, node: int) -> None:
        nodal._cable(net, node, table, length)

    return put


def on_a_lead(length: float, thing: Put | None = None, table: Table = LEAD) -> Put:
    """Return a thing at the far end of a lead, nothing for a free end."""

    def put(net: Network, node: int) -> None:
        end = nodal._cable(net, node, table, length)
        if thing is not None:
            thing(net, end)

    return put


def instrument(table: Table) -> Put:
    """Return a pickup with its knobs, silent."""

    def put(net: Network, node: int) -> None:
        hot = nodal._winding(net, table, GROUND, GROUND)
        net.wire(nodal._knobs(net, hot, table), node)
        net.admittance(node, net.jw * table.get("wiring_capacitance", 0.0))

    return put


def stage_input(table: Table) -> Put:
    """Return the input of a pedal that is on."""

    def put(net: Network, node: int) -> None:
        nodal._input(net, node, table)

    return put


def stage_off(table: Table) -> Put:
    """Return a pedal that is off, its output free."""

    def put(net: Network, node: int) -> None:
        nodal._off(net, node, table)

    return put


def resistor(value: float) -> Put:
    """Return a resistor [Ω] to ground."""
    return lambda net, node: net.admittance(node, 1 / value)


def capacitor(value: float) -> Put:
    """Return a capacitor [F] to ground."""
    return lambda net, node: net.admittance(node, net.jw * value)


def excited(table: Table) -> Callable[[Network], int]:
    """Return a pickup with its knobs that hears 1 V in its winding."""
    return lambda net: nodal._instrument(net, table)


def output(table: Table) -> Callable[[Network], int]:
    """Return an output that gives 1 V."""

    def put(net: Network) -> int:
        source = net.node()
        net.emf(source, GROUND)
        return nodal._output(net, source, table)

    return put


def by_exciter(transfer: Transfer) -> Transfer:
    """Return what a coil near a pickup makes of a circuit that hears its winding.

    The current is that of a resistor and an inductance, what is induced grows with the frequency,
    and metal around takes some of the top: any such response is the same in every recording.
    """

    def with_coil(frequency: Floats) -> Complexes:
        jf = 1j * frequency
        return np.asarray(
            transfer(frequency) * (jf / 1e3) / (1 + jf / 12e3) / (1 + np.sqrt(jf / 4e4))
        )

    return with_coil
