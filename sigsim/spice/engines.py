"""The simulators that can be asked: what they have in common, and where to find them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.spice.raw import Plot


class Engine(Protocol):
    """A simulator."""

    @property
    def version(self) -> str:
        """What it calls itself, such as "ngspice-39"."""

    def run(self, text: str) -> list[Plot]:
        """Return the results of all analyses of a netlist.

        Raises
        ------
        SigsimError : it fails, or takes longer than it may
        """


_Maker = Callable[[str | None, float], Engine]

# Name → where its function `engine(program, timeout)` is; loaded only when it is used.
ENGINES: Final[dict[str, str]] = {"ngspice": "sigsim.spice.run", "pyspice": "sigsim.spice.shared"}


def make_engine(name: str, program: str | None, timeout: float) -> Engine:
    """Return a simulator.

    Parameters
    ----------
    name : one of `ENGINES`
    program : where the program is, None to look on the PATH
    timeout : after how many seconds a run is ended

    Raises
    ------
    SigsimError : it is not installed
    """
    maker: _Maker = import_module(ENGINES[name]).engine
    return maker(program, timeout)


@dataclass(frozen=True)
class Answer:
    """A simulator's frequency response.

    Attributes
    ----------
    frequency : [Hz], shape (frequency,)
    H : at the output [-]
    """

    frequency: FloatArray
    H: ComplexArray


def ac(plots: list[Plot]) -> Answer:
    """Return the AC analysis out of all results.

    Raises
    ------
    SigsimError : there is none
    """
    for plot in plots:
        if plot.name.startswith("AC") and "v(out)" in plot.vectors:
            frequency = np.real(plot.vectors["frequency"])
            return Answer(frequency.astype(float), plot.vectors["v(out)"].astype(complex))
    raise SigsimError("the simulator gave no AC analysis")
