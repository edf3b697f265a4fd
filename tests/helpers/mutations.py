"""Physics with one thing wrong in it, to see whether the published numbers would notice.

Each mutation replaces one function of the program by one that does what a slip would: a sign, a
factor of two, a part forgotten, two parts the wrong way round.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

import numpy as np
import pytest

from sigsim import metrics
from sigsim.board import model
from sigsim.items import base, cable, controls, inputs, instrument, loop, passive_stage, stage
from sigsim.items.destination import Destination
from sigsim.items.split import Branch, Split
from sigsim.items.tap import Tap
from sigsim.physics import line, loss, noise, pot, source, weighting
from sigsim.states import circuit
from sigsim.states import noise as walked

Patch = pytest.MonkeyPatch
Mutation = Callable[[Patch], None]
MUTATIONS: Final[dict[str, Mutation]] = {}


def mutation(name: str) -> Callable[[Mutation], Mutation]:
    """Register what makes one thing wrong under the words that say what."""

    def register(apply: Mutation) -> Mutation:
        MUTATIONS[name] = apply
        return apply

    return register


def _with(name: str, where: Any, method: str, change: Callable[[Any], dict[str, Any]]) -> None:
    """Register a mutation: a method of an item sees other values in the item's fields."""
    original = getattr(where, method)

    def mutated(self: Any, *given: Any) -> Any:
        return original(replace(self, **change(self)), *given)

    MUTATIONS[name] = lambda patch: patch.setattr(where, method, mutated)


def _spec(**factors: float) -> Callable[[Any], dict[str, Any]]:
    def change(self: Any) -> dict[str, Any]:
        values = {key: getattr(self.spec, key) * factor for key, factor in factors.items()}
        return {"spec": replace(self.spec, **values)}

    return change


def _times(**factors: float) -> Callable[[Any], dict[str, Any]]:
    def change(self: Any) -> dict[str, Any]:
        return {k: v * f for k, f in factors.items() if (v := getattr(self, k)) is not None}

    return change


def _gone(*keys: str) -> Callable[[Any], dict[str, Any]]:
    return lambda _: dict.fromkeys(keys)


Cable, Coil, Active = cable.Cable, instrument.Coil, stage.ActiveStage
Passive, Transformer = instrument.PassiveInstrument, passive_stage.Transformer
Pickup, Volume = instrument.Pickup, controls.VolumePot

_with("plugs left out", Cable, "line", _spec(plug_capacitance=0))
_with("one plug instead of two", Cable, "line", _spec(plug_capacitance=0.5))
_with("capacitance of a cable doubled", Cable, "line", _spec(capacitance=2))
_with("length of a cable taken as one metre", Cable, "line", lambda _: {"length": 1.0})
_with("dielectric loss left out", Cable, "line", _spec(loss_tangent=0))
_with("one conductor's resistance", Cable, "line", _spec(resistance=0.5))
_with("cable without inductance", Cable, "line", _spec(inductance=0))
_with("winding capacitance left out", Coil, "coil_source", _times(capacitance=0))
_with("loss resistance left out", Coil, "coil_source", _gone("loss_resistance"))
_with("loss resistance halved", Coil, "coil_source", _times(loss_resistance=0.5))
_with("loss exponent left out", Coil, "coil_source", lambda _: {"loss_exponent": 0.0})
_with("loss exponent doubled", Coil, "coil_source", _times(loss_exponent=2))
_with("inductance doubled", Coil, "coil_source", _times(inductance=2))
_with("resistance of the coil left out", Coil, "coil_source", _times(resistance=0))
_with("tone capacitor left out", Passive, "source", _times(tone_capacitor=0))
_with("tone track left out", Passive, "source", _times(tone_track=0))
_with(
    "tone on the other side of the volume",
    Passive,
    "source",
    lambda self: {
        "tone_position": next(p for p in controls.TONE_POSITIONS if p != self.tone_position)
    },
)
_with(
    "series and parallel pickups exchanged",
    Passive,
    "source",
    lambda self: {
        "pickups_wiring": next(w for w in instrument.WIRINGS if w != self.pickups_wiring)
    },
)
_with("volume of a pickup left out", Pickup, "source", _gone("volume_track"))
_with("tone of a pickup left out", Pickup, "source", _times(tone_capacitor=0))
_with("tone of a pickup in series left out", Pickup, "source_in_series", _times(tone_capacitor=0))
_with(
    "tone of a pickup on the other side of its volume",
    Pickup,
    "source",
    lambda self: {
        "tone_position": next(p for p in controls.TONE_POSITIONS if p != self.tone_position)
    },
)
_with("polarity of a pickup left out", Pickup, "_induced", lambda _: {"polarity": "normal"})
_with("treble bleed left out", Volume, "after_volume", _times(treble_bleed_capacitor=0))
_with("resistor of a treble bleed left out", Volume, "after_volume",
      _times(treble_bleed_resistor=0))  # fmt: skip
