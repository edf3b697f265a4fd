"""A split is each load that some state makes of it, once, and no other."""

from __future__ import annotations

from collections import Counter

import pytest
from helpers.all_states import every_state, many_stages, two_ways
from helpers.boards import Table, boards, ends, switches, to_toml
from hypothesis import assume, given, seed, settings
from hypothesis import strategies as st

from sigsim.board.ends import ends as splits_of
from sigsim.board.reader import parse_board
from sigsim.decide.limits import listed_runs, open_runs
from sigsim.states.path import branch
from sigsim.states.ways import alike, count_ways, ways


@settings(max_examples=120)
@seed(71)
@given(boards(), st.data())
def test_ways_are_the_loads_of_all_states(table: Table, data: st.DataObject) -> None:
    assume(len(ends(table)) > 1 and len(switches(table)) <= 7)
    board = parse_board(to_toml(table)).heard_at(data.draw(st.sampled_from(ends(table))))
    held = data.draw(st.dictionaries(st.sampled_from(["", *board.switches()]), st.booleans()))
    states = [on for on in every_state(board) if _keeps(held, on)]
    for split in splits_of(board.chain):
        loads = Counter(id(branch(split, on)) for on in states)
        found = list(ways(split, held))
        assert len(found) == sum(count_ways(split.inside, held))
        made = [id(way.load(split)) for way in found]
        assert len(set(made)) == len(made)
        # In a loop that is out nothing of it is heard.
        assert set(loads) <= set(made)
        for way in found:
            on = frozenset(way.first(held))
            assert branch(split, on) is way.load(split)
            assert _keeps({n: h for n, h in held.items() if not h}, on)
            assert all(branch(split, names) is way.load(split) for names in way.states(held))


def _keeps(held: dict[str, bool], on: frozenset[str]) -> bool:
    return all((name in on) == is_on for name, is_on in held.items() if name)


@settings(max_examples=80)
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
    # A run from the instrument and one from behind the stage; each with all loads.
    assert open_runs(board) == 2 * (pedals + 1)
    assert listed_runs(board) == 2 * 2**pedals


def test_what_is_behind_two_ways_is_counted_at_both_ends() -> None:
    board = parse_board(two_ways(4, 4))
    # Two stages before the split, so runs from three places; two stages or four behind it. The
    # second of the four in the split isolates even when it is off.
    main, second = board, board.heard_at("second")
    assert listed_runs(main) == 3 * 2**4 + 2
    assert open_runs(main) == 3 * 3 + 2
    assert listed_runs(second) == 3 * 2**2 + 4
    assert open_runs(second) == 3 * 3 + 4
