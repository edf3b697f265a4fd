"""Published numbers of loads, stages, noise, pitch, letter codes and parts: what the program says.

Importing this registers the functions; `helpers.published` has the rest, and says how it works.
"""

from __future__ import annotations

import json
import math
from functools import cache
from typing import Any

import numpy as np

from helpers import published_sweeps  # noqa: F401  (registers its own)
from helpers.in_process import sigsim_here
from helpers.measured import predicted_loss
from helpers.published import (
    EVERY,
    METHODS,
    WIRE,
    Case,
    Inputs,
    board,
    computes,
    corner,
    every_case,
    gain_db,
    output_impedance,
    root,
)
from helpers.worked import answer
from sigsim import metrics
from sigsim.board.reader import parse_board
from sigsim.board.state import State
from sigsim.decide.noise import noise_report
from sigsim.items.instrument import PassiveInstrument
from sigsim.physics.weighting import OFFSET_DB, a_weighting_db
from sigsim.states.circuit import Circuit
from sigsim.states.noise import noise
from sigsim.states.response import response
from sigsim.units import parse

SOURCE = 'type = "active", output_resistance = '


@computes("measured_coils", EVERY)
def loss_of_a_measured_coil(given: Inputs) -> float:
    """Predict what the load took, with a loss that grows with the root of frequency."""
    return predicted_loss(given["coil"], 0.5)


@computes("triode_input", "corner with 42.9 kΩ")
@computes("valve_stage_design", "corner with 159 kΩ")
def corner_of_an_input(given: Inputs) -> float:
    load = f"input_capacitance = {given['shunt_f']!r}"
    made = board(f"{SOURCE}{given['source_ohm']!r}", WIRE, load)
    return corner(made, 20.0, 1e8)


@computes("valve_stage_design", "series capacitor for 368 Ω", "series capacitor for 132 kΩ")
def series_capacitor(given: Inputs) -> float:
    """Find the input capacitor with which a stage falls by half a power at the corner."""
    stage = (
        f'stage = "s", always_on = true, input_resistance = {given["resistance_ohm"]!r}, '
        "output_resistance = 0, input_capacitor = "
    )

    def too_much(C: float) -> float:
        made = board('type = "active"', f"{stage}{C!r}")
        return gain_db(made, given["corner_hz"]) + metrics.HALF_POWER_DB

    return root(too_much, 1e-9, 1e-2)


@computes("bass_pickups", "two halves of a split coil in series")
def resistance_of_two_halves(given: Inputs) -> float:
    half = f'{{part = "{given["part"]}"'
    pickups = f'{half}, name = "one"}}, {half}, name = "other"}}'
    # 0.1 Hz: 6 H are 4 Ω there, a quarter turn away from the resistance.
    return output_impedance(f'pickups = [{pickups}], pickups_wiring = "series"', 0.1).real


@computes("johnson_noise_voltage", EVERY)
def noise_of_a_resistor(given: Inputs) -> float:
    made = _resistor(given["resistance_ohm"])
    return _density(made, given["temperature_k"]) * math.sqrt(given["bandwidth_hz"])


@computes("amplifier_noise", EVERY)
def noise_of_an_amplifier(given: Inputs) -> float:
    # An input that takes nothing from its source and adds no noise of its own resistor.
    stage = (
        'stage = "amp", always_on = true, input_resistance = 1e12, output_resistance = 0, '
        f"input_noise_voltage = {given['voltage_noise']!r}, "
        f"input_noise_current = {given['current_noise']!r}"
    )
    return _density(_resistor(given["source_ohm"], stage), given["temperature_k"])


def _resistor(resistance: float, chain: str = WIRE) -> str:
    return (
        f"instrument = {{{SOURCE}{resistance!r}}}\ndestination = {{}}\n"
        f"cables.cable = {{}}\nchain = [{{{chain}}}]"
    )


def _density(text: str, temperature: float) -> float:
    """Return the density [V/√Hz] at the destination at 1 kHz."""
    circuit = Circuit(parse_board(text), np.array([1e3]))
    return math.sqrt(noise(circuit, frozenset(), temperature).total[0])