_with(
    "resistor of a treble bleed joined the other way",
    Volume,
    "after_volume",
    lambda self: {"treble_bleed": next(b for b in controls.BLEEDS if b != self.treble_bleed)},
)
_with(
    "a volume pot with its output at the track taken for the usual",
    Volume,
    "after_volume",
    lambda _: {"volume_wiring": "output at wiper"},
)
_with("bass cut left out", Passive, "source", _gone("bass_cut_capacitor"))
_with("pot of the bass cut left out", Passive, "source", _gone("bass_cut_track"))
_with("wiring to the jack left out", Passive, "source", _times(wiring_capacitance=0))
_with("gain in powers, not voltages", Active, "_gain", _times(gain=2))
_with("low-pass left out", Active, "_gain", _gone("low_pass"))
_with("low-pass in rad/s", Active, "_gain", _times(low_pass=1 / (2 * math.pi)))
_with("high-pass left out", Active, "_gain", _gone("high_pass"))
_with("input capacitor left out", Active, "step", _gone("input_capacitor"))
_with("output capacitor left out", Active, "step", _gone("output_capacitor"))
_with("input capacitance left out", Active, "step", _times(input_capacitance=0))
_with("output resistance left out", Active, "step", _times(output_resistance=0))
_with("contact left out", Active, "step", _times(contact_resistance=0))
_with("wiring left out", Active, "step", _times(wiring_capacitance=0))
_with(
    "hardwire taken for true bypass",
    Active,
    "step",
    lambda self: {"bypass": "true" if self.bypass == "hardwire" else self.bypass},
)
_with(
    "buffered bypass taken for true bypass",
    Active,
    "step",
    lambda self: {"bypass": "true" if self.bypass == "buffered" else self.bypass},
)
_with(
    "values of a buffered bypass ignored",
    Active,
    "step",
    _gone("bypass_input_resistance", "bypass_output_resistance"),
)
_with("capacitor of an active instrument left out", instrument.ActiveInstrument, "source",
      _gone("output_capacitor"))  # fmt: skip
_with("transformer turned round", Transformer, "network", lambda s: {"ratio": 1 / s.ratio})
_with("primary inductance left out", Transformer, "network", _gone("primary_inductance"))
_with("primary resistance left out", Transformer, "network", _times(primary_resistance=0))
_with("secondary resistance left out", Transformer, "network", _times(secondary_resistance=0))
_with("load at the end of a tap left out", Tap, "step",
      lambda _: {"input_resistance": None, "input_capacitance": 0.0})  # fmt: skip
_with("capacitance of the destination left out", Destination, "load",
      _times(input_capacitance=0))  # fmt: skip
_with("resistance of the destination left out", Destination, "load",
      _gone("input_resistance"))  # fmt: skip
_with("stopper of the destination left out", Destination, "load",
      _times(input_series_resistance=0))  # fmt: skip
_with("stopper of a stage left out", Active, "step", _times(input_series_resistance=0))
_with("stopper of a tap left out", Tap, "step", _times(input_series_resistance=0))
_with("gain of a buffered bypass left out", Active, "step", _times(bypass_gain=0))
_with("gain of a buffered bypass in powers", Active, "step", _times(bypass_gain=2))
_with("input capacitor of a buffered bypass left out", Active, "step",
      _gone("bypass_input_capacitor"))  # fmt: skip
_with("output capacitor of a buffered bypass left out", Active, "step",
      _gone("bypass_output_capacitor"))  # fmt: skip
_with(
    "capacitors of a stage kept in its buffered bypass",
    Active,
    "step",
    lambda self: {
        "bypass_input_capacitor": self.bypass_input_capacitor or self.input_capacitor,
        "bypass_output_capacitor": self.bypass_output_capacitor or self.output_capacitor,
    },
)
_with("winding capacitance of a transformer left out", Transformer, "network",
      _times(winding_capacitance=0))  # fmt: skip
_with("leakage left out", Transformer, "network", _times(leakage_inductance=0))


