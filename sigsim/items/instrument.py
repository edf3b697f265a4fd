"""The instrument: one or several pickups with their pots, or an active output."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from sigsim.items.fields import Declared, choice, quantity, taper, text
from sigsim.items.needs import PICKUPS, Need
from sigsim.physics.loss import lossy
from sigsim.physics.pot import AUDIO, Divider, fraction
from sigsim.physics.source import Source, capacitor, series, shunt

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, Impedance, Value

TONE_POSITIONS = ("before volume", "after volume")
WIRINGS = ("parallel", "series")


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
class VolumePot(Declared):
    """A volume control; without a track there is none."""

    volume_track: Value | None = quantity(
        "resistance",
        "of the volume pot (none = no pot)",
        None,
        above_zero=True,
        usually_kilohms=True,
    )
    volume_taper: float = taper("of the volume pot", AUDIO)
    volume: Value = quantity("knob", "position of the volume knob, 0 to 10", 10.0)

    needs: ClassVar[tuple[Need, ...]] = (
        Need(("volume", "volume_taper"), ("volume_track",), "it has no volume pot of its own"),
    )

    def after_volume(self, source: Source) -> Source:
        """Return the source at the volume pot's wiper."""
        if self.volume_track is None:
            return source
        return Divider(self.volume_track, fraction(self.volume, self.volume_taper)).drive(source)


@dataclass(frozen=True, kw_only=True)
class Pickup(Coil, VolumePot):
    """One of several pickups, with a volume pot of its own or none."""

    name: str = text("its name", "pickup")

    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            ("volume_track", "volume_taper", "volume"),
            ("pickups_wiring",),
            "pickups in series have one volume control together: it belongs under [instrument]",
            words=("parallel",),
        ),
    )

    def source(self, jw: ComplexArray) -> Source:
        """Return the pickup behind its own volume pot."""
        return self.after_volume(self.coil_source(jw))


@dataclass(frozen=True, kw_only=True)
class PassiveInstrument(Coil, VolumePot):
    """An instrument without a battery."""

    tone_track: Value = quantity("resistance", "of the tone pot", 0.0, usually_kilohms=True)
    tone_taper: float = taper("of the tone pot", AUDIO)
    tone_capacitor: Value = quantity("capacitance", "of the tone control (0 = none)", 0.0)
    tone: Value = quantity("knob", "position of the tone knob, 0 to 10", 10.0)
    tone_position: str = choice("where the tone control sits", TONE_POSITIONS, "before volume")
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
            ("tone_track", "tone_taper", "tone", "tone_position"),
            ("tone_capacitor",),
            "there is no tone control without its capacitor",
        ),
        Need(("tone_taper", "tone"), ("tone_track",), "it has no tone pot"),
        Need(
            ("tone_position",),
            ("volume_track",),
            "the instrument has no volume pot that the tone control could sit before or after",
        ),
        Need(
            ("tone_capacitor",),
            ("inductance", "resistance", PICKUPS, "volume_track"),
            "a source of 0 Ω is not loaded by a tone control",
        ),
        Need(("pickups_wiring",), (PICKUPS,), "there is nothing to join", least=2),
    )

    def source(self, jw: ComplexArray) -> Source:
        """Return the instrument as a source at its jack, at jω [rad/s]."""
        joined = self._joined(jw)
        if self.tone_position == "before volume":
            return self.after_volume(self._after_tone(joined, jw))
        return self._after_tone(self.after_volume(joined), jw)

    def _joined(self, jw: ComplexArray) -> Source:
        if not self.pickups:
            return self.coil_source(jw)
        if self.pickups_wiring == "series":
            coils = [pickup.coil_source(jw) for pickup in self.pickups]
            return Source(sum(s.E for s in coils), sum(s.Z for s in coils))
        joined = self.pickups[0].source(jw)
        for pickup in self.pickups[1:]:
            joined = in_parallel(joined, pickup.source(jw))
        return joined

    def _after_tone(self, source: Source, jw: ComplexArray) -> Source:
        if not np.any(self.tone_capacitor):
            return source
        R = self.tone_track * fraction(self.tone, self.tone_taper)
        Yc = jw * self.tone_capacitor
        return shunt(Yc / (1 + R * Yc)).drive(source)

    def winding(self) -> tuple[Value, Value]:
        """Return the inductance [H] and capacitance [F] of the pickups together, for hand checks.

        In series they add as series parts do, in parallel as parallel parts do.
        """
        coils: tuple[Coil, ...] = self.pickups or (self,)
        L, C = [coil.inductance for coil in coils], [coil.capacitance for coil in coils]
        if self.pickups and self.pickups_wiring == "series":
            return sum(L), _reciprocal(C)
        return _reciprocal(L), sum(C)

    def resistive(self) -> PassiveInstrument:
        """It holds no coupling part."""
        return self


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


def in_parallel(one: Source, two: Source) -> Source:
    """Return two joined sources: `Y = ΣYi`, `E = ΣEi·Yi/Y`, written so that Z = 0 is allowed.

    A source with Z = 0 and E = 0 (a pickup turned down) shorts the other, even an ideal one.
    """
    total = np.asarray(one.Z + two.Z)
    shorted = total == 0
    safe = np.where(shorted, 1.0, total)
    ideal = np.where(np.asarray(one.E * two.E) == 0, 0.0, (one.E + two.E) / 2)
    E = np.where(shorted, ideal, (one.E * two.Z + two.E * one.Z) / safe)
    return Source(E, one.Z * two.Z / safe)


def _reciprocal(values: list[Value]) -> Value:
    """Return `1/Σ(1/x)`, 0 if any is 0."""
    if any(np.any(np.asarray(value) == 0) for value in values):
        return 0.0
    return 1 / sum(1 / np.asarray(value) for value in values)
