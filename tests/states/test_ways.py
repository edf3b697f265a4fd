"""A split is each load that some state makes of it, once, and no other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from helpers.all_states import every_state, many_stages
from helpers.boards import Table, boards, ends, switches, to_toml
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings
from hypothesis import strategies as st

from sigsim.board.ends import ends as splits_of
from sigsim.board.reader import parse_board
from sigsim.decide.limits import most_loads
from sigsim.items.split import Split
from sigsim.states.circuit import Circuit
from sigsim.states.distinct import each_state
from sigsim.states.loads import loads
from sigsim.states.path import branch
from sigsim.states.ways import alike, count_ways, switches_of

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray


@settings(max_examples=tries(60, 120))
@seed(71)
@given(boards(), st.data())
def test_loads_are_those_of_all_states(table: Table, data: st.DataObject) -> None:
    assume(len(ends(table)) > 1 and len(switches(table)) <= 7)
    board = parse_board(to_toml(table)).heard_at(data.draw(st.sampled_from(ends(table))))
    held = data.draw(st.dictionaries(st.sampled_from(["", *board.switches()]), st.booleans()))
    states = [on for on in every_state(board) if _keeps(held, on)]
    circuit = Circuit(board, np.array([100.0, 5000.0]))
    for split in splits_of(board.chain):
        found = loads(split, held, circuit)
        assert (
            len(found.choices)
            == len(found.Y)
            == count_ways(split.inside, held)[0] + (count_ways(split.inside, held)[1])
        )
        for choice, Y in zip(found.choices, found.Y, strict=True):
            for more in each_state(choice.free, held):
                np.testing.assert_allclose(Y, _load(split, {*choice.on, *more}, circuit), rtol=1e-9)
        # In a loop that is out nothing of it is heard.
        for on in states:
            seen = set(switches_of(split.inside)).intersection(on)
            assert any(
                set(choice.on) <= seen <= {*choice.on, *switches_of(choice.free)}
                for choice in found.choices
            )


def _load(split: Split, on: set[str], circuit: Circuit) -> ComplexArray:
    """Return the admittance of a split in a state by itself."""
    return np.broadcast_to(branch(split, frozenset(on)).shunt(circuit.jw, circuit.step).C, 2)


def _keeps(held: dict[str, bool], on: frozenset[str]) -> bool:
    return all((name in on) == is_on for name, is_on in held.items() if name)


@settings(max_examples=tries(40, 80))
@seed(72)
@given(boards(), st.data())
def test_what_is_alike_meets_the_same(table: Table, data: st.DataObject) -> None:
    """All states of the board fall into groups; each group is found from any state in it."""
    assume(len(ends(table)) > 1 and len(switches(table)) <= 6)
    board = parse_board(to_toml(table)).heard_at(data.draw(st.sampled_from(ends(table))))
    from_each = {on: frozenset(alike(board, on, {})) for on in every_state(board)}
    for on, group in from_each.items():
        assert on in group
        assert all(from_each[other] == group for other in group)


@pytest.mark.parametrize("pedals", [0, 1, 5, 40])
def test_pedals_in_a_split_are_one_load_more_each(pedals: int) -> None:
    inside = "".join(
        f'[[chain.inside]]\nstage = "i{n}"\npart = "pedal-true-bypass"\n' for n in range(pedals)
    )
    split = '[[chain]]\nsplit = "second"\ndestination = {}\n'
    board = parse_board(many_stages(1) + split + inside)
    (found,) = splits_of(board.chain)
    assert sum(count_ways(found.inside, {})) == most_loads(board) == pedals + 1
