"""How long a cable may be before a board loses more treble than a limit allows."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import numpy as np

from sigsim.board.edit import each_cable
from sigsim.board.laying import Then
from sigsim.decide.cables.many import worst_losses
from sigsim.decide.cables.ready_made import ready_made
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.cables.many import Spread
    from sigsim.decide.cables.ready_made import Grown, ReadyMade
    from sigsim.items.cable import Cable, CableSpec
    from sigsim.metrics import Basis
    from sigsim.physics.arrays import FloatArray, Value

    Losses: TypeAlias = Callable[[FloatArray], FloatArray]
    Progress: TypeAlias = Callable[[int], None]

# A piece of cable is not looked for beyond this length [m].
LONGEST_M: Final = 100.0
# Lengths tried before the crossings are refined: from 1 cm up in steps of 20 %. The loss is a
# smooth function of the length, with one bend where a resonance passes through the band.
_GRID: Final = np.append(0.0, np.geomspace(0.01, LONGEST_M, 51))
# Halvings of a step of the grid: from 17 m to about a micrometre.
_HALVINGS: Final = 24
# What `limits` evaluates for each cable, at most.
EVALUATIONS: Final = _GRID.size + _HALVINGS
# More digits of a loss [dB] nobody reads.
_MOST_DIGITS: Final = 6
# The grid in pieces, between which progress is told.
_PARTS: Final = np.array_split(_GRID, 4)
# A longer piece is no patch cable [m]; common practice, no source.
_LONGEST_PATCH_M: Final = 1.0
CABLE_KEYS: Final = ("capacitance", "resistance", "inductance", "loss_tangent", "plug_capacitance")


@dataclass(frozen=True)
class Role:
    """What one name under `[cables]` does on a board.

    Attributes
    ----------
    name : of the cable in the board file
    spec : the cable now used
    lengths : of every piece in chain order [m]
    leads : which of them is the instrument's own lead, shape as `lengths`
    """

    name: str
    spec: CableSpec
    lengths: tuple[float, ...]
    leads: tuple[bool, ...]

    @property
    def bought_as(self) -> frozenset[str]:
        """What its pieces are bought as: a lead, a patch cable, or some of each."""
        pieces = zip(self.lengths, self.leads, strict=True)
        return frozenset(
            "lead" if lead or length > _LONGEST_PATCH_M else "patch" for length, lead in pieces
        )

    @property
    def only_lead(self) -> bool:
        """Whether it is the instrument's own lead and nothing else."""
        return all(self.leads)

    @property
    def varying(self) -> tuple[float, ...]:
        """The lengths [m] that a limit is about: all but the lead's, unless there is only that."""
        free = zip(self.lengths, self.leads, strict=True)
        return tuple(length for length, lead in free if self.only_lead or not lead)

    @property
    def longest(self) -> float:
        """The longest piece that varies [m]."""
        return max(self.varying)

    def with_longest(self, length: float) -> tuple[float, ...]:
        """Return the lengths [m] of all pieces where the longest that varies has this one."""
        return tuple(
            old if lead and not self.only_lead else scalar(self.scaled(old, length))
            for old, lead in zip(self.lengths, self.leads, strict=True)
        )

    def scaled(self, length: Value, to: Value) -> Value:
        """Return the length [m] of a piece after the longest went `to` another."""
        return scaled(length, self.longest, to)


@dataclass(frozen=True)
class Limit:
    """How long the pieces of one role may be if they are of one cable.

    Attributes
    ----------
    length : of the longest piece [m]: every length up to it stays within the limit; None where
        even length 0 does not
    at_zero : the worst treble loss [dB] at length 0, plugs included
    windows : all stretches of length [m] that stay within the limit; more than one where the
        loss falls again because a resonance moves
    ready : the pieces as they can be bought; None for a cable that is cut to length
    """

    length: float | None
    at_zero: float
    windows: tuple[tuple[float, float], ...]
    ready: ReadyMade | None = None

    @property
    def any_length(self) -> bool:
        """Whether every length up to `LONGEST_M` stays within the limit."""
        return self.length == LONGEST_M

    @property
    def later(self) -> tuple[tuple[float, float], ...]:
        """The stretches [m] within the limit behind the first length that is not."""
        return self.windows[0 if self.length is None else 1 :]


def role_of(board: Board, name: str) -> Role:
    """Return what a name under `[cables]` does on a board that uses it."""
    found = list(board.pieces(name))
    lengths = tuple(scalar(cable.length) for cable in found)
    return Role(name, found[0].spec, lengths, tuple(cable.is_lead for cable in found))


