"""Our response beside a simulator's, state by state."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.board.edit import each_cable
from sigsim.items.instrument import PassiveInstrument
from sigsim.spice.engines import ac
from sigsim.spice.netlist import netlist
from sigsim.states.circuit import Circuit

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.spice.emit_line import LineStyle
    from sigsim.spice.engines import Engine

# What pickups of opposite polarity leave of one another below this share of what they make the same
# way round is nothing but rounding in the simulator: its numbers have some 16 digits, and a network
# loses a few of them.
_NOTHING: Final = 1e-10


@dataclass(frozen=True)
class StateDifference:
    """How far two responses are apart.

    Attributes
    ----------
    state : in which
    db, deg : the largest difference in level [dB] and phase [degrees]; infinite where only one of
        the two is silent
    frequency : where the level differs most [Hz]
    seconds : that the simulator took
    left_out : what the netlist does not say; our response leaves it out as well
    approximated : what the netlist says by other parts that come near; our response has it exactly
    """

    state: State
    db: float
    deg: float
    frequency: float
    seconds: float
    left_out: tuple[str, ...]
    approximated: tuple[str, ...] = ()


@dataclass(frozen=True)
class CrossCheck:
    """What `crosscheck` answers.

    Attributes
    ----------
    board : the board
    engine : what the simulator calls itself
    limit_db, limit_deg : the largest difference that is accepted
    total : how many different states the board has
    states : the differences by state
    """

    board: Board
    engine: str
    limit_db: float
    limit_deg: float
    total: int
    states: tuple[StateDifference, ...]

    @property
    def left_out(self) -> tuple[str, ...]:
        """What both sides leave out, each sentence once."""
        return tuple(dict.fromkeys(s for state in self.states for s in state.left_out))

    @property
    def approximated(self) -> tuple[str, ...]:
        """What the netlists say nearly, each sentence once."""
        return tuple(dict.fromkeys(s for state in self.states for s in state.approximated))

    @property
    def failed(self) -> tuple[StateDifference, ...]:
        """The states that differ by more than a limit."""
        return tuple(s for s in self.states if not self.holds(s))

    @property
    def distinct(self) -> int:
        """How many different states were looked at; two scenes can be the same one."""
        return len({self.board.heard(found.state.on) for found in self.states})

    @property
    def db(self) -> float:
        """The largest difference in level [dB]."""
        return max(state.db for state in self.states)

    @property
    def deg(self) -> float:
        """The largest difference in phase [degrees]."""
        return max(state.deg for state in self.states)

    @property
    def seconds(self) -> float:
        """How long the simulator took in all."""
        return sum(state.seconds for state in self.states)

    def holds(self, state: StateDifference) -> bool:
        """Whether a state keeps within both limits."""
        return state.db <= self.limit_db and state.deg <= self.limit_deg


def differences(
    board: Board,
    states: Iterable[State],
    engine: Engine,
    *,
    reference: Reference | None = None,
    style: LineStyle | None = None,
) -> Iterator[StateDifference]:
    """Yield the difference in each state.

    Parameters
    ----------
    board : the board
    states : of the board
    engine : the simulator
    reference : compare this reference instead of the board itself
    style : how cables are written

    Raises
    ------
    SigsimError : the simulator fails
    """
    lossless = without_loss_tangents(board)
    same_way = _same_way(lossless)
    for state in states:
        written = netlist(board, state, reference=reference, style=style)
        start = time.perf_counter()
        answer = ac(engine.run(written.text))
        seconds = time.perf_counter() - start
        ours = _ours(lossless, state, reference, answer.frequency)
        if same_way is not None:
            floor = _NOTHING * np.abs(_ours(same_way, state, reference, answer.frequency))
            ours, theirs = (np.where(np.abs(H) > floor, H, 0.0) for H in (ours, answer.H))
        else:
            theirs = answer.H
        db, deg, frequency = apart(ours, theirs, answer.frequency)
        yield StateDifference(
            state, db, deg, frequency, seconds, written.left_out, written.approximated
        )


def _ours(
    board: Board, state: State, reference: Reference | None, frequency: FloatArray
) -> ComplexArray:
    circuit = Circuit(board, frequency)
    if reference is None:
        return circuit.response(state.on)
    return circuit.reference(state.on, reference)


def _same_way(board: Board) -> Board | None:
    """Return a board whose pickups all have the same polarity, None if its own have."""
    instrument = board.instrument
    if not isinstance(instrument, PassiveInstrument):
        return None
    if len({pickup.polarity for pickup in instrument.pickups}) < 2:
        return None
    pickups = tuple(replace(pickup, polarity="normal") for pickup in instrument.pickups)
    return replace(board, instrument=replace(instrument, pickups=pickups))


def apart(
    ours: ComplexArray, theirs: ComplexArray, frequency: FloatArray
) -> tuple[float, float, float]:
    """Return the largest difference [dB] and [degrees], and where the first of them is [Hz]."""
    H = np.broadcast_to(ours, theirs.shape)
    both = (H != 0) & (theirs != 0)
    one = (H != 0) != (theirs != 0)
    with np.errstate(all="ignore"):
        ratio = np.divide(H, theirs, out=np.ones_like(theirs), where=both)
        db = np.where(one, np.inf, np.abs(20 * np.log10(np.abs(ratio))))
        deg = np.where(one, np.inf, np.abs(np.degrees(np.angle(ratio))))
    db, deg = (np.nan_to_num(d, nan=np.inf, posinf=np.inf) for d in (db, deg))
    at = int(np.argmax(db))
    return float(db[at]), float(deg.max()), float(frequency[at])


def without_loss_tangents(board: Board) -> Board:
    """Return a board whose cables have no dielectric loss, which no netlist can say."""
    return each_cable(
        board, lambda cable: replace(cable, spec=replace(cable.spec, loss_tangent=0.0))
    )
