"""The worst of all states is exactly what trying every state finds."""

from __future__ import annotations

import itertools
import math
from typing import get_args

import numpy as np
import pytest
from helpers.all_states import every_loss, many_stages, two_ways
from helpers.boards import Table, boards, ends, switch, switches, to_toml
from hypothesis import assume, given, seed, settings

from sigsim import metrics
from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.metrics import Basis, Reference
from sigsim.states.distinct import distinct_states
from sigsim.states.measure import treble
from sigsim.states.ranked import Ranking, worst
from sigsim.states.response import Response, Solver, grid

MOST_SWITCHES = 7
# The search adds decibels segment by segment where the solver takes one logarithm: rounding only.
ROUNDING_DB = 1e-9


@settings(max_examples=120)
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
        best = Ranking(board, treble(Basis(reference)), largest=False).run()[0]
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
            (found,) = Ranking(board, treble(Basis(reference)), largest=largest).run()
            assert math.isnan(found.value)
            assert found.on == frozenset()


@settings(max_examples=100)
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
    found = Ranking(board, treble(Basis()), 20).run()
    assert all(state.exact for state in found)
    assert len({state.on for state in found}) == 20
    solver = Solver(board)
    for state in found:
        r = Response(solver, state.on, grid(points=2), "ideal")
        assert metrics.treble_loss(r) == pytest.approx(state.value, abs=ROUNDING_DB)
    for name in board.switches():
        other = Response(solver, found[0].on ^ {name}, grid(points=2), "ideal")
        assert metrics.treble_loss(other) <= found[0].value + ROUNDING_DB


@settings(max_examples=60)
@seed(13)
@given(boards())
def test_ranked_states_are_those_of_a_list_of_all(table: Table) -> None:
    assume(0 < len(switches(table)) <= 6 and len(ends(table)) > 1)
    for at in ends(table):
        board = parse_board(to_toml(table)).heard_at(at)
        losses = every_loss(board, "ideal")
        found = [one for one in Ranking(board, treble(Basis()), 7).run() if one.value == one.value]
        assert len(found) == len({one.on for one in found}) == min(7, len(losses))
        best = sorted(losses.values(), reverse=True)[:7]
        assert [one.value for one in found] == pytest.approx(best, abs=ROUNDING_DB)
        for one in found:
            assert losses[one.on] == pytest.approx(one.value, abs=ROUNDING_DB)


def test_too_many_passive_switches_are_said_not_to_be_proven(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("sigsim.states.ranked.MOST_ROWS", 8)
    loops = "".join(
        f'[[chain]]\nloop = "l{i}"\n[[chain.inside]]\nstage = "s{i}"\npart = "pedal-true-bypass"\n'
        for i in range(6)
    )
    board = parse_board(many_stages(0) + loops)
    found = worst(board)
    assert not found.exact
    r = Response(Solver(board), found.on, grid(points=2), "ideal")
    assert metrics.treble_loss(r) == pytest.approx(found.value, abs=ROUNDING_DB)
    assert found.value <= max(every_loss_of_loops(board)) + ROUNDING_DB


def every_loss_of_loops(board: Board) -> list[float]:
    """Return the losses of the states in which every loop is either out or in with all off."""
    loops = [name for name in board.switches() if name.startswith("l")]
    sets = itertools.product((False, True), repeat=len(loops))
    solver = Solver(board)
    return [
        metrics.treble_loss(
            Response(
                solver,
                frozenset(n for n, chosen in zip(loops, picks, strict=True) if chosen),
                np.array([1000.0]),
                "ideal",
            )
        )
        for picks in sets
    ]