def limits(
    board: Board,
    role: Role,
    specs: Sequence[CableSpec],
    limit: float,
    basis: Basis,
    progress: Progress | None = None,
) -> tuple[Limit, ...]:
    """Return how long the pieces of a role may be, for each cable.

    All pieces that vary are scaled by one factor. The instrument's own lead stays as it is, cable
    and length, because a loss is measured against it. Where a role is nothing but this lead, it
    varies, and is measured against no cable at all.

    Parameters
    ----------
    board : the board
    role : of the board
    specs : the cables
    limit : of the worst treble loss over all states [dB]
    basis : what a loss is measured against and over
    progress : told how many lengths are done, `EVALUATIONS` for each cable in all
    """

    def losses(lengths: FloatArray, grown: Grown | None = None) -> FloatArray:
        found = losses_at(board, role, specs, lengths, basis, grown)
        if progress is not None:
            progress(lengths.size)
        return found

    on_grid = np.concatenate([losses(np.tile(part, (len(specs), 1))) for part in _PARTS], axis=1)
    within = on_grid <= limit
    index, step = np.nonzero(within[:, 1:] != within[:, :-1])
    crossings = _refined(losses, len(specs), within, index, step, limit)
    ready = ready_made(board, role, len(specs), limit, losses)
    return tuple(
        dataclasses.replace(
            _limit(row, crossings[index == i], float(on_grid[i, 0])), ready=ready[i]
        )
        for i, row in enumerate(within)
    )


def losses_at(
    board: Board,
    role: Role,
    specs: Sequence[CableSpec],
    lengths: FloatArray,
    basis: Basis,
    grown: Grown | None = None,
) -> FloatArray:
    """Return the worst treble loss [dB] for each cable at some lengths of the longest piece [m].

    Parameters
    ----------
    board, role : the board and the role that varies
    specs : the cables, one a row
    lengths : shape (cables, lengths)
    basis : what a loss is measured against and over
    grown : returns the length [m] of a piece that varies, given whether a layout laid it, and the
        length of the longest; None to scale all by one factor

    Returns
    -------
    shape (cables, lengths)
    """
    if role.only_lead:
        basis = dataclasses.replace(basis, reference="bare")
    columns = {
        key: np.repeat([scalar(getattr(spec, key)) for spec in specs], lengths.shape[1])
        for key in CABLE_KEYS
    }

    def make(spread: Spread) -> Board:
        values: dict[str, Any] = {key: spread(column) for key, column in columns.items()}
        size = spread(lengths.ravel())

        def vary(cable: Cable) -> Cable:
            if cable.cable != role.name or (cable.is_lead and not role.only_lead):
                return cable
            made = dataclasses.replace(cable, spec=dataclasses.replace(cable.spec, **values))
            if cable.lays is not None:
                return dataclasses.replace(made, lays=Then(cable.lays, partial(longer, laid=True)))
            return longer(made)

        def longer(cable: Cable, *, laid: bool = False) -> Cable:
            length = grown(cable, laid, size) if grown else role.scaled(cable.length, size)
            return dataclasses.replace(cable, length=length)

        return each_cable(board, vary)

    return worst_losses(make, lengths.size, basis).reshape(lengths.shape)


def scaled(length: Value, longest: float, to: Value) -> Value:
    """Return a length [m] after the longest piece went `to` another; if all are 0, all go there."""
    return length * to / longest if longest and length != longest else to


def shown_over(loss: float, limit: float) -> str:
    """Write a loss [dB] that is over a limit with as many digits as show that it is, at least one.

    What is within the limit, or no number, has one.
    """
    digits = 1
    while loss > limit and round(loss, digits) <= limit and digits < _MOST_DIGITS:
        digits += 1
    return f"{loss:.{digits}f}" if math.isfinite(loss) else "-"


def _refined(
    losses: Losses,
    count: int,
    within: np.ndarray,
    index: np.ndarray,
    step: np.ndarray,
    limit: float,
) -> FloatArray:
    """Return the length [m] of every crossing, on its side within the limit, by bisection."""
    inside: FloatArray = np.where(within[index, step], _GRID[step], _GRID[step + 1])
    outside: FloatArray = np.where(within[index, step], _GRID[step + 1], _GRID[step])
    if not index.size:
        return inside
    # Each cable has a row of its own; crossings of one cable fill its row from the left.
    rank = np.array([np.count_nonzero(index[:i] == cable) for i, cable in enumerate(index)])
    table = np.zeros((count, rank.max() + 1))
    for _ in range(_HALVINGS):
        middle = (inside + outside) / 2
        table[index, rank] = middle
        good = losses(table)[index, rank] <= limit
        inside, outside = np.where(good, middle, inside), np.where(good, outside, middle)
    return inside


def _limit(within: np.ndarray, crossings: FloatArray, at_zero: float) -> Limit:
    ends = crossings.tolist()
    if within[0]:
        ends.insert(0, 0.0)
    if within[-1]:
        ends.append(LONGEST_M)
    windows = tuple(zip(ends[::2], ends[1::2], strict=True))
    return Limit(windows[0][1] if within[0] else None, at_zero, windows)
