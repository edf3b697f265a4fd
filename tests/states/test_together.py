"""Many states solved at once are each what it is alone."""

from __future__ import annotations

import itertools
from typing import get_args

import numpy as np
from helpers.all_states import every_state
from helpers.boards import Table, boards, ends, switches, to_toml
from hypothesis import assume, given, seed, settings

from sigsim.board.reader import parse_board
from sigsim.metrics import SILENT_DB, Reference, decibels
from sigsim.states.circuit import Circuit
from sigsim.states.together import gains_of

FREQUENCY = np.array([100.0, 900.0, 4000.0, 15000.0])
# Products in another order; of what is silent only that it is.
ROUNDING_DB = 1e-8


@settings(max_examples=80)
@seed(151)
@given(boards())
def test_gains_and_references(table: Table) -> None:
    assume(len(switches(table)) <= 6)
    listened = parse_board(to_toml(table))
    for at, reference in itertools.product(ends(table), get_args(Reference)):
        board = listened.heard_at(at)
        states = sorted(every_state(board), key=sorted)[:40]
        gain, ideal = gains_of(board, states, FREQUENCY, reference)
        circuit = Circuit(board, FREQUENCY)
        for state, *found in zip(states, gain, ideal, strict=True):
            with np.errstate(all="ignore"):
                alone = circuit.response(state), circuit.reference(state, reference)
            for ours, theirs in zip(found, map(decibels, alone), strict=True):
                heard = theirs > SILENT_DB
                assert np.array_equal(ours > SILENT_DB, heard)
                np.testing.assert_allclose(ours[heard], theirs[heard], atol=ROUNDING_DB)
