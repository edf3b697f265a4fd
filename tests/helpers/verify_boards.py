"""Invented boards to be compared with their plan, as plain dictionaries, and what is wrong.

Nothing here imports the program: what is measured comes from `nodal.py`. The ranges of all figures
are common practice, without a source.
"""

from __future__ import annotations

import copy
import random
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from helpers.nodal import solve

Table: TypeAlias = dict[str, Any]

POINTS = np.geomspace(20.0, 20e3, 900)
# Noise of a recording 60 dB over its noise floor after repeats, and what gains drift meanwhile.
SIGMA = 3e-4
DRIFT_DB = 0.003


@dataclass(frozen=True)
class Wrong:
    """What is wrong with a board.

    Attributes
    ----------
    kind : "cable", "box" or "pedal"
    name : of what it is wrong with
    keys : under which keys of a board file
    board : as it was built
    on : what was on as it was recorded
    """

    kind: str
    name: str
    keys: tuple[str, ...]
    board: Table
    on: frozenset[str]


def drawn(seed: int) -> Table:
    """Draw a board: an instrument, its lead, three to eight pedals, cables, an amplifier."""
    draw = random.Random(seed)
    cables = {
        name: {"capacitance": draw.uniform(*per_metre) * 1e-12, "plug_capacitance": 4e-12}
        for name, per_metre in (("lead", (70, 160)), ("patch", (80, 200)), ("run", (60, 130)))
    }
    chain: list[Table] = [{"cable": "lead", "length": round(draw.uniform(3, 7), 1)}]
    for number in range(draw.randint(3, 8)):
        if number:
            chain.append({"cable": "patch", "length": round(draw.uniform(0.15, 0.9), 2)})
        chain.append(_pedal(draw, number))
    chain.append({"cable": "run", "length": round(draw.uniform(3, 9), 1)})
    instrument = {
        "resistance": draw.uniform(5e3, 13e3),
        "inductance": draw.uniform(2.0, 7.0),
        "capacitance": draw.uniform(60e-12, 200e-12),
        "loss_resistance": draw.uniform(300e3, 2e6),
        "volume_track": draw.choice([250e3, 500e3]),
        "tone_track": 250e3,
        "tone_capacitor": draw.choice([22e-9, 47e-9]),
    }
    amp = {"input_resistance": 1e6, "input_capacitance": draw.uniform(20e-12, 150e-12)}
    title = f"invented {seed}"
    return {
        "title": title, "instrument": instrument, "destination": amp,
        "cables": cables, "chain": chain,
    }  # fmt: skip


def _pedal(draw: random.Random, number: int) -> Table:
    # One that buffers even while it is off would hide the whole board if it came first.
    bypass = draw.choices(["true", "buffered", "hardwire"], [7, 1 if number else 0, 1])[0]
    pedal: Table = {
        "stage": f"box {number + 1}",
        "input_resistance": draw.choice([220e3, 470e3, 1e6, 2e6]),
        "input_capacitance": draw.uniform(20e-12, 220e-12),
        "output_resistance": draw.choice([100.0, 1e3, 4.7e3, 10e3]),
        "bypass": bypass,
    }
    if bypass != "buffered":
        pedal["wiring_capacitance"] = draw.choice([0.0, 15e-12, 40e-12])
    return pedal


def spoiled(plan: Table, kind: str, seed: int) -> Wrong:
    """Return a board as it was built, one thing of it other than planned, with everything off.

    What lies behind a pedal that buffers even while it is off cannot be heard from the instrument,
    and is not chosen.
    """
    draw = random.Random(seed)
    built = copy.deepcopy(plan)
    chain = built["chain"]
    buffer = next((n for n, i in enumerate(chain) if i.get("bypass") == "buffered"), len(chain))
    heard = chain[:buffer]
    if kind == "cable":
        cable = draw.choice([item for item in heard if "cable" in item])
        cable["length"] *= 1.4
        return Wrong(kind, cable["cable"], ("length", "capacitance"), built, frozenset())
    box = draw.choice([item for item in heard if "stage" in item])
    if kind == "pedal":
        return Wrong(kind, box["stage"], ("on",), built, frozenset({box["stage"]}))
    box["wiring_capacitance"] += 300e-12
    return Wrong(kind, box["stage"], ("wiring_capacitance",), built, frozenset())


def measured(
    built: Table, on: frozenset[str], seed: int, without: str = "direct"
) -> NDArray[np.complex128]:
    """Return through over without at `POINTS`, with noise and drift.

    Parameters
    ----------
    built : the board as it is
    on : what was on
    seed : of the noise
    without : what the recording without the board went through
    """
    noise = np.random.default_rng(seed)
    through = solve(built, on, POINTS)
    reference = solve(built, on, POINTS, without)  # type: ignore[arg-type]
    own = SIGMA * (noise.standard_normal(POINTS.size) + 1j * noise.standard_normal(POINTS.size))
    drift = 10 ** (DRIFT_DB / 20 * noise.uniform(-1, 1))
    ratio: NDArray[np.complex128] = through / reference * np.exp(own) * drift
    return ratio
