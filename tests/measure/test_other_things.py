"""Recordings of something else than the recipe says: a bridge left closed, a pedal, a bare socket.

The circuits are solved by nodal analysis (`made_ratios.py`); what no part can have is that of
reference/manual/measuring.md: pickups have 1 to 15 H and 3 to 20 kΩ, a cable that is free at its
far end no resistance.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from helpers.made_ratios import Bench, Instrument, Thing, cable, pedal, voltage_of_output
from helpers.thinned import crossed, only_full

from sigsim.errors import SigsimError
from sigsim.measure.known import Across, Known
from sigsim.measure.recipes.measure import fit
from sigsim.measure.response import Ratio
from sigsim.measure.result import Measured
from sigsim.units import Quantity

RECIPES = ("cable", "pickup", "input", "bypass")
PROBE = Across(Quantity(1e6), Quantity(450e-12))


def bench(number: int = 1) -> Bench:
    return Bench(np.random.default_rng(number))


def known(**more: Any) -> Known:
    return Known(resistor=Quantity(100e3, 0.005), output_resistance=Quantity(150.0, 0.1), **more)


def found(recipe: str, thing: Thing | None, **ratios: Ratio) -> Measured:
    made = bench()
    of = {"before": made.over_loop("before.wav"), "with": made.over_loop("with.wav", thing)}
    return fit(recipe, {role: [r] for role, r in (of | ratios).items()}, known())


def excited(
    made: Instrument, load: float = 10e-9, said: float = 10e-9, track: Quantity | None = None
) -> Measured:
    bare, loaded = made.heard(1e6, 450e-12), made.heard(1e6, 450e-12, load)
    loads = (Across(capacitance=Quantity(said, 0.01)),)
    ratios = {"loaded": [bench().recorded("loaded.wav", loaded, bare)]}
    return fit("pickup", ratios, Known(loads=loads, probe=PROBE, volume_track=track))


@pytest.mark.parametrize("recipe", RECIPES)
@pytest.mark.parametrize("level_db", [0.0, -1.0, 1.0])
def test_a_bridge_that_is_still_closed(recipe: str, level_db: float) -> None:
    """At the loop's level, or with a knob moved as well."""
    made = bench()
    loop = made.level(None, 0.0)
    before = made.recorded("before.wav", loop * 10 ** (level_db / 20), loop)
    with pytest.raises(SigsimError, match="bridge") as error:
        found(recipe, cable(600e-12, 0.02, 0.0), before=before)
    assert "before.wav" in str(error.value)


@pytest.mark.parametrize("resistor", [10e3, 100e3, 1e6])
@pytest.mark.parametrize("lead", [30e-12, 400e-12])
def test_a_bridge_that_is_open_is_never_taken_for_a_closed_one(
    resistor: float, lead: float
) -> None:
    """The shortest lead that there is has some 30 pF."""
    made = replace(bench(), resistor=resistor, lead_C=lead, input_R=1e6)
    thing = cable(600e-12, 0.02, 0.0)
    ratios = {"before": [made.over_loop("b")], "with": [made.over_loop("w", thing)]}
    told = replace(known(), resistor=Quantity(resistor, 0.005))
    assert fit("cable", ratios, told).figures["total_capacitance"].value == pytest.approx(
        600e-12, rel=0.03
    )


@pytest.mark.parametrize("recipe", ["cable", "pickup", "input"])
def test_nothing_was_plugged_in(recipe: str) -> None:
    with pytest.raises(SigsimError, match="not plugged in"):
        found(recipe, None)


def test_a_bypass_without_a_picofarad_has_a_note() -> None:
    notes = found("bypass", None).notes
    assert any("See that the box was plugged in" in note for note in notes)
    notes = found("bypass", cable(20e-12, 0.0, 0.0)).notes
    assert not any("plugged in" in note for note in notes)


def test_the_volume_was_not_turned_down() -> None:
    made, instrument = bench(), Instrument()
    half = made.over_loop("half.wav", instrument.at(1.0))
    with pytest.raises(SigsimError, match="volume was not turned down"):
        found("pickup", instrument.at(1.0), half=half)


def test_no_load_was_plugged_in() -> None:
    with pytest.raises(SigsimError, match="load was not plugged in"):
        excited(Instrument(track=None), load=0.0)


def test_an_output_without_its_load_has_a_note() -> None:
    bare = voltage_of_output(1e3, None, None)
    ratios = {"with": [bench().recorded("with.wav", bare, bare)]}
    known = Known(loads=(Across(resistance=Quantity(1e3, 0.01)),))
    (note,) = fit("output", ratios, known).notes
    assert "see that it was plugged in" in note