@computes("a_weighting", EVERY)
def a_weighting(given: Inputs) -> float:
    if "frequency_hz" in given:  # what the offset makes up for
        return float(a_weighting_db(np.array([given["frequency_hz"]]))[0] - OFFSET_DB)
    return float(a_weighting_db(np.array([given["exact_hz"]]))[0])


@computes("letter_codes", EVERY)
def letter_code(given: Inputs) -> float:
    kind = "capacitance" if set(given["code"]) & set("pnu") else "resistance"
    return float(parse(given["code"], kind).value)


@cache
def _part(name: str) -> dict[str, Any]:
    """Return a part as `sigsim parts` prints it."""
    printed: dict[str, dict[str, Any]] = json.loads(sigsim_here("parts", name, "--json").out)
    return printed[name]


_QUANTITIES = {
    "Ω": "resistance",
    "F": "capacitance",
    "H": "inductance",
    "F/m": "capacitance per length",
}


def library_value(part: str, key: str, unit: str) -> float:
    """Return the nominal value of a key of a part, as the program prints and reads it."""
    return float(parse(_part(part)["values"][key], _QUANTITIES[unit]).value)


@cache
def _passive() -> tuple[str, ...]:
    """Return the library's instruments that have coils."""
    printed = json.loads(sigsim_here("parts", "--kind", "instrument", "--json").out)
    return tuple(name for name, part in printed.items() if "type" not in part["values"])


@computes("pickup_ranges", "inductance, lower end")
def least_inductance(_: Inputs) -> float:
    return min(_inductances())


@computes("pickup_ranges", "inductance, upper end")
def most_inductance(_: Inputs) -> float:
    return max(_inductances())


def _inductances() -> list[float]:
    found = []
    for name in _passive():
        made = parse_board(_with_cable(name, 0.0)).instrument
        assert isinstance(made, PassiveInstrument)
        found += [float(coil.inductance) for coil in made.pickups or (made,)]
    return found


@computes("pickup_ranges", "loaded resonance, lower end")
def lowest_resonance(given: Inputs) -> float:
    return min(peak.frequency for peak in _peaks(given))


@computes("pickup_ranges", "loaded resonance, upper end")
def highest_resonance(given: Inputs) -> float:
    return max(peak.frequency for peak in _peaks(given))


@computes("pickup_ranges", "resonance height, upper end")
def highest_peak(given: Inputs) -> float:
    return max(peak.height for peak in _peaks(given))


def _peaks(given: Inputs) -> list[metrics.Resonance]:
    """Return the resonances of the passive instruments of the library, each with a cable."""
    boards = (parse_board(_with_cable(name, given["cable_f"])) for name in _passive())
    peaks = [metrics.resonance(response(made)) for made in boards]
    return [peak for peak in peaks if peak is not None]


def _with_cable(instrument: str, capacitance: float) -> str:
    return (
        f'instrument = {{part = "{instrument}"}}\ncables.cable = {{}}\nchain = [{{{WIRE}}}]\n'
        f"destination = {{input_resistance = 1e6, input_capacitance = {capacitance!r}}}"
    )


@computes("worked_noise", "a resistor over the band that is heard")
def noise_of_a_band(given: Inputs) -> float:
    """Return the flat total that `sigsim noise` prints for every stage off [V]."""
    made = parse_board(_resistor(given["resistance_ohm"]))
    return noise_report(made, [State("")]).states[0].destination.flat


def found(file: str, case: Case) -> float:
    """Return what the program says to a case.

    Raises
    ------
    KeyError : a case that nothing here compares
    """
    given = case["inputs"]
    if "asks" in case:
        return answer(case)
    if {"part", "key"} <= set(given):
        return library_value(given["part"], given["key"], case["unit"])
    method = METHODS.get((file, case["name"])) or METHODS[file, EVERY]
    return method(given)


def used() -> set[tuple[str, str]]:
    """Return the registered ways that some case takes."""
    taken = set()
    for file, case in every_case():
        named = (file, case["name"])
        taken.add(named if named in METHODS else (file, EVERY))
    return taken
