"""What is asked about the states of a board: what to rank by, and what is held on or off."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from sigsim import metrics
from sigsim.errors import SigsimError, quote
from sigsim.metrics import USUAL_BASIS, Basis
from sigsim.states.distinct import distinct_states
from sigsim.states.every import MOST_SWITCHES, WORD
from sigsim.states.levels import LEVEL
from sigsim.states.measure import Measure, treble
from sigsim.states.search import USUAL_SECONDS

if TYPE_CHECKING:
    from sigsim.board.model import Board


@dataclass(frozen=True)
class StatesQuestion:
    """What is asked about the states of a board.

    Attributes
    ----------
    board : the board
    basis : what a loss is measured against and over
    by : "treble", "corner", "level", or a frequency [Hz] whose loss ranks the states
    fixed : things held on or off
    below : a corner [Hz] under which states are counted, or None
    seed : of the random numbers where not all states can be listed
    seconds : how long to search for the worst and the best
    """

    board: Board
    basis: Basis = USUAL_BASIS
    by: str | float = "treble"
    fixed: Mapping[str, bool] | None = None
    below: float | None = None
    seed: int = 1
    seconds: float = USUAL_SECONDS

    def varying(self) -> tuple[str, ...]:
        """Return the names of what varies."""
        return tuple(n for n in self.board.switches() if n not in (self.fixed or {}))

    def listed(self) -> bool:
        """Whether there are few enough states to count and to list every one."""
        few = len(self.varying()) <= WORD
        return few and distinct_states(self.board, self.fixed) <= 1 << MOST_SWITCHES

    @cached_property
    def _measures(self) -> tuple[Measure, ...]:
        losses = [Measure(np.array([f]), self.basis.reference) for f in metrics.LOSS_HZ]
        return (LEVEL, *losses, treble(self.basis))

    def measures(self) -> tuple[Measure, ...]:
        """Return level, the losses at the usual frequencies and the treble loss."""
        return self._measures

    @cached_property
    def ranking(self) -> Measure | None:
        """The measure to rank by; None for the corner. Of the level alone a small one is bad."""
        if self.by == "corner":
            return None
        if self.by == "level":
            return self._measures[0]
        if self.by == "treble":
            return self._measures[-1]
        return Measure(np.array([float(self.by)]), self.basis.reference)

    def searched(self) -> tuple[Measure, ...]:
        """Return all measures by which states are searched: to rank, the treble loss, the level."""
        by = () if self.ranking is None else (self.ranking,)
        return (*by, self._measures[-1], LEVEL)


def hold(board: Board, on: set[str], off: set[str]) -> dict[str, bool]:
    """Return what is held on and off.

    Raises
    ------
    UnknownNameError : a name that the board does not have
    SigsimError : one thing held both ways, or something without a switch held off
    """
    switches, known = board.switches(), board.stage_names()
    for name in sorted(on | off):
        if name not in known:
            board.refuse_unswitched(name, "--scene-like, --off")
    if both := sorted(on & off):
        raise SigsimError(
            "this cannot be held on and off at once",
            where="--scene-like, --off",
            found=", ".join(quote(name) for name in both),
        )
    if stuck := sorted(off - set(switches)):
        raise SigsimError(
            "this has no switch and cannot be held off", where="--off", found=quote(stuck[0])
        )
    return {name: name in on for name in switches if name in on | off}
