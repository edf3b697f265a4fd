"""What the tests of netlists share: a simulator if there is one, and short boards."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from typing import Final

import numpy as np
import pytest

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.spice.emit_line import LineStyle
from sigsim.spice.engines import Engine, make_engine
from sigsim.spice.netlist import netlist

NEEDS_NGSPICE: Final = [
    pytest.mark.ngspice,
    pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is not installed"),
]


def with_ngspice(test: Callable[..., None]) -> Callable[..., None]:
    """Mark a test as one that needs the program."""
    for mark in NEEDS_NGSPICE:
        test = mark(test)
    return test


# More random boards than in every run: SIGSIM_BOARDS=9000 pytest -m ngspice
BOARDS: Final = int(os.environ.get("SIGSIM_BOARDS", "160"))

# Largest differences measured over 9 000 random boards, each with its own circuit and one of its
# references: 7e-7 dB and 3e-6°. Both sides are exact; what is left is rounding, mostly where an
# output is weaker than what drives it by many decades. The tolerances are what is asked of every
# netlist, a tenth of what the program promises; a slip of algebra shows as 0.1 dB and more.
DECIBELS: Final = 1e-4
DEGREES: Final = 1e-3

ENDS: Final = """
[instrument]
resistance = "8 kΩ"
inductance = "3 H"
capacitance = "100 pF"
[destination]
input_resistance = "1 MΩ"
[cables.lead]
capacitance = "100 pF/m"
resistance = "0.1 Ω/m"
inductance = "0.3 µH/m"
"""
LEAD: Final = '[[chain]]\ncable = "lead"\nlength = "5 m"\n'


# A split in a loop and one in that, each with its own way.
SPLITS: Final = (
    ENDS
    + LEAD
    + """
[[chain]]
loop = "l"
[[chain.inside]]
split = "wet"
destination = { name = "wet amp", input_resistance = "500k", input_capacitance = "150p" }
[[chain.inside.inside]]
split = "tuner"
destination = { input_resistance = "1M" }
[[chain.inside.inside]]
stage = "echo"
input_resistance = "500k"
output_resistance = "1k"
input_noise_voltage = "20 nV/rtHz"
input_noise_current = "1 pA/rtHz"
contact_resistance = 0.1
[[chain.inside.inside]]
cable = "lead"
length = "3 m"
[[chain]]
stage = "drive"
input_resistance = "200k"
output_resistance = "5k"
gain = 6
contact_resistance = 0.1
[[chain]]
cable = "lead"
length = "4 m"
"""
)


def board(text: str) -> Board:
    """Return a board of these ends and a chain."""
    return parse_board(ENDS + text)


def ngspice() -> Engine:
    """Return the program, which must be installed."""
    return make_engine("ngspice", None, 30.0)


def simulated_noise(
    board: Board, on: frozenset[str], style: LineStyle
) -> tuple[np.ndarray, np.ndarray]:
    """Return frequency [Hz] and the program's noise density at the destination [V/√Hz].

    Only as sections does a cable's resistance make noise.
    """
    plots = ngspice().run(netlist(board, board.state(on), noise=True, style=style).text)
    (plot,) = (p for p in plots if p.name.startswith("Noise Spectral"))
    return np.real(plot.vectors["frequency"]), np.real(plot.vectors["onoise_spectrum"])
