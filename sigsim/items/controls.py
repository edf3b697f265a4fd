"""The controls between a pickup and the jack: volume with its treble bleed, tone, bass cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from sigsim.items.fields import Declared, choice, quantity, taper
from sigsim.items.needs import Need
from sigsim.physics.pot import AUDIO, BackwardDivider, Divider, fraction
from sigsim.physics.source import Source, capacitor, series, shunt

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, Impedance, Value

TONE_POSITIONS = ("before volume", "after volume")
VOLUME_WIRINGS = ("output at wiper", "output at track")
BLEEDS = ("parallel", "series")


@dataclass(frozen=True, kw_only=True)
class VolumePot(Declared):
    """A volume control, perhaps with a treble bleed; without a track there is none."""

    volume_track: Value | None = quantity(
        "resistance",
        "of the volume pot (none = no pot)",
        None,
        above_zero=True,
        usually_kilohms=True,
    )
    volume_taper: float = taper("of the volume pot", AUDIO)
    volume: Value = quantity("knob", "position of the volume knob, 0 to 10", 10.0)
    volume_wiring: str = choice(
        "where the volume pot gives its output; the pickup is at the other",
        VOLUME_WIRINGS,
        "output at wiper",
    )
    treble_bleed_capacitor: Value = quantity(
        "capacitance", "over the part of the track above the wiper (0 = none)", 0.0
    )
    treble_bleed_resistor: Value = quantity(
        "resistance",
        "of the treble bleed (0 = its capacitor alone)",
        0.0,
        usually_kilohms=True,
    )
    treble_bleed: str = choice(
        "how resistor and capacitor of the treble bleed are joined", BLEEDS, "parallel"
    )

    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            ("volume", "volume_taper", "volume_wiring"),
            ("volume_track",),
            "it has no volume pot of its own",
        ),
        Need(
            ("treble_bleed_capacitor", "treble_bleed_resistor", "treble_bleed"),
            ("volume_track",),
            "a treble bleed bridges a volume pot, and it has none of its own",
        ),
        Need(
            ("treble_bleed_resistor", "treble_bleed"),
            ("treble_bleed_capacitor",),
            "there is no treble bleed without its capacitor",
        ),
        Need(
            ("treble_bleed",),
            ("treble_bleed_resistor",),
            "a capacitor alone is joined with nothing",
        ),
    )

    def after_volume(self, source: Source, jw: ComplexArray) -> Source:
        """Return the source at the output of the volume pot, at jω [rad/s]."""
        if self.volume_track is None:
            return source
        pot = BackwardDivider if self.volume_wiring == "output at track" else Divider
        a = fraction(self.volume, self.volume_taper)
        return pot(self.volume_track, a, self._bleed(jw)).drive(source)

    def _bleed(self, jw: ComplexArray) -> Impedance:
        """Return the admittance [S] of the treble bleed at jω [rad/s]."""
        C, R = self.treble_bleed_capacitor, self.treble_bleed_resistor
        if not np.any(C):
            return 0.0
        if self.treble_bleed == "series":
            return jw * C / (1 + jw * C * R)
        # Both are there or not in each of many draws: 0 is none, and not a short.
        there = (np.asarray(C) > 0) & (np.asarray(R) > 0)
        return jw * C + there / np.where(there, R, 1.0)


@dataclass(frozen=True, kw_only=True)
class ToneControl(VolumePot):
    """A tone control before or after the volume pot; without its capacitor there is none."""

    tone_track: Value = quantity("resistance", "of the tone pot", 0.0, usually_kilohms=True)
    tone_taper: float = taper("of the tone pot", AUDIO)
    tone_capacitor: Value = quantity("capacitance", "of the tone control (0 = none)", 0.0)
    tone: Value = quantity("knob", "position of the tone knob, 0 to 10", 10.0)
    tone_position: str = choice("where the tone control sits", TONE_POSITIONS, "before volume")

    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            ("tone_track", "tone_taper", "tone", "tone_position"),
            ("tone_capacitor",),
            "there is no tone control without its capacitor",
        ),
        Need(("tone_taper", "tone"), ("tone_track",), "it has no tone pot"),
        Need(
            ("tone_position",),
            ("volume_track",),
            "it has no volume pot of its own that the tone control could sit before or after",
        ),
    )

    def after_knobs(self, source: Source, jw: ComplexArray) -> Source:
        """Return the source behind tone control and volume pot, at jω [rad/s]."""
        if self.tone_position == "before volume":
            return self.after_volume(self.after_tone(source, jw), jw)
        return self.after_tone(self.after_volume(source, jw), jw)

    def after_tone(self, source: Source, jw: ComplexArray) -> Source:
        """Return the source with the tone control across it, at jω [rad/s]."""
        if not np.any(self.tone_capacitor):
            return source
        R = self.tone_track * fraction(self.tone, self.tone_taper)
        Yc = jw * self.tone_capacitor
        return shunt(Yc / (1 + R * Yc)).drive(source)


@dataclass(frozen=True, kw_only=True)
class BassCut(Declared):
    """A passive bass cut: a capacitor in series, more of it the further its knob is down."""

    bass_cut_capacitor: Value | None = quantity(
        "capacitance", "of the bass cut, in series (none = no bass cut)", None, above_zero=True
    )
    bass_cut_track: Value | None = quantity(
        "resistance",
        "of the bass cut pot, across its capacitor (none = the capacitor alone)",
        None,
        above_zero=True,
        usually_kilohms=True,
    )
    bass_cut_taper: float = taper("of the bass cut pot", AUDIO)
    bass_cut: Value = quantity(
        "knob", "position of the bass cut knob, 0 to 10; at 10 nothing is cut", 10.0
    )

    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            ("bass_cut_track", "bass_cut_taper", "bass_cut"),
            ("bass_cut_capacitor",),
            "there is no bass cut without its capacitor",
        ),
        Need(("bass_cut_taper", "bass_cut"), ("bass_cut_track",), "it has no bass cut pot"),
    )

    def after_bass_cut(self, source: Source, jw: ComplexArray) -> Source:
        """Return the source behind the bass cut, at jω [rad/s]."""
        if self.bass_cut_capacitor is None:
            return source
        if self.bass_cut_track is None:
            return series(capacitor(jw, self.bass_cut_capacitor)).drive(source)
        R = (1 - fraction(self.bass_cut, self.bass_cut_taper)) * self.bass_cut_track
        return series(R / (1 + R * jw * self.bass_cut_capacitor)).drive(source)
