"""How long a cable may be where it is bought in ready-made lengths."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.board.lacking import spot_words, taken_of
from sigsim.layout.exact import whole
from sigsim.layout.sold import taken
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from sigsim.board.model import Board
    from sigsim.decide.cables.limit import Role
    from sigsim.items.cable import Cable
    from sigsim.physics.arrays import FloatArray, Value

    # The worst treble loss [dB] of each cable at some lengths of the longest piece [m], both with
    # shape (cables, lengths), where a function says how long each piece then is.
    Losses = Callable[[FloatArray, "Grown"], FloatArray]
    Grown = Callable[[Cable, bool, FloatArray], Value]

_IN_A_METRE: Final = 1e9


@dataclass(frozen=True)
class Short:
    """A connection for which a piece as it is bought is too short.

    Attributes
    ----------
    begin, end : where it is plugged in, in words
    run : from jack to jack, slack included [m]
    bought : the piece that the limit leaves it [m]
    needed : the ready-made length that reaches [m]; None where none does
    """

    begin: str
    end: str
    run: float
    bought: float
    needed: float | None


@dataclass(frozen=True)
class ReadyMade:
    """The pieces of one role as they can be bought, if they are of one cable.

    Attributes
    ----------
    length : of the longest piece that varies [m], the longest ready-made one with which the limit
        is kept; None where there is none
    lengths : of all pieces in chain order [m], each scaled and then the next longer ready-made one;
        where none keeps the limit, with the shortest
    loss : the worst treble loss of these [dB]
    within : the ready-made lengths of the longest piece that keep the limit [m]
    short : the connections for which these pieces are too short
    in_place : whether the limit can be kept with the boxes where they stand
    """

    length: float | None
    lengths: tuple[float, ...]
    loss: float
    within: tuple[float, ...]
    short: tuple[Short, ...]
    in_place: bool


def ready_made(
    board: Board, role: Role, count: int, limit: float, losses: Losses
) -> tuple[ReadyMade | None, ...]:
    """Return how long the pieces of a role may be as they are sold; None where they are cut.

    Parameters
    ----------
    board, role : the board, and the role that varies
    count : of cables that are tried
    limit : of the worst treble loss over all states [dB]
    losses : finds the losses
    """
    sold = role.spec.sold
    if not sold:
        return (None,) * count
    longest = np.tile(np.array(sold, dtype=float), (count, 1))
    found = losses(longest, _bought(role))
    made = [_made(board, role, limit, row) for row in found]
    if any(one.short for one in made):
        reaching = np.any(losses(longest, _reaching(role)) <= limit, axis=1)
        made = [
            replace(one, in_place=not one.short or kept)
            for one, kept in zip(made, reaching.tolist(), strict=True)
        ]
    return tuple(made)


def _made(board: Board, role: Role, limit: float, losses: FloatArray) -> ReadyMade:
    sold = role.spec.sold
    within = tuple(s for s, loss in zip(sold, losses, strict=True) if loss <= limit)
    size = within[-1] if within else sold[0]
    return ReadyMade(
        length=size if within else None,
        lengths=tuple(
            length if lead and not role.only_lead else _piece(role, length, size)
            for length, lead in zip(role.lengths, role.leads, strict=True)
        ),
        loss=float(losses[sold.index(size)]),
        within=within,
        short=tuple(_short(board, role, size)),
        in_place=True,
    )


def _piece(role: Role, length: float, size: float) -> float:
    """Return the ready-made length [m] of a piece where the longest has one."""
    found = taken(scalar(role.scaled(length, size)), role.spec.sold)
    assert found is not None, "no piece is longer than the longest"
    return found


def _short(board: Board, role: Role, size: float) -> Iterator[Short]:
    """Yield the connections that pieces do not reach where the longest has a ready-made length."""
    for run in board.runs:
        if run.cable.cable != role.name or run.made is None or run.made.is_lead:
            continue
        told = taken_of(run)
        if told is None or told.run is None:
            continue
        bought = _piece(role, scalar(run.made.length), size)
        if whole(bought) < whole(told.run):
            begin, end = spot_words(run.begin), spot_words(run.end)
            yield Short(begin, end, told.run, bought, told.length)


def _bought(role: Role) -> Grown:
    """Return what makes a piece as long as it is bought."""
    return lambda cable, _laid, size: _next_longer(role, role.scaled(cable.length, size))


def _reaching(role: Role) -> Grown:
    """Return what makes no piece shorter than it has to be where the boxes stand."""

    def grown(cable: Cable, laid: bool, size: FloatArray) -> Value:
        length = _next_longer(role, role.scaled(cable.length, size))
        return np.maximum(length, cable.length) if laid else length

    return grown


def _next_longer(role: Role, lengths: Value) -> FloatArray:
    """Return the next longer ready-made lengths [m], as `taken` does for one."""
    stock = np.array(role.spec.sold, dtype=float)
    steps = np.rint(stock * _IN_A_METRE)
    found = np.searchsorted(steps, np.rint(np.asarray(lengths) * _IN_A_METRE))
    longer: FloatArray = stock[np.minimum(found, stock.size - 1)]
    return longer
