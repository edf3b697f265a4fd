"""The noise that travels down the chain with the source, kept apart by what made it.

Every contribution is a power density at the point reached so far; each step scales what is there
and adds its own. A stage's noise voltage and current sit at its input terminals, before its input
impedance, so that a source impedance Z sees `en² + |in·Z|²`. What stands for a physical resistor
is noisy (windings, tracks, cables, contacts, input and output resistances, stoppers); what shapes
a stage's gain, its own low-pass and high-pass, is not. A cable's dielectric loss is noisy as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.items.cable import Cable
from sigsim.items.split import Branch
from sigsim.items.stage import ActiveStage
from sigsim.metrics import decibels, sounds
from sigsim.physics.noise import (
    ROOM_TEMPERATURE,
    amplifier_input,
    johnson,
    johnson_current,
    passive_part,
)
from sigsim.physics.source import Source
from sigsim.states.path import Met, path

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.items.base import Item
    from sigsim.items.inputs import Input
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance
    from sigsim.states.circuit import Circuit


class Contributor(NamedTuple):
    """What makes noise.

    Attributes
    ----------
    what : "instrument", "cables", "stage", "tap", "split", "loop", "way" (the
        rest of the chain, heard at the end of a split) or "destination"
    name : what to call it
    """

    what: str
    name: str


CABLES: Final = Contributor("cables", "cables")


@dataclass(frozen=True)
class Noise:
    """The noise of a board in one state.

    Attributes
    ----------
    frequency : [Hz], shape (frequency,)
    H : the response to the instrument [-]
    parts : power density at the destination by contributor [V²/Hz], each of shape (frequency,)
    quiet : the stages in the signal's way of which no noise figure is known
    incomplete : those of which one is known, and which is not
    """

    frequency: FloatArray
    H: ComplexArray
    parts: dict[Contributor, FloatArray]
    quiet: tuple[str, ...]
    incomplete: dict[str, str]

    @property
    def total(self) -> FloatArray:
        """The power density of all contributions at the destination [V²/Hz]."""
        with np.errstate(all="ignore"):
            total: FloatArray = np.sum(list(self.parts.values()), axis=0)
        return total

    @property
    def referred(self) -> FloatArray:
        """What would have to be in the pickup to make that noise [V²/Hz]; infinite if silent."""
        level = decibels(self.H)
        with np.errstate(all="ignore"):
            referred: FloatArray = self.total / np.abs(self.H) ** 2
        return np.where(sounds(level), referred, np.inf)


def noise(circuit: Circuit, on: On, temperature: float = ROOM_TEMPERATURE) -> Noise:
    """Walk the noise of a board in one state to the destination.

    Parameters
    ----------
    circuit : the board on a grid of frequencies
    on : the names of what is on
    temperature : of everything that is passive [K]

    Returns
    -------
    Noise
    """
    walk = _Walk(circuit, temperature)
    # A circuit without any loss is infinite at exactly its resonance: a value, not a warning.
    with np.errstate(all="ignore"):
        for met in path(circuit.board.chain, on):
            walk.through(met)
        # An end that is not in the circuit is silent, whatever its own input would make.
        return walk.arrived(in_circuit=not circuit.board.loops_out(on))


class _Walk:
    """A source and the noise that has come with it so far."""

    def __init__(self, circuit: Circuit, temperature: float) -> None:
        self.circuit, self.temperature = circuit, temperature
        self.source = circuit.start
        self.parts: dict[Contributor, FloatArray] = {}
        self.quiet: list[str] = []
        self.incomplete: dict[str, str] = {}
        self._add(instrument_part(circuit.board), johnson(self.source.Z, temperature))

    def through(self, met: Met) -> None:
        """Go on to the output of an item."""
        item, on = met
        step = self.circuit.step(item, on)
        Z = self.source.Z
        through = step.drive(Source(1.0, Z))
        self._scale(through.E)
        if met.isolates and isinstance(item, ActiveStage):
            own = self._of_stage(item, on, through.E) + johnson(through.Z, self.temperature)
        else:
            own = passive_part(Z, through, self.temperature)
        if isinstance(item, Branch):
            own = own + self._out_of_branch(item, through.Z)
        self._add(_contributor(item), own)
        self.source = Source(self.source.E * through.E, through.Z)

    def _of_stage(self, item: ActiveStage, on: bool, gain: Impedance) -> FloatArray:
        """Return a stage's input noise as it appears at its open output.

        Parameters
        ----------
        item : the stage, which isolates
        on : whether it is on
        gain : from the source's open-circuit voltage to the stage's open output [-]
        """
        entry = item.input(on)
        en, i_n = item.input_noise_voltage, item.input_noise_current
        if en is None and i_n is None:
            self.quiet.append(item.stage)
        elif en is None or i_n is None:
            self.incomplete[item.stage] = f"input_noise_{'voltage' if en is None else 'current'}"
        at_input = amplifier_input(en or 0.0, i_n or 0.0, self.source.Z)
        density: FloatArray = np.abs(gain) ** 2 * (at_input + self._of_input(entry))
        return density

    def _of_input(self, entry: Input) -> FloatArray:
        """Return the noise of an input's resistors as if it were in series with the source.

        The resistor to ground is a current that meets the source and the capacitor before it in
        series; the divider from there to the node that is read is the same for both. The stopper
        sits behind that divider's resistor, which does not divide its voltage.
        """
        before = self.source.Z + entry.in_series(self.circuit.jw)
        Y = 0.0 if entry.resistance is None else 1 / entry.resistance
        grounded = johnson_current(Y, self.temperature) * np.abs(before) ** 2
        stopper = johnson(entry.stopper, self.temperature) * np.abs(1 + before * Y) ** 2
        density: FloatArray = grounded + stopper
        return density

    def _out_of_branch(self, item: Branch, Z: Impedance) -> FloatArray:
        """Return what the current noise of a split's first isolators makes on the line.

        By reciprocity a current at such an input makes as much on the line as one into the line
        makes at that input; `Z` is the line's own impedance there with the branch on it [Ω]. An
        input's voltage noise drives no current into a line: it sits behind the input.
        """
        made: FloatArray = np.zeros(self.circuit.frequency.shape)
        for stage, share in self._first_isolators(item, 1.0):
            made = made + amplifier_input(0.0, stage.input_noise_current or 0.0, Z * share)
        return made

    def _first_isolators(
        self, item: Branch, share: Impedance
    ) -> Iterator[tuple[ActiveStage, Impedance]]:
        """Yield those of a branch and of the branches in it, each with its part of the voltage.

        Parameters
        ----------
        item : the branch
        share : of the line's voltage that is at its beginning [-]
        """
        steps = [self.circuit.step(*met) for met in item.run]
        loads = [item.load(self.circuit.jw, self.circuit.step)]
        for step in reversed(steps):
            loads.append(step.admittance(loads[-1]))
        for (inner, _), step, load in zip(item.run, steps, loads[-2::-1], strict=True):
            share = share * step.drive(Source(1.0, 0.0)).into(load)
            if isinstance(inner, Branch):
                yield from self._first_isolators(inner, share)
        if item.end is not None and isinstance(item.end[0], ActiveStage):
            yield item.end[0], share

    def arrived(self, *, in_circuit: bool) -> Noise:
        """Return what the destination reads, its own resistances included."""
        destination = self.circuit.board.end
        share = np.asarray(self.circuit.load.reads(Source(1.0, self.source.Z)))
        self._scale(share)
        own = self._of_input(destination.input) * np.abs(share) ** 2 * in_circuit
        self._add(Contributor("destination", destination.name), own)
        shape = self.circuit.frequency.shape
        H = np.broadcast_to(np.asarray(self.source.E * share, dtype=complex), shape)
        parts = {who: np.broadcast_to(part, shape) for who, part in self.parts.items()}
        return Noise(self.circuit.frequency, H, parts, tuple(self.quiet), self.incomplete)

    def _scale(self, gain: Impedance) -> None:
        squared = np.abs(gain) ** 2
        self.parts = {who: part * squared for who, part in self.parts.items()}

    def _add(self, who: Contributor, density: FloatArray) -> None:
        self.parts[who] = self.parts.get(who, 0.0) + density


def instrument_part(board: Board) -> Contributor:
    """Return the instrument as a contributor."""
    name = "pickup and pots" if board.instrument.has_coil else "instrument's output"
    return Contributor("instrument", name)


def _contributor(item: Item) -> Contributor:
    if isinstance(item, Branch) and item.turned:
        return Contributor("way", item.label)
    return CABLES if isinstance(item, Cable) else Contributor(item.key, item.label)
