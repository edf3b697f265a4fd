"""What a solver keeps: the grids that all states share, and never too much."""

from __future__ import annotations

import random
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from sigsim.board.reader import read_board
from sigsim.decide.loss.report import assess
from sigsim.states import response
from sigsim.states.circuit import Circuit
from sigsim.states.response import Solver

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.physics.arrays import FloatArray

EXAMPLE = Path(__file__).parents[2] / "examples" / "ferry-guitar-big.toml"


def test_the_shared_grids_are_computed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[bytes] = []

    class Counted(Circuit):
        def __init__(self, board: Board, frequency: FloatArray) -> None:
            super().__init__(board, frequency)
            # Seventeen points around a corner or a resonance, with 100 Hz before them.
            if frequency.size != 18:
                made.append(frequency.tobytes())

    monkeypatch.setattr(response, "Circuit", Counted)
    board = read_board(EXAMPLE)
    solver, names, draw = Solver(board), sorted(board.switches()), random.Random(1)
    for _ in range(12):
        assess(solver, board.state(draw.sample(names, draw.randint(0, len(names)))))
    assert len(made) == len(set(made))


def test_of_large_grids_few_are_kept() -> None:
    solver = Solver(read_board(EXAMPLE))
    grids = [np.linspace(20, 2000 + n, 5000) for n in range(6)]
    first = solver.circuit(grids[0])
    assert solver.circuit(grids[0]) is first
    for grid in grids[1:]:
        solver.circuit(grid)
    assert solver.circuit(grids[-1]) is solver.circuit(grids[-1])
    assert solver.circuit(grids[0]) is not first
