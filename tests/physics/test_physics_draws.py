"""Fields given as (draws, 1) arrays: all draws at once must equal one board per draw."""

from __future__ import annotations

import dataclasses
from typing import Any, get_args

import numpy as np
from helpers.boards import Table, boards_in_a_state, ends
from helpers.draws import one
from helpers.thinned import tries
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.items.fields import specs
from sigsim.metrics import Reference
from sigsim.states.response import response

FREQUENCY = np.geomspace(20.0, 40e3, 7)
DRAWS = 4
NOT_ARRAYS = ("choice", "flag", "text", "names", "taper", "date")


def spread(item: Any, generator: np.random.Generator) -> Any:
    """Return an item, or a whole board, with an array of draws for every quantity it has."""
    changes: dict[str, Any] = {}
    for field in dataclasses.fields(item):
        value = getattr(item, field.name)
        if isinstance(value, tuple) and value and dataclasses.is_dataclass(value[0]):
            changes[field.name] = tuple(spread(inner, generator) for inner in value)
        elif dataclasses.is_dataclass(value):
            changes[field.name] = spread(value, generator)
    for name, spec in specs(type(item)).items():
        value = getattr(item, name)
        if spec.kind in NOT_ARRAYS or spec.exact or value is None:
            continue
        if spec.kind == "knob":
            drawn = np.clip(generator.uniform(-3, 13, (DRAWS, 1)), 0, 10)  # the ends are met too
        else:
            drawn = value * generator.uniform(0.5, 1.5, (DRAWS, 1))
            if not spec.above_zero and generator.random() < 0.3:
                drawn[0] = 0.0
        changes[name] = drawn
    return dataclasses.replace(item, **changes)


@settings(max_examples=tries(48, 120))
@seed(21)
@given(boards_in_a_state(), st.integers(0, 2**32 - 1))
def test_all_draws_at_once_equal_one_board_per_draw(
    case: tuple[Table, frozenset[str], str], number: int
) -> None:
    table, on, text = case
    spread_out: Board = spread(parse_board(text), np.random.default_rng(number))
    boards = [one(spread_out, draw) for draw in range(DRAWS)]
    for at in ends(table):
        alone = [board.heard_at(at) for board in boards]
        assert_same_at_once(spread_out.heard_at(at), alone, on)


def assert_same_at_once(together: Board, boards: list[Board], on: frozenset[str]) -> None:
    """Compare a board of many draws with a board per draw."""
    assert response(together, on, FREQUENCY).H.shape == (DRAWS, FREQUENCY.size)
    # Vector and scalar code may round the last digit differently.
    for reference in get_args(Reference):
        made = response(together, on, FREQUENCY, reference)
        alone = [response(board, on, FREQUENCY, reference) for board in boards]
        np.testing.assert_allclose(made.H, [a.H for a in alone], rtol=1e-11, atol=0)
        rows = [a.reference.H for a in alone]
        np.testing.assert_allclose(made.reference.H, rows, rtol=1e-11, atol=0, err_msg=reference)