@mutation("stopper before the input resistance")
def _stopper_outside(patch: Patch) -> None:
    def load(self: inputs.Input, jw: Any) -> source.Load:
        resistance = math.inf if self.resistance is None else self.resistance
        Y = 1 / resistance + jw * self.capacitance
        share = 1 / (1 + Y * (self.in_series(jw) + self.stopper))
        return source.Load(Y * share, share)

    patch.setattr(inputs.Input, "load", load)


@mutation("voltage before the stopper taken for that behind it")
def _unshared(patch: Patch) -> None:
    original = inputs.Input.load
    patch.setattr(
        inputs.Input,
        "load",
        lambda self, jw: original(self, jw)._replace(
            share=original(self._replace(stopper=0.0), jw).share
        ),
    )


@mutation("a stopper that counts in a buffered bypass")
def _stopper_when_off(patch: Patch) -> None:
    def entry(self: stage.ActiveStage, on: bool) -> inputs.Input:
        return original(self, on)._replace(stopper=self.input_series_resistance)

    original = Active.input
    patch.setattr(Active, "input", entry)


@mutation("winding capacitance behind the leakage")
def _winding_behind(patch: Patch) -> None:
    def network(self: passive_stage.Transformer, jw: Any) -> source.TwoPort:
        inner = replace(self, leakage_inductance=0.0)
        return source.series(jw * self.leakage_inductance).then(original(inner, jw))

    original = Transformer.network
    patch.setattr(Transformer, "network", network)


@mutation("noise of a stopper left out")
def _quiet_stopper(patch: Patch) -> None:
    original = walked._Walk._of_input
    patch.setattr(
        walked._Walk, "_of_input", lambda self, entry: original(self, entry._replace(stopper=0.0))
    )


@mutation("hand check without a transformer's winding")
def _no_transformer_winding(patch: Patch) -> None:
    patch.setattr(Transformer, "shunt_capacitance", lambda *_: 0.0)


def _loss(patch: Patch, wrong: Callable[[Any, Any, Any, Any], Any]) -> None:
    patch.setattr(instrument, "lossy", wrong)


def _across(jw: Any, L: Any, Z: Any) -> Any:
    return jw * L / (1 + jw * L / Z)


@mutation("loss in series with the inductance")
def _loss_in_series(patch: Patch) -> None:
    _loss(patch, lambda jw, L, R, n: jw * L + R * (jw / loss.LOSS_OMEGA) ** n)


@mutation("loss falls with frequency")
def _falling_loss(patch: Patch) -> None:
    _loss(patch, lambda jw, L, R, n: _across(jw, L, R * (jw / loss.LOSS_OMEGA) ** -n))


@mutation("loss without its phase")
def _loss_without_phase(patch: Patch) -> None:
    _loss(patch, lambda jw, L, R, n: _across(jw, L, R * np.abs(jw / loss.LOSS_OMEGA) ** n))


@mutation("loss given at 1 rad/ms, not at 1 kHz")
def _loss_in_radians(patch: Patch) -> None:
    patch.setattr(loss, "LOSS_OMEGA", 1e3)


@mutation("cable lumped at its end")
def _lumped(patch: Patch) -> None:
    def lumped(jw: Any, R: Any, L: Any, C: Any, loss_tangent: Any, length: Any) -> line.Line:
        z, y = (R + jw * L) * length, (jw + jw.imag * loss_tangent) * C * length
        return line.Line(source.series(z).then(source.shunt(y)), 1.0)

    patch.setattr(cable, "line", lumped)


@mutation("tap left out")
def _no_tap(patch: Patch) -> None:
    patch.setattr(Tap, "step", lambda *_: source.wire())


def _taper(patch: Patch, wrong: Callable[[Any, float], Any]) -> None:
    for module in (controls, passive_stage):
        patch.setattr(module, "fraction", wrong)


@mutation("knobs turned the wrong way")
def _wrong_way(patch: Patch) -> None:
    _taper(patch, lambda position, midpoint: pot.fraction(10 - position, midpoint))


@mutation("audio taper taken as linear")
def _linear(patch: Patch) -> None:
    _taper(patch, lambda position, _: position / 10)


@mutation("audio taper upside down")
def _reverse_audio(patch: Patch) -> None:
    _taper(patch, lambda position, midpoint: 1 - pot.fraction(10 - position, midpoint))


@mutation("source behind a volume pot: its upper part alone")
def _upper(patch: Patch) -> None:
    def drive(self: pot.Divider, before: source.Source) -> source.Source:
        upper = before.Z + (1 - self.a) * self.track
        lower = self.a * self.track
        return source.Source(before.E * lower / (upper + lower), upper)

    patch.setattr(pot.Divider, "drive", drive)


