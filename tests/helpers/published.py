"""Published numbers: every case, and what the program says to it, of coils and of cables.

Every expected value, its source and the reason for its tolerance stand in `reference/`. A function
here makes the board of one kind of case and returns what the program says; those of loads, noise
and parts are in `published_loads.py`; a case that brings its own board is solved in `worked.py`.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from typing import Any, TypeAlias

import numpy as np
from scipy.optimize import brentq

from helpers.reference import file as reference_file
from helpers.reference import files
from sigsim import metrics
from sigsim.board.reader import parse_board
from sigsim.physics.line import line
from sigsim.physics.source import angular
from sigsim.states.response import Response, response

FOOT = 0.3048  # metres, exactly
LIGHT = 299_792_458.0  # m/s, exactly (SI)
EPSILON_0 = 8.8541878128e-12  # F/m, CODATA 2018, from memory

Inputs: TypeAlias = dict[str, Any]
Case: TypeAlias = dict[str, Any]
Method: TypeAlias = Callable[[Inputs], float]
METHODS: dict[tuple[str, str], Method] = {}
# In the place of a name: every case of the file.
EVERY = "*"


def computes(file: str, *names: str) -> Callable[[Method], Method]:
    """Register a function as the way to compute these cases of a reference file."""

    def register(method: Method) -> Method:
        METHODS.update({(file, name): method for name in names})
        return method

    return register


def cases(file: str) -> dict[str, Case]:
    """Return the cases of a reference file by name."""
    read = tomllib.loads(reference_file(file).read_text(encoding="utf-8"))
    return {case["name"]: case for case in read["cases"]}


def every_case() -> list[tuple[str, Case]]:
    """Return every case of every file with the name of its file."""
    return [(path.stem, case) for path in files() for case in cases(path.stem).values()]


def agrees(case: Case, found: float) -> bool:
    """Whether what was found is what was printed, or is on the right side of a printed bound."""
    over = found - case["expected"]
    if case.get("bound") == "least":
        return bool(over >= -case["tolerance"])
    if case.get("bound") == "most":
        return bool(over <= case["tolerance"])
    return bool(abs(over) <= case["tolerance"])


def board(instrument: str, chain: str, destination: str = "", cable: str = "") -> Response:
    """Return the response of a board whose tables are given as the inside of inline tables."""
    text = f"""
        instrument = {{{instrument}}}
        destination = {{{destination}}}
        cables.cable = {{{cable}}}
        chain = [{{{chain}}}]
        """
    return response(parse_board(text))


def at(made: Response, frequency: float) -> complex:
    """Return H at one frequency [Hz]."""
    return complex(made(np.array([frequency]))[0])


def gain_db(made: Response, frequency: float) -> float:
    """Return the gain [dB] at one frequency [Hz]."""
    return 20 * math.log10(abs(at(made, frequency)))


def corner(made: Response, low: float, high: float) -> float:
    """Return where the gain has fallen by 3.01 dB from its value at `low` [Hz]."""
    wanted = gain_db(made, low) - metrics.HALF_POWER_DB
    return root(lambda f: gain_db(made, f) - wanted, low, high)


def root(function: Callable[[float], float], low: float, high: float) -> float:
    """Return where a function is zero, to about twelve digits however small the number is."""
    return float(brentq(function, low, high, xtol=1e-12 * low, rtol=1e-12))


WIRE = 'cable = "cable", length = 0'


def coil(inductance: float, capacitance: float, resistance: float = 0.0, extra: str = "") -> str:
    """Return the keys of an instrument with one coil [H, F, Ω]."""
    return (
        f"inductance = {inductance!r}, capacitance = {capacitance!r}, "
        f"resistance = {resistance!r}{extra}"
    )


@computes("inductor_self_resonance", "winding capacitance")
def winding_capacitance(given: Inputs) -> float:
    """Find the capacitance with which the open coil is a quarter turn late at its resonance."""
    f, L = given["self_resonance_hz"], given["inductance_h"]
    R = given.get("resistance_ohm", 0.0)

    def in_phase(C: float) -> float:
        return (1 / at(board(coil(L, C, R), WIRE), f)).real

    return root(in_phase, 1e-13, 1e-7)


@computes("inductor_self_resonance", "series quality factor")
def series_quality(given: Inputs) -> float:
    made = board(
        coil(given["inductance_h"], winding_capacitance(given), given["resistance_ohm"]), WIRE
    )
    return abs(at(made, given["self_resonance_hz"]))


@computes("coil_without_metal", EVERY)
def resonance_of_a_coil(given: Inputs) -> float:
    instrument = coil(given["inductance_h"], given["capacitance_f"], given["resistance_ohm"])
    peak = metrics.resonance(board(instrument, WIRE, f"input_capacitance = {given['added_f']!r}"))
    assert peak is not None
    return peak.frequency


WIRINGS = ("parallel", "series")


def _two_coils(given: Inputs, wiring: str) -> str:
    one = f"{{{coil(given['coil_inductance_h'], 0.0, 1e3)}}}"
    return f'pickups = [{one}, {one}], pickups_wiring = "{wiring}"'


def _undamped_resonance(instrument: str, given: Inputs) -> float:
    """Return where `1/H` is purely imaginary: the coil's resistance does not move that."""
    made = board(instrument, WIRE, f"input_capacitance = {given['capacitance_f']!r}")
    return root(lambda f: (1 / at(made, f)).real, 100.0, 20e3)


