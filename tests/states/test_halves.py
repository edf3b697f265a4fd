"""Rows with columns are all states, each once, with the gain that the exact model gives it."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from helpers.all_states import every_state, many_stages, two_ways
from helpers.boards import Table, boards, ends, switches, to_toml
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim import metrics
from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.metrics import decibels, sounds
from sigsim.states.board_graph import board_graph
from sigsim.states.circuit import Circuit
from sigsim.states.distinct import count_states, each_state
from sigsim.states.halves import Halves, gains
from sigsim.states.labels import Bits, Counts, on_counts

FREQUENCY = np.array([metrics.LEVEL_HZ, 1000.0, 3981.0, 20e3])
# Of the same circuit solved another way: nothing but rounding, a resonance included.
ROUNDING_DB = 1e-8


def listed(board: Board, most: int | None) -> dict[frozenset[str], np.ndarray]:
    """Return the gains of all states that are ways through the graph; each is met once."""
    names = board.switches()
    halves = Halves(board_graph(board, FREQUENCY), Bits(names, {}))
    found: dict[frozenset[str], np.ndarray] = {}
    for rows, columns in halves.pairs(most):
        taken = gains(rows, columns)
        for (row, column), bits in np.ndenumerate(rows.labels[:, None] | columns.labels):
            on = frozenset(name for place, name in enumerate(names) if int(bits) >> place & 1)
            assert on not in found, "a state is met twice"
            found[on] = taken[row, column]
    assert len(found) == halves.ways
    return found


def assert_all_states_are_right(board: Board, most: int | None) -> None:
    """Hold every way against the exact model; what is no way is silent."""
    circuit = Circuit(board, FREQUENCY)
    found = listed(board, most)
    assert found.keys() <= every_state(board)
    for on in every_state(board):
        exact = decibels(circuit.response(on))
        if on in found:
            ours = found[on][exact > metrics.SILENT_DB]
            assert ours == pytest.approx(exact[exact > metrics.SILENT_DB], abs=ROUNDING_DB)
            assert not sounds(found[on][exact <= metrics.SILENT_DB]).any()
        else:
            assert not sounds(exact[:1]).any()


@pytest.mark.parametrize("most", [None, 1, 5])
@settings(max_examples=tries(20, 40))
@seed(41)
@given(boards())
def test_every_state_is_one_row_with_one_column(most: int | None, table: Table) -> None:
    assume(0 < len(switches(table)) <= 7)
    board = parse_board(to_toml(table))
    for at in ends(table):
        listening = board.heard_at(at)
        if not board_graph(listening, FREQUENCY).silent:
            assert_all_states_are_right(listening, most)


@settings(max_examples=tries(30, 60))
@seed(42)
@given(boards())
def test_counts_are_those_of_a_list(table: Table) -> None:
    assume(0 < len(switches(table)) <= 7)
    for at in ends(table):
        board = parse_board(to_toml(table)).heard_at(at)
        names, graph = board.switches(), board_graph(board, FREQUENCY)
        if graph.silent:
            continue
        total = np.zeros(1 + len(names), np.int64)
        for rows, columns in Halves(graph, Counts(names, {})).pairs():
            one, other = rows.labels[:, None], columns.labels[None]
            total += Counts.joined(one, other).sum(axis=(0, 1))
        each = list(listed(board, None))
        assert total.tolist() == [len(each), *(sum(n in on for on in each) for n in names)]


@settings(max_examples=tries(40, 80))
@seed(43)
@given(boards())
def test_states_with_each_switch_on_are_counted_without_listing(table: Table) -> None:
    assume(0 < len(switches(table)) <= 8)
    items = parse_board(to_toml(table)).laid
    for fixed in ({}, {switches(table)[0]: True}, {switches(table)[-1]: False}):
        total, counts = on_counts(items, fixed)
        states = list(each_state(items, fixed))
        assert total == len(states) == count_states(items, fixed)
        assert {n: c for n, c in counts.items() if c} == Counter(n for on in states for n in on)


def test_the_cut_makes_both_sides_about_even() -> None:
    """Of 12 stages 6 on either side; inside a loop as well, and between the ways of a split."""
    inside = many_stages(12).partition("[[chain]]\nstage")
    loop = inside[0] + '[[chain]]\nloop = "l"\n[[chain.inside]]\nstage' + inside[2]
    loop = loop.replace("[[chain]]\nstage", "[[chain.inside]]\nstage")
    for text, most in ((many_stages(12), 64 + 64), (loop, 64 + 64 + 2), (two_ways(6, 6), 100)):
        board = parse_board(text)
        halves = Halves(board_graph(board, FREQUENCY), Counts(board.switches(), {}))
        sizes = [(len(rows.p), len(columns.p)) for rows, columns in halves.pairs()]
        assert sum(rows * columns for rows, columns in sizes) == halves.ways
        assert sum(sum(pair) for pair in sizes) <= most