@mutation("a volume pot the other way round shorts its output at 0")
def _backward_short(patch: Patch) -> None:
    def drive(self: pot.BackwardDivider, before: source.Source) -> source.Source:
        made = original(self, before)
        return source.Source(made.E, made.Z * (np.asarray(self.a) > 0))

    original = pot.BackwardDivider.drive
    patch.setattr(pot.BackwardDivider, "drive", drive)


@mutation("the treble bleed bridges the whole track")
def _whole_track(patch: Patch) -> None:
    patch.setattr(
        pot.Divider, "upper", property(lambda s: (1 - s.a) * s.track / (1 + s.track * s.bridge))
    )


@mutation("wiring to the jack before the bass cut")
def _wiring_first(patch: Patch) -> None:
    def made(self: instrument.PassiveInstrument, jw: Any) -> source.Source:
        before = replace(self, bass_cut_capacitor=None)
        return self.after_bass_cut(original(before, jw), jw)

    original = Passive.source
    patch.setattr(Passive, "source", made)


@mutation("the bass cut's knob leaves its lower part across the capacitor")
def _cut_upside_down(patch: Patch) -> None:
    def upside_down(self: controls.BassCut, before: source.Source, jw: Any) -> source.Source:
        if self.bass_cut_track is None:
            return original(self, before, jw)
        a = pot.fraction(self.bass_cut, self.bass_cut_taper)
        Z = 1 / (1 / (a * self.bass_cut_track) + jw * self.bass_cut_capacitor)
        return source.series(Z).drive(before)

    original = controls.BassCut.after_bass_cut
    patch.setattr(controls.BassCut, "after_bass_cut", upside_down)


def _behind(jw: Any, contact_resistance: Any, wiring_capacitance: Any) -> source.TwoPort:
    return source.shunt(jw * wiring_capacitance).then(source.series(contact_resistance))


@mutation("wiring before the contact of a stage")
def _stage_order(patch: Patch) -> None:
    patch.setattr(base, "bypassed", _behind)


@mutation("wiring before the contact of a loop")
def _loop_order(patch: Patch) -> None:
    patch.setattr(loop, "bypassed", _behind)


@mutation("transformer takes impedances by its ratio, not the square")
def _ratio(patch: Patch) -> None:
    def network(self: passive_stage.Transformer, jw: Any) -> source.TwoPort:
        plain = dataclasses.replace(self, ratio=math.sqrt(self.ratio))
        step_down = source.TwoPort(math.sqrt(self.ratio), 0.0, 0.0, math.sqrt(self.ratio))
        return original(plain, jw).then(step_down)

    original = Transformer.network
    patch.setattr(Transformer, "network", network)


@mutation("pad the other way round")
def _pad(patch: Patch) -> None:
    def network(self: passive_stage.Pad, _: Any) -> source.TwoPort:
        Y = 0.0 if self.shunt_resistance is None else 1 / self.shunt_resistance
        return source.shunt(Y).then(source.series(self.series_resistance))

    patch.setattr(passive_stage.Pad, "network", network)


@mutation("input of a stage does not load its source")
def _no_load(patch: Patch) -> None:
    patch.setattr(source.Isolator, "input", property(lambda _: 0.0))
    patch.setattr(
        source.Isolator, "drive", lambda self, before: source.Source(self.g * before.E, self.Z)
    )


@mutation("sign of a load")
def _sign(patch: Patch) -> None:
    patch.setattr(source.Source, "into", lambda self, Y: self.E / (1 - self.Z * Y))


@mutation("thermal noise 2kT")
def _two_kt(patch: Patch) -> None:
    def halved(Z: Any, temperature: float = noise.ROOM_TEMPERATURE) -> Any:
        return original(Z, temperature) / 2

    original = noise.johnson
    for module in (noise, walked):
        patch.setattr(module, "johnson", halved)


@mutation("current noise without its source")
def _no_current(patch: Patch) -> None:
    patch.setattr(
        walked, "amplifier_input", lambda en, i_n, Z: en**2 + 0 * np.abs(i_n * np.asarray(Z))
    )


@mutation("voltage and current noise added as voltages")
def _coherent(patch: Patch) -> None:
    patch.setattr(
        walked, "amplifier_input", lambda en, i_n, Z: (en + np.abs(i_n * np.asarray(Z))) ** 2
    )