@computes("coil_switching", "resonance, parallel over series")
def parallel_over_series(given: Inputs) -> float:
    parallel, series = (_undamped_resonance(_two_coils(given, w), given) for w in WIRINGS)
    return parallel / series


@computes("coil_switching", "inductance, parallel over series")
def inductance_ratio(given: Inputs) -> float:
    parallel, series = (output_impedance(_two_coils(given, w), 1e3) for w in WIRINGS)
    return parallel.imag / series.imag


@computes("coil_switching", "resonance, one coil over series")
def one_over_series(given: Inputs) -> float:
    alone = _undamped_resonance(coil(given["coil_inductance_h"], 0.0, 1e3), given)
    return alone / _undamped_resonance(_two_coils(given, "series"), given)


def output_impedance(instrument: str, frequency: float) -> complex:
    """Measure an output impedance [Ω] as on a bench: open, and with a known load."""
    load = 1e6
    is_open = at(board(instrument, WIRE), frequency)
    loaded = at(board(instrument, WIRE, f"input_resistance = {load!r}"), frequency)
    return load * (is_open / loaded - 1)


def line_impedance(inductance: float, capacitance: float) -> float:
    """Return the impedance [Ω] of a lossless line from what an open and a shorted end show."""
    made = line(angular(np.array([1e3])), 0.0, inductance, capacitance, 0.0, 1.0)
    shown = made.admittance(0.0) * made.admittance(1e15)  # 1e15 S: a short
    return float(1 / np.sqrt(np.real(np.asarray(shown)[0])))


def capacitance_from_impedance(given: Inputs) -> float:
    """Find the capacitance per metre that gives a line of this velocity its impedance."""
    Z, speed = given["impedance_ohm"], given["velocity_factor"] * LIGHT
    L = Z / speed
    return root(lambda C: line_impedance(L, C) - Z, 1e-12, 1e-9)


@computes("insulation", EVERY)
def velocity_factor(given: Inputs) -> float:
    """Find where a kilometre of a library cable, without plugs or resistance, is a quarter wave."""
    made = board(
        'type = "active"',
        'cable = "cable", length = "1 km"',
        "input_resistance = 1e3",
        f'part = "{given["part"]}", plug_capacitance = 0, resistance = 0',
    )
    quarter = root(lambda f: at(made, f).real, 20e3, 90e3)
    return 4 * 1e3 * quarter / LIGHT


@computes("coaxial_cables_per_foot", "RG-59, capacitance per foot")
@computes("coaxial_cables_per_foot", "RG-59, capacitance per foot, computed")
@computes("coaxial_cables_per_foot", "RG-58A/C, capacitance per foot")
@computes("coaxial_cables_per_foot", "RG-174, capacitance per foot")
def capacitance_of_a_foot(given: Inputs) -> float:
    return measured_capacitance(f"{capacitance_from_impedance(given) * 1e12!r} pF/m", "1 ft")


@computes("coaxial_cables_per_foot", "RG-58, per foot to per metre")
@computes("instrument_cable_capacitance", "usual cable, per foot to per metre")
@computes("true_bypass_pedals", "lowest cable, per metre", "highest cable, per metre")
def per_foot_to_per_metre(given: Inputs) -> float:
    return measured_capacitance(f"{given['capacitance_per_foot_f'] * 1e12!r} pF/ft", "1 m")


@computes("true_bypass_pedals", "most a box and its patch lead adds")
def capacitance_of_a_box(given: Inputs) -> float:
    length = f"{given['length_ft'] / given['boxes']!r} ft"
    return measured_capacitance(f"{given['capacitance_per_foot_f'] * 1e12!r} pF/ft", length)


def measured_capacitance(per_length: str, length: str) -> float:
    """Measure a cable's capacitance [F] through a resistor at 1 kHz."""
    made = board(
        'type = "active", output_resistance = "100 kΩ"',
        f'cable = "cable", length = "{length}"',
        "",
        f'capacitance = "{per_length}"',
    )
    return (1 / at(made, 1e3)).imag / (2 * math.pi * 1e3 * 100e3)


def _coaxial(ratio: float, permittivity: float) -> float:
    """Return the capacitance per metre [F/m] of a coaxial line from its geometry."""
    return 2 * math.pi * EPSILON_0 * permittivity / math.log(ratio)


@computes("coaxial_formula", "diameter ratio 10 in vacuum, capacitance per foot")
@computes("coaxial_formula", "diameter ratio 3.41, solid polyethylene, capacitance per foot")
def capacitance_from_ratio(given: Inputs) -> float:
    C = _coaxial(given["diameter_ratio"], given["relative_permittivity"])
    return measured_capacitance(f"{C * 1e12!r} pF/m", "1 ft")