@pytest.mark.parametrize(
    "thing",
    [
        pedal(1e6, 80e-12),
        pedal(510e3, 200e-12, 47e-9),
        pedal(100e3, 50e-12),
        pedal(1e6, 300e-12, None, 10e3),
        cable(800e-12, 0.02, 0.0),
        *only_full(cable(30e-12, 0.0, 0.0)),
    ],
)
def test_what_is_no_pickup(thing: Thing) -> None:
    with pytest.raises(SigsimError, match=r"no pickup has a coil like this|do not fit"):
        found("pickup", thing)


@pytest.mark.parametrize(("R", "C"), crossed([2.2e6, 1e6, 510e3, 220e3], [50e-12, 700e-12]))
def test_what_has_a_resistance_is_no_cable(R: float, C: float) -> None:
    """A pedal's input, alone or at the end of a cable."""
    with pytest.raises(SigsimError, match="no cable with a free far end"):
        found("cable", pedal(R, C))


@pytest.mark.parametrize("number", range(5))
def test_a_cable_is_a_cable(number: int) -> None:
    made = bench(number)
    thing = cable(600e-12, 0.04, 5e-12)
    ratios = {"before": [made.over_loop("b")], "with": [made.over_loop("w", thing)]}
    assert fit("cable", ratios, known()).figures


@pytest.mark.parametrize("said", [10e-6, *only_full(1e-6)])
def test_a_load_in_another_unit(said: float) -> None:
    with pytest.raises(SigsimError, match=r"--load is not what it was said to be|do not fit"):
        excited(Instrument(track=None), said=said)


def test_a_load_that_is_ten_times_too_large_leaves_a_doubt() -> None:
    notes = excited(Instrument(track=None), said=100e-9).notes
    assert any("--load above all" in note for note in notes)


@pytest.mark.parametrize("track", [250e3, 500e3])
@pytest.mark.parametrize("n", [0.4, 0.5, 0.6])
def test_a_pot_that_was_not_said_is_found(track: float, n: float) -> None:
    made = Instrument(track=track, wiring=0.0, n=n)
    measured = excited(made)
    assert any("show a volume pot" in note for note in measured.notes)
    for key, truth in (("inductance", made.L), ("volume_track", track)):
        figure = measured.figures[key]
        assert figure.low is not None
        assert figure.high is not None
        # An interval of 95 % may miss: another quarter of its width is 2.5 standard deviations.
        more = (figure.high - figure.low) / 8
        assert figure.low - more < truth < figure.high + more


@pytest.mark.parametrize("n", [0.4, 0.5, 0.6])
def test_a_bare_pickup_is_a_bare_one(n: float) -> None:
    made = Instrument(track=None, wiring=0.0, n=n)
    measured = excited(made)
    assert "volume_track" not in measured.figures
    # 1 %: what is promised of an inductance, and as much for the load's own.
    assert measured.figures["inductance"].value == pytest.approx(made.L, rel=0.02)


@pytest.mark.parametrize("track", [None, 250e3])
def test_where_a_pot_cannot_be_told_the_intervals_hold_both(track: float | None) -> None:
    """A loss that is a plain resistance looks like a pot."""
    made = Instrument(track=track, n=0.0, wiring=0.0)
    measured = excited(made)
    assert any("volume pot" in note or "volume-track" in note for note in measured.notes)
    figure = measured.figures["inductance"]
    assert (figure.low or 0.0) < made.L * 1.01
    assert (figure.high or np.inf) > made.L * 0.99


def test_a_tone_control_that_was_not_said_has_its_size_in_a_note() -> None:
    made = Instrument(track=250e3, tone=(250e3, 47e-9))
    notes = found("pickup", made.at(1.0)).notes
    assert any("some 10 % small" in note for note in notes)


def test_a_volume_that_is_not_at_10_is_asked_about() -> None:
    measured = found("pickup", Instrument(R=60e3, L=4.0).at(1.0))
    assert any("knobs of the instrument were at 10" in note for note in measured.notes)


@pytest.mark.parametrize(("length", "odd"), [(60.0, True), (6.0, False), (1.0, True)])
def test_a_length_that_no_cable_has(length: float, odd: bool) -> None:
    """Cables have 50 to 200 pF/m (the manual); 600 pF are 10, 100 and 600."""
    made = bench()
    thing = cable(600e-12, 0.02, 0.0)
    ratios = {"before": [made.over_loop("b")], "with": [made.over_loop("w", thing)]}
    notes = fit("cable", ratios, known(length=Quantity(length))).notes
    assert odd == any("unusual: cables have" in note for note in notes)


def test_a_note_is_said_once() -> None:
    notes = found("cable", cable(600e-12, 0.02, 0.0)).notes
    assert len(set(notes)) == len(notes)