@mutation("noise of what is passive left out")
def _no_passive(patch: Patch) -> None:
    patch.setattr(walked, "passive_part", lambda before, *_: 0.0 * np.real(np.asarray(before)))


@mutation("A-weighting without its offset")
def _offset(patch: Patch) -> None:
    original = weighting.a_weighting_db
    for module in (weighting, _loads()):
        patch.setattr(module, "a_weighting_db", lambda f: original(f) - weighting.OFFSET_DB)


@mutation("A-weighting with a pole at the wrong place")
def _pole(patch: Patch) -> None:
    patch.setattr(weighting, "POLES", (20.60, 107.7, 739.9 * 1.1, 12194.0))


def _loads() -> Any:
    from helpers import published_loads

    return published_loads


@mutation("corner at half the voltage")
def _half(patch: Patch) -> None:
    patch.setattr(metrics, "HALF_POWER_DB", 20 * math.log10(2))


@mutation("level at 1 kHz")
def _level(patch: Patch) -> None:
    patch.setattr(metrics, "LEVEL_HZ", 1000.0)


@mutation("centres of the treble band an octave too low")
def _centres(patch: Patch) -> None:
    original = metrics.third_octaves
    patch.setattr(metrics, "third_octaves", lambda low, high: original(low, high) / 2)


@mutation("a split does not load the way that it leaves")
def _split_without_load(patch: Patch) -> None:
    patch.setattr(Branch, "shunt", lambda _, jw, *__: source.shunt(0.0 * jw))


@mutation("the other way does not load the end of a split")
def _other_way_without_load(patch: Patch) -> None:
    original = model.way_to

    def alone(items: Any, place: Any, end: Any) -> Any:
        way = original(items, place, end)
        return tuple(i for i in way if not (place and isinstance(i, Split)))

    patch.setattr(model, "way_to", alone)


@mutation("a split loads with what is behind its first isolator")
def _split_without_end(patch: Patch) -> None:
    original = Branch.load
    patch.setattr(Branch, "load", lambda self, *given: original(replace(self, end=None), *given))


@mutation("the end of a split is read by the other destination")
def _wrong_destination(patch: Patch) -> None:
    patch.setattr(model.Board, "end", property(lambda self: self.destination))


@mutation("a reference has the other way as well")
def _reference_with_splits(patch: Patch) -> None:
    patch.setattr(Branch, "in_ideal", lambda *_: True)


@mutation("current noise of a split left out")
def _silent_split(patch: Patch) -> None:
    patch.setattr(walked._Walk, "_out_of_branch", lambda *_: 0.0)


@mutation("current noise of a split in a split left out")
def _silent_inner_split(patch: Patch) -> None:
    original = walked._Walk._first_isolators

    def shallow(self: Any, item: Any, share: Any) -> Any:
        run = tuple(met for met in item.run if not isinstance(met[0], Branch))
        return original(self, replace(item, run=run), share)

    patch.setattr(walked._Walk, "_first_isolators", shallow)


@mutation("hand check without the winding")
def _no_winding(patch: Patch) -> None:
    original = Passive.winding
    patch.setattr(Passive, "winding", lambda self: (original(self)[0], 0.0))


@mutation("hand check without the wiring to the jack")
def _no_wiring(patch: Patch) -> None:
    original = Passive.winding
    patch.setattr(Passive, "winding", lambda self: original(replace(self, wiring_capacitance=0.0)))


@mutation("hand check with the bass cut open")
def _open_cut(patch: Patch) -> None:
    patch.setattr(Passive, "resistive", lambda self: self)


@mutation("hand check without cables")
def _no_cables(patch: Patch) -> None:
    patch.setattr(Cable, "shunt_capacitance", lambda *_: 0.0)


@mutation("hand check without what hangs on the line")
def _no_branches(patch: Patch) -> None:
    for item in (Tap, Active):
        patch.setattr(item, "shunt_capacitance", lambda *_: 0.0)


def _reference_without(patch: Patch, left_out: type) -> None:
    def without(*given: Any) -> list[Any]:
        return [met for met in original(*given) if not isinstance(met.item, left_out)]

    original = circuit.reference_path
    patch.setattr(circuit, "reference_path", without)


@mutation("the ideal reference has no lead")
def _no_lead(patch: Patch) -> None:
    _reference_without(patch, Cable)


@mutation("the ideal reference leaves out what is on")
def _bare(patch: Patch) -> None:
    _reference_without(patch, base.Stage)
