"""Random benches: a circuit for each recording of a recipe, what its owner knows, and the truth."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final, TypeAlias

import numpy as np

from helpers import bench_circuits as circuits
from helpers.bench import Recorder, Sweep, Transfer
from helpers.bench_circuits import LEAD, Put, Socket
from helpers.nodal import Table

Draw: TypeAlias = np.random.Generator
# A value [SI unit], and the half width of its range as a part of it.
Given: TypeAlias = tuple[float, float]

# "read on a meter to 0.5 %", and "an output resistance told within 10 %".
RESISTOR: Final = (100e3, 0.005)
_OUTPUT_TOLD: Final = 0.1
# Where the exciter's recordings are turned up to [dBFS].
_LOUD: Final = -10.0


@dataclass(frozen=True)
class Case:
    """One random bench.

    Attributes
    ----------
    recipe : its name
    circuits : by role, in the order of recording
    known : what is told, by name of the option with underscores; loads in order
    truth : by key of a board file [SI]
    point : truth of the point: the interface's input and all that lies there before
    exciter : whether the recordings are turned up together until the loudest peaks at -10 dBFS
    """

    recipe: str
    circuits: Mapping[str, list[Transfer]]
    known: Mapping[str, Given]
    truth: Mapping[str, float]
    point: Mapping[str, float] = field(default_factory=dict)
    loads: tuple[tuple[str, Given], ...] = ()
    exciter: bool = False

    def play(self, recorder: Recorder, folder: Path) -> dict[str, list[str]]:
        """Write all recordings and return their paths by role."""
        gain = self._gain(recorder) if self.exciter else 1.0
        paths: dict[str, list[str]] = {}
        for role, listed in self.circuits.items():
            for n, circuit in enumerate(listed):
                path = recorder.record(folder / f"{role}-{n}.wav", circuit, gain)
                paths.setdefault(role, []).append(str(path))
        return paths

    def _gain(self, recorder: Recorder) -> float:
        """Return how far to turn up, as heard of short sweeps without noise."""
        quiet = {"noise": -200.0, "hum": -200.0, "second": 0.0, "third": 0.0, "drift": 0.0}
        short = replace(recorder.sweep, seconds=1.0, repeats=1)
        meter = replace(recorder, sweep=short, **quiet)
        circuits = [circuit for listed in self.circuits.values() for circuit in listed]
        loudest = max(np.abs(meter.heard(circuit, "meter")).max() for circuit in circuits)
        return float(10 ** (_LOUD / 20) / loudest)


def within(draw: Draw, given: Given) -> float:
    """Return a true value, anywhere in the range that was told."""
    value, tolerance = given
    return value * (1 + tolerance * draw.uniform(-1, 1))


def _log(draw: Draw, low: float, high: float) -> float:
    return float(np.exp(draw.uniform(np.log(low), np.log(high))))


def _socket(draw: Draw) -> Socket:
    lead = LEAD | {"capacitance": draw.uniform(60e-12, 150e-12)}
    lead["loss_tangent"] = draw.uniform(0.0, 0.03)
    return Socket(
        output_resistance=_log(draw, 30, 600),
        input_resistance=1e6 * draw.uniform(0.8, 1.2),
        input_capacitance=draw.uniform(20e-12, 150e-12),
        lead=lead,
        length=draw.uniform(0.5, 3.0),
    )


def _resistor_method(
    draw: Draw, recipe: str, thing: dict[str, Put], known: dict[str, Given], truth: Table
) -> Case:
    """Return a case whose things hang on a point, each role's on its own.

    A pickup's or a pedal's own lead is there from the loop on.
    """
    socket = _socket(draw)
    own = 0.0 if recipe == "cable" else draw.uniform(0.5, 4.0)
    free = [circuits.on_a_lead(own)] if own else []
    Rs = within(draw, RESISTOR)
    made = {"loop": [socket.point(0.0, *free)], "before": [socket.point(Rs, *free)]}
    for role, put in thing.items():
        put = circuits.on_a_lead(own, put) if own else put
        made[role] = [socket.point(Rs, put)]
    C = socket.input_capacitance + socket.lead["capacitance"] * socket.length
    point = {
        "input_resistance": socket.input_resistance,
        "input_capacitance": C + own * LEAD["capacitance"],
    }
    told = socket.output_resistance / (1 + _OUTPUT_TOLD * draw.uniform(-1, 1))
    known = {"resistor": RESISTOR, "output_resistance": (told, _OUTPUT_TOLD), **known}
    return Case(recipe, made, known, truth, point)


def cable(draw: Draw) -> Case:
    """Return a cable of 50 to 160 pF/m and 1 to 10 m."""
    table = {
        "capacitance": draw.uniform(50e-12, 160e-12),
        "loss_tangent": draw.uniform(0.0, 0.05),
        "resistance": draw.uniform(0.02, 0.3),
        "inductance": draw.uniform(2e-7, 6e-7),
        "plug_capacitance": draw.uniform(0.0, 10e-12),
    }
    length, plug = draw.uniform(1.0, 10.0), table["plug_capacitance"]
    known = {"length": (length, 0.0), "plug_capacitance": (plug, 0.0)}
    truth = {
        "total_capacitance": table["capacitance"] * length + 2 * plug,
        "capacitance": table["capacitance"],
        "loss_tangent": table["loss_tangent"],
    }
    return _resistor_method(draw, "cable", {"with": circuits.cable(table, length)}, known, truth)


def _pickup(draw: Draw) -> Table:
    return {
        "resistance": _log(draw, 4e3, 15e3),
        "inductance": _log(draw, 1.5, 8.0),
        "capacitance": draw.uniform(40e-12, 250e-12),
        "loss_resistance": _log(draw, 50e3, 1e6),
        "loss_exponent": draw.uniform(0.0, 0.6),
    }


def _with_pots(draw: Draw) -> tuple[Table, dict[str, Given]]:
    """Return a pickup behind a volume, most behind a tone control too, and what a meter reads."""
    pot = draw.choice([250e3, 500e3])
    table = {**_pickup(draw), "volume_track": pot * draw.uniform(0.8, 1.2)}
    table["wiring_capacitance"] = draw.uniform(0.0, 60e-12)
    known = {}
    if draw.uniform() < 0.7:
        table["tone_track"] = pot * draw.uniform(0.8, 1.2)
        table["tone_capacitor"] = draw.choice([22e-9, 47e-9])
        known = {"tone_track": (table["tone_track"], 0.0)}
        known["tone_capacitor"] = (table["tone_capacitor"], 0.1)
    return table, known


def _truth(table: Table) -> Table:
    keys = ("resistance", "inductance", "loss_resistance", "loss_exponent", "volume_track")
    truth = {key: table[key] for key in keys if key in table}
    truth["capacitance"] = table["capacitance"] + table.get("wiring_capacitance", 0.0)
    return truth


def pickup(draw: Draw) -> Case:
    """Return a pickup whose pots were measured."""
    table, known = _with_pots(draw)
    known["volume_track"] = (table["volume_track"], 0.0)
    things = {"with": circuits.instrument(table)}
    return _resistor_method(draw, "pickup", things, known, _truth(table))


def pickup_half(draw: Draw) -> Case:
    """Return a pickup that was also recorded with its volume about half."""
    table, known = _with_pots(draw)
    turned = table | {"volume": draw.uniform(4.0, 7.0)}
    turned["volume_taper"] = draw.choice(["linear", "audio", "audio 20 %"])
    things = {"with": circuits.instrument(table), "half": circuits.instrument(turned)}
    return _resistor_method(draw, "pickup", things, known, _truth(table))


def _loaded(draw: Draw, loads: dict[str, Given]) -> Case:
    table = _pickup(draw)
    total = draw.uniform(350e-12, 550e-12)
    socket = Socket(input_capacitance=total, length=0.0)
    source, made = circuits.excited(table), {"open": [], "loaded": []}
    made["open"].append(circuits.by_exciter(socket.behind(source)))
    for unit, given in loads.items():
        value = within(draw, given)
        put = circuits.capacitor(value) if unit == "F" else circuits.resistor(value)
        made["loaded"].append(circuits.by_exciter(socket.behind(source, put)))
    truth = _truth(table) | {"coil_and_probe": table["capacitance"] + total}
    known = {"probe_resistance": (1e6, 0.0), "probe_capacitance": (total, 0.0)}
    return Case("pickup", made, known, truth, loads=tuple(loads.items()), exciter=True)


def exciter(draw: Draw) -> Case:
    """Return a bare pickup, heard open and with a capacitor across it."""
    return _loaded(draw, {"F": (10e-9, 0.01)})


def exciter_two_loads(draw: Draw) -> Case:
    """Return a bare pickup, heard open, with a capacitor and with a resistor across it."""
    return _loaded(draw, {"F": (10e-9, 0.01), "Ω": (200e3, 0.01)})


def _input(draw: Draw, low: float = 10e3, high: float = 5e6) -> Table:
    return {"input_resistance": _log(draw, low, high), "input_capacitance": draw.uniform(0, 5e-10)}


def plain_input(draw: Draw) -> Case:
    """Return an input of a resistance and a capacitance."""
    table = _input(draw)
    return _resistor_method(draw, "input", {"with": circuits.stage_input(table)}, {}, table)


def coupled_input(draw: Draw) -> Case:
    """Return an input behind a capacitor, behind a stopper, or both."""
    table = _input(draw)
    parts = draw.integers(1, 4)
    if parts & 1:
        corner = _log(draw, 1.0, 40.0)
        table["input_capacitor"] = 1 / (2 * np.pi * corner * table["input_resistance"])
    if parts & 2:
        table["input_series_resistance"] = _log(draw, 1e3, 68e3)
    return _resistor_method(draw, "input", {"with": circuits.stage_input(table)}, {}, table)


def bypass(draw: Draw) -> Case:
    """Return a pedal that is off, of one of the three kinds."""
    kind = str(draw.choice(["true", "hardwire", "buffered"]))
    table: Table = {"bypass": kind, "wiring_capacitance": draw.uniform(5e-12, 80e-12)}
    table["contact_resistance"] = draw.uniform(0.01, 0.2)
    truth: Table = {"bypass": kind, "wiring_capacitance": table["wiring_capacitance"]}
    if kind != "true":
        table |= _input(draw, 100e3, 1.2e6)
        C = table["input_capacitance"] + (kind == "hardwire") * table["wiring_capacitance"]
        truth = {"bypass": kind, "bypass_input_resistance": table["input_resistance"]}
        truth["bypass_input_capacitance"] = C
    return _resistor_method(draw, "bypass", {"with": circuits.stage_off(table)}, {}, truth)


def output(draw: Draw) -> Case:
    """Return an output of 50 Ω to 20 kΩ, half of them behind a capacitor."""
    table = {"output_resistance": _log(draw, 50.0, 20e3)}
    if draw.uniform() < 0.5:
        table["output_capacitor"] = _log(draw, 1e-6, 10e-6)
    given = (table["output_resistance"] * _log(draw, 0.7, 1.4), 0.01)
    load, socket = circuits.resistor(within(draw, given)), _socket(draw)
    source = circuits.output(table)
    made = {"before": [socket.behind(source)], "with": [socket.behind(source, load)]}
    return Case("output", made, {}, table, loads=(("Ω", given),))


CASES: Final[Mapping[str, Callable[[Draw], Case]]] = {
    "cable": cable,
    "pickup": pickup,
    "pickup, half": pickup_half,
    "exciter": exciter,
    "exciter, two loads": exciter_two_loads,
    "input": plain_input,
    "input, coupled": coupled_input,
    "bypass": bypass,
    "output": output,
}


def random_bench(kind: str, number: int, sweep: Sweep | None = None) -> tuple[Case, Recorder]:
    """Return the bench of this kind and number, with an interface of its own."""
    draw = np.random.default_rng([number, *kind.encode()])
    case = CASES[kind](draw)
    mains = float(draw.choice([50.0, 60.0]))
    # A wait of half a minute now and then, else of seconds.
    wait = 30.0 if draw.uniform() < 0.05 else 2.0
    seed = int(draw.integers(1 << 31))
    return case, Recorder(sweep or Sweep(), seed, mains=mains, lead_in=wait)
