"""The instrument: one or several pickups with their pots, or an active output."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from sigsim.items.controls import BassCut, ToneControl, VolumePot
from sigsim.items.fields import Declared, choice, quantity, text
from sigsim.items.needs import PICKUPS, Need
from sigsim.physics.loss import lossy
from sigsim.physics.source import Source, capacitor, series, shunt

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sigsim.physics.arrays import ComplexArray, Impedance, Value

WIRINGS = ("parallel", "series")
POLARITIES = ("normal", "reversed")
# What is left of two voltages that cancel, as a fraction of them, is rounding: silence.
_ROUNDING = 1e-14


@dataclass(frozen=True, kw_only=True)
class Coil(Declared):
    """A pickup's winding: `R + (jωL ∥ Zloss)` with the winding capacitance across it.

    `Zloss` is `Rloss·(jω/ω1)^n`, with ω1 at 1 kHz.
    """

    resistance: Value = quantity("resistance", "of the coil", 0.0, usually_kilohms=True)
    inductance: Value = quantity("inductance", "of the coil", 0.0)
    capacitance: Value = quantity("capacitance", "of the winding", 0.0)
    loss_resistance: Value | None = quantity(
        "resistance",
        "eddy and core loss, its value at 1 kHz (none = no loss)",
        None,
        above_zero=True,
        usually_kilohms=True,
    )
    loss_exponent: Value = quantity(
        "exponent", "how the loss grows with frequency: 0 not at all, 0.5 as in thick metal", 0.0
    )

    needs: ClassVar[tuple[Need, ...]] = (
        Need(("loss_resistance",), ("inductance",), "what has no inductance loses nothing in it"),
        Need(("loss_exponent",), ("loss_resistance",), "there is no loss without its resistance"),
        Need(
            ("capacitance",),
            ("inductance", "resistance"),
            "a source of 0 Ω is not loaded by a capacitance across it",
        ),
    )

    def coil_source(self, jw: ComplexArray) -> Source:
        """Return the coil as a source at jω [rad/s] with 1 V induced in it."""
        Z: Impedance = jw * self.inductance
        if self.loss_resistance is not None:
            Z = lossy(jw, self.inductance, self.loss_resistance, self.loss_exponent)
        bare = Source(np.ones_like(jw), Z + self.resistance)
        return shunt(jw * self.capacitance).drive(bare)


@dataclass(frozen=True, kw_only=True)
class Pickup(ToneControl, Coil, VolumePot):
    """One of several pickups, with a tone control and a volume pot of its own or none."""

    name: str = text("its name", "pickup")
    polarity: str = choice("which way round it is joined to the others", POLARITIES, "normal")

    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            (
                "volume_track",
                "volume_taper",
                "volume",
                "volume_wiring",
                "treble_bleed_capacitor",
                "treble_bleed_resistor",
                "treble_bleed",
            ),
            ("pickups_wiring",),
            "pickups in series have one volume control together: it belongs under [instrument]",
            words=("parallel",),
        ),
        Need(
            ("tone_position",),
            ("pickups_wiring",),
            "the tone control of a pickup in series lies across its coil",
            words=("parallel",),
        ),
    )

    def source(self, jw: ComplexArray) -> Source:
        """Return the pickup behind its own tone control and volume pot."""
        return self.after_knobs(self._induced(jw), jw)

    def source_in_series(self, jw: ComplexArray) -> Source:
        """Return the pickup as it is in series with others: its tone control across its coil."""
        return self.after_tone(self._induced(jw), jw)

    def _induced(self, jw: ComplexArray) -> Source:
        made = self.coil_source(jw)
        return Source(-made.E, made.Z) if self.polarity == "reversed" else made


@dataclass(frozen=True, kw_only=True)
class PassiveInstrument(BassCut, ToneControl, Coil, VolumePot):
    """An instrument without a battery."""

    wiring_capacitance: Value = quantity(
        "capacitance", "of the screened wiring to the jack, across the output", 0.0
    )
    pickups_wiring: str = choice("how several pickups are joined", WIRINGS, "parallel")
    pickups: tuple[Pickup, ...] = ()

    has_coil: ClassVar[bool] = True
    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            ("resistance", "inductance", "capacitance", "loss_resistance", "loss_exponent"),
            (PICKUPS,),
            "with pickups of their own the coil's keys belong to each of them",
            least=0,
            most=0,
        ),
        Need(
            ("tone_capacitor",),
            ("inductance", "resistance", PICKUPS, "tone_position"),
            "a source of 0 Ω is not loaded by a tone control, unless behind a volume pot",
            but=(("tone_position", "before volume"),),
        ),
        Need(
            ("wiring_capacitance",),
            ("inductance", "resistance", PICKUPS, "volume_track", "bass_cut_capacitor"),
            "a source of 0 Ω is not loaded by its wiring",
        ),
        Need(("pickups_wiring",), (PICKUPS,), "there is nothing to join", least=2),
    )

    def source(self, jw: ComplexArray) -> Source:
        """Return the instrument as a source at its jack, at jω [rad/s]."""
        played = self.after_bass_cut(self.after_knobs(self._joined(jw), jw), jw)
        if not np.any(self.wiring_capacitance):
            return played
        return shunt(jw * self.wiring_capacitance).drive(played)

    def _joined(self, jw: ComplexArray) -> Source:
        if not self.pickups:
            return self.coil_source(jw)
        return joined(self.sources(jw), self.pickups_wiring)

    def sources(self, jw: ComplexArray) -> list[Source]:
        """Return each of its pickups as a source, as it is joined to the others."""
        if self.pickups_wiring == "series":
            return [pickup.source_in_series(jw) for pickup in self.pickups]
        return [pickup.source(jw) for pickup in self.pickups]

    def winding(self) -> tuple[Value, Value]:
        """Return the inductance [H] and capacitance [F] of the pickups together, for hand checks.

        In series they add as series parts do, in parallel as parallel parts do; the wiring to the
        jack lies across all of them.
        """
        coils: tuple[Coil, ...] = self.pickups or (self,)
        L, C = [coil.inductance for coil in coils], [coil.capacitance for coil in coils]
        if self.pickups and self.pickups_wiring == "series":
            return sum(L), _reciprocal(C) + self.wiring_capacitance
        return _reciprocal(L), sum(C) + self.wiring_capacitance

    def resistive(self) -> PassiveInstrument:
        """Close the capacitor of the bass cut."""
        return dataclasses.replace(self, bass_cut_capacitor=None)


@dataclass(frozen=True, kw_only=True)
class ActiveInstrument(Declared):
    """An instrument with a preamp inside: an output resistance and no more."""

    output_resistance: Value = quantity("resistance", "of the output", 0.0)
    output_capacitor: Value | None = quantity(
        "capacitance", "in series with the output", None, above_zero=True
    )

    has_coil: ClassVar[bool] = False

    def source(self, jw: ComplexArray) -> Source:
        """Return the instrument as a source at its jack, at jω [rad/s]."""
        bare = Source(np.ones_like(jw), self.output_resistance)
        if self.output_capacitor is None:
            return bare
        return series(capacitor(jw, self.output_capacitor)).drive(bare)

    def winding(self) -> tuple[Value, Value]:
        """Return no inductance and no capacitance."""
        return 0.0, 0.0

    def resistive(self) -> ActiveInstrument:
        """Close the coupling capacitor."""
        return dataclasses.replace(self, output_capacitor=None)


INSTRUMENT_TYPES: dict[str, type[PassiveInstrument] | type[ActiveInstrument]] = {
    "passive": PassiveInstrument,
    "active": ActiveInstrument,
}


def joined(sources: Sequence[Source], wiring: str) -> Source:
    """Return several sources joined in series or in parallel; those that cancel are silent."""
    first, *others = sources
    if wiring == "series":
        E, loud = sum(s.E for s in sources), sum(np.abs(s.E) for s in sources)
        return Source(_heard(E, loud), sum(s.Z for s in sources))
    for other in others:
        first = in_parallel(first, other)
    return first


def in_parallel(one: Source, two: Source) -> Source:
    """Return two joined sources: `Y = ΣYi`, `E = ΣEi·Yi/Y`, written so that Z = 0 is allowed.

    A source with Z = 0 and E = 0 (a pickup turned down) shorts the other, even an ideal one.
    """
    total = np.asarray(one.Z + two.Z)
    shorted = total == 0
    safe = np.where(shorted, 1.0, total)
    ideal = np.where(np.asarray(one.E * two.E) == 0, 0.0, (one.E + two.E) / 2)
    a, b = one.E * two.Z, two.E * one.Z
    E = np.where(shorted, ideal, _heard(a + b, np.abs(a) + np.abs(b)) / safe)
    return Source(E, one.Z * two.Z / safe)


def _heard(total: Impedance, loud: Impedance) -> Impedance:
    """Return a sum of voltages, 0 where nothing but rounding is left of them."""
    heard: Impedance = np.where(np.abs(total) > _ROUNDING * loud, total, 0.0)
    return heard


def _reciprocal(values: list[Value]) -> Value:
    """Return `1/Σ(1/x)`, 0 if any is 0."""
    if any(np.any(np.asarray(value) == 0) for value in values):
        return 0.0
    return 1 / sum(1 / np.asarray(value) for value in values)
