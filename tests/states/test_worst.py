"""The worst of all states is exactly what trying every state finds."""

from __future__ import annotations

import itertools
import math
import random
from typing import get_args

import pytest
from helpers.all_states import every_loss, many_stages, two_ways
from helpers.boards import Table, boards, ends, switch, switches, to_toml
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim import metrics
from sigsim.board.reader import parse_board
from sigsim.metrics import Basis, Reference
from sigsim.states.distinct import distinct_states
from sigsim.states.measure import treble
from sigsim.states.response import Response, Solver, grid
from sigsim.states.search import Search, ranked, worst

MOST_SWITCHES = 7
# The search adds decibels segment by segment where the solver takes one logarithm: rounding only.
ROUNDING_DB = 1e-9


@settings(max_examples=tries(60, 120))
@seed(11)
@given(boards())
def test_worst_and_best_equal_trying_every_state(table: Table) -> None:
    assume(len(switches(table)) <= MOST_SWITCHES)
    listened = parse_board(to_toml(table))
    for at, reference in itertools.product(ends(table), get_args(Reference)):
        board = listened.heard_at(at)
        losses = every_loss(board, reference)
        if not losses:
            assert math.isnan(worst(board, reference).value)
            continue
        found = worst(board, reference)
        assert found.exact
        assert found.value == pytest.approx(max(losses.values()), abs=ROUNDING_DB)
        assert losses[found.on] == pytest.approx(found.value, abs=ROUNDING_DB)
        best = ranked(board, treble(Basis(reference)), largest=False)[0]
        assert best.value == pytest.approx(min(losses.values()), abs=ROUNDING_DB)


def test_where_every_state_is_silent_none_is_the_worst() -> None:
    """Whatever the reference: nothing can be told of a loss, and every stage off stands for all."""
    board = parse_board("""
title = "closed"
[instrument]
type = "active"
[destination]
[[chain]]
stage = "pedal"
kind = "volume pedal"
track = "10k"
position = 0
always_on = true
""")
    for largest in (True, False):
        for reference in get_args(Reference):
            (found,) = ranked(board, treble(Basis(reference)), largest=largest)
            assert math.isnan(found.value)
            assert found.on == frozenset()


@settings(max_examples=tries(50, 100))
@seed(12)
@given(boards())
def test_distinct_states_are_counted_not_assumed(table: Table) -> None:
    assume(len(switches(table)) <= MOST_SWITCHES)
    board = parse_board(to_toml(table))
    for at in ends(table):
        assert distinct_states(board.heard_at(at)) == len(different_by_hand(table["chain"]))


def different_by_hand(items: list[Table]) -> set[frozenset[str]]:
    """Return the sets of names that make different states: nothing inside a loop that is out."""
    found = {frozenset[str]()}
    for item in items:
        inside = different_by_hand(item.get("inside", []))
        name = switch(item)
        own = {frozenset[str](), *(on | {name} for on in inside)} if name else inside
        found = {one | other for one in found for other in own}
    return found


def test_forty_switches_take_one_walk() -> None:
    """2^40 states; the search looks at 41 open paths."""
    board = parse_board(many_stages(40))
    found = worst(board)
    assert found.exact
    r = Response(Solver(board), found.on, grid(points=2), "ideal")
    assert metrics.treble_loss(r) == pytest.approx(found.value, abs=ROUNDING_DB)
    # No single change of a switch makes it worse: a necessary sign of the maximum.
    for name in board.switches():
        other = Response(Solver(board), found.on ^ {name}, grid(points=2), "ideal")
        assert metrics.treble_loss(other) <= found.value + ROUNDING_DB


