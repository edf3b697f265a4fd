"""The gains of many given states at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import decibels
from sigsim.states.board_graph import board_graph
from sigsim.states.circuit import Circuit
from sigsim.states.rows import NEPER_DB
from sigsim.states.ways import switches_of

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Bundle, Flags, Graph, Index

_LEAST: Final = 1e-300


def gains_of(
    board: Board, states: Sequence[On], frequency: FloatArray, reference: Reference
) -> tuple[FloatArray, FloatArray]:
    """Return the gains of some states and of their references.

    Parameters
    ----------
    board : the board
    states : the names of what is on in each
    frequency : [Hz], shape (frequency,)
    reference : which one

    Returns
    -------
    [dB], shape (states, frequency) each; what lets nothing through is far below what is silent
    """
    names = board.switches()
    # What is on in a loop that is out is not met.
    heard = [board.heard(frozenset(state)) for state in states]
    on = np.array([[name in state for name in names] for state in heard], dtype=bool)
    on = on.reshape(len(states), len(names))
    alike = np.logical_or(on.all(axis=0), ~on.any(axis=0))
    fixed = {name: bool(on[0, i]) for i, name in enumerate(names) if alike.flat[i]}
    follow = reference != "direct"
    ideal = frequency if follow else None
    graph = board_graph(board, frequency, ideal, fixed, reference, silent=True)
    with np.errstate(all="ignore"):
        gain = -NEPER_DB * _followed(graph, on, {name: i for i, name in enumerate(names)})
        if follow:
            return gain[:, : frequency.size], gain[:, frequency.size :]
        alone = decibels(Circuit(board, frequency).reference((), "direct"))
        return gain, np.broadcast_to(alone, gain.shape)


def _followed(graph: Graph, on: Flags, place: dict[str, int]) -> FloatArray:
    """Return the logarithm of 1/|H| of each state [nepers], shape (states, columns)."""
    p, q = (np.repeat(part[None], len(on), axis=0) for part in graph.start)
    taken = np.zeros(p.shape)
    node = np.zeros(len(on), np.int64)
    for tail, bundles in enumerate(graph.leaving()):
        here = np.flatnonzero(node == tail)
        if not here.size:
            continue
        for bundle in bundles:
            # A loop that is in is named by all options that begin there.
            siblings = [_common(other) for other in bundles if other is not bundle]
            met = {name for choice in bundle.choices for name in choice.on}.union(*siblings)
            for option in range(len(bundle.choices)):
                rows = here[_takes(bundle, option, met, on[here], place)]
                if not rows.size:
                    continue
                A, B, C, D = bundle.matrices[:, option]
                x, y = p[rows], q[rows]
                x, y = x * A + y * C, x * B + y * D
                size = np.maximum(np.abs(x), _LEAST)
                p[rows], q[rows] = x / size, y / size
                taken[rows] += np.log(size)
                node[rows] = bundle.head
    r, s = graph.end
    found: FloatArray = taken + np.log(np.maximum(np.abs(p * r + q * s), _LEAST))
    return found


def _common(bundle: Bundle) -> set[str]:
    """Return what is on in every option of a bundle."""
    return set.intersection(*(set(choice.on) for choice in bundle.choices))


def _takes(bundle: Bundle, option: int, met: set[str], on: Flags, place: dict[str, int]) -> Flags:
    """Return which states take an option: all of it is on, and nothing else that is met there."""
    choice = bundle.choices[option]
    others = met.difference(choice.on, switches_of(choice.free))
    wanted, unwanted = (on[:, _places(names, place)] for names in (choice.on, others))
    found: Flags = np.logical_and(wanted.all(axis=1), ~unwanted.any(axis=1))
    return found


def _places(names: set[str] | tuple[str, ...], place: dict[str, int]) -> Index:
    return np.array([place[name] for name in names], dtype=np.int64)
