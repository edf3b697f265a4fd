"""Random boards at the ends of what a board file may say: almost no loss, almost no signal.

Every value is one that the reader accepts; hardly any is one that a player would meet.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

RESISTANCES = (0.0, 1e-6, 1e-3, 1.0, 1e3, 1e5, 1e6, 1e9, 1e12)
CAPACITANCES = (1e-18, 1e-17, 1e-12, 1e-10, 1e-9, 22e-9, 1e-6, 1e-6)
INDUCTANCES = (1e-9, 1e-3, 0.05, 0.2, 1.0, 3.0, 100.0, 1e3)


def extreme_board(seed: int) -> str:
    """Return the text of a board file; the same seed gives the same board."""
    return "\n".join(_Writer(random.Random(seed)).lines()) + "\n"


def lossless_board(seed: int) -> str:
    """Return a board of coils and capacitors with hardly any resistance, and odd passive boxes."""
    return "\n".join(_Writer(random.Random(seed), lossless=True).lines()) + "\n"


class _Writer:
    def __init__(self, random_: random.Random, *, lossless: bool = False) -> None:
        self.random, self.lossless = random_, lossless

    def lines(self) -> Iterator[str]:
        yield 'title = "extreme"'
        yield from self._instrument()
        yield "[destination]"
        yield from self._some({"input_resistance": self._load()})
        yield from self._stopped()
        yield "[cables.c]"
        if farads := self.random.choice((0.0, 1e-12, 100e-12, 1e-9, 1e-8)):
            yield f"capacitance = {farads!r}"
            yield from self._some({"loss_tangent": self.random.choice((0.0, 1e-4, 0.1))})
        yield from self._some(
            {
                "resistance": self.random.choice((0.0, 1e-3, 0.1, 10.0)),
                "inductance": self.random.choice((0.0, 1e-7, 1e-5, 1e-4)),
                "plug_capacitance": self.random.choice((0.0, 1e-12, 1e-9, 1e-8)),
            }
        )
        if self.random.random() < 0.5:
            yield from ("[wiring]", 'cable = "c"', f"length = {self._length()}")
        yield from ("[[chain]]", 'cable = "c"', f"length = {self._length()}")
        names = []
        for number in range(self.random.choice((1, 2, 3, 4, 6))):
            names.append(f"s{number}")
            yield from ("[[chain]]", f'stage = "s{number}"')
            yield from self.random.choice((self._active, self._pad, self._transformer, self._pot))()
        if self.random.random() < 0.3:
            yield from ("[[chain]]", 'loop = "l"', "[[chain.inside]]", 'stage = "in"')
            yield from self._active()
        yield from ("[[chain]]", 'tap = "t"', 'cable = "c"', f"length = {self._length()}")
        yield from ("open = true", "[scenes]", f"first = {[names[0]]!r}", f"every = {names!r}")

    def _some(self, values: dict[str, float | None]) -> Iterator[str]:
        for key, value in values.items():
            if value is not None and self.random.random() < 0.7:
                yield f"{key} = {value!r}"

    def _ohm(self) -> float:
        small = RESISTANCES[:5] if self.lossless else RESISTANCES
        return self.random.choice(small)

    def _load(self) -> float | None:
        large = (None, 1e9, 1e12) if self.lossless else (None, 1e-3, 1e3, 1e6, 1e12)
        return self.random.choice(large)

    def _farad(self) -> float:
        return self.random.choice(CAPACITANCES[2:6] if self.lossless else CAPACITANCES)

    def _henry(self) -> float:
        return self.random.choice(INDUCTANCES[2:6] if self.lossless else INDUCTANCES)

    def _length(self) -> float:
        return self.random.choice((0.0, 0.2, 3.0, 20.0, 1000.0))

    def _coil(self) -> Iterator[str]:
        yield f"inductance = {self._henry()!r}"
        yield from self._some({"resistance": self._ohm(), "capacitance": self._farad()})
        if not self.lossless and self.random.random() < 0.3:
            yield f"loss_resistance = {self.random.choice((1.0, 1e5, 1e9))!r}"

    def _instrument(self) -> Iterator[str]:
        yield "[instrument]"
        kind = self.random.randrange(4)
        if kind == 0:
            yield from ('type = "active"', f"output_resistance = {self._ohm()!r}")
            return
        if kind < 3:
            yield from self._coil()
            if self.random.random() < 0.4:
                yield f"tone_capacitor = {self._farad()!r}"
            if self.random.random() < 0.3:
                yield from self._volume()
            if self.random.random() < 0.3:
                yield f"bass_cut_capacitor = {self._farad()!r}"
                yield f"bass_cut_track = {self.random.choice((1e-3, 1e6, 1e12))!r}"
                yield f"bass_cut = {self.random.choice((0, 5, 10))}"
            if self.random.random() < 0.3:
                yield f"wiring_capacitance = {self._farad()!r}"
            return
        wiring = self.random.choice(("parallel", "series"))
        yield f'pickups_wiring = "{wiring}"'
        coil = list(self._coil())
        for name in ("a", "b"):
            yield from ("[[instrument.pickups]]", f'name = "{name}"')
            yield from coil if self.random.random() < 0.4 else self._coil()
            yield f'polarity = "{self.random.choice(("normal", "reversed"))}"'
            if self.random.random() < 0.3:
                yield f"tone_capacitor = {self._farad()!r}"
            if wiring == "parallel" and self.random.random() < 0.4:
                yield from self._volume()

    def _volume(self) -> Iterator[str]:
        yield f"volume_track = {self.random.choice((1e-3, 250e3, 250e3, 1e12))!r}"
        yield f"volume = {self.random.choice((0, 0.01, 5, 10))}"
        yield f'volume_wiring = "output at {self.random.choice(("wiper", "track"))}"'
        if self.random.random() < 0.5:
            yield f"treble_bleed_capacitor = {self._farad()!r}"
            if self.random.random() < 0.5:
                yield f"treble_bleed_resistor = {self.random.choice((1e-6, 150e3, 1e12))!r}"
                yield f'treble_bleed = "{self.random.choice(("parallel", "series"))}"'

    def _active(self) -> Iterator[str]:
        yield f"input_resistance = {self.random.choice((1.0, 1e4, 1e6, 1e12))!r}"
        yield f"output_resistance = {self._ohm()!r}"
        bypass = self.random.choice(("true", "buffered", "hardwire"))
        yield f'bypass = "{bypass}"'
        gain = self.random.choice((-120, -60, 0, 0, 20, 120))
        yield f"gain = {gain}"
        yield from self._some(
            {
                "input_capacitor": self._farad(),
                "output_capacitor": self._farad(),
                "low_pass": self.random.choice((1e-3, 1e3, 1e8)),
                "high_pass": self.random.choice((1e-3, 1e3, 1e8)),
                "input_noise_voltage": self.random.choice((1e-9, 1e-3)),
                "input_noise_current": self.random.choice((1e-15, 1e-6)),
            }
        )
        yield from self._stopped()
        if bypass != "buffered":
            yield from self._some(
                {"contact_resistance": self._ohm(), "wiring_capacitance": self._farad()}
            )
        elif self.random.random() < 0.5:
            yield from self._some(
                {
                    "bypass_gain": self.random.choice((-120, -0.2, 120)),
                    "bypass_input_capacitor": self._farad(),
                    "bypass_output_capacitor": self._farad(),
                }
            )

    def _stopped(self) -> Iterator[str]:
        """Yield an input capacitance, perhaps behind a stopper; or neither."""
        if self.random.random() < 0.7:
            yield f"input_capacitance = {self._farad()!r}"
            yield from self._some({"input_series_resistance": self._ohm()})

    def _switch(self) -> Iterator[str]:
        if self.random.random() < 0.7:
            yield "always_on = false"

    def _pad(self) -> Iterator[str]:
        yield 'kind = "pad"'
        yield f"series_resistance = {self.random.choice((0.0, 1e-6, 1e3, 1e6, 1e12))!r}"
        yield f"shunt_resistance = {self.random.choice((1e-6, 1.0, 1e3, 1e6, 1e12))!r}"
        yield from self._switch()

    def _transformer(self) -> Iterator[str]:
        yield 'kind = "transformer"'
        yield f"ratio = {self.random.choice((1e-6, 0.1, 1.0, 10.0, 1e4))!r}"
        yield f"primary_inductance = {self._henry()!r}"
        yield from self._some(
            {
                "primary_resistance": self._ohm(),
                "secondary_resistance": self._ohm(),
                "winding_capacitance": self._farad(),
                "leakage_inductance": self._henry(),
            }
        )
        yield from self._switch()

    def _pot(self) -> Iterator[str]:
        yield from ('kind = "volume pedal"', "track = 10e3")
        yield f"position = {self.random.choice((0, 0.001, 1, 9.99, 10))}"
        yield from self._switch()
