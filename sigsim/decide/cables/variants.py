"""A board with each of several cables in one role, measured together where they share a state."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sigsim.board.edit import with_cable
from sigsim.decide.cables.limit import CABLE_KEYS, Role
from sigsim.decide.loss.report import assess_variants
from sigsim.physics.arrays import scalar
from sigsim.states.response import Solver
from sigsim.states.search import worst_state

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.decide.loss.report import StateReport
    from sigsim.items.cable import CableSpec
    from sigsim.metrics import Basis


class Variants:
    """A board with each of several cables in one role.

    Parameters
    ----------
    board, role : the board and the role that varies
    specs : the cables
    """

    def __init__(self, board: Board, role: Role, specs: Sequence[CableSpec]) -> None:
        self.board, self.role, self.specs = board, role, specs
        self.boards = [with_cable(board, role.name, spec) for spec in specs]
        self._solvers: dict[tuple[int, ...], Solver] = {}

    def worst(self, basis: Basis) -> tuple[list[StateReport], list[bool]]:
        """Return the worst of all states with each cable, and whether the search was complete."""
        extremes = [worst_state(board, basis) for board in self.boards]
        states = [self.board.state(extreme.on) for extreme in extremes]
        return self._measured(states, basis), [extreme.exact for extreme in extremes]

    def in_scene(self, name: str, basis: Basis) -> list[StateReport]:
        """Return a scene with each cable."""
        return self._measured([self.board.scene(name)] * len(self.boards), basis)

    def _measured(self, states: Sequence[State], basis: Basis) -> list[StateReport]:
        """Return the state with each cable, all cables that share one at once."""
        found: dict[int, StateReport] = {}
        for state in dict.fromkeys(states):
            rows = tuple(i for i, one in enumerate(states) if one == state)
            boards = [self.boards[i] for i in rows]
            reports = assess_variants(self._solver(rows), boards, state, basis)
            found.update(zip(rows, reports, strict=True))
        return [found[i] for i in range(len(states))]

    def _solver(self, rows: tuple[int, ...]) -> Solver:
        """Return what solves the board with some of the cables, one a row."""
        if rows not in self._solvers:
            some = [self.specs[i] for i in rows]
            values: dict[str, Any] = {
                key: np.array([[scalar(getattr(spec, key))] for spec in some]) for key in CABLE_KEYS
            }
            spec = some[0] if len(some) == 1 else replace(some[0], **values)
            self._solvers[rows] = Solver(with_cable(self.board, self.role.name, spec))
        return self._solvers[rows]