@pytest.mark.parametrize("at", ["", "second"])
@pytest.mark.parametrize(("main", "split"), [(4, 40), (40, 4), (32, 32)])
def test_a_split_of_many_switches_takes_one_walk(main: int, split: int, at: str) -> None:
    """What is behind its first isolator makes states and no difference."""
    board = parse_board(two_ways(main, split)).heard_at(at)
    assert len(board.switches()) == main + split
    found = ranked(board, treble(Basis()), 20)
    assert all(state.exact for state in found)
    assert len({state.on for state in found}) == 20
    solver = Solver(board)
    for state in found:
        r = Response(solver, state.on, grid(points=2), "ideal")
        assert metrics.treble_loss(r) == pytest.approx(state.value, abs=ROUNDING_DB)
    for name in board.switches():
        other = Response(solver, found[0].on ^ {name}, grid(points=2), "ideal")
        assert metrics.treble_loss(other) <= found[0].value + ROUNDING_DB


@settings(max_examples=tries(30, 60))
@seed(13)
@given(boards())
def test_ranked_states_are_those_of_a_list_of_all(table: Table) -> None:
    assume(0 < len(switches(table)) <= 6 and len(ends(table)) > 1)
    for at in ends(table):
        board = parse_board(to_toml(table)).heard_at(at)
        losses = every_loss(board, "ideal")
        found = [one for one in ranked(board, treble(Basis()), 7) if one.value == one.value]
        assert len(found) == len({one.on for one in found}) == min(7, len(losses))
        best = sorted(losses.values(), reverse=True)[:7]
        assert [one.value for one in found] == pytest.approx(best, abs=ROUNDING_DB)
        for one in found:
            assert losses[one.on] == pytest.approx(one.value, abs=ROUNDING_DB)


def many_pads(count: int) -> str:
    """Return a board of pads that can all be switched, no two alike."""
    draw = random.Random(5)
    stages = "".join(
        f"""
[[chain]]
stage = "s{i}"
kind = "pad"
always_on = false
series_resistance = "{draw.uniform(5, 60):.3g}k"
shunt_resistance = "{draw.uniform(50, 500):.3g}k"
"""
        for i in range(count)
    )
    return many_stages(0) + stages


def test_where_no_time_is_left_the_bound_holds() -> None:
    """What is found at once is a state of the board, and the bound is above the true worst."""
    board = parse_board(many_pads(30))
    search = Search(board, [treble(Basis())])
    (exact,) = search.ranked(treble(Basis()))
    assert exact.exact
    assert exact.bound == exact.value
    (hurried,) = search.ranked(treble(Basis()), seconds=0.0)
    assert not hurried.exact
    assert hurried.value <= exact.value + ROUNDING_DB
    assert exact.value <= hurried.bound + ROUNDING_DB
    r = Response(Solver(board), hurried.on, grid(points=2), "ideal")
    assert metrics.treble_loss(r) == pytest.approx(hurried.value, abs=ROUNDING_DB)


@pytest.mark.parametrize("largest", [True, False])
def test_pads_that_no_enclosure_tells_apart_at_first(largest: bool) -> None:
    """Ten pads and few rows kept at a node: several walks, and still exactly the list."""
    board = parse_board(many_pads(10))
    losses = every_loss(board, "ideal")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sigsim.states.sweep.FIRST_ROWS", 2)
        patch.setattr("sigsim.states.sweep._MORE", 2)
        found = ranked(board, treble(Basis()), 12, largest=largest)
    assert all(state.exact for state in found)
    wanted = sorted(losses.values(), reverse=largest)[:12]
    assert [state.value for state in found] == pytest.approx(wanted, abs=ROUNDING_DB)


@pytest.mark.parametrize("largest", [True, False])
def test_equal_pedals_make_ties(largest: bool) -> None:
    """No enclosure tells two equal pads apart, so that states tie: each is listed once."""
    pad = """
[[chain]]
stage = "s{}"
kind = "pad"
always_on = false
series_resistance = "22k"
shunt_resistance = "220k"
"""
    board = parse_board(
        '[instrument]\npart = "bass-split-coil"\n[destination]\npart = "instrument-input"\n'
        + "".join(pad.format(i) for i in range(7))
    )
    losses = every_loss(board, "ideal")
    found = ranked(board, treble(Basis()), 1 << 7, largest=largest)
    assert {state.on for state in found} == set(losses)
    wanted = sorted(losses.values(), reverse=largest)
    assert [state.value for state in found] == pytest.approx(wanted, abs=ROUNDING_DB)
