"""What the program finds on a virtual bench, beside what was put there."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from helpers.bench import Sweep
from helpers.bench_cases import Case, Given, random_bench
from sigsim.measure.known import Across, Known
from sigsim.measure.played import read_played
from sigsim.measure.recipes.measure import measure
from sigsim.units import Quantity

# More benches than in every run, their sweeps longer: SIGSIM_BENCHES=100 pytest tests/measure
BENCHES: Final = int(os.environ.get("SIGSIM_BENCHES", "0"))

ABSOLUTE: Final = frozenset({"loss_exponent", "loss_tangent"})


@dataclass(frozen=True)
class Found:
    """One figure of one bench.

    Attributes
    ----------
    kind, number : of the bench; key : of the figure
    truth, value, low, high : [SI]; value None for a bound
    case : the bench
    """

    kind: str
    number: int
    key: str
    truth: float
    value: float | None
    low: float | None
    high: float | None
    case: Case

    @property
    def covered(self) -> bool:
        """Whether the interval holds the truth."""
        above = self.low is None or self.low <= self.truth
        return above and (self.high is None or self.truth <= self.high)

    @property
    def error(self) -> float:
        """Of the value: a part of the truth, or of a plain number its own [-]; NaN for a bound."""
        return np.nan if self.value is None else (self.value - self.truth) / self._scale

    @property
    def half_width(self) -> float:
        """Of the interval, as the error; NaN where it has one end."""
        if self.low is None or self.high is None:
            return np.nan
        return (self.high - self.low) / 2 / self._scale

    @property
    def _scale(self) -> float:
        return 1.0 if self.key in ABSOLUTE else self.truth


def known(case: Case) -> Known:
    """Return what is told of a bench as the program takes it."""
    told: dict[str, Any] = {key: Quantity(*given) for key, given in case.known.items()}
    if "probe_resistance" in told:
        told["probe"] = Across(told.pop("probe_resistance"), told.pop("probe_capacitance"))
    loads = tuple(_across(unit, given) for unit, given in case.loads)
    return Known(**told, loads=loads)


def _across(unit: str, given: Given) -> Across:
    told = Quantity(*given)
    return Across(capacitance=told) if unit == "F" else Across(resistance=told)


def look(kind: str, number: int, folder: Path, sweep: Sweep) -> tuple[Any, list[Found]]:
    """Play a bench and measure it: what came out, and each figure beside its truth.

    Words, and what is not told because it does not show, are left to the caller.
    """
    case, recorder = random_bench(kind, number, sweep)
    files = case.play(recorder, folder)
    played = None if sweep == Sweep() else read_played(str(sweep.write(folder / "sweep.wav")))
    measured = measure(case.recipe, files, known(case), played)
    listed = []
    for truths, figures in ((case.truth, measured.figures), (case.point, measured.point)):
        for key, truth in truths.items():
            figure = figures.get(key)
            if figure is None or isinstance(truth, str) or isinstance(figure.value, str):
                continue
            name = key if truths is case.truth else f"point: {key}"
            ends = (figure.value, figure.low, figure.high)
            listed.append(Found(kind, number, name, float(truth), *ends, case))
    return measured, listed
